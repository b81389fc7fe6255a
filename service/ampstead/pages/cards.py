"""The field card: what a pack's owner wants to know of it where there is no phone, on a page of A6.

Every figure is a calculator's own answer; the card asks them all of the same pack and with one reserve. It is meant to
be kept, and so it does not depend on how full the pack is today: a state is only heard to tell whether a cell is
suspect. A pack that is not sound gets a card that says stop, and nothing else.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import UTC, datetime
from typing import Any

from ampstead.declare import Calculator
from ampstead.errors import FieldError, Refusal, did_you_mean
from ampstead.inputs.pack import Pack
from ampstead.pages.figures import shown
from ampstead.replying.answers import Answered, teller
from ampstead.units import DIMENSIONS, Unreadable, quantity

COLD = "5 degC"
"""Between freezing and 10 °C, where lithium is charged gently: what a card calls cold."""
WARM = "25 degC"
RESERVE = "20 %"
MOST_PACKS = 24
STATE = ("state_of_charge", "rest_voltage", "cell_voltages", "temperature")
HELD_AGAINST = ("measured_capacity", "reference_resistance", "sibling_resistances")
"""What tells of a pack's age: none of it stands on the card, but a pack that is worn out gets no other than stop."""
OWN = ("name", "label_rate", "max_rate", "current", "flight_time", "charge_returned", *HELD_AGAINST)
KNOWN = frozenset((*(each.name for each in fields(Pack)), *OWN))
"""What a card may be told of a pack."""
STOPPED = {"condition", "suspect-cell", "low-cell", "cell-count"}
LONG_NAME, LONG_KIND = 22, 36
"""Letters that fill a line of a card, beside which the name of the list has room."""
FULL = 11
"""Lines of figures that leave room for little else."""
HALVINGS = 10
_ROW = re.compile(r"packs\[([0-9]{1,2})\]\.([a-z_]+)")


@dataclass(frozen=True)
class Line:
    """One line of a card."""

    label: str
    value: str
    cold: str = ""


@dataclass(frozen=True)
class Card:
    """One pack's card; where it says stop, nothing else stands on it."""

    title: str
    kind: str
    query: str
    lines: tuple[Line, ...] = ()
    dangers: tuple[str, ...] = ()
    stop: str = ""
    lithium: bool = True
    wrong: tuple[str, ...] = ()
    """Why there is no card of a pack that cannot be read."""

    @property
    def long_name(self) -> bool:
        """Whether its name is written smaller, so that it takes no more than two lines."""
        return len(self.title) > LONG_NAME

    @property
    def dense(self) -> bool:
        """Whether so much is to be said that its lines stand closer together."""
        return len(self.lines) >= FULL and (self.long_name or len(self.kind) > LONG_KIND or len(self.dangers) > 1)


def packs_of(told: Mapping[str, str]) -> tuple[list[dict[str, str]], str, str, str]:
    """The packs of an address, the card's name, the reserve and the paper.

    Raises
    ------
    Refusal
        If a name is unknown, or no pack is told.
    """
    rows: dict[int, dict[str, str]] = {}
    errors = []
    for name, value in told.items():
        found = _ROW.fullmatch(name)
        if found and found[2] in KNOWN:
            rows.setdefault(int(found[1]), {})[found[2]] = value
        elif name not in ("name", "reserve", "paper"):
            inner = name.rpartition(".")[2]
            errors.append(FieldError(name[:40], "unknown", f"{name[:40]} is unknown{did_you_mean(inner, KNOWN)}"))
    if not rows and not errors:
        errors.append(FieldError("packs[0].cells", "missing", "packs[0].cells is missing: tell a pack, like 3 cells"))
    if len(rows) > MOST_PACKS:
        errors.append(
            FieldError("packs", "wrong_length", f"packs takes 1 to {MOST_PACKS} entries; {len(rows)} were given")
        )
    if errors:
        raise Refusal(errors)
    return (
        [rows[place] for place in sorted(rows)],
        told.get("name", ""),
        told.get("reserve", RESERVE),
        told.get("paper", ""),
    )


def card(calculators: Mapping[str, Calculator], pack: Mapping[str, str], reserve: str, place: int, query: str) -> Card:
    """A pack's card.

    Raises
    ------
    Refusal
        If a calculator cannot read the pack.
    """
    asking = _Asking(calculators, pack, reserve)
    charge = asking.of("charge-current", today=True)
    assert charge is not None
    title = called(pack, place)
    kind = charge.known["pack"]
    amount = f"{kind.cells} cells · {asking.shown(charge, 'capacity', kind.charge)}"
    named = f"{kind.kind.words[:1].upper()}{kind.kind.words[1:]} · {amount}"
    fit = asking.of("pack-fitness", today=True) if {"cell_resistance", "pack_resistance"} & pack.keys() else None
    retired = fit is not None and fit.answer.verdict == "retire"
    if charge.answer.limited_by in STOPPED or kind.unsound or retired:
        why = fit.sentence() if retired and fit else charge.sentence()
        return Card(title, named, query, stop=why)
    dangers = tuple(dict.fromkeys(each.text for each in charge.cautions() if each.severity == "danger"))
    flown = kind.kind.flown
    if fit is not None and fit.answer.verdict == "light-duty":
        lines = tuple(_lines(asking, flown=False))
        return Card(title, named, query, lines, (fit.sentence(), *dangers), lithium=flown)
    return Card(title, named, query, tuple(_lines(asking, flown=flown)), dangers, lithium=flown)


def called(pack: Mapping[str, str], place: int) -> str:
    """What a card calls its pack."""
    return pack.get("name", "").strip()[:40] or f"Pack {place}"


class _Asking:
    """The calculators, asked about one pack; each is told what it takes."""

    def __init__(self, calculators: Mapping[str, Calculator], pack: Mapping[str, str], reserve: str) -> None:
        self.calculators, self.pack, self.reserve = calculators, pack, reserve

    def of(self, name: str, *, today: bool = False, **more: str) -> Answered | None:
        """The answer about the pack as it is kept or, for its soundness, as it is ``today``."""
        calculator = self.calculators.get(name)
        if calculator is None:
            return None
        lasting = {key: value for key, value in self.pack.items() if today or key not in STATE}
        told = {key: value for key, value in {**lasting, "reserve": self.reserve}.items() if key in calculator.inputs}
        if name == "pack-fitness":
            told.pop("current", None)
        return teller(calculator).answered({**told, **more})

    def maybe(self, name: str, **more: str) -> Answered | None:
        """The same where a calculator does not take such a pack."""
        try:
            return self.of(name, today=False, **more)
        except Refusal:
            return None

    def shown(self, answered: Answered, name: str, value: Any) -> str:
        return shown(answered.teller.calculator.inputs[name].spec, value)


def _result(answered: Answered | None, name: str) -> str:
    if answered is None or getattr(answered.answer, name) is None:
        return ""
    return shown(answered.teller.calculator.results[name].spec, getattr(answered.answer, name))


def _lines(asking: _Asking, flown: bool = True) -> list[Line]:
    """A card's lines; of a pack that is not flown only those of its charge and storage."""
    warm, cold = asking.of("charge-current", temperature=WARM), asking.of("charge-current", temperature=COLD)
    storage = asking.maybe("storage", state_of_charge="100 %")
    made = [
        Line("Charge at", _result(warm, "current"), _result(cold, "current")),
        Line("up to", _result(warm, "end_voltage"), _result(cold, "end_voltage")),
        Line("from the supply", _result(warm, "supply_power"), _result(cold, "supply_power")),
        Line("stop if it reaches", _result(warm, "stop_temperature"), _result(cold, "stop_temperature")),
        *(_of_flight(asking) if flown else ()),
        Line("Store at", _result(storage, "end_voltage")),
        Line("Energy", _result(asking.maybe("carriage"), "energy")),
    ]
    return [line for line in made if line.value or line.cold]


def _of_flight(asking: _Asking) -> list[Line]:
    draw = asking.maybe("safe-draw")
    current = _typical_current(asking, draw)
    alarm = asking.maybe("alarm-voltage", current=current) if current else None
    return [
        Line("Timer", *(_timer(asking, current, temperature) for temperature in (WARM, COLD))),
        Line(f"Warning at {current.replace('A', ' A')}" if current else "Warning", _result(alarm, "alarm_voltage")),
        Line("a cell", _result(alarm, "alarm_cell_voltage")),
        Line("Draw, steady", _result(draw, "continuous_current")),
        Line("in a burst", _result(draw, "burst_current")),
        Line("Flies again from", _flies_from(asking)),
    ]


def _typical_current(asking: _Asking, draw: Answered | None) -> str:
    """What a flight draws: as told, as the last flight tells, or the most that it may be steadily."""
    if current := asking.pack.get("current"):
        return current
    time, charge = asking.pack.get("flight_time"), asking.pack.get("charge_returned")
    try:
        if time and charge:
            return f"{quantity(charge, DIMENSIONS['mAh']) / quantity(time, DIMENSIONS['min']):.3g}A"
    except (Unreadable, ZeroDivisionError):
        return ""
    return "" if draw is None else f"{draw.answer.continuous_current:.3g}A"


def _timer(asking: _Asking, current: str, temperature: str) -> str:
    if asking.pack.get("flight_time") and asking.pack.get("charge_returned"):
        return _result(asking.maybe("flight-timer", next_temperature=temperature), "timer")
    if asking.pack.get("current"):
        return _result(asking.maybe("endurance", current=current, temperature=temperature), "time_flight")
    return ""


def _flies_from(asking: _Asking) -> str:
    """The least resting voltage at which the pack flies again, up to the hundredth, and the band of its charge."""

    def left(voltage: float) -> Answered | None:
        return asking.maybe("charge-left", rest_voltage=f"{voltage:.4f} V")

    warm = asking.of("charge-current", temperature=WARM)
    assert warm is not None
    high = float(warm.answer.end_voltage)
    low, best = 0.7 * high, left(high)
    if best is None or not best.answer.flies:
        return ""
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        found = left(middle)
        if found is not None and found.answer.flies:
            high, best = middle, found
        else:
            low = middle
    band = best.known["bands"].get("state_of_charge")
    spec = best.teller.calculator.inputs["rest_voltage"].spec
    span = "" if band is None else f" ({100 * band.low:.0f} to {100 * band.high:.0f}\N{NO-BREAK SPACE}% charge)"
    return f"{shown(spec, high, 'up')}{span}"


def today() -> str:
    """The date that stands on a card."""
    return datetime.now(UTC).date().isoformat()


def sheets(cards: Sequence[Card], paper: str) -> list[list[Card]]:
    """The cards as they go on paper: each on a page of its own, or four on a sheet of A4."""
    size = 4 if paper.lower() == "a4" else 1
    return [list(cards[place : place + size]) for place in range(0, len(cards), size)]

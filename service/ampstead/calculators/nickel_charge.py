"""How a nickel pack is charged, and by what its end is known."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Literal

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.sizing import HOUR
from ampstead.declare import Band, Caution, Choice, Group, Quantity, Rate
from ampstead.errors import FieldError
from ampstead.inputs.pack import ChemistryName, Pack
from ampstead.inputs.shared import ChargeRate, ChargerCurrentLimit, MaxRate
from ampstead.judging.cautions import LONG_CHARGE, Table, charging
from ampstead.judging.cautions import caution as shared
from ampstead.judging.charging import Limits, Verdict, charge_verdict
from ampstead.judging.doubts import error
from ampstead.words import amperes_to_set, degrees, duration, millivolts, sentences

ASKED = "How do I charge this nickel pack?"
WHEN = ("at the bench", 50)
MAIN = ("current", "time_limit", "end_method")
SOURCES = (
    "Standard charge of 0.1 of the capacity an hour for 16 hours from empty: IEC 61951-1 (nickel-cadmium) and 61951-2 "
    "(nickel-metal-hydride), from memory; 14 hours at least: common practice, no published source",
    "Ways to end a charge (timer, fall of voltage, cut-off temperature, slope of temperature): contents of a maker's "
    "handbook; falls of 5 to 10 (nickel-metal-hydride) and 10 to 20 mV a cell (nickel-cadmium) and 1 degree a minute: "
    "from memory, the earlier end taken",
    "What a fast charge takes beyond the capacity, stops at 50 degrees, and 0 to 40 degrees with a fifth of the usual "
    "up to 10: common practice and this project's own judgement",
)
EXAMPLES = (
    {"cells": 6, "capacity": "2100 mAh"},
    {"chemistry": "nicd", "cells": 5, "capacity": "1150 mAh", "rate": 1, "max_rate": 2, "temperature": "13 °C"},
)
SLACK = 1e-9
STANDARD_RATE = 0.1
STANDARD_TIME, LEAST_TIME = 16.0, 14.0
"""Hours of the standard charge from empty, and the least that is usual."""
PEAK_RATE = 0.5
"""From it on the voltage falls clearly enough at the end. Common practice, no published source."""
USUAL_EXCESS, MOST_EXCESS = 1.1, 1.2
"""Charge of a fast charge over what was missing: as a rule, and where a timer ends it. This project's own judgement."""
VOLTAGE_FALL = {"nimh": 0.005, "nicd": 0.010}
"""V a cell, from memory: the earlier end of what is usual."""
STOP_SLOPE = 1.0 / 60.0
"""K/s: a degree a minute, from memory."""


def nickel_alone(chemistry: ChemistryName) -> Iterator[FieldError]:
    """Only nickel ends a charge so."""
    if chemistry not in VOLTAGE_FALL:
        said = f"{CHEMISTRIES[chemistry].words} packs are charged to a held voltage: ask charge-current"
        yield FieldError("chemistry", "unsupported", said)


CHECKS = (nickel_alone,)
EndMethod = Literal["timer", "voltage-fall"]


@dataclass(frozen=True, slots=True, kw_only=True)
class NickelCharge:
    current: Annotated[
        float, Quantity("A", "Charge current; 0 where it must not be charged or is full.", spoken="down")
    ]
    rate: Annotated[float, Rate("The same in multiples of the capacity per hour.", spoken="down")]
    end_method: Annotated[
        EndMethod | None,
        Choice("What ends the charge: a timer, or the small fall of voltage of a full pack; none without a charge."),
    ]
    time_total: Annotated[
        float | None, Quantity("min", "Time to the end as a rule; none without a charge.", spoken="near")
    ]
    time_limit: Annotated[
        float | None,
        Quantity("min", "Time at which a timer ends it in any case; none without a charge.", spoken="down"),
    ]
    charge_added: Annotated[
        float,
        Quantity("mAh", "What the charger counts as a rule: more than was missing, since the rest turns to heat."),
    ]
    voltage_fall: Annotated[
        float | None,
        Quantity("V", "Fall of the pack's voltage from its peak at which to stop; none on a timer.", spoken="down"),
    ]
    stop_temperature: Annotated[float, Quantity("°C", "Stop if the pack gets this warm.", spoken="down")]
    stop_heating_rate: Annotated[
        float, Quantity("K/s", "Stop a fast charge if the pack warms this fast.", spoken="down")
    ]
    _verdict: Verdict


def nickel_charge(
    *,
    pack: Annotated[
        Pack,
        Group(
            name="pack",
            only=("chemistry", "cells", "capacity", "temperature", "state_of_charge", "condition"),
            require=("cells", "capacity"),
            defaults={"chemistry": "nimh", "state_of_charge": 0.0},
        ),
    ],
    rate: ChargeRate = STANDARD_RATE,
    max_rate: MaxRate = None,
    charger_current_limit: ChargerCurrentLimit = None,
) -> NickelCharge:
    """How hard a nickel pack may be charged, how long, and what shows that it is full.

        timer:         t = 16 h * 0.1 / rate * (1 - z)      (1)
        voltage fall:  t = 1.1 * (1 - z) / rate             (2)

    with z the state of charge and the rate in multiples of the capacity per hour. Nickel holds no end voltage: up to a
    tenth of the capacity an hour a sealed cell bears what is too much, and a clock ends it; faster, the voltage passes
    a peak and falls a little when the cell is full, while the temperature climbs. Below half the capacity an hour the
    peak is weak. A timer ends a fast charge after 1.2 times what was missing in any case.
    """
    limits: Limits = [] if charger_current_limit is None else [(charger_current_limit, "charger-current")]
    verdict = charge_verdict(pack, rate, max_rate, limits)
    missing = 1.0 - (pack.state_of_charge or 0.0)
    method: EndMethod | None = None
    usual = limit = None
    if not verdict.refused and missing > SLACK:
        slow = verdict.rate <= STANDARD_RATE * (1 + SLACK)
        method = "timer" if slow else "voltage-fall"
        whole = HOUR * missing / verdict.rate
        usual = whole * (STANDARD_TIME * STANDARD_RATE if slow else USUAL_EXCESS)  # Eq. (1), (2)
        limit = usual if slow else whole * MOST_EXCESS
    return NickelCharge(
        current=verdict.current if method else 0.0,
        rate=verdict.rate if method else 0.0,
        end_method=method,
        time_total=usual,
        time_limit=limit,
        charge_added=0.0 if usual is None else verdict.current * usual,
        voltage_fall=VOLTAGE_FALL[pack.chemistry] * pack.size if method == "voltage-fall" else None,
        stop_temperature=verdict.stop_temperature,
        stop_heating_rate=STOP_SLOPE,
        _verdict=verdict,
    )


def sentence(answer: NickelCharge, *, pack: Pack) -> str:
    """The answer as spoken."""
    named = f"this {pack.kind.words} pack"
    if answer._verdict.refused:
        return f"Do not charge {named}: {answer._verdict.because}."
    if answer.time_total is None or answer.time_limit is None:
        return f"Leave {named} as it is: it is full."
    because = answer._verdict.because
    at = f"Charge {named} at {amperes_to_set(answer.current)}{because}"
    stop = f"and stop if it reaches {degrees(answer.stop_temperature, 'down')}"
    if answer.voltage_fall is None:
        return f"{at}, for {duration(answer.time_limit, 'down')} by a timer, {stop}."
    return sentences(
        f"{at}{',' if because else ''} until its voltage falls by {millivolts(answer.voltage_fall, 'down')} "
        f"from its peak, {stop}.",
        f"It takes about {duration(answer.time_total)}: set a timer to {duration(answer.time_limit, 'down')}.",
    )


OWN_CAUTIONS: Table = {
    # Common practice, no published source.
    "weak-peak": (
        "warning",
        "At this rate the peak is weak and a charger may miss it: charge at half the capacity an hour if the label "
        "allows it, or at a tenth by a timer, and feel the pack towards the end.",
    ),
    "part-full": (
        "note",
        "Counted from an empty pack. If something is left in it, stop as much earlier, or empty it to one volt a cell "
        "first.",
    ),
    "false-peak": (
        "note",
        "A pack that lay for months may show a fall of voltage in the first minutes: charge it slowly by a timer once.",
    ),
    "warm-when-full": ("note", "Nickel is cool while it fills and warms when it is full: warmth is its sign to stop."),
}
caution = shared.beside(OWN_CAUTIONS, standing={"part-full", "false-peak", "warm-when-full"})


def cautions(answer: NickelCharge, *, pack: Pack, given: frozenset[str]) -> Iterator[Caution]:
    """What to heed."""
    yield from answer._verdict.cautions
    if answer.end_method == "voltage-fall" and answer.rate < PEAK_RATE * (1 - SLACK):
        yield caution("weak-peak")
    if (answer.time_total or 0.0) > LONG_CHARGE * (1 + SLACK):
        yield caution("long-charge")
    yield from charging(pack.kind)
    if answer.end_method == "timer" and "state_of_charge" not in given:
        yield caution("part-full")
    if answer.end_method == "voltage-fall":
        yield caution("false-peak")
    yield caution("warm-when-full")


def accuracy(answer: NickelCharge) -> Iterator[Band]:
    """How sure the time is."""
    if answer.end_method == "timer" and answer.time_total:
        basis = "14 to 16 hours at a tenth of the capacity an hour; common practice, no published source"
        low, high = error("nickel timer")
        yield Band("time_total", answer.time_total * low, answer.time_total * high, basis)
    elif answer.time_total and answer.time_limit:
        basis = "from just what is missing to 1.2 times of it; this project's own judgement"
        low, high = error("nickel charge")
        yield Band("time_total", answer.time_total * low, answer.time_total * high, basis)

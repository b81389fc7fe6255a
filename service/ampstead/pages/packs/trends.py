"""How a pack's readings change over the years, at 25 °C and like with like.

What a reading would be at 25 °C is asked of the calculators: load-test tells it of a resistance, and flight-timer what
the cold takes of a charge that is drawn at a current. A capacity found between two resting voltages needs no such
thing. The line through the readings is that of ``cell.one.load_line``, with its band.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from math import sqrt
from typing import Any

from ampstead.cell.one.load_line import load_line
from ampstead.declare import Calculator
from ampstead.errors import Refusal
from ampstead.pages.packs.listed import RESISTANCES, Listed, Reading
from ampstead.replying.answers import Answered, teller
from ampstead.units import DIMENSIONS, converted, quantity

LEAST_DAYS = 3
ROOM = 298.15
AT_REST = "capacity-check"
"""The method of a capacity that was found between two resting voltages."""
UNITS = {**dict.fromkeys(RESISTANCES, "mΩ"), "measured_capacity": "mAh"}
KINDS = {
    "cell_resistance": "Resistance of a cell",
    "pack_resistance": "Resistance of the pack",
    "measured_capacity": "Capacity",
}
YEAR = 365.25
USED = 0.8
"""Of the label: how much a flight takes, where the cold is asked about."""

Factor = tuple[float, float, float]
"""What a reading is multiplied by to stand at 25 °C: most likely, least, most."""
SAME: Factor = (1.0, 1.0, 1.0)


@dataclass(frozen=True)
class Trend:
    """Readings of one kind and one method, and their change in a year with its band, in the unit of the kind."""

    kind: str
    method: str
    count: int
    days: int
    change: tuple[float, float, float] | None
    """Most likely, least, most; None below three days."""

    @property
    def words(self) -> str:
        """The change as a page says it."""
        if self.change is None:
            return f"no trend yet: read on {self.days} day{'s' if self.days > 1 else ''}, {LEAST_DAYS} are needed"
        unit = UNITS[self.kind]
        likely, low, high = map(signed, self.change)
        if self.change[1] <= 0 <= self.change[2]:
            return f"no sure change, {low} to {high} {unit} a year"
        return f"{likely} {unit} a year ({low} to {high})"


def signed(change: float) -> str:
    """A change with its sign."""
    digits = 0 if abs(change) >= 100 else 1 if abs(change) >= 1 else 2
    return f"{change:+.{digits}f}".replace("-", "\N{MINUS SIGN}")


class Warmth:
    """What brings the readings of one list to 25 °C; asked once for each temperature."""

    def __init__(self, calculators: Mapping[str, Calculator]) -> None:
        self.calculators = calculators
        self.known: dict[tuple[Any, ...], Factor | None] = {}

    def factor(self, pack: Listed, reading: Reading) -> Factor | None:
        """What brings a reading to 25 °C; None where that cannot be told."""
        if reading.temperature is None or reading.kind not in UNITS:
            return None
        if reading.kind in RESISTANCES:
            return self._kept(self._of_resistance, reading.temperature)
        if reading.method == AT_REST or quantity(reading.temperature, DIMENSIONS["°C"]) >= ROOM:
            return SAME
        facts = pack.facts
        if reading.current is None or not isinstance(facts["capacity"], str):
            return None
        chemistry = facts.get("chemistry", "lipo")
        return self._kept(self._of_capacity, reading.temperature, chemistry, facts["capacity"], reading.current)

    def _kept(self, ask: Any, *told: Any) -> Factor | None:
        key = (ask.__name__, *told)
        if key not in self.known:
            try:
                self.known[key] = ask(*told)
            except Refusal:
                self.known[key] = None
        return self.known[key]

    def _of_resistance(self, temperature: Any) -> Factor:
        """By load-test, on a line of 100 mΩ that is read without error."""
        line = {"currents": "0,10 A", "voltages": "12,11 V", "meter_resolution": "0 V", "current_error": 0}
        answered = teller(self.calculators["load-test"]).answered({**line, "temperature": temperature})
        whole = answered.answer.pack_resistance
        likely, low, high = _edges(answered, "resistance_at_25C")
        return likely / whole, low / whole, high / whole

    def _of_capacity(self, temperature: Any, chemistry: Any, capacity: str, current: Any) -> Factor | None:
        """By flight-timer, at that current, without the cold and with it."""
        used = USED * quantity(capacity, DIMENSIONS["mAh"])
        flown = {
            "chemistry": chemistry,
            "capacity": capacity,
            "charge_returned": {"value": converted(used, "mAh"), "unit": "mAh"},
            "flight_time": {"value": used / quantity(current, DIMENSIONS["A"]), "unit": "s"},
        }
        timer = teller(self.calculators["flight-timer"])
        warm = _edges(timer.answered(flown), "timer")
        cold = _edges(timer.answered({**flown, "next_temperature": temperature}), "timer")
        part, least, most = (a / b if b else 0.0 for a, b in zip(cold, warm, strict=True))
        return (1 / part, 1 / most, 1 / least) if least > 0 else None

    def trends(self, pack: Listed) -> list[Trend]:
        """The trends of a pack, the one with the latest reading of its kind first."""
        groups: dict[tuple[str, str], list[tuple[Reading, Factor]]] = {}
        spelt: dict[str, str] = {}
        for reading in reversed(pack.history):
            factor = self.factor(pack, reading) if reading.method else None
            if factor is not None:
                method = spelt.setdefault(reading.method.casefold(), reading.method)
                groups.setdefault((reading.kind, method), []).insert(0, (reading, factor))
        return [_trend(*key, points) for key, points in groups.items()]


def _trend(kind: str, method: str, points: list[tuple[Reading, Factor]]) -> Trend:
    days = [reading.date for reading, _ in points]
    count = len(set(days))
    if count < LEAST_DAYS:
        return Trend(kind, method, len(points), count, None)
    years = [_years(day, days[0]) for day in days]
    values = [converted(reading.value, UNITS[kind]) for reading, _ in points]
    line = load_line(years, [value * factor[0] for value, (_, factor) in zip(values, points, strict=True)])
    middle = sum(years) / len(years)
    apart = [year - middle for year in years]
    square = sum(each**2 for each in apart)
    # What the correction leaves open may lie all on one side at first, and on the other at last.
    tilts = [
        sum(
            each * value * factor[1 if (each > 0) == least else 2]
            for each, value, (_, factor) in zip(apart, values, points, strict=True)
        )
        / square
        for least in (True, False)
    ]
    # Readings that lie on a line by chance are still no better than the step of the display.
    finest = min(_step(reading, kind) for reading, _ in points)
    error = line.spread * max(line.resistance_error or 0.0, finest / sqrt(12 * square))
    return Trend(kind, method, len(points), count, (-line.resistance, tilts[0] - error, tilts[1] + error))


def _years(day: date, first: date) -> float:
    return (day - first).days / YEAR


def _step(reading: Reading, kind: str) -> float:
    """The smallest step in which a reading is written, in the unit of its trend: 0.1 of 8.5 mΩ."""
    parts = reading.told if isinstance(reading.told, list) else str(reading.told).split(",")
    unit = str(parts[-1]).strip().lstrip("+-0123456789. ")
    steps = []
    for part in parts:
        figure = str(part).strip().removesuffix(unit).strip()
        exponent = Decimal(figure).as_tuple().exponent
        text = {"value": 10.0 ** min(int(exponent), 0), "unit": unit}
        steps.append(converted(quantity(text, DIMENSIONS[UNITS[kind]]), UNITS[kind]))
    return min(steps)


def _edges(answered: Answered, of: str) -> Factor:
    """A result with the edges of its band."""
    value = getattr(answered.answer, of)
    band = answered.known["bands"].get(of)
    return (value, value, value) if band is None else (value, band.low, band.high)

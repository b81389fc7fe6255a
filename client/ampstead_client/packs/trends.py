"""Trends of a pack's readings, at 25 °C, like with like.

The physics stays with the service: load-test tells what a resistance is at 25 °C, and flight-timer what the cold takes
of a charge that is drawn at a current. A capacity that was found between two resting voltages needs no correction,
since the charge between them does not depend on how warm the pack is. The line through the readings is drawn here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from math import sqrt
from statistics import fmean
from typing import Any, TypeAlias

from ampstead_client.client import AmpsteadClient
from ampstead_client.packs.entries import ListedPack, PackReading
from ampstead_client.packs.fields import RESISTANCES
from ampstead_client.quantity import Quantity

LEAST_READINGS = 3
ROOM = 25.0  # °C
AT_REST = "capacity-check"
"""The method of a capacity that was found between two resting voltages."""
UNITS = {"cell_resistance": "mΩ", "pack_resistance": "mΩ", "measured_capacity": "mAh"}
YEAR = 365.25

STUDENT = (
    *(12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.160, 2.145, 2.131),
    *(2.120, 2.110, 2.101, 2.093, 2.086, 2.080, 2.074, 2.069, 2.064, 2.060, 2.056, 2.052, 2.048, 2.045, 2.042),
)
"""Student's t for 95 percent, two-sided, 1 to 30 degrees of freedom: NIST/SEMATECH e-Handbook, 1.3.6.7.2, from memory,
checked against scipy. Beyond it the last is taken, which is a little too cautious."""

Factor: TypeAlias = tuple[float, float, float]
"""What a figure is multiplied by to stand at 25 °C: most likely, least, most."""
SAME: Factor = (1.0, 1.0, 1.0)


@dataclass(frozen=True, slots=True)
class Point:
    """A reading as it would be at 25 °C; a plain number in the unit of its trend, the mean of the cells."""

    date: date
    """The day of the reading."""
    value: float
    """Most likely."""
    low: float
    """Least, by what the correction leaves open."""
    high: float
    """Most."""


@dataclass(frozen=True, slots=True)
class Trend:
    """Readings of one kind and one method, and how they change."""

    kind: str
    """Of the readings: `cell_resistance`, `pack_resistance` or `measured_capacity`."""
    method: str
    """How all of them were measured."""
    points: tuple[Point, ...]
    """In the order of days, at 25 °C."""
    unit: str
    """Of the points."""
    per_year: Quantity | None
    """Change in a year, by least squares; None below three readings on three days."""
    low: Quantity | None
    """The least it may be: 95 percent by Student's t, and what the correction to 25 °C leaves open."""
    high: Quantity | None
    """The most it may be."""

    @property
    def words(self) -> str:
        """The change in words."""
        if self.per_year is None or self.low is None or self.high is None:
            days = len({point.date for point in self.points})
            return f"no trend yet: read on {days} day{'s' if days > 1 else ''}, {LEAST_READINGS} are needed"
        low, high = (signed(edge).removesuffix(f" {self.unit}") for edge in (self.low, self.high))
        if self.unsure:
            return f"no sure change, {low} to {high} {self.unit} a year"
        return f"{signed(self.per_year)} a year ({low} to {high})"

    @property
    def unsure(self) -> bool:
        """Whether the readings may as well have stayed as they were."""
        return self.low is None or self.high is None or self.low.value <= 0 <= self.high.value


def signed(change: Quantity) -> str:
    """A change with its sign."""
    digits = 0 if abs(change.value) >= 100 else 1 if abs(change.value) >= 1 else 2
    return f"{change:+.{digits}f}".replace("-", "\u2212")


class Warmth:
    """What brings the readings of some packs to 25 °C, asked of the service once."""

    def __init__(self, client: AmpsteadClient, packs: Iterable[ListedPack]) -> None:
        readings = [(pack, reading) for pack in packs for reading in pack.history]
        self._resistance = _resistance_factors(client, {_degrees(each) for _, each in readings if _resists(each)})
        self._capacity = _capacity_factors(client, {key for key in (_drawn(*each) for each in readings) if key})

    def factor(self, pack: ListedPack, reading: PackReading) -> Factor | None:
        """What brings a reading to 25 °C; None where that cannot be told."""
        degrees = _degrees(reading)
        if degrees is None:
            return None
        if _resists(reading):
            return self._resistance.get(degrees)
        if reading.method == AT_REST or degrees >= ROOM:
            return SAME
        drawn = _drawn(pack, reading)
        return None if drawn is None else self._capacity.get(drawn)

    def trends(self, pack: ListedPack) -> tuple[Trend, ...]:
        """The trends of a pack's resistance and capacity, the one with the latest reading of its kind first."""
        groups: dict[tuple[str, str], list[Point]] = {}
        steps: dict[tuple[str, str], list[float]] = {}
        spelt: dict[str, str] = {}
        for reading in reversed(pack.history):
            factor = self.factor(pack, reading) if reading.kind in UNITS and reading.method else None
            mean = reading.mean
            if factor is None or mean is None or reading.method is None:
                continue
            key = reading.kind, spelt.setdefault(reading.method.casefold(), reading.method)
            value = mean.value_in(UNITS[reading.kind])
            point = Point(reading.date, *(value * each for each in factor))
            groups.setdefault(key, []).insert(0, point)
            steps.setdefault(key, []).append(step(reading))
        return tuple(trend(*key, points, min(steps[key])) for key, points in groups.items())


def trend(kind: str, method: str, points: list[Point], finest: float) -> Trend:
    """The line through points in the order of days; `finest` is the smallest step in which they were read."""
    unit, days = UNITS[kind], len({point.date for point in points})
    if len(points) < LEAST_READINGS or days < LEAST_READINGS:
        return Trend(kind, method, tuple(points), unit, None, None, None)
    years = [(point.date - points[0].date).days / YEAR for point in points]
    middle, mean = fmean(years), fmean(point.value for point in points)
    apart = [year - middle for year in years]
    square = sum(each**2 for each in apart)
    slope = sum(each * point.value for each, point in zip(apart, points, strict=True)) / square
    left = len(points) - 2
    scatter = sqrt(
        sum((point.value - mean - slope * each) ** 2 for each, point in zip(apart, points, strict=True)) / left
    )
    # Readings that lie on a line by chance are still no better than the step of the display.
    error = max(scatter, finest / sqrt(12)) / sqrt(square) * STUDENT[min(left, len(STUDENT)) - 1]
    least = sum(each * (point.low if each > 0 else point.high) for each, point in zip(apart, points, strict=True))
    most = sum(each * (point.high if each > 0 else point.low) for each, point in zip(apart, points, strict=True))
    per_year, low, high = (Quantity(each, unit) for each in (slope, least / square - error, most / square + error))
    return Trend(kind, method, tuple(points), unit, per_year, low, high)


def step(reading: PackReading) -> float:
    """The smallest step in which a reading is written, in the unit of its trend: 0.1 of 8.5 mΩ."""
    each = reading.value if isinstance(reading.value, tuple) else (reading.value,)
    return min(_step(value, UNITS[reading.kind]) for value in each if isinstance(value, Quantity))


def _step(value: Quantity, unit: str) -> float:
    exponent = Decimal(f"{value.value:.10g}").as_tuple().exponent
    return Quantity(10.0 ** min(int(exponent), 0), value.unit).value_in(unit)


def _resists(reading: PackReading) -> bool:
    return reading.kind in RESISTANCES


def _degrees(reading: PackReading) -> float | None:
    return None if reading.temperature is None else reading.temperature.value_in("°C")


def _drawn(pack: ListedPack, reading: PackReading) -> tuple[str, float, float, float] | None:
    """Kind of cell, label, current and temperature of a capacity that was drawn in the cold."""
    degrees = _degrees(reading)
    if reading.kind != "measured_capacity" or reading.method == AT_REST or reading.current is None:
        return None
    if degrees is None or degrees >= ROOM or not isinstance(pack.capacity, Quantity):
        return None
    return pack.chemistry or "lipo", pack.capacity.value_in("mAh"), reading.current.value_in("A"), degrees


def _resistance_factors(client: AmpsteadClient, temperatures: set[float | None]) -> dict[float, Factor]:
    """Resistance at 25 °C over resistance as read, by temperature: load-test's answer on a line of 100 mΩ."""
    known = sorted(each for each in temperatures if each is not None)
    line = {"currents": "0,10 A", "voltages": "12,11 V", "meter_resolution": "0 V", "current_error": 0}
    rows = client.batch("load-test", [{"temperature": Quantity(each, "°C")} for each in known], common=line)
    found = {}
    for degrees, row in zip(known, rows, strict=True):
        if row.problem is None:
            whole = row["pack_resistance"].value
            likely, low, high = edges(row, "resistance_at_25C")
            found[degrees] = (likely / whole, low / whole, high / whole)
    return found


def _capacity_factors(
    client: AmpsteadClient, drawn: set[tuple[str, float, float, float]]
) -> dict[tuple[str, float, float, float], Factor]:
    """Capacity at 25 °C over capacity as drawn in the cold: flight-timer's answers without the cold and with it."""
    known = sorted(drawn)
    questions: list[Mapping[str, Any]] = []
    for chemistry, capacity, current, degrees in known:
        used = 0.8 * capacity
        whole = {
            "chemistry": chemistry,
            "capacity": Quantity(capacity, "mAh"),
            "charge_returned": Quantity(used, "mAh"),
            "flight_time": Quantity(60 * used / 1000 / current, "min"),
        }
        questions += [whole, whole | {"next_temperature": Quantity(degrees, "°C")}]
    rows = client.batch("flight-timer", questions)
    found = {}
    for place, key in enumerate(known):
        warm, cold = rows[2 * place], rows[2 * place + 1]
        if warm.problem is None and cold.problem is None:
            part, least, most = (a / b if b else 0.0 for a, b in zip(edges(cold), edges(warm), strict=True))
            if least > 0:
                found[key] = (1 / part, 1 / most, 1 / least)
    return found


def edges(row: Any, of: str = "timer") -> tuple[float, float, float]:
    """A result of a row as a plain number, with the edges of its band."""
    value = row[of].value
    band = next((band for band in row.accuracy if band.of == of), None)
    return (value, value, value) if band is None else (value, band.low.value, band.high.value)

"""Open-circuit voltage against state of charge, and how far to trust a state read from a voltage."""

from bisect import bisect_right
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..column import each
from . import tables

Floats = NDArray[np.float64]
_Line = tuple[list[float], list[float], list[float]]


@dataclass(frozen=True, eq=False)
class Curve:
    """Open-circuit voltage U(z) of one cell, straight between the points of a table.

    Straight lines are part of the model: a cubic through the same points moves the constant-voltage time by
    6 to 10 %. State of charge z in 0…1, voltage in volts, both strictly rising along the table; beyond its
    ends both are held. `sourced` is False where the table was extrapolated, not measured.
    """

    states: Floats
    voltages: Floats
    source: str
    sourced: bool = True

    def __post_init__(self) -> None:
        if np.any(np.diff(self.states) <= 0.0) or np.any(np.diff(self.voltages) <= 0.0):
            raise ValueError("the states and voltages of a curve must both rise")
        self.states.setflags(write=False)
        self.voltages.setflags(write=False)

    def voltage(self, state: ArrayLike) -> Floats:
        """Open-circuit voltage at a state of charge, volts."""
        return _looked_up(state, self.states, self.voltages)

    def state(self, voltage: ArrayLike) -> Floats:
        """State of charge at an open-circuit voltage, 0…1."""
        return _looked_up(voltage, self.voltages, self.states)

    def voltage_at(self, state: float) -> float:
        """`voltage` at one state, in plain floats: several times as fast; a column goes the other way."""
        return _at(state, *self._rising) if type(state) is float else self.voltage(state)  # type: ignore[return-value]

    def state_at(self, voltage: float) -> float:
        """`state` at one voltage, likewise."""
        return _at(voltage, *self._falling) if type(voltage) is float else self.state(voltage)  # type: ignore[return-value]

    @cached_property
    def _rising(self) -> _Line:
        states, voltages, slopes = self.points
        return states, voltages, slopes

    @cached_property
    def _falling(self) -> _Line:
        states, voltages, _ = self.points
        return voltages, states, (np.diff(self.states) / np.diff(self.voltages)).tolist()

    @cached_property
    def points(self) -> _Line:
        """States, voltages and slopes as plain floats: a loop over segments reads them far faster."""
        slopes = np.diff(self.voltages) / np.diff(self.states)
        return self.states.tolist(), self.voltages.tolist(), slopes.tolist()

    @cached_property
    def areas(self) -> list[float]:
        """∫ U dz from the first point of the table to each."""
        pieces = 0.5 * (self.voltages[1:] + self.voltages[:-1]) * np.diff(self.states)
        return [0.0, *np.cumsum(pieces).tolist()]


def _at(at: float, x: list[float], y: list[float], slopes: list[float]) -> float:
    if not x[0] < at < x[-1]:
        return y[0] if at <= x[0] else y[-1]
    k = bisect_right(x, at) - 1
    return slopes[k] * (at - x[k]) + y[k]


def _looked_up(at: Any, x: Floats, y: Floats) -> Floats:
    try:
        places = np.asarray(at, dtype=float)
    except TypeError:
        rows: Floats = each(at, lambda column: column.mapped(lambda values: np.interp(values, x, y)))
        return rows
    return np.asarray(np.interp(places, x, y))


def _curve(states: Iterable[float], voltages: Iterable[float], source: str, sourced: bool = True) -> Curve:
    return Curve(np.array(tuple(states), dtype=float), np.array(tuple(voltages), dtype=float), source, sourced)


def _extended(curve: Curve, top: float, source: str) -> Curve:
    """The curve with its last slope carried on to `top`, and its states rescaled to 0…1."""
    slope = curve.points[2][-1]
    full = 1.0 + (top - curve.voltages[-1]) / slope
    return _curve([*(curve.states / full), 1.0], [*curve.voltages, top], source, sourced=False)


_JES = "J. Electrochem. Soc."

LIPO = _curve(
    tables.STATES,
    tables.AI_2020,
    f"Ai2020: LiCoO2/graphite pouch cell, {_JES} 167 (2020) 013512; published, computed at 51 points",
)
LIHV = _extended(
    LIPO,
    4.35,
    "extrapolated, not measured: Ai2020 with its last slope carried on to 4.35 V; own judgement",
)
LIION = _curve(
    tables.STATES,
    tables.CHEN_2020,
    f"Chen2020: NMC811/graphite-SiOx cell, {_JES} 167 (2020) 080534; published, computed at 51 points",
)
LIFE = _curve(
    tables.STATES,
    tables.PRADA_2013,
    f"Prada2013: LiFePO4/graphite cell, {_JES} 160 (2013) A616; published, computed at 51 points",
)
LEAD = _curve(
    (state for state, _ in tables.ARMY_TM_LEAD_ACID),
    (voltage / 6.0 for _, voltage in tables.ARMY_TM_LEAD_ACID),
    "US Army TM 5-3805-262-20, page 5-142 (12 V battery, one sixth per cell); published",
)


def _straight(points: list[tuple[float, float]]) -> Callable[[float], float]:
    x, y = [float(point[0]) for point in points], [float(point[1]) for point in points]

    def value(at: float) -> float:
        if at <= x[0]:
            return y[0]
        if at >= x[-1]:
            return y[-1]
        k = bisect_right(x, at) - 1
        return y[k] + (y[k + 1] - y[k]) * (at - x[k]) / (x[k + 1] - x[k])

    return value


_ROWS = [(row[0], min(row[1:]) / 100.0, max(row[1:]) / 100.0) for row in tables.STATE_AT_VOLTAGE]
# The sets end between 2.5 and 3.0 V at the bottom and all at 4.20 V at the top.
_LOW = _straight([(3.0, 0.0), *((volt, low) for volt, low, _ in _ROWS), (4.20, 1.0)])
_HIGH = _straight([(2.5, 0.0), *((volt, high) for volt, _, high in _ROWS), (4.20, 1.0)])

_LIHV_SCALE = float(LIHV.state(4.20))
_LIHV_LOW = _straight(
    [(volt, max(0.0, _LIHV_SCALE * low - 0.03)) for volt, low, _ in _ROWS] + [(4.20, _LIHV_SCALE - 0.03), (4.35, 1.0)]
)
_LIHV_HIGH = _straight([(2.5, 0.0), *((volt, high) for volt, _, high in _ROWS), (4.35, 1.0)])

_SONY_LFP = _curve((step / 10 for step in range(11)), tables.SONY_LFP_2018, "Naumann, thesis, Munich 2018")
_LIFE_READING = 0.010
_LEAD_TOLERANCE = 0.10


def _of_seven(voltage: float) -> tuple[float, float]:
    return _LOW(voltage), _HIGH(voltage)


def _lihv(voltage: float) -> tuple[float, float]:
    return _LIHV_LOW(voltage), _LIHV_HIGH(voltage)


def _life(voltage: float) -> tuple[float, float]:
    below, above = voltage - _LIFE_READING, voltage + _LIFE_READING
    low = min(LIFE.state_at(below), _SONY_LFP.state_at(below))
    return low, max(LIFE.state_at(above), _SONY_LFP.state_at(above))


def _lead(voltage: float) -> tuple[float, float]:
    own = LEAD.state_at(voltage)
    return max(0.0, own - _LEAD_TOLERANCE), min(1.0, own + _LEAD_TOLERANCE)


_BANDS = {"lipo": _of_seven, "lihv": _lihv, "liion": _of_seven, "life": _life, "lead": _lead}
_OWN = {"lipo": LIPO, "lihv": LIHV, "liion": LIION, "life": LIFE, "lead": LEAD}


def state_band(chemistry_name: str, voltage: float) -> tuple[float, float]:
    """Lowest and highest state of charge that one cell at rest at `voltage` (V) may have.

    The band always holds the chemistry's own curve, never falls as the voltage rises, and closes at
    full (lead apart).

    - lipo, liion: the lowest and highest of seven published 4.2 V sets, straight between the rows of the
      table `STATE_AT_VOLTAGE`; below 3.30 V straight to the bottoms of the sets. **Published**.
    - lihv: the high edge of those sets as it is; the low edge rescaled as the curve is and 3 points lower,
      since the curve itself is extrapolated. **Own judgement**.
    - life: all states that two published cells (Prada2013; Naumann 2018) have within 10 mV of this voltage,
      which on the flat part is half of the capacity. Tables **published**, the 10 mV **own judgement**.
    - lead: ±10 points, since published tables differ by up to 15 points at one voltage. **Own judgement**.

    ValueError for a chemistry without a curve.
    """
    if chemistry_name not in _OWN:
        raise ValueError(f"no open-circuit curve for {chemistry_name!r}")
    own = _OWN[chemistry_name].state_at(voltage)
    low, high = _BANDS[chemistry_name](voltage)
    return min(low, own), max(high, own)


def _of_table(voltage: float) -> list[float]:
    """The state of each of the seven sets at a voltage, straight between the rows of their table."""
    if not _VOLTS[0] < voltage < _VOLTS[-1]:
        return _STATES[0 if voltage <= _VOLTS[0] else -1]
    k = bisect_right(_VOLTS, voltage) - 1
    part = (voltage - _VOLTS[k]) / (_VOLTS[k + 1] - _VOLTS[k])
    return [below + (above - below) * part for below, above in zip(_STATES[k], _STATES[k + 1], strict=True)]


_VOLTS = [2.5, *(row[0] for row in tables.STATE_AT_VOLTAGE), 4.20]
_SETS = len(tables.STATE_AT_VOLTAGE[0]) - 1
_STATES = [[0.0] * _SETS, *([state / 100.0 for state in row[1:]] for row in tables.STATE_AT_VOLTAGE), [1.0] * _SETS]
_PUBLISHED: dict[str, Callable[[float], list[float]]] = {
    "lipo": _of_table,
    "liion": _of_table,
    "life": lambda voltage: [_SONY_LFP.state_at(voltage)],
}
_EXTRAPOLATED = (0.7, 1.4)


def state_difference_band(chemistry_name: str, low: float, high: float) -> tuple[float, float]:
    """Least and most that the state of charge may differ between cells at rest at `low` and `high` volts.

    One cell's curve reads both voltages, so that the band is narrower than two readings of `state_band` would make it:
    lipo and liion by the own curve and the seven published sets, life by two published cells; lihv 0.7 to 1.4 of its
    extrapolated curve and lead the same of its own. Tables **published**; the two factors **own judgement**.
    ValueError for a chemistry without a curve.
    """
    if chemistry_name not in _OWN:
        raise ValueError(f"no open-circuit curve for {chemistry_name!r}")
    own = _OWN[chemistry_name].state_at(high) - _OWN[chemistry_name].state_at(low)
    published = _PUBLISHED.get(chemistry_name)
    if published is None:
        return _EXTRAPOLATED[0] * own, min(_EXTRAPOLATED[1] * own, 1.0)
    differences = [above - below for above, below in zip(published(high), published(low), strict=True)]
    return min(own, *differences), max(own, *differences)

"""How hard a pack may be charged as low as it reads, and whether it has the cells that it is said to have."""

from math import inf

import numpy as np
from numpy.typing import NDArray

from ..kinds.chemistries import Chemistry

Floats = NDArray[np.float64]

RECOVERY_RATE = 0.1
"""Of the capacity an hour, below the chemistry's low voltage. **Published** by a cell maker."""

_NEARLY_EMPTY = 0.1
_READING = 0.05
_SLACK = 1e-9


def low_cell_rate(kind: Chemistry, readings: Floats | None) -> float:
    """The rate that the lowest of some resting voltages leaves: 0 for a dead cell, infinite where none is low."""
    if readings is None or kind.low_cell is None or kind.dead_cell is None:
        return inf
    lowest = min(readings.tolist())
    if lowest < kind.dead_cell - _SLACK:
        return 0.0
    return RECOVERY_RATE if lowest < kind.low_cell - _SLACK else inf


def fewer_cells(kind: Chemistry, cells: int, rest_voltage: float | None) -> int | None:
    """A smaller number of cells that a pack's resting voltage would suit as well, where it is low for those told.

    Low is below the curve at z = 0.1; what suits lies between 3.0 V (life 2.5 V) and the end of charge with a
    meter's error of 50 mV. **Own judgement**.
    """
    if rest_voltage is None or kind.curve is None or not kind.is_lithium:
        return None
    if rest_voltage / cells >= kind.curve.voltage_at(_NEARLY_EMPTY) - _SLACK:
        return None
    least, most = kind.low_cell or 0.0, kind.end_of_charge + _READING
    for fewer in range(cells - 1, 0, -1):
        if least - _SLACK <= rest_voltage / fewer <= most + _SLACK:
            return fewer
    return None

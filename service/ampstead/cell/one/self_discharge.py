"""Cells that stand: what each loses, and which loses more than its fellows."""

from statistics import median

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

DAY = 86400.0
"""s."""
NOISE = 1e-9
"""V: what readings written in unlike units may differ by."""


def losses(first: Floats, second: Floats, days: float) -> Floats:
    """Voltage that each cell lost a second, V/s; below zero where it rose."""
    fall = first - second
    return np.asarray(np.where(np.abs(fall) > NOISE, fall, 0.0) / (days * DAY))


def beyond_fellows(values: Floats) -> Floats:
    """Each value less the median of the others; less nothing where there are none.

    The median of the others, not of all: in a pack of two or three the odd cell would shift its own yardstick.
    """
    if len(values) < 2:
        return values
    others = [median(np.delete(values, place).tolist()) for place in range(len(values))]
    return np.asarray(values - np.array(others))


def days_until(voltages: Floats, rates: Floats, floor: float) -> float | None:
    """Days until the first cell meets a floor (V) at its rate (V/s); 0 where one is there, None where none falls."""
    if np.any(voltages <= floor):
        return 0.0
    falling = rates > 0.0
    if not np.any(falling):
        return None
    return float(np.min((voltages[falling] - floor) / rates[falling])) / DAY

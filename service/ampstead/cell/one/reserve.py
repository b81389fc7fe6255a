"""A pack near its end: what its voltages are at a reserve, and what charge the cold takes away."""

from dataclasses import dataclass
from math import expm1

import numpy as np
from numpy.typing import NDArray

from ..kinds.curves import Curve, state_band
from .discharge import time_to_floor
from .series import SeriesPack

Floats = NDArray[np.float64]

_STEPS = 50
_SLACK = 1e-9


@dataclass(frozen=True, eq=False, kw_only=True)
class AtReserve:
    """Each cell when the smallest has its reserve left, or the first meets its floor: at rest and under load. V."""

    resting: Floats
    loaded: Floats
    at_floor: bool
    """Whether a floor was met before the reserve."""


def at_reserve(
    full: SeriesPack, reserve: float, current: float, *, floor: float, warmth: Floats | float = 1.0
) -> AtReserve | None:
    """A pack flown from full until its smallest cell has `reserve` left, or a cell is at `floor`, under a steady load.

        t   = (1 − reserve)·Q_smallest/I                              (1)
        z_j = 1 − I·t/Q_j                                             (2)
        V_j = U(z_j) − I·(R0_j + R1_j·(1 − exp(−t/τ)))·warmth         (3)

    `warmth` is what the resistance has become over what it was at the start. Where Eq. (3) lies below the floor of a
    cell, the time is that at which the first of them meets it. None where that is at once.
    """
    pack = full.having(resistance=warmth)

    def cells(spent: float) -> tuple[Floats, Floats]:
        rise = -expm1(-spent / current / pack.time_constant) if current > 0.0 else 1.0
        resting = pack.curve.voltage(1.0 - spent / pack.capacities)  # Eq. (1), (2)
        return resting, resting - current * (pack.ohmic + pack.polarisation * rise)  # Eq. (3)

    if np.any(full.rest_voltages - current * full.ohmic < floor):
        return None
    resting, loaded = cells((1.0 - reserve) * float(np.min(pack.capacities)))
    at_floor = bool(np.any(loaded < floor - _SLACK))
    if at_floor:
        met = time_to_floor(pack, floor, current=current)
        if not met:
            return None
        resting, loaded = cells(current * met)
    return AtReserve(resting=resting, loaded=loaded, at_floor=at_floor)


def resting_band(chemistry_name: str, curve: Curve, state: float) -> tuple[float, float]:
    """Lowest and highest voltage at which a cell at rest may have this state of charge: `state_band` turned round."""

    def first(edge: int) -> float:
        """The lowest voltage whose edge has come to the state, by bisection: edges never fall, but may jump."""
        low, high = float(curve.voltages[0]), float(curve.voltages[-1])
        for _ in range(_STEPS):
            middle = 0.5 * (low + high)
            if state_band(chemistry_name, middle)[edge] >= state:
                high = middle
            else:
                low = middle
        return high

    own = float(curve.voltage(state))
    return min(first(1), own), max(first(0), own)


def stranded_charge(curve: Curve, floor: float, drop: float) -> float:
    """State of charge at which a cell meets `floor` under a drop in volts: what lies below it cannot be flown.

        U(z) − drop = floor    (1)

    0 where even an empty cell stays above, 1 where a full one does not.
    """
    return float(curve.state(floor + drop))

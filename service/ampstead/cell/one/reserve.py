"""A pack near its end: what its voltages are at a reserve, and what charge the cold takes away."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..kinds.curves import Curve, state_band
from .series import SeriesPack

Floats = NDArray[np.float64]

_STEPS = 50


@dataclass(frozen=True, eq=False, kw_only=True)
class AtReserve:
    """Each cell when the smallest has its reserve left: at rest, and under a current held on. V."""

    resting: Floats
    loaded: Floats


def at_reserve(full: SeriesPack, reserve: float, current: float) -> AtReserve:
    """A pack flown from full until its smallest cell has `reserve` left, under a current out of it.

        z_j = 1 − (1 − reserve)·Q_smallest/Q_j        (1)
        V_j = U(z_j) − I·(R0_j + R1_j)                (2)

    The slow part of the resistance counts in full: the load has been on for minutes.
    """
    states = 1.0 - (1.0 - reserve) * np.min(full.capacities) / full.capacities  # Eq. (1)
    resting = full.curve.voltage(states)
    return AtReserve(resting=resting, loaded=resting - current * (full.ohmic + full.polarisation))  # Eq. (2)


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

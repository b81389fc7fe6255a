"""The straight line of voltage against current: what a pack's readings under load say of its resistance."""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..kinds.resistance import POLARISATION_RATIO, TIME_CONSTANT

STUDENT_95 = (12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228)
"""Student's t, 95 % two-sided, for 1 to 10 degrees of freedom. **Published** in any statistical table; the last one
is kept for more, on the wide side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadLine:
    """V = rest_voltage − resistance·I, and how sure it is. V, ohm."""

    rest_voltage: float
    resistance: float
    resistance_error: float | None
    """Standard error of the resistance; None where two readings leave no residue."""
    rest_error: float | None
    resistance_reach: float
    """Worst error of the resistance per volt of error in every reading, 1/A."""
    rest_reach: float
    """The same for the voltage at rest."""
    spread: float
    """By how much 95 % limits exceed the standard errors."""

    def resistance_limits(self, reading: float) -> float:
        """Half the band of the resistance, where each voltage may be wrong by up to `reading`, V."""
        return self.resistance_reach * reading + self.spread * (self.resistance_error or 0.0)

    def rest_limits(self, reading: float) -> float:
        """Half the band of the voltage at rest, likewise."""
        return self.rest_reach * reading + self.spread * (self.rest_error or 0.0)


def load_line(currents: ArrayLike, voltages: ArrayLike) -> LoadLine:
    """Least squares through readings of one thing under several currents (positive out of the pack).

        R = −Σ(I − mean I)·(V − mean V) / S,   S = Σ(I − mean I)²      (1)
        U = mean V + R·mean I                                         (2)
        s_R² = Σ(V − U + R·I)² / ((n − 2)·S)                          (3)
        s_U² = s_R²·Σ I²/n                                            (4)

    Two readings: R = (V1 − V2)/(I2 − I1) exactly, and no standard error. An error of up to e volts in each
    reading moves R by at most e·Σ|I − mean I|/S: for two, 2·e/(I2 − I1).
    """
    I, V = np.asarray(currents, dtype=float), np.asarray(voltages, dtype=float)
    n, mean = len(I), float(np.mean(I))
    apart = I - mean
    S = float(apart @ apart)
    if n < 2 or S <= 0.0:
        raise ValueError("a line needs two readings at currents that differ")
    R = -float(apart @ (V - np.mean(V))) / S  # Eq. (1)
    U = float(np.mean(V)) + R * mean  # Eq. (2)
    s_R = s_U = None
    if n > 2:
        residue = V - U + R * I
        s_R = sqrt(float(residue @ residue) / ((n - 2) * S))  # Eq. (3)
        s_U = s_R * sqrt(float(I @ I) / n)  # Eq. (4)
    return LoadLine(
        rest_voltage=U,
        resistance=R,
        resistance_error=s_R,
        rest_error=s_U,
        resistance_reach=float(np.sum(np.abs(apart))) / S,
        rest_reach=float(np.sum(np.abs(1.0 / n - mean * apart / S))),
        spread=STUDENT_95[min(n - 2, len(STUDENT_95)) - 1] if n > 2 else 0.0,
    )


def part_felt(durations: ArrayLike) -> NDArray[np.float64]:
    """Resistance that has appeared some seconds after rest, over that of the first instant (`resistance`, Eq. 1)."""
    t = np.asarray(durations, dtype=float)
    return np.asarray(1.0 - POLARISATION_RATIO * np.expm1(-t / TIME_CONSTANT))

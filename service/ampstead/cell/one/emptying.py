"""A pack emptied through a resistor or lamps: no electronics, the current follows the voltage.

    resistor:  i = U/(R + R_load)                                  (1)
    lamps:     i = P/V0·(V/(n·V0))^0.55,  V = U − R·i              (2)
    time:      t = ∫ dq/i                                          (3)

n lamps in series of P watts at V0 volts each; a filament takes about the 0.55th power of its voltage (from memory:
lamp engineers' rule, near its rating). R is all of the pack's resistance, fast and slow: over hours the slow part has
settled. Current out of the pack is positive; SI.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .series import SeriesPack

Floats = NDArray[np.float64]

FILAMENT = 0.55
POINTS = 1601
SETTLING = 60


@dataclass(frozen=True)
class Resistor:
    """A load of constant resistance, ohm."""

    resistance: float

    def current(self, U: Floats, R: float) -> Floats:
        """Eq. (1)."""
        return np.asarray(U / (R + self.resistance))


@dataclass(frozen=True)
class Lamps:
    """`count` lamps in series, each of `power` W at `voltage` V."""

    power: float
    voltage: float
    count: int

    def current(self, U: Floats, R: float) -> Floats:
        """Eq. (2), by halving: the current rises with V and V falls with the current, so that it is one."""
        rated, whole = self.power / self.voltage, self.count * self.voltage
        low, high = np.zeros_like(U), rated * (U / whole) ** FILAMENT
        for _ in range(SETTLING):
            i = (low + high) / 2
            more = rated * (np.maximum(U - R * i, 0.0) / whole) ** FILAMENT > i
            low, high = np.where(more, i, low), np.where(more, high, i)
        return np.asarray((low + high) / 2)


@dataclass(frozen=True)
class Emptying:
    """The course of one: charge given, time, current, voltage at the load; shape (POINTS,) each. C, s, A, V."""

    charges: Floats
    times: Floats
    currents: Floats
    voltages: Floats

    @property
    def time(self) -> float:
        return float(self.times[-1])

    @property
    def energy(self) -> float:
        """Turned to heat in the load, J: ∫ V dq."""
        return float(np.trapezoid(self.voltages, self.charges))


def let_down(pack: SeriesPack, load: Resistor | Lamps, charge: float) -> Emptying:
    """The course until so much charge has been given, coulomb, no cell beyond empty."""
    q = np.linspace(0.0, charge, POINTS)
    states = np.clip(pack.states[:, None] - q / pack.capacities[:, None], 0.0, 1.0)
    U = pack.curve.voltage(states).sum(axis=0)
    R = float(np.sum(pack.ohmic + pack.polarisation))
    i = load.current(U, R)
    slowness = 1.0 / i
    steps = 0.5 * (slowness[1:] + slowness[:-1]) * np.diff(q)  # Eq. (3)
    return Emptying(q, np.concatenate(([0.0], np.cumsum(steps))), i, U - R * i)

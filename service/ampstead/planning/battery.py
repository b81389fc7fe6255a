"""A battery as the supply: how much power it gives, and whether it lasts through a plan.

The power P of a step stands behind lead and resistance, the slow part in full (**own judgement**, the safe side):

    P = V·i,  V = E(q) − R·i,  i = 2P/(E + sqrt(E² − 4·R·P))                       (1)
    q' = i·max(1, (i·H/C)^(k−1))                                                   (2)

with Peukert's exponent k for the capacity C at H hours; see ``cell.wiring.drain``. In each step E is that of its end,
where it is least.
"""

from functools import cached_property

import numpy as np

from ampstead.cell.sizing import HOUR
from ampstead.inputs.source import FieldSource

from .work import Floats

_ROUNDS = 60
_SLICES = 200


class SourceLimits:
    """A battery with the depth and the input voltage that it may not fall below. SI units."""

    def __init__(
        self, source: FieldSource, depth: float, floor: float, lead: float, peukert: float, hours: float
    ) -> None:
        capacities = source.available()
        states = source.states()
        self.left = max(0.0, float(np.min((states - (1.0 - depth)) * capacities)))
        """Coulomb that may be taken."""
        self.floor, self.peukert = floor, peukert
        self.rated = float(np.min(capacities)) / (hours * HOUR)
        pack = source.resolved()
        self.R = float(np.sum(pack.ohmic) + np.sum(pack.polarisation)) + lead
        # Cells that are alike are counted, so that each kind is looked up once.
        self.curve = source.curve
        alike, self.count = np.unique(np.stack([states, capacities]), axis=1, return_counts=True)
        self.states, self.capacities = alike

    def emf(self, q: Floats) -> Floats:
        """Open-circuit voltage of the battery when so much has been taken."""
        z = self.states[:, None] - q / self.capacities[:, None]
        volts: Floats = self.count @ np.interp(z, self.curve.states, self.curve.voltages)
        return volts

    @cached_property
    def energy(self) -> float:
        """More than it ever gives down to its depth: as if it had no resistance, J."""
        q, width = np.linspace(0.0, self.left, _SLICES, endpoint=False, retstep=True)
        return float(self.emf(q).sum() * width)  # its voltage falls, so that a slice holds less than at its begin

    def most_power(self, q: float = 0.0) -> float:
        """The most that it gives when so much has been taken, W."""
        E = float(self.emf(np.array([q]))[0])
        V = max(self.floor, 0.5 * E)
        return max(0.0, V * (E - V) / self.R)

    def lasts(self, power: Floats, width: float) -> bool:
        """Whether it gives these powers, one in each step, and holds depth and floor to the end."""
        q = np.zeros(len(power))
        for _ in range(_ROUNDS):
            E = self.emf(q)
            inner = E * E - 4.0 * self.R * power
            if np.any(inner < 0.0):
                return False
            i = 2.0 * power / (E + np.sqrt(inner))
            taken = np.cumsum(i * width * np.maximum(1.0, (i / self.rated) ** (self.peukert - 1.0)))
            if taken[-1] > self.left * (1.0 + 1e-9):
                return False
            settled = bool((np.abs(taken - q) <= 1e-6 + 1e-9 * q).all())
            q = taken
            if settled:
                break
        drawn = power > 0.0
        return bool(np.all((E - self.R * i)[drawn] >= self.floor - 1e-9))

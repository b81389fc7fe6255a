"""A pack that warms or cools in air: a block whose middle lags behind its skin.

All heat passes the two broad faces of a wall of half thickness L, the longest way out and so the slow side [1]:

    Bi = h·L/k,  Fo = k·t/(ρ·cp·L²)                                       (1)
    ζn·tan ζn = Bi,  Cn = 4·sin ζn/(2ζn + sin 2ζn)                        (2)
    θ(x, t) = (T − Tair)/(T0 − Tair) = Σ Cn·exp(−ζn²·Fo)·cos(ζn·x/L)      (3)

from the middle (x = 0) to the skin (x = L), begun at one temperature throughout. Kelvin, seconds, metres, W, kg.

The block is as thick as a pack of its mass usually is: sides as 4 to 1.3 to 1, 2300 kg/m³ (pouches 2000 to 2600: from
memory; the sides: **own judgement**). It conducts 0.5 W/mK across its layers (0.5 to 1: from memory; the slow side).
Specific heat as in ``heat``.

[1] Incropera, DeWitt, Fundamentals of Heat and Mass Transfer, one-dimensional transient conduction in the plane wall
with convection: from memory. **Published**.
"""

from dataclasses import dataclass
from functools import cached_property
from math import inf, log, pi

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..roots import root
from .heat import SPECIFIC_HEAT

Floats = NDArray[np.float64]

DENSITY = 2300.0
CONDUCTIVITY = 0.5
LENGTH, WIDTH = 4.0, 1.3
"""Sides over the thickness."""
TERMS = 24
"""Of the sum (3): what they leave out has died away by Fo = 0.01, before which the middle feels nothing."""
EARLIEST = 0.01


@dataclass(frozen=True)
class Slab:
    """A block of `mass` kg that gives off `cooling` hA in W/K over all its sides."""

    mass: float
    cooling: float

    @property
    def thickness(self) -> float:
        """The least side, m."""
        return float((self.mass / DENSITY / (LENGTH * WIDTH)) ** (1 / 3))

    @property
    def surface(self) -> float:
        """All six sides, m²."""
        return 2.0 * (LENGTH * WIDTH + LENGTH + WIDTH) * self.thickness**2

    @property
    def biot(self) -> float:
        """Eq. (1): all the cooling at the two broad faces."""
        faces = 2.0 * LENGTH * WIDTH * self.thickness**2
        return self.cooling / faces * (self.thickness / 2.0) / CONDUCTIVITY

    @property
    def pace(self) -> float:
        """Fo over time, 1/s."""
        return CONDUCTIVITY / (DENSITY * SPECIFIC_HEAT * (self.thickness / 2.0) ** 2)

    @cached_property
    def modes(self) -> tuple[Floats, Floats]:
        """ζn and Cn of Eq. (2), shape (TERMS,) each."""
        return modes(self.biot)

    def middle(self, time: ArrayLike) -> Floats:
        """θ in the middle."""
        return self._share(time, 0.0)

    def skin(self, time: ArrayLike) -> Floats:
        """θ at the faces."""
        return self._share(time, 1.0)

    def _share(self, time: ArrayLike, place: float) -> Floats:
        """Eq. (3) at a place x/L; it never exceeds 1, which a broken-off sum does by a little at the very start."""
        zeta, C = self.modes
        fading = np.exp(-(zeta**2) * self.pace * np.asarray(time, dtype=float)[..., None])
        return np.asarray(np.clip((C * fading * np.cos(zeta * place)).sum(axis=-1), 0.0, 1.0))

    def time_to(self, share: float) -> float:
        """The time after which θ has fallen to `share` everywhere, so in the middle, s; infinite for none of it."""
        if share >= 1.0:
            return 0.0
        zeta, C = self.modes
        slowest = zeta[0] ** 2 * self.pace
        if share <= 0.0 or self.cooling <= 0.0:
            return inf
        # C1·exp(−ζ1²·Fo) is above the whole sum, whose second term is below nought: a bound, and soon the answer.
        first, bound = EARLIEST / self.pace, log(float(C[0]) / share) / float(slowest)
        if bound <= first or float(self.middle(first)) <= share:
            return first
        if float(self.middle(bound)) >= share:
            return bound
        return root(lambda time: share - float(self.middle(time)), first, bound)

    @property
    def halving(self) -> float:
        """Time in which θ halves once the start is over, s; infinite without cooling."""
        slowest = float(self.modes[0][0]) ** 2 * self.pace
        return log(2.0) / slowest if self.cooling > 0.0 else inf


def modes(biot: float) -> tuple[Floats, Floats]:
    """ζn and Cn of Eq. (2): one root in each [(n − 1)·π, (n − 1/2)·π], halved to the last digit."""
    low = np.arange(TERMS) * pi
    high = low + pi / 2
    start = low
    for _ in range(60):
        middle = (low + high) / 2
        # ζ·sin ζ − Bi·cos ζ turns its sign with (−1)^(n − 1); no tangent that runs off.
        over = (middle * np.sin(middle) - biot * np.cos(middle)) * np.cos(start) > 0
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    zeta = (low + high) / 2
    spread = 2.0 * zeta + np.sin(2.0 * zeta)
    C = np.where(zeta < 1e-9, 1.0, 4.0 * np.sin(zeta) / np.where(spread == 0.0, 1.0, spread))
    return zeta, C

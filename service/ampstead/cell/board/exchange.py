"""What flows between packs that are joined and left alone, from the first instant until they are at rest."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..roots import root
from ..sizing import HOUR
from .bank import Bank, Branch, Points
from .bank_walk import Course, Walk, tolerance_of

Floats = NDArray[np.float64]

_AT_REST = 0.01  # of the capacity an hour, in every branch and in its slow part
_SLACK = 1e-9
_TOLERANCE = 2e-6


@dataclass(frozen=True, eq=False)
class Exchange:
    """Currents into each branch are positive; SI units."""

    bank: Bank
    first_currents: Floats
    largest: Floats
    """The largest current into each branch at any time; 0 into one that only gives, since in the end none flows."""
    settled_voltage: float
    settled_charges: Floats
    """What each branch has taken in when all are at rest; below nought where it gave."""
    settled_states: Floats
    """State of charge of every cell then; beyond 0 and 1 where one is driven so far."""
    _course: Course = field(repr=False)

    @property
    def charge_moved(self) -> float:
        """What those branches gave that gave, C."""
        return float(np.sum(np.maximum(-self.settled_charges, 0.0)))

    def time_above(self, limits: Floats) -> float:
        """How long in all any branch takes more than its limit, A."""

        def over(currents: Floats) -> Floats:
            return np.asarray(np.max(currents - limits * (1.0 + _SLACK), axis=-1)) - 1e-15

        times = self._course.times
        excess = over(self._currents)
        first, last = excess[:-1] > 0.0, excess[1:] > 0.0
        total = float(np.sum(np.diff(times)[first & last]))
        for k in np.flatnonzero(first != last):
            crossed = self._crossing(int(k), over)
            total += crossed - times[k] if first[k] else times[k + 1] - crossed
        return total

    def time_to(self, rate: float) -> float:
        """When all currents, in and out, are below this part of the capacity an hour for good."""
        levels = rate * self.bank.capacities / HOUR

        def over(currents: Floats) -> Floats:
            return np.asarray(np.max(np.abs(currents) - levels, axis=-1))

        above = np.flatnonzero(over(self._currents) > 0.0)
        if not len(above):
            return 0.0
        last = int(above[-1])
        return float(self._course.times[-1]) if last + 1 == len(self._course.times) else self._crossing(last, over)

    @property
    def _currents(self) -> Floats:
        return self._course.currents[:, self.bank.of]

    def _crossing(self, step: int, over: Callable[[Floats], Floats]) -> float:
        times = self._course.times
        low, high = float(times[step]), float(times[step + 1])
        return root(lambda t: float(over(self.points(t).currents)[0]), low, high, tolerance=1e-9)

    def points(self, times: ArrayLike) -> Points:
        """The board at some times, those after the last step as at it."""
        return self._course.at(np.atleast_1d(np.asarray(times, dtype=float)))


def exchange(branches: Sequence[Branch], tolerance: float = _TOLERANCE) -> Exchange:
    """Packs joined at rest, followed until no current is above a hundredth of the capacity an hour.

    The end itself is not waited for: it is where all branches have one voltage and the charges add up to nought.
    No bound but the cells' own curves: a cell may be driven above full (its voltage then stays) or below empty.
    """
    bank = Bank(branches)
    walk = Walk(bank, 0.0, tolerance=tolerance_of(bank, tolerance))
    while len(bank.alike) > 1 and walk.strands.quiet() > _AT_REST / HOUR:
        walk.accept(walk.advance()[0])
    course = walk.course()
    V, charges = bank.equilibrium()
    return Exchange(
        bank=bank,
        first_currents=bank.first_currents()[0],
        largest=np.maximum(course.largest(), 0.0),
        settled_voltage=V,
        settled_charges=charges,
        settled_states=bank.cell_states(charges),
        _course=course,
    )


def largest_difference(ohmic: Floats, limits: Floats) -> float:
    """The difference of voltage between branches at rest up to which none takes more than its limit, V.

    Branch p takes most where all others stand the same Δ above it:

        i_p = Δ·(G − g_p)·g_p/G,  g = 1/ohmic,  G = Σg        (1)

    so that Δ is the least of limit·G/(g_p·(G − g_p)); for two, limit·(R_1 + R_2).
    """
    g = 1.0 / ohmic
    others = np.array([float(np.sum(np.delete(g, p))) for p in range(len(g))])
    return float(np.min(limits * (g + others) / (g * others)))

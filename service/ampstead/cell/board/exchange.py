"""What flows between packs that are joined and left alone, from the first instant until they are at rest."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..roots import root
from ..sizing import HOUR
from .bank import Bank, Branch, Point
from .bank_walk import Step, Walk, at_times, largest, within

Floats = NDArray[np.float64]

_AT_REST = 0.005  # of the capacity an hour, in every branch and in its slow part
_SLACK = 1e-9


@dataclass(frozen=True, eq=False)
class Exchange:
    """Currents into each branch are positive; SI units."""

    bank: Bank
    first_currents: Floats
    largest: Floats
    """The largest current into each branch at any time."""
    settled_voltage: float
    settled_charges: Floats
    """What each branch has taken in when all are at rest; below nought where it gave."""
    settled_states: Floats
    """State of charge of every cell then; beyond 0 and 1 where one is driven so far."""
    _steps: tuple[Step, ...] = field(repr=False)

    @property
    def charge_moved(self) -> float:
        """What those branches gave that gave, C."""
        return float(np.sum(np.maximum(-self.settled_charges, 0.0)))

    def time_above(self, limits: Floats) -> float:
        """How long in all any branch takes more than its limit, A."""

        def over(point: Point) -> float:
            return float(np.max(point.currents - limits * (1.0 + _SLACK))) - 1e-15

        total = 0.0
        for step in self._steps:
            h = step.end.time - step.start.time
            first, last = over(step.start), over(step.end)
            if first > 0.0 and last > 0.0:
                total += h
            elif (first > 0.0) != (last > 0.0):
                crossed = self._crossing(step, over)
                total += crossed if first > 0.0 else h - crossed
        return total

    def time_to(self, rate: float) -> float:
        """When all currents, in and out, are below this part of the capacity an hour for good."""
        levels = rate * self.bank.capacities / HOUR

        def over(point: Point) -> float:
            return float(np.max(np.abs(point.currents) - levels))

        for step in reversed(self._steps):
            if over(step.end) > 0.0:
                return step.end.time
            if over(step.start) > 0.0:
                return step.start.time + self._crossing(step, over)
        return 0.0

    def _crossing(self, step: Step, over: Callable[[Point], float]) -> float:
        return root(lambda h: over(within(self.bank, step, h)), 0.0, step.end.time - step.start.time, tolerance=1e-9)

    def points(self, times: ArrayLike) -> list[Point]:
        """The board at some times, those after the last step as at it."""
        asked = np.atleast_1d(np.asarray(times, dtype=float))
        return at_times(self.bank, self._steps, asked) if self._steps else [Walk(self.bank, 0.0).point] * len(asked)


def exchange(branches: Sequence[Branch]) -> Exchange:
    """Packs joined at rest, followed until no current is above half a hundredth of the capacity an hour.

    The end itself is not waited for: it is where all branches have one voltage and the charges add up to nought.
    No bound but the cells' own curves: a cell may be driven above full (its voltage then stays) or below empty.
    """
    bank = Bank(branches)
    walk = Walk(bank, 0.0)
    first = bank.first_currents()[0]
    quiet = _AT_REST * bank.capacities / HOUR
    # What a slow part may still drive counts by its resistance beside the others.
    part = bank.polarisation / (bank.ohmic + bank.polarisation)
    while np.any(np.maximum(np.abs(walk.point.currents), part * np.abs(walk.point.slow)) > quiet):
        walk.advance()
    V, charges = bank.equilibrium()
    return Exchange(
        bank=bank,
        first_currents=first,
        largest=np.maximum(first, largest(bank, tuple(walk.steps))) if walk.steps else first,
        settled_voltage=V,
        settled_charges=charges,
        settled_states=bank.cell_states(charges),
        _steps=tuple(walk.steps),
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

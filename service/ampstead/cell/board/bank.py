"""Packs in parallel on one board: what flows between them, left alone or under a charger.

Branch p is a pack of cells in series and its lead. From rest, currents into it positive,

    V = E_p(q_p) + R1_p·w_p + R_p·i_p        (1)
    q_p' = i_p,  w_p' = (i_p − w_p)/τ_p      (2)

V is the voltage of the board, E_p the sum of its cells' open-circuit voltages, R_p that of their R0 and the lead,
R1_p that of their R1. The board closes the system: either the currents add up to a total,

    Σ i_p = I                                (3)

(nought where nothing else is connected), or one cell is held at a voltage. E_p is straight between points, so that
inside one segment of every branch the system is linear (`bank_walk`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..one.series import SeriesPack
from ..roots import root

Floats = NDArray[np.float64]

_MOST_POINTS = 150
_MANY_POINTS = 600
_THINNED = 2e-6  # V per cell


@dataclass(frozen=True, eq=False)
class Branch:
    """A pack with the lead in series with it; `shortfalls`: how far each cell stands below an empty one, V."""

    pack: SeriesPack
    lead: float = 0.0
    shortfalls: Floats | None = None


class Point(NamedTuple):
    """The board at one instant."""

    time: float
    charges: Floats
    slow: Floats
    currents: Floats
    voltage: float


class Bank:
    """Branches on one board, each at its own states; numbered as given."""

    def __init__(self, branches: Sequence[Branch]) -> None:
        packs = [branch.pack for branch in branches]
        self.size = len(branches)
        self.capacities = np.array([float(np.min(pack.capacities)) for pack in packs])
        self.ohmic = np.array([float(np.sum(branch.pack.ohmic)) + branch.lead for branch in branches])
        self.polarisation = np.array([float(np.sum(pack.polarisation)) for pack in packs])
        self.tau = np.array([pack.time_constant for pack in packs])

        # Every cell of every branch, end to end.
        self.owner = np.repeat(np.arange(self.size), [pack.cells for pack in packs])
        self.cell_capacities = np.concatenate([pack.capacities for pack in packs])
        self.cell_ohmic = np.concatenate([pack.ohmic for pack in packs])
        self.cell_polarisation = np.concatenate([pack.polarisation for pack in packs])
        z, u, slope = packs[0].curve.points
        # Below empty the first slope is carried on, to nought: a cell that reads low stands there.
        self.states = np.array([-u[0] / slope[0], *z])
        self.voltages = np.array([0.0, *u])
        self.slopes = np.diff(self.voltages) / np.diff(self.states)
        below = [np.zeros(branch.pack.cells) if branch.shortfalls is None else branch.shortfalls for branch in branches]
        self.start_states = np.concatenate([pack.states for pack in packs]) - np.concatenate(below) / slope[0]

        self.tables = [self._table(p) for p in range(self.size)]
        # Every segment of every branch, end to end, those beyond the first and the last point too.
        self.first_segment = np.cumsum([0, *(len(charges) + 1 for charges, _ in self.tables[:-1])]) + 1
        pieces = [_segments(*table) for table in self.tables]
        self.segments = tuple(np.concatenate([piece[n] for piece in pieces]) for n in range(4))
        self.crowding = sum(len(charges) for charges, _ in self.tables) / _MANY_POINTS
        self.many_points = self.crowding > 1.0

    def _table(self, p: int) -> tuple[Floats, Floats]:
        """Charges and voltages of the points of E_p."""
        mine = self.owner == p
        z0, Q = self.start_states[mine], self.cell_capacities[mine]
        charges = np.unique(((self.states[:, None] - z0) * Q).ravel())
        states = z0[:, None] + charges / Q[:, None]
        voltages = np.interp(states, self.states, self.voltages).sum(axis=0)
        close = np.diff(charges, prepend=-inf) < 1e-12 * float(np.min(Q))
        charges, voltages = charges[~close], voltages[~close]
        return _thinned(charges, voltages, _THINNED * len(z0)) if len(charges) > _MOST_POINTS else (charges, voltages)

    def emf(self, charges: Floats) -> Floats:
        """E_p after so much charge into each branch."""
        return np.array([np.interp(q, *table) for q, table in zip(charges, self.tables, strict=True)])

    def cell_states(self, charges: Floats) -> Floats:
        """State of charge of every cell; beyond 0 and 1 where a cell was driven so far."""
        states: Floats = self.start_states + charges[self.owner] / self.cell_capacities
        return states

    def cell_voltages(self, point: Point) -> Floats:
        """Terminal voltage of every cell."""
        U = np.interp(self.cell_states(point.charges), self.states, self.voltages)
        own = self.owner
        V: Floats = U + self.cell_ohmic * point.currents[own] + self.cell_polarisation * point.slow[own]
        return V

    def first_currents(self, total: float = 0.0) -> tuple[Floats, float]:
        """Currents and voltage at the first instant, Eqs. (1) and (3), from rest."""
        emf = self.emf(np.zeros(self.size))
        above = emf - emf[0]  # so that equal packs exchange nothing at all
        V = (total + float(np.sum(above / self.ohmic))) / float(np.sum(1.0 / self.ohmic))
        return (V - above) / self.ohmic, float(emf[0]) + V

    def equilibrium(self) -> tuple[float, Floats]:
        """Where the branches end that are left alone: one voltage, and the charge that each has taken in."""
        emf = self.emf(np.zeros(self.size))
        low, high = float(np.min(emf)), float(np.max(emf))
        if high - low <= 1e-12 * high:
            return high, np.zeros(self.size)

        def taken(V: float) -> Floats:
            return np.array([np.interp(V, voltages, charges) for charges, voltages in self.tables])

        V = root(lambda V: float(np.sum(taken(V))), low, high)
        return V, taken(V)


def _segments(charges: Floats, voltages: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Offset, slope and ends of each straight piece of a line, level before its first and after its last point."""
    slope = np.diff(voltages) / np.diff(charges)
    return (
        np.concatenate([voltages[:1], voltages[:-1] - slope * charges[:-1], voltages[-1:]]),
        np.concatenate([[0.0], slope, [0.0]]),
        np.concatenate([[-inf], charges]),
        np.concatenate([charges, [inf]]),
    )


def _thinned(x: Floats, y: Floats, room: float) -> tuple[Floats, Floats]:
    """Fewer points of a line, none of the others further from it than `room` (Douglas and Peucker)."""
    kept = {0, len(x) - 1}
    waiting = [(0, len(x) - 1)]
    while waiting:
        first, last = waiting.pop()
        if last - first < 2:
            continue
        line = y[first] + (y[last] - y[first]) * (x[first : last + 1] - x[first]) / (x[last] - x[first])
        apart = np.abs(y[first : last + 1] - line)
        worst = int(np.argmax(apart))
        if apart[worst] > room:
            kept.add(first + worst)
            waiting += [(first, first + worst), (first + worst, last)]
    at = sorted(kept)
    return x[at], y[at]

"""Packs in parallel on one board: what flows between them, left alone or under a charger.

Branch p is a pack of cells in series and its lead. From rest, currents into it positive,

    V = E_p(q_p) + R1_p·w_p + R_p·i_p        (1)
    q_p' = i_p,  w_p' = (i_p − w_p)/τ_p      (2)

V is the voltage of the board, E_p the sum of its cells' open-circuit voltages, R_p that of their R0 and the lead,
R1_p that of their R1. The board closes the system: V is as high as it may be while the currents add up to no more than
a total, and no cell stands above the voltage at which a charger holds,

    Σ i_p ≤ I,   U_c + R1_c·w_p + R0_c·i_p ≤ V_end for every cell c of every p        (3)

Every current rises with V, so that just one of these binds at any time: the total (nought where nothing else is
connected), or the cell that is highest.

Packs that are alike in every figure take alike at all times: each such kind is followed once, as a **strand**.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..one.series import SeriesPack
from ..roots import root

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

_SAME_POINT = 1e-12  # of the capacity


@dataclass(frozen=True, eq=False)
class Branch:
    """A pack with the lead in series with it; `shortfalls`: how far each cell stands below an empty one, V."""

    pack: SeriesPack
    lead: float = 0.0
    shortfalls: Floats | None = None

    @property
    def likeness(self) -> tuple[object, ...]:
        """What is the same of branches that are alike."""
        pack = self.pack
        arrays = (pack.states, pack.capacities, pack.ohmic, pack.polarisation)
        low = b"" if self.shortfalls is None or not self.shortfalls.any() else self.shortfalls.tobytes()
        return (*(array.tobytes() for array in arrays), low, pack.time_constant, self.lead)


class Points(NamedTuple):
    """The board at some times; one row a time, one column a branch."""

    times: Floats
    charges: Floats
    slow: Floats
    currents: Floats
    voltages: Floats


class Cells(NamedTuple):
    """Cells of several branches, end to end; `owner` numbers the branches."""

    owner: Places
    states: Floats
    capacities: Floats
    ohmic: Floats
    polarisation: Floats

    def part(self, kept: NDArray[np.bool_] | Places) -> "Cells":
        owner, states, capacities, ohmic, polarisation = self
        return Cells(owner[kept], states[kept], capacities[kept], ohmic[kept], polarisation[kept])


class Bank:
    """Branches on one board, each at its own states; numbered as given."""

    def __init__(self, branches: Sequence[Branch]) -> None:
        self.size = len(branches)
        self.curve = branches[0].pack.curve
        z, u, slope = self.curve.points
        # Below empty the first slope is carried on, to nought: a cell that reads low stands there.
        self.states = np.array([-u[0] / slope[0], *z])
        self.voltages = np.array([0.0, *u])
        self.slopes = np.diff(self.voltages) / np.diff(self.states)
        self._below = slope[0]

        places: dict[tuple[object, ...], int] = {}
        of = [places.setdefault(branch.likeness, len(places)) for branch in branches]
        self.of = np.array(of)
        """The strand of each branch."""
        self.alike = np.bincount(self.of)
        """How many branches each strand stands for."""
        kept = [branches[of.index(strand)] for strand in range(len(places))]
        self.branches = kept
        self.cells = self._cells(kept)
        sizes = [branch.pack.cells for branch in kept]
        starts = np.concatenate([[0], np.cumsum(sizes[:-1])]).astype(np.intp)
        leads = np.array([branch.lead for branch in kept])
        self.strand_capacities = np.minimum.reduceat(self.cells.capacities, starts)
        self.strand_ohmic = np.add.reduceat(self.cells.ohmic, starts) + leads
        self.strand_polarisation = np.add.reduceat(self.cells.polarisation, starts)
        self.strand_tau = np.array([branch.pack.time_constant for branch in kept])
        self.strand_room = np.minimum.reduceat((1.0 - self.cells.states) * self.cells.capacities, starts)
        """The charge with which the first cell of each strand is full."""
        self.capacities = self.strand_capacities[self.of]
        self.ohmic = self.strand_ohmic[self.of]

        # Every cell of every branch as given.
        spans = [np.arange(starts[strand], starts[strand] + sizes[strand]) for strand in of]
        self.owner = np.repeat(np.arange(self.size), [len(span) for span in spans])
        self.all_cells = self.cells.part(np.concatenate(spans))
        self.start_states = self.all_cells.states

        self.knots, self.offsets, self.pieces, self.first = self._lines()

    def _cells(self, branches: Sequence[Branch]) -> Cells:
        packs = [branch.pack for branch in branches]
        states = [
            branch.pack.states if branch.shortfalls is None else branch.pack.states - branch.shortfalls / self._below
            for branch in branches
        ]
        return Cells(
            np.repeat(np.arange(len(packs)), [pack.cells for pack in packs]),
            np.concatenate(states),
            np.concatenate([pack.capacities for pack in packs]),
            np.concatenate([pack.ohmic for pack in packs]),
            np.concatenate([pack.polarisation for pack in packs]),
        )

    def _lines(self) -> tuple[Floats, Floats, Floats, Places]:
        """E_p of every strand: the points of its line, and offset and slope of its pieces, end to end.

        A strand has one piece more than points: level before the first, where all its cells stand at nought, and
        after the last.
        """
        # Equal cells of a strand bend its line at the same points.
        counts: dict[tuple[int, float, float], int] = {}
        for cell in zip(*(field.tolist() for field in self.cells[:3]), strict=True):
            counts[cell] = counts.get(cell, 0) + 1
        owner, z0, Q = (np.array(figure) for figure in zip(*counts, strict=True))
        bends = np.diff(self.slopes, prepend=0.0, append=0.0)
        charges = ((self.states - z0[:, None]) * Q[:, None]).ravel()
        bends = (bends * (np.array(list(counts.values())) / Q)[:, None]).ravel()
        owners = np.repeat(owner, len(self.states))
        order = np.lexsort((charges, owners))
        charges, bends, owners = charges[order], bends[order], owners[order]
        slopes = np.cumsum(bends)
        first = np.searchsorted(owners, np.arange(len(self.alike)))
        slopes[np.append(first[1:], len(slopes)) - 1] = 0.0
        slopes = np.maximum(slopes, 0.0)
        widths = np.diff(charges, append=charges[-1])
        widths[first[1:] - 1] = 0.0
        E = np.cumsum(slopes * widths) - slopes * widths
        E -= E[first][owners]
        offsets = E - slopes * charges
        # The level piece before the first point is nought.
        return charges, np.insert(offsets, first, 0.0), np.insert(slopes, first, 0.0), first.astype(np.intp)

    @cached_property
    def spread(self) -> Floats:
        """Width of each strand's line, C."""
        last = np.append(self.first[1:], len(self.knots)) - 1
        width: Floats = self.knots[last] - self.knots[self.first]
        return width

    @cached_property
    def _keys(self) -> Floats:
        """All points as one rising line: the strand's number, and how far along its own line."""
        owners = np.repeat(np.arange(len(self.first)), np.diff(self.first, append=len(self.knots)))
        along = (self.knots - self.knots[self.first][owners]) / self.spread[owners]
        return np.asarray(owners + 0.25 + 0.5 * along)

    @cached_property
    def _scale(self) -> tuple[Floats, Floats, Places, Floats]:
        scale = 0.5 / self.spread
        strands = np.arange(len(self.first))
        last: Floats = np.add(strands, 0.999, dtype=float)
        return scale, strands + 0.25 - scale * self.knots[self.first], strands, last

    def lines(self, charges: Floats) -> tuple[Floats, Floats]:
        """Offset and slope of E_p where each strand stands; the last axis is the strands'."""
        scale, shift, strands, last = self._scale
        key = np.minimum(np.maximum(scale * charges + shift, strands), last)
        at = self._keys.searchsorted(key, side="right") + strands
        return self.offsets.take(at), self.pieces.take(at)

    def emf(self, charges: Floats) -> Floats:
        """E_p after so much charge into each strand."""
        offset, slope = self.lines(charges)
        return offset + slope * charges

    def cell_states(self, charges: Floats) -> Floats:
        """State of charge of every cell, charges told by branch; beyond 0 and 1 where a cell was driven so far."""
        states: Floats = self.start_states + charges[..., self.owner] / self.all_cells.capacities
        return states

    def cell_voltages(self, points: Points) -> Floats:
        """Terminal voltage of every cell; one row a time."""
        U = np.interp(self.cell_states(points.charges), self.states, self.voltages)
        own, cells = self.owner, self.all_cells
        V: Floats = U + cells.ohmic * points.currents[..., own] + cells.polarisation * points.slow[..., own]
        return V

    @cached_property
    def top_cells(self) -> Cells:
        """Of each strand, the cells that can be its highest while it is charged: those that no other outdoes."""
        kept: list[int] = []
        front: list[tuple[float, ...]] = []
        figures = list(zip(*(field.tolist() for field in self.cells), strict=True))
        owner = -1
        # From the fullest on: what is outdone by one before it, in speed and in resistance, never is the highest.
        for place in sorted(range(len(figures)), key=lambda place: (figures[place][0], -figures[place][1])):
            strand, _, *cell = figures[place]
            if strand != owner:
                owner, front = strand, []
            Q, R0, R1 = cell
            if not any(other[0] <= Q and other[1] >= R0 and other[2] >= R1 for other in front):
                front.append((Q, R0, R1))
                kept.append(place)
        return self.cells.part(np.array(kept))

    def first_currents(self, total: float = 0.0) -> tuple[Floats, float]:
        """Currents into the branches and voltage at the first instant, Eqs. (1) and (3), from rest."""
        emf = self.emf(np.zeros(len(self.alike)))
        above = emf - emf[0]  # so that equal packs exchange nothing at all
        g = self.alike / self.strand_ohmic
        V = (total + float(np.sum(above * g))) / float(np.sum(g))
        return ((V - above) / self.strand_ohmic)[self.of], float(emf[0]) + V

    def equilibrium(self) -> tuple[float, Floats]:
        """Where the branches end that are left alone: one voltage, and the charge that each has taken in."""
        emf = self.emf(np.zeros(len(self.alike)))
        low, high = float(np.min(emf)), float(np.max(emf))
        if high - low <= 1e-12 * high:
            return high, np.zeros(self.size)
        ends = np.append(self.first[1:], len(self.knots))
        tables = [
            (
                self.offsets[a + s + 1 : b + s + 1] + self.pieces[a + s + 1 : b + s + 1] * self.knots[a:b],
                self.knots[a:b],
            )
            for s, (a, b) in enumerate(zip(self.first, ends, strict=True))
        ]

        def taken(V: float) -> Floats:
            return np.array([np.interp(V, *table) for table in tables])

        V = root(lambda V: float(np.sum(self.alike * taken(V))), low, high)
        return V, taken(V)[self.of]

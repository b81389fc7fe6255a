"""Packs in parallel on one board: what flows between them, left alone or under a charger.

Branch p is a pack of cells in series and its lead. From rest, currents into it positive,

    V = E_p(q_p) + R1_p·w_p + R_p·i_p        (1)
    q_p' = i_p,  w_p' = (i_p − w_p)/τ_p      (2)

V is the voltage of the board, E_p the sum of its cells' open-circuit voltages, R_p that of their R0 and the lead,
R1_p that of their R1. The board closes the system: either the currents add up to a total,

    Σ i_p = I                                (3)

(nought where nothing else is connected), or one cell is held at a voltage. E_p is straight between points, so that
inside one segment of every branch the system is linear, with one unknown common to all branches: a step costs as
much as there are branches. Stepped by the stiffly accurate SDIRK method of order 4 [1] from point to point.

[1] Hairer, Wanner, Solving Ordinary Differential Equations II, 2nd ed., Springer 1996, table IV.6.5. **Published**.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .roots import root
from .series import SeriesPack

Floats = NDArray[np.float64]

_G = 0.25
_A = (
    (),
    (1 / 2,),
    (17 / 50, -1 / 25),
    (371 / 1360, -137 / 2720, 15 / 544),
    (25 / 24, -49 / 48, 125 / 16, -85 / 12),
)
# The fifth stage is the step; this less the embedded step of order 3 is the estimate of its error.
_E = np.array([25 / 24 - 59 / 48, -49 / 48 + 17 / 96, 125 / 16 - 225 / 32, 0.0, 1 / 4])

_TOLERANCE = 1e-5  # of the largest current, in the estimate of third order
_LEAST = 1e-9  # of the largest first current: smaller ones need not be so exact
_AT_POINT = 1e-9  # of the capacity
_MOST_STEPS = 100_000
_MOST_POINTS = 150
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


class Held(NamedTuple):
    """A cell (its number among all cells) held at a voltage."""

    cell: int
    voltage: float


Closure = float | Held
"""What closes the system: the total of the currents, or a cell held at a voltage."""


class Step(NamedTuple):
    """One step, from which any instant within it can be had again."""

    start: Point
    end: Point
    at: NDArray[np.intp]
    closure: Closure


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

    def walk(self, closure: Closure, start: Point | None = None) -> "Walk":
        """The board from a point on (rest, if none is given) under one closure."""
        return Walk(self, closure, start)


class Walk:
    """Steps of a bank under one closure; the closure may be changed between steps."""

    def __init__(self, bank: Bank, closure: Closure, start: Point | None) -> None:
        self.bank, self.closure = bank, closure
        zero = np.zeros(bank.size)
        time, q, w = (0.0, zero, zero) if start is None else start[:3]
        self.at = np.array(
            [np.searchsorted(table[0], x, side="right") - 1 for table, x in zip(bank.tables, q, strict=True)]
        )
        self.steps: list[Step] = []
        self._bind()
        i, V = self._currents(q, w)
        self.point = Point(time, q, w, i, V)
        self.scale = float(np.max(np.abs(i))) if start is None else 0.0
        self.width = 0.0

    def _bind(self) -> None:
        """The straight line of every branch, and where it ends."""
        offset, slope, low, high = self.bank.segments
        place = self.bank.first_segment + self.at
        self.offset, self.slope, self.low, self.high = offset[place], slope[place], low[place], high[place]

    def hold(self, closure: Closure) -> None:
        """Another closure from here on."""
        self.closure = closure
        i, V = self._currents(self.point.charges, self.point.slow)
        self.point = self.point._replace(currents=i, voltage=V)
        self.width = 0.0

    def _line(self, q: float, i: float) -> tuple[float, float]:
        """Offset and slope, against its branch's charge, of the voltage of the cell that is held; its ends count."""
        assert isinstance(self.closure, Held)
        bank, c = self.bank, self.closure.cell
        p, Q, z0 = int(bank.owner[c]), float(bank.cell_capacities[c]), float(bank.start_states[c])
        z = z0 + q / Q
        ahead = z + (2.0 * _AT_POINT if i > 0.0 else -2.0 * _AT_POINT)
        k = int(np.searchsorted(bank.states, ahead, side="right")) - 1
        if k + 1 >= len(bank.states):
            return float(bank.voltages[-1]), 0.0
        k = max(k, 0)
        slope = float(bank.slopes[k]) / Q
        self.low[p] = max(self.low[p], (bank.states[k] - z0) * Q)
        self.high[p] = min(self.high[p], (bank.states[k + 1] - z0) * Q)
        return float(bank.voltages[k]) - slope * (bank.states[k] - z0) * Q, slope

    def _solved(self, B: Floats, D: Floats, q: Floats, w: Floats, a: float, b: Floats) -> tuple[Floats, float]:
        """Currents and board voltage where V = B + D·i; q and w are a·i and b·i short of their end."""
        if not isinstance(self.closure, Held):
            V = (self.closure + float(np.sum(B / D))) / float(np.sum(1.0 / D))
        else:
            c, bank = self.closure.cell, self.bank
            p = int(bank.owner[c])
            offset, slope = self.line
            R0, R1 = float(bank.cell_ohmic[c]), float(bank.cell_polarisation[c])
            i = (self.closure.voltage - offset - slope * float(q[p]) - R1 * float(w[p])) / (
                R0 + slope * a + R1 * float(b[p])
            )
            V = float(B[p] + D[p] * i)
        return (V - B) / D, V

    def _currents(self, q: Floats, w: Floats) -> tuple[Floats, float]:
        bank = self.bank
        if isinstance(self.closure, Held):
            p = bank.owner[self.closure.cell]
            self.line = self._line(float(q[p]), float(self.point.currents[p]))
        B = self.offset + self.slope * q + bank.polarisation * w
        return self._solved(B, bank.ohmic, q, w, 0.0, np.zeros(bank.size))

    def _stepped(self, h: float) -> tuple[Point, float]:
        """The point after a time h inside the present segments, and the estimate of its error in current."""
        bank, start = self.bank, self.point
        a = _G * h
        ratio = a / bank.tau
        b = ratio / (1.0 + ratio)
        D = bank.ohmic + self.slope * a + bank.polarisation * b
        dq, dw = np.empty((5, bank.size)), np.empty((5, bank.size))
        q, w, i, V = start.charges, start.slow, start.currents, start.voltage
        for j, row in enumerate(_A):
            q, w = start.charges, start.slow
            for k, weight in enumerate(row):
                q = q + (h * weight) * dq[k]
                w = w + (h * weight) * dw[k]
            w = w / (1.0 + ratio)
            i, V = self._solved(self.offset + self.slope * q + bank.polarisation * w, D, q, w, a, b)
            q, w = q + a * i, w + b * i
            dq[j], dw[j] = i, (i - w) / bank.tau
        error = h * np.abs(self.slope * (_E @ dq) + bank.polarisation * (_E @ dw)) / bank.ohmic
        return Point(start.time + h, q, w, i, V), float(np.max(error))

    def _first_width(self) -> float:
        fastest = float(np.min(self.bank.tau))
        if (steepest := float(np.max(self.slope / self.bank.ohmic))) > 0.0:
            fastest = min(fastest, 1.0 / steepest)
        return 0.02 * fastest

    def advance(self, until: float = inf) -> Step:
        """One more step: at most to the next point of a branch's curve, and not past the time `until`."""
        start = self.point
        self._face()
        h = min(self.width or self._first_width(), until - start.time)
        level = max(self.scale, float(np.max(np.abs(start.currents))))
        while True:
            end, error = self._stepped(h)
            allowed = _TOLERANCE * max(float(np.max(np.abs(end.currents))), _LEAST * level) + 1e-15
            factor = 0.9 * (allowed / max(error, 1e-300)) ** 0.25
            if factor >= 0.9:
                break
            h *= max(factor, 0.2)
        self.width = h * min(factor, 5.0)
        end = self._landed(end, h)
        return self._take(end)

    def _face(self) -> None:
        """A branch at a point of its curve stands on the segment that its current leads into."""
        q, i = self.point.charges, self.point.currents
        room = _AT_POINT * self.bank.capacities
        turned = False
        for p in np.flatnonzero(((q >= self.high - room) & (i > 0.0)) | ((q <= self.low + room) & (i < 0.0))):
            self.at[p] += 1 if i[p] > 0.0 else -1
            turned = True
        if turned:
            self._bind()
        if turned or isinstance(self.closure, Held):
            currents, V = self._currents(q, self.point.slow)
            self.point = self.point._replace(currents=currents, voltage=V)

    def _landed(self, end: Point, h: float) -> Point:
        """The step cut where the first branch comes to a point of its curve."""
        start = self.point
        for _ in range(8):
            over = np.maximum(end.charges - self.high, self.low - end.charges) - _AT_POINT * self.bank.capacities
            beyond = np.flatnonzero(over > 0.0)
            if not len(beyond):
                return end
            part = 1.0
            for p in beyond:
                bound = self.high[p] if end.charges[p] > self.high[p] else self.low[p]
                part = min(part, _met(start, end, h, int(p), float(bound)))
            h *= part
            end = self._stepped(h)[0]
        return end

    def _take(self, end: Point) -> Step:
        step = Step(self.point, end, self.at.copy(), self.closure)
        self.steps.append(step)
        if len(self.steps) > _MOST_STEPS:
            raise ArithmeticError("the currents between packs do not come to rest")
        self.point = end
        return step

    def within(self, step: Step, h: float) -> Point:
        """The point a time h into a step."""
        kept = (self.at, self.point, self.closure)
        self.at, self.point, self.closure = step.at, step.start, step.closure
        self._bind()
        self._currents(step.start.charges, step.start.slow)
        point = self._stepped(h)[0]
        self.at, self.point, self.closure = kept
        self._bind()
        return point

    def cut(self, h: float) -> Point:
        """The last step cut short to a time h."""
        step = self.steps.pop()
        end = self.within(step, h)
        self.at, self.point = step.at.copy(), step.start
        self._bind()
        self._take(end)
        self.width = 0.0
        return end

    def slopes(self, point: Point, closure: Closure, at: NDArray[np.intp]) -> Floats:
        """How fast each current changes at a point, A/s."""
        bank = self.bank
        kept = (self.at, self.closure)
        self.at, self.closure = at, closure
        self._bind()
        i = point.currents
        w = (i - point.slow) / bank.tau
        drift = self.slope * i + bank.polarisation * w
        if isinstance(closure, Held):
            c = closure.cell
            p = int(bank.owner[c])
            _, slope = self._line(float(point.charges[p]), float(i[p]))
            change = -(slope * i[p] + bank.cell_polarisation[c] * w[p]) / bank.cell_ohmic[c]
            rise = float(drift[p] + bank.ohmic[p] * change)
        else:
            rise = float(np.sum(drift / bank.ohmic) / np.sum(1.0 / bank.ohmic))
        self.at, self.closure = kept
        self._bind()
        return np.asarray((rise - drift) / bank.ohmic)

    def largest(self) -> Floats:
        """The largest current into each branch so far; also where it peaks inside a step."""
        most = self.steps[0].start.currents if self.steps else self.point.currents
        for step in self.steps:
            start, end = step.start, step.end
            most = np.maximum(np.maximum(most, start.currents), end.currents)
            h = end.time - start.time
            before = h * self.slopes(start, step.closure, step.at)
            after = h * self.slopes(end, step.closure, step.at)
            peaks = np.flatnonzero((before > 0.0) & (after < 0.0))
            if len(peaks):
                most = most.copy()
                for p in peaks:
                    most[p] = max(most[p], _peak(float(start.currents[p]), float(end.currents[p]), before[p], after[p]))
        return most


def _segments(charges: Floats, voltages: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Offset, slope and ends of each straight piece of a line, level before its first and after its last point."""
    slope = np.diff(voltages) / np.diff(charges)
    return (
        np.concatenate([voltages[:1], voltages[:-1] - slope * charges[:-1], voltages[-1:]]),
        np.concatenate([[0.0], slope, [0.0]]),
        np.concatenate([[-inf], charges]),
        np.concatenate([charges, [inf]]),
    )


def _met(start: Point, end: Point, h: float, p: int, bound: float) -> float:
    """The part of a step after which branch p has the charge `bound`, by the cubic through both ends."""
    q0, q1 = float(start.charges[p]), float(end.charges[p])
    i0, i1 = h * float(start.currents[p]), h * float(end.currents[p])

    def beyond(x: float) -> float:
        y = 1.0 - x
        return q0 * y * y * (1 + 2 * x) + i0 * x * y * y + q1 * x * x * (3 - 2 * x) - i1 * x * x * y - bound

    if not beyond(0.0) * beyond(1.0) < 0.0:
        return 0.5
    return root(beyond, 0.0, 1.0, tolerance=1e-12)


def _peak(y0: float, y1: float, d0: float, d1: float) -> float:
    """The largest value of the cubic with these ends and slopes, which rises at the first and falls at the last."""
    a, b, c = 3.0 * (2 * y0 - 2 * y1 + d0 + d1), 2.0 * (-3 * y0 + 3 * y1 - 2 * d0 - d1), d0
    x = 2.0 * c / (-b + np.sqrt(max(b * b - 4.0 * a * c, 0.0)))
    x = min(max(float(x), 0.0), 1.0)
    return float(y0 + x * (c + x * (0.5 * b + x * a / 3.0)))


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

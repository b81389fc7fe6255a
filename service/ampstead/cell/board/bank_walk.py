"""Steps of packs in parallel (`bank`), exact enough to be taken as the solution of its equations.

Inside one straight piece of every branch's curve the system is linear, with one unknown common to all branches, the
board's voltage: a step costs as much as there are branches. Stepped by the stiffly accurate SDIRK method of order 4
[1] from one point of a curve to the next. Where the curves have very many points together, a step runs over some of
them, along the chord of the curve, as long as that hardly differs from the tangent.

[1] Hairer, Wanner, Solving Ordinary Differential Equations II, 2nd ed., Springer 1996, table IV.6.5. **Published**.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..roots import root
from ..sizing import HOUR
from .bank import Bank, Point

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
_LEAST = 1e-6  # of the capacity an hour: smaller currents need not be so exact
_CHORD = 5e-4  # of the largest current: what a chord may change at the end of a step, more where points crowd
_AT_POINT = 1e-9  # of the capacity
_LONGEST = 1e7  # s
_MOST_STEPS = 2000


class TooUnlike(ArithmeticError):
    """Branches whose currents take more steps to follow than a question may cost."""


class Held(NamedTuple):
    """A cell (its number among all cells) held at a voltage."""

    cell: int
    voltage: float


Closure = float | Held
"""What closes the system: the total of the currents, or a cell held at a voltage."""


class Lines(NamedTuple):
    """The straight lines that a step goes by: of every branch's E, and of the U of the cell that is held."""

    closure: Closure
    offset: Floats
    slope: Floats
    held_offset: float = 0.0
    held_slope: float = 0.0


class Step(NamedTuple):
    """One step, from which any instant within it can be had again."""

    start: Point
    end: Point
    lines: Lines


def _solved(
    bank: Bank, lines: Lines, B: Floats, D: Floats, q: Floats, w: Floats, a: float, b: Floats | float
) -> tuple[Floats, float]:
    """Currents and board voltage where V = B + D·i, and where q and w are a·i and b·i short of their end."""
    if not isinstance(lines.closure, Held):
        V = (lines.closure + float(np.sum(B / D))) / float(np.sum(1.0 / D))
    else:
        c, end_voltage = lines.closure
        p = int(bank.owner[c])
        R0, R1 = float(bank.cell_ohmic[c]), float(bank.cell_polarisation[c])
        room = end_voltage - lines.held_offset - lines.held_slope * float(q[p]) - R1 * float(w[p])
        rise = float(b[p]) if isinstance(b, np.ndarray) else b
        V = float(B[p] + D[p] * room / (R0 + lines.held_slope * a + R1 * rise))
    return (V - B) / D, V


def _currents(bank: Bank, lines: Lines, q: Floats, w: Floats) -> tuple[Floats, float]:
    B = lines.offset + lines.slope * q + bank.polarisation * w
    return _solved(bank, lines, B, bank.ohmic, q, w, 0.0, 0.0)


def _stepped(bank: Bank, lines: Lines, start: Point, h: float) -> tuple[Point, Floats]:
    """The point after a time h along the lines, and the estimate of its error in each current."""
    a = _G * h
    ratio = a / bank.tau
    b = ratio / (1.0 + ratio)
    D = bank.ohmic + lines.slope * a + bank.polarisation * b
    dq, dw = np.empty((5, bank.size)), np.empty((5, bank.size))
    q, w, i, V = start.charges, start.slow, start.currents, start.voltage
    for j, row in enumerate(_A):
        q, w = start.charges, start.slow
        for k, weight in enumerate(row):
            q = q + (h * weight) * dq[k]
            w = w + (h * weight) * dw[k]
        w = w / (1.0 + ratio)
        i, V = _solved(bank, lines, lines.offset + lines.slope * q + bank.polarisation * w, D, q, w, a, b)
        q, w = q + a * i, w + b * i
        dq[j], dw[j] = i, (i - w) / bank.tau
    # Filtered by the matrix of the stages, or fast branches long at rest would keep the steps short.
    q_off, w_off = h * (_E @ dq), h * (_E @ dw) / (1.0 + ratio)
    still = Held(lines.closure.cell, 0.0) if isinstance(lines.closure, Held) else 0.0
    alone = lines._replace(closure=still, held_offset=0.0)
    off, V_off = _solved(bank, alone, lines.slope * q_off + bank.polarisation * w_off, D, q_off, w_off, a, b)
    # Branches alike share their error, which then is in the voltage alone.
    common = abs(V_off) * float(np.mean(1.0 / D))
    return Point(start.time + h, q, w, i, V), np.maximum(np.abs(off), common)


def within(bank: Bank, step: Step, h: float) -> Point:
    """The point a time h into a step."""
    return _stepped(bank, step.lines, step.start, h)[0]


def at_times(bank: Bank, steps: tuple[Step, ...], times: Floats) -> list[Point]:
    """The board at some times, those after the last step as at its end."""
    ends = np.array([step.end.time for step in steps])
    found = []
    for time in times:
        step = steps[min(int(np.searchsorted(ends, time)), len(ends) - 1)]
        found.append(within(bank, step, min(float(time), step.end.time) - step.start.time))
    return found


def _changes(bank: Bank, lines: Lines, point: Point) -> Floats:
    """How fast each current changes at a point, A/s."""
    i = point.currents
    w = (i - point.slow) / bank.tau
    drift = lines.slope * i + bank.polarisation * w
    if isinstance(lines.closure, Held):
        c = lines.closure.cell
        p = int(bank.owner[c])
        change = -(lines.held_slope * i[p] + bank.cell_polarisation[c] * w[p]) / bank.cell_ohmic[c]
        rise = float(drift[p] + bank.ohmic[p] * change)
    else:
        rise = float(np.sum(drift / bank.ohmic) / np.sum(1.0 / bank.ohmic))
    return np.asarray((rise - drift) / bank.ohmic)


def largest(bank: Bank, steps: tuple[Step, ...]) -> Floats:
    """The largest current into each branch; also where it peaks inside a step."""
    most = steps[0].start.currents
    for step in steps:
        start, end = step.start, step.end
        most = np.maximum(np.maximum(most, start.currents), end.currents)
        h = end.time - start.time
        before, after = h * _changes(bank, step.lines, start), h * _changes(bank, step.lines, end)
        for p in np.flatnonzero((before > 0.0) & (after < 0.0)):
            peak = _peak(float(start.currents[p]), float(end.currents[p]), before[p], after[p])
            most[p] = max(most[p], peak)
    return most


class Walk:
    """The board from rest on, step by step, under a closure that may be changed between steps."""

    def __init__(self, bank: Bank, closure: Closure) -> None:
        self.bank, self.closure = bank, closure
        zero = np.zeros(bank.size)
        self.at = np.array([_segment(table[0], 0.0) for table in bank.tables])
        self.steps: list[Step] = []
        self.width = 0.0
        self.point = Point(0.0, zero, zero, zero, 0.0)
        self._bind()
        self.least = _LEAST * bank.capacities / HOUR

    def _bind(self) -> None:
        """The lines of the segments that the branches stand on, and the currents by them."""
        offset, slope, low, high = self.bank.segments
        place = self.bank.first_segment + self.at
        self.low, self.high = low[place], high[place]
        held = self._held_line() if isinstance(self.closure, Held) else (0.0, 0.0)
        self.lines = Lines(self.closure, offset[place], slope[place], *held)
        i, V = _currents(self.bank, self.lines, self.point.charges, self.point.slow)
        self.point = self.point._replace(currents=i, voltage=V)

    def _held_line(self) -> tuple[float, float]:
        """Offset and slope, against its branch's charge, of U of the cell that is held; its points count as well."""
        assert isinstance(self.closure, Held)
        bank, c = self.bank, self.closure.cell
        p, Q, z0 = int(bank.owner[c]), float(bank.cell_capacities[c]), float(bank.start_states[c])
        q, i = float(self.point.charges[p]), float(self.point.currents[p])
        ahead = z0 + q / Q + (2.0 * _AT_POINT if i > 0.0 else -2.0 * _AT_POINT)
        k = max(_segment(bank.states, ahead), 0)
        if k + 1 >= len(bank.states):
            return float(bank.voltages[-1]), 0.0
        slope = float(bank.slopes[k]) / Q
        self.low[p] = max(self.low[p], (bank.states[k] - z0) * Q)
        self.high[p] = min(self.high[p], (bank.states[k + 1] - z0) * Q)
        return float(bank.voltages[k]) - slope * float(bank.states[k] - z0) * Q, slope

    def hold(self, closure: Closure) -> None:
        """Another closure from here on."""
        self.closure = closure
        self.width = 0.0
        self._bind()

    def _first_width(self) -> float:
        fastest = float(np.min(self.bank.tau))
        if (steepest := float(np.max(self.lines.slope / self.bank.ohmic))) > 0.0:
            fastest = min(fastest, 1.0 / steepest)
        return 0.02 * fastest

    def advance(self) -> Step:
        """One more step."""
        self._face()
        start = self.point
        h = self.width or self._first_width()
        while True:
            end, error = _stepped(self.bank, self.lines, start, h)
            allowed = _TOLERANCE * float(np.max(np.abs(end.currents))) + self.least
            factor = 0.9 * float(np.max(error / allowed) + 1e-300) ** -0.25
            if factor >= 0.9:
                break
            h *= max(factor, 0.2)
        self.width = min(h * min(factor, 5.0), _LONGEST)
        lines = self.lines
        if self.bank.many_points:
            end, lines = self._along_chords(end, h)
        else:
            end = self._landed(end, h)
        return self._taken(Step(start, end, lines))

    def _face(self) -> None:
        """A branch at a point of its curve stands on the segment that its current leads into."""
        q, i = self.point.charges, self.point.currents
        room = _AT_POINT * self.bank.capacities
        leaving = ((q >= self.high - room) & (i > 0.0)) | ((q <= self.low + room) & (i < 0.0))
        if not np.any(leaving):
            return
        for p in np.flatnonzero(leaving):
            ahead = float(q[p] + (2.0 * room[p] if i[p] > 0.0 else -2.0 * room[p]))
            self.at[p] = _segment(self.bank.tables[p][0], ahead)
        self._bind()

    def _beyond(self, end: Point) -> NDArray[np.intp]:
        """The branches that left their segment."""
        over = np.maximum(end.charges - self.high, self.low - end.charges) - _AT_POINT * self.bank.capacities
        return np.flatnonzero(over > 0.0)

    def _landed(self, end: Point, h: float) -> Point:
        """The step cut where the first branch comes to a point of its curve."""
        start = self.point
        for _ in range(8):
            beyond = self._beyond(end)
            if not len(beyond):
                break
            part = 1.0
            for p in beyond:
                bound = self.high[p] if end.charges[p] > self.high[p] else self.low[p]
                part = min(part, _met(start, end, h, int(p), float(bound)))
            h *= part
            end = _stepped(self.bank, self.lines, start, h)[0]
        return end

    def _along_chords(self, end: Point, h: float) -> tuple[Point, Lines]:
        """The step over points of curves, along chords, shortened until they hardly differ from the tangents."""
        bank, start = self.bank, self.point
        while len(beyond := self._beyond(end)):
            offset, slope = self.lines.offset.copy(), self.lines.slope.copy()
            for p in beyond:
                ends = np.array([start.charges[p], end.charges[p]])
                first, last = np.interp(ends, *bank.tables[p])
                slope[p] = (last - first) / (ends[1] - ends[0])
                offset[p] = first - slope[p] * ends[0]
            lines = self.lines._replace(offset=offset, slope=slope)
            if isinstance(self.closure, Held) and (p := int(bank.owner[self.closure.cell])) in beyond:
                c = self.closure.cell
                ends = np.array([start.charges[p], end.charges[p]])
                first, last = np.interp(
                    bank.start_states[c] + ends / bank.cell_capacities[c], bank.states, bank.voltages
                )
                held = float((last - first) / (ends[1] - ends[0]))
                lines = lines._replace(held_offset=float(first - held * ends[0]), held_slope=held)
            other = _stepped(bank, lines, start, h)[0]
            apart = float(np.max(np.abs(other.currents - end.currents)))
            if apart <= _CHORD * bank.crowding * float(np.max(np.abs(other.currents))) + float(np.max(self.least)):
                self._rebase(other)
                return other, lines
            h *= 0.4
            self.width = h
            end = _stepped(bank, self.lines, start, h)[0]
        return end, self.lines

    def _rebase(self, end: Point) -> None:
        for p in self._beyond(end):
            self.at[p] = _segment(self.bank.tables[p][0], float(end.charges[p]))

    def _taken(self, step: Step) -> Step:
        self.steps.append(step)
        if len(self.steps) > _MOST_STEPS:
            raise TooUnlike("packs too unlike to be followed to rest")
        self.point = step.end
        if self.bank.many_points or isinstance(self.closure, Held):
            self._bind()
        return step

    def cut(self, h: float) -> Step:
        """The last step cut short to a time h."""
        step = self.steps.pop()
        end = within(self.bank, step, h)
        # A step that landed lies in one segment, which its middle tells; one along a chord may not.
        inside = end.charges if self.bank.many_points else 0.5 * (step.start.charges + end.charges)
        self.at = np.array([_segment(table[0], float(q)) for table, q in zip(self.bank.tables, inside, strict=True)])
        self.width = 0.0
        return self._taken(Step(step.start, end, step.lines))


def _segment(points: Floats, value: float) -> int:
    return int(np.searchsorted(points, value, side="right")) - 1


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

"""Packs in parallel (`bank`) followed from rest, step by step.

By the backward differentiation formula of second order with steps of any width [1]. With the step h, the last one h/ω:

    y_n = [(1 + ω)²·y_(n−1) − ω²·y_(n−2) + (1 + ω)·h·y'_n]/(1 + 2ω)    (1)

so that charge and slow part of every strand follow from its current at the end of the step alone, E_p with them, and
each strand is one line in that current, V = B_p + D_p·i_p. The board's voltage is the one unknown they share, and a
step costs as much as there are strands. A step knows no points of the curves: where a curve bends, the estimate of the
error makes it short. It measures currents, since those are asked for: the charges and slow parts of (1) less those of
an explicit step (Adams and Bashforth), turned into currents by the lines, which is how errors of fast parts long at
rest do not count.

[1] Hairer, Nørsett, Wanner, Solving Ordinary Differential Equations I, 2nd ed., Springer 1993, section III.5.
**Published**.
"""

from collections.abc import Callable, Sequence
from math import inf

import numpy as np
from numpy.typing import NDArray

from ..roots import root
from ..sizing import HOUR
from .bank import Bank, Points
from .strands import FEW, Rule, ceilings, strands

Floats = NDArray[np.float64]

TOLERANCE = 8e-6
"""Of the highest rate at the time: what a step may err in any branch's rate."""
_LEAST = 1e-8  # of the capacity an hour, or of a limit: smaller currents need not be so exact
_FAR = 5.0  # times as much may a step err while all currents are a fifth of their limits or less
_WIDER = 2.0  # than the last step, at most; above 1 + √2 the formula is not stable
_FIRST = 0.01  # of the fastest time, for a step without one before it
_MOST_STEPS = 20000
CROWD = 1.25
_COARSEST = 4e-3  # beyond it a strand may be led far up a steep piece unseen
_FARTHEST = 0.02  # of a capacity, about from point to point of a curve: so that no bend is stepped over unseen
_GROWN = 1.5  # what the highest rate may have grown in a step, to be a measure
_MANY_STEPS, _USUAL = 300, 2e-4


def tolerance_of(bank: Bank, tolerance: float, crowd: float = CROWD) -> float:
    """What a step may err, more where many strands err each by itself: of two, `tolerance`."""
    return float(min(tolerance * max(0.5 * len(bank.alike), 1.0) ** crowd, _COARSEST))


class TooUnlike(ArithmeticError):
    """Branches whose currents take more steps to follow than a question may cost."""


class Walk:
    """The board from rest on, under a total, and under an end voltage of its cells.

    With `limits`, A for each strand, the total is held against them: then a step may err by `tolerance` of them, and
    by more while no current is near one.
    """

    def __init__(
        self,
        bank: Bank,
        total: float,
        end_voltage: float = inf,
        tolerance: float = TOLERANCE,
        limits: Floats | None = None,
    ) -> None:
        self.bank, self.most, self.end_voltage, self.tolerance = bank, total, end_voltage, tolerance
        self.limited = limits is not None
        measure = bank.strand_capacities / HOUR if limits is None else limits
        self._pace = float(np.max(measure / bank.strand_capacities))
        self.strands = strands(bank, measure)
        # Beyond so many steps exactness gives way to an answer in time: the bends of very many flat curves crowd.
        crowd = 1.0 + 0.05 * min(len(bank.alike), FEW)
        self._many_steps = 2.0 * _MANY_STEPS if self.limited else _MANY_STEPS * (_USUAL / tolerance) ** 0.5 / crowd
        self.time = self.width = 0.0
        self.last = inf
        self.safe = inf if end_voltage == inf else -inf
        """Until when no cell need be looked at."""
        self.held = False
        """Whether a cell is at the end voltage, rather than the currents at their total."""
        self._highest = self._reached = inf
        self.times: list[float] = []
        self.voltages: list[float] = []
        self.states: list[tuple[Sequence[float] | Floats, ...]] = []
        self.held = self.attempt(0.0) >= 0.0
        if self.held:
            self.attempt(0.0)
        self.accept(0.0)

    def attempt(self, h: float) -> float:
        """A step, not yet taken; by how much the total by itself would lift the board above what its cells allow, V."""
        ratio = h / self.last
        c = 1.0 / (1.0 + 2.0 * ratio)
        rule = Rule(
            (1.0 + ratio) * h * c, (1.0 + ratio) ** 2 * c, ratio * ratio * c, h * (1.0 + 0.5 * ratio), 0.5 * h * ratio
        )  # Eq. (1), and the explicit step
        G, GB = self.strands.prepare(rule)
        V = (self.most + GB) / G
        over = -inf
        if self.held or self.time + h > self.safe:
            ceiling = self.strands.ceiling(self.end_voltage)
            over = V - ceiling
            if self.held and over > 0.0:
                V = ceiling
        off = self.strands.settle(V)
        # What all err alike lifts the board where the total binds, and is felt where a cell holds it.
        self._after = V, 0.0 if self.held else off / G, ratio
        return over

    def error(self) -> float:
        """Of the step last tried, over what it may be."""
        _, rise, ratio = self._after
        own = 2.0 * (1.0 + ratio) ** 2
        part = own / ((1.0 + 2.0 * ratio) * (3.0 + 2.0 * ratio) + own)  # of the difference of both steps
        worst, highest = self.strands.error(rise)
        # Currents that shoot up are no measure of what they may err.
        self._reached, highest = highest, min(highest, self._highest)
        crowded = max(len(self.times) / self._many_steps, 1.0)
        tolerance = self.tolerance * crowded * crowded
        if self.limited and not self.held:
            highest = max(highest, min(1.0 / highest, _FAR)) if highest else _FAR
        return part * worst / (tolerance * highest + _LEAST)

    def advance(self) -> tuple[float, float]:
        """Try a step as wide as may be; its width and what `attempt` says of it. `accept` takes it."""
        h = self.width or _FIRST * self.strands.fastest()
        if self._highest < inf:
            h = min(h, _FARTHEST / ((self._highest + _LEAST) * self._pace))
        while True:
            over = self.attempt(h)
            error = self.error()
            if error <= 1.0:
                self.width = h * min(_WIDER, 0.85 * (error + 1e-9) ** (-1.0 / 3.0))
                return h, over
            h *= max(0.3, 0.85 * error ** (-1.0 / 3.0))

    def landed(self, value: Callable[[float], float], h: float) -> float:
        """The step cut to where a value of what `attempt` says, below nought by its end, meets it; its width."""
        self.safe = self.time
        if value(self.attempt(0.0)) <= 0.0:
            return 0.0
        h = root(lambda h: value(self.attempt(h)), 0.0, h, tolerance=1e-11)
        self.attempt(h)
        return h

    def accept(self, h: float) -> None:
        self.time += h
        if h > 0.0:
            self.last = h
        self._highest = _GROWN * self._reached
        self.strands.accept()
        self.times.append(self.time)
        self.voltages.append(self._after[0])
        self.states.append(self.strands.snapshot())
        if not self.held and self.time >= self.safe:
            self.safe = self.time + self.strands.safe(self.end_voltage)
        if len(self.times) > _MOST_STEPS:
            raise TooUnlike("packs too unlike to be followed to rest")

    def hold(self) -> None:
        """From here on the end voltage binds: the currents turn, and the next step has none before it."""
        self.held = True
        self.last, self.width = inf, 0.0

    def course(self) -> "Course":
        """All that was passed through."""
        q, w, i = np.array(self.states).transpose(1, 0, 2)
        return Course(self.bank, self.most, self.end_voltage, np.array(self.times), q, w, i, np.array(self.voltages))


class Course:
    """The board through its steps: rows are times, columns strands."""

    def __init__(
        self,
        bank: Bank,
        most: float,
        end_voltage: float,
        times: Floats,
        charges: Floats,
        slow: Floats,
        currents: Floats,
        voltages: Floats,
    ) -> None:
        self.bank, self.most, self.end_voltage = bank, most, end_voltage
        self.times, self.charges, self.slow, self.currents, self.voltages = times, charges, slow, currents, voltages

    def at(self, times: Floats) -> Points:
        """The board at some times, those after the last step as at its end.

        Charge and slow part by the cubic through both ends of a step, the currents as they flow there.
        """
        asked = np.clip(times, 0.0, self.times[-1])
        i, q, w, V = self._currents(asked)
        of = self.bank.of
        return Points(asked, q[:, of], w[:, of], i[:, of], V)

    def _currents(self, asked: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """i, q and w of the strands, and V."""
        bank, tau = self.bank, self.bank.strand_tau
        k = np.clip(np.searchsorted(self.times, asked, side="right") - 1, 0, max(len(self.times) - 2, 0))
        n = np.minimum(k + 1, len(self.times) - 1)
        h = (self.times[n] - self.times[k])[:, None]
        x = (asked - self.times[k])[:, None] / np.where(h > 0.0, h, 1.0)
        y = 1.0 - x
        rest, rise = y * y * (1.0 + 2.0 * x), h * x * y * y
        there, fall = x * x * (3.0 - 2.0 * x), h * x * x * y

        def cubic(value: Floats, change: Floats) -> Floats:
            return rest * value[k] + rise * change[k] + there * value[n] - fall * change[n]

        q = cubic(self.charges, self.currents)
        w = cubic(self.slow, (self.currents - self.slow) / tau)
        offset, slope = bank.lines(q)
        B, R = offset + slope * q + bank.strand_polarisation * w, bank.strand_ohmic
        g = bank.alike / R
        V = (self.most + np.sum(g * B, axis=1)) / np.sum(g)
        if self.end_voltage < inf:
            D = np.broadcast_to(R, B.shape)
            V = np.minimum(V, ceilings(bank, bank.top_cells, 0.0, self.end_voltage, q, q, w, 0.0, B, D).min(axis=1))
        return (V[:, None] - B) / R, q, w, V

    def largest(self) -> Floats:
        """The largest current into each branch, also where it peaks inside a step.

        Curves that bend make corners, so that a peak is looked for where the tangents at both ends of a step meet.
        """
        most = self.currents.max(axis=0)
        if len(self.times) > 1:
            i, dw = self.currents, (self.currents - self.slow) / self.bank.strand_tau
            slope = self.bank.lines(self.charges)[1]
            drift = slope * i + self.bank.strand_polarisation * dw
            h = np.diff(self.times)[:, None]
            # How fast the board's voltage changes: as the total tells, or where a cell holds it, by the step.
            g = self.bank.alike / self.bank.strand_ohmic
            dV = np.sum(g * drift, axis=1) / np.sum(g)
            free = np.abs(i @ self.bank.alike - self.most) <= 1e-9 * np.abs(i).max(axis=1) * self.bank.size
            by_step = np.diff(self.voltages) / h[:, 0]
            start, end = (np.where(free[part], dV[part], by_step)[:, None] for part in (np.s_[:-1], np.s_[1:]))
            R = self.bank.strand_ohmic
            i0, i1, up, down = i[:-1], i[1:], (start - drift[:-1]) / R, (end - drift[1:]) / R
            # Over steps longer than a strand's own time its currents are steady, and tangents tell nothing.
            peaked = (up > 0.0) & (down < 0.0) & (h * np.maximum(slope[:-1], slope[1:]) < R)
            x = np.where(peaked, (i1 - i0 - down * h) / np.where(peaked, up - down, 1.0), 0.0)
            peak = np.where(peaked & (x > 0.0) & (x < h), i0 + up * x, -inf)
            at = peak.argmax(axis=0)
            strands = np.flatnonzero(peak[at, np.arange(len(at))] > most)
            if len(strands):
                there = self._currents(self.times[at[strands]] + x[at[strands], strands])[0]
                most[strands] = np.maximum(most[strands], there[np.arange(len(strands)), strands])
        return np.asarray(most[self.bank.of])

"""The strands of a board through one step (`bank_walk`, Eqs. 1 and 2): a few in plain floats, many in arrays.

Both have the same parts under the same names, and take the same steps but for rounding; which is faster, their number
tells. q is the charge of a strand, w its slow part, `hat` what is known of them at the end of a step before its
current is, `told` what the explicit step says. Over 300 lines: the two are read side by side.
"""

from bisect import bisect_right
from math import inf
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .bank import Bank, Cells

Floats = NDArray[np.float64]

_AHEAD = 0.02  # of a cell's capacity, by which is looked ahead of its state
_GROWTH = 1.5  # by which a current may have grown by then
FEW = 24
"""Strands up to which plain floats are faster."""


class Rule(NamedTuple):
    """What a step of width h weighs the last two states and their changes with."""

    a: float
    now: float
    before: float
    ahead: float
    behind: float


_Fixed = tuple[float, float, float, float, float, float, list[float], list[float], list[float]]
"""R, R1, 1/τ, how many are alike, 1/capacity, 1/measure; points of the line, offsets and slopes of its pieces."""
_State = tuple[float, float, float, float]


def strands(bank: Bank, measure: Floats) -> "Few | Many":
    """`measure`: of each strand, the current by which its errors are measured, A."""
    return Few(bank, measure) if len(bank.alike) <= FEW else Many(bank, measure)


class Few:
    """Strands in plain floats. A state is (q, w, i, w')."""

    def __init__(self, bank: Bank, measure: Floats) -> None:
        ends = [*bank.first[1:].tolist(), len(bank.knots)]
        self.fixed: list[_Fixed] = []
        self.at: list[int] = []
        self.tops: list[list[tuple[float, float, float, float]]] = []
        figures = (
            bank.strand_ohmic,
            bank.strand_polarisation,
            1.0 / bank.strand_tau,
            bank.alike.astype(float),
            1.0 / bank.strand_capacities,
            1.0 / measure,
        )
        rows = zip(*(figure.tolist() for figure in figures), strict=True)
        knots, offsets, slopes = bank.knots.tolist(), bank.offsets.tolist(), bank.pieces.tolist()
        for strand, (row, start, end) in enumerate(zip(rows, bank.first.tolist(), ends, strict=True)):
            pieces = slice(start + strand, end + strand + 1)
            mine = [inf, *knots[start:end], inf]  # a sentinel at each end, so that no place is looked for beyond
            mine[0] = -inf
            R, R1, rate, weight, per, part = row
            self.fixed.append((R, R1, rate, weight, per, part, mine, offsets[pieces], slopes[pieces]))
            self.at.append(bisect_right(mine, 0.0) - 1)
            self.tops.append([])
        for owner, *cell in zip(*(field.tolist() for field in bank.top_cells), strict=True):
            self.tops[owner].append((cell[0], cell[1], cell[2], cell[3]))
        self.rooms: list[float] = bank.strand_room.tolist()
        self.curve = (bank.states[1:-1].tolist(), bank.states.tolist(), bank.voltages.tolist(), bank.slopes.tolist())
        self.state: list[_State] = [(0.0, 0.0, 0.0, 0.0)] * len(self.fixed)
        self.past = self.state

    def prepare(self, rule: Rule) -> tuple[float, float]:
        """Σ weight/D and Σ weight·B/D of V = B + D·i at the end of the step."""
        a, now, before, ahead, behind = rule
        G = GB = 0.0
        work = []
        for (q, w, i, dw), (q1, w1, i1, dw1), (R, R1, rate, weight, _, _, knots, offsets, slopes), at in zip(
            self.state, self.past, self.fixed, self.at, strict=True
        ):
            ratio = a * rate
            part = 1.0 / (1.0 + ratio)
            b = ratio * part
            q_hat = now * q - before * q1
            w_hat = (now * w - before * w1) * part
            q_told = q + ahead * i - behind * i1
            while q_told >= knots[at + 1]:
                at += 1
            while q_told < knots[at]:
                at -= 1
            slope = slopes[at]
            D = R + slope * a + R1 * b
            B = offsets[at] + slope * q_hat + R1 * w_hat
            g = weight / D
            G += g
            GB += g * B
            work.append((q_hat, w_hat, q_told, w + ahead * dw - behind * dw1, b, slope, D, B, g, at))
        self.a, self.work = a, work
        return G, GB

    def ceiling(self, end_voltage: float) -> float:
        """The least voltage of the board with which a cell stands at the end voltage, at the end of the step."""
        least, a = inf, self.a
        inner, states, voltages, slopes = self.curve
        for cells, (q_hat, w_hat, q_told, _, b, _, D, B, _, _) in zip(self.tops, self.work, strict=True):
            for z0, Q, R0, R1 in cells:
                at = bisect_right(inner, z0 + q_told / Q)
                slope = slopes[at] / Q
                U = voltages[at] + slopes[at] * (z0 - states[at]) + slope * q_hat
                V = B + D * (end_voltage - U - R1 * w_hat) / (R0 + slope * a + R1 * b)
                least = min(least, V)
        return least

    def settle(self, V: float) -> float:
        """The strands at the end of the step at a voltage of the board; the weighted sum of what they may be off."""
        a, total = self.a, 0.0
        self.next: list[_State] = []
        self.off: list[float] = []
        for work, fixed in zip(self.work, self.fixed, strict=True):
            q_hat, w_hat, q_told, w_told, b, slope, D, B, g, at = work
            _, R1, rate, _, _, _, knots, offsets, slopes = fixed
            i = (V - B) / D
            q = q_hat + a * i
            w = w_hat + b * i
            self.next.append((q, w, i, (i - w) * rate))
            off = slope * (q - q_told) + R1 * (w - w_told)
            if not knots[at] <= q < knots[at + 1]:
                # It ends on another piece of its line than was foreseen.
                there = bisect_right(knots, q) - 1
                off += offsets[there] - offsets[at] + (slopes[there] - slope) * q
            self.off.append(off)
            total += g * off
        return total

    def error(self, rise: float) -> tuple[float, float]:
        """The largest error of a current and the highest current at the end of the step, by their measure."""
        worst = highest = 0.0
        for off, work, (_, _, i, _), fixed in zip(self.off, self.work, self.next, self.fixed, strict=True):
            error = abs(rise - off) / work[6] * fixed[5]
            if error > worst:
                worst = error
            part = abs(i) * fixed[5]
            if part > highest:
                highest = part
        return worst, highest

    def accept(self) -> None:
        self.past, self.state = self.state, self.next
        self.at = [work[9] for work in self.work]

    def total(self) -> float:
        """The current at the end of the step."""
        return sum([fixed[3] * state[2] for fixed, state in zip(self.fixed, self.next, strict=True)])

    def filled(self) -> float:
        """The charge above that which fills the first cell of any, as part of the capacity, at the end of the step."""
        return max(
            [(q - room) * fixed[4] for (q, _, _, _), room, fixed in zip(self.next, self.rooms, self.fixed, strict=True)]
        )

    def quiet(self) -> float:
        """The highest of the rates that flow or may yet, 1/s."""
        return max(
            [
                max(abs(i), abs(w) * R1 / (R + R1)) * per
                for (_, w, i, _), (R, R1, _, _, per, *_) in zip(self.state, self.fixed, strict=True)
            ]
        )

    def fastest(self) -> float:
        """Shortest time in which anything changes."""
        return min(
            [
                min(1.0 / rate, R / slopes[at] if slopes[at] > 0.0 else inf)
                for (R, _, rate, _, _, _, _, _, slopes), at in zip(self.fixed, self.at, strict=True)
            ]
        )

    def safe(self, end_voltage: float) -> float:
        """A time for which no cell can come to the end voltage."""
        inner, states, voltages, slopes = self.curve
        time = inf
        for cells, (q, w, i, _), (_, _, _, _, per, *_) in zip(self.tops, self.state, self.fixed, strict=True):
            for z0, Q, R0, R1 in cells:
                z = z0 + q / Q + _AHEAD
                at = bisect_right(inner, z)
                U = voltages[at] + slopes[at] * (z - states[at])
                if U + _GROWTH * (R0 * abs(i) + R1 * max(abs(w), abs(i))) >= end_voltage:
                    return 0.0
            if i:
                time = min(time, _AHEAD / (_GROWTH * abs(i) * per))
        return time

    def snapshot(self) -> tuple[list[float], list[float], list[float]]:
        q, w, i, _ = zip(*self.state, strict=True)
        return list(q), list(w), list(i)


class Many:
    """Strands in arrays: columns the strands, rows q and w."""

    def __init__(self, bank: Bank, measure: Floats) -> None:
        self.bank, self.tops = bank, bank.top_cells
        self.R, rate = bank.strand_ohmic, 1.0 / bank.strand_tau
        self.weight, self.per = bank.alike.astype(float), 1.0 / bank.strand_capacities
        self.part = 1.0 / measure
        self.rooms = bank.strand_room
        self.rate = rate
        # One figure where all slow parts are equally fast, as they mostly are.
        self.fade: Floats | float = float(rate[0]) if (rate == rate[0]).all() else rate
        self.elastance = np.stack([np.zeros_like(rate), bank.strand_polarisation])
        self.R1 = bank.strand_polarisation
        # q and w, those one step before, i and w', those one step before.
        self.history = np.zeros((8, len(rate)))
        self.rule = np.zeros((4, 8))
        self.state, self.current = self.history[:2], self.history[4]

    def prepare(self, rule: Rule) -> tuple[float, float]:
        a, now, before, ahead, behind = rule
        weigh = self.rule
        weigh[0, 0] = weigh[1, 1] = now
        weigh[0, 2] = weigh[1, 3] = -before
        weigh[2, 0] = weigh[3, 1] = 1.0
        weigh[2, 4] = weigh[3, 5] = ahead
        weigh[2, 6] = weigh[3, 7] = -behind
        known = weigh @ self.history
        self.hat, self.told = hat, told = known[:2], known[2:]
        fade = a * self.fade
        part = 1.0 / (1.0 + fade)
        hat[1] *= part
        self.share = share = fade * part
        self.taken = np.array([[a], [share]]) if isinstance(share, float) else np.stack([np.full(len(share), a), share])
        self.offset, self.elastance[0] = self.bank.lines(told[0])
        D = np.add.reduce(self.elastance * self.taken)
        D += self.R
        B = np.add.reduce(self.elastance * hat)
        B += self.offset
        self.B, self.D, self.a = B, D, a
        self.g = g = self.weight / D
        return float(np.add.reduce(g)), float(g.dot(B))

    def ceiling(self, end_voltage: float) -> float:
        q, w = self.hat
        return float(
            ceilings(self.bank, self.tops, self.a, end_voltage, self.told[0], q, w, self.share, self.B, self.D).min()
        )

    def settle(self, V: float) -> float:
        self.next_current = i = (V - self.B) / self.D
        self.next = new = self.taken * i
        new += self.hat
        off = np.add.reduce(self.elastance * (new - self.told))
        # Some end on another piece of their line than was foreseen.
        offset, slope = self.bank.lines(new[0])
        off += offset - self.offset + (slope - self.elastance[0]) * new[0]
        self.off = off
        return float(self.g.dot(off))

    def error(self, rise: float) -> tuple[float, float]:
        error = np.abs(rise - self.off)
        error *= self.part
        error /= self.D
        return float(np.maximum.reduce(error)), float(np.maximum.reduce(np.abs(self.next_current * self.part)))

    def accept(self) -> None:
        old, i = self.history, self.next_current
        self.history = new = np.empty_like(old)
        new[2:4], new[6:] = old[:2], old[4:6]
        new[:2], new[4] = self.next, i
        np.multiply(i - self.next[1], self.rate, out=new[5])
        self.state, self.current = new[:2], i

    def total(self) -> float:
        return float(self.weight.dot(self.next_current))

    def filled(self) -> float:
        return float(np.maximum.reduce((self.next[0] - self.rooms) * self.per))

    def quiet(self) -> float:
        slow = np.abs(self.state[1]) * self.R1 / (self.R + self.R1)
        return float((np.maximum(np.abs(self.current), slow) * self.per).max())

    def fastest(self) -> float:
        steepest = max(float((self.bank.lines(self.state[0])[1] / self.R).max()), float(self.rate.max()))
        return 1.0 / steepest

    def safe(self, end_voltage: float) -> float:
        own, cells, i = self.tops.owner, self.tops, np.abs(self.current)
        slow = np.maximum(np.abs(self.state[1]), i)
        states = cells.states + self.state[0][own] / cells.capacities + _AHEAD
        U = np.interp(states, self.bank.states, self.bank.voltages)
        if np.any(U + _GROWTH * (cells.ohmic * i[own] + cells.polarisation * slow[own]) >= end_voltage):
            return 0.0
        highest = float((i * self.per).max())
        return _AHEAD / (_GROWTH * highest) if highest > 0.0 else inf

    def snapshot(self) -> tuple[Floats, Floats, Floats]:
        return self.state[0], self.state[1], self.current


def ceilings(
    bank: Bank,
    cells: Cells,
    a: float,
    end_voltage: float,
    told: Floats,
    q: Floats,
    w: Floats,
    share: Floats | float,
    B: Floats,
    D: Floats,
) -> Floats:
    """Of each cell, the voltage of the board with which it stands at the end voltage; the last axis is the cells'."""
    own = cells.owner
    at = bank.states[1:-1].searchsorted(cells.states + told.take(own, axis=-1) / cells.capacities, side="right")
    rise = bank.slopes.take(at)
    slope = rise / cells.capacities
    U = bank.voltages.take(at) + rise * (cells.states - bank.states.take(at)) + slope * q.take(own, axis=-1)
    taken = share.take(own) if isinstance(share, np.ndarray) else share
    i = (end_voltage - U - cells.polarisation * w.take(own, axis=-1)) / (
        cells.ohmic + slope * a + cells.polarisation * taken
    )
    V: Floats = B.take(own, axis=-1) + D.take(own, axis=-1) * i
    return V

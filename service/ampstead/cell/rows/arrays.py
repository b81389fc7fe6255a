"""What the solvers of many packs share: rows of input, curves followed by index, and one vectorised root finder."""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..kinds.curves import Curve

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]

_SAME_POINT = 1e-12
_CLOSE = 1e-14
_NARROW = 4e-16
_SMALLEST = 1e-200
_NO_RATE = -1e-200
_MOST_STEPS = 200


def rows(
    per_cell: Sequence[ArrayLike], per_pack: Sequence[ArrayLike]
) -> tuple[tuple[Floats, ...], tuple[Floats, ...], bool]:
    """Inputs as arrays of shape (N, cells) and (N,), and whether the cells were equal: shape (N,), one column.

    Per cell: states 0…1, capacities, R0, R1; the first per pack is τ. Checked as `series.SeriesPack` does.
    """
    cells = [np.asarray(value, dtype=float) for value in per_cell]
    packs = [np.atleast_1d(np.asarray(value, dtype=float)) for value in per_pack]
    flat = all(value.ndim < 2 for value in cells)
    columns = np.broadcast_arrays(
        *(value[:, None] if value.ndim == 1 else value for value in cells), *(value[:, None] for value in packs)
    )
    z, Q, R0, R1 = columns[:4]
    N = len(z)
    if not (np.all(z >= 0.0) and np.all(z <= 1.0)):
        raise ValueError("states of charge lie in 0…1")
    if not (np.all(Q > 0.0) and np.all(R0 > 0.0) and np.all(R1 >= 0.0)):
        raise ValueError("capacities and ohmic resistances must be above 0, polarisation resistances 0 or above")
    if not (np.all(packs[0] > 0.0) and np.all(np.isfinite(packs[0]))):
        raise ValueError("the time constant must be above 0")
    return (z, Q, R0, R1), tuple(np.broadcast_to(value, (N,)) for value in packs), flat


class Curves:
    """The open-circuit voltage of many cells, shape (N, cells), against the charge that has passed.

    `series.Track` in arrays: point 0 of a cell is where it starts, the others are the points of the table ahead of it,
    up (`sign` 1) or down (−1); after the last, U is held. Cells of infinite capacity have point 0 alone.
    """

    def __init__(self, curve: Curve, z: Floats, Q: Floats, sign: int) -> None:
        self.z, self.sign, self.unknown = z, sign, np.isinf(Q)
        self.Q = np.where(self.unknown, 1.0, Q)
        self.table, self.volts = curve.states, curve.voltages
        self.slopes = np.diff(self.volts) / np.diff(self.table)
        self.areas = np.array(curve.areas)
        self.most = len(self.table)
        within = np.clip(np.searchsorted(self.table, z, side="right") - 1, 0, self.most - 2)
        self.start = self.volts[within] + self.slopes[within] * (z - self.table[within])
        self.next = np.searchsorted(self.table, z + sign * _SAME_POINT, side="right") - (sign < 0)
        """Where in the table point 1 is."""
        ahead = self.most - self.next if sign > 0 else self.next + 1
        self.last = np.where(self.unknown, 0, np.maximum(ahead, 0))
        end = self.charge(self.last)
        self.end = np.where(self.unknown & (z > 0.0), np.inf, end)
        """The charge at which a cell is full or empty."""

    def _at(self, point: Rows, on: Rows | slice = slice(None)) -> Rows:
        return np.asarray(np.clip(self.next[on] + self.sign * (point - 1), 0, self.most - 1))

    def charge(self, point: Rows, on: Rows | slice = slice(None)) -> Floats:
        """The charge at which a point is reached."""
        ahead = self.sign * (self.table[self._at(point, on)] - self.z[on]) * self.Q[on]
        return np.asarray(np.where(point > 0, ahead, 0.0))

    def at(self, point: Rows, on: Rows | slice = slice(None)) -> tuple[Floats, Floats, Floats]:
        """Charge, U, and slope of U after a point."""
        index = self._at(point, on)
        first = point == 0
        charge = np.where(first, 0.0, self.sign * (self.table[index] - self.z[on]) * self.Q[on])
        U = np.where(first, self.start[on], self.volts[index])
        segment = np.clip(self.next[on] + self.sign * point - (self.sign > 0), 0, self.most - 2)
        slope = np.where(point < self.last[on], self.sign * self.slopes[segment] / self.Q[on], 0.0)
        return charge, U, slope

    def segment(self, q: Floats) -> Rows:
        """The point at or before a charge, for all cells."""
        return self._bisected(lambda point: self.charge(point) <= q)

    def _bisected(self, before: Callable[[Rows], NDArray[np.bool_]]) -> Rows:
        """The last point that is `before`, which all points up to some are and none beyond; 0 where none is."""
        low = np.zeros(self.z.shape, dtype=np.intp)
        high = self.last + 1
        while np.any(high - low > 1):
            middle = (low + high) // 2
            yes = before(middle) & (middle > low)
            low = np.where(yes, middle, low)
            high = np.where(yes, high, np.maximum(middle, low + 1))
        return low

    def here(self, on: Rows, point: Rows, q: Floats) -> tuple[Floats, Floats, Floats]:
        """U and its slope at a charge, and how much is left to the next point of any cell; −inf after the last."""
        charge, U, slope = self.at(point, on)
        U = U + slope * (q[:, None] - charge)
        left = np.where(point < self.last[on], self.charge(point + 1, on) - q[:, None], -np.inf)
        return U, slope, left.min(axis=1)

    def passed(self, on: Rows, point: Rows, q: Floats) -> Rows:
        """`point` moved on to where the charge has come."""
        while True:
            over = (point < self.last[on]) & (q[:, None] * (1.0 + 1e-15) >= self.charge(point + 1, on))
            if not np.any(over):
                return point
            point = point + over

    def voltage(self, q: Floats) -> Floats:
        charge, U, slope = self.at(self.segment(q))
        return np.asarray(U + slope * (q - charge))

    def area(self, q: Floats) -> Floats:
        """∫ U dq from 0 for each cell, shape (N, cells), at a charge per row.

        Within the first and the last piece by themselves and between points of the table by difference, so that a
        small charge keeps its digits.
        """
        q = np.broadcast_to(q[:, None], self.z.shape)
        point = self.segment(q)
        charge, U, slope = self.at(point)
        last = (U + 0.5 * slope * (q - charge)) * (q - charge)
        one = np.ones_like(point)
        to_first, U1, _ = self.at(np.minimum(one, self.last))
        first = 0.5 * (self.start + U1) * to_first
        between = self.sign * (self.areas[self._at(point)] - self.areas[self._at(one)]) * self.Q
        return np.asarray(last + np.where(point > 0, first + between, 0.0))

    def meeting(self, i: Floats, R0: Floats, R1: Floats, tau: Floats, V: Floats) -> Floats:
        """When each cell first stands at the voltage V of its row at constant current from rest; inf if it never does.

        With i ≥ 0 and `sign` s, s·(U(i·t) − V) + i·(R0 + R1·(1 − exp(−t/τ))) rises, and is met at 0. Cells that are
        there or beyond at the start: 0.
        """
        i, tau, V = i[:, None], tau[:, None], V[:, None]
        flows = i > 0.0
        safe = np.where(flows, i, 1.0)

        def short(point: Rows) -> Floats:
            """How far a cell is from V at a point."""
            charge, U, _ = self.at(point)
            return np.asarray(self.sign * (V - U) - i * (R0 - R1 * np.expm1(-charge / safe / tau)))

        point = self._bisected(lambda point: short(point) > 0.0)
        charge, _, slope = self.at(point)
        begun = charge / safe
        last = point >= self.last
        longest = np.where(last, 0.0, self.charge(np.minimum(point + 1, self.last)) - charge) / safe
        slow = i * R1 * np.exp(-begun / tau)
        gap = short(point)
        dt = first_fall(gap, -self.sign * slope * i, -slow / tau, np.zeros(()), -1.0 / tau, longest)
        dt = np.where(last, np.inf, np.minimum(dt, longest))
        # A cell whose state stays put is met by its slow part alone, or not at all.
        settles = self.unknown & flows & (gap < slow) & (gap > 0.0)
        within = np.where(settles, gap / np.where(settles, slow, 1.0), 0.0)
        dt = np.where(settles, -tau * np.log1p(-within), dt)
        return np.asarray(np.where(gap <= 0.0, 0.0, np.where(flows, begun + dt, np.inf)))


def grown(rate: Floats, t: Floats) -> Floats:
    """∫ exp(rate·t) dt from 0."""
    nil = rate == 0.0
    return np.asarray(np.where(nil, t, np.expm1(rate * t) / np.where(nil, 1.0, rate)))


def first_fall(a: Floats, d1: Floats, d2: Floats, rate1: Floats, rate2: Floats, longest: Floats) -> Floats:
    """First t in 0…longest with a + d1·∫ exp(λ1·t) dt + d2·∫ exp(λ2·t) dt ≤ 0, λ1 and λ2 apart; inf if there is none.

    Its slope d1·exp(λ1·t) + d2·exp(λ2·t) changes sign once at most, so that two values tell where to look.
    """
    a, d1, d2, rate1, rate2, longest = np.broadcast_arrays(a, d1, d2, rate1, rate2, longest)
    # A rate of nil has its integral, t, as the limit of a very small one.
    rate1, rate2 = (np.where(rate == 0.0, _NO_RATE, rate) for rate in (rate1, rate2))
    whole1, whole2 = d1 / rate1, d2 / rate2
    turns = d1 * d2 < 0.0
    middle = longest
    if turns.any():
        logs = [np.log(np.maximum(np.abs(d), _SMALLEST)) for d in (d1, d2)]
        turn = (logs[1] - logs[0]) / (rate1 - rate2)
        turns &= (turn > 0.0) & (turn < longest)
        middle = np.where(turns, turn, longest)
    by_middle = a + whole1 * np.expm1(rate1 * middle) + whole2 * np.expm1(rate2 * middle) <= 0.0
    later = turns & ~by_middle
    if later.any():
        later &= a + whole1 * np.expm1(rate1 * longest) + whole2 * np.expm1(rate2 * longest) <= 0.0
    times = np.where(a <= 0.0, 0.0, np.inf)
    found = (a > 0.0) & (by_middle | later)
    if found.any():
        low, high = np.where(later, middle, 0.0), np.where(by_middle, middle, longest)
        times[found] = _zeros(*(value[found] for value in (a, d1, d2, rate1, rate2, low, high)))
    return times


def _zeros(a: Floats, d1: Floats, d2: Floats, rate1: Floats, rate2: Floats, low: Floats, high: Floats) -> Floats:
    """The zeros of falling functions, above 0 at `low` and not at `high`: Halley's steps, halving where they fail."""
    times, t = high.copy(), low
    whole1, whole2 = d1 / rate1, d2 / rate2
    on: Rows = np.arange(len(t))
    for _ in range(_MOST_STEPS):
        x1, x2 = np.expm1(rate1 * t), np.expm1(rate2 * t)
        fallen1, fallen2, g1, g2 = whole1 * x1, whole2 * x2, d1 + d1 * x1, d2 + d2 * x2
        f, slope, bend = a + fallen1 + fallen2, g1 + g2, g1 * rate1 + g2 * rate2
        rounding = _NARROW * (a + np.abs(fallen1) + np.abs(fallen2))
        above = f > 0.0
        low, high = np.where(above, t, low), np.where(above, high, t)
        # Where the bend is too strong for Halley's step, Newton's; where that leaves the bracket, its middle.
        steep, bent = slope * slope, f * bend
        usable = np.abs(bent) < steep
        steeper = np.minimum(slope, -_SMALLEST)
        below = 2.0 * steep - bent
        change = np.where(usable, 2.0 * f * slope / np.where(usable, below, 1.0), f / steeper)
        there = (np.abs(f) <= rounding) | (np.abs(change) <= _CLOSE * t)
        ahead = t - change
        ahead = np.where((ahead > low) & (ahead < high), ahead, 0.5 * (low + high))
        t = np.where(there, t, ahead)
        times[on] = t
        close = there | (high - low <= _NARROW * high)
        if close.any():
            keep = ~close
            if not keep.any():
                return times
            on = on[keep]
            a, d1, d2, rate1, rate2, whole1, whole2, low, high, t = (
                value[keep] for value in (a, d1, d2, rate1, rate2, whole1, whole2, low, high, t)
            )
    return times

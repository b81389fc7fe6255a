"""Many packs under loads of constant power: `constant_power` in arrays, one row per pack, each with its own steps."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from ..one.constant_power import (
    ITERATIONS,
    LEAST_STEP,
    RADAU,
    RADAU_ERROR,
    RADAU_NODES,
    RADAU_ONCE,
    RADAU_RATE,
    RADAU_TWICE,
    ROUNDING,
    SETTLED,
    TOLERANCE,
)
from .arrays import Curves, Floats, Rows

_A, _ONCE, _TWICE, _E, _C = (np.array(rule) for rule in (RADAU, RADAU_ONCE, RADAU_TWICE, RADAU_ERROR, RADAU_NODES))
_MOST_HALVINGS = 200


class Powers:
    """N runs at power P > 0 behind a lead: time, q, w, i and ∫ i² dt of each row, all of shape (N,).

    `count` says how many equal cells a column stands for. `impossible` rows have stopped: the pack cannot give this
    power any more.
    """

    def __init__(
        self, curves: Curves, R0: Floats, R1: Floats, tau: Floats, power: Floats, lead: Floats, count: Floats
    ) -> None:
        self.curves, self.R0, self.R1, self.count = curves, R0, R1, count
        self.tau, self.power = tau, power
        self.resistance = (count * R0).sum(axis=1) + lead
        self.slow_resistance = (count * R1).sum(axis=1)
        self.end = curves.end.min(axis=1)
        N = len(tau)
        self.time, self.charge, self.slow, self.squares = (np.zeros(N) for _ in range(4))
        self.at = np.zeros(curves.z.shape, dtype=np.intp)
        self.E, self.slope, self.width = np.zeros(N), np.zeros(N), np.zeros(N)
        i, possible = self._current(np.arange(N), (count * curves.start).sum(axis=1))
        self.current, self.impossible = np.where(possible, i, 0.0), ~possible
        self.step = 0.5 * tau * self.current

    def _current(self, on: Rows, E: Floats) -> tuple[Floats, NDArray[np.bool_]]:
        """Eq. (1) of `constant_power`, and where it has a solution. E has shape (…, n)."""
        R, P = self.resistance[on], self.power[on]
        square = E * E - 4.0 * R * P
        possible = (E > 0.0) & (square >= 0.0)
        below = np.where(possible, E + np.sqrt(np.where(possible, square, 0.0)), 1.0)
        return 2.0 * P / below, possible

    def voltages(self, on: Rows, q: Floats, w: Floats, i: Floats) -> Floats:
        """Terminal voltage of each cell, shape (n, cells), within the last step."""
        charge, U, slope = self.curves.at(self.at[on], on)
        U = U + slope * (q[:, None] - charge)
        return np.asarray(U - self.R0[on] * i[:, None] - self.R1[on] * w[:, None])

    def advance(self, on: Rows, until: Floats) -> tuple[Rows, tuple[Floats, Floats, Floats, Floats, Floats]]:
        """One step of some rows, not past a time: the rows that could, and where that leads. `take` takes it over."""
        curves, q, i = self.curves, self.charge[on], self.current[on]
        at = self.at[on]
        while True:
            next_charge = curves.charge(at + 1, on)
            over = (at < curves.last[on]) & (q[:, None] >= next_charge * (1.0 - ROUNDING))
            if not over.any():
                break
            at = at + over
        self.at[on] = at
        charge, U, slope = curves.at(at, on)
        count = self.count[on]
        self.E[on] = (count * (U + slope * (q[:, None] - charge))).sum(axis=1)
        self.slope[on] = (count * slope).sum(axis=1)
        knot = np.where(at < curves.last[on], next_charge, np.inf).min(axis=1)
        room = np.minimum(knot - q, (until - self.time[on]) * i)
        h = np.minimum(self.step[on], room)
        least = LEAST_STEP * self.tau[on] * i
        results = np.zeros((5, len(on)))
        open_, failed = np.arange(len(on)), np.zeros(len(on), dtype=bool)
        while len(open_):
            trial, error, good = self._radau(on[open_], h[open_])
            factor = np.where(good, 0.9 * (TOLERANCE * trial[3] / np.maximum(error, 1e-30)) ** 0.25, 0.0)
            taken = factor >= 0.9
            done = open_[taken]
            results[:, done] = trial[:, taken]
            wider = h[done] * np.minimum(factor[taken], 5.0)
            full = h[done] == room[done]
            self.step[on[done]] = np.where(full, np.maximum(self.step[on[done]], wider), wider)
            stuck = ~taken & (h[open_] <= least[open_])
            failed[open_[stuck]] = True
            again = ~taken & ~stuck
            open_ = open_[again]
            h[open_] *= np.maximum(factor[again], 0.3)
        self.impossible[on[failed]] = True
        at_knot = results[1] >= knot * (1.0 - ROUNDING)
        results[1] = np.where(at_knot, knot, results[1])
        good = ~failed
        time, charge, slow, current, squares = results[:, good]
        return on[good], (time, charge, slow, current, squares)

    def take(self, on: Rows, states: tuple[Floats, Floats, Floats, Floats, Floats]) -> None:
        self.time[on], self.charge[on], self.slow[on], self.current[on], self.squares[on] = states

    def part(self, on: Rows, h: Floats) -> Floats:
        """Time, q, w, i and ∫ i² dt, `h` more charge after the start of the step that `advance` last proposed."""
        return self._radau(on, h)[0]

    def _radau(self, on: Rows, h: Floats) -> tuple[Floats, Floats, NDArray[np.bool_]]:
        """`constant_power.ConstantPower._radau`, and which rows it worked out for."""
        E, slope, slow, R = self.E[on], self.slope[on], self.slow_resistance[on], self.resistance[on]
        tau, w, i = self.tau[on], self.slow[on], self.current[on]
        emf = E + slope * (_C[:, None] * h) - slow * w
        u = E - slow * w - 2.0 * R * i  # the root in Eq. (1)
        apart = u > 1e-9 * E
        J = np.where(apart, slow * w / np.where(apart, u, 1.0) - 1.0, -1.0) / (tau * i)
        z = h * J
        inverse = 1.0 / (1.0 + z * (-0.6 + z * (0.15 - z / 60.0)))
        stage, values = np.zeros((3, len(on))), np.broadcast_to(i, (3, len(on))).copy()
        good, settled = np.ones(len(on), dtype=bool), np.zeros(len(on), dtype=bool)
        change = np.full(len(on), np.inf)
        for _ in range(ITERATIONS):
            flows, possible = self._current(on, emf - slow * stage)
            good &= settled | possible.all(axis=0)
            moving = good & ~settled
            if not moving.any():
                break
            values = np.where(moving, flows, values)
            f = h * (1.0 - (w + stage) / values) / tau
            r = _A @ f - stage
            correction = inverse * (r + z * (_ONCE @ r + z * (_TWICE @ r)))
            stage = np.where(moving, stage + correction, stage)
            last, change = change, np.where(moving, np.abs(correction).max(axis=0), change)
            settled |= moving & (change <= SETTLED * i)
            good &= settled | (change <= last)
        good &= settled
        error = np.abs((h * (1.0 - w / i) / tau + _E @ stage) / (RADAU_RATE - z))
        current, possible = self._current(on, emf[2] - slow * stage[2])
        good &= possible
        after = np.stack(
            [
                self.time[on] + h * (_A[2] @ (1.0 / values)),
                self.charge[on] + h,
                w + stage[2],
                current,
                self.squares[on] + h * (_A[2] @ values),
            ]
        )
        return after, error, good


def crossings(function: Callable[[Rows, Floats], Floats], high: Floats) -> Floats:
    """Where falling functions, one per row, cross 0 between 0 and `high`: `roots.root` in arrays."""
    rows = np.arange(len(high))
    a, b = np.zeros(len(high)), high.copy()
    fa, fb = function(rows, a), function(rows, b)
    c, fc = a.copy(), fa.copy()
    best = np.where(fa <= 0.0, a, b)
    open_ = rows[(fa > 0.0) & (fb < 0.0)]
    part = np.full(len(high), 0.5)
    for _ in range(_MOST_HALVINGS):
        if not len(open_):
            break
        x = a[open_] + part[open_] * (b[open_] - a[open_])
        fx = function(open_, x)
        same = (fx > 0.0) == (fa[open_] > 0.0)
        c[open_] = np.where(same, a[open_], b[open_])
        fc[open_] = np.where(same, fa[open_], fb[open_])
        b[open_] = np.where(same, b[open_], a[open_])
        fb[open_] = np.where(same, fb[open_], fa[open_])
        a[open_], fa[open_] = x, fx
        A, B, C, FA, FB, FC = (value[open_] for value in (a, b, c, fa, fb, fc))
        best[open_] = np.where(np.abs(FA) < np.abs(FB), A, B)
        width = np.abs(B - A)
        margin = 1e-13 * np.abs(best[open_]) + 1e-20 * high[open_]
        going = (FA != 0.0) & (width > 2.0 * margin)
        open_, A, B, C, FA, FB, FC = (value[going] for value in (open_, A, B, C, FA, FB, FC))
        xi, phi = (A - B) / (C - B), (FA - FB) / (FC - FB)
        safe = (phi * phi < xi) & ((1.0 - phi) ** 2 < 1.0 - xi) & (FC != FA)
        FCA = np.where(safe, FC - FA, 1.0)
        ahead = FA / (FB - FA) * FC / (FB - FC) + (C - A) / (B - A) * FA / FCA * FB / (FC - FB)
        limit = np.minimum(0.5, (margin / width)[going])
        part[open_] = np.clip(np.where(safe, ahead, 0.5), limit, 1.0 - limit)
    return best

"""The temperature of one cell along a run: in closed form at constant current, by Radau IIA at constant power.

    m·cp·T' = i·(R0·i + R1·w) − i·T·dU/dT − hA·(T − Tamb)    (1)

which is Eq. (1) of `heat` from any start: w as in `series`, current out of the cell positive, kelvin, seconds,
kg, W/K. The whole loss i·(U − V) counts as heat when it appears; dU/dT below zero heats on discharge.
"""

from collections.abc import Sequence
from math import ceil, exp, expm1, inf, isfinite, isinf, log1p

from ..roots import root
from .constant_power import RADAU as _A
from .constant_power import RADAU_NODES as _C
from .constant_power import ConstantPower, State

_MOST_PARTS = 40
_MOST_GROWING = 1500
_SAME_RATE = 1e-12

Path = list[tuple[float, list[tuple[float, float]]]]
"""Pieces of a step at constant power: charge, and (i, w) at the three points of the rule."""


def _grown(rate: float, t: float) -> float:
    """∫ exp(rate·t) dt from 0."""
    x = rate * t
    return expm1(x) / rate if abs(x) > 1e-14 else t


class Body:
    """`cells` alike in all that decides their temperature. `heat_capacity` m·cp in J/K, `cooling` hA in W/K."""

    __slots__ = ("ambient", "cells", "cooling", "entropy", "heat_capacity", "ohmic", "polarisation", "start")

    def __init__(
        self,
        ohmic: float,
        polarisation: float,
        heat_capacity: float,
        start: float,
        ambient: float,
        cooling: float,
        entropy: float,
    ) -> None:
        self.ohmic, self.polarisation, self.heat_capacity = ohmic, polarisation, heat_capacity
        self.start, self.ambient, self.cooling, self.entropy = start, ambient, cooling, entropy
        self.cells: list[int] = []

    def slope(self, T: float, i: float, w: float) -> float:
        """T' of Eq. (1), K/s."""
        heat = i * (self.ohmic * i + self.polarisation * w) - i * T * self.entropy
        return (heat - self.cooling * (T - self.ambient)) / self.heat_capacity

    def fade(self, i: float) -> float:
        """λ = (hA + i·dU/dT)/(m·cp): how fast a difference of temperature dies away at constant current, 1/s."""
        return (self.cooling + i * self.entropy) / self.heat_capacity

    def after(self, T0: float, i: float, w0: float, tau: float, t: float) -> float:
        """T after `t` at a constant current, begun with the slow part at w0.

            T = T0 + T'(with w = i)·∫ exp(−λ·t) dt + i·R1·(w0 − i)/(m·cp)·∫ exp(−λ·(t − u) − u/τ) du    (2)

        both from 0 to t, since w = i + (w0 − i)·exp(−t/τ). Infinite where heat is beyond all bounds, as of a cell of
        next to no mass.
        """
        rate, fall = self.fade(i), 1.0 / tau
        lag = i * self.polarisation * (w0 - i) / self.heat_capacity
        try:
            # The slower decay stands before the integral, which therefore overflows with the whole alone.
            both = exp(-min(rate, fall) * t) * _grown(-abs(rate - fall), t)
            T = T0 + self.slope(T0, i, i) * _grown(-rate, t) + lag * both
        except OverflowError:
            return inf
        return T if isfinite(T) else inf

    def meeting(self, T0: float, i: float, w0: float, tau: float, limit: float, latest: float) -> float | None:
        """When Eq. (2) first comes to `limit`, within `latest`.

        T' changes sign once at most: T'·exp(λ·t) = T'(0) − (h/τ)·∫ exp((λ − 1/τ)·u) du, h = i·R1·(w0 − i)/(m·cp).
        """
        if isinf(limit):
            return None
        if limit <= T0:
            return 0.0
        ends = [latest]
        begun = self.slope(T0, i, w0)
        lag = i * self.polarisation * (w0 - i) / self.heat_capacity
        if begun * lag > 0.0:
            reach, gap = begun * tau / lag, self.fade(i) - 1.0 / tau
            turn = reach
            if abs(gap) * reach > _SAME_RATE:
                turn = log1p(gap * reach) / gap if gap * reach > -1.0 else inf
            if turn < latest:
                ends = [turn, latest]
        start = 0.0
        for end in ends:
            if self.after(T0, i, w0, tau, end) >= limit:
                return root(lambda t: self.after(T0, i, w0, tau, t) - limit, start, end)
            start = end
        return None

    def along(self, T: float, path: Path) -> float:
        """T at the end of a step at constant power, from the currents met in it.

        In the charge q, Eq. (1) is T' = g − κ·T with κ = (dU/dT + hA/i)/(m·cp): linear, so that the three stages of
        the rule are one small linear system.
        """
        for h, points in path:
            g, row = [], []
            for i, w in points:
                shed = self.cooling / i
                row.append(h * (self.entropy + shed) / self.heat_capacity)
                heat = self.ohmic * i + self.polarisation * w + shed * (self.ambient - T) - self.entropy * T
                g.append(h * heat / self.heat_capacity)
            T += _solved(row, [sum(_A[k][j] * g[j] for j in range(3)) for k in range(3)])
        return T if isfinite(T) else inf


def _solved(k: Sequence[float], b: Sequence[float]) -> float:
    """The last unknown of (1 + A·diag(k))·x = b, by Cramer's rule."""
    a = [[_A[row][column] * k[column] + (1.0 if row == column else 0.0) for column in range(3)] for row in range(3)]

    def determinant(last: Sequence[float]) -> float:
        return (
            last[0] * (a[1][0] * a[2][1] - a[1][1] * a[2][0])
            - last[1] * (a[0][0] * a[2][1] - a[0][1] * a[2][0])
            + last[2] * (a[0][0] * a[1][1] - a[0][1] * a[1][0])
        )

    return determinant(b) / determinant([a[0][2], a[1][2], a[2][2]])


def path(run: ConstantPower, before: State, after: State, bodies: Sequence[Body]) -> Path:
    """The currents within the last step of a run, as finely as the fastest body asks.

    w by the cubic through both ends with w' = (1 − w/i)/τ in q; i from it by Eq. (1) of `constant_power`.
    """
    _, E, slope = run.origin
    h = after.charge - before.charge
    fades = [body.fade(after.current) * (after.time - before.time) for body in bodies]
    # What dies away many times over needs no more parts; what grows does, up to where it is beyond all bounds.
    parts = max(1, min(_MOST_PARTS, ceil(2.0 * max(fades))), min(_MOST_GROWING, ceil(-2.0 * min(fades))))
    w0, w1 = before.slow, after.slow
    d0 = h * (1.0 - w0 / before.current) / run.tau
    d1 = h * (1.0 - w1 / after.current) / run.tau

    def point(x: float) -> tuple[float, float]:
        w = w0 + x * (d0 + x * (3.0 * (w1 - w0) - 2.0 * d0 - d1 + x * (2.0 * (w0 - w1) + d0 + d1)))
        return run.current(E + slope * x * h - run.slow_resistance * w), w

    return [(h / parts, [point((part + c) / parts) for c in _C]) for part in range(parts)]

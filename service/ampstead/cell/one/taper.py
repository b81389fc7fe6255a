"""Constant voltage on one straight piece of the open-circuit curve, in closed form.

While one cell is held at its end voltage, with its U = a + b·q straight, its current and slow part obey

    R0·i + R1·w + a + b·q = V_end                        (1)
    i' = −p·i + k·w,   p = (b + R1/τ)/R0,  k = R1/(τ·R0)   (2), the derivative of (1)
    w' = (i − w)/τ                                        (3)

a linear pair whose two rates λ1 ≥ λ2 are real and not above 0, since (p − 1/τ)² + 4k/τ ≥ 0 and b ≥ 0. So

    i(t) = c1·exp(λ1·t) + c2·exp(λ2·t),   w(t) = g1·exp(λ1·t) + g2·exp(λ2·t)    (4)

and every integral of them is closed too. Current into the cell is positive; SI units.
"""

from collections.abc import Sequence
from math import expm1, log, sqrt

import numpy as np
from numpy.typing import NDArray

from ..roots import root

Floats = NDArray[np.float64]

_LEAST_SPLIT = 1e-5
_CLOSE = 1e-13  # of the time that is left to find, as in `root`
_MOST_STEPS = 12


def _integral(rate: float, t: float) -> float:
    """∫ exp(rate·t) dt from 0."""
    return expm1(rate * t) / rate if rate else t


class Taper:
    """The pair (i, w) from i0, w0 on; `t` counts from there."""

    __slots__ = ("c1", "c2", "g1", "g2", "rate1", "rate2")

    def __init__(self, i0: float, w0: float, b: float, R0: float, R1: float, tau: float) -> None:
        k = R1 / (tau * R0)
        p = b / R0 + k
        mean = -0.5 * (p + 1.0 / tau)
        split = sqrt((p - 1.0 / tau) ** 2 + 4.0 * k / tau)
        if split > -_LEAST_SPLIT * mean:
            self.rate2 = mean - 0.5 * split
            self.rate1 = b / (tau * R0) / self.rate2  # λ1·λ2 = b/(τ·R0): no difference of near-equal numbers
        else:
            # Equal rates have no two-exponential form; this much apart it is off by about 1e-10.
            split = -_LEAST_SPLIT * mean
            self.rate1, self.rate2 = mean + 0.5 * split, mean - 0.5 * split
        split = self.rate1 - self.rate2
        self.c1 = (-p * i0 + k * w0 - self.rate2 * i0) / split
        self.c2 = i0 - self.c1
        self.g1 = ((i0 - w0) / tau - self.rate2 * w0) / split
        self.g2 = w0 - self.g1

    def after(self, t: float) -> tuple[float, float, float]:
        """∫ i dt, w and i."""
        x1, x2 = expm1(self.rate1 * t), expm1(self.rate2 * t)
        c1, c2 = self.c1, self.c2
        return (
            c1 * (x1 / self.rate1 if self.rate1 else t) + c2 * x2 / self.rate2,
            self.g1 * (x1 + 1.0) + self.g2 * (x2 + 1.0),
            c1 * (x1 + 1.0) + c2 * (x2 + 1.0),
        )

    def squares(self, t: float) -> tuple[float, float]:
        """∫ i² dt and ∫ w·i dt."""
        first, both, second = (
            _integral(2.0 * self.rate1, t),
            _integral(self.rate1 + self.rate2, t),
            _integral(2.0 * self.rate2, t),
        )
        return (
            self.c1 * self.c1 * first + 2.0 * self.c1 * self.c2 * both + self.c2 * self.c2 * second,
            self.c1 * self.g1 * first + (self.c1 * self.g2 + self.c2 * self.g1) * both + self.c2 * self.g2 * second,
        )

    def time_of(self, charge: float, longest: float) -> float:
        """When `charge` more has passed; at most `longest`."""
        met = self._first_fall(charge, -self.c1, -self.c2, longest)
        return longest if met is None else met

    def time_of_current(self, current: float, longest: float) -> float | None:
        """When the current first falls to `current`, within `longest`."""
        return self._first_fall(self.c1 + self.c2 - current, self.c1 * self.rate1, self.c2 * self.rate2, longest)

    def time_of_voltage(
        self, gap: float, slope: float, ohmic: float, polarisation: float, longest: float
    ) -> float | None:
        """When another cell, `gap` V below a limit now and on a `slope` of V/C, first meets that limit."""
        return self._first_fall(
            gap,
            -(slope * self.c1 + (ohmic * self.c1 + polarisation * self.g1) * self.rate1),
            -(slope * self.c2 + (ohmic * self.c2 + polarisation * self.g2) * self.rate2),
            longest,
        )

    def _first_fall(self, start: float, d1: float, d2: float, longest: float) -> float | None:
        """First time that a value falls from `start` to 0, its derivative being d1·exp(λ1·t) + d2·exp(λ2·t)."""
        if start <= 0.0:
            return 0.0
        rate1, rate2 = self.rate1, self.rate2
        low, high = 0.0, longest
        if d1 * d2 < 0.0:
            turn = log(-d2 / d1) / (rate1 - rate2)  # the only place where the derivative changes sign
            if 0.0 < turn < longest:
                if start + self._grown(d1, d2, turn) <= 0.0:
                    high = turn
                else:
                    low = turn
        t = self._slow_fall(start, d1, d2)
        if not low < t < high:
            if high == longest and start + self._grown(d1, d2, longest) > 0.0:
                return None
            t = low
        # Newton's steps by the derivative; in the bracket where they leave it.
        for _ in range(_MOST_STEPS):
            x1, x2 = expm1(rate1 * t), expm1(rate2 * t)
            slope1, slope2 = d1 * (x1 + 1.0), d2 * (x2 + 1.0)
            slope = slope1 + slope2
            if slope >= 0.0:
                break
            step = (start + d1 * (x1 / rate1 if rate1 else t) + d2 * x2 / rate2) / slope
            t -= step
            if not low < t < high:
                break
            # What a step leaves is its square times half the curvature.
            if abs(slope1 * rate1 + slope2 * rate2) * step * step <= -_CLOSE * t * slope:
                return t
        if high == longest and start + self._grown(d1, d2, longest) > 0.0:
            return None
        return root(lambda t: start + self._grown(d1, d2, t), low, high)

    def _slow_fall(self, start: float, d1: float, d2: float) -> float:
        """The same where the fast part has died out by then, which it mostly has; 0 where it never falls so far."""
        rate = self.rate1
        if d1 * rate == 0.0:
            return 0.0
        left = 1.0 - (start - d2 / self.rate2) * rate / d1
        return log(left) / rate if left > 0.0 else 0.0

    def _grown(self, d1: float, d2: float, t: float) -> float:
        """∫ d1·exp(λ1·t) + d2·exp(λ2·t) dt from 0."""
        rate1, rate2 = self.rate1, self.rate2
        return d1 * (expm1(rate1 * t) / rate1 if rate1 else t) + d2 * expm1(rate2 * t) / rate2


def sampled(pieces: Sequence[tuple[float, float, Taper]], times: Floats) -> tuple[Floats, Floats, Floats]:
    """The charge that has passed, w and i at some times, by laws that hold one after the other.

    Each piece is the time and the charge at which its law begins; before the first, that one holds.
    """
    rows = [(t, q, law.c1, law.c2, law.g1, law.g2, law.rate1, law.rate2) for t, q, law in pieces]
    if len(rows) > 1:
        laws = np.array(rows).T
        rows = [tuple(laws[:, np.maximum(np.searchsorted(laws[0], times, side="right") - 1, 0)])]
    began, charge, c1, c2, g1, g2, rate1, rate2 = rows[0]
    t = times - began
    x1, x2 = np.expm1(rate1 * t), np.expm1(rate2 * t)
    level = rate1 == 0.0
    none = level is False or not np.any(level)
    grown = x1 / rate1 if none else np.where(level, t, x1 / np.where(level, 1.0, rate1))
    return charge + c1 * grown + c2 * x2 / rate2, g1 + g2 + g1 * x1 + g2 * x2, c1 + c2 + c1 * x1 + c2 * x2

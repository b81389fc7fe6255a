"""One bracketed root finder for everything that has no closed form."""

from collections.abc import Callable
from math import copysign

_INTERPOLATING = 60
_SMALLEST = 1e-20


def root(function: Callable[[float], float], low: float, high: float, *, tolerance: float = 1e-13) -> float:
    """The point between `low` and `high` where a function changes sign.

    Inverse quadratic interpolation where the last three points promise that it is safe, bisection
    elsewhere; after sixty interpolated steps only bisection, so that it ends for any function, also one
    with a jump [1].

    `tolerance` is relative to the root (for a root at 0, 1e-20 of the bracket). `function` needs no derivative,
    only opposite signs (or a zero) at the ends; equal signs are a ValueError.

    [1] Chandrupatla, Advances in Engineering Software 28 (1997) 145-149: the rule that chooses the step.
    **Published**.
    """
    a, b = low, high
    fa, fb = function(a), function(b)
    if fa == 0.0:
        return a
    if fb == 0.0:
        return b
    if not copysign(1.0, fa) * copysign(1.0, fb) < 0.0:
        raise ValueError(f"no change of sign between {low!r} ({fa!r}) and {high!r} ({fb!r})")
    part, steps, least_width = 0.5, 0, _SMALLEST * abs(high - low)
    while True:
        x = a + part * (b - a)
        fx = function(x)
        steps += 1
        if (fx > 0.0) == (fa > 0.0):
            c, fc = a, fa
        else:
            c, fc, b, fb = b, fb, a, fa
        a, fa = x, fx
        best, least = (a, fa) if abs(fa) < abs(fb) else (b, fb)
        width = abs(b - a)
        margin = tolerance * abs(best) + least_width
        if least == 0.0 or width <= 2.0 * margin or steps > 2000:
            return best
        part = 0.5
        if steps < _INTERPOLATING and fc != fb:
            xi = (a - b) / (c - b)
            phi = (fa - fb) / (fc - fb)
            if phi * phi < xi and (1.0 - phi) ** 2 < 1.0 - xi:
                part = fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)
            limit = min(0.5, margin / width)
            part = min(1.0 - limit, max(limit, part))

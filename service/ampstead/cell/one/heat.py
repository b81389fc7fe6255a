"""How warm a cell gets, and the current at which it gets too warm.

    m·cp·T' = i²·(R0 + R1·(1 − exp(−t/τ))) − i·T·dU/dT − hA·(T − Tamb)    (1)

Current out of the cell is positive; the first term is i·(U − V), the second the reversible heat at the
running temperature, the third goes to the surroundings. Kelvin, seconds, kg, W/K; dU/dT in V/K heats on
discharge where negative. Specific heat 1000 J/(kg·K): published averages of electrode stacks are 953
(Ai2020) and 1069 (Ecker2015). **Published**.
"""

from collections.abc import Callable
from math import inf
from typing import NotRequired, TypedDict, Unpack

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..roots import root

Floats = NDArray[np.float64]

SPECIFIC_HEAT = 1000.0
_BRIEFEST = 1e-9


def decay_integral(rate: Floats, time: Floats) -> Floats:
    """∫ exp(−rate·t) dt from 0 to `time`, at any sign of the rate and through 0."""
    x = rate * time
    small = np.abs(x) < 1e-8
    return np.asarray(time * np.where(small, 1.0 - 0.5 * x, -np.expm1(-x) / np.where(small, 1.0, x)))


def end_temperature(
    *,
    current: ArrayLike,
    time: ArrayLike,
    ohmic: ArrayLike,
    polarisation: ArrayLike,
    time_constant: ArrayLike,
    mass: ArrayLike,
    start: ArrayLike,
    ambient: ArrayLike,
    cooling: ArrayLike,
    entropy: ArrayLike,
    specific_heat: ArrayLike = SPECIFIC_HEAT,
    slow: ArrayLike = 0.0,
) -> Floats:
    """Temperature of a cell after `time` at a constant current, K; from rest, or from where `slow` w0 is left (A).

    Eq. (1) of this module is linear in T. With λ = (hA + i·dU/dT)/(m·cp) and G = i²·(R0 + R1) − i·T0·dU/dT
    − hA·(T0 − Tamb),

        T = T0 + (G·∫ exp(−λ·t) dt − i·(i − w0)·R1·∫ exp(−λ·(t − u))·exp(−u/τ) du)/(m·cp)    (2)

    both integrals from 0 to t; the second is exp(−min(λ, 1/τ)·t)·∫ exp(−|λ − 1/τ|·u) du. Resistances are
    held at what they are at the start: warming lowers them, and that stays as margin. `cooling` hA in W/K.
    """
    i, t, R0, R1, tau, m, T0, Tamb, hA, dU, cp, w0 = (
        np.asarray(argument, dtype=float)
        for argument in (
            current,
            time,
            ohmic,
            polarisation,
            time_constant,
            mass,
            start,
            ambient,
            cooling,
            entropy,
            specific_heat,
            slow,
        )
    )
    heat_capacity = m * cp
    rate = (hA + i * dU) / heat_capacity
    fade = 1.0 / np.maximum(tau, _BRIEFEST)
    G = i * i * (R0 + R1) - i * T0 * dU - hA * (T0 - Tamb)
    # Heat beyond all bounds, as of a cell of next to no mass, is warm without end rather than no number.
    with np.errstate(over="ignore", invalid="ignore"):
        both = np.exp(-np.minimum(rate, fade) * t) * decay_integral(np.abs(rate - fade), t)
        T = T0 + (G * decay_integral(rate, t) - i * (i - w0) * R1 * both) / heat_capacity  # Eq. (2)
    return np.where(np.isnan(T), np.inf, T)


class Cell(TypedDict):
    """One cell as `end_temperature` takes it, beside its load."""

    ohmic: float
    polarisation: float
    time_constant: float
    mass: float
    start: float
    ambient: float
    cooling: float
    entropy: float
    specific_heat: NotRequired[float]
    slow: NotRequired[float]


def heat_limited_current(*, charge: float, limit: float, **cell: Unpack[Cell]) -> float:
    """The constant current, A, that ends at the temperature `limit` once `charge` coulomb are drawn.

    With R1, cooling and reversible heat nil it is i = m·cp·(limit − T0)/(R0·charge). 0 where the cell is at
    the limit at the start, the surroundings that warm it are, or the reversible heat alone brings it there
    at any current.
    """
    if _too_warm(limit, cell):
        return 0.0
    guess = _room(limit, cell) / charge
    return _meeting(lambda i: float(end_temperature(current=i, time=charge / i, **cell)) - limit, guess)


def heat_limited_burst(*, time: float, limit: float, **cell: Unpack[Cell]) -> float:
    """The constant current, A, that ends at the temperature `limit` after `time` s; 0 as in `heat_limited_current`."""
    if _too_warm(limit, cell):
        return 0.0
    guess = (_room(limit, cell) / time) ** 0.5
    return _meeting(lambda i: float(end_temperature(current=i, time=time, **cell)) - limit, guess)


def _too_warm(limit: float, cell: Cell) -> bool:
    return cell["start"] >= limit or (cell["cooling"] > 0.0 and cell["ambient"] >= limit)


def _room(limit: float, cell: Cell) -> float:
    """Heat up to the limit over the whole resistance: m·cp·(limit − T0)/(R0 + R1), A²·s."""
    heat = cell["mass"] * cell.get("specific_heat", SPECIFIC_HEAT) * (limit - cell["start"])
    return heat / (cell["ohmic"] + cell["polarisation"])


def _meeting(over: Callable[[float], float], guess: float) -> float:
    """The current at which a temperature meets its limit. The guess: no cooling, all resistance at once."""
    low, high = 1e-9 * guess, guess
    if over(high) < 0.0:
        for _ in range(100):
            low, high = high, 2.0 * high
            if over(high) >= 0.0:
                break
        else:
            return inf
    elif over(low) >= 0.0:
        return 0.0
    return root(over, low, high)

"""A cell that warms as it gives current, its resistance falling with it: the balance of `heat` solved along a run.

    ρ   = exp(Ea/Rg·(1/T − 1/T0))                                                         (1)
    w'  = (ρ·i − w)/τ                                                                     (2)
    V   = U − ρ·R0·i − R1·w                                                               (3)
    m·cp·T' = i·(ρ·R0·i + R1·w) − i·T·dU/dT − hA·(T − Tamb)                               (4)

R0 and R1 are those at the temperature T0 at which the run began; the drop R1·w is what the RC pair itself holds, so it
lags behind a falling resistance by τ. Current out of the cell is positive; kelvin, seconds, kg, W/K.

Under one current the cells of a pack do not feel each other: two unknowns, w and T, for each kind of cell. Stepped by
Rodas3 (four stages, order 3, stiffly accurate) [1], since a strongly cooled cell is stiff.

[1] Sandu, Verwer, Blom, Spee, Carmichael, Potra, Atmospheric Environment 31 (1997) 3459-3472. **Published**.
"""

from math import exp, inf, isfinite
from typing import NamedTuple

COLDEST, WARMEST = 150.0, 50_000.0
"""Kelvin. Nobody's pack comes here: bounds that keep a runaway a number."""
W_TOLERANCE, V_TOLERANCE, T_TOLERANCE = 1e-5, 5e-6, 1e-3
"""Of a step, in the estimate of second order: of w over the current and in volts, of T in kelvin. The step itself is of
third order."""


class Load(NamedTuple):
    """A load as Eq. (2) and (4) see it: one current, or a cycle of currents in the mean.

    `mean` of i and `square` of i²; `slow` is what w comes to where ρ is 1. The mean of i·w is `own`·ρ, which the cycle
    itself brings about, plus `carried` times the w that it began with.
    """

    mean: float
    square: float
    slow: float
    own: float
    carried: float


def steady(i: float) -> Load:
    """The load of one current."""
    return Load(i, i * i, i, 0.0, i)


class Body:
    """`cells` alike in all that decides their temperature. `heat_capacity` m·cp in J/K, `cooling` hA in W/K.

    `activation` is Ea/Rg in kelvin; 0 holds the resistances at what they are.
    """

    __slots__ = ("activation", "ambient", "cells", "cooling", "entropy", "heat_capacity", "ohmic", "polarisation",
                 "slack", "start", "tau")  # fmt: skip

    def __init__(
        self,
        ohmic: float,
        polarisation: float,
        heat_capacity: float,
        start: float,
        ambient: float,
        cooling: float,
        entropy: float,
        activation: float,
        tau: float,
    ) -> None:
        self.ohmic, self.polarisation, self.heat_capacity = ohmic, polarisation, heat_capacity
        self.start, self.ambient, self.cooling, self.entropy = start, ambient, cooling, entropy
        self.activation, self.tau = activation, tau
        self.slack = V_TOLERANCE / polarisation if polarisation > 0.0 else inf
        self.cells: list[int] = []

    def ratio(self, T: float) -> float:
        """ρ of Eq. (1)."""
        if not self.activation:
            return 1.0
        return exp(self.activation * (1.0 / (T if T > COLDEST else COLDEST) - 1.0 / self.start))

    def heat(self, load: Load, w: float, ratio: float) -> float:
        """i·(U − V) in the mean, W: the first term of Eq. (4)."""
        own = ratio * (self.ohmic * load.square + self.polarisation * load.own)
        return own + self.polarisation * load.carried * w

    def rates(self, load: Load, w: float, T: float, ratio: float) -> tuple[float, float]:
        """w' and T' of Eq. (2) and (4)."""
        warming = self.heat(load, w, ratio) - load.mean * self.entropy * T - self.cooling * (T - self.ambient)
        return (ratio * load.slow - w) / self.tau, warming / self.heat_capacity

    def fade(self, mean: float) -> float:
        """λ = (hA + i·dU/dT)/(m·cp): how fast a difference of temperature dies away at one current, 1/s."""
        return (self.cooling + mean * self.entropy) / self.heat_capacity

    def step(self, load: Load, h: float, w: float, T: float, ratio: float) -> tuple[float, float, float]:
        """w and T after `h`, and the estimated error over the one allowed. `ratio` is that of T."""
        if T >= WARMEST:
            return ratio * load.slow + (w - ratio * load.slow) * exp(-h / self.tau), T, 0.0
        # The Jacobian of (2) and (4), with ∂ρ/∂T = −Ea/Rg·ρ/T².
        falls = -self.activation * ratio / (T * T)
        a = 2.0 / h + 1.0 / self.tau
        b = -falls * load.slow / self.tau
        c = -self.polarisation * load.carried / self.heat_capacity
        hot = falls * (self.ohmic * load.square + self.polarisation * load.own)
        d = 2.0 / h - hot / self.heat_capacity + self.fade(load.mean)
        if d <= 0.0:
            return w, T, inf
        part = 1.0 / (a * d - b * c)
        p, s = self.rates(load, w, T, ratio)
        w1, T1 = (d * p - b * s) * part, (a * s - c * p) * part
        p, s = p + 4.0 / h * w1, s + 4.0 / h * T1
        w2, T2 = (d * p - b * s) * part, (a * s - c * p) * part
        w, T = w + 2.0 * w1, T + 2.0 * T1
        if not 0.0 < T < 2.0 * WARMEST:
            return w, T, inf
        p, s = self.rates(load, w, T, self.ratio(T))
        p, s = p + (w1 - w2) / h, s + (T1 - T2) / h
        w3, T3 = (d * p - b * s) * part, (a * s - c * p) * part
        w, T = w + w3, T + T3
        if not 0.0 < T < 2.0 * WARMEST:
            return w, T, inf
        p, s = self.rates(load, w, T, self.ratio(T))
        p, s = p + (w1 - w2 - 8.0 / 3.0 * w3) / h, s + (T1 - T2 - 8.0 / 3.0 * T3) / h
        w4, T4 = (d * p - b * s) * part, (a * s - c * p) * part
        w, T = w + w4, T + T4
        w_allowed, T_allowed = W_TOLERANCE * (load.slow + abs(w)) + self.slack, T_TOLERANCE * (1.0 + T / 3e3)
        error = max(abs(w4) / w_allowed, abs(T4) / T_allowed)
        if not (isfinite(error) and T > 0.0):
            return w, T, inf
        return w, min(T, WARMEST), error

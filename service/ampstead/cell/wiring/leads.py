"""A copper lead: what its gauge, length and temperature make of a current.

Length is one way, and both conductors count: a lead of 1 m holds 2 m of wire. SI units; temperatures in kelvin.
"""

from math import log, pi, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

CELSIUS_20 = 293.15
RESISTIVITY = 1e-6 / 58
"""Ohm·m at 20 °C: annealed copper, IEC 60028. **Published**."""
TEMPERATURE_COEFFICIENT = 0.00393
"""1/K at 20 °C, of the same copper. **Published**; a formula of the US FAA (AC 43.13-1B) comes to 0.003929."""
DENSITY = 8960.0
"""kg/m³. **Published**."""
SPECIFIC_HEAT = 385.0
"""J/(kg·K). **Published**."""
THICKEST, THINNEST = -3, 40
"""The gauges known here: 4/0 AWG counts as −3, 3/0 as −2, 2/0 as −1."""


def gauge_area(gauge: ArrayLike) -> Floats:
    """Cross-section of an American wire gauge, m².

        d = 0.127 mm · 92^((36 − n)/39)    (1)

    n is the gauge's number, 0 and below for the aughts. ASTM B258, solid round wire. **Published**.
    """
    diameter = 0.127e-3 * 92.0 ** ((36.0 - np.asarray(gauge, dtype=float)) / 39.0)  # Eq. (1)
    return np.asarray(0.25 * pi * diameter * diameter)


def nearest_gauge(area: float) -> int:
    """The gauge whose cross-section is the nearest by ratio; Eq. (1) of `gauge_area` turned round."""
    number = 36.0 - 39.0 * log(sqrt(4.0 * area / pi) / 0.127e-3) / log(92.0)
    return round(min(max(number, THICKEST), THINNEST))


def lead_resistance(area: ArrayLike, length: ArrayLike, temperature: ArrayLike) -> Floats:
    """Resistance of both conductors, ohm.

    R = ρ·(1 + α·(T − 20 °C))·2·length/area    (1)
    """
    A, l, T = (np.asarray(argument, dtype=float) for argument in (area, length, temperature))
    rho = RESISTIVITY * (1.0 + TEMPERATURE_COEFFICIENT * (T - CELSIUS_20))
    return np.asarray(rho * 2.0 * l / A)  # Eq. (1)


def lead_heating_rate(area: ArrayLike, current: ArrayLike, temperature: ArrayLike) -> Floats:
    """How fast the copper warms while no heat leaves it, K/s.

        dT/dt = ρ(T)·(I/area)²/(density·c)    (1)

    The same for one conductor and for both; insulation takes up no heat here, so that real wire warms slower.
    """
    A, I, T = (np.asarray(argument, dtype=float) for argument in (area, current, temperature))
    rho = RESISTIVITY * (1.0 + TEMPERATURE_COEFFICIENT * (T - CELSIUS_20))
    return np.asarray(rho * (I / A) ** 2 / (DENSITY * SPECIFIC_HEAT))  # Eq. (1)


def thinnest_gauge(current: float, length: float, temperature: float, drop: float) -> int | None:
    """The highest gauge whose lead loses at most `drop` volts at this current; None where not even 4/0 does."""
    gauges = np.arange(THINNEST, THICKEST - 1, -1)
    drops = current * lead_resistance(gauge_area(gauges), length, temperature)
    kept = gauges[drops <= drop * (1.0 + 1e-9)]
    return int(kept[0]) if len(kept) else None

"""A copper lead: what its gauge, length and temperature make of a current.

Length is one way, and both conductors count: a lead of 1 m holds 2 m of wire. SI units; temperatures in kelvin.
"""

from collections.abc import Sequence
from math import pi
from typing import Any

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
SOLD_GAUGES = (-3, -2, -1, *range(0, 31, 2))
"""Those that shops keep: the aughts, and the even ones. **Common practice**, no published source."""
SOLD_AREAS = tuple(size * 1e-6 for size in (0.14, 0.25, 0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120))
"""m²: from 0.5 on sizes of flexible conductors of IEC 60228, **published**; the finer ones **common practice**."""


def gauge_area(gauge: ArrayLike) -> Floats:
    """Cross-section of an American wire gauge, m².

        d = 0.127 mm · 92^((36 − n)/39)    (1)

    n is the gauge's number, 0 and below for the aughts. ASTM B258, solid round wire. **Published**.
    """
    diameter = 0.127e-3 * 92.0 ** ((36.0 - np.asarray(gauge, dtype=float)) / 39.0)  # Eq. (1)
    return np.asarray(0.25 * pi * diameter * diameter)


def lead_resistance(area: Any, length: Any, temperature: Any) -> Any:
    """Resistance of both conductors, ohm.

    R = ρ·(1 + α·(T − 20 °C))·2·length/area    (1)
    """
    rho = RESISTIVITY * (1.0 + TEMPERATURE_COEFFICIENT * (temperature - CELSIUS_20))
    return rho * 2.0 * length / area  # Eq. (1)


def lead_heating_rate(area: Any, current: Any, temperature: Any) -> Any:
    """How fast the copper warms while no heat leaves it, K/s.

        dT/dt = ρ(T)·(I/area)²/(density·c)    (1)

    The same for one conductor and for both; insulation takes up no heat here, so that real wire warms slower.
    """
    rho = RESISTIVITY * (1.0 + TEMPERATURE_COEFFICIENT * (temperature - CELSIUS_20))
    return rho * (current / area) ** 2 / (DENSITY * SPECIFIC_HEAT)  # Eq. (1)


def thinnest(
    areas: Sequence[float], current: float, length: float, temperature: float, drop: float, heat: float
) -> int | None:
    """Place of the smallest of some areas whose lead loses at most `drop` V and `heat` W/m; None where none does."""
    for place in sorted(range(len(areas)), key=areas.__getitem__):
        lost = current * lead_resistance(areas[place], length, temperature)
        if lost <= drop * (1.0 + 1e-9) and current * lost / length <= heat * (1.0 + 1e-9):
            return place
    return None

"""A plane wall in air by scipy: the equation of heat conduction in finite volumes, for tests to hold a series against.

Nothing of the service is used. Half the wall, no heat through its middle, the skin by a film of air.
"""

from typing import Any

import numpy as np
from scipy.linalg import eigh_tridiagonal

CELLS = 400


def temperatures(
    *, half: float, conductivity: float, volumetric_heat: float, film: float, start: float, air: float, times: Any
) -> tuple[Any, Any]:
    """The middle and the skin at each time: metres, W/mK, J/m³K, W/m²K, one scale of temperature, seconds."""
    width = half / CELLS
    inner = conductivity / width
    outer = 1.0 / (0.5 * width / conductivity + 1.0 / film)
    heat_capacity = width * volumetric_heat

    # dT/dt = A·(T − air) with A symmetric: each of its vectors dies away by itself, so that no step in time errs.
    level = np.full(CELLS, -2.0 * inner)
    level[0], level[-1] = -inner, -inner - outer
    rates, shapes = eigh_tridiagonal(level / heat_capacity, np.full(CELLS - 1, inner / heat_capacity))
    at_start = shapes.T @ np.full(CELLS, start - air)
    courses = air + shapes @ (at_start[:, None] * np.exp(np.outer(rates, times)))

    # The middle lies half a volume inside the first one, where the course is level; the skin beyond the last.
    middle = courses[0] + (courses[0] - courses[1]) / 8.0
    skin = courses[-1] - outer * (courses[-1] - air) * 0.5 * width / conductivity
    return middle, skin

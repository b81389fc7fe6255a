"""A plane wall in air by scipy: the equation of heat conduction in finite volumes, for tests to hold a series against.

Nothing of the service is used. Half the wall, no heat through its middle, the skin by a film of air.
"""

from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

CELLS = 400


def temperatures(
    *, half: float, conductivity: float, volumetric_heat: float, film: float, start: float, air: float, times: Any
) -> tuple[Any, Any]:
    """The middle and the skin at each time: metres, W/mK, J/m³K, W/m²K, one scale of temperature, seconds."""
    width = half / CELLS
    inner = conductivity / width
    outer = 1.0 / (0.5 * width / conductivity + 1.0 / film)

    def rates(_: float, T: Any) -> Any:
        flow = np.concatenate(([0.0], inner * (T[:-1] - T[1:]), [outer * (T[-1] - air)]))
        return (flow[:-1] - flow[1:]) / (width * volumetric_heat)

    band = np.zeros((3, CELLS))
    band[0, 1:] = band[2, :-1] = inner
    band[1] = -2.0 * inner
    band[1, 0], band[1, -1] = -inner, -inner - outer
    jacobian = np.diag(band[1]) + np.diag(band[0, 1:], 1) + np.diag(band[2, :-1], -1)
    run = solve_ivp(
        rates, (0.0, max(times)), np.full(CELLS, float(start)), "BDF", times, rtol=1e-9, atol=1e-9,
        jac=jacobian / (width * volumetric_heat),
    )  # fmt: skip
    # The middle lies half a volume inside the first one, where the course is level; the skin beyond the last.
    middle = run.y[0] + (run.y[0] - run.y[1]) / 8.0
    skin = run.y[-1] - outer * (run.y[-1] - air) * 0.5 * width / conductivity
    return middle, skin

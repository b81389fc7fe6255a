"""The most that a pack can give: the limits of safe draw, shared by the calculators that judge by them."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ampstead.cell.one.discharge import largest_current
from ampstead.cell.one.heat import heat_limited_burst, heat_limited_current
from ampstead.cell.one.series import SeriesPack
from ampstead.declare import Floats
from ampstead.inputs.pack import Pack
from ampstead.inputs.warming import Thermal

MARGIN = 0.8
"""Part of a limit to use. This project's own judgement."""
DEPTH = 0.8
"""Part of the capacity used in a flight. Common practice, no published source."""
BURST = 10.0
"""Length of a burst, s."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawLimits:
    """Currents, A, at which something gives way: over a flight from full, and in a burst at its end."""

    heat: float
    voltage: Floats
    """Of each cell, shape (cells,)."""
    burst_heat: float
    burst_voltage: float
    late: SeriesPack
    """The pack as the flight leaves it."""

    @property
    def continuous(self) -> float:
        return min(self.heat, float(np.min(self.voltage)))

    @property
    def burst(self) -> float:
        return min(self.burst_heat, self.burst_voltage)

    @property
    def weakest_cell(self) -> int:
        """The cell that meets its floor first, from 1."""
        return int(np.argmin(self.voltage)) + 1


def draw_limits(pack: Pack, thermal: Thermal, *, floor: float, depth: float, burst_duration: float) -> DrawLimits:
    """The limits over a flight that uses ``depth`` of the capacity, and in a burst begun at its end.

        T(I, depth * Q / I) = T_limit                      (1)
        I_voltage = (U(z_end) - floor) / (R0 + R1), cell by cell                    (2)
        U(z_end - I * t / Q) - I * (R0 + R1 * (1 - exp(-t / tau))) = floor          (3)

    Discharge current is positive; resistances are held at their values at the start.
    """
    Q, limit = pack.charge, thermal.limit_temperature
    late = pack.resolved(1 - depth * Q / pack.capacities())
    cells = thermal.cells(pack)
    return DrawLimits(
        heat=_least(lambda **cell: heat_limited_current(charge=depth * Q, limit=limit, **cell), cells),  # Eq. (1)
        voltage=np.maximum(late.rest_voltages - floor, 0.0) / (late.ohmic + late.polarisation),  # Eq. (2)
        burst_heat=_least(lambda **cell: heat_limited_burst(time=burst_duration, limit=limit, **cell), cells),
        burst_voltage=largest_current(late, floor, burst_duration),  # Eq. (3)
        late=late,
    )


def _least(limit: Callable[..., float], cells: list[dict[str, float]]) -> float:
    """The least of a limit over the cells, each kind of cell asked once."""
    return min(limit(**dict(kind)) for kind in {tuple(cell.items()) for cell in cells})

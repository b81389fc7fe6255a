"""The most that a pack can give: the limits of safe draw, shared by the calculators that judge by them."""

from collections.abc import Callable
from dataclasses import dataclass
from math import expm1, inf

import numpy as np

from ampstead.cell.kinds.resistance import temperature_ratio
from ampstead.cell.one.discharge import largest_current
from ampstead.cell.one.heat import end_temperature, heat_limited_burst, heat_limited_current
from ampstead.cell.one.series import SeriesPack
from ampstead.declare import Floats
from ampstead.inputs.pack import Pack
from ampstead.inputs.warming import Thermal
from ampstead.judging.bands import AS_TOLD, Resisting

MARGIN = 0.8
"""Part of a limit to use. This project's own judgement."""
DEPTH = 0.8
"""Part of the capacity used in a flight. Common practice, no published source."""
BURST = 10.0
"""Length of a burst, s."""
COLDEST = 200.0
"""Kelvin; far below what any pack is flown at, so that a cell that cools without end keeps a number."""
SETTLED = 1e-9
SAME = 1e-9
"""Kelvin."""
_COOLING_ROUNDS = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawLimits:
    """Currents, A, at which something gives way: over a flight from full, and in a burst at its end."""

    heat: float
    voltage: Floats
    """Of each cell, shape (cells,)."""
    burst_heat: float
    burst_voltage: float
    flown: float
    """The current of the flight that the burst ends: the margin times its least limit."""
    landing: float
    """Temperature of the warmest cell at the end of that flight, K."""
    late: SeriesPack
    """The pack as that flight leaves it."""

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


def draw_limits(
    pack: Pack,
    thermal: Thermal,
    *,
    floor: float,
    depth: float,
    burst_duration: float,
    margin: float = MARGIN,
    label: float = inf,
    resisting: Resisting = AS_TOLD,
) -> DrawLimits:
    """The limits over a flight that uses ``depth`` of the capacity, and in a burst begun at its end.

        T(I, depth * Q / I) = T_limit                                                                    (1)
        I_voltage = (U(z_end) - floor) / (R0 + R1), cell by cell                                         (2)
        U(z_end - I * t / Q) - I * (R0 + R1 * (1 - exp(-t / tau))) - R1 * w * exp(-t / tau) = floor      (3)

    The burst begins where a flight at ``margin`` times the least limit (``label`` among them, A) ends: at its
    temperature, and with the slow part of the resistance at w as that flight has left it. Discharge current is
    positive; ``resisting`` is the edge of the resistances at which they are asked.

    Resistances are held at their values at the start. A pack that warms has less by the end, and that stays as margin:
    what is gained in warmth is lost on the first cold or shaded flight. A pack that cools in colder air has more by
    the end, and that is counted. So no limit promises more than a pack gives whose resistance follows its temperature.
    """
    Q, limit = pack.charge, thermal.limit_temperature
    spent = depth * Q
    states = 1 - spent / pack.capacities()
    full = resisting.of(pack.resolved(states))
    parts = zip(full.ohmic.tolist(), full.polarisation.tolist(), strict=True)
    cells = [
        cell | {"ohmic": R0, "polarisation": R1, "time_constant": full.time_constant}
        for cell, (R0, R1) in zip(thermal.cells(pack), parts, strict=True)
    ]
    whole = full.ohmic + full.polarisation
    heat = _least(
        lambda cell: heat_limited_current(charge=spent, limit=limit, **cell),
        lambda I: _ends(I, spent / I, cells),
        limit,
        cells,
    )  # Eq. (1)
    factors, landing = np.ones(pack.size), np.full(pack.size, pack.temperature)
    for _ in range(_COOLING_ROUNDS):
        voltage = np.maximum(full.rest_voltages - floor, 0.0) / (factors * whole)  # Eq. (2)
        flown = margin * min(heat, float(np.min(voltage)), label)
        if flown > 0:
            landing = _ends(flown, spent / flown, cells)
        factors, settled = _colder(factors, landing, pack.temperature)
        if settled:
            break
    late = full.having(resistance=factors)
    slow = -flown * expm1(-spent / flown / full.time_constant) if flown > 0 else 0.0
    later = [cell | {"start": float(T), "slow": slow} for cell, T in zip(cells, landing.tolist(), strict=True)]
    for _ in range(_COOLING_ROUNDS):
        begun = full.having(resistance=factors)
        burst_voltage = largest_current(begun, floor, burst_duration, slow)  # Eq. (3)
        after = _ends(min(burst_voltage, label), burst_duration, later)
        factors, settled = _colder(factors, after, pack.temperature)
        if settled:
            break
    later = [
        cell | {"ohmic": cell["ohmic"] * more, "polarisation": cell["polarisation"] * more}
        for cell, more in zip(later, factors.tolist(), strict=True)
    ]
    return DrawLimits(
        heat=heat,
        voltage=voltage,
        burst_heat=_least(
            lambda cell: heat_limited_burst(time=burst_duration, limit=limit, **cell),
            lambda I: _ends(I, burst_duration, later),
            limit,
            later,
        ),
        burst_voltage=burst_voltage,
        flown=flown,
        landing=float(np.max(landing)),
        late=late,
    )


def _colder(factors: Floats, temperatures: Floats, start: float) -> tuple[Floats, bool]:
    """The factors on resistance, raised where cells have become colder, and whether they stay so."""
    more = np.maximum(temperature_ratio(np.maximum(temperatures, COLDEST), start), factors)
    return more, bool(np.all(more <= factors * (1 + SETTLED)))


def _ends(current: float, time: float, cells: list[dict[str, float]]) -> Floats:
    """Temperature of each cell after a load."""
    each = {name: np.array([cell[name] for cell in cells]) for name in cells[0]}
    return end_temperature(current=current, time=time, **each)


def _least(
    limit_of: Callable[[dict[str, float]], float],
    ends: Callable[[float], Floats],
    limit: float,
    cells: list[dict[str, float]],
) -> float:
    """The least of a limit over the cells: solved for one, then for whichever is too warm at that current."""
    worst = int(np.argmax([cell["ohmic"] / cell["mass"] for cell in cells]))
    least = limit_of(cells[worst])
    while 0 < least < inf:
        each = ends(least)
        warmest = int(np.argmax(each))
        if warmest == worst or each[warmest] <= limit + SAME:
            return least
        worst, least = warmest, min(least, limit_of(cells[warmest]))
    return min(limit_of(cell) for cell in cells) if least > 0 else 0.0

"""What an input that nobody told may plausibly be: one table, by the input's name and the pack's chemistry.

Each entry says where its edges come from, and whether the bands of answers count it. Those that they do not count are
said as taken ("taken at 25 degrees"), or taken on the safe side, so that a band holds for them as they are.
"""

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

import numpy as np

from ampstead.cell.kinds.chemistries import CHEMISTRIES, Chemistry
from ampstead.inputs.surroundings import AIRS

OWN = "this project's own judgement"
COMMON = "common practice, no published source"
KELVIN = 273.15
SOURCE = "source_"
"""How the inputs of a source begin."""
EFFICIENCIES = (0.80, 0.95)
"""Least and most that chargers pass on. Common practice, no published source."""

Edges = tuple[Any, Any]
Told = Mapping[str, Any]
"""What else is known of the same pack, by the inputs' names: its chemistry, its capacity, its surroundings."""


class Doubt(NamedTuple):
    """The plausible range of an input that is assumed."""

    edges: Callable[[Any, Told], Edges]
    """Least and most, of what was taken for it and what else is told (all SI)."""
    source: str
    banded: bool = False
    """Whether the bands of answers count it."""


def _between(low: float, high: float, source: str, banded: bool = False) -> Doubt:
    return Doubt(lambda taken, told: (low, high), source, banded)


def _times(low: float, high: float, source: str, banded: bool = False) -> Doubt:
    return Doubt(lambda taken, told: (taken * low, taken * high), source, banded)


def _about(by: float, source: str, banded: bool = False) -> Doubt:
    return Doubt(lambda taken, told: (taken - by, taken + by), source, banded)


def _kind(told: Told) -> Chemistry | None:
    name = told.get("chemistry")
    return CHEMISTRIES.get(name) if isinstance(name, str) else None


def _resistance(taken: Any, told: Told) -> Edges:
    kind, capacity = _kind(told), told.get("capacity")
    band = kind.resistance_charge_band if kind else None
    if band is None or capacity is None:
        return taken * 0.5, taken * 2.0
    return band[0] / capacity, band[1] / capacity


def _state(taken: float, told: Told) -> Edges:
    return (0.95, 1.0) if taken >= 1 else (max(0.0, taken - 0.1), min(1.0, taken + 0.1))


def _cooling(taken: float, told: Told) -> Edges:
    if taken <= 0:
        return 0.0, 0.3
    air = AIRS[told.get("surroundings") or "still-air"]
    return taken * air.least / air.usual, taken * air.most / air.usual


def _peukert(taken: float, told: Told) -> Edges:
    kind = _kind(told)
    return kind.peukert if kind and kind.peukert else (1.05, 1.3)


_BY_CHEMISTRY = Doubt(
    _resistance, "the spread of published cells of this chemistry; else half to twice, " + OWN, banded=True
)
PLAUSIBLE: Mapping[str, Doubt] = {
    "cell_resistance": _BY_CHEMISTRY,
    "source_cell_resistance": _BY_CHEMISTRY,
    "state_of_charge": Doubt(_state, OWN),
    "source_state_of_charge": Doubt(_state, OWN),
    "temperature": _between(KELVIN + 10, KELVIN + 35, "a flying day from cool to hot: " + OWN),
    "source_temperature": _between(KELVIN + 5, KELVIN + 35, "a flying day from cool to hot: " + OWN),
    "efficiency": _between(*EFFICIENCIES, COMMON, banded=True),
    "capacity_left": Doubt(lambda taken, told: (min(0.8, taken - 0.1), 1.0), "an old pack holds 80 percent: " + COMMON),
    "peukert": Doubt(_peukert, "published exponents", banded=True),
    "polarisation_resistance": _times(0.7, 1.3, "half of the fast part is a fit; its spread: " + OWN, banded=True),
    "polarisation_time": _between(20.0, 45.0, OWN, banded=True),
    "ambient": _about(10.0, OWN),
    "resistance_temperature": _between(KELVIN + 15, KELVIN + 30, "a bench indoors: " + OWN),
    "cooling": Doubt(
        _cooling, "a cell in still air, free convection of 5 to 12 W/m²K (Çengel's range; from memory); " + OWN
    ),
    "cell_mass": _times(0.95, 1.4, "energy per mass of data sheets; " + OWN),
    "entropy_coefficient": _about(0.15e-3, "published curves differ by as much over a discharge; " + OWN),
    "duty": _between(0.1, 0.4, OWN),
    "idle_current": _between(0.1, 0.5, OWN),
    "conductor_temperature": _between(KELVIN + 20, KELVIN + 70, "a lead in the air, cold and loaded: " + OWN),
    "lead_resistance": _between(0.0, 0.01, "16 AWG of a third of a metre, both ways: " + OWN),
    "source_resistance": _between(0.0, 0.05, OWN),
    "taper": _between(0.05, 0.2, "what chargers end at: " + COMMON),
}


def plausible(name: str, taken: Any, told: Told) -> tuple[Edges, Doubt] | None:
    """The edges of an assumed input and what they rest on; None for what is chosen and not doubted."""
    doubt = PLAUSIBLE.get(name)
    if doubt is None or taken is None:
        return None
    if name.startswith(SOURCE):
        told = {each.removeprefix(SOURCE): value for each, value in told.items() if each.startswith(SOURCE)}
    return doubt.edges(np.asarray(taken) if isinstance(taken, np.ndarray) else taken, told), doubt

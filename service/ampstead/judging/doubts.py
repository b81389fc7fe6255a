"""What is in doubt, and by how much: two tables, from which all bands of answers follow.

``PLAUSIBLE`` has what an input that nobody told may be, by the input's name and what else is told of the pack. Each
entry says where its edges come from, and whether bands count it. Those that they do not count are said as taken
("taken at 25 degrees"), or taken on the safe side, so that a band holds for them as they are. ``ERRORS`` has what
stays in doubt of figures that were told, and of the model itself.
"""

from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np

from ampstead.cell.kinds.chemistries import CHEMISTRIES, Chemistry
from ampstead.cell.kinds.resistance import ACTIVATION, COLD_ACTIVATION, METHOD_BANDS, METHOD_FACTORS, TEMPERATURE_BAND
from ampstead.inputs.surroundings import AIRS

OWN = "this project's own judgement"
COMMON = "common practice, no published source"
KELVIN = 273.15
SOURCE = "source_"
"""How the inputs of a source begin."""
Edges = tuple[Any, Any]
Told = Mapping[str, Any]
NOTHING: Told = MappingProxyType({})
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


def _left(taken: float, told: Told) -> Edges:
    return max(0.01, min(0.8, taken - 0.1)), 1.0


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
    "efficiency": _between(0.80, 0.95, COMMON, banded=True),
    "capacity_left": Doubt(_left, "an old pack holds 80 percent: " + COMMON, banded=True),
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
    "duty": _between(0.1, 0.4, OWN, banded=True),
    "idle_current": _between(0.1, 0.5, OWN, banded=True),
    "conductor_temperature": _between(
        KELVIN + 20, KELVIN + 70, "a lead in the air, cold and loaded: " + OWN, banded=True
    ),
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


def edges(name: str, taken: Any, given: Iterable[str], told: Told = NOTHING) -> Edges:
    """Least and most that an input may be: its plausible range where nobody told it, else what was told, twice."""
    found = None if name in given else plausible(name, taken, told)
    return (taken, taken) if found is None else found[0]


class Error(NamedTuple):
    """Least and most of what is true, over the figure used; where the name says so, beside it (SI)."""

    low: float
    high: float
    source: str


def _off(by: float, source: str) -> Error:
    return Error(1 - by, 1 + by, source)


_COMPARED = "constant-resistance models against full electrochemical ones of power cells, made for this project"
ERRORS: Mapping[str, Error] = {
    # The model.
    "resistance to 5C": _off(0.13, _COMPARED),
    "resistance to 10C": _off(0.30, _COMPARED),
    "resistance beyond 10C": _off(0.40, _COMPARED),
    "burst_current": _off(0.40, _COMPARED),
    "activation": Error(
        TEMPERATURE_BAND[0] / ACTIVATION, TEMPERATURE_BAND[1] / ACTIVATION, "published tables of lithium-ion cells"
    ),
    "activation in the cold": Error(
        1.0, COLD_ACTIVATION / ACTIVATION, "what full-order models of cells in cold air need, made for this project"
    ),
    "slow part of an energy cell": Error(
        1.0,
        10.0,
        "a full-order model of O'Regan et al. 2022 at 0 to 25 degrees, run for this project; " + OWN,
    ),
    "charge time": _off(0.05, "charges by full electrochemical models of power cells; " + OWN),
    "charge time of a resistive pack": Error(
        0.95, 1.05 * 1.35, "cells of 50 mΩ·Ah and more were charged by full electrochemical models; " + OWN
    ),
    "charge time beside": Error(0.0, 900.0, "seconds for balancing and for ramps of the charger; " + OWN),
    # A resistance by the way it was measured.
    **{
        f"resistance by {method}": Error(low / METHOD_FACTORS[method], high / METHOD_FACTORS[method], OWN)
        for method, (low, high) in METHOD_BANDS.items()
    },
    # Other figures that were told.
    "capacity": Error(0.8, 1.0, "an old pack holds 80 percent of its label: " + COMMON),
    "charge_returned": _off(0.05, "a charger's count; " + OWN),
    "flight current": _off(0.15, "of another flight flown alike; " + OWN),
    "receiver current": _off(0.30, "its mean over a flight; " + OWN),
    "cooling": _off(0.30, OWN),
    "specific heat": _off(0.15, "published values are 1000 give or take 150 J/kgK"),
    "load_resistance": _off(0.10, "a resistor or a lamp; " + OWN),
    "gauge": Error(0.97, 1.28, "stranded and tinned wire against solid copper: FAA AC 43.13-1B, table 11-9"),
    "cross-section": Error(1.0, 1.16, "flexible wire may have so much more: IEC 60228"),
    "nickel timer": Error(14 / 16, 1.0, "14 to 16 hours at a tenth of the capacity an hour: " + COMMON),
    "nickel charge": Error(1 / 1.1, 1.2 / 1.1, "from just what is missing to 1.2 times of it, 1.1 taken; " + OWN),
    "nominal voltage beside": Error(-0.1, 0.1, "volts by which makers declare one kind apart: " + COMMON),
    "rest reading beside": Error(-0.005, 0.005, "volts in each cell's reading; " + OWN),
}
"""By what was told or reckoned. A band that a reading's own resolution makes has it from the input."""


def error(name: str) -> tuple[float, float]:
    """Least and most of what is true over the figure used."""
    low, high, _ = ERRORS[name]
    return low, high

"""Constants of each kind of cell.

Voltages per cell. Nominal and end-of-charge voltages: cell standards and data sheets, **published**.
Resistance times capacity and specific energy: **own judgement** on the safe side (a light cell heats more).
Mean entropy coefficient of lipo and lihv: mean of the Ai2020 curve from full to 20 %, **published**,
computed; the others count as nil. Charging below 3.0 V at 0.1 C at most: **published** by a cell maker;
below 2.5 V not at all, and life half a volt lower: **own judgement**. The rest is **common practice**.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from .curves import LEAD, LIFE, LIHV, LIION, LIPO, Curve

_MILLIOHM_AMPERE_HOUR = 3.6
_WATT_HOUR_PER_KILOGRAM = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Chemistry:
    """One kind of cell. Volts per cell, ohm·coulomb, J/kg, V/K; a rate of 1 fills the capacity in an hour."""

    name: str
    words: str
    nominal: float
    end_of_charge: float
    """Where constant voltage holds; for nimh and nicd the highest a charge reaches, for sizing only."""
    floor: float
    """Under load."""
    rest_floor: float | None
    storage_voltage: float | None
    storage_state: float | None
    """Set where storage is told as a state of charge instead of a voltage."""
    usual_rate: float
    resistance_charge: float
    """R0 × capacity."""
    resistance_charge_band: tuple[float, float] | None
    specific_energy: float
    entropy: float
    """dU/dT; below zero heats on discharge."""
    curve: Curve | None
    is_lithium: bool
    low_cell: float | None
    """Below it only a slow charge."""
    dead_cell: float | None
    """Below it no charge at all."""
    full_margin: float
    """How far above the curve's top a cell still reads as full, V."""
    steep_from: float | None
    """Resting voltage above which a flat curve ends so steeply that volts between cells are hardly any charge."""


def _chemistry(
    name: str,
    words: str,
    *,
    volts: tuple[float, float, float],
    rest_floor: float | None,
    storage: tuple[float | None, float | None],
    rate: float,
    milliohm_ampere_hour: float,
    band: tuple[float, float] | None = None,
    watt_hour_per_kilogram: float,
    entropy: float = 0.0,
    curve: Curve | None,
    lithium: bool,
    full_margin: float = 0.05,
    low: tuple[float, float] = (3.0, 2.5),
    steep_from: float | None = None,
) -> Chemistry:
    return Chemistry(
        name=name,
        words=words,
        nominal=volts[0],
        end_of_charge=volts[1],
        floor=volts[2],
        rest_floor=rest_floor,
        storage_voltage=storage[0],
        storage_state=storage[1],
        usual_rate=rate,
        resistance_charge=milliohm_ampere_hour * _MILLIOHM_AMPERE_HOUR,
        resistance_charge_band=(band[0] * _MILLIOHM_AMPERE_HOUR, band[1] * _MILLIOHM_AMPERE_HOUR) if band else None,
        specific_energy=watt_hour_per_kilogram * _WATT_HOUR_PER_KILOGRAM,
        entropy=entropy,
        curve=curve,
        is_lithium=lithium,
        low_cell=low[0] if lithium else None,
        dead_cell=low[1] if lithium else None,
        full_margin=full_margin,
        steep_from=steep_from,
    )


_ALL = (
    _chemistry(
        "lipo",
        "lithium-polymer",
        volts=(3.7, 4.20, 3.3),
        rest_floor=3.7,
        storage=(3.80, None),
        rate=1.0,
        milliohm_ampere_hour=15.0,
        band=(5.0, 40.0),
        watt_hour_per_kilogram=150.0,
        entropy=-0.235e-3,
        curve=LIPO,
        lithium=True,
    ),
    _chemistry(
        "lihv",
        "high-voltage lithium-polymer",
        volts=(3.8, 4.35, 3.3),
        rest_floor=3.7,
        storage=(3.85, None),
        rate=1.0,
        milliohm_ampere_hour=15.0,
        band=(5.0, 40.0),
        watt_hour_per_kilogram=170.0,
        entropy=-0.235e-3,
        curve=LIHV,
        lithium=True,
    ),
    _chemistry(
        "liion",
        "lithium-ion",
        volts=(3.6, 4.20, 2.8),
        rest_floor=3.2,
        storage=(3.70, None),
        rate=0.5,
        milliohm_ampere_hour=100.0,
        band=(50.0, 140.0),
        watt_hour_per_kilogram=260.0,
        curve=LIION,
        lithium=True,
    ),
    _chemistry(
        "life",
        "lithium-iron-phosphate",
        volts=(3.3, 3.60, 2.5),
        rest_floor=3.0,
        storage=(None, 0.5),
        rate=1.0,
        milliohm_ampere_hour=35.0,
        watt_hour_per_kilogram=120.0,
        curve=LIFE,
        lithium=True,
        low=(2.5, 2.0),
        steep_from=3.35,
    ),
    _chemistry(
        "nimh",
        "nickel-metal-hydride",
        volts=(1.2, 1.6, 1.0),
        rest_floor=None,
        storage=(None, None),
        rate=0.5,
        milliohm_ampere_hour=50.0,
        watt_hour_per_kilogram=80.0,
        curve=None,
        lithium=False,
    ),
    _chemistry(
        "nicd",
        "nickel-cadmium",
        volts=(1.2, 1.6, 1.0),
        rest_floor=None,
        storage=(None, None),
        rate=0.5,
        milliohm_ampere_hour=30.0,
        watt_hour_per_kilogram=50.0,
        curve=None,
        lithium=False,
    ),
    _chemistry(
        "lead",
        "lead-acid",
        volts=(2.0, 2.40, 1.75),
        rest_floor=2.03,
        storage=(None, 1.0),
        rate=0.1,
        milliohm_ampere_hour=50.0,
        watt_hour_per_kilogram=40.0,
        curve=LEAD,
        lithium=False,
        full_margin=0.15,
    ),
)

CHEMISTRIES: Mapping[str, Chemistry] = MappingProxyType({chemistry.name: chemistry for chemistry in _ALL})


def cell_mass(chemistry: Chemistry, capacity: float) -> float:
    """Mass of one cell, kg, from its capacity in coulomb.

    m = Q·U_nominal / specific energy    (1)

    The specific energy is on the high side, so the mass is on the low side and the heat on the safe one.
    **Own judgement**.
    """
    return capacity * chemistry.nominal / chemistry.specific_energy  # Eq. (1)

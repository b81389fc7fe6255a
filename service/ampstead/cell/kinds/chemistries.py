"""Constants of each kind of cell.

Voltages per cell. Nominal and end-of-charge voltages: cell standards and data sheets, **published**.
Resistance times capacity and specific energy: **own judgement** on the safe side (a light cell heats more).
Mean entropy coefficient of lipo and lihv: mean of the Ai2020 curve from full to 20 %, **published**,
computed; the others count as nil. Charging below 3.0 V at 0.1 C at most: **published** by a cell maker;
below 2.5 V not at all, and 2.5 and 2.0 V for lithium-iron-phosphate: **own judgement**. The charge bands of lithium
are **published** (``limits/charge_bands``), those of the others **own judgement** after makers' sheets, from memory.
Peukert's exponents: flooded 1.1 to 1.25, absorbed-glass-mat about 1.05, **published** by a utility, as quoted. Only
lead-acid takes in noticeably more charge than it stores. The rest is **common practice**.

What a calculator would ask of a chemistry's name is a trait here, so that no name is compared anywhere else.
Over 300 lines: it is a table.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from .curves import LEAD, LIFE, LIHV, LIION, LIPO, Curve
from .resistance import REFERENCE_TEMPERATURE

_MILLIOHM_AMPERE_HOUR = 3.6
_WATT_HOUR_PER_KILOGRAM = 3600.0


@dataclass(frozen=True, slots=True)
class ChargeBand:
    """Temperatures at which a charge may be started, kelvin."""

    coldest: float
    hottest: float
    cool: float | None
    """Up to it only a part of the usual rate; None where the cold takes nothing."""
    cool_cut: float
    """V by which the end of charge is lowered up to there."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
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
    most_cells: int
    """In series, in this hobby."""
    charge_band: ChargeBand
    held_voltage: bool
    """Whether a charge ends at a held voltage; nickel's shows in temperature and in a small fall of voltage."""
    charge_timed: bool
    """Whether the model tells how long a charge takes; lead-acid's last part takes hours."""
    charge_efficiency: float
    """Part of the charge put in that is stored."""
    high_voltage_kin: str | None
    """The kind whose packs look the same but are charged higher."""
    taken_for_life: tuple[float, float] | None
    """Resting voltages of a cell at which a pack told as this may be a lithium-iron-phosphate one."""
    flat_curve: bool
    """Whether the voltage hardly moves over most of the charge."""
    may_freeze: bool
    """Whether a flat one freezes within the charge band's reach."""
    holds_acid: bool
    kept_full: bool
    """Whether it is stored full."""
    flown: bool
    """Whether packs of it fly; one that does not is a battery of the field or the bench."""
    usual_depth: float
    """Of a charge, used from a source by habit."""
    peukert: tuple[float, float] | None
    """Least and most exponent by which it gives less at high currents; None where that is no matter."""
    cold_loss: float
    """Part of the capacity lost per kelvin below 25 °C, beside what more resistance takes; from memory."""

    def left_in_cold(self, temperature: float) -> float:
        """Part of the capacity that a cell has at a temperature in kelvin, beside what more resistance takes.

        Lead-acid loses 0.6 to 1 percent per kelvin below 25 °C (from memory); the larger is taken, the safe side.
        Lithium cells lose by their resistance alone, which follows the temperature anyway.
        """
        return max(0.0, 1.0 - self.cold_loss * max(0.0, REFERENCE_TEMPERATURE - temperature))


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
    low: tuple[float | None, float | None] = (None, None),
    band_of_charge: ChargeBand,
    most_cells: int = 14,
    full_margin: float = 0.05,
    steep_from: float | None = None,
    held_voltage: bool = True,
    charge_timed: bool = True,
    charge_efficiency: float = 1.0,
    high_voltage_kin: str | None = None,
    taken_for_life: tuple[float, float] | None = None,
    flat_curve: bool = False,
    may_freeze: bool = False,
    holds_acid: bool = False,
    kept_full: bool = False,
    flown: bool = True,
    usual_depth: float = 0.8,
    peukert: tuple[float, float] | None = None,
    cold_loss: float = 0.0,
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
        steep_from=steep_from,
        low_cell=low[0],
        dead_cell=low[1],
        full_margin=full_margin,
        most_cells=most_cells,
        charge_band=band_of_charge,
        held_voltage=held_voltage,
        charge_timed=charge_timed,
        charge_efficiency=charge_efficiency,
        high_voltage_kin=high_voltage_kin,
        taken_for_life=taken_for_life,
        flat_curve=flat_curve,
        may_freeze=may_freeze,
        holds_acid=holds_acid,
        kept_full=kept_full,
        flown=flown,
        usual_depth=usual_depth,
        peukert=peukert,
        cold_loss=cold_loss,
    )


_ZERO, _COOL, _HOT = 273.15, 283.15, 313.15
_COBALT = ChargeBand(_ZERO, _HOT, _COOL, 0.10)
"""4.10 in place of 4.20 V is what a guideline lowers cells to whose full voltage is that."""
_UNCUT = ChargeBand(_ZERO, _HOT, _COOL, 0.0)
_LEAD = ChargeBand(263.15, _HOT, None, 0.0)
"""Sheets go down to −15 °C; a flat battery may be frozen there, and the state is rarely known."""
_LOW, _LOW_LIFE = (3.0, 2.5), (2.5, 2.0)

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
        high_voltage_kin="lihv",
        taken_for_life=(3.2, 3.4),
        low=_LOW,
        band_of_charge=_COBALT,
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
        low=_LOW,
        band_of_charge=_COBALT,
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
        low=_LOW,
        band_of_charge=_COBALT,
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
        steep_from=3.35,
        low=_LOW_LIFE,
        band_of_charge=_UNCUT,
        flat_curve=True,
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
        band_of_charge=_UNCUT,
        most_cells=20,
        held_voltage=False,
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
        band_of_charge=_UNCUT,
        most_cells=20,
        held_voltage=False,
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
        band_of_charge=_LEAD,
        most_cells=24,
        charge_timed=False,
        charge_efficiency=0.85,
        may_freeze=True,
        holds_acid=True,
        kept_full=True,
        flown=False,
        usual_depth=0.5,
        peukert=(1.05, 1.25),
        cold_loss=0.010,
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

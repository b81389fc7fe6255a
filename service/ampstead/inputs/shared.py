"""Inputs that several calculators share, so that one name means one thing everywhere."""

from collections.abc import Iterator
from typing import Annotated

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.declare import Floats, Fraction, OneOf, Quantity, Rate
from ampstead.errors import FieldError
from ampstead.inputs.pack import ChemistryName, voltages_in_range

MOST_CURRENT = "20 kA"
MOST_POWER = "1 MW"
LARGEST_CAPACITY = 720e3
"""C, 200 ampere hours: the largest that any calculator here takes."""
MOST_ENERGY = "100 kWh"

ChargeRate = Annotated[
    float,
    Rate("Charge rate, in multiples of the capacity per hour.", above=0, at_most=100, example=1, label="charge rate"),
]
ChargeCurrent = Annotated[
    float | None,
    Quantity(
        "A",
        "Charge current, instead of a rate.",
        above=0,
        at_most=MOST_CURRENT,
        example="2.3 A",
        label="charge current",
    ),
]
MaxRate = Annotated[
    float | None,
    Rate(
        "Highest charge rate that the pack's label allows.",
        above=0,
        at_most=100,
        example=2,
        label="highest charge rate on the label",
    ),
]
ChargerCurrentLimit = Annotated[
    float | None,
    Quantity(
        "A",
        "Most current the charger gives.",
        above=0,
        at_most=MOST_CURRENT,
        example="8 A",
        label="most current of the charger",
    ),
]
ChargerPowerLimit = Annotated[
    float | None,
    Quantity(
        "W",
        "Most power the charger puts out.",
        above=0,
        at_most=MOST_POWER,
        example="110 W",
        label="most power of the charger",
    ),
]
SupplyLimit = Annotated[
    float | None,
    Quantity(
        "W",
        "Most power the charger may take in.",
        above=0,
        at_most=MOST_POWER,
        example="180 W",
        label="most power from the supply",
    ),
]
Taper = Annotated[
    float,
    Fraction(
        "The charge ends when the current falls to this part of the set one.",
        at_least=0.005,
        at_most=0.95,
        example=0.1,
        label="ends at this part of the current",
        aside=True,
    ),
]
EndCellVoltage = Annotated[
    float,
    Quantity(
        "V",
        "Voltage per cell at which the charger holds; at most the chemistry's own.",
        above="1 V",
        at_most="5 V",
        example="4.2 V",
        label="voltage per cell to charge to",
    ),
]
Efficiency = Annotated[
    float,
    Fraction(
        "Part of its input that the charger passes on.",
        at_least=0.1,
        at_most=1,
        example=0.85,
        label="efficiency of the charger",
        aside=True,
    ),
]
Headroom = Annotated[
    float,
    Fraction(
        "Part of a supply's rating kept free.",
        at_least=0,
        at_most=0.9,
        example=0.1,
        label="part of a supply kept free",
        aside=True,
    ),
]
RatingStep = Annotated[
    float,
    Quantity(
        "W",
        "Step in which power ratings go.",
        above=0,
        at_most="1 MW",
        example="5 W",
        label="step of ratings",
        aside=True,
    ),
]
SupplyVoltage = Annotated[
    float | None, Quantity("V", "Voltage of the supply.", above=0, at_most="1 kV", example="14.2 V")
]
LeadResistance = Annotated[
    float,
    Quantity(
        "mΩ",
        "Resistance of the leads, both conductors together.",
        at_least=0,
        at_most="100 Ω",
        example="6.5 mΩ",
        label="resistance of the leads",
    ),
]
Floor = Annotated[
    float,
    Quantity(
        "V",
        "Lowest voltage that a cell may have under load.",
        at_least=0,
        at_most="5 V",
        example="3.3 V",
        label="lowest voltage of a cell under load",
    ),
]


def usual_floor(chemistry: ChemistryName) -> float:
    """The chemistry's usual floor under load (common practice)."""
    return CHEMISTRIES[chemistry].floor


VOLTAGE_TOLD = OneOf("rest_voltage", "cell_voltages", required=True, asked="What does it read at rest?")
"""For calculators that read the state from a resting voltage and from nothing else."""
STATE_TOLD = OneOf("rest_voltage", "cell_voltages", "state_of_charge", required=True, asked="How full is it?")
"""For calculators that must be told the state of the pack."""
MeterResolution = Annotated[
    float,
    Quantity(
        "V",
        "Smallest step that the voltmeter shows.",
        at_least=0,
        at_most="1 V",
        example="10 mV",
        label="smallest step of the meter",
        aside=True,
    ),
]


def usual_charge_rate(chemistry: ChemistryName) -> float:
    """The chemistry's usual charge rate (common practice)."""
    return CHEMISTRIES[chemistry].usual_rate


def cells_told(cells: int | None) -> Iterator[FieldError]:
    """A pack needs its number of cells, in so many words or by a list with an entry per cell."""
    if cells is None:
        yield FieldError("cells", "missing", "cells is missing: number of cells in series, as on the label, like 4")


def readings_in_range(
    name: str, chemistry: ChemistryName, cells: int | None, reading: float | Floats | None
) -> Iterator[FieldError]:
    """A resting voltage under another name: of the pack as one number, of the cells as a list."""
    whole, each = (reading, None) if isinstance(reading, float) else (None, reading)
    for fault in voltages_in_range(chemistry, cells, whole, each):
        said = fault.message.replace("rest_voltage is the whole pack's", f"one value for {name} is the whole pack's")
        yield FieldError(name, fault.code, said)

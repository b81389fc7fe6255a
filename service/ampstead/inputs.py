"""Inputs that several calculators share, so that one name means one thing everywhere."""

from typing import Annotated

from ampstead.cell.chemistries import CHEMISTRIES
from ampstead.declare import Fraction, Quantity, Rate
from ampstead.pack import ChemistryName

MOST_CURRENT = "20 kA"
MOST_POWER = "1 MW"

ChargeRate = Annotated[
    float, Rate("Charge rate, in multiples of the capacity per hour.", above=0, at_most=100, example=1)
]
ChargeCurrent = Annotated[
    float | None,
    Quantity("A", "Charge current, instead of a rate.", above=0, at_most=MOST_CURRENT, example="1.3 A"),
]
Efficiency = Annotated[
    float, Fraction("Part of its input that the charger passes on.", at_least=0.1, at_most=1, example=0.85)
]
Headroom = Annotated[float, Fraction("Part of a supply's rating kept free.", at_least=0, at_most=0.9, example=0.1)]
RatingStep = Annotated[
    float, Quantity("W", "Step in which power ratings go.", above=0, at_most="100 kW", example="5 W")
]
SupplyVoltage = Annotated[
    float | None, Quantity("V", "Voltage of the supply.", above=0, at_most="1 kV", example="13.8 V")
]
LeadResistance = Annotated[
    float,
    Quantity(
        "mΩ",
        "Resistance of the leads, both conductors together.",
        at_least=0,
        at_most="100 Ω",
        example="5 mΩ",
    ),
]
Floor = Annotated[
    float,
    Quantity("V", "Lowest voltage that a cell may have under load.", at_least=0, at_most="5 V", example="3.3 V"),
]


def usual_floor(chemistry: ChemistryName) -> float:
    """The chemistry's usual floor under load (common practice)."""
    return CHEMISTRIES[chemistry].floor

"""What is known of one pack and its day, all at once: the facts of an overview.

A fact has one meaning, where single calculators may call two things by one name: no current and no rate is a fact,
but the charge's rate and the flight's current each are, under names of their own.
"""

from dataclasses import dataclass
from typing import Annotated, ClassVar

from ampstead.declare import Count, Flag, Floats, Fraction, Number, OneOf, Quantity, Rate
from ampstead.inputs.pack import Checks, Pack
from ampstead.inputs.shared import (
    MOST_CURRENT,
    MOST_ENERGY,
    MOST_POWER,
    ChargerCurrentLimit,
    ChargerPowerLimit,
    MaxRate,
    SupplyLimit,
    SupplyVoltage,
)
from ampstead.inputs.surroundings import SurroundingsInput


@dataclass(frozen=True, kw_only=True)
class Facts(Pack):
    """What is known of one pack and its day."""

    charge_rate: Annotated[
        float | None,
        Rate("Rate at which it is to be charged, if not the usual one.", above=0, at_most=100, example=1),
    ] = None
    max_rate: MaxRate = None
    label_rate: Annotated[
        float | None, Rate("Highest discharge rate on the label.", above=0, at_most=1000, example=30)
    ] = None
    charger_current_limit: ChargerCurrentLimit = None
    charger_power_limit: ChargerPowerLimit = None
    supply_limit: SupplyLimit = None
    supply_voltage: SupplyVoltage = None
    available_power: Annotated[
        float | None,
        Quantity("W", "What the supply can spare for its charge.", at_least=0, at_most=MOST_POWER, example="180 W"),
    ] = None
    efficiency: Annotated[
        float | None, Fraction("Part of its input that the charger passes on.", at_least=0.1, at_most=1, example=0.85)
    ] = None
    time_available: Annotated[
        float | None,
        Quantity("min", "Time that there is for the charge.", at_least=0, at_most="10000 min", example="25 min"),
    ] = None
    typical_current: Annotated[
        float | None,
        Quantity("A", "Current that a flight draws on average.", above=0, at_most=MOST_CURRENT, example="23 A"),
    ] = None
    peak_current: Annotated[
        float | None,
        Quantity("A", "Most current that a flight draws.", above=0, at_most=MOST_CURRENT, example="48 A"),
    ] = None
    flight_time: Annotated[
        float | None,
        Quantity("min", "Length of the last flight.", above=0, at_most="10000 min", example="7.5 min"),
    ] = None
    charge_returned: Annotated[
        float | None,
        Quantity("mAh", "Charge put back after that flight.", above=0, at_most="200 Ah", example="1480 mAh"),
    ] = None
    reserve: Annotated[
        float | None,
        Fraction("Part of the capacity that a flight leaves.", at_least=0, at_most=0.9, example=0.2),
    ] = None
    floor: Annotated[
        float | None,
        Quantity("V", "Lowest voltage that a cell may have under load.", at_least=0, at_most="5 V", example="3.3 V"),
    ] = None
    ambient: Annotated[
        float | None,
        Quantity("°C", "Temperature of the air.", at_least="-30 °C", at_most="70 °C", example="13 °C"),
    ] = None
    surroundings: SurroundingsInput = "still-air"
    cooling: Annotated[
        float | None,
        Quantity("W/K", "Heat that air takes from a cell.", at_least=0, at_most="1 kW/K", example="0.2 W/K"),
    ] = None
    cell_mass: Annotated[
        float | Floats | None,
        Quantity("g", "Mass of one cell, or of each.", at_least="0.1 g", at_most="100 kg", example="40 g"),
    ] = None
    limit_temperature: Annotated[
        float | None,
        Quantity("°C", "Temperature that no cell may pass.", at_least="0 °C", at_most="100 °C", example="60 °C"),
    ] = None
    next_temperature: Annotated[
        float | None,
        Quantity(
            "°C", "Temperature of the pack at the next flight.", at_least="-20 °C", at_most="70 °C", example="13 °C"
        ),
    ] = None
    measured_capacity: Annotated[
        float | None,
        Quantity("mAh", "Capacity as measured.", at_least=0, at_most="200 Ah", example="1900 mAh"),
    ] = None
    capacity_left: Annotated[
        float | None,
        Fraction("Part of the label's capacity that it still holds.", above=0, at_most=1, example=0.9),
    ] = None
    reference_resistance: Annotated[
        float | None,
        Quantity("mΩ", "Resistance of one cell when the pack was new.", above=0, at_most="10 Ω", example="8.5 mΩ"),
    ] = None
    sibling_resistances: Annotated[
        Floats | None,
        Quantity("mΩ", "Cell resistances of like packs.", above=0, at_most="10 Ω", example="8.5,9 mΩ"),
    ] = None
    before: Annotated[
        float | Floats | None,
        Quantity(
            "V", "Resting voltage before the charge; of the pack, or of each cell.", at_least=0, example="11.31 V"
        ),
    ] = None
    after: Annotated[
        float | Floats | None,
        Quantity("V", "Resting voltage after the charge; of the pack, or of each cell.", at_least=0, example="12.55 V"),
    ] = None
    first_cell_voltages: Annotated[
        Floats | None,
        Quantity("V", "Voltage of each cell at rest, at the first reading.", at_least=0, example="3.86,3.91,3.87 V"),
    ] = None
    second_cell_voltages: Annotated[
        Floats | None,
        Quantity("V", "Voltage of each cell at rest, days later.", at_least=0, example="3.86,3.91,3.86 V"),
    ] = None
    days: Annotated[float | None, Number("Days between these readings.", at_least=0.01, at_most=3660, example=17)] = (
        None
    )
    bleed_current: Annotated[
        float | None,
        Quantity("A", "Current at which a balancer bleeds a cell.", above=0, at_most="100 A", example="0.2 A"),
    ] = None
    rested: Annotated[bool | None, Flag("Whether the pack had rested when its cells were read.")] = None
    label_energy: Annotated[
        float | None,
        Quantity("Wh", "Energy on the label.", above=0, at_most=MOST_ENERGY, example="25 Wh"),
    ] = None
    count: Annotated[int | None, Count("How many such packs travel.", at_least=1, at_most=1000, example=2)] = None
    discharge_power: Annotated[
        float | None,
        Quantity("W", "Power at which the charger discharges.", above=0, at_most=MOST_POWER, example="5 W"),
    ] = None
    servos: Annotated[
        int | None, Count("Number of servos, where it feeds a receiver.", at_least=1, at_most=64, example=4)
    ] = None
    servo_current: Annotated[
        float | None,
        Quantity("A", "Current of one servo held fast.", above=0, at_most="100 A", example="1.2 A"),
    ] = None
    time_planned: Annotated[
        float | None,
        Quantity("min", "Time that the receiver pack is to last.", above=0, at_most="10000 min", example="20 min"),
    ] = None

    RULES: ClassVar = (*Pack.RULES, OneOf("reference_resistance", "sibling_resistances"))
    CHECKS: ClassVar[Checks] = Pack.CHECKS

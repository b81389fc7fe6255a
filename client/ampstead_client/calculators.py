"""The calculators, one method each, as `openapi/generate.py` writes them from `openapi/openapi.json`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Literal, TypeAlias, TypedDict

from ampstead_client.base import ClientBase
from ampstead_client.beyond import Kinds
from ampstead_client.envelope import Answer
from ampstead_client.quantity import QuantitiesLike, Quantity, QuantityLike

__all__ = [
    "AlarmVoltage",
    "Allotment",
    "BalanceNeed",
    "BalanceNeedVerdict",
    "BoxPack",
    "Calculators",
    "CapacityCheck",
    "Carriage",
    "CarriageCategory",
    "ChargeCurrent",
    "ChargeCurrentLimitedBy",
    "ChargeLeft",
    "ChargeLeftVerdict",
    "ChargeSession",
    "ChargeTemperature",
    "ChargedPack",
    "Charger",
    "Chemistry",
    "Condition",
    "CoolDown",
    "CountedDischarge",
    "Endurance",
    "EnduranceEndedBy",
    "FieldEnergy",
    "FieldEnergyEndedBy",
    "FieldSource",
    "FlightTimer",
    "GroupCharge",
    "GroupChargeLimitedBy",
    "GroupShare",
    "Inputs",
    "JoinedPack",
    "LatePack",
    "LeadLoss",
    "LeftOut",
    "LeftOutWhy",
    "LetDown",
    "Load",
    "LoadStep",
    "LoadTest",
    "MatchPacks",
    "NickelCharge",
    "NickelChargeEndMethod",
    "Pack",
    "PackFitness",
    "PackFitnessVerdict",
    "PackForModel",
    "PackForModelBinds",
    "PackForModelResistanceLimitedBy",
    "PackGroup",
    "ParallelJoin",
    "PlannedCharge",
    "Reading",
    "Reason",
    "ReceiverTime",
    "ReceiverTimeVerdict",
    "ResistanceMethod",
    "SafeDraw",
    "SafeDrawContinuousLimitedBy",
    "Sag",
    "SeriesJoin",
    "SeriesJoinEndedBy",
    "SeriesJoinVerdict",
    "SessionPack",
    "Share",
    "StackedPack",
    "StandingLoss",
    "StandingLossVerdict",
    "Storage",
    "StorageAction",
    "SupplySplit",
    "Surroundings",
    "To",
    "TypedAnswer",
    "UnservedPack",
    "Use",
    "WarmUp",
    "Wattage",
]


BalanceNeedVerdict: TypeAlias = Literal["level", "drifting", "balance", "suspect"]
"""Level to half the limit, drifting to the limit, balance beyond it, suspect where a cell stands out."""


CarriageCategory: TypeAlias = Literal["cabin", "ask-operator", "not-by-passengers"]
"""Carried in the cabin, only with the operator's approval, or not by passengers at all."""


ChargeCurrentLimitedBy: TypeAlias = Literal[
    "asked-rate",
    "pack-label",
    "charger-current",
    "charger-power",
    "supply",
    "full",
    "temperature",
    "suspect-cell",
    "low-cell",
    "cell-count",
    "condition",
]
"""What sets the current."""


ChargeLeftVerdict: TypeAlias = Literal["empty", "low", "storage", "flyable", "full"]
"""What the low edge of the state means: empty, low (below the reserve), storage, flyable or full."""


Chemistry: TypeAlias = Literal["lipo", "lihv", "liion", "life", "nimh", "nicd", "lead"]
"""Kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion, lithium-iron-phosphate,
nickel-metal-hydride, nickel-cadmium or lead-acid.
"""


Condition: TypeAlias = Literal["sound", "swollen", "damaged", "wet", "crashed"]
"""State of the pack's body; anything but sound is not charged, joined or flown."""


EnduranceEndedBy: TypeAlias = Literal["reserve", "floor", "heat"]
"""Which limit that is."""


FieldEnergyEndedBy: TypeAlias = Literal["depth", "input-floor", "power"]
"""What ends it: the source used to its depth, the input below its floor, or no more power."""


GroupChargeLimitedBy: TypeAlias = Literal[
    "join",
    "asked-rate",
    "pack-label",
    "charger-current",
    "charger-power",
    "supply",
    "full",
    "temperature",
    "suspect-cell",
    "low-cell",
    "cell-count",
    "condition",
]
"""What sets it: a limit of a pack, of charger or supply, or that they may not be joined."""


LeftOutWhy: TypeAlias = Literal[
    "condition", "suspect-cell", "low-cell", "cell-count", "full", "too-unlike", "left-over"
]
"""Why it is left out."""


NickelChargeEndMethod: TypeAlias = Literal["timer", "voltage-fall"]
"""What ends the charge: a timer, or the small fall of voltage of a full pack."""


PackFitnessVerdict: TypeAlias = Literal["flight", "other-model", "light-duty", "retire"]
"""Fit for flight; sound but too weak for the current asked; for light duty on the ground; or to be retired."""


PackForModelBinds: TypeAlias = Literal["capacity", "voltage", "heat", "label", "mass", "condition"]
"""What of that pack is nearest its limit or most beyond it."""


PackForModelResistanceLimitedBy: TypeAlias = Literal["voltage", "heat"]
"""What sets it: the floor at the highest current near the end, or the heat."""


ReceiverTimeVerdict: TypeAlias = Literal["go", "no-go"]
"""Whether to take off with this pack."""


ResistanceMethod: TypeAlias = Literal["1kHz", "charger", "1s", "10s"]
"""How the resistance was measured: at 1 kHz, by a charger, or under load for one or ten seconds."""


SafeDrawContinuousLimitedBy: TypeAlias = Literal["heat", "voltage", "label"]
"""What sets the continuous current."""


SeriesJoinEndedBy: TypeAlias = Literal["reserve", "floor"]
"""Which of the two that is."""


SeriesJoinVerdict: TypeAlias = Literal["join", "with-care", "do-not-join"]
"""Whether the packs may be flown in series, with care where they differ, or must not be."""


Share: TypeAlias = Literal["in-order", "even", "in-proportion"]
"""How to share what is too little: in order, evenly, or in proportion to what is asked."""


StandingLossVerdict: TypeAlias = Literal["steady", "watch", "retire"]
"""Steady, to be watched, or to be retired."""


StorageAction: TypeAlias = Literal["charge", "discharge", "none"]
"""Charge, discharge, or leave the pack as it is."""


Surroundings: TypeAlias = Literal["still-air", "box", "draught"]
"""Where the pack lies: free in still air, in a closed box or bag, or in a draught such as a fan's."""


To: TypeAlias = Literal["storage", "empty"]
"""How far: to the storage charge, or empty, for a pack that is retired."""


Use: TypeAlias = Literal["series", "parallel"]
"""How the packs of a group are used together."""


@dataclass(frozen=True, kw_only=True)
class Pack:
    """A pack of cells in series; each calculator takes what it uses."""

    chemistry: Chemistry | None = None
    """Kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion, lithium-iron-phosphate,
    nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
    """
    cells: int | None = None
    """Number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given: told by a
    list with an entry per cell.
    """
    capacity: QuantitiesLike | None = None
    """Capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most 200 Ah; for
    example 2250 mAh.
    """
    cell_resistance: QuantitiesLike | None = None
    """Resistance of one cell, or of each cell. In mΩ; above 0; at most 10 Ω; for example 8.5 mΩ. If not given: a
    cautious figure by chemistry, divided by the capacity.
    """
    pack_resistance: QuantityLike | None = None
    """Resistance of the whole pack; divided evenly among the cells. In mΩ; above 0; at most 100 Ω; for example
    25.5 mΩ.
    """
    resistance_method: ResistanceMethod | None = None
    """How the resistance was measured: at 1 kHz, by a charger, or under load for one or ten seconds. If not given:
    1s.
    """
    resistance_temperature: QuantityLike | None = None
    """Temperature of the cells when the resistance was measured. In °C; at least -20 °C; at most 70 °C; for
    example 25 °C. If not given: 25 °C.
    """
    polarisation_resistance: QuantitiesLike | None = None
    """Slow part of a cell's resistance, which appears over the polarisation time; one, or one per cell. In mΩ; at
    least 0; at most 10 Ω; for example 4.2 mΩ. If not given: half of the cell resistance.
    """
    polarisation_time: QuantityLike | None = None
    """Time constant of the slow part. In s; at least 0.1 s; at most 3600 s; for example 30 s. If not given: 30 s."""
    temperature: QuantityLike | None = None
    """Temperature of the pack now. In °C; at least -20 °C; at most 70 °C; for example 25 °C. If not given: 25 °C."""
    state_of_charge: float | str | None = None
    """State of charge of every cell, empty at 0, full at 1 or 100 %. At least 0; at most 1; for example 0.2."""
    rest_voltage: QuantityLike | None = None
    """Voltage of the whole pack at rest. In V; at least 0; for example 15.07 V."""
    cell_voltages: QuantitiesLike | None = None
    """Voltage of each cell at rest. In V; at least 0; for example 3.77,3.76,3.79,3.75 V."""
    condition: Condition | None = None
    """State of the pack's body; anything but sound is not charged, joined or flown. If not given: sound."""


@dataclass(frozen=True, kw_only=True)
class PlannedCharge:
    """One charge of the plan."""

    pack: str
    """The pack's name; equal ones are numbered."""
    charger: str
    """The charger's name; equal ones are numbered."""
    output: int
    """Which of the charger's outputs, from 1."""
    begin: Annotated[Quantity, "min"]
    """When the charge begins, from the start [min]."""
    end: Annotated[Quantity, "min"]
    """When it ends, by the model [min]."""
    current: Annotated[Quantity, "A"]
    """Current to set [A]."""
    supply_power: Annotated[Quantity, "W"]
    """The most that this charge draws from the supply [W]."""


@dataclass(frozen=True, kw_only=True)
class LatePack:
    """A pack that may not be ready when it is needed."""

    pack: str
    """The pack's name."""
    need_by: Annotated[Quantity, "min"]
    """When it is needed [min]."""
    late_by: Annotated[Quantity, "min"]
    """By how much it may come later, if it and those before it take long [min]."""


@dataclass(frozen=True, kw_only=True)
class UnservedPack:
    """A pack that is left uncharged, and why."""

    pack: str
    """The pack's name."""
    why: str
    """Why not."""


@dataclass(frozen=True, kw_only=True)
class GroupShare:
    """What one pack of a group takes."""

    name: str
    """The pack's name."""
    current: Annotated[Quantity, "A"]
    """Largest current into the pack at any time of the charge [A]."""
    rate: float
    """That current in multiples of the pack's capacity per hour."""


@dataclass(frozen=True, kw_only=True)
class PackGroup:
    """Packs that go together."""

    packs: tuple[int, ...]
    """Their places in the list, from 1."""
    names: tuple[str, ...]
    """What they are called."""
    mismatch: float
    """How unlike they are: 0 where they are the same."""
    charge_unused: Annotated[Quantity, "mAh"]
    """Charge that the larger packs keep when the smallest is empty; 0 in parallel [mAh]."""
    shares: tuple[float, ...]
    """Part of the current that each carries by its resistance; in series each carries all of it."""
    hardest_load: float
    """How hard the hardest worked pack works for its capacity, over the mean of the group."""


@dataclass(frozen=True, kw_only=True)
class LeftOut:
    """A pack that goes with no other."""

    pack: int
    """Its place in the list, from 1."""
    name: str
    """What it is called."""
    why: LeftOutWhy
    """Why it is left out."""


@dataclass(frozen=True, kw_only=True)
class Reason:
    """One finding, and what it was held against."""

    finding: str
    """What was found, in words."""
    figure: str
    """The figure."""
    limit: str
    """What it was held against."""
    basis: str
    """Where the limit comes from."""


@dataclass(frozen=True, kw_only=True)
class Allotment:
    """What one load gets."""

    name: str
    """The load's name."""
    asked_power: Annotated[Quantity, "W"]
    """Power asked for, up to a whole step [W]."""
    allotted_power: Annotated[Quantity, "W"]
    """Power it gets [W]."""
    short_by: Annotated[Quantity, "W"]
    """What it lacks [W]."""
    current: Annotated[Quantity, "A"] | None
    """For a pack: the charge current that its share carries; none otherwise [A]."""
    rate: float | None
    """For a pack: that current as a rate; none otherwise."""


@dataclass(frozen=True, kw_only=True)
class SessionPack(Pack):
    """A pack to be charged in a session."""

    state_of_charge: float | str | None = None
    """State of charge of every cell, empty at 0, full at 1 or 100 %. At least 0; at most 1; for example 1. If not
    given: 0.2.
    """
    name: str | None = None
    """What to call the pack. For example grey tug."""
    rate: float | str | None = None
    """Charge rate, in multiples of the capacity per hour. Above 0; at most 100; for example 1. If not given: the
    chemistry's usual rate.
    """
    max_rate: float | str | None = None
    """Highest charge rate that the pack's label allows. Above 0; at most 100; for example 2."""
    ready_at: QuantityLike | None = None
    """Time from the start before which the pack is not there. In min; at least 0; at most 10000 min; for example
    30 min.
    """
    need_by: QuantityLike | None = None
    """Time from the start by which the pack is needed. In min; at least 0; at most 10000 min; for example 90 min."""


@dataclass(frozen=True, kw_only=True)
class Charger:
    """A charger of a session; one without limits charges whatever is put on it."""

    name: str | None = None
    """What to call the charger. For example left."""
    outputs: int | None = None
    """Packs that it charges at once. At least 1; at most 16; for example 1. If not given: 1."""
    current_limit: QuantityLike | None = None
    """Most current the charger gives. In A; above 0; at most 20 kA; for example 8 A."""
    power_limit: QuantityLike | None = None
    """Most power the charger puts out. In W; above 0; at most 1 MW; for example 110 W."""
    total_power_limit: QuantityLike | None = None
    """Most power that all its outputs together put out. In W; above 0; at most 1 MW; for example 200 W."""
    idle_power: QuantityLike | None = None
    """What it draws for itself while it is on. In W; at least 0; at most 1 MW; for example 3 W. If not given: 0 W."""
    efficiency: float | str | None = None
    """Part of its input that the charger passes on. At least 0.1; at most 1; for example 0.85. If not given: 0.85."""
    cells_min: int | None = None
    """Fewest cells that it charges. At least 1; at most 24; for example 2."""
    cells_max: int | None = None
    """Most cells that it charges. At least 1; at most 24; for example 6."""


@dataclass(frozen=True, kw_only=True)
class FieldSource(Pack):
    """A battery at the field, full unless its state is told."""

    state_of_charge: float | str | None = None
    """State of charge of every cell, empty at 0, full at 1 or 100 %. At least 0; at most 1; for example 1. If not
    given: 1.
    """
    peukert: float | str | None = None
    """Exponent by which a lead-acid source gives less at high currents, for its rated hours. At least 1; at most
    2; for example 1.15.
    """
    rated_hours: float | str | None = None
    """Hours in which a lead-acid source gives its rated capacity. Above 0; at most 1000; for example 20."""


@dataclass(frozen=True, kw_only=True)
class LoadStep:
    """One step of a load that repeats."""

    current: QuantityLike | None = None
    """Current drawn. In A; at least 0; at most 20 kA; for example 62 A."""
    power: QuantityLike | None = None
    """Constant power drawn. In W; at least 0; at most 1 MW; for example 240 W."""
    duration: QuantityLike | None = None
    """How long this step lasts. In s; at least 0.1 s; at most 36000 s; for example 40 s."""


@dataclass(frozen=True, kw_only=True)
class ChargedPack(Pack):
    """A pack to be recharged at the field."""

    state_of_charge: float | str | None = None
    """State of charge of every cell, empty at 0, full at 1 or 100 %. At least 0; at most 1; for example 1. If not
    given: 0.2.
    """
    name: str | None = None
    """What to call the pack. For example blue aerobat."""
    rate: float | str | None = None
    """Charge rate, in multiples of the capacity per hour. Above 0; at most 100; for example 1. If not given: the
    chemistry's usual rate.
    """


@dataclass(frozen=True, kw_only=True)
class JoinedPack(Pack):
    """One of several packs on a board; its state must be told."""

    name: str | None = None
    """What to call the pack. For example red trainer A."""
    lead_resistance: QuantityLike | None = None
    """Resistance of the leads in series with this pack, both conductors; that for all packs if not given. In mΩ;
    at least 0; at most 100 Ω; for example 5 mΩ.
    """
    max_rate: float | str | None = None
    """Highest charge rate that the pack's label allows. Above 0; at most 100; for example 2."""


@dataclass(frozen=True, kw_only=True)
class Reading:
    """The pack under one current."""

    current: QuantityLike | None = None
    """Current drawn; 0 at rest, below zero where it charges. In A; at least -20 kA; at most 20 kA; for example 23
    A.
    """
    voltage: QuantityLike | None = None
    """Voltage of the whole pack then. In V; at least 0; at most 1 kV; for example 15.17 V."""
    cell_voltages: QuantitiesLike | None = None
    """Voltage of each cell then, in place of the pack's. In V; at least 0; for example 3.88,3.87,3.76 V."""
    duration: QuantityLike | None = None
    """How long this current had flowed. In s; at least 0; at most 3600 s; for example 10 s."""


@dataclass(frozen=True, kw_only=True)
class BoxPack(Pack):
    """One of the packs in a box."""

    cells: int | None = None
    """Number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given: told by a
    list with an entry per cell, else 1.
    """
    name: str | None = None
    """What to call the pack. For example red trainer A."""
    years: float | str | None = None
    """Its age in years. At least 0; at most 100; for example 2."""
    bought: str | None = None
    """When it was bought, instead of its age. For example 2025-03."""
    cycles: float | str | None = None
    """Flights it has made. At least 0; at most 100000; for example 60."""


@dataclass(frozen=True, kw_only=True)
class StackedPack(Pack):
    """One of several packs in series."""

    state_of_charge: float | str | None = None
    """State of charge of every cell, empty at 0, full at 1 or 100 %. At least 0; at most 1; for example 1. If not
    given: 1.
    """
    name: str | None = None
    """What to call the pack. For example red trainer A."""


@dataclass(frozen=True, kw_only=True)
class Load:
    """One load: a power, or a pack being charged."""

    name: str | None = None
    """What to call the load. For example transmitter."""
    power: QuantityLike | None = None
    """Power that the load draws. In W; at least 0; at most 1 MW; for example 60 W."""
    chemistry: Chemistry | None = None
    """Kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion, lithium-iron-phosphate,
    nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo for a pack.
    """
    cells: int | None = None
    """Number of cells in series, as on the label. At least 1; at most 24; for example 4."""
    capacity: QuantityLike | None = None
    """Capacity of the pack. In mAh; at least 10 mAh; at most 200 Ah; for example 3700 mAh."""
    rate: float | str | None = None
    """Charge rate, in multiples of the capacity per hour. Above 0; at most 100; for example 1. If not given: the
    chemistry's usual rate.
    """
    current: QuantityLike | None = None
    """Charge current, instead of a rate. In A; above 0; at most 20 kA; for example 2.3 A."""
    efficiency: float | str | None = None
    """Part of its input that the charger passes on. At least 0.1; at most 1; for example 0.85. If not given: 0.85
    for a pack.
    """


class Inputs(TypedDict):
    """Inputs, those that an answer tells; a name means the same, in the same unit, in every calculator."""

    after: Quantity | tuple[Quantity, ...]
    """After [V]."""
    ambient: Quantity
    """Ambient [°C]."""
    available_power: Quantity
    """Available power [W]."""
    before: Quantity | tuple[Quantity, ...]
    """Before [V]."""
    bleed_current: Quantity
    """Bleed current [A]."""
    burst_duration: Quantity
    """Burst duration [s]."""
    by_hand: Quantity | tuple[Quantity, ...]
    """By hand [min]."""
    capacity: Quantity | tuple[Quantity, ...]
    """Capacity [mAh]."""
    capacity_left: float
    """Capacity left."""
    cell_mass: Quantity | tuple[Quantity, ...]
    """Cell mass [g]."""
    cell_resistance: Quantity | tuple[Quantity, ...]
    """Cell resistance [mΩ]."""
    cell_voltages: Quantity | tuple[Quantity, ...]
    """Cell voltages [V]."""
    cells: int
    """Cells."""
    charge_drawn: Quantity
    """Charge drawn [mAh]."""
    charge_returned: Quantity
    """Charge returned [mAh]."""
    charger_current_limit: Quantity
    """Charger current limit [A]."""
    charger_power_limit: Quantity
    """Charger power limit [W]."""
    chargers: tuple[Mapping[str, Any], ...]
    """Chargers."""
    chemistry: Chemistry
    """Chemistry."""
    condition: Condition
    """Condition."""
    conductor_temperature: Quantity
    """Conductor temperature [°C]."""
    cooling: Quantity
    """Cooling [W/K]."""
    count: int
    """Count."""
    current: Quantity
    """Current [A]."""
    current_error: float
    """Current error."""
    currents: Quantity | tuple[Quantity, ...]
    """Currents [A]."""
    cut_off_voltage: Quantity
    """Cut off voltage [V]."""
    days: float
    """Days."""
    depth: float
    """Depth."""
    discharge_power: Quantity
    """Discharge power [W]."""
    discharge_rate: float
    """Discharge rate."""
    drop_limit: float
    """Drop limit."""
    duration: Quantity
    """Duration [s]."""
    duty: float
    """Duty."""
    efficiency: float
    """Efficiency."""
    end_cell_voltage: Quantity
    """End cell voltage [V]."""
    entropy_coefficient: Quantity
    """Entropy coefficient [mV/K]."""
    first_cell_voltages: Quantity | tuple[Quantity, ...]
    """First cell voltages [V]."""
    flight_time: Quantity
    """Flight time [min]."""
    floor: Quantity
    """Floor [V]."""
    gauge: str
    """Gauge."""
    headroom: float
    """Headroom."""
    idle_current: Quantity
    """Idle current [A]."""
    idle_power: Quantity
    """Idle power [W]."""
    input_floor: Quantity
    """Input floor [V]."""
    label_energy: Quantity
    """Label energy [Wh]."""
    label_part: float
    """Label part."""
    label_rate: float
    """Label rate."""
    lamp_power: Quantity
    """Lamp power [W]."""
    lamp_voltage: Quantity
    """Lamp voltage [V]."""
    lead_resistance: Quantity
    """Lead resistance [mΩ]."""
    lead_resistances: Quantity | tuple[Quantity, ...]
    """Lead resistances [mΩ]."""
    length: Quantity
    """Length [m]."""
    limit: Quantity
    """Limit [V]."""
    limit_rate: float
    """Limit rate."""
    limit_temperature: Quantity
    """Limit temperature [°C]."""
    load: tuple[Mapping[str, Any], ...]
    """Load."""
    load_resistance: Quantity
    """Load resistance [mΩ]."""
    loads: tuple[Mapping[str, Any], ...]
    """Loads."""
    margin: float
    """Margin."""
    mass: Quantity
    """Mass [g]."""
    mass_limit: Quantity
    """Mass limit [g]."""
    max_rate: float
    """Max rate."""
    measured_capacity: Quantity
    """Measured capacity [mAh]."""
    meter_resolution: Quantity
    """Meter resolution [V]."""
    mismatch_limit: float
    """Mismatch limit."""
    next_capacity: Quantity
    """Next capacity [mAh]."""
    next_temperature: Quantity
    """Next temperature [°C]."""
    nominal_voltage: Quantity
    """Nominal voltage [V]."""
    pack_resistance: Quantity
    """Pack resistance [mΩ]."""
    packs: tuple[Mapping[str, Any], ...]
    """Packs."""
    peak_current: Quantity
    """Peak current [A]."""
    peukert: float
    """Peukert."""
    polarisation_resistance: Quantity | tuple[Quantity, ...]
    """Polarisation resistance [mΩ]."""
    polarisation_time: Quantity
    """Polarisation time [s]."""
    power: Quantity
    """Power [W]."""
    rate: float
    """Rate."""
    rated_hours: float
    """Rated hours."""
    rating_step: Quantity
    """Rating step [W]."""
    readings: tuple[Mapping[str, Any], ...]
    """Readings."""
    receiver_floor: Quantity
    """Receiver floor [V]."""
    reference_resistance: Quantity
    """Reference resistance [mΩ]."""
    regulator_voltage: Quantity
    """Regulator voltage [V]."""
    reserve: float
    """Reserve."""
    resistance_method: ResistanceMethod
    """Resistance method."""
    resistance_temperature: Quantity
    """Resistance temperature [°C]."""
    rest_after: Quantity
    """Rest after [V]."""
    rest_before: Quantity
    """Rest before [V]."""
    rest_voltage: Quantity
    """Rest voltage [V]."""
    rested: bool
    """Rested."""
    second_cell_voltages: Quantity | tuple[Quantity, ...]
    """Second cell voltages [V]."""
    servo_current: Quantity
    """Servo current [A]."""
    servos: int
    """Servos."""
    share: Share
    """Share."""
    shares: tuple[float, ...]
    """Shares."""
    sibling_resistances: Quantity | tuple[Quantity, ...]
    """Sibling resistances [mΩ]."""
    size: int
    """Size."""
    source: Mapping[str, Any]
    """Source."""
    source_capacity: Quantity
    """Source capacity [mAh]."""
    source_cell_resistance: Quantity
    """Source cell resistance [mΩ]."""
    source_cells: int
    """Source cells."""
    source_chemistry: Chemistry
    """Source chemistry."""
    source_resistance: Quantity
    """Source resistance [mΩ]."""
    source_state_of_charge: float
    """Source state of charge."""
    source_temperature: Quantity
    """Source temperature [°C]."""
    start: str
    """Start."""
    state_of_charge: float
    """State of charge."""
    supply_limit: Quantity
    """Supply limit [W]."""
    supply_rating: Quantity
    """Supply rating [W]."""
    supply_voltage: Quantity
    """Supply voltage [V]."""
    surroundings: Surroundings
    """Surroundings."""
    swap_time: Quantity
    """Swap time [min]."""
    taper: float
    """Taper."""
    target_state: float
    """Target state."""
    target_temperature: Quantity
    """Target temperature [°C]."""
    target_voltage: Quantity
    """Target voltage [V]."""
    temperature: Quantity
    """Temperature [°C]."""
    time_available: Quantity
    """Time available [min]."""
    time_planned: Quantity
    """Time planned [min]."""
    time_wanted: Quantity
    """Time wanted [min]."""
    to: To
    """To."""
    typical_current: Quantity
    """Typical current [A]."""
    use: Use
    """Use."""
    voltage: Quantity
    """Voltage [V]."""
    voltages: Quantity | tuple[Quantity, ...]
    """Voltages [V]."""
    watch_limit: int
    """Watch limit."""


@dataclass(frozen=True, kw_only=True, repr=False)
class TypedAnswer(Answer):
    """An answer of one of the calculators below, its inputs typed."""

    question: Inputs
    """The inputs as the service read them; quantities are `Quantity`, lists are tuples."""
    assumed: Inputs
    """Every default that was used, in the same form; of nested inputs under names such as `packs[0].temperature`."""


@dataclass(frozen=True, kw_only=True, repr=False)
class AlarmVoltage(TypedAnswer):
    """Answer of `alarm_voltage`. It rests on:

    - Terminal voltage of a source with resistance (OpenStax University Physics vol. 2, ch. 10.1), the slow part
      of the resistance in full; compared with discharges by the library thevenin 0.2.1
    - Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), US Army TM
      5-3805-262-20 (lead); lihv is extrapolated, not measured
    - Resistance against temperature: 20 kJ/mol, general lithium-ion (tables shipped by simses 1.3, BSD-3)
    - A reserve of 25 percent at the warning, and floors under load: common practice, no published source
    """

    alarm_cell_voltage: Annotated[Quantity, "V"] | None
    """Voltage of the weakest cell under load, at the reserve or at its floor if that comes first; none if it comes
    at once [V].
    """
    alarm_voltage: Annotated[Quantity, "V"] | None
    """Voltage of the pack under load then; none likewise [V]."""
    resting_voltage: Annotated[Quantity, "V"] | None
    """Voltage of the pack at rest after landing then; none likewise [V]."""
    largest_current: Annotated[Quantity, "A"]
    """The most current that keeps every cell at its floor or above down to the reserve, no warmer than now [A]."""


@dataclass(frozen=True, kw_only=True, repr=False)
class BalanceNeed(TypedAnswer):
    """Answer of `balance_need`. It rests on:

    - State of charge from resting voltage: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013
      (life), US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured
    - Limit of 20 millivolts: common practice, no published source (a gauge circuit's default starts at 3
      millivolts)
    - Verdicts: this project's own judgement
    """

    spread: Annotated[Quantity, "V"]
    """Highest less lowest voltage [V]."""
    highest_cell: int
    """Cell with the highest voltage, from 1."""
    highest_voltage: Annotated[Quantity, "V"]
    """Its voltage [V]."""
    lowest_cell: int
    """Cell with the lowest voltage, from 1."""
    lowest_voltage: Annotated[Quantity, "V"]
    """Its voltage [V]."""
    mean_voltage: Annotated[Quantity, "V"]
    """Mean of the cells [V]."""
    pack_voltage: Annotated[Quantity, "V"]
    """Sum of the cells [V]."""
    balance: bool
    """Whether the spread is over the limit."""
    verdict: BalanceNeedVerdict
    """Level to half the limit, drifting to the limit, balance beyond it, suspect where a cell stands out."""
    imbalance: float
    """Part of the capacity between the highest and the lowest cell."""
    charge_gap: Annotated[Quantity, "mAh"] | None
    """That as a charge; none without the capacity [mAh]."""
    time_to_level: Annotated[Quantity, "min"] | None
    """Time to bleed that off; none without capacity and bleed current [min]."""


@dataclass(frozen=True, kw_only=True, repr=False)
class CapacityCheck(TypedAnswer):
    """Answer of `capacity_check`. It rests on:

    - Charge is current times time (Lessons in Electric Circuits vol. I, battery ratings); capacity is the
      charge over the difference of the states before and after
    - State of charge from resting voltage: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013
      (life), US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured
    - Band of the difference: seven published cells (lipo, liion), two (life); lihv and lead, and 5 millivolts
      of error in each cell's reading: this project's own judgement
    - When a difference is too small to tell: this project's own judgement
    """

    measured_capacity: Annotated[Quantity, "mAh"] | None
    """Capacity of the smallest cell by these readings; none where its state rose by too little to tell [mAh]."""
    capacity_left: float | None
    """That over the label's capacity; none without either."""


@dataclass(frozen=True, kw_only=True, repr=False)
class Carriage(TypedAnswer):
    """Answer of `carriage`. It rests on:

    - Watt-hours are rated capacity times nominal voltage: 49 CFR 171.8. The maker's declared value rules: PHMSA
      letter 22-0113 of 19 January 2023
    - Lithium up to 100 watt-hours in the cabin, spares never in the hold: TSA; terminals: 49 CFR 175.10
    - Above 100 to 160 watt-hours with the airline's approval and at most two spares, above that not by
      passengers: FAA and CASA texts as quoted by others
    - At most twenty spares of any kind, sealed lead-acid up to 12 volts and 100 watt-hours, nickel without
      limit of energy: international rules, from memory
    - Freight: packs alone at no more than 30 percent charge on cargo aircraft, from 2026 also packed with
      equipment (IATA 66th edition, ICAO 2025-2026, as told by dangerous-goods trainers)
    - Rules as read for 2025 and 2026. They change every year, operators may be stricter, and the operator
      decides
    """

    energy: Annotated[Quantity, "Wh"]
    """Energy of one pack: the label's, else capacity times nominal voltage [Wh]."""
    category: CarriageCategory
    """Carried in the cabin, only with the operator's approval, or not by passengers at all."""
    allowed_count: int
    """Most spare packs like this that one traveller may carry."""
    advice: str
    """What to do with them, in plain words."""


@dataclass(frozen=True, kw_only=True, repr=False)
class ChargeCurrent(TypedAnswer):
    """Answer of `charge_current`. It rests on:

    - Constant current, then constant voltage, of an equivalent circuit with one RC pair, solved piecewise
      exactly; compared with the library thevenin 0.2.1 and PyBaMM 26.10
    - Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), US Army TM
      5-3805-262-20 (lead); lihv is extrapolated, not measured
    - No lithium charge below 0 or above 40 degrees: NFPA, quoted by the US Fire Administration; a fifth of the
      usual current from 0 to 10 degrees: default of a published charger circuit (TI BQ25882); 4.10 instead of
      4.20 volts there: a Japanese guideline as told by TI. Bands of other kinds: common practice, from memory
    - At most a tenth of the capacity an hour below 3.0 V a cell: a cell maker's page; none below 2.5 V, half a
      volt less for lithium-iron-phosphate, and a fifth with a cell that stands out: this project's own
      judgement
    - Usual rates, end of charge at a tenth, 85 percent efficiency, stop at 50 degrees: common practice, no
      published source
    """

    current: Annotated[Quantity, "A"]
    """Current to set; 0 where the pack must not be charged [A]."""
    rate: float
    """That current in multiples of the capacity per hour."""
    limited_by: ChargeCurrentLimitedBy
    """What sets the current."""
    end_voltage: Annotated[Quantity, "V"]
    """Voltage of the pack at which the charger holds [V]."""
    peak_power: Annotated[Quantity, "W"]
    """End voltage times the largest current that flows [W]."""
    supply_power: Annotated[Quantity, "W"]
    """Drawn from the supply at that peak [W]."""
    time_constant_current: Annotated[Quantity, "min"] | None
    """Time at constant current; none where nothing is charged or no time is known [min]."""
    time_constant_voltage: Annotated[Quantity, "min"] | None
    """Time at constant voltage; none where nothing is charged or no time is known [min]."""
    time_total: Annotated[Quantity, "min"] | None
    """Time to the end of charge; none where nothing is charged or no time is known [min]."""
    charge_added: Annotated[Quantity, "mAh"] | None
    """Charge put in, to the end or to the time available; none for lead-acid [mAh]."""
    energy_added: Annotated[Quantity, "Wh"] | None
    """Energy put in at the pack's terminals, likewise; none for lead-acid [Wh]."""
    supply_energy: Annotated[Quantity, "Wh"] | None
    """Energy drawn from the supply, likewise; none for lead-acid [Wh]."""
    state_of_charge_end: float | None
    """State of charge of the least charged cell then; none for lead-acid."""
    stop_temperature: Annotated[Quantity, "°C"]
    """Stop the charge if the pack gets this warm [°C]."""


@dataclass(frozen=True, kw_only=True, repr=False)
class ChargeLeft(TypedAnswer):
    """Answer of `charge_left`. It rests on:

    - State of charge from resting voltage: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013
      (life), US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured
    - Band of the state: lowest and highest of seven published cells (lipo, liion), of two (life); lihv and
      lead: this project's own judgement
    - Reserve of 20 percent: common practice, no published source
    - Verdicts, taken at the low edge of the band: this project's own judgement
    """

    state_of_charge: float
    """State of charge of the lowest cell, by the chemistry's own curve."""
    charge_left: Annotated[Quantity, "mAh"] | None
    """Charge above the reserve, by the low edge of the band; none without the capacity [mAh]."""
    verdict: ChargeLeftVerdict
    """What the low edge of the state means: empty, low (below the reserve), storage, flyable or full."""
    flies: bool
    """Whether it may fly again uncharged: flyable or full, and no cell stands out."""


@dataclass(frozen=True, kw_only=True, repr=False)
class ChargeSession(TypedAnswer):
    """Answer of `charge_session`. It rests on:

    - Power of each charge over time: the charge of an equivalent circuit with one RC pair, solved exactly;
      compared with the library thevenin 0.2.1
    - The order of the packs: a schedule under shared power, found by search; small ones compared with the best
      that OR-Tools CP-SAT proves
    - Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), US Army TM
      5-3805-262-20 (lead); lihv is extrapolated, not measured
    - Peukert's law in the form of the rated hours, t = H * (C / (I * H)) ** k
    - No lithium charge below 0 or above 40 degrees: NFPA, quoted by the US Fire Administration; a fifth of the
      usual current from 0 to 10 degrees: default of a published charger circuit (TI BQ25882); 4.10 instead of
      4.20 volts there: a Japanese guideline as told by TI. Bands of other kinds: common practice, from memory
    - At most a tenth of the capacity an hour below 3.0 V a cell: a cell maker's page; none below 2.5 V, half a
      volt less for lithium-iron-phosphate, and a fifth with a cell that stands out: this project's own
      judgement
    - Usual rates, end of charge at a tenth, 85 percent efficiency, a tenth of a supply kept free: common
      practice, no published source
    - Two minutes a swap, four packs that one person can watch, how fast a hot pack cools: this project's own
      judgement
    """

    finish: Annotated[Quantity, "min"] | None
    """When the last charge ends, by the model; none where nothing is charged [min]."""
    bound: Annotated[Quantity, "min"] | None
    """Proven: no plan for these packs ends earlier; none where nothing is charged [min]."""
    finish_to_bound: float | None
    """The finish divided by the bound: 1 is the best that there can be."""
    plan: tuple[PlannedCharge, ...]
    """What goes where and when, in the order of its begin."""
    late: tuple[LatePack, ...]
    """Packs that may not be ready by the time they are needed."""
    unserved: tuple[UnservedPack, ...]
    """Packs that are not charged, and why."""
    peak_power: Annotated[Quantity, "W"]
    """The most drawn from the supply at any instant [W]."""
    supply_energy: Annotated[Quantity, "Wh"]
    """Energy drawn from the supply in the whole session [Wh]."""
    supply_needed: Annotated[Quantity, "W"] | None
    """Rating of a supply with which no pack is late, headroom included; none where none helps, or nothing is
    charged [W].
    """


@dataclass(frozen=True, kw_only=True, repr=False)
class ChargeTemperature(TypedAnswer):
    """Answer of `charge_temperature`. It rests on:

    - No lithium charge below 0 or above 40 degrees: NFPA, quoted by the US Fire Administration; the strictest
      published band, and the one used
    - A fifth of the current from 0 to 10 degrees: default of a published charger circuit (TI BQ25882); 4.10
      instead of 4.20 V, or half the current, there, and up to 60 degrees at lower voltages: a Japanese
      guideline as told by TI
    - 0 to 45 degrees: a cell maker's page. Other kinds than lithium: this project's own judgement
    - Heat balance of a cell with one RC pair at constant current, solved in closed form; compared with the
      library thevenin 0.2.1. Specific heat 1000 J/kgK: published values 953 (Ai et al. 2020) and 1069 (Ecker et
      al. 2015)
    - Stop at 50 degrees: common practice, no published source. Look at 10 degrees of warming and stop at 20:
      common practice and this project's own judgement
    """

    allowed: bool
    """Whether a charge may be started: at this temperature, by the strictest band, and with this pack."""
    rate_limit: float
    """Most of the usual charge rate that this temperature and the pack itself leave; 0 where none."""
    charge_voltage_limit: Annotated[Quantity, "V"] | None
    """Voltage per cell to charge to at most; none where it must not be charged, and for nickel [V]."""
    stop_temperature: Annotated[Quantity, "°C"]
    """Stop the charge if the pack gets this warm [°C]."""
    predicted_rise: Annotated[Quantity, "K"] | None
    """Warming to the end of the charge; none without capacity and current, or if not lithium [K]."""
    rise_alarm: Annotated[Quantity, "K"]
    """Warming at which to look at the pack; stop at twice that [K]."""


@dataclass(frozen=True, kw_only=True, repr=False)
class CoolDown(TypedAnswer):
    """Answer of `cool_down`. It rests on:

    - Conduction in a plane wall that gives its heat to air: Incropera, DeWitt, Fundamentals of Heat and Mass
      Transfer (from memory); compared with the method of lines by scipy
    - What air takes: 2 to 25 W/m²K free, 25 to 250 forced (Çengel, publisher's notes); which of it a pack
      meets, its shape and its conductivity: this project's own judgement
    - Specific heat 1000 J/kgK: published stack values 953 (Ai et al. 2020) and 1069 (Ecker et al. 2015)
    - No lithium charge above 40 degrees: NFPA, quoted by the US Fire Administration
    """

    time_to_target: Annotated[Quantity, "min"] | None
    """Time until the middle of the pack is at the target; 0 where it is there, none where the air is too warm
    [min].
    """
    skin_temperature: Annotated[Quantity, "°C"] | None
    """What its skin has then come to, where a thermometer reads; none with the time [°C]."""
    time_to_halve: Annotated[Quantity, "min"]
    """Time in which the difference to the air halves, once the start is over [min]."""


@dataclass(frozen=True, kw_only=True, repr=False)
class CountedDischarge(TypedAnswer):
    """Answer of `counted_discharge`. It rests on:

    - Charge is current times time (Lessons in Electric Circuits vol. I, battery ratings); what a cut-off leaves
      behind stands on the open-circuit curve above it by the current times the resistance (Ohm's law)
    - Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), US Army TM
      5-3805-262-20 (lead); lihv is extrapolated, not measured
    - Resistance against temperature: 20 kJ/mol, general lithium-ion (tables shipped by simses 1.3, BSD-3); what
      lead-acid loses in the cold: from memory
    - 5 millivolts of error in each cell's reading: this project's own judgement
    """

    measured_capacity: Annotated[Quantity, "mAh"] | None
    """Capacity of the pack at 25 °C; none where too little of it was drawn to tell [mAh]."""
    capacity_left: float | None
    """That over the label's capacity; none without either."""
    left_behind: float
    """Part of its charge that the pack still had when the discharge was cut off."""
    pack_resistance: Annotated[Quantity, "mΩ"]
    """Resistance of the whole pack over a long load, fast and slow part [mΩ]."""
    cell_resistance: Annotated[Quantity, "mΩ"]
    """Mean resistance of a cell, as a load of a second would show it [mΩ]."""
    resistance_at_25C: Annotated[Quantity, "mΩ"]  # noqa: N815
    """Resistance of the pack as it would be at 25 °C, to compare with others [mΩ]."""


@dataclass(frozen=True, kw_only=True, repr=False)
class Endurance(TypedAnswer):
    """Answer of `endurance`. It rests on:

    - Discharge of an equivalent circuit with one RC pair and a heat balance; compared with the library thevenin
      0.2.1 and PyBaMM 26.10
    - Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), US Army TM
      5-3805-262-20 (lead); lihv is extrapolated, not measured
    - Resistance against temperature: 20 kJ/mol, general lithium-ion (tables shipped by simses 1.3, BSD-3)
    - Peukert's law with exponents of 1.05 to 1.25: a utility's page, as quoted; what lead-acid loses in the
      cold, and its charge efficiency of 0.85: from memory
    - Specific heat 1000 J/kgK: published stack values 953 (Ai et al. 2020) and 1069 (Ecker et al. 2015)
    - A reserve of 20 percent, floors under load and 60 degrees: common practice, no published source
    - How far capacity and resistance of a real pack may be off: this project's own judgement; it holds flights
      of five published full-order cells at 0 to 25 degrees (PyBaMM 26.10)
    """

    time_flight: Annotated[Quantity, "min"]
    """Time until the first limit is met [min]."""
    ended_by: EnduranceEndedBy
    """Which limit that is."""
    charge_used: Annotated[Quantity, "mAh"]
    """Charge drawn until then [mAh]."""
    energy_used: Annotated[Quantity, "Wh"]
    """Energy drawn until then, at the pack's terminals [Wh]."""
    charge_to_return: Annotated[Quantity, "mAh"]
    """Charge to put back, to where the flight began: from full, what the charger should show [mAh]."""
    landing_voltage: Annotated[Quantity, "V"] | None
    """Voltage of the pack under load at the end; none if it cannot carry that load [V]."""
    resting_landing_voltage: Annotated[Quantity, "V"]
    """Voltage of the pack at rest after landing [V]."""
    end_temperature: Annotated[Quantity, "°C"]
    """Temperature of the warmest cell at the end [°C]."""
    largest_current: Annotated[Quantity, "A"]
    """The most current that keeps every cell at its floor or above down to the reserve, no warmer than now [A]."""


@dataclass(frozen=True, kw_only=True, repr=False)
class FieldEnergy(TypedAnswer):
    """Answer of `field_energy`. It rests on:

    - Constant power through a source and its leads: Kirchhoff's laws, upper solution; none beyond maximum power
      transfer (OpenStax University Physics vol. 2, ch. 10); runs compared with the library thevenin 0.2.1
    - Peukert's law in the form of the rated hours, t = H * (C / (I * H)) ** k; exponents of 1.1 to 1.25 for
      flooded and about 1.05 for absorbed-glass-mat batteries: a utility's page, as quoted
    - State of lead-acid from voltage: US Army TM 5-3805-262-20; other open-circuit curves: Ai et al. 2020
      (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life); lihv is extrapolated, not measured
    - What lead-acid loses in the cold, 1 percent of its capacity per kelvin below 25 degrees: from memory
    - Half of a lead-acid battery, four fifths of a lithium one, 85 percent efficiency: common practice, no
      published source
    - The charger at its peak power throughout, nothing gained below the rated current, an exponent of 1.25
      where none is told: this project's own judgement, on the safe side
    """

    recharges: float
    """How many packs the source recharges, one after the other; 0 where it may not or cannot."""
    usable_energy: Annotated[Quantity, "Wh"]
    """Energy that the source gives at the charger's input until it ends [Wh]."""
    energy_per_recharge: Annotated[Quantity, "Wh"]
    """Energy that a recharge takes at the charger's input, idle draw included; the packs' mean [Wh]."""
    input_current: Annotated[Quantity, "A"] | None
    """Largest current drawn from the source; none where nothing is charged or it cannot carry it [A]."""
    input_voltage_lowest: Annotated[Quantity, "V"] | None
    """Lowest voltage at the charger's input; none likewise [V]."""
    ended_by: FieldEnergyEndedBy | None
    """What ends it: the source used to its depth, the input below its floor, or no more power; none where nothing
    is charged.
    """


@dataclass(frozen=True, kw_only=True, repr=False)
class FlightTimer(TypedAnswer):
    """Answer of `flight_timer`. It rests on:

    - Mean current is charge over time; a timer is the charge that may be used over that current (ampere-hour
      ratings as in Lessons in Electric Circuits vol. I, batteries)
    - A reserve of 20 percent: common practice, no published source
    - What the cold takes: this project's own judgement, from resistance by 20 kJ/mol (general lithium-ion,
      tables shipped by simses 1.3, BSD-3), a cautious resistance by chemistry, and the open-circuit curves
    - How far another flight and a charger's count may differ: this project's own judgement
    """

    timer: Annotated[Quantity, "min"]
    """What to set the timer to: then the reserve of the next pack is left; at most three times the last flight
    [min].
    """
    average_current: Annotated[Quantity, "A"]
    """Mean current of the last flight [A]."""
    average_rate: float
    """That current in multiples of the last pack's capacity per hour."""


@dataclass(frozen=True, kw_only=True, repr=False)
class GroupCharge(TypedAnswer):
    """Answer of `group_charge`. It rests on:

    - Batteries in parallel share a current by their resistances (Lessons in Electric Circuits vol. I,
      batteries) and by their states: equivalent circuits with one RC pair each, integrated; compared with the
      simulator ngspice 39 and the library thevenin 0.2.1
    - Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), US Army TM
      5-3805-262-20 (lead); lihv is extrapolated, not measured
    - No lithium charge below 0 or above 40 degrees: NFPA, quoted by the US Fire Administration; a fifth of the
      usual current from 0 to 10 degrees: default of a published charger circuit (TI BQ25882); 4.10 instead of
      4.20 volts there: a Japanese guideline as told by TI. Bands of other kinds: common practice, from memory
    - At most a tenth of the capacity an hour below 3.0 V a cell: a cell maker's page; none below 2.5 V, half a
      volt less for lithium-iron-phosphate, and a fifth with a cell that stands out: this project's own
      judgement
    - Usual rates, end of charge at a tenth, 85 percent efficiency, a charge rate of 1 as the limit of a join,
      main leads before balance plugs: common practice, no published source
    """

    total_current: Annotated[Quantity, "A"]
    """Current to set; 0 where the packs must not be charged together [A]."""
    limited_by: GroupChargeLimitedBy
    """What sets it: a limit of a pack, of charger or supply, or that they may not be joined."""
    end_voltage: Annotated[Quantity, "V"]
    """Voltage of the group at which the charger holds [V]."""
    packs: tuple[GroupShare, ...]
    """What each pack takes."""
    supply_power: Annotated[Quantity, "W"]
    """Most drawn from the supply [W]."""
    time_total: Annotated[Quantity, "min"] | None
    """Time to the end of charge; none where nothing is charged or no time is known [min]."""
    within_limit: bool
    """Whether the packs may be joined, as parallel-join has it."""
    peak_rate: float
    """Highest rate at which a pack is charged by the others when they are joined."""
    time_to_settle: Annotated[Quantity, "min"] | None
    """Time from joining until all currents between the packs stay below a tenth of the capacity an hour; none
    where they must not be joined [min].
    """
    stop_temperature: Annotated[Quantity, "°C"]
    """Stop the charge if any pack gets this warm [°C]."""


@dataclass(frozen=True, kw_only=True, repr=False)
class LeadLoss(TypedAnswer):
    """Answer of `lead_loss`. It rests on:

    - Copper: 1/58 ohm mm²/m at 20 degrees (IEC 60028), 0.00393 per kelvin; gauges by ASTM B258; compared with
      published wire tables, the limits of IEC 60228 and the worked drops of FAA AC 43.13-1B
    - Heating without any cooling: density 8.96 g/cm³ and 385 J/kgK of copper
    - A drop of 3 percent, and a conductor at 50 degrees: common practice, no published source
    - The warning above 10 watts a metre: this project's own judgement. No verdict on ampacity: published tables
      are for long wires in hot bundles, and none fits short leads in moving air
    """

    resistance: Annotated[Quantity, "mΩ"]
    """Resistance of the lead, both conductors together [mΩ]."""
    drop: Annotated[Quantity, "V"]
    """Voltage lost in the lead [V]."""
    drop_fraction: float | None
    """That part of the voltage; none without the voltage."""
    loss_power: Annotated[Quantity, "W"]
    """Power that the lead turns into heat [W]."""
    loss_per_metre: Annotated[Quantity, "W/m"]
    """That per metre of lead, both conductors together [W/m]."""
    heating_rate: Annotated[Quantity, "K/s"]
    """How fast the copper warms while no heat leaves it [K/s]."""
    gauge_for_drop: str | None
    """Thinnest size sold that keeps the drop limit and stays under 10 W/m, in the kind of size asked; none without
    the voltage, or if none does.
    """


@dataclass(frozen=True, kw_only=True, repr=False)
class LetDown(TypedAnswer):
    """Answer of `let_down`. It rests on:

    - Ohm's law along the open-circuit curve, checked by scipy; curves: Ai et al. 2020 (lipo), Chen et al. 2020
      (liion), Prada et al. 2013 (life), US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured
    - Values that resistors are sold in: the E12 series of IEC 60063, from memory
    - A filament's current goes with the 0.55th power of its voltage: lamp engineers' rule, from memory
    - A resistor rated for twice its heat, 0.3 of the capacity an hour, storage voltages: common practice, no
      published source
    """

    load_resistance: Annotated[Quantity, "mΩ"] | None
    """Resistor to use, of those sold, or the one told; none with lamps or nothing to do [mΩ]."""
    lamps: int | None
    """Lamps to connect in series, so that none is driven too hard; none without lamps."""
    current_start: Annotated[Quantity, "A"] | None
    """Current to begin with; none where nothing is to be done [A]."""
    power_start: Annotated[Quantity, "W"] | None
    """Heat in resistor or lamps to begin with; none with the current [W]."""
    advised_rating: Annotated[Quantity, "W"] | None
    """Rating of the resistor to look for; none without one [W]."""
    charge_to_move: Annotated[Quantity, "mAh"]
    """Charge to take out; 0 where nothing is to be done [mAh]."""
    energy_released: Annotated[Quantity, "Wh"]
    """Energy that turns to heat in resistor or lamps [Wh]."""
    time_total: Annotated[Quantity, "min"] | None
    """Time until it is to be disconnected; none with the current [min]."""
    stop_voltage: Annotated[Quantity, "V"] | None
    """Voltage of the pack, load connected, at which to disconnect it; none likewise [V]."""
    end_voltage: Annotated[Quantity, "V"]
    """Voltage of the pack at rest afterwards [V]."""


@dataclass(frozen=True, kw_only=True, repr=False)
class LoadTest(TypedAnswer):
    """Answer of `load_test`. It rests on:

    - Resistance from two currents: the method of IEC 61960 (0.2 It for 10 s, then 1.0 It for 1 s), as quoted by
      others, not read in full; OpenStax University Physics vol. 2, ch. 10.1
    - More than two readings: least squares with its standard error, 95 percent by Student's t
    - Resistance against temperature: 20 kJ/mol, general lithium-ion, published tables 15 to 25 (shipped by
      simses 1.3, BSD-3)
    - Readings of unequal duration, and how much less a fast reading shows: this project's own judgement
    """

    pack_resistance: Annotated[Quantity, "mΩ"] | None
    """Resistance of the pack at its temperature, leads taken off; none where the readings leave it none [mΩ]."""
    cell_resistances: tuple[Annotated[Quantity, "mΩ"], ...] | None
    """Resistance of each cell; none without the cells' voltages, or where they leave a cell none [mΩ]."""
    rest_voltage: Annotated[Quantity, "V"] | None
    """Voltage at no current, by the line through the readings; none without a resistance [V]."""
    standard_error: Annotated[Quantity, "mΩ"] | None
    """Standard error of the pack's resistance; none for two readings [mΩ]."""
    resistance_at_25C: Annotated[Quantity, "mΩ"] | None  # noqa: N815
    """The pack's resistance converted to 25 °C; none likewise [mΩ]."""
    weakest_cell: int | None
    """Cell with the highest resistance, from 1; none without the cells' resistances."""


@dataclass(frozen=True, kw_only=True, repr=False)
class MatchPacks(TypedAnswer):
    """Answer of `match_packs`. It rests on:

    - Packs in series carry one current, packs in parallel share it by the inverse of their resistances
      (OpenStax College Physics, ch. 21.1)
    - The best grouping of few packs by trying every set of them once; compared with scipy's integer programming
    - How much capacity, resistance and age count beside each other, and what is too unlike: this project's own
      judgement
    """

    groups: tuple[PackGroup, ...]
    """The groups, the most alike first."""
    left_out: tuple[LeftOut, ...]
    """The packs that are in none."""
    total_mismatch: float
    """Sum of the groups' mismatches, which is the least that can be."""
    proven: bool
    """Whether no grouping can be better; else it is the best that was found."""


@dataclass(frozen=True, kw_only=True, repr=False)
class NickelCharge(TypedAnswer):
    """Answer of `nickel_charge`. It rests on:

    - Standard charge of 0.1 of the capacity an hour for 16 hours from empty: IEC 61951-1 (nickel-cadmium) and
      61951-2 (nickel-metal-hydride), from memory; 14 hours at least: common practice, no published source
    - Ways to end a charge (timer, fall of voltage, cut-off temperature, slope of temperature): contents of a
      maker's handbook; falls of 5 to 10 (nickel-metal-hydride) and 10 to 20 mV a cell (nickel-cadmium) and 1
      degree a minute: from memory, the earlier end taken
    - What a fast charge takes beyond the capacity, stops at 50 degrees, and 0 to 40 degrees with a fifth of the
      usual up to 10: common practice and this project's own judgement
    """

    current: Annotated[Quantity, "A"]
    """Charge current; 0 where it must not be charged or is full [A]."""
    rate: float
    """The same in multiples of the capacity per hour."""
    end_method: NickelChargeEndMethod | None
    """What ends the charge: a timer, or the small fall of voltage of a full pack; none without a charge."""
    time_total: Annotated[Quantity, "min"] | None
    """Time to the end as a rule; none without a charge [min]."""
    time_limit: Annotated[Quantity, "min"] | None
    """Time at which a timer ends it in any case; none without a charge [min]."""
    charge_added: Annotated[Quantity, "mAh"]
    """What the charger counts as a rule: more than was missing, since the rest turns to heat [mAh]."""
    voltage_fall: Annotated[Quantity, "V"] | None
    """Fall of the pack's voltage from its peak at which to stop; none on a timer [V]."""
    stop_temperature: Annotated[Quantity, "°C"]
    """Stop if the pack gets this warm [°C]."""
    stop_heating_rate: Annotated[Quantity, "K/s"]
    """Stop a fast charge if the pack warms this fast [K/s]."""


@dataclass(frozen=True, kw_only=True, repr=False)
class PackFitness(TypedAnswer):
    """Answer of `pack_fitness`. It rests on:

    - Draw from resistance: heat balance and open-circuit curve as in safe-draw; a limit on draw from measured
      resistance is this project's own judgement, no standard gives one
    - Comparison with like packs: median and median absolute deviation, modified z-score 3.5 (Iglewicz and
      Hoaglin 1993, from memory)
    - Retire at 80 percent of the rated capacity or at twice the resistance: common practice, no published
      source
    - Not swollen, damaged, crushed or wet ones: Seattle and South Wales fire services
    - All other thresholds: this project's own judgement
    """

    verdict: PackFitnessVerdict
    """Fit for flight; sound but too weak for the current asked; for light duty on the ground; or to be retired."""
    reasons: tuple[Reason, ...]
    """What decides, gravest first; what was looked at where nothing is wrong."""
    resistance_ratio: float | None
    """Mean cell resistance over that when new or of like packs; none without either."""
    resistance_spread: float
    """Highest cell resistance over the median of the cells."""
    capacity_left: float | None
    """Measured capacity over the label's; none without a measured one."""
    continuous_current: Annotated[Quantity, "A"]
    """Most current for a whole flight, margin kept [A]."""
    burst_current: Annotated[Quantity, "A"]
    """Most current for a burst late in the flight, margin kept [A]."""
    weakest_cell: int
    """Cell that meets its floor first, from 1."""


@dataclass(frozen=True, kw_only=True, repr=False)
class PackForModel(TypedAnswer):
    """Answer of `pack_for_model`. It rests on:

    - Charge is current times time (Lessons in Electric Circuits vol. I, battery ratings); voltage under load by
      Ohm's law; heat balance of a cell with one RC pair, solved in closed form; compared with scipy
    - Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), US Army TM
      5-3805-262-20 (lead); lihv is extrapolated, not measured
    - Resistance against temperature: 20 kJ/mol, general lithium-ion (tables shipped by simses 1.3, BSD-3)
    - A reserve of 20 percent, 80 percent of the label for a pack that has aged, 60 degrees, floors under load:
      common practice, no published source
    - Half of a label's rate to count on, a margin of 0.8 on the heat, energy by mass: this project's own
      judgement
    """

    average_current: Annotated[Quantity, "A"]
    """Mean current of the flight [A]."""
    capacity_needed: Annotated[Quantity, "mAh"]
    """Capacity to look for on the label, reserve and ageing counted [mAh]."""
    rate_needed: float
    """Discharge rate to look for on the label."""
    largest_resistance: Annotated[Quantity, "mΩ"] | None
    """Most resistance that one of its cells may have, under load for a second at 25 °C; none if none would do
    [mΩ].
    """
    resistance_limited_by: PackForModelResistanceLimitedBy
    """What sets it: the floor at the highest current near the end, or the heat."""
    energy_needed: Annotated[Quantity, "Wh"]
    """Energy on the label of such a pack [Wh]."""
    mass_expected: Annotated[Quantity, "g"]
    """Mass of such a pack, by what good cells weigh [g]."""
    within_mass: bool | None
    """Whether a heavy one of that kind keeps to the mass allowed; not told without it."""
    suits: bool | None
    """Whether the pack that was told suits; not told without one."""
    binds: PackForModelBinds | None
    """What of that pack is nearest its limit or most beyond it; likewise."""
    load_factor: float | None
    """How much of what binds is used; above 1 it does not suit; likewise."""


@dataclass(frozen=True, kw_only=True, repr=False)
class ParallelJoin(TypedAnswer):
    """Answer of `parallel_join`. It rests on:

    - Current between joined batteries: difference of voltage over the sum of resistances (OpenStax College
      Physics, ch. 21.2)
    - The exchange over time: equivalent circuits with one RC pair each; compared with the simulator ngspice 39
    - Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), US Army TM
      5-3805-262-20 (lead); lihv is extrapolated, not measured
    - A charge rate of 1 as the limit, main leads before balance plugs, a tenth of a volt a cell: common
      practice, no published source
    - Less in the cold and with a low cell, as for any charge; what counts as settled; cells 0.1 V apart and 30
      milliohm a balance wire: this project's own judgement
    """

    within_limit: bool
    """Whether the packs may be joined: no pack is charged above its limit, and no cell above full."""
    initial_currents: tuple[Annotated[Quantity, "A"], ...]
    """Current of each pack at the first instant, positive into the pack; 0 where they must not be joined [A]."""
    peak_rate: float
    """Highest rate at which any pack is charged."""
    time_above_limit: Annotated[Quantity, "min"]
    """Time for which any pack is charged above its limit [min]."""
    settled_voltage: Annotated[Quantity, "V"] | None
    """Voltage of all packs in the end; none where they must not be joined [V]."""
    time_to_settle: Annotated[Quantity, "min"] | None
    """Time until all currents stay below a tenth of the capacity an hour; none likewise [min]."""
    charge_moved: Annotated[Quantity, "mAh"]
    """Charge that leaves the fuller packs, until all are at rest [mAh]."""
    largest_difference: Annotated[Quantity, "V"]
    """Largest difference per cell, between packs at rest, that stays within the limits at the low edge of the
    resistances; 0 where the packs must not be joined at all [V].
    """
    largest_cell_difference: Annotated[Quantity, "V"] | None
    """Most by which cells of one place differ; none where no pack's cells were told one by one [V]."""
    balance_wire_current: Annotated[Quantity, "A"] | None
    """Most through a wire of the balance plugs, 30 mΩ a tap, where these are joined as well; none likewise [A]."""


@dataclass(frozen=True, kw_only=True, repr=False)
class ReceiverTime(TypedAnswer):
    """Answer of `receiver_time`. It rests on:

    - Time is charge over current (ampere-hour ratings as in Lessons in Electric Circuits vol. I, batteries);
      voltage under load by Ohm's law, a regulator as a load of constant power
    - Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), US Army TM
      5-3805-262-20 (lead); lihv is extrapolated, not measured; nickel is taken at its nominal voltage
    - A reserve of half the pack, an aged pack's 80 percent, servos a fifth of the time at their stall current,
      and a receiver that fails below 4 volts: common practice and this project's own judgement, on the safe
      side; so is that nobody takes off for less than five minutes without having meant to
    """

    verdict: ReceiverTimeVerdict
    """Whether to take off with this pack."""
    time_safe: Annotated[Quantity, "min"]
    """Time in the air before the reserve or the floor is met; 0 where it must not take off at all [min]."""
    mean_current: Annotated[Quantity, "A"] | None
    """Mean current drawn from the pack; none where it cannot carry it [A]."""
    stall_current: Annotated[Quantity, "A"] | None
    """Current from the pack with all servos stalled; none where it cannot carry it [A]."""
    stall_voltage: Annotated[Quantity, "V"] | None
    """Voltage at the pack's plug with all servos stalled, at the end of that time; none with the current [V]."""
    holds: bool
    """Whether that is at the floor or above, so that the receiver goes on."""
    charge_used: Annotated[Quantity, "mAh"]
    """Charge used in that time [mAh]."""


@dataclass(frozen=True, kw_only=True, repr=False)
class SafeDraw(TypedAnswer):
    """Answer of `safe_draw`. It rests on:

    - Heat balance of a cell with one RC pair, solved in closed form; compared with the library thevenin 0.2.1
    - Specific heat 1000 J/kgK: published stack values 953 (Ai et al. 2020) and 1069 (Ecker et al. 2015)
    - Reversible heat of lipo and lihv: mean of the entropy curve of Ai et al. 2020 from full to 20 percent
    - Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), US Army TM
      5-3805-262-20 (lead); lihv is extrapolated, not measured
    - Resistance against temperature: 20 kJ/mol, general lithium-ion (tables shipped by simses 1.3, BSD-3)
    - A limit on draw from measured resistance, and the margin on it: this project's own judgement; no standard
      gives one. 80 percent used in a flight and 60 degrees: common practice, no published source
    """

    continuous_current: Annotated[Quantity, "A"]
    """Most current for a whole flight, margin kept [A]."""
    burst_current: Annotated[Quantity, "A"]
    """Most current for a burst late in the flight, margin kept [A]."""
    continuous_rate: float
    """The continuous current in multiples of the capacity per hour."""
    burst_rate: float
    """The burst current in multiples of the capacity per hour."""
    continuous_limited_by: SafeDrawContinuousLimitedBy
    """What sets the continuous current."""
    burst_limited_by: SafeDrawContinuousLimitedBy
    """What sets the burst current."""
    current_limit_by_heat: Annotated[Quantity, "A"]
    """Current whose flight from full ends at the limit temperature [A]."""
    current_limit_by_voltage: Annotated[Quantity, "A"]
    """Current that brings the weakest cell to its floor at the end of the flight [A]."""
    current_limit_by_label: Annotated[Quantity, "A"] | None
    """Current of the label's rate; none without it [A]."""
    burst_limit_by_voltage: Annotated[Quantity, "A"]
    """Current that brings the weakest cell to its floor at the end of a burst [A]."""
    burst_limit_by_heat: Annotated[Quantity, "A"]
    """Current whose burst ends at the limit temperature [A]."""
    weakest_cell: int
    """Cell that meets its floor first, from 1."""
    loaded_voltage: Annotated[Quantity, "V"]
    """Voltage of the pack at the continuous current, at the end of the flight [V]."""
    end_temperature: Annotated[Quantity, "°C"]
    """Temperature of the warmest cell then [°C]."""


@dataclass(frozen=True, kw_only=True, repr=False)
class Sag(TypedAnswer):
    """Answer of `sag`. It rests on:

    - Terminal voltage of a source with resistance (OpenStax University Physics vol. 2, ch. 10.1) and the step
      of an RC pair (ch. 10.5)
    - Constant power: the upper solution of a quadratic, none beyond maximum power transfer
    - Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), US Army TM
      5-3805-262-20 (lead); lihv is extrapolated, not measured
    - Resistance against temperature: 20 kJ/mol, general lithium-ion (tables shipped by simses 1.3, BSD-3)
    - Floors under load: common practice, no published source; slow resistance half of the fast one: a fit
    """

    rest_voltage: Annotated[Quantity, "V"]
    """Voltage of the pack at rest, before the load [V]."""
    loaded_voltage: Annotated[Quantity, "V"] | None
    """Voltage after the leads at the end of the duration; none if not carried [V]."""
    sag: Annotated[Quantity, "V"] | None
    """Rest less loaded voltage, leads included; none if not carried [V]."""
    current: Annotated[Quantity, "A"] | None
    """Current at the end of the duration; none if not carried [A]."""
    loaded_cell_voltages: tuple[Annotated[Quantity, "V"], ...] | None
    """Voltage of each cell then, before the leads; none if not carried [V]."""
    weakest_cell: int | None
    """Cell with the lowest voltage then, from 1; none if not carried."""
    weakest_cell_voltage: Annotated[Quantity, "V"] | None
    """Its voltage; none if not carried [V]."""
    holds: bool
    """Whether every cell stays at its floor or above to the end of the duration."""
    delivered_power: Annotated[Quantity, "W"] | None
    """Power at the load then; none if not carried [W]."""
    heat: Annotated[Quantity, "W"] | None
    """Heat released in the pack then; none if not carried [W]."""
    time_to_floor: Annotated[Quantity, "min"] | None
    """How long this load can go on until a cell meets its floor or is empty; none if it never does or starts below
    [min].
    """
    largest_power: Annotated[Quantity, "W"]
    """The most power that keeps every cell at its floor or above to the end of the duration [W]."""
    largest_current: Annotated[Quantity, "A"]
    """The most current that keeps every cell at its floor or above so long [A]."""


@dataclass(frozen=True, kw_only=True, repr=False)
class SeriesJoin(TypedAnswer):
    """Answer of `series_join`. It rests on:

    - All cells of packs in series carry one current, and their voltages add up (OpenStax College Physics, ch.
      21.1); equivalent circuits with one RC pair a cell, compared with scipy and the simulator ngspice 39
    - Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), US Army TM
      5-3805-262-20 (lead); lihv is extrapolated, not measured
    - A reserve of 20 percent, floors under load, charging packs of a series apart: common practice, no
      published source
    - How far packs in series may differ: this project's own judgement
    """

    verdict: SeriesJoinVerdict
    """Whether the packs may be flown in series, with care where they differ, or must not be."""
    time_flight: Annotated[Quantity, "min"]
    """Time until the first pack is at its reserve, or a cell at its floor; 0 if never [min]."""
    ended_by: SeriesJoinEndedBy | None
    """Which of the two that is; not told where they must not be joined."""
    first_pack: int | None
    """Pack that empties first, from 1; none where all are empty together or must not be joined."""
    charges_left: tuple[Annotated[Quantity, "mAh"], ...] | None
    """Charge that each pack has left when the first is at its reserve; not told where they must not be joined
    [mAh].
    """
    spare_charge: Annotated[Quantity, "mAh"] | None
    """Most charge that a pack then has above its own reserve, never to be used; not told likewise [mAh]."""
    charge_used: Annotated[Quantity, "mAh"]
    """Charge drawn from every pack in the time of flight [mAh]."""
    time_to_floor: Annotated[Quantity, "min"] | None
    """Time until a cell meets its floor under this load, reserve or not; not told likewise [min]."""
    floor_pack: int | None
    """Pack of that cell, from 1; not told likewise."""
    charge_to_empty: Annotated[Quantity, "mAh"] | None
    """Charge drawn from which on the others drive the first pack's weakest cell below empty; not told likewise
    [mAh].
    """
    time_to_empty: Annotated[Quantity, "min"] | None
    """Time until then at this current; not told likewise [min]."""
    rest_voltage: Annotated[Quantity, "V"]
    """Voltage of all packs together at rest [V]."""
    loaded_voltage: Annotated[Quantity, "V"] | None
    """The same behind the leads, at the end of the duration; none where it collapses [V]."""
    capacity_difference: float
    """Part by which the smallest pack's capacity is below the largest's."""
    state_difference: float
    """Most by which the packs' mean states of charge differ."""
    resistance_difference: float
    """Part by which the least mean resistance of a pack's cells is below the largest."""


@dataclass(frozen=True, kw_only=True, repr=False)
class StandingLoss(TypedAnswer):
    """Answer of `standing_loss`. It rests on:

    - One cell that falls alone is the best sign of a bad pack: common practice, no published source
    - Resting floors: common practice, no published source
    - State of charge from resting voltage: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013
      (life), US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured
    - Each cell is held against the median of the others; thresholds: this project's own judgement
    """

    loss_per_day: tuple[Annotated[Quantity, "mV/day"], ...]
    """What each cell loses a day; below zero where it rose [mV/day]."""
    worst_cell: int
    """Cell that loses most, from 1."""
    verdict: StandingLossVerdict
    """Steady, to be watched, or to be retired."""
    days_to_floor: float | None
    """Days from the second reading until the first cell meets its resting floor at its rate; 0 where one is there,
    none where none falls.
    """
    charge_lost: tuple[Annotated[Quantity, "mAh"], ...] | None
    """Charge that each cell lost in all, by the chemistry's own curve; none without the capacity [mAh]."""


@dataclass(frozen=True, kw_only=True, repr=False)
class Storage(TypedAnswer):
    """Answer of `storage`. It rests on:

    - Storage voltages of 3.80 to 3.85 V a cell: common practice, no published source; life at half its charge
      and lead full likewise
    - Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), US Army TM
      5-3805-262-20 (lead); lihv is extrapolated, not measured
    - Charge at constant current and discharge at constant power of an equivalent circuit with one RC pair;
      compared with the library thevenin 0.2.1 and PyBaMM 26.10
    - No lithium charge below 0 or above 40 degrees: NFPA, quoted by the US Fire Administration; a fifth of the
      usual current from 0 to 10 degrees: default of a published charger circuit (TI BQ25882); 4.10 instead of
      4.20 volts there: a Japanese guideline as told by TI. Bands of other kinds: common practice, from memory
    - At most a tenth of the capacity an hour below 3.0 V a cell: a cell maker's page; none below 2.5 V, half a
      volt less for lithium-iron-phosphate, and a fifth with a cell that stands out: this project's own
      judgement
    - When a pack is near enough to leave, and what is a long discharge: this project's own judgement
    """

    action: StorageAction
    """Charge, discharge, or leave the pack as it is."""
    charge_to_move: Annotated[Quantity, "mAh"] | None
    """Charge to put in or take out; 0 where nothing is moved, none without capacity [mAh]."""
    time_total: Annotated[Quantity, "min"] | None
    """Time that takes; none where nothing is moved, without capacity, and where none is known [min]."""
    end_voltage: Annotated[Quantity, "V"]
    """Voltage of the pack at rest afterwards; as it is where nothing is moved [V]."""
    current: Annotated[Quantity, "A"] | None
    """Current to charge at; none where nothing is charged, and without capacity [A]."""


@dataclass(frozen=True, kw_only=True, repr=False)
class SupplySplit(TypedAnswer):
    """Answer of `supply_split`. It rests on:

    - Power is voltage times current (OpenStax University Physics vol. 2, ch. 9.5)
    - Constant-power loads on one source: Kirchhoff's laws, upper solution; compared with the simulator ngspice
      39
    - Even share: max-min fairness
    - Headroom, steps of ratings and usual rates: common practice, no published source
    """

    fits: bool
    """Whether all loads are met with the headroom kept."""
    asked_power: Annotated[Quantity, "W"]
    """Power asked for in all, each load up to a whole step [W]."""
    supply_needed: Annotated[Quantity, "W"]
    """Rating that would meet all loads with the headroom kept [W]."""
    spare_power: Annotated[Quantity, "W"]
    """Power left when all loads are met; 0 where they are not [W]."""
    allotments: tuple[Allotment, ...]
    """What each load gets."""
    bus_voltage: Annotated[Quantity, "V"] | None
    """Voltage at the bus under all loads as asked; none without the supply's, or if it collapses [V]."""
    load_factor: float | None
    """Largest common multiple of the loads that source and leads can carry; none where nothing limits it."""
    input_holds: bool | None
    """Whether every load's input stays at the floor or above; no answer without a floor."""


@dataclass(frozen=True, kw_only=True, repr=False)
class WarmUp(TypedAnswer):
    """Answer of `warm_up`. It rests on:

    - Conduction in a plane wall that takes its heat from air: Incropera, DeWitt, Fundamentals of Heat and Mass
      Transfer (from memory); compared with the method of lines by scipy
    - What air gives: 2 to 25 W/m²K free, 25 to 250 forced (Çengel, publisher's notes); which of it a pack
      meets, its shape and its conductivity: this project's own judgement
    - Specific heat 1000 J/kgK: published stack values 953 (Ai et al. 2020) and 1069 (Ecker et al. 2015)
    - 20 degrees for flying: this project's own judgement; resistance is then within a seventh of that at 25, by
      20 kJ/mol (general lithium-ion, tables shipped by simses 1.3, BSD-3)
    """

    time_to_target: Annotated[Quantity, "min"] | None
    """Time until the middle of the pack is at the target; 0 where it is there, none where the air is too cold, or
    so hot that it harms the pack [min].
    """
    skin_temperature: Annotated[Quantity, "°C"] | None
    """What its skin has then come to, where a thermometer reads; none with the time [°C]."""
    time_to_halve: Annotated[Quantity, "min"]
    """Time in which the difference to the air halves, once the start is over [min]."""


@dataclass(frozen=True, kw_only=True, repr=False)
class Wattage(TypedAnswer):
    """Answer of `wattage`. It rests on:

    - Power is voltage times current (OpenStax University Physics vol. 2, ch. 9.5)
    - Nominal and end-of-charge voltages: cell standards and data sheets; 1.6 V a cell for nickel chemistries:
      this project's own judgement
    - Charger efficiency 0.85 of 0.80 to 0.95, headroom and usual rates: common practice, no published source
    """

    nominal_power: Annotated[Quantity, "W"]
    """Nominal voltage times current; too small to size a supply by [W]."""
    peak_power: Annotated[Quantity, "W"]
    """End-of-charge voltage times current: the most that goes in [W]."""
    supply_power: Annotated[Quantity, "W"]
    """The most that the charger draws from its supply [W]."""
    current: Annotated[Quantity, "A"]
    """Charge current as asked; 0 where the pack must not be charged [A]."""
    supply_current: Annotated[Quantity, "A"] | None
    """Current from the supply at that peak; none without its voltage [A]."""
    advised_rating: Annotated[Quantity, "W"]
    """Supply rating to have: headroom kept, up to a whole step [W]."""
    fits: bool | None
    """Whether the power available carries this charge; no answer without these."""
    overload: Annotated[Quantity, "W"] | None
    """By how much the charge exceeds the power available; none likewise [W]."""


class Calculators(ClientBase):
    """One method for each calculator."""

    _pack_class = Pack
    _kinds: ClassVar[Kinds] = {
        "alarm-voltage": AlarmVoltage,
        "balance-need": BalanceNeed,
        "capacity-check": CapacityCheck,
        "carriage": Carriage,
        "charge-current": ChargeCurrent,
        "charge-left": ChargeLeft,
        "charge-session": ChargeSession,
        "charge-temperature": ChargeTemperature,
        "cool-down": CoolDown,
        "counted-discharge": CountedDischarge,
        "endurance": Endurance,
        "field-energy": FieldEnergy,
        "flight-timer": FlightTimer,
        "group-charge": GroupCharge,
        "lead-loss": LeadLoss,
        "let-down": LetDown,
        "load-test": LoadTest,
        "match-packs": MatchPacks,
        "nickel-charge": NickelCharge,
        "pack-fitness": PackFitness,
        "pack-for-model": PackForModel,
        "parallel-join": ParallelJoin,
        "receiver-time": ReceiverTime,
        "safe-draw": SafeDraw,
        "sag": Sag,
        "series-join": SeriesJoin,
        "standing-loss": StandingLoss,
        "storage": Storage,
        "supply-split": SupplySplit,
        "warm-up": WarmUp,
        "wattage": Wattage,
    }
    """The class of each calculator's answers."""

    def alarm_voltage(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        current: QuantityLike,
        reserve: float | str | None = None,
        capacity: QuantitiesLike | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
        cell_resistance: QuantitiesLike | None = None,
        pack_resistance: QuantityLike | None = None,
        resistance_method: ResistanceMethod | None = None,
        resistance_temperature: QuantityLike | None = None,
        polarisation_resistance: QuantitiesLike | None = None,
        polarisation_time: QuantityLike | None = None,
        temperature: QuantityLike | None = None,
    ) -> AlarmVoltage:
        """Where the low-voltage warning belongs: the voltage under load with the reserve left, never below the floor.

        At most one of `cell_resistance` and `pack_resistance`.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `current`: current drawn when the warning is to come. In A; above 0; at most 20 kA; for example 48 A.
        - `reserve`: part of the capacity left when it comes. At least 0; at most 0.99; for example 0.25. If not
          given: 0.25.
        - `capacity`: capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most
          200 Ah; for example 2250 mAh.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `cells`: number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given:
          told by a list with an entry per cell.
        - `cell_resistance`: resistance of one cell, or of each cell. In mΩ; above 0; at most 10 Ω; for example 8.5
          mΩ. If not given: the least by chemistry, divided by the capacity.
        - `pack_resistance`: resistance of the whole pack; divided evenly among the cells. In mΩ; above 0; at most
          100 Ω; for example 25.5 mΩ.
        - `resistance_method`: how the resistance was measured: at 1 kHz, by a charger, or under load for one or ten
          seconds. If not given: 1s.
        - `resistance_temperature`: temperature of the cells when the resistance was measured. In °C; at least -20
          °C; at most 70 °C; for example 25 °C. If not given: 25 °C.
        - `polarisation_resistance`: slow part of a cell's resistance, which appears over the polarisation time;
          one, or one per cell. In mΩ; at least 0; at most 10 Ω; for example 4.2 mΩ. If not given: half of the cell
          resistance.
        - `polarisation_time`: time constant of the slow part. In s; at least 0.1 s; at most 3600 s; for example 30
          s. If not given: 30 s.
        - `temperature`: temperature of the pack now. In °C; at least -20 °C; at most 70 °C; for example 25 °C. If
          not given: 25 °C.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "alarm-voltage",
            AlarmVoltage,
            {
                "current": current,
                "reserve": reserve,
                "capacity": capacity,
                "chemistry": chemistry,
                "cells": cells,
                "cell_resistance": cell_resistance,
                "pack_resistance": pack_resistance,
                "resistance_method": resistance_method,
                "resistance_temperature": resistance_temperature,
                "polarisation_resistance": polarisation_resistance,
                "polarisation_time": polarisation_time,
                "temperature": temperature,
            },
            pack=pack,
            exclusive=(("cell_resistance", "pack_resistance"),),
        )

    def balance_need(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        limit: QuantityLike | None = None,
        bleed_current: QuantityLike | None = None,
        rested: bool | None = None,
        cell_voltages: QuantitiesLike | None = None,
        chemistry: Chemistry | None = None,
        capacity: QuantityLike | None = None,
    ) -> BalanceNeed:
        """Whether cells need levelling, and what their spread means in charge.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `limit`: spread up to which cells count as level enough. In V; above 0; at most 1 V; for example 20 mV. If
          not given: 0.02 V.
        - `bleed_current`: current at which the charger bleeds high cells. In A; above 0; at most 100 A; for example
          250 mA.
        - `rested`: whether the cells were at rest when measured. If not given: true.
        - `cell_voltages`: voltage of each cell, two or more. In V; at least 0; for example 3.86,3.91,3.87 V.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `capacity`: capacity of the pack. In mAh; at least 10 mAh; at most 200 Ah; for example 3700 mAh.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "balance-need",
            BalanceNeed,
            {
                "limit": limit,
                "bleed_current": bleed_current,
                "rested": rested,
                "cell_voltages": cell_voltages,
                "chemistry": chemistry,
                "capacity": capacity,
            },
            pack=pack,
        )

    def capacity_check(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        charge_returned: QuantityLike,
        before: QuantitiesLike,
        after: QuantitiesLike,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
        capacity: QuantitiesLike | None = None,
    ) -> CapacityCheck:
        """The capacity that a charge between two resting voltages tells of.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `charge_returned`: charge put in between the two readings. In mAh; above 0; at most 200 Ah; for example
          1480 mAh.
        - `before`: resting voltage before the charge: of the pack, or of each cell. In V; at least 0; for example
          11.31 V.
        - `after`: resting voltage after the charge: of the pack, or of each cell. In V; at least 0; for example
          12.57 V.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `cells`: number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given:
          told by a list with an entry per cell.
        - `capacity`: capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most
          200 Ah; for example 2250 mAh.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "capacity-check",
            CapacityCheck,
            {
                "charge_returned": charge_returned,
                "before": before,
                "after": after,
                "chemistry": chemistry,
                "cells": cells,
                "capacity": capacity,
            },
            pack=pack,
        )

    def carriage(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        label_energy: QuantityLike | None = None,
        count: int | None = None,
        capacity: QuantitiesLike | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
        condition: Condition | None = None,
    ) -> Carriage:
        """Watt-hours of a pack, and whether a traveller may take it on an aircraft.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `label_energy`: energy declared on the label; it rules over the computed one. In Wh; above 0; at most 100
          kWh; for example 50.4 Wh.
        - `count`: how many such packs one traveller carries. At least 1; at most 1000; for example 2. If not given:
          1.
        - `capacity`: capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most
          200 Ah; for example 2250 mAh.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `cells`: number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given:
          told by a list with an entry per cell.
        - `condition`: state of the pack's body; anything but sound is not charged, joined or flown. If not given:
          sound.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "carriage",
            Carriage,
            {
                "label_energy": label_energy,
                "count": count,
                "capacity": capacity,
                "chemistry": chemistry,
                "cells": cells,
                "condition": condition,
            },
            pack=pack,
        )

    def charge_current(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        rate: float | str | None = None,
        max_rate: float | str | None = None,
        charger_current_limit: QuantityLike | None = None,
        charger_power_limit: QuantityLike | None = None,
        supply_limit: QuantityLike | None = None,
        efficiency: float | str | None = None,
        taper: float | str | None = None,
        end_cell_voltage: QuantityLike | None = None,
        time_available: QuantityLike | None = None,
        capacity: QuantitiesLike | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
        cell_resistance: QuantitiesLike | None = None,
        pack_resistance: QuantityLike | None = None,
        resistance_method: ResistanceMethod | None = None,
        resistance_temperature: QuantityLike | None = None,
        polarisation_resistance: QuantitiesLike | None = None,
        polarisation_time: QuantityLike | None = None,
        temperature: QuantityLike | None = None,
        state_of_charge: float | str | None = None,
        rest_voltage: QuantityLike | None = None,
        cell_voltages: QuantitiesLike | None = None,
        condition: Condition | None = None,
    ) -> ChargeCurrent:
        """How hard a pack may be charged here, and what comes of it.

        At most one of `state_of_charge`, `rest_voltage` and `cell_voltages`. At most one of `cell_resistance` and
        `pack_resistance`.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `rate`: charge rate, in multiples of the capacity per hour. Above 0; at most 100; for example 1. If not
          given: the chemistry's usual rate.
        - `max_rate`: highest charge rate that the pack's label allows. Above 0; at most 100; for example 2.
        - `charger_current_limit`: most current the charger gives. In A; above 0; at most 20 kA; for example 8 A.
        - `charger_power_limit`: most power the charger puts out. In W; above 0; at most 1 MW; for example 110 W.
        - `supply_limit`: most power the charger may take in. In W; above 0; at most 1 MW; for example 180 W.
        - `efficiency`: part of its input that the charger passes on. At least 0.1; at most 1; for example 0.85. If
          not given: 0.85.
        - `taper`: the charge ends when the current falls to this part of the set one. At least 0.005; at most 0.95;
          for example 0.1. If not given: 0.1.
        - `end_cell_voltage`: voltage per cell at which the charger holds; at most the chemistry's own. In V; above
          1 V; at most 5 V; for example 4.2 V. If not given: the chemistry's own end of charge.
        - `time_available`: time there is to charge. In min; at least 0; at most 10000 min; for example 25 min.
        - `capacity`: capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most
          200 Ah; for example 2250 mAh.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `cells`: number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given:
          told by a list with an entry per cell.
        - `cell_resistance`: resistance of one cell, or of each cell. In mΩ; above 0; at most 10 Ω; for example 8.5
          mΩ. If not given: a cautious figure by chemistry, divided by the capacity.
        - `pack_resistance`: resistance of the whole pack; divided evenly among the cells. In mΩ; above 0; at most
          100 Ω; for example 25.5 mΩ.
        - `resistance_method`: how the resistance was measured: at 1 kHz, by a charger, or under load for one or ten
          seconds. If not given: 1s.
        - `resistance_temperature`: temperature of the cells when the resistance was measured. In °C; at least -20
          °C; at most 70 °C; for example 25 °C. If not given: 25 °C.
        - `polarisation_resistance`: slow part of a cell's resistance, which appears over the polarisation time;
          one, or one per cell. In mΩ; at least 0; at most 10 Ω; for example 4.2 mΩ. If not given: half of the cell
          resistance.
        - `polarisation_time`: time constant of the slow part. In s; at least 0.1 s; at most 3600 s; for example 30
          s. If not given: 30 s.
        - `temperature`: temperature of the pack now. In °C; at least -20 °C; at most 70 °C; for example 25 °C. If
          not given: 25 °C.
        - `state_of_charge`: state of charge of every cell, empty at 0, full at 1 or 100 %. At least 0; at most 1;
          for example 0.2. If not given: 0.2.
        - `rest_voltage`: voltage of the whole pack at rest. In V; at least 0; for example 15.07 V.
        - `cell_voltages`: voltage of each cell at rest. In V; at least 0; for example 3.77,3.76,3.79,3.75 V.
        - `condition`: state of the pack's body; anything but sound is not charged, joined or flown. If not given:
          sound.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "charge-current",
            ChargeCurrent,
            {
                "rate": rate,
                "max_rate": max_rate,
                "charger_current_limit": charger_current_limit,
                "charger_power_limit": charger_power_limit,
                "supply_limit": supply_limit,
                "efficiency": efficiency,
                "taper": taper,
                "end_cell_voltage": end_cell_voltage,
                "time_available": time_available,
                "capacity": capacity,
                "chemistry": chemistry,
                "cells": cells,
                "cell_resistance": cell_resistance,
                "pack_resistance": pack_resistance,
                "resistance_method": resistance_method,
                "resistance_temperature": resistance_temperature,
                "polarisation_resistance": polarisation_resistance,
                "polarisation_time": polarisation_time,
                "temperature": temperature,
                "state_of_charge": state_of_charge,
                "rest_voltage": rest_voltage,
                "cell_voltages": cell_voltages,
                "condition": condition,
            },
            pack=pack,
            exclusive=(
                ("state_of_charge", "rest_voltage", "cell_voltages"),
                ("cell_resistance", "pack_resistance"),
            ),
        )

    def charge_left(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        reserve: float | str | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
        capacity: QuantitiesLike | None = None,
        rest_voltage: QuantityLike | None = None,
        cell_voltages: QuantitiesLike | None = None,
    ) -> ChargeLeft:
        """What a resting voltage says is left in a pack, and whether it flies again.

        Needs one of `rest_voltage` and `cell_voltages`.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `reserve`: state of charge to land with. At least 0; at most 0.95; for example 0.2. If not given: 0.2.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `cells`: number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given:
          told by a list with an entry per cell.
        - `capacity`: capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most
          200 Ah; for example 2250 mAh.
        - `rest_voltage`: voltage of the whole pack at rest. In V; at least 0; for example 15.07 V.
        - `cell_voltages`: voltage of each cell at rest. In V; at least 0; for example 3.77,3.76,3.79,3.75 V.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "charge-left",
            ChargeLeft,
            {
                "reserve": reserve,
                "chemistry": chemistry,
                "cells": cells,
                "capacity": capacity,
                "rest_voltage": rest_voltage,
                "cell_voltages": cell_voltages,
            },
            pack=pack,
            exclusive=(("rest_voltage", "cell_voltages"),),
        )

    def charge_session(
        self,
        *,
        packs: Sequence[SessionPack | Mapping[str, Any]],
        chargers: Sequence[Charger | Mapping[str, Any]],
        supply_rating: QuantityLike | None = None,
        source: FieldSource | Mapping[str, Any] | None = None,
        headroom: float | str | None = None,
        depth: float | str | None = None,
        input_floor: QuantityLike | None = None,
        lead_resistance: QuantityLike | None = None,
        peukert: float | str | None = None,
        rated_hours: float | str | None = None,
        swap_time: QuantityLike | None = None,
        watch_limit: int | None = None,
        ambient: QuantityLike | None = None,
        start: str | None = None,
        by_hand: QuantitiesLike | None = None,
    ) -> ChargeSession:
        """Which pack is charged where, at what current and in what order, so that all are done soonest.

        Needs one of `supply_rating` and `source`.

        - `packs`: the packs to be charged.
        - `chargers`: the chargers, each with its outputs.
        - `supply_rating`: rated power of the supply. In W; above 0; at most 1 MW; for example 180 W.
        - `source`: the battery at the field, instead of a supply.
        - `headroom`: part of a supply's rating kept free. At least 0; at most 0.9; for example 0.1. If not given:
          0.1.
        - `depth`: part of the source's capacity that may be used, from full. Above 0; at most 1; for example 0.5.
          If not given: 0.5 for lead-acid, 0.8 for lithium.
        - `input_floor`: lowest input voltage that the chargers accept. In V; at least 0; at most 1 kV; for example
          11 V.
        - `lead_resistance`: resistance of the leads, both conductors together. In mΩ; at least 0; at most 100 Ω;
          for example 6.5 mΩ. If not given: 0 mΩ.
        - `peukert`: exponent by which a lead-acid source gives less at high currents, for its rated hours. At least
          1; at most 2; for example 1.15. If not given: 1.25 for lead-acid, the safe side.
        - `rated_hours`: hours in which a lead-acid source gives its rated capacity. Above 0; at most 1000; for
          example 20. If not given: 20 for lead-acid.
        - `swap_time`: a person's time to change the pack on an output. In min; at least 0; at most 120 min; for
          example 2 min. If not given: 2 min.
        - `watch_limit`: packs charging at once that one person can watch. At least 1; at most 64; for example 4. If
          not given: 4.
        - `ambient`: temperature of the air. In °C; at least -30 °C; at most 70 °C; for example 13 °C. If not given:
          25 °C.
        - `start`: when the session starts, as the clock shows it (ISO 8601); an offset or a zone's name may follow.
          For example 2026-04-18T10:00 Europe/Berlin.
        - `by_hand`: when somebody is there to swap packs: a list of times from the start, or one time, every so
          often. In min; above 0; at most 10000 min; for example 30 min.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "charge-session",
            ChargeSession,
            {
                "packs": packs,
                "chargers": chargers,
                "supply_rating": supply_rating,
                "source": source,
                "headroom": headroom,
                "depth": depth,
                "input_floor": input_floor,
                "lead_resistance": lead_resistance,
                "peukert": peukert,
                "rated_hours": rated_hours,
                "swap_time": swap_time,
                "watch_limit": watch_limit,
                "ambient": ambient,
                "start": start,
                "by_hand": by_hand,
            },
        )

    def charge_temperature(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        current: QuantityLike | None = None,
        ambient: QuantityLike | None = None,
        cell_mass: QuantitiesLike | None = None,
        cooling: QuantityLike | None = None,
        temperature: QuantityLike | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
        capacity: QuantitiesLike | None = None,
        cell_resistance: QuantitiesLike | None = None,
        pack_resistance: QuantityLike | None = None,
        resistance_method: ResistanceMethod | None = None,
        resistance_temperature: QuantityLike | None = None,
        polarisation_resistance: QuantitiesLike | None = None,
        polarisation_time: QuantityLike | None = None,
        state_of_charge: float | str | None = None,
        rest_voltage: QuantityLike | None = None,
        cell_voltages: QuantitiesLike | None = None,
        condition: Condition | None = None,
    ) -> ChargeTemperature:
        """Whether a pack may be charged at its temperature, how hard, and where to cut off.

        At most one of `state_of_charge`, `rest_voltage` and `cell_voltages`. At most one of `cell_resistance` and
        `pack_resistance`.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `current`: charge current, instead of a rate. In A; above 0; at most 20 kA; for example 2.3 A.
        - `ambient`: temperature of the air. In °C; at least -30 °C; at most 70 °C; for example 25 °C. If not given:
          the pack's own temperature.
        - `cell_mass`: mass of one cell, or of each. In g; at least 0.1 g; at most 100 kg; for example 40 g. If not
          given: by the chemistry's energy per mass, on the light side.
        - `cooling`: heat that air takes from a cell. In W/K; at least 0; at most 1 kW/K; for example 0.2 W/K. If
          not given: 0 W/K.
        - `temperature`: temperature of the pack now. In °C; at least -20 °C; at most 70 °C; for example 25 °C.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `cells`: number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given:
          told by a list with an entry per cell.
        - `capacity`: capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most
          200 Ah; for example 2250 mAh.
        - `cell_resistance`: resistance of one cell, or of each cell. In mΩ; above 0; at most 10 Ω; for example 8.5
          mΩ. If not given: a cautious figure by chemistry, divided by the capacity.
        - `pack_resistance`: resistance of the whole pack; divided evenly among the cells. In mΩ; above 0; at most
          100 Ω; for example 25.5 mΩ.
        - `resistance_method`: how the resistance was measured: at 1 kHz, by a charger, or under load for one or ten
          seconds. If not given: 1s.
        - `resistance_temperature`: temperature of the cells when the resistance was measured. In °C; at least -20
          °C; at most 70 °C; for example 25 °C. If not given: 25 °C.
        - `polarisation_resistance`: slow part of a cell's resistance, which appears over the polarisation time;
          one, or one per cell. In mΩ; at least 0; at most 10 Ω; for example 4.2 mΩ. If not given: half of the cell
          resistance.
        - `polarisation_time`: time constant of the slow part. In s; at least 0.1 s; at most 3600 s; for example 30
          s. If not given: 30 s.
        - `state_of_charge`: state of charge of every cell, empty at 0, full at 1 or 100 %. At least 0; at most 1;
          for example 0.2. If not given: 0.2.
        - `rest_voltage`: voltage of the whole pack at rest. In V; at least 0; for example 15.07 V.
        - `cell_voltages`: voltage of each cell at rest. In V; at least 0; for example 3.77,3.76,3.79,3.75 V.
        - `condition`: state of the pack's body; anything but sound is not charged, joined or flown. If not given:
          sound.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "charge-temperature",
            ChargeTemperature,
            {
                "current": current,
                "ambient": ambient,
                "cell_mass": cell_mass,
                "cooling": cooling,
                "temperature": temperature,
                "chemistry": chemistry,
                "cells": cells,
                "capacity": capacity,
                "cell_resistance": cell_resistance,
                "pack_resistance": pack_resistance,
                "resistance_method": resistance_method,
                "resistance_temperature": resistance_temperature,
                "polarisation_resistance": polarisation_resistance,
                "polarisation_time": polarisation_time,
                "state_of_charge": state_of_charge,
                "rest_voltage": rest_voltage,
                "cell_voltages": cell_voltages,
                "condition": condition,
            },
            pack=pack,
            exclusive=(
                ("state_of_charge", "rest_voltage", "cell_voltages"),
                ("cell_resistance", "pack_resistance"),
            ),
        )

    def cool_down(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        ambient: QuantityLike,
        target_temperature: QuantityLike | None = None,
        surroundings: Surroundings | None = None,
        cell_mass: QuantitiesLike | None = None,
        cooling: QuantityLike | None = None,
        capacity: QuantitiesLike | None = None,
        temperature: QuantityLike | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
    ) -> CoolDown:
        """How long a pack needs in air until its middle is cool enough.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `ambient`: temperature of the air. In °C; at least -30 °C; at most 70 °C; for example 25 °C.
        - `target_temperature`: temperature that the middle of the pack is to come to. In °C; at least -20 °C; at
          most 70 °C; for example 20 °C. If not given: the hottest at which this chemistry is charged.
        - `surroundings`: where the pack lies: free in still air, in a closed box or bag, or in a draught such as a
          fan's. If not given: still-air.
        - `cell_mass`: mass of one cell, or of each. In g; at least 0.1 g; at most 100 kg; for example 40 g. If not
          given: by the chemistry's energy per mass, on the light side.
        - `cooling`: heat that air takes from a cell. In W/K; at least 0; at most 1 kW/K; for example 0.2 W/K. If
          not given: by the surroundings, from all sides.
        - `capacity`: capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most
          200 Ah; for example 2250 mAh.
        - `temperature`: temperature of the pack now. In °C; at least -20 °C; at most 70 °C; for example 25 °C.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `cells`: number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given:
          told by a list with an entry per cell.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "cool-down",
            CoolDown,
            {
                "ambient": ambient,
                "target_temperature": target_temperature,
                "surroundings": surroundings,
                "cell_mass": cell_mass,
                "cooling": cooling,
                "capacity": capacity,
                "temperature": temperature,
                "chemistry": chemistry,
                "cells": cells,
            },
            pack=pack,
        )

    def counted_discharge(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        charge_drawn: QuantityLike,
        current: QuantityLike,
        cut_off_voltage: QuantityLike,
        rest_after: QuantityLike,
        rest_before: QuantityLike | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
        capacity: QuantitiesLike | None = None,
        temperature: QuantityLike | None = None,
    ) -> CountedDischarge:
        """The capacity that a counted discharge tells of, with what its cut-off left behind counted in.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `charge_drawn`: charge that was counted out. In mAh; above 0; at most 200 Ah; for example 1790 mAh.
        - `current`: current of the discharge, held to its end. In A; above 0; at most 20 kA; for example 2.3 A.
        - `cut_off_voltage`: voltage of the pack under load when it ended. In V; above 0; at most 100 V; for example
          10.8 V.
        - `rest_after`: resting voltage of the pack after half an hour. In V; above 0; at most 100 V; for example
          10.9 V.
        - `rest_before`: resting voltage of the pack before. In V; above 0; at most 100 V; for example 12.6 V. If
          not given: that of a full pack.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `cells`: number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given:
          told by a list with an entry per cell.
        - `capacity`: capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most
          200 Ah; for example 2250 mAh.
        - `temperature`: temperature of the pack now. In °C; at least -20 °C; at most 70 °C; for example 25 °C. If
          not given: 25 °C.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "counted-discharge",
            CountedDischarge,
            {
                "charge_drawn": charge_drawn,
                "current": current,
                "cut_off_voltage": cut_off_voltage,
                "rest_after": rest_after,
                "rest_before": rest_before,
                "chemistry": chemistry,
                "cells": cells,
                "capacity": capacity,
                "temperature": temperature,
            },
            pack=pack,
        )

    def endurance(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        current: QuantityLike | None = None,
        power: QuantityLike | None = None,
        load: Sequence[LoadStep | Mapping[str, Any]] | None = None,
        currents: QuantitiesLike | None = None,
        shares: Sequence[float | str] | float | str | None = None,
        flight_time: QuantityLike | None = None,
        charge_returned: QuantityLike | None = None,
        reserve: float | str | None = None,
        floor: QuantityLike | None = None,
        limit_temperature: QuantityLike | None = None,
        ambient: QuantityLike | None = None,
        cell_mass: QuantitiesLike | None = None,
        cooling: QuantityLike | None = None,
        entropy_coefficient: QuantityLike | None = None,
        peukert: float | str | None = None,
        rated_hours: float | str | None = None,
        capacity: QuantitiesLike | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
        cell_resistance: QuantitiesLike | None = None,
        pack_resistance: QuantityLike | None = None,
        resistance_method: ResistanceMethod | None = None,
        resistance_temperature: QuantityLike | None = None,
        polarisation_resistance: QuantitiesLike | None = None,
        polarisation_time: QuantityLike | None = None,
        temperature: QuantityLike | None = None,
        state_of_charge: float | str | None = None,
        rest_voltage: QuantityLike | None = None,
        cell_voltages: QuantitiesLike | None = None,
    ) -> Endurance:
        """How long a pack flies under a load, and what is checked after landing.

        Needs one of `current`, `power`, `load`, `currents` and `flight_time`. At most one of `state_of_charge`,
        `rest_voltage` and `cell_voltages`. At most one of `cell_resistance` and `pack_resistance`. At most one of
        `charge_returned`, `current`, `power`, `load` and `currents`. At most one of `shares`, `current`, `power`,
        `load` and `flight_time`.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `current`: current over the flight. In A; above 0; at most 20 kA; for example 14 A.
        - `power`: constant power over the flight. In W; above 0; at most 1 MW; for example 240 W.
        - `load`: steps of current or power, repeated until the end.
        - `currents`: currents by throttle, each for its share of the flight. In A; at least 0; at most 20 kA; for
          example 8,23,40 A.
        - `shares`: share of the flight at each current; together all of it. At least 0; at most 1; for example
          0.3,0.5,0.2.
        - `flight_time`: length of an earlier flight, where nobody knows the current. In min; above 0; at most 10000
          min; for example 7.5 min.
        - `charge_returned`: charge put back after that flight. In mAh; above 0; at most 200 Ah; for example 1480
          mAh.
        - `reserve`: part of the capacity to keep. At least 0; at most 0.99; for example 0.2. If not given: 0.2.
        - `floor`: lowest voltage that a cell may have under load. In V; at least 0; at most 5 V; for example 3.3 V.
          If not given: the chemistry's usual floor under load.
        - `limit_temperature`: temperature that no cell may pass. In °C; at least 0 °C; at most 100 °C; for example
          60 °C. If not given: 60 °C.
        - `ambient`: temperature of the air. In °C; at least -30 °C; at most 70 °C; for example 25 °C. If not given:
          the pack's own temperature.
        - `cell_mass`: mass of one cell, or of each. In g; at least 0.1 g; at most 100 kg; for example 40 g. If not
          given: by the chemistry's energy per mass, on the light side.
        - `cooling`: heat that air takes from a cell. In W/K; at least 0; at most 1 kW/K; for example 0.2 W/K. If
          not given: 0 W/K.
        - `entropy_coefficient`: mean change of a cell's open-circuit voltage with temperature; below zero it heats
          on discharge. In mV/K; at least -5 mV/K; at most 5 mV/K; for example -0.235 mV/K. If not given: the
          chemistry's own.
        - `peukert`: exponent by which a lead-acid source gives less at high currents, for its rated hours. At least
          1; at most 2; for example 1.15. If not given: 1.25 for lead-acid, the safe side.
        - `rated_hours`: hours in which a lead-acid source gives its rated capacity. Above 0; at most 1000; for
          example 20. If not given: 20 for lead-acid.
        - `capacity`: capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most
          200 Ah; for example 2250 mAh.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `cells`: number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given:
          told by a list with an entry per cell.
        - `cell_resistance`: resistance of one cell, or of each cell. In mΩ; above 0; at most 10 Ω; for example 8.5
          mΩ. If not given: a cautious figure by chemistry, divided by the capacity.
        - `pack_resistance`: resistance of the whole pack; divided evenly among the cells. In mΩ; above 0; at most
          100 Ω; for example 25.5 mΩ.
        - `resistance_method`: how the resistance was measured: at 1 kHz, by a charger, or under load for one or ten
          seconds. If not given: 1s.
        - `resistance_temperature`: temperature of the cells when the resistance was measured. In °C; at least -20
          °C; at most 70 °C; for example 25 °C. If not given: 25 °C.
        - `polarisation_resistance`: slow part of a cell's resistance, which appears over the polarisation time;
          one, or one per cell. In mΩ; at least 0; at most 10 Ω; for example 4.2 mΩ. If not given: half of the cell
          resistance.
        - `polarisation_time`: time constant of the slow part. In s; at least 0.1 s; at most 3600 s; for example 30
          s. If not given: 30 s.
        - `temperature`: temperature of the pack now. In °C; at least -20 °C; at most 70 °C; for example 25 °C. If
          not given: 25 °C.
        - `state_of_charge`: state of charge of every cell, empty at 0, full at 1 or 100 %. At least 0; at most 1;
          for example 0.2. If not given: 1.
        - `rest_voltage`: voltage of the whole pack at rest. In V; at least 0; for example 15.07 V.
        - `cell_voltages`: voltage of each cell at rest. In V; at least 0; for example 3.77,3.76,3.79,3.75 V.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "endurance",
            Endurance,
            {
                "current": current,
                "power": power,
                "load": load,
                "currents": currents,
                "shares": shares,
                "flight_time": flight_time,
                "charge_returned": charge_returned,
                "reserve": reserve,
                "floor": floor,
                "limit_temperature": limit_temperature,
                "ambient": ambient,
                "cell_mass": cell_mass,
                "cooling": cooling,
                "entropy_coefficient": entropy_coefficient,
                "peukert": peukert,
                "rated_hours": rated_hours,
                "capacity": capacity,
                "chemistry": chemistry,
                "cells": cells,
                "cell_resistance": cell_resistance,
                "pack_resistance": pack_resistance,
                "resistance_method": resistance_method,
                "resistance_temperature": resistance_temperature,
                "polarisation_resistance": polarisation_resistance,
                "polarisation_time": polarisation_time,
                "temperature": temperature,
                "state_of_charge": state_of_charge,
                "rest_voltage": rest_voltage,
                "cell_voltages": cell_voltages,
            },
            pack=pack,
            exclusive=(
                ("state_of_charge", "rest_voltage", "cell_voltages"),
                ("cell_resistance", "pack_resistance"),
                ("current", "power", "load", "currents", "flight_time"),
                ("charge_returned", "current", "power", "load", "currents"),
                ("shares", "current", "power", "load", "flight_time"),
            ),
        )

    def field_energy(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        source: FieldSource | Mapping[str, Any] | None = None,
        source_chemistry: Chemistry | None = None,
        source_cells: int | None = None,
        source_capacity: QuantityLike | None = None,
        source_cell_resistance: QuantityLike | None = None,
        source_state_of_charge: float | str | None = None,
        source_temperature: QuantityLike | None = None,
        peukert: float | str | None = None,
        rated_hours: float | str | None = None,
        depth: float | str | None = None,
        input_floor: QuantityLike | None = None,
        lead_resistance: QuantityLike | None = None,
        idle_power: QuantityLike | None = None,
        efficiency: float | str | None = None,
        packs: Sequence[ChargedPack | Mapping[str, Any]] | None = None,
        rate: float | str | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
        capacity: QuantitiesLike | None = None,
        cell_resistance: QuantitiesLike | None = None,
        pack_resistance: QuantityLike | None = None,
        resistance_method: ResistanceMethod | None = None,
        resistance_temperature: QuantityLike | None = None,
        polarisation_resistance: QuantitiesLike | None = None,
        polarisation_time: QuantityLike | None = None,
        temperature: QuantityLike | None = None,
        state_of_charge: float | str | None = None,
        rest_voltage: QuantityLike | None = None,
        cell_voltages: QuantitiesLike | None = None,
        condition: Condition | None = None,
    ) -> FieldEnergy:
        """How many packs a battery at the field recharges, and what its charger sees.

        At most one of `state_of_charge`, `rest_voltage` and `cell_voltages`. At most one of `cell_resistance` and
        `pack_resistance`. `source` goes without `source_chemistry`, `source_cells`, `source_capacity`,
        `source_cell_resistance`, `source_state_of_charge` and `source_temperature`. `packs` goes without
        `chemistry`, `cells`, `capacity`, `cell_resistance`, `pack_resistance`, `resistance_method`,
        `resistance_temperature`, `polarisation_resistance`, `polarisation_time`, `temperature`, `state_of_charge`,
        `rest_voltage`, `cell_voltages`, `condition` and `rate`.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `source`: the battery at the field.
        - `source_chemistry`: kind of cell of the source, instead of source.
        - `source_cells`: number of cells in series of the source, 6 for 12 V of lead-acid. At least 1; at most 24;
          for example 6.
        - `source_capacity`: capacity of the source. In mAh; at least 10 mAh; at most 200 Ah; for example 38 Ah.
        - `source_cell_resistance`: resistance of one cell of the source. In mΩ; above 0; at most 10 Ω; for example
          2.2 mΩ. If not given: a cautious figure by source_chemistry, divided by source_capacity.
        - `source_state_of_charge`: state of charge of the source. At least 0; at most 1; for example 1. If not
          given: 1, full.
        - `source_temperature`: temperature of the source now. In °C; at least -20 °C; at most 70 °C; for example 13
          °C. If not given: 25 °C.
        - `peukert`: exponent by which a lead-acid source gives less at high currents, for its rated hours. At least
          1; at most 2; for example 1.15. If not given: 1.25 for lead-acid, the safe side.
        - `rated_hours`: hours in which a lead-acid source gives its rated capacity. Above 0; at most 1000; for
          example 20. If not given: 20 for lead-acid.
        - `depth`: part of the source's capacity that may be used, from full. Above 0; at most 1; for example 0.5.
          If not given: 0.5 for lead-acid, 0.8 for lithium.
        - `input_floor`: lowest input voltage that the charger accepts. In V; at least 0; at most 1 kV; for example
          11 V.
        - `lead_resistance`: resistance of the leads, both conductors together. In mΩ; at least 0; at most 100 Ω;
          for example 6.5 mΩ. If not given: 0 mΩ.
        - `idle_power`: what the charger draws for itself while it charges. In W; at least 0; at most 1 MW; for
          example 3 W. If not given: 0 W.
        - `efficiency`: part of its input that the charger passes on. At least 0.1; at most 1; for example 0.85. If
          not given: 0.85.
        - `packs`: the packs to recharge, one after the other and over again.
        - `rate`: charge rate, in multiples of the capacity per hour. Above 0; at most 100; for example 1. If not
          given: the chemistry's usual rate.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `cells`: number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given:
          told by a list with an entry per cell.
        - `capacity`: capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most
          200 Ah; for example 2250 mAh.
        - `cell_resistance`: resistance of one cell, or of each cell. In mΩ; above 0; at most 10 Ω; for example 8.5
          mΩ. If not given: a cautious figure by chemistry, divided by the capacity.
        - `pack_resistance`: resistance of the whole pack; divided evenly among the cells. In mΩ; above 0; at most
          100 Ω; for example 25.5 mΩ.
        - `resistance_method`: how the resistance was measured: at 1 kHz, by a charger, or under load for one or ten
          seconds. If not given: 1s.
        - `resistance_temperature`: temperature of the cells when the resistance was measured. In °C; at least -20
          °C; at most 70 °C; for example 25 °C. If not given: 25 °C.
        - `polarisation_resistance`: slow part of a cell's resistance, which appears over the polarisation time;
          one, or one per cell. In mΩ; at least 0; at most 10 Ω; for example 4.2 mΩ. If not given: half of the cell
          resistance.
        - `polarisation_time`: time constant of the slow part. In s; at least 0.1 s; at most 3600 s; for example 30
          s. If not given: 30 s.
        - `temperature`: temperature of the pack now. In °C; at least -20 °C; at most 70 °C; for example 25 °C. If
          not given: 25 °C.
        - `state_of_charge`: state of charge of every cell, empty at 0, full at 1 or 100 %. At least 0; at most 1;
          for example 0.2. If not given: 0.2.
        - `rest_voltage`: voltage of the whole pack at rest. In V; at least 0; for example 15.07 V.
        - `cell_voltages`: voltage of each cell at rest. In V; at least 0; for example 3.77,3.76,3.79,3.75 V.
        - `condition`: state of the pack's body; anything but sound is not charged, joined or flown. If not given:
          sound.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "field-energy",
            FieldEnergy,
            {
                "source": source,
                "source_chemistry": source_chemistry,
                "source_cells": source_cells,
                "source_capacity": source_capacity,
                "source_cell_resistance": source_cell_resistance,
                "source_state_of_charge": source_state_of_charge,
                "source_temperature": source_temperature,
                "peukert": peukert,
                "rated_hours": rated_hours,
                "depth": depth,
                "input_floor": input_floor,
                "lead_resistance": lead_resistance,
                "idle_power": idle_power,
                "efficiency": efficiency,
                "packs": packs,
                "rate": rate,
                "chemistry": chemistry,
                "cells": cells,
                "capacity": capacity,
                "cell_resistance": cell_resistance,
                "pack_resistance": pack_resistance,
                "resistance_method": resistance_method,
                "resistance_temperature": resistance_temperature,
                "polarisation_resistance": polarisation_resistance,
                "polarisation_time": polarisation_time,
                "temperature": temperature,
                "state_of_charge": state_of_charge,
                "rest_voltage": rest_voltage,
                "cell_voltages": cell_voltages,
                "condition": condition,
            },
            pack=pack,
            exclusive=(
                ("source", "source_chemistry"),
                ("source", "source_cells"),
                ("source", "source_capacity"),
                ("source", "source_cell_resistance"),
                ("source", "source_state_of_charge"),
                ("source", "source_temperature"),
                ("packs", "chemistry"),
                ("packs", "cells"),
                ("packs", "capacity"),
                ("packs", "cell_resistance"),
                ("packs", "pack_resistance"),
                ("packs", "resistance_method"),
                ("packs", "resistance_temperature"),
                ("packs", "polarisation_resistance"),
                ("packs", "polarisation_time"),
                ("packs", "temperature"),
                ("packs", "state_of_charge"),
                ("packs", "rest_voltage"),
                ("packs", "cell_voltages"),
                ("packs", "condition"),
                ("packs", "rate"),
                ("state_of_charge", "rest_voltage", "cell_voltages"),
                ("cell_resistance", "pack_resistance"),
            ),
        )

    def flight_timer(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        flight_time: QuantityLike,
        charge_returned: QuantityLike,
        reserve: float | str | None = None,
        next_capacity: QuantityLike | None = None,
        next_temperature: QuantityLike | None = None,
        capacity_left: float | str | None = None,
        capacity: QuantityLike | None = None,
        chemistry: Chemistry | None = None,
    ) -> FlightTimer:
        """The timer for the next flight, from the time and the charge of the last one.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `flight_time`: length of the last flight. In min; above 0; at most 10000 min; for example 7.5 min.
        - `charge_returned`: charge put back after that flight. In mAh; above 0; at most 200 Ah; for example 1480
          mAh.
        - `reserve`: part of the capacity to keep. At least 0; at most 0.99; for example 0.2. If not given: 0.2.
        - `next_capacity`: capacity of the next pack. In mAh; at least 10 mAh; at most 200 Ah; for example 3700 mAh.
          If not given: as the last one.
        - `next_temperature`: temperature of the next pack at take-off, where it is colder than in the last flight,
          taken at 25 °C. In °C; at least -20 °C; at most 70 °C; for example 13 °C.
        - `capacity_left`: part of its label that the next pack still holds. Above 0; at most 1; for example 0.9. If
          not given: 1.
        - `capacity`: capacity on its label. In mAh; at least 10 mAh; at most 200 Ah; for example 2250 mAh.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "flight-timer",
            FlightTimer,
            {
                "flight_time": flight_time,
                "charge_returned": charge_returned,
                "reserve": reserve,
                "next_capacity": next_capacity,
                "next_temperature": next_temperature,
                "capacity_left": capacity_left,
                "capacity": capacity,
                "chemistry": chemistry,
            },
            pack=pack,
        )

    def group_charge(
        self,
        *,
        packs: Sequence[JoinedPack | Mapping[str, Any]],
        lead_resistance: QuantityLike | None = None,
        rate: float | str | None = None,
        max_rate: float | str | None = None,
        charger_current_limit: QuantityLike | None = None,
        charger_power_limit: QuantityLike | None = None,
        supply_limit: QuantityLike | None = None,
        efficiency: float | str | None = None,
        taper: float | str | None = None,
        end_cell_voltage: QuantityLike | None = None,
    ) -> GroupCharge:
        """How hard several like packs may be charged together on one board, and what each of them takes.

        - `packs`: the packs, of one chemistry and one number of cells, each with its state.
        - `lead_resistance`: resistance of the leads, both conductors together. In mΩ; at least 0; at most 100 Ω;
          for example 6.5 mΩ. If not given: 0 mΩ.
        - `rate`: charge rate, in multiples of the capacity per hour. Above 0; at most 100; for example 1. If not
          given: the chemistry's usual rate.
        - `max_rate`: highest charge rate that the pack's label allows. Above 0; at most 100; for example 2.
        - `charger_current_limit`: most current the charger gives. In A; above 0; at most 20 kA; for example 8 A.
        - `charger_power_limit`: most power the charger puts out. In W; above 0; at most 1 MW; for example 110 W.
        - `supply_limit`: most power the charger may take in. In W; above 0; at most 1 MW; for example 180 W.
        - `efficiency`: part of its input that the charger passes on. At least 0.1; at most 1; for example 0.85. If
          not given: 0.85.
        - `taper`: the charge ends when the current falls to this part of the set one. At least 0.005; at most 0.95;
          for example 0.1. If not given: 0.1.
        - `end_cell_voltage`: voltage per cell at which the charger holds; at most the chemistry's own. In V; above
          1 V; at most 5 V; for example 4.2 V. If not given: the chemistry's own end of charge.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "group-charge",
            GroupCharge,
            {
                "packs": packs,
                "lead_resistance": lead_resistance,
                "rate": rate,
                "max_rate": max_rate,
                "charger_current_limit": charger_current_limit,
                "charger_power_limit": charger_power_limit,
                "supply_limit": supply_limit,
                "efficiency": efficiency,
                "taper": taper,
                "end_cell_voltage": end_cell_voltage,
            },
        )

    def lead_loss(
        self,
        *,
        gauge: QuantityLike,
        length: QuantityLike,
        current: QuantityLike,
        voltage: QuantityLike | None = None,
        conductor_temperature: QuantityLike | None = None,
        drop_limit: float | str | None = None,
    ) -> LeadLoss:
        """What a lead costs in voltage, power and heat.

        - `gauge`: size of each conductor: a gauge like "16 AWG", or an area like "2.5 mm²". For example 16 AWG.
        - `length`: length of the lead one way; both conductors count. In m; above 0; at most 1 km; for example 0.35
          m.
        - `current`: current in the lead. In A; above 0; at most 20 kA; for example 14 A.
        - `voltage`: voltage where the lead begins. In V; above 0; at most 1 kV; for example 11.1 V.
        - `conductor_temperature`: temperature of the copper. In °C; at least -40 °C; at most 200 °C; for example 50
          °C. If not given: 50 °C.
        - `drop_limit`: part of the voltage that the lead may cost. Above 0; below 1; for example 0.03. If not
          given: 0.03.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "lead-loss",
            LeadLoss,
            {
                "gauge": gauge,
                "length": length,
                "current": current,
                "voltage": voltage,
                "conductor_temperature": conductor_temperature,
                "drop_limit": drop_limit,
            },
        )

    def let_down(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        to: To | None = None,
        discharge_rate: float | str | None = None,
        load_resistance: QuantityLike | None = None,
        lamp_power: QuantityLike | None = None,
        lamp_voltage: QuantityLike | None = None,
        capacity: QuantitiesLike | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
        cell_resistance: QuantitiesLike | None = None,
        pack_resistance: QuantityLike | None = None,
        resistance_method: ResistanceMethod | None = None,
        resistance_temperature: QuantityLike | None = None,
        polarisation_resistance: QuantitiesLike | None = None,
        polarisation_time: QuantityLike | None = None,
        temperature: QuantityLike | None = None,
        state_of_charge: float | str | None = None,
        rest_voltage: QuantityLike | None = None,
        cell_voltages: QuantitiesLike | None = None,
        condition: Condition | None = None,
    ) -> LetDown:
        """What to connect to a pack that is to be brought down, how hot that gets, and for how long.

        Needs one of `rest_voltage`, `cell_voltages` and `state_of_charge`. At most one of `discharge_rate`,
        `load_resistance` and `lamp_power`. At most one of `lamp_voltage` and `load_resistance`. At most one of
        `cell_resistance` and `pack_resistance`.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `to`: how far: to the storage charge, or empty, for a pack that is retired. If not given: storage.
        - `discharge_rate`: rate to begin with, for which a resistor is to be found. Above 0; at most 5.0; for
          example 0.3. If not given: 0.3, gentle.
        - `load_resistance`: the resistor there is. In mΩ; above 0; at most 100 kΩ; for example 18 Ω.
        - `lamp_power`: the lamps there are, each. In W; above 0; at most 1 MW; for example 21 W.
        - `lamp_voltage`: voltage that one lamp is made for. In V; above 0; at most 1 kV; for example 12 V. If not
          given: 12 volts, a car's.
        - `capacity`: capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most
          200 Ah; for example 2250 mAh.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `cells`: number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given:
          told by a list with an entry per cell.
        - `cell_resistance`: resistance of one cell, or of each cell. In mΩ; above 0; at most 10 Ω; for example 8.5
          mΩ. If not given: a cautious figure by chemistry, divided by the capacity.
        - `pack_resistance`: resistance of the whole pack; divided evenly among the cells. In mΩ; above 0; at most
          100 Ω; for example 25.5 mΩ.
        - `resistance_method`: how the resistance was measured: at 1 kHz, by a charger, or under load for one or ten
          seconds. If not given: 1s.
        - `resistance_temperature`: temperature of the cells when the resistance was measured. In °C; at least -20
          °C; at most 70 °C; for example 25 °C. If not given: 25 °C.
        - `polarisation_resistance`: slow part of a cell's resistance, which appears over the polarisation time;
          one, or one per cell. In mΩ; at least 0; at most 10 Ω; for example 4.2 mΩ. If not given: half of the cell
          resistance.
        - `polarisation_time`: time constant of the slow part. In s; at least 0.1 s; at most 3600 s; for example 30
          s. If not given: 30 s.
        - `temperature`: temperature of the pack now. In °C; at least -20 °C; at most 70 °C; for example 25 °C. If
          not given: 25 °C.
        - `state_of_charge`: state of charge of every cell, empty at 0, full at 1 or 100 %. At least 0; at most 1;
          for example 0.2.
        - `rest_voltage`: voltage of the whole pack at rest. In V; at least 0; for example 15.07 V.
        - `cell_voltages`: voltage of each cell at rest. In V; at least 0; for example 3.77,3.76,3.79,3.75 V.
        - `condition`: state of the pack's body; anything but sound is not charged, joined or flown. If not given:
          sound.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "let-down",
            LetDown,
            {
                "to": to,
                "discharge_rate": discharge_rate,
                "load_resistance": load_resistance,
                "lamp_power": lamp_power,
                "lamp_voltage": lamp_voltage,
                "capacity": capacity,
                "chemistry": chemistry,
                "cells": cells,
                "cell_resistance": cell_resistance,
                "pack_resistance": pack_resistance,
                "resistance_method": resistance_method,
                "resistance_temperature": resistance_temperature,
                "polarisation_resistance": polarisation_resistance,
                "polarisation_time": polarisation_time,
                "temperature": temperature,
                "state_of_charge": state_of_charge,
                "rest_voltage": rest_voltage,
                "cell_voltages": cell_voltages,
                "condition": condition,
            },
            pack=pack,
            exclusive=(
                ("rest_voltage", "cell_voltages", "state_of_charge"),
                ("discharge_rate", "load_resistance", "lamp_power"),
                ("lamp_voltage", "load_resistance"),
                ("cell_resistance", "pack_resistance"),
            ),
        )

    def load_test(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        readings: Sequence[Reading | Mapping[str, Any]] | None = None,
        currents: QuantitiesLike | None = None,
        voltages: QuantitiesLike | None = None,
        lead_resistance: QuantityLike | None = None,
        meter_resolution: QuantityLike | None = None,
        current_error: float | str | None = None,
        temperature: QuantityLike | None = None,
    ) -> LoadTest:
        """A pack's resistance from its voltage under two currents or more.

        Needs one of `currents` and `readings`.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `readings`: readings under two currents or more; by POST only, else currents and voltages.
        - `currents`: currents drawn, two or more; 0 at rest, below zero where it charges. In A; at least -20 kA; at
          most 20 kA; for example 4,48 A.
        - `voltages`: voltage of the pack under each of them. In V; at least 0; at most 1 kV; for example
          16.30,15.17 V.
        - `lead_resistance`: resistance of the leads, both conductors together. In mΩ; at least 0; at most 100 Ω;
          for example 6.5 mΩ. If not given: 0 mΩ.
        - `meter_resolution`: smallest step that the voltmeter shows. In V; at least 0; at most 1 V; for example 10
          mV. If not given: 0.01 V.
        - `current_error`: part by which the ammeter may be off, alike in all readings. At least 0; at most 0.5; for
          example 0.03. If not given: 0.03.
        - `temperature`: temperature of the pack now. In °C; at least -20 °C; at most 70 °C; for example 25 °C. If
          not given: 25 °C.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "load-test",
            LoadTest,
            {
                "readings": readings,
                "currents": currents,
                "voltages": voltages,
                "lead_resistance": lead_resistance,
                "meter_resolution": meter_resolution,
                "current_error": current_error,
                "temperature": temperature,
            },
            pack=pack,
            exclusive=(("currents", "readings"),),
        )

    def match_packs(
        self,
        *,
        packs: Sequence[BoxPack | Mapping[str, Any]],
        use: Use | None = None,
        size: int | None = None,
        mismatch_limit: float | str | None = None,
    ) -> MatchPacks:
        """Which packs of a box are used together, so that as many as can be are, and the least unlike.

        - `packs`: the packs in the box, of one chemistry.
        - `use`: how the packs of a group are used together. If not given: series.
        - `size`: packs in a group. At least 2; at most 6; for example 2. If not given: 2.
        - `mismatch_limit`: mismatch above which packs are not put together. Above 0; at most 1; for example 0.3. If
          not given: 0.3.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "match-packs",
            MatchPacks,
            {
                "packs": packs,
                "use": use,
                "size": size,
                "mismatch_limit": mismatch_limit,
            },
        )

    def nickel_charge(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        rate: float | str | None = None,
        max_rate: float | str | None = None,
        charger_current_limit: QuantityLike | None = None,
        capacity: QuantitiesLike | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
        temperature: QuantityLike | None = None,
        state_of_charge: float | str | None = None,
        condition: Condition | None = None,
    ) -> NickelCharge:
        """How hard a nickel pack may be charged, how long, and what shows that it is full.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `rate`: charge rate, in multiples of the capacity per hour. Above 0; at most 100; for example 1. If not
          given: 0.1.
        - `max_rate`: highest charge rate that the pack's label allows. Above 0; at most 100; for example 2.
        - `charger_current_limit`: most current the charger gives. In A; above 0; at most 20 kA; for example 8 A.
        - `capacity`: capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most
          200 Ah; for example 2250 mAh.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: nimh.
        - `cells`: number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given:
          told by a list with an entry per cell.
        - `temperature`: temperature of the pack now. In °C; at least -20 °C; at most 70 °C; for example 25 °C. If
          not given: 25 °C.
        - `state_of_charge`: state of charge of every cell, empty at 0, full at 1 or 100 %. At least 0; at most 1;
          for example 0.2. If not given: 0.
        - `condition`: state of the pack's body; anything but sound is not charged, joined or flown. If not given:
          sound.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "nickel-charge",
            NickelCharge,
            {
                "rate": rate,
                "max_rate": max_rate,
                "charger_current_limit": charger_current_limit,
                "capacity": capacity,
                "chemistry": chemistry,
                "cells": cells,
                "temperature": temperature,
                "state_of_charge": state_of_charge,
                "condition": condition,
            },
            pack=pack,
        )

    def pack_fitness(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        measured_capacity: QuantityLike | None = None,
        reference_resistance: QuantityLike | None = None,
        sibling_resistances: QuantitiesLike | None = None,
        typical_current: QuantityLike | None = None,
        flight_time: QuantityLike | None = None,
        charge_returned: QuantityLike | None = None,
        peak_current: QuantityLike | None = None,
        capacity: QuantitiesLike | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
        cell_resistance: QuantitiesLike | None = None,
        pack_resistance: QuantityLike | None = None,
        resistance_method: ResistanceMethod | None = None,
        resistance_temperature: QuantityLike | None = None,
        polarisation_resistance: QuantitiesLike | None = None,
        polarisation_time: QuantityLike | None = None,
        temperature: QuantityLike | None = None,
        cell_voltages: QuantitiesLike | None = None,
        condition: Condition | None = None,
    ) -> PackFitness:
        """Whether a pack is fit to fly, for another model, for light duty only, or to be retired.

        Needs one of `cell_resistance` and `pack_resistance`. At most one of `typical_current` and `flight_time`. At
        most one of `typical_current` and `charge_returned`. At most one of `reference_resistance` and
        `sibling_resistances`.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `measured_capacity`: capacity as measured. In mAh; at least 0; at most 200 Ah; for example 3480 mAh.
        - `reference_resistance`: resistance of a cell when new, measured alike. In mΩ; above 0; at most 10 Ω; for
          example 8.5 mΩ.
        - `sibling_resistances`: cell resistances of like packs, measured alike. In mΩ; above 0; at most 10 Ω; for
          example 8.5,9 mΩ.
        - `typical_current`: current over a whole flight. In A; above 0; at most 20 kA; for example 14 A.
        - `flight_time`: length of a flight, in place of its current. In min; above 0; at most 10000 min; for
          example 7.5 min.
        - `charge_returned`: charge put back after that flight. In mAh; above 0; at most 200 Ah; for example 1480
          mAh.
        - `peak_current`: highest current, at full throttle. In A; above 0; at most 20 kA; for example 23 A.
        - `capacity`: capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most
          200 Ah; for example 2250 mAh.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `cells`: number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given:
          told by a list with an entry per cell.
        - `cell_resistance`: resistance of one cell, or of each cell. In mΩ; above 0; at most 10 Ω; for example 8.5
          mΩ.
        - `pack_resistance`: resistance of the whole pack; divided evenly among the cells. In mΩ; above 0; at most
          100 Ω; for example 25.5 mΩ.
        - `resistance_method`: how the resistance was measured: at 1 kHz, by a charger, or under load for one or ten
          seconds. If not given: 1s.
        - `resistance_temperature`: temperature of the cells when the resistance was measured. In °C; at least -20
          °C; at most 70 °C; for example 25 °C. If not given: 25 °C.
        - `polarisation_resistance`: slow part of a cell's resistance, which appears over the polarisation time;
          one, or one per cell. In mΩ; at least 0; at most 10 Ω; for example 4.2 mΩ. If not given: half of the cell
          resistance.
        - `polarisation_time`: time constant of the slow part. In s; at least 0.1 s; at most 3600 s; for example 30
          s. If not given: 30 s.
        - `temperature`: temperature of the pack now. In °C; at least -20 °C; at most 70 °C; for example 25 °C. If
          not given: 25 °C.
        - `cell_voltages`: voltage of each cell at rest. In V; at least 0; for example 3.77,3.76,3.79,3.75 V.
        - `condition`: state of the pack's body; anything but sound is not charged, joined or flown. If not given:
          sound.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "pack-fitness",
            PackFitness,
            {
                "measured_capacity": measured_capacity,
                "reference_resistance": reference_resistance,
                "sibling_resistances": sibling_resistances,
                "typical_current": typical_current,
                "flight_time": flight_time,
                "charge_returned": charge_returned,
                "peak_current": peak_current,
                "capacity": capacity,
                "chemistry": chemistry,
                "cells": cells,
                "cell_resistance": cell_resistance,
                "pack_resistance": pack_resistance,
                "resistance_method": resistance_method,
                "resistance_temperature": resistance_temperature,
                "polarisation_resistance": polarisation_resistance,
                "polarisation_time": polarisation_time,
                "temperature": temperature,
                "cell_voltages": cell_voltages,
                "condition": condition,
            },
            pack=pack,
            exclusive=(
                ("cell_resistance", "pack_resistance"),
                ("typical_current", "flight_time"),
                ("typical_current", "charge_returned"),
                ("reference_resistance", "sibling_resistances"),
            ),
        )

    def pack_for_model(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        time_wanted: QuantityLike,
        nominal_voltage: QuantityLike | None = None,
        current: QuantityLike | None = None,
        flight_time: QuantityLike | None = None,
        charge_returned: QuantityLike | None = None,
        peak_current: QuantityLike | None = None,
        reserve: float | str | None = None,
        capacity_left: float | str | None = None,
        floor: QuantityLike | None = None,
        label_part: float | str | None = None,
        label_rate: float | str | None = None,
        mass_limit: QuantityLike | None = None,
        mass: QuantityLike | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
        capacity: QuantitiesLike | None = None,
        cell_resistance: QuantitiesLike | None = None,
        resistance_method: ResistanceMethod | None = None,
        resistance_temperature: QuantityLike | None = None,
        polarisation_resistance: QuantitiesLike | None = None,
        polarisation_time: QuantityLike | None = None,
        temperature: QuantityLike | None = None,
        condition: Condition | None = None,
    ) -> PackForModel:
        """What to look for in a pack that carries a model so long, and whether a pack at hand does.

        Needs one of `current` and `flight_time`. At most one of `charge_returned` and `current`.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `time_wanted`: how long it is to fly. In min; above 0; at most 600 min; for example 6 min.
        - `nominal_voltage`: voltage on the label of the packs that fit, instead of cells. In V; above 0; at most
          100 V; for example 11.1 V.
        - `current`: current over the flight. In A; above 0; at most 20 kA; for example 14 A.
        - `flight_time`: length of an earlier flight, where nobody knows the current. In min; above 0; at most 10000
          min; for example 7.5 min.
        - `charge_returned`: charge put back after that flight. In mAh; above 0; at most 200 Ah; for example 1480
          mAh.
        - `peak_current`: highest current, at full throttle. In A; above 0; at most 20 kA; for example 23 A.
        - `reserve`: part of the capacity to keep. At least 0; at most 0.95; for example 0.2. If not given: 0.2.
        - `capacity_left`: part of its label's capacity that the pack is to do it with. Above 0; at most 1; for
          example 0.8. If not given: 0.8.
        - `floor`: lowest voltage that a cell may have under load. In V; at least 0; at most 5 V; for example 3.3 V.
          If not given: the chemistry's usual floor under load.
        - `label_part`: part of a label's discharge rate to count on. Above 0; at most 1; for example 0.5. If not
          given: 0.5.
        - `label_rate`: discharge rate on the label of the pack to be judged. Above 0; at most 1000; for example 40.
        - `mass_limit`: mass that the pack may have. In g; above 0; at most 100 kg; for example 220 g.
        - `mass`: mass of the pack to be judged. In g; above 0; at most 100 kg; for example 190 g.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `cells`: number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given:
          by the label's voltage, or by a list with an entry per cell.
        - `capacity`: capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most
          200 Ah; for example 2250 mAh.
        - `cell_resistance`: resistance of one cell, or of each cell. In mΩ; above 0; at most 10 Ω; for example 8.5
          mΩ.
        - `resistance_method`: how the resistance was measured: at 1 kHz, by a charger, or under load for one or ten
          seconds. If not given: 1s.
        - `resistance_temperature`: temperature of the cells when the resistance was measured. In °C; at least -20
          °C; at most 70 °C; for example 25 °C. If not given: 25 °C.
        - `polarisation_resistance`: slow part of a cell's resistance, which appears over the polarisation time;
          one, or one per cell. In mΩ; at least 0; at most 10 Ω; for example 4.2 mΩ. If not given: half of the cell
          resistance.
        - `polarisation_time`: time constant of the slow part. In s; at least 0.1 s; at most 3600 s; for example 30
          s. If not given: 30 s.
        - `temperature`: temperature of the pack now. In °C; at least -20 °C; at most 70 °C; for example 25 °C. If
          not given: 25 °C.
        - `condition`: state of the pack's body; anything but sound is not charged, joined or flown. If not given:
          sound.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "pack-for-model",
            PackForModel,
            {
                "time_wanted": time_wanted,
                "nominal_voltage": nominal_voltage,
                "current": current,
                "flight_time": flight_time,
                "charge_returned": charge_returned,
                "peak_current": peak_current,
                "reserve": reserve,
                "capacity_left": capacity_left,
                "floor": floor,
                "label_part": label_part,
                "label_rate": label_rate,
                "mass_limit": mass_limit,
                "mass": mass,
                "chemistry": chemistry,
                "cells": cells,
                "capacity": capacity,
                "cell_resistance": cell_resistance,
                "resistance_method": resistance_method,
                "resistance_temperature": resistance_temperature,
                "polarisation_resistance": polarisation_resistance,
                "polarisation_time": polarisation_time,
                "temperature": temperature,
                "condition": condition,
            },
            pack=pack,
            exclusive=(
                ("current", "flight_time"),
                ("charge_returned", "current"),
            ),
        )

    def parallel_join(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        packs: Sequence[JoinedPack | Mapping[str, Any]] | None = None,
        voltages: QuantitiesLike | None = None,
        limit_rate: float | str | None = None,
        lead_resistance: QuantityLike | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
        capacity: QuantitiesLike | None = None,
        cell_resistance: QuantitiesLike | None = None,
        pack_resistance: QuantityLike | None = None,
        resistance_method: ResistanceMethod | None = None,
        resistance_temperature: QuantityLike | None = None,
        polarisation_resistance: QuantitiesLike | None = None,
        polarisation_time: QuantityLike | None = None,
        temperature: QuantityLike | None = None,
        condition: Condition | None = None,
    ) -> ParallelJoin:
        """Whether packs may be joined in parallel, and what flows between them if they are.

        At most one of `cell_resistance` and `pack_resistance`. `packs` goes without `voltages`, `chemistry`,
        `cells`, `capacity`, `cell_resistance`, `pack_resistance`, `resistance_method`, `resistance_temperature`,
        `polarisation_resistance`, `polarisation_time`, `temperature` and `condition`.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `packs`: the packs, of one chemistry and one number of cells, each with its state.
        - `voltages`: resting voltage of each pack, where they are alike in all else. In V; at least 0; for example
          11.9 V,12.3 V.
        - `limit_rate`: highest charge rate that a pack may see whose own highest is not given. Above 0; at most
          100; for example 1. If not given: 1.
        - `lead_resistance`: resistance of the leads, both conductors together. In mΩ; at least 0; at most 100 Ω;
          for example 6.5 mΩ. If not given: 0 mΩ.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `cells`: number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given:
          told by a list with an entry per cell.
        - `capacity`: capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most
          200 Ah; for example 2250 mAh.
        - `cell_resistance`: resistance of one cell, or of each cell. In mΩ; above 0; at most 10 Ω; for example 8.5
          mΩ. If not given: a cautious figure by chemistry, divided by the capacity.
        - `pack_resistance`: resistance of the whole pack; divided evenly among the cells. In mΩ; above 0; at most
          100 Ω; for example 25.5 mΩ.
        - `resistance_method`: how the resistance was measured: at 1 kHz, by a charger, or under load for one or ten
          seconds. If not given: 1s.
        - `resistance_temperature`: temperature of the cells when the resistance was measured. In °C; at least -20
          °C; at most 70 °C; for example 25 °C. If not given: 25 °C.
        - `polarisation_resistance`: slow part of a cell's resistance, which appears over the polarisation time;
          one, or one per cell. In mΩ; at least 0; at most 10 Ω; for example 4.2 mΩ. If not given: half of the cell
          resistance.
        - `polarisation_time`: time constant of the slow part. In s; at least 0.1 s; at most 3600 s; for example 30
          s. If not given: 30 s.
        - `temperature`: temperature of the pack now. In °C; at least -20 °C; at most 70 °C; for example 25 °C. If
          not given: 25 °C.
        - `condition`: state of the pack's body; anything but sound is not charged, joined or flown. If not given:
          sound.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "parallel-join",
            ParallelJoin,
            {
                "packs": packs,
                "voltages": voltages,
                "limit_rate": limit_rate,
                "lead_resistance": lead_resistance,
                "chemistry": chemistry,
                "cells": cells,
                "capacity": capacity,
                "cell_resistance": cell_resistance,
                "pack_resistance": pack_resistance,
                "resistance_method": resistance_method,
                "resistance_temperature": resistance_temperature,
                "polarisation_resistance": polarisation_resistance,
                "polarisation_time": polarisation_time,
                "temperature": temperature,
                "condition": condition,
            },
            pack=pack,
            exclusive=(
                ("packs", "voltages"),
                ("packs", "chemistry"),
                ("packs", "cells"),
                ("packs", "capacity"),
                ("packs", "cell_resistance"),
                ("packs", "pack_resistance"),
                ("packs", "resistance_method"),
                ("packs", "resistance_temperature"),
                ("packs", "polarisation_resistance"),
                ("packs", "polarisation_time"),
                ("packs", "temperature"),
                ("packs", "condition"),
                ("cell_resistance", "pack_resistance"),
            ),
        )

    def receiver_time(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        servos: int,
        servo_current: QuantityLike,
        idle_current: QuantityLike | None = None,
        duty: float | str | None = None,
        reserve: float | str | None = None,
        capacity_left: float | str | None = None,
        regulator_voltage: QuantityLike | None = None,
        efficiency: float | str | None = None,
        receiver_floor: QuantityLike | None = None,
        time_planned: QuantityLike | None = None,
        capacity: QuantitiesLike | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
        cell_resistance: QuantitiesLike | None = None,
        pack_resistance: QuantityLike | None = None,
        resistance_method: ResistanceMethod | None = None,
        resistance_temperature: QuantityLike | None = None,
        polarisation_resistance: QuantitiesLike | None = None,
        polarisation_time: QuantityLike | None = None,
        temperature: QuantityLike | None = None,
        state_of_charge: float | str | None = None,
        rest_voltage: QuantityLike | None = None,
        cell_voltages: QuantitiesLike | None = None,
        condition: Condition | None = None,
    ) -> ReceiverTime:
        """How long a receiver pack lasts, on the short side, and whether to take off with it.

        At most one of `state_of_charge`, `rest_voltage` and `cell_voltages`. At most one of `cell_resistance` and
        `pack_resistance`.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `servos`: number of servos. At least 1; at most 64; for example 4.
        - `servo_current`: what one servo draws when it is held fast. In A; above 0; at most 100 A; for example 1.1
          A.
        - `idle_current`: what receiver and servos draw at rest. In A; above 0; at most 100 A; for example 0.25 A.
          If not given: 0.25 A.
        - `duty`: mean current of a working servo over its stall current. Above 0; at most 1; for example 0.2. If
          not given: 0.2.
        - `reserve`: state of charge to land with. At least 0; at most 0.95; for example 0.5. If not given: 0.5.
        - `capacity_left`: part of its label's capacity that the pack still has. Above 0; at most 1; for example
          0.8. If not given: 0.8.
        - `regulator_voltage`: what a switching regulator gives to receiver and servos. In V; above 0; at most 60 V;
          for example 5.5 V.
        - `efficiency`: part of its input that the charger passes on. At least 0.1; at most 1; for example 0.85. If
          not given: 0.85 for a regulator.
        - `receiver_floor`: lowest voltage at the pack's plug with which receiver or regulator goes on. In V; above
          0; at most 60 V; for example 4.0 V. If not given: 4 V.
        - `time_planned`: time in the air before the next charge. In min; above 0; at most 10000 min; for example 32
          min.
        - `capacity`: capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most
          200 Ah; for example 2250 mAh.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `cells`: number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given:
          told by a list with an entry per cell.
        - `cell_resistance`: resistance of one cell, or of each cell. In mΩ; above 0; at most 10 Ω; for example 8.5
          mΩ. If not given: a cautious figure by chemistry, divided by the capacity.
        - `pack_resistance`: resistance of the whole pack; divided evenly among the cells. In mΩ; above 0; at most
          100 Ω; for example 25.5 mΩ.
        - `resistance_method`: how the resistance was measured: at 1 kHz, by a charger, or under load for one or ten
          seconds. If not given: 1s.
        - `resistance_temperature`: temperature of the cells when the resistance was measured. In °C; at least -20
          °C; at most 70 °C; for example 25 °C. If not given: 25 °C.
        - `polarisation_resistance`: slow part of a cell's resistance, which appears over the polarisation time;
          one, or one per cell. In mΩ; at least 0; at most 10 Ω; for example 4.2 mΩ. If not given: half of the cell
          resistance.
        - `polarisation_time`: time constant of the slow part. In s; at least 0.1 s; at most 3600 s; for example 30
          s. If not given: 30 s.
        - `temperature`: temperature of the pack now. In °C; at least -20 °C; at most 70 °C; for example 25 °C. If
          not given: 25 °C.
        - `state_of_charge`: state of charge of every cell, empty at 0, full at 1 or 100 %. At least 0; at most 1;
          for example 0.2. If not given: 1.
        - `rest_voltage`: voltage of the whole pack at rest. In V; at least 0; for example 15.07 V.
        - `cell_voltages`: voltage of each cell at rest. In V; at least 0; for example 3.77,3.76,3.79,3.75 V.
        - `condition`: state of the pack's body; anything but sound is not charged, joined or flown. If not given:
          sound.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "receiver-time",
            ReceiverTime,
            {
                "servos": servos,
                "servo_current": servo_current,
                "idle_current": idle_current,
                "duty": duty,
                "reserve": reserve,
                "capacity_left": capacity_left,
                "regulator_voltage": regulator_voltage,
                "efficiency": efficiency,
                "receiver_floor": receiver_floor,
                "time_planned": time_planned,
                "capacity": capacity,
                "chemistry": chemistry,
                "cells": cells,
                "cell_resistance": cell_resistance,
                "pack_resistance": pack_resistance,
                "resistance_method": resistance_method,
                "resistance_temperature": resistance_temperature,
                "polarisation_resistance": polarisation_resistance,
                "polarisation_time": polarisation_time,
                "temperature": temperature,
                "state_of_charge": state_of_charge,
                "rest_voltage": rest_voltage,
                "cell_voltages": cell_voltages,
                "condition": condition,
            },
            pack=pack,
            exclusive=(
                ("state_of_charge", "rest_voltage", "cell_voltages"),
                ("cell_resistance", "pack_resistance"),
            ),
        )

    def safe_draw(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        label_rate: float | str | None = None,
        floor: QuantityLike | None = None,
        depth: float | str | None = None,
        burst_duration: QuantityLike | None = None,
        limit_temperature: QuantityLike | None = None,
        ambient: QuantityLike | None = None,
        cell_mass: QuantitiesLike | None = None,
        cooling: QuantityLike | None = None,
        entropy_coefficient: QuantityLike | None = None,
        margin: float | str | None = None,
        capacity: QuantitiesLike | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
        cell_resistance: QuantitiesLike | None = None,
        pack_resistance: QuantityLike | None = None,
        resistance_method: ResistanceMethod | None = None,
        resistance_temperature: QuantityLike | None = None,
        polarisation_resistance: QuantitiesLike | None = None,
        polarisation_time: QuantityLike | None = None,
        temperature: QuantityLike | None = None,
    ) -> SafeDraw:
        """The most current a pack should give, over a whole flight and in a burst.

        Needs one of `cell_resistance` and `pack_resistance`.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `label_rate`: discharge rate on the label. Above 0; at most 1000; for example 40.
        - `floor`: lowest voltage that a cell may have under load. In V; at least 0; at most 5 V; for example 3.3 V.
          If not given: the chemistry's usual floor under load.
        - `depth`: part of the capacity used in a flight. Above 0; at most 1; for example 0.8. If not given: 0.8.
        - `burst_duration`: length of a burst. In s; above 0; at most 600 s; for example 10 s. If not given: 10 s.
        - `limit_temperature`: temperature that no cell may pass. In °C; at least 0 °C; at most 100 °C; for example
          60 °C. If not given: 60 °C.
        - `ambient`: temperature of the air. In °C; at least -30 °C; at most 70 °C; for example 25 °C. If not given:
          the pack's own temperature.
        - `cell_mass`: mass of one cell, or of each. In g; at least 0.1 g; at most 100 kg; for example 40 g. If not
          given: by the chemistry's energy per mass, on the light side.
        - `cooling`: heat that air takes from a cell. In W/K; at least 0; at most 1 kW/K; for example 0.2 W/K. If
          not given: 0 W/K.
        - `entropy_coefficient`: mean change of a cell's open-circuit voltage with temperature; below zero it heats
          on discharge. In mV/K; at least -5 mV/K; at most 5 mV/K; for example -0.235 mV/K. If not given: the
          chemistry's own.
        - `margin`: part of the limit to use. Above 0; at most 1; for example 0.8. If not given: 0.8.
        - `capacity`: capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most
          200 Ah; for example 2250 mAh.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `cells`: number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given:
          told by a list with an entry per cell.
        - `cell_resistance`: resistance of one cell, or of each cell. In mΩ; above 0; at most 10 Ω; for example 8.5
          mΩ.
        - `pack_resistance`: resistance of the whole pack; divided evenly among the cells. In mΩ; above 0; at most
          100 Ω; for example 25.5 mΩ.
        - `resistance_method`: how the resistance was measured: at 1 kHz, by a charger, or under load for one or ten
          seconds. If not given: 1s.
        - `resistance_temperature`: temperature of the cells when the resistance was measured. In °C; at least -20
          °C; at most 70 °C; for example 25 °C. If not given: 25 °C.
        - `polarisation_resistance`: slow part of a cell's resistance, which appears over the polarisation time;
          one, or one per cell. In mΩ; at least 0; at most 10 Ω; for example 4.2 mΩ. If not given: half of the cell
          resistance.
        - `polarisation_time`: time constant of the slow part. In s; at least 0.1 s; at most 3600 s; for example 30
          s. If not given: 30 s.
        - `temperature`: temperature of the pack now. In °C; at least -20 °C; at most 70 °C; for example 25 °C. If
          not given: 25 °C.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "safe-draw",
            SafeDraw,
            {
                "label_rate": label_rate,
                "floor": floor,
                "depth": depth,
                "burst_duration": burst_duration,
                "limit_temperature": limit_temperature,
                "ambient": ambient,
                "cell_mass": cell_mass,
                "cooling": cooling,
                "entropy_coefficient": entropy_coefficient,
                "margin": margin,
                "capacity": capacity,
                "chemistry": chemistry,
                "cells": cells,
                "cell_resistance": cell_resistance,
                "pack_resistance": pack_resistance,
                "resistance_method": resistance_method,
                "resistance_temperature": resistance_temperature,
                "polarisation_resistance": polarisation_resistance,
                "polarisation_time": polarisation_time,
                "temperature": temperature,
            },
            pack=pack,
            exclusive=(("cell_resistance", "pack_resistance"),),
        )

    def sag(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        current: QuantityLike | None = None,
        rate: float | str | None = None,
        power: QuantityLike | None = None,
        lead_resistance: QuantityLike | None = None,
        duration: QuantityLike | None = None,
        floor: QuantityLike | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
        capacity: QuantitiesLike | None = None,
        cell_resistance: QuantitiesLike | None = None,
        pack_resistance: QuantityLike | None = None,
        resistance_method: ResistanceMethod | None = None,
        resistance_temperature: QuantityLike | None = None,
        polarisation_resistance: QuantitiesLike | None = None,
        polarisation_time: QuantityLike | None = None,
        temperature: QuantityLike | None = None,
        state_of_charge: float | str | None = None,
        rest_voltage: QuantityLike | None = None,
        cell_voltages: QuantitiesLike | None = None,
    ) -> Sag:
        """Voltage of a pack under load.

        Needs one of `current`, `rate` and `power`. At most one of `state_of_charge`, `rest_voltage` and
        `cell_voltages`. At most one of `cell_resistance` and `pack_resistance`.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `current`: current drawn from the pack. In A; above 0; at most 20 kA; for example 48 A.
        - `rate`: discharge rate, in multiples of the capacity per hour. Above 0; at most 1000; for example 20.
        - `power`: constant power at the load, after the leads. In W; above 0; at most 1 MW; for example 240 W.
        - `lead_resistance`: resistance of the leads, both conductors together. In mΩ; at least 0; at most 100 Ω;
          for example 6.5 mΩ. If not given: 0 mΩ.
        - `duration`: how long the load is on; 0 is the first instant. In s; at least 0; at most 36000 s; for
          example 10 s. If not given: 10 s.
        - `floor`: lowest voltage that a cell may have under load. In V; at least 0; at most 5 V; for example 3.3 V.
          If not given: the chemistry's usual floor under load.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `cells`: number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given:
          told by a list with an entry per cell.
        - `capacity`: capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most
          200 Ah; for example 2250 mAh.
        - `cell_resistance`: resistance of one cell, or of each cell. In mΩ; above 0; at most 10 Ω; for example 8.5
          mΩ. If not given: a cautious figure by chemistry, divided by the capacity.
        - `pack_resistance`: resistance of the whole pack; divided evenly among the cells. In mΩ; above 0; at most
          100 Ω; for example 25.5 mΩ.
        - `resistance_method`: how the resistance was measured: at 1 kHz, by a charger, or under load for one or ten
          seconds. If not given: 1s.
        - `resistance_temperature`: temperature of the cells when the resistance was measured. In °C; at least -20
          °C; at most 70 °C; for example 25 °C. If not given: 25 °C.
        - `polarisation_resistance`: slow part of a cell's resistance, which appears over the polarisation time;
          one, or one per cell. In mΩ; at least 0; at most 10 Ω; for example 4.2 mΩ. If not given: half of the cell
          resistance.
        - `polarisation_time`: time constant of the slow part. In s; at least 0.1 s; at most 3600 s; for example 30
          s. If not given: 30 s.
        - `temperature`: temperature of the pack now. In °C; at least -20 °C; at most 70 °C; for example 25 °C. If
          not given: 25 °C.
        - `state_of_charge`: state of charge of every cell, empty at 0, full at 1 or 100 %. At least 0; at most 1;
          for example 0.2. If not given: 0.2.
        - `rest_voltage`: voltage of the whole pack at rest. In V; at least 0; for example 15.07 V.
        - `cell_voltages`: voltage of each cell at rest. In V; at least 0; for example 3.77,3.76,3.79,3.75 V.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "sag",
            Sag,
            {
                "current": current,
                "rate": rate,
                "power": power,
                "lead_resistance": lead_resistance,
                "duration": duration,
                "floor": floor,
                "chemistry": chemistry,
                "cells": cells,
                "capacity": capacity,
                "cell_resistance": cell_resistance,
                "pack_resistance": pack_resistance,
                "resistance_method": resistance_method,
                "resistance_temperature": resistance_temperature,
                "polarisation_resistance": polarisation_resistance,
                "polarisation_time": polarisation_time,
                "temperature": temperature,
                "state_of_charge": state_of_charge,
                "rest_voltage": rest_voltage,
                "cell_voltages": cell_voltages,
            },
            pack=pack,
            exclusive=(
                ("current", "rate", "power"),
                ("state_of_charge", "rest_voltage", "cell_voltages"),
                ("cell_resistance", "pack_resistance"),
            ),
        )

    def series_join(
        self,
        *,
        packs: Sequence[StackedPack | Mapping[str, Any]],
        current: QuantityLike,
        reserve: float | str | None = None,
        floor: QuantityLike | None = None,
        lead_resistance: QuantityLike | None = None,
        duration: QuantityLike | None = None,
    ) -> SeriesJoin:
        """Which of several packs in series empties first, and what becomes of it if the model is flown on.

        - `packs`: the packs, of one chemistry; their numbers of cells may differ.
        - `current`: current of the flight, which all packs carry. In A; above 0; at most 20 kA; for example 23 A.
        - `reserve`: part of its capacity that each pack is to keep. At least 0; at most 0.99; for example 0.2. If
          not given: 0.2.
        - `floor`: lowest voltage that a cell may have under load. In V; at least 0; at most 5 V; for example 3.3 V.
          If not given: the chemistry's usual floor under load.
        - `lead_resistance`: resistance of the leads, both conductors together. In mΩ; at least 0; at most 100 Ω;
          for example 6.5 mΩ. If not given: 0 mΩ.
        - `duration`: time under load after which the voltage is told. In s; at least 0; at most 3600 s; for example
          10 s. If not given: 10 s.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "series-join",
            SeriesJoin,
            {
                "packs": packs,
                "current": current,
                "reserve": reserve,
                "floor": floor,
                "lead_resistance": lead_resistance,
                "duration": duration,
            },
        )

    def standing_loss(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        first_cell_voltages: QuantitiesLike,
        second_cell_voltages: QuantitiesLike,
        days: float | str,
        meter_resolution: QuantityLike | None = None,
        chemistry: Chemistry | None = None,
        capacity: QuantityLike | None = None,
    ) -> StandingLoss:
        """What the cells of a standing pack lose, and whether one of them empties itself.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `first_cell_voltages`: voltage of each cell at rest, to begin with. In V; at least 0; for example
          3.86,3.86,3.85 V.
        - `second_cell_voltages`: voltage of each cell after some days of standing. In V; at least 0; for example
          3.85,3.85,3.78 V.
        - `days`: days between the two readings. At least 0.01; at most 3660; for example 17.
        - `meter_resolution`: smallest step that the voltmeter shows. In V; at least 0; at most 1 V; for example 10
          mV. If not given: 0.01 V.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `capacity`: capacity of the pack. In mAh; at least 10 mAh; at most 200 Ah; for example 3700 mAh.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "standing-loss",
            StandingLoss,
            {
                "first_cell_voltages": first_cell_voltages,
                "second_cell_voltages": second_cell_voltages,
                "days": days,
                "meter_resolution": meter_resolution,
                "chemistry": chemistry,
                "capacity": capacity,
            },
            pack=pack,
        )

    def storage(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        target_voltage: QuantityLike | None = None,
        target_state: float | str | None = None,
        rate: float | str | None = None,
        discharge_power: QuantityLike | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
        capacity: QuantitiesLike | None = None,
        cell_resistance: QuantitiesLike | None = None,
        pack_resistance: QuantityLike | None = None,
        resistance_method: ResistanceMethod | None = None,
        resistance_temperature: QuantityLike | None = None,
        polarisation_resistance: QuantitiesLike | None = None,
        polarisation_time: QuantityLike | None = None,
        temperature: QuantityLike | None = None,
        state_of_charge: float | str | None = None,
        rest_voltage: QuantityLike | None = None,
        cell_voltages: QuantitiesLike | None = None,
        condition: Condition | None = None,
    ) -> Storage:
        """What it takes to bring a pack to the charge at which it is stored.

        Needs one of `rest_voltage`, `cell_voltages` and `state_of_charge`. At most one of `target_voltage` and
        `target_state`. At most one of `cell_resistance` and `pack_resistance`.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `target_voltage`: resting voltage to store at, of a cell or of the whole pack; which of them, its size
          tells. In V; above 0; at most 100 V; for example 3.85 V. If not given: the chemistry's usual storage
          voltage, per cell.
        - `target_state`: state of charge to store at, in place of a voltage. At least 0; at most 1; for example
          0.5. If not given: half for lithium-iron-phosphate, full for lead-acid.
        - `rate`: charge rate, in multiples of the capacity per hour. Above 0; at most 100; for example 1. If not
          given: the chemistry's usual rate.
        - `discharge_power`: power at which the pack would be discharged. In W; above 0; at most 1 MW; for example 5
          W. If not given: 5 W.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `cells`: number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given:
          told by a list with an entry per cell.
        - `capacity`: capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most
          200 Ah; for example 2250 mAh.
        - `cell_resistance`: resistance of one cell, or of each cell. In mΩ; above 0; at most 10 Ω; for example 8.5
          mΩ. If not given: a cautious figure by chemistry, divided by the capacity.
        - `pack_resistance`: resistance of the whole pack; divided evenly among the cells. In mΩ; above 0; at most
          100 Ω; for example 25.5 mΩ.
        - `resistance_method`: how the resistance was measured: at 1 kHz, by a charger, or under load for one or ten
          seconds. If not given: 1s.
        - `resistance_temperature`: temperature of the cells when the resistance was measured. In °C; at least -20
          °C; at most 70 °C; for example 25 °C. If not given: 25 °C.
        - `polarisation_resistance`: slow part of a cell's resistance, which appears over the polarisation time;
          one, or one per cell. In mΩ; at least 0; at most 10 Ω; for example 4.2 mΩ. If not given: half of the cell
          resistance.
        - `polarisation_time`: time constant of the slow part. In s; at least 0.1 s; at most 3600 s; for example 30
          s. If not given: 30 s.
        - `temperature`: temperature of the pack now. In °C; at least -20 °C; at most 70 °C; for example 25 °C. If
          not given: 25 °C.
        - `state_of_charge`: state of charge of every cell, empty at 0, full at 1 or 100 %. At least 0; at most 1;
          for example 0.2.
        - `rest_voltage`: voltage of the whole pack at rest. In V; at least 0; for example 15.07 V.
        - `cell_voltages`: voltage of each cell at rest. In V; at least 0; for example 3.77,3.76,3.79,3.75 V.
        - `condition`: state of the pack's body; anything but sound is not charged, joined or flown. If not given:
          sound.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "storage",
            Storage,
            {
                "target_voltage": target_voltage,
                "target_state": target_state,
                "rate": rate,
                "discharge_power": discharge_power,
                "chemistry": chemistry,
                "cells": cells,
                "capacity": capacity,
                "cell_resistance": cell_resistance,
                "pack_resistance": pack_resistance,
                "resistance_method": resistance_method,
                "resistance_temperature": resistance_temperature,
                "polarisation_resistance": polarisation_resistance,
                "polarisation_time": polarisation_time,
                "temperature": temperature,
                "state_of_charge": state_of_charge,
                "rest_voltage": rest_voltage,
                "cell_voltages": cell_voltages,
                "condition": condition,
            },
            pack=pack,
            exclusive=(
                ("rest_voltage", "cell_voltages", "state_of_charge"),
                ("target_voltage", "target_state"),
                ("cell_resistance", "pack_resistance"),
            ),
        )

    def supply_split(
        self,
        *,
        supply_rating: QuantityLike,
        loads: Sequence[Load | Mapping[str, Any] | QuantityLike] | str,
        share: Share | None = None,
        headroom: float | str | None = None,
        rating_step: QuantityLike | None = None,
        supply_voltage: QuantityLike | None = None,
        source_resistance: QuantityLike | None = None,
        lead_resistance: QuantityLike | None = None,
        lead_resistances: QuantitiesLike | None = None,
        input_floor: QuantityLike | None = None,
    ) -> SupplySplit:
        """How one supply is shared among several loads.

        At most one of `lead_resistance` and `lead_resistances`.

        - `supply_rating`: power rating of the supply. In W; above 0; at most 1 MW; for example 180 W.
        - `loads`: loads in order of importance: powers, named powers, or packs to charge. For example 110 W,60 W.
        - `share`: how to share what is too little: in order, evenly, or in proportion to what is asked. If not
          given: in-order.
        - `headroom`: part of a supply's rating kept free. At least 0; at most 0.9; for example 0.1. If not given:
          0.1.
        - `rating_step`: step in which power ratings go. In W; above 0; at most 1 MW; for example 5 W. If not given:
          5 W.
        - `supply_voltage`: voltage of the supply. In V; above 0; at most 1 kV; for example 14.2 V.
        - `source_resistance`: resistance of the source itself. In mΩ; at least 0; at most 100 Ω; for example 13 mΩ.
          If not given: 0 with a supply voltage.
        - `lead_resistance`: resistance of the leads, both conductors together. In mΩ; at least 0; at most 100 Ω;
          for example 6.5 mΩ. If not given: 0 with a supply voltage.
        - `lead_resistances`: resistance of each load's leads, both conductors. In mΩ; at least 0; at most 100 Ω;
          for example 6.5,9 mΩ.
        - `input_floor`: lowest input voltage that the loads accept. In V; at least 0; at most 1 kV; for example 11
          V.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "supply-split",
            SupplySplit,
            {
                "supply_rating": supply_rating,
                "loads": loads,
                "share": share,
                "headroom": headroom,
                "rating_step": rating_step,
                "supply_voltage": supply_voltage,
                "source_resistance": source_resistance,
                "lead_resistance": lead_resistance,
                "lead_resistances": lead_resistances,
                "input_floor": input_floor,
            },
        )

    def warm_up(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        ambient: QuantityLike,
        target_temperature: QuantityLike | None = None,
        surroundings: Surroundings | None = None,
        cell_mass: QuantitiesLike | None = None,
        cooling: QuantityLike | None = None,
        capacity: QuantitiesLike | None = None,
        temperature: QuantityLike | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
    ) -> WarmUp:
        """How long a pack needs in warm air until its middle is warm enough.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `ambient`: temperature of the air. In °C; at least -30 °C; at most 70 °C; for example 25 °C.
        - `target_temperature`: temperature that the middle of the pack is to come to. In °C; at least -20 °C; at
          most 70 °C; for example 20 °C. If not given: 20 °C.
        - `surroundings`: where the pack lies: free in still air, in a closed box or bag, or in a draught such as a
          fan's. If not given: still-air.
        - `cell_mass`: mass of one cell, or of each. In g; at least 0.1 g; at most 100 kg; for example 40 g. If not
          given: by the chemistry's energy per mass, on the light side.
        - `cooling`: heat that air takes from a cell. In W/K; at least 0; at most 1 kW/K; for example 0.2 W/K. If
          not given: by the surroundings, from all sides.
        - `capacity`: capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most
          200 Ah; for example 2250 mAh.
        - `temperature`: temperature of the pack now. In °C; at least -20 °C; at most 70 °C; for example 25 °C.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `cells`: number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given:
          told by a list with an entry per cell.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "warm-up",
            WarmUp,
            {
                "ambient": ambient,
                "target_temperature": target_temperature,
                "surroundings": surroundings,
                "cell_mass": cell_mass,
                "cooling": cooling,
                "capacity": capacity,
                "temperature": temperature,
                "chemistry": chemistry,
                "cells": cells,
            },
            pack=pack,
        )

    def wattage(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        rate: float | str | None = None,
        current: QuantityLike | None = None,
        voltage: QuantityLike | None = None,
        efficiency: float | str | None = None,
        headroom: float | str | None = None,
        rating_step: QuantityLike | None = None,
        supply_voltage: QuantityLike | None = None,
        available_power: QuantityLike | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
        capacity: QuantitiesLike | None = None,
        condition: Condition | None = None,
    ) -> Wattage:
        """What a charge asks of charger and supply.

        Needs one of `cells` and `voltage`. At most one of `rate` and `current`. At most one of `capacity` and
        `voltage`.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `rate`: charge rate, in multiples of the capacity per hour. Above 0; at most 100; for example 1. If not
          given: the chemistry's usual rate.
        - `current`: charge current, instead of a rate. In A; above 0; at most 20 kA; for example 2.3 A.
        - `voltage`: end-of-charge voltage of the whole pack, in place of cells and capacity. In V; above 0; at most
          1 kV; for example 12.6 V.
        - `efficiency`: part of its input that the charger passes on. At least 0.1; at most 1; for example 0.85. If
          not given: 0.85.
        - `headroom`: part of a supply's rating kept free. At least 0; at most 0.9; for example 0.1. If not given:
          0.1.
        - `rating_step`: step in which power ratings go. In W; above 0; at most 1 MW; for example 5 W. If not given:
          5 W.
        - `supply_voltage`: voltage of the supply. In V; above 0; at most 1 kV; for example 14.2 V.
        - `available_power`: what the supply can spare for this charge. In W; at least 0; at most 1 MW; for example
          30 W.
        - `chemistry`: kind of cell: lithium-polymer, high-voltage lithium-polymer, lithium-ion,
          lithium-iron-phosphate, nickel-metal-hydride, nickel-cadmium or lead-acid. If not given: lipo.
        - `cells`: number of cells in series, as on the label. At least 1; at most 24; for example 4. If not given:
          told by a list with an entry per cell.
        - `capacity`: capacity on the label; one for all cells, or one per cell. In mAh; at least 10 mAh; at most
          200 Ah; for example 2250 mAh.
        - `condition`: state of the pack's body; anything but sound is not charged, joined or flown.

        Raises `InvalidQuestion` for inputs that cannot be right, and the other errors of `ampstead_client.errors`.
        """
        return self._ask(
            "wattage",
            Wattage,
            {
                "rate": rate,
                "current": current,
                "voltage": voltage,
                "efficiency": efficiency,
                "headroom": headroom,
                "rating_step": rating_step,
                "supply_voltage": supply_voltage,
                "available_power": available_power,
                "chemistry": chemistry,
                "cells": cells,
                "capacity": capacity,
                "condition": condition,
            },
            pack=pack,
            exclusive=(
                ("rate", "current"),
                ("cells", "voltage"),
                ("capacity", "voltage"),
            ),
        )

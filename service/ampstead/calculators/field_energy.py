"""What a battery at the field can recharge.

Over 300 lines, since packs may be told flat or in a list, and either way stand on one source.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, fields
from typing import Annotated, Any, ClassVar, Literal

import numpy as np

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.one.charge import charge
from ampstead.cell.sizing import HOUR
from ampstead.cell.wiring.drain import Drain, drained
from ampstead.declare import (
    Band,
    Caution,
    Choice,
    Floats,
    Fraction,
    Group,
    Items,
    Nested,
    Number,
    OneOf,
    Quantity,
    Text,
    derived,
)
from ampstead.errors import FieldError
from ampstead.inputs.pack import (
    Capacity,
    Checks,
    ChemistryName,
    Pack,
    cells_in_range,
    has_curve,
    lengths_agree,
    voltages_in_range,
)
from ampstead.inputs.shared import MOST_POWER, ChargeRate, Efficiency, LeadResistance, cells_told, usual_charge_rate
from ampstead.inputs.source import (
    FLAT_SOURCE,
    RATED_HOURS,
    FieldSource,
    Peukert,
    RatedHours,
    SourceCapacity,
    SourceCellResistance,
    SourceCells,
    SourceChemistry,
    SourceStateOfCharge,
    SourceTemperature,
    StateOfCharge,
    exponent,
    flat_source,
    flat_source_in_range,
    loss_goes_with_lead,
    source_is_told,
    usual_depth,
    usual_hours,
    usual_peukert,
    usual_source_resistance,
    usual_source_state,
    usual_source_temperature,
)
from ampstead.judging.bands import AS_TOLD, Resisting, efficiency_edges, resistance_factors
from ampstead.judging.cautions import Table, charging
from ampstead.judging.cautions import caution as shared
from ampstead.judging.charging import body_words, charge_verdict, pack_cautions
from ampstead.judging.doubts import SOURCE, edges, error
from ampstead.judging.flying import too_cold_to_fly
from ampstead.judging.overfull import overfull_cautions
from ampstead.judging.states import lowest_state_words
from ampstead.sketch import Chart, Limit, Panel
from ampstead.words import amperes, capitalised, count, degrees, number, percent, sentences, volts, watt_hours

ASKED = "How many packs does my field battery recharge?"
WHEN = ("at the field", 80)
MAIN = ("recharges", "usable_energy")
SOURCES = (
    "Constant power through a source and its leads: Kirchhoff's laws, upper solution; none beyond maximum power "
    "transfer (OpenStax University Physics vol. 2, ch. 10); runs compared with the library thevenin 0.2.1",
    "Peukert's law in the form of the rated hours, t = H * (C / (I * H)) ** k; exponents of 1.1 to 1.25 for flooded "
    "and about 1.05 for absorbed-glass-mat batteries: a utility's page, as quoted",
    "State of lead-acid from voltage: US Army TM 5-3805-262-20; other open-circuit curves: Ai et al. 2020 (lipo), Chen "
    "et al. 2020 (liion), Prada et al. 2013 (life); lihv is extrapolated, not measured",
    "What lead-acid loses in the cold, 1 percent of its capacity per kelvin below 25 degrees: from memory",
    "Half of a lead-acid battery, four fifths of a lithium one, 85 percent efficiency: common practice, no published "
    "source",
    "The charger at its peak power throughout, nothing gained below the rated current, an exponent of 1.25 where none "
    "is told: this project's own judgement, on the safe side",
)
MOST_ROWS = 250
EXAMPLES = (
    {
        "source_chemistry": "lead",
        "source_cells": 6,
        "source_capacity": "38 Ah",
        "source_cell_resistance": "2.2 mΩ",
        "cells": 3,
        "capacity": "2250 mAh",
        "input_floor": "11 V",
        "lead_resistance": "7.5 mΩ",
    },
    {
        "source": {"chemistry": "lead", "cells": 6, "capacity": "38 Ah", "rest_voltage": "12.55 V"},
        "packs": [
            {"name": "blue aerobat", "cells": 4, "capacity": "3700 mAh", "rest_voltage": "15.07 V"},
            {"name": "yellow glider", "cells": 3, "capacity": "1150 mAh", "state_of_charge": 0.3},
        ],
        "idle_power": "3 W",
    },
)
TAPER = 0.1  # The charge ends at this part of the set current; common practice.
SLACK = 1e-9

Ending = Literal["depth", "input-floor", "power"]


def not_lead(chemistry: ChemistryName | None) -> Iterator[FieldError]:
    """The charge of a lead-acid pack has no time, and so no energy either."""
    if chemistry is not None and not CHEMISTRIES[chemistry].charge_timed:
        said = "lead-acid packs are not supported here: how long their charge takes cannot be told"
        yield FieldError("chemistry", "unsupported", said)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargedPack(Pack):
    """A pack to be recharged at the field."""

    name: Annotated[str | None, Text("What to call the pack.", example="blue aerobat")] = None
    capacity: Capacity = field()  # without a default, where a pack has one
    state_of_charge: StateOfCharge = 0.2
    rate: ChargeRate = derived(usual_charge_rate, "the chemistry's usual rate")

    CHECKS: ClassVar[Checks] = (*Pack.CHECKS, cells_told, has_curve, not_lead)


def flat_voltages_in_range(
    chemistry: ChemistryName | None, cells: int | None, rest_voltage: float | None, cell_voltages: Floats | None
) -> Iterator[FieldError]:
    """As for any pack, where the pack is told flat."""
    if chemistry is not None:
        yield from voltages_in_range(chemistry, cells, rest_voltage, cell_voltages)


def flat_has_curve(chemistry: ChemistryName | None) -> Iterator[FieldError]:
    """As for any pack, where the pack is told flat."""
    if chemistry is not None:
        yield from has_curve(chemistry)


@dataclass(frozen=True, slots=True, kw_only=True)
class OnePack(Pack):
    """The packs to be recharged, all of one kind, told flat; nothing where ``packs`` tells them."""

    CHECKS: ClassVar[Checks] = (lengths_agree, cells_in_range, flat_voltages_in_range, flat_has_curve, not_lead)


FLAT = (*(entry.name for entry in fields(Pack)), "rate")


def packs_are_told(packs: Any, cells: int | None, capacity: Any) -> Iterator[FieldError]:
    """The packs are a list, or one kind told flat."""
    if packs:
        return
    if cells is None:
        said = "cells is missing: number of cells of the packs to recharge, like 4 (or give packs)"
        yield FieldError("cells", "missing", said)
    if capacity is None:
        said = 'capacity is missing: capacity of the packs to recharge, like "2250 mAh" (or give packs)'
        yield FieldError("capacity", "missing", said)


RULES = (
    *(OneOf("source", name, asked="What is the source?") for name in FLAT_SOURCE),
    *(OneOf("packs", name, asked="What is recharged?") for name in FLAT),
)
CHECKS = (source_is_told, flat_source_in_range, loss_goes_with_lead, packs_are_told)


@dataclass(frozen=True)
class Kind:
    """One of the packs, and what its charge asks of the source."""

    pack: Pack
    rate: float
    current: float
    reason: str | None
    """Why it is not charged; None where it is."""
    peak: float = 0.0
    """Into the pack, W."""
    energy: float = 0.0
    """Into the pack, J."""
    time: float = 0.0

    @property
    def called(self) -> str:
        return getattr(self.pack, "name", None) or f"this {self.pack.kind.words} pack"

    def input_power(self, efficiency: float, idle: float) -> float:
        return self.peak / efficiency + idle

    def input_energy(self, efficiency: float, idle: float) -> float:
        return self.energy / efficiency + idle * self.time


@dataclass(frozen=True)
class Field:
    """The source and what hangs on it."""

    source: FieldSource
    kinds: Sequence[Kind]
    depth: float
    floor: float
    lead: float
    idle: float
    hours: float

    def energy(self, efficiency: float, kinds: Sequence[Kind] | None = None) -> float:
        """Mean energy of a recharge at the charger's input, J."""
        told = self.kinds if kinds is None else kinds
        return sum(kind.input_energy(efficiency, self.idle) for kind in told) / len(told)

    def at_rest(self, states: Floats | None = None) -> float:
        """Voltage of the source without a load, V, as it is or at other states."""
        return float(np.sum(self.source.resolved(states).rest_voltages))

    @property
    def below_floor(self) -> bool:
        """Whether the source stands at the floor or below it without any load, so that no lead helps."""
        return self.at_rest() <= self.floor * (1 + SLACK)

    def run(
        self,
        efficiency: float,
        peukert: float,
        states: Floats | None = None,
        age: float = 1.0,
        resistance: Resisting = AS_TOLD,
    ) -> Drain:
        """The source under the strongest of the charges, to its end; `age` is what is left of its capacity."""
        power = max(kind.input_power(efficiency, self.idle) for kind in self.kinds)
        pack = resistance.of(self.source.resolved(states)).having(capacities=age * self.source.available())
        return drained(pack, power, self.lead, self.depth, self.floor, peukert, self.hours * HOUR)


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldEnergy:
    recharges: Annotated[
        float,
        Number(
            "How many packs the source recharges, one after the other; 0 where it may not or cannot.",
            spoken="down",
            label="number of recharges",
        ),
    ]
    usable_energy: Annotated[
        float, Quantity("Wh", "Energy that the source gives at the charger's input until it ends.", spoken="down")
    ]
    energy_per_recharge: Annotated[
        float,
        Quantity(
            "Wh",
            "Energy that a recharge takes at the charger's input, idle draw included; the packs' mean.",
            spoken="up",
        ),
    ]
    input_current: Annotated[
        float | None,
        Quantity(
            "A",
            "Largest current drawn from the source; none where nothing is charged or it cannot carry it.",
            spoken="up",
        ),
    ]
    input_voltage_lowest: Annotated[
        float | None, Quantity("V", "Lowest voltage at the charger's input; none likewise.", spoken="down")
    ]
    ended_by: Annotated[
        Ending | None,
        Choice(
            "What ends it: the source used to its depth, the input below its floor, or no more power; none where "
            "nothing is charged."
        ),
    ]
    _field: Field
    _run: Drain | None


def field_energy(
    *,
    source: Annotated[
        FieldSource | None,
        Nested("The battery at the field.", example=EXAMPLES[1]["source"], label="field battery"),
    ] = None,
    source_chemistry: SourceChemistry = None,
    source_cells: SourceCells = None,
    source_capacity: SourceCapacity = None,
    source_cell_resistance: SourceCellResistance = derived(
        usual_source_resistance, "a cautious figure by source_chemistry, divided by source_capacity"
    ),
    source_state_of_charge: SourceStateOfCharge = derived(usual_source_state, "1, full"),
    source_temperature: SourceTemperature = derived(usual_source_temperature, "25 °C"),
    peukert: Peukert = derived(usual_peukert, "1.25 for lead-acid, the safe side"),
    rated_hours: RatedHours = derived(usual_hours, "20 for lead-acid"),
    depth: Annotated[
        float,
        Fraction("Part of the source's capacity that may be used, from full.", above=0, at_most=1, example=0.5),
    ] = derived(usual_depth, "0.5 for lead-acid, 0.8 for lithium"),
    input_floor: Annotated[
        float | None,
        Quantity("V", "Lowest input voltage that the charger accepts.", at_least=0, at_most="1 kV", example="11 V"),
    ] = None,
    lead_resistance: LeadResistance = 0.0,
    idle_power: Annotated[
        float,
        Quantity(
            "W", "What the charger draws for itself while it charges.", at_least=0, at_most=MOST_POWER, example="3 W"
        ),
    ] = 0.0,
    efficiency: Efficiency = 0.85,
    packs: Annotated[
        list[ChargedPack] | None,
        Items("The packs to recharge, one after the other and over again.", example=EXAMPLES[1]["packs"]),
    ] = None,
    pack: Annotated[OnePack, Group(name="pack", defaults={"state_of_charge": 0.2})],
    rate: ChargeRate = derived(usual_charge_rate, "the chemistry's usual rate"),
) -> FieldEnergy:
    """How many packs a battery at the field recharges, and what its charger sees.

    A recharge is charge-current's charge of one pack, at its rate up to a tenth of that. At the charger's input it
    takes

        energy = pack's energy / efficiency + idle power * its time                  (1)

    and at most P = peak power / efficiency + idle power. The source carries that power throughout, through its own
    resistance and the leads, until it is used to ``depth``, the input falls to ``input_floor``, or it can give it no
    more; lead-acid loses to Peukert:

        usable = P * time,   recharges = usable / energy,   t = H * (C / (I * H)) ** k  at a constant current    (2)

    Lead-acid in the cold has 1 percent less of its capacity C per kelvin below 25 degrees.
    Several packs are charged one after the other: the energy is their mean, the power that of the strongest.
    """
    if source is None:
        assert source_chemistry is not None
        assert source_cells is not None
        assert source_capacity is not None
        assert source_cell_resistance is not None
        assert source_state_of_charge is not None
        assert source_temperature is not None
        source = flat_source(
            source_chemistry,
            source_cells,
            source_capacity,
            source_cell_resistance,
            source_state_of_charge,
            source_temperature,
        )
    kinds = [kind(told, told.rate) for told in packs] if packs else [kind(pack, rate)]
    field = Field(
        source=source,
        kinds=kinds,
        depth=depth,
        floor=0.0 if input_floor is None else input_floor,
        lead=lead_resistance,
        idle=idle_power,
        hours=next((hours for hours in (source.rated_hours, rated_hours) if hours is not None), RATED_HOURS),
    )
    energy = field.energy(efficiency)
    if source.condition != "sound" or any(told.reason for told in kinds):
        return FieldEnergy(
            recharges=0.0,
            usable_energy=0.0,
            energy_per_recharge=energy,
            input_current=None,
            input_voltage_lowest=None,
            ended_by=None,
            _field=field,
            _run=None,
        )
    run = field.run(efficiency, exponent(source, peukert))
    begun = len(run.times) > 0
    return FieldEnergy(
        recharges=run.energy / energy,  # Eq. (2)
        usable_energy=run.energy,
        energy_per_recharge=energy,  # Eq. (1)
        input_current=float(np.max(run.currents)) if begun else None,
        input_voltage_lowest=float(np.min(run.voltages)) if begun else None,
        ended_by=run.ended_by,
        _field=field,
        _run=run,
    )


def kind(pack: Pack, rate: float, states: Floats | None = None) -> Kind:
    """A pack's charge as charge-current has it."""
    verdict = charge_verdict(pack, rate)
    current, end = verdict.current, verdict.end_cell_voltage
    if verdict.refused:
        return Kind(pack, rate, 0.0, verdict.because)
    run = charge(pack.resolved(states), current, end, TAPER * current)
    if run.time_total == 0:
        return Kind(pack, rate, 0.0, "it is full")
    return Kind(pack, rate, current, None, pack.size * end * run.first_current, run.energy, run.time_total)


def sentence(answer: FieldEnergy, *, depth: float, input_floor: float | None, efficiency: float) -> str:
    """The answer as spoken."""
    field, run = answer._field, answer._run
    source = f"this {field.source.kind.words} battery"
    if field.source.condition != "sound":
        return f"Do not use {source}: it {body_words(field.source.condition)}."
    refused = [told for told in field.kinds if told.reason]
    if refused or run is None:
        return sentences(*(f"Do not charge {told.called}: {told.reason}." for told in refused))
    if answer.input_voltage_lowest is None or answer.input_current is None:
        return f"{capitalised(source)} cannot carry this charger at all: its voltage would collapse."
    if answer.usable_energy <= 0:
        low = f"the charger's input is at {volts(field.floor)} or below from the start"
        if field.below_floor:
            low = f"it rests at {volts(field.at_rest(), 'down')}, and the charger wants {volts(field.floor, 'up')}"
        why = {
            "depth": f"{percent(depth)} of it or more is used already",
            "input-floor": low,
            "power": "its voltage collapses at once",
        }[run.ended_by]
        return f"{capitalised(source)} has nothing to give: {why}."
    begun = f"from {lowest_state_words([told.pack for told in field.kinds])}"
    kinds = {told.pack.kind.words for told in field.kinds}
    pack = f"{kinds.pop()} pack" if len(kinds) == 1 else "pack"
    whole = int(answer.recharges * (1 + SLACK))
    many = f"recharges {count(whole, pack)} {begun}, until" if whole else f"does not recharge one {pack} in full before"
    ends = {
        "depth": f"{percent(depth)} of it is used",
        "input-floor": f"the charger's input is down to {volts(input_floor or 0.0)}",
        "power": "its voltage collapses",
    }[run.ended_by]
    falls = f", and its input falls to {volts(answer.input_voltage_lowest, 'down')}"
    if run.ended_by == "input-floor":
        falls = ""  # how far is said already; what a charger would pull it down to beyond that, it does not
    return sentences(
        f"{capitalised(source)} {many} {ends}; the charger draws up to {amperes(answer.input_current, 'up')}{falls}.",
        f"Each takes {watt_hours(answer.energy_per_recharge, 'up')} at {percent(efficiency)} efficiency, taken "
        f"at {degrees(field.source.temperature)}.",
    )


OWN_CAUTIONS: Table = {
    # Common practice, no published source.
    "starting-battery": (
        "warning",
        "A vehicle's starting battery is not made for this: deep use harms it, and you may not get home. Run the "
        "engine only in the open, or bring a battery of its own for the field.",
    ),
    "deep-use": ("warning", "Using {depth} of this battery, where {usual} is usual, ages it fast."),
    "source-low-cell": (
        "warning",
        "A cell of the source falls below its floor of {floor}: stop earlier, or take a larger source.",
    ),
    "source-collapses": (
        "danger",
        "This source cannot give that power through these leads: its voltage would collapse.",
    ),
    "source-input-low": (
        "warning",
        "The charger drops out at its floor of {floor} while the source still has charge: shorter or thicker leads, "
        "or a lower rate, get more out of it.",
    ),
    "source-below-floor": (
        "warning",
        "No lead helps where a battery rests no higher than the charger wants: {cure}, or set the charger's floor "
        "lower, if its maker allows that.",
    ),
    "source-unsound": (
        "danger",
        "Do not draw on a source that is not sound.",
    ),
    # Common practice, no published source.
    "source-fuse": (
        "warning",
        "Put a fuse at the source's terminal: a large battery drives hundreds of amperes through a short.",
    ),
}
caution = shared.beside(OWN_CAUTIONS, standing={"starting-battery", "source-fuse"})


def cautions(answer: FieldEnergy, *, given: frozenset[str]) -> Iterator[Caution]:
    """What to heed, the reason for a refusal first."""
    field, run = answer._field, answer._run
    source = field.source
    if source.condition != "sound":
        yield caution(source.condition)
        yield caution("source-unsound")
    for told in field.kinds:
        yield from pack_cautions(told.pack, told.rate, None)
    yield from overfull_cautions(source)
    low = source.shortfalls()
    if np.any(low > 0):
        yield caution("dead-cell-load", cell=int(np.argmax(low)) + 1)
    if too_cold_to_fly(source.temperature):
        yield caution("very-cold")
    usual = source.kind.usual_depth
    if field.depth > usual * (1 + SLACK):
        yield caution("deep-use", depth=percent(field.depth), usual=percent(usual))
    if run is not None:
        if run.ended_by == "power":
            yield caution("source-collapses")
        if run.ended_by == "input-floor" and field.below_floor:
            enough = field.at_rest(np.ones(source.size)) > field.floor * (1 + SLACK)
            larger = "take one with more cells"
            yield caution("source-below-floor", cure=f"charge it first, {larger}" if enough else larger)
        elif run.ended_by == "input-floor":
            yield caution("source-input-low", floor=volts(field.floor))
        if run.lowest_cell < source.kind.floor:
            yield caution("source-low-cell", floor=volts(source.kind.floor))
    yield from charging()
    if source.kind.kept_full:
        yield caution("starting-battery")
        yield caution("lead-kept-full")
        if source.peukert is None and "peukert" not in given:
            yield caution("peukert-assumed")
    yield caution("source-fuse")
    if not {"source.cell_resistance", "source.pack_resistance", "source_cell_resistance"} & given:
        yield caution("resistance-assumed")
    if any(not pack.curve.sourced for pack in (source, *(told.pack for told in field.kinds))):
        yield caution("extrapolated-curve")
    if source.voltage_readings() is not None:
        yield caution("flat-curve" if source.kind.flat_curve else "state-from-voltage")


def accuracy(answer: FieldEnergy, *, efficiency: float, peukert: float | None, given: frozenset[str]) -> Iterator[Band]:
    """How sure the recharges are: charger, exponent, and states that were read from voltages."""
    field = answer._field
    if answer._run is None or answer.recharges == 0:
        return
    k = exponent(field.source, peukert)
    assumed = field.source.kind.peukert is not None and field.source.peukert is None and "peukert" not in given
    everyday = efficiency_edges(efficiency) or (efficiency, efficiency)
    exponents = edges("peukert", k, () if assumed else ("peukert",), {"chemistry": field.source.chemistry})
    given_source = {name.removeprefix("source.").removeprefix(SOURCE) for name in given if name.startswith("source")}
    # A slow part that is 30 percent off is nothing beside the charge that an old source lacks.
    resistances = [Resisting(factor, factor) for factor in resistance_factors(field.source, frozenset(given_source))]
    found = []
    for edge in (0, 1):
        passed, loss = everyday[edge], exponents[1 - edge]
        # Packs whose states were told are charged as they are.
        kinds = [
            told if told.pack.voltage_readings() is None else kind(told.pack, told.rate, told.pack.state_edges()[edge])
            for told in field.kinds
        ]
        energy = field.energy(passed, kinds)
        run = field.run(passed, loss, field.source.state_edges()[edge], error("capacity")[edge], resistances[1 - edge])
        found.append(run.energy / energy if energy > 0 else np.inf)
    low, high = min(found[0], answer.recharges), max(found[1], answer.recharges)
    if np.isfinite(high):
        basis = (
            "chargers pass on 80 to 95 percent of their input, exponents of lead-acid are 1.05 to 1.25, states read "
            "from a voltage have published cells' band, and at the low edge the source is old, with 80 percent of its "
            "capacity, and the most that its resistance may be; this project's own judgement"
        )
        yield Band("recharges", low, high, basis)


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldCurve:
    time: Annotated[Floats, Quantity("min", "Time under the strongest charge.")]
    recharges: Annotated[Floats, Number("Packs recharged so far.")]
    voltage: Annotated[Floats, Quantity("V", "Voltage at the charger's input.")]
    current: Annotated[Floats, Quantity("A", "Current drawn from the source.")]
    state_of_charge: Annotated[Floats, Fraction("State of charge of the source's emptiest cell.")]


def curve(answer: FieldEnergy) -> FieldCurve:
    """The source's run; empty where nothing is charged."""
    field, run = answer._field, answer._run
    if run is None or not len(run.times):
        return FieldCurve(**dict.fromkeys(FieldCurve.__dataclass_fields__, np.empty(0)))
    states = field.source.states()[:, None] - run.charges / field.source.available()[:, None]
    return FieldCurve(
        time=run.times,
        recharges=run.power * run.times / answer.energy_per_recharge,
        voltage=run.voltages,
        current=run.currents,
        state_of_charge=np.maximum(np.min(states, axis=0), 0.0),
    )


def picture(answer: FieldEnergy, *, depth: float, input_floor: float | None) -> Chart:
    """Input voltage and the source's state over the recharges."""
    left = Limit(1 - depth, f"{100 * (1 - depth):.3g} % to be left")
    floor = () if input_floor is None else (Limit(input_floor, f"floor {input_floor:.4g} V"),)
    times = number(answer.recharges, 3, "down")
    return Chart(
        title=f"{capitalised(answer._field.source.kind.words)}: enough for {times} recharges",
        x="recharges",
        panels=(
            Panel({"voltage": ""}, floor),
            Panel({"state_of_charge": ""}, (left,), from_zero=True),
        ),
    )

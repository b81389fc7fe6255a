"""One supply, several loads.

Over 300 lines: a load that is a pack is declared here too, with its own rules and checks.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Annotated, ClassVar, Literal

import numpy as np

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.sizing import current_rate, rate_current, stepped_down, stepped_up
from ampstead.cell.wiring.supply import bus, largest_load_factor
from ampstead.declare import (
    Caution,
    Choice,
    Flag,
    Floats,
    Items,
    Number,
    OneOf,
    Quantity,
    Rate,
    Text,
    derived,
)
from ampstead.errors import FieldError
from ampstead.inputs.pack import Cells, ChemistryInput, ChemistryName, cells_in_range
from ampstead.inputs.shared import (
    MOST_POWER,
    ChargeCurrent,
    ChargeRate,
    Efficiency,
    Headroom,
    LeadResistance,
    RatingStep,
    SupplyVoltage,
)
from ampstead.judging.cautions import Table, charging
from ampstead.judging.cautions import caution as shared
from ampstead.judging.charging import rate_cautions
from ampstead.sketch import Bars, Limit
from ampstead.words import (
    amperes_to_set,
    capitalised,
    count,
    listed,
    numbered,
    percent,
    sentences,
    volts,
    watts,
)

ASKED = "Can one supply feed all of these?"
WHEN = ("at the bench", 40)
MAIN = ("fits", "asked_power", "spare_power")
SOURCES = (
    "Power is voltage times current (OpenStax University Physics vol. 2, ch. 9.5)",
    "Constant-power loads on one source: Kirchhoff's laws, upper solution; compared with the simulator ngspice 39",
    "Even share: max-min fairness",
    "Headroom, steps of ratings and usual rates: common practice, no published source",
)
MOST_ROWS = 1000
EXAMPLES = (
    {"supply_rating": "180 W", "loads": "110 W,60 W"},
    {
        "supply_rating": "180 W",
        "loads": [
            {"name": "blue aerobat A", "cells": 4, "capacity": "3700 mAh", "rate": 1.5},
            {"name": "transmitter", "chemistry": "life", "cells": 2, "capacity": "2100 mAh"},
        ],
        "supply_voltage": "14.2 V",
        "lead_resistance": "6.5 mΩ",
        "input_floor": "11 V",
    },
)
SLACK = 1e-9

Share = Literal["in-order", "even", "in-proportion"]


def usual_chemistry(cells: int | None) -> ChemistryName | None:
    """Lithium-polymer, for a load that is a pack."""
    return None if cells is None else "lipo"


def usual_efficiency(cells: int | None) -> float | None:
    """85 percent, for a load that is a pack (common practice)."""
    return None if cells is None else 0.85


def nothing(supply_voltage: float | None) -> float | None:
    """No resistance, where a supply voltage makes it count."""
    return None if supply_voltage is None else 0.0


def usual_rate(chemistry: ChemistryName | None) -> float | None:
    """The chemistry's usual charge rate, for a load that is a pack."""
    return None if chemistry is None else CHEMISTRIES[chemistry].usual_rate


def pack_is_whole(cells: int | None, capacity: float | None, power: float | None) -> Iterator[FieldError]:
    """A load that is a pack needs its capacity."""
    if cells is not None and capacity is None and power is None:
        yield FieldError("capacity", "missing", 'capacity is missing: the capacity on the label, like "3700 mAh"')


def power_stands_alone(given: set[str], power: float | None) -> Iterator[FieldError]:
    """What describes a pack means nothing beside a plain power."""
    for name in ("chemistry", "efficiency"):
        if power is not None and name in given:
            yield FieldError(name, "conflict", f"{name} goes with cells and capacity, not with power")


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """One load: a power, or a pack being charged."""

    name: Annotated[str | None, Text("What to call the load.", example="transmitter")] = None
    power: Annotated[
        float | None,
        Quantity("W", "Power that the load draws.", at_least=0, at_most=MOST_POWER, example="60 W"),
    ] = None
    chemistry: ChemistryInput = derived(usual_chemistry, "lipo for a pack")
    cells: Cells = None
    capacity: Annotated[
        float | None,
        Quantity("mAh", "Capacity of the pack.", at_least="10 mAh", at_most="200 Ah", example="3700 mAh"),
    ] = None
    rate: ChargeRate = derived(usual_rate, "the chemistry's usual rate")
    current: ChargeCurrent = None
    efficiency: Efficiency = derived(usual_efficiency, "0.85 for a pack")

    RULES: ClassVar = (
        OneOf("power", "cells", required=True, asked="What does it draw?"),
        OneOf("power", "capacity"),
        OneOf("power", "rate", "current"),
    )
    CHECKS: ClassVar = (pack_is_whole, power_stands_alone, cells_in_range)

    @property
    def end_voltage(self) -> float:
        """Voltage at the end of the pack's charge, V."""
        assert self.cells is not None
        return self.cells * CHEMISTRIES[self.chemistry].end_of_charge

    @property
    def charge_current(self) -> float:
        """Current at which the pack is to be charged, A."""
        assert self.capacity is not None
        return self.current if self.current is not None else rate_current(self.rate, self.capacity)

    @property
    def drawn(self) -> float:
        """Most power that the load draws from the supply, W."""
        return self.power if self.power is not None else self.end_voltage * self.charge_current / self.efficiency


def leads_agree(
    loads: Sequence[object],
    supply_voltage: float | None,
    source_resistance: float | None,
    lead_resistance: float | None,
    lead_resistances: Floats | None,
    input_floor: float | None,
) -> Iterator[FieldError]:
    """One lead per load, and a supply voltage wherever leads or a floor are told."""
    if lead_resistances is not None and len(lead_resistances) != len(loads):
        said = f"lead_resistances has {len(lead_resistances)} values for {len(loads)} loads: give one per load"
        yield FieldError("lead_resistances", "wrong_length", said)
        yield FieldError("loads", "wrong_length", said)
    told = {
        "source_resistance": source_resistance,
        "lead_resistance": lead_resistance,
        "lead_resistances": lead_resistances,
        "input_floor": input_floor,
    }
    needing = [name for name, value in told.items() if value is not None]
    if supply_voltage is None and needing:
        mean = "means" if len(needing) == 1 else "mean"
        said = f'supply_voltage is missing: {listed(needing)} {mean} nothing without it, like "14.2 V"'
        yield FieldError("supply_voltage", "missing", said)


RULES = (OneOf("lead_resistance", "lead_resistances", asked="What are the leads?"),)
CHECKS = (leads_agree,)


@dataclass(frozen=True, slots=True)
class Allotment:
    """What one load gets."""

    name: Annotated[str, Text("The load's name.")]
    asked_power: Annotated[float, Quantity("W", "Power asked for, up to a whole step.", spoken="up")]
    allotted_power: Annotated[float, Quantity("W", "Power it gets.", spoken="down")]
    short_by: Annotated[float, Quantity("W", "What it lacks.", spoken="up")]
    current: Annotated[
        float | None,
        Quantity("A", "For a pack: the charge current that its share carries; none otherwise.", spoken="down"),
    ]
    rate: Annotated[float | None, Rate("For a pack: that current as a rate; none otherwise.", spoken="down")]


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplySplit:
    fits: Annotated[
        bool,
        Flag("Whether all loads are met with the headroom kept.", yes="all loads are met", no="not all loads are met"),
    ]
    asked_power: Annotated[float, Quantity("W", "Power asked for in all, each load up to a whole step.", spoken="up")]
    supply_needed: Annotated[
        float, Quantity("W", "Rating that would meet all loads with the headroom kept.", spoken="up")
    ]
    spare_power: Annotated[
        float, Quantity("W", "Power left when all loads are met; 0 where they are not.", spoken="down")
    ]
    allotments: Annotated[list[Allotment], Items("What each load gets.")]
    bus_voltage: Annotated[
        float | None,
        Quantity(
            "V",
            "Voltage at the bus under all loads as asked; none without the supply's, or if it collapses.",
            spoken="down",
        ),
    ]
    load_factor: Annotated[
        float | None,
        Number(
            "Largest common multiple of the loads that source and leads can carry; none where nothing limits it.",
            spoken="down",
        ),
    ]
    input_holds: Annotated[
        bool | None,
        Flag(
            "Whether every load's input stays at the floor or above; no answer without a floor.",
            yes="every load's input stays at the floor or above",
            no="some load's input falls below the floor",
        ),
    ]


def supply_split(
    *,
    supply_rating: Annotated[
        float, Quantity("W", "Power rating of the supply.", above=0, at_most=MOST_POWER, example="180 W")
    ],
    loads: Annotated[
        list[Load],
        Items(
            "Loads in order of importance: powers, named powers, or packs to charge.",
            shorthand="power",
            example="110 W,60 W",
        ),
    ],
    share: Annotated[
        Share,
        Choice(
            "How to share what is too little: in order, evenly, or in proportion to what is asked.",
            example="in-order",
            label="how to share too little",
            words={"in-order": "in order", "even": "evenly", "in-proportion": "in proportion to what is asked"},
        ),
    ] = "in-order",
    headroom: Headroom = 0.1,
    rating_step: RatingStep = 5.0,
    supply_voltage: SupplyVoltage = None,
    source_resistance: Annotated[
        float,
        Quantity("mΩ", "Resistance of the source itself.", at_least=0, at_most="100 Ω", example="13 mΩ"),
    ] = derived(nothing, "0 with a supply voltage"),
    lead_resistance: LeadResistance = derived(nothing, "0 with a supply voltage"),
    lead_resistances: Annotated[
        Floats | None,
        Quantity(
            "mΩ",
            "Resistance of each load's leads, both conductors.",
            at_least=0,
            at_most="100 Ω",
            example="6.5,9 mΩ",
        ),
    ] = None,
    input_floor: Annotated[
        float | None,
        Quantity("V", "Lowest input voltage that the loads accept.", at_least=0, at_most="1 kV", example="11 V"),
    ] = None,
) -> SupplySplit:
    """How one supply is shared among several loads.

    Each load asks for its power up to a whole step; what may be shared is the rating less its headroom:

        budget = rating * (1 - headroom)                                             (1)
        needed = sum of asked / (1 - headroom)                                       (2)

    In order: each load gets what is left, up to what it asks. Even: the highest level that no unmet load exceeds
    (max-min fair). In proportion: the same part of what each asks. A load met in full keeps what it asks, others
    are rounded down to a step. With the supply's voltage the loads, as asked and not rounded, hang on one bus:

        V = V_supply - R_source * sum(I_k),   P_k = I_k * (V - R_k * I_k)            (3)

    of which the upper, stable solution counts. Power out of the supply is positive.
    """
    asked = [stepped_up(load.drawn, rating_step) for load in loads]
    budget = supply_rating * (1 - headroom)  # Eq. (1)
    total = sum(asked)
    fits = total <= budget * (1 + SLACK)
    shares = SHARES[share](asked, budget)
    allotted = [
        want if got >= want * (1 - SLACK) else stepped_down(got, rating_step)
        for want, got in zip(asked, shares, strict=True)
    ]
    bus_voltage, factor, holds = None, None, None
    if supply_voltage is not None:
        leads = [lead_resistance] * len(loads) if lead_resistances is None else [float(R) for R in lead_resistances]
        drawn = [load.drawn for load in loads]
        solved = bus(supply_voltage, source_resistance, drawn, leads)  # Eq. (3)
        bus_voltage = solved.voltage if solved else None
        limit = largest_load_factor(supply_voltage, source_resistance, drawn, leads)
        factor = limit if isfinite(limit) else None
        if input_floor is not None:
            holds = solved is not None and min(solved.load_voltages) >= input_floor * (1 - SLACK)
    return SupplySplit(
        fits=fits,
        asked_power=total,
        supply_needed=total / (1 - headroom),  # Eq. (2)
        spare_power=max(0.0, budget - total),
        allotments=[
            allotment(load, name, want, got)
            for name, load, want, got in zip(
                numbered([load.name for load in loads], "load"), loads, asked, allotted, strict=True
            )
        ],
        bus_voltage=bus_voltage,
        load_factor=factor,
        input_holds=holds,
    )


def in_order(asked: Sequence[float], budget: float) -> list[float]:
    """Each gets what is left, up to what it asks, W."""
    shares, left = [], budget
    for want in asked:
        shares.append(want if want <= left * (1 + SLACK) else left)
        left = max(0.0, left - shares[-1])
    return shares


def evenly(asked: Sequence[float], budget: float) -> list[float]:
    """Max-min fair shares, W: the level rises until the budget is spent."""
    shares, left = [0.0] * len(asked), budget
    for rank, place in enumerate(sorted(range(len(asked)), key=asked.__getitem__)):
        shares[place] = min(asked[place], left / (len(asked) - rank))
        left -= shares[place]
    return shares


def in_proportion(asked: Sequence[float], budget: float) -> list[float]:
    """The same part of what each asks, W."""
    total = sum(asked)
    part = 1.0 if total <= budget * (1 + SLACK) else budget / total
    return [part * want for want in asked]


SHARES = {"in-order": in_order, "even": evenly, "in-proportion": in_proportion}


def allotment(load: Load, name: str, asked: float, allotted: float) -> Allotment:
    """What one load gets, and for a pack the current that this carries."""
    current = rate = None
    if load.power is None:
        assert load.capacity is not None
        current = load.charge_current
        if allotted < asked:
            current = min(current, allotted * load.efficiency / load.end_voltage)
        rate = current_rate(current, load.capacity)
    return Allotment(name, asked, allotted, asked - allotted, current, rate)


def sentence(answer: SupplySplit, *, supply_rating: float, headroom: float, input_floor: float | None) -> str:
    """The answer as spoken."""
    loads = "load" if len(answer.allotments) == 1 else count(len(answer.allotments), "load")
    kept = f", {percent(headroom)} kept free" if headroom else ""
    supply, carried = watts(supply_rating, "down"), None
    if answer.load_factor is not None and answer.bus_voltage is None:
        asked = "the load" if len(answer.allotments) == 1 else "these loads"
        carried = f"it carries {percent(answer.load_factor, 'down')} of {asked} at most"
    if answer.fits and carried:
        return f"The supply of {supply} has the rating for that{kept}, but at this voltage {carried}."
    if answer.fits:
        spare = watts(answer.spare_power, "down")
        spare = "nothing is" if spare.startswith("0 ") else f"{spare} are"
        at = "" if answer.bus_voltage is None else f" at {volts(answer.bus_voltage, 'down')}"
        first = f"The supply of {supply} carries the {loads}{at}{kept}, and {spare} spare."
    else:
        starved = [entry.name for entry in answer.allotments if not entry.allotted_power and entry.asked_power]
        nothing = f", and {listed(starved)} {'gets' if len(starved) == 1 else 'get'} nothing" if starved else ""
        first = (
            f"The supply of {supply} is too small for the {loads}{kept}: "
            f"{watts(answer.supply_needed, 'up')} are needed{nothing}."
        )
    if carried:
        return sentences(first, f"At this voltage {carried}.")
    if answer.input_holds is False and input_floor is not None:
        return sentences(first, f"A load's input would fall below {volts(input_floor)}.")
    return sentences(first, currents_to_set(answer.allotments))


def currents_to_set(allotments: Sequence[Allotment]) -> str | None:
    """The charge currents that the shares carry, in words, like ones once; None where no load is a pack that gets any.

    Of three packs and more that most share is said last, of all others, where every load is such a pack.
    """
    alike: dict[str, list[str]] = {}
    for entry in allotments:
        if entry.current:
            alike.setdefault(amperes_to_set(entry.current), []).append(entry.name)
    if not alike:
        return None
    every = sum(map(len, alike.values())) == len(allotments)
    most = max(alike, key=lambda current: len(alike[current]))
    rest = most if every and len(alike[most]) > 2 else None
    if every and len(alike) == 1 and len(allotments) > 1:
        return f"Set each to {most}."
    said = [
        f"{listed(names)} to {current}{' each' if len(names) > 1 else ''}"
        for current, names in alike.items()
        if current != rest
    ]
    said += [f"the others to {rest} each"] if rest else []
    return f"Set {', '.join(said[:-1])}, and {said[-1]}." if len(said) > 1 else f"Set {said[0]}."


OWN_CAUTIONS: Table = {
    "starved": (
        "warning",
        "Nothing is left for {name}: {why}.",
    ),
    "short": ("warning", "{name} gets only {allotted} of the {asked} it asks for."),
    "mains": (
        "warning",
        "Keep to the supply's own papers; work on the mains or on a vehicle's wiring is for licensed people.",
    ),
    "bus-collapse": (
        "danger",
        "Through these leads the source cannot carry these loads at all: its voltage would collapse.",
    ),
    "input-low": ("warning", "A load's input falls below its floor of {floor}: it would drop out or restart."),
}
caution = shared.beside(OWN_CAUTIONS, standing={"mains"})


def cautions(
    answer: SupplySplit, *, loads: list[Load], headroom: float, rating_step: float, input_floor: float | None
) -> Iterator[Caution]:
    """What to heed."""
    taken = any(entry.allotted_power for entry in answer.allotments)
    less = f"what there is comes to less than a whole step of {watts(rating_step)}"
    why = "the other loads take all the power there is" if taken else less
    if answer.load_factor is not None and answer.load_factor < 1:
        yield caution("bus-collapse")
    for entry in answer.allotments:
        if entry.short_by and not entry.allotted_power:
            yield caution("starved", name=entry.name, why=why)
        elif entry.short_by:
            got, want = watts(entry.allotted_power), watts(entry.asked_power)
            yield caution("short", name=capitalised(entry.name), allotted=got, asked=want)
    if answer.bus_voltage is not None and answer.input_holds is False and input_floor is not None:
        yield caution("input-low", floor=volts(input_floor))
    for load, entry in zip(loads, answer.allotments, strict=True):
        if entry.rate is not None:
            yield from rate_cautions(CHEMISTRIES[load.chemistry], entry.rate)
    for kind in dict.fromkeys(CHEMISTRIES[load.chemistry] for load in loads if load.power is None):
        yield from charging(kind)
        if kind.curve is None:
            yield caution("nickel-end")
    yield caution("mains")
    if not headroom:
        yield caution("no-headroom")


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadTable:
    name: Annotated[list[str], Text("The load's name.")]
    allotted_power: Annotated[Floats, Quantity("W", "Power it gets.")]
    asked_power: Annotated[Floats, Quantity("W", "Power asked for, up to a whole step.")]
    short_by: Annotated[Floats, Quantity("W", "What it lacks.")]


def curve(answer: SupplySplit) -> LoadTable:
    """The loads, one a row."""
    rows = answer.allotments
    return LoadTable(
        name=[row.name for row in rows],
        allotted_power=np.array([row.allotted_power for row in rows]),
        asked_power=np.array([row.asked_power for row in rows]),
        short_by=np.array([row.short_by for row in rows]),
    )


def picture(answer: SupplySplit, *, supply_rating: float, headroom: float) -> Bars:
    """What each load gets of what it asks, and what there is to share."""
    budget = supply_rating * (1 - headroom)
    return Bars(
        title="Who gets what" if answer.fits else "Who gets what: too little for all",
        label="name",
        columns=("allotted_power", "asked_power"),
        quantity="power",
        words=tuple(f"{row.allotted_power:.4g} of {row.asked_power:.4g} W" for row in answer.allotments),
        limits=(Limit(budget, f"{budget:.4g} W to share"),),
        stacked=True,
    )

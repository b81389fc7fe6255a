"""How long it flies.

Over 300 lines: the load and its steps are declared here too.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Literal, Protocol

import numpy as np

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.one.flight import Flight, Phase, TooManySteps, flight
from ampstead.declare import Band, Caution, Choice, Floats, Fraction, Group, Items, OneOf, Quantity, derived
from ampstead.errors import FieldError, Refusal
from ampstead.inputs.pack import ChemistryName, Pack, has_curve
from ampstead.inputs.shared import MOST_CURRENT, MOST_POWER, Floor, usual_floor
from ampstead.inputs.warming import Thermal
from ampstead.judging.cautions import caution, resistance_cautions
from ampstead.judging.overfull import overfull_cautions
from ampstead.sketch import Chart, Limit, Panel
from ampstead.words import amperes, degrees, duration, milliampere_hours, percent, volts, watts

SOURCES = (
    "Discharge of an equivalent circuit with one RC pair and a heat balance; compared with the library thevenin 0.2.1 "
    "and PyBaMM 26.10",
    "Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), "
    "US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured",
    "Specific heat 1000 J/kgK: published stack values 953 (Ai et al. 2020) and 1069 (Ecker et al. 2015)",
    "A reserve of 20 percent, floors under load and 60 degrees: common practice, no published source",
    "How far capacity and resistance of a real pack may be off: this project's own judgement",
)
EXAMPLES = (
    {"cells": 3, "capacity": "1150 mAh", "cell_resistance": "11 mΩ", "current": "14 A"},
    {"cells": 3, "capacity": "2250 mAh", "flight_time": "7.5 min", "charge_returned": "1480 mAh"},
    {
        "cells": 6,
        "capacity": "4900 mAh",
        "cell_resistance": "2.6 mΩ",
        "load": [{"current": "62 A", "duration": "40 s"}, {"current": "6 A", "duration": "80 s"}],
        "ambient": "33 °C",
    },
)
"""Charge that a lead-acid battery keeps of what is put in. Common practice, no published source."""
AGED = 0.8
"""Of the label's capacity, that an old pack still holds. Common practice, no published source."""
CURVE_POINTS = 121
MOST_STEPS = 5000


class Item(Protocol):
    """A nested item as a check sees it."""

    value: "LoadStep"


EndedBy = Literal["reserve", "floor", "heat"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadStep:
    """One step of a load that repeats."""

    current: Annotated[
        float | None, Quantity("A", "Current drawn.", at_least=0, at_most=MOST_CURRENT, example="62 A")
    ] = None
    power: Annotated[
        float | None, Quantity("W", "Constant power drawn.", at_least=0, at_most=MOST_POWER, example="240 W")
    ] = None
    duration: Annotated[
        float, Quantity("s", "How long this step lasts.", at_least="0.1 s", at_most="36000 s", example="40 s")
    ]

    RULES: ClassVar = (OneOf("current", "power", required=True),)


def flight_is_whole(flight_time: float | None, charge_returned: float | None) -> Iterator[FieldError]:
    """A flight tells its current by its time and the charge put back together."""
    if flight_time is not None and charge_returned is None:
        said = 'charge_returned is missing: flight_time needs it, like "1480 mAh"'
        yield FieldError("charge_returned", "missing", said)
    if charge_returned is not None and flight_time is None:
        yield FieldError("flight_time", "missing", 'flight_time is missing: charge_returned needs it, like "6 min"')


def something_is_drawn(load: list[Item] | None) -> Iterator[FieldError]:
    """A load that draws nothing never ends."""
    if load and not any(step.value.current or step.value.power for step in load):
        yield FieldError("load", "out_of_range", "load draws nothing in any step: give a step above 0")


def changes_seldom_enough(
    load: list[Item] | None, capacity: Any, cells: int | None, chemistry: ChemistryName
) -> Iterator[FieldError]:
    """A load of very short steps over a very long flight would take more than its share of time to follow."""
    if not load or capacity is None or not cells:
        return
    voltage = cells * CHEMISTRIES[chemistry].nominal
    steps = [step.value for step in load]
    drawn = sum((step.power or voltage * (step.current or 0.0)) * step.duration for step in steps)
    rounds = voltage * float(np.min(capacity)) / drawn if drawn else 0.0
    if rounds * len(steps) > MOST_STEPS:
        said = f"load changes more than {MOST_STEPS} times over so long a flight: make its steps longer"
        yield FieldError("load", "out_of_range", said)


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """What is drawn over a flight."""

    current: Annotated[
        float | None, Quantity("A", "Current over the flight.", above=0, at_most=MOST_CURRENT, example="14 A")
    ] = None
    power: Annotated[
        float | None,
        Quantity("W", "Constant power over the flight.", above=0, at_most=MOST_POWER, example="240 W"),
    ] = None
    load: Annotated[list[LoadStep] | None, Items("Steps of current or power, repeated until the end.")] = None
    flight_time: Annotated[
        float | None,
        Quantity(
            "min",
            "Length of an earlier flight, where nobody knows the current.",
            above=0,
            at_most="10000 min",
            example="7.5 min",
        ),
    ] = None
    charge_returned: Annotated[
        float | None,
        Quantity("mAh", "Charge put back after that flight.", above=0, at_most="200 Ah", example="1480 mAh"),
    ] = None

    RULES: ClassVar = (
        OneOf("current", "power", "load", "flight_time", required=True),
        OneOf("charge_returned", "current", "power", "load"),
    )
    CHECKS: ClassVar = (flight_is_whole, something_is_drawn, changes_seldom_enough)

    @property
    def mean_current(self) -> float | None:
        """The current told, or that of the earlier flight, A."""
        if self.flight_time is not None and self.charge_returned is not None:
            return self.charge_returned / self.flight_time  # Eq. (1) of ``endurance``
        return self.current

    @property
    def steps(self) -> list[Phase]:
        """The load as the flight takes it."""
        if self.load:
            return [Phase(current=step.current, power=step.power, duration=step.duration) for step in self.load]
        return [Phase(current=self.mean_current, power=self.power)]


CHECKS = (has_curve,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Endurance:
    time_flight: Annotated[float, Quantity("min", "Time until the first limit is met.", spoken="down")]
    ended_by: Annotated[EndedBy, Choice("Which limit that is.")]
    charge_used: Annotated[float, Quantity("mAh", "Charge drawn until then.")]
    energy_used: Annotated[float, Quantity("Wh", "Energy drawn until then, at the pack's terminals.")]
    charge_to_return: Annotated[float, Quantity("mAh", "Charge to put back: what the charger should show.")]
    landing_voltage: Annotated[float, Quantity("V", "Voltage of the pack under load at the end.")]
    resting_landing_voltage: Annotated[float, Quantity("V", "Voltage of the pack at rest after landing.")]
    end_temperature: Annotated[float, Quantity("°C", "Temperature of the warmest cell at the end.", spoken="up")]
    _run: Flight


def endurance(
    *,
    pack: Annotated[
        Pack,
        Group(name="pack", omit=("condition",), require=("cells", "capacity"), defaults={"state_of_charge": 1.0}),
    ],
    demand: Annotated[Demand, Group(name="demand", whole=False)],
    reserve: Annotated[float, Fraction("Part of the capacity to keep.", at_least=0, at_most=0.99, example=0.2)] = 0.2,
    floor: Floor = derived(usual_floor, "the chemistry's usual floor under load"),
    thermal: Annotated[Thermal, Group(name="thermal", whole=False)],
) -> Endurance:
    """How long a pack flies under a load, and what is checked after landing.

    The pack is followed through the load, step by step and over again, until its charge is down to the reserve, a
    cell meets its floor under load, or a cell its limit temperature. Where only an earlier
    flight is known, its mean current serves:

        I = charge_returned / flight_time                       (1)

    After landing the resting voltage and the charge to put back are what a flier can check:

        charge_to_return = charge_used / efficiency             (2)

    with an efficiency of 1 for lithium and 0.85 for lead-acid. Discharge current is positive; resistances are held at
    their values at the start. Range: no airflow unless ``cooling`` is given; every coulomb of the label is there.
    """
    run = flown(pack, demand, reserve, floor, thermal)
    ended = {"heat": "heat", "reserve": "reserve", "empty": "reserve"}.get(run.ended_by, "floor")
    assert run.temperatures is not None
    return Endurance(
        time_flight=run.time,
        ended_by=ended,  # type: ignore[arg-type]  # one of the three words
        charge_used=run.charge,
        energy_used=run.energy,
        charge_to_return=run.charge / pack.kind.charge_efficiency,  # Eq. (2)
        landing_voltage=run.voltage,
        resting_landing_voltage=float(np.sum(run.rest_voltages)),
        end_temperature=float(np.max(run.temperatures)),
        _run=run,
    )


def flown(pack: Pack, demand: Demand, reserve: float, floor: float, thermal: Thermal) -> Flight:
    """The flight itself."""
    try:
        return flight(
            pack.resolved(),
            demand.steps,
            floor=floor,
            reserve=reserve,
            limit_temperature=thermal.limit_temperature,
            warming=thermal.warming(pack),
        )
    except TooManySteps:
        said = "load changes too often over so long a flight: make its steps longer"
        raise Refusal([FieldError("load", "out_of_range", said)]) from None


def sentence(answer: Endurance, *, pack: Pack, demand: Demand, reserve: float, thermal: Thermal) -> str:
    """The answer as spoken."""
    named = f"this {pack.kind.words} pack"
    if answer.time_flight == 0:
        why = {"reserve": "it is at its reserve", "floor": "it is below its floor at once", "heat": "it is too warm"}
        return f"Do not fly {named} so: {why[answer.ended_by]}."
    drawn = f"at {amperes(demand.mean_current or 0.0)}"
    if demand.load or demand.power:
        drawn = f"at {watts(demand.power)}" if demand.power else "under this load"
    ended = {
        "reserve": f"then {percent(reserve)} is left",
        "floor": "then its weakest cell meets its floor, before the reserve",
        "heat": f"then it is at {degrees(thermal.limit_temperature)}, before the reserve",
    }[answer.ended_by]
    return (
        f"Fly {named} for {duration(answer.time_flight)} at most {drawn}, taken from {degrees(pack.temperature)}: "
        f"{ended}. It should rest at {volts(answer.resting_landing_voltage)} after landing and take back "
        f"{milliampere_hours(answer.charge_to_return)}."
    )


def cautions(answer: Endurance, *, pack: Pack, thermal: Thermal, given: frozenset[str]) -> Iterator[Caution]:
    """What to heed."""
    yield from overfull_cautions(pack)
    if answer.ended_by == "heat":
        yield caution("flight-too-warm")
    if answer.ended_by == "floor":
        yield caution("flight-too-hard")
    if not thermal.cooling:
        yield caution("no-airflow")
    yield from resistance_cautions(pack, given)
    if pack.voltage_readings() is not None:
        yield caution("flat-curve" if pack.kind.flat_curve else "state-from-voltage")
    if not pack.curve.sourced:
        yield caution("extrapolated-curve")


def accuracy(answer: Endurance, *, pack: Pack, reserve: float) -> Iterator[Band]:
    """How sure the time is."""
    low, high = pack.state_edges()
    states = pack.states()
    spare = max(float(np.min(states)) - reserve, 1e-9)
    least = AGED * max(float(np.min(low)) - reserve, 0.0) / spare
    most = max(float(np.min(high)) - reserve, 0.0) / spare
    basis = (
        "an old pack holds down to 80 percent of its label (common practice), and a state read from voltage has the "
        "band of published cells"
    )
    yield Band("time_flight", answer.time_flight * min(least, 1.0), answer.time_flight * max(most, 1.0), basis)


@dataclass(frozen=True, slots=True, kw_only=True)
class FlightCurve:
    time: Annotated[Floats, Quantity("min", "Time from take-off.")]
    voltage: Annotated[Floats, Quantity("V", "Voltage of the pack under load.")]
    weakest_cell_voltage: Annotated[Floats, Quantity("V", "Voltage of the weakest cell.")]
    current: Annotated[Floats, Quantity("A", "Current drawn.")]
    charge: Annotated[Floats, Quantity("mAh", "Charge drawn so far.")]
    temperature: Annotated[Floats, Quantity("°C", "Temperature of the warmest cell.")]


def curve(answer: Endurance) -> FlightCurve:
    """The flight over time; empty where it ends at once."""
    if answer.time_flight == 0:
        return FlightCurve(**dict.fromkeys(FlightCurve.__dataclass_fields__, np.empty(0)))
    times = np.linspace(0, answer.time_flight, CURVE_POINTS)
    drawn = answer._run.curve(times)
    assert drawn.temperature is not None
    return FlightCurve(
        time=times,
        voltage=drawn.voltage,
        weakest_cell_voltage=drawn.weakest_voltage,
        current=drawn.current,
        charge=drawn.charge,
        temperature=drawn.temperature,
    )


def picture(answer: Endurance, *, floor: float, thermal: Thermal) -> Chart:
    """Weakest cell and temperature over the flight, floor and limit marked."""
    limit = thermal.limit_temperature
    return Chart(
        title=f"A flight of {duration(answer.time_flight)}",
        x="time",
        panels=(
            Panel({"weakest_cell_voltage": ""}, (Limit(floor, f"floor {floor:.3g} V"),)),
            Panel({"current": ""}, from_zero=True),
            Panel({"temperature": ""}, (Limit(limit, f"limit {limit - 273.15:.3g} °C"),)),
        ),
    )

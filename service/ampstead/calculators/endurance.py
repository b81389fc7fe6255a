"""How long it flies.

Over 300 lines, since a calculator is one file, with its cautions, its curve and its picture.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Annotated, Literal

import numpy as np

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.one.flight import Flight, TooManySteps, flight
from ampstead.cell.one.series import SeriesPack
from ampstead.cell.sizing import current_rate
from ampstead.declare import Band, Caution, Choice, Floats, Fraction, Group, Quantity, derived
from ampstead.errors import FieldError, Refusal
from ampstead.inputs.demand import Demand
from ampstead.inputs.pack import ChemistryName, Pack, has_curve
from ampstead.inputs.shared import Floor, usual_floor
from ampstead.inputs.source import RATED_HOURS, Peukert, RatedHours
from ampstead.inputs.warming import Thermal
from ampstead.judging.bands import AS_TOLD, Resisting, band_over, model_edges, resisting, slow_part_over
from ampstead.judging.cautions import Table
from ampstead.judging.cautions import caution as shared
from ampstead.judging.doubts import edges, error
from ampstead.judging.flying import (
    SHORT_FLIGHT,
    air_cautions,
    flying_cautions,
    grounded,
    largest_current,
    left_by_peukert,
)
from ampstead.judging.overfull import overfull_cautions
from ampstead.sketch import Chart, Limit, Panel
from ampstead.words import (
    amperes,
    degrees,
    duration,
    listed,
    milliampere_hours,
    percent,
    quarter_minutes,
    sentences,
    volts,
    watts,
)

ASKED = "How long does this pack fly?"
WHEN = ("before the next outing", 20)
MAIN = ("time_flight", "charge_to_return")
SOURCES = (
    "Discharge of an equivalent circuit with one RC pair and a heat balance; compared with the library thevenin 0.2.1 "
    "and PyBaMM 26.10",
    "Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), "
    "US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured",
    "Resistance against temperature: 20 kJ/mol, general lithium-ion (tables shipped by simses 1.3, BSD-3)",
    "Peukert's law with exponents of 1.05 to 1.25: a utility's page, as quoted; what lead-acid loses in the cold, and "
    "its charge efficiency of 0.85: from memory",
    "Specific heat 1000 J/kgK: published stack values 953 (Ai et al. 2020) and 1069 (Ecker et al. 2015)",
    "A reserve of 20 percent, floors under load and 60 degrees: common practice, no published source",
    "How far capacity and resistance of a real pack may be off: this project's own judgement; it holds flights of five "
    "published full-order cells at 0 to 25 degrees (PyBaMM 26.10)",
)
MOST_ROWS = 400
EXAMPLES = (
    {"cells": 3, "capacity": "1150 mAh", "cell_resistance": "11 mΩ", "current": "14 A"},
    {"cells": 3, "capacity": "2250 mAh", "flight_time": "7.5 min", "charge_returned": "1480 mAh"},
    {
        "cells": 6,
        "capacity": "4900 mAh",
        "cell_resistance": "2.6 mΩ",
        "load": [{"current": "62 A", "duration": "40 s"}, {"current": "6 A", "duration": "80 s"}],
        "temperature": "33 °C",
    },
)
CURVE_POINTS = 121
SURE = 0.6
"""Of the time: a flight that may end before it is said to be doubtful. This project's own judgement."""


EndedBy = Literal["reserve", "floor", "heat"]


def usual_peukert(chemistry: ChemistryName) -> float | None:
    """The larger of the exponents told for lead-acid, the safe side."""
    exponents = CHEMISTRIES[chemistry].peukert
    return None if exponents is None else exponents[1]


def usual_hours(chemistry: ChemistryName) -> float | None:
    """Twenty hours, where Peukert's law applies."""
    return None if CHEMISTRIES[chemistry].peukert is None else RATED_HOURS


def peukert_goes_with_lead(chemistry: ChemistryName, given: set[str]) -> Iterator[FieldError]:
    """Peukert's law is for lead-acid."""
    told = [name for name in ("peukert", "rated_hours") if name in given]
    if not told or CHEMISTRIES[chemistry].peukert is not None:
        return
    if "chemistry" not in given:
        yield FieldError("chemistry", "missing", f'chemistry is missing: {told[0]} goes with a lead-acid pack, "lead"')
        return
    for name in (*told, "chemistry"):
        yield FieldError(name, "conflict", f"{listed(told)} goes with a lead-acid pack only")


CHECKS = (has_curve, peukert_goes_with_lead)


@dataclass(frozen=True, slots=True, kw_only=True)
class Endurance:
    time_flight: Annotated[float, Quantity("min", "Time until the first limit is met.", spoken="down")]
    ended_by: Annotated[EndedBy, Choice("Which limit that is.")]
    charge_used: Annotated[float, Quantity("mAh", "Charge drawn until then.")]
    energy_used: Annotated[float, Quantity("Wh", "Energy drawn until then, at the pack's terminals.")]
    charge_to_return: Annotated[
        float,
        Quantity("mAh", "Charge to put back, to where the flight began: from full, what the charger should show."),
    ]
    landing_voltage: Annotated[
        float | None, Quantity("V", "Voltage of the pack under load at the end; none if it cannot carry that load.")
    ] = None
    resting_landing_voltage: Annotated[float, Quantity("V", "Voltage of the pack at rest after landing.")]
    end_temperature: Annotated[float, Quantity("°C", "Temperature of the warmest cell at the end.", spoken="up")]
    largest_current: Annotated[
        float,
        Quantity(
            "A",
            "The most current that keeps every cell at its floor or above down to the reserve, no warmer than now.",
            spoken="down",
        ),
    ]
    _run: Flight


@dataclass(frozen=True, slots=True, kw_only=True)
class Flown:
    """A question with the edges of resistance and capacity at which it is answered."""

    pack: Pack
    demand: Demand
    reserve: float
    floor: float
    thermal: Thermal
    peukert: float | None
    rated_hours: float | None
    resistance: Resisting = AS_TOLD
    capacity: float = 1.0
    states: Floats | None = None

    def cells(self) -> SeriesPack:
        """The pack with the charge that it has to give at this load."""
        pack, kind = self.pack, self.pack.kind
        left = self.capacity * kind.left_in_cold(pack.temperature)
        if self.peukert is not None and self.rated_hours is not None:
            current = self.demand.peukert_current(kind.charge_efficiency, self.peukert, kind.nominal * pack.size)
            left *= left_by_peukert(pack.charge * self.capacity, current, self.peukert, self.rated_hours)
        cells = self.resistance.of(pack.resolved(self.states))
        return cells.having(capacities=np.maximum(cells.capacities * left, 1e-3 * cells.capacities))

    def run(self) -> Flight:
        """The flight itself."""
        try:
            return flight(
                self.cells(),
                self.demand.phases(self.pack.kind.charge_efficiency),
                floor=self.floor,
                reserve=self.reserve,
                limit_temperature=self.thermal.limit_temperature,
                warming=self.thermal.warming(self.pack),
            )
        except TooManySteps:
            said = "load changes too often over so long a flight: make its steps longer"
            raise Refusal([FieldError("load", "out_of_range", said)]) from None


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
    peukert: Peukert = derived(usual_peukert, "1.25 for lead-acid, the safe side"),
    rated_hours: RatedHours = derived(usual_hours, "20 for lead-acid"),
) -> Endurance:
    """How long a pack flies under a load, and what is checked after landing.

    The pack is followed through the load, step by step and over again, until its charge is down to the reserve, a
    cell meets its floor under load, or a cell its limit temperature. Its resistance follows the temperature of each
    cell, R(T) = R * exp(Ea / Rg * (1 / T - 1 / T0)), and the temperature what the resistance heats. Where only an
    earlier flight is known, its mean current serves:

        I = efficiency * charge_returned / flight_time          (1)

    After landing the resting voltage and the charge to put back are what a flier can check:

        charge_to_return = charge_used / efficiency             (2)

    with an efficiency of 1 for lithium and 0.85 for lead-acid. Lead-acid gives less at high currents, by Peukert's law
    for its rated hours, and less in the cold, 1 percent per kelvin below 25 °C, of what its label says. Discharge
    current is positive. Range: no airflow unless ``cooling`` is given; every coulomb of the label is there.
    """
    asked = Flown(
        pack=pack,
        demand=demand,
        reserve=reserve,
        floor=floor,
        thermal=thermal,
        peukert=peukert,
        rated_hours=rated_hours,
    )
    run = asked.run()
    ended = {"heat": "heat", "reserve": "reserve", "empty": "reserve"}.get(run.ended_by, "floor")
    assert run.temperatures is not None
    carried = run.current > 0 and bool(np.all(run.cell_voltages > 0))
    return Endurance(
        time_flight=run.time,
        ended_by=ended,  # type: ignore[arg-type]  # one of the three words
        charge_used=run.charge,
        energy_used=max(0.0, run.energy),
        charge_to_return=run.charge / pack.kind.charge_efficiency,  # Eq. (2)
        landing_voltage=run.voltage if carried else None,
        resting_landing_voltage=float(np.sum(run.rest_voltages)),
        end_temperature=float(np.max(run.temperatures)),
        largest_current=largest_current(asked.cells(), floor, reserve),
        _run=run,
    )


def sentence(
    answer: Endurance, *, pack: Pack, demand: Demand, reserve: float, thermal: Thermal, bands: Mapping[str, Band]
) -> str:
    """The answer as spoken."""
    named, time = f"this {pack.kind.words} pack", quarter_minutes(answer.time_flight)
    if (never := grounded(pack)) and answer.time_flight >= SHORT_FLIGHT:
        return f"Do not fly {named}: {never}. By this reckoning it would last {time} at most."
    if never or answer.time_flight < SHORT_FLIGHT:
        return f"Do not fly {named}{'' if never else ' so'}: {never or too_short(answer, thermal)}."
    drawn = "just like that flight" if demand.current is None else f"at {amperes(demand.current)}"
    if demand.load or demand.power or demand.currents is not None:
        drawn = f"at {watts(demand.power)}" if demand.power else "under this load"
    ended = {
        "reserve": f"then {percent(reserve)} is left" if reserve else "then it is empty",
        "floor": "then its weakest cell meets its floor, before the reserve",
        "heat": f"then it is at {degrees(thermal.limit_temperature)}, before the reserve",
    }[answer.ended_by]
    up_to = " to stand where it began" if float(np.min(pack.states())) < 1 - 1e-9 else ""
    return sentences(
        f"Fly {named} {drawn} for {time} at most, taken from {degrees(pack.temperature)}: {ended}.",
        f"It should rest at {volts(answer.resting_landing_voltage)} after landing and take back "
        f"{milliampere_hours(answer.charge_to_return)}{up_to}.",
        doubtful(answer.time_flight, bands["time_flight"].low),
    )


def doubtful(time: float, least: float) -> str | None:
    """What to say of a flight that may end long before its time."""
    if least >= SURE * time:
        return None
    if least < SHORT_FLIGHT:
        return "It may give up at once: try it on the ground first, and land by the voltage warning."
    return f"It may last only {quarter_minutes(least)}: land by the voltage warning."


def too_short(answer: Endurance, thermal: Thermal) -> str:
    """Why a flight that ends before it has begun does, in words."""
    when = f"after {duration(answer.time_flight, 'down')}" if answer.time_flight else "at once"
    if answer.ended_by == "heat":
        return f"it is at {degrees(thermal.limit_temperature)} {when}"
    if answer.ended_by == "reserve":
        return f"it is at its reserve {when}"
    if answer.largest_current == 0:
        return f"a cell is at its floor {when}, and falls below it without any load before the reserve is reached"
    carries = amperes(answer.largest_current, "down")
    return f"a cell is at its floor {when}, and it carries {carries} at most down to its reserve"


OWN_CAUTIONS: Table = {
    "flight-too-warm": (
        "warning",
        "Heat ends this flight before the charge does: lighten the load, or let air to the pack.",
    ),
    # This project's own judgement.
    "flight-impossible": (
        "danger",
        "It would come to its limit before the model has left the ground: do not take off with it.",
    ),
    "flight-too-hard": (
        "warning",
        "Voltage ends this flight before the charge does: this load is hard on this pack.",
    ),
    "no-airflow": ("note", "The temperature is reckoned without airflow, which is the safe side."),
}
caution = shared.beside(OWN_CAUTIONS, standing={"no-airflow"})


def cautions(
    answer: Endurance, *, pack: Pack, thermal: Thermal, reserve: float, given: frozenset[str]
) -> Iterator[Caution]:
    """What to heed."""
    yield from overfull_cautions(pack)
    if not reserve:
        yield caution("no-reserve")
    if answer.time_flight >= SHORT_FLIGHT and answer.ended_by == "heat":
        yield caution("flight-too-warm")
    if answer.time_flight >= SHORT_FLIGHT and answer.ended_by == "floor":
        yield caution("flight-too-hard")
    yield from flying_cautions(pack, given)
    if answer.time_flight < SHORT_FLIGHT:
        yield caution("flight-impossible")
    if pack.kind.peukert and "peukert" not in given:
        yield caution("peukert-assumed")
    if not thermal.cooling:
        yield caution("no-airflow")
        yield from air_cautions(pack, thermal)
    if pack.voltage_readings() is not None:
        yield caution("flat-curve" if pack.kind.flat_curve else "state-from-voltage")


def accuracy(
    answer: Endurance,
    *,
    pack: Pack,
    demand: Demand,
    reserve: float,
    floor: float,
    thermal: Thermal,
    peukert: float | None,
    rated_hours: float | None,
    given: frozenset[str],
) -> Iterator[Band]:
    """How sure the time is: the same flight with the worst and the best of what is not known."""
    mean = answer.charge_used / answer.time_flight if answer.time_flight else answer.largest_current
    rate = current_rate(mean, pack.charge)
    # Over a flight the slow part has come in full: one that comes sooner only warms the pack.
    least, most = (replace(edge, time=None) for edge in resisting(pack, given, model_edges(rate)))
    low, high = pack.state_edges()
    exponents = edges("peukert", peukert, given, {"chemistry": pack.chemistry})
    old, new = error("capacity")
    slow = slow_part_over(pack, given)
    energy = f", or with {slow:g} times the slow part of it, as in cells made for energy" if slow > 1 else ""
    times = []
    for resistance, capacity, states, exponent in (
        (most, old, low, exponents[1]),
        *([(Resisting(slow=slow), old, low, exponents[1])] if slow > 1 else ()),
        (least, new, high, exponents[0]),
    ):
        asked = Flown(
            pack=pack,
            demand=demand,
            reserve=reserve,
            floor=floor,
            thermal=thermal,
            peukert=exponent,
            rated_hours=rated_hours,
            resistance=resistance,
            capacity=capacity,
            states=states,
        )
        times.append(asked.run().time)
    yield band_over(
        "time_flight",
        answer.time_flight,
        times,
        f"flown again with {least.ohmic:.2g} to {most.ohmic:.2g} times the resistance (its origin, and how far the "
        f"model errs at this rate; this project's own judgement){energy}, with 80 percent of the label as an old pack "
        "holds (common practice), and with the states that published cells have at a voltage told",
    )


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
        title=f"A flight of {quarter_minutes(answer.time_flight)}",
        x="time",
        panels=(
            Panel({"weakest_cell_voltage": ""}, (Limit(floor, f"floor {floor:.3g} V"),)),
            Panel({"current": ""}, from_zero=True),
            Panel({"temperature": ""}, (Limit(limit, f"limit {limit - 273.15:.3g} °C"),)),
        ),
    )

"""Voltage under load.

Over 300 lines, since a calculator is one file, with its cautions, its curve and its picture.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from math import isfinite
from typing import Annotated, Any

import numpy as np

from ampstead import words
from ampstead.cell.one.discharge import largest_current, largest_power, loaded, time_to_floor
from ampstead.cell.one.flight import Phase, flight
from ampstead.cell.sizing import current_rate, rate_current
from ampstead.declare import Band, Caution, Count, Flag, Floats, Group, OneOf, Quantity, Rate, derived
from ampstead.errors import FieldError
from ampstead.inputs.pack import Pack, has_curve
from ampstead.inputs.shared import MOST_CURRENT, MOST_POWER, Floor, LeadResistance, usual_floor
from ampstead.inputs.warming import Thermal
from ampstead.judging.bands import band_over, model_edges, resistance_words, resisting
from ampstead.judging.cautions import Table, resistance_cautions
from ampstead.judging.cautions import caution as shared
from ampstead.judging.cells import suspect_cautions
from ampstead.judging.flying import cold_cautions, hot_cautions
from ampstead.judging.overfull import overfull_cautions
from ampstead.judging.states import state_words
from ampstead.sketch import Chart, Limit, Panel
from ampstead.words import amperes, degrees, volts, watts

ASKED = "How far does the voltage fall under load?"
WHEN = ("at the bench", 70)
MAIN = ("loaded_voltage", "sag")
SOURCES = (
    "Terminal voltage of a source with resistance (OpenStax University Physics vol. 2, ch. 10.1) and the step of an "
    "RC pair (ch. 10.5)",
    "Constant power: the upper solution of a quadratic, none beyond maximum power transfer",
    "Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), "
    "US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured",
    "Resistance against temperature: 20 kJ/mol, general lithium-ion (tables shipped by simses 1.3, BSD-3)",
    "Floors under load: common practice, no published source; slow resistance half of the fast one: a fit",
)
MOST_ROWS = 500
EXAMPLES = (
    {"cells": 4, "capacity": "3700 mAh", "cell_resistance": "4.2 mΩ", "current": "48 A"},
    {
        "cells": 3,
        "capacity": "2250 mAh",
        "cell_voltages": "3.86,3.91,3.87 V",
        "power": "240 W",
        "duration": "5 s",
    },
)

STATE = {"state_of_charge", "rest_voltage", "cell_voltages"}
BURST = 5.0  # s; this project's own judgement.
UNKNOWN_RATE = 10.0
CURVE_POINTS = 61
FIRST_INSTANT = 1.0  # s, drawn where no duration is asked.
SAME = 5e-4  # V
SLACK = 1e-9
RULES = (OneOf("current", "rate", "power", required=True, asked="What is drawn from it?"),)


def capacity_is_told(
    capacity: Any, cell_resistance: Any, pack_resistance: float | None, rate: float | None
) -> Iterator[FieldError]:
    """The capacity is needed for a rate, and wherever no resistance is given."""
    if capacity is not None:
        return
    if rate is not None:
        yield FieldError("capacity", "missing", 'capacity is missing: a rate needs it, like "3700 mAh"')
    elif cell_resistance is None and pack_resistance is None:
        said = 'capacity is missing: the capacity on the label, like "3700 mAh" (or give cell_resistance)'
        yield FieldError("capacity", "missing", said)


CHECKS = (has_curve, capacity_is_told)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sag:
    rest_voltage: Annotated[float, Quantity("V", "Voltage of the pack at rest, before the load.")]
    loaded_voltage: Annotated[
        float | None,
        Quantity("V", "Voltage after the leads at the end of the duration; none if not carried.", spoken="down"),
    ] = None
    sag: Annotated[
        float | None,
        Quantity("V", "Rest less loaded voltage, leads included; none if not carried.", spoken="up"),
    ] = None
    current: Annotated[float | None, Quantity("A", "Current at the end of the duration; none if not carried.")] = None
    loaded_cell_voltages: Annotated[
        Floats | None,
        Quantity("V", "Voltage of each cell then, before the leads; none if not carried.", spoken="down"),
    ] = None
    weakest_cell: Annotated[int | None, Count("Cell with the lowest voltage then, from 1; none if not carried.")] = None
    weakest_cell_voltage: Annotated[float | None, Quantity("V", "Its voltage; none if not carried.", spoken="down")] = (
        None
    )
    holds: Annotated[
        bool,
        Flag(
            "Whether every cell stays at its floor or above to the end of the duration.",
            yes="every cell stays at its floor or above",
            no="a cell falls below its floor",
        ),
    ]
    delivered_power: Annotated[
        float | None, Quantity("W", "Power at the load then; none if not carried.", spoken="down")
    ] = None
    heat: Annotated[
        float | None, Quantity("W", "Heat released in the pack then; none if not carried.", spoken="up")
    ] = None
    time_to_floor: Annotated[
        float | None,
        Quantity(
            "min",
            "How long this load can go on until a cell meets its floor or is empty; none if it never does "
            "or starts below.",
            spoken="down",
        ),
    ] = None
    largest_power: Annotated[
        float,
        Quantity(
            "W", "The most power that keeps every cell at its floor or above to the end of the duration.", spoken="down"
        ),
    ]
    largest_current: Annotated[
        float, Quantity("A", "The most current that keeps every cell at its floor or above so long.", spoken="down")
    ]


def sag(
    *,
    pack: Annotated[
        Pack,
        Group(name="pack", omit=("condition",), require=("cells",), defaults={"state_of_charge": 0.2}),
    ],
    current: Annotated[
        float | None,
        Quantity("A", "Current drawn from the pack.", above=0, at_most=MOST_CURRENT, example="48 A"),
    ] = None,
    rate: Annotated[
        float | None,
        Rate("Discharge rate, in multiples of the capacity per hour.", above=0, at_most=1000, example=20),
    ] = None,
    power: Annotated[
        float | None,
        Quantity("W", "Constant power at the load, after the leads.", above=0, at_most=MOST_POWER, example="240 W"),
    ] = None,
    lead_resistance: LeadResistance = 0.0,
    duration: Annotated[
        float,
        Quantity(
            "s",
            "How long the load is on; 0 is the first instant.",
            at_least=0,
            at_most="36000 s",
            example="10 s",
        ),
    ] = 10.0,
    floor: Floor = derived(usual_floor, "the chemistry's usual floor under load"),
) -> Sag:
    """Voltage of a pack under load.

    Each cell is a source with an ohmic resistance and one RC pair, at rest before the load:

        V_cell = U(z) - I * R0 - V_rc,    V_rc = I * R1 * (1 - exp(-t / tau)) at constant current    (1)
        V_load = sum(V_cell) - I * R_lead                                                            (2)
        I      = (E - sqrt(E**2 - 4 * R * P)) / (2 * R) at constant power                            (3)

    with z falling by the charge drawn, and in Eq. (3) E the voltage behind all resistances R. Discharge current
    is positive. Without a capacity the state of charge stays put. Where the state is not told it is taken near
    the end of a flight, 0.2, which is the worst case. A cell measured below the curve's end keeps that shortfall.
    """
    cells, shortfalls = pack.resolved(), pack.shortfalls()
    rest = float(np.sum(cells.rest_voltages - shortfalls))
    if rate is not None:
        current = rate_current(rate, pack.charge)
    dead = bool(np.any(shortfalls > 0))
    most = 0.0 if dead else largest_power(cells, floor, duration, lead_resistance)
    most_current = 0.0 if dead else largest_current(cells, floor, duration, lead_resistance=lead_resistance)
    run = loaded(cells, duration, current=current, power=power, lead_resistance=lead_resistance)
    voltages = np.zeros(pack.size) if run is None else run.cell_voltages - shortfalls
    after_lead = 0.0 if run is None else float(np.sum(voltages)) - run.current * lead_resistance  # Eq. (2)
    # A short circuit brings the pack to nothing; more current than that it does not carry.
    if run is None or after_lead < -SLACK or np.any(voltages < -SLACK):
        return Sag(rest_voltage=rest, holds=False, largest_power=most, largest_current=most_current)
    voltages, after_lead = np.maximum(voltages, 0.0), max(0.0, after_lead)
    weakest = int(np.argmin(voltages))
    longest = (
        None if dead else time_to_floor(cells, floor, current=current, power=power, lead_resistance=lead_resistance)
    )
    return Sag(
        rest_voltage=rest,
        loaded_voltage=after_lead,
        sag=rest - after_lead,
        current=run.current,
        loaded_cell_voltages=voltages,
        weakest_cell=weakest + 1,
        weakest_cell_voltage=float(voltages[weakest]),
        holds=bool(voltages[weakest] >= floor - SLACK) and not run.emptied and not dead,
        delivered_power=after_lead * run.current,
        heat=run.heat,
        time_to_floor=longest,
        largest_power=most,
        largest_current=most_current,
    )


def sentence(
    answer: Sag,
    *,
    pack: Pack,
    current: float | None,
    rate: float | None,
    power: float | None,
    duration: float,
    floor: float,
    given: frozenset[str],
) -> str:
    """The answer as spoken."""
    named = f"this {pack.kind.words} pack"
    if answer.current is None or answer.loaded_voltage is None or answer.weakest_cell_voltage is None:
        if power is not None:
            asked, most = watts(power), watts(answer.largest_power, "down")
        else:
            asked = amperes(current or 0.0) if rate is None else words.rate(rate)
            most = amperes(answer.largest_current, "down")
        if answer.largest_power == 0:
            return (
                f"{named.capitalize()} cannot carry {asked}: a cell is at its floor of {volts(floor)} before any load."
            )
        return (
            f"{named.capitalize()} cannot carry {asked}: its voltage would collapse. "
            f"It carries {most} at most with every cell at {volts(floor)} or above."
        )
    load = amperes(answer.current) if power is None else f"{watts(power)}, {amperes(answer.current)} at the end,"
    when = f"after {words.told(duration)}" if duration else "at once"
    at = state_words(pack) + (
        "" if STATE & given else ", nearly empty" if pack.kind.kept_full else ", near the end of a flight"
    )
    loaded = volts(answer.loaded_voltage, "down")
    start = (
        f"Under {load} {named} falls from {volts(answer.rest_voltage)} to {loaded} {when}, "
        f"taken from {at}, at {degrees(pack.temperature)}."
    )
    uneven = pack.size > 1 and float(np.ptp(answer.loaded_cell_voltages)) > SAME  # type: ignore[arg-type]
    cell = f"Its weakest cell, number {answer.weakest_cell}, stands" if uneven else "Each cell stands"
    cell = cell if pack.size > 1 else "Its cell stands"
    least, bound = volts(answer.weakest_cell_voltage, "down"), volts(floor)
    if answer.holds and least == bound:
        return f"{start} {cell} at its floor of {bound}."
    where = "above" if answer.holds else "which is below" if answer.weakest_cell_voltage < floor else "empty, whatever"
    return f"{start} {cell} at {least}, {where} its floor of {bound}."


OWN_CAUTIONS: Table = {
    "empty-before": (
        "warning",
        "Its charge is used up before that time: the voltage told is that of an empty pack.",
    ),
    "below-floor": (
        "warning",
        "Below its floor a cell is soon harmed: land, or lighten the load.",
    ),
}
caution = shared.beside(OWN_CAUTIONS)


def cautions(
    answer: Sag, *, pack: Pack, power: float | None, duration: float, given: frozenset[str]
) -> Iterator[Caution]:
    """What to heed."""
    if answer.current is None:
        yield caution("load-impossible")
    yield from overfull_cautions(pack)
    if np.any(pack.shortfalls() > 0):
        yield caution("dead-cell-load", cell=int(np.argmax(pack.shortfalls())) + 1)
    yield from suspect_cautions(pack)
    if not answer.holds and answer.weakest_cell is not None:
        yield caution("below-floor")
    if answer.current is not None and isfinite(pack.charge):
        # Of a constant power the current rises, so that this is the least that is drawn.
        drawn = answer.current if power is None else power / answer.rest_voltage
        if drawn * duration > float(np.min(pack.states() * pack.capacities())) * (1 + SLACK):
            yield caution("empty-before")
    yield from hot_cautions(pack.temperature)
    yield from cold_cautions(pack.kind, pack.temperature)
    yield from resistance_cautions(pack, given)
    if duration < BURST:
        yield caution("short-burst")
    if not pack.curve.sourced:
        yield caution("extrapolated-curve")


def accuracy(
    answer: Sag,
    *,
    pack: Pack,
    current: float | None,
    rate: float | None,
    power: float | None,
    lead_resistance: float,
    duration: float,
    given: frozenset[str],
) -> Iterator[Band]:
    """How sure the loaded voltage is: the same load with the most and the least of the resistance."""
    if answer.current is None or answer.loaded_voltage is None:
        return
    drawn = current if rate is None else rate_current(rate, pack.charge)
    per_hour = current_rate(answer.current, pack.charge) if isfinite(pack.charge) else UNKNOWN_RATE
    basis = resistance_words(pack, given, per_hour)
    cells, missing = pack.resolved(), float(np.sum(pack.shortfalls()))
    edges = []
    for edge in reversed(resisting(pack, given, model_edges(per_hour))):
        run = loaded(edge.of(cells), duration, current=drawn, power=power, lead_resistance=lead_resistance)
        left = 0.0 if run is None else float(np.sum(run.cell_voltages)) - missing - run.current * lead_resistance
        edges.append(max(0.0, left))
    yield band_over("loaded_voltage", answer.loaded_voltage, edges, basis)


@dataclass(frozen=True, slots=True, kw_only=True)
class SagCurve:
    time: Annotated[Floats, Quantity("min", "Time from the start of the load.")]
    voltage: Annotated[Floats, Quantity("V", "Voltage at the load, after the leads.")]
    weakest_cell_voltage: Annotated[Floats, Quantity("V", "Voltage of the weakest cell.")]
    temperature: Annotated[Floats, Quantity("°C", "Temperature of the warmest cell, no heat taken away.")]


def curve(
    answer: Sag,
    *,
    pack: Pack,
    current: float | None,
    rate: float | None,
    power: float | None,
    lead_resistance: float,
    duration: float,
) -> SagCurve:
    """The load to the end of its duration; empty where it is impossible."""
    if answer.current is None:
        return SagCurve(**dict.fromkeys(SagCurve.__dataclass_fields__, np.empty(0)))
    drawn = current if rate is None else rate_current(rate, pack.charge)
    times = np.linspace(0, duration or FIRST_INSTANT, CURVE_POINTS)
    followed = partial(
        flight,
        pack.resolved(),
        [Phase(current=drawn, power=power)],
        lead_resistance=lead_resistance,
        longest=float(times[-1]),
    )
    run = followed().curve(times)
    shortfalls = pack.shortfalls()
    warmest: Floats | None = None
    if isfinite(pack.charge):
        # The resistance is held, as in the answer, and its voltages need no steps in time.
        warming = replace(Thermal.usual(pack).warming(pack), activation=0.0)
        warmest = followed(warming=warming).curve(times).temperature
    return SagCurve(
        time=times,
        voltage=run.voltage - np.sum(shortfalls),
        weakest_cell_voltage=run.weakest_voltage - np.max(shortfalls),
        temperature=np.full(times.shape, pack.temperature) if warmest is None else warmest,
    )


def picture(answer: Sag, *, pack: Pack, floor: float) -> Chart:
    """Voltage at the load and of the weakest cell over time, the floor marked."""
    floor_mark = Limit(floor, f"floor {floor:.3g} V")
    shown = () if answer.current is None else (Panel({"voltage": ""}),)
    return Chart(
        title="Voltage under load",
        x="time",
        panels=(*shown, Panel({"weakest_cell_voltage": ""}, (floor_mark,)), Panel({"temperature": ""})),
    )

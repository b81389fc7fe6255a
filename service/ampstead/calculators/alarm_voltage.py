"""Where the low-voltage warning belongs."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.kinds.resistance import temperature_ratio
from ampstead.cell.one.flight import Phase, flight
from ampstead.cell.one.reserve import AtReserve, at_reserve, resting_band
from ampstead.cell.one.series import SeriesPack
from ampstead.cell.sizing import current_rate
from ampstead.declare import Band, Caution, Floats, Fraction, Group, Quantity, derived
from ampstead.inputs.pack import ROOM, ChemistryName, Pack, has_curve
from ampstead.inputs.shared import MOST_CURRENT
from ampstead.inputs.warming import Thermal
from ampstead.judging.bands import band_over, model_edges, resistance_words, resisting
from ampstead.judging.cautions import Table
from ampstead.judging.cautions import caution as shared
from ampstead.judging.flying import flying_cautions, hot_cautions, largest_current
from ampstead.sketch import Chart, Limit, Panel
from ampstead.words import amperes, degrees, percent, volts

ASKED = "Where do I set the voltage warning?"
WHEN = ("before the next outing", 30)
MAIN = ("alarm_cell_voltage", "alarm_voltage")
SOURCES = (
    "Terminal voltage of a source with resistance (OpenStax University Physics vol. 2, ch. 10.1), the slow part of the "
    "resistance in full; compared with discharges by the library thevenin 0.2.1",
    "Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), "
    "US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured",
    "Resistance against temperature: 20 kJ/mol, general lithium-ion (tables shipped by simses 1.3, BSD-3)",
    "A reserve of 25 percent at the warning, and floors under load: common practice, no published source",
)
MOST_ROWS = 1000
EXAMPLES = (
    {"cells": 4, "capacity": "3700 mAh", "cell_resistance": "4.6 mΩ", "current": "48 A"},
    {"chemistry": "liion", "cells": 4, "capacity": "3500 mAh", "current": "7 A", "reserve": "30 %"},
)
CHECKS = (has_curve,)

CURVE_POINTS, CURVE_REACH = 31, 1.5
SAME = 5e-4  # V


def least_resistance(chemistry: ChemistryName, capacity: Any, pack_resistance: float | None) -> Any:
    """The least that packs of this kind have: a warning set for less resistance than there is comes early, not late."""
    if pack_resistance is not None or capacity is None:
        return None
    kind = CHEMISTRIES[chemistry]
    return (kind.resistance_charge_band or (kind.resistance_charge,))[0] / capacity


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmVoltage:
    alarm_cell_voltage: Annotated[
        float | None,
        Quantity(
            "V",
            "Voltage of the weakest cell under load, at the reserve or at its floor if that comes first; none if it "
            "comes at once.",
            spoken="up",
        ),
    ] = None
    alarm_voltage: Annotated[
        float | None, Quantity("V", "Voltage of the pack under load then; none likewise.", spoken="up")
    ] = None
    resting_voltage: Annotated[
        float | None, Quantity("V", "Voltage of the pack at rest after landing then; none likewise.")
    ] = None
    largest_current: Annotated[
        float,
        Quantity(
            "A",
            "The most current that keeps every cell at its floor or above down to the reserve, no warmer than now.",
            spoken="down",
        ),
    ]
    _flown: AtReserve | None
    _warmth: Floats


def alarm_voltage(
    *,
    pack: Annotated[
        Pack,
        Group(
            name="pack",
            omit=("state_of_charge", "rest_voltage", "cell_voltages", "condition"),
            require=("cells", "capacity"),
            defaults={"cell_resistance": derived(least_resistance, "the least by chemistry, divided by the capacity")},
        ),
    ],
    current: Annotated[
        float,
        Quantity("A", "Current drawn when the warning is to come.", above=0, at_most=MOST_CURRENT, example="48 A"),
    ],
    reserve: Annotated[
        float, Fraction("Part of the capacity left when it comes.", at_least=0, at_most=0.99, example=0.25)
    ] = 0.25,
) -> AlarmVoltage:
    """Where the low-voltage warning belongs: the voltage under load with the reserve left, never below the floor.

    Flown from full under one current until the smallest cell has ``reserve`` left:

        t       = (1 - reserve) * Q_smallest / I                          (1)
        z_j     = 1 - I * t / Q_j                                         (2)
        V_j     = U(z_j) - I * (R0_j + R1_j * (1 - exp(-t / tau)))        (3)
        alarm   = min(V_j) per cell, sum(V_j) for the pack                (4)
        resting = sum(U(z_j))                                             (5)

    Where Eq. (3) lies below the chemistry's floor, the floor is met first, and the voltages are those at that moment.
    Discharge current is positive. A lighter load leaves the voltage higher, so that the warning then comes late.
    The resistance is that at the temperature told; of a colder pack than 25 °C it is what it has become as the cells
    warm in such a flight in still air, but no warmer than 25 °C, since less resistance means an earlier warning.
    """
    full, floor = pack.resolved(np.ones(pack.size)), pack.kind.floor
    warmth = warmed(pack, full, reserve, current)
    flown = at_reserve(full, reserve, current, floor=floor, warmth=warmth)
    most = largest_current(full, floor, reserve)
    if flown is None:
        return AlarmVoltage(largest_current=most, _flown=None, _warmth=warmth)
    return AlarmVoltage(
        alarm_cell_voltage=float(np.min(flown.loaded)),
        alarm_voltage=float(np.sum(flown.loaded)),
        resting_voltage=float(np.sum(flown.resting)),
        largest_current=most,
        _flown=flown,
        _warmth=warmth,
    )


def warmed(pack: Pack, full: SeriesPack, reserve: float, current: float) -> Floats:
    """Resistance at the end of the flight over that at its start, of each cell; 1 from 25 °C up."""
    if pack.temperature >= ROOM or current == 0:
        return np.ones(pack.size)
    load, warming = [Phase(current=current)], Thermal.usual(pack).warming(pack)
    run = flight(full, load, floor=pack.kind.floor, reserve=reserve, warming=warming)
    assert run.temperatures is not None
    ends = np.clip(run.temperatures, pack.temperature, ROOM)
    return np.asarray(temperature_ratio(ends, pack.temperature))


def sentence(answer: AlarmVoltage, *, pack: Pack, current: float, reserve: float) -> str:
    """The answer as spoken: what to set."""
    named, floor = f"{pack.kind.words} pack", pack.kind.floor
    under = f"under {amperes(current)}, taken at {degrees(pack.temperature)},"
    if answer._flown is None or answer.alarm_cell_voltage is None or answer.alarm_voltage is None:
        most = f"{amperes(answer.largest_current, 'down')} at most down to {percent(reserve)}"
        return (
            f"No warning fits: {under} this {named} is at its floor of {volts(floor)} a cell at once. "
            f"It carries {most}."
        )
    set_at = f"Set the warning of this {named} at {volts(answer.alarm_cell_voltage, 'up')}"
    loaded, in_all = answer._flown.loaded, f" {volts(answer.alarm_voltage, 'up')} in all"
    first = f", which cell {int(np.argmin(loaded)) + 1} meets first," if float(np.ptp(loaded)) > SAME else ","
    set_at, first, in_all = (f"{set_at} a cell", first, in_all) if pack.size > 1 else (set_at, "", "")
    if answer._flown.at_floor:
        left = f"{percent(reserve)} is left" if reserve else "it is empty"
        return f"{set_at}, its floor{first}{in_all}: {under} it meets that before {left}."
    rests = f"After landing it rests at {volts(answer.resting_voltage or 0.0)}."
    return f"{set_at}{first}{in_all}: {under} it then has {percent(reserve)} left. {rests}"


OWN_CAUTIONS: Table = {
    "alarm-below-floor": (
        "warning",
        "Under this current a cell meets its floor before the reserve: draw less, and never set the warning lower.",
    ),
    "alarm-impossible": (
        "danger",
        "Under this current a cell is at its floor from the start: do not fly it so.",
    ),
    "alarm-guess": (
        "warning",
        "The resistance is not known: the least that such packs have is taken, so that this warning comes early rather "
        "than late. Measure it under load for one that fits.",
    ),
    "alarm-gentle": (
        "note",
        "Under a lighter load the voltage stays higher, so that this warning comes late: fly by a timer as well.",
    ),
}
caution = shared.beside(OWN_CAUTIONS, standing={"alarm-gentle"})


def cautions(answer: AlarmVoltage, *, pack: Pack, reserve: float, given: frozenset[str]) -> Iterator[Caution]:
    """What to heed."""
    if answer._flown is None:
        yield caution("alarm-impossible")
    elif answer._flown.at_floor:
        yield caution("alarm-below-floor", floor=volts(pack.kind.floor))
    if not {"cell_resistance", "pack_resistance"} & given:
        yield caution("alarm-guess")
    if not reserve:
        yield caution("no-reserve")
    yield from hot_cautions(pack.temperature)
    yield from flying_cautions(pack, given)
    yield caution("alarm-gentle")
    if pack.kind.flat_curve:
        yield caution("flat-curve")


def accuracy(
    answer: AlarmVoltage, *, pack: Pack, current: float, reserve: float, given: frozenset[str]
) -> Iterator[Band]:
    """How sure the voltages are: published cells differ at rest, and resistance and model under load."""
    flown, floor = answer._flown, pack.kind.floor
    if flown is None or answer.alarm_cell_voltage is None or answer.alarm_voltage is None:
        return
    states = pack.curve.state(flown.resting)
    edges = np.array([resting_band(pack.chemistry, pack.curve, float(state)) for state in states])
    weakest = int(np.argmin(flown.loaded))
    rate = current_rate(current, pack.charge)
    least, most = resisting(pack, given, model_edges(rate))
    drops = flown.resting - flown.loaded
    # Long under load, both parts of the resistance count in full.
    whole = pack.ohmic() + pack.polarisation()
    less, more = ((pack.ohmic() * edge.ohmic + pack.polarisation() * edge.slow) / whole for edge in (least, most))
    low = np.maximum(floor, edges[:, 0] - drops * more)
    high = np.maximum(floor, edges[:, 1] - drops * less)
    basis = f"published cells differ at rest; {resistance_words(pack, given, rate)}; never below the floor"
    yield from apart("alarm_cell_voltage", answer.alarm_cell_voltage, (low[weakest], high[weakest]), basis)
    yield from apart("alarm_voltage", answer.alarm_voltage, (np.sum(low), np.sum(high)), basis)
    if not flown.at_floor:
        # With more resistance a cell may meet its floor before the reserve, and then rests higher.
        full = most.of(pack.resolved(np.ones(pack.size)))
        early = at_reserve(full, reserve, current, floor=floor, warmth=answer._warmth)
        resting = full.rest_voltages if early is None else early.resting
        ends = [resting_band(pack.chemistry, pack.curve, float(state)) for state in pack.curve.state(resting)]
        both = [*np.sum(edges, axis=0), *np.sum(ends, axis=0)]
        basis = "voltages at rest that published cells of this kind have where the warning may come"
        yield from apart("resting_voltage", float(np.sum(flown.resting)), both, basis)


def apart(name: str, result: float, edges: Iterable[float], basis: str) -> Iterator[Band]:
    """The band from one edge to the other; none where they are the same."""
    band = band_over(name, result, map(float, edges), basis)
    if band.high - band.low > SAME:
        yield band


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmCurve:
    current: Annotated[Floats, Quantity("A", "Current drawn.")]
    alarm_cell_voltage: Annotated[Floats, Quantity("V", "Where the warning belongs at it, per cell.")]
    alarm_voltage: Annotated[Floats, Quantity("V", "The same for the pack.")]


def curve(answer: AlarmVoltage, *, pack: Pack, current: float, reserve: float) -> AlarmCurve:
    """The warning against the current, to where the pack collapses."""
    full, currents = pack.resolved(np.ones(pack.size)), np.linspace(0, CURVE_REACH * current, CURVE_POINTS)
    floor = pack.kind.floor
    each = [
        at_reserve(full, reserve, drawn, floor=floor, warmth=warmed(pack, full, reserve, drawn))
        for drawn in currents.tolist()
    ]
    kept = [k for k, flown in enumerate(each) if flown is not None]
    loaded = np.array([flown.loaded for flown in each if flown is not None]).reshape(-1, pack.size)
    return AlarmCurve(
        current=currents[kept],
        alarm_cell_voltage=np.min(loaded, axis=1),
        alarm_voltage=np.sum(loaded, axis=1),
    )


def picture(answer: AlarmVoltage, *, pack: Pack, current: float) -> Chart:
    """The weakest cell and the pack against current, floor and asked current marked."""
    floor = pack.kind.floor
    asked = Limit(current, f"{current:.3g} A", upright=True)
    return Chart(
        title="Where the warning belongs",
        x="current",
        panels=(
            Panel({"alarm_cell_voltage": ""}, (Limit(floor, f"floor {floor:.3g} V"), asked)),
            Panel({"alarm_voltage": ""}, (asked,)),
        ),
    )

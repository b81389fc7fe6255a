"""Where the low-voltage warning belongs."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

import numpy as np

from ampstead.cell.one.reserve import at_reserve, resting_band
from ampstead.cell.sizing import current_rate
from ampstead.declare import Band, Caution, Floats, Fraction, Group, Quantity
from ampstead.inputs.pack import Pack, has_curve
from ampstead.inputs.shared import MOST_CURRENT
from ampstead.judging.bands import resistance_factors, sag_band
from ampstead.judging.cautions import caution, resistance_cautions
from ampstead.sketch import Chart, Limit, Panel
from ampstead.words import amperes, degrees, percent, volts

SOURCES = (
    "Terminal voltage of a source with resistance (OpenStax University Physics vol. 2, ch. 10.1), the slow part of the "
    "resistance in full; compared with discharges by the library thevenin 0.2.1",
    "Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), "
    "US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured",
    "Resistance against temperature: 20 kJ/mol, general lithium-ion (tables shipped by simses 1.3, BSD-3)",
    "A reserve of 25 percent at the warning, and floors under load: common practice, no published source",
)
EXAMPLES = (
    {"cells": 4, "capacity": "3700 mAh", "cell_resistance": "4.6 mΩ", "current": "48 A"},
    {"chemistry": "liion", "cells": 4, "capacity": "3500 mAh", "current": "7 A", "reserve": "30 %"},
)
CHECKS = (has_curve,)

VERY_COLD = 263.15
CURVE_POINTS, CURVE_REACH = 61, 1.5
SAME = 5e-4  # V
GUESSED = 0.7  # A resistance that may be so much less than the figure used; this project's own judgement.
SLACK = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmVoltage:
    alarm_cell_voltage: Annotated[
        float, Quantity("V", "Voltage of the weakest cell under load, at the reserve.", spoken="up")
    ]
    alarm_voltage: Annotated[float, Quantity("V", "Voltage of the pack under load then.", spoken="up")]
    resting_voltage: Annotated[float, Quantity("V", "Voltage of the pack at rest after landing then.")]


def alarm_voltage(
    *,
    pack: Annotated[
        Pack,
        Group(
            name="pack",
            omit=("state_of_charge", "rest_voltage", "cell_voltages", "condition"),
            require=("cells", "capacity"),
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
    """Where the low-voltage warning belongs: the voltage under load with the reserve left.

    Flown from full until the smallest cell has ``reserve`` left, under a current that has been on for minutes:

        z_j     = 1 - (1 - reserve) * Q_smallest / Q_j       (1)
        V_j     = U(z_j) - I * (R0_j + R1_j)                 (2)
        alarm   = min(V_j) per cell, sum(V_j) for the pack   (3)
        resting = sum(U(z_j))                                (4)

    Discharge current is positive. A lighter load leaves the voltage higher, so that the warning then comes late; a
    colder pack, lower. Where Eq. (2) lies below the chemistry's floor, the floor is met first: warn there.
    """
    cells = at_reserve(pack.resolved(np.ones(pack.size)), reserve, current)  # Eq. (1), (2)
    return AlarmVoltage(
        alarm_cell_voltage=float(np.min(cells.loaded)),
        alarm_voltage=float(np.sum(cells.loaded)),
        resting_voltage=float(np.sum(cells.resting)),
    )


def sentence(answer: AlarmVoltage, *, pack: Pack, current: float, reserve: float) -> str:
    """The answer as spoken: what to set, never below the floor."""
    named, floor = f"{pack.kind.words} pack", pack.kind.floor
    if answer.alarm_voltage <= 0:
        return f"No warning fits: under {amperes(current)} this {named} collapses before {percent(reserve)} is left."
    under = f"under {amperes(current)}, taken at {degrees(pack.temperature)},"
    if answer.alarm_cell_voltage < floor - SLACK:
        return (
            f"Set the warning of this {named} at {volts(floor)} a cell, its floor, {volts(floor * pack.size)} in all: "
            f"{under} it meets that before {percent(reserve)} is left."
        )
    loaded = at_reserve(pack.resolved(np.ones(pack.size)), reserve, current).loaded
    first = f", which cell {int(np.argmin(loaded)) + 1} meets first," if float(np.ptp(loaded)) > SAME else ","
    return (
        f"Set the warning of this {named} at {volts(answer.alarm_cell_voltage, 'up')} a cell{first} "
        f"{volts(answer.alarm_voltage, 'up')} in all: {under} it then has {percent(reserve)} left. "
        f"After landing it rests at {volts(answer.resting_voltage)}."
    )


def cautions(
    answer: AlarmVoltage, *, pack: Pack, current: float, reserve: float, given: frozenset[str]
) -> Iterator[Caution]:
    """What to heed."""
    floor = pack.kind.floor
    if answer.alarm_voltage <= 0:
        yield caution("alarm-impossible")
    elif answer.alarm_cell_voltage < floor - SLACK:
        yield caution("alarm-below-floor")
    if pack.temperature < VERY_COLD:
        yield caution("very-cold")
    low, _ = resistance_factors(pack, given)
    if low < GUESSED and answer.alarm_voltage > 0:
        cells = at_reserve(pack.resolved(np.ones(pack.size)), reserve, low * current)
        yield caution("alarm-guess", early=volts(float(np.min(cells.loaded))))
    yield from resistance_cautions(pack, given)
    yield caution("alarm-gentle")
    if pack.kind.flat_curve:
        yield caution("flat-curve")
    if not pack.curve.sourced:
        yield caution("extrapolated-curve")


def accuracy(
    answer: AlarmVoltage, *, pack: Pack, current: float, reserve: float, given: frozenset[str]
) -> Iterator[Band]:
    """How sure the voltages are: published cells differ at rest, and resistance and model under load."""
    cells = at_reserve(pack.resolved(np.ones(pack.size)), reserve, current)
    states = 1 - (1 - reserve) * pack.charge / pack.capacities()
    edges = np.array([resting_band(pack.chemistry, pack.curve, float(state)) for state in states])
    weakest = int(np.argmin(cells.loaded))
    rate, factors = current_rate(current, pack.charge), resistance_factors(pack, given)
    low, high = (edges[weakest, side] for side in (0, 1))
    drops = cells.resting - cells.loaded
    if answer.alarm_voltage > 0:
        yield widened("alarm_cell_voltage", (low, high), float(drops[weakest]), rate, factors)
        yield widened("alarm_voltage", tuple(np.sum(edges, axis=0)), float(np.sum(drops)), rate, factors)
    basis = "voltages at rest that published cells of this kind have at one state of charge"
    yield Band("resting_voltage", float(np.sum(edges[:, 0])), float(np.sum(edges[:, 1])), basis)


def widened(name: str, resting: tuple[float, ...], drop: float, rate: float, factors: tuple[float, float]) -> Band:
    """The band under load, from the lowest to the highest voltage at rest."""
    low, high = (sag_band(name, float(edge), drop, rate, factors) for edge in resting)
    return Band(name, low.low, high.high, f"published cells differ at rest; {low.basis}")


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmCurve:
    current: Annotated[Floats, Quantity("A", "Current drawn.")]
    alarm_cell_voltage: Annotated[Floats, Quantity("V", "Where the warning belongs at it, per cell.")]
    alarm_voltage: Annotated[Floats, Quantity("V", "The same for the pack.")]


def curve(answer: AlarmVoltage, *, pack: Pack, current: float, reserve: float) -> AlarmCurve:
    """The warning against the current, to where the pack collapses."""
    full = pack.resolved(np.ones(pack.size))
    currents = np.linspace(0, CURVE_REACH * current, CURVE_POINTS)
    each = np.array([at_reserve(full, reserve, float(drawn)).loaded for drawn in currents])
    kept = np.sum(each, axis=1) > 0
    return AlarmCurve(
        current=currents[kept],
        alarm_cell_voltage=np.min(each, axis=1)[kept],
        alarm_voltage=np.sum(each, axis=1)[kept],
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

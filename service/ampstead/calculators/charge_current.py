"""How hard may this pack be charged here, and what comes of it.

Over 300 lines, since a calculator is one file, with its cautions, its curve and its picture.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import partial, reduce
from math import inf
from typing import Annotated

import numpy as np

from ampstead.cell.column import figure
from ampstead.cell.one.charge import Charge
from ampstead.cell.rows.alike import charge, time_of_charge
from ampstead.declare import Band, Caution, Choice, Floats, Fraction, Group, Quantity, Rate, derived
from ampstead.inputs.pack import Pack, has_curve
from ampstead.inputs.shared import (
    ChargeRate,
    ChargerCurrentLimit,
    ChargerPowerLimit,
    Efficiency,
    EndCellVoltage,
    MaxRate,
    SupplyLimit,
    Taper,
    usual_charge_rate,
)
from ampstead.judging.bands import end_span, supply_band
from ampstead.judging.cautions import LONG_CHARGE, Table, charging
from ampstead.judging.cautions import caution as shared
from ampstead.judging.charging import (
    SOURCES_OF_LIMITS,
    LimitName,
    Verdict,
    allowed_end,
    charge_edges,
    charge_verdict,
    charger_limits,
    end_is_allowed,
    end_of_charge,
    proviso,
    spread_cautions,
    time_band,
)
from ampstead.judging.states import state_words
from ampstead.sketch import Chart, Limit, Panel
from ampstead.words import (
    amperes_to_set,
    between,
    capitalised,
    degrees,
    milliampere_hours,
    number,
    percent,
    told,
    volts,
    watts,
)

ASKED = "How hard may I charge this pack?"
WHEN = ("at the field", 20)
MAIN = ("current", "time_total", "end_voltage")
SOURCES = (
    "Constant current, then constant voltage, of an equivalent circuit with one RC pair, solved piecewise exactly; "
    "compared with the library thevenin 0.2.1 and PyBaMM 26.10",
    "Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), "
    "US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured",
    *SOURCES_OF_LIMITS,
    "Usual rates, end of charge at a tenth, 85 percent efficiency, stop at 50 degrees: common practice, no "
    "published source",
)
EXAMPLES = (
    {"cells": 3, "capacity": "2250 mAh", "rest_voltage": "11.31 V"},
    {
        "cells": 4,
        "capacity": "3700 mAh",
        "cell_resistance": "4.2 mΩ",
        "rate": 2,
        "max_rate": 3,
        "charger_current_limit": "8 A",
        "charger_power_limit": "110 W",
        "time_available": "25 min",
    },
)

# Points of the curve at constant current and at constant voltage, as parts of the times of both.
STEADY, HELD = np.linspace(0, 1, 120), np.linspace(0, 1, 60)[1:]
NOTICEABLE = 0.002  # Of the capacity: less than that is not worth a word.
SLACK = 1e-9

CHECKS = (has_curve, end_is_allowed)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeCurrent:
    current: Annotated[float, Quantity("A", "Current to set; 0 where the pack must not be charged.", spoken="down")]
    rate: Annotated[float, Rate("That current in multiples of the capacity per hour.", spoken="down")]
    limited_by: Annotated[LimitName, Choice("What sets the current.")]
    end_voltage: Annotated[float, Quantity("V", "Voltage of the pack at which the charger holds.", spoken="down")]
    peak_power: Annotated[float, Quantity("W", "End voltage times the largest current that flows.", spoken="up")]
    supply_power: Annotated[float, Quantity("W", "Drawn from the supply at that peak.", spoken="up")]
    time_constant_current: Annotated[
        float | None,
        Quantity("min", "Time at constant current; none where nothing is charged or no time is known.", spoken="up"),
    ] = None
    time_constant_voltage: Annotated[
        float | None,
        Quantity("min", "Time at constant voltage; none where nothing is charged or no time is known.", spoken="up"),
    ] = None
    time_total: Annotated[
        float | None,
        Quantity("min", "Time to the end of charge; none where nothing is charged or no time is known.", spoken="up"),
    ] = None
    charge_added: Annotated[
        float | None,
        Quantity("mAh", "Charge put in, to the end or to the time available; none for lead-acid."),
    ] = None
    energy_added: Annotated[
        float | None, Quantity("Wh", "Energy put in at the pack's terminals, likewise; none for lead-acid.")
    ] = None
    supply_energy: Annotated[
        float | None, Quantity("Wh", "Energy drawn from the supply, likewise; none for lead-acid.", spoken="up")
    ] = None
    state_of_charge_end: Annotated[
        float | None, Fraction("State of charge of the least charged cell then; none for lead-acid.", spoken="down")
    ] = None
    stop_temperature: Annotated[float, Quantity("°C", "Stop the charge if the pack gets this warm.", spoken="down")]
    _verdict: Verdict
    _run: Charge | None = None


def charge_current(
    *,
    pack: Annotated[Pack, Group(name="pack", require=("cells", "capacity"), defaults={"state_of_charge": 0.2})],
    rate: ChargeRate = derived(usual_charge_rate, "the chemistry's usual rate"),
    max_rate: MaxRate = None,
    charger_current_limit: ChargerCurrentLimit = None,
    charger_power_limit: ChargerPowerLimit = None,
    supply_limit: SupplyLimit = None,
    efficiency: Efficiency = 0.85,
    taper: Taper = 0.1,
    end_cell_voltage: EndCellVoltage = derived(end_of_charge, "the chemistry's own end of charge"),
    time_available: Annotated[
        float | None,
        Quantity("min", "Time there is to charge.", at_least=0, at_most="10000 min", example="25 min"),
    ] = None,
) -> ChargeCurrent:
    """How hard a pack may be charged here, and what comes of it.

    The current is the least of what the asker, the label, the charger and its supply allow, all power limits
    taken at the end voltage:

        I = min(rate * Q / 1 h, max_rate * Q / 1 h, I_charger, P_charger / U_end, efficiency * P_supply / U_end)    (1)

    In the cold or heat, with a low cell or one that stands out, in doubt about the cell count or with an unsound pack
    it is cut or nil, and in the cold the end voltage is lowered. The charge then runs at constant current until the
    highest cell reaches its end voltage, and at constant voltage until the current has fallen to ``taper`` times the
    set one. Charging current is positive; the resistance is taken at the pack's temperature at the start and held.
    """
    end_voltage = pack.size * allowed_end(pack, end_cell_voltage)
    charger = charger_limits(charger_current_limit, charger_power_limit, supply_limit, efficiency, end_voltage)
    verdict = charge_verdict(pack, rate, max_rate, charger, end_cell_voltage)
    I = verdict.current  # Eq. (1)
    told = partial(
        ChargeCurrent,
        current=I,
        rate=verdict.rate,
        limited_by=verdict.limited_by,
        end_voltage=end_voltage,
        stop_temperature=verdict.stop_temperature,
        _verdict=verdict,
    )
    if I == 0:
        lowest = min([state for state, _ in pack.fills])
        return told(
            peak_power=0.0,
            supply_power=0.0,
            charge_added=0.0,
            energy_added=0.0,
            supply_energy=0.0,
            state_of_charge_end=lowest,
        )
    run = None if not pack.kind.charge_timed else charge(pack.resolved(), I, verdict.end_cell_voltage, taper * I)
    peak = end_voltage * (run.first_current if run else I)
    if run is None:
        return told(peak_power=peak, supply_power=peak / efficiency)
    charge_added, energy_added = run.at(inf if time_available is None else time_available)
    return told(
        peak_power=peak,
        supply_power=peak / efficiency,
        time_constant_current=run.time_constant_current,
        time_constant_voltage=run.time_constant_voltage,
        time_total=run.time_total,
        charge_added=charge_added,
        energy_added=energy_added,
        supply_energy=energy_added / efficiency,
        state_of_charge_end=min([1.0, *_states_with(pack, charge_added)]),
        _run=run,
    )


def _states_with(pack: Pack, added: float) -> list[float]:
    """State of each cell with so much charge put in, or once for all."""
    return [state + added / Q for state, Q in pack.fills]


def end_gap(answer: ChargeCurrent, pack: Pack) -> tuple[int, float] | None:
    """The fullest cell at the end of the charge (from 1), and what the emptiest lacks of it, C; None if alike."""
    assert answer.charge_added is not None
    if pack.cell_voltages is None and not isinstance(pack.capacity, np.ndarray):
        return None
    states = _states_with(pack, answer.charge_added)
    most, least = max(states), min(states)
    fullest, emptiest = states.index(most), states.index(least)
    lacking = (most - least) * figure(pack.capacities()[emptiest])
    return (fullest + 1, lacking) if lacking > NOTICEABLE * pack.charge else None


def sentence(answer: ChargeCurrent, *, pack: Pack, bands: Mapping[str, Band], time_available: float | None) -> str:
    """The answer as spoken."""
    named = f"this {pack.kind.words} pack"
    if answer.current == 0:
        return f"Do not charge {named}: {answer._verdict.because}."
    at = f"at {amperes_to_set(answer.current)}{answer._verdict.because}, up to {volts(answer.end_voltage, 'down')}"
    if answer.time_total == 0:
        return f"Charged {at}, {named} takes next to nothing from {state_words(pack)}."
    start = (
        f"{capitalised(f'{proviso(pack)}charge')} {named} {at}; "
        f"the charger draws up to {watts(answer.supply_power, 'up')}."
    )
    if answer.time_total is None or answer.state_of_charge_end is None:
        return f"{start} How long that takes cannot be told for lead-acid: allow many hours."
    begun = f"from {state_words(pack)}, taken at {degrees(pack.temperature)}"
    if time_available is not None and time_available < answer.time_total:
        reached = percent(answer.state_of_charge_end, "down")
        if reached == percent(float(np.mean(pack.states())), "down"):
            added = milliampere_hours(answer.charge_added or 0.0)
            return f"{start} In {told(time_available)} it takes in {added} only, {begun}."
        return f"{start} In {told(time_available)} it gets to {reached} {begun}."
    band = bands["time_total"]
    return f"{start} It takes {between(band.low, band.high)} {begun}."


OWN_CAUTIONS: Table = {
    "fills-unevenly": (
        "note",
        "Cell {cell} is full first and ends the charge; the emptiest cell then lacks {lacking} unless the charger "
        "levels them.",
    ),
}
caution = shared.beside(OWN_CAUTIONS)


def cautions(answer: ChargeCurrent, *, pack: Pack) -> Iterator[Caution]:
    """What to heed, the reason for a refusal first."""
    yield from answer._verdict.cautions
    yield from charging(pack.kind)
    if answer.time_total is not None and answer.time_total > LONG_CHARGE * (1 + SLACK):
        yield caution("long-charge")
    if answer.charge_added and (gap := end_gap(answer, pack)):
        yield caution("fills-unevenly", cell=gap[0], lacking=milliampere_hours(gap[1]))
    yield from spread_cautions(pack)
    if not pack.kind.charge_timed:
        yield caution("lead-time")
    if not pack.curve.sourced:
        yield caution("extrapolated-curve")
    if pack.voltage_readings() is not None:
        yield caution("flat-curve" if pack.kind.flat_curve else "state-from-voltage")


def accuracy(
    answer: ChargeCurrent, *, pack: Pack, efficiency: float, taper: float, given: frozenset[str]
) -> Iterator[Band]:
    """How sure time and supply are."""
    if answer.time_total is not None:
        times, slowest = [answer.time_total, answer.time_total], None
        if (found := charge_edges(pack, given)) is not None:
            end, slowest = answer._verdict.end_cell_voltage, found[1]
            times += [time_of_charge(cells, answer.current, end, taper * answer.current) for cells in found]
        yield time_band(min(times), max(times), [slowest or pack.resolved()])
    yield from supply_band(answer.peak_power, efficiency)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeCurve:
    time: Annotated[Floats, Quantity("min", "Time from the start.")]
    voltage: Annotated[Floats, Quantity("V", "Voltage of the pack.")]
    current: Annotated[Floats, Quantity("A", "Charge current.")]
    charge: Annotated[Floats, Quantity("mAh", "Charge put in so far.")]
    state_of_charge: Annotated[Floats, Fraction("State of charge of the least charged cell.")]


def curve(answer: ChargeCurrent, *, pack: Pack) -> ChargeCurve:
    """The charge over time; empty where nothing is charged or no time is known."""
    run = answer._run
    if run is None:
        return ChargeCurve(**dict.fromkeys(ChargeCurve.__dataclass_fields__, np.empty(0)))
    steady = run.time_constant_current
    time = np.concatenate([STEADY * steady, steady + HELD * run.time_constant_voltage])
    if np.count_nonzero(time[1:] <= time[:-1]):
        time = np.array(sorted({*time}))  # one of the parts is none, or next to none
    voltage, current, added = run.curve(time)
    cells = set(pack.fills)
    return ChargeCurve(
        time=time,
        voltage=voltage,
        current=current,
        charge=added,
        state_of_charge=np.minimum(1.0, reduce(np.minimum, [state + added / Q for state, Q in cells])),
    )


def picture(answer: ChargeCurrent, *, time_available: float | None, bands: Mapping[str, Band]) -> Chart:
    """Voltage and current over time; the end voltage, the time there is and the band of the end marked."""
    stop = () if time_available is None else (Limit(time_available, "", upright=True),)
    told = () if time_available is None else (Limit(time_available, "time available", upright=True),)
    return Chart(
        title=f"Charge at {number(answer.current, 3, 'down')} A",
        x="time",
        panels=(
            Panel({"voltage": ""}, (Limit(answer.end_voltage, f"held at {answer.end_voltage:.4g} V"), *stop)),
            Panel({"current": ""}, told, from_zero=True),
            Panel({"state_of_charge": ""}, stop, from_zero=True),
        ),
        span=end_span(bands),
    )

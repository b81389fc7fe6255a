"""How hard may this pack be charged here, and what comes of it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from math import inf
from typing import Annotated, Literal

import numpy as np

from ampstead.bands import supply_band
from ampstead.cautions import caution, charging
from ampstead.cell.charge import charge
from ampstead.cell.charge_temperature import COLDEST, STOP_TEMPERATURE, charge_part
from ampstead.cell.chemistries import CHEMISTRIES
from ampstead.cell.sizing import current_rate, rate_current
from ampstead.declare import Band, Caution, Choice, Floats, Fraction, Group, Quantity, Rate, derived
from ampstead.errors import FieldError
from ampstead.inputs import MOST_CURRENT, MOST_POWER, ChargeRate, Efficiency
from ampstead.pack import ChemistryName, Pack, has_curve
from ampstead.sketch import Chart, Limit, Panel
from ampstead.words import (
    amperes,
    between,
    count,
    degrees,
    duration,
    milliampere_hours,
    millivolts,
    percent,
    volts,
    watts,
)
from ampstead.words import rate as spoken_rate

SOURCES = (
    "Constant current, then constant voltage, of an equivalent circuit with one RC pair, solved piecewise exactly; "
    "compared with the library thevenin 0.2.1 and PyBaMM 26.10",
    "Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), "
    "US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured",
    "No lithium charge below 0 or above 40 degrees: NFPA, quoted by the US Fire Administration; a fifth of the "
    "current from 0 to 10 degrees: default of a published charger circuit (TI BQ25882)",
    "At most a tenth of the capacity an hour below 3.0 V a cell: a cell maker's page; none below 2.5 V: this "
    "project's own judgement",
    "Usual rates, end of charge at a tenth, 85 percent efficiency, stop at 50 degrees: common practice, no "
    "published source",
)
EXAMPLES = (
    {"cells": 2, "capacity": "1300 mAh", "rest_voltage": "7.5 V"},
    {
        "cells": 4,
        "capacity": "5000 mAh",
        "cell_resistance": "3 mΩ",
        "supply_limit": "80 W",
        "time_available": "45 min",
    },
)

RECOVERY_RATE = 0.1
NEARLY_EMPTY = 0.1
CURVE_STEADY, CURVE_HELD = 120, 60  # Points of the curve at constant current and at constant voltage.
LEVEL = 0.02  # V between cells; common practice, no published source.
NOTICEABLE = 0.002  # Of the capacity: less than that is not worth a word.
SLACK = 1e-9
# Of the time of a real charge over the model's; this project's own judgement (balancing, ramp, leads).
TIME_LOW, TIME_HIGH, TIME_HIGH_RESISTIVE, TIME_EXTRA = 0.95, 1.05, 1.35, 900.0
RESISTIVE = 180.0  # 50 mΩ·Ah, in Ω·C.

LimitName = Literal[
    "asked-rate",
    "pack-label",
    "charger-current",
    "charger-power",
    "supply",
    "full",
    "temperature",
    "low-cell",
    "cell-count",
    "condition",
]


def usual_rate(chemistry: ChemistryName) -> float:
    """The chemistry's usual charge rate (common practice)."""
    return CHEMISTRIES[chemistry].usual_rate


def end_of_charge(chemistry: ChemistryName) -> float:
    """The chemistry's own end-of-charge voltage per cell."""
    return CHEMISTRIES[chemistry].end_of_charge


def end_is_allowed(chemistry: ChemistryName, end_cell_voltage: float) -> Iterator[FieldError]:
    """Nobody may charge beyond the chemistry's own voltage."""
    most = CHEMISTRIES[chemistry].end_of_charge
    if end_cell_voltage > most * (1 + SLACK):
        said = f"end_cell_voltage must be at most {most} V for {chemistry}"
        hint = "; only if the label says high voltage, ask with chemistry lihv" if chemistry == "lipo" else ""
        yield FieldError("end_cell_voltage", "out_of_range", said + hint)


CHECKS = (has_curve, end_is_allowed)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeCurrent:
    current: Annotated[float, Quantity("A", "Current to set; 0 where the pack must not be charged.")]
    rate: Annotated[float, Rate("That current in multiples of the capacity per hour.")]
    limited_by: Annotated[LimitName, Choice("What sets the current.")]
    end_voltage: Annotated[float, Quantity("V", "Voltage of the pack at which the charger holds.")]
    peak_power: Annotated[float, Quantity("W", "End voltage times the largest current that flows.")]
    supply_power: Annotated[float, Quantity("W", "Drawn from the supply at that peak.")]
    time_constant_current: Annotated[
        float | None,
        Quantity("min", "Time at constant current; null where nothing is charged or no time is known."),
    ] = None
    time_constant_voltage: Annotated[
        float | None,
        Quantity("min", "Time at constant voltage; null where nothing is charged or no time is known."),
    ] = None
    time_total: Annotated[
        float | None,
        Quantity("min", "Time to the end of charge; null where nothing is charged or no time is known."),
    ] = None
    charge_added: Annotated[
        float | None,
        Quantity("mAh", "Charge put in, to the end or to the time available; null for lead-acid."),
    ] = None
    energy_added: Annotated[
        float | None, Quantity("Wh", "Energy put in at the pack's terminals, likewise; null for lead-acid.")
    ] = None
    supply_energy: Annotated[
        float | None, Quantity("Wh", "Energy drawn from the supply, likewise; null for lead-acid.")
    ] = None
    state_of_charge_end: Annotated[
        float | None, Fraction("State of charge of the least charged cell then; null for lead-acid.")
    ] = None
    stop_temperature: Annotated[float, Quantity("°C", "Stop the charge if the pack gets this warm.")]


def charge_current(
    *,
    pack: Annotated[Pack, Group(name="pack", require=("cells", "capacity"), defaults={"state_of_charge": 0.2})],
    rate: ChargeRate = derived(usual_rate, "the chemistry's usual rate"),
    max_rate: Annotated[
        float | None,
        Rate("Highest charge rate that the pack's label allows.", above=0, at_most=100, example=2),
    ] = None,
    charger_current_limit: Annotated[
        float | None,
        Quantity("A", "Most current the charger gives.", above=0, at_most=MOST_CURRENT, example="6 A"),
    ] = None,
    charger_power_limit: Annotated[
        float | None,
        Quantity("W", "Most power the charger puts out.", above=0, at_most=MOST_POWER, example="50 W"),
    ] = None,
    supply_limit: Annotated[
        float | None,
        Quantity("W", "Most power the charger may take in.", above=0, at_most=MOST_POWER, example="80 W"),
    ] = None,
    efficiency: Efficiency = 0.85,
    taper: Annotated[
        float,
        Fraction(
            "The charge ends when the current falls to this part of the set one.",
            at_least=0.005,
            at_most=0.95,
            example=0.1,
        ),
    ] = 0.1,
    end_cell_voltage: Annotated[
        float,
        Quantity(
            "V",
            "Voltage per cell at which the charger holds; at most the chemistry's own.",
            above="1 V",
            at_most="5 V",
            example="4.2 V",
        ),
    ] = derived(end_of_charge, "the chemistry's own end of charge"),
    time_available: Annotated[
        float | None,
        Quantity("min", "Time there is to charge.", at_least=0, at_most="10000 min", example="45 min"),
    ] = None,
) -> ChargeCurrent:
    """How hard a pack may be charged here, and what comes of it.

    The current is the least of what the asker, the label, the charger and its supply allow, all power limits
    taken at the end voltage:

        I = min(rate * Q / 1 h, max_rate * Q / 1 h, I_charger, P_charger / U_end, efficiency * P_supply / U_end)    (1)

    In the cold, with a low cell, in doubt about the cell count or with an unsound pack it is cut or nil. The
    charge then runs at constant current until the highest cell reaches its end voltage, and at constant voltage
    until the current has fallen to ``taper`` times the set one (``ampstead.cell.charge``). Charging current is
    positive; the resistance is taken at the pack's temperature at the start and held.
    """
    I, limited_by = allowed_current(
        pack,
        rate,
        max_rate,
        charger_current_limit,
        charger_power_limit,
        supply_limit,
        efficiency,
        end_cell_voltage,
    )
    told = partial(
        ChargeCurrent,
        current=I,
        rate=current_rate(I, pack.charge),
        limited_by=limited_by,
        end_voltage=pack.size * end_cell_voltage,
        stop_temperature=STOP_TEMPERATURE,
    )
    states = pack.states()
    if I == 0:
        lowest = float(np.min(states))
        return told(
            peak_power=0.0,
            supply_power=0.0,
            charge_added=0.0,
            energy_added=0.0,
            supply_energy=0.0,
            state_of_charge_end=lowest,
        )
    run = None if pack.chemistry == "lead" else charge(pack.resolved(), I, end_cell_voltage, taper * I)
    peak = pack.size * end_cell_voltage * (run.first_current if run else I)
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
        state_of_charge_end=min(1.0, float(np.min(states + charge_added / pack.capacities()))),
    )


def allowed_current(
    pack: Pack,
    rate: float,
    max_rate: float | None,
    charger_current_limit: float | None,
    charger_power_limit: float | None,
    supply_limit: float | None,
    efficiency: float,
    end_cell_voltage: float,
) -> tuple[float, LimitName]:
    """The least of all limits, A, and its name; of equal limits the last one counts."""
    Q, end_voltage = pack.charge, pack.size * end_cell_voltage
    limits: list[tuple[float, LimitName]] = [(rate_current(rate, Q), "asked-rate")]
    if max_rate is not None:
        limits.append((rate_current(max_rate, Q), "pack-label"))
    if charger_current_limit is not None:
        limits.append((charger_current_limit, "charger-current"))
    if charger_power_limit is not None:
        limits.append((charger_power_limit / end_voltage, "charger-power"))
    if supply_limit is not None:
        limits.append((efficiency * supply_limit / end_voltage, "supply"))
    if highest_cell(pack) >= end_cell_voltage - SLACK:
        limits.append((0.0, "full"))
    low = low_cell_rate(pack)
    otherwise = min(limit for limit, _ in limits)
    if low is not None:
        otherwise = min(otherwise, rate_current(low, Q))
    warmth = temperature_part(pack)
    if warmth < 1:
        limits.append((warmth * otherwise, "temperature"))
    if low is not None:
        limits.append((rate_current(low, Q), "low-cell"))
    if fewer_cells(pack) is not None:
        limits.append((0.0, "cell-count"))
    if pack.condition != "sound":
        limits.append((0.0, "condition"))
    least, name = limits[0]
    for limit, of in limits[1:]:
        if limit <= least * (1 + SLACK):
            least, name = limit, of
    return least, name


def highest_cell(pack: Pack) -> float:
    """The highest resting voltage of a cell, as measured or by its state, V."""
    readings = pack.voltage_readings()
    return float(np.max(pack.curve.voltage(pack.states()) if readings is None else readings))


def temperature_part(pack: Pack) -> float:
    """The part of the current that a lithium pack's temperature leaves."""
    return charge_part(pack.temperature) if pack.kind.is_lithium else 1.0


def low_cell_rate(pack: Pack) -> float | None:
    """The rate that a cell read as low leaves; None where none is low or no voltage was given."""
    readings, kind = pack.voltage_readings(), pack.kind
    if readings is None or kind.low_cell is None or kind.dead_cell is None:
        return None
    lowest = float(np.min(readings))
    if lowest < kind.dead_cell - SLACK:
        return 0.0
    return RECOVERY_RATE if lowest < kind.low_cell - SLACK else None


def fewer_cells(pack: Pack) -> int | None:
    """A smaller number of cells that the pack's voltage would suit as well, where it is low for those told."""
    if pack.rest_voltage is None or not pack.kind.is_lithium:
        return None
    if pack.rest_voltage / pack.size >= float(pack.curve.voltage(NEARLY_EMPTY)) - SLACK:
        return None
    least = 2.5 if pack.chemistry == "life" else 3.0
    most = pack.kind.end_of_charge + 0.05
    for cells in range(pack.size - 1, 0, -1):
        if least - SLACK <= pack.rest_voltage / cells <= most + SLACK:
            return cells
    return None


def end_gap(answer: ChargeCurrent, pack: Pack) -> tuple[int, float] | None:
    """The fullest cell at the end of the charge (from 1), and what the emptiest lacks of it, C; None if alike."""
    assert answer.charge_added is not None
    states, capacities = pack.states() + answer.charge_added / pack.capacities(), pack.capacities()
    fullest, emptiest = int(np.argmax(states)), int(np.argmin(states))
    lacking = float(states[fullest] - states[emptiest]) * float(capacities[emptiest])
    return (fullest + 1, lacking) if lacking > NOTICEABLE * pack.charge else None


LIMIT_WORDS: dict[LimitName, str] = {
    "asked-rate": "",
    "pack-label": ", the most its label allows",
    "charger-current": ", the most the charger gives",
    "charger-power": ", the most the charger's power allows",
    "supply": ", the most the supply allows",
    "temperature": ", a fifth of the usual because it is cold",
    "low-cell": ", no more because a cell is very low",
}
REFUSAL_WORDS: dict[LimitName, str] = {
    "full": "it is full",
    "low-cell": "a cell is below 2.5 volts",
    "cell-count": "its voltage leaves the number of cells in doubt",
}


def sentence(answer: ChargeCurrent, *, pack: Pack, bands: Mapping[str, Band], time_available: float | None) -> str:
    """The answer as spoken."""
    named = f"this {pack.kind.words} pack"
    if answer.current == 0:
        full = highest_cell(pack) >= answer.end_voltage / pack.size - SLACK
        warmth = "it is full" if full else f"it is at {degrees(pack.temperature)}"
        body = "it got wet" if pack.condition == "wet" else f"it is {pack.condition}"
        why = REFUSAL_WORDS | {"temperature": warmth, "condition": body}
        return f"Do not charge {named}: {why[answer.limited_by]}."
    start = (
        f"Charge {named} at {amperes(answer.current)}{LIMIT_WORDS[answer.limited_by]}, "
        f"up to {volts(answer.end_voltage)}; the charger draws up to {watts(answer.supply_power)}."
    )
    if answer.time_total is None or answer.state_of_charge_end is None:
        return f"{start} How long that takes cannot be told for lead-acid: allow many hours."
    begun = f"from {percent(float(np.min(pack.states())))} charge, taken at {degrees(pack.temperature)}"
    if time_available is not None and time_available < answer.time_total:
        reached = percent(answer.state_of_charge_end)
        return f"{start} In {duration(time_available)} it gets to about {reached} {begun}."
    band = bands["time_total"]
    return f"{start} It takes about {between(band.low, band.high)} {begun}."


def cautions(answer: ChargeCurrent, *, pack: Pack, rate: float, max_rate: float | None) -> Iterator[Caution]:
    """What to heed, the reason for a refusal first."""
    if pack.condition != "sound":
        yield caution(pack.condition)
    usual = pack.kind.usual_rate
    if max_rate is None and rate > usual * (1 + SLACK):
        yield caution("rate-above-usual", asked=spoken_rate(rate), usual=spoken_rate(usual))
    if highest_cell(pack) > pack.kind.end_of_charge + SLACK:
        yield caution("overcharged")
    if fewer := fewer_cells(pack):
        yield caution("cell-count", fewer=count(fewer, "cell"))
    low = low_cell_rate(pack)
    if low is not None:
        yield caution("low-cell" if low else "dead-cell")
    warmth = temperature_part(pack)
    if warmth < 1:
        yield caution("cold" if warmth else "too-cold" if pack.temperature < COLDEST else "too-hot")
    yield from charging()
    if answer.charge_added and (gap := end_gap(answer, pack)):
        yield caution("fills-unevenly", cell=gap[0], lacking=milliampere_hours(gap[1]))
    if pack.cell_voltages is not None and (spread := float(np.ptp(pack.cell_voltages))) > 0:
        yield caution("cells-differ" if spread > LEVEL + SLACK else "cells-differ-little", spread=millivolts(spread))
    if pack.chemistry == "lead":
        yield caution("lead-time")
    if not pack.curve.sourced:
        yield caution("extrapolated-curve")
    if pack.voltage_readings() is not None:
        yield caution("flat-curve" if pack.chemistry == "life" else "state-from-voltage")


def accuracy(
    answer: ChargeCurrent, *, pack: Pack, efficiency: float, taper: float, end_cell_voltage: float
) -> Iterator[Band]:
    """How sure time and supply are."""
    if answer.time_total is not None:
        low_states, high_states = pack.state_edges()
        times = [
            charge(pack.resolved(states), answer.current, end_cell_voltage, taper * answer.current).time_total
            for states in (high_states, low_states)
        ]
        resistive = float(np.max(pack.ohmic() * pack.capacities())) >= RESISTIVE * (1 - SLACK)
        slow = TIME_HIGH * (TIME_HIGH_RESISTIVE if resistive else 1.0)
        basis = (
            "0.95 of the time from the highest state that this voltage can mean, to "
            f"{slow:.2f} of that from the lowest, and 15 minutes for balancing and ramps; this project's own judgement"
        )
        yield Band("time_total", TIME_LOW * times[0], slow * times[1] + TIME_EXTRA, basis)
    yield from supply_band(answer.peak_power, efficiency)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeCurve:
    time: Annotated[Floats, Quantity("min", "Time from the start.")]
    voltage: Annotated[Floats, Quantity("V", "Voltage of the pack.")]
    current: Annotated[Floats, Quantity("A", "Charge current.")]
    charge: Annotated[Floats, Quantity("mAh", "Charge put in so far.")]
    state_of_charge: Annotated[Floats, Fraction("State of charge of the least charged cell.")]


def curve(answer: ChargeCurrent, *, pack: Pack, taper: float, end_cell_voltage: float) -> ChargeCurve:
    """The charge over time; empty where nothing is charged or no time is known."""
    if answer.time_total is None or answer.time_constant_current is None:
        return ChargeCurve(**dict.fromkeys(ChargeCurve.__dataclass_fields__, np.empty(0)))
    run = charge(pack.resolved(), answer.current, end_cell_voltage, taper * answer.current)
    steady = np.linspace(0, answer.time_constant_current, CURVE_STEADY)
    time = np.unique(np.concatenate([steady, np.linspace(answer.time_constant_current, answer.time_total, CURVE_HELD)]))
    voltage, current, added = run.curve(time)
    states = pack.states()[:, None] + added / pack.capacities()[:, None]
    return ChargeCurve(
        time=time,
        voltage=voltage,
        current=current,
        charge=added,
        state_of_charge=np.minimum(np.min(states, axis=0), 1.0),
    )


def picture(answer: ChargeCurrent, *, time_available: float | None) -> Chart:
    """Voltage and current over time, the end voltage and the time there is marked."""
    stop = () if time_available is None else (Limit(time_available, "", upright=True),)
    told = () if time_available is None else (Limit(time_available, "time available", upright=True),)
    return Chart(
        title=f"Charge at {answer.current:.3g} A",
        x="time",
        panels=(
            Panel({"voltage": ""}, (Limit(answer.end_voltage, f"held at {answer.end_voltage:.4g} V"), *stop)),
            Panel({"current": ""}, told, from_zero=True),
            Panel({"state_of_charge": ""}, stop, from_zero=True),
        ),
    )

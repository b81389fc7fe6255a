"""May it be charged this cold or hot, and where to cut off."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np

from ampstead.cell.limits.charge_bands import charge_part
from ampstead.cell.one.heat import end_temperature
from ampstead.cell.sizing import current_rate
from ampstead.declare import Band, Caution, Flag, Floats, Group, Quantity, Rate
from ampstead.errors import FieldError
from ampstead.inputs.pack import Pack
from ampstead.inputs.shared import ChargeCurrent, cells_told
from ampstead.inputs.warming import Thermal
from ampstead.judging.bands import AS_TOLD, Resisting, resisting
from ampstead.judging.cautions import Table, charging, resistance_cautions
from ampstead.judging.cautions import caution as shared
from ampstead.judging.charging import Verdict, charge_verdict, cure, proviso, rate_cautions, warmth_words
from ampstead.judging.doubts import edges, error
from ampstead.judging.flying import air_cautions
from ampstead.sketch import Chart, Limit, Panel
from ampstead.words import amperes, capitalised, degrees, sentences, volts, warming
from ampstead.words import rate as spoken_rate

ASKED = "May I charge this pack so cold, or so hot?"
WHEN = ("at the field", 30)
MAIN = ("allowed", "rate_limit", "stop_temperature")
SOURCES = (
    "No lithium charge below 0 or above 40 degrees: NFPA, quoted by the US Fire Administration; the strictest "
    "published band, and the one used",
    "A fifth of the current from 0 to 10 degrees: default of a published charger circuit (TI BQ25882); 4.10 instead of "
    "4.20 V, or half the current, there, and up to 60 degrees at lower voltages: a Japanese guideline as told by TI",
    "0 to 45 degrees: a cell maker's page. Other kinds than lithium: this project's own judgement",
    "Heat balance of a cell with one RC pair at constant current, solved in closed form; compared with the library "
    "thevenin 0.2.1. Specific heat 1000 J/kgK: published values 953 (Ai et al. 2020) and 1069 (Ecker et al. 2015)",
    "Stop at 50 degrees: common practice, no published source. Look at 10 degrees of warming and stop at 20: common "
    "practice and this project's own judgement",
)
MOST_ROWS = 2500
EXAMPLES = (
    {"temperature": "13 °C"},
    {"temperature": "33 °C", "cells": 6, "capacity": "4900 mAh", "cell_resistance": "2.6 mΩ", "current": "4.3 A"},
)

RISE_ALARM = 10.0  # K; common practice and this project's own judgement. Stop at twice that.
SLACK = 1e-9


def cells_of_a_voltage(cells: int | None, rest_voltage: float | None) -> Iterator[FieldError]:
    """The voltage of a pack says nothing without its number of cells."""
    if rest_voltage is not None:
        yield from cells_told(cells)


CHECKS = (cells_of_a_voltage,)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeTemperature:
    allowed: Annotated[
        bool,
        Flag(
            "Whether a charge may be started: at this temperature, by the strictest band, and with this pack.",
            yes="a charge may be started",
            no="no charge may be started",
        ),
    ]
    rate_limit: Annotated[
        float,
        Rate(
            "Most of the usual charge rate that this temperature and the pack itself leave; 0 where none.",
            spoken="down",
        ),
    ]
    charge_voltage_limit: Annotated[
        float | None,
        Quantity(
            "V",
            "Voltage per cell to charge to at most; none where it must not be charged, and for nickel.",
            spoken="down",
        ),
    ] = None
    stop_temperature: Annotated[float, Quantity("°C", "Stop the charge if the pack gets this warm.", spoken="down")]
    predicted_rise: Annotated[
        float | None,
        Quantity(
            "K", "Warming to the end of the charge; none without capacity and current, or if not lithium.", spoken="up"
        ),
    ] = None
    rise_alarm: Annotated[
        float, Quantity("K", "Warming at which to look at the pack; stop at twice that.", spoken="down")
    ]
    _verdict: Verdict


def charge_temperature(
    *,
    pack: Annotated[
        Pack,
        Group(
            name="pack",
            require=("temperature",),
            defaults={"temperature": None, "state_of_charge": 0.2},
        ),
    ],
    current: ChargeCurrent = None,
    thermal: Annotated[Thermal, Group(name="thermal", whole=False, only=("ambient", "cell_mass", "cooling"))],
) -> ChargeTemperature:
    """Whether a pack may be charged at its temperature, how hard, and where to cut off.

    Published limits for lithium conflict; to start, the strictest counts: 0 to 40 °C, and from 0 to 10 °C a fifth of
    the usual rate and 0.10 V a cell less. A pack that must not be charged for another reason, or only slowly, is told
    so as charge-current tells it. While charging, the pack may warm to the stop temperature. How far it does:

        m * cp * dT/dt = I**2 * (R0 + R1 * (1 - exp(-t / tau))) - hA * (T - ambient)    (1)
        rise           = T(t) - T(0),  t = (1 - z) * Q / I                              (2)

    for the warmest cell, the current taken as constant to the end, which is the safe side. The reaction cools while
    charging; that is never credited. Charge current is positive. Nickel packs warm by more than their resistance
    near full, and lead takes hours: no rise is told for them.
    """
    verdict = charge_verdict(counted(pack), pack.kind.usual_rate)
    held = not verdict.refused and pack.kind.held_voltage
    return ChargeTemperature(
        allowed=not verdict.refused,
        rate_limit=verdict.rate,
        charge_voltage_limit=verdict.end_cell_voltage if held else None,
        stop_temperature=verdict.stop_temperature,
        predicted_rise=None if current is None else rise(pack, thermal, current),
        rise_alarm=RISE_ALARM,
        _verdict=verdict,
    )


def counted(pack: Pack) -> Pack:
    """The pack, or one cell of it where nothing tells how many there are: all cells are alike then."""
    return pack if pack.cells is not None else replace(pack, cells=1)


def rise(pack: Pack, thermal: Thermal, current: float, edge: Resisting = AS_TOLD, heat: float = 1.0) -> float | None:
    """The warmest cell's warming over the rest of the charge, K; resistances at an edge, its heat times a part."""
    if pack.capacity is None or not pack.kind.is_lithium or (pack.pack_resistance is not None and pack.cells is None):
        return None
    pack = counted(pack)
    time = (1 - float(np.min(pack.states()))) * pack.charge / current  # Eq. (2)
    ends = [
        end_temperature(
            current=current,
            time=time,
            **{
                **cell,
                "ohmic": edge.ohmic * cell["ohmic"],
                "polarisation": edge.slow * cell["polarisation"],
                "time_constant": edge.time or cell["time_constant"],
                "mass": heat * cell["mass"],
                "entropy": 0.0,
            },
        )
        for cell in thermal.cells(pack)
    ]
    return max(float(end) for end in ends) - pack.temperature


def sentence(answer: ChargeTemperature, *, pack: Pack, current: float | None, bands: Mapping[str, Band]) -> str:
    """The answer as spoken."""
    named, at, verdict = f"this {pack.kind.words} pack", warmth_words(pack), answer._verdict
    if verdict.refused:
        if verdict.limited_by != "temperature":
            return f"Do not charge {named}: {verdict.because}."
        return f"Do not charge {named} at {at}: {cure(pack)} first."
    how = f"at most{verdict.because}" if verdict.because else "as usual"
    end = "" if answer.charge_voltage_limit is None else f", to {volts(answer.charge_voltage_limit, 'down')} a cell"
    start = (
        f"At {at}{proviso(pack) and ', '}{proviso(pack) or ' '}charge {named} at "
        f"{spoken_rate(answer.rate_limit, 'down')} {how}{end}, "
        f"and stop if it reaches {degrees(answer.stop_temperature, 'down')}."
    )
    if current is None or answer.predicted_rise is None:
        return start
    if pack.temperature + answer.predicted_rise > answer.stop_temperature + SLACK:
        return sentences(start, f"{capitalised(amperes(current))} may bring it past that: charge slower.")
    if bands["predicted_rise"].high < 0.5:
        return sentences(start, f"At {amperes(current)} it should not warm.")
    how_much = f"warm by {warming(answer.predicted_rise, 'up')}" if answer.predicted_rise >= 0.5 else "hardly warm"
    worst = warming(bands["predicted_rise"].high, "up")
    more = "" if how_much.endswith(worst) else f", at the worst by {worst}"
    return sentences(start, f"At {amperes(current)} it should {how_much}{more}.")


OWN_CAUTIONS: Table = {
    # The published limits for charging by temperature, which conflict.
    "limits-conflict": (
        "note",
        "Published limits conflict: fire-safety advice says 0 to 40 degrees, and is used here; cell makers' sheets say "
        "0 to 45; a Japanese guideline charges up to 60 at lower voltages, and from 0 to 10 halves the current or "
        "lowers the voltage.",
    ),
    "limits-borrowed": (
        "note",
        "No published limit was read for {words} packs: this band is this project's own judgement, and the pack's "
        "papers count.",
    ),
    "charge-too-hard": (
        "danger",
        "{asked} is more than this temperature leaves: charge at {most} at most.",
    ),
    "charge-heats": (
        "warning",
        "At this current the pack may come to {temperature}, above the {stop} at which a charge is cut off: charge "
        "slower.",
    ),
    # Common practice and this project's own judgement.
    "rise-alarm": (
        "warning",
        "Look at the pack when it is 10 degrees warmer than at the start, and stop at 20 degrees, or if any part is "
        "warmer than the rest.",
    ),
}
caution = shared.beside(OWN_CAUTIONS, standing={"limits-conflict", "limits-borrowed", "rise-alarm"})


def cautions(
    answer: ChargeTemperature, *, pack: Pack, thermal: Thermal, current: float | None, given: frozenset[str]
) -> Iterator[Caution]:
    """What to heed."""
    yield from answer._verdict.cautions
    if answer.allowed and current is not None and pack.capacity is not None:
        asked = current_rate(current, pack.charge if pack.cells else float(np.min(pack.capacity)))
        usual = pack.kind.usual_rate
        if answer._verdict.limited_by != "asked-rate" and asked > answer.rate_limit * (1 + SLACK):
            yield caution("charge-too-hard", asked=spoken_rate(asked), most=spoken_rate(answer.rate_limit, "down"))
        elif asked > usual * (1 + SLACK):
            yield from rate_cautions(pack.kind, asked)
    warmest = None if answer.predicted_rise is None else pack.temperature + answer.predicted_rise
    if warmest is not None and warmest > answer.stop_temperature + SLACK:
        yield caution("charge-heats", temperature=degrees(warmest), stop=degrees(answer.stop_temperature))
    yield from charging(pack.kind)
    yield caution("rise-alarm")
    yield from air_cautions(pack, thermal)
    if answer.allowed and answer.predicted_rise is not None:
        yield from resistance_cautions(pack, given)
    if pack.kind.is_lithium:
        yield caution("limits-conflict")
    else:
        yield caution("limits-borrowed", words=pack.kind.words)


def accuracy(
    answer: ChargeTemperature, *, pack: Pack, thermal: Thermal, current: float | None, given: frozenset[str]
) -> Iterator[Band]:
    """How sure the warming is: the resistance, the specific heat, and the cooling that is not counted."""
    if current is None or answer.predicted_rise is None:
        return
    light, heavy = edges("cell_mass", 1.0, given)
    less, more = error("specific heat")
    least, most = resisting(pack, given)
    low = rise(pack, thermal, current, least, heavy * more)
    high = rise(pack, thermal, current, most, light * less)
    if low is None or high is None:
        return
    basis = (
        "from the least resistance, and a reaction and air that take all the heat, to the most, with 15 percent less "
        "specific heat and, where its mass was assumed, a lighter pack; this project's own judgement"
    )
    yield Band("predicted_rise", min(0.0, low), high, basis)


@dataclass(frozen=True, slots=True, kw_only=True)
class BandTable:
    temperature: Annotated[Floats, Quantity("°C", "Temperature of the pack.")]
    rate_limit: Annotated[Floats, Rate("Most of a charge rate that it leaves.")]


def curve(answer: ChargeTemperature, *, pack: Pack) -> BandTable:
    """The rate that each temperature leaves, by half degrees."""
    temperatures = np.linspace(-20.0, 70.0, 181) + 273.15
    parts = [charge_part(pack.kind, float(temperature)) for temperature in temperatures]
    return BandTable(temperature=temperatures, rate_limit=np.array(parts) * pack.kind.usual_rate)


def picture(answer: ChargeTemperature, *, pack: Pack) -> Chart:
    """The band, this pack's temperature marked."""
    now = Limit(pack.temperature, f"now {pack.temperature - 273.15:.3g} °C", upright=True)
    return Chart(
        title="Charge rate by temperature",
        x="temperature",
        panels=(Panel({"rate_limit": ""}, (now,), from_zero=True),),
    )

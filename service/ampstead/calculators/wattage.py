"""What a charge asks of charger and supply."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.sizing import current_rate, rate_current, stepped_up
from ampstead.declare import Band, Caution, Flag, Group, OneOf, Quantity, derived
from ampstead.errors import FieldError
from ampstead.inputs.pack import ROOM, ChemistryName, Pack
from ampstead.inputs.shared import (
    MOST_POWER,
    ChargeCurrent,
    ChargeRate,
    Efficiency,
    Headroom,
    RatingStep,
    SupplyVoltage,
)
from ampstead.judging.bands import supply_band
from ampstead.judging.cautions import caution, charging
from ampstead.judging.charging import Verdict, charge_verdict
from ampstead.words import amperes, amperes_to_set, sentences, watts
from ampstead.words import rate as spoken_rate

ASKED = "What supply does this charge ask for?"
WHEN = ("at the bench", 30)
MAIN = ("supply_power", "advised_rating")
SOURCES = (
    "Power is voltage times current (OpenStax University Physics vol. 2, ch. 9.5)",
    "Nominal and end-of-charge voltages: cell standards and data sheets; 1.6 V a cell for nickel chemistries: "
    "this project's own judgement",
    "Charger efficiency 0.85 of 0.80 to 0.95, headroom and usual rates: common practice, no published source",
)
EXAMPLES = (
    {"cells": 3, "capacity": "1150 mAh", "rate": 2, "available_power": "30 W"},
    {"voltage": "25.2 V", "current": "4.9 A", "supply_voltage": "14.2 V"},
)
SLACK = 1e-9
RULES = (
    OneOf("rate", "current", asked="How hard is it charged?"),
    OneOf("cells", "voltage", required=True, asked="What is charged?"),
    OneOf("capacity", "voltage"),
)


def usual_rate(chemistry: ChemistryName, capacity: Any) -> float | None:
    """The chemistry's usual charge rate, where a capacity makes it a current."""
    return None if capacity is None else CHEMISTRIES[chemistry].usual_rate


def current_is_told(capacity: Any, voltage: float | None, current: float | None) -> Iterator[FieldError]:
    """A voltage alone, or cells alone, leave the current open."""
    if current is None and voltage is not None:
        yield FieldError("current", "missing", 'current is missing: voltage goes with a current, like "2.3 A"')
    elif current is None and capacity is None:
        yield FieldError("capacity", "missing", 'capacity is missing: the capacity on the label, like "1150 mAh"')


CHECKS = (current_is_told,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wattage:
    nominal_power: Annotated[float, Quantity("W", "Nominal voltage times current; too small to size a supply by.")]
    peak_power: Annotated[
        float, Quantity("W", "End-of-charge voltage times current: the most that goes in.", spoken="up")
    ]
    supply_power: Annotated[float, Quantity("W", "The most that the charger draws from its supply.", spoken="up")]
    current: Annotated[float, Quantity("A", "Charge current as asked; 0 where the pack must not be charged.")]
    supply_current: Annotated[
        float | None, Quantity("A", "Current from the supply at that peak; none without its voltage.", spoken="up")
    ]
    advised_rating: Annotated[
        float, Quantity("W", "Supply rating to have: headroom kept, up to a whole step.", spoken="up")
    ]
    fits: Annotated[
        bool | None,
        Flag(
            "Whether the power available carries this charge; no answer without these.",
            yes="this charge fits",
            no="this charge does not fit",
        ),
    ]
    overload: Annotated[
        float | None, Quantity("W", "By how much the charge exceeds the power available; none likewise.", spoken="up")
    ]
    _verdict: Verdict


def wattage(
    *,
    pack: Annotated[
        Pack,
        Group(
            name="pack",
            only=("chemistry", "cells", "capacity", "condition"),
            defaults={"condition": None},
            unasked={"temperature": ROOM},
        ),
    ],
    rate: ChargeRate = derived(usual_rate, "the chemistry's usual rate"),
    current: ChargeCurrent = None,
    voltage: Annotated[
        float | None,
        Quantity(
            "V",
            "End-of-charge voltage of the whole pack, in place of cells and capacity.",
            above=0,
            at_most="1 kV",
            example="12.6 V",
            label="voltage at the end of charge",
        ),
    ] = None,
    efficiency: Efficiency = 0.85,
    headroom: Headroom = 0.1,
    rating_step: RatingStep = 5.0,
    supply_voltage: SupplyVoltage = None,
    available_power: Annotated[
        float | None,
        Quantity(
            "W",
            "What the supply can spare for this charge.",
            at_least=0,
            at_most=MOST_POWER,
            example="30 W",
            label="power at hand",
        ),
    ] = None,
) -> Wattage:
    """What a charge asks of charger and supply.

    A charge needs the most power at the moment when the current is still full and the voltage has reached its
    end; the charger loses a part of what it takes in:

        P_nominal = U_nominal * I                              (1)
        P_peak    = U_end * I                                  (2)
        P_supply  = P_peak / efficiency                        (3)
        I_supply  = P_supply / U_supply                        (4)
        rating    = P_supply / (1 - headroom), up to a step    (5)

    A pack that is not sound is not charged: no current flows then. Into the pack is positive. With a voltage in place
    of cells, the nominal voltage is the chemistry's share of it.
    """
    kind = pack.kind
    U_end = voltage if voltage is not None else pack.size * kind.end_of_charge
    U_nominal = U_end * kind.nominal / kind.end_of_charge
    verdict = charge_verdict(pack, asked_rate(pack, rate, current))
    I = 0.0 if verdict.refused else charge_current(pack, rate, current)
    P_supply = U_end * I / efficiency  # Eq. (3)
    fits = None if available_power is None or I == 0 else P_supply <= available_power * (1 + SLACK)
    return Wattage(
        nominal_power=U_nominal * I,  # Eq. (1)
        peak_power=U_end * I,  # Eq. (2)
        supply_power=P_supply,
        current=I,
        supply_current=None if supply_voltage is None else P_supply / supply_voltage,  # Eq. (4)
        advised_rating=stepped_up(P_supply / (1 - headroom), rating_step),  # Eq. (5)
        fits=fits,
        overload=None if available_power is None or fits is None else 0.0 if fits else P_supply - available_power,
        _verdict=verdict,
    )


def charge_current(pack: Pack, rate: float, current: float | None) -> float:
    """The current asked for, A."""
    return current if current is not None else rate_current(rate, pack.charge)


def asked_rate(pack: Pack, rate: float | None, current: float | None) -> float:
    """The rate asked for; the usual one where nothing tells it."""
    if current is not None and pack.capacity is not None:
        return current_rate(current, pack.charge)
    return pack.kind.usual_rate if rate is None or current is not None else rate


def sentence(answer: Wattage, *, pack: Pack, rate: float, current: float | None, available_power: float | None) -> str:
    """The answer as spoken."""
    named = f"this {pack.kind.words} pack"
    if answer._verdict.refused:
        return f"Do not charge {named}: {answer._verdict.because}."
    at = amperes_to_set(answer.current) if current is None else amperes(current)
    amps = "" if answer.supply_current is None else f", {amperes(answer.supply_current, 'up')} from its supply"
    drawn = f"up to {watts(answer.supply_power, 'up')}{amps}"
    asked, usual = asked_rate(pack, rate, current), pack.kind.usual_rate
    if asked > usual * (1 + SLACK):
        harder = f"harder than the usual {spoken_rate(usual)}"
        start = f"To charge {named} at {at}, {harder}, the charger would draw {drawn}."
    elif answer.fits is False and not amps:
        start = f"Charge {named} at {at}."
    else:
        start = f"Charge {named} at {at}; the charger then draws {drawn}."
    rating = watts(answer.advised_rating, "up")
    if available_power is None:
        return sentences(start, f"A supply rated {rating} will do.")
    have = watts(available_power, "down")
    enough = "are enough" if answer.fits else f"are too few; {rating.partition(' ')[0]} will do"
    return sentences(start, f"The {have} you have {enough}.")


def cautions(answer: Wattage, *, pack: Pack, headroom: float) -> Iterator[Caution]:
    """What to heed."""
    yield from answer._verdict.cautions
    yield from charging(pack.kind)
    if pack.kind.curve is None and not answer._verdict.refused:
        yield caution("nickel-end")
    if not headroom:
        yield caution("no-headroom")


def accuracy(answer: Wattage, *, efficiency: float) -> Iterator[Band]:
    """How sure the supply's side is."""
    yield from supply_band(answer.peak_power, efficiency)

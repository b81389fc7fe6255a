"""How long a receiver pack feeds receiver and servos, and whether to take off.

Over 300 lines, since a calculator is one file, with its cautions, its curve and its picture.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import sqrt
from typing import Annotated, Literal

import numpy as np

from ampstead.cell.roots import root
from ampstead.cell.sizing import current_rate
from ampstead.declare import Band, Caution, Choice, Count, Flag, Fraction, Group, Quantity, derived
from ampstead.errors import FieldError
from ampstead.inputs.pack import ChemistryName, Pack
from ampstead.inputs.shared import Efficiency
from ampstead.judging.bands import AS_TOLD, Resisting, band_over, model_edges, resistance_told, resisting
from ampstead.judging.cautions import Table, resistance_cautions
from ampstead.judging.cautions import caution as shared
from ampstead.judging.charging import state_cautions
from ampstead.judging.doubts import edges, error
from ampstead.judging.flying import SHORT_FLIGHT, grounded, hot_cautions
from ampstead.words import (
    amperes,
    percent,
    quarter_minutes,
    sentences,
    told,
    volts,
)

ASKED = "May I take off with this receiver pack?"
WHEN = ("at the field", 90)
MAIN = ("verdict", "time_safe")
SOURCES = (
    "Time is charge over current (ampere-hour ratings as in Lessons in Electric Circuits vol. I, batteries); voltage "
    "under load by Ohm's law, a regulator as a load of constant power",
    "Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), US Army TM "
    "5-3805-262-20 (lead); lihv is extrapolated, not measured; nickel is taken at its nominal voltage",
    "A reserve of half the pack, an aged pack's 80 percent, servos a fifth of the time at their stall current, and a "
    "receiver that fails below 4 volts: common practice and this project's own judgement, on the safe side; so is that "
    "nobody takes off for less than five minutes without having meant to",
)
EXAMPLES = (
    {"chemistry": "life", "cells": 2, "capacity": "2100 mAh", "cell_resistance": "16 mΩ", "servos": 4,
     "servo_current": "1.1 A"},
    {"chemistry": "nimh", "cells": 5, "capacity": "2100 mAh", "cell_resistance": "16 mΩ", "servos": 4,
     "servo_current": "0.9 A", "temperature": "13 °C", "time_planned": "32 min"},
)  # fmt: skip
SLACK = 1e-9
OUTING = 300.0
"""s: what a pack must last where nobody tells how long the flight is meant to be. This project's own judgement."""

Verdict = Literal["go", "no-go"]


def told_by_voltage(chemistry: ChemistryName, given: set[str]) -> Iterator[FieldError]:
    """What is left in nickel cannot be read from its voltage."""
    if chemistry in ("nimh", "nicd"):
        for name in ("rest_voltage", "cell_voltages"):
            if name in given:
                said = f"{name} tells nothing of what is left in a nickel pack: leave it out, and charge it full"
                yield FieldError(name, "unsupported", said)


def regulator_efficiency(regulator_voltage: float | None) -> float | None:
    """A switching regulator's, where there is one (common practice, no published source)."""
    return None if regulator_voltage is None else 0.85


def regulator_is_whole(given: set[str]) -> Iterator[FieldError]:
    """An efficiency goes with a regulator's voltage."""
    if "efficiency" in given and "regulator_voltage" not in given:
        said = 'regulator_voltage is missing: efficiency needs it, like "5.5 V"'
        yield FieldError("regulator_voltage", "missing", said)


CHECKS = (told_by_voltage, regulator_is_whole)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceiverTime:
    verdict: Annotated[Verdict, Choice("Whether to take off with this pack.")]
    time_safe: Annotated[
        float,
        Quantity(
            "min",
            "Time in the air before the reserve or the floor is met; 0 where it must not take off at all.",
            spoken="down",
        ),
    ]
    mean_current: Annotated[
        float | None, Quantity("A", "Mean current drawn from the pack; none where it cannot carry it.", spoken="up")
    ]
    stall_current: Annotated[
        float | None,
        Quantity("A", "Current from the pack with all servos stalled; none where it cannot carry it.", spoken="up"),
    ]
    stall_voltage: Annotated[
        float | None,
        Quantity(
            "V",
            "Voltage at the pack's plug with all servos stalled, at the end of that time; none with the current.",
            spoken="down",
        ),
    ]
    holds: Annotated[
        bool,
        Flag(
            "Whether that is at the floor or above, so that the receiver goes on.",
            yes="the receiver goes on with all servos held fast",
            no="the receiver fails with all servos held fast",
        ),
    ]
    charge_used: Annotated[float, Quantity("mAh", "Charge used in that time.", spoken="near")]
    _why: str
    _sure: bool
    _load: "Load"
    _end: float


def receiver_time(
    *,
    pack: Annotated[
        Pack,
        Group(name="pack", require=("cells", "capacity"), defaults={"state_of_charge": 1.0}),
    ],
    idle_current: Annotated[
        float,
        Quantity("A", "What receiver and servos draw at rest.", above=0, at_most="100 A", example="0.25 A"),
    ] = 0.25,
    servos: Annotated[int, Count("Number of servos.", at_least=1, at_most=64, example=4)],
    servo_current: Annotated[
        float, Quantity("A", "What one servo draws when it is held fast.", above=0, at_most="100 A", example="1.1 A")
    ],
    duty: Annotated[
        float,
        Fraction(
            "Mean current of a working servo over its stall current.",
            above=0,
            at_most=1,
            example=0.2,
            label="mean over stall current of a servo",
        ),
    ] = 0.2,
    reserve: Annotated[
        float,
        Fraction("State of charge to land with.", at_least=0, at_most=0.95, example=0.5, label="charge to land with"),
    ] = 0.5,
    capacity_left: Annotated[
        float, Fraction("Part of its label's capacity that the pack still has.", above=0, at_most=1, example=0.8)
    ] = 0.8,
    regulator_voltage: Annotated[
        float | None,
        Quantity(
            "V", "What a switching regulator gives to receiver and servos.", above=0, at_most="60 V", example="5.5 V"
        ),
    ] = None,
    efficiency: Efficiency = derived(regulator_efficiency, "0.85 for a regulator"),
    receiver_floor: Annotated[
        float,
        Quantity(
            "V",
            "Lowest voltage at the pack's plug with which receiver or regulator goes on.",
            above=0,
            at_most="60 V",
            example="4.0 V",
        ),
    ] = 4.0,
    time_planned: Annotated[
        float | None,
        Quantity("min", "Time in the air before the next charge.", above=0, at_most="10000 min", example="32 min"),
    ] = None,
) -> ReceiverTime:
    """How long a receiver pack lasts, on the short side, and whether to take off with it.

        I = idle + servos * duty * stall,  I_stall = idle + servos * stall              (1)
        P = I * U_reg / efficiency,  I = 2 * P / (U + sqrt(U**2 - 4 * R * P))           (2)
        V = U(z) - I_stall * R                                                          (3)
        t = Q * part left * (z - z_end) / I                                             (4)

    with R all of the cells' resistance, slow part too. A switching regulator (2) draws constant power. z is the low
    edge of what a voltage may mean, z_end the reserve, or where (3) meets the floor, if that is sooner. Nickel has no
    curve: its nominal voltage stands for U, and only a full one is counted on. A pack that is not sound, or with a
    cell that stands out, or below -10 °C, is a no-go; so is one that lasts less than the time planned, less than half
    a minute, or, where no time is planned, less than five minutes; and so is one whose stall voltage meets the floor by
    its resistance as taken, but not by the most that it may be.
    """
    load = Load(
        mean=idle_current + servos * duty * servo_current,  # Eq. (1)
        stalled=idle_current + servos * servo_current,
        regulated=None if regulator_voltage is None else regulator_voltage / efficiency,
    )
    start, why = lowest_state(pack), grounded(pack)
    end = last_state(pack, load, receiver_floor, reserve, start)
    held = load.at_plug(pack, end)
    mean = load.drawn(pack, end, load.mean)
    left = 0.0 if why else pack.charge * capacity_left * pack.kind.left_in_cold(pack.temperature) * (start - end)
    time = 0.0 if mean is None or held is None else left / mean  # Eq. (4)
    holds = held is not None and held[1] >= receiver_floor * (1 - SLACK)
    least = load.at_edge(pack, end, resistance_told(pack), 1)
    sure = least is not None and least >= receiver_floor * (1 - SLACK)
    lasts = time >= least_time(time_planned) * (1 - SLACK)
    return ReceiverTime(
        verdict="go" if not why and holds and sure and lasts else "no-go",
        time_safe=time,
        mean_current=mean,
        stall_current=held and held[0],
        stall_voltage=held and held[1],
        holds=holds,
        charge_used=time * (mean or 0.0),
        _why=why,
        _sure=sure,
        _load=load,
        _end=end,
    )


def least_time(planned: float | None) -> float:
    """What the pack must last to take off with it, s."""
    return OUTING if planned is None else max(planned, SHORT_FLIGHT)


@dataclass(frozen=True, slots=True)
class Load:
    """What receiver and servos draw, A, and a regulator's voltage over its efficiency where there is one."""

    mean: float
    stalled: float
    regulated: float | None

    def drawn(self, pack: Pack, state: float, current: float, edge: Resisting = AS_TOLD) -> float | None:
        """Current from the pack, A, its resistance at an edge; None where it cannot carry the regulator's power."""
        if self.regulated is None:
            return current
        U, R, P = rest_at(pack, state), resistance(pack, edge), current * self.regulated
        if (root_of := U * U - 4.0 * R * P) < 0:
            return None
        return 2.0 * P / (U + sqrt(root_of))  # Eq. (2)

    def at_plug(self, pack: Pack, state: float, edge: Resisting = AS_TOLD) -> tuple[float, float] | None:
        """Current and voltage with all servos stalled; None where the pack cannot give them."""
        current = self.drawn(pack, state, self.stalled, edge)
        if current is None:
            return None
        voltage = rest_at(pack, state) - current * resistance(pack, edge)  # Eq. (3)
        return None if voltage <= 0 else (current, voltage)

    def at_edge(self, pack: Pack, state: float, told: frozenset[str], side: int) -> float | None:
        """The stall voltage at the least (0) or the most (1) that the resistance may be, V; None where it collapses."""
        taken = self.at_plug(pack, state)
        model = model_edges(current_rate(0.0 if taken is None else taken[0], pack.charge))
        held = self.at_plug(pack, state, resisting(pack, told, model)[side])
        return None if held is None else held[1]


def resistance(pack: Pack, edge: Resisting = AS_TOLD) -> float:
    """All cells' resistance, slow part too, ohm."""
    return float(np.sum(pack.ohmic()) * edge.ohmic + np.sum(pack.polarisation()) * edge.slow)


def rest_at(pack: Pack, state: float) -> float:
    """The pack's voltage at rest with every cell at a state, V; its nominal one where there is no curve."""
    each = pack.kind.nominal if pack.kind.curve is None else float(pack.kind.curve.voltage(state))
    return pack.size * each


def lowest_state(pack: Pack) -> float:
    """The least that the state of any cell may be."""
    return float(pack.state_of_charge or 0.0) if pack.kind.curve is None else float(np.min(pack.state_edges()[0]))


def last_state(pack: Pack, load: Load, floor: float, reserve: float, start: float) -> float:
    """The state at which the time ends: at the reserve, or where stalled servos might meet the floor, the resistance
    being the most that it may be.
    """
    given = resistance_told(pack)

    def over(state: float) -> float:
        return (load.at_edge(pack, state, given, 1) or 0.0) - floor

    if start <= reserve or over(start) <= 0:
        return start
    return reserve if over(reserve) >= 0 else root(over, reserve, start)


def sentence(
    answer: ReceiverTime, *, pack: Pack, reserve: float, receiver_floor: float, time_planned: float | None
) -> str:
    """The answer as spoken."""
    named = f"this {pack.kind.words} pack"
    no = f"Do not take off with {named}:"
    if answer._why:
        return f"{no} {answer._why}."
    stalled = "with all servos held fast"
    if answer.stall_voltage is None:
        return f"{no} {stalled} its voltage would collapse."
    floor = volts(receiver_floor, "up")
    if not answer.holds:
        return f"{no} {stalled} it would fall to {volts(answer.stall_voltage, 'down')}, and {floor} are needed."
    if not answer._sure:
        given = volts(answer.stall_voltage, "down")
        return f"{no} {stalled} it gives {given} by its resistance as taken, but may fall below the {floor} needed."
    if answer.time_safe == 0:
        return f"{no} it is at its reserve of {percent(reserve, 'up')} already."
    lasts = f"it lasts {quarter_minutes(answer.time_safe)}"
    if time_planned is not None and answer.time_safe < time_planned * (1 - SLACK):
        return f"{no} {lasts}, and you mean to fly {told(time_planned)}."
    if answer.time_safe < least_time(time_planned) * (1 - SLACK):
        return f"{no} {lasts}, too short for a flight. Charge it first, or take a larger one."
    draws = "" if answer.mean_current is None else f", at {amperes(answer.mean_current, 'up')} on average"
    return sentences(
        f"Take off with {named} for {quarter_minutes(answer.time_safe)} at most{draws}.",
        f"With all servos held fast it still gives {volts(answer.stall_voltage, 'down')} at the end.",
    )


OWN_CAUTIONS: Table = {
    # This project's own judgement throughout.
    "receiver-fails": (
        "danger",
        "A receiver pack that fails is a crash: check every plug, move all sticks with the servos loaded, and read its "
        "voltage under load before each take-off.",
    ),
    "stall-unsure": (
        "danger",
        "Measure the pack's resistance under load and ask again, or read its voltage with all servos held fast; if it "
        "was measured, take a stronger pack.",
    ),
    # This project's own judgement.
    "regulator-above-pack": (
        "warning",
        "The pack falls below {voltage}: a regulator that only steps down then gives less. See that the receiver bears "
        "that, or take a pack of more cells.",
    ),
    "charged-today": (
        "warning",
        "It was taken as full. Nickel loses charge while it lies: count only on a pack that was charged today.",
    ),
    "stall-measured": ("note", "Measure what a servo draws when it is held fast: labels and lists are often too low."),
    "voltage-when-full": (
        "note",
        "Fresh from the charger it gives up to {most}: see that receiver and servos bear that.",
    ),
}
caution = shared.beside(OWN_CAUTIONS, standing={"receiver-fails", "stall-measured", "voltage-when-full"})


def cautions(
    answer: ReceiverTime,
    *,
    pack: Pack,
    regulator_voltage: float | None,
    receiver_floor: float,
    given: frozenset[str],
) -> Iterator[Caution]:
    """What to heed."""
    yield from state_cautions(pack)
    yield from hot_cautions(pack.temperature)
    if regulator_voltage is not None and answer.stall_voltage is not None and answer.stall_voltage < regulator_voltage:
        yield caution("regulator-above-pack", voltage=volts(regulator_voltage))
    if answer.holds and not (answer._sure or answer._why):
        yield caution("stall-unsure")
    if pack.kind.curve is None and "state_of_charge" not in given:
        yield caution("charged-today")
    yield caution("receiver-fails")
    yield from resistance_cautions(pack, given)
    if regulator_voltage is None:
        yield caution("voltage-when-full", most=volts(pack.size * pack.kind.end_of_charge))
    yield caution("stall-measured")


def accuracy(
    answer: ReceiverTime,
    *,
    pack: Pack,
    idle_current: float,
    servos: int,
    servo_current: float,
    duty: float,
    capacity_left: float,
    efficiency: float | None,
    given: frozenset[str],
) -> Iterator[Band]:
    """How sure time and voltage are."""
    if answer.time_safe > 0:
        # At the end as answered: whatever else is drawn, the servos when held fast draw the same.
        used = idle_current + servos * duty * servo_current
        off = error("receiver current")
        times = []
        for side in (0, 1):
            drawn = (
                edges("idle_current", idle_current, given)[1 - side]
                + servos * edges("duty", duty, given)[1 - side] * servo_current
            )
            more = max(drawn / used, off[1]) if side == 0 else min(drawn / used, off[0])
            if efficiency is not None:
                more *= efficiency / edges("efficiency", efficiency, given)[side]
            left = edges("capacity_left", capacity_left, given)[side] / capacity_left
            times.append(answer.time_safe * left / more)
        assumed = [name for name in ("idle_current", "duty", "capacity_left", "efficiency") if name not in given]
        basis = (
            "the mean current may be 30 percent off, or as far as what was assumed of it; what an old pack holds, "
            "where that was assumed; this project's own judgement"
            if assumed
            else "the mean current may be 30 percent off; this project's own judgement"
        )
        yield band_over("time_safe", answer.time_safe, times, basis)
    if answer.stall_voltage is not None:
        basis = "the resistance, by how it was told, and the model's error at this rate; this project's own judgement"
        low, high = (answer._load.at_edge(pack, answer._end, given, side) for side in (1, 0))
        yield Band("stall_voltage", low or 0.0, answer.stall_voltage if high is None else high, basis)

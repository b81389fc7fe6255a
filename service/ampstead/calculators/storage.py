"""Bring a pack to its storage charge.

Over 300 lines, since a charge, a discharge and what forbids either stand here together.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Annotated, Literal

import numpy as np

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.kinds.curves import state_difference_band
from ampstead.cell.one.charge import Charge, charge, time_of_charge
from ampstead.cell.one.flight import Flight
from ampstead.cell.one.storing import Discharge, Move, charge_time, discharge_at_power, target_cell_voltage
from ampstead.declare import Band, Caution, Choice, Floats, Fraction, Group, OneOf, Quantity, derived
from ampstead.errors import FieldError
from ampstead.inputs.pack import ChemistryName, Pack, has_curve
from ampstead.inputs.shared import MOST_POWER, STATE_TOLD, ChargeRate, usual_charge_rate
from ampstead.judging.bands import end_span
from ampstead.judging.cautions import HOTTEST_LOAD, LONG_DISCHARGE, Table, cells_differ, charging, resistance_cautions
from ampstead.judging.cautions import caution as shared
from ampstead.judging.cells import is_suspect
from ampstead.judging.charging import (
    LEVEL,
    SOURCES_OF_LIMITS,
    Verdict,
    charge_edges,
    charge_verdict,
    cure,
    never_charged,
    state_cautions,
    time_band,
    warmth_words,
)
from ampstead.judging.doubts import error
from ampstead.judging.overfull import highest_cell, is_overfull
from ampstead.judging.states import state_words
from ampstead.sketch import Chart, Limit, Panel
from ampstead.words import (
    amperes_to_set,
    between,
    degrees,
    milliampere_hours,
    millivolts,
    percent,
    sentences,
    volts,
    watts,
)

ASKED = "How do I bring this pack to storage charge?"
WHEN = ("back home", 10)
MAIN = ("action", "charge_to_move", "time_total")
SOURCES = (
    "Storage voltages of 3.80 to 3.85 V a cell: common practice, no published source; life at half its charge and lead "
    "full likewise",
    "Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), "
    "US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured",
    "Charge at constant current and discharge at constant power of an equivalent circuit with one RC pair; compared "
    "with the library thevenin 0.2.1 and PyBaMM 26.10",
    *SOURCES_OF_LIMITS,
    "When a pack is near enough to leave, and what is a long discharge: this project's own judgement",
)
MOST_ROWS = 1000
EXAMPLES = (
    {"cells": 6, "capacity": "4900 mAh", "rest_voltage": "25.1 V"},
    {"cells": 3, "capacity": "1150 mAh", "cell_voltages": "3.71,3.72,3.71 V", "rate": 0.5},
)

Action = Literal["charge", "discharge", "none"]

NEAR = 0.03
"""Of the charge: so near to the target a pack is left as it is. This project's own judgement: about what a meter's step
of 10 mV means in the middle of a lithium-polymer curve."""
HIGH, LOW = 0.75, 0.2
"""Targets at which storing a lithium pack needs a word. This project's own judgement."""
HELD_TAPER = 0.1
"""Where a charger that holds the storage voltage itself ends. Common practice, no published source."""
LEAST_TAPER = 0.02
CURVE_POINTS = 121
SLACK = 1e-9


def storage_voltage(chemistry: ChemistryName) -> float | None:
    """The chemistry's usual storage voltage per cell (common practice)."""
    return CHEMISTRIES[chemistry].storage_voltage


def storage_state(chemistry: ChemistryName) -> float | None:
    """The chemistry's usual storage state, where that is told as a state."""
    return CHEMISTRIES[chemistry].storage_state


def target_is_possible(
    chemistry: ChemistryName, cells: int | None, target_voltage: float | None
) -> Iterator[FieldError]:
    """A target is a resting voltage that cell or pack can have."""
    kind = CHEMISTRIES[chemistry]
    if target_voltage is None or kind.curve is None or cells is None:
        return
    if target_cell_voltage(kind, cells, target_voltage) is None:
        low, high = (float(kind.curve.voltages[end]) for end in (0, -1))
        pack = "" if cells == 1 else f", or {low * cells:.2f} to {high * cells:.2f} V for the {cells} cells"
        said = f"target_voltage must be {low:.2f} to {high:.2f} V for a {kind.words} cell{pack}"
        yield FieldError("target_voltage", "out_of_range", f"{said}; {target_voltage:.6g} V was read")


RULES = (STATE_TOLD, OneOf("target_voltage", "target_state", asked="What is it to be stored at?"))
CHECKS = (has_curve, target_is_possible)


@dataclass(frozen=True, slots=True, kw_only=True)
class Storage:
    action: Annotated[Action, Choice("Charge, discharge, or leave the pack as it is.")]
    charge_to_move: Annotated[
        float | None, Quantity("mAh", "Charge to put in or take out; 0 where nothing is moved, none without capacity.")
    ]
    time_total: Annotated[
        float | None,
        Quantity(
            "min",
            "Time that takes; none where nothing is moved, without capacity, and where none is known.",
            spoken="up",
        ),
    ]
    end_voltage: Annotated[
        float, Quantity("V", "Voltage of the pack at rest afterwards; as it is where nothing is moved.")
    ]
    current: Annotated[
        float | None,
        Quantity("A", "Current to charge at; none where nothing is charged, and without capacity.", spoken="down"),
    ]
    _plan: "Plan"


def storage(
    *,
    pack: Annotated[Pack, Group(name="pack", require=("cells",))],
    target_voltage: Annotated[
        float | None,
        Quantity(
            "V",
            "Resting voltage to store at, of a cell or of the whole pack; which of them, its size tells.",
            above=0,
            at_most="100 V",
            example="3.85 V",
        ),
    ] = derived(storage_voltage, "the chemistry's usual storage voltage, per cell"),
    target_state: Annotated[
        float | None,
        Fraction("State of charge to store at, in place of a voltage.", at_least=0, at_most=1, example=0.5),
    ] = derived(storage_state, "half for lithium-iron-phosphate, full for lead-acid"),
    rate: ChargeRate = derived(usual_charge_rate, "the chemistry's usual rate"),
    discharge_power: Annotated[
        float,
        Quantity("W", "Power at which the pack would be discharged.", above=0, at_most=MOST_POWER, example="5 W"),
    ] = 5.0,
) -> Storage:
    """What it takes to bring a pack to the charge at which it is stored.

    The cells move together, until their mean state is the target's:

        q = |mean(z) - z_target| / mean(1 / Q)    (1)

    but none is charged beyond full nor discharged below its resting floor. A charge runs at constant current, held at
    the end-of-charge voltage if it comes to that; a discharge at constant power through
    the pack's own resistance. A pack within 3 percent of the target is left alone. A
    charge is refused or cut as charge-current would: for an unsound body, low cells, cold and heat, and doubt about
    the number of cells. Lead-acid is given no charge time. Times of nothing are none.
    """
    plan = Plan(pack, target_voltage, target_state, rate, discharge_power)
    moved = 0.0 if plan.action == "none" else None if pack.capacity is None else plan.move.charge  # Eq. (1)
    return Storage(
        _plan=plan,
        action=plan.action,
        charge_to_move=moved,
        time_total=plan.time,
        end_voltage=plan.end_voltage,
        current=plan.current if plan.action == "charge" and pack.capacity is not None else None,
    )


@dataclass(frozen=True)
class Plan:
    """What is to be done with a pack, and how long it takes."""

    pack: Pack
    target_voltage: float | None
    target_state: float | None
    rate: float
    power: float

    @cached_property
    def verdict(self) -> Verdict:
        """Whether the pack may be charged, and how."""
        return charge_verdict(self.pack, self.rate)

    @cached_property
    def asked_target(self) -> float:
        """State to store at as it was told."""
        if self.target_voltage is None:
            assert self.target_state is not None
            return self.target_state
        voltage = target_cell_voltage(self.pack.kind, self.pack.size, self.target_voltage)
        assert voltage is not None
        return float(self.pack.curve.state(voltage))

    @cached_property
    def target(self) -> float:
        """State to store at; in the cold no fuller than the pack may be charged."""
        most = float(self.pack.curve.state(self.verdict.end_cell_voltage))
        return min(self.asked_target, max(most, float(np.mean(self.pack.states()))))

    @property
    def aim_words(self) -> str:
        """The target as it was told; no figure where the cold keeps the pack below it."""
        if self.asked_target > self.target + SLACK:
            return "charge"
        if self.target_voltage is None:
            return f"charge of {percent(self.target)}"
        each = abs(self.cell_target - self.target_voltage) < 1e-6 and self.pack.size > 1
        return f"voltage of {volts(self.target_voltage)}{' a cell' if each else ''}"

    @cached_property
    def cell_target(self) -> float:
        """Resting voltage of a cell to store at, V."""
        return float(self.pack.curve.voltage(self.target))

    @cached_property
    def move(self) -> Move:
        floor = self.pack.kind.rest_floor
        return Move(
            states=self.pack.states(),
            capacities=np.ones(self.pack.size) if self.pack.capacity is None else self.pack.capacities(),
            target=self.target,
            least=1.0 if floor is None else float(self.pack.curve.state(floor)),
        )

    @property
    def refused(self) -> bool:
        """Whether nothing may be done with this pack, whatever its charge."""
        return self.verdict.refused and self.verdict.limited_by in ("low-cell", "cell-count", "condition")

    @property
    def too_hot(self) -> bool:
        """Whether it is too hot to be loaded, or to be left alone."""
        return self.pack.temperature > HOTTEST_LOAD + SLACK

    @property
    def grounded(self) -> bool:
        """Whether it is not to be flown down: overcharged, or with a cell that stands out."""
        return is_overfull(self.pack.kind, highest_cell(self.pack)) or is_suspect(self.pack)

    @property
    def near(self) -> bool:
        return abs(self.move.gap) <= NEAR + SLACK

    @property
    def apart(self) -> bool:
        """Whether the cells stand too far apart to be moved together."""
        return not self.near and self.move.stuck

    @cached_property
    def action(self) -> Action:
        if self.refused or self.near or self.apart:
            return "none"
        return "charge" if self.move.gap > 0 else "discharge"

    @property
    def end_voltage(self) -> float:
        """Of the pack at rest afterwards, V."""
        if self.action == "none":
            return float(np.sum(self.pack.curve.voltage(self.move.states) - self.pack.shortfalls()))
        return float(np.sum(self.pack.curve.voltage(self.move.after())))

    @property
    def current(self) -> float:
        """Charge current, A."""
        return self.verdict.current

    @cached_property
    def charged(self) -> Charge:
        """The charge, run on until the current has nearly ceased."""
        return charge(self.pack.resolved(), self.current, self.verdict.end_cell_voltage, LEAST_TAPER * self.current)

    @cached_property
    def given(self) -> Discharge:
        """The discharge, as far as it is asked for."""
        return Discharge(self.pack.resolved(), self.power)

    @cached_property
    def discharged(self) -> Flight:
        """The discharge to its end."""
        return discharge_at_power(self.pack.resolved(), self.power, self.move.charge)

    @cached_property
    def time(self) -> float | None:
        """How long it takes, s; None where nothing is moved or nobody can tell."""
        return self.time_for(self.move.charge)

    def time_for(self, moved: float) -> float | None:
        """How long it takes to move a charge, s."""
        if self.action == "none" or self.pack.capacity is None:
            return None
        if self.action == "discharge":
            state = self.given.after(moved)
            return None if state is None else state.time
        return None if not self.pack.kind.charge_timed or self.current == 0 else charge_time(self.charged, moved)

    def charge_edges(self) -> tuple[float, float]:
        """Least and most that there may be to move, C."""
        readings, each = self.pack.voltage_readings(), self.move.per_state
        if readings is None:
            return self.move.charge, self.move.charge
        if self.target_state is None:
            mean = float(np.mean(readings))
            least, most = state_difference_band(self.pack.chemistry, *sorted((mean, self.cell_target)))
        else:
            low, high = (self.target - float(np.mean(edge)) for edge in self.pack.state_edges())
            least, most = sorted((abs(low), abs(high)))
            least = 0.0 if low * high < 0 else least
        return min(max(0.0, least) * each, self.move.charge), max(most * each, self.move.charge)


def sentence(
    answer: Storage,
    *,
    pack: Pack,
    discharge_power: float,
    bands: Mapping[str, Band],
) -> str:
    """The answer as spoken."""
    plan = answer._plan
    named = f"this {pack.kind.words} pack"
    if plan.refused:
        return f"Do not charge, discharge or store {named} as it is: {plan.verdict.because}."
    if plan.apart:
        return f"Level the cells of {named} first: they stand too far apart to be brought to one storage charge."
    begun = f"from {state_words(pack)}"
    to = f"{volts(answer.end_voltage)} at rest"
    if answer.action == "none":
        cool = f", but let it cool, for {degrees(pack.temperature)} is too hot" if plan.too_hot else ""
        return f"Leave {named} as it is{cool}: at {to} it is as good as at its storage {plan.aim_words}."
    moved = "" if answer.charge_to_move is None else f" by {milliampere_hours(answer.charge_to_move)}"
    band = bands.get("time_total")
    if answer.action == "charge":
        if plan.verdict.refused and plan.verdict.limited_by == "temperature":
            at = f"at {warmth_words(pack)}"
            return f"First {cure(pack)}: {named}, {at}, is then to be charged{moved}, to {to}."
        if plan.verdict.refused:
            return f"Do not charge {named}: {plan.verdict.because}."
        at = "" if answer.current is None else f" at {amperes_to_set(answer.current)}{plan.verdict.because}"
        start = f"Charge {named}{moved}{at}, {begun} to {to}."
        if band is None:
            tail = "How long that takes cannot be told for lead-acid." if not pack.kind.charge_timed and moved else None
            return sentences(start, tail)
        return sentences(start, f"It takes {between(band.low, band.high)}, taken at {degrees(pack.temperature)}.")
    if plan.too_hot:
        return f"First let it cool: {named}, at {degrees(pack.temperature)}, is then to be discharged{moved}, to {to}."
    if band is None or answer.time_total is None:
        last = f"It cannot give {watts(discharge_power)}: use less." if moved else None
        return sentences(f"Discharge {named}{moved}, {begun} to {to}.", last)
    if answer.time_total > LONG_DISCHARGE * (1 + SLACK):
        if plan.grounded:
            quicker = "draw more from it, outdoors, but not to fly it"
        else:
            quicker = "fly it down, if it is fit" if pack.kind.is_lithium else "use it"
        return (
            f"At {watts(discharge_power)} it takes {between(band.low, band.high)} to bring {named} down{moved}, "
            f"{begun} to {to}, and it must be watched all that time; the faster safe way is to {quicker}."
        )
    return (
        f"Discharge {named}{moved}, {begun} to {to}: at {watts(discharge_power)} that takes "
        f"{between(band.low, band.high)}, watched all the while."
    )


OWN_CAUTIONS: Table = {
    # US Fire Administration: away from what burns, not in direct sun or hot cars (retrieved).
    "stored-safely": (
        "note",
        "Store it cool and dry, out of the sun and of hot cars, away from anything that can burn, its terminals "
        "covered; look at its cells again every few months.",
    ),
    "stored-high": (
        "warning",
        "That is high for storing: a lithium pack ages fast when it stands nearly full, and burns harder.",
    ),
    "stored-low": ("warning", "That is low for storing: a cell that loses a little more may fall below its floor."),
    "cells-too-far": (
        "warning",
        "The cells stand too far apart to be moved together: level them on a balance charger first, watched.",
    ),
    "discharge-strong": (
        "warning",
        "At this power a cell falls below its floor before the end: use less.",
    ),
}
caution = shared.beside(OWN_CAUTIONS, standing={"stored-safely"})


def cautions(
    answer: Storage,
    *,
    pack: Pack,
    given: frozenset[str],
) -> Iterator[Caution]:
    """What to heed, the gravest of its kind first."""
    plan, kind = answer._plan, pack.kind
    readings = pack.voltage_readings()
    yield from plan.verdict.cautions if answer.action == "charge" else state_cautions(pack)
    if plan.too_hot:
        yield caution("too-hot" if answer.action == "charge" else "discharge-hot")
    if answer.action == "charge":
        yield from charge_cautions(plan)
    elif answer.action == "discharge":
        yield from discharge_cautions(plan, answer)
    else:
        yield caution("never-alone")
        yield caution("papers")
    if plan.apart:
        yield caution("cells-too-far")
    spread = 0.0 if readings is None else float(np.ptp(readings))
    if spread > LEVEL + SLACK and not never_charged(pack):
        yield cells_differ(kind, millivolts(spread))
    if kind.is_lithium and plan.target > HIGH + SLACK:
        yield caution("stored-high")
    if plan.target < LOW - SLACK:
        yield caution("stored-low")
    if kind.kept_full:
        yield caution("lead-kept-full")
    if not plan.refused or plan.verdict.limited_by == "cell-count":
        yield caution("stored-safely")
    if readings is not None:
        yield caution("flat-curve" if pack.kind.flat_curve else "state-from-voltage")
    if answer.time_total is not None:
        yield from resistance_cautions(pack, given)
    if not pack.curve.sourced:
        yield caution("extrapolated-curve")


def charge_cautions(plan: Plan) -> Iterator[Caution]:
    """What to heed when the pack is charged."""
    yield from charging(plan.pack.kind)
    if not plan.pack.kind.charge_timed:
        yield caution("lead-time")


def discharge_cautions(plan: Plan, answer: Storage) -> Iterator[Caution]:
    """What to heed when the pack is discharged."""
    yield caution("watched-discharge")
    if plan.pack.capacity is not None:
        if answer.time_total is None:
            yield caution("load-impossible")
        elif (plan.given.lowest_cell(plan.move.charge) or 0.0) < plan.pack.kind.floor - SLACK:
            yield caution("discharge-strong")
        elif answer.time_total > LONG_DISCHARGE * (1 + SLACK):
            yield caution("long-discharge")
    yield caution("signs-of-failure")
    yield caution("papers")


def accuracy(
    answer: Storage,
    *,
    pack: Pack,
    given: frozenset[str],
) -> Iterator[Band]:
    """How sure charge and time are."""
    plan = answer._plan
    if answer.charge_to_move is None or answer.action == "none":
        return
    least, most = plan.charge_edges()
    if pack.voltage_readings() is not None:
        basis = "what this voltage means on published curves of like cells"
        yield Band("charge_to_move", least, most, basis)
    if answer.time_total is None:
        return
    # What the model's cells have no room for takes as much longer as it is more.
    room = plan.move.room
    quick, slow = plan.time_for(min(least, room)) or 0.0, plan.time_for(min(most, room)) or answer.time_total
    slow *= max(1.0, most / room)
    if answer.action == "charge":
        found = charge_edges(pack, given)
        slowest = pack.resolved() if found is None else found[1]
        held = time_of_charge(slowest, plan.current, plan.cell_target, HELD_TAPER * plan.current)
        band = time_band(quick, max(slow, held), [slowest])
        basis = (
            "0.95 of the time for the least charge, to 1.05 of that for the most (1.42 with much resistance), or of a "
            "charger that holds the storage voltage itself, and 15 minutes; this project's own judgement"
        )
        yield Band("time_total", band.low, band.high, basis)
    else:
        low, high = error("charge time")
        basis = "0.95 of the time for the least charge, to 1.05 of that for the most; this project's own judgement"
        yield Band("time_total", low * quick, high * slow, basis)


@dataclass(frozen=True, slots=True, kw_only=True)
class StorageCurve:
    time: Annotated[Floats, Quantity("min", "Time from the start.")]
    voltage: Annotated[Floats, Quantity("V", "Voltage of the pack.")]
    current: Annotated[Floats, Quantity("A", "Current, into the pack or out of it.")]
    charge: Annotated[Floats, Quantity("mAh", "Charge moved so far.")]
    state_of_charge: Annotated[Floats, Fraction("Mean state of charge of the cells.")]


def curve(
    answer: Storage,
    *,
    pack: Pack,
) -> StorageCurve:
    """The charge or discharge over time; empty where nothing is moved or no time is known."""
    if answer.time_total is None:
        return StorageCurve(**dict.fromkeys(StorageCurve.__dataclass_fields__, np.empty(0)))
    plan = answer._plan
    time = np.linspace(0.0, answer.time_total, CURVE_POINTS)
    if answer.action == "charge":
        voltage, current, moved = plan.charged.curve(time)
        sign = 1.0
    else:
        run = plan.discharged.curve(time)
        voltage, current, moved, sign = run.voltage, run.current, run.charge, -1.0
    states = plan.move.states[:, None] + sign * moved / pack.capacities()[:, None]
    return StorageCurve(
        time=time, voltage=voltage, current=current, charge=moved, state_of_charge=np.mean(states, axis=0)
    )


def picture(answer: Storage, *, bands: Mapping[str, Band]) -> Chart:
    """Voltage, current and state over time, the target and when it may be met marked."""
    plan = answer._plan
    target = Limit(plan.target, f"storage charge {plan.target * 100:.0f} %")
    title = {"charge": "Charge to storage", "discharge": "Discharge to storage", "none": "Nothing to move"}
    return Chart(
        title=title[answer.action],
        x="time",
        panels=(
            Panel({"voltage": ""}),
            Panel({"current": ""}, from_zero=True),
            Panel({"state_of_charge": ""}, (target,), from_zero=True),
        ),
        span=end_span(bands),
    )

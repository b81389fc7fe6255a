"""May these packs be flown in series.

Over 300 lines, since a calculator is one file, with its cautions, its curve and its picture.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Annotated, Any, ClassVar, Literal

import numpy as np

from ampstead.cell.one.discharge import loaded, time_to_floor
from ampstead.cell.one.series import SeriesPack
from ampstead.cell.sizing import current_rate
from ampstead.declare import Band, Caution, Choice, Count, Floats, Fraction, Items, Quantity, Text, derived
from ampstead.errors import FieldError
from ampstead.inputs.pack import Capacity, Checks, Pack, has_curve
from ampstead.inputs.shared import MOST_CURRENT, Floor, LeadResistance, cells_told, usual_charge_rate, usual_floor
from ampstead.inputs.source import RATED_HOURS
from ampstead.judging.bands import Resisting, band_over, model_edges, model_error, resisting
from ampstead.judging.cautions import Table, charge_apart, of_packs, resistance_cautions
from ampstead.judging.cautions import caution as shared
from ampstead.judging.charging import charge_verdict, state_cautions
from ampstead.judging.doubts import edges, error
from ampstead.judging.flying import cold_words, left_by_peukert, too_cold_to_fly
from ampstead.judging.joining import enough_packs, given_of, names, one_chemistry, shortened, unfit, unfit_said
from ampstead.sketch import Chart, Limit, Panel
from ampstead.words import amperes, capitalised, listed, milliampere_hours, percent, quarter_minutes, sentences, volts

SOURCES = (
    "All cells of packs in series carry one current, and their voltages add up (OpenStax College Physics, ch. 21.1); "
    "equivalent circuits with one RC pair a cell, compared with scipy and the simulator ngspice 39",
    "Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), "
    "US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured",
    "A reserve of 20 percent, floors under load, charging packs of a series apart: common practice, no published "
    "source",
    "How far packs in series may differ: this project's own judgement",
)
ASKED = "May I fly these packs in series?"
WHEN = ("before the next outing", 60)
MAIN = ("verdict", "time_flight")
MOST_ROWS = 400
EXAMPLES = (
    {
        "packs": [
            {"name": "red trainer A", "cells": 3, "capacity": "2250 mAh", "cell_resistance": "8.5 mΩ"},
            {"name": "red trainer B", "cells": 3, "capacity": "2250 mAh", "cell_resistance": "9 mΩ"},
        ],
        "current": "23 A",
    },
    {
        "packs": [
            {"name": "blue aerobat A", "cells": 4, "capacity": "3700 mAh", "rest_voltage": "16.75 V"},
            {"name": "red trainer C", "cells": 3, "capacity": "2250 mAh", "cell_resistance": "14 mΩ"},
        ],
        "current": "23 A",
        "lead_resistance": "4 mΩ",
    },
)
MOMENT = 10.0
"""Seconds after which the voltage under load is told, as sag tells it."""
CARE = {"capacity": 0.05, "state": 0.05, "resistance": 0.20}
NEVER = {"capacity": 0.20, "state": 0.20, "resistance": 0.50}
"""Differences from which packs are joined with care, and not at all. This project's own judgement."""
CURVE_POINTS = 121
SAFE_TO_TOUCH = 60.0
"""V: direct voltage of the first class of IEC 62368-1, from memory."""
SLACK = 1e-9

Verdict = Literal["join", "with-care", "do-not-join"]
EndedBy = Literal["reserve", "floor"]
DIFFER = {"capacity": "capacities", "state": "states of charge", "resistance": "cells' resistances"}


@dataclass(frozen=True, slots=True, kw_only=True)
class StackedPack(Pack):
    """One of several packs in series."""

    name: Annotated[str | None, Text("What to call the pack.", example="red trainer A")] = None
    capacity: Capacity = field()  # without a default, where a pack has one
    state_of_charge: Annotated[
        float,
        Fraction("State of charge of every cell, empty at 0, full at 1 or 100 %.", at_least=0, at_most=1, example=1),
    ] = 1.0

    CHECKS: ClassVar[Checks] = (*Pack.CHECKS, cells_told, has_curve)


def floor_of(packs: Sequence[Any] | None) -> float | None:
    """The usual floor of the packs' chemistry (common practice)."""
    return usual_floor(packs[0].value.chemistry) if packs else None


def one_time_constant(packs: Sequence[Any]) -> Iterator[FieldError]:
    """The slow parts of all cells are followed with one time constant."""
    if len({element.value.polarisation_time for element in packs}) > 1:
        for place in range(len(packs)):
            said = "packs in series are followed with one polarisation_time: give the same for all, or none"
            yield FieldError(f"packs[{place}].polarisation_time", "conflict", said)


CHECKS = (enough_packs, one_chemistry, one_time_constant)


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesJoin:
    verdict: Annotated[
        Verdict, Choice("Whether the packs may be flown in series, with care where they differ, or must not be.")
    ]
    time_flight: Annotated[
        float,
        Quantity("min", "Time until the first pack is at its reserve, or a cell at its floor; 0 if never.",
                 spoken="down"),
    ]  # fmt: skip
    ended_by: Annotated[EndedBy | None, Choice("Which of the two that is; not told where they must not be joined.")]
    first_pack: Annotated[
        int | None, Count("Pack that empties first, from 1; none where all are empty together or must not be joined.")
    ]
    charges_left: Annotated[
        Floats | None,
        Quantity(
            "mAh",
            "Charge that each pack has left when the first is at its reserve; not told where they must not be joined.",
        ),
    ]
    spare_charge: Annotated[
        float | None,
        Quantity("mAh", "Most charge that a pack then has above its own reserve, never to be used; not told likewise."),
    ]
    charge_used: Annotated[float, Quantity("mAh", "Charge drawn from every pack in the time of flight.")]
    time_to_floor: Annotated[
        float | None,
        Quantity("min", "Time until a cell meets its floor under this load, reserve or not; not told likewise.",
                 spoken="down"),
    ]  # fmt: skip
    floor_pack: Annotated[int | None, Count("Pack of that cell, from 1; not told likewise.")]
    charge_to_empty: Annotated[
        float | None,
        Quantity(
            "mAh",
            "Charge drawn from which on the others drive the first pack's weakest cell below empty; not told likewise.",
            spoken="down",
        ),
    ]
    time_to_empty: Annotated[
        float | None, Quantity("min", "Time until then at this current; not told likewise.", spoken="down")
    ]
    rest_voltage: Annotated[float, Quantity("V", "Voltage of all packs together at rest.")]
    loaded_voltage: Annotated[
        float | None,
        Quantity("V", "The same behind the leads, at the end of the duration; none where it collapses.",
                 spoken="down"),
    ]  # fmt: skip
    capacity_difference: Annotated[
        float, Fraction("Part by which the smallest pack's capacity is below the largest's.", spoken="up")
    ]
    state_difference: Annotated[float, Fraction("Most by which the packs' mean states of charge differ.", spoken="up")]
    resistance_difference: Annotated[
        float, Fraction("Part by which the least mean resistance of a pack's cells is below the largest.", spoken="up")
    ]
    _stack: "Stack"


def series_join(
    *,
    packs: Annotated[
        list[StackedPack],
        Items("The packs, of one chemistry; their numbers of cells may differ.", example=EXAMPLES[0]["packs"]),
    ],
    current: Annotated[
        float,
        Quantity("A", "Current of the flight, which all packs carry.", above=0, at_most=MOST_CURRENT, example="23 A"),
    ],
    reserve: Annotated[
        float, Fraction("Part of its capacity that each pack is to keep.", at_least=0, at_most=0.99, example=0.2)
    ] = 0.2,
    floor: Floor = derived(floor_of, "the chemistry's usual floor under load"),
    lead_resistance: LeadResistance = 0.0,
    duration: Annotated[
        float,
        Quantity("s", "Time under load after which the voltage is told.", at_least=0, at_most="3600 s", example="10 s"),
    ] = MOMENT,
) -> SeriesJoin:
    """Which of several packs in series empties first, and what becomes of it if the model is flown on.

    Every cell gives the same charge q = I * t, whatever it has. With z0 its state at the start,

        t_reserve = min((z0 - reserve) * Q) / I,   t_empty = min(z0 * Q) / I                     (1)
        V = U(z0 - q / Q) - I * (R0 + R1 * (1 - exp(-t / tau)))                                  (2)

    The flight ends at the reserve, or as soon as (2) meets the floor in any cell. What the other packs have then above
    their reserve is never used, and beyond t_empty they drive the weakest cell backwards. Resistances are held at what
    they are at the start. Lead-acid gives less at high currents, by Peukert's law with an exponent of 1.25, and less
    in the cold. Packs whose capacities or states differ by more than 5 percent, or whose cells' resistances by more
    than 20, are joined with care; by more than 20 and 50, not at all. Packs that are not sound, or with a cell that
    stands out, are not joined, and nothing is told of a flight with them.
    """
    stack = Stack(packs, current, reserve, floor, lead_resistance)
    rest = float(sum(np.sum(pack.curve.voltage(pack.states()) - pack.shortfalls()) for pack in packs))
    differences = stack.differences
    time, ended = stack.flown
    told: dict[str, Any] = dict.fromkeys(
        ("ended_by", "first_pack", "charges_left", "spare_charge", "time_to_floor", "floor_pack", "charge_to_empty",
         "time_to_empty", "loaded_voltage")
    )  # fmt: skip
    if not stack.refused:
        left = stack.per_pack(stack.cells.states * stack.cells.capacities - stack.to_reserve)
        above = stack.per_pack((stack.cells.states - reserve) * stack.cells.capacities)
        floored, place = stack.floored
        told |= {
            "ended_by": ended,
            "first_pack": stack.first,
            "charges_left": np.maximum(left, 0.0),
            "spare_charge": float(np.max(above)) - float(np.min(above)),
            "time_to_floor": floored,
            "floor_pack": place,
            "charge_to_empty": stack.to_empty,
            "time_to_empty": stack.to_empty / current,  # Eq. (1)
            "loaded_voltage": stack.behind_leads(duration),
        }
    return SeriesJoin(
        verdict=stack.verdict,
        time_flight=time,
        charge_used=current * time,
        rest_voltage=rest,
        capacity_difference=differences["capacity"],
        state_difference=differences["state"],
        resistance_difference=differences["resistance"],
        _stack=stack,
        **told,
    )


@dataclass(frozen=True)
class Stack:
    """Packs in series under a load, and what their figures may be off by."""

    packs: Sequence[StackedPack]
    current: float
    reserve: float
    floor: float
    lead: float
    resistances: Sequence[Resisting] = ()
    """Edges of each pack's; none where they are as told."""
    age: float = 1.0
    """Part of its capacity that every pack has."""
    edge: int | None = None
    """The least (0) or the most (1) that the states may be; None as told."""

    @cached_property
    def cells(self) -> SeriesPack:
        """All their cells, in one row."""
        rows = [pack.resolved(None if self.edge is None else pack.state_edges()[self.edge]) for pack in self.packs]
        if self.resistances:
            rows = [edge.of(row) for edge, row in zip(self.resistances, rows, strict=True)]
        return SeriesPack(
            rows[0].curve,
            np.concatenate([row.states for row in rows]),
            np.concatenate([row.capacities * self.left_of(pack) for row, pack in zip(rows, self.packs, strict=True)]),
            np.concatenate([row.ohmic for row in rows]),
            np.concatenate([row.polarisation for row in rows]),
            rows[0].time_constant,
        )

    def left_of(self, pack: Pack) -> float:
        """Part of its capacity that a pack gives at this age, temperature and current."""
        left = self.age * pack.kind.left_in_cold(pack.temperature)
        if pack.kind.peukert is not None:
            exponents = edges("peukert", pack.kind.peukert[1], (), {"chemistry": pack.chemistry})
            exponent = exponents[1] if self.edge is None else exponents[1 - self.edge]
            left *= left_by_peukert(self.age * pack.charge, self.current, exponent, RATED_HOURS)
        return max(left, 1e-3)

    @cached_property
    def owner(self) -> Floats:
        """The pack, from 0, of each cell."""
        return np.repeat(np.arange(len(self.packs)), [pack.size for pack in self.packs])

    def per_pack(self, cells: Floats) -> Floats:
        """The least of each pack's cells."""
        return np.array([np.min(cells[self.owner == place]) for place in range(len(self.packs))])

    @cached_property
    def reasons(self) -> list[str]:
        """Of each pack, why it may not be joined to anything, in words; empty where it may."""
        said = []
        for name, pack in zip(names(self.packs), self.packs, strict=True):
            verdict = charge_verdict(pack, usual_charge_rate(pack.chemistry), beside_full=True)
            said.append(unfit_said(name, pack, verdict, unfit(pack, verdict)))
        return said

    @property
    def refused(self) -> bool:
        return any(self.reasons)

    @cached_property
    def to_reserve(self) -> float:
        """Charge drawn when the first pack is at its reserve, C."""
        return max(0.0, float(np.min((self.cells.states - self.reserve) * self.cells.capacities)))

    @cached_property
    def to_empty(self) -> float:
        """Charge drawn when the weakest cell is empty, C."""
        return float(np.min(self.cells.states * self.cells.capacities))

    @cached_property
    def first(self) -> int | None:
        """The pack, from 1, that is at its reserve first; None where all are together."""
        above = self.per_pack((self.cells.states - self.reserve) * self.cells.capacities)
        return None if float(np.ptp(above)) <= SLACK * float(np.max(np.abs(above))) else int(np.argmin(above)) + 1

    @cached_property
    def floored(self) -> tuple[float, int]:
        """When a cell meets its floor (at once where it is below it), s, and its pack, from 1."""
        time = time_to_floor(self.cells, self.floor, current=self.current) or 0.0
        state = loaded(self.cells, time, current=self.current)
        assert state is not None
        return time, int(self.owner[int(np.argmin(state.cell_voltages))]) + 1

    @cached_property
    def flown(self) -> tuple[float, EndedBy]:
        """How long they fly, s, and what ends it."""
        if self.refused:
            return 0.0, "reserve"
        by_reserve, by_floor = self.to_reserve / self.current, self.floored[0]
        return (by_floor, "floor") if by_floor < by_reserve * (1 - SLACK) else (by_reserve, "reserve")

    def behind_leads(self, time: float) -> float | None:
        """Voltage behind the leads after so long under load, V; None where it collapses."""
        state = loaded(self.cells, time, current=self.current)
        assert state is not None
        voltage = state.terminal_voltage - self.lead * self.current
        return voltage if voltage > 0 else None

    @cached_property
    def differences(self) -> dict[str, float]:
        """How far the packs differ: in capacity, state, and resistance of their cells."""
        capacities = [pack.charge for pack in self.packs]
        states = [float(np.mean(pack.states())) for pack in self.packs]
        resistances = [float(np.mean(pack.ohmic() + pack.polarisation())) for pack in self.packs]
        return {
            "capacity": 1 - min(capacities) / max(capacities),
            "state": max(states) - min(states),
            "resistance": 1 - min(resistances) / max(resistances),
        }

    def beyond(self, limits: dict[str, float]) -> list[str]:
        """In what the packs differ by more than a limit."""
        return [name for name, difference in self.differences.items() if difference > limits[name] + SLACK]

    @property
    def verdict(self) -> Verdict:
        if self.refused or self.flown[0] <= 0 or self.beyond(NEVER):
            return "do-not-join"
        return "with-care" if self.beyond(CARE) else "join"


def differ_words(answer: SeriesJoin, limits: dict[str, float]) -> str:
    """In what they differ: ``their capacities differ by 40 percent``."""
    stack = answer._stack
    said = [f"their {DIFFER[name]} differ by {percent(stack.differences[name], 'up')}" for name in stack.beyond(limits)]
    return listed(said) if said else ""


def sentence(answer: SeriesJoin, *, packs: list[StackedPack], current: float, reserve: float) -> str:
    """The answer as spoken."""
    stack, called, kind = answer._stack, names(packs), packs[0].kind.words
    if stack.refused:
        return sentences(f"Do not join these {kind} packs in series.", *shortened([*filter(None, stack.reasons)]))
    drawn = amperes(current)
    if answer.time_flight == 0:
        if answer.ended_by == "floor" and answer.floor_pack is not None:
            why = f"a cell of {called[answer.floor_pack - 1]} is at its floor at once"
        else:
            why = f"{called[(answer.first_pack or 1) - 1]} is at its reserve of {percent(reserve)} already"
        return f"Do not fly these {kind} packs in series at {drawn}: {why}."
    if answer.first_pack is None:
        rest = f"then each has {percent(reserve)} left" if reserve else "then all are empty"
    else:
        rest = (
            f"{called[answer.first_pack - 1]} empties first, and the fullest other then has "
            f"{milliampere_hours(answer.spare_charge or 0.0)} more above its reserve"
        )
    if answer.ended_by == "floor" and answer.floor_pack is not None:
        rest = f"then a cell of {called[answer.floor_pack - 1]} is at its floor, before the reserve"
    time = quarter_minutes(answer.time_flight)
    coldest = min(pack.temperature for pack in packs)
    if answer.verdict != "do-not-join" and too_cold_to_fly(coldest):
        said = f"Do not fly these {kind} packs in series: {cold_words(coldest)}."
        return sentences(said, f"By this reckoning they would last {time} at most at {drawn}.")
    if answer.verdict == "do-not-join":
        return sentences(
            f"Do not join these {kind} packs in series: {differ_words(answer, NEVER)}.",
            f"At {drawn} they would last {time}: {rest}.",
        )
    care = f", with care, as {differ_words(answer, CARE)}" if answer.verdict == "with-care" else ""
    return sentences(
        f"These {kind} packs may be flown in series{care}: at {drawn} for {time} at most, {rest}.",
        "Charge them apart.",
    )


OWN_CAUTIONS: Table = {
    # This project's own judgement.
    "series-reversed": (
        "danger",
        "Flown on, the others drive the weakest cell of {pack} below empty {charge}, while the motor still "
        "pulls: such a cell is ruined, and may burn when it is charged. Set the timer by that pack.",
    ),
    "series-near-empty": (
        "warning",
        "In packs that differ a single cell may be empty while their whole voltage still looks well: read the cells of "
        "each pack, not the sum.",
    ),
    "series-high-voltage": (
        "warning",
        "Full, these packs give {most} together: see that speed controller, capacitors, plugs and meters are made for "
        "it, and insulate the plug that joins them.{touch}",
    ),
}  # fmt: skip
caution = shared.beside(OWN_CAUTIONS, standing={"series-high-voltage"})


def cautions(
    answer: SeriesJoin, *, packs: list[StackedPack], reserve: float, given: frozenset[str]
) -> Iterator[Caution]:
    """What to heed, the reason not to join first."""
    called = names(packs)
    yield from of_packs([(name, state_cautions(pack)) for name, pack in zip(called, packs, strict=True)])
    if answer.charge_to_empty is not None and answer.first_pack is not None:
        charge = milliampere_hours(answer.charge_to_empty, "down")
        charge = "at once" if charge.startswith("0 ") else f"from {charge} on"
        yield caution("series-reversed", pack=called[answer.first_pack - 1], charge=charge)
        if answer.verdict != "join":
            yield caution("series-near-empty")
    if not reserve:
        yield caution("no-reserve")
    yield charge_apart(packs[0].kind, max(pack.size for pack in packs))
    most = sum(pack.size * pack.kind.end_of_charge for pack in packs)
    touch = f" More than {volts(SAFE_TO_TOUCH)} can hurt whoever touches them." if most > SAFE_TO_TOUCH + SLACK else ""
    yield caution("series-high-voltage", most=volts(most, "up"), touch=touch)
    for place, pack in enumerate(packs):
        yield from resistance_cautions(pack, given_of(given, place))
    if not packs[0].curve.sourced:
        yield caution("extrapolated-curve")
    if packs[0].kind.peukert:
        yield caution("peukert-assumed")
    if any(pack.voltage_readings() is not None for pack in packs):
        yield caution("flat-curve" if packs[0].kind.flat_curve else "state-from-voltage")


def accuracy(
    answer: SeriesJoin, *, packs: list[StackedPack], current: float, duration: float, given: frozenset[str]
) -> Iterator[Band]:
    """How sure time and voltage are: asked again with the worst and the best of what is not known."""
    stack = answer._stack
    if stack.refused:
        return
    rate = max(current_rate(current, pack.charge) for pack in packs)
    edged = [resisting(pack, given_of(given, place), model_edges(rate)) for place, pack in enumerate(packs)]
    old, new = error("capacity")
    worst = replace(stack, resistances=[most for _, most in edged], age=old, edge=0)
    best = replace(stack, resistances=[least for least, _ in edged], age=new, edge=1)
    off = f"{model_error(rate) * 100:.0f} percent"
    basis = (
        f"asked again with the resistances at the edges of their origin, {off} for the model at this rate, 80 percent "
        "of the label as an old pack holds, and the states that published cells have at a voltage told; this project's "
        "own judgement"
    )
    if answer.time_flight > 0:
        yield band_over("time_flight", answer.time_flight, [worst.flown[0], best.flown[0]], basis)
    if answer.loaded_voltage is not None:
        found = [edge.behind_leads(duration) or 0.0 for edge in (worst, best)]
        yield band_over("loaded_voltage", answer.loaded_voltage, found, basis)


@dataclass(frozen=True, slots=True, kw_only=True)
class StackCurve:
    time: Annotated[Floats, Quantity("min", "Time from take-off, on beyond the flight until a cell is empty.")]
    voltage: Annotated[Floats, Quantity("V", "Voltage of all packs behind the leads.")]
    first_pack_voltage: Annotated[Floats, Quantity("V", "Mean cell voltage of the pack that empties first.")]
    last_pack_voltage: Annotated[Floats, Quantity("V", "Mean cell voltage of the pack that would last longest.")]
    weakest_cell_voltage: Annotated[Floats, Quantity("V", "Voltage of the lowest cell of all.")]
    charge: Annotated[Floats, Quantity("mAh", "Charge drawn so far from every pack.")]


def curve(answer: SeriesJoin) -> StackCurve:
    """The packs over time, to an empty cell; empty where nothing is flown."""
    stack = answer._stack
    if stack.refused or answer.time_to_empty is None or answer.time_to_empty <= 0:
        return StackCurve(**dict.fromkeys(StackCurve.__dataclass_fields__, np.empty(0)))
    above = stack.per_pack((stack.cells.states - stack.reserve) * stack.cells.capacities)
    first, last = int(np.argmin(above)), len(above) - 1 - int(np.argmax(above[::-1]))
    times = np.linspace(0.0, answer.time_to_empty, CURVE_POINTS)
    states = [loaded(stack.cells, time, current=stack.current) for time in times.tolist()]
    cells = np.array([state.cell_voltages for state in states if state is not None])
    return StackCurve(
        time=times,
        voltage=np.sum(cells, axis=1) - stack.lead * stack.current,
        first_pack_voltage=np.mean(cells[:, stack.owner == first], axis=1),
        last_pack_voltage=np.mean(cells[:, stack.owner == last], axis=1),
        weakest_cell_voltage=np.min(cells, axis=1),
        charge=stack.current * times,
    )


def picture(answer: SeriesJoin, *, packs: list[StackedPack], floor: float) -> Chart:
    """The first and the last pack's cells over time, the floor and the end of the flight marked."""
    land = Limit(answer.time_flight, f"land after {quarter_minutes(answer.time_flight)}", upright=True)
    marks = () if answer._stack.refused else (Limit(floor, f"floor {floor:.3g} V"), land)
    first = "" if answer.first_pack is None else capitalised(names(packs)[answer.first_pack - 1])
    return Chart(
        title=f"{first or 'All packs'} first" if first else "All packs empty together",
        x="time",
        panels=(
            Panel({"first_pack_voltage": "first empty", "last_pack_voltage": "lasts longest"}, marks),
            Panel({"voltage": ""}),
        ),
    )

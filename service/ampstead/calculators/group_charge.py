"""Several like packs charged together on one parallel board.

Over 300 lines: its packs are declared here too.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Any, Literal, get_args

import numpy as np

from ampstead.cell.board.bank import Branch
from ampstead.cell.board.bank_charge import BankCharge, bank_charge, largest_total
from ampstead.cell.sizing import HOUR, current_rate
from ampstead.declare import Band, Caution, Choice, Flag, Floats, Items, Quantity, Rate, Text, derived
from ampstead.errors import FieldError
from ampstead.inputs.shared import (
    ChargeRate,
    ChargerCurrentLimit,
    ChargerPowerLimit,
    Efficiency,
    EndCellVoltage,
    LeadResistance,
    MaxRate,
    SupplyLimit,
    Taper,
    usual_charge_rate,
)
from ampstead.judging.bands import end_span, resistance_told, supply_band
from ampstead.judging.cautions import Table, charging, main_leads_first, of_packs
from ampstead.judging.cautions import caution as shared
from ampstead.judging.charging import (
    LIMIT_WORDS,
    SOURCES_OF_LIMITS,
    LimitName,
    Verdict,
    allowed_end,
    charge_edges,
    charge_verdict,
    charger_limits,
    end_is_allowed,
    least,
    spread_cautions,
    time_band,
)
from ampstead.judging.charging import end_of_charge as usual_end
from ampstead.judging.joining import (
    AT_REST,
    Join,
    JoinedPack,
    apart_words,
    enough_packs,
    join_cautions,
    names,
    packs_alike,
    peak_band,
    shortened,
    unfit_words,
)
from ampstead.judging.states import lowest_state_words
from ampstead.sketch import Chart, Limit, Panel
from ampstead.words import (
    amperes,
    amperes_to_set,
    between,
    capitalised,
    count,
    duration,
    milliampere_hours,
    number,
    sentences,
    volts,
    warmth,
    watts,
)
from ampstead.words import rate as spoken_rate

ASKED = "How hard may I charge these packs together?"
WHEN = ("at the field", 70)
MAIN = ("total_current", "time_total")
SOURCES = (
    "Batteries in parallel share a current by their resistances (Lessons in Electric Circuits vol. I, batteries) and "
    "by their states: equivalent circuits with one RC pair each, integrated; compared with the simulator ngspice 39 "
    "and the library thevenin 0.2.1",
    "Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), "
    "US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured",
    *SOURCES_OF_LIMITS,
    "Usual rates, end of charge at a tenth, 85 percent efficiency, a charge rate of 1 as the limit of a join, main "
    "leads before balance plugs: common practice, no published source",
)
MOST_ROWS = 75
EXAMPLES = (
    {
        "packs": [
            {
                "name": "red trainer A",
                "cells": 3,
                "capacity": "2250 mAh",
                "cell_resistance": "8.5 mΩ",
                "rest_voltage": "11.31 V",
            },
            {
                "name": "red trainer B",
                "cells": 3,
                "capacity": "2250 mAh",
                "cell_resistance": "9 mΩ",
                "rest_voltage": "11.33 V",
            },
            {
                "name": "red trainer C",
                "cells": 3,
                "capacity": "2250 mAh",
                "cell_resistance": "14 mΩ",
                "rest_voltage": "11.28 V",
            },
        ],
        "lead_resistance": "4 mΩ",
        "charger_current_limit": "8 A",
    },
    {
        "packs": [
            {"cells": 4, "capacity": "3700 mAh", "cell_resistance": "4.2 mΩ", "state_of_charge": 0.35},
            {"cells": 4, "capacity": "3700 mAh", "cell_resistance": "4.6 mΩ", "state_of_charge": 0.35},
        ],
        "supply_limit": "180 W",
    },
)
JOIN_RATE = 1.0
UNEVEN = 0.05  # Of an even share: less than that is not worth a word.
UNSETTLED = 0.1  # Of its limit that flows into a pack before anything is charged.
SLACK = 1e-9
BINDS = 2e-6  # Of a limit: so near it a pack counts as at its limit.
EDGE_TOLERANCE = 2e-4
CURVE_STEADY, CURVE_HELD = 100, 50

GroupLimitName = Literal["join", LimitName]
ORDER: tuple[LimitName, ...] = get_args(LimitName)
LABEL_WORDS = ", the most that a pack's label allows"


def group_rate(packs: Sequence[Any] | None) -> float | None:
    """The usual charge rate of the packs' chemistry (common practice)."""
    return usual_charge_rate(packs[0].value.chemistry) if packs else None


def group_end(packs: Sequence[Any] | None) -> float | None:
    """The end of charge of the packs' chemistry."""
    return usual_end(packs[0].value.chemistry) if packs else None


def group_end_is_allowed(packs: Sequence[Any], end_cell_voltage: float) -> Iterator[FieldError]:
    """Nobody may charge beyond the chemistry's own voltage."""
    yield from end_is_allowed(packs[0].value.chemistry, end_cell_voltage)


CHECKS = (enough_packs, packs_alike, group_end_is_allowed)


@dataclass(frozen=True, slots=True)
class GroupShare:
    """What one pack of a group takes."""

    name: Annotated[str, Text("The pack's name.")]
    current: Annotated[float, Quantity("A", "Largest current into the pack at any time of the charge.", spoken="up")]
    rate: Annotated[float, Rate("That current in multiples of the pack's capacity per hour.", spoken="up")]


@dataclass(frozen=True)
class Group:
    """The packs on their board, and what charges them."""

    join: Join
    taper: float
    verdicts: Sequence[Verdict]
    """On each pack by itself."""
    total: float = 0.0
    run: BankCharge | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupCharge:
    total_current: Annotated[
        float, Quantity("A", "Current to set; 0 where the packs must not be charged together.", spoken="down")
    ]
    limited_by: Annotated[
        GroupLimitName, Choice("What sets it: a limit of a pack, of charger or supply, or that they may not be joined.")
    ]
    end_voltage: Annotated[float, Quantity("V", "Voltage of the group at which the charger holds.", spoken="down")]
    packs: Annotated[list[GroupShare], Items("What each pack takes.")]
    supply_power: Annotated[float, Quantity("W", "Most drawn from the supply.", spoken="up")]
    time_total: Annotated[
        float | None,
        Quantity("min", "Time to the end of charge; none where nothing is charged or no time is known.", spoken="up"),
    ] = None
    within_limit: Annotated[
        bool,
        Flag(
            "Whether the packs may be joined, as parallel-join has it.",
            yes="the packs may be joined",
            no="the packs may not be joined",
        ),
    ]
    peak_rate: Annotated[
        float, Rate("Highest rate at which a pack is charged by the others when they are joined.", spoken="up")
    ]
    time_to_settle: Annotated[
        float | None,
        Quantity(
            "min",
            "Time from joining until all currents between the packs stay below a tenth of the capacity an hour; none "
            "where they must not be joined.",
            spoken="up",
        ),
    ] = None
    stop_temperature: Annotated[float, Quantity("°C", "Stop the charge if any pack gets this warm.")]
    _group: Group


def group_charge(
    *,
    packs: Annotated[
        list[JoinedPack],
        Items(
            "The packs, of one chemistry and one number of cells, each with its state.",
            example=EXAMPLES[0]["packs"],
        ),
    ],
    lead_resistance: LeadResistance = 0.0,
    rate: ChargeRate = derived(group_rate, "the chemistry's usual rate"),
    max_rate: MaxRate = None,
    charger_current_limit: ChargerCurrentLimit = None,
    charger_power_limit: ChargerPowerLimit = None,
    supply_limit: SupplyLimit = None,
    efficiency: Efficiency = 0.85,
    taper: Taper = 0.1,
    end_cell_voltage: EndCellVoltage = derived(group_end, "the chemistry's own end of charge"),
) -> GroupCharge:
    """How hard several like packs may be charged together on one board, and what each of them takes.

    First the packs must be fit to be joined, as parallel-join works out with each pack's own highest rate, or 1.
    Then the total is the largest with which no pack ever takes more than charge-current would allow it alone, and
    which charger and supply can give:

        I = max{ I : i_p(t; I) <= limit_p for all p and t,  I <= I_charger, P_charger / U, efficiency * P_supply / U }

    The shares i_p follow resistance and state through the whole charge: a pack may
    take most late, when the others are nearly full. Constant voltage holds the highest cell of any pack, until the
    total has fallen to ``taper`` times the set one. The end voltage is the lowest that any pack's temperature leaves.
    Current into a pack is positive. No exchange by the balance plugs is
    counted.
    """
    if max_rate is not None:
        packs = [pack if pack.max_rate is not None else replace(pack, max_rate=max_rate) for pack in packs]
    join = Join(packs, lead_resistance, JOIN_RATE)
    end = min(allowed_end(pack, end_cell_voltage) for pack in packs)
    end_voltage = packs[0].size * end
    charger = charger_limits(charger_current_limit, charger_power_limit, supply_limit, efficiency, end_voltage)
    verdicts = [charge_verdict(pack, rate, pack.max_rate, end_cell_voltage=end) for pack in packs]
    group = Group(join, taper, verdicts)
    limited_by: GroupLimitName = "join"
    refused, why = least([(verdict.current, verdict.limited_by) for verdict in verdicts])
    if join.refused:
        limited_by = max((reason for reason in join.reasons if reason is not None), key=ORDER.index)
    elif refused == 0:
        limited_by = why
    elif join.within_limit:
        each = np.array([verdict.current for verdict in verdicts])
        most, named = least(charger) if charger else (np.inf, "asked-rate")
        total, run = largest_total(join.branches, each, float(most), end, taper, join.run)
        group = replace(group, total=total, run=run)
        if run is not None:
            by_charger = bool(charger) and total >= most * (1 - SLACK)
            parts = run.largest / each
            # What is found a little below the largest total is bound by the pack that is nearest to its limit.
            least_part = 1 - BINDS if by_charger else float(np.max(parts)) - BINDS
            binding = [verdicts[p].limited_by for p in np.flatnonzero(parts >= least_part)]
            limited_by = max([*binding, *([named] if by_charger else [])], key=ORDER.index)
    taken = np.zeros(len(packs)) if group.run is None else group.run.largest
    timed = group.run is not None and packs[0].kind.charge_timed
    drawn = group.run.largest_total if group.run else 0.0
    if group.run and not timed:
        # A charge of such packs goes on where the curve ends: what is set flows, as charge-current has it.
        drawn, first = group.total, group.run.bank.first_currents(group.total)[0]
        taken = np.maximum(taken, first)
    return GroupCharge(
        total_current=group.total,
        limited_by=limited_by,
        end_voltage=end_voltage,
        packs=[
            GroupShare(name, float(most), current_rate(float(most), pack.charge))
            for name, most, pack in zip(names(packs), taken, packs, strict=True)
        ],
        supply_power=end_voltage * drawn / efficiency,
        time_total=group.run.time_total if group.run and timed else None,
        within_limit=join.within_limit,
        peak_rate=0.0 if join.refused else join.peak_rate,
        time_to_settle=None if join.refused else join.run.time_to(AT_REST),
        stop_temperature=verdicts[0].stop_temperature,
        _group=group,
    )


def sentence(answer: GroupCharge, *, packs: list[JoinedPack], bands: Mapping[str, Band]) -> str:
    """The answer as spoken."""
    join, called = answer._group.join, names(packs)
    several = f"{count(len(packs), packs[0].kind.words + ' pack')}"
    if answer.total_current == 0:
        if join.refused:
            reasons = list(unfit_words(join))
        elif answer.limited_by != "join":
            reasons = list(
                shortened(
                    [
                        f"{name}: {verdict.because}."
                        for name, verdict in zip(called, answer._group.verdicts, strict=True)
                        if verdict.refused
                    ]
                )
            )
        elif join.apart:
            reasons = [f"{capitalised(apart_words(join, figure=False))}: level each pack by itself first."]
        elif join.overcharged and not join.too_hard:
            reasons = ["A cell would be driven above full when they are joined."]
        else:
            flow = spoken_rate(float(join.rates(join.most)[join.hardest]), "up")
            reasons = [
                f"{capitalised(called[join.hardest])} may take up to {flow} from the "
                f"other{'' if len(packs) == 2 else 's'} when they are joined."
            ]
        return sentences(f"Do not charge these {several} together.", *reasons)
    most = max(answer.packs, key=lambda share: share.current)
    set_by = "" if answer.limited_by == "join" else LIMIT_WORDS[answer.limited_by]
    if answer.limited_by == "pack-label":
        set_by = LABEL_WORDS
    start = (
        f"Charge these {several} together at {amperes_to_set(answer.total_current)}"
        f"{set_by}, up to {volts(answer.end_voltage, 'down')}; "
        f"{most.name} takes up to {amperes(most.current, 'up')}, and the charger draws up to "
        f"{watts(answer.supply_power, 'up')}."
    )
    if answer.time_total is None:
        return sentences(start, "How long that takes cannot be told for lead-acid: allow many hours.")
    band = bands["time_total"]
    lowest = lowest_state_words(packs)
    taken = warmth(pack.temperature for pack in packs)
    return sentences(start, f"It takes {between(band.low, band.high)} from {lowest}, taken at {taken}.")


OWN_CAUTIONS: Table = {
    "group-settle-first": (
        "note",
        "The packs still level each other: join them, wait {time}, measure and ask again, and they take more.",
    ),
    "group-uneven": (
        "note",
        "The packs do not share the charge evenly: {pack} takes the most, and sets the total.",
    ),
    "board-fuse": (
        "warning",
        "Use a board with a fuse for every pack: one shorted cell draws on all the others.",
    ),
    "one-program": (
        "warning",
        "The charger sees the group as one pack of {capacity}; a pack that fails or falls off shifts its share to the "
        "others. Look at each of them.",
    ),
}
caution = shared.beside(OWN_CAUTIONS, standing={"board-fuse", "one-program"})


def cautions(answer: GroupCharge, *, packs: list[JoinedPack], given: frozenset[str]) -> Iterator[Caution]:
    """What to heed, the reason for a refusal first."""
    group = answer._group
    called = names(packs)
    yield from of_packs([(name, verdict.cautions) for name, verdict in zip(called, group.verdicts, strict=True)])
    yield from join_cautions(group.join, given)
    yield main_leads_first(packs[0].kind, packs[0].size)
    yield from charging(packs[0].kind)
    yield caution("board-fuse")
    yield caution("one-program", capacity=milliampere_hours(sum(pack.charge for pack in packs)))
    yield from of_packs([(name, spread_cautions(pack)) for name, pack in zip(called, packs, strict=True)])
    if group.run is not None and answer.time_to_settle is not None:
        limits = np.array([verdict.current for verdict in group.verdicts])
        if np.any(group.join.run.first_currents > UNSETTLED * limits) and answer.limited_by in ("join", *ORDER[:2]):
            yield caution("group-settle-first", time=duration(answer.time_to_settle))
        hardest = max(answer.packs, key=lambda share: share.rate)
        if hardest.rate > (1 + UNEVEN) * current_rate(answer.total_current, sum(pack.charge for pack in packs)):
            yield caution("group-uneven", pack=hardest.name)
    if not packs[0].kind.charge_timed:
        yield caution("lead-time")
    if not packs[0].curve.sourced:
        yield caution("extrapolated-curve")
    if any(pack.state_of_charge is None for pack in packs):
        yield caution("flat-curve" if packs[0].kind.flat_curve else "state-from-voltage")


def accuracy(answer: GroupCharge, *, packs: list[JoinedPack], efficiency: float) -> Iterator[Band]:
    """How sure time and supply are."""
    group = answer._group
    if answer.time_total is not None:
        times = [answer.time_total] * 2
        slowest = [branch.pack for branch in group.join.branches]
        found = [charge_edges(pack, resistance_told(pack)) for pack in packs]
        if any(each is not None for each in found):
            end = group.verdicts[0].end_cell_voltage
            edged = [each or (own, own) for each, own in zip(found, slowest, strict=True)]
            slowest = [slow for _, slow in edged]
            for place in (0, 1):
                branches = [
                    Branch(each[place], branch.lead) for branch, each in zip(group.join.branches, edged, strict=True)
                ]
                times[place] = bank_charge(
                    branches, group.total, end, group.taper * group.total, EDGE_TOLERANCE
                ).time_total
        yield time_band(min(times), max(times), slowest)
    if not group.join.refused:
        yield from peak_band(group.join)
    yield from supply_band(answer.supply_power * efficiency, efficiency)


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupCurve:
    time: Annotated[Floats, Quantity("min", "Time from the start.")]
    voltage: Annotated[Floats, Quantity("V", "Voltage of the board.")]
    current: Annotated[Floats, Quantity("A", "Total charge current.")]
    rate: Annotated[Floats, Rate("Highest rate at which any pack is charged.")]
    charge: Annotated[Floats, Quantity("mAh", "Charge put into all packs so far.")]


def curve(answer: GroupCharge) -> GroupCurve:
    """The charge over time; empty where nothing is charged or no time is known."""
    run = answer._group.run
    if run is None or answer.time_total is None:
        return GroupCurve(**dict.fromkeys(GroupCurve.__dataclass_fields__, np.empty(0)))
    steady = np.linspace(0, run.time_constant_current, CURVE_STEADY)
    time = np.array(sorted({*steady, *np.linspace(run.time_constant_current, run.time_total, CURVE_HELD)}))
    points = run.points(time)
    return GroupCurve(
        time=time,
        voltage=points.voltages,
        current=np.sum(points.currents, axis=1),
        rate=np.max(points.currents / run.bank.capacities, axis=1) * HOUR,
        charge=np.sum(points.charges, axis=1),
    )


def picture(answer: GroupCharge, *, bands: Mapping[str, Band]) -> Chart:
    """Voltage, total and the highest rate over time, and when it may end."""
    total = number(answer.total_current, 3, "down")
    return Chart(
        title=f"Together at {total} A" if answer.total_current else "Not to be charged together",
        x="time",
        panels=(
            Panel({"voltage": ""}, (Limit(answer.end_voltage, f"held at {answer.end_voltage:.4g} V"),)),
            Panel({"current": ""}, from_zero=True),
            Panel({"rate": ""}, from_zero=True),
        ),
        span=end_span(bands),
    )

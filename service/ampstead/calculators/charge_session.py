"""Everything charged by when: which pack on which charger, at what current, in what order.

Over 300 lines: a session has more inputs, results and findings than other questions.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np

from ampstead.declare import (
    Band,
    Caution,
    Count,
    Floats,
    Fraction,
    Items,
    Nested,
    Number,
    OneOf,
    Quantity,
    Text,
    derived,
)
from ampstead.errors import FieldError
from ampstead.inputs import source as sources
from ampstead.inputs.clock import Clock, clock, start_is_read
from ampstead.inputs.pack import ROOM
from ampstead.inputs.session import MOST_PACKS, Charger, SessionPack
from ampstead.inputs.shared import MOST_POWER, Headroom, LeadResistance
from ampstead.inputs.source import RATED_HOURS, FieldSource, Peukert, RatedHours, exponent
from ampstead.judging.cautions import Table, charging, of_packs
from ampstead.judging.cautions import caution as shared
from ampstead.judging.charging import SOURCES_OF_LIMITS, body_words, spread_cautions
from ampstead.judging.doubts import error
from ampstead.judging.overfull import overfull_cautions
from ampstead.planning.battery import SourceLimits
from ampstead.planning.planned import Plan, planned, planned_from, power_in_time
from ampstead.planning.ways import Asked, Ways, asked, banks_of
from ampstead.planning.work import Bench, Placed, Task, Visits
from ampstead.sketch import Limit, Rows, Stretch
from ampstead.words import (
    amperes_to_set,
    between,
    capitalised,
    count,
    duration,
    listed,
    numbered,
    sentences,
)

ASKED = "When is everything charged?"
WHEN = ("at the field", 75)
SOURCES = (
    "Power of each charge over time: the charge of an equivalent circuit with one RC pair, solved exactly; compared "
    "with the library thevenin 0.2.1",
    "The order of the packs: a schedule under shared power, found by search; small ones compared with the best that "
    "OR-Tools CP-SAT proves",
    "Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), "
    "US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured",
    "Peukert's law in the form of the rated hours, t = H * (C / (I * H)) ** k",
    *SOURCES_OF_LIMITS,
    "Usual rates, end of charge at a tenth, 85 percent efficiency, a tenth of a supply kept free: common practice, no "
    "published source",
    "Two minutes a swap, four packs that one person can watch, how fast a hot pack cools: this project's own judgement",
)
MOST_ROWS = 0
PACKS: tuple[Mapping[str, Any], ...] = (
    {"name": "grey tug", "cells": 6, "capacity": "4900 mAh", "cell_resistance": "2.6 mΩ"},
    {"name": "blue aerobat A", "cells": 4, "capacity": "3700 mAh", "cell_resistance": "4.2 mΩ",
     "rest_voltage": "15.07 V"},
    {"name": "blue aerobat B", "cells": 4, "capacity": "3700 mAh", "cell_resistance": "4.6 mΩ",
     "cell_voltages": "3.77,3.76,3.79,3.75 V"},
    {"name": "red trainer A", "cells": 3, "capacity": "2250 mAh", "cell_resistance": "8.5 mΩ",
     "rest_voltage": "11.31 V", "need_by": "120 min"},
    {"name": "red trainer B", "cells": 3, "capacity": "2250 mAh", "cell_resistance": "9 mΩ",
     "rest_voltage": "11.31 V"},
    {"name": "yellow glider", "cells": 3, "capacity": "1150 mAh", "cell_resistance": "11 mΩ"},
    {"name": "evening wing", "chemistry": "liion", "cells": 4, "capacity": "3500 mAh", "cell_resistance": "24 mΩ"},
    {"name": "transmitter", "chemistry": "life", "cells": 2, "capacity": "2100 mAh", "cell_resistance": "16 mΩ"},
)  # fmt: skip
CHARGERS: tuple[Mapping[str, Any], ...] = (
    {"name": "left", "current_limit": "8 A", "power_limit": "110 W", "cells_min": 2, "cells_max": 6},
    {"name": "right", "current_limit": "5 A", "power_limit": "60 W", "cells_min": 2, "cells_max": 4},
)
EXAMPLES = (
    {"packs": list(PACKS), "chargers": list(CHARGERS), "supply_rating": "180 W",
     "start": "2026-04-18T10:00 Europe/Berlin"},
    {
        "packs": [PACKS[3], PACKS[4], PACKS[5]],
        "chargers": [CHARGERS[1]],
        "source": {"chemistry": "lead", "cells": 6, "capacity": "38 Ah", "cell_resistance": "2.2 mΩ"},
        "input_floor": "11 V",
        "by_hand": "30 min",
    },
)  # fmt: skip
SPOKEN = 12
"""So many charges at most are read aloud one by one."""
SLACK = 1e-9


def depth_of(source: Any) -> float | None:
    """How far the source is used by habit."""
    return sources.usual_depth(source, None)


def peukert_of(source: Any) -> float | None:
    """The worst published exponent, for a lead-acid source of which none is told."""
    return sources.usual_peukert(source, None)


def hours_of(source: Any) -> float | None:
    """The usual rated hours, for a lead-acid source of which none are told."""
    return sources.usual_hours(source, None)


def loss_is_of_lead(given: set[str], source: Any) -> Iterator[FieldError]:
    """Peukert's exponent is told once, and of a lead-acid source."""
    yield from sources.loss_goes_with_lead(given, source, None)


RULES = (OneOf("supply_rating", "source", required=True, asked="What feeds the chargers?"),)
CHECKS = (start_is_read, loss_is_of_lead)


@dataclass(frozen=True, slots=True)
class PlannedCharge:
    """One charge of the plan."""

    pack: Annotated[str, Text("The pack's name; equal ones are numbered.")]
    charger: Annotated[str, Text("The charger's name; equal ones are numbered.")]
    output: Annotated[int, Count("Which of the charger's outputs, from 1.")]
    begin: Annotated[float, Quantity("min", "When the charge begins, from the start.")]
    end: Annotated[float, Quantity("min", "When it ends, by the model.", spoken="up")]
    current: Annotated[float, Quantity("A", "Current to set.", spoken="down")]
    supply_power: Annotated[float, Quantity("W", "The most that this charge draws from the supply.", spoken="up")]


@dataclass(frozen=True, slots=True)
class LatePack:
    """A pack that may not be ready when it is needed."""

    pack: Annotated[str, Text("The pack's name.")]
    need_by: Annotated[float, Quantity("min", "When it is needed.")]
    late_by: Annotated[
        float,
        Quantity("min", "By how much it may come later, if it and those before it take long.", spoken="up"),
    ]


@dataclass(frozen=True, slots=True)
class UnservedPack:
    """A pack that is left uncharged, and why."""

    pack: Annotated[str, Text("The pack's name.")]
    why: Annotated[str, Text("Why not.", longest=400)]


@dataclass(frozen=True)
class Session:
    """What an answer rests on."""

    asked: Sequence[Asked]
    chargers: Sequence[Charger]
    called: Sequence[str]
    """The chargers' names."""
    bench: Bench
    plan: Plan
    idle: float
    """What the chargers draw for themselves, W."""
    most: float
    """The power that may be drawn, W; 0 where a battery tells that."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeSession:
    finish: Annotated[
        float | None,
        Quantity("min", "When the last charge ends, by the model; none where nothing is charged.", spoken="up"),
    ]
    bound: Annotated[
        float | None,
        Quantity("min", "Proven: no plan for these packs ends earlier; none where nothing is charged.", spoken="down"),
    ]
    finish_to_bound: Annotated[
        float | None, Number("The finish divided by the bound: 1 is the best that there can be.", spoken="up")
    ]
    plan: Annotated[list[PlannedCharge], Items("What goes where and when, in the order of its begin.")]
    late: Annotated[list[LatePack], Items("Packs that may not be ready by the time they are needed.")]
    unserved: Annotated[list[UnservedPack], Items("Packs that are not charged, and why.")]
    peak_power: Annotated[float, Quantity("W", "The most drawn from the supply at any instant.", spoken="up")]
    supply_energy: Annotated[float, Quantity("Wh", "Energy drawn from the supply in the whole session.", spoken="up")]
    supply_needed: Annotated[
        float | None,
        Quantity(
            "W",
            "Rating of a supply with which no pack is late, headroom included; none where none helps, or nothing is "
            "charged.",
            spoken="up",
        ),
    ]
    _session: Session


def charge_session(
    *,
    packs: Annotated[
        list[SessionPack], Items("The packs to be charged.", example=EXAMPLES[0]["packs"], most=MOST_PACKS)
    ],
    chargers: Annotated[list[Charger], Items("The chargers, each with its outputs.", example=EXAMPLES[0]["chargers"])],
    supply_rating: Annotated[
        float | None,
        Quantity("W", "Rated power of the supply.", above=0, at_most=MOST_POWER, example="180 W"),
    ] = None,
    source: Annotated[
        FieldSource | None, Nested("The battery at the field, instead of a supply.", example=EXAMPLES[1]["source"])
    ] = None,
    headroom: Headroom = 0.1,
    depth: Annotated[
        float | None,
        Fraction("Part of the source's capacity that may be used, from full.", above=0, at_most=1, example=0.5),
    ] = derived(depth_of, "0.5 for lead-acid, 0.8 for lithium"),
    input_floor: Annotated[
        float | None,
        Quantity("V", "Lowest input voltage that the chargers accept.", at_least=0, at_most="1 kV", example="11 V"),
    ] = None,
    lead_resistance: LeadResistance = 0.0,
    peukert: Peukert = derived(peukert_of, "1.25 for lead-acid, the safe side"),
    rated_hours: RatedHours = derived(hours_of, "20 for lead-acid"),
    swap_time: Annotated[
        float,
        Quantity(
            "min", "A person's time to change the pack on an output.", at_least=0, at_most="120 min", example="2 min"
        ),
    ] = 120.0,
    watch_limit: Annotated[
        int, Count("Packs charging at once that one person can watch.", at_least=1, at_most=64, example=4)
    ] = 4,
    ambient: Annotated[
        float, Quantity("°C", "Temperature of the air.", at_least="-30 °C", at_most="70 °C", example="13 °C")
    ] = ROOM,
    start: Annotated[
        str | None,
        Text(
            "When the session starts, as the clock shows it (ISO 8601); an offset or a zone's name may follow.",
            example="2026-04-18T10:00 Europe/Berlin",
            longest=60,
        ),
    ] = None,
    by_hand: Annotated[
        float | Floats | None,
        Quantity(
            "min",
            "When somebody is there to swap packs: a list of times from the start, or one time, every so often.",
            above=0,
            at_most="10000 min",
            example="30 min",
        ),
    ] = None,
) -> ChargeSession:
    """Which pack is charged where, at what current and in what order, so that all are done soonest.

    A charge draws P(t) = V(t) * i(t) / efficiency from the supply, along the exact curve of constant current and
    constant voltage, so that others go on where its curve leaves room, and not where its peak would. At every instant

        sum of P(t) + the chargers' idle power <= (1 - headroom) * rating            (1)

    and no charger's output, no pack and no person gets more than they may. In place of the rating a source gives what
    its voltage, floor and depth allow, with Peukert's loss.

    First packs lie on the chargers before the start. Each later one takes a person ``swap_time`` on the output, one
    after the other; where ``by_hand`` is given, from when somebody comes. A hot pack cools first. A pack is in time if
    it is done by ``need_by`` even if it, and those before it on its output, take as long as charge-current's band
    allows. Idle power counts from the start to the finish for every charger that takes one of these packs.

    The plan is searched for, with a number of trials that follows from the number of packs alone: in time first, then
    the soonest finish. ``bound`` is proven, whatever the plan.
    """
    called = numbered([pack.name for pack in packs], "pack")
    tell = asked(packs, called, ambient)
    banks, kinds = banks_of(chargers)
    ways = Ways(tell, kinds)
    idle = sum(
        charger.idle_power
        for charger in chargers
        if any(charger.takes(entry.pack.size) for entry in tell if entry.why is None)
    )
    visits = None
    if by_hand is not None:
        listed_ = isinstance(by_hand, np.ndarray)
        visits = Visits(moments=tuple(np.sort(by_hand).tolist())) if listed_ else Visits(every=float(by_hand))
    most = 0.0 if supply_rating is None else supply_rating * (1.0 - headroom) - idle
    bench = Bench(banks, max(most, 0.0), swap_time, watch_limit, visits)
    why: dict[int, str] = {}

    def tasks_at(power: float) -> list[Task]:
        tasks, others = ways.tasks(power)
        why.update(others)
        return tasks

    if source is None:
        plan = planned(tasks_at(most), bench)
    else:
        battery = SourceLimits(
            source, depth or 0.0, input_floor or 0.0, lead_resistance, exponent(source, peukert),
            next((hours for hours in (source.rated_hours, rated_hours) if hours is not None), RATED_HOURS),
        )  # fmt: skip
        sound = source.condition == "sound"
        plan = planned_from(battery, tasks_at, bench, idle) if sound else planned([], bench)
    session = Session(
        tell, chargers, numbered([charger.name for charger in chargers], "charger"), bench, plan, idle, most
    )
    unserved = left_out(session, why, source)
    needed = None
    if plan.placed:
        drawn = plan.peak if not plan.late else power_in_time(tasks_at, bench)
        needed = None if drawn is None else (drawn + idle) / (1.0 - headroom)
    bound = min(plan.bound, plan.finish) if plan.placed else None
    return ChargeSession(
        finish=plan.finish if plan.placed else None,
        bound=bound,
        finish_to_bound=plan.finish / bound if bound else None,
        plan=[charge_of(entry, session) for entry in plan.placed],
        late=[LatePack(called[e.task.place], e.task.need_by, e.lateness) for e in plan.late],
        unserved=[UnservedPack(called[place], unserved[place]) for place in sorted(unserved)],
        peak_power=plan.peak + idle if plan.placed else 0.0,
        supply_energy=plan.energy + idle * plan.finish,
        supply_needed=needed,
        _session=session,
    )


def charge_of(entry: Placed, session: Session) -> PlannedCharge:
    """A charge as the answer tells it."""
    charger, output = session.bench.banks[entry.bank].outputs[entry.output]
    return PlannedCharge(
        pack=session.asked[entry.task.place].name,
        charger=session.called[charger],
        output=output + 1,
        begin=entry.begin,
        end=entry.end,
        current=entry.way.current,
        supply_power=entry.way.highest,
    )


def left_out(session: Session, why: Mapping[int, str], source: FieldSource | None) -> dict[int, str]:
    """Why packs are not charged, by their places."""
    done = {entry.task.place for entry in session.plan.placed}
    hands = "nobody is there to put it on"
    sound = source is None or source.condition == "sound"
    rest = "the source does not hold enough for it"
    if source is not None and not sound:
        rest = f"the source {body_words(source.condition)}"
    at_hand = {task.place for task in session.plan.left_out}
    return {
        entry.place: entry.why or (hands if entry.place in at_hand else why.get(entry.place, rest) if sound else rest)
        for entry in session.asked
        if entry.place not in done
    }


def sentence(answer: ChargeSession, *, start: str | None, bands: Mapping[str, Band]) -> str:
    """The answer as spoken: the order, when all is done, and what is late or left out."""
    session = answer._session
    told = [f"{entry.pack}, since {entry.why}" for entry in answer.unserved]
    missing = f"{'; '.join(told[:SPOKEN])}{further(len(told) - SPOKEN, 'pack')}"
    if not answer.plan:
        return f"Nothing is charged: {missing}."
    shown = None if start is None else clock(start)
    first = [entry for entry in answer.plan if entry.begin == 0]
    later = [entry for entry in answer.plan if entry.begin > 0]
    order = [f"first {listed([on(entry, session) for entry in first[:SPOKEN]])}"] if first else []
    order += [f"{at(entry.begin, shown)} {on(entry, session)}" for entry in later[: max(SPOKEN - len(first), 1)]]
    more = len(answer.plan) - min(len(first), SPOKEN) - min(len(later), max(SPOKEN - len(first), 1))
    band = bands["finish"]
    done = f"The last is done {within(band, shown)}"
    if answer.late:
        late = [f"{the(entry.pack)} may be late by {duration(entry.late_by, 'up')}" for entry in answer.late]
        done += f", and {listed(late[:SPOKEN])}{further(len(late) - SPOKEN, 'pack')}"
    said = f"{'; '.join(order)}{further(more, 'charge')}."
    return sentences(capitalised(said), f"{done}{f'; not charged: {missing}' if told else ''}.")


def on(entry: PlannedCharge, session: Session) -> str:
    """A pack on its charger: ``the grey tug on the left charger at 4.9 amperes``."""
    charger = session.chargers[session.called.index(entry.charger)]
    called = entry.charger if "charger" in entry.charger.lower() else f"the {entry.charger} charger"
    if charger.outputs > 1:
        called = f"output {entry.output} of {called}"
    return f"{the(entry.pack)} on {called} at {amperes_to_set(entry.current)}"


def the(name: str) -> str:
    """A pack's name with its article, where it takes one."""
    return name if name.lower().startswith(("the ", "pack ")) else f"the {name}"


def at(begin: float, shown: Clock | None) -> str:
    """When somebody is to swap."""
    return f"swap at {shown.words(begin)} to" if shown else f"after {duration(begin)}"


def within(band: Band, shown: Clock | None) -> str:
    """When all is done, by the band of the finish."""
    if shown is None:
        return f"in {between(band.low, band.high)}".replace("in up to", "within")
    return f"between {shown.words(band.low)} and {shown.words(band.high)}"


def further(more: int, noun: str) -> str:
    """How many are not read aloud."""
    return f"; and {count(more, f'further {noun}')}" if more > 0 else ""


def accuracy(answer: ChargeSession) -> Iterator[Band]:
    """When a real session ends."""
    plan = answer._session.plan
    if plan.placed:
        basis = (
            "0.95 of the model's time, to the time if every charge takes as long as charge-current's band allows; "
            "this project's own judgement"
        )
        yield Band("finish", error("charge time")[0] * plan.finish, max(entry.latest for entry in plan.placed), basis)


OWN_CAUTIONS: Table = {
    # Phoenix and Seattle Fire Departments: not unattended, not overnight, not while asleep (retrieved).
    "not-overnight": (
        "danger",
        "Stay with the packs from the first to the last, and never charge overnight or asleep: stop the session when "
        "you leave.",
    ),
    # This project's own judgement.
    "watch-limit": (
        "warning",
        "No more than {limit} charge at once, as many as one person can watch: {idle} left idle.",
    ),
    "watched-many": (
        "warning",
        "Up to {size} charge at once, more than one person can well watch: have a second one there.",
    ),
    "cool-first": (
        "warning",
        "Hot from use: let {packs} lie in the open, uncovered, and begin after {begin} at the earliest.",
    ),
    "nobody-there": (
        "danger",
        "You told when somebody is there to swap. Somebody must be with the packs all the time between, too.",
    ),
    "in-doubt-apart": (
        "warning",
        "Keep packs that are left out apart from those on charge, and do not put them on when an output is idle.",
    ),
    "finish-late": (
        "warning",
        "A pack may not be ready when it is needed: begin earlier, leave others out, or do without it.",
    ),
}
caution = shared.beside(OWN_CAUTIONS, standing={"not-overnight"})
USUAL_WATCH = 4


def cautions(
    answer: ChargeSession, *, source: FieldSource | None, watch_limit: int, by_hand: Any, given: frozenset[str]
) -> Iterator[Caution]:
    """What to heed, the reason for a refusal first."""
    session = answer._session
    if source is not None and source.condition != "sound":
        yield caution(source.condition)
    yield from of_packs([(each.name, [*each.verdict.cautions, *spread_cautions(each.pack)]) for each in session.asked])
    if any(entry.why for entry in session.asked if entry.verdict.limited_by != "full"):
        yield caution("in-doubt-apart")
    hot = [entry for entry in session.asked if entry.cools > 0 and entry.why is None]
    for entry in hot:
        yield caution("cool-first", packs=entry.name, begin=duration(entry.cools, "up"))
    if answer.late:
        yield caution("finish-late")
    idle = session.bench.outputs - session.bench.watched
    if idle > 0 and len(answer.plan) > watch_limit:
        left = "one output is" if idle == 1 else f"{count(idle, 'output')} are"
        yield caution("watch-limit", limit=count(watch_limit, "pack"), idle=left)
    if (most := most_at_once(session.plan)) > USUAL_WATCH:
        yield caution("watched-many", size=count(most, "pack"))
    if by_hand is not None and len(answer.plan) > 0:
        yield caution("nobody-there")
    yield caution("not-overnight")
    yield from charging()
    if source is not None:
        yield from overfull_cautions(source)
        if source.kind.kept_full:
            yield caution("lead-kept-full")
            if source.peukert is None and "peukert" not in given:
                yield caution("peukert-assumed")
    packs = [entry.pack for entry in session.asked]
    if any(not pack.curve.sourced for pack in packs):
        yield caution("extrapolated-curve")
    if any(pack.voltage_readings() is not None for pack in packs):
        yield caution("state-from-voltage")


def most_at_once(plan: Plan) -> int:
    """The most packs that ever charge at once."""
    changes = sorted([(e.begin, 1) for e in plan.placed] + [(e.end, -1) for e in plan.placed])
    most = now = 0
    for _, change in changes:
        now += change
        most = max(most, now)
    return most


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionTable:
    begin: Annotated[Floats, Quantity("min", "When to put it on, from the start.")]
    clock: Annotated[list[str | None], Text("The same as the clock shows it, where the start was told.")]
    pack: Annotated[list[str], Text("The pack's name.")]
    charger: Annotated[list[str], Text("The charger's name.")]
    output: Annotated[Floats, Count("Which of the charger's outputs, from 1.")]
    current: Annotated[Floats, Quantity("A", "Current to set.")]
    end: Annotated[Floats, Quantity("min", "When it ends, by the model.")]
    latest: Annotated[Floats, Quantity("min", "When it ends at the latest, by the band of its time.")]
    supply_power: Annotated[Floats, Quantity("W", "The most that it draws from the supply.")]


def curve(answer: ChargeSession, *, start: str | None) -> SessionTable:
    """The plan as a table to hang at the bench."""
    plan, shown = answer.plan, None if start is None else clock(start)
    return SessionTable(
        begin=np.array([entry.begin for entry in plan]),
        clock=[None if shown is None else shown.words(entry.begin) for entry in plan],
        pack=[entry.pack for entry in plan],
        charger=[entry.charger for entry in plan],
        output=np.array([entry.output for entry in plan]),
        current=np.array([entry.current for entry in plan]),
        end=np.array([entry.end for entry in plan]),
        latest=np.array([entry.latest for entry in answer._session.plan.placed]),
        supply_power=np.array([entry.supply_power for entry in plan]),
    )


def picture(answer: ChargeSession) -> Rows:
    """Who charges when, and the power drawn below."""
    session, plan = answer._session, answer._session.plan
    rows = [(charger, output) for bank in session.bench.banks for charger, output in bank.outputs]
    rows = sorted(row for row in rows if any(spot(entry, session) == row for entry in plan.placed))
    stretches = tuple(
        Stretch(rows.index(spot(entry, session)), entry.begin, entry.end, told.pack)
        for entry, told in zip(plan.placed, answer.plan, strict=True)
    )
    needs: dict[float, list[str]] = {}
    for entry in session.asked:
        if entry.pack.need_by is not None:
            needs.setdefault(entry.pack.need_by, []).append(entry.name)
    times = plan.width * np.arange(len(plan.power))
    steps = np.repeat(times, 2)[1:], np.repeat(plan.power + session.idle, 2)[:-1]
    limits = (
        (Limit(session.most + session.idle, f"supply {session.most + session.idle:.4g} W"),) if session.most else ()
    )
    several = [charger.outputs > 1 for charger in session.chargers]
    return Rows(
        title=f"{capitalised(count(len(answer.plan), 'pack'))} in {duration(answer.finish or 0.0, 'up')}",
        begin="begin",
        label="pack",
        rows=tuple(session.called[c] + (f", output {o + 1}" if several[c] else "") for c, o in rows),
        stretches=stretches,
        marks=tuple(Limit(time, f"{listed(names)} needed", upright=True) for time, names in sorted(needs.items())),
        below="supply_power",
        times=steps[0],
        values=steps[1],
        limits=limits,
    )


def spot(entry: Placed, session: Session) -> tuple[int, int]:
    """The charger and output of a charge."""
    return session.bench.banks[entry.bank].outputs[entry.output]

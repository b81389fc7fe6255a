"""Which packs of a box go together, in series or in parallel.

Over 300 lines, since a calculator is one file, with its cautions, its table and its picture.
"""

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations
from math import inf
from typing import Annotated, Any, ClassVar, Literal

import numpy as np

from ampstead.declare import (
    Caution,
    Choice,
    Count,
    Flag,
    Floats,
    Fraction,
    Items,
    Number,
    OneOf,
    Quantity,
    Text,
    derived,
)
from ampstead.errors import FieldError, clipped
from ampstead.inputs.pack import Capacity, Cells, Checks, Pack, cell_count, has_curve
from ampstead.inputs.shared import usual_charge_rate
from ampstead.judging.cautions import Table, charge_apart, of_packs, resistance_cautions
from ampstead.judging.cautions import caution as shared
from ampstead.judging.cells import least_at_rest
from ampstead.judging.charging import charge_verdict, state_cautions
from ampstead.judging.joining import enough_packs, given_of, names, one_chemistry, unfit
from ampstead.planning.grouping import Grouping, best_groups
from ampstead.sketch import Bars
from ampstead.words import (
    capitalised,
    count,
    listed,
    milliampere_hours,
    percent,
    sentences,
)

SOURCES = (
    "Packs in series carry one current, packs in parallel share it by the inverse of their resistances (OpenStax "
    "College Physics, ch. 21.1)",
    "The best grouping of few packs by trying every set of them once; compared with scipy's integer programming",
    "How much capacity, resistance and age count beside each other, and what is too unlike: this project's own "
    "judgement",
)
ASKED = "Which of my packs go together?"
WHEN = ("back home", 50)
MAIN = ("groups", "left_out")
MOST_ROWS = 64
EXAMPLES = (
    {
        "packs": [
            {"name": "red trainer A", "cells": 3, "capacity": "2250 mAh", "cell_resistance": "8.5 mΩ"},
            {"name": "red trainer B", "cells": 3, "capacity": "2250 mAh", "cell_resistance": "9 mΩ"},
            {"name": "red trainer C", "cells": 3, "capacity": "2250 mAh", "cell_resistance": "14 mΩ"},
            {"name": "blue aerobat A", "cells": 4, "capacity": "3700 mAh", "cell_resistance": "4.2 mΩ"},
            {"name": "blue aerobat B", "cells": 4, "capacity": "3700 mAh", "cell_resistance": "4.6 mΩ"},
        ],
        "use": "parallel",
    },
    {
        "packs": [
            {"cells": 3, "capacity": "2250 mAh", "cell_resistance": "8.5 mΩ", "cycles": 40},
            {"cells": 3, "capacity": "1980 mAh", "cell_resistance": "14 mΩ", "cycles": 210},
            {"cells": 3, "capacity": "2190 mAh", "cell_resistance": "9 mΩ", "cycles": 60},
            {"cells": 3, "capacity": "2010 mAh", "cell_resistance": "13 mΩ", "cycles": 190},
        ],
        "use": "series",
    },
)
MAIN_WEIGHT, OTHER_WEIGHT = 1.0, 0.25
PER_YEAR, PER_CYCLE = 0.02, 0.0004
"""Unlikeness of packs a year, and a cycle, apart. This project's own judgement, as are the weights."""
MOST_UNLIKE = 0.3
SPOKEN = 3
"""Groups that are named in a sentence."""
EVEN = 0.005
"""Of the current: shares as close as this are told as one."""
SLACK = 1e-9
MONTH = re.compile(r"(?P<year>(?:19|20)[0-9]{2})(?:-(?P<month>0[1-9]|1[0-2])(?:-[0-3][0-9])?)?")

Use = Literal["series", "parallel"]
Why = Literal["condition", "suspect-cell", "low-cell", "cell-count", "full", "too-unlike", "left-over"]
WHY_WORDS: dict[Why, tuple[str, str]] = {
    "condition": ("is not sound", "are not sound"),
    "suspect-cell": ("has a cell that stands out", "have a cell that stands out"),
    "low-cell": ("has a cell too low", "have a cell too low"),
    "cell-count": ("leaves its number of cells in doubt", "leave their number of cells in doubt"),
    "full": ("stands above its end of charge", "stand above their end of charge"),
    "too-unlike": ("is too unlike the others", "are too unlike the others"),
    "left-over": ("finds no partner", "find no partner"),
}
"""Of one pack, and of several."""


def month_of(bought: str) -> float | None:
    """A month as years, from ``2025`` or ``2025-03``; None where it is none."""
    found = MONTH.fullmatch(bought.strip())
    return None if found is None else int(found["year"]) + (int(found["month"] or 1) - 1) / 12


def bought_is_read(bought: str | None) -> Iterator[FieldError]:
    """A pack was bought in a month."""
    if bought is not None and month_of(bought) is None:
        said = f'bought is a year or a month like "2025-03"; {clipped(bought)} was read'
        yield FieldError("bought", "out_of_range", said)


def one_if_untold(
    cell_voltages: Floats | None, cell_resistance: Any, capacity: Any, rest_voltage: float | None
) -> int | None:
    """Number of cells, where a list with an entry per cell tells it; without any word of cells each pack is as one."""
    return cell_count(cell_voltages, cell_resistance, capacity) or (1 if rest_voltage is None else None)


def voltage_of_cells(rest_voltage: float | None, cells: int | None) -> Iterator[FieldError]:
    """A whole pack's voltage says nothing without its number of cells."""
    if rest_voltage is not None and cells is None:
        yield FieldError("cells", "missing", "cells is missing: rest_voltage needs it, like 3")


def slow_parts_are_of_cells(polarisation_resistance: Any, cells: int | None) -> Iterator[FieldError]:
    """A list of slow parts alone does not tell the number of cells."""
    if isinstance(polarisation_resistance, np.ndarray) and cells and len(polarisation_resistance) != cells:
        said = f"polarisation_resistance has {len(polarisation_resistance)} values for {cells} cells: give one per cell"
        for name in ("polarisation_resistance", "cells"):
            yield FieldError(name, "wrong_length", said)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxPack(Pack):
    """One of the packs in a box."""

    name: Annotated[str | None, Text("What to call the pack.", example="red trainer A")] = None
    cells: Cells = derived(one_if_untold, "told by a list with an entry per cell, else 1")
    capacity: Capacity = field()  # without a default, where a pack has one
    years: Annotated[float | None, Number("Its age in years.", at_least=0, at_most=100, example=2)] = None
    bought: Annotated[str | None, Text("When it was bought, instead of its age.", example="2025-03")] = None
    cycles: Annotated[float | None, Number("Flights it has made.", at_least=0, at_most=100_000, example=60)] = None

    RULES: ClassVar = (*Pack.RULES, OneOf("years", "bought", asked="How old is it?"))
    CHECKS: ClassVar[Checks] = (*Pack.CHECKS, has_curve, bought_is_read, voltage_of_cells, slow_parts_are_of_cells)

    @property
    def whole_resistance(self) -> float:
        """All cells', slow part too, ohm."""
        return float(np.sum(self.ohmic() + self.polarisation()))


CHECKS = (enough_packs, one_chemistry)


@dataclass(frozen=True, slots=True, kw_only=True)
class PackGroup:
    """Packs that go together."""

    packs: Annotated[list[int], Count("Their places in the list, from 1.")]
    names: Annotated[list[str], Text("What they are called.")]
    mismatch: Annotated[float, Fraction("How unlike they are: 0 where they are the same.", spoken="up")]
    charge_unused: Annotated[
        float, Quantity("mAh", "Charge that the larger packs keep when the smallest is empty; 0 in parallel.")
    ]
    shares: Annotated[
        Floats, Fraction("Part of the current that each carries by its resistance; in series each carries all of it.")
    ]
    hardest_load: Annotated[
        float,
        Number("How hard the hardest worked pack works for its capacity, over the mean of the group.", spoken="up"),
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A pack that goes with no other."""

    pack: Annotated[int, Count("Its place in the list, from 1.")]
    name: Annotated[str, Text("What it is called.")]
    why: Annotated[Why, Choice("Why it is left out.")]


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchPacks:
    groups: Annotated[list[PackGroup], Items("The groups, the most alike first.")]
    left_out: Annotated[list[LeftOut], Items("The packs that are in none.")]
    total_mismatch: Annotated[float, Number("Sum of the groups' mismatches, which is the least that can be.")]
    proven: Annotated[
        bool,
        Flag(
            "Whether no grouping can be better; else it is the best that was found.",
            yes="no grouping can be better",
            no="a better grouping may exist",
        ),
    ]
    _box: "Box"


def match_packs(
    *,
    packs: Annotated[
        list[BoxPack], Items("The packs in the box, of one chemistry.", example=EXAMPLES[1]["packs"], most=40)
    ],
    use: Annotated[Use, Choice("How the packs of a group are used together.", example="series")] = "series",
    size: Annotated[int, Count("Packs in a group.", at_least=2, at_most=6, example=2)] = 2,
    mismatch_limit: Annotated[
        float, Fraction("Mismatch above which packs are not put together.", above=0, at_most=1, example=0.3)
    ] = MOST_UNLIKE,
) -> MatchPacks:
    """Which packs of a box are used together, so that as many as can be are, and the least unlike.

    Within a group, with each spread the part by which the least figure is below the largest,

        series:    mismatch = spread(Q) + spread(R) / 4 + age                            (1)
        parallel:  mismatch = spread(R * Q) + spread(Q) / 4 + age                        (2)
        age = 0.02 a year + 0.02 for 50 flights between the oldest and the youngest      (3)

    In series the charge above the smallest pack's is never used; in parallel each carries the share 1 / R of the
    current, and those with the least R * Q work hardest for their size. R is of a pack's cells, slow part too, for
    series the mean of a cell. Packs of unlike numbers of cells never go in parallel, and those that are not sound or
    have a cell that stands out go nowhere. Up to 18 packs in pairs, 16 in threes and 14 in fours the best grouping is
    proven; beyond, neighbours by capacity (or R * Q) are exchanged two by two until nothing gets better.
    """
    box = Box(packs, use, size, mismatch_limit)
    groups = sorted((box.told(group) for group in box.grouping.groups), key=lambda group: group.mismatch)
    return MatchPacks(
        groups=groups,
        left_out=box.left_out(),
        total_mismatch=float(sum(group.mismatch for group in groups)),
        proven=box.grouping.proven,
        _box=box,
    )


def spread(values: Sequence[float]) -> float:
    """Part by which the least is below the largest."""
    return 1 - min(values) / max(values)


def too_low(pack: BoxPack) -> Why | None:
    """Why a pack whose cells all rest too low goes nowhere, be they told one by one or within its voltage."""
    readings = pack.voltage_readings()
    low = readings is not None and min(readings.tolist()) < least_at_rest(pack.kind) - SLACK
    return "low-cell" if low else None


def apart(values: Sequence[float | None]) -> float:
    """How far those that were told lie apart."""
    told = [value for value in values if value is not None]
    return max(told) - min(told) if told else 0.0


@dataclass(frozen=True)
class Box:
    """Packs and what they are for; those that are fit have places of their own, from 0."""

    packs: Sequence[BoxPack]
    use: Use
    size: int
    limit: float

    @cached_property
    def reasons(self) -> list[Why | None]:
        """Why a pack goes nowhere."""
        found: list[Why | None] = []
        for pack in self.packs:
            verdict = charge_verdict(pack, usual_charge_rate(pack.chemistry), beside_full=True)
            found.append(unfit(pack, verdict) or too_low(pack))  # type: ignore[arg-type]  # just those of Why
        return found

    @cached_property
    def fit(self) -> list[BoxPack]:
        return [pack for pack, why in zip(self.packs, self.reasons, strict=True) if why is None]

    @cached_property
    def places(self) -> list[int]:
        """Where the fit ones stand in the list, from 0."""
        return [place for place, why in enumerate(self.reasons) if why is None]

    def mismatch(self, group: Sequence[int]) -> float:
        """Eq. (1) to (3); infinite where they must not go together."""
        packs = [self.fit[place] for place in group]
        if self.use == "parallel" and len({pack.cells for pack in packs}) > 1:
            return inf
        charges = [pack.charge for pack in packs]
        if self.use == "series":
            unlike = MAIN_WEIGHT * spread(charges)
            unlike += OTHER_WEIGHT * spread([pack.whole_resistance / pack.size for pack in packs])
        else:
            unlike = MAIN_WEIGHT * spread([pack.whole_resistance * pack.charge for pack in packs])
            unlike += OTHER_WEIGHT * spread(charges)
        bought = [None if pack.bought is None else month_of(pack.bought) for pack in packs]
        years = max(apart([pack.years for pack in packs]), apart(bought))
        unlike += PER_YEAR * years + PER_CYCLE * apart([pack.cycles for pack in packs])
        return unlike if unlike <= self.limit + SLACK else inf

    @cached_property
    def grouping(self) -> Grouping:
        """The best there is, of the fit ones by their own places."""
        return best_groups(len(self.fit), self.size, self.mismatch, sorted(range(len(self.fit)), key=self.key))

    @property
    def key(self) -> Callable[[int], tuple[int, float]]:
        """What neighbours are alike in."""

        def figure(place: int) -> tuple[int, float]:
            pack = self.fit[place]
            if self.use == "series":
                return 0, pack.charge
            return pack.size, pack.charge * pack.whole_resistance

        return figure

    def told(self, group: Sequence[int]) -> PackGroup:
        """A group and what it means that its packs differ."""
        packs, places = [self.fit[place] for place in group], [self.places[place] for place in group]
        called, charges = names(self.packs), np.array([pack.charge for pack in packs])
        conductances = np.array([1 / pack.whole_resistance for pack in packs])
        series = self.use == "series"
        shares = np.ones(len(packs)) if series else conductances / np.sum(conductances)
        loads = shares / charges
        mean = 1 / np.mean(charges) if series else 1 / np.sum(charges)
        return PackGroup(
            packs=[place + 1 for place in places],
            names=[called[place] for place in places],
            mismatch=self.mismatch(group),
            charge_unused=float(np.sum(charges - np.min(charges))) if series else 0.0,
            shares=shares,
            hardest_load=float(np.max(loads) / mean),
        )

    def left_out(self) -> list[LeftOut]:
        """The packs in no group."""
        taken = {place for group in self.grouping.groups for place in group}
        alike = dict.fromkeys(range(len(self.fit)), 0)
        for one, other in combinations(range(len(self.fit)), 2):
            if self.mismatch((one, other)) < inf:
                alike[one] += 1
                alike[other] += 1
        why: dict[int, Why] = {place: reason for place, reason in enumerate(self.reasons) if reason is not None}
        for place in range(len(self.fit)):
            if place not in taken:
                lonely = alike[place] < self.size - 1 and len(self.fit) >= self.size
                why[self.places[place]] = "too-unlike" if lonely else "left-over"
        called = names(self.packs)
        return [LeftOut(pack=place + 1, name=called[place], why=why[place]) for place in sorted(why)]


def sentence(answer: MatchPacks, *, packs: list[BoxPack], use: Use) -> str:
    """The answer as spoken."""
    kind, out = packs[0].kind.words, answer.left_out
    if not answer.groups and len(out) == len(packs) and {one.why for one in out} == {"too-unlike"}:
        return f"These {kind} packs do not go together in {use}: they are too unlike each other."
    if not answer.groups:
        return f"These {kind} packs do not go together in {use}{': ' if out else ''}{left_out_words(out)}."
    said = [" with ".join(group.names) for group in answer.groups[:SPOKEN]]
    more = len(answer.groups) - SPOKEN
    if more > 0:
        said.append(count(more, "more group"))
    worst = answer.groups[-1]
    least = f"The least alike are {' with '.join(worst.names)}: " if len(answer.groups) > 1 else ""
    left = f"; {left_out_words(out)}" if out else ""
    if use == "series":
        unused = milliampere_hours(worst.charge_unused)
        costs = "" if unused.startswith("0 ") else f"{unused} of them are never used"
    else:
        place = int(np.argmax(worst.shares))
        even = float(np.ptp(worst.shares)) < EVEN
        most = f"{worst.names[place]} carries {percent(float(worst.shares[place]))} of the current"
        costs = "they share the current evenly" if even else most
    costs = costs if least else capitalised(costs)
    return sentences(
        f"Of these {kind} packs, for use in {use}, put together {listed(said)}{left}.",
        f"{least}{costs}." if costs else "",
        "" if answer.proven else "That is the best found, not proven to be the best there is.",
    )


def left_out_words(out: Sequence[LeftOut]) -> str:
    """Which packs are left out and why, those of one reason together; where there are many, only how many."""
    by_reason: dict[Why, list[str]] = {}
    for one in out:
        by_reason.setdefault(one.why, []).append(one.name)
    if len(out) > SPOKEN:
        by_reason = {why: [count(len(names), "pack")] for why, names in by_reason.items()}
    many = {why: sum(one.why == why for one in out) > 1 for why in by_reason}
    return "; ".join(f"{listed(names)} {WHY_WORDS[why][many[why]]}" for why, names in by_reason.items())


OWN_CAUTIONS: Table = {
    # This project's own judgement.
    "ask-before-joining": (
        "warning",
        "Packs that match still must stand alike when they are joined in parallel: measure them at rest, and ask first "
        "whether they may be joined.",
    ),
    "label-not-capacity": (
        "note",
        "Labels are not capacities: match packs by what they took back when they were last charged from empty, and by "
        "resistances measured on one day.",
    ),
    "resistance-half-told": (
        "warning",
        "Of some packs the resistance was measured and of others guessed: that compares nothing. Measure them all.",
    ),
}  # fmt: skip
caution = shared.beside(OWN_CAUTIONS, standing={"ask-before-joining", "label-not-capacity"})


def cautions(answer: MatchPacks, *, packs: list[BoxPack], use: Use, given: frozenset[str]) -> Iterator[Caution]:
    """What to heed."""
    yield from of_packs([(name, state_cautions(pack)) for name, pack in zip(names(packs), packs, strict=True)])
    told = [bool({"cell_resistance", "pack_resistance"} & given_of(given, place)) for place in range(len(packs))]
    if any(told) and not all(told):
        yield caution("resistance-half-told")
    for place, pack in enumerate(packs):
        yield from resistance_cautions(pack, given_of(given, place))
    if answer.groups:
        apart = charge_apart(packs[0].kind, max(pack.size for pack in packs))
        yield apart if use == "series" else caution("ask-before-joining")
    yield caution("label-not-capacity")


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupTable:
    group: Annotated[list[str], Text("The packs of a group.")]
    mismatch: Annotated[Floats, Fraction("How unlike they are.")]
    charge_unused: Annotated[Floats, Quantity("mAh", "Charge that the larger ones keep.")]
    hardest_load: Annotated[Floats, Number("How hard the hardest worked pack works, over the mean.")]


def curve(answer: MatchPacks) -> GroupTable:
    """The groups, one a row."""
    return GroupTable(
        group=[" + ".join(group.names) for group in answer.groups],
        mismatch=np.array([group.mismatch for group in answer.groups]),
        charge_unused=np.array([group.charge_unused for group in answer.groups]),
        hardest_load=np.array([group.hardest_load for group in answer.groups]),
    )


def picture(answer: MatchPacks, *, use: Use) -> Bars:
    """How unlike the packs of each group are."""
    said = [
        milliampere_hours(group.charge_unused) + " unused" if use == "series"
        else listed([percent(float(share)) for share in group.shares]) + " of the current"
        for group in answer.groups
    ]  # fmt: skip
    return Bars(
        title=f"Packs that go together in {use}",
        label="group",
        columns=("mismatch",),
        words=tuple(said),
    )

"""Capacity from what went back in.

Over 300 lines, since a calculator is one file, with its cautions, its curve and its picture.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np

from ampstead.cell.kinds.curves import state_difference_band
from ampstead.cell.limits.low_cells import low_cell_rate
from ampstead.declare import Band, Caution, Floats, Fraction, Group, Quantity, Text, derived
from ampstead.errors import FieldError
from ampstead.inputs.pack import ChemistryName, Pack, has_curve
from ampstead.inputs.shared import LARGEST_CAPACITY, readings_in_range
from ampstead.judging.cautions import Table, cells_unseen, worn_cautions
from ampstead.judging.cautions import caution as shared
from ampstead.judging.cells import taken_for_life, voltage_cautions
from ampstead.judging.doubts import error
from ampstead.judging.overfull import reading_cautions
from ampstead.sketch import Bars
from ampstead.words import capitalised, cells_named, milliampere_hours, percent, span

ASKED = "How much does this pack still hold?"
WHEN = ("back home", 20)
MAIN = ("measured_capacity", "capacity_left")
SOURCES = (
    "Charge is current times time (Lessons in Electric Circuits vol. I, battery ratings); capacity is the charge over "
    "the difference of the states before and after",
    "State of charge from resting voltage: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), "
    "US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured",
    "Band of the difference: seven published cells (lipo, liion), two (life); lihv and lead, and 5 millivolts of error "
    "in each cell's reading: this project's own judgement",
    "When a difference is too small to tell: this project's own judgement",
)
EXAMPLES = (
    {"charge_returned": "1480 mAh", "before": "11.31 V", "after": "12.57 V", "cells": 3, "capacity": "2250 mAh"},
    {"charge_returned": "2390 mAh", "before": "3.77 V,3.76 V,3.79 V,3.75 V", "after": "4.19 V,4.19 V,4.20 V,4.19 V"},
)

LEAST = 0.25
"""Difference of states below which nothing is told. This project's own judgement."""
PLENTY = 0.5
"""Difference of states below which the answer says how to do better. This project's own judgement."""
VAGUE = 0.5
"""Width of the band over the answer, from which on the readings hardly tell. This project's own judgement."""
SLACK = 1e-9

RestReading = float | Floats


def told_cells(before: Any, after: Any, capacity: Any) -> int | None:
    """Number of cells, where a list with an entry per cell tells it."""
    return next((len(values) for values in (before, after, capacity) if isinstance(values, np.ndarray)), None)


def readings_agree(
    given: set[str], cells: int | None, before: RestReading, after: RestReading, capacity: Any
) -> Iterator[FieldError]:
    """One voltage per cell in every list."""
    lists = {"before": before, "after": after, "capacity": capacity}
    lengths = {name: len(values) for name, values in lists.items() if isinstance(values, np.ndarray)}
    if "cells" in given and cells:
        lengths = {"cells": cells} | lengths
    # Where both readings are single, cells and a list of capacities are held together by the pack's own check.
    if len(set(lengths.values())) > 1 and {"before", "after"} & lengths.keys():
        said = " but ".join(f"{name} tells of {size} cells" for name, size in lengths.items())
        for name in lengths:
            yield FieldError(name, "wrong_length", f"{said}: give one value per cell")


def voltages_are_possible(
    chemistry: ChemistryName, cells: int | None, before: RestReading, after: RestReading
) -> Iterator[FieldError]:
    """Neither reading is above what a cell can have at rest."""
    yield from readings_in_range("before", chemistry, cells, before)
    yield from readings_in_range("after", chemistry, cells, after)


CHECKS = (has_curve, readings_agree, voltages_are_possible)


@dataclass(frozen=True, slots=True, kw_only=True)
class CapacityCheck:
    measured_capacity: Annotated[
        float | None,
        Quantity(
            "mAh", "Capacity of the smallest cell by these readings; none where its state rose by too little to tell."
        ),
    ]
    capacity_left: Annotated[
        float | None, Fraction("That over the label's capacity; none without either.", spoken="down")
    ]


def capacity_check(
    *,
    charge_returned: Annotated[
        float,
        Quantity("mAh", "Charge put in between the two readings.", above=0, at_most="200 Ah", example="1480 mAh"),
    ],
    before: Annotated[
        RestReading,
        Quantity(
            "V", "Resting voltage before the charge: of the pack, or of each cell.", at_least=0, example="11.31 V"
        ),
    ],
    after: Annotated[
        RestReading,
        Quantity("V", "Resting voltage after the charge: of the pack, or of each cell.", at_least=0, example="12.57 V"),
    ],
    pack: Annotated[
        Pack,
        Group(
            name="pack",
            only=("chemistry", "cells", "capacity"),
            require=("cells",),
            defaults={"cells": derived(told_cells, "told by a list with an entry per cell")},
        ),
    ],
) -> CapacityCheck:
    """The capacity that a charge between two resting voltages tells of.

    Both voltages are read as states on the chemistry's open-circuit curve, and the charge that lies between them is
    that part of the capacity:

        measured = min over the cells of q / (z(U_after) - z(U_before))    (1)
        left     = measured / label                                        (2)

    since every cell takes the same charge q and the pack has the capacity of its smallest cell. A pack's voltage is
    shared evenly among its cells; one that only a single cell can have is taken as that of each. Range: voltages at
    rest, lithium, of which every coulomb is stored. A small difference divides by little more than the readings' own
    error: below a quarter of the curve, or where published curves leave no upper end, nothing is told.
    """
    differences = state_differences(pack, before, after)
    largest = float(np.max(differences))
    measured = None if largest < LEAST - SLACK else charge_returned / largest  # Eq. (1)
    if measured is not None and edges(pack, charge_returned, before, after)[1] >= LARGEST_CAPACITY * (1 - SLACK):
        measured = None
    labelled = None if pack.capacity is None else float(np.min(pack.capacities()))
    return CapacityCheck(
        measured_capacity=measured,
        capacity_left=None if measured is None or labelled is None else measured / labelled,  # Eq. (2)
    )


def of_cells(pack: Pack, before: RestReading, after: RestReading) -> tuple[Floats, Floats]:
    """Both readings as one voltage per cell; a pack's voltage shared evenly, unless it was one cell's."""
    parts = 1 if of_one_cell(pack, before, after) else pack.size
    first, second = (
        reading if isinstance(reading, np.ndarray) else np.full(pack.size, reading / parts)
        for reading in (before, after)
    )
    return first, second


def of_one_cell(pack: Pack, before: RestReading, after: RestReading) -> bool:
    """Whether voltages told as single ones can only be a cell's: as the pack's they would be below an empty one's."""
    single = [reading for reading in (before, after) if not isinstance(reading, np.ndarray)]
    empty, full = float(pack.curve.voltages[0]), float(pack.curve.voltages[-1]) + pack.kind.full_margin
    return pack.size > 1 and bool(single) and all(empty <= reading <= full + SLACK for reading in single)


def state_differences(pack: Pack, before: RestReading, after: RestReading) -> Floats:
    """By how much the state of each cell rose."""
    first, second = of_cells(pack, before, after)
    risen: Floats = pack.curve.state(second) - pack.curve.state(first)
    return risen


def edges(pack: Pack, charge_returned: float, before: RestReading, after: RestReading) -> tuple[float, float]:
    """Least and most that the capacity may be: one curve reads both voltages, each wrong by a little."""
    place = int(np.argmax(state_differences(pack, before, after)))
    low, high = (float(reading[place]) for reading in of_cells(pack, before, after))
    under, over = error("rest reading beside")
    least, _ = state_difference_band(pack.chemistry, low + over, high + under)
    _, most = state_difference_band(pack.chemistry, low + under, high + over)
    stored = pack.kind.charge_efficiency * charge_returned
    return stored / most, LARGEST_CAPACITY if least * LARGEST_CAPACITY <= charge_returned else charge_returned / least


def sentence(
    answer: CapacityCheck, *, pack: Pack, before: RestReading, after: RestReading, bands: Mapping[str, Band]
) -> str:
    """The answer as spoken."""
    kind = pack.kind
    if answer.measured_capacity is None:
        part = float(np.max(state_differences(pack, before, after)))
        if part <= SLACK:
            return (
                f"No capacity of this {kind.words} pack can be told: the resting voltage did not rise between these "
                "readings. Check them, and whether they were swapped."
            )
        return f"These readings cannot tell the capacity of this {kind.words} pack."
    band = bands["measured_capacity"]
    about = f"about {milliampere_hours(answer.measured_capacity)}"
    likely = span(band.low, band.high, milliampere_hours)
    each = "Those voltages taken as of each cell, " if of_one_cell(pack, before, after) else ""
    if vague(answer, bands):
        curve = f"{about} by the curve of {kind.words} cells, but it may be {likely}"
        return capitalised(f"{each}these readings hardly tell: {curve}.")
    said = capitalised(f"{each}this {kind.words} pack holds {about}, likely {likely}")
    return (
        f"{said}."
        if answer.capacity_left is None
        else f"{said}; that is {percent(answer.capacity_left, 'down')} of its label."
    )


def vague(answer: CapacityCheck, bands: Mapping[str, Band]) -> bool:
    """Whether the readings hardly tell."""
    if answer.measured_capacity is None:
        return True
    band = bands["measured_capacity"]
    return band.high - band.low > VAGUE * answer.measured_capacity


OWN_CAUTIONS: Table = {
    "small-difference": (
        "warning",
        "The charge went over {part} of the curve only: use the pack down to a fifth, let it rest, charge it full, let "
        "it rest again, and ask with those readings.",
    ),
    "curves-disagree": (
        "warning",
        "Published curves of like cells disagree much on the voltage where this charge began: surer is a counted, "
        "watched discharge from full to the floor.",
    ),
    "more-than-label": (
        "warning",
        "That is more than the label says: check the readings and the charger's count; charge bled off in balancing "
        "counts as well.",
    ),
    # Charge efficiency of lead-acid about 0.85: common practice, no published source.
    "lead-returned": (
        "note",
        "A lead-acid battery takes in more than it stores, about a sixth more: the low end of the band counts that.",
    ),
}
caution = shared.beside(OWN_CAUTIONS)


def cautions(
    answer: CapacityCheck, *, pack: Pack, before: RestReading, after: RestReading, bands: Mapping[str, Band]
) -> Iterator[Caution]:
    """What to heed."""
    part = float(np.max(state_differences(pack, before, after)))
    if SLACK < part < PLENTY - SLACK:
        yield caution("small-difference", part=percent(part))
    elif part > SLACK and vague(answer, bands):
        yield caution("curves-disagree")
    if answer.capacity_left is not None and bands["capacity_left"].low > 1 + SLACK:
        yield caution("more-than-label")
    yield from taken_for_life(pack.kind, np.concatenate(of_cells(pack, before, after)))
    first, last = of_cells(pack, before, after)
    yield from reading_cautions(pack.kind, float(np.max(last)), whole=not isinstance(after, np.ndarray))
    if low_cell_rate(pack.kind, first) == 0:
        yield caution("dead-cell")
    if isinstance(after, np.ndarray):
        yield from voltage_cautions(pack.kind, after)
    yield caution("never-alone")
    yield caution("papers")
    yield from worn_cautions(answer.capacity_left)
    yield caution("rest-first")
    if not isinstance(before, np.ndarray) and pack.size > 1:
        yield cells_unseen(pack.kind)
    if pack.kind.charge_efficiency < 1:
        yield caution("lead-returned")
    yield caution("flat-curve" if pack.kind.flat_curve else "state-from-voltage")
    if not pack.curve.sourced:
        yield caution("extrapolated-curve")


def accuracy(
    answer: CapacityCheck, *, pack: Pack, charge_returned: float, before: RestReading, after: RestReading
) -> Iterator[Band]:
    """How sure the capacity is."""
    if answer.measured_capacity is None:
        return
    low, high = edges(pack, charge_returned, before, after)
    high = max(high, answer.measured_capacity)
    basis = (
        "how far published curves of like cells disagree on both voltages, and 5 millivolts of error in each cell's "
        "reading (this project's own judgement)"
    )
    yield Band("measured_capacity", low, high, basis)
    if answer.capacity_left is not None:
        label = float(np.min(pack.capacities()))
        yield Band("capacity_left", low / label, high / label, basis)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeTable:
    cell: Annotated[list[str], Text("Which cell; one row for all where only the pack was read.")]
    before: Annotated[Floats, Quantity("V", "Its resting voltage before.", label="resting voltage before the charge")]
    after: Annotated[Floats, Quantity("V", "Its resting voltage after.", label="resting voltage after the charge")]
    state_before: Annotated[Floats, Fraction("State of charge before.")]
    state_after: Annotated[Floats, Fraction("State of charge after.")]


def curve(answer: CapacityCheck, *, pack: Pack, before: RestReading, after: RestReading) -> ChargeTable:
    """The cells, one a row."""
    alike = not (isinstance(before, np.ndarray) or isinstance(after, np.ndarray))
    rows = 1 if alike else pack.size
    first, second = (reading[:rows] for reading in of_cells(pack, before, after))
    return ChargeTable(
        cell=cells_named(None if alike else rows),
        before=first,
        after=second,
        state_before=pack.curve.state(first),
        state_after=pack.curve.state(second),
    )


def picture(answer: CapacityCheck, *, pack: Pack, before: RestReading, after: RestReading) -> Bars:
    """What each cell had before, in what it had after."""
    table = curve(answer, pack=pack, before=before, after=after)
    return Bars(
        title="Charge before and after",
        label="cell",
        columns=("state_before", "state_after"),
        quantity="state_of_charge",
        words=tuple(f"{low:.3f} to {high:.3f} V" for low, high in zip(table.before, table.after, strict=True)),
    )

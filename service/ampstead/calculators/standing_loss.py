"""Which cell empties itself.

Over 300 lines, since a calculator is one file, with its cautions, its curve and its picture.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from statistics import median
from typing import Annotated, Literal

import numpy as np

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.one.self_discharge import DAY, beyond_fellows, days_until, losses
from ampstead.declare import Band, Caution, Choice, Count, Floats, Number, Quantity
from ampstead.errors import FieldError
from ampstead.inputs.pack import ChemistryInput, ChemistryName, cells_in_range, has_curve
from ampstead.inputs.shared import MeterResolution, readings_in_range
from ampstead.judging.cautions import Table
from ampstead.judging.cautions import caution as shared
from ampstead.judging.cells import cells_said, taken_for_life, voltage_cautions
from ampstead.judging.overfull import reading_cautions
from ampstead.sketch import Bars, Limit
from ampstead.words import days as spoken_days
from ampstead.words import milliampere_hours, millivolts, sentences, volts

ASKED = "Does one of these cells empty itself?"
WHEN = ("back home", 40)
MAIN = ("verdict", "loss_per_day")
SOURCES = (
    "One cell that falls alone is the best sign of a bad pack: common practice, no published source",
    "Resting floors: common practice, no published source",
    "State of charge from resting voltage: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), "
    "US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured",
    "Each cell is held against the median of the others; thresholds: this project's own judgement",
)
EXAMPLES = (
    {"first_cell_voltages": "3.86,3.86,3.85 V", "second_cell_voltages": "3.85,3.85,3.78 V", "days": 17},
    {
        "first_cell_voltages": "3.842,3.841,3.843,3.840 V",
        "second_cell_voltages": "3.837,3.836,3.839,3.835 V",
        "days": 35,
        "capacity": "3700 mAh",
        "meter_resolution": "1 mV",
    },
)

Verdict = Literal["steady", "watch", "retire"]
ORDER: tuple[Verdict, ...] = ("steady", "watch", "retire")


@dataclass(frozen=True, slots=True)
class Threshold:
    """From where on a loss is to be watched, and from where on the pack is retired; both in V/s."""

    watch: float
    retire: float
    readings: tuple[float, float]
    """How many steps of the meter the fall must exceed as well, for each."""


# All of this project's own judgement. On a lipo cell at rest, 3 mV a day are about a quarter of the charge a month.
THRESHOLDS = {
    "beyond its fellows": Threshold(1e-3 / DAY, 3e-3 / DAY, (1.0, 2.0)),
    "all alike": Threshold(5e-3 / DAY, float("inf"), (2.0, 2.0)),
}
ALIKE = 1e-4
"""V a day: losses as close as this are told as one."""
LEAST_TOLD = 1.8
"""C, half a milliampere hour: a lesser loss is not worth a figure."""
SLACK = 1e-9


def lists_agree(first_cell_voltages: Floats, second_cell_voltages: Floats) -> Iterator[FieldError]:
    """Two readings of the same cells."""
    sizes = len(first_cell_voltages), len(second_cell_voltages)
    if sizes[0] != sizes[1]:
        said = (
            f"first_cell_voltages has {sizes[0]} values but second_cell_voltages has {sizes[1]}: give each cell's "
            "voltage in both"
        )
        for name in ("first_cell_voltages", "second_cell_voltages"):
            yield FieldError(name, "wrong_length", said)


def cells_are_possible(
    chemistry: ChemistryName, first_cell_voltages: Floats, second_cell_voltages: Floats
) -> Iterator[FieldError]:
    """No more cells, and none higher, than a pack can have."""
    for name, values in (("first_cell_voltages", first_cell_voltages), ("second_cell_voltages", second_cell_voltages)):
        for fault in cells_in_range(chemistry, len(values)):
            yield FieldError(name, "wrong_length", fault.message.replace("cells must be", "its cells must be"))
        yield from readings_in_range(name, chemistry, len(values), values)


CHECKS = (has_curve, lists_agree, cells_are_possible)


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingLoss:
    loss_per_day: Annotated[
        Floats, Quantity("mV/day", "What each cell loses a day; below zero where it rose.", spoken="up")
    ]
    worst_cell: Annotated[int, Count("Cell that loses most, from 1.")]
    verdict: Annotated[Verdict, Choice("Steady, to be watched, or to be retired.")]
    days_to_floor: Annotated[
        float | None,
        Number(
            "Days from the second reading until the first cell meets its resting floor at its rate; 0 where one is "
            "there, none where none falls.",
            spoken="down",
        ),
    ]
    charge_lost: Annotated[
        Floats | None,
        Quantity("mAh", "Charge that each cell lost in all, by the chemistry's own curve; none without the capacity."),
    ]


def standing_loss(
    *,
    first_cell_voltages: Annotated[
        Floats,
        Quantity("V", "Voltage of each cell at rest, to begin with.", at_least=0, example="3.86,3.86,3.85 V"),
    ],
    second_cell_voltages: Annotated[
        Floats,
        Quantity("V", "Voltage of each cell after some days of standing.", at_least=0, example="3.85,3.85,3.78 V"),
    ],
    days: Annotated[float, Number("Days between the two readings.", at_least=0.01, at_most=3660, example=17)],
    chemistry: ChemistryInput = "lipo",
    capacity: Annotated[
        float | None,
        Quantity("mAh", "Capacity of the pack.", at_least="10 mAh", at_most="200 Ah", example="3700 mAh"),
    ] = None,
    meter_resolution: MeterResolution = 0.01,
) -> StandingLoss:
    """What the cells of a standing pack lose, and whether one of them empties itself.

        loss_j   = (U_first_j - U_second_j) / time              (1)
        beyond_j = loss_j - median of the others' losses        (2)
        days     = min((U_second_j - floor) / loss_j)           (3)

    Every cell loses a little, and the more the warmer and the fuller it stands; a cell that falls alone has a fault
    inside. Eq. (2) decides, with the thresholds of ``THRESHOLDS``, where the fall is also more than the meter's steps
    can feign. Eq. (3) goes on at the same volts a day, to the chemistry's resting floor. Range: both readings at rest
    and at like temperature. Where the curve is flat a small fall is much charge.
    """
    loss = losses(first_cell_voltages, second_cell_voltages, days)  # Eq. (1)
    floor = CHEMISTRIES[chemistry].rest_floor
    assert floor is not None
    return StandingLoss(
        loss_per_day=loss,
        worst_cell=int(np.argmax(loss)) + 1,
        verdict=judged(loss, second_cell_voltages, days, chemistry, meter_resolution),
        days_to_floor=days_until(second_cell_voltages, loss, floor),  # Eq. (3)
        charge_lost=charges(first_cell_voltages, second_cell_voltages, chemistry, capacity),
    )


def graded(name: str, loss: float, days: float, meter_resolution: float) -> Verdict:
    """The verdict on one loss, V/s."""
    threshold, fall = THRESHOLDS[name], loss * days * DAY
    watch, retire = (steps * meter_resolution for steps in threshold.readings)
    if loss >= threshold.retire * (1 - SLACK) and fall > retire + SLACK:
        return "retire"
    return "watch" if loss >= threshold.watch * (1 - SLACK) and fall > watch + SLACK else "steady"


def judged(loss: Floats, voltages: Floats, days: float, chemistry: ChemistryName, meter_resolution: float) -> Verdict:
    """The gravest verdict on any cell (this project's own judgement)."""
    kind, beyond = CHEMISTRIES[chemistry], beyond_fellows(loss)  # Eq. (2)
    found = [graded("beyond its fellows", float(np.max(beyond)), days, meter_resolution)]
    found.append(graded("all alike", median(loss.tolist()), days, meter_resolution))
    lowest = float(np.min(voltages))
    if kind.dead_cell is not None and lowest < kind.dead_cell - SLACK:
        found.append("retire")
    elif kind.rest_floor is not None and lowest < kind.rest_floor - SLACK:
        found.append("watch")
    return max(found, key=ORDER.index)


def sentence(
    answer: StandingLoss,
    *,
    second_cell_voltages: Floats,
    chemistry: ChemistryName,
) -> str:
    """The answer as spoken."""
    kind, size = CHEMISTRIES[chemistry], len(answer.loss_per_day)
    worst = answer.worst_cell - 1
    loss = float(answer.loss_per_day[worst])
    fall = f"{millivolts(loss * DAY, 'up')} a day"
    charge = 0.0 if answer.charge_lost is None else float(answer.charge_lost[worst])
    gone = f", {milliampere_hours(charge)} in all" if charge >= LEAST_TOLD else ""
    others = loss if size == 1 else float(np.max(np.delete(answer.loss_per_day, worst)))
    apart = loss - float(np.min(answer.loss_per_day))
    rose = [place for place, lost in enumerate(answer.loss_per_day.tolist(), 1) if (loss - lost) * DAY > ALIKE]
    if loss <= 0 and len(rose) == size - 1 > 0:
        found = f"its other cells rose more than cell {answer.worst_cell}"
    elif loss <= 0:
        which = f", and {cells_said(rose, size)} rose" if rose else ""
        found = f"none of its cells fell{which} between the readings"
    elif apart * DAY <= ALIKE:
        found = f"its cell loses {fall}{gone}" if size == 1 else f"its cells lose up to {fall} each{gone}"
    else:
        beside = "nothing" if others <= 0 else f"at most {millivolts(others * DAY, 'up')} a day"
        found = f"cell {answer.worst_cell} loses {fall}{gone}, the others {beside}"
    verdict = {"steady": "Nothing stands out in", "watch": "Watch", "retire": "Retire"}[answer.verdict]
    lowest = int(np.argmin(second_cell_voltages))
    assert kind.rest_floor is not None
    floor = f"the resting floor of {volts(kind.rest_floor)}"
    last = None
    if answer.days_to_floor == 0:
        where = "below" if kind.rest_floor - float(second_cell_voltages[lowest]) > SLACK else "at"
        last = f"Cell {lowest + 1} stands at {volts(float(second_cell_voltages[lowest]))}, {where} {floor}."
    elif answer.days_to_floor is not None:
        last = f"At this rate a cell meets {floor} in about {spoken_days(answer.days_to_floor, 'down')}."
    return sentences(f"{verdict} this {kind.words} pack: {found}.", last)


def charges(first: Floats, second: Floats, chemistry: ChemistryName, capacity: float | None) -> Floats | None:
    """What each cell lost by the chemistry's own curve, C; None without the capacity."""
    curve = CHEMISTRIES[chemistry].curve
    assert curve is not None
    return None if capacity is None else np.asarray((curve.state(first) - curve.state(second)) * capacity)


OWN_CAUTIONS: Table = {
    # USFA and Seattle Fire Department: stop using a failing pack; to a battery recycling point (retrieved).
    "cell-empties-itself": (
        "danger",
        "Cell {cell} empties itself, which is the best sign of a pack going bad: do not charge or fly it. Keep it "
        "outdoors in something that cannot burn, and take it to a battery recycling point.",
    ),
    "cell-may-empty": (
        "warning",
        "Cell {cell} falls faster than a sound one: let the pack stand as long again, and do not leave it charged.",
    ),
    "all-cells-fall": (
        "warning",
        "{who}: was something left plugged in, or was the pack just charged before the first reading?",
    ),
    "cells-rose": ("note", "A cell rose: the pack was not yet at rest at the first reading, or was charged between."),
    "below-rest-floor": (
        "warning",
        "Cell {cell} rests below {floor}: charge the pack soon, gently and watched, or retire it.",
    ),
    "within-reading": (
        "note",
        "Differences up to {step} may be the meter's: a longer wait tells more.",
    ),
    "same-warmth": ("note", "Take both readings with the same meter and at the same temperature."),
}
caution = shared.beside(OWN_CAUTIONS, standing={"same-warmth"})


def cautions(
    answer: StandingLoss,
    *,
    second_cell_voltages: Floats,
    days: float,
    chemistry: ChemistryName,
    meter_resolution: float,
) -> Iterator[Caution]:
    """What to heed."""
    kind, loss, lowest = CHEMISTRIES[chemistry], answer.loss_per_day, int(np.argmin(second_cell_voltages))
    least = float(second_cell_voltages[lowest])
    beyond = beyond_fellows(loss)
    yield from reading_cautions(kind, float(np.max(second_cell_voltages)))
    yield from taken_for_life(kind, second_cell_voltages)
    alone = graded("beyond its fellows", float(np.max(beyond)), days, meter_resolution)
    odd = int(np.argmax(beyond)) + 1
    yield from voltage_cautions(kind, second_cell_voltages)
    if alone == "retire":
        yield caution("cell-empties-itself", cell=odd)
    if alone == "watch":
        yield caution("cell-may-empty", cell=odd)
    if float(np.min(loss)) > 0 and graded("all alike", median(loss.tolist()), days, meter_resolution) != "steady":
        yield caution("all-cells-fall", who="All the cells fall" if len(loss) > 1 else "It falls fast")
    if kind.rest_floor is not None and answer.verdict != "retire" and least < kind.rest_floor - SLACK:
        yield caution("below-rest-floor", cell=lowest + 1, floor=volts(kind.rest_floor))
    if np.any(loss * days * DAY < -meter_resolution - SLACK):
        yield caution("cells-rose")
    if (
        answer.verdict == "steady"
        and meter_resolution > 0
        and float(np.ptp(loss)) * days * DAY <= 2 * meter_resolution + SLACK
    ):
        yield caution("within-reading", step=millivolts(2 * meter_resolution))
    yield caution("same-warmth")
    yield caution("rest-first")
    if kind.flat_curve:
        yield caution("flat-curve")
    if kind.curve is not None and not kind.curve.sourced:
        yield caution("extrapolated-curve")


def accuracy(
    answer: StandingLoss,
    *,
    second_cell_voltages: Floats,
    days: float,
    chemistry: ChemistryName,
    meter_resolution: float,
) -> Iterator[Band]:
    """How sure the days are, where the meter's steps leave them an end: each reading is off by half a step at most."""
    floor = CHEMISTRIES[chemistry].rest_floor
    assert floor is not None
    if not answer.days_to_floor:
        return
    error = meter_resolution / (days * DAY)
    soonest = days_until(second_cell_voltages - meter_resolution / 2, answer.loss_per_day + error, floor)
    left = answer.loss_per_day - error
    left = np.where(left * days * DAY > SLACK, left, 0.0)  # a rest of rounding has no end either
    latest = days_until(second_cell_voltages + meter_resolution / 2, left, floor)
    if soonest is not None and latest is not None:
        yield Band("days_to_floor", soonest, latest, "half a step of the meter in each reading, at the same rate")


@dataclass(frozen=True, slots=True, kw_only=True)
class LossTable:
    cell: Annotated[Floats, Count("Place of the cell, from 1.")]
    first_voltage: Annotated[Floats, Quantity("V", "Its first voltage.")]
    second_voltage: Annotated[Floats, Quantity("V", "Its second voltage.")]
    loss_per_day: Annotated[Floats, Quantity("mV/day", "What it loses a day.")]
    state_lost: Annotated[Floats, Number("Part of the charge that it lost in all, by the chemistry's own curve.")]


def curve(
    answer: StandingLoss, *, first_cell_voltages: Floats, second_cell_voltages: Floats, chemistry: ChemistryName
) -> LossTable:
    """The cells, one a row."""
    lost = charges(first_cell_voltages, second_cell_voltages, chemistry, 1.0)
    assert lost is not None
    return LossTable(
        cell=np.arange(1.0, len(first_cell_voltages) + 1),
        first_voltage=first_cell_voltages,
        second_voltage=second_cell_voltages,
        loss_per_day=answer.loss_per_day,
        state_lost=lost,
    )


def picture(answer: StandingLoss, *, first_cell_voltages: Floats, second_cell_voltages: Floats) -> Bars:
    """What each cell loses a day; marked where one more than its fellows would be watched and retired."""
    worst = answer.worst_cell - 1
    others = np.delete(answer.loss_per_day, worst)
    usual = max(0.0, median(others.tolist())) if len(others) else 0.0
    marks = THRESHOLDS["beyond its fellows"]
    return Bars(
        title=f"Loss of each cell: {answer.verdict}",
        label="cell",
        columns=("loss_per_day",),
        words=tuple(
            f"{first:.3f} to {second:.3f} V"
            for first, second in zip(first_cell_voltages, second_cell_voltages, strict=True)
        ),
        limits=(Limit(usual + marks.watch, "watch"), Limit(usual + marks.retire, "retire")),
    )

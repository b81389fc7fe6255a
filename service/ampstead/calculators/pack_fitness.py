"""Fit to fly, for another model, light duty, or retire.

Over 300 lines, since every threshold and every finding that it rests on stands here to be checked.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from statistics import median
from typing import Annotated, Any, Literal

import numpy as np

from ampstead.cell.kinds.resistance import temperature_ratio
from ampstead.cell.limits.low_cells import low_cell_rate
from ampstead.cell.sizing import current_rate
from ampstead.declare import Band, Caution, Choice, Count, Floats, Fraction, Group, Items, Number, OneOf, Quantity, Text
from ampstead.errors import FieldError
from ampstead.inputs.pack import ROOM, Pack, has_curve
from ampstead.inputs.shared import MOST_CURRENT
from ampstead.inputs.warming import Thermal
from ampstead.judging.bands import model_edges, resistance_factors
from ampstead.judging.cautions import VERY_COLD, Table, resistance_cautions
from ampstead.judging.cautions import caution as shared
from ampstead.judging.cells import (
    best_retired,
    is_suspect,
    least_at_rest,
    standing_out,
    suspect_cautions,
    suspect_words,
    taken_for_life,
)
from ampstead.judging.charging import body_words
from ampstead.judging.doubts import error
from ampstead.judging.drawing import BURST, DEPTH, MARGIN, draw_limits
from ampstead.judging.overfull import is_overfull, overfull_cautions
from ampstead.sketch import Bars, Limit
from ampstead.words import amperes, capitalised, degrees, milliohms, millivolts, number, percent, volts
from ampstead.words import rate as spoken_rate

ASKED = "Is this pack still fit to fly?"
WHEN = ("back home", 30)
MAIN = ("verdict", "continuous_current")
SOURCES = (
    "Draw from resistance: heat balance and open-circuit curve as in safe-draw; a limit on draw from measured "
    "resistance is this project's own judgement, no standard gives one",
    "Comparison with like packs: median and median absolute deviation, modified z-score 3.5 (Iglewicz and Hoaglin "
    "1993, from memory)",
    "Retire at 80 percent of the rated capacity or at twice the resistance: common practice, no published source",
    "Not swollen, damaged, crushed or wet ones: Seattle and South Wales fire services",
    "All other thresholds: this project's own judgement",
)
MOST_ROWS = 1000
EXAMPLES = (
    {"cells": 3, "capacity": "1150 mAh", "cell_resistance": "11 mΩ", "typical_current": "14 A"},
    {"cells": 3, "capacity": "2250 mAh", "cell_resistance": "14 mΩ", "sibling_resistances": "8.5,9 mΩ"},
    {
        "cells": 4,
        "capacity": "3700 mAh",
        "cell_resistance": "4.3 mΩ,4.2 mΩ,4.2 mΩ,4.1 mΩ",
        "sibling_resistances": "4.6 mΩ",
        "measured_capacity": "3480 mAh",
        "flight_time": "320 s",
        "charge_returned": "2390 mAh",
        "peak_current": "48 A",
    },
)

Verdict = Literal["flight", "other-model", "light-duty", "retire"]
ORDER: tuple[Verdict, ...] = ("retire", "light-duty", "other-model", "flight")


@dataclass(frozen=True, slots=True)
class Threshold:
    """From where on a figure means light duty, from where on retirement, and why."""

    light: float | None
    retire: float | None
    basis: str


PRACTICE, OWN = "common practice, no published source", "this project's own judgement"
THRESHOLDS = {
    "resistance ratio": Threshold(1.5, 2.0, f"doubled: {PRACTICE}; half as much again: {OWN}"),
    "cell over median": Threshold(1.5, 2.5, OWN),
    "score among siblings": Threshold(3.5, None, "modified z-score 3.5 (Iglewicz and Hoaglin 1993, from memory)"),
    "capacity left": Threshold(None, 0.80, f"80 percent: {PRACTICE}"),
    "resistance for its size": Threshold(1.0, 2.5, f"the highest usual resistance of such a pack: {OWN}"),
}
CELLS_BASIS = f"the rule of balance-need for a cell that stands out: {OWN}"
OVERFULL_BASIS = f"a cell that was overcharged may plate lithium: {OWN}"
CURRENT_BASIS = f"the current drawn against the current the pack can give, margin kept: {OWN}"
UNKNOWN_MOST = 2.0
"""Of the usual resistance times capacity: the most usual one where no band is known. This project's own judgement."""
LEAST_DEVIATION = 0.02
"""Of the median: siblings are never taken as more alike than this. This project's own judgement."""
LEAST_ABOVE = 1.2
"""Of the siblings' median: below it a pack is no outlier whatever its score. This project's own judgement."""
LEAST_SIBLINGS = 3
SLACK = 1e-9


def flight_is_whole(
    typical_current: float | None, flight_time: float | None, charge_returned: float | None
) -> Iterator[FieldError]:
    """A flight tells its current by its time and the charge put back together."""
    if flight_time is not None and charge_returned is None:
        yield FieldError(
            "charge_returned", "missing", 'charge_returned is missing: flight_time needs it, like "1100 mAh"'
        )
    if charge_returned is not None and flight_time is None and typical_current is None:
        yield FieldError("flight_time", "missing", 'flight_time is missing: charge_returned needs it, like "6 min"')


RULES = (
    OneOf("cell_resistance", "pack_resistance", required=True, asked="What is its resistance?"),
    OneOf("typical_current", "flight_time", asked="What does a flight draw?"),
    OneOf("typical_current", "charge_returned"),
    OneOf("reference_resistance", "sibling_resistances", asked="What is it to be held against?"),
)
CHECKS = (has_curve, flight_is_whole)


@dataclass(frozen=True, slots=True)
class Reason:
    """One finding, and what it was held against."""

    finding: Annotated[str, Text("What was found, in words.", said=True)]
    figure: Annotated[str, Text("The figure.", said=True)]
    limit: Annotated[str, Text("What it was held against.", said=True)]
    basis: Annotated[str, Text("Where the limit comes from.", said=True)]


@dataclass(frozen=True, slots=True, kw_only=True)
class PackFitness:
    verdict: Annotated[
        Verdict,
        Choice(
            "Fit for flight; sound but too weak for the current asked; for light duty on the ground; or to be retired."
        ),
    ]
    reasons: Annotated[list[Reason], Items("What decides, gravest first; what was looked at where nothing is wrong.")]
    resistance_ratio: Annotated[
        float | None,
        Number("Mean cell resistance over that when new or of like packs; none without either.", spoken="up"),
    ] = None
    resistance_spread: Annotated[float, Number("Highest cell resistance over the median of the cells.", spoken="up")]
    capacity_left: Annotated[
        float | None, Fraction("Measured capacity over the label's; none without a measured one.", spoken="down")
    ] = None
    continuous_current: Annotated[float, Quantity("A", "Most current for a whole flight, margin kept.", spoken="down")]
    burst_current: Annotated[
        float, Quantity("A", "Most current for a burst late in the flight, margin kept.", spoken="down")
    ]
    weakest_cell: Annotated[int, Count("Cell that meets its floor first, from 1.")]


def pack_fitness(
    *,
    pack: Annotated[
        Pack,
        Group(
            name="pack",
            omit=("state_of_charge", "rest_voltage"),
            require=("cells", "capacity"),
            defaults={"cell_resistance": None},
        ),
    ],
    measured_capacity: Annotated[
        float | None,
        Quantity("mAh", "Capacity as measured.", at_least=0, at_most="200 Ah", example="3480 mAh"),
    ] = None,
    reference_resistance: Annotated[
        float | None,
        Quantity("mΩ", "Resistance of a cell when new, measured alike.", above=0, at_most="10 Ω", example="8.5 mΩ"),
    ] = None,
    sibling_resistances: Annotated[
        Floats | None,
        Quantity("mΩ", "Cell resistances of like packs, measured alike.", above=0, at_most="10 Ω", example="8.5,9 mΩ"),
    ] = None,
    typical_current: Annotated[
        float | None,
        Quantity("A", "Current over a whole flight.", above=0, at_most=MOST_CURRENT, example="14 A"),
    ] = None,
    flight_time: Annotated[
        float | None,
        Quantity(
            "min", "Length of a flight, in place of its current.", above=0, at_most="10000 min", example="7.5 min"
        ),
    ] = None,
    charge_returned: Annotated[
        float | None,
        Quantity("mAh", "Charge put back after that flight.", above=0, at_most="200 Ah", example="1480 mAh"),
    ] = None,
    peak_current: Annotated[
        float | None,
        Quantity("A", "Highest current, at full throttle.", above=0, at_most=MOST_CURRENT, example="23 A"),
    ] = None,
) -> PackFitness:
    """Whether a pack is fit to fly, for another model, for light duty only, or to be retired.

    Milliohms alone tell nothing: what counts is what the pack can give against what the model draws,

        continuous = 0.8 * min(heat, voltage)       over a flight that uses 80 percent      (1)
        burst      = 0.8 * min(heat, voltage)       ten seconds at its end                  (2)

    with the limits of safe-draw. Beside that each cell is held against the median of its fellows, the pack
    against its resistance when new or against like packs by the modified z-score

        score = (R - median) / (1.4826 * median absolute deviation)                         (3)

    and its capacity against the label. Its resistance times its capacity, brought to 25 degrees, is held against that
    of like packs, whatever their size. Cell voltages go by balance-need's rule: one cell that is very low beside others
    that are not, or far from them, retires the pack. Every threshold stands in ``THRESHOLDS`` with its origin. A pack
    that is not sound is retired whatever its figures; one that is sound, but cannot give the current asked, is for
    another model. Light duty means the bench and lamps on the ground, at no more than the continuous current, never a
    receiver: a receiver's pack that gives up is a crash. Range: as for safe-draw; the resistance decides, so measure it
    well.
    """
    thermal, floor = Thermal.usual(pack), pack.kind.floor
    limits = draw_limits(pack, thermal, floor=floor, depth=DEPTH, burst_duration=BURST)
    continuous, burst = MARGIN * limits.continuous, MARGIN * limits.burst  # Eqs. (1), (2)
    if flight_time is not None and charge_returned is not None:
        typical_current = charge_returned / flight_time
    figures = cell_figures(pack)
    reference = reference_resistance
    if sibling_resistances is not None:
        reference = median(sibling_resistances.tolist())
    ratio = None if reference is None else float(np.mean(figures)) / reference
    left = None if measured_capacity is None else measured_capacity / pack.charge
    findings = [
        *body_findings(pack),
        *resistance_findings(figures, ratio, sibling_resistances),
        *size_findings(pack),
        *capacity_findings(left),
        *voltage_findings(pack),
        *draw_findings(pack, continuous, burst, typical_current, peak_current),
    ]
    findings.sort(key=lambda finding: ORDER.index(finding[0]))
    verdict = findings[0][0]
    return PackFitness(
        verdict=verdict,
        reasons=[reason for grade, reason in findings if grade != "flight" or verdict == "flight"],
        resistance_ratio=ratio,
        resistance_spread=float(np.max(figures) / median(figures.tolist())),
        capacity_left=left,
        continuous_current=continuous,
        burst_current=burst,
        weakest_cell=limits.weakest_cell,
    )


Finding = tuple[Verdict, Reason]


def cell_figures(pack: Pack) -> Floats:
    """The resistance of each cell as it was given, ohm, shape (cells,)."""
    figure: Any = pack.cell_resistance
    if pack.pack_resistance is not None:
        figure = pack.pack_resistance / pack.size
    figures: Floats = np.broadcast_to(figure, (pack.size,))
    return figures


def graded(name: str, figure: float, *, low_is_bad: bool = False) -> Verdict:
    """The verdict of a figure against its thresholds."""
    for verdict, limit in (("retire", THRESHOLDS[name].retire), ("light-duty", THRESHOLDS[name].light)):
        if limit is not None and (limit - figure if low_is_bad else figure - limit) > SLACK * abs(limit):
            return verdict  # type: ignore[return-value]  # the two words are verdicts
    return "flight"


def limit_of(name: str, verdict: Verdict) -> float:
    """The threshold that a verdict was reached at, or the one that was kept."""
    threshold = THRESHOLDS[name]
    limit = threshold.retire if verdict == "retire" or threshold.light is None else threshold.light
    assert limit is not None
    return limit


def body_findings(pack: Pack) -> Iterator[Finding]:
    """What the eye sees."""
    if pack.condition != "sound":
        reason = Reason(
            f"it {body_words(pack.condition)}", pack.condition, "sound", "fire services; no figure outweighs it"
        )
        yield "retire", reason


def resistance_findings(figures: Floats, ratio: float | None, siblings: Floats | None) -> Iterator[Finding]:
    """What the resistances say among themselves, against new ones, and against like packs."""
    if len(figures) > 1:
        highest, over = int(np.argmax(figures)) + 1, float(np.max(figures) / median(figures.tolist()))
        verdict = graded("cell over median", over)
        found = f"cell {highest} has {times(over)} the median resistance of the cells"
        said = "its cells have like resistances" if verdict == "flight" else found
        yield verdict, reason("cell over median", verdict, said, times(over), "times the median")
    if ratio is not None:
        verdict = graded("resistance ratio", ratio)
        whose = "like packs" if siblings is not None else "when new"
        said = f"its resistance is {times(ratio)} that of {whose}".replace("that of when", "that when")
        yield verdict, reason("resistance ratio", verdict, said, times(ratio), "times")
    if siblings is not None and len(siblings) >= LEAST_SIBLINGS and ratio is not None:
        middle = median(siblings.tolist())
        deviation = max(1.4826 * median(np.abs(siblings - middle).tolist()), LEAST_DEVIATION * middle)
        score = (ratio - 1) * middle / deviation  # Eq. (3)
        verdict = graded("score among siblings", score) if ratio >= LEAST_ABOVE else "flight"
        said = "it stands out among like packs" if verdict != "flight" else "it is like its siblings"
        if verdict == "flight" and graded("score among siblings", score) != "flight":
            # They are so alike that a score tells nothing.
            near = f"at most {number(LEAST_ABOVE)} times"
            yield verdict, Reason(said, times(ratio), near, "this project's own judgement")
            return
        yield verdict, reason("score among siblings", verdict, said, f"score {number(score, 3, 'up')}", "score")


def size_findings(pack: Pack) -> Iterator[Finding]:
    """What resistance times capacity says, which is alike for packs of a kind whatever their size."""
    kind, name = pack.kind, "resistance for its size"
    usual = kind.resistance_charge_band[1] if kind.resistance_charge_band else UNKNOWN_MOST * kind.resistance_charge
    warm = pack.ohmic() * temperature_ratio(ROOM, pack.temperature)
    part = float(np.mean(warm) * pack.charge / usual)
    verdict = graded(name, part)
    kept = "a usual resistance" if verdict == "flight" else "too high a resistance"
    said = f"it has {kept} for its capacity, {times(part)} the most of sound {kind.words} packs"
    yield verdict, reason(name, verdict, said, times(part), "times")


def capacity_findings(left: float | None) -> Iterator[Finding]:
    """What the measured capacity says."""
    if left is not None:
        verdict = graded("capacity left", left, low_is_bad=True)
        limit = f"at least {percent(limit_of('capacity left', verdict))}"
        held = percent(left, "down")
        yield verdict, Reason(f"it holds {held} of its label", held, limit, THRESHOLDS["capacity left"].basis)


def voltage_findings(pack: Pack) -> Iterator[Finding]:
    """What the resting voltages of the cells say."""
    readings = pack.cell_voltages
    if readings is None:
        return
    lowest, highest, spread = float(np.min(readings)), float(np.max(readings)), float(np.ptp(readings))
    if is_overfull(pack.kind, highest):
        said = f"cell {int(np.argmax(readings)) + 1} stands at {volts(highest)}, above full"
        yield "retire", Reason(said, volts(highest), f"at most {volts(pack.kind.end_of_charge)}", OVERFULL_BASIS)
        return
    if not is_suspect(pack):
        said = f"its cells lie {millivolts(spread)} apart, and none stands out"
        yield "flight", Reason(said, millivolts(spread), "no cell stands out", CELLS_BASIS)
        return
    low, least = readings < least_at_rest(pack.kind) - SLACK, volts(least_at_rest(pack.kind))
    bad = best_retired(pack.kind, readings)
    limit = f"at least {least} at rest" if np.any(low) else "no cell stands out"
    said = suspect_words(pack.kind, readings)
    odd = lowest if np.any(low) else float(readings[standing_out(pack.kind, readings)[0] - 1])
    yield "retire" if bad else "light-duty", Reason(said, volts(odd), limit, CELLS_BASIS)


def draw_findings(
    pack: Pack, continuous: float, burst: float, typical: float | None, peak: float | None
) -> Iterator[Finding]:
    """What the pack can give against what is asked of it."""
    if typical is None and peak is None:
        rate = spoken_rate(current_rate(continuous, pack.charge), "down")
        said = f"it can give {amperes(continuous, 'down')} over a flight; no current was asked"
        yield "flight", Reason(said, rate, "whatever the model draws", CURRENT_BASIS)
    for asked, can, when in ((typical, continuous, "over a flight"), (peak, burst, "in a burst")):
        if asked is not None:
            verdict: Verdict = "other-model" if asked > can * (1 + SLACK) else "flight"
            said = f"it can give {amperes(can, 'down')} {when}, and the model draws {amperes(asked, 'up')}"
            yield verdict, Reason(said, amperes(can, "down"), f"at least {amperes(asked, 'up')}", CURRENT_BASIS)


def times(part: float) -> str:
    """A figure that has a most, rounded up, so that none is told as kept that was passed."""
    return f"{number(part, 3, 'up')} times"


def reason(name: str, verdict: Verdict, finding: str, figure: str, unit: str) -> Reason:
    """A finding against the threshold of its verdict."""
    return Reason(finding, figure, f"at most {number(limit_of(name, verdict))} {unit}", THRESHOLDS[name].basis)


def sentence(answer: PackFitness, *, pack: Pack) -> str:
    """The answer as spoken."""
    named, first = f"this {pack.kind.words} pack", answer.reasons[0].finding
    most, burst = amperes(answer.continuous_current, "down"), amperes(answer.burst_current, "down")
    taken = f"taken at {degrees(pack.temperature)}"
    if answer.verdict == "retire":
        return f"Retire {named}: {first}."
    if answer.verdict == "light-duty":
        at = f"at no more than {most}" if answer.continuous_current > 0 else f"not at {degrees(pack.temperature)}"
        return f"Use {named} for light duty on the ground only, never in a model, and {at}: {first}."
    if answer.continuous_current <= 0:
        return (
            f"{capitalised(named)} is sound, but at {degrees(pack.temperature)} it can give nothing: bring it nearer "
            "to 25 degrees and ask again."
        )
    if answer.verdict == "other-model":
        return (
            f"{capitalised(named)} is sound, but too weak for this model: {first}. It suits one that draws no more "
            f"than {most} over a flight and {burst} in a burst, {taken}."
        )
    return f"{capitalised(named)} is fit to fly: it can give {most} over a flight and {burst} in a burst, {taken}."


OWN_CAUTIONS: Table = {
    # Common practice, no published source; USFA: not in the trash, to a battery recycling point (retrieved).
    "retired": (
        "danger",
        "Do not fly or charge this pack again; take it to a battery recycling point.",
    ),
    "light-duty": (
        "warning",
        "Light duty means the bench and lamps on the ground: never a receiver, since a receiver whose pack gives up is "
        "a crash.",
    ),
}
caution = shared.beside(OWN_CAUTIONS)


def tried_slowly(answer: PackFitness, pack: Pack) -> bool:
    """Whether nothing but cells that stand out retires a pack, so that a slow charge may tell more of them."""
    if answer.reasons[0].basis != CELLS_BASIS or pack.cell_voltages is None:
        return False
    return low_cell_rate(pack.kind, pack.cell_voltages) > 0


def cautions(answer: PackFitness, *, pack: Pack, given: frozenset[str]) -> Iterator[Caution]:
    """What to heed."""
    if pack.condition != "sound":
        yield caution(pack.condition)
    elif answer.verdict == "retire" and not tried_slowly(answer, pack):
        yield caution("retired")
    elif answer.verdict == "light-duty":
        yield caution("light-duty")
    yield from overfull_cautions(pack)
    yield from taken_for_life(pack.kind, pack.cell_voltages)
    yield from suspect_cautions(pack)
    if answer.continuous_current <= 0 and pack.temperature > ROOM:
        yield caution("hot-start")
    if pack.temperature < VERY_COLD:
        yield caution("very-cold")
    yield caution("steady-draw")
    yield from resistance_cautions(pack, given)
    if not pack.curve.sourced:
        yield caution("extrapolated-curve")


def accuracy(answer: PackFitness, *, pack: Pack, given: frozenset[str]) -> Iterator[Band]:
    """How sure the currents are."""
    low, high = resistance_factors(pack, given)
    for name, current, (least, most) in (
        (
            "continuous_current",
            answer.continuous_current,
            model_edges(current_rate(answer.continuous_current, pack.charge)),
        ),
        ("burst_current", answer.burst_current, error("burst_current")),
    ):
        basis = f"a constant resistance errs by about {(most - 1) * 100:.0f} percent at this current; {OWN}"
        yield Band(name, current * least / high, current * most / low, basis)


@dataclass(frozen=True, slots=True, kw_only=True)
class CellTable:
    cell: Annotated[Floats, Count("Place of the cell, from 1.")]
    resistance: Annotated[Floats, Quantity("mΩ", "Its resistance as measured.")]
    current_limit: Annotated[Floats, Quantity("A", "Current that brings it to its floor at the end of a flight.")]


def curve(answer: PackFitness, *, pack: Pack) -> CellTable:
    """The cells, one a row."""
    limits = draw_limits(pack, Thermal.usual(pack), floor=pack.kind.floor, depth=DEPTH, burst_duration=BURST)
    return CellTable(cell=np.arange(1.0, pack.size + 1), resistance=cell_figures(pack), current_limit=limits.voltage)


def picture(answer: PackFitness, *, pack: Pack) -> Bars:
    """Each cell's resistance, with the limit against the median marked."""
    figures = cell_figures(pack)
    limit = median(figures.tolist()) * limit_of("cell over median", "light-duty")
    return Bars(
        title=f"Resistance of the cells: {answer.verdict.replace('other-model', 'another model').replace('-', ' ')}",
        label="cell",
        columns=("resistance",),
        words=tuple(milliohms(figure).replace("milliohms", "mΩ") for figure in figures),
        limits=(Limit(limit, "1.5 times the median"),),
    )

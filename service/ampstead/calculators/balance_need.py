"""Do these cells need levelling."""

from bisect import bisect_left
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated

import numpy as np

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.kinds.curves import state_difference_band
from ampstead.cell.limits.low_cells import low_cell_rate
from ampstead.declare import Band, Caution, Choice, Count, Flag, Floats, Fraction, Quantity
from ampstead.errors import FieldError
from ampstead.inputs.pack import ChemistryInput, ChemistryName, cells_in_range, has_curve, voltages_in_range
from ampstead.judging.cautions import Table
from ampstead.judging.cautions import caution as shared
from ampstead.judging.cells import (
    LIMIT,
    Verdict,
    best_retired,
    cells_verdict,
    suspect_words,
    taken_for_life,
    voltage_cautions,
)
from ampstead.judging.overfull import is_overfull, just_full, reading_cautions
from ampstead.sketch import Bars, Limit
from ampstead.words import between, millivolts, sentences, span, volts

ASKED = "Do these cells need levelling?"
WHEN = ("at the bench", 20)
MAIN = ("balance", "spread")
SOURCES = (
    "State of charge from resting voltage: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), "
    "US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured",
    "Limit of 20 millivolts: common practice, no published source (a gauge circuit's default starts at 3 millivolts)",
    "Verdicts: this project's own judgement",
)
EXAMPLES = (
    {"cell_voltages": "3.86,3.91,3.87 V"},
    {"cell_voltages": "3.77,3.76,3.79,3.75 V", "capacity": "3700 mAh", "bleed_current": "250 mA"},
)

FLAT_SLOPE = 0.6  # V from empty to full; below it 20 mV mean more than 3 % of the charge.
SLACK = 1e-9


def two_or_more(chemistry: ChemistryName, cell_voltages: Floats) -> Iterator[FieldError]:
    """A spread needs two cells, and packs have only so many."""
    if len(cell_voltages) < 2:
        said = "cell_voltages needs two values or more: one for each cell of the pack"
        yield FieldError("cell_voltages", "wrong_length", said)
    for fault in cells_in_range(chemistry, len(cell_voltages)):
        yield FieldError("cell_voltages", "wrong_length", fault.message)
    yield from voltages_in_range(chemistry, None, None, cell_voltages)


CHECKS = (has_curve, two_or_more)


@dataclass(frozen=True, slots=True, kw_only=True)
class BalanceNeed:
    spread: Annotated[float, Quantity("V", "Highest less lowest voltage.", spoken="up")]
    highest_cell: Annotated[int, Count("Cell with the highest voltage, from 1.")]
    highest_voltage: Annotated[float, Quantity("V", "Its voltage.")]
    lowest_cell: Annotated[int, Count("Cell with the lowest voltage, from 1.")]
    lowest_voltage: Annotated[float, Quantity("V", "Its voltage.")]
    mean_voltage: Annotated[float, Quantity("V", "Mean of the cells.")]
    pack_voltage: Annotated[float, Quantity("V", "Sum of the cells.")]
    balance: Annotated[
        bool,
        Flag(
            "Whether the spread is over the limit.",
            yes="the spread is over the limit",
            no="the spread is within the limit",
        ),
    ]
    verdict: Annotated[
        Verdict,
        Choice("Level to half the limit, drifting to the limit, balance beyond it, suspect where a cell stands out."),
    ]
    imbalance: Annotated[float, Fraction("Part of the capacity between the highest and the lowest cell.")]
    charge_gap: Annotated[float | None, Quantity("mAh", "That as a charge; none without the capacity.")]
    time_to_level: Annotated[
        float | None, Quantity("min", "Time to bleed that off; none without capacity and bleed current.", spoken="up")
    ]


def balance_need(
    *,
    cell_voltages: Annotated[
        Floats,
        Quantity("V", "Voltage of each cell, two or more.", at_least=0, example="3.86,3.91,3.87 V"),
    ],
    chemistry: ChemistryInput = "lipo",
    limit: Annotated[
        float,
        Quantity(
            "V",
            "Spread up to which cells count as level enough.",
            above=0,
            at_most="1 V",
            example="20 mV",
            label="largest spread allowed",
        ),
    ] = LIMIT,
    capacity: Annotated[
        float | None,
        Quantity("mAh", "Capacity of the pack.", at_least="10 mAh", at_most="200 Ah", example="3700 mAh"),
    ] = None,
    bleed_current: Annotated[
        float | None,
        Quantity("A", "Current at which the charger bleeds high cells.", above=0, at_most="100 A", example="250 mA"),
    ] = None,
    rested: Annotated[
        bool, Flag("Whether the cells were at rest when measured.", example=True, label="the cells were at rest")
    ] = True,
) -> BalanceNeed:
    """Whether cells need levelling, and what their spread means in charge.

    The spread of the voltages decides; what it means follows from the open-circuit curve U(z), which turns it
    into charge:

        spread    = max(U) - min(U)                   (1)
        imbalance = z(max(U)) - z(min(U))             (2)
        gap       = imbalance * Q                     (3)
        time      = gap / bleed current               (4)

    The same spread is little charge where the curve is steep, near empty and near full, and much where it is flat.
    Range: cells at rest. A cell far from the others, or below what a cell at rest should ever have, is suspect; on
    the steep end of a flat curve it is so by Eq. (2) instead of Eq. (1).
    """
    cells = cell_voltages.tolist()
    high, low = max(cells), min(cells)
    spread = high - low  # Eq. (1)
    curve = CHEMISTRIES[chemistry].curve
    assert curve is not None
    imbalance = curve.state_at(high) - curve.state_at(low)  # Eq. (2)
    gap = None if capacity is None else imbalance * capacity  # Eq. (3)
    return BalanceNeed(
        spread=spread,
        highest_cell=cells.index(high) + 1,
        highest_voltage=high,
        lowest_cell=cells.index(low) + 1,
        lowest_voltage=low,
        mean_voltage=sum(cells) / len(cells),
        pack_voltage=sum(cells),
        balance=spread > limit + SLACK,
        verdict=cells_verdict(CHEMISTRIES[chemistry], cell_voltages, limit),
        imbalance=imbalance,
        charge_gap=gap,
        time_to_level=None if gap is None or bleed_current is None else gap / bleed_current,  # Eq. (4)
    )


def sentence(
    answer: BalanceNeed,
    *,
    cell_voltages: Floats,
    chemistry: ChemistryName,
    limit: float,
    bands: Mapping[str, Band],
    rested: bool,
) -> str:
    """The answer as spoken."""
    kind = CHEMISTRIES[chemistry]
    named = f"this {kind.words} pack"
    band = bands["imbalance"]
    # Off the ends of the curve volts tell no charge.
    part = f"{span(band.low, band.high)} of the charge" if rested and band.high > 0 else ""
    apart = f"{millivolts(answer.spread, 'up')} apart"
    wrong = None
    if is_overfull(kind, answer.highest_voltage):
        # Above full the curve tells no charge.
        part = ""
        wrong = (
            f"Do not charge {named}: cell {answer.highest_cell} stands at {volts(answer.highest_voltage)}, above full"
        )
    elif answer.verdict == "suspect":
        barred = "charge or fly" if low_cell_rate(kind, cell_voltages) == 0 else "fly or fast-charge"
        for_now = "" if best_retired(kind, cell_voltages) else " yet"
        wrong = f"Do not {barred} {named}{for_now}: {suspect_words(kind, cell_voltages, limit)}"
    if wrong:
        return f"{wrong}." if answer.spread == 0 else f"{wrong}. Its cells lie {apart}{f', {part}' if part else ''}."
    how = (
        "by letting the high ones down, not by a charge"
        if answer.highest_voltage >= just_full(kind)
        else "at the next charge"
    )
    said = {
        "level": f"The cells of {named} are level",
        "drifting": f"The cells of {named} drift a little, but need no levelling yet",
        "balance": f"Level the cells of {named} {how}",
    }[answer.verdict]
    if answer.spread == 0:
        return f"{said}: all read alike."
    start = f"{said}: they lie {apart}, where {millivolts(limit)} is the limit."
    bled = bands.get("time_to_level")
    takes = f", and takes {between(bled.low, bled.high)} to bleed off" if bled else ""
    return sentences(start, f"That is {part}{takes}." if part else None)


OWN_CAUTIONS: Table = {
    "not-rested": (
        "warning",
        "The cells were not at rest: under charge or load a spread tells of resistance as well as of charge.",
    ),
    "level-by-voltage": (
        "note",
        "Voltage says little in the flat middle of the curve: look again near full, where it says most.",
    ),
}
caution = shared.beside(OWN_CAUTIONS)


def cautions(
    answer: BalanceNeed, *, cell_voltages: Floats, chemistry: ChemistryName, limit: float, rested: bool
) -> Iterator[Caution]:
    """What to heed."""
    kind = CHEMISTRIES[chemistry]
    assert kind.curve is not None
    low = low_cell_rate(kind, cell_voltages)
    yield from reading_cautions(kind, answer.highest_voltage)
    if answer.verdict == "suspect":
        yield from voltage_cautions(kind, cell_voltages, limit)
    if 0 < low < np.inf:
        yield caution("low-cell")
    yield from taken_for_life(kind, cell_voltages)
    if answer.balance:
        yield caution("never-alone")
        yield caution("papers")
        if kind.holds_acid:
            yield caution("lead-gas")
    if not rested:
        yield caution("not-rested")
    if kind.flat_curve:
        yield caution("flat-curve")
    elif slope(chemistry, answer.mean_voltage) < FLAT_SLOPE:
        yield caution("level-by-voltage")
    if not kind.curve.sourced:
        yield caution("extrapolated-curve")


def slope(chemistry: ChemistryName, voltage: float) -> float:
    """Slope of the curve over the two points around a voltage, V per whole charge."""
    curve = CHEMISTRIES[chemistry].curve
    assert curve is not None
    _, voltages, slopes = curve.points
    return slopes[min(max(bisect_left(voltages, voltage), 1), len(slopes)) - 1]


def accuracy(
    answer: BalanceNeed, *, chemistry: ChemistryName, capacity: float | None, bleed_current: float | None
) -> Iterator[Band]:
    """How sure the imbalance is, and with it what follows from it."""
    low, high = state_difference_band(chemistry, answer.lowest_voltage, answer.highest_voltage)
    basis = "what this spread means on published curves of like cells"
    yield Band("imbalance", low, high, basis)
    if capacity is not None:
        yield Band("charge_gap", low * capacity, high * capacity, basis)
        if bleed_current is not None:
            yield Band("time_to_level", low * capacity / bleed_current, high * capacity / bleed_current, basis)


@dataclass(frozen=True, slots=True, kw_only=True)
class CellTable:
    cell: Annotated[Floats, Count("Place of the cell, from 1.")]
    voltage: Annotated[Floats, Quantity("V", "Its voltage.")]
    above_lowest: Annotated[Floats, Quantity("V", "How far it stands above the lowest cell.")]
    state_of_charge: Annotated[Floats, Fraction("State of charge that this voltage means at rest.")]


def curve(answer: BalanceNeed, *, cell_voltages: Floats, chemistry: ChemistryName) -> CellTable:
    """The cells, one a row."""
    kind = CHEMISTRIES[chemistry]
    assert kind.curve is not None
    return CellTable(
        cell=np.arange(1.0, len(cell_voltages) + 1),
        voltage=cell_voltages,
        above_lowest=cell_voltages - answer.lowest_voltage,
        state_of_charge=kind.curve.state(cell_voltages),
    )


def picture(answer: BalanceNeed, *, cell_voltages: Floats, limit: float) -> Bars:
    """How far each cell stands above the lowest, the limit marked."""
    return Bars(
        title=f"Cells above the lowest: {answer.verdict}",
        label="cell",
        columns=("above_lowest",),
        words=tuple(f"{voltage:.3f} V" for voltage in cell_voltages),
        limits=(Limit(limit, f"limit {limit * 1000:.3g} mV"),),
    )

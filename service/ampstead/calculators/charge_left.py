"""What is left in a pack: fly again?"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

import numpy as np

from ampstead.cell.column import figure
from ampstead.cell.limits.low_cells import fewer_cells, low_cell_rate
from ampstead.declare import Band, Caution, Choice, Flag, Floats, Fraction, Group, Quantity, Text
from ampstead.inputs.pack import Pack, has_curve
from ampstead.inputs.shared import VOLTAGE_TOLD
from ampstead.judging.cautions import Table, cells_unseen
from ampstead.judging.cautions import caution as shared
from ampstead.judging.cells import LIMIT, is_suspect, suspect_cautions, suspect_words, taken_for_life
from ampstead.judging.charging import never_charged
from ampstead.judging.overfull import highest_cell, is_overfull, overfull_cautions
from ampstead.sketch import Bars, Limit
from ampstead.words import cells_named, count, milliampere_hours, millivolts, percent, span, volts

ASKED = "Does this pack fly again?"
WHEN = ("at the field", 10)
MAIN = ("flies", "state_of_charge", "charge_left")
SOURCES = (
    "State of charge from resting voltage: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), "
    "US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured",
    "Band of the state: lowest and highest of seven published cells (lipo, liion), of two (life); lihv and lead: this "
    "project's own judgement",
    "Reserve of 20 percent: common practice, no published source",
    "Verdicts, taken at the low edge of the band: this project's own judgement",
)
EXAMPLES = (
    {"cells": 4, "rest_voltage": "15.07 V"},
    {"chemistry": "liion", "cell_voltages": "3.72,3.71,3.72,3.70 V", "capacity": "3500 mAh", "reserve": 0.3},
)

Verdict = Literal["empty", "low", "storage", "flyable", "full"]

EMPTY, STORAGE, FULL = 0.05, 0.60, 0.95
"""States below which a pack is empty, below which it does not fly again uncharged, and from which it is full."""
SLACK = 1e-9

RULES = (VOLTAGE_TOLD,)
CHECKS = (has_curve,)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeLeft:
    state_of_charge: Annotated[
        float, Fraction("State of charge of the lowest cell, by the chemistry's own curve.", spoken="down")
    ]
    charge_left: Annotated[
        float | None,
        Quantity(
            "mAh", "Charge above the reserve, by the low edge of the band; none without the capacity.", spoken="down"
        ),
    ]
    verdict: Annotated[
        Verdict,
        Choice("What the low edge of the state means: empty, low (below the reserve), storage, flyable or full."),
    ]
    flies: Annotated[
        bool,
        Flag(
            "Whether it may fly again uncharged: flyable or full, and no cell stands out.",
            yes="it may fly again uncharged",
            no="it may not fly again uncharged",
        ),
    ]


def charge_left(
    *,
    pack: Annotated[
        Pack,
        Group(
            name="pack",
            only=("chemistry", "cells", "capacity", "rest_voltage", "cell_voltages"),
            require=("cells",),
        ),
    ],
    reserve: Annotated[float, Fraction("State of charge to land with.", at_least=0, at_most=0.95, example=0.2)] = 0.2,
) -> ChargeLeft:
    """What a resting voltage says is left in a pack, and whether it flies again.

    The state z of each cell is read from its resting voltage on the open-circuit curve. Published curves of like
    cells disagree, so that one voltage means a band of states; what is left goes by its low edge:

        state   = min(z)                                   (1)
        left    = min((z_low - reserve) * Q), not below 0  (2)
        verdict by min(z_low)                              (3)

    over the cells: a pack has what its lowest cell has. A pack's voltage is shared evenly among its cells. Range: a
    pack at rest; just after a flight it reads low, just after a charge high.
    """
    low, _ = pack.state_edges()
    verdict = judged(figure(np.min(low)), reserve)
    return ChargeLeft(
        state_of_charge=figure(np.min(pack.states())),  # Eq. (1)
        charge_left=above_reserve(pack, low, reserve),  # Eq. (2)
        verdict=verdict,  # Eq. (3)
        flies=verdict in ("flyable", "full")
        and not is_suspect(pack)
        and not is_overfull(pack.kind, highest_cell(pack)),
    )


def above_reserve(pack: Pack, states: Floats, reserve: float) -> float | None:
    """Charge above the reserve in the cell that has least of it, C; None without the capacity."""
    if pack.capacity is None:
        return None
    return max(0.0, figure(np.min((states - reserve) * pack.capacities())))


def judged(state: float, reserve: float) -> Verdict:
    """The verdict on a state (this project's own judgement)."""
    if state < EMPTY - SLACK:
        return "empty"
    if state < reserve - SLACK:
        return "low"
    if state < STORAGE - SLACK:
        return "storage"
    return "flyable" if state < FULL - SLACK else "full"


def sentence(answer: ChargeLeft, *, pack: Pack, reserve: float, bands: Mapping[str, Band]) -> str:
    """The answer as spoken: yes or no first."""
    band = bands["state_of_charge"]
    seen = f"{where(pack)} means {span(band.low, band.high)} charge"
    sure = f"count on {percent(band.low, 'down')}" + (
        f", of which {percent(reserve)} is the reserve" if reserve else ""
    )
    if answer.charge_left is not None:
        above = f" above the reserve of {percent(reserve)}" if reserve else ""
        left = milliampere_hours(answer.charge_left, "down")
        sure = f"count on {'nothing' if left.startswith('0 ') else left}{above}"
    outing = "flight" if pack.kind.is_lithium else "run"
    highest = highest_cell(pack)
    if is_overfull(pack.kind, highest):
        if pack.cell_voltages is None:
            return f"No: {where(pack)} is above full."
        return f"No: a cell of this {pack.kind.words} pack stands at {volts(highest)}, above full."
    if is_suspect(pack):
        assert pack.cell_voltages is not None
        return f"No: {suspect_words(pack.kind, pack.cell_voltages)} in this {pack.kind.words} pack."
    if band.low >= 1 - SLACK:
        return f"Yes, it is full: {where(pack).removesuffix(',')}."
    return {
        "empty": f"No, it is empty: {seen}.",
        "low": f"No: {seen}, which may be less than the reserve of {percent(reserve)}.",
        "storage": f"No, not for a whole {outing}: {seen}; {sure}.",
        "flyable": f"Yes, for a shorter {outing} than from full: {seen}; {sure}.",
        "full": f"Yes, it is full: {seen}; {sure}.",
    }[answer.verdict]


def where(pack: Pack) -> str:
    """What was read: of a pack, or of its lowest cell."""
    if pack.cell_voltages is None:
        assert pack.rest_voltage is not None
        return f"{volts(pack.rest_voltage)} on {count(pack.size, f'{pack.kind.words} cell')}"
    lowest = int(np.argmin(pack.cell_voltages))
    return f"{volts(float(pack.cell_voltages[lowest]))} on the lowest {pack.kind.words} cell, number {lowest + 1},"


OWN_CAUTIONS: Table = {
    "uneven-cells": (
        "warning",
        "The cells differ by {spread}: the lowest sets what this pack has. Level them at the next charge, and look "
        "whether the same cell falls back.",
    ),
}
caution = shared.beside(OWN_CAUTIONS)


def cautions(answer: ChargeLeft, *, pack: Pack) -> Iterator[Caution]:
    """What to heed."""
    readings = pack.voltage_readings()
    assert readings is not None
    if fewer := fewer_cells(pack.kind, pack.size, pack.rest_voltage):
        yield caution("cell-count", fewer=count(fewer, "cell"))
    yield from overfull_cautions(pack)
    yield from taken_for_life(pack.kind, readings)
    yield from suspect_cautions(pack)
    rate = low_cell_rate(pack.kind, readings)
    if rate == 0 and not fewer:
        yield caution("dead-cell")
    elif np.isfinite(rate) and not fewer:
        yield caution("low-cell")
    if answer.verdict in ("empty", "low", "storage"):
        yield caution("never-alone")
        if pack.kind.holds_acid:
            yield caution("lead-gas")
    spread = figure(np.max(readings) - np.min(readings))
    if spread > LIMIT + SLACK and not never_charged(pack):
        yield caution("uneven-cells", spread=millivolts(spread))
    yield caution("flat-curve" if pack.kind.flat_curve else "state-from-voltage")
    yield caution("rest-first")
    if pack.cell_voltages is None and pack.size > 1:
        yield cells_unseen(pack.kind)
    if pack.kind.kept_full:
        yield caution("lead-kept-full")
    if not pack.curve.sourced:
        yield caution("extrapolated-curve")


def accuracy(answer: ChargeLeft, *, pack: Pack, reserve: float) -> Iterator[Band]:
    """How sure the state is."""
    low, high = pack.state_edges()
    basis = "what this voltage means on published curves of like cells"
    yield Band("state_of_charge", figure(np.min(low)), figure(np.min(high)), basis)
    if answer.charge_left is not None:
        most = above_reserve(pack, high, reserve)
        assert most is not None
        yield Band("charge_left", answer.charge_left, most, f"{basis}; the answer is the low edge")


@dataclass(frozen=True, slots=True, kw_only=True)
class StateTable:
    cell: Annotated[list[str], Text("Which cell; one row for all where only the pack was read.")]
    voltage: Annotated[Floats, Quantity("V", "Its resting voltage.")]
    state_low: Annotated[Floats, Fraction("Least state of charge that this can mean.")]
    state_of_charge: Annotated[Floats, Fraction("State of charge by the chemistry's own curve.")]
    state_high: Annotated[Floats, Fraction("Most that it can mean.")]


def curve(answer: ChargeLeft, *, pack: Pack) -> StateTable:
    """The cells, one a row."""
    readings = pack.voltage_readings()
    assert readings is not None
    rows = 1 if pack.cell_voltages is None else pack.size
    low, high = pack.state_edges()
    return StateTable(
        cell=cells_named(None if pack.cell_voltages is None else rows),
        voltage=readings[:rows],
        state_low=low[:rows],
        state_of_charge=pack.states()[:rows],
        state_high=high[:rows],
    )


def picture(answer: ChargeLeft, *, pack: Pack, reserve: float) -> Bars:
    """The state that each cell has at least, in what it may have, the reserve marked."""
    table = curve(answer, pack=pack)
    return Bars(
        title=f"Charge left: {answer.verdict}",
        label="cell",
        columns=("state_low", "state_high"),
        quantity="state_of_charge",
        words=tuple(
            f"{voltage:.3f} V, {span(low, high).replace('percent', '%')}"
            for voltage, low, high in zip(table.voltage, table.state_low, table.state_high, strict=True)
        ),
        limits=(Limit(reserve, f"reserve {reserve * 100:.3g} %"),),
        reach=1.0,
    )

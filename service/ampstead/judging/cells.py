"""Cells that were told one by one: whether one of them makes the pack suspect. The one rule of all calculators.

Every threshold is **this project's own judgement**; the limit of 20 mV is **common practice**.
"""

from collections.abc import Iterator, Sequence
from statistics import median
from typing import Literal

import numpy as np

from ampstead.cell.kinds.chemistries import Chemistry
from ampstead.cell.limits.low_cells import low_cell_rate
from ampstead.declare import Caution, Floats
from ampstead.inputs.pack import Pack
from ampstead.judging.cautions import caution
from ampstead.words import count, listed, volts

Verdict = Literal["level", "drifting", "balance", "suspect"]

LIMIT = 0.02
"""Spread in V up to which cells count as level enough."""
MANY_LIMITS = 5
FALLEN = 0.3
"""Spread in V beyond which levelling does not help any more."""
IMBALANCE = 0.05
"""Part of the capacity between cells that makes them suspect where a steep end of the curve makes volts tell little."""
NAMED = 3
"""Cells that a sentence names one by one; of more nobody could remember which."""
SLACK = 1e-9
TRIED = "Charge it slowly and watched if at all, to find out whether its cells still hold."


def cells_verdict(kind: Chemistry, voltages: Floats, limit: float = LIMIT) -> Verdict:
    """How resting voltages of cells, V, stand to each other.

    Suspect: more than five limits apart, a cell below what a cell at rest should ever have, or apart by more than the
    limit with some but not all cells below the rest floor. Where all stand on the steep end of a flat curve, the
    charge between them counts instead of the volts.
    """
    cells = voltages.tolist()
    low, high = min(cells), max(cells)
    spread = high - low
    if low < least_at_rest(kind) - SLACK or _torn(kind, cells, spread, limit) or _far(kind, low, high, limit):
        return "suspect"
    if spread > limit + SLACK:
        return "balance"
    return "drifting" if spread > limit / 2 + SLACK else "level"


def least_at_rest(kind: Chemistry) -> float:
    """Lowest voltage at which a cell at rest is no suspect by itself, V."""
    return kind.floor if kind.low_cell is None else kind.low_cell


def _torn(kind: Chemistry, cells: Sequence[float], spread: float, limit: float) -> bool:
    """Whether some cells, but not all, stand below the rest floor, and that by more than a meter's step."""
    if spread <= limit + SLACK:
        return False
    floor = (kind.rest_floor or 0.0) - SLACK
    return min(cells) < floor <= max(cells)


def _far(kind: Chemistry, low: float, high: float, limit: float) -> bool:
    if kind.curve is not None and kind.steep_from is not None and low > kind.steep_from + SLACK:
        return kind.curve.state_at(high) - kind.curve.state_at(low) >= IMBALANCE - SLACK
    return high - low > MANY_LIMITS * limit + SLACK


def standing_out(kind: Chemistry, voltages: Floats, limit: float = LIMIT) -> tuple[int, ...]:
    """Places, from 1, of the cells that make a pack suspect; none where it is not.

    All those that are dead, or too low; otherwise those below the rest floor where others are not, or the one farthest
    from the median, the lower of two.
    """
    if cells_verdict(kind, voltages, limit) != "suspect":
        return ()
    least = _passed(kind, voltages, limit)
    if least is not None:
        return tuple(int(place) + 1 for place in np.flatnonzero(voltages < least - SLACK))
    away = np.abs(voltages - median(voltages.tolist()))
    return (int(np.argmin(np.where(away > np.max(away) - SLACK, voltages, np.inf))) + 1,)


def _passed(kind: Chemistry, voltages: Floats, limit: float) -> float | None:
    """The voltage below which the cells of a suspect pack stand out; None where the spread alone tells."""
    cells = voltages.tolist()
    lowest = min(cells)
    for least in (kind.dead_cell, least_at_rest(kind)):
        if least is not None and lowest < least - SLACK:
            return least
    return kind.rest_floor if _torn(kind, cells, max(cells) - lowest, limit) else None


def cells_said(places: Sequence[int], of: int) -> str:
    """Some of a pack's cells, in few words: ``cells 2 and 4``, ``all cells but cell 6``, ``five of eight cells``."""
    others = [place for place in range(1, of + 1) if place not in places]
    if len(places) <= NAMED:
        return f"cell{'' if len(places) == 1 else 's'} {listed([str(place) for place in places])}"
    if not others:
        return "all cells"
    if len(others) < NAMED:
        return f"all cells but {cells_said(others, of)}"
    return f"{count(len(places), 'cell').removesuffix(' cells')} of {count(of, 'cell')}"


def suspect_words(kind: Chemistry, voltages: Floats, limit: float = LIMIT) -> str:
    """Why a pack is suspect: ``cell 4 stands out at 3.1 volts``; empty where it is not."""
    places = standing_out(kind, voltages, limit)
    if not places:
        return ""
    cells = voltages.tolist()
    which, rest = cells_said(places, len(cells)), "rests" if len(places) == 1 else "rest"
    least = _passed(kind, voltages, limit)
    if least is None or (len(places) == 1 and least == kind.rest_floor and _far(kind, min(cells), max(cells), limit)):
        return f"{which} stands out at {volts(float(voltages[places[0] - 1]))}"
    if least == kind.rest_floor:
        return f"{which} {rest} below {volts(least)}{'' if ' but ' in which else ' and others do not'}"
    if 1 < len(places) == len(voltages):
        which, rest = "every cell", "rests"
    return f"{which} {rest} below {volts(least)}"


def is_suspect(pack: Pack) -> bool:
    """Whether a pack was told cell by cell and a cell stands out; its whole voltage hides its cells."""
    return pack.cell_voltages is not None and cells_verdict(pack.kind, pack.cell_voltages) == "suspect"


def best_retired(kind: Chemistry, voltages: Floats) -> bool:
    """Whether the cells of a pack stand so that it is better retired than levelled: one that is dead, one very low
    beside others that are not, or cells very far apart.
    """
    if cells_verdict(kind, voltages) != "suspect":
        return False
    low = voltages < least_at_rest(kind) - SLACK
    alone = bool(np.any(low)) and not np.all(low)
    return alone or low_cell_rate(kind, voltages) == 0 or float(np.ptp(voltages)) > FALLEN + SLACK


def taken_for_life(kind: Chemistry, readings: Floats | None) -> Iterator[Caution]:
    """The question whether cells told as lithium-polymer are lithium-iron-phosphate, by their resting voltages, V."""
    if readings is None or kind.taken_for_life is None:
        return
    least, most = kind.taken_for_life
    cells = readings.tolist()
    if min(cells) >= least - SLACK and max(cells) <= most + SLACK:
        yield caution("chemistry-in-doubt")


def suspect_cautions(pack: Pack) -> Iterator[Caution]:
    """The danger of cells that stand out or are dead, for every calculator that may be told cell voltages."""
    if pack.cell_voltages is None:
        return
    why = suspect_words(pack.kind, pack.cell_voltages)
    if pack.unsound and why and low_cell_rate(pack.kind, pack.cell_voltages) > 0:
        # Not even slowly charged, as a sound one may be to find out more.
        yield caution("suspect-cell", advice=f"or charge this pack again: {why}.")
    else:
        yield from voltage_cautions(pack.kind, pack.cell_voltages)


def voltage_cautions(kind: Chemistry, voltages: Floats, limit: float = LIMIT) -> Iterator[Caution]:
    """The same of resting voltages of cells, V, wherever they were told."""
    if not (why := suspect_words(kind, voltages, limit)):
        return
    if low_cell_rate(kind, voltages) == 0:
        yield caution("dead-cell")
    elif best_retired(kind, voltages):
        yield caution("suspect-cell", advice=f"this pack again, and best retire it, since {why}. {TRIED}")
    else:
        yield caution("suspect-cell", advice=f"or fast-charge this pack before you know why {why}.")

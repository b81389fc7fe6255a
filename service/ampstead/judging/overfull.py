"""Cells that read above their end of charge: the one rule of all calculators that are told a voltage."""

from collections.abc import Iterator
from math import inf

from ampstead.cell.kinds.chemistries import Chemistry
from ampstead.declare import Caution
from ampstead.inputs.pack import Pack
from ampstead.judging.cautions import caution

TOLERANCE = 0.02
"""V that a charger may end above its voltage: 4.20 V give or take so much is published."""
SLACK = 1e-9


def highest_cell(pack: Pack) -> float:
    """The highest resting voltage of a cell, as measured or by its state, V; minus infinity where nothing tells it."""
    readings = pack.voltage_readings()
    if readings is not None:
        highest: float = max(readings.tolist())
        return highest
    if pack.kind.curve is None or pack.state_of_charge is None:
        return -inf
    return pack.curve.voltage_at(pack.state_of_charge)


def is_overfull(kind: Chemistry, highest: float) -> bool:
    """Whether the highest of some cells, V, stands so far above full that no meter's error explains it."""
    return highest > kind.end_of_charge + kind.full_margin + SLACK


def just_full(kind: Chemistry) -> float:
    """The highest reading of a cell, V, that a sound charger may have left."""
    return kind.end_of_charge + TOLERANCE - SLACK


def overfull_cautions(pack: Pack) -> Iterator[Caution]:
    """What to say of a cell of a pack above the chemistry's own end of charge, by how much it is."""
    yield from reading_cautions(pack.kind, highest_cell(pack), whole=pack.rest_voltage is not None)


def reading_cautions(kind: Chemistry, highest: float, *, whole: bool = False) -> Iterator[Caution]:
    """The same of the highest reading of some cells, V; ``whole`` where it is a pack's voltage shared out.

    Each is a danger. Within a charger's tolerance the cell is full, to be charged no further; up to a meter's error
    another reading may dispel it; beyond, the cell is to be let down. **Own judgement**.
    """
    excess = highest - kind.end_of_charge
    if is_overfull(kind, highest):
        recount = ", count the cells" if whole else ""
        cure = f"check the reading and the charger{recount}, and let the pack down outdoors, watched"
        yield caution("overcharged", cure=cure)
    elif highest >= just_full(kind):
        yield caution("overcharged", cure="read it with another meter, and check the charger")
    elif excess > SLACK:
        yield caution("overcharged-slightly")

"""What a pack may be flown for: how much of its charge a load leaves, and what to heed of any pack that flies."""

from collections.abc import Iterator

import numpy as np

from ampstead.cell.one.series import SeriesPack
from ampstead.declare import Caution
from ampstead.inputs.pack import Pack
from ampstead.judging.cautions import VERY_COLD, caution, resistance_cautions
from ampstead.judging.cells import suspect_cautions

COLD = 283.15
"""10 °C: below it a lithium pack is warmed before it flies. This project's own judgement."""
HOUR = 3600.0


def left_by_peukert(charge: float, current: float, exponent: float, hours: float) -> float:
    """Part of the capacity that a current leaves, no more than all of it.

    t = H·(C/(I·H))^k, hence I·t/C = (C/(I·H))^(k − 1): Peukert's law for the H-hour capacity C in coulomb.
    """
    return float(min(1.0, (charge / (current * hours * HOUR)) ** (exponent - 1.0)))


def largest_current(pack: SeriesPack, floor: float, reserve: float) -> float:
    """The most current, A, at which no cell is below its floor when the first has come to the reserve.

        I = min((U(z_end) − floor)/(R0 + R1))

    with resistances as they are at the start; 0 where a cell is at its reserve already.
    """
    spent = float(np.min((pack.states - reserve) * pack.capacities))
    if spent <= 0.0:
        return 0.0
    resting = pack.curve.voltage(np.maximum(pack.states - spent / pack.capacities, 0.0))
    return max(0.0, float(np.min((resting - floor) / (pack.ohmic + pack.polarisation))))


def cold_cautions(pack: Pack) -> Iterator[Caution]:
    """What the cold takes from a pack that is to carry a load."""
    if pack.temperature < VERY_COLD:
        yield caution("very-cold")
    elif pack.kind.is_lithium and pack.temperature < COLD:
        yield caution("cold-load")


def flying_cautions(pack: Pack, given: frozenset[str]) -> Iterator[Caution]:
    """What holds of a pack under whatever load: cells that stand out, cold, and where its figures come from."""
    yield from suspect_cautions(pack)
    yield from cold_cautions(pack)
    yield from resistance_cautions(pack, given)
    if not pack.curve.sourced:
        yield caution("extrapolated-curve")

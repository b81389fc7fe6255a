"""What a pack may be flown for: how much of its charge a load leaves, and what to heed of any pack that flies."""

from collections.abc import Iterator

import numpy as np

from ampstead.cell.kinds.chemistries import Chemistry
from ampstead.cell.one.series import SeriesPack
from ampstead.declare import Caution
from ampstead.inputs.pack import Pack
from ampstead.inputs.warming import Thermal
from ampstead.judging.cautions import HOTTEST_LOAD, VERY_COLD, caution, resistance_cautions
from ampstead.judging.cells import is_suspect, suspect_cautions, suspect_words
from ampstead.judging.charging import body_words
from ampstead.judging.overfull import highest_cell, is_overfull
from ampstead.words import degrees

COLD = 283.15
"""10 °C: below it a lithium pack is warmed before it flies. This project's own judgement."""
LIKE_AIR = 5.0
"""K by which air and pack may differ before one asks which of them was meant. This project's own judgement."""
HOUR = 3600.0
SHORT_FLIGHT = 30.0
"""s: what meets its limit sooner does not take off. This project's own judgement."""
SLACK = 1e-9


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


def too_cold_to_fly(temperature: float) -> bool:
    """Whether a pack is so cold, K, that the model promises nothing of what it gives."""
    return temperature < VERY_COLD - SLACK


def cold_words(temperature: float) -> str:
    """Why a pack so cold, K, does not fly."""
    return f"at {degrees(temperature, 'down')} nobody can say what a pack still gives; warm it first"


def grounded(pack: Pack) -> str:
    """Why a pack takes off under no load, in words; empty where nothing of that kind is told of it."""
    if pack.unsound:
        return f"it {body_words(pack.condition)}"
    if is_suspect(pack) and pack.cell_voltages is not None:
        return suspect_words(pack.kind, pack.cell_voltages)
    if is_overfull(pack.kind, highest_cell(pack)):
        return "a cell stands above full"
    if too_hot_to_fly(pack.temperature):
        return f"at {degrees(pack.temperature, 'up')} it must not be loaded; let it cool first"
    return cold_words(pack.temperature) if too_cold_to_fly(pack.temperature) else ""


def cold_cautions(kind: Chemistry, temperature: float) -> Iterator[Caution]:
    """What the cold takes from a pack, at K, that is to carry a load."""
    if too_cold_to_fly(temperature):
        yield caution("very-cold")
    elif kind.is_lithium and temperature < COLD:
        yield caution("cold-load")


def too_hot_to_fly(temperature: float) -> bool:
    """Whether a pack is so hot, K, that no load is put on it."""
    return temperature > HOTTEST_LOAD + SLACK


def hot_cautions(temperature: float) -> Iterator[Caution]:
    """The same, where nothing else is said of a limit of temperature."""
    if too_hot_to_fly(temperature):
        yield caution("discharge-hot")


def air_cautions(pack: Pack, thermal: Thermal) -> Iterator[Caution]:
    """That air much warmer or colder than the pack changes nothing where no cooling was told."""
    if thermal.cooling == 0 and abs(thermal.ambient - pack.temperature) > LIKE_AIR:
        yield caution("air-uncounted", air=degrees(thermal.ambient), pack=degrees(pack.temperature))


def flying_cautions(pack: Pack, given: frozenset[str]) -> Iterator[Caution]:
    """What holds of a pack under whatever load: cells that stand out, cold, and where its figures come from."""
    yield from suspect_cautions(pack)
    yield from cold_cautions(pack.kind, pack.temperature)
    yield from resistance_cautions(pack, given)
    if not pack.curve.sourced:
        yield caution("extrapolated-curve")

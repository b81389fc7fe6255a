"""Capacity and resistance from a counted discharge."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated

import numpy as np

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.kinds.curves import state_difference_band
from ampstead.cell.kinds.resistance import POLARISATION_RATIO, temperature_ratio
from ampstead.declare import Band, Caution, Floats, Fraction, Group, Quantity, Text, derived
from ampstead.errors import FieldError
from ampstead.inputs.pack import ChemistryName, Pack, has_curve
from ampstead.inputs.shared import LARGEST_CAPACITY, MOST_CURRENT, readings_in_range
from ampstead.judging.bands import band_over
from ampstead.judging.cautions import Table, cells_unseen, worn_cautions
from ampstead.judging.cautions import caution as shared
from ampstead.judging.doubts import error
from ampstead.words import milliampere_hours, percent, sentences, span

SOURCES = (
    "Charge is current times time (Lessons in Electric Circuits vol. I, battery ratings); what a cut-off leaves behind "
    "stands on the open-circuit curve above it by the current times the resistance (Ohm's law)",
    "Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), "
    "US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured",
    "Resistance against temperature: 20 kJ/mol, general lithium-ion (tables shipped by simses 1.3, BSD-3); what "
    "lead-acid loses in the cold: from memory",
    "5 millivolts of error in each cell's reading: this project's own judgement",
)
ASKED = "What capacity does this counted discharge show?"
WHEN = ("back home", 25)
MAIN = ("measured_capacity", "capacity_left")
MOST_ROWS = 1000
EXAMPLES = (
    {"cells": 3, "capacity": "2250 mAh", "charge_drawn": "1790 mAh", "current": "2.3 A", "cut_off_voltage": "10.8 V",
     "rest_after": "10.9 V", "temperature": "13 °C"},
    {"chemistry": "liion", "cells": 4, "capacity": "3500 mAh", "charge_drawn": "3010 mAh", "current": "1.8 A",
     "cut_off_voltage": "12.3 V", "rest_before": "16.7 V", "rest_after": "12.6 V"},
)  # fmt: skip
LEAST = 0.25
"""Difference of states below which nothing is told. This project's own judgement."""
SLACK = 1e-9


def full_voltage(chemistry: ChemistryName, cells: int | None) -> float | None:
    """That of a full pack."""
    kind = CHEMISTRIES[chemistry]
    return None if cells is None or kind.curve is None else float(kind.curve.voltages[-1]) * cells


def voltages_are_possible(
    chemistry: ChemistryName, cells: int | None, rest_before: float | None, rest_after: float | None
) -> Iterator[FieldError]:
    """Neither reading is above what a cell can have at rest."""
    yield from readings_in_range("rest_before", chemistry, cells, rest_before)
    yield from readings_in_range("rest_after", chemistry, cells, rest_after)


def voltage_recovers(rest_after: float | None, cut_off_voltage: float | None) -> Iterator[FieldError]:
    """A pack rises when its load is taken off."""
    if rest_after is not None and cut_off_voltage is not None and rest_after <= cut_off_voltage * (1 + SLACK):
        for name in ("rest_after", "cut_off_voltage"):
            said = "rest_after is the resting voltage afterwards, which lies above cut_off_voltage, the last under load"
            yield FieldError(name, "conflict", said)


CHECKS = (has_curve, voltages_are_possible, voltage_recovers)


@dataclass(frozen=True, slots=True, kw_only=True)
class CountedDischarge:
    measured_capacity: Annotated[
        float | None,
        Quantity("mAh", "Capacity of the pack at 25 °C; none where too little of it was drawn to tell."),
    ]
    capacity_left: Annotated[
        float | None, Fraction("That over the label's capacity; none without either.", spoken="down")
    ]
    left_behind: Annotated[
        float, Fraction("Part of its charge that the pack still had when the discharge was cut off.")
    ]
    pack_resistance: Annotated[
        float, Quantity("mΩ", "Resistance of the whole pack over a long load, fast and slow part.", spoken="up")
    ]
    cell_resistance: Annotated[
        float, Quantity("mΩ", "Mean resistance of a cell, as a load of a second would show it.", spoken="up")
    ]
    resistance_at_25C: Annotated[  # noqa: N815  # a name that load-test has too
        float, Quantity("mΩ", "Resistance of the pack as it would be at 25 °C, to compare with others.", spoken="up")
    ]


def counted_discharge(
    *,
    pack: Annotated[
        Pack, Group(name="pack", only=("chemistry", "cells", "capacity", "temperature"), require=("cells",))
    ],
    charge_drawn: Annotated[
        float, Quantity("mAh", "Charge that was counted out.", above=0, at_most="200 Ah", example="1790 mAh")
    ],
    current: Annotated[
        float,
        Quantity("A", "Current of the discharge, held to its end.", above=0, at_most=MOST_CURRENT, example="2.3 A"),
    ],
    cut_off_voltage: Annotated[
        float,
        Quantity("V", "Voltage of the pack under load when it ended.", above=0, at_most="100 V", example="10.8 V"),
    ],
    rest_after: Annotated[
        float,
        Quantity("V", "Resting voltage of the pack after half an hour.", above=0, at_most="100 V", example="10.9 V"),
    ],
    rest_before: Annotated[
        float, Quantity("V", "Resting voltage of the pack before.", above=0, at_most="100 V", example="12.6 V")
    ] = derived(full_voltage, "that of a full pack"),
) -> CountedDischarge:
    """The capacity that a counted discharge tells of, with what its cut-off left behind counted in.

        R         = (rest_after - cut_off_voltage) / current                              (1)
        measured  = charge_drawn / ((z(rest_before) - z(rest_after)) * left in the cold)  (2)

    A discharge that is cut off under load leaves charge in the pack, the more the harder and colder it was: the pack
    rises by current times resistance when the load is taken off, and where it then rests tells on the chemistry's
    curve what was left. So (2) does not hang on current or cut-off. Only lead-acid has less in the cold, beside that,
    1 percent per kelvin below 25 degrees. R holds the fast and the slow part; a reading after a second is two thirds
    of it. A pack's voltage is shared evenly among its cells. Range: a steady current of minutes, voltages at rest.
    """
    before, after = readings(pack, rest_before, rest_after)
    risen = pack.curve.state_at(before) - pack.curve.state_at(after)
    cold = pack.kind.left_in_cold(pack.temperature)
    known = risen >= LEAST - SLACK and edges(pack, charge_drawn, before, after)[1] < LARGEST_CAPACITY * (1 - SLACK)
    measured = charge_drawn / (risen * cold) if known else None  # Eq. (2)
    R = (rest_after - cut_off_voltage) / current  # Eq. (1)
    second = R / pack.size / (1 + POLARISATION_RATIO)
    return CountedDischarge(
        measured_capacity=measured,
        capacity_left=None if measured is None or pack.capacity is None else measured / pack.charge,
        left_behind=pack.curve.state_at(after),
        pack_resistance=R,
        cell_resistance=second,
        resistance_at_25C=R / float(temperature_ratio(pack.temperature)),
    )


def readings(pack: Pack, rest_before: float, rest_after: float) -> tuple[float, float]:
    """Both resting voltages of a cell, V."""
    return rest_before / pack.size, rest_after / pack.size


def edges(pack: Pack, charge_drawn: float, before: float, after: float) -> tuple[float, float]:
    """Least and most that the capacity may be: one curve reads both voltages, each wrong by a little."""
    under, over = error("rest reading beside")
    least, _ = state_difference_band(pack.chemistry, after + over, before + under)
    _, most = state_difference_band(pack.chemistry, after + under, before + over)
    charge = charge_drawn / pack.kind.left_in_cold(pack.temperature)
    open_ended = least * LARGEST_CAPACITY <= charge
    return charge / most if most > 0 else LARGEST_CAPACITY, LARGEST_CAPACITY if open_ended else charge / least


def sentence(answer: CountedDischarge, *, pack: Pack, bands: Mapping[str, Band]) -> str:
    """The answer as spoken."""
    named = f"this {pack.kind.words} pack"
    if answer.measured_capacity is None:
        return f"No capacity of {named} can be told: too little of its charge lies between the two resting voltages."
    band = bands["measured_capacity"]
    label = "" if answer.capacity_left is None else f", {percent(answer.capacity_left, 'down')} of its label"
    return sentences(
        f"{named[0].upper()}{named[1:]} holds about {milliampere_hours(answer.measured_capacity)}{label}, likely "
        f"{span(band.low, band.high, milliampere_hours)}.",
        f"The cut-off left {percent(answer.left_behind) if answer.left_behind > 0 else 'nothing'} of it behind.",
    )


OWN_CAUTIONS: Table = {
    # This project's own judgement.
    "much-left-behind": (
        "note",
        "Much was left behind by the cut-off: with less current the count itself comes nearer to the capacity.",
    ),
    "drawn-too-little": (
        "warning",
        "Begin full and draw the pack down to its floor under a gentle load, watched, and ask with those figures.",
    ),
}
caution = shared.beside(OWN_CAUTIONS)


def cautions(answer: CountedDischarge, *, pack: Pack) -> Iterator[Caution]:
    """What to heed."""
    if answer.measured_capacity is None:
        yield caution("drawn-too-little")
    elif answer.left_behind > 0.15:
        yield caution("much-left-behind")
    yield from worn_cautions(answer.capacity_left)
    yield caution("watched-discharge")
    yield caution("rest-first")
    if pack.size > 1:
        yield cells_unseen(pack.kind)
    yield caution("flat-curve" if pack.kind.flat_curve else "state-from-voltage")
    if not pack.curve.sourced:
        yield caution("extrapolated-curve")


def accuracy(
    answer: CountedDischarge, *, pack: Pack, charge_drawn: float, rest_before: float, rest_after: float
) -> Iterator[Band]:
    """How sure the capacity is."""
    if answer.measured_capacity is None:
        return
    found = edges(pack, charge_drawn, *readings(pack, rest_before, rest_after))
    basis = (
        "how far published curves of like cells disagree on both voltages, and 5 millivolts of error in each cell's "
        "reading (this project's own judgement)"
    )
    yield band_over("measured_capacity", answer.measured_capacity, found, basis)


@dataclass(frozen=True, slots=True, kw_only=True)
class DischargeTable:
    when: Annotated[list[str], Text("Before or after the discharge.")]
    voltage: Annotated[Floats, Quantity("V", "Resting voltage of the pack.")]
    state_of_charge: Annotated[Floats, Fraction("State of charge.")]


def curve(answer: CountedDischarge, *, pack: Pack, rest_before: float, rest_after: float) -> DischargeTable:
    """Both states."""
    volts = np.array([rest_before, rest_after])
    return DischargeTable(when=["before", "after"], voltage=volts, state_of_charge=pack.curve.state(volts / pack.size))

"""May these packs be joined in parallel.

Over 300 lines, since a calculator is one file, with its cautions, its curve and its picture.
"""

from collections.abc import Iterator
from dataclasses import dataclass, fields
from typing import Annotated, Any, ClassVar

import numpy as np

from ampstead.cell.sizing import HOUR, current_rate
from ampstead.declare import Band, Caution, Flag, Floats, Group, Items, OneOf, Quantity, Rate
from ampstead.errors import FieldError
from ampstead.inputs.pack import (
    Checks,
    ChemistryName,
    Pack,
    cells_in_range,
    has_curve,
    lengths_agree,
    slow_part_fits,
    voltages_in_range,
)
from ampstead.inputs.shared import LeadResistance
from ampstead.judging.cautions import caution, charging, has_balance_plug, main_leads_first
from ampstead.judging.joining import (
    AT_REST,
    FEWEST,
    Join,
    JoinedPack,
    apart_words,
    edges_said,
    enough_packs,
    join_cautions,
    names,
    packs_alike,
    peak_band,
    unfit_words,
)
from ampstead.sketch import Chart, Limit, Panel
from ampstead.words import duration, millivolts, sentences, volts, warmth
from ampstead.words import rate as spoken_rate

ASKED = "May I join these packs in parallel?"
WHEN = ("at the field", 60)
MAIN = ("within_limit", "peak_rate", "time_to_settle")
SOURCES = (
    "Current between joined batteries: difference of voltage over the sum of resistances (OpenStax College Physics, "
    "ch. 21.2)",
    "The exchange over time: equivalent circuits with one RC pair each; compared with the simulator ngspice 39",
    "Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), "
    "US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured",
    "A charge rate of 1 as the limit, main leads before balance plugs, a tenth of a volt a cell: common practice, no "
    "published source",
    "Less in the cold and with a low cell, as for any charge; what counts as settled; cells 0.1 V apart and 30 "
    "milliohm a balance wire: this project's own judgement",
)
MOST_ROWS = 200
EXAMPLES = (
    {
        "packs": [
            {
                "name": "red trainer A",
                "cells": 3,
                "capacity": "2250 mAh",
                "cell_resistance": "8.5 mΩ",
                "rest_voltage": "11.31 V",
            },
            {
                "name": "red trainer B",
                "cells": 3,
                "capacity": "2250 mAh",
                "cell_resistance": "9 mΩ",
                "rest_voltage": "11.34 V",
            },
        ],
        "lead_resistance": "4 mΩ",
    },
    {
        "packs": [
            {"name": "the full aerobat", "cells": 4, "capacity": "3700 mAh", "rest_voltage": "16.75 V"},
            {"name": "the flown aerobat", "cells": 4, "capacity": "3700 mAh", "rest_voltage": "15.07 V", "max_rate": 3},
        ],
    },
    {
        "voltages": "11.9 V,12.3 V",
        "cells": 3,
        "capacity": "2250 mAh",
        "cell_resistance": "9 mΩ",
        "lead_resistance": "4 mΩ",
    },
)
CURVE_POINTS = 160
CLOSEST = 0.001  # V a cell; closer than that nobody brings packs.
LITTLE = 0.01  # C; less is not worth a figure in a sentence.
LEAST_SHOWN = 60.0  # s
CURVE_PART = 1.25  # Of the time to settle: so much of it is shown.


def flat_has_curve(chemistry: ChemistryName | None) -> Iterator[FieldError]:
    """As for any pack, where the packs are told flat."""
    if chemistry is not None:
        yield from has_curve(chemistry)


def flat_slow_part_fits(
    given: set[str],
    cell_resistance: Any,
    pack_resistance: float | None,
    cells: int | None,
    polarisation_resistance: Any,
    polarisation_time: float | None,
    resistance_method: Any,
) -> Iterator[FieldError]:
    """As for any pack, where the packs are told flat."""
    if resistance_method is not None and polarisation_time is not None:
        yield from slow_part_fits(
            given,
            cell_resistance,
            pack_resistance,
            cells,
            polarisation_resistance,
            polarisation_time,
            resistance_method,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class LikePack(Pack):
    """The packs to be joined, alike but for their voltages, told flat; nothing where ``packs`` tells them."""

    CHECKS: ClassVar[Checks] = (lengths_agree, cells_in_range, flat_has_curve, flat_slow_part_fits)


STATE = ("state_of_charge", "rest_voltage", "cell_voltages")
FLAT = tuple(entry.name for entry in fields(Pack) if entry.name not in STATE)


def packs_are_told(packs: Any, voltages: Floats | None, cells: int | None, capacity: Any) -> Iterator[FieldError]:
    """The packs are a list, or all of one kind, told flat."""
    if packs:
        yield from enough_packs(packs)
        yield from packs_alike(packs)
        return
    if voltages is None:
        said = 'packs is missing: the packs to join (or give voltages, like "11.9 V,12.3 V", with cells and capacity)'
        yield FieldError("packs", "missing", said)
        return
    if len(voltages) < FEWEST:
        said = f"voltages takes {FEWEST} to 64 values, one of each pack at rest; {len(voltages)} was given"
        yield FieldError("voltages", "wrong_length", said)
    if cells is None:
        said = "cells is missing: number of cells of each of the packs, like 3 (or give packs)"
        yield FieldError("cells", "missing", said)
    if capacity is None:
        said = 'capacity is missing: capacity of each of the packs, like "2250 mAh" (or give packs)'
        yield FieldError("capacity", "missing", said)


def flat_voltages_in_range(
    chemistry: ChemistryName | None, cells: int | None, voltages: Floats | None
) -> Iterator[FieldError]:
    """As for any pack's voltage."""
    if chemistry is None or voltages is None or not cells:
        return
    for fault in voltages_in_range(chemistry, cells, float(np.max(voltages))):
        said = fault.message.replace("rest_voltage is the whole pack's", "voltages are of whole packs")
        yield FieldError("voltages", fault.code, said)


RULES = tuple(OneOf("packs", name, asked="Which packs?") for name in ("voltages", *FLAT))
CHECKS = (packs_are_told, flat_voltages_in_range)


@dataclass(frozen=True, slots=True, kw_only=True)
class ParallelJoin:
    within_limit: Annotated[
        bool,
        Flag(
            "Whether the packs may be joined: no pack is charged above its limit, and no cell above full.",
            yes="the packs may be joined",
            no="the packs may not be joined",
        ),
    ]
    initial_currents: Annotated[
        Floats,
        Quantity(
            "A", "Current of each pack at the first instant, positive into the pack; 0 where they must not be joined."
        ),
    ]
    peak_rate: Annotated[float, Rate("Highest rate at which any pack is charged.", spoken="up")]
    time_above_limit: Annotated[
        float, Quantity("min", "Time for which any pack is charged above its limit.", spoken="up")
    ]
    settled_voltage: Annotated[
        float | None, Quantity("V", "Voltage of all packs in the end; none where they must not be joined.")
    ]
    time_to_settle: Annotated[
        float | None,
        Quantity(
            "min", "Time until all currents stay below a tenth of the capacity an hour; none likewise.", spoken="up"
        ),
    ]
    charge_moved: Annotated[float, Quantity("mAh", "Charge that leaves the fuller packs, until all are at rest.")]
    largest_difference: Annotated[
        float,
        Quantity(
            "V",
            "Largest difference per cell, between packs at rest, that stays within the limits at the low edge of the "
            "resistances; 0 where the packs must not be joined at all.",
            spoken="down",
        ),
    ]
    largest_cell_difference: Annotated[
        float | None,
        Quantity("V", "Most by which cells of one place differ; none where no pack's cells were told one by one."),
    ]
    balance_wire_current: Annotated[
        float | None,
        Quantity(
            "A",
            "Most through a wire of the balance plugs, 30 mΩ a tap, where these are joined as well; none likewise.",
            spoken="up",
        ),
    ]
    _join: Join


def parallel_join(
    *,
    packs: Annotated[
        list[JoinedPack] | None,
        Items(
            "The packs, of one chemistry and one number of cells, each with its state.",
            example=EXAMPLES[0]["packs"],
        ),
    ] = None,
    voltages: Annotated[
        Floats | None,
        Quantity(
            "V",
            "Resting voltage of each pack, where they are alike in all else.",
            at_least=0,
            example="11.9 V,12.3 V",
        ),
    ] = None,
    pack: Annotated[LikePack, Group(name="pack", omit=STATE)],
    limit_rate: Annotated[
        float,
        Rate(
            "Highest charge rate that a pack may see whose own highest is not given.", above=0, at_most=100, example=1
        ),
    ] = 1.0,
    lead_resistance: LeadResistance = 0.0,
) -> ParallelJoin:
    """Whether packs may be joined in parallel, and what flows between them if they are.

    The packs are a list, or alike but for their ``voltages``. Each is a series of cells with one RC pair and a lead;
    all hang on one board whose currents add up to nought:

        V = E_p(q_p) + R1_p * w_p + R_p * i_p,   sum(i_p) = 0                       (1)
        i_p(0) = (V - E_p) / R_p,   V = sum(E_p / R_p) / sum(1 / R_p)               (2)

    integrated from rest until the currents die away. The largest difference is that
    between one pack and all others, which then charge it together:

        D = limit_p * G / (g_p * (G - g_p)) / cells, the least over p;  g = 1 / R, G = sum(g)    (3)

    For two packs it is limit * (R_1 + R_2) / cells. Resistances are no surer than how they were measured or guessed:
    whether the packs may be joined, and the largest difference, go by their low edge. Cells of one place are compared
    as well: through the balance plugs they level each other over thin wires,

        (x_k - x_k-1 - E_k) / R_k + (x_k - x_k+1 + E_k+1) / R_k+1 + (x_k - v_k) / w = 0         (4)

    for every tap x_k of every pack, v_k the common one, w half of 30 milliohm; more than 0.1 V apart, each pack is
    levelled by itself first. Current into a pack is positive. The limit of a pack is its
    own highest rate, or ``limit_rate``; a fifth of it from 0 to 10 degrees, none below 0 or above 40 (lithium),
    and at most 0.1 with a low cell. Packs that are not sound, have a dead cell, one that stands out or one above its
    end of charge, or of whose cell count there is doubt, are not joined at all: nothing flows then.
    """
    joined = packs or [like_pack(pack, voltage) for voltage in ([] if voltages is None else voltages.tolist())]
    join = Join(joined, lead_resistance, limit_rate)
    if join.refused:
        return ParallelJoin(
            within_limit=False,
            initial_currents=np.zeros(len(joined)),
            peak_rate=0.0,
            time_above_limit=0.0,
            settled_voltage=None,
            time_to_settle=None,
            charge_moved=0.0,
            largest_difference=0.0,
            largest_cell_difference=join.largest_cell_difference,
            balance_wire_current=join.balance_wire_current,  # Eq. (4)
            _join=join,
        )
    run = join.run
    return ParallelJoin(
        within_limit=join.within_limit,
        initial_currents=run.first_currents,  # Eq. (2)
        peak_rate=join.peak_rate,
        time_above_limit=run.time_above(join.limits),
        settled_voltage=run.settled_voltage,
        time_to_settle=run.time_to(AT_REST),
        charge_moved=run.charge_moved,
        largest_difference=join.largest_difference,  # Eq. (3)
        largest_cell_difference=join.largest_cell_difference,
        balance_wire_current=join.balance_wire_current,  # Eq. (4)
        _join=join,
    )


def like_pack(pack: Pack, voltage: float) -> JoinedPack:
    """One of several packs that differ in their voltage alone."""
    return JoinedPack(**{name: getattr(pack, name) for name in FLAT}, rest_voltage=voltage)


def sentence(answer: ParallelJoin) -> str:
    """The answer as spoken."""
    join, packs, called = answer._join, answer._join.packs, names(answer._join.packs)
    if join.refused:
        return sentences(f"Do not join these {packs[0].kind.words} packs.", *unfit_words(join))
    assert answer.settled_voltage is not None
    assert answer.time_to_settle is not None
    name, rate = called[join.hardest], float(join.rates(join.most)[join.hardest])
    taken = f"taken at {warmth(pack.temperature for pack in packs)}"
    kind = packs[0].kind.words
    if join.apart:
        return f"Do not join these {kind} packs yet: {apart_words(join)}. Level each pack by itself first."
    if join.overcharged and not join.too_hard:
        pack, cell = join.overcharged
        return (
            f"Do not join these {kind} packs yet: cell {cell + 1} of {called[pack]} would be driven above full. Level "
            "its cells first."
        )
    if join.too_hard:
        limit = current_rate(float(join.limits[join.hardest]), packs[join.hardest].charge)
        bound = f"should take {spoken_rate(limit, 'down')} at most" if limit else "must take no charge"
        within = millivolts(answer.largest_difference, "down")
        cure = f"Bring them within {within} a cell first." if limit else ""
        if limit and answer.largest_difference < CLOSEST:
            cure = "None stand so close that they could be joined: charge or use them one by one."
        return sentences(
            f"Do not join these {kind} packs yet: up to {spoken_rate(rate, 'up')} may flow into {name}, which "
            f"{bound}, {taken}.",
            cure,
        )
    flows = (
        f"{'about' if join.just_within else 'at most'} {spoken_rate(rate, 'up')} flows into {name}"
        if rate >= LITTLE
        else "hardly anything flows between them"
    )
    settled = (
        f", and after {duration(answer.time_to_settle, 'up')} they are at rest at {volts(answer.settled_voltage)}"
        if answer.time_to_settle > 0
        else ""
    )
    return sentences(
        f"These {kind} packs may be joined: {flows}{settled}, {taken}.",
        "Main leads first, balance plugs after."
        if has_balance_plug(packs[0].kind, packs[0].size)
        else "Check the polarity first.",
    )


def cautions(answer: ParallelJoin, *, given: frozenset[str]) -> Iterator[Caution]:
    """What to heed, the reason not to join first."""
    packs = answer._join.packs
    of_each = {f"packs[{place}].{name}" for name in given.intersection(FLAT) for place in range(len(packs))}
    yield from join_cautions(answer._join, given | of_each)
    yield main_leads_first(packs[0].kind, packs[0].size)
    yield from charging(packs[0].kind)
    if not packs[0].curve.sourced:
        yield caution("extrapolated-curve")
    if packs[0].kind.flat_curve and any(pack.state_of_charge is None for pack in packs):
        yield caution("flat-curve")


def accuracy(answer: ParallelJoin) -> Iterator[Band]:
    """How sure currents and the difference are."""
    join = answer._join
    if join.refused:
        return
    yield from peak_band(join)
    low, high = join.edges
    if np.any(low != high):
        widest = join.difference(high)
        yield Band(
            "largest_difference", answer.largest_difference, widest, f"{edges_said(join)}; the answer is the low edge"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinCurve:
    time: Annotated[Floats, Quantity("min", "Time from the moment of joining.")]
    voltage: Annotated[Floats, Quantity("V", "Voltage of the board.")]
    current: Annotated[Floats, Quantity("A", "Largest current into any one pack.")]
    rate: Annotated[Floats, Rate("Highest rate at which any pack is charged.")]
    charge_moved: Annotated[Floats, Quantity("mAh", "Charge that has left the fuller packs so far.")]


def curve(answer: ParallelJoin) -> JoinCurve:
    """The exchange over time; empty where nothing flows."""
    join = answer._join
    if join.refused:
        return JoinCurve(**dict.fromkeys(JoinCurve.__dataclass_fields__, np.empty(0)))
    assert answer.time_to_settle is not None
    end = max(CURVE_PART * answer.time_to_settle, LEAST_SHOWN)
    # Closer together where most happens.
    time = end * np.linspace(0.0, 1.0, CURVE_POINTS) ** 2
    points = join.run.points(time)
    return JoinCurve(
        time=time,
        voltage=points.voltages,
        current=np.max(points.currents, axis=1),
        rate=np.max(points.currents / join.run.bank.capacities, axis=1) * HOUR,
        charge_moved=np.sum(np.maximum(-points.charges, 0.0), axis=1),
    )


def picture(answer: ParallelJoin) -> Chart:
    """Rate and charge moved after the join, limit and end marked."""
    join, packs = answer._join, answer._join.packs
    limits: tuple[Limit, ...] = ()
    if not join.refused:
        limit = current_rate(float(join.limits[join.hardest]), packs[join.hardest].charge)
        limits = (Limit(limit, f"limit {limit:.3g} C"),)
    return Chart(
        title="May be joined" if answer.within_limit else "Do not join",
        x="time",
        panels=(
            Panel({"rate": ""}, limits, from_zero=True),
            Panel({"charge_moved": ""}, (Limit(answer.charge_moved, "at rest"),), from_zero=True),
        ),
    )

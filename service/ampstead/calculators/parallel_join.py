"""May these packs be joined in parallel."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Any

import numpy as np

from ampstead.cautions import caution, charging
from ampstead.cell.sizing import current_rate
from ampstead.declare import Band, Caution, Flag, Floats, Items, Quantity, Rate
from ampstead.errors import FieldError
from ampstead.inputs import LeadResistance
from ampstead.joining import AT_REST, Join, JoinedPack, join_cautions, names, packs_alike, unfit_words
from ampstead.sketch import Chart, Limit, Panel
from ampstead.words import capitalised, degrees, duration, listed, millivolts, sentences, volts
from ampstead.words import rate as spoken_rate

SOURCES = (
    "Current between joined batteries: difference of voltage over the sum of resistances (OpenStax College Physics, "
    "ch. 21.2)",
    "The exchange over time: equivalent circuits with one RC pair each; compared with the simulator ngspice 39",
    "Open-circuit curves: Ai et al. 2020 (lipo), Chen et al. 2020 (liion), Prada et al. 2013 (life), "
    "US Army TM 5-3805-262-20 (lead); lihv is extrapolated, not measured",
    "A charge rate of 1 as the limit, main leads before balance plugs, a tenth of a volt a cell: common practice, no "
    "published source",
    "Less in the cold and with a low cell, as for any charge; what counts as settled: this project's own judgement",
)
EXAMPLES = (
    {
        "packs": [
            {"cells": 4, "capacity": "1600 mAh", "cell_resistance": "7 mΩ", "rest_voltage": "15.40 V"},
            {"cells": 4, "capacity": "1600 mAh", "cell_resistance": "7 mΩ", "rest_voltage": "15.36 V"},
        ],
        "lead_resistance": "3 mΩ",
    },
    {
        "packs": [
            {"name": "the full one", "cells": 4, "capacity": "1600 mAh", "rest_voltage": "16.6 V"},
            {"name": "the flown one", "cells": 4, "capacity": "1600 mAh", "rest_voltage": "15.2 V", "max_rate": 3},
        ],
    },
)
FEWEST = 2
CURVE_POINTS = 160
CURVE_PART = 1.25  # Of the time to settle: so much of it is shown.


def enough_packs(packs: Sequence[Any]) -> Iterator[FieldError]:
    """One pack alone is not joined to anything."""
    if len(packs) < FEWEST:
        yield FieldError("packs", "wrong_length", f"packs takes {FEWEST} to 64 entries; {len(packs)} was given")


CHECKS = (enough_packs, packs_alike)


@dataclass(frozen=True, slots=True, kw_only=True)
class ParallelJoin:
    within_limit: Annotated[bool, Flag("Whether the packs may be joined: no pack is ever charged above its limit.")]
    initial_currents: Annotated[
        Floats,
        Quantity(
            "A", "Current of each pack at the first instant, positive into the pack; 0 where they must not be joined."
        ),
    ]
    peak_rate: Annotated[float, Rate("Highest rate at which any pack is charged.")]
    time_above_limit: Annotated[float, Quantity("min", "Time for which any pack is charged above its limit.")]
    settled_voltage: Annotated[
        float | None, Quantity("V", "Voltage of all packs in the end; null where they must not be joined.")
    ]
    time_to_settle: Annotated[
        float | None,
        Quantity("min", "Time until all currents stay below a tenth of the capacity an hour; null likewise."),
    ]
    charge_moved: Annotated[float, Quantity("mAh", "Charge that leaves the fuller packs, until all are at rest.")]
    largest_difference: Annotated[
        float,
        Quantity("V", "Largest difference per cell, between packs at rest, that stays within the limits."),
    ]


def parallel_join(
    *,
    packs: Annotated[
        list[JoinedPack],
        Items(
            "The packs, of one chemistry and one number of cells, each with its state.",
            example=EXAMPLES[0]["packs"],
        ),
    ],
    limit_rate: Annotated[
        float,
        Rate(
            "Highest charge rate that a pack may see whose own highest is not given.", above=0, at_most=100, example=1
        ),
    ] = 1.0,
    lead_resistance: LeadResistance = 0.0,
) -> ParallelJoin:
    """Whether packs may be joined in parallel, and what flows between them if they are.

    Each pack is a series of cells with one RC pair and a lead; all hang on one board whose currents add up to
    nought:

        V = E_p(q_p) + R1_p * w_p + R_p * i_p,   sum(i_p) = 0                       (1)
        i_p(0) = (V - E_p) / R_p,   V = sum(E_p / R_p) / sum(1 / R_p)               (2)

    integrated from rest until the currents die away (``ampstead.cell.bank``). The largest difference is that
    between one pack and all others, which then charge it together:

        D = limit_p * G / (g_p * (G - g_p)) / cells, the least over p;  g = 1 / R, G = sum(g)    (3)

    For two packs it is limit * (R_1 + R_2) / cells. Current into a pack is positive. The limit of a pack is its
    own highest rate, or ``limit_rate``; a fifth of it from 0 to 10 degrees, none below 0 or above 40 (lithium),
    and at most 0.1 with a cell below 3.0 V. Packs that are not sound, have a cell below 2.5 V or above its end of
    charge, or of whose cell count there is doubt, are not joined at all: nothing flows then.
    """
    join = joined(tuple(packs), lead_resistance, limit_rate)
    if join.refused:
        return ParallelJoin(
            within_limit=False,
            initial_currents=np.zeros(len(packs)),
            peak_rate=0.0,
            time_above_limit=0.0,
            settled_voltage=None,
            time_to_settle=None,
            charge_moved=0.0,
            largest_difference=0.0,
        )
    run = join.run
    return ParallelJoin(
        within_limit=join.within_limit,
        initial_currents=run.first_currents,  # Eq. (2)
        peak_rate=float(np.max(join.rates)),
        time_above_limit=run.time_above(join.limits),
        settled_voltage=run.settled_voltage,
        time_to_settle=run.time_to(AT_REST),
        charge_moved=run.charge_moved,
        largest_difference=join.largest_difference,  # Eq. (3)
    )


def joined(packs: tuple[JoinedPack, ...], lead_resistance: float, limit_rate: float) -> Join:
    """The packs on their board."""
    return Join(packs, lead_resistance, limit_rate)

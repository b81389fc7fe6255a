"""The one rule for a cell that stands out: this project's own judgement, so that no check has a source outside."""

import re
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import reply

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.kinds.tables import PRADA_2013, STATES
from ampstead.inputs.pack import Pack
from ampstead.judging.cells import (
    best_retired,
    cells_said,
    cells_verdict,
    is_suspect,
    standing_out,
    suspect_cautions,
    suspect_words,
)

LITHIUM = ("lipo", "lihv", "liion", "life")


def verdict(chemistry: str, *volts: float, limit: float = 0.02) -> str:
    return cells_verdict(CHEMISTRIES[chemistry], np.array(volts), limit)


def words(chemistry: str, *volts: float) -> str:
    return suspect_words(CHEMISTRIES[chemistry], np.array(volts))


@pytest.mark.parametrize(
    ("chemistry", "volts", "suspect"),
    [
        ("lipo", (3.85, 3.84, 3.86, 3.10), True),
        ("lipo", (4.19, 4.18, 4.20, 3.90), True),
        ("lipo", (4.20, 4.20, 4.20, 3.95), True),
        ("lipo", (3.70, 3.70, 3.69, 3.70), False),  # below the rest floor, but by no more than the limit
        ("lipo", (3.69, 3.70, 3.70, 3.715), True),
        ("lipo", (3.66, 3.67, 3.69, 3.69), False),  # all of them below it
        ("lipo", (3.90, 4.00), False),  # five limits, whatever the binary digits say
        ("lipo", (3.90, 4.0001), True),
        ("lipo", (2.99, 2.99), True),
        ("lipo", (2.99,), True),
        ("lipo", (3.00, 3.00), False),
        ("lihv", (4.35, 4.24), True),
        ("liion", (3.19, 3.20), False),
        ("liion", (3.19, 3.215), True),
        ("life", (3.60, 3.60, 3.40, 3.50), False),  # the steep end: the fifth of a volt is hardly any charge
        ("life", (3.36, 3.60), False),
        ("life", (3.35, 3.60), True),  # not above it
        ("life", (3.20, 3.31), True),
        ("life", (2.50, 2.50), False),
        ("life", (2.40, 2.40), True),
        ("life", (2.99, 3.00), False),
        ("life", (2.99, 3.02), True),
        ("lead", (2.02, 2.03), False),
        ("lead", (2.02, 2.06), True),
        ("lead", (1.74, 1.75), True),
    ],
)
def test_a_pack_is_suspect_by_its_cells(chemistry: str, volts: tuple[float, ...], suspect: bool) -> None:
    assert (verdict(chemistry, *volts) == "suspect") is suspect
    assert bool(words(chemistry, *volts)) is suspect
    assert bool(standing_out(CHEMISTRIES[chemistry], np.array(volts))) is suspect


def test_the_steep_end_of_a_flat_curve_is_judged_by_charge() -> None:
    # Straight between the points of Prada et al. 2013 by hand: even the whole of that end is less than a twentieth.
    below = max(place for place, volt in enumerate(PRADA_2013) if volt <= 3.35)
    assert 1.0 - STATES[below] < 0.05
    assert verdict("life", 3.3501, 3.6) != "suspect"


def test_a_lower_limit_makes_less_of_a_spread_suspect() -> None:
    assert verdict("lipo", 3.90, 3.96) == "balance"
    assert verdict("lipo", 3.90, 3.96, limit=0.01) == "suspect"
    assert verdict("lipo", 3.90, 3.96, limit=0.1) == "drifting"
    assert verdict("lipo", 3.90, 3.94, limit=0.1) == "level"


@pytest.mark.parametrize(
    ("chemistry", "volts", "said"),
    [
        ("lipo", (3.85, 3.84, 3.86, 3.10), "cell 4 stands out at 3.1 volts"),
        ("lipo", (3.85, 4.15, 3.84, 3.86), "cell 2 stands out at 4.15 volts"),  # the high one, not the lowest
        ("lipo", (3.95, 3.80), "cell 2 stands out at 3.8 volts"),
        ("lipo", (3.68, 3.72, 3.72), "cell 1 rests below 3.7 volts and others do not"),
        ("lipo", (3.6, 3.6, 3.59, 4.1), "cells 1, 2 and 3 rest below 3.7 volts and others do not"),
        ("lipo", (3.8, 2.9, 3.8), "cell 2 rests below 3 volts"),
        ("lipo", (2.9, 3.8, 2.8), "cells 1 and 3 rest below 3 volts"),
        ("lipo", (2.9, 3.8, 0.0), "cell 3 rests below 2.5 volts"),  # the dead one
        ("lipo", (0.0, 0.0), "every cell rests below 2.5 volts"),
        ("lead", (1.7, 2.05), "cell 1 rests below 1.75 volts"),
        ("lipo", (2.9, 2.8), "every cell rests below 3 volts"),
        ("life", (2.4, 2.4, 2.6), "cells 1 and 2 rest below 2.5 volts"),
        ("lipo", (2.9,), "cell 1 rests below 3 volts"),
        ("lipo", (3.6, 3.6, 3.59, 3.61, 4.1), "all cells but cell 5 rest below 3.7 volts"),
        ("lipo", (3.6, 3.6, 3.59, 3.61, 4.1, 4.1, 4.1), "four of seven cells rest below 3.7 volts and others do not"),
    ],
)
def test_what_stands_out_is_named(chemistry: str, volts: tuple[float, ...], said: str) -> None:
    assert words(chemistry, *volts) == said


@pytest.mark.parametrize(
    ("places", "of", "said"),
    [
        ([3], 4, "cell 3"),
        ([1, 2, 4], 5, "cells 1, 2 and 4"),
        ([1, 2, 3, 4], 5, "all cells but cell 5"),
        ([1, 3, 4, 6], 6, "all cells but cells 2 and 5"),
        ([1, 2, 3, 4], 7, "four of seven cells"),
        ([1, 2, 3, 4, 5, 6, 7, 9, 10], 12, "nine of twelve cells"),
    ],
)
def test_few_cells_are_named_by_place_and_many_are_counted(places: list[int], of: int, said: str) -> None:
    assert cells_said(places, of) == said


@pytest.mark.parametrize(
    "calculator", ["balance-need", "charge-current", "charge-left", "storage", "charge-temperature"]
)
@pytest.mark.parametrize("low", range(1, 15))
def test_no_phone_speaks_a_long_row_of_cells(calculator: str, low: int) -> None:
    readings = [2.9] * low + [3.8] * (14 - low)
    asked: dict[str, Any] = {"cell_voltages": [f"{reading} V" for reading in readings]}
    if calculator != "balance-need":
        asked |= {"cells": 14, "capacity": "2250 mAh"}
    told = reply(calculator, **asked, **({"temperature": "13 °C"} if calculator == "charge-temperature" else {}))
    for text in (told["sentence"], *(entry["text"] for entry in told["cautions"])):
        assert not re.search(r"cells( \d+,){3}", text), text


def told(chemistry: str, *volts: float) -> list[str]:
    pack = Pack(chemistry=chemistry, cells=len(volts), cell_voltages=np.array(volts))  # type: ignore[arg-type]
    return [entry.code for entry in suspect_cautions(pack)]


def test_the_caution_goes_from_none_to_suspect_to_dead() -> None:
    assert told("lipo", 3.85, 3.86) == []
    assert told("lipo", 3.85, 3.10) == ["suspect-cell"]
    assert told("lipo", 3.85, 2.49) == ["dead-cell"]
    assert told("life", 2.4, 2.4) == ["suspect-cell"]  # low, not dead
    assert told("life", 1.99, 2.4) == ["dead-cell"]


def test_the_voltage_of_the_whole_pack_or_a_state_makes_no_cell_suspect() -> None:
    assert not is_suspect(Pack(cells=4, rest_voltage=11.0))
    assert not is_suspect(Pack(cells=4, state_of_charge=0.0))


@given(
    st.sampled_from([*LITHIUM, "lead"]),
    st.lists(st.floats(0, 1), min_size=1, max_size=14),
    st.permutations(range(14)),
    st.sampled_from([0.005, 0.02, 0.05]),
)
def test_the_order_of_the_cells_does_not_matter(
    chemistry: str, parts: list[float], order: list[int], limit: float
) -> None:
    kind = CHEMISTRIES[chemistry]
    volts = np.round(kind.floor - 0.9 + np.array(parts) * (kind.end_of_charge - kind.floor + 0.9), 3)
    turned = volts[[place for place in order if place < len(volts)]]
    assert cells_verdict(kind, volts, limit) == cells_verdict(kind, turned, limit)
    assert sorted(volts[np.array(standing_out(kind, volts, limit), dtype=int) - 1]) == sorted(
        turned[np.array(standing_out(kind, turned, limit), dtype=int) - 1]
    )


@given(st.sampled_from(LITHIUM), st.integers(2, 14), st.floats(0, 1), st.floats(0.101, 0.5), st.integers(0, 13))
def test_one_cell_well_below_its_fellows_is_always_found_below_the_steep_end(
    chemistry: str, cells: int, part: float, below: float, place: int
) -> None:
    kind = CHEMISTRIES[chemistry]
    volts = np.full(cells, kind.end_of_charge - part * 0.1)
    place %= cells
    volts[place] -= max(below, volts[place] - kind.steep_from if kind.steep_from else 0.0)
    assert standing_out(kind, volts) == (place + 1,)


@pytest.mark.parametrize(("volts", "retired"), [((3.0, 3.12), False), ((2.99, 3.12), True), ((2.99, 2.98), False)])
def test_a_cell_below_all_that_a_cell_at_rest_should_have_is_retired_if_it_is_alone(
    volts: tuple[float, ...], retired: bool
) -> None:
    # This project's own judgement: no source outside.
    assert best_retired(CHEMISTRIES["lipo"], np.array(volts)) == retired

"""Cells of other makers than those whose curves the service uses: what it says of a pack holds for them too.

The figures are the tables that simses ships, kept in `cell_other_makers.json`.
"""

import json
from typing import Any

import pytest
from reference.asking import reply
from reference.cases import DATA

KEPT: dict[str, Any] = json.loads((DATA / "cell_other_makers.json").read_text("utf-8"))
CURVES = [(name, float(state), volt) for name, curve in KEPT["curves"].items() for state, volt in curve.items()]
WARMTHS = [
    (name, float(celsius), ratio)
    for name, states in KEPT["resistances"].items()
    for ratios in states.values()
    for celsius, ratio in ratios.items()
]


def told(chemistry: str, volt: float) -> tuple[float, float, float]:
    """State of charge and the edges of its band."""
    got = reply("charge-left", chemistry=chemistry, cells=1, rest_voltage=f"{volt} V")
    state = got["answer"]["state_of_charge"]
    band = next((band for band in got["accuracy"] if band["of"] == "state_of_charge"), {"low": state, "high": state})
    return state, band["low"], band["high"]


@pytest.mark.parametrize("chemistry", ["liion", "lipo"])
def test_no_other_makers_cell_is_much_emptier_than_the_low_edge_that_fliers_are_told(chemistry: str) -> None:
    edges = [(state, *told(chemistry, volt)) for _, state, volt in CURVES]
    assert max(low - state for state, _, low, _ in edges) < 0.015
    # The other way, where nothing is risked, a cell that rests at 4.14 V when full is the furthest.
    assert max(state - high for state, _, _, high in edges) < 0.07
    within = sum(low <= state <= high for state, _, low, high in edges)
    assert within > 0.7 * len(edges)


@pytest.mark.parametrize(("name", "celsius", "ratio"), WARMTHS)
def test_resistance_in_the_cold_and_in_the_heat_is_within_a_quarter_of_other_makers_cells(
    name: str, celsius: float, ratio: float
) -> None:
    cold = reply("sag", cells=1, cell_resistance="10 mΩ", current="10 A", duration="0 s", temperature=f"{celsius} °C")
    assert cold["answer"]["sag"]["value"] / 0.1 == pytest.approx(ratio, rel=0.25)

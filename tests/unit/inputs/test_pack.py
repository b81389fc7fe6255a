"""The pack: what its inputs resolve to, which of them disagree, and what its voltages may mean.

Figures are worked by hand from the constants agreed on for the project: 15 mΩ·Ah for a lipo pack, half of the fast
resistance as the slow one, 20 (15 to 25) kJ/mol, 1.4 (1.2 to 2) for 1 kHz, 0.8 to 1.5 for a charger.
"""

from math import exp, inf
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.reference.asking import refusals

from ampstead.inputs.pack import Pack, cell_count, usual_cell_resistance, usual_polarisation

HOUR = 3600.0
OHM = 0.012


def pack(**told: Any) -> Pack:
    return Pack(**{"chemistry": "lipo", "cells": 3, "capacity": 2.25 * HOUR, "state_of_charge": 0.5} | told)


def test_one_value_stands_for_every_cell() -> None:
    told = pack(cell_resistance=OHM, polarisation_resistance=OHM / 2)
    assert told.ohmic() == pytest.approx([OHM] * 3)
    assert told.polarisation() == pytest.approx([OHM / 2] * 3)
    assert told.capacities() == pytest.approx([8100] * 3)
    assert told.states() == pytest.approx([0.5] * 3)


def test_a_packs_resistance_is_shared_evenly() -> None:
    assert pack(pack_resistance=0.03, cell_resistance=None, polarisation_resistance=0.0).ohmic() == pytest.approx(
        [0.01] * 3
    )


def test_the_capacity_is_that_of_the_smallest_cell_and_none_is_without_end() -> None:
    assert pack(capacity=np.array([8100.0, 7200.0, 8000.0])).charge == 7200
    assert pack(capacity=None).charge == inf
    assert pack(capacity=None).capacities() == pytest.approx([inf] * 3)


@pytest.mark.parametrize(("method", "factor"), [("1kHz", 1.4), ("charger", 1.0), ("1s", 1.0)])
def test_the_method_tells_what_a_figure_is_worth(method: str, factor: float) -> None:
    told = pack(cell_resistance=OHM, polarisation_resistance=0.004, resistance_method=method)
    assert told.ohmic() == pytest.approx([factor * OHM] * 3)
    assert told.polarisation() == pytest.approx([0.004] * 3)


def test_resistances_rise_in_the_cold_from_where_they_were_measured() -> None:
    told = pack(cell_resistance=OHM, polarisation_resistance=OHM / 2, temperature=278.15, resistance_temperature=293.15)
    ratio = exp(20e3 / 8.314462618 * (1 / 278.15 - 1 / 293.15))
    assert told.ohmic() == pytest.approx([ratio * OHM] * 3)
    assert told.polarisation() == pytest.approx([ratio * OHM / 2] * 3)


def test_the_guess_falls_with_the_capacity_and_is_none_beside_a_figure() -> None:
    assert usual_cell_resistance("lipo", 3.7 * HOUR, None) == pytest.approx(0.015 / 3.7)
    assert usual_cell_resistance("liion", 3.5 * HOUR, None) == pytest.approx(0.100 / 3.5)
    assert usual_cell_resistance("lipo", 3.7 * HOUR, 0.02) is None
    assert usual_cell_resistance("lipo", None, None) is None


def test_the_slow_part_is_half_of_the_fast_one() -> None:
    assert usual_polarisation(OHM, None, 3, "1s", 30.0) == pytest.approx(OHM / 2)
    assert usual_polarisation(OHM, None, 3, "1kHz", 30.0) == pytest.approx(1.4 * OHM / 2)
    assert usual_polarisation(None, 0.03, 3, "1s", 30.0) == pytest.approx(0.005)
    # After ten seconds of thirty a part of 1 − e^(−1/3) of the slow half is in the figure.
    assert usual_polarisation(OHM, None, 3, "10s", 30.0) == pytest.approx(OHM / (1 + 0.5 * (1 - exp(-1 / 3))) / 2)
    assert usual_polarisation(None, None, 3, "1s", 30.0) is None
    assert usual_polarisation(None, 0.03, None, "1s", 30.0) is None


def test_a_packs_voltage_is_shared_evenly_and_cells_are_as_told() -> None:
    assert pack(rest_voltage=11.31, state_of_charge=None).voltage_readings() == pytest.approx([3.77] * 3)
    each = np.array([3.86, 3.91, 3.87])
    told = pack(cell_voltages=each, state_of_charge=None)
    assert told.voltage_readings() == pytest.approx(each)
    assert np.argmax(told.states()) == 1
    assert pack().voltage_readings() is None


def test_a_cell_below_the_curve_keeps_what_it_lacks() -> None:
    """The curve of Ai et al. 2020 begins at 3.0 V."""
    told = pack(cell_voltages=np.array([3.6, 2.8, 3.0]), state_of_charge=None)
    assert told.shortfalls() == pytest.approx([0, 0.2, 0], abs=1e-12)
    assert told.states()[1] == told.states()[2] == 0
    assert not np.any(pack().shortfalls())


def test_a_state_told_has_no_band_and_one_read_from_a_voltage_has_that_of_seven_cells() -> None:
    for edge in pack().state_edges():
        assert edge == pytest.approx([0.5] * 3)
    low, high = pack(rest_voltage=11.4, state_of_charge=None).state_edges()
    assert low == pytest.approx([0.433] * 3)
    assert high == pytest.approx([0.633] * 3)


def test_a_list_tells_the_number_of_cells() -> None:
    three = np.ones(3)
    assert cell_count(three, None, None) == cell_count(None, three, 1.0) == cell_count(None, 0.01, three) == 3
    assert cell_count(None, 0.01, 8100.0) is None


@pytest.mark.parametrize(
    ("question", "fields"),
    [
        ({"cells": 4, "cell_voltages": "3.8,3.8,3.8 V"}, {"cells", "cell_voltages"}),
        ({"capacity": "2 Ah,2 Ah", "cell_voltages": "3.8,3.8,3.8 V"}, {"capacity", "cell_voltages"}),
        ({"cells": 3, "cell_resistance": "8 mΩ,9 mΩ"}, {"cells", "cell_resistance"}),
        ({"cells": 3, "polarisation_resistance": "4 mΩ,4 mΩ"}, {"cells", "polarisation_resistance"}),
    ],
)
def test_lists_of_unlike_length_are_wrong_on_every_one_of_them(question: dict[str, Any], fields: set[str]) -> None:
    found = refusals("sag", **{"capacity": "2250 mAh", "current": "10 A"} | question)
    assert {field for field, code in found if code == "wrong_length"} == fields


@pytest.mark.parametrize(("chemistry", "most"), [("lipo", 14), ("lead", 24), ("nimh", 20), ("nicd", 20)])
def test_a_pack_has_no_more_cells_than_its_kind(chemistry: str, most: int) -> None:
    told = {"chemistry": chemistry, "capacity": "2250 mAh"}
    assert refusals("wattage", cells=most + 1, **told) == {("cells", "out_of_range")}
    with pytest.raises(AssertionError):
        refusals("wattage", cells=most, **told)  # nothing is refused


@pytest.mark.parametrize(
    ("told", "field"),
    [({"cell_voltages": "3.8,4.9,3.8 V"}, "cell_voltages"), ({"rest_voltage": "14.7 V", "cells": 3}, "rest_voltage")],
)
def test_what_no_cell_can_read_is_a_mistake(told: dict[str, Any], field: str) -> None:
    assert (field, "out_of_range") in refusals("charge-left", chemistry="lipo", **told)


def test_after_ten_seconds_the_slow_part_must_leave_something_for_the_fast_one() -> None:
    told = {"cells": 3, "capacity": "2250 mAh", "current": "10 A", "resistance_method": "10s"}
    slow = {"polarisation_resistance": "40 mΩ", "polarisation_time": "10 s"}
    found = refusals("sag", **told, **slow, cell_resistance="8.5 mΩ")
    assert found == {("polarisation_resistance", "conflict"), ("cell_resistance", "conflict")}
    found = refusals("sag", **told, **slow, pack_resistance="25.5 mΩ")
    assert found == {("polarisation_resistance", "conflict"), ("pack_resistance", "conflict")}


@given(st.permutations([0, 1, 2, 3]))
def test_the_order_of_the_cells_is_the_order_of_everything(order: list[int]) -> None:
    ohms, volts = np.array([0.008, 0.012, 0.009, 0.0085]), np.array([3.86, 3.70, 3.91, 3.88])
    one = pack(cells=4, cell_resistance=ohms, polarisation_resistance=ohms / 2, cell_voltages=volts)
    other = pack(
        cells=4, cell_resistance=ohms[order], polarisation_resistance=ohms[order] / 2, cell_voltages=volts[order]
    )
    for figure in ("ohmic", "polarisation", "states"):
        assert getattr(other, figure)() == pytest.approx(getattr(one, figure)()[order])
    assert other.resolved().ohmic == pytest.approx(one.resolved().ohmic[order])

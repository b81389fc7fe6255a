"""Warmth in the calculators that tell one: between what is around and what is lost, never less for more of either.

Sources: the first law of thermodynamics and Newton's law of cooling; no figure is compared with one of the code's.
"""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer

FLOWN = {"cells": 3, "capacity": "2250 mAh", "cell_resistance": "9 mΩ", "current": "14 A"}
CELSIUS = st.floats(5, 45)


def landing(**more: Any) -> float:
    warm: float = answer("endurance", **FLOWN | more)["end_temperature"]
    return warm


@given(start=CELSIUS, air=CELSIUS, cooling=st.floats(0.01, 1))
def test_a_pack_that_gives_current_never_ends_cooler_than_both_its_start_and_the_air(
    start: float, air: float, cooling: float
) -> None:
    # Polymer cells take up some heat by their reaction (an entropy coefficient); without that, all that is lost warms.
    told = {"temperature": f"{start} °C", "ambient": f"{air} °C", "cooling": f"{cooling} W/K"}
    assert landing(**told, entropy_coefficient="0 mV/K") >= min(start, air) - 1e-6


@given(air=CELSIUS, warmer=st.floats(0.5, 10), cooling=st.floats(0.02, 0.5))
def test_in_warmer_air_it_never_lands_cooler(air: float, warmer: float, cooling: float) -> None:
    told = {"temperature": "25 °C", "cooling": f"{cooling} W/K", "floor": "2.5 V"}
    assert landing(**told, ambient=f"{air + warmer} °C") >= landing(**told, ambient=f"{air} °C") - 1e-3


@given(cooling=st.floats(0, 0.5), more=st.floats(0.01, 0.5))
def test_more_air_never_lands_it_warmer_than_the_air_would(cooling: float, more: float) -> None:
    told = {"temperature": "25 °C", "ambient": "25 °C", "entropy_coefficient": "0 mV/K"}
    assert landing(**told, cooling=f"{cooling + more} W/K") <= landing(**told, cooling=f"{cooling} W/K") + 1e-3


@pytest.mark.parametrize("place", range(3))
def test_the_warmth_told_is_that_of_the_hottest_cell_wherever_it_stands(place: int) -> None:
    cells = ["9 mΩ", "9 mΩ"]
    cells.insert(place, "25 mΩ")
    even, mixed = landing(), landing(cell_resistance=cells)
    assert mixed > even + 1
    cooler = ["9 mΩ", "9 mΩ"]
    cooler.insert(place, "3 mΩ")
    assert landing(cell_resistance=cooler) == pytest.approx(even, abs=0.2)


def test_without_air_the_whole_loss_stays_in_the_cells() -> None:
    # Heat = loss: i²R over the flight, the slow resistance half of the fast one, as the answer's own figures tell it.
    told = {"entropy_coefficient": "0 mV/K", "cooling": "0 W/K", "polarisation_time": "1 s", "cell_mass": "60 g"}
    flown = answer("endurance", **FLOWN | told, temperature="25 °C")
    seconds = 60 * flown["time_flight"]
    least, most = (14**2 * resistance * seconds / (0.06 * 1200) for resistance in (0.009, 0.0135))
    assert least * 0.6 < flown["end_temperature"] - 25 < most * 1.4  # from memory: 0.9 to 1.2 J/(g K)


@given(air=st.floats(-10, 50), start=st.floats(20, 60))
def test_a_pack_left_alone_ends_between_its_start_and_the_air(air: float, start: float) -> None:
    # Newton's law of cooling: it is never warmer than both, nor cooler.
    got = answer("charge-temperature", chemistry="life", temperature=f"{start} °C", ambient=f"{air} °C", cells=2,
                 capacity="2100 mAh", cell_resistance="16 mΩ", current="1 mA", cooling="0.2 W/K")  # fmt: skip
    if got["predicted_rise"] is not None:
        assert min(air - start, 0) - 1e-6 <= got["predicted_rise"] <= max(air - start, 0) + 0.01

"""Safe-draw, clause by clause. Curve points are those of Ai et al. 2020: 3.695383 V at 0.2."""

from math import exp
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from profiles import few
from reference.asking import answer, cautions, client, refusals, reply, spoken
from reference.integrator import Cells, flown

from ampstead.cell.kinds.chemistries import CHEMISTRIES

# The cell model's worked figures: common practice, no published source.
# A sound pack of the trade's: common practice, no published source; a check value.
PACK = {"cells": 4, "capacity": "1600 mAh", "cell_resistance": "7 mΩ"}
LIMITS = {"heat": "current_limit_by_heat", "voltage": "current_limit_by_voltage", "label": "current_limit_by_label"}
BURSTS = {"heat": "burst_limit_by_heat", "voltage": "burst_limit_by_voltage", "label": "current_limit_by_label"}


def draw(**question: Any) -> dict[str, Any]:
    return answer("safe-draw", **PACK | question)


@pytest.mark.parametrize(
    ("question", "limited_by"),
    [({}, "heat"), ({"floor": "3.6 V"}, "voltage"), ({"label_rate": 10}, "label"), ({"cooling": "1 W/K"}, "voltage"),
     ({"label_rate": 500}, "heat")],
)  # fmt: skip
@pytest.mark.parametrize("margin", [0.8, 0.5, 1])
def test_each_current_is_its_margin_times_the_least_limit(
    question: dict[str, Any], limited_by: str, margin: float
) -> None:
    got = draw(**question, margin=margin)
    limits = {name: got[field] for name, field in LIMITS.items() if got[field] is not None}
    bursts = {name: got[field] for name, field in BURSTS.items() if got[field] is not None}
    assert got["continuous_current"] == pytest.approx(margin * min(limits.values()))
    assert got["burst_current"] == pytest.approx(margin * min(bursts.values()))
    assert got["continuous_limited_by"] == min(limits, key=lambda name: limits[name]) == limited_by
    assert got["burst_limited_by"] == min(bursts, key=lambda name: bursts[name])
    assert got["continuous_rate"] == pytest.approx(got["continuous_current"] / 1.6)
    assert got["burst_rate"] == pytest.approx(got["burst_current"] / 1.6)


def test_four_fifths_is_the_usual_margin_and_depth() -> None:
    told = reply("safe-draw", **PACK)["assumed"]
    assert (told["margin"], told["depth"]) == (0.8, 0.8)
    assert told["limit_temperature"] == {"value": 60, "unit": "°C"}
    assert told["ambient"] == told["temperature"] == {"value": 25, "unit": "°C"}
    assert told["entropy_coefficient"] == {"value": -0.235, "unit": "mV/K"}
    assert told["cell_mass"]["value"] == pytest.approx(1.6 * 3.7 / 150 * 1000)
    assert draw(temperature="10 °C") == draw(temperature="10 °C", ambient="10 °C")


def test_the_voltage_limit_counts_the_whole_resistance_at_the_end_of_the_flight() -> None:
    assert draw()["current_limit_by_voltage"] == pytest.approx((3.695383 - 3.3) / 0.0105)
    assert draw(depth=0.5)["current_limit_by_voltage"] == pytest.approx((3.792508 - 3.3) / 0.0105)
    assert draw(floor="3.0 V")["current_limit_by_voltage"] == pytest.approx((3.695383 - 3.0) / 0.0105)
    assert draw(polarisation_resistance="0 mΩ")["current_limit_by_voltage"] == pytest.approx(0.395383 / 0.007)


def test_the_heat_limit_of_a_bare_resistance_has_a_closed_form() -> None:
    # I = m cp dT / (R depth Q), and for a burst I = sqrt(m cp dT / (R t)).
    bare = {"polarisation_resistance": "0 mΩ", "entropy_coefficient": "0 mV/K", "cell_mass": "40 g"}
    got = draw(**bare)
    assert got["current_limit_by_heat"] == pytest.approx(0.040 * 1000 * 35 / (0.007 * 0.8 * 1.6 * 3600))
    # The flight before it, at four fifths of the limit, has used four fifths of the 35 K.
    assert got["end_temperature"] == pytest.approx(25 + 0.8 * 35)
    assert got["burst_limit_by_heat"] == pytest.approx((0.040 * 1000 * 0.2 * 35 / (0.007 * 10)) ** 0.5)
    half = draw(**bare, depth=0.4, limit_temperature="95 °C")
    assert half["current_limit_by_heat"] == pytest.approx(4 * got["current_limit_by_heat"])


def test_the_burst_begins_where_the_flight_ends_and_its_own_charge_counts() -> None:
    got = draw()
    burst, flown_at = got["burst_limit_by_voltage"], got["continuous_current"]
    # What that current leaves: the state falls from 0.2 by I·10 s/1.6 Ah, along the curve's points at 0.1 to 0.2.
    state = 0.2 - burst * 10 / 5760
    points = {0.1: 3.63956, 0.12: 3.647563, 0.14: 3.657224, 0.16: 3.673268, 0.18: 3.684724, 0.2: 3.695383}
    low = max(point for point in points if point <= state)
    high = min(point for point in points if point > state)
    rest = points[low] + (points[high] - points[low]) * (state - low) / (high - low)
    # The slow part begins at what the flight has left across it: 0.8 of 1.6 Ah at its current, far beyond 30 s.
    left = flown_at * (1 - exp(-0.8 * 5760 / flown_at / 30))
    slow = 0.0035 * (left * exp(-1 / 3) + burst * (1 - exp(-1 / 3)))
    assert rest - burst * 0.007 - slow == pytest.approx(3.3, abs=1e-9)
    assert draw(burst_duration="1 s")["burst_limit_by_voltage"] > burst
    assert draw(margin=0.4)["burst_limit_by_voltage"] > burst  # a gentler flight leaves more for the burst


@st.composite
def warm_packs(draw: st.DrawFn) -> dict[str, Any]:
    """Random packs in any weather, with unlike cells."""
    cells = draw(st.integers(1, 4))
    capacity = draw(st.floats(500, 6000))

    def each(middle: float, unit: str) -> list[str]:
        return [f"{middle * draw(st.floats(0.8, 1.3))} {unit}" for _ in range(cells)]

    temperature = draw(st.floats(-18, 55))
    return {
        "chemistry": draw(st.sampled_from(["lipo", "lihv", "liion", "life"])),
        "cells": cells,
        "capacity": each(capacity, "mAh"),
        "cell_resistance": each(draw(st.floats(4, 120)) / capacity * 1000, "mΩ"),
        "polarisation_time": f"{draw(st.floats(1, 300))} s",
        "temperature": f"{temperature} °C",
        "ambient": f"{draw(st.floats(-25, 55))} °C",
        "cooling": f"{draw(st.sampled_from([0.0, 0.02, 0.2, 2.0]))} W/K",
        "depth": draw(st.floats(0.3, 0.95)),
        "margin": draw(st.floats(0.3, 1)),
        "burst_duration": f"{draw(st.floats(1, 60))} s",
    }


@few
@given(question=warm_packs())
def test_neither_the_flight_nor_the_burst_after_it_passes_floor_or_limit(question: dict[str, Any]) -> None:
    """Flown by scipy, resistances following the temperature of each cell: a flight from full, then the burst."""
    told = reply("safe-draw", **question)
    got = answer("safe-draw", **question)
    kind, assumed = CHEMISTRIES[question["chemistry"]], told["assumed"]
    assert kind.curve is not None

    def figures(entry: Any, factor: float = 1.0) -> np.ndarray:
        values = [entry] if not isinstance(entry, list) else entry
        return factor * np.array([float(v["value"] if isinstance(v, dict) else v.split()[0]) for v in values])

    kelvin = figures(question["temperature"])[0] + 273.15
    warmth = exp(20000 / 8.31446261815324 * (1 / kelvin - 1 / 298.15))
    capacities = figures(question["capacity"], 3.6)
    cells = Cells(
        table=(kind.curve.states, kind.curve.voltages),
        states=np.ones(question["cells"]),
        capacities=capacities,
        ohmic=figures(question["cell_resistance"], 1e-3 * warmth),
        polarisation=figures(assumed["polarisation_resistance"], 1e-3 * warmth) * np.ones(question["cells"]),
        tau=figures(question["polarisation_time"])[0],
        heat_capacity=figures(assumed["cell_mass"]) * np.ones(question["cells"]),
        start=kelvin,
        ambient=figures(question["ambient"])[0] + 273.15,
        cooling=figures(question["cooling"])[0],
        entropy=assumed["entropy_coefficient"]["value"] * 1e-3,
    )
    floor, limit = assumed["floor"]["value"], 333.15

    def passed(current: float, duration: float, begun: np.ndarray | None) -> np.ndarray:
        load = ("current", current)
        landed = flown(
            cells, [(load, 1e9)], floor=floor - 1e-6, limit=limit + 1e-4, longest=duration, begun=begun, tolerance=1e-8
        )
        assert landed.ended_by == "end", (landed.ended_by, landed.time, duration)
        return landed.y

    if got["continuous_current"] < 1e-3:
        return
    flight = question["depth"] * capacities.min() / got["continuous_current"]
    begun = passed(got["continuous_current"], flight, None)
    if got["burst_current"] > 1e-3:
        passed(got["burst_current"], figures(question["burst_duration"])[0], begun)


def test_the_label_limits_both_and_is_null_without_it() -> None:
    got = draw(label_rate="10C")
    assert got["current_limit_by_label"] == pytest.approx(16)
    assert (got["continuous_current"], got["burst_current"]) == (pytest.approx(12.8), pytest.approx(12.8))
    assert draw()["current_limit_by_label"] is None


def test_it_lands_at_the_voltage_and_temperature_of_its_own_current() -> None:
    got = draw(margin=1)
    assert got["continuous_limited_by"] == "heat"
    assert got["end_temperature"] == pytest.approx(60)
    assert got["loaded_voltage"] == pytest.approx(4 * (3.695383 - got["continuous_current"] * 0.0105))
    at_floor = draw(margin=1, floor="3.6 V")
    assert at_floor["loaded_voltage"] == pytest.approx(4 * 3.6)
    assert draw()["end_temperature"] < 60


def test_a_pack_that_is_warm_already_is_cut_off() -> None:
    got = draw(temperature="60 °C")
    assert (got["current_limit_by_heat"], got["continuous_current"], got["burst_current"]) == (0, 0, 0)
    assert got["continuous_limited_by"] == "heat"
    assert cautions("safe-draw", **PACK, temperature="60 °C")[0] == "hot-start"
    assert draw(depth=1)["current_limit_by_voltage"] == 0  # an empty cell rests below the floor


def test_a_resistance_must_be_measured() -> None:
    wrong = refusals("safe-draw", cells=4, capacity="1600 mAh")
    assert {code for _, code in wrong} == {"missing"}
    assert {field for field, _ in wrong} <= {"cell_resistance", "pack_resistance"}
    assert refusals("safe-draw", **PACK, pack_resistance="28 mΩ") == {
        ("cell_resistance", "conflict"),
        ("pack_resistance", "conflict"),
    }


def test_states_and_condition_are_no_inputs_here() -> None:
    for name, value in (("state_of_charge", 0.5), ("rest_voltage", "15 V"), ("condition", "sound")):
        assert refusals("safe-draw", **PACK, **{name: value}) == {(name, "unknown")}


@pytest.mark.parametrize("chemistry", ["nimh", "nicd"])
def test_nickel_is_not_supported_for_want_of_a_curve(chemistry: str) -> None:
    assert refusals("safe-draw", **PACK, chemistry=chemistry) == {("chemistry", "unsupported")}


def test_lists_per_cell_let_the_worst_cell_decide() -> None:
    alike = draw(cell_resistance="10 mΩ")
    uneven = draw(cell_resistance=["7 mΩ", "10 mΩ", "7 mΩ", "8 mΩ"])
    for name in ("current_limit_by_heat", "current_limit_by_voltage", "burst_limit_by_heat", "burst_limit_by_voltage"):
        assert uneven[name] == pytest.approx(alike[name])
    assert uneven["weakest_cell"] == 2
    small = draw(capacity=["1600 mAh", "1600 mAh", "1200 mAh", "1600 mAh"])
    assert small["weakest_cell"] == 3
    # The pack's capacity is the smallest: the flight takes 0.8 of 1200 mAh, and the others are left with more.
    assert small["current_limit_by_voltage"] == pytest.approx(0.395383 / 0.0105)
    assert small["continuous_rate"] == pytest.approx(small["continuous_current"] / 1.2)
    light = draw(cell_mass=["40 g", "40 g", "30 g", "40 g"])
    assert light["current_limit_by_heat"] == pytest.approx(draw(cell_mass="30 g")["current_limit_by_heat"])


def test_masses_are_as_many_as_the_cells() -> None:
    wrong = refusals("safe-draw", **PACK, cell_mass=["40 g", "41 g"])
    assert wrong == {("cells", "wrong_length"), ("cell_mass", "wrong_length")}


def test_packs_rank_as_the_trade_ranks_them() -> None:
    # Common practice, no published source: four cells of 7 mohm, 28 in all, are excellent; 37 in all lie between;
    # three of about 30 are not for flying. Same capacity.
    excellent = draw()
    assert excellent == answer("safe-draw", cells=4, capacity="1600 mAh", pack_resistance="28 mΩ")
    between = answer("safe-draw", cells=4, capacity="1600 mAh", pack_resistance="37 mΩ")
    poor = answer("safe-draw", cells=3, capacity="1600 mAh", cell_resistance="30 mΩ,30 mΩ,31 mΩ")
    for name in ("continuous_rate", "burst_rate", "current_limit_by_heat", "current_limit_by_voltage"):
        assert excellent[name] > between[name] > poor[name]
    assert excellent["continuous_rate"] > 10
    assert poor["continuous_rate"] < 5
    assert poor["weakest_cell"] == 3


def test_a_cell_that_differs_is_named() -> None:
    uneven = {"cells": 4, "capacity": "1600 mAh", "cell_resistance": "7 mΩ,7 mΩ,7 mΩ,16 mΩ"}
    assert answer("safe-draw", **uneven)["weakest_cell"] == 4
    told = [entry["text"] for entry in reply("safe-draw", **uneven)["cautions"] if entry["code"] == "unlike-cells"]
    assert len(told) == 1
    assert "Cell 4" in told[0]
    assert "unlike-cells" not in cautions("safe-draw", **PACK)


def test_it_says_steady_no_airflow_and_as_measured() -> None:
    said = " ".join(entry["text"] for entry in reply("safe-draw", **PACK)["cautions"]).lower()
    for words in ("steadily", "without airflow", "as measured"):
        assert words in said
    assert "80 percent" in spoken("safe-draw", **PACK)


def test_bursts_carry_forty_percent_at_least() -> None:
    bands = {band["of"]: band for band in reply("safe-draw", **PACK)["accuracy"]}
    burst = draw()["burst_current"]
    assert bands["burst_current"]["low"]["value"] <= 0.6 * burst * (1 + 1e-9)
    assert bands["burst_current"]["high"]["value"] >= 1.4 * burst * (1 - 1e-9)
    assert bands["continuous_current"]["low"]["value"] < draw()["continuous_current"]


@pytest.mark.parametrize(
    ("name", "value"),
    [("limit_temperature", "100 °C"), ("cooling", "1 kW/K"), ("depth", "100 %"), ("margin", 1), ("label_rate", 100),
     ("temperature", "-20 °C"), ("temperature", "70 °C")],
)  # fmt: skip
def test_the_bounds_themselves_are_answered(name: str, value: Any) -> None:
    draw(**{name: value})


@pytest.mark.parametrize(("name", "value"), [("depth", 0), ("margin", 0), ("depth", 1.01), ("margin", "101 %"),
                                             ("temperature", "-21 °C"), ("burst_duration", "0 s")])  # fmt: skip
def test_beyond_the_bounds_is_out_of_range(name: str, value: Any) -> None:
    assert refusals("safe-draw", **PACK, **{name: value}) == {(name, "out_of_range")}


def test_the_band_of_a_burst_reaches_as_far_as_its_basis_says() -> None:
    # Own judgement, in the basis' own words: a constant resistance is good to about 40 percent.
    got = reply("safe-draw", cells=3, capacity="2250 mAh", cell_resistance="9 mΩ", resistance_method="charger")
    band = next(band for band in got["accuracy"] if band["of"] == "burst_current")
    assert "40 percent" in band["basis"]
    burst = got["answer"]["burst_current"]["value"]
    assert band["low"]["value"] < 0.59 * burst  # and by the method that the resistance was measured by
    assert band["high"]["value"] > 1.41 * burst


def test_a_burst_of_nothing_is_told_in_words() -> None:
    told = {"cells": 4, "capacity": "3700 mAh", "cell_resistance": "4.2 mΩ"}
    hot = reply("safe-draw", **told, margin=1)
    assert hot["answer"]["burst_current"]["value"] == 0
    assert "uses 80 percent, with nothing left for a burst at its end; the limit is heat" in hot["sentence"]
    assert "amperes for 10 seconds at its end" in reply("safe-draw", **told)["sentence"]


@pytest.mark.parametrize("place", range(3))
def test_the_curve_of_unlike_cells_shows_the_hottest_as_the_answer_does(place: int) -> None:
    resistances = ["9 mΩ", "9 mΩ"]
    resistances.insert(place, "14 mΩ")
    question = {"cells": 3, "capacity": "2250 mAh", "cell_resistance": resistances}
    told = answer("safe-draw", **question)
    head, *rows = client().post("/v1/safe-draw.csv", json=question).get_data(as_text=True).splitlines()
    names = [name.partition(" ")[0] for name in head.split(",")]
    table = {name: [float(row.split(",")[place]) for row in rows] for place, name in enumerate(names)}
    shown = np.interp(told["continuous_current"], table["current"], table["end_temperature"])
    assert shown == pytest.approx(told["end_temperature"], abs=0.1)


def test_of_equal_limits_the_label_is_named_whatever_the_rounding() -> None:
    told = {"cells": 3, "capacity": "2250 mAh", "cell_resistance": "14 mΩ"}
    free = answer("safe-draw", **told)
    least = min(free["current_limit_by_heat"], free["current_limit_by_voltage"])
    for part in (1 - 4e-10, 1 - 1e-15, 1.0, 1 + 1e-15, 1 + 4e-10):
        got = answer("safe-draw", **told, label_rate=least / 2.25 * part)
        assert got["continuous_limited_by"] == "label"
    assert answer("safe-draw", **told, label_rate=least / 2.25 * (1 + 1e-6))["continuous_limited_by"] != "label"


def test_why_nothing_may_be_drawn_is_told() -> None:
    pack = {"cells": 4, "capacity": "3700 mAh", "cell_resistance": "4.2 mΩ"}
    # 8 kelvins of reversible heat alone bring 55 degrees past 60.
    warm = reply("safe-draw", **pack, temperature="55 °C")["sentence"]
    assert warm.endswith("from 55 degrees any flight would bring it past 60 degrees.")
    deep = reply("safe-draw", **pack, depth=1)["sentence"]
    assert deep.endswith("a flight that uses 100 percent ends below the floor of a cell.")


@pytest.mark.parametrize(("chemistry", "doubted", "believed"), [
    # A third of the least usual: 5 and 50 mΩ·Ah (bands of lipo and liion), half of 35 (life) at 2250 mAh.
    ("lipo", "0.73 mΩ", "0.75 mΩ"), ("liion", "7.3 mΩ", "7.5 mΩ"), ("life", "2.5 mΩ", "2.7 mΩ"),
])  # fmt: skip
def test_a_resistance_that_hardly_any_pack_has_is_doubted(chemistry: str, doubted: str, believed: str) -> None:
    pack = {"chemistry": chemistry, "cells": 3, "capacity": "2250 mAh"}
    for name, more in (("safe-draw", {}), ("pack-fitness", {}), ("sag", {"current": "20 A"})):
        assert "resistance-doubtful" in cautions(name, **pack, **more, cell_resistance=doubted), name
        assert "resistance-doubtful" not in cautions(name, **pack, **more, cell_resistance=believed), name
    cold = {"cell_resistance": doubted, "temperature": "-10 °C"}  # as measured at 25 degrees all the same
    assert "resistance-doubtful" in cautions("safe-draw", **pack, **cold)

"""Receiver-time, clause by clause, and what must hold of any pack and any servos."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, cautions, refusals, reply, spoken

FOUR: dict[str, Any] = {"servos": 4, "servo_current": "1.1 A"}
LIFE: dict[str, Any] = {"chemistry": "life", "cells": 2, "capacity": "2100 mAh", "cell_resistance": "16 mΩ", **FOUR}
LIPO: dict[str, Any] = {"cells": 2, "capacity": "2250 mAh", "cell_resistance": "8.5 mΩ", **FOUR}
NIMH: dict[str, Any] = {"chemistry": "nimh", "cells": 5, "capacity": "2100 mAh", **FOUR}


def seen(**question: Any) -> dict[str, Any]:
    return answer("receiver-time", **question)


def test_what_is_not_known_is_taken_on_the_short_side() -> None:
    assumed = reply("receiver-time", **LIFE)["assumed"]
    assert (assumed["capacity_left"], assumed["reserve"], assumed["state_of_charge"]) == (0.8, 0.5, 1)
    assert seen(**LIFE, capacity_left=1)["time_safe"] == pytest.approx(seen(**LIFE)["time_safe"] / 0.8)


@given(resistance=st.floats(1, 200), more=st.floats(1, 5), floor=st.floats(2, 7), state=st.floats(0, 1))
def test_more_resistance_a_higher_floor_or_less_charge_never_lasts_longer(
    resistance: float, more: float, floor: float, state: float
) -> None:
    question = LIPO | {"state_of_charge": state, "receiver_floor": f"{floor!r} V"}
    one = seen(**question | {"cell_resistance": f"{resistance!r} mΩ"})
    two = seen(**question | {"cell_resistance": f"{resistance * more!r} mΩ"})
    higher = seen(**question | {"cell_resistance": f"{resistance!r} mΩ", "receiver_floor": f"{floor * 1.1!r} V"})
    emptier = seen(**question | {"cell_resistance": f"{resistance!r} mΩ", "state_of_charge": state * 0.9})
    for worse in (two, higher, emptier):
        assert worse["time_safe"] <= one["time_safe"] * (1 + 1e-9)
    assert one["time_safe"] == 0 or one["stall_voltage"] >= floor - 1e-9


@pytest.mark.parametrize(("name", "less"), [("duty", 0.4), ("reserve", 0.6), ("servos", 5), ("idle_current", "0.5 A"),
                                            ("servo_current", "1.5 A"), ("capacity_left", 0.7)])  # fmt: skip
def test_each_input_shortens_the_time_where_it_should(name: str, less: Any) -> None:
    assert seen(**LIFE | {name: less})["time_safe"] < seen(**LIFE)["time_safe"]


def stall_edge(**question: Any) -> float:
    """The least that the voltage with all servos stalled may be, V."""
    bands = reply("receiver-time", **question)["accuracy"]
    low: float = next(band["low"]["value"] for band in bands if band["of"] == "stall_voltage")
    return low


def test_where_stalled_servos_might_meet_the_floor_first_the_time_ends_there() -> None:
    floor = 7.7
    got = seen(**LIPO, receiver_floor=f"{floor} V")
    assert stall_edge(**LIPO, receiver_floor=f"{floor} V") == pytest.approx(floor)
    assert got["stall_voltage"] > floor
    assert 0 < got["time_safe"] < seen(**LIPO)["time_safe"]
    assert got["verdict"] == "go"


def test_a_regulator_draws_a_constant_power() -> None:
    plain, regulated = seen(**LIPO), seen(**LIPO, regulator_voltage="5.5 V")
    assert regulated["stall_voltage"] * regulated["stall_current"] == pytest.approx(5.5 * 4.65 / 0.85)
    assert regulated["mean_current"] < plain["mean_current"]
    assert refusals("receiver-time", **LIPO, efficiency=0.9) == {("regulator_voltage", "missing")}


def test_a_pack_that_collapses_under_the_regulator_is_a_no_go_without_figures() -> None:
    question = LIPO | {"cell_resistance": "400 mΩ", "regulator_voltage": "7 V"}
    got = seen(**question)
    assert (got["verdict"], got["time_safe"], got["holds"]) == ("no-go", 0, False)
    assert got["stall_voltage"] is got["stall_current"] is None
    assert "collapse" in spoken("receiver-time", **question)


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"condition": "crashed"}, "it crashed"),
        ({"cell_voltages": "3.7 V,4.1 V"}, "cell 1 stands out"),
        ({"rest_voltage": "7.4 V"}, "reserve"),
        ({"receiver_floor": "8.3 V"}, "are needed"),
        ({"time_planned": "200 min"}, "you mean to fly"),
        ({"temperature": "-11 °C"}, "warm it first"),
        ({"state_of_charge": 0.51}, "it lasts 57 seconds, too short for a flight. Charge it first"),
        ({"state_of_charge": 0.505, "time_planned": "20 s"}, "it lasts 28 seconds, too short"),
    ],
)
def test_a_pack_that_must_not_take_off_says_why(more: dict[str, Any], says: str) -> None:
    said = spoken("receiver-time", **LIPO, **more)
    assert seen(**LIPO, **more)["verdict"] == "no-go"
    assert said.startswith("Do not take off with this lithium-polymer pack")
    assert says in said


def test_a_plan_that_fits_is_a_go() -> None:
    assert seen(**LIFE, time_planned="44 min")["verdict"] == "go"
    assert seen(**LIFE, time_planned="45 min")["verdict"] == "no-go"


def test_no_flight_is_too_short_to_be_meant_and_none_under_half_a_minute_is_one() -> None:
    """Own judgement: five minutes where nobody tells how long, half a minute as in endurance where somebody does."""
    least = {"time_planned": "1 s"}
    for told, minutes in (({}, 5.0), (least, 0.5)):
        full = seen(**LIPO)
        enough = 0.5 + 0.5 * minutes / full["time_safe"]
        longer, shorter = (seen(**LIPO, **told, state_of_charge=enough + step) for step in (1e-6, -1e-6))
        assert (longer["verdict"], shorter["verdict"]) == ("go", "no-go")
        assert shorter["time_safe"] == pytest.approx(minutes, rel=1e-3)


def test_a_voltage_counts_by_the_low_edge_of_what_it_may_mean() -> None:
    told = reply("charge-left", cells=2, rest_voltage="8.1 V")["accuracy"][0]["low"]
    assert seen(**LIPO, rest_voltage="8.1 V") == seen(**LIPO, state_of_charge=told)


def test_nickel_is_counted_on_only_where_it_was_charged_today() -> None:
    assert refusals("receiver-time", **NIMH, rest_voltage="6.5 V") == {("rest_voltage", "unsupported")}
    assert "charged-today" in cautions("receiver-time", **NIMH)
    assert "charged-today" not in cautions("receiver-time", **NIMH, state_of_charge=0.9)
    assert "charged-today" not in cautions("receiver-time", **LIPO)


def test_a_pack_whose_receiver_might_fail_is_no_go_until_its_resistance_is_known_better() -> None:
    begun = LIPO | {"state_of_charge": 0.9}
    there = begun | {"reserve": 0.9}
    floor = (stall_edge(**there) + seen(**there)["stall_voltage"]) / 2
    question = begun | {"receiver_floor": f"{floor!r} V"}
    got = seen(**question)
    assert (got["verdict"], got["holds"], got["time_safe"]) == ("no-go", True, 0)
    assert "but may fall below" in spoken("receiver-time", **question)
    assert "stall-unsure" in cautions("receiver-time", **question)
    assert "stall-unsure" not in cautions("receiver-time", **LIPO)
    assert "stall-unsure" not in cautions("receiver-time", **question, condition="crashed")


def test_every_answer_says_that_a_receiver_pack_that_fails_is_a_crash() -> None:
    assert spoken("receiver-time", **LIFE).rstrip().endswith("before each take-off.")
    assert {"receiver-fails", "stall-measured", "voltage-when-full"} <= set(cautions("receiver-time", **LIFE))
    assert "voltage-when-full" not in cautions("receiver-time", **LIPO, regulator_voltage="5.5 V")


def test_a_pack_above_full_feeds_no_receiver() -> None:
    told = {"chemistry": "life", "cells": 2, "capacity": "2100 mAh", "servos": 4, "servo_current": "1.1 A"}
    assert answer("receiver-time", **told, cell_voltages="3.7,3.7 V")["verdict"] == "no-go"
    assert "a cell stands above full" in spoken("receiver-time", **told, cell_voltages="3.7,3.7 V")
    assert answer("receiver-time", **told, cell_voltages="3.6,3.6 V")["verdict"] == "go"


def test_a_regulator_that_only_steps_down_gives_no_more_than_the_pack() -> None:
    asked = {"cells": 2, "capacity": "2000 mAh", "servos": 4, "servo_current": "0.5 A"}
    assert "regulator-above-pack" in cautions("receiver-time", **asked, regulator_voltage="9 V")
    assert "regulator-above-pack" not in cautions("receiver-time", **asked, regulator_voltage="6 V")

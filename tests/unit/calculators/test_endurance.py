"""Endurance: how long a pack flies, and what is checked after landing."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, cautions, refusals, reply, spoken

PACK: dict[str, Any] = {"cells": 4, "capacity": "2200 mAh", "cell_resistance": "5 mΩ"}


def test_a_full_pack_to_the_reserve_gives_the_charge_between_them() -> None:
    got = answer("endurance", **PACK, current="20 A", reserve=0.2)
    assert got["ended_by"] == "reserve"
    assert got["charge_used"] == pytest.approx(0.8 * 2200)
    assert got["charge_to_return"] == pytest.approx(0.8 * 2200)
    assert got["time_flight"] == pytest.approx(0.8 * 2.2 / 20 * 60)


def test_the_mean_current_of_an_earlier_flight_serves_where_nobody_knows_it() -> None:
    told = answer("endurance", **PACK, flight_time="6 min", charge_returned="1500 mAh")
    known = answer("endurance", **PACK, current="15 A")
    assert told.pop("ended_by") == known.pop("ended_by")
    assert told == pytest.approx(known)


def test_an_earlier_flight_needs_both_its_time_and_its_charge() -> None:
    assert refusals("endurance", **PACK, flight_time="6 min") == {("charge_returned", "missing")}
    assert ("flight_time", "missing") in refusals("endurance", **PACK, charge_returned="1500 mAh")


def test_two_ways_of_telling_the_load_conflict() -> None:
    assert refusals("endurance", **PACK, current="15 A", power="200 W") == {
        ("current", "conflict"),
        ("power", "conflict"),
    }


def test_a_load_of_one_step_is_that_step_all_along() -> None:
    stepped = answer("endurance", **PACK, load=[{"current": "15 A", "duration": "10 s"}])
    steady = answer("endurance", **PACK, current="15 A")
    assert stepped.pop("ended_by") == steady.pop("ended_by")
    assert stepped == pytest.approx(steady, rel=1e-6)


def test_a_load_repeats_until_the_end() -> None:
    load = [{"current": "30 A", "duration": "10 s"}, {"current": "6 A", "duration": "30 s"}]
    got = answer("endurance", **PACK, load=load)
    assert got["charge_used"] == pytest.approx(1760)
    # 12 A in the mean: 1760 mAh last 8.8 min, to within one round of the load.
    assert got["time_flight"] == pytest.approx(8.8, abs=40 / 60)


def test_a_load_that_draws_nothing_is_refused() -> None:
    assert refusals("endurance", **PACK, load=[{"current": "0 A", "duration": "10 s"}]) == {("load", "out_of_range")}


def test_steps_name_their_place_when_they_are_wrong() -> None:
    wrong = [{"current": "5 A", "duration": "10 s"}, {"current": "5 A", "power": "9 W"}]
    assert refusals("endurance", **PACK, load=wrong) == {
        ("load[1].current", "conflict"),
        ("load[1].power", "conflict"),
        ("load[1].duration", "missing"),
    }


def test_a_weak_pack_ends_at_its_floor_and_says_so() -> None:
    weak = {**PACK, "cell_resistance": "20 mΩ"}
    assert answer("endurance", **weak, current="30 A", limit_temperature="100 °C")["ended_by"] == "floor"
    assert "flight-too-hard" in cautions("endurance", **weak, current="30 A", limit_temperature="100 °C")


def test_heat_ends_a_flight_that_is_too_hot() -> None:
    got = answer("endurance", **PACK, current="40 A", floor="2 V", limit_temperature="45 °C")
    assert got["ended_by"] == "heat"
    assert got["end_temperature"] == pytest.approx(45, abs=1e-6)


def test_a_pack_at_its_reserve_does_not_fly() -> None:
    got = answer("endurance", **PACK, current="10 A", state_of_charge=0.2)
    assert (got["time_flight"], got["ended_by"], got["charge_used"]) == (0, "reserve", 0)
    assert spoken("endurance", **PACK, current="10 A", state_of_charge=0.2).startswith("Do not fly")


def test_a_power_that_the_pack_cannot_give_ends_at_the_floor_at_once() -> None:
    got = answer("endurance", **PACK, power="20 kW")
    assert (got["time_flight"], got["ended_by"]) == (0, "floor")


def test_the_sentence_tells_the_resting_voltage_and_the_charge_to_put_back() -> None:
    said = spoken("endurance", **PACK, current="20 A")
    # 80 percent used: the curve's 20 percent point is 3.695 V a cell (Ai et al. 2020).
    assert "14.78 volts after landing" in said
    assert "1760 milliampere hours" in said


def test_lead_asks_for_more_charge_back_than_it_gave() -> None:
    got = answer("endurance", cells=6, capacity="7 Ah", chemistry="lead", current="0.7 A", reserve=0.5)
    assert got["charge_to_return"] == pytest.approx(got["charge_used"] / 0.85)


def test_a_load_that_changes_too_often_is_refused_with_the_cure() -> None:
    load = [{"current": "0.5 A", "duration": "0.1 s"}, {"current": "0.4 A", "duration": "0.1 s"}]
    assert refusals("endurance", cells=4, capacity="200 Ah", load=load) == {("load", "out_of_range")}


def test_the_band_reaches_down_to_an_old_pack() -> None:
    document = reply("endurance", **PACK, current="20 A")
    (band,) = document["accuracy"]
    assert band["of"] == "time_flight"
    assert band["low"]["value"] == pytest.approx(0.8 * document["answer"]["time_flight"]["value"])
    assert band["high"] == document["answer"]["time_flight"]


@given(
    resistance=st.floats(2, 30),
    more=st.floats(1, 2),
    current=st.floats(2, 60),
    colder=st.floats(0, 20),
    state=st.floats(0.3, 1),
)
def test_more_resistance_or_cold_never_flies_longer(
    resistance: float, more: float, current: float, colder: float, state: float
) -> None:
    question = {"cells": 3, "capacity": "2 Ah", "current": f"{current} A", "state_of_charge": state}
    question["limit_temperature"] = "100 °C"

    def time(milliohms: float, temperature: float) -> float:
        pack = {"cell_resistance": f"{milliohms} mΩ", "temperature": f"{temperature} °C"}
        flown: float = answer("endurance", **question, **pack)["time_flight"]
        return flown

    assert time(resistance * more, 25) <= time(resistance, 25) * (1 + 1e-9)
    assert time(resistance, 25 - colder) <= time(resistance, 25) * (1 + 1e-9)


@given(power=st.floats(5, 400), state=st.floats(0.3, 1))
def test_energy_is_power_times_time(power: float, state: float) -> None:
    got = answer("endurance", **PACK, power=f"{power} W", state_of_charge=state, limit_temperature="100 °C")
    assert got["energy_used"] == pytest.approx(power * got["time_flight"] / 60, rel=1e-6, abs=1e-9)

"""Flight-timer, clause by clause."""

import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, cautions, refusals, reply

LAST = {"flight_time": "6 min", "charge_returned": "1600 mAh", "capacity": "2200 mAh"}
MINUTES, CHARGES, RESERVES = st.floats(1, 60), st.floats(100, 2200), st.floats(0, 0.9)


def timer(**question: Any) -> dict[str, Any]:
    return answer("flight-timer", **LAST | question)


def test_mean_current_and_rate_are_those_of_the_last_flight() -> None:
    got = timer(next_capacity="5000 mAh", next_temperature="0 °C", capacity_left=0.5)
    assert got["average_current"] == pytest.approx(16)
    assert got["average_rate"] == pytest.approx(16 / 2.2)


def test_the_reserve_of_the_last_pack_is_kept_where_nothing_differs() -> None:
    assert timer()["timer"] == pytest.approx(6.6)  # 0.8 of 2200 mAh at 16 A
    assert timer(reserve="25 %")["timer"] == pytest.approx(6.1875)


@pytest.mark.parametrize("name", ["flight_time", "charge_returned", "capacity"])
def test_each_of_the_three_figures_is_needed(name: str) -> None:
    assert refusals("flight-timer", **{key: LAST[key] for key in LAST if key != name}) == {(name, "missing")}


@given(minutes=MINUTES, milliamperehours=CHARGES, reserve=RESERVES)
def test_flown_to_the_timer_the_reserve_is_left(minutes: float, milliamperehours: float, reserve: float) -> None:
    question = {"flight_time": f"{minutes} min", "charge_returned": f"{milliamperehours} mAh", "reserve": reserve}
    first = timer(**question)
    used = first["average_current"] * first["timer"] / 60 * 1000
    assert used == pytest.approx(min((1 - reserve) * 2200, 3 * milliamperehours))
    again = timer(flight_time=f"{first['timer']!r} min", charge_returned=f"{used!r} mAh", reserve=reserve)
    assert again["timer"] == pytest.approx(first["timer"] * min(3, (1 - reserve) * 2200 / used))


def test_so_little_put_back_tells_no_more_than_three_flights() -> None:
    question = {"flight_time": "6.5 min", "charge_returned": "150 mAh"}
    assert timer(**question)["timer"] == pytest.approx(19.5)
    assert "timer-far" in cautions("flight-timer", **LAST | question)
    assert "timer-far" not in cautions("flight-timer", **LAST | question | {"charge_returned": "590 mAh"})
    question["charge_returned"] = "590 mAh"
    (band,) = [entry for entry in reply("flight-timer", **LAST | question)["accuracy"] if entry["of"] == "timer"]
    assert band["high"]["value"] == pytest.approx(19.5)


def test_a_flight_without_a_reserve_is_warned_of() -> None:
    assert "no-reserve" in cautions("flight-timer", **LAST, reserve=0)
    assert "no-reserve" not in cautions("flight-timer", **LAST)


@given(factor=st.floats(0.1, 10), left=st.floats(0.1, 1), degrees=st.floats(-20, 40))
def test_a_larger_pack_flies_longer_in_proportion_and_a_worn_one_shorter(
    factor: float, left: float, degrees: float
) -> None:
    one = timer()["timer"]
    assert timer(next_capacity=f"{2200 * factor} mAh")["timer"] == pytest.approx(min(factor * one, 3 * 6))
    assert timer(capacity_left=left)["timer"] == pytest.approx(left * one)
    cold = {"next_temperature": f"{degrees} °C"}
    assert timer(capacity_left=left, **cold)["timer"] <= timer(**cold)["timer"] * (1 + 1e-9)


@given(
    chemistry=st.sampled_from(["lipo", "lihv", "liion", "life", "lead"]),
    cold=st.floats(-20, 69),
    warmer=st.floats(0, 50),
    milliamperehours=CHARGES,
)
def test_a_colder_day_never_gives_more_and_warmth_gives_nothing(
    chemistry: str, cold: float, warmer: float, milliamperehours: float
) -> None:
    question = {"chemistry": chemistry, "charge_returned": f"{milliamperehours} mAh"}
    without = timer(**question)["timer"]
    one = timer(**question, next_temperature=f"{cold} °C")["timer"]
    other = timer(**question, next_temperature=f"{min(70, cold + warmer)} °C")["timer"]
    assert 0 <= one <= other * (1 + 1e-9)
    assert other <= without * (1 + 1e-9)
    if cold >= 25:
        assert one == pytest.approx(without)


def test_a_slight_chill_costs_little_and_a_hard_frost_much() -> None:
    usual = timer()["timer"]
    assert 0.97 * usual < timer(next_temperature="15 °C")["timer"] < usual
    assert timer(next_temperature="-15 °C")["timer"] < 0.5 * usual


def test_what_the_cold_takes_is_what_stays_below_the_floor() -> None:
    """By hand: lipo, 15 milliohm ampere-hours, half as much again for the slow part, a floor of 3.3 V, 20 kJ/mol.

    At 22 A from 2.2 Ah the drop is 0.225 V warm, and 0.225 × 2.0926 = 0.4708 V at 0 °C; the open-circuit curve of
    Ai2020 has 3.525 V at 6 % and 3.7708 V between 42 and 44 %.
    """
    curve = {0.06: 3.52, 0.08: 3.60, 0.40: 3.762, 0.50: 3.793}  # read coarsely: the bounds are wide
    assert curve[0.06] < 3.3 + 0.225 < curve[0.08]
    assert curve[0.40] < 3.3 + 0.4708 < curve[0.50]
    question = {"flight_time": "3 min", "charge_returned": "1100 mAh"}
    part = timer(**question, next_temperature="0 °C")["timer"] / timer(**question)["timer"]
    assert (1 - 0.50) / (1 - 0.06) < part < (1 - 0.40) / (1 - 0.08)


def test_the_last_flight_proves_how_little_resistance_there_is() -> None:
    """A pack that gave 16 A down to 2 % without meeting its floor cannot have the guessed resistance."""
    deep = {"charge_returned": "2156 mAh", "chemistry": "liion", "next_temperature": "10 °C"}
    shallow = deep | {"charge_returned": "1100 mAh", "flight_time": "3.0612 min"}  # the same current
    flown, other = timer(**deep), timer(**shallow)
    assert flown["average_current"] == pytest.approx(other["average_current"], rel=1e-3)
    assert flown["timer"] > other["timer"]


@pytest.mark.parametrize("chemistry", ["nimh", "nicd"])
def test_nickel_has_a_timer_but_no_cold(chemistry: str) -> None:
    assert timer(chemistry=chemistry)["timer"] == pytest.approx(6.6)
    assert refusals("flight-timer", **LAST, chemistry=chemistry, next_temperature="5 °C") == {
        ("next_temperature", "unsupported")
    }


def test_too_cold_to_fly_is_a_finding() -> None:
    got = reply("flight-timer", **LAST, chemistry="liion", next_temperature="-20 °C")
    assert got["answer"]["timer"]["value"] == pytest.approx(0, abs=0.05)
    assert got["cautions"][0]["code"] == "timer-too-cold"
    assert got["sentence"].startswith("Do not take off")


def test_a_flight_below_the_reserve_is_told() -> None:
    assert "flown-too-deep" not in cautions("flight-timer", **LAST)
    deep = LAST | {"charge_returned": "1900 mAh"}
    assert "flown-too-deep" in cautions("flight-timer", **deep)
    assert "flown-too-deep" not in cautions("flight-timer", **deep, reserve=0.1)


def test_more_returned_than_the_label_holds_is_a_danger() -> None:
    assert cautions("flight-timer", **LAST | {"charge_returned": "2500 mAh"})[0] == "returned-too-much"


@given(minutes=st.floats(0.1, 90), left=st.floats(0.2, 1))
def test_the_sentence_says_the_timer_down_to_the_quarter_minute(minutes: float, left: float) -> None:
    got = reply("flight-timer", **LAST | {"flight_time": f"{minutes} min", "capacity_left": left})
    said = re.match(r"Set the timer to (?:(\d+) minutes?)?(?: and )?(?:(\d+) seconds?)?", got["sentence"])
    assert said
    whole = 60 * int(said[1] or 0) + int(said[2] or 0)
    exact = got["answer"]["timer"]["value"] * 60
    assert exact - (15 if exact >= 60 else 1) < whole <= exact * (1 + 1e-9)
    assert whole < 60 or whole % 15 == 0


def test_the_band_holds_the_timer_and_widens_in_the_cold() -> None:
    warm, cold = reply("flight-timer", **LAST), reply("flight-timer", **LAST, next_temperature="5 °C")
    spans = []
    for got in (warm, cold):
        band = next(entry for entry in got["accuracy"] if entry["of"] == "timer")
        assert band["low"]["value"] < got["answer"]["timer"]["value"] < band["high"]["value"]
        spans.append(band["high"]["value"] / band["low"]["value"])
    assert spans[1] > spans[0]

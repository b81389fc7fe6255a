"""Flight-timer, clause by clause."""

import re
from itertools import pairwise
from math import exp
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, cautions, refusals, reply, spoken
from reference.integrator import Cells, flown

from ampstead.cell.kinds.chemistries import CHEMISTRIES

# Four fifths of a pack in six minutes: common practice, no published source; a check value.
LAST = {"flight_time": "6 min", "charge_returned": "1600 mAh", "capacity": "2200 mAh"}
MINUTES, CHARGES, RESERVES = st.floats(1, 60), st.floats(100, 2200), st.floats(0, 0.9)


def timer(**question: Any) -> dict[str, Any]:
    return answer("flight-timer", **LAST | question)


def test_mean_current_and_rate_are_those_of_the_last_flight() -> None:
    got = timer(next_capacity="3700 mAh", next_temperature="0 °C", capacity_left=0.5)
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
    if first["timer"] == pytest.approx(3 * minutes):  # so little was returned that it tells no more
        assert (1 - reserve) * 2200 >= 3 * milliamperehours * (1 - 1e-9)
        return
    used = first["average_current"] * first["timer"] / 60 * 1000
    assert used == pytest.approx((1 - reserve) * 2200)
    again = timer(flight_time=f"{first['timer']!r} min", charge_returned=f"{used!r} mAh", reserve=reserve)
    assert again["timer"] == pytest.approx(first["timer"])


@given(factor=st.floats(0.1, 10), left=st.floats(0.1, 1), degrees=st.floats(-20, 40))
def test_a_larger_pack_flies_longer_in_proportion_and_a_worn_one_shorter(
    factor: float, left: float, degrees: float
) -> None:
    one = timer()["timer"]
    assert timer(next_capacity=f"{2200 * factor} mAh")["timer"] == pytest.approx(min(factor * one, 18))
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


def test_no_timer_is_longer_than_three_of_the_last_flight() -> None:
    got = reply("flight-timer", flight_time="6.5 min", charge_returned="150 mAh", capacity="2250 mAh")
    assert got["answer"]["timer"]["value"] == pytest.approx(19.5)
    assert "too little to tell more" in got["sentence"]
    assert "timer-far" in [entry["code"] for entry in got["cautions"]]
    assert all(band["high"]["value"] <= 19.5 + 1e-9 for band in got["accuracy"] if band["of"] == "timer")
    assert "timer-far" not in cautions("flight-timer", **LAST)


def test_keeping_no_reserve_brings_a_caution() -> None:
    got = reply("flight-timer", **LAST, reserve=0)
    assert "no-reserve" in [entry["code"] for entry in got["cautions"]]
    assert "keeps nothing" in got["sentence"]
    assert "no-reserve" not in cautions("flight-timer", **LAST)


def test_a_slight_chill_costs_little_and_a_hard_frost_much() -> None:
    hard = {"flight_time": "3.3 min", "charge_returned": "1540 mAh"}
    usual = timer(**hard)["timer"]
    assert 0.97 * usual < timer(**hard, next_temperature="10 °C")["timer"] <= usual
    assert timer(**hard, next_temperature="-18 °C")["timer"] < 0.6 * usual


def test_in_the_cold_nothing_falls_off_a_cliff_as_the_load_grows() -> None:
    """From 1C to 25C at 0 °C, and from 25 to -15 °C at 12C: no step takes a tenth of the timer."""

    def part(rate: float, degrees: float) -> float:
        question = {"flight_time": f"{42 / rate} min", "charge_returned": "1540 mAh"}
        return timer(**question, next_temperature=f"{degrees} °C")["timer"] / timer(**question)["timer"]

    by_load = [part(rate, 0) for rate in range(1, 26)]
    assert min(by_load) > 0.9
    by_cold = [part(12, degrees) for degrees in range(25, -16, -1)]
    for parts in (by_load, by_cold):
        assert max(abs(one - other) for one, other in pairwise(parts)) < 0.1


def test_what_the_cold_takes_is_what_stays_below_the_floor_of_a_pack_that_warms_half_as_much_as_it_would() -> None:
    """Flown by scipy: 12C from -10 °C, lipo with 15 milliohm ampere-hours and half as much again for the slow part."""
    curve, kelvin = CHEMISTRIES["lipo"].curve, 263.15
    assert curve is not None
    ratio = exp(20000 / 8.31446261815324 * (1 / kelvin - 1 / 298.15))
    one = np.ones(1)
    cell = Cells(
        table=(curve.states, curve.voltages),
        states=one,
        capacities=2.2 * 3600 * one,
        ohmic=0.015 / 2.2 * ratio * one,
        polarisation=0.0075 / 2.2 * ratio * one,
        tau=30.0,
        heat_capacity=1000 * 2.2 * 3.7 / 150 * one,
        start=kelvin,
        ambient=kelvin,
        cooling=0.0,
        entropy=-0.235e-3,
    )
    ended = cell.split(flown(cell, [(("current", 26.4), 1e9)], reserve=0.2).y)[2][0]
    half = min(298.15, 0.5 * (kelvin + ended))
    warm = 12 * 0.0225
    cold = warm * exp(20000 / 8.31446261815324 * (1 / half - 1 / 298.15))

    def stranded(drop: float) -> float:
        return float(np.interp(3.3 + drop, curve.voltages, curve.states))

    question = {"flight_time": "3.5 min", "charge_returned": "1540 mAh"}
    part = timer(**question, next_temperature="-10 °C")["timer"] / timer(**question)["timer"]
    assert part == pytest.approx((1 - stranded(cold)) / (1 - stranded(warm)), rel=1e-3)


def test_a_sag_at_take_off_that_comes_near_the_floor_shortens_the_timer_in_proportion() -> None:
    """12C from 2.2 Ah at -17 °C: 15 milliohm ampere-hours make 0.180 V, 3.7 times as much in that cold."""
    question = {"flight_time": "3.5 min", "charge_returned": "1540 mAh"}
    ratio = exp(20000 / 8.31446261815324 * (1 / 256.15 - 1 / 298.15))
    assert 0 < 4.2 - 0.18 * ratio - 3.3 < 0.25
    parts = [timer(**question, next_temperature=f"{degrees} °C")["timer"] for degrees in (-16, -18, -20)]
    assert parts[0] > parts[1] > parts[2] > 0


def test_the_last_flight_proves_how_little_resistance_there_is() -> None:
    """A pack that gave 20 A down to 2 % without meeting its floor cannot have the guessed resistance."""
    deep = {
        "charge_returned": "2156 mAh",
        "chemistry": "life",
        "next_temperature": "-15 °C",
        "flight_time": "6.468 min",
    }
    shallow = deep | {"charge_returned": "1100 mAh", "flight_time": "3.3 min"}  # the same current
    flown_deep, other = timer(**deep), timer(**shallow)
    assert flown_deep["average_current"] == pytest.approx(other["average_current"], rel=1e-3)
    assert flown_deep["timer"] > other["timer"]


def test_a_lead_acid_pack_gave_less_than_was_put_back_and_has_less_in_the_cold() -> None:
    """0.85 of what is put back stays; 1 percent is lost per kelvin below 25 °C: from memory, as endurance takes it."""
    question = {"flight_time": "60 min", "charge_returned": "2 Ah", "capacity": "12 Ah", "chemistry": "lead"}
    got = answer("flight-timer", **question)
    assert got["average_current"] == pytest.approx(1.7)
    endured = answer("endurance", **question, cells=6, peukert=1, limit_temperature="100 °C")
    assert endured["charge_used"] / endured["time_flight"] * 60 / 1000 == pytest.approx(1.7)
    part = answer("flight-timer", **question, next_temperature="5 °C", next_capacity="2 Ah")["timer"]
    assert part / answer("flight-timer", **question, next_capacity="2 Ah")["timer"] <= 0.8 + 1e-9


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


@given(minutes=st.floats(2, 90), left=st.floats(0.2, 1))
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


def test_it_says_that_both_flights_are_taken_from_full() -> None:
    (told,) = [entry for entry in reply("flight-timer", **LAST)["cautions"] if entry["code"] == "timer-full"]
    assert told["standing"] is True
    assert "from full" in told["text"]


def test_no_reserve_is_what_is_spoken_where_nothing_graver_is() -> None:
    aerobat = {"flight_time": "5:20", "charge_returned": "2390 mAh", "capacity": "3700 mAh", "reserve": 0}
    for told, said in (
        (aerobat, "no-reserve"),
        (aerobat | {"charge_returned": "3720 mAh"}, "no-reserve"),  # flown too deep as well, which is no graver
        (aerobat | {"charge_returned": "4100 mAh"}, "returned-too-much"),
    ):
        got = reply("flight-timer", **told)
        text = {entry["code"]: entry["text"] for entry in got["cautions"]}
        assert "no-reserve" in text
        assert got["cautions"][0]["text"] == text[said]
        assert spoken("flight-timer", **told).strip().endswith(text[said])


def test_so_cold_that_nobody_knows_the_timer_does_not_let_off() -> None:
    told = {"flight_time": "5:20", "charge_returned": "2390 mAh", "capacity": "3700 mAh"}
    very = reply("flight-timer", **told, next_temperature="-12 °C")["sentence"]
    assert very.startswith("Do not take off with this lithium-polymer pack: at minus 12 degrees nobody can say")
    assert reply("flight-timer", **told, next_temperature="-10 °C")["sentence"].startswith("Set the timer")


@pytest.mark.parametrize(("celsius", "shorter"), [(24, False), (-5, True)])
def test_only_a_cold_that_counts_is_said_to_shorten_the_flight(celsius: float, shorter: bool) -> None:
    said = str(reply("flight-timer", **LAST, next_temperature=f"{celsius} °C")["sentence"])
    assert (f"for the cold of {celsius} degrees".replace("-", "minus ") in said) == shorter, said


@pytest.mark.parametrize(("question", "told", "code"), [
    ({"flight_time": "1 s", "charge_returned": "200 Ah", "capacity": "10 mAh"},
     "Set no timer by this flight: no lithium-polymer pack gives so much ", "drawn-too-hard"),
    ({"flight_time": "2 s", "charge_returned": "1500 mAh", "capacity": "2250 mAh"},
     "Set no timer by this flight: no lithium-polymer pack gives so much ", "drawn-too-hard"),
    ({"flight_time": "1 s", "charge_returned": "1 mAh", "capacity": "2250 mAh"},
     "Set no timer by this flight: so short ", "timer-far"),
    ({"flight_time": "60 s", "charge_returned": "1500 mAh", "capacity": "2250 mAh", "next_capacity": "100 mAh"},
     "Do not take off so: what this lithium-polymer pack has above its reserve is used up at once.", None),
])  # fmt: skip
def test_no_timer_of_no_time_and_no_rate_that_no_pack_has_is_spoken(
    question: dict[str, Any], told: str, code: str | None
) -> None:
    said = reply("flight-timer", **question)["sentence"]
    assert said.startswith(told)
    assert "0 seconds" not in said.split()[:6]
    assert code is None or code in cautions("flight-timer", **question)
    # A hundred times the capacity an hour is the most that is believed: 2250 mAh in 36 seconds.
    most = {"charge_returned": "2250 mAh", "capacity": "2250 mAh"}
    assert "drawn-too-hard" not in cautions("flight-timer", **most, flight_time="36 s")
    assert "drawn-too-hard" in cautions("flight-timer", **most, flight_time="35.9 s")

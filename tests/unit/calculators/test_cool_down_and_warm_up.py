"""Cool-down and warm-up, clause by clause, and what must hold of any pack in any air."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, cautions, client, refusals, reply, spoken

TRAINER: dict[str, Any] = {"cells": 3, "capacity": "2250 mAh"}
HOT = {**TRAINER, "temperature": "52 °C", "ambient": "13 °C"}
COLD = {**TRAINER, "temperature": "4 °C", "ambient": "33 °C"}
BOTH = pytest.mark.parametrize(("name", "question"), [("cool-down", HOT), ("warm-up", COLD)])


def minutes(name: str, **question: Any) -> float:
    time: float = answer(name, **question)["time_to_target"]
    return time


@BOTH
@given(capacity=st.floats(300, 20000), more=st.floats(1.05, 4))
def test_a_larger_pack_takes_longer(name: str, question: dict[str, Any], capacity: float, more: float) -> None:
    small, large = (question | {"capacity": f"{size!r} mAh"} for size in (capacity, capacity * more))
    assert minutes(name, **large) > minutes(name, **small)


@BOTH
def test_a_draught_is_quicker_than_still_air_and_that_than_a_box(name: str, question: dict[str, Any]) -> None:
    box, still, draught = (minutes(name, **question, surroundings=place) for place in ("box", "still-air", "draught"))
    assert box > still > draught > 0
    assert still == minutes(name, **question)


@BOTH
def test_what_was_assumed_fed_back_gives_the_same_answer(name: str, question: dict[str, Any]) -> None:
    told = reply(name, **question)
    assert reply(name, **question, **told["assumed"])["answer"] == told["answer"]


@BOTH
def test_the_skin_runs_ahead_of_the_middle(name: str, question: dict[str, Any]) -> None:
    course = answer(name, **question)
    target = {"cool-down": 40, "warm-up": 20}[name]
    lead = course["skin_temperature"] - target
    assert lead < -1 if name == "cool-down" else lead > 1


@BOTH
def test_several_masses_are_those_of_the_cells(name: str, question: dict[str, Any]) -> None:
    alike = minutes(name, **question, cell_mass="50 g", cooling="0.03 W/K")
    assert minutes(name, **question, cell_mass=["40 g", "60 g", "50 g"], cooling="0.03 W/K") == pytest.approx(alike)


@BOTH
def test_a_pack_without_any_cooling_is_refused_with_the_cure(name: str, question: dict[str, Any]) -> None:
    assert refusals(name, **question, cooling="0 W/K") == {("cooling", "out_of_range")}
    assert refusals(name, **TRAINER) == {("temperature", "missing"), ("ambient", "missing")}


def test_the_hottest_charge_is_what_a_pack_cools_to_unless_told() -> None:
    assert reply("cool-down", **HOT)["assumed"]["target_temperature"] == {"value": 40, "unit": "°C"}
    assert minutes("cool-down", **HOT, target_temperature="25 °C") > minutes("cool-down", **HOT)


@pytest.mark.parametrize(("temperature", "needed"), [("40 °C", False), ("40.5 °C", True), ("39 °C", False)])
def test_a_pack_that_is_cool_enough_needs_no_time(temperature: str, needed: bool) -> None:
    got = answer("cool-down", **HOT | {"temperature": temperature})
    assert (got["time_to_target"] > 0) == needed
    assert needed or got["skin_temperature"] == float(temperature.split()[0])


def test_in_air_too_warm_it_never_cools_and_the_answer_says_so() -> None:
    question = HOT | {"ambient": "40 °C"}
    got = answer("cool-down", **question)
    assert got["time_to_target"] is None
    assert got["skin_temperature"] is None
    assert "never cools" in spoken("cool-down", **question)
    assert cautions("cool-down", **question)[0] == "air-too-warm"
    assert "air-too-warm" not in cautions("cool-down", **HOT)


@pytest.mark.parametrize("further", [0, 0.001, 8])
def test_air_that_leads_away_from_the_target_never_brings_a_pack_there(further: float) -> None:
    hot = HOT | {"ambient": f"{52 + further} °C"}
    cold = COLD | {"ambient": f"{4 - further} °C"}
    assert answer("cool-down", **hot)["time_to_target"] is None
    assert "never cools" in spoken("cool-down", **hot)
    assert answer("warm-up", **cold)["time_to_target"] is None
    assert "never warms" in spoken("warm-up", **cold)


def test_a_pack_beyond_sixty_degrees_goes_outdoors_first() -> None:
    assert cautions("cool-down", **HOT | {"temperature": "61 °C"})[0] == "overheated"
    assert "outdoors" in spoken("cool-down", **HOT | {"temperature": "61 °C"})
    assert cautions("cool-down", **HOT | {"temperature": "60 °C"}) == ["skin-misleads", "no-cold-bath"]


def test_a_pack_that_may_be_charged_only_slowly_now_is_not_charged_before_its_middle_is_warm() -> None:
    assert cautions("warm-up", **COLD) == ["not-charged-cold", "no-direct-heat"]
    assert cautions("warm-up", **COLD | {"temperature": "13 °C"}) == ["no-direct-heat"]


def test_air_no_warmer_than_the_target_never_warms_it() -> None:
    question = COLD | {"temperature": "13 °C", "ambient": "20 °C"}
    assert answer("warm-up", **question)["time_to_target"] is None
    assert cautions("warm-up", **question) == ["air-too-cold", "no-direct-heat"]
    assert "never warms" in spoken("warm-up", **question)


def test_air_that_harms_gives_no_time_but_another_place() -> None:
    question = COLD | {"ambient": "46 °C"}
    assert answer("warm-up", **question)["time_to_target"] is None
    assert cautions("warm-up", **question)[0] == "place-too-hot"
    assert "milder place" in spoken("warm-up", **question)
    assert minutes("warm-up", **COLD | {"ambient": "45 °C"}) > 0


def test_a_warm_pack_is_warm_enough_already() -> None:
    assert minutes("warm-up", **COLD | {"temperature": "20 °C"}) == 0
    assert "warm enough" in spoken("warm-up", **COLD | {"temperature": "20 °C"})


@given(start=st.floats(41, 70), air=st.floats(-20, 39))
def test_at_the_time_told_the_curve_is_at_the_target(start: float, air: float) -> None:
    question = TRAINER | {"temperature": f"{start!r} °C", "ambient": f"{air!r} °C"}
    end, skin = (answer("cool-down", **question)[key] for key in ("time_to_target", "skin_temperature"))
    again = answer("cool-down", **question, target_temperature=f"{start - 0.5 * (start - 40)!r} °C")
    assert 0 < again["time_to_target"] < end
    assert air <= skin <= 40


@pytest.mark.parametrize(
    ("name", "start", "air", "says"),
    [
        ("warm-up", "4 °C", "20 °C", "find it a warmer place, or ask for a little less."),
        ("warm-up", "4 °C", "10 °C", "find it a warmer place."),
        ("cool-down", "50 °C", "40 °C", "find it a cooler place, or ask for a little more."),
        ("cool-down", "55 °C", "45 °C", "find it a cooler place."),
    ],
)
def test_air_as_warm_as_what_is_asked_is_told_with_its_cure(name: str, start: str, air: str, says: str) -> None:
    said = reply(name, cells=3, capacity="2250 mAh", temperature=start, ambient=air)["sentence"]
    assert said.endswith(says)
    assert ("though it comes near" in said) is ("or ask" in says)


@pytest.mark.parametrize(
    ("calculator", "target", "beyond"), [("cool-down", "30 °C", "10 °C"), ("warm-up", "15 °C", "40 °C")]
)
def test_the_curve_goes_a_third_beyond_the_target_or_over_three_halvings(
    calculator: str, target: str, beyond: str
) -> None:
    told = {"cells": 3, "capacity": "2250 mAh", "temperature": "50 °C" if calculator == "cool-down" else "5 °C",
            "ambient": "25 °C"}  # fmt: skip
    for asked, result, times in ((target, "time_to_target", 1.33), (beyond, "time_to_halve", 3)):
        got = client().get(f"/v1/{calculator}.csv", query_string={**told, "target_temperature": asked})
        assert got.status_code == 200, got.text
        last = float(got.text.splitlines()[-1].split(",")[0])
        assert last == pytest.approx(times * answer(calculator, **told, target_temperature=asked)[result])


@pytest.mark.parametrize(
    ("calculator", "start", "air", "target", "near"),
    [
        ("warm-up", "5 °C", "14 °C", "14.99 °C", True),
        ("warm-up", "5 °C", "14 °C", "15 °C", False),
        ("warm-up", "5 °C", "50.6 °F", "52.4 °F", False),  # 1 K less a rounding
        ("cool-down", "50 °C", "14 °C", "13.01 °C", True),
        ("cool-down", "50 °C", "14 °C", "13 °C", False),
        ("cool-down", "50 °C", "52.4 °F", "50.6 °F", False),
    ],
)
def test_a_target_within_a_degree_of_the_air_is_called_near(
    calculator: str, start: str, air: str, target: str, near: bool
) -> None:
    told = {"cells": 3, "capacity": "2250 mAh", "temperature": start, "ambient": air, "target_temperature": target}
    assert ("comes near" in spoken(calculator, **told)) == near

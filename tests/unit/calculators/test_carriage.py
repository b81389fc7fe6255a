"""Carriage, clause by clause."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, cautions, refusals, reply, spoken

PACK = {"cells": 6, "capacity": "4900 mAh"}
RANK = ["cabin", "ask-operator", "not-by-passengers"]
LITHIUM = st.sampled_from(["lipo", "lihv", "liion", "life"])


def carried(**question: Any) -> dict[str, Any]:
    return answer("carriage", **PACK | question)


@pytest.mark.parametrize(
    ("capacity", "category"),
    [
        ("4504 mAh", "cabin"),
        ("4505 mAh", "ask-operator"),
        ("7207 mAh", "ask-operator"),
        ("7208 mAh", "not-by-passengers"),
    ],
)
def test_computed_energies_meet_the_limits_too(capacity: str, category: str) -> None:
    assert carried(capacity=capacity)["category"] == category


def test_binary_digits_do_not_push_a_pack_over_a_limit() -> None:
    assert carried(cells=4, capacity=f"{100 / 14.8!r} Ah")["category"] == "cabin"
    assert carried(label_energy="0.16 kWh")["category"] == "ask-operator"
    assert carried(label_energy=f"{100 * (1 + 1e-8)} Wh")["category"] == "ask-operator"


@pytest.mark.parametrize(
    ("chemistry", "nominal"),
    [("lipo", 3.7), ("lihv", 3.8), ("liion", 3.6), ("life", 3.3), ("nimh", 1.2), ("lead", 2.0)],
)
def test_energy_is_capacity_times_nominal_voltage(chemistry: str, nominal: float) -> None:
    assert carried(chemistry=chemistry)["energy"] == pytest.approx(6 * 4.9 * nominal)


def test_the_declared_energy_rules_over_the_computed_one_both_ways() -> None:
    assert carried(label_energy="99 Wh")["category"] == "cabin"
    assert carried(cells=3, label_energy="101 Wh")["category"] == "ask-operator"
    assert carried(label_energy="99 Wh")["energy"] == pytest.approx(99)


@pytest.mark.parametrize("condition", ["swollen", "damaged", "wet", "crashed"])
@pytest.mark.parametrize("chemistry", ["lipo", "nimh", "lead"])
def test_a_pack_that_is_not_sound_goes_by_no_aircraft(condition: str, chemistry: str) -> None:
    question = {"cells": 3, "capacity": "500 mAh", "chemistry": chemistry, "condition": condition}
    got = reply("carriage", **question)
    assert got["answer"]["category"] == "not-by-passengers"
    assert got["answer"]["allowed_count"] == 0
    assert {entry["code"] for entry in got["cautions"] if entry["severity"] == "danger"} == {
        "carriage-unsound",
        condition,
    }
    assert "at home: it " in got["sentence"]


def test_cells_and_capacity_are_asked_for() -> None:
    assert refusals("carriage") == {("cells", "missing"), ("capacity", "missing")}


def test_too_many_spares_are_told() -> None:
    assert "carriage-too-many" not in cautions("carriage", **PACK, count=2)
    assert "carriage-too-many" in cautions("carriage", **PACK, count=3)
    assert "Three packs are more than the 2 that" in spoken("carriage", **PACK, count=3)


def test_freight_is_kept_apart_from_baggage() -> None:
    got = reply("carriage", **PACK)
    cargo = next(entry for entry in got["cautions"] if entry["code"] == "carriage-cargo")
    assert cargo["severity"] == "note"
    assert "30 percent" not in got["sentence"] + got["answer"]["advice"]


def test_every_answer_is_dated_and_leaves_the_decision_to_the_operator() -> None:
    for question in (PACK, {**PACK, "chemistry": "nimh"}, {**PACK, "chemistry": "lead"}, {**PACK, "capacity": "10 Ah"}):
        got = reply("carriage", **question)
        rules = next(entry["text"] for entry in got["cautions"] if entry["code"] == "carriage-rules")
        assert "2026" in rules
        assert "airline decides" in rules
        assert any("2026" in source for source in got["sources"])


def test_a_forbidden_pack_is_never_told_to_go_in_the_cabin() -> None:
    got = reply("carriage", **PACK | {"capacity": "10 Ah"})
    assert "cabin" not in got["sentence"] + got["answer"]["advice"]
    assert "carriage-spares" not in [entry["code"] for entry in got["cautions"]]


def test_lithium_rules_are_not_put_on_other_chemistries() -> None:
    nickel = reply("carriage", chemistry="nimh", cells=20, capacity="10 Ah")
    assert nickel["answer"]["category"] == "cabin"
    assert "lithium" not in nickel["sentence"]
    for chemistry in ("nimh", "nicd", "lead"):
        assert "carriage-unlike-lithium" in cautions("carriage", cells=6, capacity="5 Ah", chemistry=chemistry)


@pytest.mark.parametrize(
    ("cells", "capacity", "category"),
    [
        (6, "7 Ah", "ask-operator"),
        (6, "8.3 Ah", "ask-operator"),
        (6, "8.4 Ah", "not-by-passengers"),
        (12, "2 Ah", "not-by-passengers"),
    ],
)
def test_lead_is_asked_about_only_while_small(cells: int, capacity: str, category: str) -> None:
    got = answer("carriage", chemistry="lead", cells=cells, capacity=capacity)
    assert got["category"] == category
    assert ("spill" in got["advice"]) is (category == "ask-operator")


def test_a_label_far_from_volts_times_ampere_hours_is_questioned() -> None:
    assert "carriage-label" in cautions("carriage", **PACK, label_energy="11.1 Wh")
    assert "carriage-label" not in cautions("carriage", **PACK, label_energy="108 Wh")


@pytest.mark.parametrize(
    ("capacity", "close"), [("4400 mAh", True), ("4300 mAh", False), ("7100 mAh", True), ("6000 mAh", False)]
)
def test_a_computed_energy_close_to_a_limit_points_to_the_label(capacity: str, close: bool) -> None:
    assert ("carriage-close" in cautions("carriage", cells=6, capacity=capacity)) is close
    assert "carriage-close" not in cautions("carriage", cells=6, capacity=capacity, label_energy="99 Wh")


@given(chemistry=LITHIUM, cells=st.integers(1, 14), amperehours=st.floats(0.1, 30), more=st.floats(1, 3))
def test_more_energy_is_never_easier_to_carry(chemistry: str, cells: int, amperehours: float, more: float) -> None:
    one, other = (
        answer("carriage", chemistry=chemistry, cells=cells, capacity=f"{size} Ah")
        for size in (amperehours, amperehours * more)
    )
    assert RANK.index(other["category"]) >= RANK.index(one["category"])
    assert other["allowed_count"] <= one["allowed_count"]
    wanted = "cabin" if one["energy"] <= 100 else "ask-operator" if one["energy"] <= 160 else "not-by-passengers"
    assert one["category"] == wanted

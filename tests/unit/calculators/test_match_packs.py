"""Match-packs, clause by clause."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, cautions, client, refusals, reply

A: dict[str, Any] = {"name": "red trainer A", "cells": 3, "capacity": "2250 mAh", "cell_resistance": "8.5 mΩ"}
B: dict[str, Any] = A | {"name": "red trainer B", "cell_resistance": "9 mΩ"}
C: dict[str, Any] = A | {"name": "red trainer C", "cell_resistance": "14 mΩ"}
AERO: dict[str, Any] = {"name": "blue aerobat A", "cells": 4, "capacity": "3700 mAh", "cell_resistance": "4.2 mΩ"}


def matched(*packs: dict[str, Any], **more: Any) -> dict[str, Any]:
    return answer("match-packs", packs=list(packs), **more)


def grouped(*packs: dict[str, Any], **more: Any) -> list[list[int]]:
    return [group["packs"] for group in matched(*packs, **more)["groups"]]


def said(*packs: dict[str, Any], **more: Any) -> str:
    return str(reply("match-packs", packs=list(packs), **more)["sentence"])


def sized(*capacities: float) -> list[dict[str, Any]]:
    return [{"cells": 3, "capacity": f"{size} mAh", "cell_resistance": "9 mΩ"} for size in capacities]


@given(st.permutations(range(4)))
def test_like_goes_with_like_whatever_the_order(order: list[int]) -> None:
    packs = sized(2250, 2240, 2000, 1990)
    got = grouped(*[packs[place] for place in order])
    assert {frozenset(order[place - 1] for place in group) for group in got} == {frozenset({0, 1}), frozenset({2, 3})}


def test_in_series_the_charge_above_the_smallest_is_never_used_and_in_parallel_it_is() -> None:
    packs = sized(2250, 2100)
    series, parallel = matched(*packs), matched(*packs, use="parallel")
    assert series["groups"][0]["charge_unused"] == pytest.approx(150)
    assert series["groups"][0]["shares"] == [1, 1]
    assert parallel["groups"][0]["charge_unused"] == 0


def test_in_parallel_the_pack_with_less_resistance_carries_more() -> None:
    group = matched(A, B, use="parallel")["groups"][0]
    assert group["shares"] == pytest.approx([9 / 17.5, 8.5 / 17.5])
    assert group["hardest_load"] == pytest.approx(2 * 9 / 17.5)
    # A larger pack with as much less resistance works no harder than its fellow.
    larger = A | {"capacity": "4500 mAh", "cell_resistance": "4.25 mΩ"}
    assert matched(A, larger, use="parallel", mismatch_limit=1)["groups"][0]["hardest_load"] == pytest.approx(1)


def test_packs_of_unlike_cells_go_in_series_and_never_in_parallel() -> None:
    four = A | {"cells": 4}
    assert grouped(A, four) == [[1, 2]]
    got = matched(A, four, use="parallel")
    assert got["groups"] == []
    assert [one["why"] for one in got["left_out"]] == ["too-unlike", "too-unlike"]
    assert said(A, four, use="parallel").startswith("These lithium-polymer packs do not go together")


def test_as_many_as_can_be_are_put_together_before_they_are_alike() -> None:
    # 2100 with 2050 is the most alike, but would leave the others alone.
    assert sorted(grouped(*sized(2500, 2100, 2050, 1650))) == [[1, 2], [3, 4]]


def test_one_too_many_is_left_over_and_the_odd_one_is_too_unlike() -> None:
    got = matched(*sized(2250, 2240, 2100))
    assert (got["groups"][0]["packs"], got["left_out"][0]["pack"], got["left_out"][0]["why"]) == (
        [1, 2],
        3,
        "left-over",
    )
    got = matched(A, B, AERO)
    assert got["left_out"] == [{"pack": 3, "name": "blue aerobat A", "why": "too-unlike"}]


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"condition": "crashed"}, "condition"),
        ({"cell_voltages": "3.86,3.91,3.6 V"}, "suspect-cell"),
        ({"cell_voltages": "3.86,3.86,2.3 V"}, "low-cell"),
        ({"rest_voltage": "8.97 V"}, "low-cell"),
        ({"rest_voltage": "13 V"}, "full"),
        ({"rest_voltage": "8.2 V"}, "cell-count"),
    ],
)
def test_a_pack_that_is_not_fit_goes_nowhere(change: dict[str, Any], why: str) -> None:
    got = matched(A, B | change, C)
    assert {"pack": 2, "name": "red trainer B", "why": why} in got["left_out"]
    assert all(2 not in group["packs"] for group in got["groups"])


def test_age_counts_a_little() -> None:
    old, young = {"cycles": 250, "years": 4}, {"cycles": 10, "years": 0.5}
    four = [A | old, A | young, A | young, A | old]
    assert sorted(grouped(*four)) == [[1, 4], [2, 3]]
    assert matched(A | old, A | young)["total_mismatch"] == pytest.approx(0.02 * 3.5 + 0.0004 * 240)
    bought = matched(A | {"bought": "2023-01"}, A | {"bought": "2025-07"})
    assert bought["total_mismatch"] == pytest.approx(0.02 * 2.5)
    assert matched(A | old, A)["total_mismatch"] == 0


def test_three_go_in_one_group_where_three_are_asked_for() -> None:
    got = matched(*sized(2250, 2240, 2230, 2000, 1990), size=3)
    assert got["groups"][0]["packs"] == [1, 2, 3]
    assert got["groups"][0]["charge_unused"] == pytest.approx(30)
    assert [one["why"] for one in got["left_out"]] == ["left-over", "left-over"]


def test_more_than_can_be_searched_through_is_told_as_not_proven() -> None:
    few, many = matched(*sized(*range(2000, 2018))), matched(*sized(*range(2000, 2019)))
    assert (few["proven"], many["proven"]) == (True, False)
    assert len(few["groups"]) == len(many["groups"]) == 9
    assert "not proven" in said(*sized(*range(2000, 2019)))


def test_guesses_beside_measurements_are_told_apart() -> None:
    guessed = {"cells": 3, "capacity": "2250 mAh"}
    assert "resistance-half-told" in cautions("match-packs", packs=[A, guessed])
    assert "resistance-half-told" not in cautions("match-packs", packs=[A, B])
    assert "resistance-half-told" not in cautions("match-packs", packs=[guessed, guessed])
    assert "charge-apart" in cautions("match-packs", packs=[A, B])
    assert "ask-before-joining" in cautions("match-packs", packs=[A, B], use="parallel")
    assert "label-not-capacity" in cautions("match-packs", packs=[A, B])


def test_cells_need_not_be_told_but_a_voltage_needs_them() -> None:
    bare = {"capacity": "2250 mAh", "cell_resistance": "9 mΩ"}
    assert grouped(bare, bare, use="parallel") == [[1, 2]]
    assert refusals("match-packs", packs=[bare, bare | {"rest_voltage": "11.31 V"}]) == {("packs[1].cells", "missing")}


def test_what_cannot_be_is_refused() -> None:
    assert refusals("match-packs", packs=[A]) == {("packs", "wrong_length")}
    assert refusals("match-packs", packs=[A, B | {"chemistry": "life"}]) == {
        ("packs[0].chemistry", "conflict"),
        ("packs[1].chemistry", "conflict"),
    }
    assert refusals("match-packs", packs=[A, B | {"bought": "last year"}]) == {("packs[1].bought", "out_of_range")}
    assert refusals("match-packs", packs=[A, B | {"bought": "2025", "years": 1}]) == {
        ("packs[1].bought", "conflict"),
        ("packs[1].years", "conflict"),
    }


def test_the_table_has_a_group_a_row() -> None:
    question = {"packs": [A, B, C, C]}
    lines = client().post("/v1/match-packs.csv", json=question).text.splitlines()
    assert [line.split(",")[0] for line in lines] == ["group", "red trainer C 1 + red trainer C 2",
                                                      "red trainer A + red trainer B"]  # fmt: skip
    assert client().post("/v1/match-packs.svg", json=question).status_code == 200


def test_the_sentence_speaks_of_unused_charge_only_where_there_is_some() -> None:
    alike = {"cells": 3, "capacity": "2250 mAh"}
    said = reply("match-packs", packs=[alike, alike])["sentence"]
    assert said == "Of these lithium-polymer packs, for use in series, put together pack 1 with pack 2."
    less = reply("match-packs", packs=[alike, alike | {"capacity": "2200 mAh"}])["sentence"]
    assert less.endswith("pack 1 with pack 2. 50 milliampere hours of them are never used.")


def test_who_is_left_out_is_said_by_its_reason_and_a_sentence_begins_large() -> None:
    trainer = {"cells": 3, "capacity": "2250 mAh", "cell_resistance": "8.5 mΩ"}
    odd = trainer | {"name": "yellow glider", "capacity": "1150 mAh"}
    said = reply("match-packs", packs=[trainer, trainer, odd, odd | {"capacity": "500 mAh"}], use="parallel")[
        "sentence"
    ]
    assert "; yellow glider 1 and yellow glider 2 are too unlike the others." in said
    assert said.endswith(". They share the current evenly.")
    one = reply("match-packs", packs=[trainer, trainer, trainer], use="series")["sentence"]
    assert one.endswith("pack 3 finds no partner.")


def test_packs_none_of_which_go_together_are_unlike_each_other() -> None:
    trainer = {"cells": 3, "capacity": "2250 mAh", "cell_resistance": "8.5 mΩ"}
    said = reply("match-packs", packs=[trainer, trainer | {"capacity": "5000 mAh"}], use="series")["sentence"]
    assert said.endswith("do not go together in series: they are too unlike each other.")
    uneven = [trainer, trainer | {"cell_resistance": "9.5 mΩ"}]
    assert "Pack 1 carries 53 percent of the current." in reply("match-packs", packs=uneven, use="parallel")["sentence"]

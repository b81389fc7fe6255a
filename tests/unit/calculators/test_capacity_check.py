"""Capacity-check, clause by clause, and what must hold of any charge."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, cautions, client, refusals, reply, spoken

from ampstead.cell.kinds.chemistries import CHEMISTRIES

CURVES = ["lipo", "lihv", "liion", "life", "lead"]
FULL = {"cells": 4, "before": "15.2 V", "after": "16.8 V", "charge_returned": "1000 mAh"}


def check(**question: Any) -> dict[str, Any]:
    return answer("capacity-check", **question)


def edges(of: str, **question: Any) -> tuple[float, float]:
    entry = next(entry for entry in reply("capacity-check", **question)["accuracy"] if entry["of"] == of)
    low, high = (edge["value"] if isinstance(edge, dict) else edge for edge in (entry["low"], entry["high"]))
    return low, high


def voltage(chemistry: str, state: float) -> float:
    curve = CHEMISTRIES[chemistry].curve
    assert curve is not None
    return float(curve.voltage(state))


@given(st.sampled_from(CURVES), st.floats(0.0, 0.6), st.floats(0.3, 0.4), st.floats(0.1, 20), st.integers(1, 6))
def test_a_charge_between_two_states_gives_back_the_capacity(
    chemistry: str, start: float, risen: float, ampere_hours: float, cells: int
) -> None:
    before, after = (cells * voltage(chemistry, state) for state in (start, start + risen))
    question = {
        "chemistry": chemistry,
        "cells": cells,
        "before": f"{before:.12f} V",
        "after": f"{after:.12f} V",
        "charge_returned": f"{risen * ampere_hours} Ah",
        "capacity": f"{ampere_hours * 2} Ah",
    }
    got = check(**question)
    assert got["measured_capacity"] == pytest.approx(1000 * ampere_hours, rel=1e-6)
    assert got["capacity_left"] == pytest.approx(0.5, rel=1e-6)
    low, high = edges("measured_capacity", **question)
    assert 0 < low < got["measured_capacity"] < high
    assert edges("capacity_left", **question) == pytest.approx(
        (low / 2000 / ampere_hours, high / 2000 / ampere_hours), rel=1e-9
    )


@given(st.floats(0.1, 5))
def test_twice_the_charge_is_twice_the_capacity(factor: float) -> None:
    one = check(**FULL)["measured_capacity"]
    assert check(**FULL | {"charge_returned": f"{factor} Ah"})["measured_capacity"] == pytest.approx(factor * one)


@given(st.floats(3.5, 3.72), st.floats(0.2, 0.45))
def test_a_wider_charge_has_a_narrower_band(low: float, more: float) -> None:
    def width(after: float) -> float:
        question = {"cells": 1, "before": f"{low} V", "after": f"{after} V", "charge_returned": "1 Ah"}
        if check(**question)["measured_capacity"] is None:
            return float("inf")
        least, most = edges("measured_capacity", **question)
        return (most - least) / least

    assert width(4.2) <= width(low + more) + 1e-9


def test_a_list_tells_of_each_cell_and_the_smallest_counts() -> None:
    # From the table: 3.762193 V is 40, 3.733089 V 30, 4.087947 V 90 percent.
    question = {"charge_returned": "600 mAh", "after": ["4.087947 V", "4.087947 V"]}
    assert check(**question, before=["3.762193 V", "3.733089 V"])["measured_capacity"] == pytest.approx(1000)
    assert check(**question, before=["3.762193 V", "3.762193 V"])["measured_capacity"] == pytest.approx(1200)
    assert check(**question, before="7.524386 V")["measured_capacity"] == pytest.approx(1200)


def test_without_a_label_nothing_is_held_against_it() -> None:
    assert check(**FULL)["capacity_left"] is None
    assert check(**FULL, capacity="4 Ah")["capacity_left"] == pytest.approx(check(**FULL)["measured_capacity"] / 4000)


@pytest.mark.parametrize("after", ["15.2 V", "14.8 V"])
def test_a_voltage_that_did_not_rise_is_a_finding(after: str) -> None:
    question = FULL | {"after": after, "capacity": "4 Ah"}
    assert check(**question) == {"measured_capacity": None, "capacity_left": None}
    assert reply("capacity-check", **question)["accuracy"] == []
    assert spoken("capacity-check", **question).startswith("No capacity of this lithium-polymer pack can be told")
    assert "small-difference" not in cautions("capacity-check", **question)


@pytest.mark.parametrize("cells", [1, 3, 4])
def test_two_voltages_of_a_cell_are_not_taken_for_the_packs(cells: int) -> None:
    got = reply("capacity-check", cells=cells, before="3.7 V", after="4.2 V", charge_returned="1480 mAh")
    # 3.70 V is 20.9 percent, straight between 0.20 and 0.22 of the published table (3.695383 and 3.705492 V).
    assert got["answer"]["measured_capacity"]["value"] == pytest.approx(1480 / (1 - 0.20913), rel=1e-4)
    assert ("taken as of each cell" in got["sentence"]) is (cells > 1)


def test_two_cells_told_by_their_sum_are_not_taken_for_one() -> None:
    got = check(cells=2, before="7.4 V", after="8.4 V", charge_returned="1480 mAh")
    assert got == check(cells=1, before="3.7 V", after="4.2 V", charge_returned="1480 mAh")


def test_a_tenth_of_the_curve_tells_nothing() -> None:
    # 4.10 to 4.20 V: from 91 percent on.
    question = {
        "cells": 3,
        "before": "12.30 V",
        "after": "12.60 V",
        "charge_returned": "200 mAh",
        "capacity": "2250 mAh",
    }
    got = reply("capacity-check", **question)
    assert got["answer"] == {"measured_capacity": None, "capacity_left": None}
    assert got["sentence"].startswith("These readings cannot tell the capacity of this lithium-polymer pack.")
    assert "small-difference" in [entry["code"] for entry in got["cautions"]]


def test_a_small_difference_is_called_useless_and_says_what_to_do() -> None:
    question = FULL | {"after": "15.22 V"}
    got = reply("capacity-check", **question)
    assert got["sentence"].startswith("These readings cannot tell the capacity")
    told = next(entry["text"] for entry in got["cautions"] if entry["code"] == "small-difference")
    assert "charge it full" in told
    assert got["answer"]["measured_capacity"] is None
    assert got["accuracy"] == []
    assert "small-difference" not in cautions("capacity-check", **FULL | {"before": "14.8 V"})


@pytest.mark.parametrize("place", range(4))
def test_the_cell_that_rose_most_tells_whether_the_readings_lie_far_enough_apart(place: int) -> None:
    # Own judgement: the pack's charge went through every cell, so one that was nearly full hides nothing of the others.
    before = ["3.7 V"] * 4
    before[place] = "4.15 V"
    said = {"charge_returned": "1480 mAh", "after": ["4.2 V"] * 4}
    assert "small-difference" not in cautions("capacity-check", before=before, **said)
    assert "small-difference" in cautions("capacity-check", before=["4.15 V"] * 4, **said)


def test_where_published_curves_disagree_the_sentence_says_so() -> None:
    # 3.70 V is 19 to 52 percent on the seven curves: 0.48 to 0.81 of the capacity went back in.
    question = FULL | {"before": "14.8 V", "after": "16.8 V"}
    low, high = edges("measured_capacity", **question)
    assert low == pytest.approx(1000 / 0.81, rel=0.02)
    assert high == pytest.approx(1000 / 0.48, rel=0.05)
    assert spoken("capacity-check", **question).startswith("These readings hardly tell: about 1260 milliampere hours")
    assert "curves-disagree" in cautions("capacity-check", **question)


def test_lead_acid_takes_in_more_than_it_stores() -> None:
    question = {"chemistry": "lead", "cells": 6, "before": "12.0 V", "after": "12.6 V", "charge_returned": "6 Ah"}
    assert check(**question)["measured_capacity"] == pytest.approx(8000)
    # 0.85 of 6 Ah over at most 1.4 of the 75 percent that the table gives: that would be more than a whole charge, and
    # no two states lie further apart than that.
    assert edges("measured_capacity", **question)[0] == pytest.approx(0.85 * 6000 / 1.0)
    assert "lead-returned" in cautions("capacity-check", **question)


def test_figures_beside_the_label_are_told() -> None:
    good = FULL | {"before": "15.5 V", "charge_returned": "1000 mAh"}
    measured = check(**good)["measured_capacity"]
    worn = good | {"capacity": f"{measured / 0.7} mAh"}
    assert "worn-pack" in cautions("capacity-check", **worn)
    assert "70 percent of its label" in spoken("capacity-check", **worn)
    assert "worn-pack" not in cautions("capacity-check", **good, capacity=f"{measured} mAh")
    assert "more-than-label" in cautions("capacity-check", **good, capacity=f"{measured / 2} mAh")


def test_what_is_missing_or_cannot_be_is_refused_by_name() -> None:
    assert refusals("capacity-check") == {(name, "missing") for name in ("charge_returned", "before", "after", "cells")}
    assert refusals("capacity-check", **FULL | {"after": "19.7 V"}) == {("after", "out_of_range")}
    assert refusals("capacity-check", **FULL | {"before": ["4.95 V"] * 4}) == {("before", "out_of_range")}
    assert refusals("capacity-check", **FULL | {"before": ["3.8 V"] * 3}) == {
        ("cells", "wrong_length"),
        ("before", "wrong_length"),
    }
    uneven = {"before": ["3.8 V"] * 3, "after": ["4.2 V"] * 2, "charge_returned": "1 Ah"}
    assert refusals("capacity-check", **uneven) == {("before", "wrong_length"), ("after", "wrong_length")}
    assert refusals("capacity-check", **FULL, chemistry="nicd") == {("chemistry", "unsupported")}
    assert refusals("capacity-check", **FULL | {"charge_returned": "0 mAh"}) == {("charge_returned", "out_of_range")}


def test_the_message_names_the_reading_as_it_was_asked() -> None:
    got = client().post("/v1/capacity-check", json=FULL | {"after": "19.7 V"}).get_json()
    assert "rest_voltage" not in got["detail"]


def test_a_cell_that_was_dead_before_or_is_too_full_after_is_told() -> None:
    asked = {"charge_returned": "1480 mAh", "cells": 3}
    assert "dead-cell" in cautions("capacity-check", **asked, before="3.7,3.7,2.4 V", after="4.2,4.2,4.2 V")
    assert cautions("capacity-check", **asked, before="11.1 V", after="12.9 V")[0] == "overcharged"
    assert not {"dead-cell", "overcharged"} & set(cautions("capacity-check", **asked, before="11.1 V", after="12.6 V"))

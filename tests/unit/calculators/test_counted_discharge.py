"""Counted-discharge, clause by clause."""

from typing import Any

import pytest
from reference.asking import answer, cautions, client, refusals, reply

DRAWN: dict[str, Any] = {"cells": 3, "capacity": "2250 mAh", "charge_drawn": "1790 mAh", "current": "2.3 A",
                         "cut_off_voltage": "10.8 V", "rest_after": "10.9 V"}  # fmt: skip


def counted(**more: Any) -> dict[str, Any]:
    return answer("counted-discharge", **DRAWN | more)


def test_the_rise_after_the_load_tells_the_resistance() -> None:
    got = counted()
    assert got["pack_resistance"] == pytest.approx(1000 * 0.1 / 2.3)
    assert got["cell_resistance"] == pytest.approx(got["pack_resistance"] / 4.5)
    assert got["resistance_at_25C"] == got["pack_resistance"]
    assert counted(temperature="5 °C")["resistance_at_25C"] < got["pack_resistance"]


def test_what_is_left_behind_is_added_whatever_the_current_and_the_cut_off_were() -> None:
    gentle = counted()
    hard = counted(current="23 A", cut_off_voltage="9.9 V")
    assert gentle["measured_capacity"] == hard["measured_capacity"] > 1790
    state = answer("charge-left", cells=3, rest_voltage="10.9 V")["state_of_charge"]
    assert gentle["left_behind"] == pytest.approx(state)
    assert gentle["measured_capacity"] == pytest.approx(1790 / (1 - state))
    assert gentle["capacity_left"] == pytest.approx(gentle["measured_capacity"] / 2250)


def test_a_discharge_that_did_not_begin_full_counts_from_where_it_began() -> None:
    check = answer("capacity-check", cells=3, capacity="2250 mAh", charge_returned="1790 mAh", before="10.9 V",
                   after="12.45 V")  # fmt: skip
    assert counted(rest_before="12.45 V")["measured_capacity"] == pytest.approx(check["measured_capacity"])
    bands = [
        reply(name, **question)["accuracy"][0]
        for name, question in (
            ("counted-discharge", DRAWN | {"rest_before": "12.45 V"}),
            ("capacity-check", {"cells": 3, "charge_returned": "1790 mAh", "before": "10.9 V", "after": "12.45 V"}),
        )
    ]
    assert bands[0] == bands[1]


def test_lead_has_less_in_the_cold_and_that_is_counted_in() -> None:
    lead = {"chemistry": "lead", "cells": 6, "charge_drawn": "20 Ah", "current": "3.8 A", "cut_off_voltage": "11.5 V",
            "rest_after": "11.9 V", "rest_before": "12.7 V"}  # fmt: skip
    warm, cold = (answer("counted-discharge", **lead, temperature=told) for told in ("25 °C", "15 °C"))
    assert cold["measured_capacity"] == pytest.approx(warm["measured_capacity"] / 0.9)
    assert counted(temperature="15 °C")["measured_capacity"] == counted()["measured_capacity"]


def test_too_little_tells_nothing() -> None:
    got = counted(rest_before="11.1 V")
    assert got["measured_capacity"] is got["capacity_left"] is None
    told = reply("counted-discharge", **DRAWN | {"rest_before": "11.1 V"})
    assert told["sentence"].startswith("No capacity")
    assert "drawn-too-little" in [entry["code"] for entry in told["cautions"]]
    assert told["accuracy"] == []
    assert "drawn-too-little" not in cautions("counted-discharge", **DRAWN)


def test_what_the_figures_mean_is_said() -> None:
    assert cautions("counted-discharge", **DRAWN)[0] == "watched-discharge"
    assert "worn-pack" in cautions("counted-discharge", **DRAWN | {"charge_drawn": "1400 mAh"})
    assert "much-left-behind" in cautions("counted-discharge", **DRAWN | {"rest_after": "11.2 V"})
    assert "much-left-behind" not in cautions("counted-discharge", **DRAWN | {"rest_after": "10.85 V"})
    assert counted(capacity=None)["capacity_left"] is None


def test_what_cannot_be_is_refused() -> None:
    assert refusals("counted-discharge", **DRAWN | {"rest_after": "10.7 V"}) == {
        ("rest_after", "conflict"),
        ("cut_off_voltage", "conflict"),
    }
    assert refusals("counted-discharge", **DRAWN | {"rest_before": "15.2 V"}) == {("rest_before", "out_of_range")}
    assert refusals("counted-discharge", **DRAWN | {"chemistry": "nimh"}) == {("chemistry", "unsupported")}
    assert client().post("/v1/counted-discharge.csv", json=DRAWN).text.startswith("when,voltage [V],state_of_charge")


@pytest.mark.parametrize("rest_after", ["12.8 V", "12.74 V", "12.6 V", "12.59 V"])
def test_a_pack_that_stands_as_full_after_as_before_has_no_capacity_to_tell(rest_after: str) -> None:
    got = client().post("/v1/counted-discharge", json=DRAWN | {"rest_before": "12.74 V", "rest_after": rest_after})
    assert got.status_code in (200, 422), got.text
    if got.status_code == 200:
        assert got.get_json()["answer"]["measured_capacity"] is None


def test_a_full_pack_rests_at_the_top_of_its_curve_which_of_lead_acid_lies_below_the_end_of_charge() -> None:
    # US Army TM 5-3805-262-20: a full lead-acid battery of six cells rests at 12.6 volts.
    drawn = {"charge_drawn": "4000 mAh", "current": "2 A", "cut_off_voltage": "10.9 V", "rest_after": "11.9 V"}
    assumed = reply("counted-discharge", chemistry="lead", cells=6, **drawn)["assumed"]
    assert assumed["rest_before"]["value"] == pytest.approx(12.6)

"""Nickel-charge, clause by clause."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, cautions, refusals, spoken

SIX: dict[str, Any] = {"cells": 6, "capacity": "2100 mAh"}


@given(rate=st.floats(0.01, 1), state=st.floats(0, 0.99), capacity=st.floats(100, 20000))
def test_the_charge_is_current_times_time_and_a_timer_never_ends_it_before_it_is_due(
    rate: float, state: float, capacity: float
) -> None:
    got = answer("nickel-charge", cells=6, capacity=f"{capacity!r} mAh", rate=rate, state_of_charge=state)
    assert got["charge_added"] == pytest.approx(got["current"] * 1000 * got["time_total"] / 60)
    assert got["charge_added"] >= capacity * (1 - state) * (1 - 1e-9)
    assert got["time_limit"] >= got["time_total"] * (1 - 1e-9)
    assert (got["voltage_fall"] is None) == (got["end_method"] == "timer") == (got["rate"] <= 0.1 + 1e-9)


@pytest.mark.parametrize(("rate", "method", "weak"),
                         [(0.05, "timer", False), (0.1, "timer", False), (0.11, "voltage-fall", True),
                          (0.49, "voltage-fall", True), (0.5, "voltage-fall", False)])  # fmt: skip
def test_slow_charges_end_by_the_clock_and_fast_ones_by_the_fall(rate: float, method: str, weak: bool) -> None:
    assert answer("nickel-charge", **SIX, rate=rate)["end_method"] == method
    assert ("weak-peak" in cautions("nickel-charge", **SIX, rate=rate)) == weak


def test_a_charger_that_gives_less_slows_the_charge_to_a_timed_one() -> None:
    got = answer("nickel-charge", **SIX, rate=0.5, charger_current_limit="105 mA")
    assert (got["current"], got["end_method"]) == (pytest.approx(0.105), "timer")
    assert got["time_total"] == pytest.approx(32 * 60)


def test_the_label_bounds_the_rate_and_without_one_a_hard_rate_is_a_danger() -> None:
    assert answer("nickel-charge", **SIX, rate=2, max_rate=1)["rate"] == 1
    assert cautions("nickel-charge", **SIX, rate=1)[0] == "rate-above-usual"
    assert "rate-above-usual" not in cautions("nickel-charge", **SIX, rate=1, max_rate=1)


@pytest.mark.parametrize("more", [{"temperature": "-1 °C"}, {"temperature": "41 °C"}, {"condition": "swollen"}])
def test_a_pack_that_must_not_be_charged_gets_no_current_and_no_time(more: dict[str, Any]) -> None:
    got = answer("nickel-charge", **SIX, **more)
    assert (got["current"], got["rate"], got["charge_added"]) == (0, 0, 0)
    assert got["time_total"] is got["time_limit"] is got["end_method"] is got["voltage_fall"] is None
    assert spoken("nickel-charge", **SIX, **more).startswith("Do not charge this nickel-metal-hydride pack")


def test_in_the_cold_a_fast_charge_becomes_a_slow_one() -> None:
    got = answer("nickel-charge", **SIX, rate=0.5, temperature="10 °C")
    assert got["rate"] == pytest.approx(0.1)
    assert got["end_method"] == "timer"
    assert "cold" in cautions("nickel-charge", **SIX, rate=0.5, temperature="10 °C")


def test_a_full_pack_is_left_as_it_is() -> None:
    got = answer("nickel-charge", **SIX, state_of_charge=1)
    assert (got["current"], got["time_total"]) == (0, None)
    assert "it is full" in spoken("nickel-charge", **SIX, state_of_charge=1)


def test_what_is_left_in_it_is_asked_for_where_a_clock_ends_the_charge() -> None:
    assert "part-full" in cautions("nickel-charge", **SIX)
    assert "part-full" not in cautions("nickel-charge", **SIX, state_of_charge=0.3)
    assert {"false-peak", "warm-when-full"} <= set(cautions("nickel-charge", **SIX, rate=0.5))
    assert spoken("nickel-charge", **SIX, rate=0.5).endswith("Never leave a charging pack alone.\n")


def test_other_chemistries_are_sent_elsewhere() -> None:
    assert refusals("nickel-charge", **SIX, chemistry="lipo") == {("chemistry", "unsupported")}


def test_a_reason_for_the_current_is_parted_from_the_end_of_the_charge() -> None:
    said = spoken("nickel-charge", cells=6, capacity="2100 mAh", rate=1, max_rate=1)
    assert "the most its label allows, until its voltage falls" in said


def test_a_charge_of_sixteen_hours_is_told_as_long() -> None:
    pack = {"cells": 6, "capacity": "2000 mAh"}
    assert "long-charge" in cautions("nickel-charge", **pack)
    assert "long-charge" not in cautions("nickel-charge", **pack, rate=0.5)

"""Field energy: what a battery at the field can recharge, and what its charger sees."""

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reference.asking import answer, cautions, refusals, spoken

LEAD: dict[str, Any] = {"source_chemistry": "lead", "source_cells": 6, "source_capacity": "40 Ah"}
LITHIUM: dict[str, Any] = {"source_chemistry": "lipo", "source_cells": 6, "source_capacity": "20 Ah"}
PACK: dict[str, Any] = {"cells": 4, "capacity": "2200 mAh", "state_of_charge": 0.2}


def field(**changes: Any) -> dict[str, Any]:
    return answer("field-energy", **{**LEAD, **PACK, **changes})


def test_recharges_are_the_usable_energy_over_that_of_one() -> None:
    got = field()
    assert got["recharges"] == pytest.approx(got["usable_energy"] / got["energy_per_recharge"])


def test_a_recharge_takes_what_charge_current_says_over_the_efficiency() -> None:
    charged = answer("charge-current", **PACK)
    assert field()["energy_per_recharge"] == pytest.approx(charged["energy_added"] / 0.85, rel=1e-6)


def test_lead_gives_half_of_its_capacity_unless_told_otherwise() -> None:
    # 50 percent of lead-acid, 80 percent of lithium: common practice, no published source.
    assert field()["ended_by"] == "depth"
    assert field(depth=0.25)["usable_energy"] < field()["usable_energy"] < field(depth=0.8)["usable_energy"]
    lithium = answer("field-energy", **LITHIUM, **PACK)
    # No more than 80 percent of 20 Ah can come at up to 25.2 V.
    assert 0 < lithium["usable_energy"] < 0.8 * 20 * 25.2


def test_a_harder_draw_loses_more_to_peukert() -> None:
    assert field(peukert=1.3)["usable_energy"] < field(peukert=1.05)["usable_energy"]


def test_the_chargers_input_floor_may_end_it_before_the_depth() -> None:
    got = field(input_floor="12.3 V", lead_resistance="20 mΩ")
    assert got["ended_by"] == "input-floor"
    assert got["input_voltage_lowest"] == pytest.approx(12.3, abs=1e-3)
    assert got["recharges"] < field()["recharges"]


def test_a_power_that_the_leads_cannot_carry_ends_it_at_once() -> None:
    got = field(lead_resistance="5 Ω")
    assert got["ended_by"] == "power"
    assert got["recharges"] == 0


def test_idle_draw_costs_recharges() -> None:
    assert field(idle_power="10 W")["recharges"] < field()["recharges"]


def test_several_packs_and_flat_inputs_of_one_kind_agree() -> None:
    listed = answer("field-energy", **LEAD, packs=[PACK])
    assert listed["recharges"] == pytest.approx(field()["recharges"])


def test_a_lead_source_is_warned_about_as_a_vehicles_battery() -> None:
    said = " ".join(cautions("field-energy", **LEAD, **PACK))
    assert "start" in said or "vehicle" in said


def test_it_speaks_the_number_of_packs() -> None:
    assert "recharges six packs" in spoken("field-energy", **LEAD, **PACK)


def test_the_source_must_be_told() -> None:
    assert {field for field, _ in refusals("field-energy", **PACK)} & {"source", "source_chemistry"}


def test_peukert_goes_with_lead_alone() -> None:
    assert any(name == "peukert" for name, _ in refusals("field-energy", **LITHIUM, **PACK, peukert=1.2))


@settings(max_examples=25, deadline=None)
@given(capacity=st.floats(5, 100), more=st.floats(1, 2), lead=st.floats(0, 100))
def test_a_larger_source_never_recharges_fewer(capacity: float, more: float, lead: float) -> None:
    wiring = {"lead_resistance": f"{lead} mΩ"}
    small = field(source_capacity=f"{capacity} Ah", **wiring)
    large = field(source_capacity=f"{capacity * more} Ah", **wiring)
    assert 0 <= small["recharges"] <= large["recharges"] * (1 + 1e-6)
    assert small["usable_energy"] >= 0


@settings(max_examples=25, deadline=None)
@given(resistance=st.floats(0, 100), more=st.floats(0, 100))
def test_more_lead_resistance_never_recharges_more(resistance: float, more: float) -> None:
    short = field(lead_resistance=f"{resistance} mΩ")
    long = field(lead_resistance=f"{resistance + more} mΩ")
    assert long["recharges"] <= short["recharges"] * (1 + 1e-6)

"""Field energy: what a battery at the field can recharge, and what its charger sees."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, cautions, client, refusals, reply, spoken

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
    idle, none = field(idle_power="10 W"), field()
    assert idle["recharges"] < none["recharges"]
    hours = answer("charge-current", **PACK)["time_total"] / 60
    assert idle["energy_per_recharge"] - none["energy_per_recharge"] == pytest.approx(10 * hours)


def test_several_packs_and_flat_inputs_of_one_kind_agree() -> None:
    listed = answer("field-energy", **LEAD, packs=[PACK])
    assert listed["recharges"] == pytest.approx(field()["recharges"])


def test_a_lead_source_is_warned_about_as_a_vehicles_battery() -> None:
    said = " ".join(cautions("field-energy", **LEAD, **PACK))
    assert "start" in said or "vehicle" in said


def test_it_speaks_the_number_of_packs() -> None:
    assert "recharges six lithium-polymer packs from 20 percent charge" in spoken("field-energy", **LEAD, **PACK)


def test_the_source_must_be_told() -> None:
    assert {field for field, _ in refusals("field-energy", **PACK)} & {"source", "source_chemistry"}


def test_peukert_goes_with_lead_alone() -> None:
    assert any(name == "peukert" for name, _ in refusals("field-energy", **LITHIUM, **PACK, peukert=1.2))


def test_the_input_voltage_and_current_are_those_of_the_last_moment() -> None:
    charged = answer("charge-current", **PACK)
    got = field(idle_power="3 W", lead_resistance="20 mΩ", efficiency=0.9)
    power = charged["peak_power"] / 0.9 + 3
    assert got["input_current"] * got["input_voltage_lowest"] == pytest.approx(power, rel=1e-6)
    # Half full it rests at 12.2 V; R is 1.5 times 50 milliohm ampere hours over 40, of six cells, and the leads'.
    drop = got["input_current"] * (1.5 * 6 * 0.050 / 40 + 0.020)
    assert got["input_voltage_lowest"] == pytest.approx(12.2 - drop, rel=1e-3)


def test_peukert_at_a_steady_draw_is_the_published_form() -> None:
    # A hundredth of the battery, so that its voltage hardly moves: t = H (C / (I H))^k.
    source = {"chemistry": "lead", "cells": 6, "capacity": "40 Ah", "cell_resistance": "0.0001 mΩ", "peukert": 1.3}
    for hours in (10, 20):
        got = answer("field-energy", source=source | {"rated_hours": hours}, **PACK, rate=10, depth=0.01)
        current = got["input_current"]
        time = hours * (40 / (current * hours)) ** 1.3 * 0.01
        assert current > 40 / hours
        assert got["usable_energy"] == pytest.approx(current * got["input_voltage_lowest"] * time, rel=2e-3)


def test_below_the_rated_current_nothing_is_gained() -> None:
    small = {"capacity": "100 mAh"}
    assert field(**small, peukert=1.3)["usable_energy"] == pytest.approx(
        field(**small, peukert=1.001)["usable_energy"], rel=1e-6
    )


def test_the_default_exponent_is_the_worst_published_and_is_told() -> None:
    document = reply("field-energy", **LEAD, **PACK, rate=5)
    assert (document["assumed"]["peukert"], document["assumed"]["rated_hours"]) == (1.25, 20)
    assert "peukert-assumed" in cautions("field-energy", **LEAD, **PACK)
    band = document["accuracy"][0]
    assert band["low"] < document["answer"]["recharges"] < band["high"]
    told = reply("field-energy", **LEAD, **PACK, rate=5, peukert=1.25)["accuracy"][0]
    assert told["high"] < band["high"]
    assert "peukert" not in reply("field-energy", **LITHIUM, **PACK)["assumed"]


def test_peukert_may_be_told_within_the_source_or_beside_it() -> None:
    source = {"chemistry": "lead", "cells": 6, "capacity": "40 Ah"}
    inside = answer("field-energy", source=source | {"peukert": 1.1}, **PACK, rate=5)
    assert inside == answer("field-energy", source=source, **PACK, rate=5, peukert=1.1)
    assert inside == field(rate=5, peukert=1.1)
    assert refusals("field-energy", source=source | {"peukert": 1.1}, **PACK, peukert=1.1) == {
        ("source.peukert", "conflict"),
        ("peukert", "conflict"),
    }


def test_depth_is_reckoned_from_full() -> None:
    source = {"chemistry": "lead", "cells": 6, "capacity": "40 Ah"}
    half = answer("field-energy", source=source | {"state_of_charge": 0.75}, **PACK, peukert=1)
    assert half["usable_energy"] == pytest.approx(field(peukert=1)["usable_energy"] / 2, rel=0.02)
    spent = answer("field-energy", source=source | {"state_of_charge": 0.5}, **PACK)
    assert (spent["recharges"], spent["ended_by"]) == (0, "depth")


def test_the_emptiest_cell_ends_it() -> None:
    even = {"cells": 3, "capacity": "20 Ah", "cell_voltages": "4.1,4.1,4.1 V"}
    uneven = even | {"cell_voltages": "4.1,3.8,4.1 V"}
    assert (
        answer("field-energy", source=uneven, **PACK)["usable_energy"]
        < 0.7 * answer("field-energy", source=even, **PACK)["usable_energy"]
    )


def test_packs_of_several_kinds_are_charged_in_turn() -> None:
    big = {"cells": 6, "capacity": "4900 mAh"}
    both = answer("field-energy", **LEAD, packs=[PACK, big])
    alone = [answer("field-energy", **LEAD, packs=[pack]) for pack in (PACK, big)]
    assert both["energy_per_recharge"] == pytest.approx(sum(one["energy_per_recharge"] for one in alone) / 2)
    assert both["input_voltage_lowest"] == pytest.approx(alone[1]["input_voltage_lowest"])
    assert alone[1]["recharges"] < both["recharges"] < alone[0]["recharges"]


@pytest.mark.parametrize(
    ("pack", "words"),
    [
        ({"condition": "swollen"}, "it is swollen"),
        ({"temperature": "-5 °C"}, "minus 5 degrees"),
        ({"state_of_charge": 1}, "it is full"),
    ],
)
def test_a_pack_that_must_not_be_charged_is_not(pack: dict[str, Any], words: str) -> None:
    got = field(**pack)
    assert (got["recharges"], got["ended_by"], got["input_current"]) == (0, None, None)
    assert words in reply("field-energy", **LEAD, **{**PACK, **pack})["sentence"]


def test_a_source_that_is_not_sound_is_not_drawn_on() -> None:
    source = {"chemistry": "lead", "cells": 6, "capacity": "40 Ah", "condition": "damaged"}
    assert answer("field-energy", source=source, **PACK)["recharges"] == 0
    assert cautions("field-energy", source=source, **PACK)[:2] == ["damaged", "source-unsound"]


def test_the_same_question_flat_by_get_and_nested_by_post() -> None:
    flat = client().get("/v1/field-energy", query_string=LEAD | PACK | {"input_floor": "11 V"})
    assert flat.status_code == 200
    source = {"chemistry": "lead", "cells": 6, "capacity": "40 Ah"}
    nested = reply("field-energy", source=source, packs=[PACK], input_floor="11 V")
    assert nested["answer"] == flat.get_json()["answer"]
    assert nested["assumed"]["source.state_of_charge"] == 1
    assert flat.get_json()["assumed"]["source_state_of_charge"] == 1


def test_what_excludes_each_other_or_is_missing_is_named() -> None:
    source = {"chemistry": "lead", "cells": 6, "capacity": "40 Ah"}
    assert refusals("field-energy", source=source, source_cells=6, **PACK) == {
        ("source", "conflict"),
        ("source_cells", "conflict"),
    }
    assert refusals("field-energy", source=source, packs=[PACK], rate=1) == {
        ("packs", "conflict"),
        ("rate", "conflict"),
    }
    assert refusals("field-energy", source=source) == {("cells", "missing"), ("capacity", "missing")}
    assert refusals("field-energy", source_chemistry="lead", **PACK) == {
        ("source_cells", "missing"),
        ("source_capacity", "missing"),
    }
    assert refusals("field-energy", **LEAD | {"source_chemistry": "nimh"}, **PACK) == {
        ("source_chemistry", "unsupported")
    }
    assert refusals("field-energy", source=source, packs=[PACK | {"chemistry": "lead"}]) == {
        ("packs[0].chemistry", "unsupported")
    }
    assert refusals("field-energy", source=7, **PACK) == {("source", "not_one_of")}
    assert refusals("field-energy", source={"cells": 6}, **PACK) == {("source.capacity", "missing")}


@given(capacity=st.floats(5, 100), more=st.floats(1, 2), lead=st.floats(0, 100))
def test_a_larger_source_never_recharges_fewer(capacity: float, more: float, lead: float) -> None:
    wiring = {"lead_resistance": f"{lead} mΩ"}
    small = field(source_capacity=f"{capacity} Ah", **wiring)
    large = field(source_capacity=f"{capacity * more} Ah", **wiring)
    assert 0 <= small["recharges"] <= large["recharges"] * (1 + 1e-6)
    assert small["usable_energy"] >= 0


@given(resistance=st.floats(0, 100), more=st.floats(0, 100))
def test_more_lead_resistance_never_recharges_more(resistance: float, more: float) -> None:
    short = field(lead_resistance=f"{resistance} mΩ")
    long = field(lead_resistance=f"{resistance + more} mΩ")
    assert long["recharges"] <= short["recharges"] * (1 + 1e-6)


def test_a_lead_source_recharges_less_in_the_cold_by_a_hundredth_a_kelvin() -> None:
    # From memory: lead-acid loses 0.6 to 1 percent of its capacity per kelvin; resistance takes hardly anything here.
    for temperature, part in (("0 °C", 0.75), ("13 °C", 0.88), ("33 °C", 1.0)):
        nested = {"chemistry": "lead", "cells": 6, "capacity": "40 Ah", "temperature": temperature, "peukert": 1}
        warm = answer("field-energy", source=nested | {"temperature": "25 °C"}, **PACK)
        cold = answer("field-energy", source=nested, **PACK)
        assert cold["recharges"] / warm["recharges"] == pytest.approx(part, rel=0.005)
        flat = field(source_temperature=temperature, peukert=1)
        assert flat["recharges"] == pytest.approx(cold["recharges"])
    # With the exponent, less capacity is drawn on harder as well.
    assert field(source_temperature="0 °C")["recharges"] < 0.75 * field()["recharges"]


def test_the_low_edge_is_that_of_an_old_source_and_says_so() -> None:
    def band(**changes: Any) -> dict[str, Any]:
        return next(iter(reply("field-energy", **{**LITHIUM, **PACK, "efficiency": 1, **changes})["accuracy"]))

    aged = answer(
        "field-energy",
        **{**LITHIUM, "source_capacity": "16 Ah", "source_cell_resistance": "0.75 mΩ"},
        **PACK,
        efficiency=1,
    )
    young = band(source_cell_resistance="0.75 mΩ")
    assert young["of"] == "recharges"
    assert young["low"] == pytest.approx(aged["recharges"], rel=1e-9)
    assert "old, with 80 percent of its capacity" in young["basis"]


@pytest.mark.parametrize(("chemistry", "depth"), [("liion", 0.5), ("lipo", 0.8)])
def test_the_curve_of_the_source_goes_from_full_to_what_its_depth_leaves(chemistry: str, depth: float) -> None:
    # Conservation of charge: a lithium source that ends by its depth has just that part of its capacity less.
    source = {"chemistry": chemistry, "cells": 6, "capacity": "10 Ah", "cell_resistance": "5 mΩ"}
    question = {"source": source, "depth": depth, "cells": 3, "capacity": "2250 mAh", "rate": 1}
    assert answer("field-energy", **question)["ended_by"] == "depth"
    rows = client().post("/v1/field-energy.csv", json=question).get_data(as_text=True).splitlines()
    place = rows[0].split(",").index("state_of_charge")
    states = [float(row.split(",")[place]) for row in rows[1:]]
    assert states[0] == 1
    assert states[-1] == pytest.approx(1 - depth, abs=1e-6)
    assert states == sorted(states, reverse=True)


def test_an_input_that_ends_at_its_floor_is_not_told_to_fall_below_it() -> None:
    told = {"source_chemistry": "lead", "source_cells": 6, "source_capacity": "12 Ah"}
    tug = {"cells": 6, "capacity": "4900 mAh"}
    low = reply("field-energy", **told, **tug, input_floor="11.8 V")
    assert low["answer"]["ended_by"] == "input-floor"
    assert low["answer"]["usable_energy"]["value"] > 0
    assert "is down to 11.8 volts" in low["sentence"]
    assert "falls to" not in low["sentence"]
    assert (
        "falls to"
        in reply("field-energy", **told | {"source_capacity": "38 Ah"}, cells=3, capacity="2250 mAh")["sentence"]
    )


@pytest.mark.parametrize(
    ("floor", "state", "code", "cure"),
    [
        ("12.5 V", 1.0, "source-input-low", "shorter or thicker leads"),
        ("12.2 V", 0.2, "source-below-floor", "charge it first, take one"),
        ("13 V", 1.0, "source-below-floor", "than the charger wants: take one"),
        ("13 V", 0.5, "source-below-floor", "than the charger wants: take one"),
    ],
)
def test_no_lead_is_advised_where_the_battery_rests_below_the_chargers_floor(
    floor: str, state: float, code: str, cure: str
) -> None:
    # Six lead-acid cells rest at 12.6 V when full (US Army TM 5-3805-262-20), and below 12.2 V at a fifth.
    asked = {**LEAD, **PACK, "input_floor": floor, "source_state_of_charge": state, "depth": 0.9}
    told = reply("field-energy", **asked)
    texts = {caution["code"]: caution["text"] for caution in told["cautions"]}
    assert [name for name in texts if name in ("source-input-low", "source-below-floor")] == [code]
    assert cure in texts[code]
    no_resistance = answer("field-energy", **asked, source_cell_resistance="1 nΩ", lead_resistance="0 Ω")
    assert (no_resistance["recharges"] == 0) == (code == "source-below-floor")
    assert ("it rests at" in told["sentence"]) == (code == "source-below-floor")


def test_a_battery_below_minus_ten_promises_nothing() -> None:
    told = {
        "source_chemistry": "lead",
        "source_cells": 6,
        "source_capacity": "38 Ah",
        "cells": 3,
        "capacity": "1150 mAh",
    }
    assert "very-cold" in cautions("field-energy", **told, source_temperature="-12 °C")
    assert "very-cold" not in cautions("field-energy", **told, source_temperature="-10 °C")


def test_a_source_that_is_used_as_far_as_it_may_be_is_said_to_have_nothing_to_give() -> None:
    source = {"chemistry": "lead", "cells": 6, "capacity": "38 Ah", "cell_resistance": "2.2 mΩ"}
    used = reply("field-energy", source=source | {"state_of_charge": 0.4}, **PACK)["sentence"]
    assert used == "This lead-acid battery has nothing to give: 50 percent of it or more is used already."
    below = reply("field-energy", source=source, input_floor="13.8 V", **PACK)["sentence"]
    assert below.endswith("nothing to give: it rests at 12.6 volts, and the charger wants 13.8 volts.")
    low = reply("field-energy", source=source, input_floor="12.59 V", **PACK)["sentence"]
    assert low.endswith("nothing to give: the charger's input is at 12.59 volts or below from the start.")


def test_what_source_is_needed_for_so_many_recharges_is_told_in_the_singular() -> None:
    asked = (
        "source_chemistry=lead&source_cells=6&cells=3&capacity=2250mAh&result=recharges&input=source_capacity&target=10"
    )
    said = client().get(f"/v1/field-energy/needed.txt?{asked}").text
    assert ": then the number of recharges comes to 10." in said

"""Supply-split, clause by clause. The sharing of plain powers runs on pint quantities; packs take their voltages from
a table and the bus is solved in floats, so those are held by scaling."""

from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, cautions, refusals, reply

from ampstead.calculators.supply_split import Load, supply_split


def split(rating: float, loads: Any, **question: Any) -> dict[str, Any]:
    return answer("supply-split", **{"supply_rating": f"{rating} W", "loads": loads, "headroom": 0} | question)


def allotted(got: dict[str, Any]) -> list[float]:
    return [entry["allotted_power"] for entry in got["allotments"]]


@pytest.mark.parametrize(
    ("share", "rating", "loads", "shares"),
    [
        ("in-order", 100, "50 W,40 W,30 W", [50, 40, 10]),
        ("in-order", 100, "60 W,60 W,30 W", [60, 40, 0]),
        ("in-order", 48, "30 W,30 W", [30, 15]),  # 18 W are left: three whole steps
        ("even", 100, "50 W,40 W,30 W", [35, 35, 30]),
        ("even", 100, "20 W,80 W,80 W", [20, 40, 40]),
        ("even", 100, "30 W,80 W,80 W", [30, 35, 35]),
        ("even", 50, "80 W,80 W,80 W", [15, 15, 15]),  # 16.7 W each, down to a step
        ("even", 100, "10 W,20 W,30 W", [10, 20, 30]),
        ("in-proportion", 100, "100 W,60 W,40 W", [50, 30, 20]),
        ("in-proportion", 90, "100 W,60 W,40 W", [45, 25, 15]),  # 45, 27 and 18 W
        ("in-proportion", 200, "100 W,60 W,40 W", [100, 60, 40]),
    ],
)
def test_shares(share: str, rating: float, loads: str, shares: list[float]) -> None:
    got = split(rating, loads, share=share)
    assert allotted(got) == pytest.approx(shares)
    assert got["fits"] is (sum(shares) == got["asked_power"])
    for entry in got["allotments"]:
        assert entry["short_by"] == pytest.approx(entry["asked_power"] - entry["allotted_power"])


def test_in_order_is_the_default_and_the_case_of_choices_does_not_count() -> None:
    assert split(100, "60 W,60 W") == split(100, "60 W,60 W", share="in-order")
    assert split(100, "60 W,60 W") == split(100, "60 W,60 W", share="In-Order")


def test_asked_power_goes_up_to_a_step_each_and_enters_all_but_the_bus() -> None:
    got = split(100, "11 W,12 W", headroom=0.2, supply_voltage="10 V", source_resistance="1 Ω")
    assert [entry["asked_power"] for entry in got["allotments"]] == [15, 15]
    assert got["asked_power"] == 30
    assert got["supply_needed"] == pytest.approx(30 / 0.8)
    assert got["spare_power"] == pytest.approx(80 - 30)
    # 23 W through 1 ohm from 10 V: i = (10 - sqrt(100 - 92)) / 2
    assert got["bus_voltage"] == pytest.approx(10 - (10 - 8**0.5) / 2)
    assert got["load_factor"] == pytest.approx(25 / 23)


def test_a_whole_step_stays_as_it_is_whatever_its_binary_digits() -> None:
    assert split(500, "385.00000000000006 W")["asked_power"] == 385
    assert split(500, "0.3 W", rating_step="0.1 W")["asked_power"] == pytest.approx(0.3)
    assert allotted(split(0.3, "0.4 W", rating_step="0.1 W")) == pytest.approx([0.3])


def test_headroom_is_kept_of_the_rating() -> None:
    got = split(100, "90 W", headroom=0.1)
    assert (got["fits"], got["spare_power"]) == (True, pytest.approx(0))
    assert allotted(split(100, "95 W", headroom=0.1)) == [90]
    assert reply("supply-split", supply_rating="100 W", loads="90 W")["assumed"]["headroom"] == 0.1


def test_a_load_met_in_full_keeps_what_it_asks_though_that_is_no_whole_step() -> None:
    got = split(100, "33 W,80 W", rating_step="7 W")
    assert allotted(got) == pytest.approx([35, 63])


def test_spare_power_is_never_below_nought() -> None:
    assert split(10, "40 W")["spare_power"] == 0


def test_a_load_left_with_nothing_is_named_in_so_many_words() -> None:
    loads = [{"name": "charger", "power": "180 W"}, {"name": "big Lamp", "power": "10 W"}]
    document = reply("supply-split", supply_rating="180 W", headroom=0, loads=loads)
    starved = [entry["text"] for entry in document["cautions"] if entry["code"] == "starved"]
    assert len(starved) == 1
    assert "big Lamp" in starved[0]
    assert "Nothing" in starved[0]
    assert "big Lamp gets nothing" in document["sentence"]
    assert "starved" not in cautions("supply-split", supply_rating="190 W", headroom=0, loads=loads)


def test_a_load_that_asks_for_nothing_is_not_starved() -> None:
    assert "starved" not in cautions("supply-split", supply_rating="180 W", headroom=0, loads="180 W,0 W")


PACK = {"name": "yellow glider", "cells": 3, "capacity": "1150 mAh"}


def test_a_pack_draws_its_peak_through_the_charger() -> None:
    got = split(100, [PACK | {"efficiency": 0.5, "current": "2.3 A"}], rating_step="0.01 W")
    assert got["asked_power"] == pytest.approx(12.6 * 2.3 / 0.5)
    entry = got["allotments"][0]
    assert (entry["name"], entry["current"], entry["rate"]) == ("yellow glider", pytest.approx(2.3), pytest.approx(2))


@pytest.mark.parametrize(
    ("chemistry", "watts"),
    [("lipo", 8.4), ("lihv", 8.7), ("liion", 4.2), ("life", 7.2), ("nimh", 1.6), ("nicd", 1.6), ("lead", 0.48)],
)
def test_a_pack_goes_by_its_chemistry(chemistry: str, watts: float) -> None:
    loads = [{"chemistry": chemistry, "cells": 2, "capacity": "1 Ah", "efficiency": 1}]
    assert split(100, loads, rating_step="0.001 W")["asked_power"] == pytest.approx(watts, abs=0.001)


def test_a_pack_short_of_power_still_gets_the_current_its_share_carries() -> None:
    # Asks 12.6 V * 2.3 A / 0.85 = 34.1 W, so 35 W; 20 W carry 20 * 0.85 / 12.6 A.
    got = split(20, [PACK | {"rate": 2}])
    entry = got["allotments"][0]
    assert (entry["asked_power"], entry["allotted_power"], entry["short_by"]) == (35, 20, 15)
    assert entry["current"] == pytest.approx(20 * 0.85 / 12.6)
    assert entry["rate"] == pytest.approx(20 * 0.85 / 12.6 / 1.15)
    # 25 W of the 35 asked carry more than half a step less than it wants.
    assert split(25.9, [PACK | {"rate": 2}])["allotments"][0]["current"] == pytest.approx(25 * 0.85 / 12.6)


def test_a_plain_load_has_no_current_or_rate_and_a_name_by_its_place() -> None:
    entry = split(100, "10 W,20 W")["allotments"][1]
    assert (entry["name"], entry["current"], entry["rate"]) == ("load 2", None, None)


def test_what_needs_the_supplys_voltage_is_null_without_it() -> None:
    got = split(100, "10 W")
    assert (got["bus_voltage"], got["load_factor"], got["input_holds"]) == (None, None, None)
    got = split(100, "10 W", supply_voltage="12 V")
    assert (got["bus_voltage"], got["load_factor"], got["input_holds"]) == (12, None, None)
    for name, value in (("source_resistance", "1 mΩ"), ("lead_resistance", "1 mΩ"), ("input_floor", "11 V"),
                        ("lead_resistances", "1 mΩ")):  # fmt: skip
        asked = {"supply_rating": "100 W", "loads": "10 W", name: value}
        assert refusals("supply-split", **asked) == {("supply_voltage", "missing")}


def test_one_lead_for_all_or_one_each() -> None:
    alike = split(100, "20 W,20 W", supply_voltage="12 V", source_resistance="0.1 Ω", lead_resistance="0.2 Ω")
    each = split(100, "20 W,20 W", supply_voltage="12 V", source_resistance="0.1 Ω", lead_resistances="200,200 mΩ")
    assert alike == each
    asked = {"supply_rating": "100 W", "loads": "20 W,20 W", "supply_voltage": "12 V"}
    assert refusals("supply-split", **asked, lead_resistances="20 mΩ") == {
        ("lead_resistances", "wrong_length"),
        ("loads", "wrong_length"),
    }
    assert refusals("supply-split", **asked, lead_resistance="20 mΩ", lead_resistances="20,20 mΩ") == {
        ("lead_resistance", "conflict"),
        ("lead_resistances", "conflict"),
    }


def test_the_input_of_the_farthest_load_must_hold() -> None:
    # 24 W at the end of 1 ohm from 11 V: V = (11 + sqrt(121 - 96)) / 2 = 8 V.
    leads = {"supply_voltage": "11 V", "lead_resistances": "0,1000 mΩ"}
    assert split(100, "24 W,24 W", **leads, input_floor="8 V")["input_holds"] is True
    assert split(100, "24 W,24 W", **leads, input_floor="8.001 V")["input_holds"] is False
    asked = {"supply_rating": "100 W", "loads": "24 W,24 W", **leads, "input_floor": "9 V"}
    assert "input-low" in cautions("supply-split", **asked)


def test_a_bus_that_collapses_has_no_voltage_and_a_danger() -> None:
    asked = {"supply_rating": "1 kW", "loads": "40 W", "supply_voltage": "12 V", "source_resistance": "1 Ω",
             "input_floor": "1 V"}  # fmt: skip
    got = answer("supply-split", **asked)
    assert (got["bus_voltage"], got["input_holds"]) == (None, False)
    assert got["load_factor"] == pytest.approx(36 / 40)
    first = reply("supply-split", **asked)["cautions"][0]
    assert (first["code"], first["severity"]) == ("bus-collapse", "danger")


def test_a_pack_makes_it_a_charging_answer() -> None:
    assert "never-alone" in cautions("supply-split", supply_rating="180 W", loads=[PACK])
    assert "never-alone" not in cautions("supply-split", supply_rating="180 W", loads="10 W")


def test_a_query_lists_powers_where_a_bare_one_takes_the_last_unit() -> None:
    by_query = split(180, "60,110 W")
    assert by_query == split(180, ["60 W", "110 W"]) == split(180, [{"power": "60 W"}, {"power": "110 W"}])


def test_faults_of_a_load_are_named_by_its_place() -> None:
    loads = [{"power": "10 W"}, {"power": 10}, {"power": "10 V"}, {"watt": "10 W"}, {"cells": 2}]
    assert refusals("supply-split", supply_rating="180 W", loads=loads) >= {
        ("loads[1].power", "unit_missing"),
        ("loads[2].power", "wrong_dimension"),
        ("loads[3].watt", "unknown"),
        ("loads[4].capacity", "missing"),
    }


powers = st.lists(st.floats(0, 200).map(lambda watts: round(watts, 3)), min_size=1, max_size=6)


@given(powers=powers, rating=st.floats(1, 500), headroom=st.floats(0, 0.9), share=st.sampled_from(
    ["in-order", "even", "in-proportion"]), step=st.sampled_from([0.1, 1, 5, 25]))  # fmt: skip
def test_no_share_exceeds_what_is_asked_nor_all_of_them_the_budget(
    powers: list[float], rating: float, headroom: float, share: str, step: float
) -> None:
    got = split(rating, [f"{watts} W" for watts in powers], headroom=headroom, share=share, rating_step=f"{step} W")
    budget = rating * (1 - headroom)
    assert sum(allotted(got)) <= budget * (1 + 1e-8) + 1e-9
    for watts, entry in zip(powers, got["allotments"], strict=True):
        assert -1e-9 <= entry["allotted_power"] <= entry["asked_power"] * (1 + 1e-12)
        assert watts * (1 - 1e-8) <= entry["asked_power"] < watts + step * (1 + 1e-8)
        whole = entry["allotted_power"] / step
        assert whole == pytest.approx(round(whole), abs=1e-6)
    assert got["fits"] is (got["asked_power"] <= budget * (1 + 1e-9))
    if got["fits"]:
        assert allotted(got) == [entry["asked_power"] for entry in got["allotments"]]


@given(powers=powers, rating=st.floats(1, 500))
def test_an_even_share_gives_no_unmet_load_less_than_another_gets(powers: list[float], rating: float) -> None:
    got = split(rating, [f"{watts} W" for watts in powers], share="even")
    unmet = [entry["allotted_power"] for entry in got["allotments"] if entry["short_by"] > 1e-9]
    if unmet:
        # Rounding down may cost an unmet load a step beside a met one.
        assert max(allotted(got)) < min(unmet) + 5 + 1e-6


@given(volts=st.floats(0.5, 3), amperes=st.floats(0.5, 3))
def test_the_bus_scales_as_volts_and_amperes_do(volts: float, amperes: float) -> None:
    def bus(v: float, a: float) -> dict[str, Any]:
        return split(1000, [f"{20 * v * a} W", f"{9 * v * a} W"], supply_voltage=f"{12 * v} V",
                     source_resistance=f"{0.2 * v / a} Ω", lead_resistance=f"{0.1 * v / a} Ω")  # fmt: skip

    one, other = bus(1, 1), bus(volts, amperes)
    assert other["bus_voltage"] == pytest.approx(volts * one["bus_voltage"], rel=1e-9)
    assert other["load_factor"] == pytest.approx(one["load_factor"], rel=1e-6)


@given(more=st.floats(0, 0.3))
def test_more_resistance_never_raises_the_bus_nor_the_factor(more: float) -> None:
    question = {"supply_voltage": "14.2 V", "lead_resistance": "0.1 Ω"}
    one = split(1000, "40 W,20 W", **question, source_resistance="0.2 Ω")
    other = split(1000, "40 W,20 W", **question, source_resistance=f"{0.2 + more} Ω")
    assert other["bus_voltage"] <= one["bus_voltage"] + 1e-12
    assert other["load_factor"] <= one["load_factor"] * (1 + 1e-9)


@pytest.mark.parametrize("share", ["in-order", "even", "in-proportion"])
def test_shares_come_out_as_powers(share: Any) -> None:
    units = pint.UnitRegistry()
    loads = [Load(power=50 * units.W), Load(power=0.06 * units.kW)]
    got = supply_split(supply_rating=0.1 * units.kW, loads=loads, share=share, headroom=0.2, rating_step=5 * units.W)
    assert got.asked_power.to("W").magnitude == pytest.approx(110)
    assert got.supply_needed.to("W").magnitude == pytest.approx(137.5)
    shared = [entry.allotted_power.to("W").magnitude for entry in got.allotments]
    assert shared == pytest.approx({"in-order": [50, 30], "even": [40, 40], "in-proportion": [35, 40]}[share])
    with pytest.raises(pint.DimensionalityError):
        supply_split(supply_rating=8 * units.V, loads=loads, share=share, headroom=0.2, rating_step=5 * units.W)


@given(amperes=st.floats(0.2, 5), cells=st.integers(1, 14))
def test_a_pack_scales_with_its_cells_and_current(amperes: float, cells: int) -> None:
    one = split(1000, [{"cells": 1, "capacity": "1 Ah", "current": "1 A"}], rating_step="0.0001 W")
    many = split(9000, [{"cells": cells, "capacity": "1 Ah", "current": f"{amperes} A"}], rating_step="0.0001 W")
    assert many["asked_power"] == pytest.approx(cells * amperes * one["asked_power"], abs=0.02)


def test_a_pack_that_gets_more_than_its_usual_rate_brings_the_danger_of_that() -> None:
    pack = {"cells": 6, "capacity": "4900 mAh"}
    ample = {"supply_rating": "5 kW", "headroom": 0}
    assert cautions("supply-split", **ample, loads=[pack, pack | {"rate": 3}])[0] == "rate-above-usual"
    assert "rate-above-usual" not in cautions("supply-split", **ample, loads=[pack])
    # Lithium-ion is usually charged at half that.
    assert "rate-above-usual" in cautions("supply-split", **ample, loads=[pack | {"chemistry": "liion", "rate": 1}])
    # What its share carries counts, not what is asked.
    assert "rate-above-usual" not in cautions(
        "supply-split", supply_rating="100 W", headroom=0, loads=[pack | {"rate": 3}]
    )


def test_the_voltage_of_the_bus_is_spoken_where_it_can_be_reckoned() -> None:
    told = {"supply_rating": "180 W", "loads": "60 W", "supply_voltage": "14.2 V", "source_resistance": "20 mΩ"}
    got = reply("supply-split", **told)
    assert got["answer"]["bus_voltage"]["value"] == pytest.approx(14.115, abs=0.001)
    said = "The supply of 180 watts carries the load at 14.11 volts, 10 percent kept free, and"
    assert got["sentence"].startswith(said)
    assert "volts" not in reply("supply-split", supply_rating="180 W", loads="60 W")["sentence"]


def test_loads_of_one_name_are_told_apart() -> None:
    loads = [{"name": "left charger", "power": power} for power in ("110 W", "60 W")]
    got = reply("supply-split", supply_rating="110 W", loads=loads)
    assert [entry["name"] for entry in got["answer"]["allotments"]] == ["left charger 1", "left charger 2"]
    assert "left charger 2 gets nothing" in got["sentence"]


def test_a_supply_that_lacks_next_to_nothing_is_not_spoken_as_what_is_needed() -> None:
    said = reply("supply-split", supply_rating="149.9 W", loads="45 W,90 W")["sentence"]
    assert said.startswith("The supply of 149 watts is too small")
    assert "150 watts are needed" in said


def test_a_supply_used_up_has_nothing_to_spare() -> None:
    assert reply("supply-split", supply_rating="100 W", loads="90 W")["sentence"].endswith(", and nothing is spare.")


def test_a_supply_whose_voltage_would_collapse_is_not_said_to_carry_its_loads() -> None:
    told = {"supply_rating": "180 W", "supply_voltage": "14.2 V", "source_resistance": "500 mΩ"}
    got = reply("supply-split", **told, loads="110 W")
    # Of all powers most is carried where half the voltage falls in the source, V^2/(4 R): 100.82 W of 110 W.
    assert got["answer"]["fits"] is True
    assert got["answer"]["load_factor"] == pytest.approx(14.2**2 / 2 / 110)
    assert "at this voltage it carries 91 percent of the load at most" in got["sentence"]
    assert "carries the load" not in got["sentence"]


TRAINER: dict[str, Any] = {"cells": 3, "capacity": "2250 mAh"}
AEROBAT: dict[str, Any] = {"cells": 4, "capacity": "3700 mAh"}


@pytest.mark.parametrize(
    ("loads", "said"),
    [
        ([TRAINER] * 2, "Set each to 2.2 amperes."),
        ([TRAINER] * 8, "Set each to 2.2 amperes."),
        ([TRAINER, AEROBAT], "Set load 1 to 2.2 amperes, and load 2 to 3.7 amperes."),
        ([TRAINER, AEROBAT, TRAINER], "Set load 1 and load 3 to 2.2 amperes each, and load 2 to 3.7 amperes."),
        ([TRAINER, AEROBAT, *[TRAINER] * 6], "Set load 2 to 3.7 amperes, and the others to 2.2 amperes each."),
        # A lamp is set to nothing, so that nobody may take it for one of the others.
        (["20 W", TRAINER, TRAINER, TRAINER], "Set load 2, load 3 and load 4 to 2.2 amperes each."),
        ([AEROBAT], "Set load 1 to 3.7 amperes."),
    ],
)
def test_packs_that_charge_alike_are_told_once(loads: list[Any], said: str) -> None:
    assert reply("supply-split", supply_rating="500 W", loads=loads)["sentence"].endswith(f" {said}")


def test_a_pack_that_gets_nothing_is_none_of_the_others() -> None:
    told = reply("supply-split", supply_rating="120 W", loads=[TRAINER] * 4)["sentence"]
    assert told.endswith("Set load 1, load 2 and load 3 to 2.2 amperes each.")


def test_a_share_below_a_step_is_not_laid_to_other_loads_that_get_nothing_either() -> None:
    def why(**question: str) -> str:
        (text,) = {
            entry["text"] for entry in reply("supply-split", **question)["cautions"] if entry["code"] == "starved"
        }
        return str(text)

    assert why(supply_rating="5 W", loads="5 W").endswith("what there is comes to less than a whole step of 5 watts.")
    assert why(supply_rating="6 W", loads="5 W,20 W").endswith("the other loads take all the power there is.")


def test_each_kind_of_pack_to_charge_has_its_own_caution() -> None:
    loads = [{"chemistry": kind, "cells": 6, "capacity": "2 Ah"} for kind in ("lipo", "nimh", "lead")]
    told = cautions("supply-split", supply_rating="200 W", loads=loads)
    assert {"never-alone", "nickel-end", "lead-gas"} <= set(told)
    assert not {"nickel-end", "lead-gas"} & set(cautions("supply-split", supply_rating="200 W", loads=loads[:1]))

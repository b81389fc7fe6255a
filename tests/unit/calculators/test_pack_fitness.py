"""Pack fitness: flight, light duty or retirement, and reasons that a person can check."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, cautions, refusals, reply, spoken

# The cell model's worked figures: common practice, no published source.
# A sound pack of the trade's: common practice, no published source; a check value.
PACK: dict[str, Any] = {"cells": 4, "capacity": "1600 mAh", "cell_resistance": "7 mΩ"}
GRADES = {"flight": 0, "other-model": 1, "light-duty": 2, "retire": 3}


def fitness(**changes: Any) -> dict[str, Any]:
    return answer("pack-fitness", **{**PACK, **changes})


def findings(**changes: Any) -> str:
    return " | ".join(reason["finding"] for reason in fitness(**changes)["reasons"])


def test_the_trade_ranks_28_then_37_then_91_milliohms() -> None:
    # Common practice, no published source: 28 mΩ on four cells is excellent, 91 mΩ on three is not for flying.
    good = fitness()
    middle = answer("pack-fitness", cells=3, capacity="1600 mAh", pack_resistance="37 mΩ")
    weak = answer("pack-fitness", cells=3, capacity="1600 mAh", cell_resistance=["30 mΩ", "31 mΩ", "30 mΩ"])
    assert good["continuous_current"] > middle["continuous_current"] > weak["continuous_current"]
    assert (good["verdict"], weak["verdict"]) == ("flight", "light-duty")


def test_the_same_milliohms_are_judged_by_what_the_pack_can_give() -> None:
    small, large = fitness(), fitness(capacity="6000 mAh")
    # Much the same amperes, but far less than a sound pack of that size gives.
    assert small["continuous_current"] == pytest.approx(large["continuous_current"], rel=0.1)
    assert (small["verdict"], large["verdict"]) == ("flight", "light-duty")


@pytest.mark.parametrize("condition", ["swollen", "damaged", "wet", "crashed"])
def test_an_unsound_pack_is_retired_whatever_its_figures(condition: str) -> None:
    got = fitness(condition=condition, typical_current="1 A", reference_resistance="7 mΩ")
    assert got["verdict"] == "retire"
    assert condition in got["reasons"][0]["finding"]
    assert cautions("pack-fitness", **PACK, condition=condition)[0] == condition


def test_a_cell_that_stands_out_is_named_with_its_figure_and_limit() -> None:
    got = fitness(cell_resistance=["7 mΩ", "7 mΩ", "11.2 mΩ", "7 mΩ"])
    assert got["verdict"] == "light-duty"
    first = got["reasons"][0]
    assert first["finding"] == "cell 3 has 1.6 times the median resistance of the cells"
    assert "1.5" in first["limit"]
    assert got["weakest_cell"] == 3
    assert got["resistance_spread"] == pytest.approx(1.6)


@pytest.mark.parametrize(
    ("changes", "figure", "limit"),
    [
        ({"measured_capacity": "1272 mAh"}, "79 percent", "at least 80 percent"),
        ({"reference_resistance": "3.495 mΩ"}, "2.01 times", "at most 2 times"),
        ({"cell_resistance": ["7 mΩ", "7 mΩ", "10.51 mΩ", "7 mΩ"]}, "1.51 times", "at most 1.5 times the median"),
        ({"cell_resistance": "25.01 mΩ"}, "1.01 times", "at most 1 times"),
    ],
)
def test_a_limit_just_passed_is_not_spoken_as_kept(changes: dict[str, Any], figure: str, limit: str) -> None:
    got = reply("pack-fitness", **{**PACK, **changes})
    first = got["answer"]["reasons"][0]
    assert (first["figure"], first["limit"]) == (figure, limit)
    assert figure in got["sentence"]


@pytest.mark.parametrize(("reference", "verdict"), [("7 mΩ", "flight"), ("4.5 mΩ", "light-duty"), ("3.4 mΩ", "retire")])
def test_resistance_is_held_against_that_when_new(reference: str, verdict: str) -> None:
    assert fitness(reference_resistance=reference)["verdict"] == verdict


def test_twice_the_resistance_to_the_last_digit_is_not_more_than_twice() -> None:
    assert fitness(reference_resistance="3.5 mΩ")["verdict"] == "light-duty"


@pytest.mark.parametrize(
    ("measured", "verdict"),
    [("1500 mAh", "flight"), ("1344 mAh", "flight"), ("1280 mAh", "flight"), ("1275 mAh", "retire")],
)
def test_capacity_is_held_against_the_label(measured: str, verdict: str) -> None:
    # 80 percent of the label: common practice, no published source.
    got = fitness(measured_capacity=measured)
    assert got["verdict"] == verdict
    assert got["capacity_left"] == pytest.approx(float(measured.split()[0]) / 1600)


def test_siblings_tell_an_outlier_that_one_odd_sibling_does_not_hide() -> None:
    like = ["5.0 mΩ", "5.1 mΩ", "4.9 mΩ", "5.0 mΩ", "15 mΩ"]
    assert "stands out among like packs" in findings(sibling_resistances=like)
    assert "like its siblings" in findings(cell_resistance="5.1 mΩ", sibling_resistances=like)


def test_two_siblings_are_too_few_for_a_score() -> None:
    assert "siblings" not in findings(sibling_resistances=["5.0 mΩ", "5.1 mΩ"], cell_resistance="5.1 mΩ")


def test_a_sound_pack_that_cannot_give_what_the_model_draws_is_for_another_model() -> None:
    can = fitness()
    within, beyond = can["continuous_current"] * 0.99, can["continuous_current"] * 1.01
    assert fitness(typical_current=f"{within} A")["verdict"] == "flight"
    assert fitness(typical_current=f"{beyond} A")["verdict"] == "other-model"
    assert fitness(peak_current=f"{can['burst_current'] * 1.01} A")["verdict"] == "other-model"
    said = spoken("pack-fitness", **PACK, typical_current=f"{beyond} A")
    assert "sound, but too weak for this model" in said


@pytest.mark.parametrize(
    "changes",
    [
        {"measured_capacity": "1344 mAh"},  # 84 percent
        {"measured_capacity": "1344 mAh", "typical_current": "100 A"},
        {"typical_current": "60 A", "peak_current": "90 A"},
        {"temperature": "58 °C"},  # heat leaves it nothing today
        {"temperature": "-15 °C"},
        {"chemistry": "liion", "capacity": "3500 mAh", "cell_resistance": "24 mΩ"},  # a sound pack of a gentle kind
        {"chemistry": "life", "cells": 2, "capacity": "2100 mAh", "cell_resistance": "16 mΩ"},
    ],
)
def test_a_healthy_pack_is_never_sent_to_light_duty(changes: dict[str, Any]) -> None:
    assert fitness(**changes)["verdict"] == ("other-model" if "typical_current" in changes else "flight")


def test_a_pack_at_its_limit_of_temperature_gives_nothing_before_it_cools() -> None:
    hot = {**PACK, "temperature": "60 °C"}
    assert answer("pack-fitness", **hot)["continuous_current"] == 0
    assert "hot-start" in cautions("pack-fitness", **hot)
    for asked in ({}, {"typical_current": "10 A"}):
        said = spoken("pack-fitness", **hot, **asked)
        assert "at 60 degrees it can give nothing" in said
        assert " 0 amperes" not in said


def test_so_cold_the_model_promises_nothing() -> None:
    assert "very-cold" in cautions("pack-fitness", **PACK, temperature="-15 °C")
    assert "very-cold" not in cautions("pack-fitness", **PACK, temperature="-10 °C")


@given(
    st.sampled_from(["cells", "resistance", "capacity", "condition"]),
    st.floats(0, 1),
    st.sampled_from(["swollen", "damaged", "wet", "crashed"]),
)
def test_a_bad_pack_is_never_offered_for_a_receiver(what: str, part: float, condition: str) -> None:
    changes: dict[str, Any] = {
        "cells": {"cell_voltages": [f"{volt} V" for volt in (4.19, 4.18, 4.0 - 2 * part, 4.2)]},
        "resistance": {"cell_resistance": f"{26 + 60 * part} mΩ"},
        "capacity": {"measured_capacity": f"{1279 * part} mAh"},
        "condition": {"condition": condition},
    }[what]
    assert fitness(**changes)["verdict"] in ("light-duty", "retire")
    got = reply("pack-fitness", **PACK | changes)
    texts = [got["sentence"], *(entry["text"] for entry in got["cautions"])]
    assert all("never" in text for text in texts if "receiver" in text)


def test_a_flight_tells_its_current_by_time_and_charge() -> None:
    # 1600 mAh in 4 minutes are 24 A, which is more than this pack should give.
    assert fitness(flight_time="4 min", charge_returned="1600 mAh")["verdict"] == "other-model"
    assert fitness(flight_time="8 min", charge_returned="1600 mAh")["verdict"] == "flight"


def test_without_currents_it_says_what_the_pack_could_serve() -> None:
    can = int(fitness()["continuous_current"] * 10) / 10  # what it can give at most is rounded down
    assert f"{can:g} amperes over a flight" in spoken("pack-fitness", **PACK)


@pytest.mark.parametrize(
    ("volts", "verdict"),
    [
        ("3.8,3.8,3.8,3.8 V", "flight"),
        ("3.70,3.70,3.69,3.70 V", "flight"),
        ("4.19,4.19,2.9,4.19 V", "retire"),
        ("4.19,4.19,4.19,2.4 V", "retire"),
        ("3.05,3.02,2.99,3.01 V", "retire"),  # one alone below 3.0 V
        ("3.85,3.84,3.86,3.10 V", "retire"),
        ("4.19,4.18,4.20,3.90 V", "light-duty"),  # 0.3 V
        ("4.20,4.20,4.20,3.95 V", "light-duty"),
        ("2.95,2.95,2.94,2.95 V", "light-duty"),  # all emptied alike
        ("2.45,2.45,2.45,2.45 V", "retire"),
        ("3.66,3.72,3.72,3.72 V", "light-duty"),
    ],
)
def test_a_cell_that_rests_apart_is_no_good_sign(volts: str, verdict: str) -> None:
    got = fitness(cell_voltages=volts)
    assert got["verdict"] == verdict
    assert ({"suspect-cell", "dead-cell"} & set(cautions("pack-fitness", **PACK, cell_voltages=volts)) == set()) is (
        verdict == "flight"
    )


def test_the_low_cell_is_named_and_not_the_first() -> None:
    got = fitness(cell_voltages="4.19,4.19,2.9,4.19 V")
    assert got["reasons"][0]["finding"] == "cell 3 rests below 3 volts"
    assert got["reasons"][0]["figure"] == "2.9 volts"


@pytest.mark.parametrize(
    ("volts", "verdict"),
    [("3.6,3.4 V", "flight"), ("2.4,2.4 V", "light-duty"), ("2.4,3.2 V", "retire"), ("1.9,1.9 V", "retire")],
)
def test_iron_phosphate_goes_by_its_own_voltages(volts: str, verdict: str) -> None:
    transmitter = {"chemistry": "life", "cells": 2, "capacity": "2100 mAh", "cell_resistance": "16 mΩ"}
    assert answer("pack-fitness", **transmitter, cell_voltages=volts)["verdict"] == verdict


@pytest.mark.parametrize(
    ("milliohms", "verdict"), [(24.9, "flight"), (25.1, "light-duty"), (62.4, "light-duty"), (62.6, "retire")]
)
def test_resistance_times_capacity_is_held_against_that_of_sound_packs(milliohms: float, verdict: str) -> None:
    # 40 mΩ·Ah is the most of sound lipo packs: this project's own judgement.
    assert fitness(cell_resistance=f"{milliohms} mΩ")["verdict"] == verdict
    # Whatever the warmth now: it was measured at 25 degrees.
    assert fitness(cell_resistance=f"{milliohms} mΩ", temperature="5 °C")["verdict"] == verdict


def test_light_duty_is_explained_with_the_amperes_it_allows() -> None:
    said = spoken("pack-fitness", cells=3, capacity="1600 mAh", cell_resistance="30 mΩ")
    assert "light duty on the ground only, never in a model" in said
    assert "bench" in said
    assert "amperes" in said


def test_resistance_must_be_told_and_one_way_only() -> None:
    assert refusals("pack-fitness", cells=4, capacity="1600 mAh") == {("cell_resistance", "missing")}
    both = {"reference_resistance": "5 mΩ", "sibling_resistances": ["5 mΩ", "5 mΩ", "5 mΩ"]}
    assert refusals("pack-fitness", **PACK, **both) == {
        ("reference_resistance", "conflict"),
        ("sibling_resistances", "conflict"),
    }


def test_nickel_packs_have_no_curve_to_judge_by() -> None:
    assert refusals("pack-fitness", **PACK, chemistry="nimh") == {("chemistry", "unsupported")}


@given(resistance=st.floats(1, 60), more=st.floats(1, 3), typical=st.floats(1, 60))
def test_more_resistance_never_makes_a_fitter_pack(resistance: float, more: float, typical: float) -> None:
    asked = {"typical_current": f"{typical} A", "reference_resistance": "5 mΩ"}
    better = fitness(cell_resistance=f"{resistance} mΩ", **asked)
    worse = fitness(cell_resistance=f"{resistance * more} mΩ", **asked)
    assert GRADES[worse["verdict"]] >= GRADES[better["verdict"]]
    assert worse["continuous_current"] <= better["continuous_current"] * (1 + 1e-9)


@given(voltage=st.floats(0.5, 2), milliohms=st.floats(2, 40))
def test_the_reasons_carry_the_verdict(voltage: float, milliohms: float) -> None:
    got = fitness(cell_resistance=f"{milliohms} mΩ", peak_current=f"{voltage * 20} A")
    assert got["reasons"]
    assert all(reason["finding"] and reason["limit"] and reason["basis"] for reason in got["reasons"])
    assert got["weakest_cell"] == 1


@pytest.mark.parametrize("told", ["4.2,4.35,4.2,4.2 V", "4.35,4.35,4.35,4.35 V"])
def test_a_pack_that_was_overcharged_is_retired(told: str) -> None:
    # This project's own judgement.
    got = fitness(cells=4, cell_resistance="4.2 mΩ", cell_voltages=told)
    assert got["verdict"] == "retire"
    assert got["reasons"][0]["figure"] == "4.35 volts"
    assert fitness(cells=4, cell_resistance="4.2 mΩ", cell_voltages="4.25,4.25,4.25,4.25 V")["verdict"] == "flight"


def test_the_figure_of_a_cell_apart_is_its_own() -> None:
    (reason,) = fitness(cells=4, cell_resistance="4.2 mΩ", cell_voltages="3.8,4.0,3.8,3.8 V")["reasons"]
    assert reason["figure"] == "4 volts"


@pytest.mark.parametrize(
    "volts", ["4.18,4.17,4.19,3.89 V", "3.85,3.84,3.86,3.10 V", "4.19,4.19,2.9,4.19 V", "2.95,2.95,2.94,2.95 V"]
)
def test_all_calculators_say_one_thing_of_cells_that_stand_out(volts: str) -> None:
    rests = {"cells": 4, "capacity": "3700 mAh", "cell_voltages": volts}
    asked = {
        "pack-fitness": PACK | {"cell_voltages": volts},
        "charge-current": rests,
        "storage": rests,
        "endurance": rests | {"current": "48 A"},
        "sag": rests | {"current": "48 A"},
        "charge-left": {"cell_voltages": volts},
        "balance-need": {"cell_voltages": volts},
        "standing-loss": {"first_cell_voltages": "4.2,4.2,4.2,4.2 V", "second_cell_voltages": volts, "days": 7},
        "capacity-check": {"charge_returned": "2390 mAh", "before": "2.5,2.5,2.5,2.5 V", "after": volts, "cells": 4},
    }
    said = {
        name: [entry["text"] for entry in reply(name, **question)["cautions"] if entry["code"] == "suspect-cell"]
        for name, question in asked.items()
    }
    assert len({tuple(texts) for texts in said.values()}) == 1, said
    retired = fitness(cell_voltages=volts)["verdict"] == "retire"
    assert ("retire" in said["charge-current"][0]) is retired
    # What may be charged slowly in one answer is not forbidden to be charged in another.
    assert answer("charge-current", **rests)["current"] > 0
    assert "retired" not in cautions("pack-fitness", **PACK, cell_voltages=volts)


def test_siblings_all_alike_do_not_make_a_score_that_contradicts_the_finding() -> None:
    pack = {"cells": 3, "capacity": "2250 mAh", "cell_resistance": "9 mΩ"}
    got = answer("pack-fitness", **pack, sibling_resistances="8,8,8 mΩ")
    (told,) = (reason for reason in got["reasons"] if "siblings" in reason["finding"])
    # 1 mΩ above 8 is a score of 6.25 by the least deviation, 0.16 mΩ; but no more than an eighth above them.
    assert (told["figure"], told["limit"]) == ("1.13 times", "at most 1.2 times")


def test_reasons_speak_of_no_flight_where_the_battery_never_flies() -> None:
    battery = {"chemistry": "lead", "cells": 6, "capacity": "38 Ah", "cell_resistance": "2.2 mΩ"}
    more: dict[str, Any]
    for more in ({}, {"typical_current": "80 A"}):
        for reason in answer("pack-fitness", **battery, **more)["reasons"]:
            assert not {"flight", "model"} & set(" ".join(reason.values()).replace(",", "").split()), reason


def test_light_duty_at_no_current_is_light_duty_at_another_warmth() -> None:
    worn = {"cells": 3, "capacity": "2250 mAh", "cell_resistance": "40 mΩ"}
    hot = reply("pack-fitness", **worn, temperature="60 °C")["sentence"]
    assert "never in a model, and not at 60 degrees: " in hot
    assert "never in a model, and at no more than 3.02 amperes: " in reply("pack-fitness", **worn)["sentence"]

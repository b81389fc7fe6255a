"""Standing-loss, clause by clause, and what must hold of any two readings."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, cautions, refusals, reply, spoken

pairs = st.lists(st.tuples(st.floats(3.0, 4.2), st.floats(3.0, 4.2)), min_size=1, max_size=8)


def volts(cells: list[float]) -> list[str]:
    return [f"{voltage:.9f} V" for voltage in cells]


def asked(first: list[float], second: list[float], days: float = 10, **more: Any) -> dict[str, Any]:
    return {"first_cell_voltages": volts(first), "second_cell_voltages": volts(second), "days": days} | more


def loss(first: list[float], second: list[float], days: float = 10, **more: Any) -> dict[str, Any]:
    return answer("standing-loss", **asked(first, second, days, **more))


@given(pairs, st.floats(0.1, 400))
def test_each_loss_is_the_fall_over_the_days(cells: list[tuple[float, float]], days: float) -> None:
    first, second = [cell[0] for cell in cells], [cell[1] for cell in cells]
    got = loss(first, second, days)
    wanted = [1000 * (one - two) / days for one, two in cells]
    assert got["loss_per_day"] == pytest.approx(wanted, abs=1e-5)
    assert wanted[got["worst_cell"] - 1] == pytest.approx(max(wanted), abs=1e-5)


@given(pairs, st.randoms())
def test_the_order_of_the_cells_does_not_matter(cells: list[tuple[float, float]], chance: Any) -> None:
    mixed = list(cells)
    chance.shuffle(mixed)
    one = loss([cell[0] for cell in cells], [cell[1] for cell in cells])
    two = loss([cell[0] for cell in mixed], [cell[1] for cell in mixed])
    assert one["verdict"] == two["verdict"]
    assert one["days_to_floor"] == pytest.approx(two["days_to_floor"])


@given(st.floats(3.75, 4.2), st.floats(0.001, 0.04), st.floats(1, 30))
def test_after_the_days_to_the_floor_the_cell_stands_at_it(start: float, fall: float, days: float) -> None:
    got = loss([start], [start - fall], days)["days_to_floor"]
    end = start - fall - fall / days * got
    assert end == pytest.approx(3.7, abs=1e-6)


def test_the_first_cell_to_meet_the_floor_tells_the_days() -> None:
    # Cell 1 has 50 mV left at 1 mV a day, cell 2 has 120 mV left at 4 mV a day.
    assert loss([3.76, 3.86], [3.75, 3.82])["days_to_floor"] == pytest.approx(30)
    assert loss([3.8, 3.8], [3.8, 3.81])["days_to_floor"] is None
    assert loss([3.8, 3.8], [3.8, 3.7])["days_to_floor"] == 0
    assert loss([3.8, 3.8], [3.8, 3.69])["days_to_floor"] == 0


@pytest.mark.parametrize(("chemistry", "floor"), [("lipo", 3.7), ("lihv", 3.7), ("liion", 3.2), ("life", 3.0)])
def test_the_floor_is_the_chemistrys_own(chemistry: str, floor: float) -> None:
    got = loss([floor + 0.03], [floor + 0.02], chemistry=chemistry)
    assert got["days_to_floor"] == pytest.approx(20)


# Beyond the median of the others 1 mV a day is to be watched, 3 mV a day retires; own judgement.
@pytest.mark.parametrize(
    ("falls", "verdict"),
    [
        ([0, 0, 0], "steady"),
        ([5, 5, 5], "steady"),
        ([5, 5, 14], "steady"),
        ([5, 5, 20], "watch"),
        ([5, 20, 5, 5], "watch"),
        ([5, 5, 45], "retire"),
        ([0, 40], "retire"),
        ([40, 40, 40], "steady"),
        ([60, 60, 60], "watch"),
        ([15], "watch"),
        ([-20, -20, -20], "steady"),
    ],
)
def test_a_cell_that_falls_alone_decides(falls: list[int], verdict: str) -> None:
    got = loss([3.95] * len(falls), [3.95 - fall / 1000 for fall in falls])
    assert got["verdict"] == verdict


@given(st.floats(0, 0.009), st.integers(2, 6), st.floats(0.2, 2))
def test_what_the_meter_can_feign_is_never_held_against_a_cell(fall: float, cells: int, days: float) -> None:
    assert loss([3.9] * cells, [3.9] * (cells - 1) + [3.9 - fall], days)["verdict"] == "steady"


@given(st.floats(0, 0.19), st.floats(0, 0.01))
def test_falling_further_is_never_judged_better(fall: float, more: float) -> None:
    order = ["steady", "watch", "retire"]
    one, two = (loss([3.9, 3.9, 3.9], [3.9, 3.9, 3.9 - f])["verdict"] for f in (fall, fall + more))
    assert order.index(two) >= order.index(one)


def test_a_finer_meter_sees_what_a_coarse_one_cannot() -> None:
    cells = [3.9, 3.9, 3.9], [3.9, 3.9, 3.891]
    assert loss(*cells, 2)["verdict"] == "steady"
    assert loss(*cells, 2, meter_resolution="1 mV")["verdict"] == "retire"


def test_a_dead_cell_retires_the_pack_and_is_said_first() -> None:
    question = asked([3.8, 2.41], [3.8, 2.4], 10)
    assert answer("standing-loss", **question)["verdict"] == "retire"
    assert cautions("standing-loss", **question)[0] == "dead-cell"


def test_a_retired_pack_is_a_danger_and_says_what_to_do_with_it() -> None:
    question = asked([3.85, 3.85, 3.85], [3.84, 3.84, 3.77], 14)
    assert cautions("standing-loss", **question)[0] == "cell-empties-itself"
    said = spoken("standing-loss", first_cell_voltages="3.85,3.85 V", second_cell_voltages="3.84,3.77 V", days=14)
    assert said.startswith(
        "Retire this lithium-polymer pack: cell 2 loses 5.8 millivolts a day, the others at most 0.8"
    )
    assert "recycling" in said


def test_with_the_capacity_the_sentence_says_the_charge_lost() -> None:
    # From the table: 3.799908 V is 52, 3.792508 V 50 percent.
    question = asked([3.799908, 3.799908], [3.792508, 3.799908], 5)
    assert "20 milliampere hours" in reply("standing-loss", **question, capacity="1000 mAh")["sentence"]
    assert "milliampere hours" not in reply("standing-loss", **question)["sentence"]


def test_other_reasons_for_a_fall_or_a_rise_are_named() -> None:
    assert "all-cells-fall" in cautions("standing-loss", **asked([4.0] * 3, [3.9] * 3, 10))
    assert "cells-rose" in cautions("standing-loss", **asked([3.8] * 3, [3.85] * 3, 10))
    assert "below-rest-floor" in cautions("standing-loss", **asked([3.7] * 3, [3.69] * 3, 30))
    assert "within-reading" in cautions("standing-loss", **asked([3.8] * 3, [3.799] * 3, 30))
    assert {"same-warmth", "rest-first"} <= set(cautions("standing-loss", **asked([3.8], [3.8])))


def test_the_band_of_the_days_is_what_half_a_step_leaves() -> None:
    got = reply("standing-loss", **asked([4.0], [3.9], 10, meter_resolution="10 mV"))
    entry = next(entry for entry in got["accuracy"] if entry["of"] == "days_to_floor")
    # 195 mV at 11 mV a day, and 205 mV at 9.
    assert (entry["low"], entry["high"]) == pytest.approx((195 / 11, 205 / 9))
    assert reply("standing-loss", **asked([3.9], [3.895], 10))["accuracy"] == []


def test_what_cannot_be_compared_is_refused() -> None:
    assert refusals("standing-loss", **asked([3.8, 3.8], [3.8])) == {
        ("first_cell_voltages", "wrong_length"),
        ("second_cell_voltages", "wrong_length"),
    }
    assert refusals("standing-loss", **asked([3.8], [3.8], 0)) == {("days", "out_of_range")}
    assert refusals("standing-loss", **asked([4.95], [4.2])) == {("first_cell_voltages", "out_of_range")}
    assert ("second_cell_voltages", "wrong_length") in refusals("standing-loss", **asked([3.8] * 15, [3.8] * 15))
    assert refusals("standing-loss", **asked([1.3], [1.2], chemistry="nimh")) == {("chemistry", "unsupported")}
    missing = {(name, "missing") for name in ("first_cell_voltages", "second_cell_voltages", "days")}
    assert refusals("standing-loss") == missing


def test_a_cell_on_its_resting_floor_is_not_said_to_be_below_it_nor_the_other_way_round() -> None:
    def said(last: str) -> str:
        told = {"first_cell_voltages": "3.71,3.71 V", "second_cell_voltages": last, "days": 7}
        return spoken("standing-loss", **told, capacity="2250 mAh")

    assert "stands at 3.7 volts, at the resting floor of 3.7 volts." in said("3.70,3.70 V")
    assert "stands at 3.69 volts, below the resting floor of 3.7 volts." in said("3.69,3.70 V")


def test_where_the_others_rose_more_than_one_that_did_not_fall_that_one_is_named() -> None:
    first = ["3.80 V"] * 3
    risen = spoken(
        "standing-loss", first_cell_voltages="3.80,3.80,3.80 V", second_cell_voltages="3.81,3.80,3.82 V", days=10
    )
    assert "rose more than cell 2" in risen
    one = reply("standing-loss", first_cell_voltages=first, second_cell_voltages="3.82,3.80,3.80 V", days=10)
    assert "none of its cells fell, and cell 1 rose between the readings" in one["sentence"]
    level = reply("standing-loss", first_cell_voltages=first, second_cell_voltages=first, days=10)["sentence"]
    assert "none of its cells fell" in level


def test_of_cells_that_kept_their_voltage_it_is_said_that_they_lost_nothing() -> None:
    told = {"first_cell_voltages": "3.86,3.86,3.85 V", "second_cell_voltages": "3.86,3.86,3.78 V", "days": 17}
    assert "cell 3 loses 4.2 millivolts a day, the others nothing." in spoken("standing-loss", **told)
    fell = told | {"second_cell_voltages": "3.86,3.85,3.78 V"}
    assert "the others at most 0.6 millivolts a day." in spoken("standing-loss", **fell)


def test_what_the_meter_cannot_tell_from_standing_still_has_no_end() -> None:
    same = reply("standing-loss", first_cell_voltages="3.85,3.85 V", second_cell_voltages="3850,3850 mV", days=30)
    assert same["answer"]["days_to_floor"] is None
    step = reply("standing-loss", first_cell_voltages="3.85,3.85 V", second_cell_voltages="3.84,3.84 V", days=30)
    assert step["answer"]["days_to_floor"] == pytest.approx(420)
    assert all(band["of"] != "days_to_floor" for band in step["accuracy"])


def test_a_pack_that_empties_itself_is_not_told_to_be_charged_soon() -> None:
    for first, second in (([3.85], [3.5]), ([4.2, 4.2], [3.4, 4.2])):
        told = cautions("standing-loss", **asked(first, second, 3))
        assert "cell-empties-itself" in told
        assert not {"below-rest-floor", "within-reading"} & set(told)


def test_all_cells_fall_only_where_none_stays() -> None:
    def said(first: list[float], second: list[float]) -> str | None:
        found = reply("standing-loss", **asked(first, second, 3))["cautions"]
        return next((entry["text"] for entry in found if entry["code"] == "all-cells-fall"), None)

    assert said([4.2, 4.2], [3.4, 4.2]) is None
    assert (said([4.2, 4.2], [4.1, 4.1]) or "").startswith("All the cells fall: was ")
    assert (said([4.2], [4.1]) or "").startswith("It falls fast: was ")

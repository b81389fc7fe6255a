"""Series-join, clause by clause."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, cautions, client, refusals, reply

A: dict[str, Any] = {"name": "red trainer A", "cells": 3, "capacity": "2250 mAh", "cell_resistance": "8.5 mΩ"}
B: dict[str, Any] = A | {"name": "red trainer B", "cell_resistance": "9 mΩ"}
C: dict[str, Any] = A | {"name": "red trainer C", "cell_resistance": "14 mΩ"}


def joined(*packs: dict[str, Any], **more: Any) -> dict[str, Any]:
    return answer("series-join", **{"packs": list(packs), "current": "14 A"} | more)


def said(*packs: dict[str, Any], **more: Any) -> str:
    return str(reply("series-join", **{"packs": list(packs), "current": "14 A"} | more)["sentence"])


def codes(*packs: dict[str, Any], **more: Any) -> list[str]:
    return cautions("series-join", **{"packs": list(packs), "current": "14 A"} | more)


def test_like_packs_fly_as_long_as_one_of_them() -> None:
    one = answer("endurance", cells=3, capacity="2250 mAh", cell_resistance="8.5 mΩ", current="14 A")
    got = joined(A, A)
    assert got["time_flight"] == pytest.approx(one["time_flight"])
    assert got["first_pack"] is None
    assert got["spare_charge"] == 0
    assert got["verdict"] == "join"
    assert "series-reversed" not in codes(A, A)


def test_under_load_the_packs_voltages_add_up_and_the_lead_takes_its_part_once() -> None:
    each = [
        answer("sag", **{key: pack[key] for key in ("cells", "capacity", "cell_resistance")}, state_of_charge=1,
               current="14 A")["loaded_voltage"] for pack in (A, C)
    ]  # fmt: skip
    assert joined(A, C)["loaded_voltage"] == pytest.approx(sum(each))
    assert joined(A, C, lead_resistance="5 mΩ")["loaded_voltage"] == pytest.approx(sum(each) - 0.07)


@given(low=st.floats(0.5, 0.99), size=st.floats(500, 5000), reserve=st.floats(0, 0.4))
def test_what_the_others_have_left_is_what_they_had_less_what_the_first_gave(
    low: float, size: float, reserve: float
) -> None:
    small = A | {"capacity": f"{size!r} mAh", "state_of_charge": low}
    got = joined(B, small, reserve=reserve, floor="0 V")
    gave = max(0.0, (low - reserve) * size) if got["first_pack"] == 2 else (1 - reserve) * 2250
    assert got["charges_left"] == pytest.approx([2250 - gave, low * size - gave], abs=1e-6)
    assert got["charge_to_empty"] == pytest.approx(min(2250, low * size))


def test_the_order_of_the_packs_changes_only_their_numbers() -> None:
    weak = C | {"capacity": "1980 mAh"}
    one, other = joined(A, weak), joined(weak, A)
    assert (one["first_pack"], other["first_pack"]) == (2, 1)
    assert (one["floor_pack"], other["floor_pack"]) == (2, 1)
    assert other["charges_left"] == pytest.approx(one["charges_left"][::-1])
    for name in ("time_flight", "time_to_floor", "loaded_voltage", "charge_to_empty", "spare_charge"):
        assert one[name] == pytest.approx(other[name])


def test_one_weak_cell_of_a_pack_decides_when_it_is_empty() -> None:
    odd = B | {"capacity": ["2250 mAh", "1800 mAh", "2250 mAh"]}
    got = joined(A, odd)
    assert got["first_pack"] == 2
    assert got["charge_to_empty"] == pytest.approx(1800)
    assert got["verdict"] == "with-care"


@pytest.mark.parametrize(
    ("change", "verdict"),
    [
        ({"capacity": "2140 mAh"}, "join"),
        ({"capacity": "2130 mAh"}, "with-care"),
        ({"capacity": "1810 mAh"}, "with-care"),
        ({"capacity": "1790 mAh"}, "do-not-join"),
        ({"state_of_charge": 0.96}, "join"),
        ({"state_of_charge": 0.94}, "with-care"),
        ({"state_of_charge": 0.79}, "do-not-join"),
        ({"cell_resistance": "10.6 mΩ"}, "join"),
        ({"cell_resistance": "10.7 mΩ"}, "with-care"),
        ({"cell_resistance": "17.1 mΩ"}, "do-not-join"),
    ],
)
def test_the_verdict_follows_how_far_they_differ(change: dict[str, Any], verdict: str) -> None:
    assert joined(A, A | change, current="5 A")["verdict"] == verdict


def test_what_flies_on_is_driven_below_empty_and_that_is_the_gravest_word() -> None:
    weak = A | {"name": "the old trainer", "capacity": "2000 mAh"}
    told = codes(A, weak)
    assert told[0] == "series-reversed"
    assert {"series-near-empty", "charge-apart", "series-high-voltage"} <= set(told)
    text = next(entry["text"] for entry in reply("series-join", packs=[A, weak], current="14 A")["cautions"]
                if entry["code"] == "series-reversed")  # fmt: skip
    assert "the old trainer below empty from 2000 milliampere hours" in text
    assert "series-near-empty" not in codes(A, A | {"capacity": "2200 mAh"})


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"condition": "swollen"}, "swollen"),
        ({"cell_voltages": "4.15,4.15,3.9 V"}, "suspect-cell"),
        ({"cell_voltages": "4.15,4.15,2.3 V"}, "dead-cell"),
        ({"rest_voltage": "13 V"}, "overcharged"),
    ],
)
def test_a_pack_that_is_not_fit_is_not_joined_and_nothing_is_told_of_its_flight(
    change: dict[str, Any], code: str
) -> None:
    got = joined(A, B | change)
    assert got["verdict"] == "do-not-join"
    assert got["time_flight"] == got["charge_used"] == 0
    assert {got[name] for name in ("ended_by", "first_pack", "charges_left", "time_to_floor", "loaded_voltage")} == {
        None
    }
    assert code in codes(A, B | change)
    assert "ed trainer B" in said(A, B | change)
    assert said(A, B | change).startswith("Do not join")


def test_at_the_reserve_or_below_the_floor_nothing_is_flown() -> None:
    assert joined(A, B | {"state_of_charge": 0.2})["time_flight"] == 0
    assert "at its reserve" in said(A, B | {"state_of_charge": 0.2})
    hard = joined(A, C, current="80 A")
    assert (hard["time_flight"], hard["verdict"], hard["ended_by"]) == (0, "do-not-join", "floor")
    assert "red trainer C is at its floor at once" in said(A, C, current="80 A")


def test_the_cold_takes_voltage_and_a_hard_load_ends_by_the_floor() -> None:
    cold = [pack | {"temperature": "3 °C"} for pack in (A, C)]
    assert joined(*cold)["loaded_voltage"] < joined(A, C)["loaded_voltage"]
    assert joined(*cold)["time_to_floor"] < joined(A, C)["time_to_floor"]
    assert joined(A, C, current="30 A")["ended_by"] == "floor"


def test_numbers_of_cells_may_differ_but_not_the_chemistry_nor_the_time_of_the_slow_part() -> None:
    got = joined(A, {"cells": 4, "capacity": "2250 mAh", "cell_resistance": "9 mΩ"})
    assert got["rest_voltage"] == pytest.approx(7 * 4.2)
    life = {"chemistry": "life", "cells": 3, "capacity": "2250 mAh"}
    assert refusals("series-join", packs=[A, life], current="14 A") == {
        ("packs[0].chemistry", "conflict"),
        ("packs[1].chemistry", "conflict"),
    }
    assert refusals("series-join", packs=[A, B | {"polarisation_time": "20 s"}], current="14 A") == {
        ("packs[0].polarisation_time", "conflict"),
        ("packs[1].polarisation_time", "conflict"),
    }
    assert refusals("series-join", packs=[A], current="14 A") == {("packs", "wrong_length")}
    assert refusals("series-join", packs=[A, {"cells": 3}], current="14 A") == {("packs[1].capacity", "missing")}
    assert refusals("series-join", packs=[A, B]) == {("current", "missing")}


def test_lead_gives_less_at_a_high_current_and_says_so() -> None:
    lead = {"chemistry": "lead", "cells": 3, "capacity": "38 Ah", "cell_resistance": "2.2 mΩ"}
    gentle, hard = (joined(lead, lead, current=amperes, floor="0 V") for amperes in ("1.9 A", "19 A"))
    assert gentle["charge_used"] == pytest.approx(0.8 * 38000)
    assert hard["charge_used"] == pytest.approx(0.8 * 38000 * 0.1**0.25)
    assert "peukert-assumed" in codes(lead, lead)


def test_the_curve_runs_on_until_a_cell_is_empty() -> None:
    question = {"packs": [A, A | {"capacity": "2000 mAh"}], "current": "14 A"}
    table = client().post("/v1/series-join.csv", json=question).text.splitlines()
    assert table[0].startswith("time [min],voltage [V],first_pack_voltage [V],last_pack_voltage [V]")
    first, last = (dict(zip(table[0].split(","), map(float, line.split(",")), strict=True))
                   for line in (table[1], table[-1]))  # fmt: skip
    assert first["first_pack_voltage [V]"] == pytest.approx(first["last_pack_voltage [V]"])
    assert last["first_pack_voltage [V]"] < last["last_pack_voltage [V]"] - 0.3
    assert last["charge [mAh]"] == pytest.approx(2000)
    assert client().post("/v1/series-join.svg", json=question).status_code == 200


def test_so_cold_that_nobody_knows_the_packs_are_not_let_off() -> None:
    pack = {"cells": 3, "capacity": "2250 mAh", "cell_resistance": "8.5 mΩ"}
    cold = reply("series-join", packs=[pack | {"temperature": "-12 °C"}] * 2, current="5 A")["sentence"]
    assert cold.startswith("Do not fly these lithium-polymer packs in series: at minus 12 degrees nobody can say")
    cool = [pack | {"temperature": "-10 °C"}] * 2
    assert "may be flown in series" in reply("series-join", packs=cool, current="5 A")["sentence"]


def test_a_cell_that_is_empty_already_is_driven_lower_at_once() -> None:
    trainer = {"cells": 3, "capacity": "2250 mAh", "cell_resistance": "8.5 mΩ"}
    told = reply("series-join", packs=[trainer, trainer | {"state_of_charge": 0}], current="23 A")["cautions"]
    assert "below empty at once, while" in next(entry["text"] for entry in told if entry["code"] == "series-reversed")
    told = reply("series-join", packs=[trainer, trainer | {"state_of_charge": 0.9}], current="23 A")["cautions"]
    text = next(entry["text"] for entry in told if entry["code"] == "series-reversed")
    assert "below empty from 2020 milliampere hours on, while" in text


def test_more_than_sixty_volts_is_told_as_dangerous_to_touch() -> None:
    def text(cells: int) -> str:
        packs = [{"cells": cells, "capacity": "4900 mAh"}] * 2
        found = reply("series-join", packs=packs, current="20 A")["cautions"]
        return next(str(entry["text"]) for entry in found if entry["code"] == "series-high-voltage")

    # Seven cells of 4.2 volts twice are 58.8 volts, eight 67.2.
    assert "touches" not in text(7)
    assert text(8).endswith("More than 60 volts can hurt whoever touches them.")

"""Group-charge, clause by clause."""

import csv
import io
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from profiles import few
from reference.asking import answer, cautions, client, refusals, reply

PACK: dict[str, Any] = {
    "cells": 4,
    "capacity": "2000 mAh",
    "cell_resistance": "5 mΩ",
    "polarisation_resistance": "2.5 mΩ",
    "state_of_charge": 0.3,
}


def volts(text: str) -> dict[str, Any]:
    return {"state_of_charge": None, "rest_voltage": text}


def group(*packs: dict[str, Any], **question: Any) -> dict[str, Any]:
    return answer("group-charge", packs=[PACK | pack for pack in packs], **question)


def said(*packs: dict[str, Any], **question: Any) -> str:
    sentence: str = reply("group-charge", packs=[PACK | pack for pack in packs], **question)["sentence"]
    return sentence


def warned(*packs: dict[str, Any], **question: Any) -> list[str]:
    return cautions("group-charge", packs=[PACK | pack for pack in packs], **question)


def rates(got: dict[str, Any]) -> list[float]:
    return [share["rate"] for share in got["packs"]]


def test_equal_packs_take_each_what_charge_current_allows_one() -> None:
    alone = answer("charge-current", **PACK)
    got = group({}, {}, {})
    assert got["total_current"] == pytest.approx(3 * alone["current"])
    assert [share["current"] for share in got["packs"]] == pytest.approx([alone["current"]] * 3)
    assert got["time_total"] == pytest.approx(alone["time_total"], rel=1e-5)
    assert got["supply_power"] == pytest.approx(3 * alone["supply_power"])
    assert got["end_voltage"] == pytest.approx(alone["end_voltage"])
    assert got["limited_by"] == "asked-rate"


# At 16.8 V: 84 W out are 5 A; 112 W in at 0.75 are 84 W out.
@pytest.mark.parametrize(
    ("limits", "total", "named"),
    [
        ({"rate": 2, "max_rate": 1.5}, 6.0, "pack-label"),
        ({"rate": 2, "max_rate": 3}, 8.0, "asked-rate"),
        ({"charger_current_limit": "3 A"}, 3.0, "charger-current"),
        ({"rate": 2, "max_rate": 3, "charger_power_limit": "84 W"}, 5.0, "charger-power"),
        ({"rate": 2, "max_rate": 3, "supply_limit": "112 W", "efficiency": 0.75}, 5.0, "supply"),
        ({"charger_current_limit": "4 A"}, 4.0, "charger-current"),
        ({"temperature": "5 °C"}, 0.8, "temperature"),
    ],
)
def test_the_least_limit_sets_the_total(limits: dict[str, Any], total: float, named: str) -> None:
    warmth = {name: limits[name] for name in ("temperature",) if name in limits}
    got = group(warmth, warmth, **{name: value for name, value in limits.items() if name not in warmth})
    assert got["total_current"] == pytest.approx(total, rel=1e-6)
    assert got["limited_by"] == named


def test_a_packs_own_label_goes_before_the_shared_one() -> None:
    got = group({"max_rate": 0.5}, {}, max_rate=3)
    assert rates(got) == [pytest.approx(0.5, rel=1e-5), pytest.approx(0.5, rel=1e-5)]
    assert got["limited_by"] == "pack-label"


def test_a_fifth_in_the_cold_is_of_what_the_charger_leaves() -> None:
    cold = {"temperature": "5 °C", "resistance_temperature": "5 °C"}
    alone = answer("charge-current", **PACK, **cold, charger_current_limit="1 A")
    got = group(cold, cold, charger_current_limit="2 A")
    assert got["total_current"] == pytest.approx(2 * alone["current"], rel=1e-6)
    assert "cold" in warned(cold, cold)


def test_resistance_shares_the_current_and_the_best_pack_sets_the_total() -> None:
    got = group({}, {"cell_resistance": "15 mΩ", "polarisation_resistance": "7.5 mΩ"})
    assert max(rates(got)) == pytest.approx(1, rel=1e-5)
    assert rates(got)[0] > rates(got)[1]
    assert got["total_current"] < 4
    assert "group-uneven" in warned({}, {"cell_resistance": "15 mΩ", "polarisation_resistance": "7.5 mΩ"})
    # At first the shares are as 3 to 1, and the first pack is at 1 C with a third of that in the other.
    assert got["total_current"] == pytest.approx(2 + 2 / 3, rel=1e-3)


def test_the_share_late_in_the_charge_counts_not_only_the_first() -> None:
    # The slow part holds the first pack back after the first instant, and the other takes over.
    slow = {"polarisation_resistance": "40 mΩ"}
    got = group(slow, {})
    at_first = 1 / 2 * got["total_current"] / 2
    assert rates(got)[1] == pytest.approx(1, rel=1e-4)
    assert at_first < 0.8


def test_packs_that_may_not_be_joined_are_not_charged() -> None:
    got = group(volts("16.4 V"), volts("15.2 V"))
    assert (got["total_current"], got["limited_by"], got["time_total"]) == (0, "join", None)
    assert (got["within_limit"], rates(got)) == (False, [0, 0])
    joined = answer("parallel-join", packs=[PACK | volts("16.4 V"), PACK | volts("15.2 V")])
    assert got["peak_rate"] == pytest.approx(joined["peak_rate"])
    assert got["time_to_settle"] == pytest.approx(joined["time_to_settle"])
    assert "when they are joined" in said(volts("16.4 V"), volts("15.2 V"))
    assert warned(volts("16.4 V"), volts("15.2 V"))[0] == "join-too-hard"


def test_a_high_cell_that_the_join_would_overcharge_stops_the_group() -> None:
    uneven = {"state_of_charge": None, "cell_voltages": "4.10,4.10,4.10,4.19 V"}
    got = group(uneven, volts("16.75 V"), max_rate=5)
    assert (got["total_current"], got["limited_by"], got["within_limit"]) == (0, "join", False)
    assert "above full" in said(uneven, volts("16.75 V"), max_rate=5)


def test_a_label_that_allows_the_exchange_allows_the_group() -> None:
    apart = (volts("15.40 V"), volts("15.28 V"))  # 120 mV through 40 milliohm: 1.5 C
    assert group(*apart)["limited_by"] == "join"
    got = group(*apart, max_rate=3, rate=2)
    assert got["within_limit"] is True
    assert 0 < got["total_current"] < 8
    assert max(rates(got)) == pytest.approx(2, rel=1e-5)
    # Left to settle first they would take more, which is said.
    assert "group-settle-first" in warned(*apart, max_rate=3, rate=2)
    assert "group-settle-first" not in warned({}, {})


@pytest.mark.parametrize(
    ("pack", "named", "words"),
    [
        ({"condition": "swollen"}, "condition", "Pack 2: it is swollen"),
        (volts("12.4 V"), "cell-count", "number of cells in doubt"),
        ({"state_of_charge": None, "cell_voltages": "2.4,3.7,3.7,3.7 V"}, "low-cell", "a cell is below 2.5 volts"),
    ],
)
def test_a_pack_that_must_not_be_charged_stops_the_group(pack: dict[str, Any], named: str, words: str) -> None:
    got = group({}, pack)
    assert (got["total_current"], got["limited_by"], got["supply_power"]) == (0, named, 0)
    assert (got["time_total"], got["time_to_settle"]) == (None, None)
    assert words in said({}, pack)


def test_a_full_or_freezing_pack_stops_it_too() -> None:
    full = {"state_of_charge": 1}
    assert group(full, full)["limited_by"] == "full"
    assert "Pack 1: it is full" in said(full, full)
    freezing = {"temperature": "-3 °C"}
    assert group(freezing, {})["limited_by"] == "temperature"
    assert "Pack 1: at minus 3 degrees it is too cold" in said(freezing, {})


def test_every_answer_warns_as_a_charge_and_as_a_board() -> None:
    for packs in (({}, {}), ({}, {"condition": "wet"}), (volts("16.4 V"), volts("15.2 V"))):
        assert {"never-alone", "papers", "signs-of-failure", "main-leads-first", "board-fuse"} <= set(warned(*packs))
    assert warned({}, {}, rate=2)[0] == "rate-above-usual"
    assert "rate-above-usual" not in warned({}, {}, rate=2, max_rate=2)


def test_lead_acid_is_shared_but_has_no_time() -> None:
    lead = {"chemistry": "lead", "cells": 6, "capacity": "20 Ah", "cell_resistance": "2 mΩ", "state_of_charge": 0.5}
    got = answer("group-charge", packs=[lead, lead])
    assert got["total_current"] == pytest.approx(4)
    assert got["time_total"] is None
    assert "lead-time" in cautions("group-charge", packs=[lead, lead])


def test_what_is_wrong_is_named() -> None:
    assert refusals("group-charge", packs=[PACK]) == {("packs", "wrong_length")}
    assert refusals("group-charge", packs=[PACK, PACK | {"cells": 3}]) == {
        ("packs[0].cells", "conflict"),
        ("packs[1].cells", "conflict"),
    }
    assert refusals("group-charge", packs=[PACK, PACK], end_cell_voltage="4.3 V") == {
        ("end_cell_voltage", "out_of_range")
    }
    bare = {name: value for name, value in PACK.items() if name != "state_of_charge"}
    assert refusals("group-charge", packs=[bare, PACK]) == {("packs[0].rest_voltage", "missing")}
    assert client().get("/v1/group-charge").status_code == 422


def test_the_band_of_the_time_holds_it() -> None:
    document = reply("group-charge", packs=[PACK | volts("15.2 V"), PACK | volts("15.22 V")])
    time = document["answer"]["time_total"]["value"]
    band = next(band for band in document["accuracy"] if band["of"] == "time_total")
    assert band["low"]["value"] < time < band["high"]["value"]
    # Read from a voltage, the state is unsure, and so is the time.
    told = reply("group-charge", packs=[PACK, PACK])
    sure = next(band for band in told["accuracy"] if band["of"] == "time_total")
    wide = band["high"]["value"] / band["low"]["value"]
    assert wide > sure["high"]["value"] / sure["low"]["value"]


def test_the_curve_keeps_to_total_and_limits() -> None:
    question = {"packs": [PACK | volts("15.2 V"), PACK | volts("15.22 V") | {"capacity": "1500 mAh"}]}
    got = answer("group-charge", **question)
    rows = list(csv.DictReader(io.StringIO(client().post("/v1/group-charge.csv", json=question).text)))
    assert list(rows[0]) == ["time [min]", "voltage [V]", "current [A]", "rate", "charge [mAh]"]
    currents = [float(row["current [A]"]) for row in rows]
    assert currents[0] == pytest.approx(got["total_current"])
    assert currents[-1] == pytest.approx(0.1 * got["total_current"], rel=1e-4)
    assert max(float(row["rate"]) for row in rows) <= 1 + 1e-5
    charges = [float(row["charge [mAh]"]) for row in rows]
    assert charges == sorted(charges)
    assert float(rows[-1]["time [min]"]) == pytest.approx(got["time_total"])


kinds = st.fixed_dictionaries(
    {
        "capacity": st.integers(500, 6000).map(lambda size: f"{size} mAh"),
        "cell_resistance": st.floats(2, 30).map(lambda size: f"{size!r} mΩ"),
        "polarisation_resistance": st.floats(0, 20).map(lambda size: f"{size!r} mΩ"),
        "state_of_charge": st.floats(0.30, 0.32),
    }
)


@few
@given(st.lists(kinds, min_size=2, max_size=3), st.floats(0.3, 2), st.floats(0, 10))
def test_no_pack_is_ever_above_its_limit(packs: list[dict[str, Any]], rate: float, lead: float) -> None:
    got = group(*packs, rate=rate, lead_resistance=f"{lead!r} mΩ")
    assert max(rates(got)) <= rate * (1 + 1e-5)
    sizes = [float(pack["capacity"].split()[0]) / 1000 for pack in packs]
    assert got["total_current"] <= rate * sum(sizes) * (1 + 1e-9)
    if got["total_current"] == 0:
        assert got["limited_by"] == "join"
        assert got["peak_rate"] > min(1, rate) * (1 - 1e-6)
    else:
        assert max(rates(got)) == pytest.approx(rate, rel=1e-4)


@few
@given(st.lists(kinds, min_size=2, max_size=3), st.floats(0.5, 0.99))
def test_a_smaller_charger_never_hurries_a_group(packs: list[dict[str, Any]], part: float) -> None:
    free = group(*packs)
    if free["total_current"] == 0:
        return
    held = group(*packs, charger_current_limit=f"{part * free['total_current']!r} A")
    assert held["total_current"] == pytest.approx(part * free["total_current"])
    assert held["time_total"] > free["time_total"]
    assert max(rates(held)) <= max(rates(free)) * (1 + 1e-6)


def test_cells_apart_or_standing_out_charge_no_group() -> None:
    apart = {"state_of_charge": None, "cell_voltages": "3.95,3.86,3.86,3.86 V"}
    other = {"state_of_charge": None, "cell_voltages": "3.84,3.90,3.89,3.90 V"}
    got = group(apart, other, max_rate=5)
    assert (got["total_current"], got["within_limit"]) == (0, False)
    suspect = {"state_of_charge": None, "cell_voltages": "4.2,4.2,4.2,3.0 V"}
    got = group(suspect, volts("15.60 V"))
    assert (got["total_current"], got["limited_by"], got["within_limit"]) == (0, "suspect-cell", False)


@given(st.lists(kinds, min_size=2, max_size=4), st.randoms())
def test_the_order_in_which_packs_are_told_does_not_count(packs: list[dict[str, Any]], random: Any) -> None:
    order = list(range(len(packs)))
    random.shuffle(order)
    straight, shuffled = group(*packs), group(*(packs[place] for place in order))
    assert shuffled["total_current"] == pytest.approx(straight["total_current"], rel=3e-4)
    assert rates(shuffled) == pytest.approx([rates(straight)[place] for place in order], rel=1e-3)
    if straight["time_total"] is not None:
        assert shuffled["time_total"] == pytest.approx(straight["time_total"], rel=1e-3)
    assert shuffled["limited_by"] == straight["limited_by"]


@given(kinds, kinds)
def test_two_like_packs_are_one_of_twice_the_size(one: dict[str, Any], other: dict[str, Any]) -> None:
    def double(pack: dict[str, Any]) -> dict[str, Any]:
        size, resistance, slow = (
            float(pack[name].split()[0]) for name in ("capacity", "cell_resistance", "polarisation_resistance")
        )
        return pack | {
            "capacity": f"{2 * size!r} mAh",
            "cell_resistance": f"{resistance / 2!r} mΩ",
            "polarisation_resistance": f"{slow / 2!r} mΩ",
        }

    apart, together = group(one, one, other), group(double(one), other)
    assert together["total_current"] == pytest.approx(apart["total_current"], rel=3e-4)
    assert rates(together) == pytest.approx(rates(apart)[1:], rel=1e-3)
    if apart["time_total"] is not None:
        assert together["time_total"] == pytest.approx(apart["time_total"], rel=1e-3)


def test_a_board_of_unlike_packs_is_answered() -> None:
    sizes = ("1390 mAh", "5890 mAh", "3560 mAh", "979 mAh")
    packs = [
        {"chemistry": "lihv", "cells": 6, "capacity": size, "rest_voltage": voltage}
        for size, voltage in zip(sizes, ("22.84 V", "22.86 V", "22.85 V", "22.84 V"), strict=True)
    ]
    got = answer("group-charge", packs=packs)
    assert 0 < got["total_current"] <= 1.39 + 5.89 + 3.56 + 0.979
    assert max(rates(got)) == pytest.approx(1, rel=1e-4)


def test_every_board_of_random_packs_that_keep_the_bounds_is_answered() -> None:
    chance = np.random.default_rng(5)
    for _ in range(16):
        size = int(chance.choice([2, 3, 5, 9, 17, 33, 64]))
        packs = [
            {
                "cells": 3,
                "chemistry": "lipo",
                "capacity": f"{10 ** chance.uniform(1, 5.3):.1f} mAh",
                "cell_resistance": f"{10 ** chance.uniform(-1, 2):.3f} mΩ",
                "polarisation_time": f"{10 ** chance.uniform(-0.9, 3):.2f} s",
                "state_of_charge": float(chance.uniform(0.0, 1.0)),
            }
            for _ in range(size)
        ]
        for name in ("group-charge", "parallel-join"):
            assert answer(name, packs=packs)["within_limit"] in (True, False)


def test_the_pack_that_sets_the_total_names_what_limits_it() -> None:
    one = {"cells": 4, "capacity": "3700 mAh", "state_of_charge": 0.3}
    got = group(one, one | {"temperature": "5 °C"})
    assert got["limited_by"] == "temperature"
    assert min(rates(got)) == pytest.approx(0.2, rel=1e-3)
    assert group(one, one | {"max_rate": 0.5})["limited_by"] == "pack-label"
    assert group(one, one)["limited_by"] == "asked-rate"


def test_of_two_packs_there_is_one_other() -> None:
    pack = {"cells": 3, "capacity": "2250 mAh", "cell_resistance": "8.5 mΩ", "rest_voltage": "11.31 V"}
    two = reply("group-charge", packs=[pack, pack | {"rest_voltage": "12 V"}])["sentence"]
    assert "from the other when they are joined." in two
    three = reply("group-charge", packs=[pack, pack, pack | {"rest_voltage": "12 V"}])["sentence"]
    assert "from the others when they are joined." in three


def test_lead_that_stands_at_the_top_of_its_curve_still_draws_what_is_set() -> None:
    full = {"chemistry": "lead", "cells": 6, "capacity": "7200 mAh", "rest_voltage": "12.9 V"}
    alone = answer("charge-current", **full)["supply_power"]
    alike = answer("group-charge", packs=[full, full])
    assert alike["supply_power"] == pytest.approx(2 * alone)
    assert [share["current"] for share in alike["packs"]] == pytest.approx([0.72, 0.72])
    uneven = answer("group-charge", packs=[full, full | {"rest_voltage": "12.88 V"}], charger_current_limit="1 A")
    assert uneven["supply_power"] == pytest.approx(14.4 * 1 / 0.85)
    assert sum(share["current"] for share in uneven["packs"]) == pytest.approx(1, rel=0.02)

"""Charge-session, clause by clause."""

import csv
import io
import re
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from reference.asking import answer, cautions, client, refusals, reply

TRAINER: dict[str, Any] = {"cells": 3, "capacity": "2250 mAh", "cell_resistance": "8.5 mΩ", "rest_voltage": "11.31 V"}
TUG: dict[str, Any] = {"name": "grey tug", "cells": 6, "capacity": "4900 mAh", "cell_resistance": "2.6 mΩ"}
AEROBAT: dict[str, Any] = {"name": "blue aerobat", "cells": 4, "capacity": "3700 mAh", "cell_resistance": "4.2 mΩ"}
GLIDER: dict[str, Any] = {"name": "yellow glider", "cells": 3, "capacity": "1150 mAh", "cell_resistance": "11 mΩ"}
RIGHT: dict[str, Any] = {"name": "right", "current_limit": "5 A", "power_limit": "60 W"}
LEFT: dict[str, Any] = {"name": "left", "current_limit": "8 A", "power_limit": "110 W"}
BATTERY: dict[str, Any] = {"chemistry": "lead", "cells": 6, "capacity": "38 Ah", "cell_resistance": "2.2 mΩ"}


def asked(*packs: dict[str, Any], **question: Any) -> dict[str, Any]:
    base: dict[str, Any] = {"packs": list(packs), "chargers": [RIGHT]}
    base |= {} if "source" in question else {"supply_rating": "180 W"}
    return base | question


def got(*packs: dict[str, Any], **question: Any) -> dict[str, Any]:
    return answer("charge-session", **asked(*packs, **question))


def said(*packs: dict[str, Any], **question: Any) -> str:
    text: str = client().post("/v1/charge-session.txt", json=asked(*packs, **question)).text
    return text


def alone(pack: dict[str, Any], **limits: Any) -> dict[str, Any]:
    inner = {name: value for name, value in pack.items() if name not in ("name", "need_by", "ready_at")}
    return answer(
        "charge-current", **{"state_of_charge": 0.2, **inner} if "rest_voltage" not in inner else inner, **limits
    )


def begins(answered: dict[str, Any]) -> dict[str, float]:
    return {charge["pack"]: charge["begin"] for charge in answered["plan"]}


def test_one_pack_is_charged_as_charge_current_charges_it() -> None:
    told, one = got(AEROBAT), alone(AEROBAT, charger_current_limit="5 A", charger_power_limit="60 W")
    (charge,) = told["plan"]
    assert charge["begin"] == 0
    assert charge["current"] == pytest.approx(one["current"])
    assert told["finish"] == charge["end"] == pytest.approx(one["time_total"])
    assert told["supply_energy"] == pytest.approx(one["supply_energy"])
    assert told["peak_power"] == pytest.approx(one["supply_power"], rel=1e-6)
    assert told["bound"] == pytest.approx(told["finish"])
    assert told["finish_to_bound"] == pytest.approx(1)


def test_packs_on_one_output_follow_each_other_with_a_swap_between() -> None:
    packs = [{**TRAINER, "name": f"red trainer {letter}"} for letter in "ABC"]
    one = alone(TRAINER)["time_total"]
    told = got(*packs, swap_time="3 min")
    assert told["finish"] == pytest.approx(3 * one + 6, abs=1e-6)
    assert sorted(begins(told).values()) == pytest.approx([0, one + 3, 2 * one + 6])


def test_what_is_swapped_at_one_instant_is_swapped_one_after_the_other() -> None:
    packs = [{**TRAINER, "name": f"red trainer {n}"} for n in range(4)]
    told = got(*packs, chargers=[RIGHT | {"outputs": 2}], supply_rating="500 W")
    one = alone(TRAINER)["time_total"]
    assert sorted(begins(told).values()) == pytest.approx([0, 0, one + 2, one + 4])


def test_packs_overlap_where_their_curves_leave_room_and_not_where_their_peaks_would() -> None:
    packs = [{**TRAINER, "name": f"red trainer {n}"} for n in range(2)]
    one = alone(TRAINER)
    told = got(*packs, chargers=[RIGHT | {"outputs": 2}], supply_rating=f"{1.2 * one['supply_power']} W", headroom=0)
    assert told["finish"] < 2 * one["time_total"] - 4
    assert told["finish"] > 1.2 * one["time_total"]
    assert told["peak_power"] <= 1.2 * one["supply_power"] * (1 + 1e-6)


def test_a_lower_current_is_taken_where_it_is_done_earlier_overall() -> None:
    packs = [{**AEROBAT, "name": f"blue aerobat {letter}"} for letter in "AB"]
    told = got(*packs, chargers=[RIGHT | {"outputs": 2}], supply_rating="100 W", headroom=0)
    full = alone(AEROBAT, charger_power_limit="60 W")["current"]
    assert min(charge["current"] for charge in told["plan"]) < 0.95 * full


def test_headroom_and_idle_power_are_kept_free() -> None:
    for free in (0, 0.2):
        told = got(TUG, chargers=[LEFT | {"idle_power": "4 W"}], supply_rating="100 W", headroom=free)
        assert told["peak_power"] == pytest.approx(100 * (1 - free), rel=1e-6)
        assert told["plan"][0]["supply_power"] == pytest.approx(100 * (1 - free) - 4, rel=1e-6)
    still = got(TUG, chargers=[LEFT], supply_rating="500 W")
    idle = got(TUG, chargers=[LEFT | {"idle_power": "4 W"}], supply_rating="500 W")
    assert idle["supply_energy"] - still["supply_energy"] == pytest.approx(4 * idle["finish"] / 60)


def test_a_charger_that_takes_none_of_the_packs_is_left_off() -> None:
    other = LEFT | {"idle_power": "50 W", "cells_min": 6}
    assert got(GLIDER, chargers=[RIGHT, other])["supply_energy"] == pytest.approx(got(GLIDER)["supply_energy"])


def test_outputs_share_the_power_of_their_charger_where_it_has_a_limit_of_its_own() -> None:
    packs = [{**TRAINER, "name": f"red trainer {n}"} for n in range(3)]
    free = got(*packs, chargers=[RIGHT | {"outputs": 3}], supply_rating="1000 W")
    held = got(*packs, chargers=[RIGHT | {"outputs": 3, "total_power_limit": "40 W"}], supply_rating="1000 W")
    assert held["peak_power"] <= 40 / 0.85 * (1 + 1e-6) < free["peak_power"]
    assert held["finish"] > 1.3 * free["finish"]


def test_the_watch_limit_leaves_outputs_idle_and_says_so() -> None:
    packs = [{**TRAINER, "name": f"red trainer {n}"} for n in range(6)]
    question = asked(*packs, chargers=[RIGHT | {"outputs": 6}], supply_rating="1000 W")
    told = answer("charge-session", **question)
    assert sum(begin == 0 for begin in begins(told).values()) == 4
    (entry,) = [c for c in reply("charge-session", **question)["cautions"] if c["code"] == "watch-limit"]
    assert entry["text"].startswith("No more than four packs charge at once")
    assert "two outputs are left idle" in entry["text"]
    more = question | {"watch_limit": 6}
    assert sum(begin == 0 for begin in begins(answer("charge-session", **more)).values()) == 6
    assert "watch-limit" not in cautions("charge-session", **more)
    assert "watched-many" in cautions("charge-session", **more)
    assert "watched-many" not in cautions("charge-session", **question)


def test_a_pack_waits_until_it_is_there() -> None:
    assert begins(got({**GLIDER, "ready_at": "25 min"}))["yellow glider"] == pytest.approx(25)
    told = got({**TUG, "ready_at": "25 min"}, GLIDER, chargers=[LEFT])
    assert begins(told)["yellow glider"] == 0


def test_a_hot_pack_cools_first_and_the_longer_the_hotter_it_is() -> None:
    times = [
        begins(got({**AEROBAT, "temperature": f"{warm} °C"}, ambient="20 °C"))["blue aerobat"] for warm in (40, 42, 55)
    ]
    assert times[0] == 0 < times[1] < times[2] < 60
    assert begins(got({**AEROBAT, "temperature": "42 °C"}, ambient="35 °C"))["blue aerobat"] > times[1]
    assert "cool-first" in cautions("charge-session", **asked({**AEROBAT, "temperature": "42 °C"}))
    assert "cool-first" not in cautions("charge-session", **asked(AEROBAT))
    (left,) = got({**AEROBAT, "temperature": "50 °C"}, ambient="41 °C")["unserved"]
    assert left["why"] == "at 50 degrees it is too hot"


def test_a_pack_that_is_needed_early_goes_first_and_is_in_time_by_the_high_edge() -> None:
    packs = [TUG, AEROBAT, GLIDER]
    plain = got(*packs, chargers=[LEFT])
    last = plain["plan"][-1]["pack"]
    urgent = [{**pack, "need_by": "110 min"} if pack["name"] == last else pack for pack in packs]
    told = got(*urgent, chargers=[LEFT])
    assert told["plan"][0]["pack"] == last
    assert told["late"] == []


def test_a_late_pack_is_late_by_the_high_edge_of_its_own_time_and_of_those_before_it() -> None:
    one = alone(GLIDER)["time_total"]
    (late,) = got({**GLIDER, "need_by": f"{one} min"})["late"]
    assert late["late_by"] == pytest.approx(0.05 * one + 15, abs=0.01)
    assert late["need_by"] == pytest.approx(one)
    both = [{**GLIDER, "name": name, "need_by": f"{one + 20} min"} for name in ("one", "other")]
    (late,) = got(*both)["late"]
    assert late["late_by"] == pytest.approx(2 * (1.05 * one + 15) + 2 - (one + 20), abs=0.01)
    assert "finish-late" in cautions("charge-session", **asked(*both))
    assert "finish-late" not in cautions("charge-session", **asked(GLIDER))


def test_a_supply_that_makes_it_in_time_is_named_where_there_is_one() -> None:
    packs = [{**TRAINER, "name": f"red trainer {n}", "need_by": "70 min"} for n in range(3)]
    question = asked(*packs, chargers=[RIGHT | {"outputs": 3}], supply_rating="60 W")
    told = answer("charge-session", **question)
    assert told["late"]
    needed = told["supply_needed"]
    assert 60 < needed < 400
    assert answer("charge-session", **question | {"supply_rating": f"{needed * 1.001} W"})["late"] == []
    assert answer("charge-session", **question | {"supply_rating": f"{needed * 0.7} W"})["late"]
    impossible = [{**pack, "need_by": "20 min"} for pack in packs]
    assert got(*impossible, chargers=[RIGHT])["supply_needed"] is None


def test_without_a_late_pack_the_supply_that_is_needed_is_the_one_that_carries_the_plan() -> None:
    told = got(TUG, GLIDER, chargers=[LEFT, RIGHT])
    assert told["supply_needed"] == pytest.approx(told["peak_power"] / 0.9)


@pytest.mark.parametrize(
    ("odd", "why"),
    [
        ({"condition": "swollen"}, "it is swollen"),
        ({"temperature": "-5 °C"}, "at minus 5 degrees it is too cold"),
        ({"cell_voltages": "3.7,3.7,3.2,3.7 V"}, "cell 3 stands out at 3.2 volts"),
        ({"cell_voltages": "2.8,2.8,2.8,2.8 V"}, "every cell rests below 3 volts"),
        ({"cell_voltages": "2.3,3.6,3.6,3.6 V"}, "a cell is below 2.5 volts"),
        ({"state_of_charge": 1}, "it is full"),
        ({"chemistry": "lead", "cells": 6}, "how long lead-acid takes cannot be told"),
        ({"cells": 8}, "no charger here takes eight cells"),
    ],
)
def test_a_pack_that_is_not_to_be_charged_here_is_told_with_the_verdicts_words(odd: dict[str, Any], why: str) -> None:
    told = got(GLIDER, {**AEROBAT, **odd}, chargers=[RIGHT | {"cells_max": 6}])
    assert told["unserved"] == [{"pack": "blue aerobat", "why": why}]
    assert list(begins(told)) == ["yellow glider"]
    assert f"blue aerobat, since {why}" in said(GLIDER, {**AEROBAT, **odd}, chargers=[RIGHT | {"cells_max": 6}])


def test_packs_in_doubt_are_kept_apart() -> None:
    assert "in-doubt-apart" in cautions("charge-session", **asked(GLIDER, {**AEROBAT, "condition": "wet"}))
    assert "in-doubt-apart" not in cautions("charge-session", **asked(GLIDER))


def test_where_nothing_can_be_charged_that_is_the_answer() -> None:
    told = got({**AEROBAT, "condition": "crashed"})
    assert (told["finish"], told["bound"], told["finish_to_bound"], told["supply_needed"]) == (None,) * 4
    assert (told["plan"], told["peak_power"], told["supply_energy"]) == ([], 0, 0)
    assert said({**AEROBAT, "condition": "crashed"}).startswith("Nothing is charged: ")


def test_equal_names_are_numbered_and_missing_ones_counted() -> None:
    told = got({**TRAINER, "name": "red trainer"}, {**TRAINER, "name": "red trainer"}, TRAINER, chargers=[RIGHT, RIGHT])
    assert set(begins(told)) == {"red trainer 1", "red trainer 2", "pack 3"}
    assert {charge["charger"] for charge in told["plan"]} == {"right 1", "right 2"}


def test_swaps_wait_for_somebody_to_come() -> None:
    packs = [{**TRAINER, "name": f"red trainer {n}"} for n in range(3)]
    assert sorted(begins(got(*packs, by_hand="50 min")).values()) == pytest.approx([0, 52, 102])
    assert sorted(begins(got(*packs, by_hand=["45 min", "200 min"])).values()) == pytest.approx([0, 47, 202])
    told = got(*packs, by_hand=["45 min"])
    assert sorted(begins(told).values()) == pytest.approx([0, 47])
    assert [entry["why"] for entry in told["unserved"]] == ["nobody is there to put it on"]
    both = got(*packs, *packs, chargers=[RIGHT | {"outputs": 2}], supply_rating="500 W", by_hand=["45 min", "90 min"])
    assert sorted(begins(both).values()) == pytest.approx([0, 0, 47, 49, 92, 94])
    assert "nobody-there" in cautions("charge-session", **asked(*packs, by_hand="50 min"))
    assert "nobody-there" not in cautions("charge-session", **asked(*packs))
    none = [{**pack, "condition": "swollen"} for pack in packs]
    assert not got(*none, by_hand="50 min")["plan"]
    assert "nobody-there" not in cautions("charge-session", **asked(*none, by_hand="50 min"))


def test_a_battery_is_used_no_further_than_its_depth_and_floor() -> None:
    packs = [{**GLIDER, "name": f"yellow glider {n}"} for n in range(16)]
    small = BATTERY | {"capacity": "24 Ah", "cell_resistance": "4 mΩ"}
    told = got(*packs, source=small)
    assert 0 < len(told["plan"]) < 16
    assert {entry["why"] for entry in told["unserved"]} == {"the source does not hold enough for it"}
    deeper = got(*packs, source=small, depth=0.8)
    assert len(deeper["plan"]) > len(told["plan"])
    # What is lost at high currents is spared by charging more slowly, or by charging fewer.
    lossy = got(*packs, source=small, peukert=2)
    assert (len(lossy["plan"]), -lossy["finish"]) < (len(told["plan"]), -told["finish"])
    assert len(got(*packs, source=small, input_floor="12.45 V")["plan"]) < len(told["plan"])
    # At most half of 24 Ah at no more than 12.7 V.
    assert told["supply_energy"] < 12 * 12.7
    (why,) = {entry["why"] for entry in got(*packs, source=small | {"condition": "damaged"})["unserved"]}
    assert why == "the source is damaged"


def test_a_battery_or_a_supply_is_told_and_not_both() -> None:
    packs, chargers = [GLIDER], [RIGHT]
    missing = {field for field, _ in refusals("charge-session", packs=packs, chargers=chargers)}
    assert missing & {"supply_rating", "source"}
    assert ("source", "conflict") in refusals(
        "charge-session", packs=packs, chargers=chargers, source=BATTERY, supply_rating="180 W"
    )


STARTS = [
    ("2026-04-18T10:00+02:00", "10:56"),
    ("2026-04-18T10:00 02:00", "10:56"),
    ("2026-04-18T10:00Z", "10:56"),
    ("2026-04-18 10:00", "10:56"),
    ("2026-04-18T10:00 Europe/Berlin", "10:56"),
    ("2026-04-18T10:00+02:00[Europe/Berlin]", "10:56"),
    # Clocks go from 2 to 3 there, and from 3 back to 2.
    ("2026-03-29T01:30 Europe/Berlin", "03:26"),
    ("2026-10-25T02:30 Europe/Berlin", "02:26"),
    ("2026-10-25T02:30+01:00[Europe/Berlin]", "03:26"),
    ("2026-04-18T23:30", "19 April 00:26"),
]


@pytest.mark.parametrize(("start", "shows"), STARTS)
def test_a_clock_shows_the_time_after_summer_time_begins_or_ends(start: str, shows: str) -> None:
    packs = [{**GLIDER, "ready_at": "56 min"}]
    assert f" {shows} to the yellow glider" in said(*packs, start=start)
    rows = list(
        csv.DictReader(io.StringIO(client().post("/v1/charge-session.csv", json=asked(*packs, start=start)).text))
    )
    assert rows[0]["clock"] == shows


@pytest.mark.parametrize(
    "start",
    ["yesterday", "2026-13-01T10:00", "2026-04-18", "2026-04-18T10:00 Atlantis/Reef", "2026-03-29T02:30 Europe/Berlin",
     "2026-04-18T10:00+25:00"],
)  # fmt: skip
def test_a_start_that_is_none_is_refused_with_an_example(start: str) -> None:
    assert refusals("charge-session", **asked(GLIDER, start=start)) == {("start", "out_of_range")}


def test_the_order_is_read_aloud() -> None:
    spoken = said(TUG, GLIDER, AEROBAT, chargers=[LEFT, RIGHT], start="2026-04-18T10:00")
    first, rest = spoken.split("; ", 1)
    assert re.fullmatch(r"First the [a-z ]+ on the (left|right) charger at [\d.]+ amperes and the .+", first)
    assert re.match(r"swap at 1\d:\d\d to the [a-z ]+ on the (left|right) charger at [\d.]+ amperes\.", rest)
    assert "The last is done between 1" in spoken
    assert "after" in said(TUG, GLIDER, AEROBAT, chargers=[LEFT])


def test_it_is_asked_by_an_address_too() -> None:
    query = {"packs[0].cells": "3", "packs[0].capacity": "2250 mAh", "packs[0].name": "red trainer",
             "chargers[0].current_limit": "5 A", "supply_rating": "180 W"}  # fmt: skip
    by_address = client().get("/v1/charge-session", query_string=query)
    posted = reply(
        "charge-session", packs=[{"cells": 3, "capacity": "2250 mAh", "name": "red trainer"}],
        chargers=[{"current_limit": "5 A"}], supply_rating="180 W",
    )  # fmt: skip
    assert by_address.get_json() == posted


def test_a_question_has_one_answer() -> None:
    question = asked(TUG, GLIDER, AEROBAT, {**TRAINER, "name": "red trainer"}, chargers=[LEFT, RIGHT])
    assert answer("charge-session", **question) == answer("charge-session", **question)


@pytest.mark.parametrize("count", [8, 12])
def test_the_order_in_which_packs_are_told_changes_no_time(count: int) -> None:
    sizes = [1150, 2250, 3700, 4900]
    packs = [
        {"name": str(n), "cells": 2 + n * 7 % 5, "capacity": f"{sizes[n % 4]} mAh", "state_of_charge": 0.1 + 0.02 * n}
        for n in range(count)
    ]
    found = []
    for order in (packs, packs[::-1], packs[::2] + packs[1::2]):
        plan = got(*order, chargers=[LEFT | {"outputs": 2}, RIGHT], supply_rating="180 W")
        found.append({charge["pack"]: (charge["begin"], charge["end"]) for charge in plan["plan"]})
    assert found[1] == found[0]
    assert found[2] == found[0]


def test_two_hundred_packs_are_taken_and_not_more() -> None:
    assert refusals("charge-session", **asked(*[GLIDER] * 201)) == {("packs", "wrong_length")}


def test_more_power_or_another_output_is_never_of_harm() -> None:
    packs = [TUG, AEROBAT, GLIDER, {**TRAINER, "name": "red trainer"}]
    scarce = got(*packs, chargers=[LEFT, RIGHT], supply_rating="100 W")
    assert got(*packs, chargers=[LEFT, RIGHT], supply_rating="150 W")["finish"] <= scarce["finish"] * 1.01
    assert got(*packs, chargers=[LEFT, RIGHT, RIGHT], supply_rating="100 W")["finish"] <= scarce["finish"] * 1.01


def test_the_picture_has_a_row_for_each_output_and_marks_when_a_pack_is_needed() -> None:
    packs = [TUG, {**GLIDER, "need_by": "90 min"}, AEROBAT]
    document = client().post("/v1/charge-session.svg", json=asked(*packs, chargers=[LEFT, RIGHT | {"outputs": 2}])).text
    drawn = ET.fromstring(document)
    words = [text.text for text in drawn.iter("{http://www.w3.org/2000/svg}text")]
    assert {"left", "right, output 1", "grey tug", "yellow glider needed", "supply 162 W"} <= {*words}
    bars = [shape for shape in drawn.iter("{http://www.w3.org/2000/svg}rect") if "edged" in shape.get("class", "")]
    assert len(bars) == 3
    assert len({bar.attrib["y"] for bar in bars}) == 3 or len({bar.attrib["y"] for bar in bars}) == 2
    assert document.count("<polyline") == 1


def test_a_state_read_from_a_voltage_is_told_as_such() -> None:
    told = {name: value for name, value in TRAINER.items() if name not in ("state_of_charge", "rest_voltage")}
    read, unread = {**told, "rest_voltage": "11.31 V"}, {**told, "state_of_charge": 0.3}
    assert "state-from-voltage" in cautions("charge-session", **asked(read))
    assert "state-from-voltage" in cautions("charge-session", **asked(unread, read))
    assert "state-from-voltage" not in cautions("charge-session", **asked(unread))

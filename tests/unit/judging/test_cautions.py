"""Cautions: one frozen table of how grave each is, and questions that bring one up beside questions that do not.

How grave a caution is, is this project's own judgement: a change of the table is a decision, never a side effect.
"""

import re
import sys
from pathlib import Path
from typing import Any

import pytest
from reference.asking import cautions, client, reply

from ampstead.calculators import registry
from ampstead.judging.cautions import GRAVITY, caution

TESTS = Path(__file__).parents[2]
SERVICE = TESTS.parent / "service" / "ampstead"

SEVERITY = {
    "alarm-impossible": "danger",
    "bus-collapse": "danger",
    "carriage-acid": "danger",
    "carriage-unsound": "danger",
    "cell-count": "danger",
    "cell-empties-itself": "danger",
    "charge-too-hard": "danger",
    "chemistry-in-doubt": "danger",
    "crashed": "danger",
    "damaged": "danger",
    "dead-cell": "danger",
    "dead-cell-load": "danger",
    "discharge-hot": "danger",
    "drawn-too-hard": "danger",
    "emptied-is-finished": "danger",
    "fierce-let-down": "danger",
    "flight-impossible": "danger",
    "frozen-lead": "danger",
    "hot-start": "danger",
    "join-cells-apart": "danger",
    "join-empties": "danger",
    "join-overcharges": "danger",
    "join-too-hard": "danger",
    "label-rate-doubtful": "danger",
    "lead-deep": "danger",
    "lead-fierce": "danger",
    "lead-impossible": "danger",
    "load-impossible": "danger",
    "low-cell": "danger",
    "never-alone": "danger",
    "nobody-there": "danger",
    "not-charged-cold": "danger",
    "not-overnight": "danger",
    "nothing-stops-it": "danger",
    "overcharged": "danger",
    "overheated": "danger",
    "place-too-hot": "danger",
    "rate-above-usual": "danger",
    "receiver-fails": "danger",
    "retired": "danger",
    "overcharged-slightly": "danger",
    "returned-too-much": "danger",
    "series-reversed": "danger",
    "source-collapses": "danger",
    "source-unsound": "danger",
    "stall-unsure": "danger",
    "suspect-cell": "danger",
    "swollen": "danger",
    "timer-too-cold": "danger",
    "too-cold": "danger",
    "too-hot": "danger",
    "watched-discharge": "danger",
    "wet": "danger",
    "air-too-cold": "warning",
    "air-too-warm": "warning",
    "air-uncounted": "warning",
    "alarm-below-floor": "warning",
    "alarm-guess": "warning",
    "all-cells-fall": "warning",
    "ask-before-joining": "warning",
    "below-floor": "warning",
    "empty-before": "warning",
    "below-rest-floor": "warning",
    "board-fuse": "warning",
    "carriage-close": "warning",
    "carriage-label": "warning",
    "carriage-rules": "warning",
    "carriage-spares": "warning",
    "carriage-too-many": "warning",
    "cell-may-empty": "warning",
    "cells-differ": "warning",
    "cells-too-far": "warning",
    "charge-apart": "warning",
    "charge-heats": "warning",
    "charged-today": "warning",
    "check-readings": "warning",
    "coarse-meter": "warning",
    "cold": "warning",
    "cold-load": "warning",
    "cool-first": "warning",
    "curves-disagree": "warning",
    "deep-use": "warning",
    "discharge-strong": "warning",
    "drawn-too-little": "warning",
    "finish-late": "warning",
    "flight-too-hard": "warning",
    "flight-too-warm": "warning",
    "flown-too-deep": "warning",
    "hard-let-down": "warning",
    "hardly-any-pack": "warning",
    "in-doubt-apart": "warning",
    "input-low": "warning",
    "join-hard": "warning",
    "join-resistance-assumed": "warning",
    "join-unsure": "warning",
    "labels-overstate": "warning",
    "lead-drop": "warning",
    "lead-gas": "warning",
    "lead-gel": "warning",
    "lead-hot": "warning",
    "leads-too-large": "warning",
    "light-duty": "warning",
    "load-burns": "warning",
    "long-charge": "warning",
    "long-discharge": "warning",
    "main-leads-first": "warning",
    "mains": "warning",
    "more-than-label": "warning",
    "nickel-end": "warning",
    "no-direct-heat": "warning",
    "no-reserve": "warning",
    "not-rested": "warning",
    "one-program": "warning",
    "papers": "warning",
    "regulator-above-pack": "warning",
    "resistance-doubtful": "warning",
    "resistance-half-told": "warning",
    "resistance-untold": "warning",
    "rise-alarm": "warning",
    "scattered-readings": "warning",
    "series-high-voltage": "warning",
    "series-near-empty": "warning",
    "short": "warning",
    "signs-of-failure": "warning",
    "skin-misleads": "warning",
    "small-difference": "warning",
    "source-below-floor": "warning",
    "source-fuse": "warning",
    "source-input-low": "warning",
    "source-low-cell": "warning",
    "starting-battery": "warning",
    "starved": "warning",
    "stored-high": "warning",
    "stored-low": "warning",
    "tenth-of-a-volt": "warning",
    "timer-cold": "warning",
    "timer-far": "warning",
    "too-heavy": "warning",
    "uneven-cells": "warning",
    "unlike-cells": "warning",
    "very-cold": "warning",
    "watch-limit": "warning",
    "watched-many": "warning",
    "weak-cell-first": "warning",
    "weak-peak": "warning",
    "alarm-gentle": "note",
    "carriage-cargo": "note",
    "carriage-unlike-lithium": "note",
    "cells-differ-little": "note",
    "cells-rose": "note",
    "cells-unseen": "note",
    "charger-setting": "note",
    "charging-place": "note",
    "extrapolated-curve": "note",
    "false-peak": "note",
    "fast-reading": "note",
    "fills-unevenly": "note",
    "flat-curve": "note",
    "group-settle-first": "note",
    "group-uneven": "note",
    "label-not-capacity": "note",
    "lamp-inrush": "note",
    "lead-kept-full": "note",
    "lead-returned": "note",
    "lead-time": "note",
    "leads-not-counted": "note",
    "level-by-voltage": "note",
    "limits-borrowed": "note",
    "limits-conflict": "note",
    "mass-close": "note",
    "much-left-behind": "note",
    "no-airflow": "note",
    "no-ampacity": "note",
    "no-cold-bath": "note",
    "no-headroom": "note",
    "older-pack": "note",
    "part-full": "note",
    "peukert-assumed": "note",
    "reading-as-method": "note",
    "reading-at-rest": "note",
    "resistance-assumed": "note",
    "resistance-kind": "note",
    "rest-first": "note",
    "same-warmth": "note",
    "short-burst": "note",
    "short-load": "note",
    "stall-measured": "note",
    "state-from-voltage": "note",
    "steady-draw": "note",
    "stored-safely": "note",
    "timer-full": "note",
    "timer-steady": "note",
    "unequal-durations": "note",
    "voltage-when-full": "note",
    "warm-when-full": "note",
    "within-reading": "note",
    "worn-pack": "note",
}
STAND_ON_ANY_DAY = {
    "alarm-gentle",
    "ask-before-joining",
    "board-fuse",
    "carriage-cargo",
    "carriage-rules",
    "carriage-spares",
    "charge-apart",
    "charger-setting",
    "charging-place",
    "extrapolated-curve",
    "false-peak",
    "fast-reading",
    "flat-curve",
    "label-not-capacity",
    "labels-overstate",
    "lamp-inrush",
    "lead-gas",
    "lead-gel",
    "lead-kept-full",
    "lead-time",
    "limits-borrowed",
    "limits-conflict",
    "load-burns",
    "main-leads-first",
    "mains",
    "never-alone",
    "no-airflow",
    "no-ampacity",
    "no-cold-bath",
    "no-direct-heat",
    "not-overnight",
    "one-program",
    "papers",
    "part-full",
    "peukert-assumed",
    "reading-as-method",
    "receiver-fails",
    "rest-first",
    "rise-alarm",
    "same-warmth",
    "series-high-voltage",
    "short-burst",
    "short-load",
    "signs-of-failure",
    "skin-misleads",
    "source-fuse",
    "stall-measured",
    "starting-battery",
    "state-from-voltage",
    "steady-draw",
    "stored-safely",
    "timer-full",
    "timer-steady",
    "voltage-when-full",
    "warm-when-full",
    "watched-discharge",
}


def declared() -> dict[str, str]:
    """Code and severity of every caution in the source, wherever its table stands."""
    found = re.compile(r'"([a-z0-9-]+)":\s*(?:#[^\n]*\n\s*)?\(\s*"(danger|warning|note)"')
    return {code: grave for path in SERVICE.rglob("*.py") for code, grave in found.findall(path.read_text("utf-8"))}


def test_every_caution_is_as_grave_as_was_decided() -> None:
    assert declared() == SEVERITY
    assert set(SEVERITY.values()) == set(GRAVITY)


def test_the_cautions_that_hold_on_any_day_are_these() -> None:
    files = [sys.modules[calculator.function.__module__] for calculator in registry().values()]
    standing = {code for file in files for code in getattr(file, "caution", caution).standing}
    assert standing == STAND_ON_ANY_DAY


def test_a_caution_has_one_home_and_is_there() -> None:
    with pytest.raises(TypeError, match="two cautions papers"):
        caution.beside({"papers": ("note", "Read them.")})
    with pytest.raises(TypeError, match="no caution paper"):
        caution.beside({}, standing={"paper"})


def test_a_caution_that_one_calculator_uses_stands_in_its_file() -> None:
    files = {path: path.read_text("utf-8") for path in SERVICE.rglob("*.py")}
    shared = next(text for path, text in files.items() if path.name == "cautions.py")
    for code in caution.table:
        users = [path for path, text in files.items() if f'"{code}"' in text and path.name != "cautions.py"]
        alone = len(users) == 1 and users[0].parent.name == "calculators" and shared.count(f'"{code}"') < 2
        assert not alone, (code, users)


@pytest.mark.parametrize("code", SEVERITY)
def test_every_caution_occurs_in_a_test(code: str) -> None:
    files = [path for path in TESTS.rglob("*") if path.suffix in (".py", ".json") and path != Path(__file__)]
    said = re.compile(rf'"{code}"')
    assert code in PAIRED or code in STANDS_AT or any(said.search(path.read_text("utf-8")) for path in files)


TRAINER = {"cells": 3, "capacity": "2250 mAh"}
AEROBAT = {"cells": 4, "capacity": "3700 mAh"}
GLIDER = {"cells": 3, "capacity": "1150 mAh"}
FIELD = {"source": {"chemistry": "lead", "cells": 6, "capacity": "38 Ah", "cell_resistance": "2.2 mΩ"}, **TRAINER}
JOINED = [
    {"cells": 3, "capacity": "2250 mAh", "cell_resistance": "8.5 mΩ", "cell_voltages": ["3.86 V", "3.86 V", "3.86 V"]},
    {"cells": 3, "capacity": "2250 mAh", "cell_resistance": "9 mΩ", "cell_voltages": ["3.86 V", "3.86 V", "3.86 V"]},
]
SPLIT = {"supply_rating": "180 W", "loads": ["60 W"]}

# code, calculator, a question that brings it up, what of it to change so that it does not
PAIRS: list[tuple[str, str, dict[str, Any], dict[str, Any]]] = [
    *[
        (
            "cold-load",
            name,
            {**TRAINER, "cell_resistance": "9 mΩ", **load, "temperature": "4 °C"},
            {"temperature": "13 °C"},
        )
        for name, load in (("sag", {"current": "23 A"}), ("endurance", {"current": "23 A"}), ("safe-draw", {}))
    ],
    ("cold-load", "sag", {**TRAINER, "current": "23 A", "temperature": "4 °C"}, {"chemistry": "lead"}),
    ("nickel-end", "wattage", {**TRAINER, "chemistry": "nimh"}, {"chemistry": "life"}),
    ("label-rate-doubtful", "charge-current", {**TRAINER, "rate": 12, "max_rate": 12}, {"rate": 2, "max_rate": 2}),
    ("chemistry-in-doubt", "charge-current", {**TRAINER, "cell_voltages": "3.3 V,3.31 V,3.3 V"}, {"chemistry": "life"}),
    *[
        (code, "charge-current", {"cells": 6, "capacity": "38 Ah", "chemistry": "lead"}, {"chemistry": "life"})
        for code in ("lead-gas", "lead-gel")
    ],
    (
        "lead-deep",
        "charge-current",
        {"cells": 6, "capacity": "38 Ah", "chemistry": "lead", "rest_voltage": "10.4 V"},
        {"rest_voltage": "11.6 V"},
    ),
    ("long-charge", "charge-current", {**TRAINER, "rate": 0.05}, {"rate": 0.2}),
    (
        "fills-unevenly",
        "charge-current",
        {**TRAINER, "cell_voltages": "3.77 V,3.79 V,3.77 V"},
        {"cell_voltages": "3.77 V,3.77 V,3.77 V"},
    ),
    (
        "cells-differ-little",
        "charge-current",
        {**TRAINER, "cell_voltages": "3.77 V,3.78 V,3.77 V"},
        {"cell_voltages": "3.77 V,3.80 V,3.77 V"},
    ),
    ("state-from-voltage", "charge-current", {**TRAINER, "rest_voltage": "11.31 V"}, {"rest_voltage": None}),
    (
        "state-from-voltage",
        "storage",
        {**TRAINER, "rest_voltage": "11.31 V"},
        {"rest_voltage": "9.9 V", "chemistry": "life"},
    ),
    (
        "dead-cell-load",
        "sag",
        {**TRAINER, "current": "23 A", "cell_voltages": "3.7 V,2.4 V,3.7 V"},
        {"cell_voltages": None},
    ),
    ("short-burst", "sag", {**TRAINER, "current": "23 A", "duration": "2 s"}, {"duration": "20 s"}),
    (
        "flight-too-warm",
        "endurance",
        {**AEROBAT, "current": "100 A", "temperature": "33 °C", "cell_resistance": "4.2 mΩ", "floor": "2.5 V"},
        {"current": "20 A"},
    ),
    ("no-airflow", "endurance", {**AEROBAT, "current": "48 A"}, {"cooling": "1 W/K"}),
    *[
        ("air-uncounted", name, {**GLIDER, **load, "ambient": "33 °C"}, change)
        for name, load in (
            ("endurance", {"current": "14 A"}),
            ("safe-draw", {"cell_resistance": "11 mΩ"}),
            ("charge-temperature", {"temperature": "13 °C"}),
        )
        for change in ({"temperature": "33 °C"}, {"cooling": "0.2 W/K"})
    ],
    (
        "cold-load",
        "flight-timer",
        {"flight_time": "7.5 min", "charge_returned": "1480 mAh", "capacity": "2250 mAh", "next_temperature": "4 °C"},
        {"next_temperature": "13 °C"},
    ),
    (
        "retired",
        "pack-fitness",
        {**TRAINER, "cell_resistance": "14 mΩ", "cell_voltages": "4.19 V,2.4 V,4.19 V"},
        {"cell_voltages": "4.19 V,4.19 V,4.19 V"},
    ),
    (
        "timer-cold",
        "flight-timer",
        {"flight_time": "5.33 min", "charge_returned": "2390 mAh", "capacity": "3700 mAh", "next_temperature": "-9 °C"},
        {"next_temperature": None},
    ),
    (
        "older-pack",
        "flight-timer",
        {"flight_time": "5.33 min", "charge_returned": "2390 mAh", "capacity": "3700 mAh", "capacity_left": 0.8},
        {"capacity_left": 1},
    ),
    (
        "worn-pack",
        "flight-timer",
        {"flight_time": "7.5 min", "charge_returned": "1480 mAh", "capacity": "2250 mAh", "capacity_left": 0.75},
        {"capacity_left": 0.8},
    ),
    ("cells-unseen", "charge-left", {"cells": 3, "rest_voltage": "11.31 V"}, {"cells": 1, "rest_voltage": "3.77 V"}),
    (
        "cells-unseen",
        "capacity-check",
        {"cells": 3, "charge_returned": "1480 mAh", "before": "11.31 V", "after": "12.6 V"},
        {"before": ["3.77 V"] * 3, "after": ["4.2 V"] * 3},
    ),
    (
        "cell-may-empty",
        "standing-loss",
        {
            "first_cell_voltages": "3.86,3.91,3.87 V",
            "second_cell_voltages": "3.86,3.89,3.87 V",
            "days": 10,
        },
        {"second_cell_voltages": "3.86,3.91,3.87 V"},
    ),
    (
        "discharge-hot",
        "storage",
        {**TRAINER, "rest_voltage": "12.6 V", "temperature": "65 °C"},
        {"temperature": "33 °C"},
    ),
    (
        "join-empties",
        "parallel-join",
        {
            "packs": [
                {"chemistry": "lead", "capacity": "12 Ah", "cell_voltages": ["2.02 V", "2.02 V", "1.955 V"]},
                {"chemistry": "lead", "capacity": "38 Ah", "cell_voltages": ["1.96 V"] * 3},
            ]
        },
        {"packs": JOINED},
    ),
    (
        "join-cells-apart",
        "parallel-join",
        {
            "packs": [
                {**JOINED[0], "cell_voltages": ["3.94 V", "3.86 V", "3.86 V"]},
                {**JOINED[1], "cell_voltages": ["3.83 V", "3.9 V", "3.9 V"]},
            ]
        },
        {
            "packs": [
                {**JOINED[0], "cell_voltages": ["3.92 V", "3.86 V", "3.86 V"]},
                {**JOINED[1], "cell_voltages": ["3.83 V", "3.9 V", "3.9 V"]},
            ]
        },
    ),
    (
        "join-hard",
        "parallel-join",
        {"packs": [{**JOINED[0], "cell_voltages": ["3.86 V"] * 3}, {**JOINED[1], "cell_voltages": ["3.9 V"] * 3}]},
        {"packs": [{**JOINED[0], "cell_voltages": ["3.86 V"] * 3}, {**JOINED[1], "cell_voltages": ["3.87 V"] * 3}]},
    ),
    ("deep-use", "field-energy", {**FIELD, "depth": 0.8}, {"depth": 0.4}),
    ("starting-battery", "field-energy", FIELD, {"source": {"cells": 4, "capacity": "3700 mAh"}}),
    (
        "source-low-cell",
        "field-energy",
        {**FIELD, "source": {"cells": 6, "capacity": "4900 mAh", "cell_resistance": "2.6 mΩ"}, "depth": 1},
        {"depth": 0.3},
    ),
    ("dead-cell-load", "field-energy", {**FIELD, "source": {**FIELD["source"], "rest_voltage": "9 V"}}, FIELD),
]
PAIRED = {code for code, *_ in PAIRS}


@pytest.mark.parametrize(("code", "calculator", "question", "change"), PAIRS, ids=[f"{c}-{n}" for c, n, *_ in PAIRS])
def test_a_caution_is_said_where_it_belongs_and_not_beside_it(
    code: str, calculator: str, question: dict[str, Any], change: dict[str, Any]
) -> None:
    assert code in cautions(calculator, **question)
    assert code not in cautions(calculator, **{**question, **change})


CHARGING = {
    "charge-current",
    "charge-session",
    "charge-temperature",
    "field-energy",
    "group-charge",
    "nickel-charge",
    "parallel-join",
    "storage",
    "supply-split",
    "wattage",
}
STANDS_AT = {
    "alarm-gentle": {"alarm-voltage"},
    "charger-setting": CHARGING,
    "charging-place": CHARGING,
    "mains": {"supply-split"},
    "no-airflow": {"endurance"},
    "not-overnight": {"charge-session"},
    "one-program": {"group-charge"},
    "short-load": {"load-test"},
    "source-fuse": {"field-energy"},
    "starting-battery": {"field-energy"},
    "steady-draw": {"pack-fitness", "safe-draw"},
    "stored-safely": {"storage"},
    "timer-steady": {"flight-timer"},
    "never-alone": CHARGING | {"balance-need", "capacity-check", "charge-left"},
    "signs-of-failure": CHARGING,
    "papers": CHARGING | {"balance-need", "capacity-check"},
}


@pytest.fixture(scope="module")
def said_in_examples() -> dict[str, set[str]]:
    """By calculator, the codes of every caution that its examples bring up."""
    return {
        name: {
            entry["code"]
            for example in calculator.examples
            for entry in client().post(f"/v1/{name}", json=dict(example)).get_json()["cautions"]
        }
        for name, calculator in registry().items()
    }


@pytest.mark.parametrize("code", STANDS_AT)
def test_a_caution_of_any_day_is_said_by_these_calculators_and_no_other(
    code: str, said_in_examples: dict[str, set[str]]
) -> None:
    assert {name for name, codes in said_in_examples.items() if code in codes} == STANDS_AT[code]


LEVEL = {"cells": 3, "capacity": "2250 mAh", "state_of_charge": 0.4}
SWOLLEN = {**LEVEL, "condition": "swollen"}


@pytest.mark.parametrize(
    "calculator", ["parallel-join", "group-charge", "series-join", "match-packs", "charge-session"]
)
def test_a_caution_of_one_pack_among_several_says_whose_it_is(calculator: str) -> None:
    # Common practice, no published source: whoever reads "this pack" beside a box of packs must know which.
    packs = [{**LEVEL, "name": "red trainer A"}, {**SWOLLEN, "name": "grey tug"}, {**SWOLLEN, "name": "red trainer B"}]
    others: dict[str, dict[str, Any]] = {
        "charge-session": {"chargers": [{"outputs": 1, "current_limit": "5 A"}], "supply_rating": "180 W"},
        "series-join": {"current": "23 A"},
    }
    more = others.get(calculator, {})

    def said(of: list[dict[str, Any]]) -> str:
        return next(
            entry["text"] for entry in reply(calculator, packs=of, **more)["cautions"] if entry["code"] == "swollen"
        )

    assert said(packs).startswith("Grey tug and red trainer B: A swollen pack")
    assert said(packs[1:]).startswith("A swollen pack")
    # Two of one name are two packs all the same.
    assert said([packs[0], packs[1], packs[1]]).startswith("Grey tug")

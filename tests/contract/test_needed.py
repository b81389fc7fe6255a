"""Which value of an input makes it so: confirmed by asking forward, in range, and said where there is none."""

import itertools
import re
import sys
from typing import Any
from urllib.parse import urlencode

import pytest
from flask.testing import FlaskClient

from ampstead.calculators import registry
from ampstead.declare import Choice, Flag, Quantity, Result
from ampstead.replying.beyond.spoken import clause
from ampstead.replying.local import embedded

TRAINER = {"cells": "3", "capacity": "2250 mAh"}
AEROBAT = {"cells": "4", "capacity": "3700 mAh", "cell_resistance": "4.2 mohm"}


def asked(calculator: str, **question: Any) -> dict[str, Any]:
    status, document = embedded(f"{calculator}/needed", question)
    assert status == 200, document
    made: dict[str, Any] = document
    return made


def answer(calculator: str, **question: Any) -> dict[str, Any]:
    status, document = embedded(calculator, question)
    assert status == 200, document
    results: dict[str, Any] = document["answer"]
    return results


FITS = {**TRAINER, "rate": "1", "result": "fits", "input": "available_power"}


def test_every_way_to_ask_gives_the_same(http: FlaskClient) -> None:
    got = http.get(f"/v1/wattage/needed?{urlencode(FITS)}")
    assert got.status_code == 200
    assert http.post("/v1/wattage/needed", json=FITS).json == got.json == asked("wattage", **FITS)
    spoken = http.get(f"/v1/wattage/needed.txt?{urlencode(FITS)}")
    assert spoken.headers["Content-Type"] == "text/plain; charset=utf-8"
    assert spoken.text.startswith("Power at hand at least 33.4 watts: then this charge fits.")
    assert embedded("wattage/needed", FITS, ".txt") == (200, spoken.data)


def test_the_supply_needed_is_the_power_drawn() -> None:
    # 12.6 V × 2.25 A / 0.85 (OpenStax University Physics vol. 2, ch. 9.5: P = U·I).
    told = asked("wattage", **FITS)
    assert told["value"]["value"] == pytest.approx(12.6 * 2.25 / 0.85, rel=1e-7)
    assert told["bound"] == "at least"
    assert told["forward"]["answer"]["fits"] is True
    assert answer("wattage", **TRAINER, rate="1", available_power=told["value"])["fits"] is True
    less = {"value": told["value"]["value"] * (1 - 1e-6), "unit": "W"}
    assert answer("wattage", **TRAINER, rate="1", available_power=less)["fits"] is False


WORDS = [
    (name, result)
    for name, calculator in registry().items()
    for result in calculator.results.values()
    if isinstance(result.spec, Flag | Choice) and not result.many and not result.item
]


@pytest.mark.parametrize(("name", "result"), WORDS, ids=[f"{name}-{result.name}" for name, result in WORDS])
def test_a_yes_or_no_or_a_word_is_said_as_a_person_would(name: str, result: Result) -> None:
    values = result.spec.options if isinstance(result.spec, Choice) else (True, False)
    said = [clause(result, value) for value in values]
    assert len(set(said)) == len(values)
    for each in said:
        assert len(each.split()) >= 3, each
        assert not re.search(r"true|false|_|None|by is", each), each


EDGES: list[tuple[str, dict[str, Any], str, str, Any]] = [
    ("wattage", {**TRAINER, "available_power": "30 W"}, "fits", "rate", None),
    ("sag", AEROBAT, "holds", "current", None),
    ("sag", {**AEROBAT, "current": "48 A"}, "holds", "temperature", None),
    ("sag", {"cells": "4", "capacity": "3700 mAh", "current": "48 A"}, "holds", "cell_resistance", None),
    ("charge-left", {"cells": "4"}, "flies", "rest_voltage", None),
    ("charge-temperature", {"temperature": "5 degC"}, "allowed", "temperature", None),
    ("supply-split", {"loads": "45 W,90 W,60 W"}, "fits", "supply_rating", None),
    (
        "receiver-time",
        {"chemistry": "life", "cells": "2", "servos": "4", "servo_current": "1.1 A", "time_planned": "20 min"},
        "verdict",
        "capacity",
        "go",
    ),
]


@pytest.mark.parametrize(("calculator", "question", "result", "entry", "target"), EDGES)
def test_a_wish_is_met_at_the_edge_and_not_beyond_it(
    calculator: str, question: dict[str, Any], result: str, entry: str, target: Any
) -> None:
    told = asked(calculator, **question, result=result, input=entry, target=target)
    wanted = True if target is None else target
    unit = {"unit": told["value"]["unit"]} if isinstance(told["value"], dict) else {}
    edge = told["value"]["value"] if unit else told["value"]

    def there(value: float) -> Any:
        status, document = embedded(calculator, {**question, entry: {"value": value, **unit} if unit else value})
        return document["answer"][result] if status == 200 else None

    assert there(edge) == wanted == told["forward"]["answer"][result]
    step = 1e-5 * max(abs(edge), 1.0)
    assert there(edge + (step if told["bound"] == "at most" else -step)) != wanted
    if told["until"] is not None:
        last = told["until"]["value"] if unit else told["until"]
        assert there(last) == wanted
        assert there(last + step) != wanted


NUMBERS: list[tuple[str, dict[str, Any], str, str, str]] = [
    ("lead-loss", {"gauge": "16 AWG", "current": "23 A"}, "drop", "length", "100 mV"),
    ("endurance", {"cells": "4", "current": "23 A"}, "time_flight", "capacity", "6 min"),
    ("charge-current", {"cells": "4", "capacity": "3700 mAh"}, "time_total", "rate", "40 min"),
    ("flight-timer", {"charge_returned": "1480 mAh", "capacity": "2250 mAh"}, "timer", "flight_time", "8 min"),
]


@pytest.mark.parametrize(("calculator", "question", "result", "entry", "target"), NUMBERS)
def test_a_number_comes_to_its_target(
    calculator: str, question: dict[str, Any], result: str, entry: str, target: str
) -> None:
    told = asked(calculator, **question, result=result, input=entry, target=target)
    assert told["bound"] == "exactly"
    forward = answer(calculator, **question, **{entry: told["value"]})
    assert forward == told["forward"]["answer"]
    assert forward[result]["value"] == pytest.approx(told["target"]["value"], rel=1e-6)


def test_a_number_that_goes_in_steps_is_taken_past_its_target() -> None:
    told = asked("wattage", capacity="2250 mAh", result="supply_power", target="50 W", input="cells")
    assert told["value"] == 5
    assert told["forward"]["answer"]["supply_power"]["value"] > 50
    assert answer("wattage", capacity="2250 mAh", cells=4)["supply_power"]["value"] < 50
    assert "steps to" in told["sentence"]


def test_nothing_in_range_is_said(http: FlaskClient) -> None:
    told = asked("wattage", **TRAINER, result="supply_power", target="5 MW", input="rate")
    assert (told["value"], told["bound"], told["forward"]) == (None, None, None)
    assert told["sentence"].startswith("No charge rate in the range asked")
    assert told["reached"]["high"]["value"] < 5e6
    cold = asked("charge-temperature", temperature="-10 degC", condition="swollen", result="allowed", input="current")
    assert cold["value"] is None


def test_what_holds_everywhere_is_said() -> None:
    told = asked("wattage", **TRAINER, available_power="180 W", result="fits", input="headroom")
    assert told["bound"] == "any"
    assert told["forward"]["answer"]["fits"] is True


def test_all_that_is_wrong_is_told_at_once(http: FlaskClient) -> None:
    wrong = {"cells": "x", "result": "fit", "input": "chemistry", "foo": "1"}
    reply = http.get(f"/v1/wattage/needed?{urlencode(wrong)}")
    assert reply.status_code == 422
    assert {(error["field"], error["code"]) for error in reply.json["errors"]} == {
        ("result", "not_one_of"),
        ("input", "not_one_of"),
        ("cells", "not_a_number"),
        ("foo", "unknown"),
    }
    assert "did you mean fits?" in reply.text
    bare = http.get("/v1/wattage/needed").json["errors"]
    assert {(error["field"], error["code"]) for error in bare} == {("result", "missing"), ("input", "missing")}
    unit = http.post("/v1/wattage/needed", json={**TRAINER, "result": "supply_power", "input": "rate", "target": 50})
    assert [(error["field"], error["code"]) for error in unit.json["errors"]] == [("target", "unit_missing")]
    both = http.post("/v1/wattage/needed", json={**TRAINER, "current": "1 A", "result": "fits", "input": "rate"})
    assert {error["code"] for error in both.json["errors"]} == {"conflict"}
    assert http.get("/v1/watage/needed").status_code == 404


@pytest.mark.parametrize("name", registry())
def test_no_search_asks_without_end_and_none_fails(name: str) -> None:
    calculator = registry()[name]
    example = dict(calculator.examples[0])
    numbers = [entry for entry in calculator.inputs.values() if entry.one and isinstance(entry.spec, Quantity)]
    result = next((each for each in calculator.results.values() if not (each.many or each.item)), None)
    assert result is not None
    if not numbers:
        status, told = embedded(f"{name}/needed", example)
        assert status == 422
        assert {error["field"] for error in told["errors"]} == {"result", "input"}
        return
    status, document = embedded(name, example)
    target = document["answer"][result.name]
    given = next((entry for entry in numbers if entry.name in example), numbers[0])
    asking = {**example, "result": result.name, "input": given.name, "target": target}
    status, told = embedded(f"{name}/needed", asking)
    assert status == 200 or {error["code"] for error in told["errors"]} <= {"conflict", "missing"}, told
    if status == 200:
        assert told["questions"] <= 300
        if told["value"] is not None:
            assert told["forward"]["question"][given.name] == told["value"]


@pytest.mark.parametrize("name", ["wattage", "group-charge"])
def test_a_machine_that_is_slow_today_answers_the_same(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    question = {**TRAINER, "rate": "1", "result": "fits", "input": "available_power"}
    if name == "group-charge":
        packs = [{**TRAINER, "rest_voltage": f"{volts} V"} for volts in (11.31, 11.34)]
        question = {"packs": packs, "result": "time_total", "input": "charger_current_limit", "target": "60 min"}
    told = asked(name, **question)
    assert told["value"] is not None
    hours = itertools.count(0, 3600)
    monkeypatch.setattr("time.monotonic", lambda: next(hours))
    searching = sys.modules["ampstead.replying.beyond.needed"]
    monkeypatch.setattr(searching, "monotonic", lambda: next(hours), raising=False)
    assert asked(name, **question) == told

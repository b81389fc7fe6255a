"""What to measure next: each assumed input at its edges; and bands that hold what those edges allow."""

import random
import re
from functools import cache
from typing import Any
from urllib.parse import urlencode

import pytest
from flask.testing import FlaskClient
from profiles import count

from ampstead.calculators import registry
from ampstead.judging.doubts import PLAUSIBLE
from ampstead.replying.local import embedded

CALCULATORS = registry()
AEROBAT = {"cells": "4", "capacity": "3700 mAh"}
SAG = {**AEROBAT, "current": "48 A"}


def asked(calculator: str, **question: Any) -> dict[str, Any]:
    status, document = embedded(f"{calculator}/doubt", question)
    assert status == 200, document
    made: dict[str, Any] = document
    return made


@cache
def of_example(calculator: str) -> dict[str, Any]:
    """The doubts of a calculator's first example, asked once: some take a second."""
    return asked(calculator, **dict(CALCULATORS[calculator].examples[0]))


def answered(calculator: str, question: dict[str, Any]) -> dict[str, Any]:
    status, document = embedded(calculator, question)
    assert status == 200, document
    made: dict[str, Any] = document
    return made


def placed(question: dict[str, Any], name: str, value: Any) -> dict[str, Any]:
    """The question with one input put in, of the question itself or of one of the things nested in it."""
    nested = re.fullmatch(r"(\w+)(?:\[(\d+)\])?\.(\w+)", name)
    if nested is None:
        return {**question, name: value}
    of, place, inner = nested.groups()
    if place is None:
        return {**question, of: {**question[of], inner: value}}
    several = list(question[of])
    several[int(place)] = {**several[int(place)], inner: value}
    return {**question, of: several}


def size(value: Any) -> float:
    return float(value["value"] if isinstance(value, dict) else value)


def test_every_way_to_ask_gives_the_same(http: FlaskClient) -> None:
    got = http.get(f"/v1/sag/doubt?{urlencode(SAG)}")
    assert got.status_code == 200
    assert http.post("/v1/sag/doubt", json=SAG).json == got.json == asked("sag", **SAG)
    spoken = http.get(f"/v1/sag/doubt.txt?{urlencode(SAG)}")
    assert spoken.headers["Content-Type"] == "text/plain; charset=utf-8"
    assert spoken.text.startswith(str(got.json["sentence"]))


def test_the_sentence_names_the_widest_doubt() -> None:
    told = asked("sag", **SAG)
    assert told["result"] == "loaded_voltage"
    assert told["doubts"][0]["input"] == "cell_resistance"
    assert told["sentence"].startswith("Measure the cell resistance: it moves the loaded voltage between ")
    widths = [size(each["high"]) - size(each["low"]) for each in told["doubts"]]
    assert widths == sorted(widths, reverse=True)
    assert widths[0] > 0


@pytest.mark.parametrize("name", CALCULATORS)
def test_each_edge_asked_forward_gives_what_was_said(name: str) -> None:
    question = dict(CALCULATORS[name].examples[0])
    alone, told = answered(name, question), of_example(name)
    assert told["value"] == alone["answer"][told["result"]]
    doubted = {each["input"] for each in told["doubts"]}
    doubtful = {each for each in alone["assumed"] if each.rpartition(".")[2] in PLAUSIBLE}
    # An exponent goes with lead-acid alone, and packs in series or on a board share one time.
    refusable = {each for each in doubtful if each == "peukert" or each.endswith("].polarisation_time")}
    assert not doubted & set(told["unasked"])
    assert doubted <= doubtful
    assert doubtful - doubted - set(told["unasked"]) <= refusable
    for each in told["doubts"]:
        ends = [
            answered(name, placed(question, each["input"], edge))["answer"][told["result"]]
            for edge in (each["from"], each["to"])
        ]
        if isinstance(told["value"], dict | float | int) and not isinstance(told["value"], bool):
            sizes = [size(value) for value in (*ends, told["value"]) if value is not None]
            if each["low"] is not None:
                assert size(each["low"]) == pytest.approx(min(sizes), rel=1e-6, abs=1e-9)
            assert size(each["high"]) == pytest.approx(max(sizes), rel=1e-6, abs=1e-9)
        else:
            assert each["high"] == ends[1]


TRAINER = {"cells": 3, "capacity": "2250 mAh"}
SERIES: dict[str, Any] = {"current": "23 A", "packs": [{**TRAINER, "cell_resistance": "8.5 mohm"}, TRAINER]}


def test_of_several_packs_each_is_doubted_by_itself_and_named() -> None:
    told = asked("series-join", **SERIES, result="loaded_voltage")
    assert told["doubts"][0]["input"] == "packs[1].cell_resistance"
    assert told["sentence"].startswith("Measure the cell resistance of pack 2: it moves the loaded voltage between ")
    inputs = {each["input"] for each in told["doubts"]}
    assert {"packs[0].temperature", "packs[1].temperature", "lead_resistance"} <= inputs
    assert "packs[0].cell_resistance" not in inputs
    named = {**SERIES, "packs": [SERIES["packs"][0], {**TRAINER, "name": "red trainer B"}]}
    assert "cell resistance of red trainer B: " in asked("series-join", **named, result="loaded_voltage")["sentence"]


def test_packs_told_in_an_address_are_doubted_like_those_of_a_body(http: FlaskClient) -> None:
    flat = {
        f"packs[{place}].{name}": value for place, pack in enumerate(SERIES["packs"]) for name, value in pack.items()
    }
    got = http.get(f"/v1/series-join/doubt?{urlencode({**flat, 'current': '23 A', 'result': 'loaded_voltage'})}")
    assert got.json == asked("series-join", **SERIES, result="loaded_voltage")


def test_a_nested_source_is_doubted_and_bare_figures_are_not() -> None:
    source = {"chemistry": "life", "cells": 4, "capacity": "20 Ah"}
    told = asked("field-energy", source=source, **TRAINER, result="usable_energy")
    resistance = next(each for each in told["doubts"] if each["input"] == "source.cell_resistance")
    assert resistance["to"]["value"] == pytest.approx(4 * resistance["from"]["value"])
    assert asked("supply-split", supply_rating="180 W", loads="45 W,90 W")["doubts"] == []


def test_with_too_many_packs_what_moves_most_is_asked_first_and_the_rest_is_named() -> None:
    pack = {**TRAINER, "rest_voltage": "11.31 V"}
    told = asked("parallel-join", packs=[pack] * 12, result="peak_rate")
    assert {each["input"] for each in told["doubts"]} >= {f"packs[{place}].cell_resistance" for place in range(12)}
    assert len(told["doubts"]) == 40
    assert len(told["unasked"]) == 12 * 5 + 1 - 40
    assert not any("cell_resistance" in name or name.endswith(".temperature") for name in told["unasked"])


def test_another_result_may_be_asked_for() -> None:
    told = asked("sag", **SAG, result="heat")
    assert told["result"] == "heat"
    assert told["value"]["unit"] == "W"
    words = asked("pack-fitness", **AEROBAT, cell_resistance="4.2 mohm", result="verdict")
    assert words["value"] == "flight"


def test_what_is_told_is_not_doubted() -> None:
    told = asked("sag", **SAG, cell_resistance="4.2 mohm", temperature="13 degC")
    assert not {"cell_resistance", "temperature"} & {each["input"] for each in told["doubts"]}
    assert asked("wattage", **AEROBAT, efficiency="0.9")["sentence"].startswith("Nothing that was assumed moves")


def test_all_that_is_wrong_is_told_at_once(http: FlaskClient) -> None:
    reply = http.get("/v1/sag/doubt?cells=x&current=5A&result=heet&foo=1")
    assert reply.status_code == 422
    assert {(error["field"], error["code"]) for error in reply.json["errors"]} >= {
        ("result", "not_one_of"),
        ("cells", "not_a_number"),
        ("foo", "unknown"),
    }
    assert "did you mean heat?" in reply.text
    assert http.get("/v1/sga/doubt").status_code == 404


def test_every_range_holds_what_is_taken_and_says_its_source() -> None:
    for name in CALCULATORS:
        for each in of_example(name)["doubts"]:
            low, taken, high = (each[end] for end in ("from", "taken", "to"))
            if isinstance(low, list):
                continue
            assert size(low) <= size(taken) * (1 + 1e-9), (name, each)
            assert size(taken) <= size(high) * (1 + 1e-9), (name, each)
            assert len(each["source"]) > 10


COUNTED = {(name, doubted) for name in ("cool-down", "warm-up") for doubted in ("cooling", "cell_mass")}
"""Doubts that the bands of these calculators alone count; elsewhere they are taken on the safe side."""
UNTOLD = ("cell_resistance", "pack_resistance", "source_cell_resistance", "polarisation_resistance", "efficiency",
          "capacity_left", "cell_mass", "cooling", "idle_current", "duty", "conductor_temperature",
          "peukert")  # fmt: skip
RESISTANCES = ("cell_resistance", "polarisation_resistance", "polarisation_time")
SET_ANEW = {("group-charge", name) for name in RESISTANCES}
"""Doubts for which another current would be advised when asked anew; the bands are of the current that was."""


def counted(name: str, doubted: str) -> bool:
    """Whether the bands of a calculator count a doubt, by the name of its input."""
    inner = doubted.rpartition(".")[2]
    if inner not in PLAUSIBLE or (name, inner) in SET_ANEW:
        return False
    return PLAUSIBLE[inner].banded or (name, inner) in COUNTED


def times(name: str) -> int:
    """How many draws: fewer where an answer takes many milliseconds, and then none may lie outside."""
    most = CALCULATORS[name].most
    return count(2, 12) if not most else count(4, 20) if most < 100 else count(8, 40) if most <= 250 else count(20, 100)


def untold(question: dict[str, Any]) -> dict[str, Any]:
    """The question with all left out that may be assumed and doubted, in nested things too."""
    made = {name: value for name, value in question.items() if name not in UNTOLD}
    for name, value in made.items():
        if isinstance(value, list) and isinstance(value[0], dict):
            made[name] = [untold(each) for each in value]
        elif isinstance(value, dict) and "unit" not in value:
            made[name] = untold(value)
    return made


def asked_about() -> list[tuple[str, dict[str, Any]]]:
    """Questions that have bands: of every calculator its examples, as they are and with little told."""
    made: list[tuple[str, dict[str, Any]]] = []
    for name, calculator in CALCULATORS.items():
        for example in calculator.examples if calculator.most else calculator.examples[:1]:
            for question in (dict(example), untold(example)):
                status, document = embedded(name, question)
                if status == 200 and document["accuracy"] and (name, question) not in made:
                    made.append((name, question))
    return made


def drawn(low: Any, high: Any, part: float) -> Any:
    """A value between two, or one for each cell between two lists."""
    if isinstance(low, list):
        return [drawn(*ends, part) for ends in zip(low, high, strict=True)]
    value = size(low) + part * (size(high) - size(low))
    return {**low, "value": value} if isinstance(low, dict) else value


def held(band: dict[str, Any], value: Any) -> bool:
    """Whether a band holds a result; what cannot be had at all lies at its lower end where that is nothing."""
    if value is None:
        return size(band["low"]) == 0
    return size(band["low"]) * (1 - 1e-9) - 1e-9 <= size(value) <= size(band["high"]) * (1 + 1e-9) + 1e-9


ASKED = asked_about()


@pytest.mark.parametrize(("name", "question"), ASKED, ids=[f"{name}-{place}" for place, (name, _) in enumerate(ASKED)])
def test_ninety_five_of_a_hundred_draws_over_the_doubts_lie_within_the_bands(
    name: str, question: dict[str, Any]
) -> None:
    # Of each doubt that bands count, evenly between its edges, each by itself: Monte Carlo as JCGM 101:2008 has it.
    draw = random.Random(f"{name}{sorted(question)}")
    bands = answered(name, question)["accuracy"]
    doubts = [each for each in asked(name, **question, result=bands[0]["of"])["doubts"] if counted(name, each["input"])]
    within = dict.fromkeys((band["of"] for band in bands), 0)
    for _ in range(times(name) if doubts else 0):
        told = question
        for each in doubts:
            told = placed(told, each["input"], drawn(each["from"], each["to"], draw.random()))
        results = answered(name, told)["answer"]
        for band in bands:
            within[band["of"]] += held(band, results[band["of"]])
    for band in bands if doubts else ():
        assert within[band["of"]] >= 0.95 * times(name), (within, band, [each["input"] for each in doubts])


TOLD_ALL = {"balance-need", "capacity-check", "carriage", "charge-left", "counted-discharge", "load-test",
            "nickel-charge", "standing-loss"}  # fmt: skip
"""Their bands rest on readings, counts and labels that were told."""


def test_every_calculator_with_a_band_is_drawn_and_most_with_doubts() -> None:
    named = {name for name, _ in ASKED}
    with_bands = {name for name, calculator in CALCULATORS.items() if calculator.accuracy is not None}
    assert named == with_bands
    doubtful = {
        name for name, question in ASKED if any(counted(name, each) for each in answered(name, question)["assumed"])
    }
    assert named - doubtful == TOLD_ALL


def test_results_are_called_as_people_call_them_and_short_times_keep_their_seconds(http: FlaskClient) -> None:
    told = http.get("/v1/endurance/doubt?cells=3&capacity=2250mAh&current=20A").get_json()["sentence"]
    assert re.search(r"it moves the flight time between \d minutes and (15|30|45) seconds and \d minutes", told), told
    nothing = http.get("/v1/charge-left/doubt?cells=4&rest_voltage=15.07V").get_json()["sentence"]
    assert nothing == "Nothing that was assumed changes whether it may fly again uncharged."

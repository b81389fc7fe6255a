"""Contract, sections 1 to 3: how a question may be written, and what stands around its results."""

import json
import re
from collections.abc import Iterator, Mapping
from typing import Any

import pytest
from flask.testing import FlaskClient

from ampstead.calculators import registry
from ampstead.declare import NOTHING, Calculator, Derived, Input, OneOf, Quantity
from ampstead.replying.writers import shown

CALCULATORS = registry()
SEVERITIES = ["danger", "warning", "note"]
KEYS = ["calculator", "version", "question", "assumed", "answer", "accuracy", "sentence", "cautions", "sources"]
UNSPOKEN = re.compile(
    r"[°Ωμµ²·×÷±≤≥→/\\|_=+*<>{}\[\]~^%&#@$€…–—]|\b(?:mAh|Ah|mV|mΩ|Wh|NaN|None|nan|inf|null)\b|\d[eE][+-]?\d"
)
CHARGING = {"charge-current", "wattage"}
EXAMPLES = [
    pytest.param(calculator, example, id=f"{name}-{place}")
    for name, calculator in CALCULATORS.items()
    for place, example in enumerate(calculator.examples, 1)
]
each_example = pytest.mark.parametrize(("calculator", "example"), EXAMPLES)


def asked(http: FlaskClient, calculator: str, question: Mapping[str, Any]) -> dict[str, Any]:
    reply = http.post(f"/v1/{calculator}", json=question)
    assert reply.status_code == 200, reply.text
    document: dict[str, Any] = json.loads(reply.data)
    return document


def in_a_query(question: Mapping[str, Any]) -> bool:
    return all(isinstance(value, str | int | float) for value in question.values())


def nested(name: str) -> bool:
    return "[" in name or "." in name


def suffixes(calculator: Calculator) -> tuple[str, ...]:
    return ("", ".txt", *calculator.forms)


@each_example
def test_every_key_is_there_and_the_question_is_as_read(
    calculator: Calculator, example: Mapping[str, Any], http: FlaskClient
) -> None:
    document = asked(http, calculator.name, example)
    assert list(document) == KEYS
    assert document["calculator"] == calculator.name
    assert document["version"] == json.loads(http.get("/version").data)["version"]
    assert set(document["question"]) == set(example)
    assert list(document["answer"]) == list(calculator.results)
    assert document["sources"]
    for name, value in document["answer"].items():
        assert calculator.results[name].nullable or value is not None, name


@each_example
def test_a_question_as_read_is_read_again_to_the_same_answer(
    calculator: Calculator, example: Mapping[str, Any], http: FlaskClient
) -> None:
    first = asked(http, calculator.name, example)
    again = asked(http, calculator.name, first["question"])
    assert again["answer"] == pytest_approx(first["answer"])
    assert again["question"] == pytest_approx(first["question"])


@each_example
def test_what_was_assumed_may_be_given_without_changing_the_answer(
    calculator: Calculator, example: Mapping[str, Any], http: FlaskClient
) -> None:
    first = asked(http, calculator.name, example)
    flat = {name: value for name, value in first["assumed"].items() if not nested(name)}
    again = asked(http, calculator.name, {**example, **flat})
    assert again["answer"] == pytest_approx(first["answer"])
    assert {name for name in again["assumed"] if not nested(name)} == set()


def pytest_approx(value: Any) -> Any:
    """The same document with its numbers approximate, for values that went through a unit and back."""
    if isinstance(value, dict):
        return {name: pytest_approx(inner) for name, inner in value.items()}
    if isinstance(value, list):
        return [pytest_approx(inner) for inner in value]
    return pytest.approx(value, rel=1e-9, abs=1e-9) if isinstance(value, float) else value


@each_example
def test_assumed_holds_every_default_that_was_used_and_nothing_else(
    calculator: Calculator, example: Mapping[str, Any], http: FlaskClient
) -> None:
    assumed = asked(http, calculator.name, example)["assumed"]
    rest = {name: value for name, value in assumed.items() if not nested(name)}
    assert not rest.keys() & example.keys()
    for name, entry in calculator.inputs.items():
        if name in example or ruled_out(name, calculator.rules, example):
            assert name not in rest, name
        elif entry.default is NOTHING:
            assert name not in rest, f"{name} has no default"
        elif not isinstance(entry.default, Derived):
            assert rest.get(name) == shown(entry, entry.default), name
        if name in rest and isinstance(entry.spec, Quantity):
            values = rest[name] if isinstance(rest[name], list) else [rest[name]]
            assert {value["unit"] for value in values} == {entry.spec.unit}
    for name in assumed.keys() - rest.keys():
        place = re.fullmatch(r"(\w+)(?:\[\d+\])?\.(\w+)", name)
        assert place, name
        inner = calculator.inputs[place[1]].item
        assert inner is not None
        assert inner.inputs[place[2]].default is not NOTHING


def ruled_out(name: str, rules: tuple[OneOf, ...], given: Mapping[str, Any]) -> bool:
    return any(name in rule.names and given.keys() & set(rule.names) for rule in rules)


@each_example
def test_cautions_are_ranked_and_bands_are_of_results(
    calculator: Calculator, example: Mapping[str, Any], http: FlaskClient
) -> None:
    document = asked(http, calculator.name, example)
    ranks = [(SEVERITIES.index(entry["severity"]), entry["standing"]) for entry in document["cautions"]]
    assert ranks == sorted(ranks)
    codes = [entry["code"] for entry in document["cautions"]]
    assert len(codes) == len(set(codes)) or "starved" in codes or "short" in codes
    for entry in document["cautions"]:
        assert re.fullmatch(r"[A-Z].*[.!]", entry["text"]), entry
        assert not UNSPOKEN.search(entry["text"]), entry
    for band in document["accuracy"]:
        value, unit = document["answer"][band["of"]], calculator.results[band["of"]].spec
        edges = [band["low"], band["high"]]
        if isinstance(unit, Quantity):
            assert {edge["unit"] for edge in edges} == {unit.unit}
            edges, value = [edge["value"] for edge in edges], value["value"]
        assert edges[0] < edges[1], band
        assert band["basis"]


@each_example
def test_sentences_can_be_spoken(calculator: Calculator, example: Mapping[str, Any], http: FlaskClient) -> None:
    document = asked(http, calculator.name, example)
    said = document["sentence"]
    assert said.isascii()
    assert said.isprintable()
    assert re.fullmatch(r"[A-Z0-9].*\.", said)
    assert not UNSPOKEN.search(said), said
    assert len(re.findall(r"[.!?](?:\s|$)", said)) <= 2, said
    spoken = http.post(f"/v1/{calculator.name}.txt", json=example)
    assert spoken.headers["Content-Type"] == "text/plain; charset=utf-8"
    particular = [entry["text"] for entry in document["cautions"] if not entry["standing"]]
    gravest = particular or [entry["text"] for entry in document["cautions"]]
    assert spoken.text == " ".join([said, *gravest[:1]]) + "\n"


@each_example
def test_a_nested_question_as_text_in_an_address_is_refused_rather_than_guessed(
    calculator: Calculator, example: Mapping[str, Any], http: FlaskClient
) -> None:
    if not in_a_query(example):
        offered = http.options(f"/v1/{calculator.name}").headers["Allow"]
        reply = http.get(f"/v1/{calculator.name}", query_string={name: str(value) for name, value in example.items()})
        assert reply.status_code == (422 if "GET" in offered else 405)


@each_example
def test_null_and_empty_text_count_as_not_given(
    calculator: Calculator, example: Mapping[str, Any], http: FlaskClient
) -> None:
    first = asked(http, calculator.name, example)
    rest = [name for name in calculator.inputs if name not in example]
    for nothing in (None, "", "  "):
        assert asked(http, calculator.name, {**example, **dict.fromkeys(rest, nothing)}) == first
    if in_a_query(example):
        got = http.get(f"/v1/{calculator.name}", query_string={**example, **dict.fromkeys(rest, "")})
        assert json.loads(got.data) == first


@each_example
def test_each_suffix_refuses_what_the_others_refuse(
    calculator: Calculator, example: Mapping[str, Any], http: FlaskClient
) -> None:
    for wrong in ({**example, "colour": "red"}, {**example, next(iter(example)): "much"}):
        refused = [http.post(f"/v1/{calculator.name}{suffix}", json=wrong) for suffix in suffixes(calculator)]
        assert {reply.status_code for reply in refused} == {422}
        documents = {reply.text for reply in refused if reply.mimetype == "application/problem+json"}
        assert len(documents) == 1
        spoken = [reply.text for reply in refused if reply.mimetype == "text/plain"]
        said = json.loads(documents.pop())["detail"]
        assert [text.replace(" ", "")[:6].lower() for text in spoken] == [
            said.replace("_", "").replace(" ", "")[:6].lower()
        ]


@pytest.mark.parametrize("calculator", CALCULATORS.values(), ids=CALCULATORS)
def test_a_required_input_of_null_is_missing(calculator: Calculator, http: FlaskClient) -> None:
    needed = [name for name, entry in calculator.inputs.items() if entry.required and entry.default is NOTHING]
    for nothing in (None, ""):
        reply = http.post(f"/v1/{calculator.name}", json=dict.fromkeys(needed, nothing))
        told = {error["field"]: error["code"] for error in reply.json.get("errors", ())}
        assert dict.fromkeys(needed, "missing").items() <= told.items()


@pytest.mark.parametrize("cells", [3, 3.0, "3", "3.0", " 3 ", "+3", "3e0"])
def test_a_number_is_read_as_json_or_as_text(cells: Any, http: FlaskClient) -> None:
    document = asked(http, "wattage", {"cells": cells, "capacity": "1 Ah"})
    assert document["question"]["cells"] == 3
    assert isinstance(document["question"]["cells"], int)


@pytest.mark.parametrize("cells", [2.7, "2.7", 3.000001, "3e-1"])
def test_a_part_of_a_cell_is_refused(cells: Any, http: FlaskClient) -> None:
    reply = http.post("/v1/wattage", json={"cells": cells, "capacity": "1 Ah"})
    assert [error["field"] for error in reply.json["errors"]] == ["cells"]


WRITTEN = [
    (
        "capacity",
        ["2250 mAh", "2.25Ah", "2250mah", "2.25 ah", "+2250 mAh", "2.25e3 mAh", {"value": 2250, "unit": "mAh"}],
    ),
    ("capacity", ["2250 mAh", {"value": "2.25", "unit": "Ah"}, "2.25 A*h", "2.25 A·h", "8100 A*s"]),
    (
        "cell_resistance",
        ["14 mΩ", "14 mohm", "14 m\u03a9", "14 m\u2126", "0.014 ohm", "14000 µΩ", "14000 μΩ", "14 milliohm"],
    ),
    ("temperature", ["25 °C", "25 degC", "25 C", "77 °F", "77 degF", "77 F", "298.15 K", "25 ℃"]),
    ("rate", [1.5, "1.5", "1.5C", "1.5 C", "1.5c"]),
    ("efficiency", [0.8, "0.8", "80 %", "80%"]),
    ("chemistry", ["lihv", "LiHV", "LIHV", " lihv "]),
    ("resistance_method", ["1kHz", "1KHZ", "1khz"]),
    ("time_available", ["45 min", "0.75 h", "2700 s", "45 minutes", "0.75 hours"]),
    ("charger_power_limit", ["110 W", "110w", "0.11 kW", "110000 mW"]),
    ("charger_current_limit", ["2 A", "2a", "2000 mA", "2 amps"]),
    ("rest_voltage", ["7.5 V", "7.5v", "7500 mV"]),
    (
        "cell_voltages",
        ["3.7,3.8 V", "3.7 V,3.8 V", "3700,3800 mV", ["3.7 V", "3800 mV"], {"value": [3.7, 3.8], "unit": "V"}],
    ),
    ("cell_voltages", ["3.7,3.8 V", [{"value": 3.7, "unit": "V"}, {"value": 3800, "unit": "mV"}], "3700 mV, 3.8 V"]),
]


@pytest.mark.parametrize(("name", "forms"), WRITTEN, ids=[name for name, _ in WRITTEN])
def test_an_input_may_be_written_in_many_ways(name: str, forms: list[Any], http: FlaskClient) -> None:
    base = {"cells": 2, "capacity": "2100 mAh"}
    first = asked(http, "charge-current", {**base, name: forms[0]})
    assert name in first["question"]
    for form in forms[1:]:
        again = asked(http, "charge-current", {**base, name: form})
        assert again["question"] == pytest_approx(first["question"]), form
        assert again["answer"] == pytest_approx(first["answer"]), form
        if isinstance(form, str):
            got = http.get("/v1/charge-current", query_string={**base, name: form})
            assert json.loads(got.data) == again, form


@pytest.mark.parametrize(
    ("given", "read"), [(True, True), (False, False), ("true", True), ("False", False), ("TRUE", True)]
)
def test_yes_and_no_are_true_and_false(given: Any, read: bool, http: FlaskClient) -> None:
    assert asked(http, "balance-need", {"cell_voltages": "4,4 V", "rested": given})["question"]["rested"] is read


@pytest.mark.parametrize("given", [0, 1, "1", "yes", "no", "on", [], {}])
def test_nothing_else_is_yes_or_no(given: Any, http: FlaskClient) -> None:
    reply = http.post("/v1/balance-need", json={"cell_voltages": "4,4 V", "rested": given})
    assert [(error["field"], error["code"]) for error in reply.json["errors"]] == [("rested", "not_one_of")]


def test_an_unknown_name_of_null_is_unknown_all_the_same(http: FlaskClient) -> None:
    reply = http.post("/v1/wattage", json={"cells": 2, "capacity": "1 Ah", "colour": None})
    assert [(error["field"], error["code"]) for error in reply.json["errors"]] == [("colour", "unknown")]
    reply = http.get("/v1/wattage?cells=2&capacity=1Ah&colour=")
    assert [(error["field"], error["code"]) for error in reply.json["errors"]] == [("colour", "unknown")]


@pytest.mark.parametrize("name", sorted(CHARGING & set(CALCULATORS)))
@pytest.mark.parametrize("chemistry", ["lipo", "lihv", "liion", "life", "lead"])
def test_every_charging_answer_says_not_to_leave_it_and_to_follow_the_papers(
    name: str, chemistry: str, http: FlaskClient
) -> None:
    for more in ({}, {"rate": 3}, {"condition": "wet"}, {"temperature": "-5 °C"}, {"rest_voltage": "8.6 V"}):
        if more.keys() <= CALCULATORS[name].inputs.keys():
            reply = http.post(f"/v1/{name}", json={"cells": 4, "capacity": "2 Ah", "chemistry": chemistry, **more})
            assert reply.status_code == 200, reply.text
            assert {"never-alone", "papers"} <= {entry["code"] for entry in reply.json["cautions"]}


def test_a_split_that_charges_packs_says_so_too(http: FlaskClient) -> None:
    document = asked(http, "supply-split", {"supply_rating": "90 W", "loads": [{"cells": 3, "capacity": "2 Ah"}]})
    assert {"never-alone", "papers"} <= {entry["code"] for entry in document["cautions"]}


def test_a_nested_default_is_assumed_under_the_name_of_its_place(http: FlaskClient) -> None:
    loads: list[Any] = ["60 W", {"cells": 3, "capacity": "2 Ah", "name": None, "rate": ""}]
    assumed = asked(http, "supply-split", {"supply_rating": "90 W", "loads": loads})["assumed"]
    assert {name: value for name, value in assumed.items() if nested(name)} == {
        "loads[1].chemistry": "lipo",
        "loads[1].rate": 1.0,
        "loads[1].efficiency": 0.85,
    }


def test_an_asked_form_is_given_and_a_health_check_does_no_work(http: FlaskClient) -> None:
    assert http.get("/healthz", headers={"Accept": "application/json"}).status_code == 200
    for accepted in ("*/*", "application/*", "text/html, application/json;q=0.5"):
        reply = http.get("/v1/wattage?cells=2&capacity=1Ah", headers={"Accept": accepted})
        assert (reply.status_code, reply.mimetype) == (200, "application/json")


def inputs() -> Iterator[tuple[str, Input]]:
    for calculator in CALCULATORS.values():
        yield from calculator.inputs.items()
        for entry in calculator.inputs.values():
            if entry.item:
                yield from entry.item.inputs.items()


def test_one_name_means_one_thing_in_one_unit_everywhere() -> None:
    units: dict[str, set[str]] = {}
    for name, entry in inputs():
        units.setdefault(name, set()).add(entry.spec.unit if isinstance(entry.spec, Quantity) else "")
    for calculator in CALCULATORS.values():
        for name, result in calculator.results.items():
            units.setdefault(name, set()).add(result.spec.unit if isinstance(result.spec, Quantity) else "")
    assert {name: found for name, found in units.items() if len(found) > 1} == {}


def test_names_end_in_the_unit_that_the_contract_gives_them() -> None:
    short = {"duration", "burst_duration", "polarisation_time"}
    for name, entry in inputs():
        if isinstance(entry.spec, Quantity) and entry.spec.unit in ("s", "min"):
            assert (entry.spec.unit == "s") == (name in short), name

"""Contract, section 4: one shape for every error, whatever its source; and what bad input gets."""

import json
import logging
import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from time import perf_counter
from typing import Any

import pytest
from contract.kinds import Fits, NewPackage
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from ampstead.app import create_app
from ampstead.calculators import registry
from ampstead.declare import Calculator
from ampstead.errors import CODES

GOOD = {"cells": 3, "capacity": "2250 mAh"}
SPLIT = {"supply_rating": "180 W", "loads": "110 W,60 W"}
WITHIN = 0.05
"""Seconds within which a bad question is refused; the best of three counts, since the machine does other work."""
INSIDE = re.compile(
    r"Traceback|File \"|line \d+, in|\.py\b|marshmallow|pint|numpy|flask|werkzeug|ampstead\.|0x[0-9a-f]{6}"
)


@dataclass(frozen=True)
class Source:
    """One source of error: a request, and the status that it gets."""

    name: str
    status: int
    method: str = "POST"
    path: str = "/v1/wattage"
    body: bytes | None = None
    content_type: str | None = "application/json"
    headers: Mapping[str, str] = field(default_factory=dict)

    def sent(self, http: FlaskClient, suffix: str = "") -> TestResponse:
        place, mark, query = self.path.partition("?")
        return http.open(
            f"{place}{suffix}{mark}{query}",
            method=self.method,
            data=self.body,
            content_type=self.content_type if self.body is not None else None,
            headers=dict(self.headers),
        )


def posted(name: str, status: int, question: Any, path: str = "/v1/wattage") -> Source:
    return Source(name, status, path=path, body=json.dumps(question).encode())


DEEP = b"[" * 30_000 + b"]" * 30_000
SOURCES = [
    Source("a body that is no JSON", 400, body=b"cells=2"),
    Source("an empty body", 400, body=b""),
    Source("half a body", 400, body=b'{"cells": 2, "capa'),
    Source("text that is no UTF-8", 400, body=b'{"cells": "\xff"}'),
    Source("a NaN literal", 400, body=b'{"cells": NaN}'),
    Source("an Infinity literal", 400, body=b'{"cells": -Infinity}'),
    Source("a duplicate key", 400, body=b'{"cells": 2, "cells": 3, "capacity": "1 Ah"}'),
    Source(
        "a duplicate key inside",
        400,
        path="/v1/supply-split",
        body=b'{"supply_rating": "180 W", "loads": [{"power": "5 W", "power": "50 W"}]}',
    ),
    posted("an array", 400, [GOOD]),
    posted("a text", 400, "cells=2"),
    posted("null", 400, None),
    Source("deep JSON", 400, body=DEEP),
    Source("deep JSON as an input", 400, body=b'{"cells": ' + DEEP + b"}"),
    Source("a number of 5000 digits", 400, body=b'{"cells": ' + b"9" * 5000 + b"}"),
    Source("an unknown calculator", 404, "GET", "/v1/watage?cells=2"),
    Source("an unknown address", 404, "GET", "/cells"),
    Source("an address below a calculator", 404, "GET", "/v1/wattage/cells"),
    Source("TRACE", 405, "TRACE"),
    Source("PUT", 405, "PUT", body=b"{}"),
    Source("DELETE", 405, "DELETE"),
    Source("PATCH", 405, "PATCH", body=b"{}"),
    Source(
        "a form that is not offered", 406, "GET", "/v1/wattage?cells=2&capacity=1Ah", headers={"Accept": "image/gif"}
    ),
    Source("a body of 10 MB", 413, body=b'{"cells": "' + b"2" * 10_000_000 + b'"}'),
    Source("an address of 20 kB", 414, "GET", "/v1/wattage?cells=" + "2" * 20_000),
    Source("a web form", 415, body=b"cells=2&capacity=1Ah", content_type="application/x-www-form-urlencoded"),
    Source("a body without its type", 415, body=b'{"cells": 2}', content_type=None),
    Source("a body as text", 415, body=b'{"cells": 2}', content_type="text/plain"),
    posted("a wrong question", 422, {"cells": 3, "capacity": 2250}),
    Source("a wrong question in the address", 422, "GET", "/v1/wattage?cells=2"),
    Source("a repeated name", 422, "GET", "/v1/wattage?cells=2&cells=2&capacity=1Ah"),
    Source("headers of 40 kB", 431, "GET", "/v1/wattage?cells=2", headers={"X-Note": "n" * 40_000}),
]
named = pytest.mark.parametrize("source", SOURCES, ids=lambda source: source.name.replace(" ", "-"))


@pytest.fixture
def shaped(fits: Fits) -> Callable[[TestResponse, int], dict[str, Any]]:
    """The problem document of a reply, once its shape is seen to be the contract's."""

    def checked(reply: TestResponse, status: int) -> dict[str, Any]:
        assert reply.status_code == status, reply.text[:500]
        assert reply.mimetype == "application/problem+json"
        document: dict[str, Any] = json.loads(reply.data)
        assert fits({"$ref": "#/components/schemas/Problem"}, document) == []
        assert set(document) == {"type", "title", "status", "detail"} | ({"errors"} if status == 422 else set())
        assert document["status"] == status
        assert document["type"].startswith("urn:")
        assert document["title"]
        assert not document["title"].endswith(".")
        fields = {error["field"].partition("[")[0] for error in document.get("errors", ())}
        assert plain(document["detail"], fields)
        assert not NAME_CAPITALISED.search(reply.text), "an identifier is never capitalised"
        for error in document.get("errors", ()):
            assert set(error) == {"field", "code", "message"}
            assert error["code"] in CODES
            assert error["message"]
        assert not INSIDE.search(reply.text), reply.text
        return document

    return checked


Shaped = Callable[[TestResponse, int], dict[str, Any]]


NAME_CAPITALISED = re.compile(r"\b[A-Z][a-z]*_[a-z_]+")
WRITTEN = re.compile(r"[0-9] ?(?:m?[AVWΩg]h?|k[AVWmg]|MW|min|s|°[CF]|%|mm²|[mk]?[VW]/K)(?![A-Za-z])|-[0-9]|[0-9]e\+")
NAME = re.compile(r"\b[a-z]+_[a-z_]+|[a-z]\[\d")


def plain(text: str, names: Collection[str] = ()) -> bool:
    """Whether a text is sentences for people, on one line and of a length that can be heard out; in JSON it may begin
    with an input's name."""
    begun = text[:1] == text[:1].upper() or text.startswith(tuple(names))
    return len(text) < 2000 and text.isprintable() and begun and text[-1] in ".?"


@named
def test_every_source_of_error_has_the_one_shape(source: Source, http: FlaskClient, shaped: Shaped) -> None:
    shaped(source.sent(http), source.status)


@named
def test_each_error_is_a_plain_sentence_where_a_phone_asks(source: Source, http: FlaskClient) -> None:
    if "Accept" in source.headers:
        source = Source(source.name, source.status, source.method, source.path, headers={"Accept": "application/json"})
    reply = source.sent(http, ".txt")
    assert reply.status_code == source.status
    assert reply.headers["Content-Type"] == "text/plain; charset=utf-8"
    assert reply.text.endswith("\n")
    assert plain(reply.text[:-1]), reply.text
    assert not INSIDE.search(reply.text), reply.text


@named
def test_each_error_comes_at_once_and_the_service_lives_on(source: Source, http: FlaskClient) -> None:
    taken = []
    for _ in range(3):
        begun = perf_counter()
        source.sent(http)
        taken.append(perf_counter() - begun)
    assert min(taken) < WITHIN
    assert http.post("/v1/wattage", json=GOOD).status_code == 200


def test_the_sources_above_are_all_that_the_document_lists(spec: dict[str, Any]) -> None:
    listed = {
        status
        for item in spec["paths"].values()
        for operation in item.values()
        if "responses" in operation
        for status in operation["responses"]
    }
    # The server's own stand in test_server.py and test_server_guard.py; 405 comes of methods that are not offered.
    by_name = {int(status) for status in listed if status.isdigit()}
    assert "default" in listed  # for all that is not named
    assert by_name - {200, 401, 408, 429, 503} <= {source.status for source in SOURCES} - {405}
    assert {401, 408, 422, 429, 503} <= by_name


@pytest.mark.parametrize("method", ["TRACE", "PUT", "DELETE", "PATCH"])
@pytest.mark.parametrize(
    ("path", "offered"),
    [("/v1/wattage", {"GET", "POST"}), ("/v1/wattage.txt", {"GET", "POST"}), ("/v1/", {"GET"}), ("/healthz", {"GET"})],
)
def test_a_wrong_method_is_told_the_right_ones(method: str, path: str, offered: set[str], http: FlaskClient) -> None:
    reply = http.open(path, method=method)
    assert reply.status_code == 405
    allowed = set(reply.headers["Allow"].split(", "))
    assert allowed - {"HEAD", "OPTIONS"} == offered
    assert all(method in reply.text for method in offered)


@pytest.mark.parametrize(
    ("path", "hint"),
    [
        ("/v1/watage", "did you mean wattage?"),
        ("/v1/charge_current.txt", "did you mean charge-current?"),
        ("/v1/Sag", "did you mean sag?"),
        ("/v1/supplysplit.svg", "did you mean supply-split?"),
        ("/v1/wattage.pdf", "wattage does not come in the form .pdf."),
        ("/v1/charge-session/batch", "charge-session takes one question at a time."),
        ("/v1/teapot", "/v1/ lists what there is."),
    ],
)
def test_a_misspelt_calculator_gets_a_hint(path: str, hint: str, http: FlaskClient) -> None:
    reply = http.get(path)
    assert reply.status_code == 404
    assert hint in reply.text


@pytest.mark.parametrize(
    ("name", "hint"),
    [
        ("capcity", "did you mean capacity?"),
        ("Cells", "did you mean cells?"),
        ("effciency", "did you mean efficiency?"),
    ],
)
def test_a_misspelt_input_gets_a_hint(name: str, hint: str, http: FlaskClient) -> None:
    for reply in (http.get("/v1/wattage", query_string={name: "1"}), http.post("/v1/wattage", json={name: "1"})):
        entry = next(error for error in json.loads(reply.data)["errors"] if error["field"] == name)
        assert entry["code"] == "unknown"
        assert entry["message"].endswith(hint)


@pytest.mark.parametrize("path", ["/v1/wattage", "/v1/wattage.txt"])
def test_an_unknown_name_is_refused_on_get_and_post_alike(path: str, http: FlaskClient) -> None:
    got = http.get(path, query_string={**GOOD, "colour": "red"})
    posted = http.post(path, json={**GOOD, "colour": "red"})
    assert got.status_code == posted.status_code == 422
    assert got.data == posted.data


@dataclass(frozen=True)
class Bad:
    """A bad question, and the fields with the codes that it is told."""

    name: str
    calculator: str
    question: Mapping[str, Any]
    told: Mapping[str, str]
    said: str = ""


PACK = {"cells": 3, "capacity": "2250 mAh"}
BAD = [
    Bad("an unknown name", "wattage", {**GOOD, "volts": "3 V"}, {"volts": "unknown"}),
    Bad("a missing name", "wattage", {"cells": 3}, {"capacity": "missing"}, '"1150 mAh"'),
    Bad("nothing at all", "charge-current", {}, {"cells": "missing", "capacity": "missing"}),
    Bad("a bare number", "wattage", {"cells": 3, "capacity": 2250}, {"capacity": "unit_missing"}, 'write "2250 mAh"'),
    Bad("bare text", "wattage", {"cells": 3, "capacity": "2250"}, {"capacity": "unit_missing"}, 'write "2250 mAh"'),
    Bad("a value without its unit", "wattage", {"cells": 2, "capacity": {"value": 2250}}, {"capacity": "unit_missing"}),
    Bad("an empty unit", "wattage", {"cells": 2, "capacity": {"value": 1, "unit": ""}}, {"capacity": "unit_missing"}),
    Bad("another bare number", "wattage", {"cells": 2, "capacity": 2250}, {"capacity": "unit_missing"}, '"2250 mAh"'),
    Bad("zero without its unit", "sag", {**PACK, "current": "9 A", "duration": 0}, {"duration": "unit_missing"}),
    Bad("a wrong dimension", "wattage", {"cells": 3, "capacity": "2250 V"}, {"capacity": "wrong_dimension"}, "voltage"),
    Bad("coulombs", "wattage", {"cells": 2, "capacity": "8100 C"}, {"capacity": "wrong_dimension"}, "rate"),
    Bad("years", "sag", {**PACK, "current": "9 A", "duration": "3 a"}, {"duration": "out_of_range"}, "was read"),
    Bad("a wrong case", "wattage", {"cells": 3, "capacity": "2250 MAh"}, {"capacity": "out_of_range"}, "was read"),
    Bad("a long unit", "wattage", {"cells": 2, "capacity": "1 " + "mAh*" * 20}, {"capacity": "wrong_dimension"}, "40"),
    Bad("a unit that costs", "wattage", {"cells": 2, "capacity": "1 m**9**9**7"}, {"capacity": "wrong_dimension"}),
    Bad("a sum", "wattage", {"cells": 3, "capacity": "2250 mAh; 5"}, {"capacity": "wrong_dimension"}),
    Bad("a comment", "wattage", {"cells": 3, "capacity": "2250 #mAh"}, {"capacity": "wrong_dimension"}),
    Bad("NaN as text", "wattage", {"cells": "nan", "capacity": "nan mAh"}, dict.fromkeys(GOOD, "not_a_number")),
    Bad("infinities", "wattage", {"cells": "inf", "capacity": "-inf mAh"}, dict.fromkeys(GOOD, "not_a_number")),
    Bad("1e400 as text", "wattage", {"cells": "1e400", "capacity": "1e400 mAh"}, dict.fromkeys(GOOD, "not_a_number")),
    Bad("a thousands comma", "wattage", {"cells": 2, "capacity": "1,300 mAh"}, {"capacity": "not_a_number"}, "comma"),
    Bad("a decimal comma", "wattage", {"cells": 2, "capacity": "2,25 Ah"}, {"capacity": "not_a_number"}, "comma"),
    Bad("an underscore", "wattage", {"cells": 2, "capacity": "1_300 mAh"}, {"capacity": "not_a_number"}),
    Bad("other digits", "wattage", {"cells": "٣", "capacity": "٣ Ah"}, dict.fromkeys(GOOD, "not_a_number")),
    Bad("words", "wattage", {"cells": "two", "capacity": "much"}, dict.fromkeys(GOOD, "not_a_number")),
    Bad("half a cell", "wattage", {**GOOD, "cells": 2.7}, {"cells": "not_a_number"}, "whole"),
    Bad("yes for a number", "wattage", {**GOOD, "cells": True}, {"cells": "not_a_number"}),
    Bad("an object for a number", "wattage", {**GOOD, "cells": {"n": 2}}, {"cells": "not_a_number"}),
    Bad("an object for a quantity", "wattage", {"cells": 2, "capacity": {"mAh": 2}}, {"capacity": "not_a_number"}),
    Bad("negative capacity", "wattage", {"cells": 2, "capacity": "-2250 mAh"}, {"capacity": "out_of_range"}, "10 mAh"),
    Bad("no capacity", "wattage", {"cells": 2, "capacity": "0 mAh"}, {"capacity": "out_of_range"}),
    Bad("no cells", "wattage", {**GOOD, "cells": 0}, {"cells": "out_of_range"}),
    Bad("minus two cells", "wattage", {**GOOD, "cells": -2}, {"cells": "out_of_range"}),
    Bad("a thousand cells", "charge-current", {**PACK, "cells": 1000}, {"cells": "out_of_range"}),
    Bad("fifteen lipo cells", "charge-current", {**PACK, "cells": 15}, {"cells": "out_of_range"}, "14"),
    Bad("no rate", "wattage", {**GOOD, "rate": 0}, {"rate": "out_of_range"}),
    Bad("no efficiency", "wattage", {**GOOD, "efficiency": "0 %"}, {"efficiency": "out_of_range"}),
    Bad("too much efficiency", "wattage", {**GOOD, "efficiency": 85}, {"efficiency": "out_of_range"}),
    Bad(
        "negative resistance",
        "charge-current",
        {**PACK, "cell_resistance": "-3 mΩ"},
        {"cell_resistance": "out_of_range"},
    ),
    Bad("no current", "sag", {**PACK, "current": "0 A"}, {"current": "out_of_range"}),
    Bad("absolute zero", "charge-current", {**PACK, "temperature": "0 K"}, {"temperature": "out_of_range"}, "-20 °C"),
    Bad("more than full", "charge-current", {**PACK, "state_of_charge": "120 %"}, {"state_of_charge": "out_of_range"}),
    Bad("4.9 V of a cell", "balance-need", {"cell_voltages": "4.9,4.1 V"}, {"cell_voltages": "out_of_range"}, "4.9"),
    Bad("4.9 V a cell", "charge-current", {**PACK, "rest_voltage": "14.7 V"}, {"rest_voltage": "out_of_range"}, "4.9"),
    Bad("minus 3 V", "charge-current", {**PACK, "rest_voltage": "-3 V"}, {"rest_voltage": "out_of_range"}),
    Bad(
        "an end of charge above the chemistry's",
        "charge-current",
        {**PACK, "end_cell_voltage": "4.35 V"},
        {"end_cell_voltage": "out_of_range"},
        "only if the label says high voltage",
    ),
    Bad(
        "another chemistry",
        "wattage",
        {**GOOD, "chemistry": "lipoo"},
        {"chemistry": "not_one_of"},
        "lipo, lihv, liion, life, nimh, nicd, lead",
    ),
    Bad("a number for a choice", "wattage", {**GOOD, "chemistry": 3}, {"chemistry": "not_one_of"}),
    Bad(
        "1 for yes", "balance-need", {"cell_voltages": "4,4 V", "rested": 1}, {"rested": "not_one_of"}, "true or false"
    ),
    Bad("yes for true", "balance-need", {"cell_voltages": "4,4 V", "rested": "yes"}, {"rested": "not_one_of"}),
    Bad(
        "two states",
        "charge-current",
        {**PACK, "state_of_charge": 0.5, "rest_voltage": "11 V"},
        dict.fromkeys(("state_of_charge", "rest_voltage"), "conflict"),
    ),
    Bad(
        "three states",
        "sag",
        {**PACK, "current": "9 A", "state_of_charge": 0.5, "rest_voltage": "11 V", "cell_voltages": "3.7,3.7,3.7 V"},
        dict.fromkeys(("state_of_charge", "rest_voltage", "cell_voltages"), "conflict"),
    ),
    Bad(
        "three loads at once",
        "sag",
        {**PACK, "current": "9 A", "rate": 5, "power": "99 W"},
        dict.fromkeys(("current", "rate", "power"), "conflict"),
    ),
    Bad(
        "more voltages than cells",
        "charge-current",
        {**PACK, "cell_voltages": "3.7,3.7 V"},
        dict.fromkeys(("cells", "cell_voltages"), "wrong_length"),
    ),
    Bad("one cell to level", "balance-need", {"cell_voltages": "4.1 V"}, {"cell_voltages": "wrong_length"}),
    Bad("no voltages", "balance-need", {"cell_voltages": []}, {"cell_voltages": "wrong_length"}),
    Bad("65 voltages", "balance-need", {"cell_voltages": ["4 V"] * 65}, {"cell_voltages": "wrong_length"}, "64"),
    Bad(
        "10,000 voltages",
        "balance-need",
        {"cell_voltages": {"value": [4] * 10_000, "unit": "V"}},
        {"cell_voltages": "wrong_length"},
    ),
    Bad("10,000 in text", "balance-need", {"cell_voltages": "4," * 9_999 + "4 V"}, {"cell_voltages": "wrong_length"}),
    Bad("10,000 loads", "supply-split", {**SPLIT, "loads": [{}] * 10_000}, {"loads": "wrong_length"}),
    Bad(
        "a long name",
        "supply-split",
        {**SPLIT, "loads": [{"name": "n" * 99, "power": "9 W"}]},
        {"loads[0].name": "wrong_length"},
    ),
    Bad(
        "a load that is no load",
        "supply-split",
        {**SPLIT, "loads": ["60 W", {"power": "9 V"}]},
        {"loads[1].power": "wrong_dimension"},
    ),
    Bad(
        "two loads that are wrong",
        "supply-split",
        {**SPLIT, "loads": [{"power": 15}, "110 W", {"cells": 3, "rate": 0}, {"pwer": "9 W"}]},
        {
            "loads[0].power": "unit_missing",
            "loads[2].rate": "out_of_range",
            "loads[2].capacity": "missing",
            "loads[3].pwer": "unknown",
            "loads[3].power": "missing",
        },
    ),
    Bad(
        "a power and a pack",
        "supply-split",
        {**SPLIT, "loads": ["60 W", {"power": "60 W", "cells": 3, "capacity": "1 Ah"}]},
        dict.fromkeys(("loads[1].power", "loads[1].cells", "loads[1].capacity"), "conflict"),
    ),
    Bad("nickel cells", "charge-current", {**PACK, "chemistry": "nimh"}, {"chemistry": "unsupported"}, "metal-hydride"),
    Bad(
        "everything wrong at once",
        "charge-current",
        {
            "cells": 1000,
            "capacity": 2250,
            "temperature": "25 V",
            "condition": "sad",
            "colour": "red",
            "efficiency": "x",
        },
        {
            "cells": "out_of_range",
            "capacity": "unit_missing",
            "temperature": "wrong_dimension",
            "condition": "not_one_of",
            "colour": "unknown",
            "efficiency": "not_a_number",
        },
    ),
    Bad("text that no page shows", "wattage", {**GOOD, "\u202e\u0000": "\u0000"}, {"\ufffd\ufffd": "unknown"}),
    Bad("half a character", "supply-split", {**SPLIT, "share": "\ud800"}, {"share": "not_one_of"}),
    Bad("a zero byte", "wattage", {"cells": 3, "capacity": "2250 mAh\u0000"}, {"capacity": "wrong_dimension"}),
]
bad = pytest.mark.parametrize("case", BAD, ids=lambda case: case.name.replace(" ", "-"))


@bad
def test_a_bad_question_names_every_field_with_its_code(case: Bad, http: FlaskClient, shaped: Shaped) -> None:
    document = shaped(http.post(f"/v1/{case.calculator}", json=case.question), 422)
    told = {error["field"]: error["code"] for error in document["errors"]}
    assert told == case.told
    assert len({json.dumps(error) for error in document["errors"]}) == len(document["errors"])
    assert case.said in document["detail"]
    assert any(case.said in error["message"] for error in document["errors"])


@bad
def test_a_bad_question_is_told_the_same_where_a_phone_asks(case: Bad, http: FlaskClient) -> None:
    document = http.post(f"/v1/{case.calculator}", json=case.question).json
    spoken = http.post(f"/v1/{case.calculator}.txt", json=case.question)
    assert spoken.status_code == 422
    assert plain(spoken.text[:-1])
    said = re.sub(r'"[^"]*"', "", spoken.text)  # what was sent is repeated as it was
    assert not NAME.search(said), "an input is spoken by its label"
    assert not WRITTEN.search(said), "a unit is spoken by its name"
    faults = len({error["message"] for error in document["errors"]})
    left = faults - 3
    if "did you mean" not in document["detail"]:  # what is missing only since it is misspelt is said once
        assert (f"; and {left} more." in spoken.text) == (left > 0), "three faults are told, the others counted"


def fits_an_address(question: Mapping[str, Any]) -> bool:
    if any(
        value == "\ud800" or not isinstance(value, str | int | float) or value is True for value in question.values()
    ):
        return False
    return len(json.dumps(question)) < 9000


ADDRESSED = [case for case in BAD if fits_an_address(case.question)]


@pytest.mark.parametrize("case", ADDRESSED, ids=lambda case: case.name.replace(" ", "-"))
def test_a_bad_question_in_the_address_is_told_the_same(case: Bad, http: FlaskClient) -> None:
    got = http.get(f"/v1/{case.calculator}", query_string=case.question)
    posted = http.post(f"/v1/{case.calculator}", json={name: str(value) for name, value in case.question.items()})
    assert (got.status_code, got.json) == (422, posted.json)


@bad
def test_a_bad_question_is_refused_at_once_and_a_good_one_answered_after(case: Bad, http: FlaskClient) -> None:
    body = json.dumps(case.question)
    taken = []
    for _ in range(3):
        begun = perf_counter()
        http.post(f"/v1/{case.calculator}", data=body, content_type="application/json")
        taken.append(perf_counter() - begun)
    assert min(taken) < WITHIN
    assert http.post("/v1/wattage", json=GOOD).status_code == 200


def test_every_code_of_the_contract_is_met_above() -> None:
    met = {code for case in BAD for code in case.told.values()} | {"repeated"}
    assert met == set(CODES)


def test_repeated_names_are_told_one_by_one(http: FlaskClient, shaped: Shaped) -> None:
    for path in ("/v1/wattage", "/v1/wattage.txt"):
        reply = http.get(f"{path}?cells=2&capacity=1Ah&cells=3&rate=1&rate=1")
        assert reply.status_code == 422
    document = shaped(http.get("/v1/wattage?cells=2&capacity=1Ah&cells=3&rate=1&rate=1"), 422)
    assert {error["field"]: error["code"] for error in document["errors"]} == {"cells": "repeated", "rate": "repeated"}


def test_a_question_both_in_the_body_and_in_the_address_is_refused(http: FlaskClient, shaped: Shaped) -> None:
    document = shaped(http.post("/v1/wattage?rate=2", json=GOOD), 422)
    assert [(error["field"], error["code"]) for error in document["errors"]] == [("rate", "conflict")]


@pytest.mark.parametrize(
    "calculator",
    [entry for entry in registry().values() if "cell_voltages" in entry.inputs],
    ids=lambda entry: entry.name,
)
def test_no_calculator_takes_4_9_volts_of_a_lipo_cell(calculator: Calculator, http: FlaskClient) -> None:
    others = {name: None for rule in calculator.rules if "cell_voltages" in rule.names for name in rule.names}
    for voltages in ("3.8,4.9 V", "3.8,-0.1 V"):
        question = {**calculator.examples[0], **others, "cells": None, "chemistry": "lipo", "cell_voltages": voltages}
        question = {name: value for name, value in question.items() if name in calculator.inputs}
        reply = http.post(f"/v1/{calculator.name}", json=question)
        assert reply.status_code == 422, voltages
        assert ("cell_voltages", "out_of_range") in {(error["field"], error["code"]) for error in reply.json["errors"]}


def test_a_conflict_that_two_rules_find_is_told_once_of_each_field(http: FlaskClient) -> None:
    asked = {"cells": 4, "capacity": "3700 mAh", "current": "30 A", "power": "400 W"}
    told = http.post("/v1/endurance", json=asked).get_json()["errors"]
    assert [(error["field"], error["code"]) for error in told] == [("current", "conflict"), ("power", "conflict")]


@pytest.mark.parametrize(("text", "cure"), [("80", 'write "80 %"'), ("180 %", "")])
def test_a_percent_sign_is_missed_only_where_there_was_none(text: str, cure: str, http: FlaskClient) -> None:
    question = {"cells": 3, "capacity": "2250 mAh", "state_of_charge": text}
    (told,) = http.post("/v1/charge-current", json=question).get_json()["errors"]
    assert told["code"] == "out_of_range"
    assert ("write" in told["message"]) == bool(cure)
    assert cure in told["message"]


def test_a_list_says_which_of_its_values_is_wrong(http: FlaskClient) -> None:
    reply = http.get("/v1/balance-need?cell_voltages=4.1,4.1,-4.1 V")
    assert reply.status_code == 422
    assert "value 3 of 3" in reply.json["errors"][0]["message"]


def test_one_value_or_a_list_needs_a_unit_on_each_to_be_a_list(http: FlaskClient) -> None:
    def asked(capacity: str) -> TestResponse:
        return http.get("/v1/charge-current", query_string={"cells": 2, "capacity": capacity})

    listed = asked("2.25 Ah,1.2 Ah")
    assert listed.json["question"]["capacity"] == [{"value": 2250, "unit": "mAh"}, {"value": 1200, "unit": "mAh"}]
    for comma in ("2,25 Ah", "1.3,1.2 Ah", "2250,1200 mAh"):
        assert [error["code"] for error in asked(comma).json["errors"]] == ["not_a_number"]


CALCULATOR = '''
"""A calculator that fails."""

from dataclasses import dataclass
from typing import Annotated

from ampstead.declare import Number

ASKED = "Is it answered?"
WHEN = ("back home", 1)
SOURCES = ("made for a test",)
EXAMPLES = ({"number": 4},)


@dataclass(frozen=True, kw_only=True)
class Fragile:
    half: Annotated[float, Number("Half of it.")]


def fragile(*, number: Annotated[float, Number("Any number.", at_least=0, example=4)]) -> Fragile:
    """Half of a number, unless it is odd."""
    if number == 1:
        raise RuntimeError("secret: /srv/hangar/key.pem")
    if number == 3:
        raise MemoryError
    return Fragile(half=float("nan") if number == 5 else number / 2)


def sentence(answer: Fragile) -> str:
    return f"Half of it is {answer.half}."
'''


@pytest.mark.parametrize(("suffix", "number"), [("", 1), ("", 3), ("", 5), (".txt", 1), (".txt", 3)])
def test_a_fault_inside_shows_nothing_of_it_and_is_noted(
    suffix: str, number: int, new_package: NewPackage, shaped: Shaped, caplog: pytest.LogCaptureFixture
) -> None:
    http = create_app(new_package({"fragile": CALCULATOR})).test_client()
    with caplog.at_level(logging.ERROR, "ampstead"):
        reply = http.post(f"/v1/fragile{suffix}", json={"number": number})
    if suffix:
        assert (reply.status_code, reply.mimetype) == (500, "text/plain")
        assert plain(reply.text[:-1])
    else:
        shaped(reply, 500)
    for inside in ("secret", "hangar", "RuntimeError", "MemoryError", "fragile.py", "Traceback", "ValueError"):
        assert inside not in reply.text
    assert [record.exc_info is not None for record in caplog.records if record.name == "ampstead"] == [True]
    assert http.post("/v1/fragile", json={"number": 4}).json["answer"] == {"half": 2.0}


def test_errors_are_not_kept_by_caches_and_are_not_guessed_at(http: FlaskClient) -> None:
    for source in SOURCES:
        reply = source.sent(http)
        assert reply.headers["Cache-Control"] == "no-store"
        assert reply.headers["X-Content-Type-Options"] == "nosniff"


def test_an_example_of_a_missing_list_is_json_and_short(http: FlaskClient) -> None:
    message = http.get("/v1/series-join").get_json()["errors"][0]["message"]
    shown = message.partition(", like ")[2]
    assert [pack["name"] for pack in json.loads(shown)] == ["red trainer A"]

"""Questions made from the declarations, within bounds and units and rules, and the same spoilt in one place."""

import json
import math
from collections import Counter
from collections.abc import Mapping
from random import Random
from time import thread_time
from typing import Any

import pytest
from contract.kinds import Fits
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from profiles import count
from questions import around, items

from ampstead.calculators import registry
from ampstead.declare import NOTHING, Calculator, Text

CALCULATORS = registry()
BEYOND = {"conflict", "missing", "out_of_range", "unsupported", "wrong_length"}
"""Codes of what a declaration does not tell: voltages of a chemistry, lengths of lists, inputs that go together."""
WITHIN = 3.0
"""Seconds of a processor that no question, however odd, may take."""
each = pytest.mark.parametrize("calculator", CALCULATORS.values(), ids=CALCULATORS)
quiet = {"suppress_health_check": list(HealthCheck)}


def asked(http: FlaskClient, calculator: Calculator, question: Mapping[str, Any]) -> tuple[int, dict[str, Any]]:
    begun = thread_time()
    reply = http.post(f"/v1/{calculator.name}", json=question)
    assert thread_time() - begun < WITHIN, question
    document: dict[str, Any] = json.loads(reply.data, parse_constant=unreal)
    return reply.status_code, document


def unreal(constant: str) -> float:
    raise AssertionError(f"the reply holds {constant}")


def reals(value: Any) -> bool:
    if isinstance(value, dict):
        return all(map(reals, value.values()))
    if isinstance(value, list):
        return all(map(reals, value))
    return not isinstance(value, float) or math.isfinite(value)


def answer_schema(calculator: Calculator) -> dict[str, str]:
    name = "".join(part.capitalize() for part in calculator.name.split("-"))
    return {"$ref": f"#/components/schemas/{name}Answer"}


@each
@pytest.mark.parametrize("near", [True, False], ids=["near-the-examples", "anywhere-in-bounds"])
def test_a_question_that_keeps_its_declaration_is_answered_in_its_schema(
    calculator: Calculator, near: bool, http: FlaskClient, fits: Fits
) -> None:
    tally: Counter[int] = Counter()

    @settings(max_examples=count(10, 60), **quiet)
    @given(st.randoms(use_true_random=False), st.integers(2, 6))
    def put(chance: Random, cells: int) -> None:
        question = around(chance, calculator) if near else items(chance, calculator, cells, near=False)
        status, document = asked(http, calculator, question)
        tally[status] += 1
        if status == 422:
            assert {error["code"] for error in document["errors"]} <= BEYOND, document["errors"]
            return
        assert status == 200, (question, document)
        assert fits(answer_schema(calculator), document) == []
        assert reals(document)

    put()
    if near:
        assert tally[200] > tally[422] / 2, "the questions made are mostly refused"


SPOILT = [
    ("a bare word", "much"),
    ("NaN", "nan"),
    ("infinity", "inf V"),
    ("1e400", "1e400 mAh"),
    ("a unit of another kind", "3 kg/m"),
    ("a sum", "1 mAh + 1"),
    ("a power tower", "2 m**9**9**7"),
    ("an object", {"valeu": 3}),
    ("a list of lists", [[[]]]),
    ("a long list", ["1 V"] * 65),
    ("a negative object", {"value": "-", "unit": "V"}),
    ("deep", json.loads("[" * 60 + "]" * 60)),
    ("a control character", "\u0000\u202e"),
    ("half a character", "\ud800"),
    ("a long text", "9" * 20_000),
]


@each
@pytest.mark.parametrize("example", [0, -1], ids=["first-example", "last-example"])
def test_a_question_spoilt_in_one_place_is_refused_there(
    calculator: Calculator, example: int, http: FlaskClient
) -> None:
    good = calculator.examples[example]
    for name, entry in calculator.inputs.items():
        if isinstance(entry.spec, Text):
            continue
        for kind, wrong in SPOILT:
            status, document = asked(http, calculator, {**good, name: wrong})
            assert status == 422, (name, kind, document)
            fields = {error["field"].partition("[")[0].partition(".")[0] for error in document["errors"]}
            assert name in fields, (name, kind, document)


@each
def test_a_question_without_what_it_needs_says_so(calculator: Calculator, http: FlaskClient) -> None:
    for good in calculator.examples:
        for name, entry in calculator.inputs.items():
            if entry.required and entry.default is NOTHING and name in good:
                status, document = asked(http, calculator, {key: value for key, value in good.items() if key != name})
                assert status == 422
                assert (name, "missing") in {(error["field"], error["code"]) for error in document["errors"]}


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=8,
)


@each
def test_nothing_that_can_be_sent_gets_a_fault_of_the_service(calculator: Calculator, http: FlaskClient) -> None:
    names = st.sampled_from([*calculator.inputs, "colour"])

    @settings(max_examples=count(15, 60), **quiet)
    @given(st.dictionaries(names, JSON, max_size=6), st.integers(0, len(calculator.examples) - 1), st.booleans())
    def put(noise: dict[str, Any], example: int, onto: bool) -> None:
        status, document = asked(http, calculator, {**(calculator.examples[example] if onto else {}), **noise})
        assert status in (200, 422), document
        assert reals(document)

    put()

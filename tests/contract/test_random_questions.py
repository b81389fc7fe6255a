"""Questions made from the declarations, within bounds and units and rules, and the same spoilt in one place."""

import json
import math
from collections import Counter
from collections.abc import Mapping
from time import perf_counter
from typing import Any

import pytest
from contract.kinds import Fits
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from profiles import count

from ampstead.calculators import registry
from ampstead.declare import (
    NOTHING,
    Bounds,
    Calculator,
    Choice,
    Count,
    Flag,
    Fraction,
    Input,
    ItemType,
    Number,
    Quantity,
    Rate,
    Text,
)
from ampstead.units import quantity

CALCULATORS = registry()
BEYOND = {"conflict", "missing", "out_of_range", "unsupported", "wrong_length"}
"""Codes of what a declaration does not tell: voltages of a chemistry, lengths of lists, inputs that go together."""
WITHIN = 3.0
"""Seconds within which no question, however odd, may still be open."""
each = pytest.mark.parametrize("calculator", CALCULATORS.values(), ids=CALCULATORS)
quiet = {"suppress_health_check": list(HealthCheck)}


def numbers(spec: Bounds, example: float | None, to_si: Any, near: bool) -> st.SearchStrategy[float]:
    """Numbers within a spec's bounds: near its example, or anywhere, evenly over orders of magnitude."""
    edges = [None if bound is None else to_si(bound) for bound in (spec.above, spec.at_least, spec.below, spec.at_most)]
    low = max((edge for edge in edges[:2] if edge is not None), default=-1e3)
    high = min((edge for edge in edges[2:] if edge is not None), default=1e3)
    if near and example is not None:
        return st.floats(0.9, 1.1).map(lambda part: min(max(part * example, low), high))
    if low < 0:
        return st.floats(low, high)
    least = max(low, high * 1e-9)
    spread = st.floats(0, 1).map(lambda part: min(max(least * (high / least) ** part, least), high))
    return spread if edges[1] is None else st.one_of(st.just(low), spread)


def written(spec: Any, near: bool) -> st.SearchStrategy[Any]:
    """One value in one of the forms that the contract reads."""
    match spec:
        case Quantity():
            example = None if spec.example is None else first_of(spec)
            return st.builds(
                in_unit,
                numbers(spec, example, spec.si, near),
                st.sampled_from(sorted(spec.dimension.scales.items())),
                st.booleans(),
            )
        case Count():
            low, high = int(spec.at_least or 0), int(spec.at_most or 24)
            return st.integers(low, high).flatmap(lambda size: st.sampled_from([size, float(size), str(size)]))
        case Rate():
            return numbers(spec, spec.example, float, near).flatmap(
                lambda rate: st.sampled_from([rate, f"{rate!r}C", f" {rate!r} c "])
            )
        case Fraction():
            return numbers(spec, spec.example, float, near).flatmap(
                lambda part: st.sampled_from([part, repr(part), f"{part * 100!r} %"])
            )
        case Number():
            return numbers(spec, spec.example, float, near).flatmap(lambda size: st.sampled_from([size, repr(size)]))
        case Choice():
            return st.sampled_from([*spec.options, *(option.upper() for option in spec.options)])
        case Flag():
            return st.sampled_from([True, False, "true", "False"])
        case Text():
            return st.text(max_size=spec.longest)
    raise TypeError(spec)


def first_of(spec: Quantity) -> float:
    """A spec's example in SI; of a list, the last."""
    assert spec.example is not None
    return quantity(spec.example.rpartition(",")[2], spec.dimension)


def in_unit(si: float, unit: tuple[str, Any], as_object: bool) -> Any:
    name, scale = unit
    value = (si - scale.offset) / scale.factor
    return {"value": value, "unit": name} if as_object else f"{value!r} {name}"


def values(entry: Input, cells: int, near: bool) -> st.SearchStrategy[Any]:
    if entry.item:
        item = items(entry.item, cells, near)
        return st.lists(item, min_size=2, max_size=3) if entry.many else item
    one = written(entry.spec, near)
    if entry.name == "cells":
        return st.just(cells)
    if isinstance(entry.spec, Text) and entry.required:
        return st.just(entry.spec.example)  # its own small grammar, such as a gauge's
    if not entry.many:
        return one
    lengths = st.sampled_from([cells] * 9 + [cells + 1])  # now and then one that the pack does not have
    several = lengths.flatmap(lambda length: st.lists(one, min_size=length, max_size=length))
    return st.one_of(one, several) if entry.one else several


@st.composite
def items(draw: st.DrawFn, owner: Calculator | ItemType, cells: int, near: bool) -> dict[str, Any]:
    """A question, or a nested part of one, that keeps the rules of exclusion."""
    ruled_out: set[str] = set()
    for rule in owner.rules:
        allowed = [name for name in rule.names if name not in ruled_out]
        kept = draw(st.sampled_from(allowed if rule.required and allowed else [*allowed, None]))
        ruled_out |= set(rule.names) - {kept}
    made = {}
    for name, entry in owner.inputs.items():
        if name in ruled_out:
            continue
        needed = entry.required or any(rule.required and name in rule.names for rule in owner.rules)
        if needed or draw(st.integers(0, 2)) == 0:
            made[name] = draw(values(entry, cells, near))
    return made


@st.composite
def around(draw: st.DrawFn, calculator: Calculator) -> dict[str, Any]:
    """One of the declared examples, with some of its inputs near those values and with further ones."""
    example = draw(st.sampled_from(calculator.examples))
    listed = [value.count(",") + 1 for value in example.values() if isinstance(value, str) and "," in value]
    cells = int(example.get("cells", listed[0] if listed else 4))
    ruled_out = {name for rule in calculator.rules if example.keys() & set(rule.names) for name in rule.names}
    made = dict(example)
    for name, entry in calculator.inputs.items():
        near_by = name in example and not entry.item and not entry.many and name != "cells"
        further = name not in example and name not in ruled_out
        if (near_by or further) and draw(st.integers(0, 5)) == 0:
            made[name] = draw(values(entry, cells, near=True))
            ruled_out |= {other for rule in calculator.rules if name in rule.names for other in rule.names}
    return made


def asked(http: FlaskClient, calculator: Calculator, question: Mapping[str, Any]) -> tuple[int, dict[str, Any]]:
    begun = perf_counter()
    reply = http.post(f"/v1/{calculator.name}", json=question)
    assert perf_counter() - begun < WITHIN, question
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
    @given(around(calculator) if near else st.integers(2, 6).flatmap(lambda cells: items(calculator, cells, False)))
    def put(question: dict[str, Any]) -> None:
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

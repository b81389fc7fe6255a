"""The quick way of reading and the full one, the short way through the service and the full one: no reply differs."""

import gc
import io
import json
import random
import tracemalloc
from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Any
from urllib.parse import urlencode

import numpy as np
import pytest
from flask import Flask
from profiles import count
from questions import many

from ampstead.app import create_app
from ampstead.calculators import registry
from ampstead.declare import Calculator
from ampstead.errors import Refusal
from ampstead.reading.items import Item
from ampstead.reading.plan import Plan, Question, plan
from ampstead.replying.answers import teller

CALCULATORS = registry()
QUESTIONS = 480
"""Of each calculator; more than ten thousand in all."""
BASES = 25
ODD: tuple[Any, ...] = (
    "much", "", "  ", None, "5", 5, 0, "0", -3, "-3 A", "3 kg/m", "1,3 Ah", "8.5 mΩ,9 mΩ", "7,9,8,7mohm", "nan",
    True, "true", [], [[]], ["3.8 V"] * 4, ["1 V"] * 65, {}, {"value": 2250, "unit": "mAh"}, {"valeu": 1}, "1e400 V",
    {"value": [3, 4], "unit": "V"}, "2250MAH", "2250 mAh ", " 2250 mAh", "2250  mAh", "+2250 mAh", "−5 °C", "25 C",
    "6:30", "1C", "1.5 c", "80 %", "80%", 0.8, ".5", "5.", "1e3 mAh", "0.000000001 A", "1e-70 A", "20 kA", "64",
    "999999999.999999999 W", "1234567890 V", "LiFePO4", "SOUND", "x" * 300, "\u0000", "٣", "3.0", 3.0, 2.7, 10**30,
    "1000000000", "1 kV", "1 degF",
)  # fmt: skip


def spoilt(calculator: Calculator) -> Iterator[dict[str, Any]]:
    """Good questions, and the same with something odd in them, until there are enough."""
    chance = random.Random(calculator.name)
    made = many(calculator, BASES)
    for place in range(QUESTIONS):
        question = dict(chance.choice(calculator.examples) if place % 2 else made[place % len(made)])
        for _ in range(chance.choice((0, 1, 1, 2))):
            name = chance.choice([*calculator.inputs, "colour", "packs[0].cells", "source.cells"])
            if chance.random() < 0.2:
                question.pop(name, None)
            else:
                question[name] = chance.choice(ODD)
        yield question


def same(one: Any, other: Any) -> bool:
    """Whether values as read are the same to the last bit and of one type."""
    if isinstance(one, Mapping):
        return list(one) == list(other) and all(same(value, other[name]) for name, value in one.items())
    if isinstance(one, np.ndarray):
        return one.dtype == other.dtype and one.tolist() == other.tolist()
    if isinstance(one, list):
        return len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, Item):
        return same(one.given, other.given) and same(one.assumed, other.assumed)
    return type(one) is type(other) and one == other


def read(made: Plan, raw: Mapping[str, Any]) -> Question | tuple[Any, ...]:
    try:
        return made.full(raw)
    except Refusal as refusal:
        return refusal.errors


@pytest.mark.parametrize("calculator", CALCULATORS.values(), ids=CALCULATORS)
def test_what_is_read_quickly_is_what_is_read_in_full(calculator: Calculator) -> None:
    made = plan(calculator)
    tally: Counter[str] = Counter()
    for raw in spoilt(calculator):
        quick, full = made.quick(raw), read(made, raw)
        if quick is None:
            tally["odd"] += 1
            continue
        assert isinstance(full, Question), (raw, full)
        assert same(quick.given, full.given), raw
        assert same(quick.assumed, full.assumed), raw
        assert quick.shape is full.shape
        tally["good"] += 1
    assert tally["good"] > 80
    assert tally["odd"] > 80


@pytest.fixture(scope="module")
def app() -> Flask:
    return create_app()


def through(app: Any, path: str, query: str, body: bytes | None) -> tuple[str, list[tuple[str, str]], bytes]:
    said: list[Any] = []
    environ = {
        "REQUEST_METHOD": "GET" if body is None else "POST",
        "PATH_INFO": path,
        "QUERY_STRING": query,
        "SERVER_NAME": "127.0.0.1",
        "SERVER_PORT": "8080",
        "SERVER_PROTOCOL": "HTTP/1.1",
        "wsgi.url_scheme": "http",
        "wsgi.input": io.BytesIO(body or b""),
        "wsgi.errors": io.StringIO(),
    }
    if body is not None:
        environ |= {"CONTENT_TYPE": "application/json", "CONTENT_LENGTH": str(len(body))}
    written = b"".join(app(environ, lambda status, headers, fault=None: said.append((status, sorted(headers)))))
    return said[0][0].split()[0], said[0][1], written


@pytest.mark.parametrize("calculator", CALCULATORS.values(), ids=CALCULATORS)
def test_the_short_way_replies_as_flask_does_byte_for_byte(calculator: Calculator, app: Flask) -> None:
    short, full = app.wsgi_app, app.extensions["full_way"]
    statuses: Counter[str] = Counter()
    for place, raw in enumerate(spoilt(calculator)):
        if place == count(30, 200):
            break
        suffix = ("", ".txt", *calculator.forms[:1])[place % (2 + len(calculator.forms[:1]))]
        path = f"/v1/{calculator.name}{suffix}"
        plain = {name: str(value) for name, value in raw.items() if isinstance(value, str | int | float)}
        for query, body in ((urlencode(plain, errors="replace"), None), ("", json.dumps(raw).encode())):
            replies = [through(way, path, query, body) for way in (short, full)]
            assert replies[0] == replies[1], (path, raw)
            statuses[replies[0][0]] += 1
    assert set(statuses) == {"200", "422"}


def test_sets_of_names_without_end_take_little_memory_whatever_calculators_they_are_put_to() -> None:
    chance = random.Random(1)
    gc.collect()
    tracemalloc.start()
    try:
        for _ in range(40):
            for calculator in CALCULATORS.values():
                made = teller(calculator)
                made.fixed(made.plan.shape(frozenset(name for name in calculator.inputs if chance.random() < 0.5)))
        gc.collect()
        held, _ = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert held < 5e6


def test_a_plan_is_made_once_for_each_calculator() -> None:
    for calculator in CALCULATORS.values():
        assert teller(calculator) is teller(calculator)
        assert teller(calculator).plan is plan(calculator)

"""An answer's figures as a page shows them: rounded to the safe side, with symbols, each with a dot on its band."""

import re
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from typing import Any, NamedTuple

from ampstead import words
from ampstead.declare import Band, Calculator, Choice, Count, Flag, Fraction, Number, Quantity, Rate, Spec, Text
from ampstead.errors import capitalised
from ampstead.pages.fields import briefly
from ampstead.reading.names import base
from ampstead.reading.plan import Shape, plan
from ampstead.replying.answers import Answered
from ampstead.replying.writers import LISTS
from ampstead.units import converted

NONE = "–"
MINUTE, LONG = 60.0, 3600.0
"""Seconds between which what is left, or needed, of a time is shown as it is spoken."""
MOST_LISTED = 24
_OF_NONE = re.compile(r"[;,] (?:none|not told)\b.*$")
_OF_NOUGHT = re.compile(r"; 0 (?:where|if)\b.*$")
"""What a meaning ends in that says when there is no result, or none of it."""


class Figure(NamedTuple):
    """One result."""

    label: str
    text: str
    meaning: str
    main: bool
    low: str = ""
    high: str = ""
    basis: str = ""
    dot: float = 50.0
    """Where the result stands on its band, in percent."""


class Table(NamedTuple):
    """A result that is a list of like things."""

    label: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def figures(answered: Answered) -> list[Figure]:
    """The results, those that matter most first."""
    bands: Mapping[str, Band] = answered.known["bands"]
    made = []
    for name, label, spec, main in _shown_of(answered.teller.calculator):
        value = getattr(answered.answer, name)
        if value is not None or main:
            made.append(_figure(label, spec, value, bands.get(name), main))
    return made


@lru_cache(maxsize=64)
def _shown_of(calculator: Calculator) -> list[tuple[str, str, Spec, bool]]:
    """The results that are figures: name, label, and whether each is among those that matter most."""
    results = calculator.results
    names = [*calculator.main, *(name for name in results if name not in calculator.main)]
    return [
        (name, capitalised(results[name].label), results[name].spec, name in calculator.main)
        for name in names
        if not results[name].item
    ]


def _figure(label: str, spec: Spec, value: Any, band: Band | None, main: bool) -> Figure:
    text = shown(spec, value)
    single = isinstance(value, int | float) and not isinstance(value, bool)
    meaning = told_of(spec.meaning, value is not None, not single or value != 0)
    if band is None or not band.wide or not single:
        return Figure(label, text, meaning, main)
    low, high = min(band.low, value), max(band.high, value)
    dot = 100 * (value - low) / (high - low)
    return Figure(
        label, text, meaning, main,
        low=shown(spec, band.low, "down"), high=shown(spec, band.high, "up"), basis=band.basis,
        dot=round(float(dot), 1),
    )  # fmt: skip


@lru_cache(maxsize=1024)
def told_of(meaning: str, known: bool, some: bool) -> str:
    """The meaning of a result, without what it says of none where there is one."""
    if not known:
        return meaning
    kept = _OF_NONE.sub("", meaning)
    kept = _OF_NOUGHT.sub("", kept) if some else kept
    return f"{kept.rstrip('.')}."


def tables(answered: Answered) -> Iterator[Table]:
    """The results that are lists of like things."""
    for name, entry in answered.teller.calculator.results.items():
        elements = getattr(answered.answer, name)
        if not entry.item or not elements:
            continue
        elements = elements if isinstance(elements, list | tuple) else [elements]
        columns = [
            (key, column)
            for key, column in entry.item.results.items()
            if any(getattr(element, key) is not None for element in elements)
        ]
        heads = tuple(capitalised(column.label) for _, column in columns)
        rows = tuple(
            tuple(shown(column.spec, getattr(element, key)) for key, column in columns) for element in elements
        )
        yield Table(capitalised(entry.label), heads, rows)


def taken(answered: Answered) -> dict[str, str]:
    """What was assumed, by the names of the boxes."""
    inputs, question = answered.teller.calculator.inputs, answered.question
    plain = _plain(question.shape)
    told = {
        name: plain.get(name) or _taken(inputs[name].spec, value)
        for name, value in question.assumed.items()
        if not inputs[name].item
    }
    for path, item in answered.teller.items(question):
        told |= {f"{path}.{inner}": _taken(item.inputs[inner].spec, value) for inner, value in item.assumed.items()}
    return told


def usual(calculator: Calculator, told: Iterable[str]) -> dict[str, str]:
    """What would be taken for whatever else might be told, as far as no figure settles it, by the names of boxes."""
    names = frozenset(name for name in map(base, told) if name in calculator.inputs)
    return _plain(plan(calculator).shape(names))


@lru_cache(maxsize=512)
def _plain(shape: Shape) -> dict[str, str]:
    """The defaults that a set of names settles."""
    inputs = shape.owner.inputs
    return {
        name: _taken(inputs[name].spec, value)
        for name, value in shape.plain.items()
        if value is not None and not inputs[name].item
    }


def _taken(spec: Spec, value: Any) -> str:
    said = shown(spec, value)
    return briefly(said) if isinstance(spec, Choice) else said


def shown(spec: Spec, value: Any, direction: words.Direction | None = None) -> str:
    """A value as read by a person: three figures, rounded to the side that the result declares."""
    if value is None:
        return NONE
    if isinstance(value, LISTS):
        each = [shown(spec, one, direction) for one in list(value)[:MOST_LISTED]]
        unit = each[0].rpartition("\N{NO-BREAK SPACE}")[2] if isinstance(spec, Quantity) and each else ""
        if unit and all(one.endswith(unit) for one in each):
            each = [*(one.removesuffix(unit).strip() for one in each[:-1]), each[-1]]
        return ", ".join(each) or NONE
    if isinstance(spec, Quantity):
        return _quantity(float(value), spec, direction or spec.spoken)
    if isinstance(spec, Flag):
        return "yes" if value else "no"
    if isinstance(spec, Choice):
        return spec.said(str(value))
    if isinstance(spec, Text | Count):
        return _as_written(value) if isinstance(spec, Text) and spec.said else str(value)
    way: words.Direction = direction or (spec.spoken if isinstance(spec, Number) else "near")
    if isinstance(spec, Fraction):
        return _with_unit(words.number(100 * float(value), 3, way), "%")
    return _with_unit(words.number(float(value), 3, way), "C" if isinstance(spec, Rate) else "")


def _quantity(value: float, spec: Quantity, way: words.Direction) -> str:
    if spec.unit in ("min", "s") and way != "near" and MINUTE <= value < LONG:
        said = words.quarter_minutes(value) if way == "down" else words.minutes(value, way)
        return _in_one(said)
    if spec.unit in ("min", "s") and value >= 2 * MINUTE:
        return _in_one(words.duration(value, way))
    size = converted(value, spec.unit)
    digits = 4 if spec.unit in ("V", "mAh") and abs(size) >= 1 else 3
    unit = spec.unit
    if unit == "min" and value:
        size, unit = value, "s"
    if unit == "mΩ" and abs(size) >= 10_000:
        size, unit = size / 1000, "Ω"
    if unit == "mAh" and abs(size) >= 10_000:
        size, unit, digits = size / 1000, "Ah", 3
    if unit == "V" and 0 < abs(size) < 0.1:
        size, unit = size * 1000, "mV"
    return _with_unit(words.number(size, digits, way), unit)


@lru_cache(maxsize=2048)
def _in_one(said: str) -> str:
    """A time of several parts on one line."""
    return _as_written(said).replace(" ", "\N{NO-BREAK SPACE}")


def _as_written(said: str) -> str:
    return "".join(text for text, _ in words.written(said))


def _with_unit(figure: str, unit: str) -> str:
    plain = figure.replace("minus ", "\N{MINUS SIGN}")
    return f"{plain}\N{NO-BREAK SPACE}{unit}" if unit else plain

"""The single fields of a list of packs: how each is read, and what to write where it cannot be."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from math import isfinite
from typing import Any, TypeAlias, get_args

from ampstead_client._units import known
from ampstead_client.calculators import Chemistry, Condition, ResistanceMethod
from ampstead_client.packs.faults import Wrong, likeliest
from ampstead_client.quantity import Quantity

Read: TypeAlias = Callable[[str, Any], Any]
"""Takes a field's name and its value. Raises `Wrong`."""

_NUMBER = re.compile(r"[+\-\u2212]?[0-9.,]+")
_DEGREES = re.compile(r"(.*[0-9.])\s*([CF])")
_RATE = re.compile(r"([0-9]+\.?[0-9]*|\.[0-9]+)\s*C?")
_IN_SERIES = re.compile(r"\s*([0-9]{1,2})\s?[sS](?:\s?[0-9]{1,2}\s?[pP])?\s*")
_MOST_ELEMENTS = 64


def quantity(dimension: str, example: str, *, least: float | None = None) -> Read:
    """A quantity of a dimension, above `least` in the table's base unit if that is given."""

    def read(name: str, value: Any) -> Quantity:
        found = _parsed(name, value, dimension, example)
        unit = known(found.unit)
        assert unit is not None
        if unit.dimension != dimension:
            raise Wrong(f'{name} is a {dimension}, "{value}" is a {unit.dimension}: write it like "{example}"')
        if least is not None and found.value * float(unit.factor) <= least:
            raise Wrong(f'{name} must be above {least:g}, "{value}" was read: write it like "{example}"')
        return found

    return read


def quantities(dimension: str, example: str, *, least: float | None = None) -> Read:
    """One quantity, or one for each cell: a text with commas, or a list of texts."""
    one = quantity(dimension, example, least=least)

    def read(name: str, value: Any) -> Quantity | tuple[Quantity, ...]:
        parts = _parts(name, value, example)
        found = tuple(one(name, part) for part in parts)
        return found if len(found) > 1 or isinstance(value, list) else found[0]

    return read


def _parts(name: str, value: Any, example: str) -> list[Any]:
    if isinstance(value, list):
        parts = value
    elif isinstance(value, str) and "," in value:
        parts = [part.strip() for part in value.split(",")]
        bare = [part for part in parts if _NUMBER.fullmatch(part)]
        if len(parts) == 2 and bare:
            # 8,5 may be eight and a half, or eight and five.
            point, unit = value.replace(",", ".").replace(" ", ""), parts[1].lstrip("0123456789.").strip()
            both = f"{parts[0]} {unit}, {parts[1]}"
            raise Wrong(f'{name} "{value}" can be read in two ways: write "{point}", or "{both}" for two cells')
        if len(parts) > 2 and _decimal_commas(parts):
            points = ", ".join(f"{first}.{rest}" for first, rest in zip(parts[::2], parts[1::2], strict=True))
            raise Wrong(f'{name} "{value}" can be read in two ways: write "{points}", or a unit behind every value')
        last = parts[-1].lstrip("+-\u22120123456789.").strip()
        parts = [f"{part} {last}" if part in bare else part for part in parts]
    elif isinstance(value, str) and len(every := re.findall(r"[^\s]*[0-9]\s*[^\s0-9]*", value.strip())) > 1:
        raise Wrong(f'{name} "{value}" holds {len(every)} values: put commas between them')
    else:
        parts = [value]
    if not 1 <= len(parts) <= _MOST_ELEMENTS:
        raise Wrong(f'{name} has {len(parts)} values: write one, or one for each cell, like "{example}"')
    return parts


def _decimal_commas(parts: list[str]) -> bool:
    """Whether every second part begins with digits and ends with a unit, and the others are whole numbers."""
    whole, rest = parts[::2], parts[1::2]
    return (
        len(whole) == len(rest)
        and all(part.isdigit() for part in whole)
        and all(re.fullmatch(r"[0-9]+\s*[^\s0-9.].*", part) for part in rest)
    )


def _parsed(name: str, value: Any, dimension: str, example: str) -> Quantity:
    if isinstance(value, Quantity):
        found = value
    elif isinstance(value, int | float) or (isinstance(value, str) and _NUMBER.fullmatch(value.strip())):
        told, unit = str(value).strip(), example.rpartition(" ")[2]
        raise Wrong(f'{name} needs a unit: write "{example if "," in told else f"{told} {unit}"}"')
    elif isinstance(value, str):
        degrees = _DEGREES.fullmatch(value.strip()) if dimension == "temperature" else None
        try:
            found = Quantity.parse(f"{degrees[1]} °{degrees[2]}" if degrees else value)
        except ValueError:
            raise Wrong(f'{name} "{value}" is no quantity: write it like "{example}"') from None
    else:
        raise Wrong(f'{name} is no quantity: write it like "{example}"')
    if known(found.unit) is None:
        raise Wrong(f'{name} has the unit {found.unit}, which is not known here: write it like "{example}"')
    return found


def count(least: int, most: int) -> Read:
    """A whole number."""

    def read(name: str, value: Any) -> int:
        number = int(value) if isinstance(value, str) and re.fullmatch("[0-9]{1,4}", value.strip()) else value
        if isinstance(value, str) and (marked := _IN_SERIES.fullmatch(value)):
            raise Wrong(f"{name} must be a plain number: write {marked[1]}, {_shown(value)} was read")
        if isinstance(number, bool) or not isinstance(number, int) or not least <= number <= most:
            raise Wrong(f"{name} must be a whole number from {least} to {most}: {_shown(value)} was read")
        return number

    return read


def rate(name: str, value: Any) -> float:
    """Multiples of the capacity per hour: 2, or "2C"."""
    matched = _RATE.fullmatch(value.strip()) if isinstance(value, str) else None
    number = float(matched[1]) if matched else value
    if isinstance(number, bool) or not isinstance(number, int | float) or not isfinite(number) or number <= 0:
        raise Wrong(f'{name} must be a number above 0, like 2 or "2C": {_shown(value)} was read')
    return float(number)


def text(name: str, value: Any) -> str:
    """Words in one line."""
    if not isinstance(value, str) or not value.strip():
        raise Wrong(f"{name} must be words in quotes: {_shown(value)} was read")
    if len(value) > 200 or any(ord(letter) < 32 or ord(letter) == 127 for letter in value):
        raise Wrong(f"{name} must be one line of at most 200 letters")
    return value.strip()


def day(name: str, value: Any) -> date:
    """A day, as TOML writes it or as text."""
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date):
        return value
    try:
        return date.fromisoformat(value.strip())
    except (AttributeError, ValueError):
        raise Wrong(f"{name} must be a day as year, month, day, like 2026-04-11: {_shown(value)} was read") from None


def choice(words: Iterable[str], spellings: Mapping[str, str] | None = None) -> Read:
    """One of a few words, whatever the case of its letters."""
    known_words = list(words)
    spelt = {each.casefold(): each for each in known_words} | dict(spellings or {})

    def read(name: str, value: Any) -> str:
        found = None
        if isinstance(value, str):
            folded = value.strip().casefold()
            found = spelt.get(folded) or spelt.get(re.sub("[- ]", "", folded))
        if found is None:
            raise Wrong(f"{name} must be one of {', '.join(known_words)}: {_shown(value)} was read")
        return found

    return read


def _shown(value: Any) -> str:
    shown = f'"{value}"' if isinstance(value, str) else str(value)
    return shown if len(shown) <= 60 else f"{shown[:57]}..."


_SPELLINGS = {
    **{"lifepo4": "life", "lfp": "life", "lipoly": "lipo", "hvlipo": "lihv", "lipohv": "lihv"},
    **{"nicad": "nicd", "pb": "lead", "agm": "lead", "sla": "lead", "leadacid": "lead"},
}

PACK: Mapping[str, Read] = {
    "id": text,
    "name": text,
    "chemistry": choice(get_args(Chemistry), _SPELLINGS),
    "cells": count(1, 24),
    "capacity": quantity("charge", "2250 mAh", least=0),
    "label_rate": rate,
    "max_rate": rate,
    "bought": day,
    "condition": choice(get_args(Condition)),
    "typical_current": quantity("current", "14 A", least=0),
    "peak_current": quantity("current", "23 A", least=0),
    "flight_time": quantity("time", "7.5 min", least=0),
    "charge_returned": quantity("charge", "1480 mAh", least=0),
}
"""The keys of a pack, in the order in which they are written."""

NEEDED = ("id", "name", "cells", "capacity")

VALUES: Mapping[str, Read] = {
    "cell_resistance": quantities("resistance", "8.5 mΩ", least=0),
    "pack_resistance": quantity("resistance", "27 mΩ", least=0),
    "measured_capacity": quantity("charge", "2140 mAh", least=0),
    "cell_voltages": quantities("voltage", "3.77, 3.76, 3.79 V"),
    "condition": PACK["condition"],
}
"""The kinds of reading, and how each one's value is read; named as the calculators name their inputs."""

RESISTANCES = ("cell_resistance", "pack_resistance")

READING: Mapping[str, Read] = {
    "date": day,
    "kind": choice(VALUES),
    "value": lambda name, value: value,
    "temperature": quantity("temperature", "13 °C"),
    "method": text,
    "current": quantity("current", "5 A", least=0),
}
"""The keys of a reading, in the order in which they are written; `value` is read by the kind."""

METHOD: Read = choice(get_args(ResistanceMethod))
"""How a resistance was measured."""


def unknown_key(name: str, known_keys: Iterable[str]) -> str | None:
    """What a key that is not known may be a slip of; None for one that is somebody's own."""
    meant = likeliest(name, list(known_keys), 0.75)
    return f"{name} is not known{meant}" if meant.startswith(": did") else None

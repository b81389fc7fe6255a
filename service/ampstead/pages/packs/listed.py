"""The packs of a list and their readings, each key read as the calculators' input of that name is."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cache
from typing import Any

import numpy as np

from ampstead.declare import Input, Text
from ampstead.errors import clipped, did_you_mean
from ampstead.pages.packs.files import Entry, Fault, Faulty, entries
from ampstead.reading.readers import Reader, reader
from ampstead.replying.beyond.overview import FACTS
from ampstead.units import Unreadable

MOST_PACKS, MOST_READINGS = 100, 1000
FACTS_OF_A_PACK = (
    *("chemistry", "cells", "capacity", "label_rate", "max_rate", "condition", "typical_current", "peak_current"),
    *("flight_time", "charge_returned"),
)
RESISTANCES = ("cell_resistance", "pack_resistance")
KINDS: Mapping[str, str] = {
    **{name: name for name in (*RESISTANCES, "cell_voltages", "condition")},
    "measured_capacity": "charge_returned",
}
"""Kinds of reading, named as the calculators name their inputs, and the fact that is read alike."""
SHARED: Mapping[str, str] = {"temperature": "resistance_temperature", "current": "typical_current"}
PACK_KEYS = ("id", "name", "bought", *FACTS_OF_A_PACK)
READING_KEYS = ("date", "kind", "value", "temperature", "method", "current")
NEEDED = {"id": '"red-trainer-a"', "name": '"red trainer A"', "cells": "3", "capacity": '"2250 mAh"'}
NEEDED_OF_A_READING = {"date": "2026-04-11", "kind": '"cell_resistance"', "value": '"8.5 mΩ"'}
METHOD = "resistance_method"
_NAMED = Text("A name.", longest=200)


@dataclass(frozen=True)
class Reading:
    """What was measured on one day."""

    date: date
    kind: str
    told: Any
    """The value as it was written; ``value`` is the same in SI, the mean of the cells."""
    value: float
    temperature: Any = None
    method: str = ""
    current: Any = None


@dataclass(frozen=True)
class Listed:
    """A pack of the list: what is told of it, as it was written, and its readings in the order of days."""

    name: str
    facts: Mapping[str, Any]
    cells: int
    history: tuple[Reading, ...]
    lines: Mapping[str, int]
    """Where each fact stands that a calculator may find fault with."""
    alike: tuple[Any, ...] = field(default=())
    """What packs of one kind have in common."""

    def latest(self, *kinds: str) -> Reading | None:
        """The last reading of any of these kinds."""
        return next((each for each in reversed(self.history) if each.kind in kinds), None)

    @property
    def condition(self) -> str:
        """The state of its body: a body written down as unsound outweighs any reading."""
        own = self.facts.get("condition", "sound")
        read = self.latest("condition")
        return str(read.told if own == "sound" and read else own)


def listed(sent: bytes, name: str) -> list[Listed]:
    """The packs of a file.

    Raises
    ------
    Faulty
        With line and cure of all that is wrong.
    """
    found = entries(sent, name, (*PACK_KEYS, *READING_KEYS), PACK_KEYS)
    many = sum(len(entry.readings) for entry in found)
    if len(found) > MOST_PACKS or many > MOST_READINGS:
        said = f"the list has {len(found)} packs and {many} readings"
        raise Faulty([Fault(0, f"{said}: at most {MOST_PACKS} and {MOST_READINGS} are answered at once, so part it")])
    faults: list[Fault] = []
    packs = []
    names: dict[str, int] = {}
    for place, entry in enumerate(found):
        before = len(faults)
        made = _pack(entry, faults)
        for key in ("id", "name"):
            text = str(entry.values.get(key, "")).strip()
            if text and names.setdefault(text.casefold(), place) != place:
                faults.append(
                    Fault(entry.line(key), f'"{clipped(text)}" is the {key} of two packs: give each one of its own')
                )
        if made is not None and len(faults) == before:
            packs.append(made)
    if faults:
        raise Faulty(faults)
    return packs


@cache
def _reader(name: str) -> Reader:
    return reader(FACTS.inputs[name]) if name in FACTS.inputs else reader(Input(name, _NAMED))


class _Keys:
    """The keys of an entry, read one by one; what is wrong is told."""

    def __init__(self, entry: Entry, faults: list[Fault]) -> None:
        self.entry, self.faults = entry, faults
        self.given = {name: value for name, value in entry.values.items() if value not in ("", None)}

    def wrong(self, key: str, message: str) -> None:
        self.faults.append(Fault(self.entry.line(key), message))

    def read(self, key: str, read: Reader, name: str = "") -> Any:
        """A key's value, or None where it is not given or wrong."""
        if key not in self.given:
            return None
        value = self.given[key]
        try:
            if isinstance(value, dict) or (isinstance(value, date) and read is not _day):
                raise Unreadable("not_a_number", "must be a number, or text in quotes")
            return read(value.strip() if isinstance(value, str) else value)
        except Unreadable as fault:
            self.wrong(key, f"{name or key} {fault.message}")
            return None

    def odd(self, known: tuple[str, ...], needed: Mapping[str, str]) -> None:
        """Keys that are missing, and those that look like slips; other unknown keys are the owner's own."""
        missing = [name for name in needed if name not in self.given]
        for name in self.given:
            hint = "" if name in known else did_you_mean(name, [key for key in known if key not in self.given])
            meant = hint.removeprefix("; did you mean ").removesuffix("?")
            if hint and (meant in missing or _near(name, meant)):
                self.wrong(name, f"{clipped(name)} is unknown{hint}")
                missing = [each for each in missing if each != meant]
        for name in missing:
            self.wrong("", f"{name} is missing: write {name} = {needed[name]}")


def _near(name: str, meant: str) -> bool:
    """Whether a key differs by a letter or two: an owner's own key may well resemble another."""
    return abs(len(name) - len(meant)) <= 1 and sum(a != b for a, b in zip(name, meant, strict=False)) <= 2


def _pack(entry: Entry, faults: list[Fault]) -> Listed | None:
    keys = _Keys(entry, faults)
    before = len(faults)
    keys.odd(PACK_KEYS, NEEDED)
    read = {name: keys.read(name, _reader(name)) for name in FACTS_OF_A_PACK}
    name = keys.read("name", _reader("name"))
    keys.read("id", _reader("id"))
    keys.read("bought", _day)
    cells = read["cells"]
    history = [_reading(each, cells, faults) for each in entry.readings]
    if len(faults) > before:
        return None
    lines = {each: entry.line(each) for each in FACTS_OF_A_PACK}
    for each in entry.readings:
        if (kind := each.values.get("kind")) in KINDS:
            lines[str(kind)] = each.line("value")
    facts = {name: keys.given[name] for name in FACTS_OF_A_PACK if name in keys.given}
    if read["condition"] is not None:
        facts["condition"] = read["condition"]
    found = tuple(sorted((each for each in history if each is not None), key=lambda each: each.date))
    alike = (read["chemistry"] or "lipo", cells, str(np.asarray(read["capacity"]).tolist()), read["label_rate"])
    return Listed(name, facts, cells, found, lines, alike)


def _reading(entry: Entry, cells: int | None, faults: list[Fault]) -> Reading | None:
    keys = _Keys(entry, faults)
    before = len(faults)
    keys.odd(READING_KEYS, NEEDED_OF_A_READING)
    kind = keys.read("kind", _kind)
    day = keys.read("date", _day)
    value: Any = keys.read("value", _reader(KINDS[kind]), kind) if kind else None
    for key, fact in SHARED.items():
        keys.read(key, _reader(fact))
    method = keys.read("method", _reader(METHOD if kind in RESISTANCES else "method"))
    if kind in RESISTANCES and "method" not in keys.given:
        keys.wrong("", "method is missing: write how it was measured, 1kHz, charger, 1s or 10s")
    many = np.size(value) if value is not None and (kind == "cell_voltages" or np.ndim(value)) else cells
    if cells and many != cells:
        said = f"{kind} has {many} value{'s' if many != 1 else ''}, but the pack has {cells} cells"
        keys.wrong("value", f"{said}: write one for each cell")
    if len(faults) > before or kind is None or day is None:
        return None
    told = value if kind == "condition" else keys.given["value"]
    mean = 0.0 if kind == "condition" else float(np.mean(value))
    given = keys.given
    return Reading(day, kind, told, mean, given.get("temperature"), method or "", given.get("current"))


def _kind(value: Any) -> str:
    plain = value.strip().casefold().replace("-", "_").replace(" ", "_") if isinstance(value, str) else ""
    if plain not in KINDS:
        raise Unreadable("not_one_of", f"must be one of {', '.join(KINDS)}; {clipped(value)} was read")
    return plain


def _day(value: Any) -> date:
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date):
        return value
    try:
        return date.fromisoformat(value)
    except (TypeError, ValueError):
        said = "must be a day as year, month, day, like 2026-04-11"
        raise Unreadable("not_a_number", f"{said}; {clipped(value)} was read") from None

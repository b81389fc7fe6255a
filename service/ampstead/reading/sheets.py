"""Many questions in one table: comma separated text as spreadsheets write it.

A column whose heading is the name of an input, or ``capacity [mAh]`` with a unit for its bare numbers, is asked; any
other is only handed back. A misspelt heading is not: it is refused in each row that fills it, since an input that
silently went astray could hurt. Over 300 lines: every habit of a spreadsheet that is survived, on one page.
"""

import codecs
import csv
import io
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from ampstead.declare import (
    Calculator,
    Choice,
    Flag,
    Fraction,
    Input,
    Items,
    ItemType,
    Number,
    Quantity,
    Rate,
    Spec,
    Text,
)
from ampstead.errors import FieldError, Problem, Refusal, clipped
from ampstead.reading.many import Asked, Common, few_enough
from ampstead.reading.names import parts
from ampstead.reading.readers import has_unit

MOST_COLUMNS = 1000
NEAR = 0.85
"""Likeness from which a heading is taken for a misspelt input and not for a column of somebody's own."""
ANSWERED = re.compile(r"\s*(?:answer\..*|caution|problem)\s*", re.DOTALL)
"""Headings of an earlier reply: asked again, its columns make room for the new ones."""
_HEADING = re.compile(r"(.+?)\s*[\[(]\s*([^\[\]()0-9][^\[\]()]*)[\])]", re.DOTALL)
_BETWEEN = re.compile(r"[ \t]+(?=[+\-−]?[.,]?[0-9])")
_THOUSAND = re.compile(r"[0-9]{1,3} [0-9]{3}(?![0-9]).*", re.DOTALL)
_COMMA, _POINT = re.compile(r"(?<=[0-9]),(?=[0-9])|(?<![0-9]),(?=[0-9])"), re.compile(r"[0-9]\.[0-9]")
_POINTED = re.compile(r"[0-9]\.[0-9]{3}(?![0-9])|\..*,|,.*\.", re.DOTALL)
_CLOCK = re.compile(r"[0-9]+:[0-9]+")
_SPACES = str.maketrans({"\u00a0": " ", "\u202f": " ", "\u2009": " "})


@dataclass(frozen=True, slots=True)
class Style:
    """How a table was written, so that its answer can be written alike."""

    separator: str = ","
    mark: str = "."
    line: str = "\n"
    marked: bool = False
    """Whether it began with a byte order mark, by which spreadsheets know UTF-8."""
    told: bool = False
    """Whether its first line told the separator: ``sep=;``."""


@dataclass(frozen=True, slots=True)
class Column:
    """A column as it was headed, and the input that it holds, if any."""

    heading: str
    name: str | None = None
    unit: str = ""
    entry: Input | None = None


@dataclass(frozen=True)
class Sheet:
    """A table as it was sent, and what each of its rows asks."""

    style: Style
    columns: tuple[Column, ...]
    rows: list[list[str]]
    asked: list[Asked]


def from_table(body: bytes, content_type: str, calculator: Calculator, common: Mapping[str, Any]) -> Sheet:
    """The questions of a table, one a row.

    Raises
    ------
    Problem
        If it cannot be read, or holds more questions than the calculator takes.
    Refusal
        If an input heads two columns, or none at all.
    """
    text, marked = _text(body, content_type)
    line = "\r\n" if "\r\n" in text[:100_000] else "\n"
    first, _, rest = text.partition("\n")
    told = re.fullmatch(r"\s*sep=(.)\s*", first)
    separator = told[1] if told else _separator(first)
    lines = _lines(rest if told else text, separator)
    if not lines:
        raise Refusal([FieldError("questions", "missing", "questions is missing: the first line names the inputs")])
    few_enough(len(lines) - 1, calculator)
    if len(lines[0]) > MOST_COLUMNS:
        raise Problem(413, f"A table has at most {MOST_COLUMNS} columns; {len(lines[0])} were sent.")
    columns = tuple(column(heading, calculator) for heading in lines[0])
    _distinct(columns)
    rows = lines[1:]
    mark = _mark(separator, columns, rows)
    readers = [
        (place, _once(_reading(each, mark)), each) for place, each in enumerate(columns) if each.name is not None
    ]
    if not readers:
        some = ", ".join(list(calculator.inputs)[:3])
        said = f"no column is headed by an input of {calculator.name}, like {some}"
        raise Refusal([FieldError("questions", "missing", said)])
    shared = Common(calculator, common)
    asked = _asked_at_once(rows, len(columns), readers, shared)
    if asked is None:
        asked = [_asked(row, len(columns), readers, shared) for row in rows]
    return Sheet(Style(separator, mark, line, marked, told is not None), columns, rows, asked)


def _text(body: bytes, content_type: str) -> tuple[str, bool]:
    """The text of a body, and whether it had a byte order mark; UTF-8 if nothing else is told."""
    told = re.search(r'charset="?([A-Za-z0-9._-]{1,40})', content_type, re.IGNORECASE)
    if body.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        charsets = ["utf-16"]
    elif told:
        charsets = ["utf-8" if told[1].lower() in ("utf8", "utf-8") else told[1]]
    else:
        charsets = ["utf-8", "cp1252"]  # the second as older spreadsheets write ° and µ
    for charset in charsets:
        try:
            text = codecs.decode(body, charset)
        except (LookupError, ValueError):
            continue
        if isinstance(text, str):
            return text.removeprefix("\ufeff"), text.startswith("\ufeff") or charset == "utf-16"
    raise Problem(400, "The table is not text that can be read: send it as UTF-8.")


def _separator(heads: str) -> str:
    outside = re.sub(r'"[^"]*"', "", heads)
    return max((";", "\t", ","), key=outside.count) if re.search(r"[;\t,]", outside) else ","


def _lines(text: str, separator: str) -> list[list[str]]:
    """The lines of a table without empty ones at its end; an empty one between others counts as a row."""
    try:
        try:
            lines = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True))
        except csv.Error as fault:
            if "end of data" in str(fault):
                raise Problem(400, "The table ends within a quoted cell: a quotation mark is not closed.") from None
            lines = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator))
    except csv.Error:
        raise Problem(400, "The table cannot be read: a cell is far too long, or lines end oddly.") from None
    while lines and not any(map(str.strip, lines[-1])):
        lines.pop()
    while lines and not any(map(str.strip, lines[0])):
        lines.pop(0)
    return lines


def column(heading: str, calculator: Calculator) -> Column:
    """The column that a heading stands over."""
    if ANSWERED.fullmatch(heading):
        return Column(heading)
    plain, unit = _tidy(heading), ""
    entry = _entry(plain, calculator)
    if entry is None and (headed := _HEADING.fullmatch(plain)):
        plain, unit = headed[1], headed[2].strip()
        entry = _entry(plain, calculator)
    if entry is None:
        lower = plain.lower().replace(" ", "_").replace("-", "_")
        entry = _entry(lower, calculator)
        if entry is None:
            near = get_close_matches(lower[:60], list(calculator.inputs), n=1, cutoff=NEAR)
            return Column(heading, clipped(plain) if near else None)
        plain = lower
    return Column(heading, plain, unit, entry)


def _tidy(text: str) -> str:
    """A cell without blanks around it, and without the apostrophe by which spreadsheets mark text."""
    plain = text if text.isascii() else text.translate(_SPACES)
    return plain.strip().removeprefix("'").strip()


def _entry(name: str, calculator: Calculator) -> Input | None:
    """The input, even a nested one, that a name leads to."""
    owner: Calculator | ItemType | None = calculator
    while owner is not None:
        if found := owner.inputs.get(name):
            return found
        split = parts(name)
        entry = owner.inputs.get(split[0]) if split else None
        if split is None or entry is None or entry.item is None:
            return None
        if not split[1]:
            return entry
        owner, name = entry.item, split[1]
    return None


def _distinct(columns: tuple[Column, ...]) -> None:
    names = [each.name for each in columns if each.name is not None]
    twice = dict.fromkeys(name for name in names if names.count(name) > 1)
    if twice:
        raise Refusal(FieldError(name, "repeated", f"{name} heads more than one column") for name in twice)


def _mark(separator: str, columns: tuple[Column, ...], rows: list[list[str]]) -> str:
    """The decimal mark; where a table shows none, that of the spreadsheets which write its separator."""
    if separator == ",":
        return "."
    numeric = [place for place, each in enumerate(columns) if each.entry and _numeric(each.entry.spec)]
    point = False
    for row in rows:
        for place in numeric:
            cell = row[place] if place < len(row) else ""
            pointed = bool(_POINT.search(cell))
            if not pointed and _COMMA.search(cell):
                return ","
            point = point or pointed
    return "," if separator == ";" and not point else "."


def _numeric(spec: Spec) -> bool:
    return not isinstance(spec, Choice | Flag | Text) or (isinstance(spec, Text) and spec.measured)


Cell = Callable[[str], Any]


def _asked(row: list[str], width: int, readers: list[tuple[int, Cell, Column]], shared: Common) -> Asked:
    """What a row asks."""
    if len(row) > width and any(map(str.strip, row[width:])):
        said = f"the row has {len(row)} cells under {width} headings: quote a cell that holds the separator"
        return Refusal([FieldError("questions", "wrong_length", said)])
    made: dict[str, Any] = {}
    errors: list[FieldError] = []
    for place, read, each in readers:
        if place >= len(row):
            break
        value = read(row[place])
        if isinstance(value, FieldError):
            errors.append(value)
        elif value is not None:
            assert each.name is not None
            made[each.name] = value
    return Refusal(errors) if errors else shared.joined(made)


def _asked_at_once(
    rows: list[list[str]], width: int, readers: list[tuple[int, Cell, Column]], shared: Common
) -> list[Asked] | None:
    """The same for all rows, where every one has all its cells and none of them is odd."""
    if any(len(row) != width for row in rows):
        return None
    every = []
    for place, read, _ in readers:
        texts = [row[place] for row in rows]
        known = {text: read(text) for text in dict.fromkeys(texts)}
        if any(value is None or isinstance(value, FieldError) for value in known.values()):
            return None
        every.append([known[text] for text in texts])
    names = [str(each.name) for _, _, each in readers]
    made = [dict(zip(names, values, strict=True)) for values in zip(*every, strict=True)]
    return [shared.joined(own) for own in made] if shared.common else [*made]


def _once(read: Cell) -> Cell:
    """Each distinct text is read once."""
    known: dict[str, Any] = {}

    def cell_read(text: str) -> Any:
        try:
            return known[text]
        except KeyError:
            plain = _tidy(text)
            value = known[text] = read(plain) if plain else None
            return value

    return cell_read


def _reading(column: Column, mark: str) -> Cell:
    """How the cells of a column become the values of a raw question."""
    entry, unit, name = column.entry, column.unit, str(column.name)
    if entry is None:
        return lambda text: text
    spec: Spec = entry.spec
    if isinstance(spec, Items) and spec.shorthand and entry.item:
        spec = entry.item.inputs[spec.shorthand].spec
    listed = entry.many and isinstance(spec, Quantity | Number)

    def read(text: str) -> Any:
        if mark == "," and _numeric(spec):
            if _POINTED.search(text):
                said = f'{name} has a point where the table has decimal commas; "{clipped(text)}" was read'
                return FieldError(name, "not_a_number", said)
            text = _COMMA.sub(".", text)
        if not listed or "," in text or (entry.one and _THOUSAND.fullmatch(text)):
            return _with_unit(text, unit, spec)
        elements = _BETWEEN.split(text)
        if len(elements) == 1 and (entry.one or unit):
            return _with_unit(text, unit, spec)
        if not isinstance(spec, Quantity):
            return [_with_unit(element, unit, spec) for element in elements]
        last = unit if not has_unit(elements[-1]) else elements[-1].lstrip("+-−0123456789.eE ")
        return [element if has_unit(element) else f"{element} {last}".strip() for element in elements]

    return read


def _with_unit(text: str, unit: str, spec: Spec) -> str:
    """A cell with its heading's unit, where it has none of its own."""
    if not unit or not isinstance(spec, Quantity | Text | Number) or (has_unit(text) and not _CLOCK.fullmatch(text)):
        return text
    if isinstance(spec, Quantity):
        return text if _CLOCK.fullmatch(text) and unit in ("min", "minutes") else f"{text} {unit}"
    if isinstance(spec, Text):
        return f"{text} {unit}" if spec.measured else text
    # A rate in amperes must be refused, not read as so many C; pieces or cells after a plain number say nothing new.
    return f"{text}{unit}" if unit == "%" or isinstance(spec, Rate | Fraction) else text

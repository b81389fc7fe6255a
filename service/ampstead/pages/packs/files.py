"""A list of packs as its file has it, taken apart into entries; each key with its line.

No library for TOML tells the lines of what it read, so that the text is looked through for its headings.
"""

import csv
import io
import re
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from ampstead.errors import clipped, did_you_mean

LONGEST_LINE, MOST_DOTS = 2000, 100
"""What has more in a line is no list of packs, and may take a reader of TOML very long."""
MOST_TOLD = 40
DISARMED = ("=", "+", "-", "@", "\N{MINUS SIGN}", "\t")
"""What a cell begins with that is written with an apostrophe before it, lest a spreadsheet take it for a formula."""

_HEADING = re.compile(r'\s*\[\[\s*"?pack"?\s*(\.\s*"?reading"?\s*)?\]\]')
_KEY = re.compile(r"\s*[\"']?([\w-]+)[\"']?\s*=")
_UNQUOTED = re.compile(r"\s*([\w-]+)\s*=\s*([^\s\"'\[{#][^\"'#]*[^\W\d_][^\"'#]*?)\s*(#.*)?")
_FENCES = ('"""', "'''")
_PLACE = re.compile(r"(.*) \(at (?:line ([0-9]+), column [0-9]+|end of document)\)")


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong, and the cure; ``line`` is 0 where no line tells it."""

    line: int
    message: str


class Faulty(Exception):
    """A list that cannot be read: all that is wrong, in the order of the lines. As an exception it tells no text."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        super().__init__("a list of packs is wrong")
        self.faults = sorted(dict.fromkeys(faults), key=lambda fault: fault.line)


@dataclass
class Entry:
    """A pack or a reading: its keys, and the lines where they stand."""

    head: int
    values: dict[str, Any] = field(default_factory=dict)
    lines: dict[str, int] = field(default_factory=dict)
    readings: list["Entry"] = field(default_factory=list)

    def line(self, key: str) -> int:
        """Where a key stands, or else the heading."""
        return self.lines.get(key, self.head)


def entries(sent: bytes, name: str, columns: Iterable[str], own: Iterable[str]) -> list[Entry]:
    """The packs of a file.

    ``columns`` are the keys of a pack and of a reading, ``own`` those of the pack; ``name`` is the file's.

    Raises
    ------
    Faulty
        With line and cure.
    """
    try:
        text = sent.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as fault:
        raise Faulty([Fault(sent[: fault.start].count(b"\n") + 1, "save the file as UTF-8 text")]) from None
    lines = text.split("\n")
    for place, line in enumerate(lines, 1):
        if len(line) > LONGEST_LINE or (line.count(".") > MOST_DOTS and not line.lstrip().startswith("#")):
            raise Faulty(
                [Fault(place, f"the line has more than {LONGEST_LINE} letters or {MOST_DOTS} points: part it")]
            )
    head = next((line for line in lines if line.strip() and not line.lstrip().startswith("#")), "")
    if name.lower().endswith((".csv", ".tsv")) or not (head.lstrip().startswith("[") or "=" in head):
        return list(_of_table(text, list(columns), set(own)))
    return _of_toml(text, lines)


def _of_toml(text: str, lines: list[str]) -> list[Entry]:
    try:
        document = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as fault:
        raise Faulty([_syntax(fault, lines)]) from None
    listed = document.get("pack", [])
    if not _tables(listed):
        first = next((place for place, line in enumerate(lines, 1) if re.match(r"\s*\[*\s*packs?\b", line)), 0)
        raise Faulty([Fault(first, "write each pack under a heading of its own, [[pack]] in double brackets")])
    if not listed:
        slip = ", but [[packs]]" if "packs" in document else ""
        raise Faulty([Fault(1, f"no pack is in it{slip}: begin each pack with a line [[pack]]")])
    places = _places(lines)
    if len(places) != len(listed):
        places = [Entry(0) for _ in listed]
    for entry, told in zip(places, listed, strict=True):
        readings = told.pop("reading", [])
        if not _tables(readings):
            at = entry.readings[0].head if entry.readings else entry.line("reading")
            raise Faulty([Fault(at, "write each reading under a heading of its own, [[pack.reading]]")])
        if len(entry.readings) != len(readings):
            entry.readings = [Entry(entry.head) for _ in readings]
        entry.values = told
        for reading, values in zip(entry.readings, readings, strict=True):
            reading.values = values
    return places


def _tables(listed: Any) -> bool:
    return isinstance(listed, list) and all(isinstance(each, dict) for each in listed)


def _places(lines: list[str]) -> list[Entry]:
    """Where packs and readings stand, without their values; text over several lines may look like headings."""
    packs: list[Entry] = []
    inside: Entry | None = None
    fence = ""
    for number, line in enumerate(lines, 1):
        if not fence:
            heading = _HEADING.match(line)
            if heading and not heading[1]:
                packs.append(inside := Entry(number))
            elif heading and packs:
                packs[-1].readings.append(inside := Entry(number))
            elif packs and re.match(r"\s*\[\s*pack\s*\.\s*reading", line):
                packs[-1].lines.setdefault("reading", number)
            elif line.lstrip().startswith("["):
                inside = None
            elif inside is not None and (key := _KEY.match(line)):
                inside.lines.setdefault(key[1], number)
        for mark in _FENCES:
            if fence in ("", mark) and line.count(mark) % 2:
                fence = "" if fence else mark
    return packs


def _syntax(fault: Exception, lines: list[str]) -> Fault:
    told = _PLACE.fullmatch(str(fault))
    number = int(told[2]) if told and told[2] else len(lines)
    line = lines[number - 1] if 0 < number <= len(lines) else ""
    if unquoted := _UNQUOTED.fullmatch(line):
        return Fault(number, f'text goes in quotes: write {unquoted[1]} = "{unquoted[2]}"')
    said = told[1] if told else "it is nested too deep to be a list of packs"
    return Fault(number, f"this is not TOML: {said[:1].lower()}{said[1:]}")


def _of_table(text: str, columns: list[str], own: set[str]) -> Iterator[Entry]:
    """The packs of a table, one row a reading; a row's pack is that of its id or name."""
    rows = _rows(text, columns)
    found: dict[str, Entry] = {}
    faults = []
    for number, row in rows:
        facts = {name: value for name, value in row.items() if name in own}
        reading = {name: value for name, value in row.items() if name not in own and name in columns}
        named = [facts[name].casefold() for name in ("id", "name") if name in facts]
        entry = next((found[name] for name in named if name in found), None)
        if entry is None:
            entry = Entry(number, facts)
            found |= dict.fromkeys(named, entry)
            found.setdefault(f"\n{number}", entry)  # one that has neither is told so
        for name, value in facts.items():
            first = entry.values.setdefault(name, value)
            entry.lines.setdefault(name, number)
            if first != value and name != "condition":
                said = f'{name} is "{clipped(value)}" here and "{clipped(first)}" in line {entry.lines[name]}'
                faults.append(Fault(number, f"{said}, of one pack: change one of them"))
        if reading:
            entry.readings.append(Entry(number, reading))
    if faults:
        raise Faulty(faults)
    yield from {id(entry): entry for entry in found.values()}.values()


def _rows(text: str, columns: list[str]) -> list[tuple[int, dict[str, str]]]:
    """Rows with their lines, as cells by heading without the empty ones."""
    separator = max(",;\t", key=text.partition("\n")[0].count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    rows: list[tuple[int, dict[str, str]]] = []
    before = 0
    try:
        heads = [cell.strip() for cell in next(reader, [])]
        _check(heads, columns)
        before = reader.line_num
        for cells in reader:
            row = {name: _armed(cell).strip() for name, cell in zip(heads, cells, strict=False) if cell.strip()}
            if row:
                rows.append((before + 1, row))
            before = reader.line_num
    except csv.Error as fault:
        raise Faulty([Fault(before + 1, f"this is no table of CSV: {fault}")]) from None
    if not rows:
        raise Faulty([Fault(before, "no pack is in it: write a row for each pack, or for each reading of it")])
    return rows


def _check(heads: list[str], columns: list[str]) -> None:
    if not {"id", "name"} & set(heads):
        told = f"the first row must name the columns, id or name among them: {', '.join(columns)}"
        raise Faulty([Fault(1, f"this is no list of packs: in a table {told}; in TOML a pack begins with [[pack]]")])
    faults = [Fault(1, f"there are two columns {name}: leave one") for name in columns if heads.count(name) > 1]
    for head in heads:
        hint = "" if head in columns else did_you_mean(head, [name for name in columns if name not in heads])
        if head and hint:
            faults.append(Fault(1, f"the column {clipped(head)} is unknown{hint}"))
    if faults:
        raise Faulty(faults)


def _armed(cell: str) -> str:
    return cell[1:] if cell.startswith("'") and cell[1:].lstrip(" ").startswith(DISARMED) else cell

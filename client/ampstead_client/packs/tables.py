"""The list as a table of CSV, for exchange with a spreadsheet: one row a reading."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from ampstead_client.packs import fields, lines
from ampstead_client.packs.entries import ListedPack, PackReading, pack_of, reading_of
from ampstead_client.packs.faults import Fault, FaultyPacks, Wrong
from ampstead_client.packs.packlist import Draft, PackList, written_pack, written_reading
from ampstead_client.quantity import Quantity

HEADINGS = (*fields.PACK, *fields.READING)
_FORMULA = ("=", "+", "-", "@", "\u2212", "\uff1d", "\uff0b", "\uff0d", "\uff20", "\t", "\r")
_NUMBER = re.compile(r"[+\-\u2212]?[0-9.,]+(?:[eE][+\-]?[0-9]+)?(?: ?[A-Za-zΩµ°%²/·]*)")
_SEPARATORS = ",;\t"


def table(packs: PackList) -> str:
    """The list as CSV. A pack without readings has one row; what a spreadsheet would take for a formula is disarmed."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(HEADINGS)
    for pack in packs:
        facts = written_pack(pack)
        for reading in pack.history or (None,):
            measured = {} if reading is None else written_reading(reading)
            row = [*(facts[name] for name in fields.PACK), *(measured.get(name) for name in fields.READING)]
            writer.writerow([harmless("" if value is None else str(value)) for value in row])
    return out.getvalue()


def harmless(text: str) -> str:
    """Text that a spreadsheet will not take for a formula: an apostrophe is put before it."""
    return f"'{text}" if text.lstrip(" ").startswith(_FORMULA) and not _NUMBER.fullmatch(text.strip()) else text


def as_written(cell: str) -> str:
    """A cell as it was before `harmless`."""
    return cell[1:] if cell.startswith("'") and harmless(cell[1:]) == cell else cell


@dataclass
class Taken:
    """What came of a table."""

    packs: list[ListedPack] = field(default_factory=list)
    """New to the list."""
    readings: list[PackReading] = field(default_factory=list)
    """New to the list."""
    known: int = 0
    """Readings that the list had already."""


def take(packs: PackList, text: str, file: str) -> Taken:
    """Writes what a table has and the list has not: new packs, new readings. All of it, or nothing if a row is wrong.

    Raises `FaultyPacks` with the row's line and the cure.
    """
    rows = _rows(text, file)
    with packs.draft() as draft:
        taken, faults = Taken(), _Faults(file)
        listed = list(packs)
        for number, row in rows:
            _row(row, listed, taken, draft, faults.at(number))
        if faults.found:
            raise FaultyPacks(faults.found)
    return taken


class _Faults:
    def __init__(self, file: str) -> None:
        self.file = file
        self.found: list[Fault] = []

    def at(self, number: int) -> Callable[[str, str], None]:
        return lambda _, message: self.found.append(Fault(f"{self.file} line {number}", message))


def _row(
    row: Mapping[str, str], listed: list[ListedPack], taken: Taken, draft: Draft, tell: Callable[[str, str], None]
) -> None:
    facts = {name: row[name] for name in fields.PACK if name in row}
    measured = {name: row[name] for name in fields.READING if name in row}
    named = [facts[name].casefold() for name in ("id", "name") if name in facts]
    place = next((n for n, pack in enumerate(listed) if {pack.id.casefold(), pack.name.casefold()} & set(named)), None)
    if place is None:
        pack = pack_of(facts, [], tell)
        if pack is None:
            return
        place = len(listed)
        listed.append(pack)
        taken.packs.append(pack)
        draft.text = lines.with_pack(draft.text, written_pack(pack))
    elif not _agrees(facts, listed[place], tell):
        return
    if not measured:
        return
    reading = reading_of(measured, listed[place].cells, tell)
    if reading is None:
        return
    if reading in listed[place].history:
        taken.known += 1
        return
    # Twice in one table is twice measured: only what the list had before is known.
    taken.readings.append(reading)
    draft.text = lines.with_reading(draft.text, place, written_reading(reading))


def _agrees(facts: Mapping[str, str], pack: ListedPack, tell: Callable[[str, str], None]) -> bool:
    """Whether a row's facts are those of the list's pack; the condition is of the latest reading, and may differ."""
    alike = True
    for name, text in facts.items():
        told: list[str] = []
        if name in ("id", "name", "condition"):
            continue
        try:
            found: Any = fields.PACK[name](name, text)
        except Wrong as wrong:
            tell(name, str(wrong))
            alike = False
            continue
        own = getattr(pack, name)
        if own != found and own is not None:
            shown = str(own) if isinstance(own, Quantity) else own
            told.append(f'{name} of "{pack.name}" is {text} here and {shown} in the list: change one of them')
        for message in told:
            tell(name, message)
            alike = False
    return alike


def _rows(text: str, file: str) -> list[tuple[int, dict[str, str]]]:
    """Rows with their lines, as cells by heading without the empty ones."""
    head = text.partition("\n")[0]
    separator = max(_SEPARATORS, key=head.count)
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""), delimiter=separator, strict=True)
    rows: list[tuple[int, dict[str, str]]] = []
    before = 0
    try:
        headings = [cell.strip() for cell in next(reader, [])]
        _checked_headings(headings, file)
        before = reader.line_num
        for cells in reader:
            row = {name: as_written(cell).strip() for name, cell in zip(headings, cells, strict=False) if cell.strip()}
            if row:
                rows.append((before + 1, row))
            before = reader.line_num
    except csv.Error as fault:
        raise FaultyPacks([Fault(f"{file} line {before + 1}", f"this is no table of CSV: {fault}")]) from None
    return rows


def _checked_headings(headings: list[str], file: str) -> None:
    where = f"{file} line 1"
    if not {"id", "name"} & set(headings):
        told = f"the first row must name the columns, id or name among them: {', '.join(HEADINGS)}"
        raise FaultyPacks([Fault(where, told)])
    twice = [name for name in HEADINGS if headings.count(name) > 1]
    slips = [fields.unknown_key(name, [n for n in HEADINGS if n not in headings]) for name in headings]
    faults = [f"the column {slip}" for name, slip in zip(headings, slips, strict=True) if slip and name not in HEADINGS]
    faults += [f"there are two columns {name}: leave one" for name in twice]
    if faults:
        raise FaultyPacks(Fault(where, message) for message in faults)

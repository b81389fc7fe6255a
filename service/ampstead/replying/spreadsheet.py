"""A table of questions handed back with its answers, written as it was sent."""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from ampstead.cell.column import Column
from ampstead.declare import Calculator, Choice, ItemType, Result, Text
from ampstead.reading.sheets import ANSWERED, Sheet, Style
from ampstead.replying.answers import Answered
from ampstead.replying.columns import Filling
from ampstead.replying.writers import headed, in_answers, plainly, safely

NUMBER = re.compile(r"[+\-−]?[0-9.,]+(?:[eE][+\-]?[0-9]+)?(?: ?[A-Za-zΩµ°%²/·]*)")
CAUTION, PROBLEM = "caution", "problem"
Cell = Callable[[Any], str]


def harmless(text: str) -> str:
    """Text that a spreadsheet will not take for a formula; numbers, negative ones too, stay as they are."""
    if text.lstrip()[:1] in ("=", "+", "-", "@", "−", "＝", "＋", "－", "＠") and not NUMBER.fullmatch(text.strip()):
        return f"'{text}"
    return f"'{text}" if text[:1] in ("\t", "\r", "\n") and text.strip() else text


class _Echoed(dict[str, str]):
    """Cells handed back, harmless and quoted; each distinct text is looked at once."""

    def __init__(self, separator: str) -> None:
        self.separator = separator

    def __missing__(self, text: str) -> str:
        made = self[text] = safely(harmless(text), self.separator)
        return made


class Row(NamedTuple):
    """What a row is given: its plain results, the columns of its lists of nested things, and what to heed."""

    plain: list[str]
    nested: Mapping[str, list[list[str]]]
    caution: str


class Filled:
    """The rows of a table, one after the other, with what became of each."""

    def __init__(self, calculator: Calculator, sheet: Sheet) -> None:
        self.sheet = sheet
        mark, results = sheet.style.mark, calculator.results
        self.plain = [(name, cell(result, mark)) for name, result in results.items() if not result.item]
        self.empty = Row([""] * len(self.plain), {}, "")
        self.nested = {name: _Nested(name, result.item, mark) for name, result in results.items() if result.item}
        self.results = results
        self.kept = [place for place, each in enumerate(sheet.columns) if not ANSWERED.fullmatch(each.heading)]
        self.rows: list[Row | str | Mapping[str, Any]] = []

    def cells(self, answered: Answered) -> Row:
        """What the next row is given."""
        answer = answered.answer
        return Row(
            [write(getattr(answer, name)) for name, write in self.plain],
            {name: nested.cells(getattr(answer, name)) for name, nested in self.nested.items()},
            _heed(answered),
        )

    def many(self, answered: Answered, rows: int) -> list[str]:
        """The same of many rows that were answered together, each as it stands in the table."""
        if self.nested:
            raise TypeError("nested things are not columns")
        made, style = Filling(), self.sheet.style
        for name, write in self.plain:
            value = getattr(answered.answer, name)
            if type(value) is Column:
                made.column(in_answers(self.results[name].spec, value.values))
            else:
                made.text(safely(write(value), style.separator))
            made.text(style.separator)
        made.text(safely(_heed(answered), style.separator) + style.separator)
        return made.filled(rows, style.mark)

    def row(self, outcome: Row | str | Mapping[str, Any]) -> None:
        """The next row as it came out: what it is given, or the document of a problem."""
        self.rows.append(outcome)

    @property
    def refused(self) -> int:
        """How many rows have a problem."""
        return sum(not isinstance(row, Row | str) for row in self.rows)

    def written(self) -> str:
        """The whole table."""
        style = self.sheet.style
        heads = [harmless(self.sheet.columns[place].heading) for place in self.kept]
        order = [(name, self.nested.get(name)) for name in self.results]
        for name, nested in order:
            heads += nested.heads() if nested else [f"answer.{headed(name, self.results[name])}"]
        first = style.separator.join([safely(head, style.separator) for head in [*heads, CAUTION, PROBLEM]])
        mark = "\ufeff" if style.marked else ""
        told = f"sep={style.separator}{style.line}" if style.told else ""
        return f"{mark}{told}{style.line.join([first, *self._rows(order), ''])}"

    def _rows(self, order: Sequence[tuple[str, "_Nested | None"]]) -> Iterator[str]:
        """The rows that were sent, with what each came to."""
        separator, width = self.sheet.style.separator, len(self.sheet.columns)
        echoed = _Echoed(separator)
        for sent, came in zip(self.sheet.rows, self.rows, strict=True):
            whole = sent if len(sent) >= width else sent + [""] * (width - len(sent))
            row = [echoed[whole[place]] for place in self.kept]
            if isinstance(came, str):
                row.append(came)
            else:
                row += [safely(cell, separator) for cell in self._given(came, order)]
            yield separator.join(row)

    def _given(self, came: Row | Mapping[str, Any], order: Sequence[tuple[str, "_Nested | None"]]) -> Iterator[str]:
        """The cells of a row that was answered alone, or not."""
        plain, lists, caution = came if isinstance(came, Row) else self.empty
        cells = iter(plain)
        for name, nested in order:
            if nested:
                yield from nested.row(lists.get(name, []))
            else:
                yield next(cells)
        yield caution
        yield "" if isinstance(came, Row) else harmless(str(came["detail"]))


def alone(answered: Answered) -> str:
    """The table of one answer, its inputs not repeated."""
    filled = Filled(answered.teller.calculator, Sheet(Style(), (), [[]], []))
    filled.row(filled.cells(answered))
    return filled.written()


def _heed(answered: Answered) -> str:
    """The gravest caution that a row brought up."""
    return " ".join([entry.text for entry in answered.gravest() if not entry.standing])


def cell(result: Result, mark: str) -> Cell:
    """How a result stands in a cell: in its heading's unit, nothing for null, a list separated by spaces."""
    one = _one(result, mark)

    def write(value: Any) -> str:
        if value is None:
            return ""
        if result.many and isinstance(value, list | tuple | np.ndarray):
            return " ".join([one(element) for element in value])
        return one(value)

    return write


def _one(result: Result, mark: str) -> Cell:
    plain = plainly(result.spec)
    if isinstance(result.spec, Choice | Text):
        return lambda value: harmless(plain(value))
    return (lambda value: plain(value).replace(".", ",")) if mark == "," else plain


class _Nested:
    """A list of nested things in columns like ``answer.allotments[0].current [A]``, as many as the longest needs."""

    def __init__(self, name: str, item: ItemType, mark: str) -> None:
        self.name = name
        self.inner = [(headed(part, result), part, cell(result, mark)) for part, result in item.results.items()]
        self.longest = 0

    def cells(self, value: Any) -> list[list[str]]:
        entries = [] if value is None else list(value) if isinstance(value, list | tuple) else [value]
        self.longest = max(self.longest, len(entries))
        return [[write(getattr(entry, part)) for _, part, write in self.inner] for entry in entries]

    def heads(self) -> list[str]:
        return [
            f"answer.{self.name}[{place}].{heading}" for place in range(self.longest) for heading, _, _ in self.inner
        ]

    def row(self, entries: list[list[str]]) -> list[str]:
        made = [cell for entry in entries for cell in entry]
        return made + [""] * (self.longest * len(self.inner) - len(made))

"""Many questions answered at once, by the calculators' own scalar code: a column of numbers stands where one would.

A ``Column`` does arithmetic for all its rows together. Where the code asks for a truth that holds for some of them
only, the rows part (``Split``) and both halves start again, until each half answers alike throughout; its rows then
share one text but for the numbers. Whatever a column cannot stand for (a curve looked up, a number put into words)
raises, and those rows go the way of single questions. So nothing can differ but the speed.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, TypeVar

import numpy as np
import orjson
from numpy.typing import NDArray

from ampstead.cell.column import Column, Split
from ampstead.declare import Count, Floats, Input, Number, Quantity, Spec
from ampstead.errors import Refusal
from ampstead.reading.items import Item
from ampstead.reading.readers import Reader
from ampstead.replying.answers import Answered, Teller
from ampstead.replying.writers import around, in_answers, key, quoted
from ampstead.units import Unreadable

Rows = NDArray[np.intp]
Written = TypeVar("Written")
FEW = 8
"""Rows that are sooner answered one by one."""
MOST_TRIES = 200
"""Starts of a group's function that are given up on before the rest go one by one."""
NOT_ONE = (np.ndarray, Item, list)

Write = Callable[[Answered, int], list[Written]]
"""Writes so many rows that were answered together."""


def groups(teller: Teller, asked: Sequence[Any], write: Write[Written]) -> Iterator[tuple[int, Written]]:
    """The rows that can be answered together, as written, by their places; all others are left for the single way."""
    alike: dict[tuple[str, ...], list[int]] = {}
    readers = teller.plan.readers
    for place, raw in enumerate(asked):
        if type(raw) is dict or isinstance(raw, Mapping):
            values = raw.values()
            if None in values or "" in values:
                continue
            alike.setdefault(tuple(raw), []).append(place)
    for names, places in alike.items():
        if len(places) >= FEW and all(name in readers for name in names):
            for rows, written in _Run(teller, asked, names, places).groups(write):
                yield from zip(rows.tolist(), written, strict=True)


class _Run:
    """The questions of one set of names."""

    def __init__(self, teller: Teller, asked: Sequence[Any], names: tuple[str, ...], places: list[int]) -> None:
        self.teller = teller
        self.shape = teller.plan.shape(frozenset(names))
        inputs = teller.plan.inputs
        bad: set[int] = set()
        columns = {
            name: _read(teller.plan.readers[name], [asked[place][name] for place in places], bad) for name in names
        }
        if bad:
            kept = [place for place in range(len(places)) if place not in bad]
            columns = {name: [column[place] for place in kept] for name, column in columns.items()}
            places = [places[place] for place in kept]
        self.places = np.array(places, dtype=np.intp)
        self.numbers = {name: np.array(c, dtype=float) for name, c in columns.items() if _plain(inputs[name])}
        self.others = {name: column for name, column in columns.items() if name not in self.numbers}
        self.tries = 0

    def groups(self, write: Write[Written]) -> Iterator[tuple[Rows, list[Written]]]:
        apart: dict[tuple[Any, ...], list[int]] = {}
        names = tuple(self.others)
        for place, told in enumerate(zip(*self.others.values(), strict=True) if names else [()] * len(self.places)):
            apart.setdefault(told, []).append(place)
        for told, places in apart.items():
            yield from self._group(np.array(places, dtype=np.intp), dict(zip(names, told, strict=True)), write)

    def _group(
        self, rows: Rows, fixed: Mapping[str, Any], write: Write[Written]
    ) -> Iterator[tuple[Rows, list[Written]]]:
        open_ends = [(rows, fixed)]
        while open_ends:
            rows, fixed = open_ends.pop()
            if len(rows) < FEW or self.tries > MOST_TRIES:
                continue
            try:
                with np.errstate(all="raise", under="ignore"):
                    answered = self._answered(rows, fixed)
                    written = [] if answered is None else write(answered, len(rows))
            except Split as split:
                self.tries += 1
                open_ends += [(rows[split.mask], fixed), (rows[~split.mask], fixed)]
            except Exception:  # of any kind: the single way will tell
                self.tries += 1
                open_ends += self._by_value(rows, fixed)
            else:
                if written:
                    yield self.places[rows], written

    def _answered(self, rows: Rows, fixed: Mapping[str, Any]) -> Answered | None:
        read = dict(fixed)
        for name, column in self.numbers.items():
            if name not in fixed:
                values = column[rows]
                read[name] = float(values[0]) if (values == values[0]).all() else Column(values)
        question, errors = self.shape.completed(read, set())
        return None if errors else self.teller.told(question)

    def _by_value(self, rows: Rows, fixed: Mapping[str, Any]) -> list[tuple[Rows, Mapping[str, Any]]]:
        """The rows by the values of the input that has the fewest, for code that puts it into words."""
        fewest: tuple[int, str, Any] | None = None
        for name, column in self.numbers.items():
            if name not in fixed:
                values = np.array(sorted({*column[rows].tolist()}))
                if 1 < len(values) <= len(rows) // FEW and (fewest is None or len(values) < fewest[0]):
                    fewest = len(values), name, values
        if fewest is None:
            return []
        _, name, values = fewest
        column = self.numbers[name][rows]
        return [(rows[column == value], {**fixed, name: float(value)}) for value in values]


def _plain(entry: Input) -> bool:
    return isinstance(entry.spec, Quantity | Number) and not isinstance(entry.spec, Count) and not entry.item


def _read(read: Reader, texts: list[Any], bad: set[int]) -> list[Any]:
    """The values of a column, each distinct text read once; rows that cannot be read, or hold a list, are ``bad``."""
    kinds = set(map(type, texts))
    if len(kinds) == 1 and kinds <= {str, int, float}:  # 1 is not true, nor always 1.0
        known = {text: _value(read, text) for text in dict.fromkeys(texts)}
        values = [known[text] for text in texts]
    else:
        values = [_value(read, text) for text in texts]
    if None in values:
        bad.update(place for place, value in enumerate(values) if value is None)
    return values


def _value(read: Reader, text: Any) -> Any:
    """A value of a column, or None where there is none."""
    try:
        value = read(text)
    except (Unreadable, Refusal):
        return None
    return None if isinstance(value, NOT_ONE) else value


def lines(columns: Sequence[Floats]) -> list[str]:
    """Rows of figures, comma separated, each at fifteen digits."""
    figures = np.column_stack(columns)
    size = np.abs(figures)
    if not (size < 1e100).all():
        raise ValueError("a result that is too large, or no finite number")
    scale = 10.0 ** (14 - np.floor(np.log10(np.where(size > 1e-100, size, 1.0))))
    rounded = np.ascontiguousarray(np.rint(figures * scale) / scale + 0.0)
    dumped = orjson.dumps(rounded, option=orjson.OPT_SERIALIZE_NUMPY).decode()
    written = dumped[2:-2].replace("],[", "\n") + "\n"
    return written.replace(".0,", ",").replace(".0\n", "\n").split("\n")[:-1]


class Filling:
    """A text with places for figures, each a column; filled in for all rows at once."""

    def __init__(self) -> None:
        self.texts = [""]
        """What stands before, between and after the columns."""
        self.columns: list[Floats] = []

    def text(self, text: str) -> None:
        """A text that all rows share."""
        self.texts[-1] += text

    def column(self, values: Floats) -> None:
        """The figures of a column."""
        self.columns.append(values)
        self.texts.append("")

    def value(self, spec: Spec, value: Any, alone: Callable[[Any], str], key: str = "") -> None:
        """A value as ``alone`` writes it, its key and all, or a column of its kind."""
        if type(value) is not Column:
            self.text(alone(value))
            return
        before, after = around(spec)
        self.text(key + before)
        self.column(in_answers(spec, value.values))
        self.text(after)

    def filled(self, rows: int, mark: str = ".") -> list[str]:
        """The text of each row, its figures with a decimal mark."""
        if not self.columns:
            return ["".join(self.texts)] * rows
        made, parts = [], [""] * (len(self.texts) + len(self.columns))
        parts[::2] = self.texts
        for figures in lines(self.columns):
            told = figures.split(",")
            parts[1::2] = told if mark == "." else [figure.replace(".", mark) for figure in told]
            made.append("".join(parts))
        return made


def briefs(answered: Answered, rows: int) -> list[str]:
    """What a batch says of each row: see ``Answered.brief``."""
    teller, made, question = answered.teller, Filling(), answered.question
    if teller.nested:
        raise TypeError("nested things are not columns")
    inputs, results = teller.calculator.inputs, teller.calculator.results
    made.text('{"answer":{')
    for place, (name, write) in enumerate(teller.results):
        made.text("," if place else "")
        made.value(results[name].spec, getattr(answered.answer, name), write, key(name))
    made.text('},"assumed":{')
    for place, (name, value) in enumerate(question.assumed.items()):
        made.text("," if place else "")
        made.value(inputs[name].spec, value, teller.inputs[name], key(name))
    made.text('},"accuracy":[')
    for place, band in enumerate(band for band in answered.known["bands"].values() if band.wide):
        spec, (start, write) = results[band.of].spec, teller.edges[band.of]
        made.text(f",{start}" if place else start)
        made.value(spec, band.low, write)
        made.text(',"high":')
        made.value(spec, band.high, write)
        made.text(f',"basis":{quoted(band.basis)}}}')
    made.text(f'],"cautions":[{answered.cautions_written()}]}}')
    return made.filled(rows)

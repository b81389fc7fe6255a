"""One writer per input and result, chosen once: a function from the SI value to its text in an answer of JSON."""

from collections.abc import Callable, Mapping, Sequence
from json import loads
from json.encoder import encode_basestring
from typing import Any

import numpy as np
import orjson

from ampstead import units
from ampstead.declare import Count, Flag, Floats, Input, ItemType, Number, Quantity, Result, Spec
from ampstead.reading.items import Item

Writer = Callable[[Any], str]

LISTS = (list, tuple, np.ndarray)
"""Made once: a union written where it is asked for is made anew each time."""
ODD = frozenset(("nan", "inf", "-inf", "-0"))
"""What a number may look like that is not written so."""
quoted: Writer = encode_basestring
"""Text as a string of JSON."""


def writer(entry: Input | Result, after: str = "") -> Writer:
    """How an input's or a result's SI value is written, after a text; None as null, a list as a list."""
    if not entry.many:
        return _item(entry.item, after) if entry.item else _scalar(entry.spec, after)
    one = _item(entry.item) if entry.item else _scalar(entry.spec)

    def several_written(value: Any) -> str:
        if isinstance(value, LISTS):
            elements = value.tolist() if isinstance(value, np.ndarray) else value
            return f"{after}[{','.join([one(element) for element in elements])}]"
        return after + one(value)

    return several_written


def member(name: str, entry: Input | Result) -> Writer:
    """How an input or a result is written as a member of an object: its key, and its SI value."""
    return writer(entry, key(name))


def key(name: str) -> str:
    """The key of a member of an object."""
    return f"{quoted(name)}:"


def shown(entry: Input | Result, value: Any) -> Any:
    """The same, as JSON is read."""
    return loads(writer(entry)(value))


def _scalar(spec: Spec, after: str = "") -> Writer:
    none = f"{after}null"
    if isinstance(spec, Quantity):
        before, tail = around(spec)
        head = after + before
        line = units.answer_scale(spec.unit)
        factor, offset = line.factor, line.offset

        def seldom(value: Any) -> str:
            return none if value is None else f"{head}{number((float(value) - offset) / factor)}{tail}"

        if offset:
            return seldom

        def quantity_written(value: Any) -> str:
            if value:  # `number` tells what to do with nought and what is no number; a call for each would cost
                size = value / factor
                if size - size == 0.0:
                    return f"{head}{size:.15g}{tail}"
            return seldom(value)

        return quantity_written
    plain: Writer = quoted
    if isinstance(spec, Count):
        plain = _count
    elif isinstance(spec, Number):
        plain = _number
    elif isinstance(spec, Flag):
        plain = _flag
    return lambda value: none if value is None else after + plain(value)


def plainly(spec: Spec) -> Writer:
    """How a value stands in a table: a number in the unit of answers without it, text as it is."""
    if isinstance(spec, Quantity):
        line = units.answer_scale(spec.unit)
        factor, offset = line.factor, line.offset
        return lambda value: number((float(value) - offset) / factor)
    if isinstance(spec, Count):
        return _count
    return _number if isinstance(spec, Number) else _flag if isinstance(spec, Flag) else str


def around(spec: Spec) -> tuple[str, str]:
    """What stands before and after the figure of a quantity or number in JSON."""
    return ('{"value":', f',"unit":{quoted(spec.unit)}}}') if isinstance(spec, Quantity) else ("", "")


def _count(value: Any) -> str:
    return str(int(value))


def _number(value: Any) -> str:
    return number(float(value))


def _flag(value: Any) -> str:
    return "true" if value else "false"


def number(value: float) -> str:
    """A finite number at fifteen digits, free of the last digits' binary noise: 9.620000000000001 is 9.62."""
    written = f"{value:.15g}"
    if written not in ODD:
        return written
    if written != "-0":
        raise ValueError("a result that is no finite number")
    return "0"


def _item(item: ItemType, after: str = "") -> Writer:
    inputs = {name: member(name, entry) for name, entry in item.inputs.items()}
    results = [(name, member(name, result)) for name, result in item.results.items()]

    def item_written(element: Any) -> str:
        if isinstance(element, Item):
            return f"{after}{{{','.join([inputs[name](value) for name, value in element.given.items()])}}}"
        return f"{after}{{{','.join([write(getattr(element, name)) for name, write in results])}}}"

    return item_written


def headed(name: str, result: Result) -> str:
    """A column's heading: ``time [min]``."""
    return f"{name} [{result.spec.unit}]" if isinstance(result.spec, Quantity) else name


def table(columns: Mapping[str, Result], curve: Any) -> str:
    """A curve or table as comma separated text, each column headed by its name and unit."""
    heads = ",".join(headed(name, column) for name, column in columns.items())
    made = [(column, getattr(curve, name)) for name, column in columns.items()]
    if all(_numeric(column, values) for column, values in made):
        return f"{heads}\n{_figures([in_answers(column.spec, values) for column, values in made])}"
    cells = [_cells(column, values) for column, values in made]
    return "\n".join([heads, *map(",".join, zip(*cells, strict=True)), ""])


def _numeric(result: Result, values: Any) -> bool:
    if isinstance(result.spec, Quantity):
        return True
    plain = isinstance(result.spec, Number) and not isinstance(result.spec, Count)
    return plain and (_floats(values) or not any(value is None for value in values))


def _floats(values: Any) -> bool:
    return isinstance(values, np.ndarray) and values.dtype == np.float64


def in_answers(spec: Spec, values: Any) -> Floats:
    """Values in the unit of answers."""
    made: Floats = np.asarray(values, dtype=float)
    if not isinstance(spec, Quantity):
        return made
    line = units.answer_scale(spec.unit)
    return (made - line.offset) / line.factor


def _figures(columns: Sequence[Floats]) -> str:
    """Columns of figures as lines of text, free of the binary noise beyond fifteen digits of each one's largest."""
    figures = np.array(columns)
    if not figures.size:
        return ""
    size = np.abs(figures)
    largest = size.max(axis=1, initial=1e-280)
    if gaps := not np.isfinite(largest).all():
        largest = np.max(size, axis=1, initial=1e-280, where=np.isfinite(figures))
    scale = 10.0 ** (14 - np.floor(np.log10(largest)))[:, None]
    rounded = np.ascontiguousarray((np.rint(figures * scale) / scale).T)
    dumped = orjson.dumps(rounded, option=orjson.OPT_SERIALIZE_NUMPY).decode()
    lines = dumped[2:-2].replace("],[", "\n") + "\n"
    lines = lines.replace(".0,", ",").replace(".0\n", "\n")
    return lines.replace("null", "") if gaps else lines


def _cells(result: Result, values: Any) -> list[str]:
    spec = result.spec
    if _numeric(result, values):
        return [number(value) for value in in_answers(spec, values).tolist()]
    one = _scalar(spec) if isinstance(spec, Number | Flag) else safely
    return ["" if value is None else one(value) for value in values]


def safely(text: str, separator: str = ",") -> str:
    """Text as a cell of a table (RFC 4180): within quotation marks where it would break it."""
    if separator in text or '"' in text or "\n" in text or "\r" in text:
        return '"{}"'.format(text.replace('"', '""'))
    return text

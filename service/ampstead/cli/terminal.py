"""An answer laid out for a terminal: its sentence, the figures with their bands in columns, the cautions, the defaults.

Limits are rounded as they are spoken: down for what may be at most, up for what is needed, bands with their edges
outward. What cannot be printed, such as what would steer a terminal, is left out.
"""

from collections.abc import Iterable, Mapping, Sequence
from shutil import get_terminal_size
from textwrap import fill
from typing import Any

from ampstead.calculators import registry
from ampstead.declare import Fraction, Number, Quantity, Rate, Result, Spec
from ampstead.words import Direction, number

DIGITS = 4
NARROWEST, WIDEST = 40, 100
NOTHING = "–"
TIE = "\N{OPEN BOX}"  # stands for a blank at which no line breaks


def plain(text: str) -> str:
    """Text without what would steer a terminal."""
    return "".join(letter for letter in text if letter.isprintable())


def kept_together(text: str) -> str:
    """Text that no line's end tears apart, unless it is long."""
    return text.replace(" ", TIE) if len(text) < NARROWEST else text


def width() -> int:
    """Columns to fill."""
    return max(NARROWEST, min(get_terminal_size().columns, WIDEST))


def aligned(rows: Iterable[Sequence[str]], indent: str = "") -> str:
    """Rows in columns, the last of them folded within the terminal's width."""
    told = [[plain(cell) for cell in row] for row in rows]
    columns = [max((len(row[place]) for row in told if len(row) > place), default=0) for place in range(64)]
    lines = []
    for row in told:
        head = indent + "".join(cell.ljust(size + 2) for cell, size in zip(row[:-1], columns, strict=False))
        lines.append(_folded(row[-1], head, " " * len(head)))
    return "\n".join(lines)


def _folded(text: str, head: str = "", hang: str = "") -> str:
    room = max(width(), len(head) + 30)
    lines = fill(
        text, room, initial_indent=head, subsequent_indent=hang, break_long_words=False, break_on_hyphens=False
    )
    return (lines or head).rstrip().replace(TIE, " ")


def laid_out(document: Mapping[str, Any]) -> str:
    """A whole answer, read from its JSON; results that this version does not declare are laid out by their kind."""
    calculator = registry().get(str(document.get("calculator")))
    results = calculator.results if calculator else {}
    bands = {band["of"]: band for band in document["accuracy"]}
    rows, tables = [], []
    for name, value in document["answer"].items():
        if isinstance(value, list) and value and isinstance(value[0], Mapping) and "unit" not in value[0]:
            tables.append(f"{_label(name)}\n{_table(value, results.get(name))}")
            continue
        spec = results[name].spec if name in results else None
        rows.append((_label(name), figure(value, spec), _band(bands.get(name), spec)))
    cautions = [(caution["severity"].upper(), caution["text"]) for caution in document["cautions"]]
    assumed = [
        kept_together(f"{_label(name)} {_assumed(calculator, name, value)}")
        for name, value in document["assumed"].items()
    ]
    parts = [
        _folded(plain(document["sentence"])),
        aligned(rows, "  "),
        *tables,
        aligned(cautions),
        _folded(plain(f"Assumed: {', '.join(assumed)}."), hang="  ") if assumed else "",
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def _label(name: str) -> str:
    return name.replace("_", " ")


def _assumed(calculator: Any, name: str, value: Any) -> str:
    entry = calculator.inputs.get(name) if calculator else None
    return figure(value, entry.spec if entry else None)


def _band(band: Mapping[str, Any] | None, spec: Spec | None) -> str:
    if band is None:
        return ""
    low, high = figure(band["low"], spec, "down"), figure(band["high"], spec, "up")
    number_of, _, unit = low.rpartition(" ")
    return f"{number_of if unit and high.endswith(f' {unit}') else low} to {high}"


def _table(items: Sequence[Mapping[str, Any]], result: Result | None) -> str:
    """Nested results: a row each where all fit side by side, else a block each."""
    inner = result.item.results if result and result.item else {}
    names = list(items[0])
    cells = [
        [plain(figure(item.get(name), inner[name].spec if name in inner else None)) for name in names] for item in items
    ]
    heads = [_label(name) for name in names]
    if sum(max(map(len, column)) + 2 for column in zip(heads, *cells, strict=True)) <= width():
        return aligned([heads, *cells], "  ")
    return "\n\n".join(aligned(zip(heads, row, strict=True), "  ") for row in cells)


def figure(value: Any, spec: Spec | None = None, direction: Direction | None = None) -> str:
    """A value as a person reads it: ``31.2 A``, ``85 %``, ``yes``; a dash for what there is not."""
    towards = direction or (spec.spoken if isinstance(spec, Quantity | Number) else "near")
    match value:
        case None:
            return NOTHING
        case bool():
            return "yes" if value else "no"
        case int() | float():
            if isinstance(spec, Fraction):
                return f"{_rounded(value * 100, towards)} %"
            return f"{_rounded(value, towards)}{' C' if isinstance(spec, Rate) else ''}"
        case {"value": int() | float() as size, "unit": unit}:
            return f"{_rounded(size, towards)} {unit}"
        case [{"unit": unit}, *_] if all(isinstance(entry, Mapping) and entry.get("unit") == unit for entry in value):
            return f"{', '.join(_rounded(entry['value'], towards) for entry in value)} {unit}"
        case list():
            return ", ".join(figure(entry, spec, direction) for entry in value)
        case Mapping():
            return ", ".join(f"{_label(name)} {figure(entry)}" for name, entry in value.items())
    return str(value)


def _rounded(value: float, direction: Direction) -> str:
    return number(value, DIGITS, direction).replace("minus ", "-")

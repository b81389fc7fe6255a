"""The curve or table behind an answer: named columns, their units, and rows of plain values."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib import import_module
from io import StringIO
from math import isfinite
from typing import Any, TypeAlias

from ampstead_client.errors import Unreadable

Cell: TypeAlias = float | str | bool | None
"""One value of a table; None where there is none."""

_HEADING = re.compile(r"(.*?)(?: \[([^\[\]]+)\])?")
_WORDS: Mapping[str, Cell] = {"": None, "true": True, "false": False}


@dataclass(frozen=True)
class Table:
    """An answer's curve or table."""

    columns: tuple[str, ...]
    """The columns' names, in order."""
    units: tuple[str | None, ...]
    """The unit of each column; None for plain numbers and words."""
    rows: tuple[tuple[Cell, ...], ...]
    """The rows, a value for each column."""

    def __len__(self) -> int:
        return len(self.rows)

    def to_dict(self) -> dict[str, list[Any]]:
        """The columns by name, each a list."""
        return {name: [row[place] for row in self.rows] for place, name in enumerate(self.columns)}

    def to_frame(self) -> Any:
        """A DataFrame of pandas, its `attrs["units"]` the units by column. Raises `ImportError` without pandas."""
        try:
            pandas = import_module("pandas")
        except ImportError as fault:
            raise ImportError("Table.to_frame needs pandas: pip install pandas", name="pandas") from fault
        frame = pandas.DataFrame(self.to_dict(), columns=list(self.columns))
        frame.attrs["units"] = dict(zip(self.columns, self.units, strict=True))
        return frame


def read_table(body: bytes, *, address: str) -> Table:
    """The table in a reply of comma separated text. Raises `Unreadable` for anything else."""
    try:
        heads, *lines = csv.reader(StringIO(body.decode("utf-8"), newline=""), strict=True)
        headed = [found for head in heads if (found := _HEADING.fullmatch(head)) and found[1]]
        columns, units = tuple(found[1] for found in headed), tuple(found[2] for found in headed)
        if not heads or len(set(columns)) != len(heads) or any(len(line) != len(heads) for line in lines):
            raise ValueError("its columns lack names of their own, or its rows are of another length")
        cells = zip(*lines, strict=True) if lines else [()] * len(heads)
        rows = tuple(zip(*(_column(column, unit) for column, unit in zip(cells, units, strict=True)), strict=True))
    except (ValueError, csv.Error) as fault:
        raise Unreadable(f"the answer is not the table expected: {fault}"[:200], method="POST", url=address) from None
    return Table(columns, units, rows)


def _column(cells: Sequence[str], unit: str | None) -> list[Cell]:
    try:
        numbers: list[Cell] = [_number(cell) if cell else None for cell in cells]
    except ValueError:
        if unit is not None:
            raise
        return [_WORDS.get(cell, cell) for cell in cells]
    return numbers


def _number(cell: str) -> float:
    number = float(cell)
    if not isfinite(number) or "_" in cell:
        raise ValueError(f"{cell[:40]!r} is no number")
    return number

"""Many questions at once: as they are sent, and what comes back for each.

A table may be a mapping of columns or any frame that has `.columns` and gives one by its name, such as pandas' or
polars'; neither is needed here.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, overload

from ampstead_client.envelope import Band, Caution, native
from ampstead_client.errors import AnswerFault, FieldError, Unreadable, answer_fault, field_errors
from ampstead_client.quantity import Quantity
from ampstead_client.reading import made
from ampstead_client.wire import wire

_HEADED = re.compile(r"(.+?)\s*\[([^\[\]0-9][^\[\]]*)\]")


@dataclass(frozen=True, kw_only=True)
class BatchRow:
    """What became of one question of many."""

    answer: Mapping[str, Any]
    """Results by name, quantities as `Quantity`; empty where the question was refused."""
    assumed: Mapping[str, Any]
    """Every default that was used."""
    accuracy: tuple[Band, ...]
    """How sure the results are."""
    cautions: tuple[Caution, ...]
    """What to heed, gravest first."""
    problem: Mapping[str, Any] | None
    """The problem document where the question was refused, else None."""
    address: str
    """Where it was asked."""

    @property
    def errors(self) -> tuple[FieldError, ...]:
        """What is wrong with each input; empty for an answer."""
        return field_errors(self.problem or {})

    @property
    def fault(self) -> AnswerFault | None:
        """The error that the same question alone would have raised, or None."""
        if self.problem is None:
            return None
        return answer_fault(self.problem, url=self.address, status=int(self.problem.get("status", 500)))

    def __getitem__(self, result: str) -> Any:
        """A result by its name; raises the row's `fault` if it was refused."""
        if fault := self.fault:
            raise fault
        return self.answer[result]


class Batch(Sequence[BatchRow]):
    """The rows in the order of the questions."""

    def __init__(self, rows: Iterable[BatchRow]) -> None:
        self._rows = tuple(rows)

    @overload
    def __getitem__(self, place: int) -> BatchRow: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[BatchRow]: ...
    def __getitem__(self, place: int | slice) -> BatchRow | Sequence[BatchRow]:
        return self._rows[place]

    def __len__(self) -> int:
        return len(self._rows)

    def __iter__(self) -> Iterator[BatchRow]:
        return iter(self._rows)

    def __repr__(self) -> str:
        return f"<Batch of {len(self)}, {sum(row.problem is not None for row in self)} refused>"

    def column(self, result: str, unit: str | None = None) -> list[Any]:
        """One result of all rows, None where refused or null; with a unit as plain numbers in it.

        Raises `ValueError` for a name that no answer has.
        """
        known = next((row.answer for row in self if row.answer), None)
        if known is not None and result not in known:
            raise ValueError(f"{result!r} is no result here: the results are {', '.join(known)}")
        values = [row.answer.get(result) for row in self]
        if unit is None:
            return values
        return [value.to(unit).value if isinstance(value, Quantity) else value for value in values]


def questions_of(table: Any, filled: Callable[[Any], Any]) -> list[dict[str, Any]]:
    """The questions of a list of mappings, each `filled` in first, of a mapping of columns, or of a frame.

    A column may be headed `capacity [mAh]`: its bare numbers then carry that unit. None, NaN and their like are
    left out.

    Raises `ValueError` for columns of unequal length, `TypeError` for anything else.
    """
    if not isinstance(table, Mapping) and hasattr(table, "columns"):
        table = {str(name): list(table[name]) for name in table.columns}
    if isinstance(table, Mapping):
        columns = [_column(str(heading), values) for heading, values in table.items()]
        lengths = {len(values) for _, values in columns}
        if len(lengths) > 1:
            told = ", ".join(f"{name} has {len(values)}" for name, values in columns)
            raise ValueError(f"columns must be of one length: {told}")
        return [
            {name: values[place] for name, values in columns if values[place] is not None}
            for place in range(*lengths or (0,))
        ]
    if isinstance(table, str | bytes) or not isinstance(table, Iterable):
        raise TypeError(f"questions must be a list of mappings, a mapping of columns or a frame, not {table!r}")
    return [_row(filled(entry)) for entry in table]


def _row(entry: Any) -> dict[str, Any]:
    sent = wire({name: value for name, value in entry.items() if given(value)} if isinstance(entry, Mapping) else entry)
    if not isinstance(sent, dict):
        raise TypeError(f"a question must be a mapping of inputs, not {entry!r}")
    return sent


def _column(heading: str, values: Any) -> tuple[str, list[Any]]:
    if isinstance(values, str | bytes | Mapping) or not isinstance(values, Iterable):
        raise TypeError(
            f"the column {heading!r} must be a list with a value for each question, not {values!r}: "
            "what all questions share goes into common, and a single question into a list"
        )
    headed = _HEADED.fullmatch(heading)
    name, unit = (headed[1], headed[2].strip()) if headed else (heading, None)
    sent = [wire(value) if given(value) else None for value in values]
    if unit is not None:
        sent = [{"value": v, "unit": unit} if isinstance(v, int | float | list) else v for v in sent]
    return name, sent


def given(value: Any) -> bool:
    """Whether a cell holds anything: None, NaN, NaT and NA do not."""
    if value is None:
        return False
    try:
        return not bool(value != value)
    except (TypeError, ValueError):  # NA tells neither; an array tells for each of its elements
        return hasattr(value, "__len__")


def rows_of(document: Mapping[str, Any], number: int, address: str) -> Batch:
    """The rows of a reply. Raises `Unreadable` where it is not the one expected."""
    answers = document.get("answers")
    if not isinstance(answers, list) or len(answers) != number:
        raise Unreadable(f"the answer is not the {number} answers expected", method="POST", url=address)
    return Batch(_read(entry, address) for entry in answers)


def _read(entry: Any, address: str) -> BatchRow:
    problem = entry.get("problem") if isinstance(entry, Mapping) else None
    told = entry if isinstance(entry, Mapping) and problem is None else {}
    if problem is None and not isinstance(told.get("answer"), Mapping):
        raise Unreadable("a row is neither an answer nor a problem", method="POST", url=address)
    return BatchRow(
        answer=native(told.get("answer", {})),
        assumed=native(told.get("assumed", {})),
        accuracy=tuple(made(Band, band, address) for band in told.get("accuracy", ())),
        cautions=tuple(made(Caution, caution, address) for caution in told.get("cautions", ())),
        problem=problem,
        address=address,
    )

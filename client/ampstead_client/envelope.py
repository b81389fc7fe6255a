"""What every answer carries around its results, and how the service's JSON becomes typed answers.

Keys that a class does not name are ignored, and texts may go beyond the choices listed, so that a newer
service still answers an older client.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Mapping
from copy import deepcopy
from dataclasses import dataclass, field, fields, is_dataclass
from functools import cache
from math import isfinite
from types import NoneType, UnionType
from typing import (
    Annotated,
    Any,
    Literal,
    NoReturn,
    TypeAlias,
    TypeVar,
    Union,
    get_args,
    get_origin,
    get_type_hints,
    is_typeddict,
)

from ampstead_client.errors import Unreadable
from ampstead_client.quantity import Quantity

Severity: TypeAlias = Literal["danger", "warning", "note"]


@dataclass(frozen=True, kw_only=True)
class Band:
    """How sure one result is."""

    of: str
    """The result's name."""
    low: Quantity | float | None
    """The band's lower edge."""
    high: Quantity | float | None
    """The band's upper edge."""
    basis: str
    """What the band rests on."""


@dataclass(frozen=True, kw_only=True)
class Caution:
    """Something to heed before acting on the answer."""

    code: str
    """Its name, for programs."""
    severity: Severity
    """`danger`, `warning` or `note`."""
    standing: bool
    """True for what holds on any day, false for what this question brought up."""
    text: str
    """Its words, for people."""


@dataclass(frozen=True, kw_only=True, repr=False)
class Answer:
    """The envelope around an answer. Prints as its sentence and the gravest caution that its question brought up.

    Answers compare by all that they say, and may stand in sets and as keys.
    """

    calculator: str
    """The calculator that was asked."""
    version: str
    """The service's version."""
    question: Mapping[str, Any]
    """The inputs as the service read them; quantities are `Quantity`, lists are tuples."""
    assumed: Mapping[str, Any]
    """Every default that was used, in the same form."""
    accuracy: tuple[Band, ...]
    """How sure the results are, wherever an honest band is wider than rounding."""
    sentence: str
    """The answer in one or two plain sentences."""
    cautions: tuple[Caution, ...]
    """What to heed, gravest first; of one severity those that this question brought up come first."""
    sources: tuple[str, ...]
    """What the method rests on."""
    raw: Mapping[str, Any] = field(repr=False, compare=False)
    """The whole answer as JSON had it."""

    def band(self, of: str) -> Band | None:
        """How sure the result of that name is: low edge, high edge, basis; None where it is as good as its figure.

        Raises `ValueError` for a name that is no result of this answer.
        """
        results = self._results()
        if of not in results:
            raise ValueError(f"{of!r} is no result of {self.calculator}: its results are {', '.join(results)}")
        return next((band for band in self.accuracy if band.of == of), None)

    def to_dict(self) -> dict[str, Any]:
        """The whole answer in dicts, lists, numbers and text, as JSON has it: a copy of your own, fit to be stored."""
        return deepcopy(dict(self.raw))

    def __str__(self) -> str:
        ranked = sorted(self.cautions, key=lambda caution: caution.standing)
        return " ".join([self.sentence, *(caution.text for caution in ranked[:1])])

    def __repr__(self) -> str:
        told = [f"{name}={_brief(getattr(self, name))}" for name in self._results()]
        lines = textwrap.wrap(", ".join(told), 100, max_lines=4, placeholder=" …", break_on_hyphens=False)
        cautions = [f"{caution.severity} {caution.code}" for caution in self.cautions]
        gravest = [f"cautions: {', '.join(cautions[:3])}{' …' if cautions[3:] else ''}"] if cautions else []
        return "\n  ".join([f"<{type(self).__name__}", *lines, *gravest]) + ">"

    def _results(self) -> tuple[str, ...]:
        beyond = {entry.name for entry in fields(Answer)}
        return tuple(entry.name for entry in fields(self) if entry.name not in beyond)


class ReadOnly(dict[str, Any]):
    """Inputs by name, as an answer holds them: read-only, and hashable."""

    def __hash__(self) -> int:  # type: ignore[override]
        return hash(frozenset(self.items()))

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (dict(self),)

    def _fixed(self, *_: Any, **__: Any) -> NoReturn:
        raise TypeError("an answer's inputs are read-only: take a copy with dict(…)")

    __setitem__ = __delitem__ = __ior__ = _fixed
    clear = pop = popitem = setdefault = update = _fixed


def _brief(value: Any) -> str:
    """A result in a few words."""
    if isinstance(value, Quantity | float):
        return f"{value:.5g}"
    if not isinstance(value, tuple):
        return str(value)
    told = [
        str(getattr(entry, "name", "…")) if is_dataclass(entry) and not isinstance(entry, Quantity) else _brief(entry)
        for entry in value
    ]
    return f"({', '.join(told[:4])}{', …' if told[4:] else ''})"


AnswerT = TypeVar("AnswerT", bound=Answer)


def read(result: type[AnswerT], document: Mapping[str, Any], *, calculator: str, address: str) -> AnswerT:
    """A calculator's answer of the class `result`, read from the service's JSON by the class's annotations.

    Raises `Unreadable`, naming the key, where one is missing or of another kind or unit than the class needs, and
    where it is another calculator's answer.
    """
    try:
        answer = _entry(document, "answer", _mapping)
        envelope = _values(Answer, document, "")
        if envelope["calculator"] != calculator:
            raise _Mismatch(f"calculator is {_shown(envelope['calculator'])} instead of {calculator!r}")
        own = _values(result, answer, "answer.", beyond=Answer)
        for place, band in enumerate(envelope["accuracy"]):
            _of_one_unit(band, own.get(band.of), f"accuracy[{place}]")
    except _Mismatch as mismatch:
        raise Unreadable(f"the answer is not the one expected: {mismatch}", method="POST", url=address) from None
    return result(**envelope, **own, raw=document)


MadeT = TypeVar("MadeT")


def made(kind: type[MadeT], document: Any, address: str) -> MadeT:
    """A part of an answer, by its class. Raises `Unreadable` where it is not the one expected."""
    try:
        return kind(**_values(kind, _mapping(document, kind.__name__.lower()), ""))
    except _Mismatch as mismatch:
        raise Unreadable(f"the answer is not the one expected: {mismatch}", method="POST", url=address) from None


class _Mismatch(Exception):
    pass


_Reader: TypeAlias = Callable[[Any, str], Any]


def _values(kind: type, document: Mapping[str, Any], path: str, beyond: type | None = None) -> dict[str, Any]:
    inherited = _readers(beyond) if beyond else {}
    return {
        name: _entry(document, name, reader, path) for name, reader in _readers(kind).items() if name not in inherited
    }


def _entry(document: Mapping[str, Any], name: str, reader: _Reader, path: str = "") -> Any:
    if name not in document and getattr(reader, "required", True):
        raise _Mismatch(f"{path}{name} is missing")
    return reader(document.get(name), path + name)


def _of_one_unit(band: Band, value: Any, path: str) -> None:
    """A band has the unit of its result."""
    if not isinstance(value, Quantity):
        return
    for edge in (band.low, band.high):
        if not isinstance(edge, Quantity) or edge.unit != value.unit:
            raise _Mismatch(f"{path} is {edge} for a result in {value.unit}")


@cache
def _readers(kind: type) -> dict[str, _Reader]:
    hints = get_type_hints(kind, include_extras=True)
    return {entry.name: _reader(hints[entry.name]) for entry in fields(kind) if entry.name != "raw"}


def _reader(hint: Any) -> _Reader:
    """The function that turns a JSON value into what an annotation says."""
    origin, arguments = get_origin(hint), get_args(hint)
    if origin is Annotated:
        return _quantity_in(arguments[1])
    if origin in (Union, UnionType):
        return _either(arguments)
    if origin is tuple:
        item = _reader(arguments[0])
        return lambda value, path: tuple(
            item(entry, f"{path}[{index}]") for index, entry in enumerate(_list(value, path))
        )
    if origin is Literal:
        return _scalar(str)
    if hint is Quantity:
        return _quantity
    if is_dataclass(hint) and isinstance(hint, type):
        return lambda value, path: hint(**_values(hint, _mapping(value, path), f"{path}."))
    if hint is Any:
        return lambda value, path: native(value)
    if is_typeddict(hint) or (isinstance(origin, type) and issubclass(origin, Mapping)):
        return lambda value, path: _inputs(_mapping(value, path))
    return _scalar(hint)


def _either(hints: tuple[Any, ...]) -> _Reader:
    readers = [_reader(hint) for hint in hints if hint is not NoneType]
    nullable = NoneType in hints

    def reader(value: Any, path: str) -> Any:
        if value is None and nullable:
            return None
        for attempt in readers[:-1]:
            try:
                return attempt(value, path)
            except _Mismatch:
                continue
        return readers[-1](value, path)

    reader.required = not nullable  # type: ignore[attr-defined]
    return reader


def _scalar(kind: type) -> _Reader:
    def reader(value: Any, path: str) -> Any:
        if isinstance(value, kind) and (kind is bool or not isinstance(value, bool)):
            if isinstance(value, float) and not isfinite(value):
                raise _Mismatch(f"{path} is {value} instead of a finite number")
            return value
        if kind is float and isinstance(value, int) and not isinstance(value, bool) and abs(value) < _LARGE:
            return float(value)
        if kind is int and isinstance(value, float) and value.is_integer():
            return int(value)
        raise _Mismatch(f"{path} is {_shown(value)} instead of {_WORDS[kind]}")

    return reader


_LARGE = 1e300
_WORDS = {str: "text", bool: "true or false", int: "a whole number", float: "a number"}


def _quantity_in(unit: str) -> _Reader:
    def reader(value: Any, path: str) -> Quantity:
        quantity = _quantity(value, path)
        if quantity.unit != unit:
            raise _Mismatch(f"{path} is {_shown(value)} instead of a quantity in {unit}")
        return quantity

    return reader


def _quantity(value: Any, path: str) -> Quantity:
    try:
        return Quantity.of(value)
    except ValueError:
        raise _Mismatch(f"{path} is {_shown(value)} instead of a quantity") from None


def _mapping(value: Any, path: str) -> Mapping[str, Any]:
    if not isinstance(value, Mapping):
        raise _Mismatch(f"{path} is {_shown(value)} instead of an object")
    return value


def _list(value: Any, path: str) -> list[Any] | tuple[Any, ...]:
    if not isinstance(value, list | tuple):
        raise _Mismatch(f"{path} is {_shown(value)} instead of a list")
    return value


def _shown(value: Any) -> str:
    text = repr(value) if not isinstance(value, int) or abs(value) < _LARGE else "a huge number"
    return text if len(text) <= 60 else f"{text[:57]}..."


def native(value: Any) -> Any:
    """A JSON value with its quantities as `Quantity` and its lists as tuples."""
    if isinstance(value, list | tuple):
        return tuple(native(entry) for entry in value)
    if not isinstance(value, Mapping):
        return value
    if value.keys() == {"value", "unit"}:
        if isinstance(value["value"], list):
            return tuple(native({"value": number, "unit": value["unit"]}) for number in value["value"])
        try:
            return Quantity.of(value)
        except ValueError:
            pass
    return _inputs(value)


def _inputs(value: Mapping[str, Any]) -> ReadOnly:
    return ReadOnly((name, native(entry)) for name, entry in value.items())

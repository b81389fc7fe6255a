"""How the service's JSON becomes typed answers, by the annotations of their classes.

Keys that a class does not name are ignored, and texts may go beyond the choices listed, so that a newer
service still answers an older client.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from math import isfinite
from types import NoneType, UnionType
from typing import (
    Annotated,
    Any,
    Literal,
    TypeAlias,
    TypeVar,
    Union,
    get_args,
    get_origin,
    get_type_hints,
    is_typeddict,
)

from ampstead_client.envelope import Answer, AnswerT, Band, inputs_of, native
from ampstead_client.errors import Unreadable
from ampstead_client.quantity import Quantity


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
        return lambda value, path: inputs_of(_mapping(value, path))
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

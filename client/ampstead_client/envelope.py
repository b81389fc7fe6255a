"""What every answer carries around its results."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass, field, fields, is_dataclass
from typing import (
    Any,
    Literal,
    NoReturn,
    TypeAlias,
    TypeVar,
)

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
    return inputs_of(value)


def inputs_of(value: Mapping[str, Any]) -> ReadOnly:
    """Inputs as an answer holds them, of their JSON."""
    return ReadOnly((name, native(entry)) for name, entry in value.items())

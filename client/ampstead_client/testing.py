"""For the tests of apps: a transport that asks nobody, and answers without a question.

    service = FakeTransport()
    client = AmpsteadClient.over(service)
    client.sag(pack=aerobat, current="48 A")            # the example of the service's document
    service.give("sag", holds=False, sag="3.1 V")       # from now on: the example with these results
    service.fail("sag", TimedOut)                       # and then this
    service.asked[0].question["current"]                # "48 A"

The client's own reading, typing and errors stay as they are; only the wire is replaced. A double of your own needs no
base class: any object of the shape of `ampstead_client.Transport` will do.
"""

from __future__ import annotations

import json
from base64 import b64decode
from collections.abc import Iterable, Mapping
from copy import deepcopy
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from ampstead_client.envelope import Answer, AnswerT
from ampstead_client.errors import (
    AmpsteadError,
    ConnectionFault,
    FieldError,
    InvalidQuestion,
    NotFound,
    Unreadable,
    answer_fault,
)
from ampstead_client.quantity import Quantity
from ampstead_client.reading import read
from ampstead_client.wire import wire

__all__ = ["Asked", "FakeTransport", "example"]

_SVG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 16 9"><title>A picture for tests</title></svg>'
_PNG = "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAQAAAC1HAwCAAAAC0lEQVR42mNk+A8AAQUBAScY42YAAAAASUVORK5CYII="


@dataclass(frozen=True)
class Asked:
    """One question that came."""

    calculator: str
    """The calculator's name, as in `charge-current`."""
    question: Mapping[str, Any]
    """The inputs as they would go out: text and numbers as given, quantities as `{"value", "unit"}`."""
    form: str
    """`json`, `csv`, `svg` or `png`."""


def example(kind: type[AnswerT], /, **results: Any) -> AnswerT:
    """An answer of a class without a question: that of the service's document, with the results given.

    `example(Sag, holds=False, sag="3.1 V")`. Results are quantities or their text, numbers, words, None and lists of
    these. Raises `ValueError` for a name that is no result, `Unreadable` for a value that is of another kind.
    """
    calculator = next(name for name in _examples() if _pascal(name) == kind.__name__)
    document = _with(calculator, results)
    return read(kind, document, calculator=calculator, address=_address(calculator))


class FakeTransport:
    """A transport that asks nobody: questions are noted in `asked`, and answered as `give` and `fail` say.

    What they say of a calculator comes in order, the last for ever; where they say nothing, the example of the
    service's document comes. Inputs are not checked: the service does that.
    """

    def __init__(self) -> None:
        self.asked: list[Asked] = []
        """Every question that came, in order."""
        self._script: dict[str, list[Mapping[str, Any] | AmpsteadError]] = {}
        self._bodies: dict[tuple[str, str], bytes] = {}

    def give(self, calculator: str, answer: Answer | None = None, /, **results: Any) -> None:
        """The next answer of a calculator: the example with these results, as in `example`, or an answer as it is.

        Raises `ValueError` for a name that is no calculator or no result.
        """
        name = _named(calculator)
        if answer is not None and (results or answer.calculator != name):
            raise ValueError(f"an answer of {name} is given as it is, or by its results")
        self._script.setdefault(name, []).append(_with(name, results) if answer is None else answer.to_dict())

    def fail(
        self, calculator: str, fault: AmpsteadError | type[AmpsteadError] | int, errors: Iterable[FieldError] = ()
    ) -> None:
        """The next question to a calculator fails: by an error, by a class of errors, or by an HTTP status.

        `errors` are those of an `InvalidQuestion`. Raises `ValueError` for a name that is no calculator.
        """
        name = _named(calculator)
        self._script.setdefault(name, []).append(_fault(fault, _address(name), tuple(errors)))

    def draw(self, calculator: str, form: str, body: str | bytes) -> None:
        """What a calculator's table (`csv`) or picture (`svg`, `png`) is from now on, in place of a stand-in."""
        self._bodies[_named(calculator), form] = body.encode() if isinstance(body, str) else body

    def ask(self, calculator: str, question: Mapping[str, Any]) -> dict[str, Any]:
        """The answer that was given, or else the example's, telling the question that came."""
        self.asked.append(Asked(calculator, deepcopy(dict(question)), "json"))
        name, many, _ = calculator.partition("/batch")
        if not many:
            return self._answered(name, question)
        common = question.get("common") or {}
        return {"answers": [self._row(name, {**common, **row}) for row in question["questions"]]}

    def fetch(self, calculator: str, question: Mapping[str, Any], form: str) -> bytes:
        """The body that was given, or a stand-in: a table of the right columns, or an empty picture."""
        self.asked.append(Asked(calculator, deepcopy(dict(question)), form))
        name = _named(calculator)
        told = self._script.get(name, [])
        if told and isinstance(told[0], AmpsteadError):
            raise self._next(name)  # type: ignore[misc]
        if (name, form) in self._bodies:
            return self._bodies[name, form]
        heads: str | None = _examples()[name]["forms"].get(form)
        if heads is None:
            raise _fault(NotFound, self.address(f"{name}.{form}"))
        return {"svg": _SVG.encode(), "png": b64decode(_PNG)}.get(form, _stand_in(heads))

    def address(self, calculator: str) -> str:
        """Where a question would go."""
        return _address(calculator)

    def close(self) -> None:
        """Nothing is held."""

    def __repr__(self) -> str:
        return f"FakeTransport({len(self.asked)} asked)"

    def _next(self, name: str) -> Mapping[str, Any] | AmpsteadError:
        script = self._script.get(_named(name))
        if not script:
            return _with(name, {})
        return script.pop(0) if len(script) > 1 else script[0]

    def _answered(self, calculator: str, question: Mapping[str, Any]) -> dict[str, Any]:
        told = self._next(calculator)
        if isinstance(told, AmpsteadError):
            raise told
        assumed = {name: value for name, value in told["assumed"].items() if name not in question}
        return {
            **deepcopy(dict(told)),
            "question": {name: _read(value) for name, value in question.items()},
            "assumed": assumed,
        }

    def _row(self, calculator: str, question: Mapping[str, Any]) -> dict[str, Any]:
        try:
            told = self._answered(calculator, question)
        except InvalidQuestion as fault:
            return {"problem": dict(fault.problem)}
        return {name: told[name] for name in ("answer", "assumed", "accuracy", "cautions")}


@cache
def _examples() -> Mapping[str, Any]:
    told: Mapping[str, Any] = json.loads(files("ampstead_client").joinpath("examples.json").read_text("utf-8"))
    return told


def _named(calculator: str) -> str:
    name = calculator.replace("_", "-")
    if name not in _examples():
        raise ValueError(f"{calculator!r} is no calculator: there are {', '.join(_examples())}")
    return name


def _pascal(name: str) -> str:
    return "".join(part.capitalize() for part in name.split("-"))


def _address(calculator: str) -> str:
    return f"fake:/v1/{calculator}"


def _with(calculator: str, results: Mapping[str, Any]) -> dict[str, Any]:
    """The example's document with other results; a band of a result that was given goes."""
    document: dict[str, Any] = deepcopy(_examples()[calculator]["answer"])
    for name, value in results.items():
        if name not in document["answer"]:
            raise ValueError(f"{name!r} is no result of {calculator}: its results are {', '.join(document['answer'])}")
        document["answer"][name] = _in_its_unit(wire(value), document["answer"][name])
    document["accuracy"] = [band for band in document["accuracy"] if band["of"] not in results]
    return document


def _in_its_unit(value: Any, like: Any) -> Any:
    """A result as JSON has it, in the unit of the example's own."""
    if isinstance(value, list):
        return [_in_its_unit(entry, like[0] if isinstance(like, list) and like else None) for entry in value]
    read = _read(value)
    if not isinstance(read, dict) or not isinstance(like, dict):
        return read
    if "unit" in like and "unit" in read:
        return wire(Quantity.of(read).to(like["unit"]))
    return {name: _in_its_unit(entry, like.get(name)) for name, entry in read.items()}


def _read(value: Any) -> Any:
    """An input or result as the service would tell it: text of a quantity as an object."""
    if isinstance(value, str):
        try:
            return wire(Quantity.parse(value))
        except ValueError:
            return value
    if isinstance(value, list):
        return [_read(entry) for entry in value]
    if isinstance(value, Mapping) and value.keys() != {"value", "unit"}:
        return {name: _read(entry) for name, entry in value.items()}
    return value


def _fault(
    fault: AmpsteadError | type[AmpsteadError] | int, url: str, errors: tuple[FieldError, ...] = ()
) -> AmpsteadError:
    if isinstance(fault, AmpsteadError):
        return fault
    status = fault if isinstance(fault, int) else _STATUS.get(fault.__name__)
    if status is None:
        assert not isinstance(fault, int)
        where = {"method": "POST", "url": url} if issubclass(fault, ConnectionFault | Unreadable) else {}
        return fault("raised for a test", **where)
    entries = [{"field": error.field, "code": error.code, "message": error.message} for error in errors]
    document = {"status": status, "detail": "refused for a test", "errors": entries}
    return answer_fault(document, url=url, status=status)


_STATUS = {
    "InvalidQuestion": 422,
    "Unauthorised": 401,
    "NotFound": 404,
    "TooLarge": 413,
    "TooMany": 429,
    "ServiceFault": 503,
    "AnswerFault": 418,
}


def _stand_in(heads: str) -> bytes:
    """A table of those columns with two rows."""
    return "".join(
        f"{line}\n" for line in (heads, *(",".join(str(n) for _ in heads.split(",")) for n in (0, 1)))
    ).encode()

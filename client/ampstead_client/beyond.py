"""What is beyond single answers: all that can be said of one pack."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from ampstead_client.envelope import Answer, AnswerT, Caution
from ampstead_client.errors import Unreadable
from ampstead_client.quantity import Quantity
from ampstead_client.reading import made, read


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """What an overview comes to; None where nothing tells."""

    charge: bool | None
    """Whether the pack may be charged now."""
    fly: bool | None
    """Whether it may be flown: as it is, or else once it is charged."""
    retire: bool | None
    """Whether it is to be retired."""


@dataclass(frozen=True, kw_only=True)
class _Told:
    version: str
    question: Mapping[str, Any]
    verdict: Verdict
    sentence: str
    cautions: tuple[Caution, ...]


@dataclass(frozen=True, kw_only=True, repr=False)
class Overview(_Told):
    """All that the calculators say of one pack, without contradiction. Prints as its sentence."""

    version: str
    """The service's version."""
    question: Mapping[str, Any]
    """The facts as the service read them."""
    verdict: Verdict
    """Whether the pack may be charged and flown, and is to be retired."""
    sentence: str
    """The gravest of it in two or three sentences."""
    cautions: tuple[Caution, ...]
    """What to heed in all of the answers, gravest first."""
    answers: Mapping[str, Answer]
    """Each answer by the calculator's name, in the order of a flier's day; of the class of the client's method."""
    unanswered: Mapping[str, tuple[str, ...]]
    """By calculator: the facts that are missing, or why it cannot answer."""
    raw: Mapping[str, Any] = field(repr=False, compare=False)
    """The whole of it as JSON had it."""

    def of(self, kind: type[AnswerT]) -> AnswerT | None:
        """The answer of a class, as `overview.of(ChargeCurrent)`; None where that calculator is unanswered."""
        return next((answer for answer in self.answers.values() if isinstance(answer, kind)), None)

    def __str__(self) -> str:
        return self.sentence

    def __repr__(self) -> str:
        return f"<Overview: {self.sentence} answers: {', '.join(self.answers)}>"


@dataclass(frozen=True, kw_only=True)
class _Found:
    calculator: str
    result: str
    input: str
    target: Any
    value: Quantity | float | None
    bound: str | None
    until: Quantity | float | None
    sentence: str


@dataclass(frozen=True, kw_only=True, repr=False)
class Needed(_Found):
    """Which value of one input brings a result to where it is wanted. Prints as its sentence."""

    calculator: str
    """The calculator that was asked."""
    result: str
    """The result that is wanted."""
    input: str
    """The input that was looked for."""
    target: Any
    """What the result is to come to."""
    value: Quantity | float | None
    """The value that does; None where nothing in range does."""
    bound: str | None
    """`at least`, `at most`, `exactly`, or `any` where all of the range does; None where there is no value."""
    until: Quantity | float | None
    """The largest that still does, above the smallest; None where there is no such end."""
    sentence: str
    """What is needed, in words."""
    forward: Answer | None
    """The answer at the value, of the class of the client's method; None where there is no value."""
    raw: Mapping[str, Any] = field(repr=False, compare=False)
    """The whole of it as JSON had it."""

    def __str__(self) -> str:
        return self.sentence

    def __repr__(self) -> str:
        return f"<Needed: {self.sentence}>"


@dataclass(frozen=True, kw_only=True)
class Doubt:
    """One input that was assumed, and what a result comes to over what it may plausibly be."""

    input: str
    """The input's name."""
    taken: Any
    """What was assumed."""
    low: Any
    """The least that the result comes to; of words, what it is at the first edge; None where there is none."""
    high: Any
    """The most; of words, what it is at the other edge."""
    edges: tuple[Any, Any]
    """From and to: the least and the most that the input may plausibly be."""
    source: str
    """Where that range comes from."""


@dataclass(frozen=True, kw_only=True)
class _Doubts:
    calculator: str
    result: str
    value: Any
    sentence: str


@dataclass(frozen=True, kw_only=True, repr=False)
class Doubts(_Doubts):
    """What each assumed input makes of a result. Prints as its sentence."""

    calculator: str
    """The calculator that was asked."""
    result: str
    """The result."""
    value: Any
    """What it is with all that was assumed."""
    sentence: str
    """What to measure, in words."""
    doubts: tuple[Doubt, ...]
    """The widest first."""
    raw: Mapping[str, Any] = field(repr=False, compare=False)
    """The whole of it as JSON had it."""

    def __str__(self) -> str:
        return self.sentence

    def __repr__(self) -> str:
        return f"<Doubts: {self.sentence}>"


def doubts_of(document: Mapping[str, Any], address: str) -> Doubts:
    """Doubts, read from the service's JSON. Raises `Unreadable` where they are not what was expected."""
    told, rows = made(_Doubts, document, address), document.get("doubts")
    if not isinstance(rows, list) or not all(isinstance(row, Mapping) and {"from", "to"} <= row.keys() for row in rows):
        raise Unreadable("the answer is not the one expected: it has no doubts", method="POST", url=address)
    return Doubts(
        **{name: getattr(told, name) for name in _Doubts.__dataclass_fields__},
        doubts=tuple(made(Doubt, {**row, "edges": [row["from"], row["to"]]}, address) for row in rows),
        raw=document,
    )


Kinds = Mapping[str, type[Answer]]
"""The answer's class by the calculator's name; one that is not there is a plain `Answer`."""


def needed_of(document: Mapping[str, Any], calculator: str, kinds: Kinds, address: str) -> Needed:
    """What is needed, read from the service's JSON. Raises `Unreadable` where it is not what was expected."""
    told = made(_Found, document, address)
    forward = document.get("forward")
    if forward is not None and not isinstance(forward, Mapping):
        raise Unreadable("the answer is not the one expected: forward is no answer", method="POST", url=address)
    return Needed(
        **{name: getattr(told, name) for name in _Found.__dataclass_fields__},
        forward=None
        if forward is None
        else read(kinds.get(calculator, Answer), forward, calculator=calculator, address=address),
        raw=document,
    )


def overview_of(document: Mapping[str, Any], kinds: Kinds, address: str) -> Overview:
    """An overview, read from the service's JSON. Raises `Unreadable` where it is not what was expected."""
    told = made(_Told, document, address)
    answers, unanswered = document.get("answers"), document.get("unanswered")
    if not (isinstance(answers, Mapping) and isinstance(unanswered, Mapping)):
        raise Unreadable("the answer is not the one expected: it has no answers", method="POST", url=address)
    return Overview(
        **{name: getattr(told, name) for name in _Told.__dataclass_fields__},
        answers={
            name: read(kinds.get(name, Answer), answer, calculator=name, address=address)
            for name, answer in answers.items()
        },
        unanswered={name: tuple(map(str, why)) for name, why in unanswered.items()},
        raw=document,
    )

"""What is beyond single answers: all that can be said of one pack."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from ampstead_client.envelope import Answer, AnswerT, Caution, made, read
from ampstead_client.errors import Unreadable


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


def overview_of(document: Mapping[str, Any], address: str) -> Overview:
    """An overview, read from the service's JSON. Raises `Unreadable` where it is not what was expected."""
    from ampstead_client import calculators

    told = made(_Told, document, address)
    answers, unanswered = document.get("answers"), document.get("unanswered")
    if not (isinstance(answers, Mapping) and isinstance(unanswered, Mapping)):
        raise Unreadable("the answer is not the one expected: it has no answers", method="POST", url=address)
    kinds = {
        name: getattr(calculators, "".join(part.capitalize() for part in name.split("-")), Answer) for name in answers
    }
    return Overview(
        **{name: getattr(told, name) for name in _Told.__dataclass_fields__},
        answers={name: read(kinds[name], answer, calculator=name, address=address) for name, answer in answers.items()},
        unanswered={name: tuple(map(str, why)) for name, why in unanswered.items()},
        raw=document,
    )

"""One question, one answer: the whole envelope, for the service, the command line and embedding apps alike."""

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.metadata import PackageNotFoundError, version
from inspect import signature
from typing import Any

from ampstead.calculators import registry
from ampstead.cell.board.bank_walk import TooUnlike
from ampstead.declare import Calculator
from ampstead.errors import FieldError, Refusal, clipped, did_you_mean, problem_document, refusal_document
from ampstead.judging.cautions import ranked
from ampstead.reading.plan import Question, arguments, plan
from ampstead.replying.writers import assumed_shown, given_names, given_shown, headed, shown, shown_plain


@lru_cache(maxsize=1)
def service_version() -> str:
    """This package's version."""
    try:
        return version("ampstead")
    except PackageNotFoundError:
        return "0+unknown"


@lru_cache(maxsize=256)
def _asked(function: Any) -> tuple[str, ...]:
    return tuple(name for name in signature(function).parameters if name != "answer")


def _told(function: Any, answer: Any, known: Mapping[str, Any]) -> Any:
    """A calculator's sentence, cautions or accuracy, given the answer and just what else it names."""
    return function(answer, **{name: known[name] for name in _asked(function)})


@dataclass(frozen=True)
class Answered:
    """A question and its answer, from which every form of reply is made."""

    calculator: Calculator
    question: Question
    answer: Any
    known: Mapping[str, Any]

    def envelope(self) -> dict[str, Any]:
        """The whole answer as the contract writes it."""
        results = self.calculator.results
        cautions = _told(self.calculator.cautions, self.answer, self.known) if self.calculator.cautions else ()
        return {
            "calculator": self.calculator.name,
            "version": service_version(),
            "question": given_shown(self.calculator, self.question),
            "assumed": assumed_shown(self.calculator, self.question),
            "answer": {name: shown(result, getattr(self.answer, name)) for name, result in results.items()},
            "accuracy": [
                {
                    "of": band.of,
                    "low": shown(results[band.of], band.low),
                    "high": shown(results[band.of], band.high),
                    "basis": band.basis,
                }
                for band in self.known["bands"].values()
            ],
            "sentence": self.sentence(),
            "cautions": [
                {"code": entry.code, "severity": entry.severity, "standing": entry.standing, "text": entry.text}
                for entry in ranked(cautions)
            ],
            "sources": list(self.calculator.sources),
        }

    def sentence(self) -> str:
        """The answer as spoken."""
        said: str = _told(self.calculator.sentence, self.answer, self.known)
        return said

    def curve(self) -> Any:
        """The answer's curve or table, a dataclass of columns."""
        return _told(self.calculator.curve, self.answer, self.known)

    def csv(self) -> str:
        """The curve as comma separated text, each column headed by its name and unit."""
        curve, columns = self.curve(), self.calculator.columns
        written = io.StringIO()
        writer = csv.writer(written, lineterminator="\n")
        writer.writerow(headed(name, column) for name, column in columns.items())
        writer.writerows(
            zip(*(shown_plain(column, getattr(curve, name)) for name, column in columns.items()), strict=True)
        )
        return written.getvalue()

    def svg(self) -> str:
        """The answer's picture."""
        from ampstead.replying import pictures

        drawn = _told(self.calculator.picture, self.answer, self.known)
        return pictures.svg(drawn, self.curve(), self.calculator.columns, self.sentence())

    def png(self) -> bytes:
        """The same as a bitmap."""
        from ampstead.replying import pictures

        return pictures.png(self.svg())


def answered(calculator: Calculator, raw: Mapping[str, Any]) -> Answered:
    """The answer to a raw question.

    Raises
    ------
    Refusal
        If the question cannot be answered.
    """
    asked = plan(calculator).read(raw)
    known = arguments(calculator, asked)
    try:
        answer = calculator.function(**known)
        known["given"] = given_names(calculator, asked)
        bands = _told(calculator.accuracy, answer, known) if calculator.accuracy else ()
        known["bands"] = {band.of: band for band in bands}
    except TooUnlike:
        said = "packs are too unlike to be followed together: ask about packs of like capacity and resistance"
        raise Refusal([FieldError("packs", "unsupported", said)]) from None
    return Answered(calculator, asked, answer, known)


def envelope(calculator: Calculator, raw: Mapping[str, Any]) -> dict[str, Any]:
    """The whole answer to a raw question; raises ``Refusal`` as ``answered`` does."""
    return answered(calculator, raw).envelope()


def spoken(document: Mapping[str, Any]) -> str:
    """The sentence of an envelope, then the gravest caution that its question brought up, or else a standing one."""
    cautions = sorted(document["cautions"], key=lambda entry: bool(entry["standing"]))
    return " ".join([document["sentence"], *(entry["text"] for entry in cautions[:1])])


def embedded(name: str, raw: Mapping[str, Any]) -> tuple[int, dict[str, Any]]:
    """HTTP status and document of a question answered in this process, without a server."""
    calculators = registry()
    if name not in calculators:
        detail = f"There is no calculator {clipped(name)}{did_you_mean(name, calculators) or '.'}"
        return 404, problem_document(404, detail)
    try:
        return 200, envelope(calculators[name], raw)
    except Refusal as refusal:
        return 422, refusal_document(refusal)

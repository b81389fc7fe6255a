"""One question, one answer: the whole envelope, for the service, the command line and embedding apps alike."""

from collections.abc import Mapping
from functools import lru_cache
from importlib.metadata import PackageNotFoundError, version
from inspect import signature
from typing import Any

from ampstead.calculators import registry
from ampstead.cautions import ranked
from ampstead.declare import Calculator
from ampstead.errors import Refusal, clipped, did_you_mean, problem_document, refusal_document
from ampstead.schemas import question, shown


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


def envelope(calculator: Calculator, raw: Mapping[str, Any]) -> dict[str, Any]:
    """The answer to a raw question, as the contract writes it.

    Raises
    ------
    Refusal
        If the question cannot be answered.
    """
    asked = question(calculator, raw)
    answer = calculator.function(**asked.arguments)
    known = {**asked.arguments, "given": frozenset(asked.given)}
    bands = tuple(_told(calculator.accuracy, answer, known)) if calculator.accuracy else ()
    known["bands"] = {band.of: band for band in bands}
    cautions = _told(calculator.cautions, answer, known) if calculator.cautions else ()
    results = calculator.results
    return {
        "calculator": calculator.name,
        "version": service_version(),
        "question": asked.given_document(),
        "assumed": asked.assumed_document(),
        "answer": {name: shown(result, getattr(answer, name)) for name, result in results.items()},
        "accuracy": [
            {
                "of": band.of,
                "low": shown(results[band.of], band.low),
                "high": shown(results[band.of], band.high),
                "basis": band.basis,
            }
            for band in bands
        ],
        "sentence": _told(calculator.sentence, answer, known),
        "cautions": [
            {"code": entry.code, "severity": entry.severity, "text": entry.text} for entry in ranked(cautions)
        ],
        "sources": list(calculator.sources),
    }


def spoken(document: Mapping[str, Any]) -> str:
    """The sentence of an envelope, then its gravest caution."""
    gravest = [entry["text"] for entry in document["cautions"][:1]]
    return " ".join([document["sentence"], *gravest])


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

"""One error body and one table of codes, for every way in which a question can fail.

The body is a problem document (RFC 9457, ``application/problem+json``).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any, Literal, get_args

Code = Literal[
    "unknown",
    "missing",
    "unit_missing",
    "wrong_dimension",
    "not_a_number",
    "out_of_range",
    "not_one_of",
    "conflict",
    "wrong_length",
    "repeated",
    "unsupported",
]
CODES: tuple[Code, ...] = get_args(Code)

TITLES = {
    400: ("not-readable", "The request cannot be read"),
    401: ("key-needed", "A key is needed"),
    404: ("not-found", "There is nothing at this address"),
    405: ("method", "This method is not offered here"),
    406: ("not-acceptable", "The answer does not come in the form asked for"),
    408: ("too-slow", "The request took too long to arrive"),
    413: ("too-large", "The request is too large"),
    414: ("address-too-long", "The address is too long"),
    415: ("content-type", "The question must be JSON"),
    422: ("invalid-question", "The question needs mending"),
    429: ("too-many", "Too many requests"),
    431: ("headers-too-large", "The headers are too large"),
    500: ("fault", "The service failed"),
    503: ("busy", "The service is busy"),
}


@dataclass(frozen=True, slots=True)
class FieldError:
    """What is wrong with one input, and the cure."""

    field: str
    code: Code
    message: str


class Refusal(Exception):
    """A question that cannot be answered, with everything that is wrong with it at once."""

    def __init__(self, errors: Iterable[FieldError]) -> None:
        self.errors = tuple(errors)
        super().__init__("; ".join(f"{error.field}: {error.message}" for error in self.errors))


class Problem(Exception):
    """A request that fails before or beside the question itself."""

    def __init__(self, status: int, detail: str, headers: dict[str, str] | None = None) -> None:
        super().__init__(detail)
        self.status = status
        self.detail = detail
        self.headers = headers or {}


def problem_document(status: int, detail: str, errors: Iterable[FieldError] = ()) -> dict[str, Any]:
    """The one shape of every error."""
    slug, title = TITLES[status]
    document: dict[str, Any] = {
        "type": f"urn:ampstead:problem:{slug}",
        "title": title,
        "status": status,
        "detail": detail,
    }
    listed = [{"field": error.field, "code": error.code, "message": error.message} for error in errors]
    if listed:
        document["errors"] = listed
    return document


def refusal_document(refusal: Refusal) -> dict[str, Any]:
    """The problem document of a refused question."""
    return problem_document(422, spoken_refusal(refusal), refusal.errors)


def spoken_refusal(refusal: Refusal) -> str:
    """All that is wrong, in plain sentences and each said once (a conflict has an entry per field)."""
    said = dict.fromkeys(error.message for error in refusal.errors)
    return " ".join(f"{message[:1].upper()}{message[1:]}{'' if message.endswith('?') else '.'}" for message in said)


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """A hint at the nearest known names, or nothing."""
    close = get_close_matches(clipped(word).lower(), list(known), n=1, cutoff=0.6)
    return f"; did you mean {close[0]}?" if close else ""


def clipped(text: object, length: int = 40) -> str:
    """User text cut to a length fit to be repeated, without control characters."""
    plain = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in str(text)[: length + 1])
    return plain if len(plain) <= length else plain[:length] + "…"

"""One error body and one table of codes, for every way in which a question can fail.

The body is a problem document (RFC 9457, ``application/problem+json``).
"""

import re
from collections.abc import Iterable, Mapping
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


MOST_ERRORS = 40
"""Errors told one by one; of more, the number is said."""
MOST_SAID = 10
"""Sentences of one refusal that are fit to be read."""
MOST_HEARD = 3
"""Faults that one spoken sentence tells."""
NEAREST = 3


@dataclass(frozen=True, slots=True)
class FieldError:
    """What is wrong with one input, and the cure."""

    field: str
    code: Code
    message: str


class Refusal(Exception):
    """A question that cannot be answered, with everything that is wrong with it at once; ``more`` counts errors that
    are not told one by one."""

    def __init__(self, errors: Iterable[FieldError], more: int = 0) -> None:
        found = tuple(errors)
        self.errors = found[:MOST_ERRORS]
        self.more = more + len(found) - len(self.errors)
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
    """The problem document of a refused question; an input's name is never capitalised in it."""
    names = tuple(error.field.partition("[")[0] for error in refusal.errors)
    messages = dict.fromkeys(error.message for error in refusal.errors)
    said = [message if message.startswith(names) else capitalised(message) for message in messages]
    return problem_document(422, _sentences(said, refusal.more), refusal.errors)


def spoken_refusal(refusal: Refusal) -> str:
    """What is wrong, in one plain sentence fit to be spoken, each fault said once: a conflict has an entry per field,
    and an input that is missing only since its name was misspelt is told by the misspelling."""
    meant = {error.message.rpartition("did you mean ")[2] for error in refusal.errors if error.code == "unknown"}
    told = [error for error in refusal.errors if error.code != "missing" or f"{error.field}?" not in meant]
    said = [message.rstrip("?") for message in dict.fromkeys(spoken(error.message) for error in told)]
    said.sort(key=lambda message: "do not" not in message)  # what may hurt somebody is heard first
    rest = refusal.more + max(0, len(said) - MOST_HEARD)
    said = said[:MOST_HEARD] + ([f"and {rest} more"] if rest else [])
    asks = len(told) == 1 and told[0].message.endswith("?")
    return f"{capitalised('; '.join(said))}{'?' if asks else '.'}"


def _sentences(said: list[str], more: int) -> str:
    more += max(0, len(said) - MOST_SAID)
    told = [f"{message}{'' if message.endswith('?') else '.'}" for message in said[:MOST_SAID]]
    return " ".join([*told, f"There are {more} more errors."] if more else told)


def capitalised(text: str) -> str:
    """A sentence's first letter as a capital."""
    return text[:1].upper() + text[1:]


_NAMED = re.compile(r'"[^"]*"|\b([A-Za-z_]+)\[([0-9]+)\](?:\.([a-z_]+))?|\w*_\w*')

_OBJECT = re.compile(r", like (?:\{[^}]*\}|\[.*\])")
_EITHER = re.compile(r": \{[^}]*\} or")
_SEVERAL = re.compile(
    r"\b((?:cells|packs|loads|readings|currents|voltages|resistances|chargers)) (is|needs|has|says)\b"
)
_PLURAL = {"is": "are", "needs": "need", "has": "have", "says": "say"}


def spoken(message: str) -> str:
    """A message with labels for names: ``rest_voltage`` as rest voltage, ``loads[1]`` as load 2."""
    plain = _EITHER.sub(" like", _OBJECT.sub("", message))
    said = _NAMED.sub(_label, plain).replace("mΩ", "milliohm").replace("Ω", "ohm")
    return _SEVERAL.sub(lambda found: f"{found[1]} {_PLURAL[found[2]]}", said)


def _label(named: re.Match[str]) -> str:
    if named[0].startswith('"'):
        return named[0]  # what was read, or is to be written, stays as it is
    if named[2] is None:
        return " ".join(named[0].replace("_", " ").split())
    item = f"{named[1].removesuffix('s').replace('_', ' ')} {int(named[2]) + 1}"
    return f"{named[3].replace('_', ' ')} of {item}" if named[3] else item


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """A hint at the nearest known name, or nothing."""
    close = get_close_matches(clipped(word).lower(), list(known), n=1, cutoff=0.6)
    return f"; did you mean {close[0]}?" if close else ""


def nearest(word: str, known: Iterable[str]) -> str:
    """The few known names that come nearest, in words."""
    names = list(known)
    close = get_close_matches(clipped(word).lower(), names, n=NEAREST, cutoff=0.0) or names[:NEAREST]
    return close[0] if len(close) == 1 else f"{', '.join(close[:-1])} and {close[-1]}"


def clipped(text: object, length: int = 40) -> str:
    """User text cut to a length fit to be repeated, without control characters; a list or an object by its kind."""
    if not isinstance(text, str):
        if isinstance(text, Mapping):
            return "an object"
        text = "a list" if isinstance(text, list | tuple) else str(text)
    plain = text[: length + 1]
    if not plain.isprintable():
        plain = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in plain)
    return plain if len(plain) <= length else plain[:length] + "…"

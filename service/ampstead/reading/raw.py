"""A request's text turned into a raw question: the query of an address, or a JSON body."""

import json
from collections import Counter
from collections.abc import Mapping
from typing import Any
from urllib.parse import unquote

from ampstead.errors import FieldError, Problem, Refusal, clipped

JSON = "application/json"


def from_query(text: str) -> dict[str, str]:
    """The question of an address's query.

    Raises
    ------
    Refusal
        If a name is repeated.
    """
    parts = [part.partition("=") for part in text.replace("+", " ").split("&") if part]
    pairs = [(name, value) for name, _, value in parts]
    if "%" in text:
        pairs = [(_plain(name), _plain(value)) for name, value in pairs]
    raw = dict(pairs)
    if len(raw) < len(pairs):
        raise Refusal(
            FieldError(clipped(name), "repeated", f"{clipped(name)} is given more than once: give it once")
            for name, times in Counter(name for name, _ in pairs).items()
            if times > 1
        )
    return raw


def _plain(text: str) -> str:
    if "%" not in text:
        return text
    # By far the most common; neither sign can make an escape of its own with what stands around it.
    text = text.replace("%2C", ",").replace("%20", " ")
    return unquote(text) if "%" in text else text


def from_body(body: bytes, content_type: str, query: str = "") -> Mapping[str, Any]:
    """The question of a JSON body.

    Raises
    ------
    Problem
        If it is no JSON, or no object.
    Refusal
        If the address asks something too.
    """
    if query and (asked := from_query(query)):
        said = "give every input in the body, none in the address"
        raise Refusal(FieldError(clipped(name), "conflict", f"{clipped(name)}: {said}") for name in asked)
    if content_type != JSON and content_type.partition(";")[0].strip().lower() != JSON:
        raise Problem(415, f'The question must be JSON: send it with the header "Content-Type: {JSON}".')
    try:
        raw = _DECODER.decode(_text(body))
    except (ValueError, RecursionError) as fault:
        raise no_json(fault) from None
    if not isinstance(raw, dict):
        raise Problem(400, "The question must be a JSON object of named inputs.")
    return raw


def _text(body: bytes) -> str:
    if body.isascii() and b"\0" not in body:
        return body.decode("ascii")
    return body.decode(json.detect_encoding(body), "surrogatepass")


def no_json(fault: Exception) -> Problem:
    """What to say of a body that is no JSON, with the place where it ceases to be."""
    if isinstance(fault, _NotJson):
        return Problem(400, str(fault))
    place = ""
    if isinstance(fault, json.JSONDecodeError):
        place = f": look at line {fault.lineno}, column {fault.colno}"
    return Problem(400, f"The body is not JSON that can be read{place}.")


class _NotJson(ValueError):
    """JSON that a lenient reader would take, and which is refused here."""


def _without_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    read = dict(pairs)
    if len(read) < len(pairs):
        twice = Counter(name for name, _ in pairs).most_common(1)[0][0]
        raise _NotJson(f"The name {clipped(twice)} stands twice in one object of the body.")
    return read


def _no_constant(name: str) -> float:
    raise _NotJson(f"{name} is not JSON; every number must be finite.")


_DECODER = json.JSONDecoder(object_pairs_hook=_without_repeats, parse_constant=_no_constant)
"""Kept, since ``json.loads`` makes one anew for each text; the encoding is told as it does it."""

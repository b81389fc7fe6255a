"""Questions in, replies out: one table of forms, and one function that answers, for the service and whoever embeds it.

The view behind Flask, the short way in front of it, the embedded client and the command line all ask here, so that
they cannot differ.
"""

import json
import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

from ampstead.calculators import registry
from ampstead.declare import Calculator, ItemType
from ampstead.errors import (
    Problem,
    Refusal,
    clipped,
    did_you_mean,
    problem_document,
    refusal_document,
    spoken_refusal,
)
from ampstead.reading.raw import from_body, from_query
from ampstead.replying import manners
from ampstead.replying.answers import Answered, answered
from ampstead.replying.hearing import heard

FAULT = "The service failed on this question; the fault is noted and the service goes on."
PROBLEM = "application/problem+json"
Headers = tuple[tuple[str, str], ...]

log = logging.getLogger("ampstead")


@dataclass(frozen=True)
class Form:
    """One form of reply: the suffix that asks for it, its media type, how it is written, and how its errors look."""

    suffix: str
    media: str
    write: Callable[[Any], str | bytes]
    offered: Callable[[Calculator], bool] = lambda calculator: True
    spoken: bool = False
    ask: Callable[[Any, Mapping[str, Any]], Any] | None = None
    """What is made of who answers and a raw question, for it to be written; an answer where nothing is said."""

    @property
    def headers(self) -> Headers:
        """The headers of an answer in this form."""
        return headed_by(self.media)


def table(answered: Answered) -> str:
    """The curve or table of an answer; where there is none, one row under the headings of a batch."""
    if answered.teller.calculator.curve:
        return answered.csv()
    from ampstead.replying.spreadsheet import alone

    return alone(answered)


FORMS: Mapping[str, Form] = {
    form.suffix: form
    for form in (
        Form("", "application/json", Answered.encoded),
        Form(".txt", "text/plain", Answered.spoken, spoken=True),
        Form(".csv", "text/csv", table),
        Form(".svg", "image/svg+xml", Answered.svg, lambda calculator: calculator.picture is not None),
        Form(".png", "image/png", Answered.png, lambda calculator: calculator.picture is not None),
    )
}


class Reply(NamedTuple):
    """A status, its headers and the body."""

    status: int
    headers: Headers
    body: bytes


@lru_cache(maxsize=32)
def headed_by(media: str, cached: str = manners.KEEPS) -> Headers:
    """The headers of a reply of a media type."""
    text = media.startswith("text/") or media == "image/svg+xml"
    kind = f"{media}; charset=utf-8" if text else media
    own = (("Content-Type", kind), ("X-Content-Type-Options", "nosniff"), ("Cache-Control", cached))
    return (*own, *manners.of_every_reply())


def form_of(path: str) -> Form:
    """The form in which an address, even a wrong one, is answered."""
    dot = path.rfind(".", path.rfind("/") + 1)
    return FORMS.get(path[dot:], FORMS[""]) if dot > 0 else FORMS[""]


def reply(
    calculator: Calculator | ItemType,
    form: Form,
    method: str,
    query: str = "",
    body: bytes = b"",
    content_type: str = "",
    accept: str = "",
) -> Reply:
    """The reply to a request: a question asked by an address's query or by a body."""
    try:
        if accept and accept != "*/*":
            form = in_form(calculator, form, accept)
        raw = from_body(body, content_type, query) if method == "POST" else from_query(query)
    except Problem as fault:
        return problem(fault, form)
    except Refusal as refusal:
        return refused(refusal, form)
    return told(calculator, form, raw)


def mannered(made: Reply, method: str, had: str, encodings: str) -> Reply:
    """A reply with its tag, or only that the caller has it; compressed where the caller takes that."""
    status, headers, body = made
    if status == 200 and method != "POST":
        tagged = ("ETag", manners.tag(body))
        if had and manners.known(tagged[1], had):
            kept = tuple(header for header in headers if header[0] != "Content-Type")
            return Reply(304, (*kept, tagged), b"")
        headers = (*headers, tagged)
    if encodings and manners.shrinks(headers[0][1], len(body)) and manners.takes_gzip(encodings):
        return Reply(status, (*headers, ("Content-Encoding", "gzip")), manners.gzipped(body))
    return Reply(status, headers, body)


def told(calculator: Calculator | ItemType, form: Form, raw: Mapping[str, Any]) -> Reply:
    """The reply to a raw question."""
    try:
        written = form.write((form.ask or answered)(calculator, raw))  # type: ignore[arg-type]
    except Refusal as refusal:
        return refused(refusal, form)
    except Exception as fault:
        return failed(fault, form)
    return Reply(200, headed_by(form.media), written.encode() if isinstance(written, str) else written)


def refused(refusal: Refusal, form: Form) -> Reply:
    """The reply to a question that needs mending."""
    if form.spoken:
        return _error(422, heard(spoken_refusal(refusal)), form)
    return _document(422, refusal_document(refusal))


def problem(fault: Problem, form: Form) -> Reply:
    """The reply to a request that fails before or beside the question itself."""
    made = _error(fault.status, fault.detail, form)
    return made._replace(headers=(*made.headers, *fault.headers.items()))


def failed(fault: Exception, form: Form) -> Reply:
    """The reply where the service itself is at fault, which is noted; nothing of the inside is said."""
    log.error("a question failed", exc_info=fault)
    return _error(500, FAULT, form)


def unknown(name: str, form: Form) -> Reply:
    """The reply where there is no such calculator."""
    return _error(404, f"There is no calculator {clipped(name)}{did_you_mean(name, registry()) or '.'}", form)


def _error(status: int, detail: str, form: Form) -> Reply:
    if form.spoken:
        return Reply(status, headed_by("text/plain", "no-store"), f"{detail}\n".encode())
    return _document(status, problem_document(status, detail))


def _document(status: int, document: Mapping[str, Any]) -> Reply:
    return Reply(status, headed_by(PROBLEM, "no-store"), dumped(document).encode())


def dumped(document: Mapping[str, Any]) -> str:
    """A document as JSON text, with finite numbers only."""
    return json.dumps(document, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


@lru_cache(maxsize=512)
def in_form(calculator: Calculator | ItemType, form: Form, accept: str) -> Form:
    """The form in which a caller who accepts this is answered: that of the suffix, or without one the best of all.

    Raises
    ------
    Problem
        406, if there is none.
    """
    from werkzeug.datastructures import MIMEAccept
    from werkzeug.http import parse_accept_header

    offered = {form.media: form}
    if not form.suffix and isinstance(calculator, Calculator):
        offered |= {other.media: other for other in FORMS.values() if other.offered(calculator)}
    wanted = parse_accept_header(accept, MIMEAccept)
    media = wanted.best_match(offered) if wanted else form.media
    if media is None:
        raise Problem(406, f"This address answers in {', '.join(offered)} only.")
    return offered[media]


@lru_cache(maxsize=512)
def accepted(accept: str, media: str) -> bool:
    """Whether a caller who accepts this takes a media type."""
    from werkzeug.datastructures import MIMEAccept
    from werkzeug.http import parse_accept_header

    wanted = parse_accept_header(accept, MIMEAccept)
    return not wanted or bool(wanted[media])

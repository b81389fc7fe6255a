"""Many questions answered in one reply: as JSON, or as the table in which they were asked.

Each row goes the way of a single question, so that its answer and its refusal are the same; a row that cannot be
answered never loses the others.
"""

import logging
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import islice
from time import thread_time
from typing import Any, TypeVar

from ampstead.declare import Calculator
from ampstead.errors import Problem, Refusal, problem_document, refusal_document
from ampstead.reading.many import Asked, from_json
from ampstead.reading.many import asked as asked_of
from ampstead.reading.raw import JSON, from_query
from ampstead.reading.sheets import Sheet, from_table
from ampstead.replying.answers import Answered, Teller, teller
from ampstead.replying.columns import briefs, groups
from ampstead.replying.forms import FAULT, FORMS, Reply, accepted, dumped, failed, headed_by, problem, refused
from ampstead.replying.spreadsheet import Filled

LONGEST_BATCH = 8 * 1024 * 1024
MOST_VALUES, MOST_NESTED = 1_000_000, 200_000
"""Values, and objects and lists, that a body may hold: each takes many times the memory of the letters that ask for it.
They are counted by the signs between them, before anything is read."""
LONGEST_WAIT = 4.5
"""Seconds of work after which the rest of a batch is put off, so that nothing holds a server for long."""
TABLES = ("text/csv", "application/csv", "text/tab-separated-values")
FORM = FORMS[""]
One = TypeVar("One")
Many = TypeVar("Many")
Told = Callable[[int], None]

HEAD = b'{"answers":['
TOGETHER = 256
"""Rows that are put into bytes at once."""

log = logging.getLogger("ampstead")


def batch(calculator: Calculator, query: str, body: bytes, content_type: str, accept: str = "") -> Reply:
    """The reply to many questions at once."""
    kind = content_type.partition(";")[0].strip().lower()
    try:
        if kind in TABLES:
            return _table(calculator, query, body, content_type, accept)
        if kind != JSON:
            raise Problem(415, f'Send a batch as {JSON} or as text/csv, and say which in the header "Content-Type".')
        if accept and not accepted(accept, JSON):
            raise Problem(406, f"A batch of {JSON} is answered in {JSON} only.")
        if query:
            raise Problem(400, "What is common to all questions of a batch stands in its body, under common.")
        _bounded(body.count(b","), body.count(b"{") + body.count(b"["))
        return _answers(calculator, from_json(body, calculator), LONGEST_WAIT)
    except Problem as fault:
        return problem(fault, FORM)
    except Refusal as refusal:
        return refused(refusal, FORM)
    except Exception as fault:
        return failed(fault, FORM)


def at_once(calculator: Calculator, read: Mapping[str, Any]) -> Reply:
    """The same of a body that has been read, in this process, for as long as it takes."""
    try:
        return _answers(calculator, asked_of(read, calculator), None)
    except Problem as fault:
        return problem(fault, FORM)
    except Refusal as refusal:
        return refused(refusal, FORM)


def _answers(calculator: Calculator, asked: list[Asked], wait: float | None) -> Reply:
    body = bytearray(HEAD)
    told = outcomes(teller(calculator), asked, Answered.brief, briefs, wait)
    written = (outcome if isinstance(outcome, str) else f'{{"problem":{dumped(outcome)}}}' for outcome in told)
    while some := list(islice(written, TOGETHER)):  # so that the text of all rows never stands there twice
        body += f"{',' if len(body) > len(HEAD) else ''}{','.join(some)}".encode()
    body += b"]}"
    return Reply(200, headed_by(JSON), bytes(body))


def _table(calculator: Calculator, query: str, body: bytes, content_type: str, accept: str) -> Reply:
    if accept and not accepted(accept, "text/csv"):
        raise Problem(406, "A batch of text/csv is answered in text/csv only.")
    lines = body.count(b"\n")  # of which one row may have several, within quotes
    _bounded(max(map(body.count, (b",", b";", b"\t"))) + lines, lines - calculator.most)
    sheet = from_table(body, content_type, calculator, from_query(query))
    return Reply(200, headed_by("text/csv"), filled(calculator, sheet, LONGEST_WAIT).written().encode())


def _bounded(values: int, nested: int) -> None:
    if values > MOST_VALUES or nested > MOST_NESTED:
        most = f"{MOST_VALUES:,} values, or {MOST_NESTED:,} objects, lists or lines"
        raise Problem(413, f"A batch holds at most {most}: send it in parts.")


def filled(calculator: Calculator, sheet: Sheet, wait: float | None = None, told: Told = lambda done: None) -> Filled:
    """The table with its answers; ``told`` hears how many rows are done."""
    made = Filled(calculator, sheet)
    came = outcomes(teller(calculator), sheet.asked, made.cells, made.many, wait)
    for place, outcome in enumerate(came, 1):
        made.row(outcome)
        told(place)
    return made


def outcomes(
    teller: Teller,
    asked: Sequence[Asked],
    write: Callable[[Answered], One],
    write_many: Callable[[Answered, int], list[Many]],
    wait: float | None,
) -> Iterator[One | Many | Mapping[str, Any]]:
    """What becomes of each question, in order: its answer as written, or the document of a problem."""
    end = None if wait is None else thread_time() + wait
    together = dict(groups(teller, asked, write_many))
    for place, raw in enumerate(asked):
        if (written := together.pop(place, None)) is not None:
            yield written
            continue
        if end is not None and thread_time() > end:
            yield problem_document(503, "The batch took too long before this row; send fewer rows at once.")
            continue
        try:
            if isinstance(raw, Exception):
                raise raw
            yield write(teller.answered(raw))
        except Refusal as refusal:
            yield refusal_document(refusal)
        except Problem as fault:
            yield problem_document(fault.status, fault.detail)
        except Exception as fault:
            log.error("a question failed", exc_info=fault)
            yield problem_document(500, FAULT)

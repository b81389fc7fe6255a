"""What comes back from a service, wherever it was asked, and where it is written to."""

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from ampstead.cli import ANSWERED, REFUSED, UNANSWERED

REFUSALS = (400, 404, 413, 422)


class Answer(NamedTuple):
    """An HTTP status and the body that came with it."""

    status: int
    body: bytes


class NoAnswer(Exception):
    """No service could be asked, in the words of this."""


Asked = Callable[[str, str, bytes], Answer]
"""Asks a path behind ``/v1/`` with a query and, where it is not empty, a body of JSON or of a table."""


def written(body: bytes, output: str | None) -> int:
    """Writes a body to a file, or to standard output."""
    if output not in (None, "-"):
        try:
            Path(str(output)).write_bytes(body)
        except OSError as fault:
            raise NoAnswer(f"{output} cannot be written: {fault.strerror}.") from None
        return ANSWERED
    if sys.stdout.isatty():
        print(body.decode(), end="")
    else:
        sys.stdout.buffer.write(body)
    return ANSWERED


def refused(answer: Answer) -> int:
    """Tells each fault on a line of its own."""
    from ampstead.cli.terminal import plain

    try:
        problem = json.loads(answer.body)
        errors = [(str(entry["field"]), str(entry["message"])) for entry in problem.get("errors", ())]
        lines = [f"{field}: {message.removeprefix(field).lstrip(' :')}" for field, message in errors]
        lines = lines or [str(problem["detail"])]
    except (ValueError, KeyError, TypeError, AttributeError):
        lines = [f"The service answered with status {answer.status}."]
    for line in lines:
        print(plain(line), file=sys.stderr)
    return REFUSED if answer.status in REFUSALS else UNANSWERED

"""A table of questions, answered row by row."""

import sys
from collections.abc import Sequence
from pathlib import Path
from urllib.parse import quote, urlencode

from ampstead.cli import REFUSED
from ampstead.cli.answer import Answer, Asked, refused, written

WIDTH = 40
"""Of the bar of progress."""


def answered_table(
    asked: Asked | None, name: str, file: str, inputs: Sequence[tuple[str, str]], output: str | None
) -> int:
    """Answers a table by a server, or in this process with a bar of progress on a terminal's standard error."""
    try:
        body = sys.stdin.buffer.read() if file == "-" else Path(file).read_bytes()
    except OSError as fault:
        print(f"{file} cannot be read: {fault.strerror}.", file=sys.stderr)
        return REFUSED
    if asked is None:
        answer = _here(name, body, inputs)
    else:
        answer = asked(f"{name}/batch", urlencode(inputs, quote_via=quote), body)
    return written(answer.body, output) if answer.status == 200 else refused(answer)


def _here(name: str, body: bytes, inputs: Sequence[tuple[str, str]]) -> Answer:
    from dataclasses import replace

    from ampstead.calculators import registry
    from ampstead.errors import Problem, Refusal
    from ampstead.reading.raw import from_query
    from ampstead.reading.sheets import from_table
    from ampstead.replying.batch import filled
    from ampstead.replying.forms import FORMS, problem, unknown
    from ampstead.replying.forms import refused as faulty

    calculator = registry().get(name)
    try:
        if calculator is None:
            made = unknown(name, FORMS[""])
            return Answer(made.status, made.body)
        common = from_query(urlencode(inputs, quote_via=quote))
        sheet = from_table(body, "text/csv", replace(calculator, most=sys.maxsize), common)
    except (Problem, Refusal) as fault:
        made = problem(fault, FORMS[""]) if isinstance(fault, Problem) else faulty(fault, FORMS[""])
        return Answer(made.status, made.body)
    whole = len(sheet.rows)

    def shown(done: int) -> None:
        if done == whole or done % max(1, whole // WIDTH) == 0:
            bar = "#" * (done * WIDTH // max(1, whole))
            print(f"\r[{bar:{WIDTH}}] {done} of {whole}", end="", file=sys.stderr, flush=True)

    watched = sys.stderr.isatty()
    table = filled(calculator, sheet, told=shown if watched else lambda done: None)
    faults = table.refused
    rows = "1 row" if whole == 1 else f"{whole} rows"
    print(f"{chr(10) if watched else ''}{rows}, {faults} of them refused", file=sys.stderr)
    return Answer(200, table.written().encode())

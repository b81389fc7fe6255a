"""``ampstead ask``: one question, or a table of them, answered in the form that suits whoever reads it."""

import argparse
import json
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from urllib.parse import quote, urlencode

from ampstead.cli import ANSWERED, REFUSED, UNANSWERED
from ampstead.cli.answer import Answer, Asked, NoAnswer, refused, written

SUFFIXES: Mapping[str, str] = {"json": "", "txt": ".txt", "csv": ".csv", "svg": ".svg", "png": ".png"}
TERMINAL = "terminal"


def parser() -> argparse.ArgumentParser:
    """What ``ampstead ask`` takes."""
    made = argparse.ArgumentParser(
        prog="ampstead ask",
        usage="ampstead ask CALCULATOR [name=value ...] [--json QUESTION | -] [--form FORM] [-o FILE] [--server URL]\n"
        "       ampstead ask CALCULATOR [name=value ...] --csv FILE [-o FILE] [--server URL]",
        description="Answer a question. On a terminal the answer is laid out to be read, elsewhere it is JSON.",
        epilog="The exit status is 0 for an answer, 2 for a question that was refused, each fault on a line of its "
        "own, and 1 where no answer came.",
        add_help=False,
    )
    made.add_argument("calculator", metavar="CALCULATOR", nargs="?", help="its name: ampstead list tells them all")
    made.add_argument("inputs", nargs="*", metavar="name=value", help='inputs, such as capacity="2250 mAh"')
    made.add_argument("-h", "--help", action="store_true", help="tell this, or what the calculator takes")
    made.add_argument(
        "--json", metavar="QUESTION", help="a question in JSON, or a file of one; - reads it from standard input"
    )
    made.add_argument("--form", choices=(*SUFFIXES, TERMINAL), help="how to answer (terminal: laid out to be read)")
    made.add_argument("-o", "--output", metavar="FILE", help="where to write; its ending tells the form")
    made.add_argument("--csv", metavar="FILE", help="answer each row of a table; - reads it from standard input")
    made.add_argument("--server", metavar="URL", help="ask a server there, with the key in AMPSTEAD_KEY if any")
    return made


def ask(arguments: Sequence[str]) -> int:
    """Answer what the arguments ask; the exit status of ``ampstead``."""
    made = parser()
    called = made.parse_intermixed_args(arguments)
    if called.help or not called.calculator:
        return _helped(made, called.calculator, called.help)
    name = called.calculator.replace("_", "-")
    given = [entry for entry in called.inputs if entry != "-"]
    if len(given) < len(called.inputs):
        if called.json is not None:
            made.error("give --json or -, not both")
        called.json = "-"
    inputs = [_input(made, entry) for entry in given]
    if called.csv is not None and (called.json is not None or called.form not in (None, "csv")):
        made.error("a table is answered as a table: leave --json and --form out")
    try:
        asked = _asked(called.server)
        if called.csv is not None:
            from ampstead.cli.table import answered_table

            return answered_table(asked if called.server else None, name, called.csv, inputs, called.output)
        form = called.form or _form_of(made, called.output)
        if form == "png" and called.output is None and sys.stdout.isatty():
            made.error("a png is no text for a terminal: write it to a file by -o FILE")
        query, body = _question(made, inputs, called.json)
        answer = asked(f"{name}{SUFFIXES.get(form, '')}", query, body)
        if answer.status != 200:
            # A spoken error tells all faults in one sentence; a document tells each by itself.
            return refused(asked(name, query, body) if form == "txt" else answer)
        return written(_told(name, form, answer.body), called.output)
    except NoAnswer as why:
        print(why, file=sys.stderr)
        return UNANSWERED


def _helped(made: argparse.ArgumentParser, calculator: str | None, called_for: bool) -> int:
    if calculator is None:
        made.print_help(sys.stdout if called_for else sys.stderr)
        return ANSWERED if called_for else REFUSED
    from ampstead.calculators import registry
    from ampstead.cli.guide import told
    from ampstead.replying.forms import FORMS, unknown

    found = registry().get(calculator.replace("_", "-"))
    if found is None:
        return refused(Answer(404, unknown(calculator, FORMS[""]).body))
    print(told(found))
    return ANSWERED


def _input(made: argparse.ArgumentParser, entry: str) -> tuple[str, str]:
    name, equals, value = entry.partition("=")
    if not equals:
        made.error(f'write inputs as name=value; "{entry}" was read')
    return name, value


def _question(
    made: argparse.ArgumentParser, inputs: Sequence[tuple[str, str]], document: str | None
) -> tuple[str, bytes]:
    """The query and the body that ask it."""
    if document is None:
        return urlencode(inputs, quote_via=quote), b""
    body = _document(made, document)
    if not body.strip():
        made.error("the question in JSON is empty")
    if inputs:
        from ampstead.errors import Problem
        from ampstead.reading.raw import JSON, from_body

        try:
            question = from_body(body, JSON)
        except Problem:
            return "", body  # the service says what is wrong with it
        both = [name for name, _ in inputs if name in question] or _twice([name for name, _ in inputs])
        if both:
            made.error(f"{both[0]} is given more than once")
        body = json.dumps({**question, **dict(inputs)}).encode()
    return "", body


def _document(made: argparse.ArgumentParser, told: str) -> bytes:
    """A question in JSON: as it stands, from a file, or from standard input."""
    if told == "-":
        return sys.stdin.buffer.read()
    if told.lstrip()[:1] in ("", "{", "[", '"'):
        return told.encode()
    try:
        return Path(told).read_bytes()
    except OSError as why:
        made.error(f'"{told}" is neither a question in JSON nor a file that can be read: {why.strerror or why}')


def _twice(names: Sequence[str]) -> list[str]:
    return [name for name in names if names.count(name) > 1]


def _form_of(made: argparse.ArgumentParser, output: str | None) -> str:
    """The form where none is asked for."""
    if output not in (None, "-"):
        ending = Path(str(output)).suffix[1:].lower()
        if ending and ending not in SUFFIXES:
            made.error(f'no form ends in ".{ending}": end the file in .{", .".join(SUFFIXES)}, or give --form')
        return ending or "json"
    return TERMINAL if output is None and sys.stdout.isatty() else "json"


def _asked(server: str | None) -> Asked:
    if server is not None:
        from ampstead.cli.remote import service_at

        return service_at(server)
    from ampstead.cli.here import asked

    return asked


def _told(name: str, form: str, body: bytes) -> bytes:
    if form not in ("json", TERMINAL):
        return body
    try:
        document = json.loads(body)
        if not isinstance(document, dict):
            raise ValueError("no object")
    except ValueError:
        raise NoAnswer("What came is not the answer of a calculator.") from None
    if form == "json" or "answer" not in document:
        return (json.dumps(document, ensure_ascii=False, indent=2) + "\n").encode()
    from ampstead.cli.terminal import laid_out

    return laid_out(document).encode()

"""The command ``ampstead``: serve the calculators, or ask one at once without a server."""

import argparse
import json
import sys
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

WIDTH = 40
"""Of the bar of progress."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; its exit status is 0, 1 for a refused question, and 2 for a wrong call."""
    given = sys.argv[1:] if arguments is None else arguments
    if given[:1] == ["serve"]:
        return _served(given[1:])
    # Here and not above: a server that cannot start says so at once.
    from ampstead.calculators import registry
    from ampstead.replying.answers import service_version
    from ampstead.replying.forms import FORMS
    from ampstead.replying.local import asked

    parser = argparse.ArgumentParser(prog="ampstead", description="Calculators for a model flier's battery packs.")
    parser.add_argument("--version", action="version", version=service_version())
    commands = parser.add_subparsers(dest="command", required=True)
    commands.add_parser("serve", help="serve the calculators over HTTP")
    asking = commands.add_parser("ask", help="answer one question without a server")
    asking.add_argument("calculator", help="one of " + ", ".join(registry()))
    asking.add_argument("inputs", nargs="*", metavar="name=value", help='inputs, such as capacity="2250 mAh"')
    asking.add_argument("--as", dest="form", choices=("text", "json"), default="text", help="how to answer")
    asking.add_argument("--csv", metavar="FILE", help="answer each row of a table; - reads it from standard input")
    called, late = parser.parse_known_args(given)
    strange = [entry for entry in late if entry.startswith("-")]
    if strange:
        parser.error(f"unrecognized arguments: {' '.join(strange)}")
    question: dict[str, str] = {}
    for entry in [*called.inputs, *late]:  # those behind an option come late
        name, equals, value = entry.partition("=")
        if not equals:
            asking.error(f'write inputs as name=value; "{entry}" was read')
        if name in question:
            asking.error(f"{name} is given more than once")
        question[name] = value
    if called.csv is not None:
        if called.form == "json":
            asking.error("a table is answered as a table: leave --as out")
        return _table(called.calculator, called.csv, question)
    if called.form == "json":
        made = asked(called.calculator, FORMS[""], question)
        print(json.dumps(json.loads(made.body), ensure_ascii=False, indent=2))
    else:
        made = asked(called.calculator, FORMS[".txt"], question)
        print(made.body.decode(), end="", file=sys.stdout if made.status == 200 else sys.stderr)
    return 0 if made.status == 200 else 1


def _served(arguments: Sequence[str]) -> int:
    from ampstead.server import NotServed, serve

    parser = argparse.ArgumentParser(prog="ampstead serve", description="Serve the calculators over HTTP.")
    parser.add_argument("--host", help="address to listen on (HOST, or 127.0.0.1)")
    parser.add_argument("--port", help="port to listen on (PORT, or 8080)")
    asked = parser.parse_args(arguments)
    try:
        serve(asked.host, asked.port)
    except NotServed as why:
        print(why, file=sys.stderr)
        return 2
    return 0


def _table(name: str, file: str, common: Mapping[str, str]) -> int:
    """Answer a table to standard output, with a bar of progress on a terminal's standard error."""
    from ampstead.calculators import registry
    from ampstead.errors import Problem, Refusal, spoken_refusal
    from ampstead.reading.sheets import from_table
    from ampstead.replying.batch import filled
    from ampstead.replying.forms import FORMS, unknown

    calculator = registry().get(name)
    if calculator is None:
        print(unknown(name, FORMS[".txt"]).body.decode(), end="", file=sys.stderr)
        return 1
    try:
        body = sys.stdin.buffer.read() if file == "-" else Path(file).read_bytes()
    except OSError as fault:
        print(f"{file} cannot be read: {fault.strerror}.", file=sys.stderr)
        return 2
    try:
        sheet = from_table(body, "text/csv", replace(calculator, most=sys.maxsize), common)
    except Problem as fault:
        print(fault.detail, file=sys.stderr)
        return 1
    except Refusal as refusal:
        print(spoken_refusal(refusal), file=sys.stderr)
        return 1
    whole = len(sheet.rows)

    def shown(done: int) -> None:
        if done == whole or done % max(1, whole // WIDTH) == 0:
            bar = "#" * (done * WIDTH // max(1, whole))
            print(f"\r[{bar:{WIDTH}}] {done} of {whole}", end="", file=sys.stderr, flush=True)

    watched = sys.stderr.isatty()
    table = filled(calculator, sheet, told=shown if watched else lambda done: None)
    refused = sum(isinstance(row, str) for row in table.rows)
    print(f"{chr(10) if watched else ''}{whole} rows, {refused} of them refused", file=sys.stderr)
    sys.stdout.buffer.write(table.written().encode())
    sys.stdout.flush()
    return 0

"""The command ``ampstead``: serve the calculators, or ask one at once without a server."""

import argparse
import json
import sys
from collections.abc import Sequence


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; its exit status is 0, 1 for a refused question, and 2 for a wrong call."""
    given = sys.argv[1:] if arguments is None else arguments
    if given[:1] == ["serve"]:
        return _served(given[1:])
    # Here and not above: a server that cannot start says so at once.
    from ampstead.calculators import registry
    from ampstead.replying.answers import service_version
    from ampstead.replying.forms import FORMS, asked

    parser = argparse.ArgumentParser(prog="ampstead", description="Calculators for a model flier's battery packs.")
    parser.add_argument("--version", action="version", version=service_version())
    commands = parser.add_subparsers(dest="command", required=True)
    commands.add_parser("serve", help="serve the calculators over HTTP")
    asking = commands.add_parser("ask", help="answer one question without a server")
    asking.add_argument("calculator", help="one of " + ", ".join(registry()))
    asking.add_argument("inputs", nargs="*", metavar="name=value", help='inputs, such as capacity="2250 mAh"')
    asking.add_argument("--as", dest="form", choices=("text", "json"), default="text", help="how to answer")
    called = parser.parse_args(given)
    question: dict[str, str] = {}
    for entry in called.inputs:
        name, equals, value = entry.partition("=")
        if not equals:
            asking.error(f'write inputs as name=value; "{entry}" was read')
        if name in question:
            asking.error(f"{name} is given more than once")
        question[name] = value
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

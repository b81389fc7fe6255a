"""The command ``ampstead``: serve the calculators, or ask one at once, in this process or of a server.

Each command's module is imported when it is called for, and imports no more than it needs: help, completion and a
server that cannot start answer at once.
"""

import argparse
import os
import sys
from collections.abc import Callable, Mapping, Sequence

from ampstead.errors import did_you_mean

ANSWERED, UNANSWERED, REFUSED = 0, 1, 2


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; its exit status is 0, 2 for a refused question or a wrong call, and 1 where no answer came."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    for stream in (sys.stdout, sys.stderr):
        # A terminal that lacks a letter shows another in its place.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        known = bool(given) and given[0] in COMMANDS
        status = COMMANDS[given[0]][1](given[1:]) if known else _beyond(given)
        sys.stdout.flush()
    except KeyboardInterrupt:
        return 130
    except OSError as fault:  # whoever read the output has seen enough, or a disk is full
        if not isinstance(fault, BrokenPipeError):
            print(f"The output cannot be written: {fault.strerror or fault}.", file=sys.stderr)
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return UNANSWERED
    return status


def _beyond(given: Sequence[str]) -> int:
    parser = argparse.ArgumentParser(
        prog="ampstead",
        description="Calculators for a model flier's battery packs.",
        epilog="ampstead COMMAND --help tells more of each, ampstead ask CALCULATOR --help what a calculator takes.",
    )
    parser.add_argument("--version", action="store_true", help="tell the version")
    commands = parser.add_subparsers(metavar="COMMAND")
    for name, (said, _) in COMMANDS.items():
        commands.add_parser(name, help=said)
    if given and not given[0].startswith("-"):
        parser.error(f"there is no command {given[0]!r}{did_you_mean(given[0], COMMANDS) or '.'}")
    if not given:
        parser.print_help(sys.stderr)
        return REFUSED
    if parser.parse_args(given[:1]).version:
        from importlib.metadata import version

        print(version("ampstead"))
    return ANSWERED


def _serve(arguments: Sequence[str]) -> int:
    from ampstead.server import NotServed, serve

    parser = argparse.ArgumentParser(prog="ampstead serve", description="Serve the calculators over HTTP.")
    parser.add_argument("--host", help="address to listen on (HOST, or 127.0.0.1)")
    parser.add_argument("--port", help="port to listen on (PORT, or 8080)")
    asked = parser.parse_args(arguments)
    try:
        serve(asked.host, asked.port)
    except NotServed as why:
        print(why, file=sys.stderr)
        return REFUSED
    return ANSWERED


def _ask(arguments: Sequence[str]) -> int:
    from ampstead.cli.ask import ask

    return ask(arguments)


def _list(arguments: Sequence[str]) -> int:
    argparse.ArgumentParser(prog="ampstead list", description="List the calculators.").parse_args(arguments)
    from ampstead.calculators import registry
    from ampstead.cli.terminal import aligned

    rows = [(name, calculator.summary) for name, calculator in registry().items()]
    print(aligned(rows) if sys.stdout.isatty() else "\n".join("\t".join(row) for row in rows))
    return ANSWERED


def _completion(arguments: Sequence[str]) -> int:
    from ampstead.cli.completion import SHELLS, script

    parser = argparse.ArgumentParser(
        prog="ampstead completion",
        description="Print a script that completes commands, calculators and the names of their inputs.",
        epilog='In ~/.bashrc:  eval "$(ampstead completion bash)"   In ~/.zshrc:  eval "$(ampstead completion zsh)"   '
        "For fish:  ampstead completion fish > ~/.config/fish/completions/ampstead.fish",
    )
    parser.add_argument("shell", choices=SHELLS)
    print(script(parser.parse_args(arguments).shell), end="")
    return ANSWERED


COMMANDS: Mapping[str, tuple[str, Callable[[Sequence[str]], int]]] = {
    "ask": ("answer a question, or a table of them", _ask),
    "list": ("list the calculators", _list),
    "serve": ("serve the calculators over HTTP", _serve),
    "completion": ("print a script for the shell that completes names", _completion),
}

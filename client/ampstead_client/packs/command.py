"""The command `ampstead-packs`: a list of packs in a file, judged, added to, checked, exchanged."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any, get_args

from ampstead_client.calculators import Condition, ResistanceMethod
from ampstead_client.client import AmpsteadClient
from ampstead_client.errors import AmpsteadError, ConnectionFault, InvalidQuestion, NotInstalled
from ampstead_client.packs import fields, tables
from ampstead_client.packs.cards import card_addresses
from ampstead_client.packs.entries import PackReading
from ampstead_client.packs.faults import FaultyPacks, NoSuchPack
from ampstead_client.packs.packlist import PackList
from ampstead_client.packs.trends import AT_REST, ROOM

NEW = "# One [[pack]] for each pack, one [[pack.reading]] for each thing measured on it. Every figure has its unit.\n"
WITH_A_LOG = ("date", "temperature", "method", "current")
ENDINGS = {"": "text", ".txt": "text", ".html": "html", ".htm": "html", ".svg": "svg"}
NO_ANSWER, REFUSED, INTERRUPTED = 1, 2, 130


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; its exit status is 0, 2 for what is refused or a wrong call, and 1 where no answer came."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal without Ω shows a question mark instead of a traceback
    asked, late = _parser().parse_known_args(arguments)
    if strange := [each for each in late if each.startswith("-") or not hasattr(asked, "values")]:
        asked.parser.error(f"unrecognised: {' '.join(strange)}")
    if hasattr(asked, "values"):
        asked.values = [*asked.values, *late]
    try:
        run: Callable[[argparse.Namespace], int] = asked.run
        status = run(asked)
        sys.stdout.flush()
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:  # whoever read the output has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return NO_ANSWER
    except NotInstalled as fault:
        more = "" if "[packs]" in fault.message else "; or ask a server: --server http://127.0.0.1:8080"
        return _told(f"{fault}{more}", NO_ANSWER)
    except ConnectionFault as fault:
        return _told(f"no service answers at {asked.server}: {fault.message}", NO_ANSWER)
    except (FaultyPacks, NoSuchPack, InvalidQuestion) as fault:
        return _told(str(fault), REFUSED)
    except AmpsteadError as fault:
        return _told(str(fault), NO_ANSWER)
    except OSError as fault:
        named = f"{fault.filename}: " if fault.filename else ""  # a full disk under the output has no name
        return _told(f"{named}{fault.strerror or fault}", NO_ANSWER)
    return status


def _told(message: str, status: int) -> int:
    print(message, file=sys.stderr)
    return status


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="ampstead-packs",
        description="A list of battery packs in a file of yours.",
        epilog='Begin with: ampstead-packs packs.toml add "red trainer A" cells=3 capacity="2250 mAh"',
    )
    parser.add_argument("file", metavar="FILE", type=Path, help="the list, such as packs.toml")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")

    def command(name: str, run: Callable[[argparse.Namespace], int], told: str) -> argparse.ArgumentParser:
        made = commands.add_parser(name, help=told, description=f"{told[0].upper()}{told[1:]}.")
        made.set_defaults(run=run, parser=made)
        return made

    asking = command("report", _report, "judge every pack, worst first, with the trends of its readings")
    asking.add_argument("--server", metavar="URL", help="service to ask; else the one that is installed here")
    asking.add_argument("--as", dest="form", choices=("text", "html", "svg"), help="how; else by the ending of --out")
    asking.add_argument("--out", type=Path, metavar="FILE", help="where to write it")
    asking.add_argument("--temperature", metavar="T", help='of the packs at take-off, such as "13 °C"; else 25 °C')
    logging = command("log", _log, "write down what was measured on a pack")
    logging.epilog = (
        f"The method of a resistance is one of {', '.join(get_args(ResistanceMethod))}, the condition one of "
        f"{', '.join(get_args(Condition))}. Without a date it is today's. "
        'Example: ampstead-packs packs.toml log red trainer A cell_resistance="9 mΩ" method=charger temperature="13 °C"'
    )
    logging.add_argument(
        "values",
        nargs="+",
        metavar="NAME what=value",
        help=(f"name or id of the pack, then one or more of {', '.join(fields.VALUES)}; with {', '.join(WITH_A_LOG)}"),
    )
    adding = command("add", _add, "write down one more pack; begins the file where there is none")
    adding.add_argument(
        "values",
        nargs="+",
        metavar="NAME what=value",
        help=(f"what the pack is called, then what is known of it: {', '.join(set_by_hand())}"),
    )
    command("check", _check, "say what is wrong in the file, and how to mend it")
    exporting = command("export", _export, "write the list as a table of CSV, one row a reading")
    exporting.add_argument("table", nargs="?", type=Path, help="file to write; else standard output")
    importing = command("import", _import, "take packs and readings from a table of CSV that the list does not have")
    importing.add_argument("table", type=Path, help="file to read")
    carding = command("cards", _cards, "tell the address of the field cards of all packs")
    carding.add_argument("--server", metavar="URL", default="http://127.0.0.1:8080", help="(%(default)s)")
    return parser


def set_by_hand() -> list[str]:
    """What may be told of a pack beside its name."""
    return [name for name in fields.PACK if name != "name"]


def _at(asked: argparse.Namespace) -> AmpsteadClient:
    """A client of the server that was named."""
    try:
        return AmpsteadClient(asked.server)
    except ValueError:
        parser: argparse.ArgumentParser = asked.parser
        parser.error(f'--server "{asked.server}" is no address: write it like http://127.0.0.1:8080')


def _report(asked: argparse.Namespace) -> int:
    packs = PackList.load(asked.file)
    form = asked.form or _form_of(asked)
    client = _at(asked) if asked.server else AmpsteadClient.embedded()
    with client:
        report = packs.report(client, temperature=asked.temperature)
    made: str = getattr(report, form)()
    if asked.out is None:
        print(made.rstrip("\n"))
    else:
        asked.out.write_text(f"{made.rstrip()}\n", encoding="utf-8")
        print(f"{asked.out} is written: {len(report)} packs, worst first.")
    return 0


def _form_of(asked: argparse.Namespace) -> str:
    """The form that the ending of --out tells."""
    ending = asked.out.suffix.lower() if asked.out else ""
    if ending not in ENDINGS:
        asked.parser.error(f'no form ends in "{ending}": end the file in .html, .svg or .txt, or give --as')
    return ENDINGS[ending]


def _log(asked: argparse.Namespace) -> int:
    packs = PackList.load(asked.file)
    name, values = _values(asked)
    readings = packs.log(name, **{kind.replace("-", "_"): value for kind, value in values.items()})
    for reading in readings:
        print(f"{packs[name].name}: {_said(reading)} is written to {asked.file}.")
    for remark in _remarks(readings):
        print(f"Mind: {remark}.")
    return 0


def _add(asked: argparse.Namespace) -> int:
    name, facts = _values(asked)
    if "name" in facts:
        asked.parser.error("the name stands before the values")
    new = not asked.file.exists()
    packs = PackList(asked.file, NEW) if new else PackList.load(asked.file)
    if new:
        asked.file.write_text(NEW, encoding="utf-8")
    try:
        pack = packs.add(name, **facts)
    except BaseException:
        if new:
            asked.file.unlink()
        raise
    print(f'{pack.name} is written to {asked.file}, with the id "{pack.id}".')
    return 0


def _check(asked: argparse.Namespace) -> int:
    packs = PackList.load(asked.file)
    remarks = [f"{pack.name}: {remark}" for pack in packs for remark in _remarks(pack.history)]
    print("\n".join([*remarks, f"{asked.file}: {len(packs)} packs, {sum(len(p.history) for p in packs)} readings."]))
    return 0


def _remarks(history: Sequence[PackReading]) -> list[str]:
    """What is right but will count for nothing, or looks odd."""
    told = []
    for reading in history:
        if reading.date > date.today():
            told.append(f"{_said(reading)} lies ahead of today")
        if reading.kind in ("cell_voltages", "condition"):
            continue
        if reading.temperature is None:
            told.append(f"{_said(reading)} has no temperature, so it counts in no trend")
        elif reading.method is None:
            told.append(f"{_said(reading)} has no method, so it counts in no trend")
        elif (
            reading.kind == "measured_capacity"
            and reading.method != AT_REST
            and reading.current is None
            and reading.temperature.value_in("°C") < ROOM
        ):
            told.append(
                f"{_said(reading)} was taken below 25 °C and has no current, so it counts in no trend; write the "
                f'current it was drawn at, or method = "{AT_REST}" if it was found between two resting voltages'
            )
    return told


def _export(asked: argparse.Namespace) -> int:
    made = tables.table(PackList.load(asked.file))
    if asked.table is None:
        sys.stdout.write(made.replace("\r\n", "\n"))
    else:
        # The mark at the start tells a spreadsheet that this is UTF-8.
        asked.table.write_bytes(b"\xef\xbb\xbf" + made.encode())
        print(f"{asked.table} is written.")
    return 0


def _import(asked: argparse.Namespace) -> int:
    packs = PackList.load(asked.file)
    taken = tables.take(packs, asked.table.read_text(encoding="utf-8-sig"), asked.table.name)
    told = f"{len(taken.packs)} new packs and {len(taken.readings)} new readings are written to {asked.file}"
    print(f"{told}; {taken.known} readings were there already.")
    return 0


def _cards(asked: argparse.Namespace) -> int:
    packs = PackList.load(asked.file)
    addresses = card_addresses(packs, asked.server, asked.file.stem, _held_against(packs, asked))
    print("\n".join(addresses))
    return 0


def _held_against(packs: PackList, asked: argparse.Namespace) -> dict[str, Mapping[str, Any]]:
    """What a report holds each pack's resistance against, by its id: of the service here, else of the server."""
    try:
        client = AmpsteadClient.embedded()
    except NotInstalled:
        client = _at(asked)
    try:
        with client:
            return {each.pack.id: each.held_against for each in packs.report(client)}
    except AmpsteadError as fault:
        print(f"The cards do not know how the packs have aged, since no service answered: {fault}", file=sys.stderr)
        return {}


def _values(asked: argparse.Namespace) -> tuple[str, Mapping[str, Any]]:
    """A pack's name, in quotes or not, and the values that follow it."""
    words = [entry for entry in asked.values if "=" not in entry]
    if not words or asked.values[: len(words)] != words:
        asked.parser.error("write the name of the pack, and then what=value, as in  red trainer A cells=3")
    found: dict[str, str] = {}
    for entry in asked.values[len(words) :]:
        name, _, value = entry.partition("=")
        if name in found:
            asked.parser.error(f"{name} is given twice")
        found[name] = value
    return " ".join(words), found


def _said(reading: PackReading) -> str:
    how = ", ".join(str(each) for each in (reading.method, reading.temperature) if each is not None)
    return f"{reading.kind} {reading.words}{f' ({how})' if how else ''} of {reading.date}"


if __name__ == "__main__":
    sys.exit(main())

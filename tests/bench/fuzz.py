"""A coverage-guided fuzzer on what reads strangers' text: quantities, queries, bodies, tables.

    python tests/bench/fuzz.py quantity [--runs 1000000] [--corpus FOLDER]

It wants ``pip install atheris``. Any exception but a refusal, and any input that takes over some seconds, ends it and
leaves the input in a file ``crash-…`` or ``timeout-…``; with a corpus folder, what it has found out is kept for the
next time. Seeds are the units of the table and the calculators' examples.
"""

import argparse
import contextlib
import json
import sys
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path
from urllib.parse import urlencode

import atheris

with atheris.instrument_imports(include=["ampstead.units", "ampstead.reading", "ampstead.errors"]):
    from ampstead.calculators import registry
    from ampstead.errors import Problem, Refusal
    from ampstead.reading.many import from_json
    from ampstead.reading.plan import plan
    from ampstead.reading.raw import from_body, from_query
    from ampstead.reading.sheets import from_table
    from ampstead.units import DIMENSIONS, Unreadable, quantity

CALCULATORS = registry()
PLANS = [plan(calculator) for calculator in CALCULATORS.values()]
KINDS = list(DIMENSIONS.values())
LONGEST = 3
"""Seconds of the clock that one input may take, all instrumented and beside other work."""


def read_quantity(data: bytes) -> None:
    """A quantity's text as one kind of quantity; the first byte chooses."""
    text = data[1:].decode("utf-8", "surrogateescape")
    value = quantity(text, KINDS[data[0] % len(KINDS)]) if data else 0.0
    if not abs(value) < float("inf"):
        raise AssertionError(f"{text!r} was read as {value}")


def read_query(data: bytes) -> None:
    """An address's query, as a question of one calculator."""
    if data:
        PLANS[data[0] % len(PLANS)].read(from_query(data[1:].decode("latin-1")))


def read_body(data: bytes) -> None:
    """A JSON body, as a question of one calculator."""
    if data:
        PLANS[data[0] % len(PLANS)].read(from_body(data[1:], "application/json"))


def read_batch(data: bytes) -> None:
    """Many questions as JSON."""
    if data:
        from_json(data[1:], list(CALCULATORS.values())[data[0] % len(CALCULATORS)])


def read_table(data: bytes) -> None:
    """Many questions as a table."""
    if data:
        from_table(data[1:], "text/csv", list(CALCULATORS.values())[data[0] % len(CALCULATORS)], {})


READERS: dict[str, Callable[[bytes], None]] = {
    "quantity": read_quantity,
    "query": read_query,
    "body": read_body,
    "batch": read_batch,
    "table": read_table,
}


def seeds(reader: str) -> Iterable[bytes]:
    """What to begin with."""
    if reader == "quantity":
        for at, kind in enumerate(KINDS):
            yield from (bytes([at]) + f"2.5 {unit}".encode() for unit in kind.scales)
        return
    for at, calculator in enumerate(CALCULATORS.values()):
        for example in calculator.examples:
            body = json.dumps(example)
            flat = {name: value for name, value in example.items() if isinstance(value, str | int | float)}
            yield (
                bytes([at])
                + {
                    "query": urlencode(flat),
                    "body": body,
                    "batch": f'{{"questions": [{body}], "common": {{}}}}',
                    "table": ",".join(flat) + "\n" + ",".join(map(str, flat.values())) + "\n",
                }[reader].encode()
            )


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    reader.add_argument("reader", choices=READERS)
    reader.add_argument("--runs", type=int, default=1_000_000)
    reader.add_argument("--corpus", type=Path)
    told = reader.parse_args()
    read = READERS[told.reader]
    with contextlib.suppress(Unreadable):
        quantity("1 mV*A", KINDS[0])  # the first unit that the table lacks loads pint

    def once(data: bytes) -> None:
        with contextlib.suppress(Refusal, Problem, Unreadable):
            read(data)

    with tempfile.TemporaryDirectory() as made:
        begun = Path(made)
        for number, seed in enumerate(seeds(told.reader)):
            (begun / str(number)).write_bytes(seed)
        folders = [str(told.corpus)] if told.corpus else []
        limits = [f"-runs={told.runs}", f"-timeout={LONGEST}", "-max_len=4096", "-rss_limit_mb=1024"]
        atheris.Setup([sys.argv[0], *limits, *folders, str(begun)], once)
        atheris.Fuzz()


if __name__ == "__main__":
    main()

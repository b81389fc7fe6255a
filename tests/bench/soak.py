"""A soak of the server by mixed traffic: answers, refusals, pictures, batches, half-sent and broken requests.

    python tests/bench/soak.py [--seconds 3600] [--workers 2] [--callers 6] [--pause 0]

It prints a line as time goes by, then what was replied, what a worker holds more than at rest, and how that grew since
the end of the first fifth, when every worker has answered every kind. Its exit status is 1 where a reply was a fault of
the service or none came, where a worker holds more than ``--above`` megabytes above rest, or grew by more than
``--growth``. No worker is replaced for its age meanwhile, which would hide growth.
"""

import argparse
import json
import random
import sys
import threading
import time
from collections import Counter
from contextlib import suppress
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import requests
from contract.attacks import POST, connected, sent
from contract.serving import Running, within
from questions import many

from ampstead.calculators import registry

ABOVE = 35.0
"""MB that a worker may hold above rest: what is loaded by need, the document, drawing, and what it remembers."""
GROWTH = 6.0
"""MB by which a worker may grow after the first fifth; a picture's drawing alone needs some, and frees it late."""
WARM = 0.2
"""The part of the time after which growth counts."""
BROKEN = [POST + b"Content-Length: 500\r\n\r\n{", b"GARBAGE\r\n\r\n", b"\0"]
POOL = 40
"""Questions made beforehand for each calculator."""


class Traffic:
    """What callers send, and what became of it."""

    def __init__(self, server: Running, seed: int, pause: float) -> None:
        self.server = server
        self.pause = pause
        self.seed = seed
        self.pool = [
            (calculator, question) for calculator in registry().values() for question in many(calculator, POOL)
        ]
        self.tally: Counter[str] = Counter()
        self.wrong: list[str] = []
        self.over = threading.Event()

    def request(self, draw: random.Random) -> tuple[str, str, dict[str, Any]]:
        """Method, path and body of a question."""
        calculator, question = draw.choice(self.pool)
        path = f"/v1/{calculator.name}"
        kind = draw.random()
        if kind < 0.5:
            return "POST", path + draw.choice([".txt", ""]), {"json": question}
        if kind < 0.6:
            return "POST", path + draw.choice(calculator.forms or [".txt"]), {"json": question}
        if kind < 0.7:
            spoilt = {**question, draw.choice([*calculator.inputs, "colour"]): draw.choice(["", "1", "<b>", [1], None])}
            return "POST", path, {"json": spoilt}
        if kind < 0.75:
            return "POST", path + "/batch", {"json": {"questions": [question] * draw.randrange(1, 40)}}
        if kind < 0.85:
            flat = {name: value for name, value in question.items() if isinstance(value, str | int | float)}
            return "GET", f"{path}?{urlencode(flat)}", {}
        if kind < 0.9:
            return "GET", draw.choice(["/openapi.json", "/v1/", "/readyz", "/metrics", "/", "/version"]), {}
        return "GET", f"/v1/{quote(str(draw.getrandbits(40)))}", {}

    def call(self, number: int) -> None:
        """Ask until it is over."""
        draw = random.Random(self.seed * 1000 + number)
        with requests.Session() as session:
            while not self.over.wait(self.pause):
                if draw.random() < 0.02:
                    with suppress(OSError):
                        connection = connected(self.server.port)
                        sent(
                            connection, draw.choice([POST + b"Content-Length: 500\r\n\r\n{", b"GARBAGE\r\n\r\n", b"\0"])
                        )
                        connection.close()
                    self.tally["broken"] += 1
                    continue
                method, path, body = self.request(draw)
                try:
                    reply = session.request(method, self.server.base + path, timeout=30, **body)
                except requests.RequestException as fault:
                    self.tally["lost"] += 1
                    self.wrong.append(f"{method} {path}: {type(fault).__name__}")
                    continue
                self.tally[str(reply.status_code)] += 1
                if reply.status_code == 500 or reply.status_code not in (200, 302, 404, 413, 422, 503):
                    self.wrong.append(f"{method} {path[:200]} {json.dumps(body)[:500]}: {reply.status_code}")


def main() -> int:
    reader = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    reader.add_argument("--seconds", type=float, default=60.0)
    reader.add_argument("--workers", type=int, default=2)
    reader.add_argument("--callers", type=int, default=6)
    reader.add_argument("--pause", type=float, default=0.0, help="seconds between the requests of a caller")
    reader.add_argument("--above", type=float, default=ABOVE)
    reader.add_argument("--growth", type=float, default=GROWTH)
    reader.add_argument("--seed", type=int, default=1)
    told = reader.parse_args()
    server = Running("workers.RECYCLED = 1_000_000_000", workers=told.workers)
    try:
        within(20, lambda: len(server.workers()) == told.workers)
        time.sleep(1.0)
        rest = server.memory() / 2**20 / told.workers
        traffic = Traffic(server, told.seed, told.pause)
        callers = [threading.Thread(target=traffic.call, args=(number,)) for number in range(told.callers)]
        begun, first = time.monotonic(), 0.0
        for caller in callers:
            caller.start()
        step = max(1.0, told.seconds / 20)
        while (passed := time.monotonic() - begun) < told.seconds:
            time.sleep(step)
            held = server.memory() / 2**20 / told.workers
            if not first and passed + step >= WARM * told.seconds:
                first = held
            print(
                f"{passed + step:6.0f} s {sum(traffic.tally.values()):8} requests {held:6.1f} MB a worker", flush=True
            )
        traffic.over.set()
        for caller in callers:
            caller.join(40)
        held = server.memory() / 2**20 / told.workers
        grown = held - first
        print(dict(sorted(traffic.tally.items())))
        print(
            f"{held - rest:.1f} MB a worker above the {rest:.1f} at rest, {grown:.1f} of them since {WARM:.0%} of the"
            f" time; {server.worked():.0f} s of processor time"
        )
        for line in traffic.wrong[:10]:
            print(line)
        return int(bool(traffic.wrong) or held - rest > told.above or grown > told.growth)
    finally:
        server.killed()


if __name__ == "__main__":
    sys.exit(main())

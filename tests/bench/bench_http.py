"""How long a question takes in process, in CPU time, as a ratio to a bare Flask view asked in the same run.

Questions are all different, so that nothing is answered from memory. ``python tests/bench/bench_http.py`` prints the
table that DEVELOPERS.md shows; times by themselves depend on the machine and are never asserted.
"""

import gc
import io
import json
import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from typing import Any
from urllib.parse import urlencode

from flask import Flask, jsonify

from ampstead.app import create_app
from ampstead.calculators import registry
from ampstead.replying.batch import batch
from ampstead.replying.forms import FORMS, reply

ROUNDS, EACH = 15, 40
Application = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]


def environ(path: str, query: str = "", body: bytes | None = None) -> dict[str, Any]:
    made: dict[str, Any] = {
        "REQUEST_METHOD": "GET" if body is None else "POST",
        "SCRIPT_NAME": "",
        "PATH_INFO": path,
        "QUERY_STRING": query,
        "RAW_URI": f"{path}?{query}",
        "SERVER_NAME": "127.0.0.1",
        "SERVER_PORT": "8080",
        "SERVER_PROTOCOL": "HTTP/1.1",
        "REMOTE_ADDR": "127.0.0.1",
        "HTTP_HOST": "127.0.0.1:8080",
        "HTTP_USER_AGENT": "bench",
        "HTTP_ACCEPT": "*/*",
        "wsgi.version": (1, 0),
        "wsgi.url_scheme": "http",
        "wsgi.input": io.BytesIO(body or b""),
        "wsgi.errors": sys.stderr,
        "wsgi.multithread": True,
        "wsgi.multiprocess": False,
        "wsgi.run_once": False,
    }
    if body is not None:
        made |= {"CONTENT_TYPE": "application/json", "CONTENT_LENGTH": str(len(body))}
    return made


def bare() -> Application:
    app = Flask("bare")
    app.add_url_rule("/bare", view_func=lambda: jsonify(status="ok"))
    return app.wsgi_app


def packs() -> Iterator[dict[str, Any]]:
    """Questions without end, no two alike."""
    place = 0
    while True:
        place += 1
        yield {"cells": 2 + place % 5, "capacity": f"{1150 + 0.37 * place:.2f} mAh"}


def wattage(pack: dict[str, Any]) -> dict[str, Any]:
    return {**pack, "rate": 1, "available_power": "60 W"}


def gauge(pack: dict[str, Any]) -> dict[str, Any]:
    return {"gauge": "12 AWG", "length": "0.6 m", "current": f"{pack['capacity'][:-4]}e-2 A"}


def cells(pack: dict[str, Any]) -> dict[str, Any]:
    size = float(pack["capacity"][:-4]) % 1
    return {"cell_voltages": f"{3.86 + size / 100:.5f},3.91,3.87 V", "capacity": pack["capacity"]}


def charge(pack: dict[str, Any]) -> dict[str, Any]:
    return {**pack, "charger_current_limit": "5 A", "supply_limit": "180 W"}


CASES: tuple[tuple[str, str, bool, Callable[[dict[str, Any]], dict[str, Any]]], ...] = (
    ("GET wattage", "/v1/wattage", False, wattage),
    ("POST wattage", "/v1/wattage", True, wattage),
    ("GET lead-loss", "/v1/lead-loss", False, gauge),
    ("GET balance-need", "/v1/balance-need", False, cells),
    ("GET charge-current", "/v1/charge-current", False, charge),
    ("GET charge-current.csv", "/v1/charge-current.csv", False, charge),
    ("GET charge-current.svg", "/v1/charge-current.svg", False, charge),
    ("page of charge-current", "/charge-current", False, charge),
    ("page of charge-current, not asked", "/charge-current", False, lambda pack: {}),
    ("page of wattage", "/wattage", False, wattage),
    ("GET wattage, refused", "/v1/wattage", False, lambda pack: {**wattage(pack), "rate": "much"}),
)


def taken(app: Application, requests: list[dict[str, Any]]) -> float:
    """CPU time of one of these requests, in microseconds."""
    begun = time.process_time()
    for request in requests:
        for _ in app(request, lambda status, headers, fault=None: None):
            pass
    return (time.process_time() - begun) / len(requests) * 1e6


def ratios() -> None:
    app = create_app()
    short, full = app.wsgi_app, app.extensions["full_way"]
    plain, source = bare(), packs()
    gc.disable()
    floor: list[float] = []
    times: dict[tuple[str, bool], list[float]] = {}
    for round_ in range(ROUNDS + 1):
        for name, path, post, made in CASES:
            for way in (short, full):
                # As many, right before, so that the machine's pace and its caches are the same for both.
                base = taken(plain, [environ("/bare") for _ in range(EACH)])
                asked = [made(next(source)) for _ in range(EACH)]
                sent = [
                    environ(path, body=json.dumps(each).encode()) if post else environ(path, urlencode(each))
                    for each in asked
                ]
                spent = taken(way, sent)
                if round_:  # the first warms up
                    times.setdefault((name, way is short), []).append(spent / base)
                    floor.append(base)
        gc.collect()
    print(f"a bare Flask view: {statistics.median(floor):.0f} µs\n")
    print("| question | × bare | without the short way |\n| --- | --- | --- |")
    for name, *_ in CASES:
        both = [f"{statistics.median(times[name, way]):.2f}" for way in (True, False)]
        print(f"| {name} | {both[0]} | {both[1]} |")


def firsts() -> None:
    """The first request of each calculator, in a process of its own."""
    create_app()
    slowest = []
    for calculator in registry().values():
        body = json.dumps(calculator.examples[-1]).encode()
        begun = time.process_time()
        reply(calculator, FORMS[""], "POST", "", body, "application/json")
        slowest.append(((time.process_time() - begun) * 1e3, calculator.name))
    slowest.sort(reverse=True)
    print("\nslowest first requests: " + ", ".join(f"{name} {ms:.1f} ms" for ms, name in slowest[:3]))


def batches() -> None:
    """Many at once: from bytes to bytes."""
    print("\n| many at once | ms | MB of reply |\n| --- | --- | --- |")
    source = packs()
    many = [wattage(next(source)) for _ in range(10_000)]
    heads = ",".join(many[0])
    table = "\n".join([heads, *(",".join(map(str, question.values())) for question in many)])
    charges = [{**next(source), "cells": 3, "state_of_charge": 0.2 + place / 2000} for place in range(1_000)]
    for name, calculator, body, kind in (
        ("10,000 wattage, JSON", "wattage", json.dumps({"questions": many}), "application/json"),
        ("10,000 wattage, table", "wattage", table, "text/csv"),
        ("1,000 charges, JSON", "charge-current", json.dumps({"questions": charges}), "application/json"),
    ):
        sent, spent = body.encode(), []
        for _ in range(7):
            begun = time.process_time()
            made = batch(registry()[calculator], "", sent, kind)
            spent.append((time.process_time() - begun) * 1e3)
        print(f"| {name} | {statistics.median(spent):.0f} | {len(made.body) / 1e6:.1f} |")


MEMORY = """
import json
from ampstead.calculators import registry
from ampstead.replying.batch import batch
from ampstead.replying.answers import teller
calculator = registry()["wattage"]
sizes = [f"{1150 + n * 0.37:.2f} mAh" for n in range(10_000)]
asked = [{"cells": 2 + n % 5, "capacity": size, "available_power": "60 W"} for n, size in enumerate(sizes)]
body = json.dumps({"questions": asked}).encode()
del asked, sizes
batch(calculator, "", json.dumps({"questions": [calculator.examples[0]] * 20}).encode(), "application/json")
def highest():
    return next(int(line.split()[1]) for line in open("/proc/self/status") if line.startswith("VmHWM")) / 1024
rest = highest()
batch(calculator, "", body, "application/json")
print(f"10,000 rows take {highest() - rest:.0f} MB above rest")
"""


START = """
import time
from ampstead.app import create_app
client = create_app().test_client()
assert client.get("/v1/wattage?cells=3&capacity=2250mAh").status_code == 200
most = next(int(line.split()[1]) for line in open("/proc/self/status") if line.startswith("VmHWM"))
print(f"start to first answer {time.process_time():.2f} s, {most / 1024:.0f} MB")
"""


if __name__ == "__main__":
    ratios()
    firsts()
    batches()
    subprocess.run([sys.executable, "-c", MEMORY], check=True)
    # As installed: compiled once, so that the first start is not counted.
    compiled = {**os.environ, "PYTHONDONTWRITEBYTECODE": ""}
    for _ in range(2):
        started = subprocess.run(
            [sys.executable, "-c", START], check=True, env=compiled, capture_output=True, text=True
        )
    print(started.stdout.strip())

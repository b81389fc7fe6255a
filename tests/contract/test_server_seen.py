"""What an operator sees of the production server: its log, the ids of requests, its counts, and whether it is ready."""

import json
import socket
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import requests
from contract.serving import WITH_BAD_QUESTIONS, Running, within
from flask import Flask
from flask.testing import FlaskClient
from prometheus_client.parser import text_string_to_metric_families

from ampstead import app as application
from ampstead.app import create_app

WATTAGE = "/v1/wattage?cells=3&capacity=1150mAh"
BARE = WATTAGE.partition("?")[0]


class Seen:
    """A server and what it has written so far."""

    def __init__(self, log: Path, **environment: str) -> None:
        self.log = log
        self.server = Running(workers=2, log=log, script=WITH_BAD_QUESTIONS, environment=environment)

    def lines(self) -> list[dict[str, Any]]:
        return [json.loads(line) for line in self.log.read_text(encoding="ascii").splitlines()]

    def line(self, id: str) -> dict[str, Any]:
        """The one line of a request."""
        assert within(10, lambda: any(line.get("request_id") == id for line in self.lines()))
        (line,) = [line for line in self.lines() if line.get("request_id") == id and line["of"] == "access"]
        return line

    def samples(self) -> dict[tuple[str, ...], float]:
        """Every sample by its name and the values of its labels."""
        reply = requests.get(self.server.base + "/metrics", timeout=10)
        assert reply.status_code == 200
        assert reply.headers["Content-Type"].startswith("text/plain; version=")
        return {
            (sample.name, *sample.labels.values()): sample.value
            for family in text_string_to_metric_families(reply.text)
            for sample in family.samples
        }


@pytest.fixture(scope="module")
def seen(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Seen]:
    watched = Seen(tmp_path_factory.mktemp("log") / "log")
    yield watched
    assert watched.server.stopped() == 0


def test_a_requests_id_comes_back_and_finds_its_line_in_the_log(seen: Seen) -> None:
    reply = requests.get(seen.server.base + WATTAGE, headers={"X-Request-ID": "meadow-club/7"}, timeout=10)
    assert reply.headers["X-Request-ID"] == "meadow-club/7"
    line = seen.line("meadow-club/7")
    assert (line["method"], line["path"], line["status"]) == ("GET", BARE, 200)
    assert (line["client"], line["bytes"]) == ("127.0.0.1", int(reply.headers["Content-Length"]))
    assert 0 < line["ms"] < 10_000


def test_a_request_without_an_id_gets_one_of_its_own(seen: Seen) -> None:
    ids = [requests.get(seen.server.base + BARE, timeout=10).headers["X-Request-ID"] for _ in range(20)]
    assert len(set(ids)) == 20
    assert seen.line(ids[-1])["status"] == 422


@pytest.mark.parametrize("id", ['a"b', "a b", "é", "a" * 65, "{}", "\x1b[31m", "<script>"])
def test_an_id_that_is_not_plain_is_replaced(id: str, seen: Seen) -> None:
    sent = f"GET /healthz HTTP/1.0\r\nX-Request-ID: {id}\r\n\r\n".encode("latin-1")
    head = seen.server.raw(sent).partition(b"\r\n\r\n")[0]
    if not head.startswith(b"HTTP/1.1 400"):
        assert head.startswith(b"HTTP/1.1 200")
        assert id.encode("latin-1") not in head
    assert b"\r\nx-request-id: " in head


def test_refusals_of_every_kind_carry_an_id(seen: Seen) -> None:
    for sent in (
        b"GARBAGE\r\n\r\n",
        b"GET /" + b"a" * 20_000 + b" HTTP/1.1\r\nHost: a\r\n\r\n",
        b"GET /nothing HTTP/1.0\r\n\r\n",
        b"DELETE /v1/sag HTTP/1.0\r\n\r\n",
    ):
        assert b"\r\nx-request-id: " in seen.server.raw(sent).partition(b"\r\n\r\n")[0]


def test_the_log_keeps_no_query_unless_asked(seen: Seen, tmp_path: Path) -> None:
    requests.get(seen.server.base + WATTAGE, headers={"X-Request-ID": "quiet"}, timeout=10)
    seen.line("quiet")
    assert "1150" not in seen.log.read_text(encoding="ascii")
    asked = Seen(tmp_path / "asked", AMPSTEAD_ACCESS_LOG="queries")
    off = Seen(tmp_path / "off", AMPSTEAD_ACCESS_LOG="off")
    try:
        for one in (asked, off):
            requests.get(one.server.base + WATTAGE, headers={"X-Request-ID": "told"}, timeout=10)
        assert asked.line("told")["query"] == "cells=3&capacity=1150mAh"
    finally:
        assert asked.server.stopped() == off.server.stopped() == 0
    assert off.lines() == []


def test_nothing_a_stranger_sends_breaks_a_line_or_reaches_a_terminal(seen: Seen) -> None:
    strange = bytes(range(256)) + "\N{LINE SEPARATOR}\N{RIGHT-TO-LEFT OVERRIDE}\x9b31m".encode()
    for byte in strange:
        seen.server.raw(b'GET /strange"\\%c%%0a%%1b[31m?%c HTTP/1.0\r\nX-Request-ID: %c\r\n\r\n' % (byte, byte, byte))
    requests.get(seen.server.base + BARE, headers={"X-Request-ID": "after-the-strange"}, timeout=10)
    seen.line("after-the-strange")
    assert any("/strange" in line.get("path", "") for line in seen.lines())
    assert set(seen.log.read_bytes()) <= {*range(0x20, 0x7F), 0x0A}


def test_a_log_that_nobody_reads_stops_nothing() -> None:
    """The other end of the server's error output stays unread, and full."""
    mine, theirs = socket.socketpair()
    theirs.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, 1)
    server = Running(workers=1, log=theirs)
    try:
        with requests.Session() as session:
            begun = time.monotonic()
            for _ in range(400):
                assert session.get(server.base + "/v1/nothing" + "a" * 190, timeout=10).status_code == 404
            assert time.monotonic() - begun < 60
    finally:
        status = server.stopped()
        mine.close()
        theirs.close()
    assert status == 0


def test_the_counts_of_all_workers_are_added_up_and_outlive_them(seen: Seen) -> None:
    path = "/v1/lead-loss.txt"
    for _ in range(30):
        requests.get(seen.server.base + path, headers={"Connection": "close"}, timeout=10)
    assert seen.samples()["ampstead_requests_total", path, "422"] == 30
    for _ in range(2):
        with pytest.raises(requests.ConnectionError):
            requests.get(seen.server.base + "/dead", timeout=10)
    # Whoever died second may be another one, or the one that took the place of the first.
    assert within(
        10, lambda: seen.samples()["ampstead_workers_started_total",] == 4 and len(seen.server.workers()) == 2
    )
    samples = seen.samples()
    assert samples["ampstead_requests_total", path, "422"] == 30
    assert samples["ampstead_request_seconds_count", path] == 30
    assert samples["ampstead_request_seconds_bucket", path, "+Inf"] == 30
    assert 0 < samples["ampstead_request_seconds_sum", path] < 30
    assert samples["ampstead_workers",] == 2
    assert samples["ampstead_requests_in_hand",] == 1  # the one for the counts
    assert all(samples["ampstead_worker_memory_bytes", worker] > 1e7 for worker in "01")


def test_strangers_make_no_labels_and_refusals_are_counted(seen: Seen) -> None:
    before = seen.samples()
    for number in range(20):
        requests.get(f"{seen.server.base}/made-up-{number}", timeout=10)
    seen.server.raw(b"GARBAGE\r\n\r\n")
    after = seen.samples()
    assert not any("made-up" in label for name in after for label in name)
    assert (
        after["ampstead_requests_total", "other", "404"] - before.get(("ampstead_requests_total", "other", "404"), 0)
        == 20
    )
    assert after["ampstead_requests_total", "other", "400"] > before.get(("ampstead_requests_total", "other", "400"), 0)


def test_it_is_ready_where_it_answers_right(http: FlaskClient, monkeypatch: pytest.MonkeyPatch) -> None:
    reply = http.get("/readyz")
    assert (reply.status_code, reply.json) == (200, {"status": "ready"})
    monkeypatch.setattr(application, "KNOWN_ANSWER", 24.974)
    reply = http.get("/readyz")
    assert (reply.status_code, reply.mimetype) == (503, "application/problem+json")


def test_it_is_not_ready_where_its_calculator_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    broken = create_app()

    def failing(*_: object) -> None:
        raise ArithmeticError

    monkeypatch.setattr(application, "teller", failing)
    assert broken.test_client().get("/readyz").status_code == 503


def test_a_process_of_its_own_has_counts_too(app: Flask) -> None:
    reply = app.test_client().get("/metrics", headers={"Accept": "application/openmetrics-text"})
    assert reply.mimetype == "application/openmetrics-text"
    assert reply.text.endswith("# EOF\n")


def test_a_fault_is_noted_with_its_requests_id_and_a_trace_in_one_line(seen: Seen) -> None:
    reply = requests.get(seen.server.base + "/broken", headers={"X-Request-ID": "broken-one"}, timeout=10)
    assert reply.status_code == 500
    assert "Traceback" not in reply.text
    assert within(10, lambda: any("exc_info" in line for line in seen.lines()))
    (fault,) = [line for line in seen.lines() if "exc_info" in line]
    assert fault["request_id"] == "broken-one"
    assert "made to fail" in fault["exc_info"]

"""The production server as a process on the loopback address."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator

import pytest
import requests

WATTAGE = "/v1/wattage.txt?cells=3&capacity=2250mAh&available_power=25W"


class Running:
    """A server process and the address it printed."""

    def __init__(self, *, slowest: float = 20.0) -> None:
        # The limit on slow requests is shortened from outside; everything else is the command as installed.
        start = (
            f"import sys, ampstead.server as s; s.SLOWEST_REQUEST = {slowest}; "
            "from ampstead.cli import main; sys.exit(main(['serve', '--port', '0']))"
        )
        environment = {**os.environ, "HOST": "127.0.0.1"}
        self.process = subprocess.Popen(
            [sys.executable, "-c", start], env=environment, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )
        assert self.process.stdout is not None
        self.greeting = [self.process.stdout.readline().strip() for _ in range(4)]
        self.base = self.greeting[1].partition("/v1/")[0]
        self.port = int(self.base.rpartition(":")[2])

    def stopped(self) -> int:
        self.process.send_signal(signal.SIGTERM)
        try:
            return self.process.wait(10)
        finally:
            self.process.kill()
            if self.process.stdout is not None:
                self.process.stdout.close()

    def raw(self, sent: bytes) -> bytes:
        with socket.create_connection(("127.0.0.1", self.port), timeout=10) as connection:
            connection.sendall(sent)
            return received(connection)


def received(connection: socket.socket) -> bytes:
    """All that comes until the server closes the connection."""
    answer = b""
    while part := connection.recv(4096):
        answer += part
    return answer


@pytest.fixture(scope="module")
def running() -> Iterator[Running]:
    server = Running(slowest=1.0)
    yield server
    server.stopped()


def test_it_prints_three_addresses_and_each_of_them_answers(running: Running) -> None:
    addresses = running.greeting[1:]
    assert len(set(addresses)) == 3
    for address in addresses:
        assert requests.get(address, timeout=5).status_code == 200


def test_a_phone_gets_the_sentence_and_the_gravest_caution(running: Running) -> None:
    reply = requests.get(running.base + WATTAGE, timeout=5)
    assert reply.headers["Content-Type"] == "text/plain; charset=utf-8"
    assert reply.text.strip().endswith("40 will do. Never leave a charging pack alone.")


@pytest.mark.parametrize(
    ("size", "content_type"),
    [(100_000, "application/json"), (10_000_000, "application/json"), (10_000_000, "text/csv")],
)
def test_a_body_too_large_is_a_problem_document(running: Running, size: int, content_type: str) -> None:
    reply = requests.post(running.base + "/v1/sag", data=b"x" * size, headers={"Content-Type": content_type}, timeout=5)
    assert (reply.status_code, reply.json()["status"]) == (413, 413)
    assert reply.headers["Content-Type"] == "application/problem+json"


@pytest.mark.parametrize(
    ("path", "headers", "status"),
    [
        ("/v1/sag?x=" + "a" * 20_000, {}, 414),
        ("/v1/sag?x=" + "a" * 200_000, {}, 414),
        ("/v1/sag", {"X-Long": "a" * 40_000}, 431),
        ("/v1/sag", {"X-Long": "a" * 400_000}, 431),
    ],
)
def test_addresses_and_headers_too_long_are_problem_documents(
    running: Running, path: str, headers: dict[str, str], status: int
) -> None:
    reply = requests.get(running.base + path, headers=headers, timeout=5)
    assert (reply.status_code, reply.json()["status"]) == (status, status)


@pytest.mark.parametrize(
    "sent",
    [
        b"POST /v1/sag HTTP/1.1\r\nHost: a\r\nContent-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
        b"POST /v1/sag HTTP/1.1\r\nHost: a\r\nContent-Length: -1\r\n\r\n",
        b"GARBAGE\r\n\r\n",
    ],
)
def test_what_is_not_http_is_refused_as_a_problem_document(running: Running, sent: bytes) -> None:
    head, _, body = running.raw(sent).partition(b"\r\n\r\n")
    assert b" 400 " in head.splitlines()[0]
    assert json.loads(body)["status"] == 400


def test_half_sent_requests_neither_freeze_the_server_nor_live_on(running: Running) -> None:
    half = b"POST /v1/sag HTTP/1.1\r\nHost: a\r\nContent-Type: application/json\r\nContent-Length: 500\r\n\r\n{"
    connections = [socket.create_connection(("127.0.0.1", running.port), timeout=10) for _ in range(128)]
    try:
        for connection in connections:
            connection.sendall(half)
        assert requests.get(running.base + "/healthz", timeout=2).status_code == 200
        answer = received(connections[0])
        assert answer.startswith(b"HTTP/1.1 408 ")
        assert json.loads(answer.partition(b"\r\n\r\n")[2])["status"] == 408
    finally:
        for connection in connections:
            connection.close()


def test_a_request_that_drips_in_is_ended_all_the_same(running: Running) -> None:
    with socket.create_connection(("127.0.0.1", running.port), timeout=1) as connection:
        connection.sendall(b"POST /v1/sag HTTP/1.1\r\nHost: a\r\nContent-Length: 500\r\n\r\n")
        answer = b""
        for _ in range(60):
            connection.sendall(b" ")
            connection.settimeout(0.2)
            try:
                answer = connection.recv(4096)
            except TimeoutError:
                continue
            break
    assert answer.startswith(b"HTTP/1.1 408 ")


def test_it_stops_cleanly_when_told_to() -> None:
    server = Running()
    assert requests.get(server.base + "/healthz", timeout=5).status_code == 200
    begun = time.monotonic()
    assert server.stopped() == 0
    assert time.monotonic() - begun < 8

"""The production server as a process on the loopback address: what it answers, refuses, starts with and survives."""

import http.client
import json
import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import requests
from contract.serving import WITH_BAD_QUESTIONS, Running, hurried, received, within

from ampstead.server.crew import BATCH, LINES, QUICK

WATTAGE = "/v1/wattage.txt?cells=3&capacity=2250mAh&available_power=25W"
ASKING = b"POST /v1/wattage HTTP/1.1\r\nHost: a\r\nContent-Type: application/json\r\n"
OF_THE_SERVER = {"date", "x-request-id", "content-security-policy", "referrer-policy", "permissions-policy"}
QUESTION = b'{"cells": 3, "capacity": "1150 mAh"}'


@pytest.fixture(scope="module")
def running() -> Iterator[Running]:
    server = Running("wire.SLOWEST_REQUEST = 1.0")
    yield server
    begun = time.monotonic()
    assert server.stopped() == 0
    assert time.monotonic() - begun < 4


def parts(answer: bytes) -> tuple[int, bytes, bytes]:
    """Status, headers and body of a reply."""
    head, _, body = answer.partition(b"\r\n\r\n")
    return int(head.split(None, 2)[1]), head.lower(), body


def problem(answer: bytes) -> dict[str, Any]:
    status, head, body = parts(answer)
    assert b"content-type: application/problem+json" in head
    document: dict[str, Any] = json.loads(body)
    assert document["status"] == status
    return document


def test_it_prints_three_addresses_the_page_among_them_and_each_of_them_answers(running: Running) -> None:
    addresses = [line.partition(" ")[0] for line in running.greeting[1:]]
    assert len(set(addresses)) == 3
    for address in addresses:
        assert requests.get(address, timeout=5).status_code == 200


def test_a_phone_gets_the_sentence_and_the_gravest_caution(running: Running) -> None:
    reply = requests.get(running.base + WATTAGE, timeout=5)
    assert reply.headers["Content-Type"] == "text/plain; charset=utf-8"
    assert reply.text.strip().endswith("40 will do. Never leave a charging pack alone.")


@pytest.mark.parametrize("path", ["/v1/wattage?cells=3&capacity=1150%20mAh", "/v1/sag", "/v1/nothing", "/openapi.json"])
def test_it_answers_as_the_application_in_process_does(running: Running, path: str) -> None:
    from ampstead.app import create_app

    here = create_app().test_client().get(path)
    there = requests.get(running.base + path, headers={"Accept-Encoding": "identity"}, timeout=15)
    assert (there.status_code, there.content) == (here.status_code, here.data)
    kept = {name: value for name, value in there.headers.items() if name not in OF_THE_SERVER}
    assert {name.lower(): value for name, value in kept.items()} == {n.lower(): v for n, v in here.headers}


def test_a_body_may_come_in_chunks(running: Running) -> None:
    chunks = b"Transfer-Encoding: chunked\r\nConnection: close\r\n\r\n%x\r\n%s\r\n0\r\n\r\n" % (len(QUESTION), QUESTION)
    status, _, body = parts(running.raw(ASKING + chunks))
    assert (status, json.loads(body)["calculator"]) == (200, "wattage")


def test_questions_sent_at_once_are_answered_in_their_order_and_a_refusal_comes_last(running: Running) -> None:
    paths = [f"/v1/wattage?cells={cells}&capacity=1150mAh" for cells in (2, 3, 4)]
    sent = b"".join(f"GET {path} HTTP/1.1\r\nHost: a\r\n\r\n".encode() for path in paths)
    answer = running.raw(sent + b"GARBAGE\r\n\r\n")
    said = answer.split(b"HTTP/1.1 ")[1:]
    assert [int(each[:3]) for each in said] == [200, 200, 200, 400]
    assert [json.loads(each.partition(b"\r\n\r\n")[2])["question"]["cells"] for each in said[:3]] == [2, 3, 4]


def test_questions_sent_at_once_without_end_are_answered_as_far_as_they_may_wait(running: Running) -> None:
    answer = running.raw(b"GET /v1/wattage?cells=3&capacity=1150mAh HTTP/1.1\r\nHost: a\r\n\r\n" * 500)
    statuses = [int(each[:3]) for each in answer.split(b"HTTP/1.1 ")[1:]]
    assert len(statuses) > 30
    assert statuses == [200] * (len(statuses) - 1) + [503]


@pytest.mark.parametrize("version", [b"1.0", b"1.1"])
def test_a_wish_for_another_protocol_is_passed_over(version: bytes, running: Running) -> None:
    asked = b"GET /healthz HTTP/%s\r\nHost: a\r\nConnection: Upgrade\r\nUpgrade: websocket\r\n\r\n" % version
    with socket.create_connection(("127.0.0.1", running.port), timeout=5) as connection:
        connection.sendall(asked)
        assert connection.recv(4096).startswith(b"HTTP/1.1 200 ")


@pytest.mark.parametrize(
    ("size", "content_type"),
    [(100_000, "application/json"), (10_000_000, "application/json"), (10_000_000, "text/csv")],
)
def test_a_body_too_large_is_a_problem_document(running: Running, size: int, content_type: str) -> None:
    reply = requests.post(running.base + "/v1/sag", data=b"x" * size, headers={"Content-Type": content_type}, timeout=5)
    assert (reply.status_code, reply.json()["status"]) == (413, 413)
    assert reply.headers["Content-Type"] == "application/problem+json"


@pytest.mark.parametrize("path", ["/v1/sag", "/v1/sag/batch"])
@pytest.mark.parametrize("chunked", [False, True])
def test_many_questions_at_once_may_take_more_and_not_without_end(running: Running, path: str, chunked: bool) -> None:
    many = path.endswith("/batch")
    for size in (60_000, 70_000, 8_000_000, 9_000_000):
        body = b"x" * size
        data = (body[begin : begin + 60_000] for begin in range(0, size, 60_000)) if chunked else body
        reply = requests.post(running.base + path, data=data, timeout=10)
        assert (reply.status_code == 413) == (size > (8 * 1024 * 1024 if many else 64 * 1024)), size


@pytest.mark.parametrize(
    ("path", "headers", "status"),
    [
        ("/v1/sag?x=" + "a" * 20_000, {}, 414),
        ("/v1/sag?x=" + "a" * 200_000, {}, 414),
        ("/v1/sag", {"X-Long": "a" * 40_000}, 431),
        ("/v1/sag", {"X-Long": "a" * 400_000}, 431),
        ("/v1/sag", {f"X-{number}": "a" for number in range(200)}, 431),
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
        ASKING + b"Content-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
        ASKING + b"Content-Length: -1\r\n\r\n",
        ASKING + b"Content-Length: " + b"9" * 5000 + b"\r\n\r\n{}",
        ASKING + b"Content-Length: 5\r\nContent-Length: 6\r\n\r\n{}    ",
        ASKING + b"Transfer-Encoding: xchunked\r\n\r\n0\r\n\r\n",
        ASKING + b"Transfer-Encoding: chunked\r\n\r\nxyz\r\n",
        b"GET http://[/v1/sag HTTP/1.1\r\nHost: a\r\n\r\n",
        b"GET /v1/sag\xff HTTP/1.1\r\nHost: a\r\n\r\n",
        b"GET /v1/sag HTTP/1.1\r\n\r\n",
        b"GET /v1/sag HTTP/1.1\r\nHost: a\r\nX-A:" + b" " * 200 + b"\0\r\n\r\n",
        b"GARBAGE\r\n\r\n",
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",
    ],
)
def test_what_is_not_http_is_refused_as_a_problem_document(running: Running, sent: bytes) -> None:
    assert problem(running.raw(sent))["status"] == 400


def test_a_phone_hears_a_refusal_as_a_sentence(running: Running) -> None:
    status, head, body = parts(running.raw(b"POST /v1/sag.txt HTTP/1.1\r\nHost: a\r\nContent-Length: 99999\r\n\r\n"))
    assert (status, body) == (413, b"The body is larger than 64 kilobytes.\n")
    assert b"content-type: text/plain; charset=utf-8" in head


def test_a_refusal_of_a_head_has_no_body(running: Running) -> None:
    status, _, body = parts(running.raw(b"HEAD /v1/sag?" + b"a" * 20_000 + b" HTTP/1.1\r\nHost: a\r\n\r\n"))
    assert (status, body) == (414, b"")


def test_a_body_announced_as_too_large_is_not_asked_for(running: Running) -> None:
    expecting = ASKING + b"Expect: 100-continue\r\nContent-Length: %d\r\n\r\n"
    begun = time.monotonic()
    assert problem(running.raw(expecting % 10_000_000))["status"] == 413
    assert time.monotonic() - begun < 1.5
    with socket.create_connection(("127.0.0.1", running.port), timeout=5) as connection:
        connection.sendall(expecting % len(QUESTION))
        assert connection.recv(4096) == b"HTTP/1.1 100 Continue\r\n\r\n"
        connection.sendall(QUESTION)
        assert connection.recv(4096).startswith(b"HTTP/1.1 200 ")


@pytest.mark.parametrize("half", [ASKING + b"Content-Length: 500\r\n\r\n{", ASKING + b"X-Half: "])
def test_half_sent_requests_neither_freeze_the_server_nor_live_on(running: Running, half: bytes) -> None:
    connections = [socket.create_connection(("127.0.0.1", running.port), timeout=10) for _ in range(128)]
    try:
        for connection in connections:
            connection.sendall(half)
        assert requests.get(running.base + "/healthz", timeout=2).status_code == 200
        assert problem(received(connections[0]))["status"] == 408
    finally:
        for connection in connections:
            connection.close()


def test_a_request_that_drips_in_is_ended_all_the_same(running: Running) -> None:
    with socket.create_connection(("127.0.0.1", running.port), timeout=1) as connection:
        connection.sendall(ASKING + b"Content-Length: 500\r\n\r\n")
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


def test_questions_in_hand_are_answered_before_it_stops() -> None:
    server = Running(hurried(1.2), script=WITH_BAD_QUESTIONS)
    replies: list[requests.Response] = []
    askers = [threading.Thread(target=lambda: replies.append(requests.get(server.base + "/slow"))) for _ in range(4)]
    half = socket.create_connection(("127.0.0.1", server.port), timeout=10)
    half.sendall(ASKING + b"Content-Length: 500\r\n\r\n{")
    for asker in askers:
        asker.start()
    time.sleep(0.5)
    assert server.stopped() == 0
    for asker in askers:
        asker.join(5)
    assert [(reply.status_code, reply.json()["status"]) for reply in replies] == [(503, 503)] * 4
    assert problem(received(half))["status"] == 503
    half.close()


def test_an_answer_that_takes_too_long_is_ended_with_its_work() -> None:
    server = Running(hurried(0.5), workers=1, script=WITH_BAD_QUESTIONS)
    try:
        begun = time.monotonic()
        reply = requests.get(server.base + "/slow", timeout=10)
        assert (reply.status_code, reply.json()["status"]) == (503, 503)
        assert int(reply.headers["Retry-After"]) >= 1
        assert 0.4 < time.monotonic() - begun < 2
        time.sleep(0.3)
        worked = server.worked()
        time.sleep(1)
        assert server.worked() - worked < 0.3
        for _ in range(40):
            assert requests.get(server.base + WATTAGE, timeout=5).status_code == 200
    finally:
        server.killed()


def test_the_document_tells_how_long_an_answer_may_take(running: Running) -> None:
    description = requests.get(running.base + "/openapi.json", timeout=15).json()["info"]["description"]
    told = re.search(r"takes (\d+) seconds at most, and (\d+) where many", " ".join(description.split()))
    assert told is not None
    assert [float(seconds) for seconds in told.groups()] == [LINES[line].longest for line in (QUICK, BATCH)]


def test_there_are_as_many_workers_as_asked_for_and_one_that_dies_is_replaced() -> None:
    server = Running(script=WITH_BAD_QUESTIONS, workers=3)
    try:
        assert within(3, lambda: len(server.workers()) == 3)
        before = set(server.workers())
        with pytest.raises(requests.ConnectionError):
            requests.get(server.base + "/dead", timeout=5)
        assert within(5, lambda: len(set(server.workers()) - before) == 1 and len(server.workers()) == 3)
        assert requests.get(server.base + WATTAGE, timeout=5).status_code == 200
    finally:
        assert server.stopped() == 0


def test_a_stuck_worker_is_replaced() -> None:
    server = Running("workers.STUCK = 2", workers=1)
    try:
        (before,) = server.workers()
        os.kill(before, signal.SIGSTOP)
        assert within(8, lambda: server.workers() not in ([before], []))
        assert requests.get(server.base + WATTAGE, timeout=5).status_code == 200
    finally:
        assert server.stopped() == 0


def test_workers_are_replaced_after_their_share_and_no_question_is_lost() -> None:
    server = Running("workers.RECYCLED = 20")
    try:
        before = set(server.workers())
        for _ in range(150):
            # A connection each: one that is kept may be closed at the moment that it is used again.
            assert requests.get(server.base + "/healthz", headers={"Connection": "close"}, timeout=5).status_code == 200
        assert within(5, lambda: not before & set(server.workers()) and len(server.workers()) == 2)
    finally:
        assert server.stopped() == 0


def test_a_hang_up_renews_the_workers_and_nothing_is_lost() -> None:
    server = Running()
    try:
        assert within(20, lambda: len(server.workers()) == 2)
        assert requests.get(server.base + WATTAGE, timeout=15).status_code == 200
        before = set(server.workers())
        server.process.send_signal(signal.SIGHUP)
        alone = {"Connection": "close"}
        while before & set(server.workers()):
            assert requests.get(server.base + WATTAGE, headers=alone, timeout=15).status_code == 200
        told = requests.get(server.base + "/metrics", timeout=15).text
        assert float(re.findall(r'^ampstead_requests_total{address="/v1/wattage.txt",.*} (.*)$', told, re.M)[0]) > 1
    finally:
        assert server.stopped() == 0


def test_workers_end_where_the_process_that_watches_them_is_killed() -> None:
    server = Running()
    workers = server.workers()
    server.killed()
    assert within(5, lambda: not any(Path(f"/proc/{pid}").exists() for pid in workers))


def started(**settings: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [Path(sys.executable).parent / "ampstead", "serve"],
        env={**os.environ, **settings},
        capture_output=True,
        text=True,
        timeout=20,
    )


@pytest.mark.parametrize(
    ("settings", "told"),
    [
        ({"PORT": "70000"}, ["PORT", "65535", "70000"]),
        ({"PORT": "abc"}, ["PORT", "65535", "abc"]),
        ({"PORT": "-1"}, ["PORT", "-1"]),
        ({"PORT": "8080.5"}, ["PORT", "8080.5"]),
        ({"HOST": "nowhere.invalid"}, ["HOST", "nowhere.invalid", "127.0.0.1"]),
        ({"HOST": "a" * 300}, ["HOST", "127.0.0.1"]),
        ({"HOST": "192.0.2.1"}, ["HOST", "192.0.2.1", "127.0.0.1"]),  # RFC 5737: nobody's address
        ({"AMPSTEAD_WORKERS": "many"}, ["AMPSTEAD_WORKERS", "many"]),
        ({"AMPSTEAD_WORKERS": "0"}, ["AMPSTEAD_WORKERS", "0"]),
    ],
)
def test_a_wrong_setting_is_told_in_one_sentence_with_its_cure(settings: dict[str, str], told: list[str]) -> None:
    ran = started(**{"PORT": "0", **settings})
    assert (ran.returncode, ran.stdout) == (2, "")
    assert ran.stderr.count("\n") == 1
    assert ran.stderr.endswith(".\n")
    for part in told:
        assert part in ran.stderr


def test_a_port_that_is_taken_is_told_with_another(running: Running) -> None:
    ran = started(PORT=str(running.port), HOST="127.0.0.1")
    assert ran.returncode == 2
    assert ran.stderr.count("\n") == 1
    assert f"Port {running.port} " in ran.stderr
    assert f"PORT={running.port + 1}" in ran.stderr


@pytest.mark.skipif(not Path("/proc/net/if_inet6").exists(), reason="this machine has no IPv6")
@pytest.mark.parametrize(
    ("host", "reached"), [("::1", ["::1"]), ("::", ["::1", "127.0.0.1"]), ("localhost", ["127.0.0.1"])]
)
def test_it_serves_on_other_kinds_of_address(host: str, reached: list[str]) -> None:
    process = subprocess.Popen(
        [Path(sys.executable).parent / "ampstead", "serve", "--port", "0"],
        env={**os.environ, "HOST": host},
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert process.stdout is not None
        first, address, *_ = [process.stdout.readline().strip() for _ in range(4)]
        assert requests.get(address, timeout=20).status_code == 200  # it waits for the start
        port = int(first.partition("port ")[2].partition(".")[0])
        for each in reached:
            connection = http.client.HTTPConnection(each, port, timeout=5)
            connection.request("GET", "/healthz")
            assert connection.getresponse().status == 200
            connection.close()
    finally:
        process.terminate()
        process.communicate(timeout=10)
    assert process.returncode == 0

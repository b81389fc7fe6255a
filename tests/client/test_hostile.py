"""Servers that mean harm, on loopback and for a second each: a typed error by the timeout, and little memory."""

from __future__ import annotations

import gc
import gzip
import json
import random
import socket
import threading
import time
import tracemalloc
from collections.abc import Callable, Iterator
from contextlib import suppress
from typing import Any

import pytest
import requests

from ampstead_client import AmpsteadClient, AmpsteadError, AnswerFault, TimedOut, Unreachable, Unreadable

TIMEOUT = 0.6  # s
SLACK = 1.0  # s, for a loaded machine
MEMORY = 6e6  # bytes
HEAD = b"HTTP/1.1 200 OK\r\nContent-Type: application/json\r\n"
CHUNKED = HEAD + b"Transfer-Encoding: chunked\r\n\r\n"

Misbehaviour = Callable[[socket.socket], None]


@pytest.fixture
def serving() -> Iterator[Callable[[Misbehaviour], str]]:
    """The address of a server that reads a request and then does as it is told."""
    over = threading.Event()
    listeners: list[socket.socket] = []
    threads: list[threading.Thread] = []

    def serve(misbehaviour: Misbehaviour) -> str:
        listener = socket.create_server(("127.0.0.1", 0))
        listeners.append(listener)
        listener.settimeout(0.1)

        def run() -> None:
            while not over.is_set():
                with suppress(TimeoutError, OSError):
                    connection, _ = listener.accept()
                    with connection, suppress(OSError):
                        connection.settimeout(3)
                        asked = b""
                        while not asked.endswith(b"}") and (piece := connection.recv(65536)):
                            asked += piece
                        misbehaviour(connection)

        threads.append(threading.Thread(target=run, daemon=True))
        threads[-1].start()
        return f"http://127.0.0.1:{listener.getsockname()[1]}"

    yield serve
    over.set()
    for thread in threads:
        thread.join(5)
    for listener in listeners:
        listener.close()


def sending(*pieces: bytes) -> Misbehaviour:
    return lambda connection: connection.sendall(b"".join(pieces))


def forever(head: bytes, piece: bytes, pause: float = 0.0) -> Misbehaviour:
    """The head, then one piece after another for a few seconds at most."""

    def misbehave(connection: socket.socket) -> None:
        connection.sendall(head)
        until = time.monotonic() + 4
        while time.monotonic() < until:
            connection.sendall(piece)
            time.sleep(pause)

    return misbehave


def sized(body: bytes, more: bytes = b"", status: bytes = b"200 OK") -> bytes:
    head = HEAD.replace(b"200 OK", status)
    return head + more + b"Content-Length: " + str(len(body)).encode() + b"\r\n\r\n" + body


BOMB = gzip.compress(b" " * 50_000_000)
ENDLESS: dict[str, tuple[Misbehaviour, type[AmpsteadError]]] = {
    "body without an end": (forever(HEAD + b"\r\n", b" " * 65536), Unreadable),
    "chunks without an end": (forever(CHUNKED, b"10000\r\n" + b" " * 65536 + b"\r\n"), Unreadable),
    "a hundred megabytes": (forever(HEAD + b"Content-Length: 100000000\r\n\r\n", b"[" * 65536), Unreadable),
    "a length of many digits": (forever(HEAD + b"Content-Length: " + b"9" * 5000 + b"\r\n\r\n", b" "), Unreadable),
    "zipped to a thousandth": (sending(sized(BOMB, b"Content-Encoding: gzip\r\n")), Unreadable),
    "a byte now and then": (forever(HEAD + b"Content-Length: 1000\r\n\r\n", b" ", 0.05), TimedOut),
    "a byte now and then, zipped": (
        forever(HEAD + b"Content-Encoding: gzip\r\n\r\n" + gzip.compress(b"{}")[:10], b"\0", 0.05),
        AmpsteadError,
    ),
    "a chunk's size, letter by letter": (forever(CHUNKED, b"0", 0.05), TimedOut),
    "trailers without an end": (forever(CHUNKED + b"0\r\n", b"x: y\r\n", 0.01), TimedOut),
    "a header, letter by letter": (forever(HEAD + b"X-Slow: ", b"x", 0.05), TimedOut),
    "a first line, letter by letter": (forever(b"HTTP/1.1 200 ", b"O", 0.05), TimedOut),
    "headers without an end": (forever(HEAD, b"x: y\r\n"), AmpsteadError),
    "a header without an end": (forever(HEAD + b"x: ", b"y" * 65536), AmpsteadError),
    "to continue, for ever": (forever(b"", b"HTTP/1.1 100 Continue\r\n\r\n", 0.01), TimedOut),
    "silence": (forever(b"", b"", 0.1), TimedOut),
    "a refusal without an end": (
        forever(HEAD.replace(b"200 OK", b"422 No") + b"\r\n", b" " * 65536),
        AnswerFault,
    ),
    "a redirect without an end": (
        forever(HEAD.replace(b"200 OK", b"302 Moved") + b"Location: http://elsewhere.example/\r\n\r\n", b" " * 65536),
        AnswerFault,
    ),
}


@pytest.mark.parametrize("name", ENDLESS)
def test_what_never_ends_is_ended_by_the_timeout_in_little_memory(
    name: str, serving: Callable[[Misbehaviour], str]
) -> None:
    misbehaviour, kind = ENDLESS[name]
    with AmpsteadClient(serving(misbehaviour), timeout=TIMEOUT, retries=1) as client:
        tracemalloc.start()
        began = time.monotonic()
        try:
            with pytest.raises(kind):
                client.wattage(cells=3, capacity="2250 mAh")
            took, peak = time.monotonic() - began, tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()
    assert took < TIMEOUT + SLACK
    assert peak < MEMORY


OWN = ("body without an end", "a hundred megabytes", "zipped to a thousandth", "a byte now and then", "silence")


@pytest.mark.parametrize("name", OWN)
def test_the_body_is_bounded_in_a_session_of_your_own_too(name: str, serving: Callable[[Misbehaviour], str]) -> None:
    misbehaviour, kind = ENDLESS[name]
    began = time.monotonic()
    with (
        requests.Session() as session,
        AmpsteadClient(serving(misbehaviour), timeout=TIMEOUT, session=session) as client,
        pytest.raises(kind),
    ):
        client.wattage(cells=3, capacity="2250 mAh")
    assert time.monotonic() - began < TIMEOUT + SLACK


NONSENSE: dict[str, tuple[bytes, type[AmpsteadError]]] = {
    "no HTTP": (b"SSH-2.0-something\r\n", Unreachable),
    "nothing": (b"", Unreachable),
    "noise": (bytes(range(256)) * 20, Unreachable),
    "a status of letters": (b"HTTP/1.1 OK\r\n\r\n", Unreachable),
    "a chunk of no size": (CHUNKED + b"zz\r\nabc\r\n", Unreachable),
    "a chunk of less than nothing": (CHUNKED + b"-5\r\nabc\r\n0\r\n\r\n", AmpsteadError),
    "a redirect to nowhere": (
        sized(b"", b"Location: http://[x\r\n", b"302 Found"),
        AnswerFault,
    ),
    "a redirect to an odd port": (sized(b"", b"Location: http://a:b/\r\n", b"307 Found"), AnswerFault),
    "a redirect in other letters": (sized(b"", b"Location: http://\xff\xfe/\r\n", b"301 Found"), AnswerFault),
    "a page": (sized(b"<html>Please log in to meadow guest wireless</html>"), Unreadable),
    "no text": (sized(b'{"answer": "\xff\xfe"}'), Unreadable),
    "another zip": (sized(b"{}", b"Content-Encoding: zstd\r\n"), Unreadable),
    "much nesting": (sized(b'{"a":' * 200_000), Unreadable),
    "lists in lists": (sized(b"[" * 900 + b"]" * 900), Unreadable),
    "a problem that is none": (sized(b'{"errors": [[1], {"field": {}}], "detail": []}', status=b"422 No"), AnswerFault),
    "a long problem": (sized(b'{"detail": "' + b"x" * 10**6 + b'"}', status=b"500 No"), AnswerFault),
}


@pytest.mark.parametrize("name", NONSENSE)
def test_nonsense_is_a_typed_error(name: str, serving: Callable[[Misbehaviour], str]) -> None:
    reply, kind = NONSENSE[name]
    with (
        AmpsteadClient(serving(sending(reply)), timeout=TIMEOUT, retries=0) as client,
        pytest.raises(kind) as caught,
    ):
        client.wattage(cells=3, capacity="2250 mAh")
    assert len(str(caught.value)) < 5000


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.parametrize("name", NONSENSE)
def test_nonsense_is_a_typed_error_in_a_session_of_your_own_too(
    name: str, serving: Callable[[Misbehaviour], str]
) -> None:
    """requests looks into a redirect's address before it hands over the answer, and may leave its socket open."""
    reply, kind = NONSENSE[name]
    with (
        requests.Session() as session,
        AmpsteadClient(serving(sending(reply)), timeout=TIMEOUT, session=session) as client,
        pytest.raises(AmpsteadError if "redirect" in name else kind),
    ):
        client.wattage(cells=3, capacity="2250 mAh")
    gc.collect()


def good() -> dict[str, Any]:
    return AmpsteadClient.embedded().wattage(cells=3, capacity="2250 mAh", supply_voltage="14.2 V").to_dict()


HUGE = 10**400
SPOILT: dict[str, tuple[Callable[[dict[str, Any]], Any], str]] = {
    "another calculator": (lambda told: told.update(calculator="sag"), "calculator is 'sag' instead of 'wattage'"),
    "volts for watts": (
        lambda told: told["answer"]["peak_power"].update(unit="V"),
        r"answer\.peak_power is .* instead of a quantity in W",
    ),
    "milliwatts for watts": (
        lambda told: told["answer"]["peak_power"].update(unit="mW"),
        r"answer\.peak_power is .* instead of a quantity in W",
    ),
    "a number without its unit": (lambda told: told["answer"].update(peak_power=28), "instead of a quantity"),
    "text for a number": (lambda told: told["answer"]["peak_power"].update(value="28"), "instead of a quantity"),
    "a huge number": (lambda told: told["answer"]["peak_power"].update(value=HUGE), "instead of a quantity"),
    "a huge flag": (lambda told: told["answer"].update(fits=HUGE), "a huge number instead of true or false"),
    "a band in volts": (
        lambda told: told.update(
            accuracy=[
                {"of": "peak_power", "low": {"value": 1, "unit": "V"}, "high": {"value": 2, "unit": "V"}, "basis": ""}
            ]
        ),
        r"accuracy\[0\] is 1 V for a result in W",
    ),
    "a band of numbers": (
        lambda told: told.update(accuracy=[{"of": "peak_power", "low": 1, "high": 2, "basis": ""}]),
        r"accuracy\[0\] is 1\.0 for a result in W",
    ),
    "a caution of numbers": (lambda told: told.update(cautions=[1, 2]), r"cautions\[0\] is 1 instead of an object"),
    "a list for an object": (lambda told: told.update(answer=[1]), "answer is .* instead of an object"),
    "text for a list": (lambda told: told.update(sources="none"), "sources is 'none' instead of a list"),
    "no sentence": (lambda told: told.pop("sentence"), "sentence is missing"),
}


@pytest.mark.parametrize("name", SPOILT)
def test_an_answer_to_something_else_is_refused(name: str, serving: Callable[[Misbehaviour], str]) -> None:
    spoil, message = SPOILT[name]
    told = good()
    spoil(told)
    with (
        AmpsteadClient(serving(sending(sized(json.dumps(told).encode()))), timeout=5) as client,
        pytest.raises(Unreadable, match=f"the answer is not the one expected: .*{message}"),
    ):
        client.wattage(cells=3, capacity="2250 mAh")


def test_a_number_beyond_every_float_is_refused_wherever_a_plain_one_stands(
    serving: Callable[[Misbehaviour], str],
) -> None:
    told = AmpsteadClient.embedded().charge_current(cells=3, capacity="2250 mAh").to_dict()
    for huge, text in (("1e999", "inf instead of a finite"), ("1" + "0" * 400, "a huge number instead of a number")):
        told["answer"]["rate"] = 0.12345
        body = json.dumps(told).replace("0.12345", huge).encode()
        with (
            AmpsteadClient(serving(sending(sized(body))), timeout=5) as client,
            pytest.raises(Unreadable, match=rf"answer\.rate is {text}"),
        ):
            client.charge_current(cells=3, capacity="2250 mAh")


def test_an_answer_spoilt_anywhere_is_an_answer_or_a_typed_error(serving: Callable[[Misbehaviour], str]) -> None:
    """A good reply with bytes changed, lost and doubled, 300 times from a fixed seed."""
    whole = sized(json.dumps(good()).encode())
    chance = random.Random(4464)
    sent = [whole]

    def misbehave(connection: socket.socket) -> None:
        connection.sendall(sent[-1])

    base_url = serving(misbehave)
    refused = 0
    for _ in range(300):
        spoilt = bytearray(whole)
        for _ in range(chance.randint(1, 4)):
            place = chance.randrange(len(spoilt)) if chance.random() < 0.6 else chance.randrange(120)
            spoilt[place : place + chance.randint(0, 3)] = chance.choice(
                [b"", b"\0", b"\r\n", b"{", b"}", b'"', b"9", b"\xff", bytes(spoilt[place : place + 20])]
            )
        sent.append(bytes(spoilt))
        with AmpsteadClient(base_url, timeout=3, retries=0) as client:
            try:
                client.wattage(cells=3, capacity="2250 mAh")
            except AmpsteadError:
                refused += 1
    assert refused > 100

"""Hostile callers on the loopback address, each bounded in count and time, and a quick question asked meanwhile."""

import http.client
import socket
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from threading import Event, Thread

QUICK = "/v1/wattage.txt?cells=3&capacity=850mAh"
POST = b"POST /v1/sag HTTP/1.1\r\nHost: a\r\nContent-Type: application/json\r\n"
Attack = Callable[[int, Event], None]


def connected(port: int, patience: float = 5.0) -> socket.socket:
    return socket.create_connection(("127.0.0.1", port), timeout=patience)


def sent(connection: socket.socket, message: bytes) -> None:
    """Send what the other side takes; a server that refuses or stops reading is what is asked for."""
    with suppress(OSError):
        connection.sendall(message)


@contextmanager
def crowd(port: int, count: int, message: bytes, stop: Event, patience: float = 0.5) -> Iterator[list[socket.socket]]:
    """Many connections that each send one message and stay; none is opened once the attack is to stop."""
    connections: list[socket.socket] = []
    try:
        for _ in range(count):
            if stop.is_set():
                break
            with suppress(OSError):
                connections.append(connected(port, patience))
                sent(connections[-1], message)
        yield connections
    finally:
        for connection in connections:
            connection.close()


def crowding(count: int, message: bytes) -> Attack:
    def attack(port: int, stop: Event) -> None:
        with crowd(port, count, message, stop):
            stop.wait()

    return attack


def pouring(count: int, message: bytes) -> Attack:
    """Some connections that send one message, again and again."""

    def pour(port: int, stop: Event) -> None:
        while not stop.is_set():
            with suppress(OSError), closing(connected(port, 1.0)) as connection:
                sent(connection, message)
                while connection.recv(65536):
                    pass

    def attack(port: int, stop: Event) -> None:
        threads = [Thread(target=pour, args=(port, stop), daemon=True) for _ in range(count)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()

    return attack


def chunked(body: bytes) -> bytes:
    return POST + b"Transfer-Encoding: chunked\r\n\r\n" + body


ATTACKS: dict[str, Attack] = {
    "64 half-sent bodies": crowding(64, POST + b"Content-Length: 500\r\n\r\n{"),
    "200 half-sent bodies": crowding(200, POST + b"Content-Length: 500\r\n\r\n{"),
    "64 half-sent headers": crowding(64, POST + b"X-Half: "),
    "1,000 idle connections": crowding(1000, b""),
    "8 pipelining 270 requests, never reading": crowding(8, b"GET /openapi.json HTTP/1.1\r\nHost: a\r\n\r\n" * 270),
    "40 pipelining 20,000 small questions": crowding(40, b"GET / HTTP/1.1\r\nHost: a\r\n\r\n" * 20_000),
    "300 unread downloads": crowding(300, b"GET /openapi.json HTTP/1.1\r\nHost: a\r\n\r\n"),
    "16 kB of blanks before a NUL": pouring(2, b"GET / HTTP/1.1\r\nHost: a\r\nX-A:" + b" " * 16_000 + b"\0\r\n\r\n"),
    "250 kB of blanks before a NUL": pouring(2, b"GET / HTTP/1.1\r\nHost: a\r\nX-A:" + b" " * 250_000 + b"\0\r\n\r\n"),
    "256 kB of headers": pouring(4, b"GET / HTTP/1.1\r\nHost: a\r\n" + b"X-A: b\r\n" * 32_000 + b"\r\n"),
    "7 MB of one chunk's line": pouring(4, chunked(b"1;" + b"a" * 7_000_000 + b"\r\nx\r\n0\r\n\r\n")),
    "7 MB of trailers": pouring(4, chunked(b"1\r\nx\r\n0\r\n" + b"X-A: b\r\n" * 900_000 + b"\r\n")),
    "1 MB in one-byte chunks": pouring(4, chunked(b"1\r\nx\r\n" * 1_000_000 + b"0\r\n\r\n")),
}


def asked(port: int, path: str = QUICK, patience: float = 10.0) -> tuple[int, bytes]:
    """Status and body of one question over a connection of its own."""
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=patience)) as connection:
        connection.request("GET", path)
        reply = connection.getresponse()
        return reply.status, reply.read()


def slowest_quick_question(port: int, attack: Attack, seconds: float = 1.0) -> float:
    """Seconds that the slowest of the quick questions took, asked one after the other under attack."""
    stop = Event()
    attacker = Thread(target=attack, args=(port, stop), daemon=True)
    attacker.start()
    slowest, end = 0.0, time.monotonic() + seconds
    try:
        time.sleep(0.3)
        while time.monotonic() < end:
            begun = time.monotonic()
            try:
                status, _ = asked(port)
            except OSError:
                status = 0
            slowest = max(slowest, time.monotonic() - begun)
            if status != 200:
                return float("inf")
            time.sleep(0.02)
    finally:
        stop.set()
        attacker.join(15)
    return slowest

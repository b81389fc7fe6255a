"""The production server: waitress, with this project's one shape of error, and with an end to slow requests.

The address and port come from ``HOST`` and ``PORT`` (127.0.0.1 and 8080 by default). SIGTERM and SIGINT end the
server after the questions in hand are answered.
"""

import logging
import os
import signal
import time
from collections.abc import Iterable
from types import FrameType
from typing import Any

from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser, ParsingError
from waitress.server import TcpWSGIServer
from waitress.task import ErrorTask

from ampstead.app import LONGEST_BODY, LONGEST_HEADERS, create_app
from ampstead.errors import TITLES, problem_document
from ampstead.replying.forms import dumped

THREADS = 8
CONNECTIONS = 1000
SLOWEST_REQUEST = 20.0
"""Seconds within which a request must have arrived whole."""
IDLE = 60
DRAIN = 5.0

log = logging.getLogger("ampstead")


class _Fault:
    """An error found before a request reaches the application, as waitress asks for it."""

    def __init__(self, code: int, detail: str) -> None:
        self.code = code
        self.body = detail

    def to_response(self, ident: str | None = None) -> tuple[str, list[tuple[str, str]], bytes]:
        title = TITLES[self.code][1]
        document = dumped(problem_document(self.code, self.body))
        return f"{self.code} {title}", [("Content-Type", "application/problem+json")], document.encode()


class _Parser(HTTPRequestParser):  # type: ignore[misc]  # waitress ships no types
    def parse_header(self, header_plus: bytes) -> None:
        super().parse_header(header_plus)
        if self.chunked and "CONTENT_LENGTH" in self.headers:
            raise ParsingError("Content-Length and Transfer-Encoding exclude each other")


class _ErrorTask(ErrorTask):  # type: ignore[misc]  # waitress ships no types
    request: Any

    def execute(self) -> None:
        fault = self.request.error
        code = fault.code if fault.code in TITLES else 400 if fault.code < 500 else 500
        told = {
            413: f"The body is larger than {LONGEST_BODY // 1024} kilobytes.",
            431: f"The headers are longer than {LONGEST_HEADERS} characters.",
            500: "The service failed on this question; the fault is noted and the service goes on.",
        }
        detail = fault.body if isinstance(fault, _Fault) else told.get(code, TITLES[code][1] + ".")
        self.request.error = _Fault(code, detail)
        super().execute()


class _Channel(HTTPChannel):  # type: ignore[misc]  # waitress ships no types
    parser_class = _Parser
    error_task_class = _ErrorTask
    request: Any
    begun = 0.0

    def received(self, data: bytes) -> bool:
        if self.request is None:
            self.begun = time.monotonic()
        taken: bool = super().received(data)
        return taken

    def end_if_slow(self, now: float) -> None:
        """Answer 408 to a request that has been arriving for too long."""
        with self.requests_lock:
            if self.request is None or self.requests or now - self.begun < SLOWEST_REQUEST:
                return
            late, self.request = self.request, None
            late.error = _Fault(408, f"The request did not arrive within {SLOWEST_REQUEST:.0f} seconds.")
            late.completed = True
            self.requests.append(late)
            self.server.add_task(self)


class Server(TcpWSGIServer):  # type: ignore[misc]  # waitress ships no types
    """A waitress server that ends slow requests and drains before it stops."""

    channel_class = _Channel

    def maintenance(self, now: float) -> None:
        super().maintenance(now)
        for channel in list(self.active_channels.values()):
            channel.end_if_slow(time.monotonic())

    def run(self) -> None:
        try:
            self.asyncore.loop(timeout=1, map=self._map, use_poll=True)
        except (SystemExit, KeyboardInterrupt):
            self.drained()

    def drained(self) -> None:
        """Take no more connections, answer what has arrived, and close."""
        self.accepting = False
        self.socket.close()
        end = time.monotonic() + DRAIN
        while time.monotonic() < end and any(self._busy()):
            self.asyncore.loop(timeout=0.1, map=self._without_listener(), use_poll=True, count=1)
        self.task_dispatcher.shutdown(timeout=1)

    def _busy(self) -> Iterable[bool]:
        return (bool(entry.requests or entry.total_outbufs_len) for entry in self.active_channels.values())

    def _without_listener(self) -> dict[int, Any]:
        return {place: entry for place, entry in self._map.items() if entry is not self}


def _stopped(number: int, frame: FrameType | None) -> None:
    raise SystemExit(0)


def server(host: str, port: int) -> Server:
    """A server of the calculators, bound and not yet running."""
    return Server(
        create_app(),
        host=host,
        port=port,
        threads=THREADS,
        connection_limit=CONNECTIONS,
        channel_timeout=IDLE,
        cleanup_interval=2,
        backlog=1024,
        max_request_body_size=8 * 1024 * 1024,
        max_request_header_size=256 * 1024,
        ident="ampstead",
        clear_untrusted_proxy_headers=True,
    )


def serve(host: str | None = None, port: int | None = None) -> None:
    """Serve until told to stop; prints three addresses to try."""
    logging.basicConfig(level=logging.INFO, format="%(asctime)s %(levelname)s %(name)s: %(message)s")
    host = host or os.environ.get("HOST") or "127.0.0.1"
    port = int(os.environ.get("PORT") or 8080) if port is None else port
    running = server(host, port)
    signal.signal(signal.SIGTERM, _stopped)
    shown = "127.0.0.1" if host in ("0.0.0.0", "::") else host
    base = f"http://{shown}:{running.effective_port}"
    print(f"Ampstead serves on {host}, port {running.effective_port}. Try:", flush=True)
    print(f"  {base}/v1/wattage.txt?cells=3&capacity=1150mAh&rate=1C&available_power=30W", flush=True)
    print(f"  {base}/v1/", flush=True)
    print(f"  {base}/openapi.json", flush=True)
    running.run()

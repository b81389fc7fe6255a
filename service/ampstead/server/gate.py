"""The way from a connection to the WSGI application and back: a whole question in, a thread's answer out in pieces."""

import asyncio
import io
import sys
import time
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from datetime import datetime
from email.utils import format_datetime
from typing import Any, NamedTuple

from ampstead.app import create_app
from ampstead.counts import ELSE, Counts
from ampstead.errors import Problem
from ampstead.pages import refused
from ampstead.replying import forms
from ampstead.server.crew import Crew, TooLate
from ampstead.server.guard import Guard
from ampstead.server.seen import REQUEST_ID, Access, Ids, request_id

Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Headers = list[tuple[bytes, bytes]]
Application = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]

PIECE = 32 * 1024
"""Bytes of a reply that are handed to a connection at once, so that an unread reply takes no more memory than this."""
FAIR = 0.001
"""Seconds after which a thread lets another one run: the fewer, the sooner a quick question passes slow ones."""
WITHOUT_WORK = "/healthz"
OF_THE_CONNECTION = ("HTTP_CONNECTION", "HTTP_KEEP_ALIVE", "HTTP_TE", "HTTP_TRANSFER_ENCODING", "HTTP_UPGRADE")
"""Headers that say nothing to the application, and by which it might take a question for another protocol's."""
SAFE: Headers = [
    (b"content-security-policy", b"default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'"),
    (b"referrer-policy", b"no-referrer"),
    (b"permissions-policy", b"interest-cohort=()"),
]
"""Headers of every reply that does not say otherwise: a reply is not a page, but for the style in a picture."""
ENCRYPTED = (b"strict-transport-security", b"max-age=31536000")
"""Where the operator says that the service is reached by https alone."""
SAID = {name for name, _ in (*SAFE, ENCRYPTED)}


class Going(NamedTuple):
    """Since when an address is to go, when it will be gone, and which one follows it."""

    since: datetime
    gone: datetime
    follower: str

    def headers(self) -> Headers:
        """As RFC 9745 and RFC 8594 write them."""
        return [
            (b"deprecation", b"@%d" % self.since.timestamp()),
            (b"sunset", format_datetime(self.gone, usegmt=True).encode()),
            (b"link", f'<{self.follower}>; rel="successor-version"'.encode()),
        ]


GOING: dict[str, Going] = {}
"""Addresses that are to go: each stays for a year after it says so."""


def application(guard: Guard) -> "Gate":
    """What a worker serves."""
    sys.setswitchinterval(FAIR)
    app = create_app()
    return Gate(app, guard, app.extensions["counts"])


class Gate:
    """An ASGI application in front of a WSGI one."""

    def __init__(self, behind: Application, guard: Guard, counts: Counts) -> None:
        self.behind = behind
        self.counts = counts
        self.guard = guard
        self.access = Access(guard.settings.access_log, counts.lost)
        self.ids = Ids()
        self.safe = [*SAFE, ENCRYPTED] if guard.public and guard.public.scheme == "https" else SAFE
        self.crew: Crew | None = None

    async def __call__(self, scope: Message, receive: Receive, send: Send) -> None:
        environ = _environ(scope)
        path, client = scope["path"], self.guard.client(environ)
        id = environ[REQUEST_ID] = self.ids.of(environ.get(REQUEST_ID, ""))
        environ["wsgi.url_scheme"], environ["HTTP_HOST"] = self.guard.place(environ)
        self.counts.in_hand(1)
        try:
            begun = time.perf_counter()
            try:
                await self.guard.passed(path, client, environ)
                body = await whole(receive)
                if body is None:
                    return
                begun = time.perf_counter()
                _embodied(environ, body)
                if path == WITHOUT_WORK:
                    status, headers, reply = self._asked(environ)
                else:
                    # By known addresses: what strangers make up is not remembered one by one.
                    kind = path if path in self.counts.rows else ELSE
                    status, headers, reply = await self.the_crew().answer(kind, lambda: self._asked(environ))
            except Problem as fault:
                status, headers, reply = refusal(fault, path, environ.get("HTTP_ACCEPT", ""))
            except TooLate:
                said = "This question took too long; ask for less at once, or again later."
                status, headers, reply = _busy(scope, said, environ)
            except asyncio.CancelledError:
                status, headers, reply = _busy(scope, "The service is stopping; ask again.", environ)
            except Exception as fault:
                request_id.set(id)
                status, headers, reply = _encoded(forms.failed(fault, forms.form_of(path)))
            self.noted(scope, id, client, status, len(reply), time.perf_counter() - begun)
            start = {"type": "http.response.start", "status": status, "headers": self.completed(headers, id, path)}
            await send(start)
            await self._sent(reply, send)
        finally:
            self.counts.in_hand(-1)

    async def _sent(self, reply: bytes, send: Send) -> None:
        """Send a body in pieces."""
        if len(reply) <= PIECE:
            await send({"type": "http.response.body", "body": reply})
            return
        crew = self.the_crew()
        crew.unsent += len(reply)
        try:
            for begin in range(0, len(reply), PIECE):
                more = begin + PIECE < len(reply)
                await send({"type": "http.response.body", "body": reply[begin : begin + PIECE], "more_body": more})
        finally:
            crew.unsent -= len(reply)

    def completed(self, headers: Headers, id: str, path: str = "") -> Headers:
        """The headers of a reply with those that every reply has."""
        said = dict(headers).keys()
        missing = self.safe if said.isdisjoint(SAID) else [header for header in self.safe if header[0] not in said]
        going = GOING[path].headers() if path in GOING else ()
        return [*headers, *missing, *going, (b"x-request-id", id.encode())]

    def noted(self, scope: Message, id: str, client: str, status: int, size: int, took: float) -> None:
        """Count and log one reply."""
        self.counts.answered(scope["path"], status, took)
        self.access.note(
            id=id,
            client=client,
            method=scope["method"],
            path=scope["raw_path"],
            query=scope["query_string"],
            status=status,
            size=size,
            took=took,
        )

    def the_crew(self) -> Crew:
        """The threads that work out answers, for the event loop that runs."""
        if self.crew is None:
            self.crew = Crew()
        return self.crew

    def _asked(self, environ: dict[str, Any]) -> tuple[int, Headers, bytes]:
        """Status, headers and body that the application replies."""
        begun: list[tuple[int, Headers]] = []
        request_id.set(environ[REQUEST_ID])

        def start(status: str, headers: list[tuple[str, str]], fault: Any = None) -> Callable[[bytes], None]:
            begun[:] = [(int(status[:3]), [(n.lower().encode("latin-1"), v.encode("latin-1")) for n, v in headers])]
            return lambda _: None

        parts = self.behind(environ, start)
        try:
            body = b"".join(parts)
        finally:
            if closing := getattr(parts, "close", None):
                closing()
        return *begun[0], body


async def whole(receive: Receive) -> bytes | None:
    """The body of a question; None where the caller went, or was refused, before it had arrived."""
    parts = []
    while True:
        message = await receive()
        if message["type"] == "http.disconnect":
            return None
        parts.append(message.get("body", b""))
        if not message.get("more_body"):
            return b"".join(parts)


def _busy(scope: Message, said: str, environ: dict[str, Any]) -> tuple[int, Headers, bytes]:
    return refusal(Problem(503, said, {"Retry-After": "1"}), scope["path"], environ.get("HTTP_ACCEPT", ""))


def refusal(fault: Problem, path: str, accept: str) -> tuple[int, Headers, bytes]:
    """Status, headers and body for what never reaches the application."""
    return _encoded(refused.reply(fault, path, accept))


def _encoded(made: forms.Reply) -> tuple[int, Headers, bytes]:
    headers = [(name.lower().encode("latin-1"), value.encode("latin-1")) for name, value in made.headers]
    return made.status, [*headers, (b"content-length", b"%d" % len(made.body))], made.body


def _environ(scope: Message) -> dict[str, Any]:
    """The head of a question as WSGI (PEP 3333) hands it over."""
    host, port = scope["server"] or ("127.0.0.1", 80)
    query = scope["query_string"].decode("latin-1")
    address = scope["raw_path"].decode("latin-1")
    environ = {
        "REQUEST_METHOD": scope["method"],
        "SCRIPT_NAME": "",
        "PATH_INFO": scope["path"].encode("utf-8").decode("latin-1"),
        "QUERY_STRING": query,
        "RAW_URI": f"{address}?{query}" if query else address,
        "SERVER_NAME": host,
        "SERVER_PORT": str(port),
        "SERVER_PROTOCOL": f"HTTP/{scope['http_version']}",
        "REMOTE_ADDR": scope["client"][0] if scope["client"] else "",
        "wsgi.version": (1, 0),
        "wsgi.url_scheme": scope["scheme"],
        "wsgi.input_terminated": True,
        "wsgi.errors": sys.stderr,
        "wsgi.multithread": True,
        "wsgi.multiprocess": True,
        "wsgi.run_once": False,
    }
    for name, value in scope["headers"]:
        # An underscore would make two names of a header one.
        if b"_" in name:
            continue
        key = name.decode("latin-1").upper().replace("-", "_")
        key = key if key in ("CONTENT_TYPE", "CONTENT_LENGTH") else f"HTTP_{key}"
        text = value.decode("latin-1")
        environ[key] = f"{environ[key]},{text}" if key in environ else text
    for name in OF_THE_CONNECTION:
        environ.pop(name, None)
    return environ


def _embodied(environ: dict[str, Any], body: bytes) -> None:
    environ["wsgi.input"] = io.BytesIO(body)
    environ["CONTENT_LENGTH"] = str(len(body)) if body else environ.get("CONTENT_LENGTH", "")

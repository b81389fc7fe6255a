"""What an operator sees: a log in JSON, one object a line, and the id by which a request is found in it."""

import logging
import os
import re
import threading
import time
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from contextvars import ContextVar
from itertools import count
from secrets import token_hex
from typing import Any
from urllib.parse import unquote_to_bytes

import orjson
from pythonjsonlogger.json import JsonFormatter

REQUEST_ID = "HTTP_X_REQUEST_ID"
ACCEPTED = re.compile(r"[A-Za-z0-9._:/+=@-]{1,64}")
"""Ids that are taken from a caller; any other is replaced, since it stands in logs and in a reply's head."""
request_id: ContextVar[str] = ContextVar("request_id", default="")
"""Of the question that this thread works at."""

MOST_HELD = 4096
"""Lines of the access log that wait for a slow reader; what comes then is lost, and counted."""
AT_ONCE = 4096
"""Bytes that reach a pipe in one piece, so that lines of several workers do not mix (PIPE_BUF of Linux)."""
LINE = (
    b'{"time":"%b","level":"INFO","of":"access","request_id":"%b","client":"%b","method":"%b","path":%b%b,'
    b'"status":%d,"bytes":%d,"ms":%.2f}\n'
)
LONGEST_PATH, LONGEST_QUERY = 200, 500
HIDDEN = b"-"
"""What stands in the log for a name."""
WRITTEN_AFTER = 0.2
"""Seconds that a line may wait for others, to be written with them."""
SUPERVISED = (b"/healthz", b"/readyz", b"/metrics")
"""Addresses whose good replies are not noted: they would be most of the log."""


def nameless(query: bytes) -> bytes:
    """A query without the names that somebody gave to packs, loads or a card: whose they are is nobody's business."""
    return b"&".join([_nameless(pair) for pair in query.split(b"&")])


def _nameless(pair: bytes) -> bytes:
    key, told, value = pair.partition(b"=")
    plain = unquote_to_bytes(key.replace(b"+", b" ")).strip().lower()
    named = plain == b"name" or plain.endswith(b".name")
    return key + told + HIDDEN if named and value else pair


class Ids:
    """Ids of requests, of which no two are alike."""

    def __init__(self) -> None:
        self.process = 0
        self.stem = ""
        self.numbers = count(1)

    def of(self, claimed: str) -> str:
        """The id that a caller gave, where it is fit, else a new one."""
        if claimed and ACCEPTED.fullmatch(claimed):
            return claimed
        if self.process != os.getpid():
            self.process, self.stem = os.getpid(), token_hex(6)
        return f"{self.stem}-{next(self.numbers):x}"


class Formatter(JsonFormatter):
    """One line of JSON in ASCII for each record, whatever stands in it."""

    def __init__(self) -> None:
        super().__init__("%(levelname)s %(name)s %(message)s", rename_fields={"levelname": "level", "name": "of"})

    def add_fields(self, log_data: dict[str, Any], record: logging.LogRecord, message_dict: dict[str, Any]) -> None:
        """Time and request id beside what the library adds."""
        log_data["time"] = moment(record.created)
        super().add_fields(log_data, record, message_dict)
        if request_id.get():
            log_data["request_id"] = request_id.get()


LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"json": {"()": Formatter}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "json"}},
    "root": {"handlers": ["stderr"], "level": "INFO"},
    "loggers": {"ampstead.wire": {"level": "ERROR"}, "uvicorn.error": {"level": "WARNING"}},
}


def moment(seconds: float) -> str:
    """A time of the clock as RFC 3339 writes it, in UTC."""
    whole = time.strftime("%Y-%m-%dT%H:%M:%S", time.gmtime(seconds))
    return f"{whole}.{int(seconds % 1 * 1000):03d}Z"


class Access:
    """The access log of one worker. Nothing here waits: a thread writes, and what nobody reads is lost and counted."""

    def __init__(self, kind: str, lost: Callable[[int], None]) -> None:
        self.kind = kind
        self.lost = lost
        self.lines: deque[bytes] = deque()
        self.some = threading.Event()
        self.writer: threading.Thread | None = None
        self.ending = False
        self.second, self.stem = 0, b""

    def note(
        self, *, id: str, client: str, method: str, path: bytes, query: bytes, status: int, size: int, took: float
    ) -> None:
        """One reply; the query only where the operator has asked for it."""
        if self.kind == "off" or (status < 400 and path in SUPERVISED):
            return
        if len(self.lines) >= MOST_HELD:
            self.lost(1)
            return
        # As it came, with its percent signs: nothing in it is a control character.
        told = path[:LONGEST_PATH].decode("ascii", "backslashreplace")
        if self.kind == "queries":
            asked = nameless(query)[:LONGEST_QUERY].decode("ascii", "backslashreplace")
            extra = b',"query":%b' % orjson.dumps(asked)
        else:
            extra = b""
        # By hand, since it is written for every question: what has been made sure of before is not encoded anew.
        head = (self._now(), id.encode(), client.encode(), method.encode(), orjson.dumps(told), extra)
        self.lines.append(LINE % (*head, status, size, took * 1000))
        if not self.some.is_set():
            if self.writer is None:
                self.writer = threading.Thread(target=self._write, daemon=True)
                self.writer.start()
            self.some.set()

    def _now(self) -> bytes:
        now = time.time()
        whole = int(now)
        if whole != self.second:
            self.second, self.stem = whole, moment(whole)[:-4].encode()
        return b"%b%03dZ" % (self.stem, (now - whole) * 1000)

    def end(self, patience: float = 1.0) -> None:
        """Write what there is, as far as somebody takes it."""
        self.ending = True
        self.some.set()
        if self.writer is not None:
            self.writer.join(patience)

    def _write(self) -> None:
        while not (self.ending and not self.lines):
            self.some.wait()
            if not self.ending:
                time.sleep(WRITTEN_AFTER)
            self.some.clear()
            while self.lines:
                piece = self.lines.popleft()
                while self.lines and len(piece) + len(self.lines[0]) <= AT_ONCE:
                    piece += self.lines.popleft()
                with suppress(OSError):
                    while piece:
                        piece = piece[os.write(2, piece) :]

"""One connection: uvicorn's HTTP over httptools, with limits, with ends to waiting, and with the one shape of error.

A connection is always in one of two states: the service works for it, or waits for it. Each kind of waiting (for a
request to begin, to arrive, for a reply to be read) has its longest time; and where too many connections are open, the
one that has been waited for longest is closed.

Over 300 lines, since what a connection may do, and what it may wait for, is one class that the server asks for.
"""

import logging
import time
from asyncio import AbstractEventLoop, Transport
from collections import Counter, deque
from typing import Any, ClassVar

from uvicorn._types import ASGI3Application
from uvicorn.config import Config
from uvicorn.protocols.http.httptools_impl import STATUS_LINE, HttpToolsProtocol, RequestResponseCycle
from uvicorn.server import ServerState

from ampstead.app import LONGER_BODIES, LONGEST_ADDRESS, LONGEST_BODY, LONGEST_HEADERS
from ampstead.errors import Problem
from ampstead.server.gate import Gate, refusal

LONGEST_BATCH = 8 * 1024 * 1024
SLOWEST_REQUEST = 20.0
"""Seconds within which a request must have arrived whole."""
IDLE = 20.0
"""Seconds that a connection may stay without a request."""
UNREAD = 10.0
"""Seconds that a reply may wait for its reader."""
STALLED = 2.0
"""The same for the slowest one where as much waits for its readers as may be held in memory."""
LINGERING = 2.0
"""Seconds that are still read, and thrown away, after a refusal: closed at once, the caller might not see it."""
LEAVING = 1.0
"""Seconds that a request on its way may still take to arrive when the worker is told to stop."""
CONNECTIONS = 800
"""Connections of one worker; with what else it opens, fewer than the 1,024 files that a process commonly may."""
CONNECTIONS_OF_ONE = 250
"""Those of one address; a whole club may stand behind one."""
LOOKED_AFTER = 0.5
MOST_HEADERS = 128
"""Of one request: short ones take more memory than they are long."""
OF_A_HEADER = 150
"""Bytes of memory that a header takes beside its text."""
MOST_WAITING = 32
"""Requests of one connection that wait for those before them; who sends them all at once hardly reads the replies."""
MOST_HELD = 32 * 1024 * 1024
"""Bytes that one worker holds at a time of requests larger than a single question, or sent together."""
UNSENT = 32 * 1024
"""Bytes of a reply that wait in memory for their reader before the next piece is held back."""


class Refused(Exception):
    """Ends the reading of what came after it; the parser takes any exception for the end of its input."""


class Wire(HttpToolsProtocol):
    """A connection that neither waits for ever nor takes in more than it may."""

    everyone: ClassVar[set["Wire"]] = set()
    of_address: ClassVar[Counter[str]] = Counter()
    looked_after: ClassVar[bool] = False

    def __init__(
        self,
        config: Config,
        server_state: ServerState,
        app_state: dict[str, Any],
        _loop: AbstractEventLoop | None = None,
    ) -> None:
        super().__init__(config, server_state, app_state, _loop)
        # Strangers' faults are answered and not noted: their number is theirs to choose.
        self.logger = logging.getLogger("ampstead.wire")
        self.address = ""
        self.since = time.monotonic()
        """When the present waiting began."""
        self.arriving = self.in_head = False
        self.in_hand: deque[int] = deque()
        """Bytes of the whole requests that are being answered or stand in line for it."""
        self.taken = self.head_taken = self.body_taken = 0
        self.longest = LONGEST_BODY
        self.running: RequestResponseCycle | None = None
        self.refused: bytes | None = None
        self.lingering = False
        self.leaving = False

    def connection_made(self, transport: Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        transport.set_write_buffer_limits(high=UNSENT)
        self.address = self.client[0] if self.client else ""
        self.everyone.add(self)
        self.of_address[self.address] += 1
        if not Wire.looked_after:
            Wire.looked_after = True
            self.loop.call_later(LOOKED_AFTER, _look, self.loop)
        self._make_room()

    def connection_lost(self, exc: Exception | None) -> None:
        self._nobody_reads()
        super().connection_lost(exc)
        self.everyone.discard(self)
        self.of_address[self.address] -= 1
        if not self.of_address[self.address]:
            del self.of_address[self.address]

    def data_received(self, data: bytes) -> None:
        if self.refused is not None:
            return
        self.taken += len(data)
        super().data_received(data)
        if self.refused is not None or not self.arriving:
            return
        if self.in_head:
            if self.taken > LONGEST_ADDRESS + LONGEST_HEADERS:
                self._head_too_large()
        elif self.taken > 2 * self.longest + LONGEST_ADDRESS + LONGEST_HEADERS:
            # A body told in chunks takes more than its own size; in chunks of a few bytes each it takes too much.
            self._body_too_large()

    def pause_writing(self) -> None:
        self.since = time.monotonic()
        super().pause_writing()

    def resume_writing(self) -> None:
        self.since = time.monotonic()
        super().resume_writing()

    def _start_asgi_task(self, cycle: RequestResponseCycle, app: ASGI3Application) -> None:
        self.running = cycle
        super()._start_asgi_task(cycle, app)

    def on_message_begin(self) -> None:
        self._go_on()
        super().on_message_begin()
        self.since = time.monotonic()
        if len(self.in_hand) > MOST_WAITING:
            self.refuse(503, "Too many questions were sent over this connection before the first was answered.")
        else:
            self.arriving = self.in_head = True

    def on_header(self, name: bytes, value: bytes) -> None:
        self._go_on()
        if not self.in_head:
            return  # what comes behind a body is no header: no proxy before this one has looked at it
        super().on_header(name, value)
        if len(self.headers) > MOST_HEADERS:
            self._head_too_large()

    def on_headers_complete(self) -> None:
        self._go_on()
        self.in_head = False
        told = dict(self.headers)
        path = self.url.partition(b"?")[0].rstrip(b"/")
        longest = LONGER_BODIES.get(path.decode("latin-1"), LONGEST_BODY)
        self.longest = LONGEST_BATCH if path.endswith(b"/batch") else longest
        if len(self.url) > LONGEST_ADDRESS or sum(map(len, (*told, *told.values()))) > LONGEST_HEADERS:
            self._head_too_large()
        elif int(told.get(b"content-length", b"0")) > self.longest:
            self._body_too_large()
        elif b"host" not in told and self.parser.get_http_version() == "1.1":
            self.refuse(400, 'The request lacks the header "Host".')
        else:
            self.head_taken = len(self.url) + sum(len(n) + len(v) + OF_A_HEADER for n, v in self.headers)
            self.body_taken = 0
            if not self._holds_too_much():
                super().on_headers_complete()
                self.cycle.keep_alive &= not self.leaving

    def on_body(self, body: bytes) -> None:
        self._go_on()
        self.body_taken += len(body)
        if self.body_taken > self.longest:
            self._body_too_large()
        elif not self._holds_too_much():
            super().on_body(body)

    def on_message_complete(self) -> None:
        self._go_on()
        super().on_message_complete()
        self.arriving = False
        self.taken = 0
        if not self.cycle.response_complete:
            self.in_hand.append(self.head_taken + self.body_taken)
        self.head_taken = self.body_taken = 0

    def on_response_complete(self) -> None:
        super().on_response_complete()
        self.since = time.monotonic()
        if self.in_hand:
            self.in_hand.popleft()
        if self.refused is not None:
            self._say_refusal()

    def send_400_response(self, msg: str) -> None:
        if self.refused is None:
            self.refuse(400, "This is not HTTP that can be read.")

    def _go_on(self) -> None:
        """Stop the parser where the rest of what came is not wanted."""
        if self.refused is not None:
            raise Refused

    def held(self) -> int:
        """Bytes of all that came over this connection and is not answered."""
        return sum(self.in_hand) + self.head_taken + self.body_taken

    def _holds_too_much(self) -> bool:
        if self.held() <= LONGEST_BODY or sum(one.held() for one in self.everyone) <= MOST_HELD:
            return False
        self.refuse(503, "The service holds as many large questions as it can; ask again in some seconds.")
        return True

    def _head_too_large(self) -> None:
        if len(self.url) > LONGEST_ADDRESS or not self.headers:
            self.refuse(414, f"The address is longer than {LONGEST_ADDRESS} characters: ask by POST.")
        else:
            most = f"{LONGEST_HEADERS} characters, or more than {MOST_HEADERS}"
            self.refuse(431, f"The headers are longer than {most}.")

    def _body_too_large(self) -> None:
        self.refuse(413, f"The body is larger than {self.longest // 1024} kilobytes.")

    def refuse(self, status: int, said: str) -> None:
        """Answer what is arriving with a problem, after all that was asked before it, and take in nothing more."""
        path = self.url.partition(b"?")[0].decode("latin-1") if self.arriving else ""
        told_of = dict(self.headers) if self.arriving else {}
        fault = Problem(status, said, {"Retry-After": "1"} if status == 503 else None)
        status, headers, body = refusal(fault, path, told_of.get(b"accept", b"").decode("latin-1"))
        gate: Gate = self.app
        claimed = told_of.get(b"x-request-id", b"")
        headers = gate.completed(headers, gate.ids.of(claimed.decode("latin-1")))
        gate.counts.answered(path, status, 0.0)
        headers = [*self.server_state.default_headers, *headers, (b"connection", b"close")]
        bodiless = self.arriving and self.parser.get_method() == b"HEAD"
        told = b"".join(b"%s: %s\r\n" % header for header in headers)
        self.refused = b"%s%s\r\n%s" % (STATUS_LINE[status], told, b"" if bodiless else body)
        if self.arriving and self.cycle is not None and self.cycle.more_body:
            # The application waits for the rest of this very request, or will: it is told that none comes.
            self.pipeline = type(self.pipeline)(entry for entry in self.pipeline if entry[0] is not self.cycle)
            self.cycle.disconnected = True
            self.cycle.message_event.set()
        self.arriving = self.in_head = False
        self.head_taken = self.body_taken = 0
        self._say_refusal()

    def _say_refusal(self) -> None:
        if self.in_hand or self.lingering or self.transport.is_closing():
            return
        assert self.refused is not None
        self.lingering = True
        self.since = time.monotonic()
        self._unset_keepalive_if_required()
        self.flow.resume_reading()
        self.transport.write(self.refused)
        self.transport.write_eof()

    def shutdown(self) -> None:
        # A connection just made has a request on its way, which would be lost if it were closed now.
        self.leaving = True
        if self.in_hand:
            super().shutdown()
        else:
            self.end_of_waiting()

    def waiting(self) -> float:
        """Seconds that the service has been waiting for the other side."""
        theirs = self.arriving or self.flow.write_paused or self.transport.is_closing() or not self.in_hand
        return time.monotonic() - self.since if theirs else 0.0

    def end_of_waiting(self) -> None:
        """Close the connection, or refuse what is arriving, where that has been waited for too long."""
        waited = self.waiting()
        if self.transport.is_closing() or self.flow.write_paused:
            if waited > UNREAD:
                self.cut()
        elif self.lingering:
            if waited > LINGERING:
                self.cut()
        elif self.arriving and self.leaving and waited > LEAVING:
            self.refuse(503, "The service is stopping; ask again.")
        elif self.arriving:
            if waited > SLOWEST_REQUEST:
                self.refuse(408, f"The request did not arrive within {SLOWEST_REQUEST:.0f} seconds.")
        elif waited > (LEAVING if self.leaving else IDLE):
            self.transport.close()

    def cut(self) -> None:
        """End the connection at once, whatever is on its way."""
        self._nobody_reads()
        self.transport.abort()

    def _nobody_reads(self) -> None:
        if self.running is not None:
            self.running.disconnected = True
            self.running.message_event.set()

    def _make_room(self) -> None:
        """Close the connection that has been waited for longest, where there are too many."""
        # All that a proxy passes on comes from its one address.
        trusted = self.app.guard.hops > 0
        if self.of_address[self.address] > CONNECTIONS_OF_ONE and not trusted:
            rivals = [rival for rival in self.everyone if rival.address == self.address]
        elif len(self.everyone) > CONNECTIONS:
            rivals = list(self.everyone)
        else:
            return
        longest = max(rivals, key=Wire.waiting)
        (longest if longest.waiting() else self).cut()


def _look(loop: AbstractEventLoop) -> None:
    """Look after every connection of this process, again and again."""
    loop.call_later(LOOKED_AFTER, _look, loop)
    for connection in list(Wire.everyone):
        connection.end_of_waiting()
    unread = [connection for connection in Wire.everyone if connection.flow.write_paused]
    if unread and unread[0].app.the_crew().is_full():
        slowest = max(unread, key=Wire.waiting)
        if slowest.waiting() > STALLED:
            slowest.cut()

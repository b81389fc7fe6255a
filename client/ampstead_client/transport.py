"""The way to the service over HTTP, and what any way has to offer.

A calculator keeps no state, so that asking twice is harmless: connection faults and the statuses 429, 502, 503 and
504 are tried again, with exponential backoff and full jitter, or after the time that the service asks for.

Whatever answers is not trusted: the whole of it, attempts and waits included, ends by the timeout, no more of it is
read than an answer may have, and no redirect is followed.
"""

from __future__ import annotations

import json
import random
import zlib
from collections.abc import Callable, Mapping
from http.client import HTTPException
from http.cookiejar import DefaultCookiePolicy
from time import monotonic, sleep
from typing import Any, Protocol, TypeAlias
from urllib.parse import quote
from uuid import uuid4

import requests
from requests.utils import default_user_agent
from urllib3.exceptions import DecodeError, HTTPError, ReadTimeoutError
from urllib3.util import Timeout as _Timeout

from ampstead_client._version import __version__
from ampstead_client.credentials import address_and_credentials, authorisation, plain
from ampstead_client.deadline import DeadlineAdapter
from ampstead_client.errors import AnswerFault, ConnectionFault, TimedOut, Unreachable, Unreadable
from ampstead_client.replies import Unexpected, an_object, received, success

Timeout: TypeAlias = float | tuple[float, float]
"""Seconds for the whole of a question, attempts and waits included; or (for each connection, for the whole)."""

MEDIA: Mapping[str, str] = {"json": "application/json", "csv": "text/csv", "svg": "image/svg+xml", "png": "image/png"}
"""The forms of an answer, and their media types."""

_AGAIN = frozenset({429, 502, 503, 504})
_BACKOFF, _BACKOFF_CAP = 0.5, 8.0  # s
_LONGEST_NAME = 128
_LARGEST, _LARGEST_BATCH = 2**21, 2**26  # bytes; the largest honest ones are a tenth and a half of these


class Transport(Protocol):
    """A way to the service; a client takes any object of this shape."""

    def ask(self, calculator: str, question: Mapping[str, Any]) -> dict[str, Any]:
        """The whole answer as JSON has it. Raises the errors of `ampstead_client.errors`."""

    def fetch(self, calculator: str, question: Mapping[str, Any], form: str) -> bytes:
        """The answer in another form: `csv`, `svg` or `png`. Raises the same errors."""

    def address(self, calculator: str) -> str:
        """Where a question goes, fit to be shown."""

    def close(self) -> None:
        """Lets go of connections."""


class HttpTransport:
    """The service at an HTTP address; may be shared between threads.

    `base_url` is the address before `/v1/`; a user and password in it are sent as basic authentication and
    never shown. `timeout` is in seconds, for the whole of a question. `retries` counts the attempts after the first.
    `app_name` joins the User-Agent.

    `key` is sent as `Authorization: Bearer …`, to `base_url` alone, and never shown; if not given it is that of the
    environment's `AMPSTEAD_KEY`, if any, unless the address or the session has credentials. Every question carries an
    `X-Request-ID`, the same in all its attempts: made anew, or what the function `request_id` gives, such as the one
    of the request that your own app is answering. An error tells it as `request_id`.

    A `session` of your own is used as it is, with its adapters, proxies, headers, certificates and retries
    (so that `retries` has no effect on it), and `close` leaves it open. What it does before it hands over the answer,
    such as waiting for headers that come slowly, is bounded by its own means.

    Raises `ValueError` for an address, timeout, number of retries or name that cannot be right.
    """

    def __init__(
        self,
        base_url: str,
        *,
        timeout: Timeout = 10.0,
        retries: int = 2,
        session: requests.Session | None = None,
        app_name: str | None = None,
        key: str | None = None,
        request_id: Callable[[], str | None] | None = None,
    ) -> None:
        self._base_url, credentials = address_and_credentials(base_url)
        self._auth = authorisation(credentials, key, session)
        self._request_id = request_id
        self._to_connect, self._in_all = _checked_timeout(timeout)
        self._agent = _user_agent(app_name)
        self._own_session = session is None
        self._attempts = 1 + (_checked_retries(retries) if session is None else 0)
        self._session = _stateless_session() if session is None else session

    def address(self, calculator: str) -> str:
        """Where a question goes, without credentials."""
        return f"{self._base_url}/v1/{quote(calculator)}"

    def ask(self, calculator: str, question: Mapping[str, Any]) -> dict[str, Any]:
        """The answer to a question, its inputs being JSON values.

        Raises `Unreachable`, `TimedOut`, `Unreadable`, or the `AnswerFault` of the answer's status.
        """
        document: dict[str, Any] = self._asked(calculator, question, "json", an_object)
        return document

    def fetch(self, calculator: str, question: Mapping[str, Any], form: str) -> bytes:
        """The answer in another form: `csv`, `svg` or `png`. Raises what `ask` raises."""

        def expected(body: bytes, kind: str) -> bytes:
            if kind.partition(";")[0].strip().lower() != MEDIA[form]:
                raise Unexpected(form)
            return body

        body: bytes = self._asked(f"{calculator}.{form}", question, form, expected)
        return body

    def close(self) -> None:
        """Closes the connections, unless the session is your own."""
        if self._own_session:
            self._session.close()

    def __repr__(self) -> str:
        return f"HttpTransport({self._base_url!r})"

    def _asked(self, path: str, question: Mapping[str, Any], form: str, expected: Callable[[bytes, str], Any]) -> Any:
        """What is read of a success's body and content type."""
        url = self.address(path)
        headers = {"Content-Type": "application/json", "Accept": MEDIA[form], "Accept-Encoding": "gzip"}
        if self._session.headers.get("User-Agent") in (None, default_user_agent()):
            headers["User-Agent"] = self._agent
        if self._request_id is not None or "X-Request-ID" not in self._session.headers:
            headers["X-Request-ID"] = _named(self._request_id)
        body = json.dumps(dict(question), allow_nan=False).encode()
        deadline = monotonic() + self._in_all
        attempt = 0
        while True:
            try:
                told, kind = self._attempt(url, headers, body, deadline)
                try:
                    return expected(told, kind)
                except Unexpected as fault:
                    message = f"the answer is not the {fault} expected ({kind}, {len(told)} bytes)"
                    raise Unreadable(message, method="POST", url=url) from None
            except (AnswerFault, ConnectionFault, Unreadable) as fault:
                fault.request_id = fault.request_id or headers.get("X-Request-ID")
                attempt += 1
                wait = None if attempt == self._attempts else _wait(fault, attempt)
                if wait is None or monotonic() + wait >= deadline:
                    raise
            sleep(wait)

    def _attempt(self, url: str, headers: Mapping[str, str], body: bytes, deadline: float) -> tuple[bytes, str]:
        left = max(deadline - monotonic(), 0.001)
        connecting = min(self._to_connect, left)
        try:
            # A redirected POST turns into a GET, or takes the question to a host that nobody chose.
            response = self._session.post(
                url,
                data=body,
                headers=headers,
                timeout=_Timeout(connect=connecting, total=left) if self._own_session else (connecting, left),  # type: ignore[arg-type]
                auth=self._auth,
                allow_redirects=False,
                stream=True,
            )
            with response:
                told = received(response, deadline, _LARGEST_BATCH if url.endswith("/batch") else _LARGEST)
        except (requests.RequestException, HTTPError, HTTPException, OSError, ValueError, zlib.error) as fault:
            raise self._fault(fault, url) from fault
        return success(response, told, url)

    def _fault(self, fault: Exception, url: str) -> ConnectionFault | Unreadable:
        detail = ""
        cause: BaseException | None = fault
        while cause is not None:  # the cause lies under requests' error and urllib3's exhausted retries
            if isinstance(cause, requests.ConnectTimeout):
                return TimedOut(f"no connection within {self._to_connect:g} s", method="POST", url=url)
            if isinstance(cause, requests.ReadTimeout | ReadTimeoutError | TimeoutError):
                return TimedOut(f"no answer within {self._in_all:g} s", method="POST", url=url)
            if isinstance(cause, OSError) and cause.strerror:
                detail = f": {cause.strerror}"
            cause = cause.__cause__ or cause.__context__
        for kinds, message in _UNREADABLE:
            if isinstance(fault, kinds):
                return Unreadable(message, method="POST", url=url)
        for kinds, message in _UNREACHABLE:
            if isinstance(fault, kinds):
                return Unreachable(message + detail, method="POST", url=url)
        return Unreachable(f"no connection could be made, or it broke off{detail}", method="POST", url=url)


_UNREADABLE: tuple[tuple[Any, str], ...] = (
    (
        (requests.exceptions.ContentDecodingError, DecodeError, zlib.error),
        "the answer's compression cannot be undone",
    ),
)
_UNREACHABLE: tuple[tuple[Any, str], ...] = (
    (requests.exceptions.SSLError, "no secure connection could be made"),
    (requests.exceptions.ProxyError, "the proxy could not be reached"),
    ((requests.exceptions.ChunkedEncodingError, HTTPError, HTTPException), "the answer broke off"),
    (requests.RequestException, "no connection could be made, or it broke off"),
    (ValueError, "the answer makes no sense"),
)


class _Session(requests.Session):
    def get_redirect_target(self, resp: requests.Response) -> None:
        """No redirect is followed, nor its body read, which requests does even where it is told not to follow."""


def _stateless_session() -> requests.Session:
    session = _Session()
    session.cookies.set_policy(DefaultCookiePolicy(allowed_domains=[]))
    for scheme in ("http://", "https://"):
        session.mount(scheme, DeadlineAdapter())
    return session


def _checked_timeout(timeout: Timeout) -> tuple[float, float]:
    parts = timeout if isinstance(timeout, tuple) else (timeout, timeout)
    if len(parts) != 2 or not all(isinstance(part, int | float) and 0 < part < 1e9 for part in parts):
        raise ValueError(f"timeout is {timeout!r}: it must be seconds above 0, or a pair (to connect, in all)")
    return parts


def _checked_retries(retries: int) -> int:
    if isinstance(retries, bool) or not isinstance(retries, int) or retries < 0:
        raise ValueError(f"retries is {retries!r}: it must be a whole number from 0 up")
    return retries


def _user_agent(app_name: str | None) -> str:
    agent = f"ampstead-client/{__version__}"
    if app_name is None:
        return agent
    if not (app_name.isascii() and app_name.isprintable()) or "(" in app_name or ")" in app_name:
        raise ValueError(f"app_name is {app_name!r}: it must be plain ASCII text without parentheses")
    return f"{agent} ({app_name})"


def _named(request_id: Callable[[], str | None] | None) -> str:
    given = request_id() if request_id else None
    return given if given and plain(given) and len(given) <= _LONGEST_NAME else uuid4().hex


def _wait(fault: AnswerFault | ConnectionFault | Unreadable, attempt: int) -> float | None:
    """Seconds before the next attempt, or None where another would be of no use."""
    if isinstance(fault, Unreadable):
        return None
    if isinstance(fault, AnswerFault):
        if fault.status not in _AGAIN:
            return None
        if fault.retry_after is not None:
            return fault.retry_after
    return random.uniform(0.0, min(_BACKOFF_CAP, _BACKOFF * 2 ** (attempt - 1)))

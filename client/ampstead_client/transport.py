"""The way to the service over HTTP, and what any way has to offer.

A calculator keeps no state, so that asking twice is harmless: connection faults and the statuses 429, 502,
503 and 504 are tried again, with exponential backoff and full jitter, or after the time that the service
asks for.
"""

from __future__ import annotations

import json
import random
from collections.abc import Mapping
from email.utils import parsedate_to_datetime
from http.cookiejar import DefaultCookiePolicy
from time import time
from typing import Any, Protocol, TypeAlias
from urllib.parse import quote, urlsplit, urlunsplit

import requests
from requests.adapters import HTTPAdapter
from requests.utils import default_user_agent, get_auth_from_url
from urllib3.exceptions import HTTPError, ReadTimeoutError
from urllib3.util.retry import Retry

from ampstead_client._version import __version__
from ampstead_client.errors import (
    ConnectionFault,
    TimedOut,
    Unreachable,
    Unreadable,
    answer_fault,
)

Timeout: TypeAlias = float | tuple[float, float]
"""Seconds to connect and between two pieces of the answer: one number for both, or (connect, read)."""

_BACKOFF, _BACKOFF_CAP = 0.5, 8.0  # s
_RETRY_AFTER_CAP = 30.0  # s


class Transport(Protocol):
    """A way to the service; a client takes any object of this shape."""

    def ask(self, calculator: str, question: Mapping[str, Any]) -> dict[str, Any]:
        """The whole answer as JSON has it. Raises the errors of `ampstead_client.errors`."""

    def address(self, calculator: str) -> str:
        """Where a question goes, fit to be shown."""

    def close(self) -> None:
        """Lets go of connections."""


class HttpTransport:
    """The service at an HTTP address; may be shared between threads.

    `base_url` is the address before `/v1/`; a user and password in it are sent as basic authentication and
    never shown. `timeout` is in seconds. `retries` counts the attempts after the first. `app_name` joins
    the User-Agent.

    A `session` of your own is used as it is, with its adapters, proxies, headers, certificates and retries
    (so that `retries` has no effect on it), and `close` leaves it open.

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
    ) -> None:
        self._base_url, self._auth = _address_and_credentials(base_url)
        self._timeout = _checked_timeout(timeout)
        self._agent = _user_agent(app_name)
        self._own_session = session is None
        self._session = _stateless_session(retries) if session is None else session

    def address(self, calculator: str) -> str:
        """Where a question goes, without credentials."""
        return f"{self._base_url}/v1/{quote(calculator)}"

    def ask(self, calculator: str, question: Mapping[str, Any]) -> dict[str, Any]:
        """The answer to a question, its inputs being JSON values.

        Raises `Unreachable`, `TimedOut`, `Unreadable`, or the `AnswerFault` of the answer's status.
        """
        url = self.address(calculator)
        headers = {"Content-Type": "application/json", "Accept": "application/json"}
        if self._session.headers.get("User-Agent") in (None, default_user_agent()):
            headers["User-Agent"] = self._agent
        body = json.dumps(dict(question), allow_nan=False).encode()
        try:
            # A redirected POST turns into a GET, or takes the question to a host that nobody chose.
            response = self._session.post(
                url,
                data=body,
                headers=headers,
                timeout=self._timeout,
                auth=self._auth,
                allow_redirects=False,
            )
        except (requests.RequestException, HTTPError) as fault:
            raise _connection_fault(fault, url, self._timeout) from fault
        return _answer(response, url)

    def close(self) -> None:
        """Closes the connections, unless the session is your own."""
        if self._own_session:
            self._session.close()

    def __repr__(self) -> str:
        return f"HttpTransport({self._base_url!r})"


class _Backoff(Retry):
    # The default holds 413 too, and would repeat a question that is too large.
    RETRY_AFTER_STATUS_CODES = frozenset({429, 503})

    def get_backoff_time(self) -> float:
        return random.uniform(0.0, min(_BACKOFF_CAP, _BACKOFF * 2 ** (len(self.history) - 1)))

    def get_retry_after(self, response: Any) -> float | None:
        # urllib3's own parser raises an error of its own on a header that it cannot read.
        seconds = _seconds(response.headers.get("Retry-After"))
        return None if seconds is None else min(seconds, _RETRY_AFTER_CAP)


def _stateless_session(retries: int) -> requests.Session:
    if isinstance(retries, bool) or not isinstance(retries, int) or retries < 0:
        raise ValueError(f"retries is {retries!r}: it must be a whole number from 0 up")
    policy = _Backoff(
        total=retries,
        allowed_methods=None,
        status_forcelist=(429, 502, 503, 504),
        respect_retry_after_header=True,
        raise_on_status=False,
    )
    session = requests.Session()
    session.cookies.set_policy(DefaultCookiePolicy(allowed_domains=[]))
    for scheme in ("http://", "https://"):
        session.mount(scheme, HTTPAdapter(max_retries=policy))
    return session


def _address_and_credentials(base_url: str) -> tuple[str, tuple[str, str] | None]:
    wanted = 'base_url must look like "https://host:port/prefix"'
    if any(character.isspace() for character in base_url):
        raise ValueError(f"{wanted}, with no space in it")
    try:
        parts = urlsplit(base_url)
        valid = parts.scheme in ("http", "https") and bool(parts.hostname) and parts.port != 0
    except ValueError:
        valid = False
    if not valid:
        raise ValueError(f"{wanted}: http or https, a host, and a port up to 65535 if any")
    if "?" in base_url or "#" in base_url:
        raise ValueError(f"{wanted}, with no query and no fragment")
    host = parts.netloc.rpartition("@")[2]
    clean = urlunsplit((parts.scheme, host, parts.path.rstrip("/"), "", ""))
    user, password = get_auth_from_url(base_url)
    return clean, (user, password) if user or password else None


def _checked_timeout(timeout: Timeout) -> Timeout:
    parts = timeout if isinstance(timeout, tuple) else (timeout, timeout)
    if len(parts) != 2 or not all(isinstance(part, int | float) and 0 < part < 1e9 for part in parts):
        raise ValueError(f"timeout is {timeout!r}: it must be seconds above 0, or a pair (connect, read)")
    return timeout


def _user_agent(app_name: str | None) -> str:
    agent = f"ampstead-client/{__version__}"
    if app_name is None:
        return agent
    if not (app_name.isascii() and app_name.isprintable()) or "(" in app_name or ")" in app_name:
        raise ValueError(f"app_name is {app_name!r}: it must be plain ASCII text without parentheses")
    return f"{agent} ({app_name})"


def _connection_fault(fault: Exception, url: str, timeout: Timeout) -> ConnectionFault | Unreadable:
    to_connect, to_read = timeout if isinstance(timeout, tuple) else (timeout, timeout)
    detail = ""
    cause: BaseException | None = fault
    while cause is not None:  # the cause lies under requests' error and urllib3's exhausted retries
        if isinstance(cause, requests.ConnectTimeout):
            return TimedOut(f"no connection within {to_connect:g} s", method="POST", url=url)
        if isinstance(cause, requests.ReadTimeout | ReadTimeoutError):
            return TimedOut(f"no answer within {to_read:g} s", method="POST", url=url)
        if isinstance(cause, OSError) and cause.strerror:
            detail = f": {cause.strerror}"
        cause = cause.__cause__ or cause.__context__
    if isinstance(fault, requests.exceptions.ContentDecodingError):
        return Unreadable("the answer's compression cannot be undone", method="POST", url=url)
    for kind, message in _CONNECTION_TROUBLES:
        if isinstance(fault, kind):
            return Unreachable(message + detail, method="POST", url=url)
    return Unreachable(f"no connection could be made, or it broke off{detail}", method="POST", url=url)


_CONNECTION_TROUBLES = (
    (requests.exceptions.SSLError, "no secure connection could be made"),
    (requests.exceptions.ProxyError, "the proxy could not be reached"),
    (requests.exceptions.ChunkedEncodingError, "the answer broke off"),
)


def _answer(response: requests.Response, url: str) -> dict[str, Any]:
    status, headers = response.status_code, response.headers
    try:
        document = json.loads(response.content)
    except (ValueError, RecursionError):
        document = None
    if 200 <= status < 300:
        if isinstance(document, dict):
            return document
        kind = headers.get("Content-Type", "no content type")
        message = f"the answer is not the JSON object expected ({kind}, {len(response.content)} bytes)"
        raise Unreadable(message, method="POST", url=url)
    moved = None
    if 300 <= status < 400:
        moved = f"the service is elsewhere: base_url should lead to {_shown(headers.get('Location', '?'))}"
    retry_after = _seconds(headers.get("Retry-After"))
    raise answer_fault(document, url=url, status=status, message=moved, retry_after=retry_after)


def _shown(location: str) -> str:
    try:
        parts = urlsplit(location)
    except ValueError:
        return "another address"
    return urlunsplit((parts.scheme, parts.netloc.rpartition("@")[2], parts.path, "", ""))


def _seconds(retry_after: str | None) -> float | None:
    """The seconds that a Retry-After header asks for, as a number or as a date; None if there is none."""
    text = (retry_after or "").strip()
    if text.isascii() and text.isdigit():
        return float(text)
    try:
        return max(0.0, parsedate_to_datetime(text).timestamp() - time())
    except (TypeError, ValueError, OverflowError):
        return None

"""Questions of the command line put to a server."""

import os
from http.client import HTTPException
from typing import Any
from urllib.error import HTTPError, URLError
from urllib.parse import quote, urlsplit
from urllib.request import HTTPRedirectHandler, Request, build_opener

from ampstead.cli.answer import Answer, Asked, NoAnswer

TIMEOUT = 30  # s
LARGEST = 2**26  # bytes
KINDS = {False: "application/json", True: "text/csv"}


class _Elsewhere(HTTPRedirectHandler):
    """A redirect is told and not followed: a key goes to the server that was named, and to no other."""

    def redirect_request(self, *_: Any, **__: Any) -> None:
        return None


def service_at(server: str) -> Asked:
    """The way to a server. Raises ``NoAnswer`` for what is no address of one."""
    try:
        parts = urlsplit(server)
        valid = parts.scheme in ("http", "https") and parts.hostname and parts.port != 0 and not parts.query
    except ValueError:
        valid = False
    if not valid:
        raise NoAnswer(f'"{server}" is no address of a server: write it like http://127.0.0.1:8080.')
    opener = build_opener(_Elsewhere)
    key = os.environ.get("AMPSTEAD_KEY", "")

    def asked(path: str, query: str, body: bytes) -> Answer:
        address = f"{server.rstrip('/')}/v1/{quote(path)}{'?' if query else ''}{query}"
        headers = {"Content-Type": KINDS[path.endswith("/batch")]} if body else {}
        if key:
            headers["Authorization"] = f"Bearer {key}"
        try:
            with opener.open(Request(address, body or None, headers), timeout=TIMEOUT) as response:
                return Answer(response.status, _whole(response))
        except HTTPError as fault:
            with fault:
                return Answer(fault.code, _whole(fault))
        except (URLError, OSError, HTTPException, ValueError) as fault:
            why = getattr(fault, "reason", None) or fault
            raise NoAnswer(f"No service answers at {server}: {getattr(why, 'strerror', None) or why}.") from None

    return asked


def _whole(response: Any) -> bytes:
    body: bytes = response.read(LARGEST + 1)
    if len(body) > LARGEST:
        raise OSError("what came is larger than any answer is")
    return body

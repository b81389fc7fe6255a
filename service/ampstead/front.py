"""What stands before Flask: addresses are tidied, and plain questions take a short way.

A plain question is put to a calculator's own address by GET or by a POST of JSON, is not large, and carries no headers
out of the ordinary. Its reply, be it an answer or a refusal, is the one that Flask's view would give, made by the same
function (``ampstead.replying.forms.reply``). All else goes through Flask.

Whoever must see every request (keys, counts, deadlines) wraps the application outside of this.
"""

import re
from collections.abc import Callable, Iterable, Mapping
from http.client import responses
from typing import Any

from ampstead.declare import Calculator, ItemType
from ampstead.replying.beyond import places
from ampstead.replying.forms import FORMS, Form, mannered, reply

Start = Callable[..., Any]
Application = Callable[[dict[str, Any], Start], Iterable[bytes]]
LONGEST_QUERY = 4096
MOST_HEADERS = 40
LONGEST_HEADER = 512
PACKED = frozenset({"HTTP_TRANSFER_ENCODING", "HTTP_CONTENT_ENCODING"})
STATUS = {status: f"{status} {phrase}" for status, phrase in responses.items()}


def routes(calculators: Mapping[str, Calculator]) -> dict[str, tuple[Calculator | ItemType, Form]]:
    """Every address of the calculators, and beyond them, with who answers there and how."""
    beyond = {f"/v1/{place}": answering for place, answering in places(calculators).items()}
    return beyond | {
        f"/v1/{calculator.name}{form.suffix}": (calculator, form)
        for calculator in calculators.values()
        for form in FORMS.values()
        if form.offered(calculator)
    }


def short_way(
    inner: Application, table: Mapping[str, tuple[Calculator | ItemType, Form]], longest_body: int
) -> Application:
    """The application with the short way before it."""

    def front(environ: dict[str, Any], start: Start) -> Iterable[bytes]:
        path = environ.get("PATH_INFO", "")
        route = table.get(path)
        if route is None and ("//" in path or path.endswith("/") or path == "/v1"):
            path = environ["PATH_INFO"] = tidied(path)
            route = table.get(path)
        query, method = environ.get("QUERY_STRING", ""), environ["REQUEST_METHOD"]
        if route is None or len(query) > LONGEST_QUERY or not query.isascii() or _laden(environ):
            return inner(environ, start)
        kind, body = "", b""
        if method == "POST":
            kind, read = environ.get("CONTENT_TYPE", ""), small_body(environ, longest_body)
            if read is None:
                return inner(environ, start)
            body = read
        elif method != "GET":
            return inner(environ, start)
        made = reply(*route, method, query, body, kind, environ.get("HTTP_ACCEPT", ""))
        status, headers, written = mannered(
            made, method, environ.get("HTTP_IF_NONE_MATCH", ""), environ.get("HTTP_ACCEPT_ENCODING", "")
        )
        length = () if status == 304 else (("Content-Length", str(len(written))),)
        start(STATUS[status], [*headers, *length])
        return [written]

    return front


def small_body(environ: Mapping[str, Any], longest: int) -> bytes | None:
    """The body of a request that says how long it is; None, and nothing read, where it is too long or comes packed."""
    length = environ.get("CONTENT_LENGTH", "")
    if not (length.isdecimal() and int(length) <= longest) or not environ.keys().isdisjoint(PACKED):
        return None
    body: bytes = environ["wsgi.input"].read(int(length))
    return body


def _laden(environ: Mapping[str, Any]) -> bool:
    """Whether a request has many headers or a long one, which Flask's limits are to judge."""
    headers = [value for name, value in environ.items() if name[:5] == "HTTP_"]
    return len(headers) > MOST_HEADERS or max(map(len, headers), default=0) > LONGEST_HEADER


def tidied(path: str) -> str:
    """An address without doubled slashes, or one at its end, but for those of ``/`` and ``/v1/``."""
    path = re.sub("/+", "/", path).removesuffix("/") or "/"
    return "/v1/" if path == "/v1" else path

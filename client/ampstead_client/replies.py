"""What an HTTP reply holds, taken from whatever it is that answers.

It is not trusted: it is read piece by piece, unzipped too, up to a deadline and to a length.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterable, Iterator
from email.utils import parsedate_to_datetime
from time import monotonic, time
from typing import Any
from urllib.parse import urlsplit, urlunsplit

import requests

from ampstead_client.errors import Unreadable, answer_fault

_PIECE = 65536
_LONGEST_WAIT = 1e9  # s


class Unexpected(Exception):
    """A success that is no answer; its text is what was expected."""


def an_object(body: bytes, kind: str) -> dict[str, Any]:
    """A body of JSON. Raises `Unexpected` where it holds no object."""
    document = _document(body)
    if not isinstance(document, dict):
        raise Unexpected("JSON object")
    return document


def received(response: requests.Response, deadline: float, most: int) -> bytes | None:
    """The body, or None where it is longer than an answer may be. Raises `TimeoutError` at the deadline."""
    length = response.headers.get("Content-Length", "")
    if length.isascii() and length.isdigit() and (len(length) > 12 or int(length) > most):
        return None
    encoding = response.headers.get("Content-Encoding", "").strip().lower()
    if encoding not in ("", "identity", "gzip", "x-gzip"):
        raise zlib.error(f"an encoding that was not asked for: {encoding}")
    pieces = _pieces(response)
    body = bytearray()
    for piece in _unzipped(pieces) if "gzip" in encoding else pieces:
        body += piece
        if len(body) > most:
            return None
        if monotonic() >= deadline:
            raise TimeoutError("timed out")
    return bytes(body)


def _pieces(response: requests.Response) -> Iterator[bytes]:
    """The body as it arrives. A session of your own may have adapters that give it whole."""
    if not hasattr(response.raw, "stream"):
        yield response.content
        return
    read = getattr(response.raw, "read1", response.raw.read)
    while piece := read(_PIECE, decode_content=False):
        yield piece


def _unzipped(pieces: Iterable[bytes]) -> Iterator[bytes]:
    """A little that is zipped may be very much: it comes out piece by piece too."""
    unzip = zlib.decompressobj(wbits=31)
    for packed in pieces:
        while packed:
            yield unzip.decompress(packed, _PIECE)
            packed = unzip.unconsumed_tail
    if not unzip.eof:
        raise zlib.error("cut short")


def success(response: requests.Response, body: bytes | None, url: str) -> tuple[bytes, str]:
    """A success's body and content type. Raises the fault of any other status."""
    status, headers = response.status_code, response.headers
    if 200 <= status < 300:
        if body is None:
            raise Unreadable("the answer is larger than any answer is", method="POST", url=url)
        return body, headers.get("Content-Type", "no content type")[:60]
    moved = None
    if 300 <= status < 400:
        moved = f"the service is elsewhere: base_url should lead to {_shown(headers.get('Location', '?'))}"
    retry_after = _seconds(headers.get("Retry-After"))
    raise answer_fault(_document(body), url=url, status=status, message=moved, retry_after=retry_after)


def _document(body: bytes | None) -> Any:
    """What a body of JSON holds, or None."""
    try:
        return json.loads(body or b"", parse_constant=_no_number)
    except (ValueError, RecursionError):
        return None


def _no_number(text: str) -> None:
    raise ValueError(f"{text} is no JSON")


def _shown(location: str) -> str:
    try:
        parts = urlsplit(location)
    except ValueError:
        return "another address"
    return urlunsplit((parts.scheme, parts.netloc.rpartition("@")[2], parts.path, "", ""))[:200]


def _seconds(retry_after: str | None) -> float | None:
    """The seconds that a Retry-After header asks for, as a number or as a date; None if there is none."""
    text = (retry_after or "").strip()
    if text.isascii() and text.isdigit():
        return min(float(text), _LONGEST_WAIT)
    try:
        return max(0.0, parsedate_to_datetime(text).timestamp() - time())
    except (TypeError, ValueError, OverflowError):
        return None

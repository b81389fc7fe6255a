"""How pages and what they are made of are sent: headers, looks, codes that lead a camera to a page."""

import os
from collections.abc import Mapping
from functools import lru_cache
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from typing import Any

from flask import Response, request

from ampstead.errors import Problem

ASSETS = Path(__file__).parent / "assets"
KINDS = {
    "page.css": "text/css",
    "card.css": "text/css",
    "card-a4.css": "text/css",
    "page.js": "text/javascript",
    "packs.js": "text/javascript",
    "icon.svg": "image/svg+xml",
}
POLICY = (
    "default-src 'none'; img-src 'self'; style-src 'self'; script-src 'self'; connect-src 'self'; worker-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
FRAGMENT = "X-Page-Part"
"""The header by which the page's own script asks: then a refusal is no fault, since a person is still typing."""
YEAR = 31_536_000


def code(page: str, told: str) -> Response:
    """A code that leads a camera to a page, with a question."""
    import segno

    whole = f"{base()}/{page}"
    try:
        made = segno.make(f"{whole}?{told}" if told else whole, micro=False, error="m", boost_error=False)
    except segno.DataOverflowError:
        raise Problem(414, "The question is too long for a code that a camera can read.") from None
    drawn = BytesIO()
    made.save(drawn, kind="svg", scale=4, border=4, dark="#000000", light="#ffffff", xmldecl=False, title="QR code")
    return Response(drawn.getvalue(), content_type="image/svg+xml; charset=utf-8")


def base() -> str:
    """Where this service is, as others reach it."""
    if public := os.environ.get("AMPSTEAD_PUBLIC_URL", "").strip():
        return public.rstrip("/")
    return _base(request.scheme, request.host, request.root_path)


@lru_cache(maxsize=64)
def _base(scheme: str, host: str, root: str) -> str:
    """As worked out from a request that came by these."""
    return request.url_root.rstrip("/")


def html(template: str, status: int = 200, **told: Any) -> Response:
    from ampstead.pages import written
    from ampstead.replying.answers import service_version

    return Response(
        written.page(template, root=request.script_root, stamp=_stamp(), version=service_version(), **told),
        status,
        {"Content-Security-Policy": POLICY, "Referrer-Policy": "no-referrer", "Cache-Control": "no-cache"},
        content_type="text/html; charset=utf-8",
    )


@lru_cache(maxsize=8)
def asset(name: str) -> bytes:
    """A file that pages need; the style begins with the table of colours."""
    if name == "card-a4.css":
        return (
            asset("card.css")
            .replace(b"size:105mm 148mm", b"size:210mm 297mm")
            .replace(b"min-height:147mm", b"min-height:148mm")
        )
    written = (ASSETS / name).read_bytes()
    if name != "page.css":
        return written
    return f"{colours()}\n".encode() + written


def colours() -> str:
    """The table of colours at the head of a style, in daylight and in the dark."""
    from ampstead.replying.colours import PAGE_DARK, PAGE_LIGHT

    def table(colours: Mapping[str, str]) -> str:
        return ":root{" + "".join(f"--{name}:{colour};" for name, colour in colours.items()) + "}"

    return f"{table(PAGE_LIGHT)}@media screen{{@media (prefers-color-scheme:dark){{{table(PAGE_DARK)}}}}}"


@lru_cache(maxsize=1)
def _stamp() -> str:
    """What changes with the looks, so that nobody sees old ones."""
    return sha256(b"".join(asset(name) for name in KINDS)).hexdigest()[:10]


def file(name: str) -> Response:
    kept = f"public, max-age={YEAR}, immutable" if request.args.get("v") == _stamp() else "no-cache"
    return Response(asset(name), content_type=f"{KINDS[name]}; charset=utf-8", headers={"Cache-Control": kept})


def keeper() -> Response:
    """The script that keeps what was visited; at the root, since it keeps nothing outside the folder it stands in."""
    headers = {"Cache-Control": "no-cache", "Content-Security-Policy": POLICY}
    return Response(asset("sw.js"), content_type="text/javascript; charset=utf-8", headers=headers)

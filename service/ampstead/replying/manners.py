"""Manners of HTTP that every reply keeps: who may read it in a browser, how long it keeps, its tag, its compression.

Answers are pure, so that a reply to GET carries a tag of its content, and a caller who has it already is told so by
304. Pages of any origin may ask, since answers hold nothing of anybody; the operator closes that by AMPSTEAD_CORS.
"""

import os
import re
import zlib
from collections.abc import Mapping
from functools import cache, lru_cache
from hashlib import sha256

Headers = tuple[tuple[str, str], ...]

SETTING = "AMPSTEAD_CORS"
KEEPS = "max-age=300"
"""Seconds for which an answer need not be asked for anew: a new version of the service corrects it soon after."""
SMALLEST = 1024
"""Bytes up to which compression is not worth its time."""
QUICKLY, WELL = 1, 9
"""Levels of compression: of an answer made for one caller, and of a document made once for all."""
PREFLIGHT_KEEPS = 86400
_ORIGIN = re.compile(r"https?://[A-Za-z0-9.:\[\]-]+")
_TAG_DIGITS = 24


def allowed_origin(environ: Mapping[str, str]) -> str | None:
    """The origin whose pages may ask: every one (``*``) if nothing is set, or the one that is; None if set to off.

    Raises
    ------
    ValueError
        If it is set to anything else.
    """
    told = environ.get(SETTING, "").strip() or "*"
    if told.lower() == "off":
        return None
    if told == "*" or _ORIGIN.fullmatch(told):
        return told
    raise ValueError(f'{SETTING} must be *, off or one origin such as https://club.example, and "{told}" was read.')


@cache
def of_every_reply() -> Headers:
    """Headers of every reply, be it an answer or an error; the environment is read once."""
    origin = allowed_origin(os.environ)
    shown = "ETag, Link, Retry-After, X-Request-ID, Deprecation, Sunset"
    told = (("Access-Control-Allow-Origin", origin), ("Access-Control-Expose-Headers", shown)) if origin else ()
    return (*told, ("Link", '</openapi.json>; rel="service-desc"'), ("Vary", "Accept, Accept-Encoding"))


def preflight(allow: str) -> dict[str, str]:
    """What a browser is told that asks beforehand whether it may ask."""
    if not any(name == "Access-Control-Allow-Origin" for name, _ in of_every_reply()):
        return {}
    return {
        "Access-Control-Allow-Methods": allow,
        "Access-Control-Allow-Headers": "Accept, Authorization, Content-Type, If-None-Match, X-Request-ID",
        "Access-Control-Max-Age": str(PREFLIGHT_KEEPS),
    }


def tag(body: bytes) -> str:
    """The tag of a reply's content; weak, since the same content goes compressed and plain."""
    return f'W/"{sha256(body).hexdigest()[:_TAG_DIGITS]}"'


def known(tagged: str, had: str) -> bool:
    """Whether a caller has this content already, by its If-None-Match."""
    return had.strip() == "*" or tagged.removeprefix("W/") in (
        each.strip().removeprefix("W/") for each in had.split(",")
    )


@lru_cache(maxsize=256)
def takes_gzip(accepted: str) -> bool:
    """Whether a caller takes gzip, by its Accept-Encoding."""
    from werkzeug.datastructures import Accept
    from werkzeug.http import parse_accept_header

    return parse_accept_header(accepted, Accept)["gzip"] > 0


def shrinks(media: str, size: int) -> bool:
    """Whether a reply of a media type and size is worth compressing."""
    return size > SMALLEST and not media.startswith("image/png")


def gzipped(body: bytes, level: int = QUICKLY) -> bytes:
    """A body as gzip, the same for the same body."""
    made = zlib.compressobj(level, zlib.DEFLATED, 16 + zlib.MAX_WBITS, 9)
    return made.compress(body) + made.flush()

"""Every setting of the server, read and checked once before it starts."""

import os
import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from urllib.parse import urlsplit

from ampstead.replying.manners import allowed_origin

MOST_WORKERS = 4
"""By default: what the memory and the processes that docker/compose.yaml allows are enough for."""
LIMIT = "6000 per minute"
"""By default, for each address: fifty people behind one address may each ask two questions a second."""
LIMITED = re.compile(r"\s*([1-9][0-9]{0,8})\s*(?:/|per)\s*(second|minute|hour|day)\s*", re.IGNORECASE)
PUBLIC = re.compile(r"https?://[A-Za-z0-9.:\[\]-]+")
STORES = ("redis", "rediss")
ACCESS_LOGS = ("off", "paths", "queries")
MOST_HOPS = 8
PREFIX = "AMPSTEAD_"
NAMES = ("WORKERS", "KEYS_FILE", "LIMIT", "LIMIT_STORE", "TRUSTED_HOPS", "PUBLIC_URL", "CORS", "ACCESS_LOG")


class NotServed(Exception):
    """Why the server cannot start, and the cure, in one sentence."""


@dataclass(frozen=True)
class Settings:
    """What the operator has set, by the names of the environment."""

    host: str = "127.0.0.1"
    port: int = 8080
    workers: int = 1
    keys_file: Path | None = None
    limit: str | None = None
    """Requests of one client per time; None where nothing is set: then the default, but for this machine's own."""
    limit_store: str | None = None
    hops: int = 0
    """How many proxies in a row are to be believed."""
    public_url: str | None = None
    access_log: str = "paths"

    @classmethod
    def of(cls, environ: Mapping[str, str], host: str | None = None, port: str | None = None) -> "Settings":
        """The settings of an environment; an argument goes before it.

        Raises
        ------
        NotServed
            For the first setting that is wrong.
        """

        _spelt(environ)
        try:
            allowed_origin(environ)
        except ValueError as fault:
            raise NotServed(str(fault)) from None

        def set_to(name: str) -> str:
            return environ.get(name, "").strip()

        return cls(
            host=host or set_to("HOST") or cls.host,
            port=whole_number("PORT", port or set_to("PORT") or str(cls.port), 0, 65535),
            workers=whole_number("AMPSTEAD_WORKERS", set_to("AMPSTEAD_WORKERS") or str(cores()), 1, 256),
            keys_file=Path(set_to("AMPSTEAD_KEYS_FILE")) if set_to("AMPSTEAD_KEYS_FILE") else None,
            limit=_limit(set_to("AMPSTEAD_LIMIT")),
            limit_store=_store(set_to("AMPSTEAD_LIMIT_STORE")),
            hops=whole_number("AMPSTEAD_TRUSTED_HOPS", set_to("AMPSTEAD_TRUSTED_HOPS") or "0", 0, MOST_HOPS),
            public_url=_public(set_to("AMPSTEAD_PUBLIC_URL")),
            access_log=_one_of("AMPSTEAD_ACCESS_LOG", set_to("AMPSTEAD_ACCESS_LOG") or cls.access_log, ACCESS_LOGS),
        )


def whole_number(name: str, text: str, least: int, most: int) -> int:
    """A setting that is a whole number within bounds."""
    read = int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else -1
    if not least <= read <= most:
        raise NotServed(f'{name} must be a whole number from {least} to {most}, and "{text}" was read: set it anew.')
    return read


def cores() -> int:
    """The cores that this process may use, as far as workers are worth it."""
    allowed = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    with suppress(OSError, ValueError), open("/sys/fs/cgroup/cpu.max", encoding="ascii") as limit:
        share, period = limit.read().split()
        allowed = min(allowed, -(-int(share) // int(period)))
    return max(1, min(allowed, MOST_WORKERS))


def _spelt(environ: Mapping[str, str]) -> None:
    """No setting is misspelt: one that asks for a key would be dropped unseen. What a cluster sets is far from ours."""
    for name in sorted(environ):
        word = name.removeprefix(PREFIX)
        if word != name and word not in NAMES and (close := get_close_matches(word, NAMES, n=1)):
            raise NotServed(
                f"{name} is no setting; did you mean {PREFIX}{close[0]}? Set that one, and take this one out."
            )


def _one_of(name: str, text: str, known: tuple[str, ...]) -> str:
    if text not in known:
        raise NotServed(f'{name} must be one of {", ".join(known)}, and "{text}" was read: set it anew.')
    return text


def _limit(text: str) -> str | None:
    if not text or text == "off":
        return text or None
    read = LIMITED.fullmatch(text)
    if read is None:
        raise NotServed(f'AMPSTEAD_LIMIT is written like "{LIMIT}", or off, and "{text}" was read: set it anew.')
    return f"{read[1]} per {read[2].lower()}"


def _store(text: str) -> str | None:
    # What was read may hold a password, and is not repeated.
    if text and urlsplit(text).scheme not in STORES:
        raise NotServed("AMPSTEAD_LIMIT_STORE must be an address like redis://store:6379/0: set it anew.")
    return text or None


def _public(text: str) -> str | None:
    if not text:
        return None
    whole = text.rstrip("/")
    with suppress(ValueError):
        read = urlsplit(whole)
        plain = PUBLIC.fullmatch(whole) is not None and read.hostname and read.port != 0
        if plain and whole == f"{read.scheme}://{read.netloc}":
            return whole
    raise NotServed(
        f'AMPSTEAD_PUBLIC_URL is written like "https://packs.example.org", and "{text}" was read: set it anew.'
    )

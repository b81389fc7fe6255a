"""Who asks: the client's address behind proxies, its key, and how much it may ask."""

import hmac
import logging
import math
import time
from collections.abc import Mapping
from hashlib import sha256
from ipaddress import IPv6Address, ip_address, ip_network
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import limits

from ampstead.errors import Problem
from ampstead.server.settings import LIMIT, NotServed, Settings
from ampstead.server.tally import Tally

LOOKED_AFTER = 1.0
"""Seconds from one look at the file of keys to the next."""
PATIENCE = 0.25
"""Seconds that the store of limits may take; without its answer a question is let through."""
LEFT_ALONE = 5.0
"""Seconds that a store is not asked after it failed, so that not every question waits for it."""
OPEN_TO_ALL = ("/healthz", "/readyz")
"""Addresses that need no key and count against no limit, since a supervisor asks there again and again."""
NETWORK = 64
"""Bits of an IPv6 address that belong to one client: every household is given at least that much."""

log = logging.getLogger("ampstead.guard")


class Keys:
    """The keys that are accepted: a line each, the key first and, behind a blank, whatever else one wants to note.

    Empty lines and those that begin with ``#`` say nothing. The file is read again when it has changed; while it
    cannot be read, the keys last read stay in force.
    """

    def __init__(self, file: Path) -> None:
        self.file = file
        self.told = False
        self.looked = time.monotonic()
        try:
            self.seen = self._state()
            self.digests = self._read()
        except (OSError, UnicodeDecodeError) as fault:
            raise NotServed(
                f"AMPSTEAD_KEYS_FILE {file} cannot be read ({_why(fault)}): name a file of keys, one a line."
            ) from None
        if not self.digests:
            raise NotServed(f"AMPSTEAD_KEYS_FILE {file} holds no key: write one a line, or leave the setting out.")

    def known(self, key: str) -> bool:
        """Whether a key is accepted; how long this takes tells nothing of the keys there are."""
        self._look()
        asked, found = sha256(key.encode()).digest(), False
        for digest in self.digests:
            found |= hmac.compare_digest(asked, digest)
        return found

    def _state(self) -> tuple[int, int, int]:
        now = self.file.stat()
        return now.st_mtime_ns, now.st_size, now.st_ino

    def _read(self) -> tuple[bytes, ...]:
        lines = (line.split() for line in self.file.read_text(encoding="utf-8-sig").splitlines())
        return tuple(sha256(words[0].encode()).digest() for words in lines if words and not words[0].startswith("#"))

    def _look(self) -> None:
        now = time.monotonic()
        if now - self.looked < LOOKED_AFTER:
            return
        self.looked = now
        try:
            state = self._state()
            if state != self.seen or self.told:
                self.digests, self.seen, self.told = self._read(), state, False
        except (OSError, UnicodeDecodeError) as fault:
            if not self.told:
                log.error("the file of keys cannot be read (%s); those last read stay in force", _why(fault))
            self.told = True


def _why(fault: OSError | UnicodeDecodeError) -> str:
    return fault.strerror or "unknown" if isinstance(fault, OSError) else "it is not text"


def plain(address: str) -> str:
    """An address as it is counted and logged: IPv4 within IPv6 is itself, and no name of a network card stands behind.

    Raises
    ------
    ValueError
        If it is no address.
    """
    read = ip_address(address)
    if isinstance(read, IPv6Address):
        return str(read.ipv4_mapped or IPv6Address(int(read)))
    return str(read)


class Guard:
    """What a question must pass before anything is worked out."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.hops = settings.hops
        self.public = urlsplit(settings.public_url) if settings.public_url else None
        self.keys = Keys(settings.keys_file) if settings.keys_file else None
        self.spares_this_machine = settings.limit is None
        self.limit = None if settings.limit == "off" else limits.parse(settings.limit or LIMIT)
        self.store = settings.limit_store
        self.gone = -math.inf
        self.here = limits.strategies.FixedWindowRateLimiter(Tally()) if self.limit and not self.store else None
        self.elsewhere: limits.aio.strategies.FixedWindowRateLimiter | None = None
        if self.limit and self.store:
            try:
                import redis  # noqa: F401
            except ImportError:
                raise NotServed(
                    'AMPSTEAD_LIMIT_STORE needs the package redis: install it, as in  pip install "ampstead[redis]".'
                ) from None

    def client(self, environ: Mapping[str, Any]) -> str:
        """The address of who asks: that of the connection, or the one that the outermost trusted proxy tells."""
        if self.hops:
            told = str(environ.get("HTTP_X_FORWARDED_FOR", "")).split(",")
            named = told[-self.hops].strip() if len(told) >= self.hops else ""
            try:
                return plain(named)
            except ValueError:
                pass
        address = str(environ["REMOTE_ADDR"])
        return plain(address) if ":" in address else address

    def place(self, environ: Mapping[str, Any]) -> tuple[str, str]:
        """The scheme and the host under which the service is reached, never those that a stranger claims."""
        if self.public:
            return self.public.scheme, self.public.netloc
        scheme, host = str(environ["wsgi.url_scheme"]), str(environ["SERVER_NAME"])
        if self.hops:
            claimed = str(environ.get("HTTP_X_FORWARDED_PROTO", "")).rpartition(",")[2].strip()
            scheme = claimed if claimed in ("http", "https") else scheme
            named = str(environ.get("HTTP_X_FORWARDED_HOST", "")).rpartition(",")[2].strip()
            if named and named.isascii() and not set(named) - ALLOWED_IN_HOST:
                return scheme, named
        host = f"[{host}]" if ":" in host else host
        return scheme, f"{host}:{environ['SERVER_PORT']}"

    async def passed(self, path: str, client: str, environ: Mapping[str, Any]) -> None:
        """Let a question through.

        Raises
        ------
        Problem
            401 without an accepted key where one is needed, 429 where a client has asked more than it may.
        """
        asks_whether = environ.get("REQUEST_METHOD") == "OPTIONS" and "HTTP_ACCESS_CONTROL_REQUEST_METHOD" in environ
        if path in OPEN_TO_ALL or asks_whether:  # a browser sends no key when it asks whether it may ask
            return
        if self.limit and not (self.spares_this_machine and client in ("127.0.0.1", "::1")):
            wait = await self._wait(client)
            if wait:
                most = f"{self.limit.amount} requests per {self.limit.GRANULARITY.name}"
                raise Problem(429, f"That is more than {most}: ask again later.", {"Retry-After": str(wait)})
        if self.keys:
            scheme, _, key = str(environ.get("HTTP_AUTHORIZATION", "")).partition(" ")
            if scheme.lower() != "bearer" or not key.strip():
                said = 'A key is needed here: send it as "Authorization: Bearer <key>".'
                raise Problem(401, said, {"WWW-Authenticate": 'Bearer realm="ampstead"'})
            if not self.keys.known(key.strip()):
                told = {"WWW-Authenticate": 'Bearer realm="ampstead", error="invalid_token"'}
                raise Problem(401, "This key is not known here.", told)

    async def _wait(self, client: str) -> int:
        """Seconds that a client has to wait; 0 if it need not."""
        assert self.limit is not None
        whose = str(ip_network(f"{client}/{NETWORK}", strict=False)) if ":" in client else client
        if self.here:
            if self.here.hit(self.limit, whose):
                return 0
            return _seconds_to(self.here.get_window_stats(self.limit, whose).reset_time)
        if time.monotonic() < self.gone + LEFT_ALONE:
            return 0
        try:
            if self.elsewhere is None:
                kept = limits.aio.storage.RedisStorage(
                    f"async+{self.store}",
                    implementation="redispy",
                    socket_timeout=PATIENCE,
                    socket_connect_timeout=PATIENCE,
                )
                self.elsewhere = limits.aio.strategies.FixedWindowRateLimiter(kept)
            if await self.elsewhere.hit(self.limit, whose):
                return 0
            return _seconds_to((await self.elsewhere.get_window_stats(self.limit, whose)).reset_time)
        except Exception as fault:
            # A store that is gone must not take the service with it.
            self.gone = time.monotonic()
            log.error("the store of limits does not answer (%s); nobody is limited meanwhile", type(fault).__name__)
            return 0


ALLOWED_IN_HOST = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-:[]")


def _seconds_to(moment: float) -> int:
    return max(1, math.ceil(moment - time.time()))

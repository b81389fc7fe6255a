"""The production server: gunicorn's workers, one a core, each running uvicorn behind a guard.

The address and port come from ``HOST`` and ``PORT`` (127.0.0.1 and 8080 by default), the number of workers from
``AMPSTEAD_WORKERS``. SIGTERM and SIGINT end the server after the questions in hand are answered; a worker that dies is
replaced, and each is replaced by itself after some tens of thousands of requests.

This process binds the address and loads the service once; the workers are copies of it.
"""

import errno
import logging.config
import os
import signal
import socket
import sys
from collections.abc import Callable
from contextlib import suppress
from typing import Any

from ampstead.server.workers import Workers

MOST_WORKERS = 4
"""By default: what the memory and the processes that docker/compose.yaml allows are enough for."""
BACKLOG = 1024

ADDRESSES = "use 127.0.0.1 for this machine alone, or 0.0.0.0 for its network"

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "%(asctime)s %(levelname)s %(name)s: %(message)s"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "plain"}},
    "root": {"handlers": ["stderr"], "level": "INFO"},
    "loggers": {"ampstead.wire": {"level": "ERROR"}, "uvicorn.error": {"level": "WARNING"}},
}


class NotServed(Exception):
    """Why the server cannot start, and the cure, in one sentence."""


def serve(host: str | None = None, port: str | None = None, application: Callable[[], Any] | None = None) -> None:
    """Serve until told to stop; prints three addresses to try.

    Raises
    ------
    NotServed
        If the address, the port or the number of workers cannot be had.
    """
    host = host or os.environ.get("HOST") or "127.0.0.1"
    asked = whole_number("PORT", port or os.environ.get("PORT") or "8080", 0, 65535)
    workers = whole_number("AMPSTEAD_WORKERS", os.environ.get("AMPSTEAD_WORKERS") or str(cores()), 1, 256)
    listening = bound(host, asked)
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(0))
    taken = listening[0].getsockname()[1]
    # A thread of linear algebra for each core in each worker would be memory for nothing: the systems are small.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    logging.config.dictConfig(LOGGING)
    shown = {"0.0.0.0": "127.0.0.1", "::": "127.0.0.1"}.get(host, host)
    base = f"http://[{shown}]:{taken}" if ":" in shown else f"http://{shown}:{taken}"
    print(f"Ampstead serves on {host}, port {taken}. Try:", flush=True)
    print(f"  {base}/v1/wattage.txt?cells=3&capacity=2250mAh&available_power=25W", flush=True)
    print(f"  {base}/v1/", flush=True)
    print(f"  {base}/openapi.json", flush=True)
    Workers(workers, listening, application or _loaded).run()


def _loaded() -> Any:
    # Not above: a server that cannot start says so at once.
    from ampstead.server.gate import application

    return application()


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


def bound(host: str, port: int) -> list[socket.socket]:
    """Sockets that listen on every address of a host name, all on one port."""
    try:
        found = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, proto=socket.IPPROTO_TCP, flags=socket.AI_PASSIVE
        )
    except (OSError, UnicodeError):
        raise NotServed(f'HOST "{host}" cannot be found: {ADDRESSES}.') from None
    listening: list[socket.socket] = []
    refused: OSError | None = None
    for family, kind, protocol, _, (at, *_) in found:
        one = socket.socket(family, kind, protocol)
        one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if family == socket.AF_INET6:
            one.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, at != "::")
        try:
            one.bind((at, listening[0].getsockname()[1] if listening else port))
            one.listen(BACKLOG)
        except OSError as fault:
            one.close()
            refused = fault
        else:
            listening.append(one)
    if listening and (refused is None or refused.errno in (errno.EADDRNOTAVAIL, errno.EAFNOSUPPORT)):
        return listening
    for one in listening:
        one.close()
    assert refused is not None
    raise NotServed(_why(refused, host, port))


def _why(fault: OSError, host: str, port: int) -> str:
    match fault.errno:
        case errno.EADDRINUSE:
            other = port % 65535 + 1
            return f"Port {port} of {host} is taken: stop what serves there, or choose another, as in PORT={other}."
        case errno.EACCES:
            return f"Port {port} may not be used by this user: choose one from 1024 on, as in PORT=8080."
        case errno.EADDRNOTAVAIL:
            return f'HOST "{host}" is no address of this machine: {ADDRESSES}.'
    return f"Port {port} of {host} cannot be served: {fault.strerror or fault}."

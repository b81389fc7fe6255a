"""The production server: gunicorn's workers, one a core, each running uvicorn behind a guard.

``settings.py`` holds every setting. SIGTERM and SIGINT end the server after the questions in hand are answered; a
worker that dies is replaced, and each is replaced by itself after some tens of thousands of requests.

This process binds the address and loads the service once; the workers are copies of it.
"""

import errno
import logging.config
import os
import signal
import socket
import sys
from collections.abc import Callable
from typing import Any

from ampstead.server.guard import Guard
from ampstead.server.seen import LOGGING
from ampstead.server.settings import NotServed, Settings
from ampstead.server.workers import Workers

__all__ = ["NotServed", "serve"]

BACKLOG = 1024

ADDRESSES = "use 127.0.0.1 for this machine alone, or 0.0.0.0 for its network"


def serve(host: str | None = None, port: str | None = None, application: Callable[[Guard], Any] | None = None) -> None:
    """Serve until told to stop; prints three addresses to try.

    Raises
    ------
    NotServed
        If a setting is wrong, or the address or the port cannot be had.
    """
    settings = Settings.of(os.environ, host, port)
    guard, host = Guard(settings), settings.host
    listening = bound(host, settings.port)
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(0))
    taken = listening[0].getsockname()[1]
    # A thread of linear algebra for each core in each worker would be memory for nothing: the systems are small.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    logging.captureWarnings(True)
    logging.config.dictConfig(LOGGING)
    shown = {"0.0.0.0": "127.0.0.1", "::": "127.0.0.1"}.get(host, host)
    base = f"http://[{shown}]:{taken}" if ":" in shown else f"http://{shown}:{taken}"
    print(f"Ampstead serves on {host}, port {taken}. Try:", flush=True)
    print(f"  {base}/v1/wattage.txt?cells=3&capacity=2250mAh&available_power=25W", flush=True)
    print(f"  {base}/", flush=True)
    print(f"  {base}/openapi.json", flush=True)
    Workers(settings.workers, listening, lambda: (application or _loaded)(guard)).run()


def _loaded(guard: Guard) -> Any:
    # Not above: a server that cannot start says so at once.
    from ampstead.server.gate import application

    return application(guard)


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

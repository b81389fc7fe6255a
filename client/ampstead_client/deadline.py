"""Connections of which a whole answer, its headers included, ends by a deadline.

A socket's timeout starts anew with each piece that arrives, so that a byte now and then would hold a caller for ever.
Here the time that is left is set anew before each piece.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from http.client import HTTPResponse
from socket import SocketIO, socket
from time import monotonic
from typing import Any

from requests.adapters import HTTPAdapter
from urllib3.connection import HTTPConnection, HTTPSConnection
from urllib3.connectionpool import HTTPConnectionPool, HTTPSConnectionPool

THREADS = 32
"""Connections kept at the ready; as many as the threads of Python's own pools."""


class DeadlineAdapter(HTTPAdapter):
    """requests' own adapter, its timeout for reading being that of the whole answer."""

    def __init__(self) -> None:
        super().__init__(pool_maxsize=THREADS)

    def init_poolmanager(self, *settings: Any, **more: Any) -> None:
        super().init_poolmanager(*settings, **more)
        self.poolmanager.pool_classes_by_scheme = _POOLS

    def proxy_manager_for(self, proxy: str, **settings: Any) -> Any:
        manager = super().proxy_manager_for(proxy, **settings)
        if not proxy.lower().startswith("socks"):  # its pools are its own
            manager.pool_classes_by_scheme = _POOLS
        return manager


class _Reader(io.RawIOBase):
    def __init__(self, inner: SocketIO, sock: socket, deadline: float) -> None:
        self._inner, self._sock, self._deadline = inner, sock, deadline

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int | None:
        left = self._deadline - monotonic()
        if left <= 0:
            raise TimeoutError("timed out")
        self._sock.settimeout(left)
        return self._inner.readinto(buffer)

    def close(self) -> None:
        self._inner.close()
        super().close()


class _Deadlined:
    """What `http.client` takes for a socket: it asks for a file to read from, and for nothing else."""

    def __init__(self, sock: socket, deadline: float) -> None:
        self._sock, self._deadline = sock, deadline

    def makefile(self, mode: str) -> io.BufferedReader:
        inner = self._sock.makefile(mode, buffering=0)  # type: ignore[call-overload]
        return io.BufferedReader(_Reader(inner, self._sock, self._deadline))


def _answering(timeout: float | None) -> Callable[..., HTTPResponse]:
    deadline = monotonic() + (3600.0 if timeout is None else timeout)

    def response(sock: socket, *settings: Any, **more: Any) -> HTTPResponse:
        return HTTPResponse(_Deadlined(sock, deadline), *settings, **more)  # type: ignore[arg-type]

    return response


class _Connection(HTTPConnection):
    def getresponse(self) -> Any:
        self.response_class = _answering(self.timeout)  # type: ignore[assignment]
        return super().getresponse()


class _SecureConnection(HTTPSConnection):
    def getresponse(self) -> Any:
        self.response_class = _answering(self.timeout)  # type: ignore[assignment]
        return super().getresponse()


class _Pool(HTTPConnectionPool):
    ConnectionCls = _Connection


class _SecurePool(HTTPSConnectionPool):
    ConnectionCls = _SecureConnection


_POOLS = {"http": _Pool, "https": _SecurePool}

"""The processes that serve: gunicorn makes, watches, recycles and replaces them; each runs uvicorn.

They are copies of one process that has loaded everything, so that they share its memory and start in milliseconds.
"""

import ctypes
import gc
import logging
import os
import signal
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from socket import socket
from typing import Any

from gunicorn.app.base import BaseApplication
from gunicorn.glogging import Logger
from uvicorn_worker import UvicornWorker

RECYCLED = 50_000
"""Requests after which a worker is replaced, and a fifth more or less, so that not all are at once."""
STUCK = 30
"""Seconds without a sign of life after which a worker is replaced; a busy one gives them late, never that late."""
DRAIN = 6
"""Seconds for the questions in hand when a worker stops; the longest answer ends before."""
IN_MEMORY = Path("/dev/shm")
"""Where signs of life are kept, where a system has it: no disk that is slow, full or read-only can stop them."""
ALLOCATION = {"M_ARENA_MAX": (-8, 1), "M_MMAP_THRESHOLD": (-3, 128 * 1024), "M_TRIM_THRESHOLD": (-1, 256 * 1024)}
"""Numbers of glibc's settings, and what they are set to: memory that is free goes back to the system. Left alone, glibc
keeps a heap for each thread that ever needed much, and takes larger pieces from it the larger those have been."""


class Worker(UvicornWorker):  # type: ignore[misc]  # gunicorn ships no types
    """A process of uvicorn's, with this service's guard at each connection."""

    CONFIG_KWARGS = {  # noqa: RUF012  # as the class above has it
        "http": "ampstead.server.wire:Wire",
        "ws": "none",
        "lifespan": "off",
        "interface": "asgi3",
        "access_log": False,
        "proxy_headers": False,
        "server_header": False,
        "timeout_graceful_shutdown": DRAIN,
        "timeout_notify": 1,
    }

    async def callback_notify(self) -> None:
        """Give a sign of life; stop where the process is gone that would replace or stop this one."""
        await super().callback_notify()
        if os.getppid() != self.ppid:
            signal.raise_signal(signal.SIGTERM)


class Log(Logger):  # type: ignore[misc]  # gunicorn ships no types
    """gunicorn's own lines, in the form of all others."""

    def setup(self, cfg: Any) -> None:
        """Hand over what gunicorn logs, and uvicorn with it, to the handlers of everything else."""
        super().setup(cfg)
        self.error_log.handlers[:] = logging.getLogger().handlers


class Workers(BaseApplication):  # type: ignore[misc]  # gunicorn ships no types
    """Some workers on sockets that listen already."""

    def __init__(self, number: int, listening: Sequence[socket], application: Callable[[], Any]) -> None:
        self.number = number
        self.listening = listening
        self.application = application
        super().__init__()

    def load_config(self) -> None:
        """Settings as gunicorn names them."""
        settings = {
            "bind": [f"fd://{each.fileno()}" for each in self.listening],
            "workers": self.number,
            "worker_class": Worker,
            "preload_app": True,
            "max_requests": RECYCLED - RECYCLED // 5,
            "max_requests_jitter": 2 * (RECYCLED // 5),
            "timeout": STUCK,
            "graceful_timeout": DRAIN + 2,
            "worker_tmp_dir": str(IN_MEMORY) if IN_MEMORY.is_dir() else None,
            "control_socket_disable": True,
            "loglevel": "warning",
            "logger_class": Log,
            "pre_fork": self._is_to_come,
            "post_fork": self._has_come,
            "worker_exit": self._goes,
            "child_exit": self._has_gone,
        }
        for name, value in settings.items():
            self.cfg.set(name, value)

    def load(self) -> Any:
        """What every worker serves, loaded once."""
        import ampstead.server.wire  # noqa: F401  # by name only in the workers: here, so that they share it

        with suppress(OSError, AttributeError):  # not every C library has this
            for setting, value in ALLOCATION.values():
                ctypes.CDLL(None).mallopt(setting, value)
        self.served = application = self.application()
        gc.collect()
        gc.freeze()  # the collector would write to pages that the workers share
        with suppress(OSError, AttributeError):
            # Memory that loading needed, and serving does not.
            ctypes.CDLL(None).malloc_trim(0)
        return application

    # gunicorn tells functions apart by how many arguments they name.

    def _is_to_come(self, arbiter: Any, worker: Any) -> None:
        worker.place = self.served.counts.place_for(worker)

    def _has_come(self, arbiter: Any, worker: Any) -> None:
        self.served.counts.settle(worker.place)

    def _goes(self, arbiter: Any, worker: Any) -> None:
        self.served.access.end()

    def _has_gone(self, arbiter: Any, worker: Any) -> None:
        self.served.counts.left(worker)

"""The processes that serve: made by copying one that has loaded everything, watched, and replaced.

A copy shares the memory of what was loaded and starts in milliseconds, so that a worker may be replaced at any time.
"""

import gc
import logging
import mmap
import os
import signal
import struct
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from types import FrameType

BEAT = 1
"""Seconds between a worker's signs of life."""
SILENT = 30.0
"""Seconds without one after which it is taken for stuck; a busy one gives them late, never that late."""
LOOKED_AFTER = 0.1
PAUSE = 1.0
"""Seconds from one start of a worker to the next start of the same, where it dies at once."""

log = logging.getLogger("ampstead")


class Workers:
    """Some workers; each runs `work`, is given a sign of life to call, and is known by its place."""

    def __init__(self, number: int, work: Callable[[Callable[[], None]], None], drain: float) -> None:
        self.number = number
        self.work = work
        self.drain = drain
        self.pids: dict[int, int] = {}
        self.started: dict[int, float] = {}
        self.beats = mmap.mmap(-1, 8 * number)
        self.lifeline = os.pipe()
        self.stopping = False

    def run(self) -> None:
        """Keep the workers running until this process is told to stop, and see them end."""
        gc.freeze()  # the collector would write to pages that the copies share
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, self._stop)
        while not self.stopping:
            for place in range(self.number):
                if place not in self.pids and time.monotonic() - self.started.get(place, -PAUSE) >= PAUSE:
                    self._start(place)
            self._silent_ended()
            time.sleep(LOOKED_AFTER)
            self._buried()
        for pid in self.pids.values():
            os.kill(pid, signal.SIGTERM)
        end = time.monotonic() + self.drain
        while self.pids and time.monotonic() < end:
            time.sleep(LOOKED_AFTER / 2)
            self._buried()
        for pid in self.pids.values():
            os.kill(pid, signal.SIGKILL)

    def _stop(self, number: int, frame: FrameType | None) -> None:
        self.stopping = True

    def _start(self, place: int) -> None:
        self.started[place] = time.monotonic()
        self._beat(place)
        if pid := os.fork():
            self.pids[place] = pid
            return
        status = 1
        try:
            for number in (signal.SIGTERM, signal.SIGINT):
                signal.signal(number, signal.SIG_DFL)
            os.close(self.lifeline[1])
            threading.Thread(target=_outlived, args=(self.lifeline[0],), daemon=True).start()
            self.work(lambda: self._beat(place))
            status = 0
        except Exception:
            log.exception("a worker failed")
        finally:
            os._exit(status)

    def _beat(self, place: int) -> None:
        struct.pack_into("d", self.beats, 8 * place, time.monotonic())

    def _silent_ended(self) -> None:
        for place, pid in self.pids.items():
            if time.monotonic() - struct.unpack_from("d", self.beats, 8 * place)[0] > SILENT:
                log.error("worker %d is stuck, and ended", pid)
                os.kill(pid, signal.SIGKILL)

    def _buried(self) -> None:
        for place, pid in list(self.pids.items()):
            ended, status = os.waitpid(pid, os.WNOHANG)
            if not ended:
                continue
            del self.pids[place]
            code = os.waitstatus_to_exitcode(status)
            if not self.stopping and code not in (0, -signal.SIGTERM):
                log.error("worker %d ended with %d, and is replaced", pid, code)


def _outlived(lifeline: int) -> None:
    """Stop where the process is gone that would replace or stop this one."""
    with suppress(OSError):
        os.read(lifeline, 1)
    os.kill(os.getpid(), signal.SIGTERM)

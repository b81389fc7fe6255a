"""Threads that work out answers beside the event loop, and an end to an answer that takes too long.

A thread cannot be killed in Python. It can be sent an exception, which rises at its next step: that ends every
calculation of this service, since each is a loop of short steps. A thread that was sent one takes no further work, so
that an exception which comes too late hits nothing.

Questions of a kind that has been costly of late stand in a line of their own, and so do batches of many questions; one
thread works at each of these lines. Drawing a picture holds the interpreter for its whole length: two threads that
draw would take it in turns, and one that draws picture after picture gives way to quick questions in between.
"""

import asyncio
import ctypes
import threading
import time
from collections.abc import Callable
from queue import SimpleQueue
from typing import Any, NamedTuple

from ampstead.openapi import ANSWERED_WITHIN, BATCH_ANSWERED_WITHIN


class Line(NamedTuple):
    """Questions that stand in one line: who works at it, and how long that may take."""

    threads: int
    longest: float
    """Seconds from the question to its end, after which it is given up."""
    pressed: float
    """Seconds of work after which an answer is given up where others wait in its line."""


QUICK, COSTLY, BATCH = "quick", "costly", "batch"
LINES = {
    QUICK: Line(12, ANSWERED_WITHIN, 0.5),
    COSTLY: Line(1, ANSWERED_WITHIN, 0.5),
    BATCH: Line(1, BATCH_ANSWERED_WITHIN, 5.0),
}
COSTS = 0.01
"""Seconds of processor time from which an answer is costly."""
KNOWN = {".png": COSTLY, "/batch": BATCH}
"""Lines that need not be learned, by the ends of addresses."""
FORGOTTEN = 0.1
"""The part of a kind's remembered cost that its next answer replaces, where that is less."""
GIVES_WAY = 0.25
"""Seconds for which a costly answer waits for quick ones at most, and no longer than the last costly one took."""
COMES_ROUND = 0.005
"""Seconds in which an event loop that is not behind has taken up all that has arrived."""
LOOKED_AFTER = 0.1
"""Seconds from one look at the work in hand to the next."""
MOST_UNSENT = 32 * 1024 * 1024
"""Bytes of replies that wait for their readers, after which no batch is answered; a large one takes 15 to 30 MB."""


class TooLate(BaseException):
    """The end of an answer that took too long; no handler of errors on the way may take it for a fault."""


class _Job:
    """One call, who waits for it, and how far it is."""

    __slots__ = ("asked", "begun", "call", "cost", "ended", "finished", "future", "kind", "line", "thread")

    def __init__(self, kind: str, call: Callable[[], Any], future: asyncio.Future[Any], line: str) -> None:
        self.kind = kind
        self.call = call
        self.future = future
        self.line = line
        self.cost = 0.0
        self.asked = time.monotonic()
        self.begun = 0.0
        self.thread = 0
        self.finished = False
        self.ended = False


class Crew:
    """The threads of one process, for the event loop that makes it."""

    def __init__(self) -> None:
        self.loop = asyncio.get_running_loop()
        self.lines: dict[str, SimpleQueue[_Job]] = {line: SimpleQueue() for line in LINES}
        self.jobs: set[_Job] = set()
        self.unsent = 0
        """Bytes of replies that are on their way to who asked."""
        self.costs: dict[str, float] = {}
        """Of the costly kinds alone, so that there is no end of names to remember."""
        for line, (threads, *_) in LINES.items():
            for _ in range(threads):
                self._hired(line)
        self.loop.call_later(LOOKED_AFTER, self._look)

    async def answer(self, kind: str, call: Callable[[], Any]) -> Any:
        """What a call returns, worked out by a thread.

        Raises
        ------
        TooLate
            If it took longer than an answer may, or found no thread in that time.
        """
        job = _Job(kind, call, self.loop.create_future(), self._line(kind))
        self.jobs.add(job)
        self.lines[job.line].put(job)
        try:
            return await job.future
        finally:
            self.jobs.discard(job)
            if not job.ended:
                self._remember(kind, job.cost)

    def is_full(self) -> bool:
        """Whether as much waits for slow readers as may be held in memory."""
        return self.unsent > MOST_UNSENT

    def _line(self, kind: str) -> str:
        for end, line in KNOWN.items():
            if kind.endswith(end):
                return line
        return COSTLY if kind in self.costs else QUICK

    def _remember(self, kind: str, cost: float) -> None:
        known = self.costs.get(kind, 0.0)
        cost = max(cost, known + FORGOTTEN * (cost - known))
        if cost > COSTS:
            self.costs[kind] = cost
        else:
            self.costs.pop(kind, None)

    def _hired(self, line: str) -> None:
        threading.Thread(target=self._work, args=(line,), daemon=True).start()

    def _work(self, line: str) -> None:
        while True:
            job = self.lines[line].get()
            while line == BATCH and self.is_full() and not job.ended:
                time.sleep(LOOKED_AFTER)
            if job.ended:
                continue
            if line == QUICK and job.kind in self.costs:
                # Found out while it stood in line.
                job.line = COSTLY
                self.lines[COSTLY].put(job)
                continue
            try:
                job.thread = threading.get_ident()
                job.begun = time.monotonic()
                began = time.thread_time()
                outcome, failed = job.call(), False
                job.cost = time.thread_time() - began
            except BaseException as fault:
                outcome, failed = fault, True
            # Finished is set before ended is read, and by `_end` the other way round: one of the two sees the other.
            job.finished = True
            if job.ended:
                self._retired(line)
                return
            self.loop.call_soon_threadsafe(_told, job.future, outcome, failed)
            if line == COSTLY and job.cost > COSTS:
                self._give_way(min(job.cost, GIVES_WAY))

    def _give_way(self, longest: float) -> None:
        """Wait until the event loop has come round and no quick question is in hand, but not for ever."""
        end = time.monotonic() + longest
        quick = True
        while quick and not self.loop.is_closed() and (left := end - time.monotonic()) > 0.0:
            come_round = threading.Event()
            self.loop.call_soon_threadsafe(self.loop.call_later, COMES_ROUND, come_round.set)
            come_round.wait(left)
            quick = any(job.line == QUICK for job in self.jobs.copy())

    def _retired(self, line: str) -> None:
        self._hired(line)
        try:
            for _ in range(100):
                time.sleep(0.01)
        except TooLate:
            pass

    def _end(self, job: _Job) -> None:
        job.ended = True
        if job.begun:
            self._remember(job.kind, LINES[job.line].longest)
        if job.begun and not job.finished:
            ctypes.pythonapi.PyThreadState_SetAsyncExc(ctypes.c_ulong(job.thread), ctypes.py_object(TooLate))
        _told(job.future, TooLate(), True)

    def _look(self) -> None:
        """End what has taken too long, and the longest answer where others wait in its line."""
        self.loop.call_later(LOOKED_AFTER, self._look)
        if not self.jobs:
            return
        now = time.monotonic()
        jobs = [job for job in self.jobs if not job.ended and not job.finished]
        for line, (_, longest, pressed) in LINES.items():
            here = [job for job in jobs if job.line == line]
            waiting = sum(not job.begun and now - job.asked > LOOKED_AFTER for job in here)
            running = sorted((job for job in here if job.begun), key=lambda job: job.begun)
            too_late = [job for job in here if now - job.asked > longest]
            for job in {*too_late, *(job for job in running[:waiting] if now - job.begun > pressed)}:
                self._end(job)


def _told(future: asyncio.Future[Any], outcome: Any, failed: bool) -> None:
    if future.done():
        return
    if failed:
        future.set_exception(outcome)
    else:
        future.set_result(outcome)

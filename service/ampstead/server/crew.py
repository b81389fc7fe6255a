"""Threads that work out answers beside the event loop, and an end to an answer that takes too long.

A thread cannot be killed in Python. It can be sent an exception, which rises at its next step: that ends every
calculation of this service, since each is a loop of short steps. A thread that was sent one takes no further work, so
that an exception which comes too late hits nothing.

Questions of a kind that has been costly of late stand in a line of their own, before one thread.
"""

import asyncio
import ctypes
import threading
import time
from collections.abc import Callable
from queue import SimpleQueue
from typing import Any

THREADS = 12
THREADS_FOR_COSTLY = 1
"""One alone: drawing a picture holds the interpreter for its whole length, and two would take it in turns."""
COSTLY = 0.01
"""Seconds of processor time from which an answer is costly."""
KNOWN_AS_COSTLY = (".png",)
"""Ends of kinds that need not be learned."""
FORGOTTEN = 0.1
"""The part of a kind's remembered cost that its next answer replaces, where that is less."""
LONGEST_ANSWER = 5.0
"""Seconds after which an answer is given up."""
LONGEST_UNDER_PRESSURE = 0.5
"""The same while other questions wait for a thread."""
LOOKED_AFTER = 0.1
"""Seconds from one look at the work in hand to the next."""


class TooLate(BaseException):
    """The end of an answer that took too long; no handler of errors on the way may take it for a fault."""


class _Job:
    """One call, who waits for it, and how far it is."""

    __slots__ = ("asked", "begun", "call", "cost", "costly", "ended", "finished", "future", "kind", "thread")

    def __init__(self, kind: str, call: Callable[[], Any], future: asyncio.Future[Any], costly: bool) -> None:
        self.kind = kind
        self.call = call
        self.future = future
        self.costly = costly
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
        self.lines: dict[bool, SimpleQueue[_Job]] = {False: SimpleQueue(), True: SimpleQueue()}
        self.jobs: set[_Job] = set()
        self.costs: dict[str, float] = {}
        """Of the costly kinds alone, so that there is no end of names to remember."""
        for costly, threads in ((False, THREADS), (True, THREADS_FOR_COSTLY)):
            for _ in range(threads):
                self._hired(costly)
        self.loop.call_later(LOOKED_AFTER, self._look)

    async def answer(self, kind: str, call: Callable[[], Any]) -> Any:
        """What a call returns, worked out by a thread.

        Raises
        ------
        TooLate
            If it took longer than an answer may, or found no thread in that time.
        """
        job = _Job(kind, call, self.loop.create_future(), kind in self.costs or kind.endswith(KNOWN_AS_COSTLY))
        self.jobs.add(job)
        self.lines[job.costly].put(job)
        try:
            return await job.future
        finally:
            self.jobs.discard(job)
            if not job.ended:
                self._remember(kind, job.cost)

    def _remember(self, kind: str, cost: float) -> None:
        known = self.costs.get(kind, 0.0)
        cost = max(cost, known + FORGOTTEN * (cost - known))
        if cost > COSTLY:
            self.costs[kind] = cost
        else:
            self.costs.pop(kind, None)

    def _hired(self, costly: bool) -> None:
        threading.Thread(target=self._work, args=(costly,), daemon=True).start()

    def _work(self, costly: bool) -> None:
        line = self.lines[costly]
        while True:
            job = line.get()
            if job.ended:
                continue
            if not costly and job.kind in self.costs:
                # Found out while it stood in line.
                job.costly = True
                self.lines[True].put(job)
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
                self._retired(costly)
                return
            self.loop.call_soon_threadsafe(_told, job.future, outcome, failed)

    def _retired(self, costly: bool) -> None:
        self._hired(costly)
        try:
            for _ in range(100):
                time.sleep(0.01)
        except TooLate:
            pass

    def _end(self, job: _Job) -> None:
        job.ended = True
        if job.begun:
            self._remember(job.kind, LONGEST_ANSWER)
        if job.begun and not job.finished:
            ctypes.pythonapi.PyThreadState_SetAsyncExc(ctypes.c_ulong(job.thread), ctypes.py_object(TooLate))
        _told(job.future, TooLate(), True)

    def _look(self) -> None:
        """End what has taken too long, and the longest answer where others wait for a thread."""
        self.loop.call_later(LOOKED_AFTER, self._look)
        if not self.jobs:
            return
        now = time.monotonic()
        jobs = [job for job in self.jobs if not job.ended and not job.finished]
        for job in jobs:
            if now - job.asked > LONGEST_ANSWER:
                self._end(job)
        for costly in self.lines:
            waiting = sum(job.costly == costly and not job.begun and now - job.asked > LOOKED_AFTER for job in jobs)
            running = [job for job in jobs if job.costly == costly and job.begun and not job.ended]
            for job in sorted(running, key=lambda job: job.begun)[:waiting]:
                if now - job.begun > LONGEST_UNDER_PRESSURE:
                    self._end(job)


def _told(future: asyncio.Future[Any], outcome: Any, failed: bool) -> None:
    if future.done():
        return
    if failed:
        future.set_exception(outcome)
    else:
        future.set_result(outcome)

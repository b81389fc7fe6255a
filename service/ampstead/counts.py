"""Counts of what was asked and answered, in memory that the workers of one server share, as Prometheus reads them.

Each worker writes to a place of its own, and whoever is asked adds all of them up. A worker's place goes on to the one
that replaces it, so that the counts never fall and take no more memory as years go by. No disk is needed.
"""

import mmap
import os
from bisect import bisect_left
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np

from ampstead.errors import TITLES

PLACES = 600
"""More than twice as many as there may be workers; memory that was never written to is not taken."""
STATUSES = (200, 204, 302, 304, *TITLES)
ELSE = "other"
"""The label of an address or a status that is not known beforehand, so that strangers cannot make labels."""
EDGES = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 15.0)
"""Upper edges of the classes of time, in seconds; the last is the longest that any answer may take."""
STARTED, PLACES_USED = range(2)
BEFORE = 2
"""Figures of the whole server, which its first process keeps."""
PROCESS, IN_HAND, LOST = range(3)
HEAD = 3
"""Figures of one worker, before those by address."""


class Counts:
    """How often each address was answered, with which status, and how long that took."""

    def __init__(self, addresses: Iterable[str] = ()) -> None:
        self.rows = {address: row for row, address in enumerate(dict.fromkeys([ELSE, *addresses]))}
        self.statuses = {status: at for at, status in enumerate((*STATUSES, ELSE))}
        self.classes = len(self.statuses)
        self.sum = self.classes + len(EDGES) + 1
        self.width = self.sum + 1
        self.size = HEAD + len(self.rows) * self.width
        self.memory = mmap.mmap(-1, (BEFORE + PLACES * self.size) * 8)
        self.shared = memoryview(self.memory).cast("d")
        self.shared[PLACES_USED] = 1
        self.taken: dict[int, int] = {}
        self.begin = BEFORE

    def place_for(self, process: object) -> int:
        """A free place for a process to be; asked by the one that watches them all."""
        place = next(place for place in range(PLACES) if place not in self.taken.values())
        self.taken[id(process)] = place
        self.shared[STARTED] += 1
        self.shared[PLACES_USED] = max(self.shared[PLACES_USED], place + 1)
        return place

    def settle(self, place: int) -> None:
        """Count at this place from now on; called by the new process."""
        self.begin = BEFORE + place * self.size
        self.shared[self.begin + PROCESS] = os.getpid()
        self.shared[self.begin + IN_HAND] = 0

    def left(self, process: object) -> None:
        """Let another process have the place of one that is gone."""
        place = self.taken.pop(id(process), None)
        if place is not None:
            at = BEFORE + place * self.size
            self.shared[at + PROCESS] = self.shared[at + IN_HAND] = 0

    def in_hand(self, more: int) -> None:
        """One question more in hand, or one less."""
        self.shared[self.begin + IN_HAND] += more

    def lost(self, lines: int) -> None:
        """Lines of the log that nobody took in time."""
        self.shared[self.begin + LOST] += lines

    def answered(self, address: str, status: int, seconds: float) -> None:
        """One reply more."""
        shared, row = self.shared, self.begin + HEAD + self.rows.get(address, 0) * self.width
        shared[row + self.statuses.get(status, self.classes - 1)] += 1
        shared[row + self.classes + bisect_left(EDGES, seconds)] += 1
        shared[row + self.sum] += seconds

    def told(self, accept: str, version: str) -> tuple[bytes, str]:
        """The counts as Prometheus reads them, and the media type that this caller takes."""
        from prometheus_client import CollectorRegistry
        from prometheus_client.exposition import choose_encoder
        from prometheus_client.registry import Collector

        families = list(self._families(version))

        class Told(Collector):
            def collect(self) -> Iterable[Any]:
                return families

        registry = CollectorRegistry()
        registry.register(Told())
        encoded, media = choose_encoder(accept)
        return encoded(registry), media

    def _families(self, version: str) -> Iterator[Any]:
        from prometheus_client import core

        used = np.frombuffer(self.memory)[BEFORE:].reshape(PLACES, self.size)[: int(self.shared[PLACES_USED])]
        heads, replies = used[:, :HEAD], used[:, HEAD:].sum(axis=0).reshape(len(self.rows), self.width)
        requests = core.CounterMetricFamily("ampstead_requests", "Replies.", labels=("address", "status"))
        seconds = core.HistogramMetricFamily(
            "ampstead_request_seconds", "From a whole question to its reply.", labels=("address",)
        )
        for address, row in self.rows.items():
            by_status, by_time = replies[row, : self.classes], replies[row, self.classes : self.sum]
            for status, at in self.statuses.items():
                if by_status[at]:
                    requests.add_metric((address, str(status)), by_status[at])
            if by_time.any():
                edges = (*map(str, EDGES), "+Inf")
                seconds.add_metric(
                    (address,), list(zip(edges, by_time.cumsum(), strict=True)), sum_value=replies[row, self.sum]
                )
        memory = core.GaugeMetricFamily(
            "ampstead_worker_memory_bytes", "Resident memory of each worker.", labels=("worker",)
        )
        alive = [int(process) for process in heads[:, PROCESS] if process]
        for worker, process in enumerate(alive):
            with suppress(OSError):
                pages = int(Path(f"/proc/{process}/statm").read_text(encoding="ascii").split()[1])
                memory.add_metric((str(worker),), pages * os.sysconf("SC_PAGE_SIZE"))
        yield core.InfoMetricFamily("ampstead", "The service.", value={"version": version})
        yield from (requests, seconds, memory)
        yield core.GaugeMetricFamily("ampstead_workers", "Workers that are running.", len(alive))
        yield core.GaugeMetricFamily("ampstead_requests_in_hand", "Questions in hand.", heads[:, IN_HAND].sum())
        yield core.CounterMetricFamily(
            "ampstead_workers_started", "Workers since the server started.", self.shared[STARTED]
        )
        yield core.CounterMetricFamily(
            "ampstead_log_lines_lost", "Lines of the access log that nobody took in time.", heads[:, LOST].sum()
        )

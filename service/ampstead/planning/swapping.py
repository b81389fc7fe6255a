"""One person swaps packs, one after the other, and where it is said only when somebody is there."""

from bisect import bisect_left, insort
from collections.abc import Iterator
from math import ceil, inf

from .work import Bench

ROUNDING = 1e-6
"""Seconds within which two instants are one."""


class Swaps:
    """The swaps so far. Each ends at the begin of a charge; what begins at the start was put on before it."""

    __slots__ = ("bench", "ends", "width")

    def __init__(self, bench: Bench, width: float) -> None:
        self.bench, self.width = bench, width
        """Begins fall on steps of a width, or anywhere where it is 0."""
        self.ends: list[float] = []

    def copy(self) -> "Swaps":
        other = Swaps(self.bench, self.width)
        other.ends = self.ends.copy()
        return other

    def take(self, begin: float, *, fresh: bool) -> None:
        """A swap before a charge."""
        if not (fresh and begin <= ROUNDING):
            insort(self.ends, begin)

    def served(self, begin: float, *, fresh: bool) -> float:
        """The first instant, from one on, before which a person has had the time to swap; infinite if never.

        On a fresh output the first pack may lie from before the start.
        """
        begin = self._stepped(begin)
        if fresh and begin <= ROUNDING:
            return 0.0
        swap = self.bench.swap
        if self.bench.visits is not None:
            return next((moment for moment in self._at_visits(begin) if not self._met(moment)), inf)
        begin = self._stepped(max(begin, swap))
        while swap > 0.0 and (met := self._met(begin)):
            begin = self._stepped(met + swap)
        return begin

    def _stepped(self, time: float) -> float:
        return ceil(time / self.width - ROUNDING) * self.width if self.width > 0.0 and time < inf else time

    def _met(self, end: float) -> float:
        """When a swap ends that one which ends then would meet; 0 where there is none."""
        ends, swap = self.ends, self.bench.swap
        place = bisect_left(ends, end - swap + ROUNDING)
        return ends[place] if place < len(ends) and ends[place] < end + swap - ROUNDING else 0.0

    def _at_visits(self, begin: float) -> Iterator[float]:
        """Instants at which a swap can end: begun when somebody comes, or right after another one."""
        swap, visits = self.bench.swap, self.bench.visits
        assert visits is not None
        after = [self._stepped(end + swap) for end in self.ends[bisect_left(self.ends, begin - swap - ROUNDING) :]]
        visit = visits.since(begin - swap)
        while visit < inf or after:
            end = self._stepped(visit + swap)
            if after and after[0] <= end:
                yield after.pop(0)
            else:
                yield end
                visit = visits.since(visit + max(1e-3, 1e-9 * visit))

"""How often each client has asked of late, in memory that the workers of one server share.

Without it each worker would count by itself, and a client be let ask as many times the limit as there are workers. The
memory is bounded whatever strangers do: where it is full, the client that has asked least is forgotten. No worker waits
for another, so that of two questions at the same instant one may go uncounted.
"""

import mmap
import os
import time
from hashlib import blake2b

from limits.storage import Storage

PLACES = 1 << 16
"""Clients that are counted at a time; memory that was never written to is not taken."""
TRIED = 8
"""Places next to each other of which a client may have any."""


class Tally(Storage):
    """A store of limits, as that library wants one, to be made before the workers."""

    STORAGE_SCHEME = None

    def __init__(self) -> None:
        super().__init__()
        self.secret = os.urandom(16)
        """So that nobody can choose addresses which all fall on the same places."""
        shared = memoryview(mmap.mmap(-1, 3 * 8 * PLACES))
        third = 8 * PLACES
        self.clients = shared[:third].cast("Q")
        self.ends = shared[third : 2 * third].cast("d")
        self.counts = shared[2 * third :].cast("q")

    @property
    def base_exceptions(self) -> type[Exception]:
        """The faults of this store; it has none of its own."""
        return OSError

    def incr(self, key: str, expiry: int, amount: int = 1) -> int:
        """Count so many more, and tell how many there are in this span of time; the first one begins it."""
        now = time.time()
        client, places = self._places(key)
        at = self._found(client, places)
        if at is None:
            at = min(places, key=lambda place: (self.ends[place] > now, self.counts[place]))
            self.clients[at], self.ends[at] = client, 0.0
        if not now < self.ends[at] <= now + expiry:  # a clock that was put back begins anew
            self.ends[at], self.counts[at] = now + expiry, 0
        self.counts[at] += amount
        return self.counts[at]

    def get(self, key: str) -> int:
        """How many there are."""
        at = self._found(*self._places(key))
        return self.counts[at] if at is not None and self.ends[at] > time.time() else 0

    def get_expiry(self, key: str) -> float:
        """When the span of time ends."""
        at = self._found(*self._places(key))
        return time.time() if at is None else self.ends[at]

    def check(self) -> bool:
        """It is always there."""
        return True

    def reset(self) -> int | None:
        """Forget everybody."""
        for place in range(PLACES):
            self.ends[place] = 0.0
        return None

    def clear(self, key: str) -> None:
        """Forget one."""
        at = self._found(*self._places(key))
        if at is not None:
            self.ends[at] = 0.0

    def _places(self, key: str) -> tuple[int, list[int]]:
        client = int.from_bytes(blake2b(key.encode(), digest_size=8, key=self.secret).digest(), "big") or 1
        return client, [(client + step) % PLACES for step in range(TRIED)]

    def _found(self, client: int, places: list[int]) -> int | None:
        return next((place for place in places if self.clients[place] == client), None)

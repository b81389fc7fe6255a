"""Things that are alike put into groups of one size: as many groups as can be, and of those the least unlike."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import comb, inf

import numpy as np

Group = tuple[int, ...]

LEFT_OUT = 1e6
"""Cost of leaving one out: more than any sum of unlikenesses, so that as many groups are formed as can be."""
MOST_WORK = 8_000_000
"""Steps of the exact search; below a tenth of a second."""
SWEEPS = 60
SMALLER = 1e-12


@dataclass(frozen=True)
class Grouping:
    """The groups, each with its members in order, and whether none can be better."""

    groups: tuple[Group, ...]
    proven: bool


def provable(count: int, size: int) -> bool:
    """Whether so many are few enough for the exact search: 18 in pairs, 16 in threes, 14 in fours."""
    return count <= 24 and sum(comb(place, size - 1) << place for place in range(count)) <= MOST_WORK


def best_groups(count: int, size: int, cost: Callable[[Group], float], order: Sequence[int]) -> Grouping:
    """As many groups of `size` out of `count` as can be, and of those the least sum of `cost`.

    `cost` is infinite for a group that must not be. Few are searched through, every set of them once, by

        best(S) = min(best(S - h) + left out, min over g of best(S - g) + cost(g)),  h = max(S), h in g    (1)

    many are put together along `order` and then exchanged two by two while that makes them better.
    """
    if provable(count, size):
        return Grouping(_exact(count, size, cost), True)
    return Grouping(_improved(size, cost, order), False)


def _exact(count: int, size: int, cost: Callable[[Group], float]) -> tuple[Group, ...]:
    best, chosen = np.zeros(1 << count), np.zeros(1 << count, dtype=np.int64)
    for top in range(count):
        below = np.arange(1 << top)
        least, others = best[: 1 << top] + LEFT_OUT, np.zeros(1 << top, dtype=np.int64)
        for rest in combinations(range(top), size - 1):
            more = cost((*rest, top))
            if more == inf:
                continue
            bits = sum(1 << place for place in rest)
            holding = below[(below & bits) == bits]
            total = best[holding ^ bits] + more  # Eq. (1)
            better = total < least[holding] - SMALLER
            least[holding[better]], others[holding[better]] = total[better], bits
        best[1 << top : 2 << top], chosen[1 << top : 2 << top] = least, others
    groups, left = [], (1 << count) - 1
    while left:
        top, bits = left.bit_length() - 1, int(chosen[left])
        left ^= 1 << top
        if bits:
            groups.append((*(place for place in range(top) if bits >> place & 1), top))
            left ^= bits
    return tuple(sorted(groups))


def _improved(size: int, cost: Callable[[Group], float], order: Sequence[int]) -> tuple[Group, ...]:
    """Neighbours of an order together, then exchanges while they help."""
    known: dict[Group, float] = {}

    def of(group: Sequence[int]) -> float:
        """Its cost; a group that must not be, or that is not whole, is its members left out."""
        if len(group) < size:
            return len(group) * LEFT_OUT
        key = tuple(sorted(group))
        if key not in known:
            known[key] = min(cost(key), size * LEFT_OUT)
        return known[key]

    groups = [list(order[at : at + size]) for at in range(0, len(order), size)]
    for _ in range(SWEEPS):
        moved = False
        for one, other in combinations(range(len(groups)), 2):
            for i in range(len(groups[one])):
                for j in range(len(groups[other])):
                    a, b = groups[one], groups[other]
                    before = of(a) + of(b)
                    a[i], b[j] = b[j], a[i]
                    if of(a) + of(b) < before - SMALLER:
                        moved = True
                    else:
                        a[i], b[j] = b[j], a[i]
        if not moved:
            break
    return tuple(sorted(tuple(sorted(group)) for group in groups if len(group) == size and of(group) < size * LEFT_OUT))

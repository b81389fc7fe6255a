"""How soon any plan could be done at the soonest: a proven lower bound on the end of the last charge.

Every plan of makespan T shares out what there is of each resource r: time on each bank's outputs, time under a person's
eyes, energy from the supply. So for any prices y ≥ 0

    T ≥ (Σ_j min over ways a of Σ_r y_r·need_r(j, a) − Σ_r y_r·lost_r)/Σ_r y_r·given_r        (1)

A single price gives the plain bounds (work over outputs, energy over power); mixed ones tell that a pack on a slow
charger does not also take a fast one. What the supply cannot give counts as given and lost: near the end of the session
every charge that still runs is in its tail, and of those at most so many run at once. The pack that takes longest, one
person's swaps, and the packs that come late bound T as well.

Currents may take any value, so a way of the ladder stands for all currents between the next lower one and its own: with
its own time, and with the energy of its own end state at the heat of the lower one.
"""

from collections.abc import Sequence
from itertools import combinations, pairwise

import numpy as np

from .work import Bench, Floats, Task

_PARTS = np.linspace(0.0, 1.0, 11)
_ROUNDS, _STRIDE = 100, 0.5
_MOST_THRESHOLDS = 8


def bound(tasks: Sequence[Task], bench: Bench, width: float) -> float:
    """A time in seconds from the start by which no plan can be done, to the steps of `width`."""
    if not tasks:
        return 0.0
    found = [max(task.ready + task.least_time for task in tasks), _swapping(tasks, bench)]
    times = sorted({task.ready for task in tasks})
    for ready in times[:: -(-len(times) // _MOST_THRESHOLDS)]:
        later = [task for task in tasks if task.ready >= ready]
        found.append(ready + _shared(later, bench, width))
    return max(found)


def _swapping(tasks: Sequence[Task], bench: Bench) -> float:
    swaps = max(0, len(tasks) - bench.outputs)
    return swaps * bench.swap + min(task.least_time for task in tasks)


def _shared(tasks: Sequence[Task], bench: Bench, width: float) -> float:
    banks = len(bench.banks)
    given = np.array([*(len(bank.outputs) for bank in bench.banks), bench.at_once, bench.power], dtype=float)
    lost = np.array([*(bench.swap * len(bank.outputs) for bank in bench.banks), 0.0, _unused(tasks, bench, width)])
    needs: list[Floats] = []
    starts: list[int] = []
    for task in tasks:
        starts.append(len(needs))
        for bank, ways in task.ways.items():
            for way, lower in zip(ways, [*ways[1:], None], strict=True):
                need = np.zeros(banks + 2)
                need[bank], need[-2] = way.time + bench.swap, way.time
                heat = way.energy - way.least_energy
                need[-1] = way.least_energy + (0.0 if lower is None else min(lower.energy - lower.least_energy, heat))
                needs.append(need)
    every, places = np.array(needs), np.array(starts)

    def least(prices: Floats) -> float:
        cheapest = np.minimum.reduceat(every @ prices, places)
        return float((np.sum(cheapest) - prices @ lost) / (prices @ given))

    lost_parts = lost / given

    def of(parts: Floats) -> tuple[Floats, float]:
        """What each way costs, and the bound."""
        costs = every @ (parts / given)
        return costs, float(np.minimum.reduceat(costs, places).sum() - parts @ lost_parts)

    # Prices in parts of what is given. From the best of the plain bounds and their mixtures, uphill.
    outputs, watch, energy = np.zeros(banks + 2), np.zeros(banks + 2), np.zeros(banks + 2)
    outputs[:banks], watch[-2], energy[-1] = given[:banks] / given[:banks].sum(), 1.0, 1.0
    plain = [outputs, watch, energy]
    mixed = [one + part * (other - one) for one, other in combinations(plain, 2) for part in _PARTS]
    parts = max(mixed, key=lambda parts: of(parts)[1])
    costs, best = of(parts)
    for round_ in range(_ROUNDS):
        cheapest = [start + int(costs[start:end].argmin()) for start, end in pairwise([*starts, len(costs)])]
        slope = (every[cheapest].sum(axis=0) - lost) / given
        parts = (parts + 1e-4) * np.exp((slope - slope.max()) / best * _STRIDE / (1.0 + round_) ** 0.5)
        parts /= parts.sum()
        costs, value = of(parts)
        best = max(best, value)
    return best


def _unused(tasks: Sequence[Task], bench: Bench, width: float) -> float:
    """Energy that the supply could give but no plan can take near its end, J."""
    most = max(len(way.steps(width)) for task in tasks for ways in task.ways.values() for way in ways[:1])
    tails = np.zeros((len(tasks), most))
    for tail, task in zip(tails, tasks, strict=True):
        for ways in task.ways.values():
            for way in ways[::3]:
                # So long before its end, or less, it draws at most so much.
                steps = way.steps(width)[::-1][:most]
                np.maximum(tail[: len(steps)], steps, out=tail[: len(steps)])
                tail[len(steps) :] = np.maximum(tail[len(steps) :], steps.max())
    tails = np.maximum.accumulate(tails, axis=1)
    at_once = min(bench.at_once, len(tasks))
    largest = np.sort(tails, axis=0)[len(tasks) - at_once :].sum(axis=0)
    longest = max(task.least_time for task in tasks)
    # No plan is shorter than the longest charge, so no more of its end is looked at.
    looked = int(longest / width)
    # A tail's steps end with its charge, which may end up to one step before the whole.
    return float(np.maximum(bench.power - largest[1 : 1 + looked], 0.0).sum() * width)

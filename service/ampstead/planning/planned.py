"""A whole session: the work, its bound, the plan, and what supply would make it in time."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import ceil, inf, sqrt
from statistics import median

import numpy as np

from .battery import SourceLimits
from .bound import bound
from .placing import Board
from .search import Effort, Search, first_come
from .settling import settled
from .work import Bench, Floats, Placed, Score, Task

STEPS, FINE_STEPS, LEAST_STEP = 900, 20_000, 1.0
"""Into how many steps a session is cut at least, while it is planned and when it is settled; s at least."""
STEPS_A_CHARGE = 60
LEVELS = (1.0, 0.75, 0.55, 0.4, 0.28, 0.2)
"""Parts of a source's largest power at which it is tried: the less at once, the more it gives in all."""
HALVINGS = 6

TasksAt = Callable[[float], Sequence[Task]]
"""The tasks that a supply of so many watts can do."""


@dataclass(frozen=True, eq=False)
class Plan:
    """What was settled: the charges in order of their begins, and the power drawn in each step of time."""

    placed: tuple[Placed, ...]
    left_out: tuple[Task, ...]
    bound: float
    width: float
    power: Floats
    """The most from the supply in each step, without what chargers draw for themselves, W."""

    @property
    def finish(self) -> float:
        return max((placed.end for placed in self.placed), default=0.0)

    @property
    def peak(self) -> float:
        return float(self.power.max(initial=0.0))

    @property
    def late(self) -> tuple[Placed, ...]:
        return tuple(placed for placed in self.placed if placed.lateness > 0.0)

    @property
    def energy(self) -> float:
        """From the supply, without what chargers draw for themselves, J."""
        return sum(placed.way.energy for placed in self.placed)


NOTHING = Plan((), (), 0.0, LEAST_STEP, np.zeros(0))


class Draft:
    """Some tasks on a bench, and what a plan of them begins with."""

    def __init__(self, tasks: Sequence[Task], bench: Bench) -> None:
        self.tasks = tasks
        longest = max(task.ready + task.least_time for task in tasks)
        rough = max(longest, sum(task.least_time for task in tasks) / bench.at_once)
        width = min(rough / STEPS, median(task.least_time for task in tasks) / STEPS_A_CHARGE)
        width = max(width, rough / (4 * STEPS), LEAST_STEP)
        if bench.swap >= LEAST_STEP:
            width = bench.swap / ceil(bench.swap / width)
        self.bound = bound(tasks, bench, width)
        self.search = Search(tasks, bench, width, self.bound)
        self.as_given = _settled(first_come(tasks, bench, width))

    def plan(self, effort: Effort) -> Plan:
        """The best plan found; asked again, the search goes on from there."""
        plans = [_settled(self.search.best(effort)), self.as_given]
        _, placed, power, step = min(plans, key=lambda plan: plan[0])
        done = {entry.task.place for entry in placed}
        left_out = tuple(task for task in self.tasks if task.place not in done)
        return Plan(tuple(placed), left_out, self.bound, step, power)


def _settled(board: Board) -> tuple[Score, list[Placed], Floats, float]:
    return settled(board, max(LEAST_STEP, board.finish / FINE_STEPS))


def planned(tasks: Sequence[Task], bench: Bench, effort: Effort | None = None) -> Plan:
    """The best plan found for some tasks on a bench."""
    return Draft(tasks, bench).plan(effort or Effort.usual(len(tasks))) if tasks else NOTHING


def planned_from(source: SourceLimits, tasks_at: TasksAt, bench: Bench, idle: float) -> Plan:
    """The best plan found that a battery carries to its end: as many packs as it can, the urgent and small ones first.

    `bench.power` counts for nothing here; `idle` is what the chargers draw for themselves, W.
    """
    best, draft = NOTHING, None
    most = source.most_power() - idle
    if most <= 0.0 or source.left <= 0.0:
        return best
    tasks = tasks_at(most)
    most = min(most, _all_at_once(tasks, bench))
    few, many = 0, len(tasks) + 1
    size = many - 1
    while many - few > 1:
        found = _carried(source, tasks_at, bench, idle, most, size)
        if found is None:
            many = size
        else:
            few, (best, draft) = size, found
        size = (few + many) // 2
    if draft is not None and best.placed:
        better = draft.plan(Effort.usual(few))
        if _lasts(source, better, idle) and (len(better.late), better.finish) < (len(best.late), best.finish):
            best = better
    return best


def _carried(
    source: SourceLimits, tasks_at: TasksAt, bench: Bench, idle: float, most: float, size: int
) -> tuple[Plan, Draft] | None:
    for part in LEVELS:
        tasks = _first(tasks_at(part * most), size)
        if len(tasks) == size and sum(task.slowest_energy for task in tasks) <= source.energy:
            draft = Draft(tasks, replace(bench, power=part * most))
            plan = draft.plan(Effort.of(0, size))
            if _lasts(source, plan, idle):
                return plan, draft
    return None


def _first(tasks: Sequence[Task], size: int) -> list[Task]:
    urgent = sorted(tasks, key=lambda task: (task.need_by, task.least_energy))[:size]
    return sorted(urgent, key=lambda task: task.place)


def _lasts(source: SourceLimits, plan: Plan, idle: float) -> bool:
    whole = ceil(plan.finish / plan.width)
    return source.lasts(plan.power[:whole] + idle, plan.width)


def _all_at_once(tasks: Sequence[Task], bench: Bench) -> float:
    """The most that as many of these as there may be draw at once, W."""
    peaks = sorted(max(ways[0].peak for ways in task.ways.values()) for task in tasks)
    return sum(peaks[-bench.at_once :])


def power_in_time(tasks_at: TasksAt, bench: Bench) -> float | None:
    """The least power found with which no pack is late, W; None where no supply helps."""
    tasks = tasks_at(inf)
    high = _all_at_once(tasks, bench)
    effort = Effort.of(len(tasks), len(tasks))

    def in_time(power: float) -> Plan | None:
        plan = planned(tasks_at(power), replace(bench, power=power), effort)
        return None if plan.late or len(plan.placed) < len(tasks) else plan

    plan = in_time(high)
    if plan is None:
        return None
    high, low = plan.peak, min(bench.power, 0.5 * plan.peak)
    for _ in range(HALVINGS):
        power = sqrt(low * high)
        plan = in_time(power)
        if plan is None:
            low = power
        else:
            high = min(power, plan.peak)
    return high

"""What a plan is made of: outputs that are alike, packs to be charged, and the ways in which each may be charged.

SI units throughout; times in seconds from the start of the session.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from math import ceil, inf

import numpy as np
from numpy.typing import NDArray

from ampstead.cell.one.charge import Charge

Floats = NDArray[np.float64]
SLACK = 1e-9


@dataclass(frozen=True)
class Bank:
    """Outputs that are alike: any pack is charged on each of them in the same way."""

    outputs: tuple[tuple[int, int], ...]
    """Charger and output of each, counted from 0."""
    total: float = inf
    """The most that all of them put out together, W."""


class Way:
    """One way to charge a pack: at a current, through a charger of some efficiency."""

    def __init__(self, run: Charge, current: float, efficiency: float, stored: float, high: float) -> None:
        self.run, self.current, self.efficiency, self.stored = run, current, efficiency, stored
        self.time = run.time_total
        self.high = high
        """The time that a real charge may take, s."""
        self.energy = run.energy / efficiency
        """From the supply, J."""
        self._steps: dict[float, Floats] = {}
        self._marks: dict[float, tuple[int, ...]] = {}
        self._anywhere: dict[float, Floats] = {}

    @cached_property
    def peak(self) -> float:
        """The most that it ever draws from the supply, W."""
        return float(self.steps(self.time / 64.0).max())

    @cached_property
    def highest(self) -> float:
        """The same without rounding up to steps: at the end of constant current or at the first instant, W."""
        V, i, _ = self.run.curve([0.0, self.run.time_constant_current])
        return float((V * i).max()) / self.efficiency

    @property
    def least_energy(self) -> float:
        """What its charge holds, without the heat; from the supply, J."""
        return self.stored / self.efficiency

    def steps(self, width: float) -> Floats:
        """The most that it draws from the supply within each step from its begin, W."""
        if width not in self._steps:
            self._steps[width] = self._most(width)
        return self._steps[width]

    def marks(self, width: float) -> tuple[int, ...]:
        """The steps that tell most of whether there is room for it: the first, the last, the strongest."""
        if width not in self._marks:
            steps = self.steps(width)
            last = len(steps) - 1
            some = {0, int(steps.argmax()), last // 4, last // 2, 3 * last // 4, last}
            self._marks[width] = tuple(sorted(some))
        return self._marks[width]

    def anywhere(self, width: float) -> Floats:
        """The same where it begins anywhere within the first of these steps."""
        if width not in self._anywhere:
            steps = self.steps(width)
            later = np.append(steps, 0.0)
            later[1:] = np.maximum(later[1:], steps)
            self._anywhere[width] = later
        return self._anywhere[width]

    def _most(self, width: float) -> Floats:
        count = max(1, ceil(self.time / width - SLACK))
        edges = np.minimum(width * np.arange(count + 1), self.time)
        turned = self.run.time_constant_current
        V, i, _ = self.run.curve(np.append(edges, turned))
        # In a step the current falls or holds, and the voltage moves one way but where constant voltage begins.
        most = np.maximum(V[:-2], V[1:-1]) * i[:-2]
        turn = min(int(turned / width), count - 1)
        most[turn] = max(most[turn], max(V[turn], V[turn + 1], V[-1]) * i[-1])
        return np.asarray(most / self.efficiency, dtype=float)


@dataclass(frozen=True, eq=False)
class Task:
    """A pack to be charged."""

    place: int
    """Of the pack in the question, from 0."""
    ready: float
    need_by: float
    ways: Mapping[int, tuple[Way, ...]]
    """By the place of the bank, the largest current first."""

    @cached_property
    def most(self) -> float:
        """The largest current on any output, A."""
        return max(ways[0].current for ways in self.ways.values())

    @cached_property
    def least_energy(self) -> float:
        return min(ways[0].energy for ways in self.ways.values())

    @cached_property
    def slowest_energy(self) -> float:
        """Of the way that heats the least: no plan needs less."""
        return min(way.energy for ways in self.ways.values() for way in ways)

    @cached_property
    def least_time(self) -> float:
        return min(ways[0].time for ways in self.ways.values())


@dataclass(frozen=True, eq=False)
class Placed:
    """A charge in the plan."""

    task: Task
    bank: int
    output: int
    """Of the bank, from 0."""
    way: Way
    begin: float
    latest: float
    """When it ends where this charge and those before it on its output take as long as they may."""

    @property
    def end(self) -> float:
        return self.begin + self.way.time

    @property
    def lateness(self) -> float:
        over = self.latest - self.task.need_by
        return over if over > SLACK * self.latest else 0.0


@dataclass(frozen=True)
class Visits:
    """When somebody is there: at some moments, or every so often from the start on."""

    moments: tuple[float, ...] = ()
    every: float = 0.0

    def since(self, time: float) -> float:
        """The first visit at or after a time; infinite where there is none."""
        if self.every > 0.0:
            return max(0.0, ceil(time / self.every - SLACK)) * self.every
        return next((moment for moment in self.moments if moment >= time - SLACK), inf)


@dataclass(frozen=True)
class Bench:
    """What all charges share."""

    banks: tuple[Bank, ...]
    power: float
    """From the supply, beyond what chargers draw for themselves, W."""
    swap: float
    """Of a person's time to change the pack on an output, s."""
    watched: int
    """Packs charging at once that are watched."""
    visits: Visits | None = None

    @cached_property
    def outputs(self) -> int:
        return sum(len(bank.outputs) for bank in self.banks)

    @cached_property
    def at_once(self) -> int:
        return min(self.watched, self.outputs)


@dataclass(frozen=True, order=True)
class Score:
    """How good a plan is, the less the better: packs left out, late ones, by how much, the end, the ends' mean."""

    left_out: int
    late: int
    lateness: float
    finish: float
    mean: float = field(default=0.0)

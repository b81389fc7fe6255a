"""Packs put on outputs one after the other, each where it is charged soonest; what is placed never moves.

Time goes in steps. In each step a charge counts with the most that it draws there, so that what is added up holds at
every instant.
"""

from math import inf

import numpy as np

from .swapping import ROUNDING, Swaps
from .work import SLACK, Bench, Floats, Placed, Score, Task, Way

Choice = tuple[float, int, Way, float]
MIX = 0.5
"""Of the finish, against the mean of the outputs' ends, in what leads downhill."""


def ample(power: float) -> float:
    """A limit with the slack of rounding: who needs all of it gets it."""
    return power * (1.0 + SLACK)


class Board:
    """What has been placed so far, and what that leaves to others."""

    def __init__(self, bench: Bench, width: float, steps: int) -> None:
        self.bench, self.width = bench, width
        self.room = np.full(steps, ample(bench.power))
        self.rooms: dict[int, Floats] = {
            place: np.full(steps, ample(bank.total)) for place, bank in enumerate(bench.banks) if bank.total < inf
        }
        self.free = [[-1.0] * len(bank.outputs) for bank in bench.banks]
        """When each output's last charge ends; below 0 where there was none."""
        self.latest = [[0.0] * len(bank.outputs) for bank in bench.banks]
        self.seats = [0.0] * bench.at_once if bench.at_once < bench.outputs else []
        self.swaps = Swaps(bench, width)
        self.used = 0
        """The step from which on nothing is placed."""
        self.placed: list[Placed] = []
        self.looks = 0
        """Instants at which it was looked whether a charge has its power: most of the work."""
        self.left_out, self.late, self.lateness, self.finish, self.ends = 0, 0, 0.0, 0.0, 0.0

    def copy(self) -> "Board":
        other = Board.__new__(Board)
        other.bench, other.width, other.used, other.looks = self.bench, self.width, self.used, self.looks
        other.room = self.room.copy()
        other.rooms = {place: room.copy() for place, room in self.rooms.items()} if self.rooms else {}
        other.free = [free.copy() for free in self.free]
        other.latest = [latest.copy() for latest in self.latest]
        other.seats, other.swaps, other.placed = self.seats.copy(), self.swaps.copy(), self.placed.copy()
        other.left_out, other.late, other.lateness = self.left_out, self.late, self.lateness
        other.finish, other.ends = self.finish, self.ends
        return other

    @property
    def score(self) -> Score:
        return Score(self.left_out, self.late, self.lateness, self.finish, self.ends / max(1, len(self.placed)))

    @property
    def smooth(self) -> float:
        """The finish, and how soon the outputs are done on the mean: what leads downhill to an earlier finish."""
        ends = sorted((end for free in self.free for end in free), reverse=True)[: self.bench.at_once]
        return MIX * self.finish + (1.0 - MIX) * sum(ends) / len(ends)

    def beyond(self, score: Score) -> bool:
        """Whether it is worse already than a whole plan."""
        mine = (self.left_out, self.late, self.lateness, self.finish)
        return mine > (score.left_out, score.late, score.lateness, score.finish)

    def place(self, task: Task, part: float = 1.0) -> None:
        """A pack where it is charged soonest, at a current up to a part of its largest."""
        best: Choice | None = None
        most = part * task.most * (1.0 + SLACK)
        seen: list[Way] = []
        for soonest, bank, free in self._banks(task):
            ways = task.ways[bank]
            if ways[0] in seen:
                continue  # the same charge, no sooner
            if not self.rooms:
                seen.append(ways[0])
            for way in ways:
                if way.current > most and way is not ways[-1]:
                    continue
                if best is not None and soonest + way.time >= best[0] - ROUNDING:
                    break
                begin = self._begin(soonest, bank, way, fresh=free < 0.0)
                if begin == inf:
                    break
                if best is None or begin + way.time < best[0] - ROUNDING:
                    best = begin + way.time, bank, way, begin
                if begin <= soonest + self.width:
                    break
        self._take(task, best)

    def _banks(self, task: Task) -> list[tuple[float, int, float]]:
        """When a pack could begin on each bank, the soonest first, and when an output there is free."""
        found = []
        for bank in task.ways:
            free = min(self.free[bank])
            found.append((self.soonest(task, free), bank, free))
        found.sort()
        return found

    def place_next(self, task: Task) -> None:
        """A pack where it can begin soonest, as hard as it may be charged."""
        best: Choice | None = None
        for bank, ways in task.ways.items():
            free = min(self.free[bank])
            begin = self._begin(self.soonest(task, free), bank, ways[0], fresh=free < 0.0)
            if begin < inf and (best is None or begin < best[0] - ROUNDING):
                best = begin, bank, ways[0], begin
        self._take(task, best)

    def _take(self, task: Task, best: Choice | None) -> None:
        if best is None:
            self.left_out += 1
        else:
            _, bank, way, begin = best
            self.put(task, bank, way, begin)

    def soonest(self, task: Task, free: float) -> float:
        """When a pack could begin on an output that is free by then, were there power and a person."""
        soonest = max(task.ready, free + self.bench.swap if free >= 0.0 else 0.0)
        return max(soonest, min(self.seats)) if self.seats else soonest

    def _begin(self, soonest: float, bank: int, way: Way, *, fresh: bool) -> float:
        """The first instant from one on at which somebody has swapped and the power is there; infinite if never."""
        begin = soonest
        while True:
            begin = self.swaps.served(begin, fresh=fresh)
            if begin == inf:
                return inf
            step = round(begin / self.width)
            fits = self._fits(step, bank, way)
            if fits == step:
                return begin
            begin = fits * self.width

    def fits(self, begin: float, bank: int, way: Way) -> bool:
        """Whether the power is there from an instant to the end of a charge."""
        self.looks += 1
        step, need = round(begin / self.width), way.steps(self.width)
        size = len(need)
        enough = bool((self._room(None, step + size)[step : step + size] >= need).all())
        if enough and bank in self.rooms:
            enough = bool((self.rooms[bank][step : step + size] >= need * way.efficiency).all())
        return enough

    def _fits(self, step: int, bank: int, way: Way) -> int:
        """The first step, from one on, at which supply and charger have the power to the end."""
        self.looks += 1
        need = way.steps(self.width)
        size, count = len(need), max(1, self.used - step)
        room = self._room(None, step + size + count)
        pairs = [(room, need)]
        if bank in self.rooms:
            pairs.append((self.rooms[bank], need * way.efficiency))
        if all((room[step : step + size] >= need).all() for room, need in pairs):
            return step
        # Beyond all that is placed there is room. Up to there a few instants of the charge rule most begins out.
        open_ = np.ones(count, dtype=bool)
        for room, need in pairs:
            for at in way.marks(self.width):
                open_ &= room[step + at : step + at + count] >= need[at]
        first = int(open_.argmax())
        while open_[first]:
            self.looks += 1
            for room, need in pairs:
                short = room[step + first : step + first + size] < need
                at = int(short.argmax())
                if short[at]:
                    # Where it is short here, other begins before that instant may be too.
                    others = min(at, count - 1 - first) + 1
                    reached = need[at + 1 - others : at + 1][::-1] <= room[step + first + at]
                    open_[first : first + others] &= reached
                    break
            else:
                return step + first
            first += int(open_[first:].argmax())
        return max(self.used, step)

    def _room(self, bank: int | None, steps: int) -> Floats:
        if steps > len(self.room):
            more = max(steps, 2 * len(self.room)) - len(self.room)
            self.room = np.concatenate([self.room, np.full(more, ample(self.bench.power))])
            for place, room in self.rooms.items():
                self.rooms[place] = np.concatenate([room, np.full(more, ample(self.bench.banks[place].total))])
        return self.room if bank is None else self.rooms[bank]

    def output(self, bank: int, begin: float) -> int:
        """Of the outputs that are free by then, the one that was last in use."""
        free, by = self.free[bank], begin - self.bench.swap + ROUNDING
        return max((n for n, end in enumerate(free) if end < 0.0 or end <= by), key=lambda n: (free[n], -n))

    def put(self, task: Task, bank: int, way: Way, begin: float) -> None:
        """A pack on an output that is free, from an instant on."""
        need, end = way.steps(self.width), begin + way.time
        step = round(begin / self.width)
        room = self._room(None, step + len(need))
        room[step : step + len(need)] -= need
        if bank in self.rooms:
            self.rooms[bank][step : step + len(need)] -= need * way.efficiency
        self.used = max(self.used, step + len(need))
        output = self.output(bank, begin)
        fresh = self.free[bank][output] < 0.0
        latest = latest_end(self.bench, begin, way, self.latest[bank][output], fresh=fresh)
        self.swaps.take(begin, fresh=fresh)
        if self.seats:
            taken = max((n for n, end in enumerate(self.seats) if end <= begin + ROUNDING), key=self.seats.__getitem__)
            self.seats[taken] = end
        self.free[bank][output], self.latest[bank][output] = end, latest
        self.finish = max(self.finish, end)
        self.ends += end
        placed = Placed(task, bank, output, way, begin, latest)
        self.placed.append(placed)
        if task.need_by < inf and (late := placed.lateness) > 0.0:
            self.late += 1
            self.lateness += late


def latest_end(bench: Bench, begin: float, way: Way, before: float, *, fresh: bool) -> float:
    """When a charge ends that takes as long as it may, after others on its output that did."""
    if fresh:
        return begin + way.high
    swapped = (before if bench.visits is None else bench.visits.since(before)) + bench.swap
    return (begin if swapped == inf else max(begin, swapped)) + way.high

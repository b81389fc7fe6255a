"""The order and the currents of a plan, improved move by move.

A plan is an order of the packs and, for each, the part of its largest current that it may take: ``placing`` then puts
each where it is charged soonest. The first orders are what scheduling does (longest first, most energy first, most
urgent first), at full currents and at currents with which all outputs share the supply. What people do, as given, is
left to ``planned``, so that the search knows nothing of the order in which packs are told.
Then moves: a pack to another place in the order, two exchanged, another part of its current. One that leaves the plan
no worse is kept. The moves come from a fixed sequence, and their number follows from the number of packs, so that a
question has one answer on every machine.

Why so, by measurement (``tests/bench/sessions.py`` prints it). On 30 random fields of 40 packs, 6 outputs and 400 W
this ends 1.9 % above the proven bound on the mean where all six are watched, and 0.3 % where four are, in 0.5 s of
processor time; 200 packs on 12 outputs take 1.3 s. What was tried and left:

- letting later packs into gaps that earlier ones leave on an output: the same ends at seven times the work;
- a price on waiting (an early begin at a lower current against an early end): no better on any kind of field;
- leaving plans that are 0.6 % worse: worse than next to none. What helps is to go downhill by the finish together with
  the mean of the outputs' ends, since the finish alone moves only when the last pack does;
- one plan to start from: where power is scarce, packs put on as time goes on (``filling``) start up to 6 % nearer the
  bound than any order that is placed, and elsewhere the longest first does.

Where there is power for little more than half of the outputs, plans end 9 % above the bound, and where for a quarter
11 %; how much of that is the bound's is not known. There a charge may wait at hundreds of instants for its power; the
search ends by how many were looked at. Without that end plans were 1 % better on the mean, and took up to 40 seconds.
Of 50 sessions of 3 or 4 packs, each proven by OR-Tools CP-SAT on whole minutes, the plan's end was 0.974 of the best on
the mean and 1.042 at the worst.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import inf
from random import Random

from .filling import Filler
from .placing import Board
from .work import Bench, Score, Task

PARTS = (1.0, 0.85, 0.72, 0.6, 0.5, 0.4, 0.3, 0.2)
ENOUGH = 1e-3
"""So near its bound a plan is as good as done."""
FILLED = 2
"""So many of the plans filled as time goes on are walked on from."""
WEIGHTS = ((1.0, 0.5), (1.0, 1.0), (1.0, 4.0), (3.0, 1.0), (3.0, 2.0), (0.3, 1.0))
LOOKS = 1.0
"""In each move for each pack. Where power is not scarce, random fields of 40 and of 200 packs take 0.5 to 0.9."""
FIRST_LOOKS = 150
"""For each pack, in the plans with which the search begins: more than such fields take."""
_SEED = 20260418
_OVER = 0.02
"""By which part the finish may come later in a move that is kept because outputs are done sooner on the mean."""
_LEAVE = 0.001
"""By which part the end may come later in a move that is kept, at first."""


@dataclass(frozen=True)
class Effort:
    """How many moves are tried, and at how many instants it is looked whether a charge has its power.

    Mostly the first instant has it, and the moves are what counts. Where power is very scarce, or chargers are many and
    all different, a pack takes dozens of looks, and a question would take half a minute.
    """

    moves: int
    looks: int

    @classmethod
    def of(cls, moves: int, packs: int) -> "Effort":
        return cls(moves, int(LOOKS * moves * packs))

    @classmethod
    def usual(cls, packs: int) -> "Effort":
        return cls.of(0 if packs < 2 else min(40 * packs, 1200, max(500, 1500 - 5 * packs)), packs)


def first_come(tasks: Sequence[Task], bench: Bench, width: float) -> Board:
    """As given, each on the output where it can begin soonest, as hard as it may be charged."""
    board = Board(bench, width, 64)
    for task in tasks:
        board.place_next(task)
    return board


class Search:
    """Some tasks, and the plans with which the search for the best begins."""

    def __init__(self, tasks: Sequence[Task], bench: Bench, width: float, bound: float) -> None:
        self.bound = bound
        tasks = sorted(tasks, key=_told_apart)
        steps = int(1.5 * bound / width) + 64
        filler, looks, most = Filler(tasks, bench, width, steps), 0, FIRST_LOOKS * len(tasks)
        filled: list[Board] = []
        for weights in WEIGHTS:
            if len(filled) < FILLED or looks < most:
                filled.append(filler.filled(*weights))
                looks += filled[-1].looks
        filled.sort(key=lambda board: board.score)
        walks: list[_Walk] = []
        for parts, order in product(_currents(tasks, bench), _orders(tasks)):
            if not walks or looks < most:
                walks.append(_Walk(order, parts, bench, width, steps))
                looks += walks[-1].looks
        for board in filled[:FILLED]:
            order = [entry.task for entry in sorted(board.placed, key=lambda entry: entry.begin)]
            if len(order) == len(tasks):
                parts = {entry.task: entry.way.current / entry.task.most for entry in board.placed}
                walks.append(_Walk(order, parts, bench, width, steps))
        self.filled, self.walk = filled[0], min(walks, key=lambda walk: walk.board.score)

    def best(self, effort: Effort) -> Board:
        """The best plan found; asked again, the search goes on from there."""
        return min(self.filled, self.walk.improved(self.bound, effort), key=lambda board: board.score)


def _told_apart(task: Task) -> tuple[float, ...]:
    """What there is to tell tasks apart, so that the order in which packs are told changes no plan."""
    return task.need_by, task.ready, -task.least_time, -task.most, task.least_energy


def _orders(tasks: Sequence[Task]) -> list[list[Task]]:
    keys: list[Callable[[Task], float]] = [
        lambda task: -task.least_time,
        lambda task: -max(ways[0].energy for ways in task.ways.values()),
        lambda task: task.ready - task.least_time,
        lambda task: task.need_by - task.least_time,
    ]
    orders: list[list[Task]] = []
    for key in keys:
        order = sorted(tasks, key=key)
        if order not in orders:
            orders.append(order)
    return orders


def _currents(tasks: Sequence[Task], bench: Bench) -> list[dict[Task, float]]:
    """Parts of the packs' largest currents: all of it, and what an even share of the supply allows."""
    share = bench.power / min(bench.at_once, len(tasks))
    even = {task: min(1.0, max(PARTS[-1], share / _peak(task))) for task in tasks}
    return [dict.fromkeys(tasks, 1.0)] + ([even] if min(even.values()) < 1.0 else [])


def _peak(task: Task) -> float:
    return max(ways[0].peak for ways in task.ways.values())


class _Walk:
    """A plan, and from place to place of its order what had been placed before."""

    def __init__(
        self, order: Sequence[Task], parts: Mapping[Task, float], bench: Bench, width: float, steps: int
    ) -> None:
        self.order, self.parts = list(order), dict(parts)
        self.stride = max(1, len(order) // 10)
        self.marks = {0: Board(bench, width, steps)}
        largest = sorted(map(_peak, order))[-bench.at_once :]
        self.looks = 0
        """Of all plans so far."""
        self.scarce = sum(largest) > bench.power or any(bank.total < inf for bank in bench.banks)
        board = self._placed(0, self.order, self.parts, None)
        assert board is not None
        self.board = board

    def _placed(
        self, start: int, order: Sequence[Task], parts: Mapping[Task, float], limit: Score | None
    ) -> Board | None:
        """The plan of an order that is new from `start` on; None where it is worse than a limit."""
        mark = start - start % self.stride
        board = self.marks[mark].copy()
        before = board.looks
        self.made: dict[int, Board] = {}
        for place in range(mark, len(order)):
            if place % self.stride == 0:
                self.made[place] = board.copy()
            board.place(order[place], parts[order[place]])
            if limit is not None and board.beyond(limit):
                self.looks += board.looks - before
                return None
        self.looks += board.looks - before
        return board

    def improved(self, bound: float, effort: Effort) -> Board:
        """The best plan that the moves come by."""
        random, size = Random(_SEED), len(self.order)
        best, least = self.board, self.board.score
        turned_down: dict[tuple[object, ...], tuple[Score, tuple[float, ...]]] = {}
        self.marks.update(self.made)
        most_looks = self.looks + effort.looks
        for move in range(effort.moves):
            if self.looks > most_looks or (least.finish <= bound * (1.0 + ENOUGH) and not least.late):
                break
            order, parts = self.order.copy(), self.parts
            first = random.randrange(size) if random.random() < 0.5 else self._last(random)
            kind = random.random()
            if self.scarce and kind < 0.3:
                parts = {**parts, order[first]: random.choice(PARTS)}
                start = first
            else:
                second = random.randrange(size)
                if kind < 0.75:
                    order.insert(second, order.pop(first))
                else:
                    order[first], order[second] = order[second], order[first]
                start = min(first, second)
                if first == second:
                    continue
            # What is a little worse may lead on; less and less so.
            leave = 1.0 + _LEAVE * (1.0 - move / effort.moves)
            score = self.board.score
            most = (score.left_out, score.late, score.lateness, self.board.smooth * leave)
            limit = replace(score, finish=score.finish * (1.0 + _OVER), mean=inf)
            tried = (*order, *parts.values())
            if (known := turned_down.get(tried)) and limit <= known[0] and most <= known[1]:
                continue
            board = self._placed(start, order, parts, limit)
            if board is None or (board.left_out, board.late, board.lateness, board.smooth) > most:
                turned_down[tried] = limit, most
                continue
            made = board.score
            self.order, self.parts, self.board = order, parts, board
            self.marks.update(self.made)
            if made < least:
                best, least = board, made
        return best

    def _last(self, random: Random) -> int:
        """The place in the order of one of the packs that are done last."""
        placed = sorted(self.board.placed, key=lambda placed: (placed.lateness, placed.end))
        return self.order.index(random.choice(placed[-3:]).task) if placed else 0

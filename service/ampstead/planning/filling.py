"""Packs put on as time goes on: whenever an output is free, the pack that makes the best use of the power left.

So that neither outputs nor power lie idle, the power left is shared among the free outputs, and the pack is taken whose
charge asks for about that share; of like ones the longer, and rather one at its full current.
"""

from collections.abc import Sequence
from math import inf

import numpy as np

from .placing import Board
from .swapping import ROUNDING
from .work import Bench, Task

_TRIES = 6


class Filler:
    """The ways of some tasks as arrays, for a plan by each set of weights."""

    def __init__(self, tasks: Sequence[Task], bench: Bench, width: float, steps: int) -> None:
        self.tasks, self.bench, self.width, self.steps = tasks, bench, width, steps
        entries = [
            (place, bank, way) for place, task in enumerate(tasks) for bank, ways in task.ways.items() for way in ways
        ]
        self.ways = [way for _, _, way in entries]
        self.place = np.array([place for place, _, _ in entries])
        self.bank = np.array([bank for _, bank, _ in entries])
        self.peak = np.array([way.peak for way in self.ways])
        self.time = np.array([way.time for way in self.ways])
        full = np.array([tasks[place].least_time for place, _, _ in entries])
        self.slower = np.log(self.time / full)
        self.length = full / full.max()
        self.logs = np.log(self.peak)
        self.ready = np.array([tasks[place].ready for place, _, _ in entries])

    def filled(self, full: float, long: float) -> Board:
        """A plan; the weights are of a full current and of a long charge, against that of the power's share."""
        board, bench = Board(self.bench, self.width, self.steps), self.bench
        open_ = np.ones(len(self.ways), dtype=bool)
        time, left, least = 0.0, len(self.tasks), float(self.peak.min())
        while left:
            begins = self._begins(board, time)
            begin = min(begins)
            if begin == inf:
                break
            step = round(begin / self.width)
            room = float(board.room[step]) if step < len(board.room) else bench.power
            if room < least:
                time = begin + self._pause(board, begin)
                continue
            free = sum(
                sum(end < 0.0 or end + bench.swap <= begin + ROUNDING for end in board.free[bank])
                for bank in range(len(bench.banks))
            )
            if board.seats:
                free = min(free, sum(end <= begin + ROUNDING for end in board.seats))
            share = max(room / max(1, min(free, left)), 1e-9)
            here = np.array([at <= begin + ROUNDING for at in begins])
            fit = open_ & (self.peak <= room) & (self.ready <= begin + ROUNDING) & here[self.bank]
            costs = np.where(fit, np.abs(self.logs - np.log(share)) + full * self.slower - long * self.length, inf)
            for _ in range(_TRIES):
                best = int(costs.argmin())
                if costs[best] == inf:
                    best = -1
                    break
                if board.fits(begin, int(self.bank[best]), self.ways[best]):
                    break
                costs[best] = inf
            else:
                best = -1
            if best < 0:
                time = begin + self._pause(board, begin)
                continue
            place = int(self.place[best])
            board.put(self.tasks[place], int(self.bank[best]), self.ways[best], begin)
            open_ &= self.place != place
            left -= 1
            least = float(self.peak.min(initial=inf, where=open_))
        board.left_out = left
        return board

    def _begins(self, board: Board, time: float) -> list[float]:
        """When a charge can begin on each bank, from a time on, were there power."""
        begun = max(time, min(board.seats, default=0.0))
        served: dict[tuple[float, bool], float] = {}
        found = []
        for outputs in board.free:
            free = min(outputs)
            asked = (begun, True) if free < 0.0 else (max(begun, free + self.bench.swap), False)
            if asked not in served:
                served[asked] = board.swaps.served(asked[0], fresh=asked[1])
            found.append(served[asked])
        return found

    def _pause(self, board: Board, begin: float) -> float:
        """Until something may have changed."""
        return max(self.width, 30.0)

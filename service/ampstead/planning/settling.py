"""A plan of steps settled: each charge on its output, in order, as soon as may be to the second."""

from math import ceil, floor, inf

import numpy as np

from .placing import Board, ample, latest_end
from .swapping import ROUNDING, Swaps
from .work import SLACK, Bench, Floats, Placed, Score


class Settled:
    """Charges on outputs that begin at any instant. One counts in a step with the most of any begin within a step."""

    def __init__(self, bench: Bench, width: float, finish: float) -> None:
        self.bench, self.width = bench, width
        steps = 2 * ceil(finish / width) + 8
        self.room = np.full(steps, ample(bench.power))
        self.rooms = {
            place: np.full(steps, ample(bank.total)) for place, bank in enumerate(bench.banks) if bank.total < inf
        }
        self.free = [[-1.0] * len(bank.outputs) for bank in bench.banks]
        self.latest = [[0.0] * len(bank.outputs) for bank in bench.banks]
        self.seats = [0.0] * bench.at_once if bench.at_once < bench.outputs else []
        self.swaps = Swaps(bench, 0.0)
        self.placed: list[Placed] = []

    def place(self, entry: Placed) -> bool:
        """The same charge as soon as may be; False where that is not within twice the time."""
        way, bank, width = entry.way, entry.bank, self.width
        free = self.free[bank][entry.output]
        fresh = free < 0.0
        begin = max(entry.task.ready, 0.0 if fresh else free + self.bench.swap, min(self.seats, default=0.0))
        need = way.anywhere(width)
        size, own = len(need), self.rooms.get(bank)
        while True:
            begin = self.swaps.served(begin, fresh=fresh)
            if begin / width + size > len(self.room):
                return False
            step = floor(begin / width + SLACK)
            enough = (self.room[step : step + size] >= need).all()
            if enough and (own is None or (own[step : step + size] >= need * way.efficiency).all()):
                break
            begin = (step + 1) * width
        self.room[step : step + size] -= need
        if own is not None:
            own[step : step + size] -= need * way.efficiency
        self.swaps.take(begin, fresh=fresh)
        end = begin + way.time
        if self.seats:
            taken = max(
                (n for n, free in enumerate(self.seats) if free <= begin + ROUNDING), key=self.seats.__getitem__
            )
            self.seats[taken] = end
        latest = latest_end(self.bench, begin, way, self.latest[bank][entry.output], fresh=fresh)
        self.free[bank][entry.output], self.latest[bank][entry.output] = end, latest
        self.placed.append(Placed(entry.task, bank, entry.output, way, begin, latest))
        return True


def settled(board: Board, width: float) -> tuple[Score, list[Placed], Floats, float]:
    """How good a plan is, its charges in order, the most that is drawn in each step, and how wide those are.

    What does not get better in finer steps stays as it was placed.
    """
    rough = sorted(board.placed, key=lambda placed: (placed.begin, placed.bank, placed.output))
    finer = Settled(board.bench, width, board.finish)
    if rough and all(finer.place(entry) for entry in rough):
        made = sorted(finer.placed, key=lambda placed: (placed.begin, placed.bank, placed.output))
        late = [over for entry in made if (over := entry.lateness) > 0.0]
        ends = [entry.end for entry in made]
        score = Score(board.left_out, len(late), sum(late), max(ends), sum(ends) / len(ends))
        if score <= board.score:
            return score, made, _drawn(made, width, anywhere=True), width
    return board.score, rough, _drawn(rough, board.width, anywhere=False), board.width


def _drawn(placed: list[Placed], width: float, *, anywhere: bool) -> Floats:
    drawn = np.zeros(ceil(max((entry.end for entry in placed), default=0.0) / width) + 2)
    for entry in placed:
        need = entry.way.anywhere(width) if anywhere else entry.way.steps(width)
        step = floor(entry.begin / width + SLACK) if anywhere else round(entry.begin / width)
        drawn[step : step + len(need)] += need
    return drawn

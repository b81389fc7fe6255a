"""Where things stand on a picture's paper: scales, marks, and words that no line strikes through."""

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from html import escape
from math import ceil, floor, log10
from typing import Any, NamedTuple

import numpy as np

from ampstead.declare import Floats

LETTER = 8.9
"""Width of a letter of the 16-unit type, near enough for placing."""
ABOVE, BELOW = 14.0, 5.0
"""How far letters reach from their baseline."""

PIECES = 40

Segment = Sequence[float]
"""x and y of both ends."""


class Axis(NamedTuple):
    """A straight scale from values to places on the paper, with round ticks."""

    low: float
    high: float
    start: float
    end: float
    ticks: tuple[float, ...]

    def at(self, value: Any) -> Any:
        """The place of a value, or the places of an array of them."""
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)

    def marks(self) -> list[tuple[float, str]]:
        """The places of the ticks, and their values with the digits that a step needs."""
        ticks = self.ticks
        decimals = _decimals(ticks[1] - ticks[0] if len(ticks) > 1 else abs(ticks[0]) or 1.0) if ticks else 0
        return [(self.at(value), f"{value:.{decimals}f}") for value in ticks]


def axis(low: float, high: float, start: float, end: float, *, most: int = 5, tight: bool = False) -> Axis:
    """A scale with at most so many steps of 1, 2 or 5, ends at ticks unless ``tight``."""
    if high - low <= 1e-12 * max(1.0, abs(high)):
        low, high = low - 0.5 * max(abs(low), 1.0) * 0.1, high + 0.5 * max(abs(high), 1.0) * 0.1
    raw = (high - low) / most
    size = 10.0 ** floor(log10(raw))
    step = next(size * n for n in (1, 2, 5, 10) if size * n >= raw * (1 - 1e-9))
    first, last = floor(low / step + 1e-9), ceil(high / step - 1e-9)
    if tight:
        first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
    else:
        low, high = first * step, last * step
    return Axis(low, high, start, end, tuple([n * step for n in range(first, last + 1)]))


@lru_cache(maxsize=256)
def _decimals(step: float) -> int:
    return max(0, -floor(log10(step) + 1e-9))


class Box(NamedTuple):
    """The room that words take."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: "Box") -> bool:
        apart = self.right <= other.left or other.right <= self.left
        return not (apart or self.bottom <= other.top or other.bottom <= self.top)

    def struck(self, segment: Segment) -> bool:
        """Whether a straight stroke runs through it."""
        x1, y1, x2, y2 = segment
        if (x1 <= self.left and x2 <= self.left) or (x1 >= self.right and x2 >= self.right):
            return False
        if (y1 <= self.top and y2 <= self.top) or (y1 >= self.bottom and y2 >= self.bottom):
            return False
        return self.crossed(segment)

    def crossed(self, segment: Segment) -> bool:
        """The same of a stroke that is no farther to one side than the box."""
        x1, y1, x2, y2 = segment
        first, last = 0.0, 1.0
        for start, way, low, high in ((x1, x2 - x1, self.left, self.right), (y1, y2 - y1, self.top, self.bottom)):
            if way == 0:
                if not low < start < high:
                    return False
                continue
            near, far = (low - start) / way, (high - start) / way
            if near > far:
                near, far = far, near
            if near > first:
                first = near
            if far < last:
                last = far
        return first < last


class Spot(NamedTuple):
    """A place where words may stand: their baseline's point, and which of their ends is there."""

    x: float
    y: float
    anchor: str = "start"

    def box(self, words: str) -> Box:
        wide = LETTER * len(words)
        left = self.x - {"start": 0.0, "middle": wide / 2, "end": wide}[self.anchor]
        return Box(left, self.y - ABOVE, left + wide, self.y + BELOW)


@dataclass(slots=True)
class Paper:
    """What is drawn so far. Words are placed before strokes are drawn, and strokes that may break leave them room."""

    room: Box
    taken: list[Box] = field(default_factory=list)
    strokes: list[Segment] = field(default_factory=list)
    curves: list[list[list[float]]] = field(default_factory=list)
    """Strokes that go on from left to right."""
    clear: list[Floats] = field(default_factory=list)
    """Curves that words are to keep off, as long as no words are placed."""
    parts: list[str] = field(default_factory=list)
    words: list[str] = field(default_factory=list)

    def keep_clear(self, points: Floats) -> None:
        """A curve that words are to keep off."""
        self.clear.append(points)

    def _cut(self, points: Floats) -> None:
        """The same as a few dozen straight pieces."""
        some = np.concatenate([points[:: 1 + len(points) // PIECES], points[-1:]])
        pieces = np.concatenate([some[:-1], some[1:]], axis=1).tolist()
        if (some[1:, 0] >= some[:-1, 0]).all():
            self.curves.append(pieces)
        else:
            self.strokes += pieces

    def cost(self, words: str, spot: Spot, least: int | None = None) -> int:
        """How much is in the way of words at a place; where that is not below `least`, no less than that."""
        while self.clear:
            self._cut(self.clear.pop())
        box = spot.box(words)
        inside = self.room.left <= box.left and box.right <= self.room.right
        inside = inside and self.room.top <= box.top and box.bottom <= self.room.bottom
        cost = (0 if inside else 1000) + 100 * sum([box.meets(other) for other in self.taken])
        if least is not None and cost >= least:
            return cost
        left, top, right, bottom = box.left, box.top, box.right, box.bottom
        near = [
            stroke
            for stroke in self.strokes
            if (stroke[0] < right or stroke[2] < right)
            and (stroke[0] > left or stroke[2] > left)
            and (stroke[1] < bottom or stroke[3] < bottom)
            and (stroke[1] > top or stroke[3] > top)
        ]
        for curve in self.curves:
            near += [
                piece
                for piece in curve[max(bisect_left(curve, [left]) - 1, 0) : bisect_left(curve, [right])]
                if (piece[1] < bottom or piece[3] < bottom) and (piece[1] > top or piece[3] > top)
            ]
        for stroke in near:
            if box.crossed(stroke):
                cost += 1
                if cost == least:
                    break
        return cost

    def write(self, words: str, kind: str, spots: Iterable[Spot], most: int | None = None) -> bool:
        """Words at the first of the places where least is in the way; none, where that is more than ``most``."""
        least, best = None if most is None else most + 1, None
        for spot in spots:
            cost = self.cost(words, spot, least)
            if least is None or cost < least:
                least, best = cost, spot
            if cost == 0:
                break
        if best is None:
            return False
        self.taken.append(best.box(words))
        self.words.append(text(best.x, best.y, words, kind, best.anchor))
        return True

    def rule(self, segment: Segment, kind: str) -> None:
        """A straight line across or down, with a gap where words stand."""
        x1, y1, x2, y2 = segment
        struck = [box for box in self.taken if box.struck(segment)]
        if not struck:
            self.parts.append(line(x1, y1, x2, y2, kind))
            return
        across = y1 == y2
        start, end = (x1, x2) if across else (y1, y2)
        for low, high in sorted((box.left, box.right) if across else (box.top, box.bottom) for box in struck):
            if low > start:
                self._straight(start, low, x1, y1, kind, across=across)
            start = max(start, high)
        if start < end:
            self._straight(start, end, x1, y1, kind, across=across)

    def _straight(self, start: float, end: float, x: float, y: float, kind: str, *, across: bool) -> None:
        self.parts.append(line(start, y, end, y, kind) if across else line(x, start, x, end, kind))


def along(points: Floats, part: float) -> tuple[float, float]:
    """The point of a line at a part of its way."""
    place = part * (len(points) - 1)
    low = max(0, min(int(place), len(points) - 2))
    (a, b), (c, d) = points[low].tolist(), points[min(low + 1, len(points) - 1)].tolist()
    return a + (place - low) * (c - a), b + (place - low) * (d - b)


_escaped = lru_cache(maxsize=1024)(escape)
"""Names, units and ticks come again and again."""


def text(x: float, y: float, words: str, kind: str = "", anchor: str = "start") -> str:
    """Words at a place."""
    named = f' class="{kind}"' if kind else ""
    return f'<text{named} x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{_escaped(words)}</text>'


def line(x1: float, y1: float, x2: float, y2: float, kind: str) -> str:
    """A straight line."""
    return f'<line class="{kind}" x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"/>'

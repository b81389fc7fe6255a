"""Curves drawn as SVG, and SVG turned into PNG. Nothing here is imported before a picture is asked for.

Drawn for a phone in sunlight: 480 units wide, large type, labels at the lines instead of a legend. An SVG follows the
reader's dark or light; a PNG is light. Over 300 lines: the parts of one drawing.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from html import escape
from itertools import chain
from math import isfinite
from pathlib import Path
from textwrap import shorten, wrap
from typing import Any, NamedTuple

import numpy as np
import orjson

from ampstead import units
from ampstead.declare import Count, Floats, Fraction, Quantity, Rate, Result
from ampstead.replying.colours import DARK, LIGHT
from ampstead.replying.paper import LETTER, Axis, Box, Paper, Spot, along, axis, line, text
from ampstead.replying.writers import in_answers
from ampstead.sketch import Bars, Chart, Limit, Panel, Picture, Rows

WIDTH, LEFT, RIGHT = 480, 62, 14
EDGE = LEFT - 46
HEAD, SUBJECT, GAP, FOOT, PANEL = 62, 26, 46, 52, 190
ROW, BAR, LANE = 58, 24, 62
FONT = Path(__file__).parents[1] / "static" / "dejavu-sans.ttf"
PNG_ZOOM = 2.0
SHORT, LONG = 3.0, 300.0
"""Minutes below which a time is drawn in seconds, and above which in hours."""


def _style(colours: Mapping[str, Any]) -> str:
    ink, faint, limit, lines = colours["ink"], colours["faint"], colours["limit"], colours["lines"]
    return (
        f".paper{{fill:{colours['paper']}}}text{{fill:{ink};stroke:{colours['paper']}}}.frame{{stroke:{ink}}}"
        f".grid{{stroke:{faint}}}line.limit{{stroke:{limit}}}text.limit{{fill:{limit}}}.trough{{fill:{faint}}}.edged{{stroke:{ink}}}"
        + "".join(
            f".line{n}{{stroke:{colour}}}text.line{n}{{stroke:{colours['paper']};fill:{colour}}}"
            f".bar{n},circle.line{n}{{fill:{colour}}}"
            for n, colour in enumerate(lines)
        )
    )


COMMON = (
    "text{font:16px 'DejaVu Sans',system-ui,sans-serif;paint-order:stroke;stroke-width:5;stroke-linejoin:round}"
    ".title{font-size:18px;font-weight:600}.curve{fill:none;stroke-width:3.5;stroke-linejoin:round;"
    "stroke-linecap:round}line.limit{stroke-width:2.5;stroke-dasharray:8 6}line.grid{stroke-width:1}"
    "line.frame{stroke-width:1.5}.span{opacity:.6}.edged{stroke-width:1.5}"
)
STYLE = f"{COMMON}{_style(LIGHT)}@media(prefers-color-scheme:dark){{{_style(DARK)}}}"


class Measure(NamedTuple):
    """How a column or limit is shown: in which unit, and how many of it one of the declared unit is."""

    result: Result
    unit: str
    factor: float = 1.0

    @classmethod
    def of(cls, result: Result) -> "Measure":
        spec = result.spec
        if isinstance(spec, Quantity):
            return cls(result, spec.unit)
        if isinstance(spec, Fraction):
            return cls(result, "%", 100.0)
        return cls(result, "C" if isinstance(spec, Rate) else "")

    def of_time(self, most: float) -> "Measure":
        """The same in seconds or hours, where minutes would be odd."""
        if self.unit != "min" or SHORT <= most <= LONG:
            return self
        return Measure(self.result, "s", 60.0) if most < SHORT else Measure(self.result, "h", 1 / 60)

    def single(self, value: float) -> float:
        spec = self.result.spec
        if not isinstance(spec, Quantity):
            return value * self.factor
        line = units.answer_scale(spec.unit)
        return (value - line.offset) / line.factor * self.factor

    def shown(self, values: Any) -> list[float]:
        made: list[float] = self.drawn(values).tolist()
        return made

    def drawn(self, values: Any) -> Floats:
        made = in_answers(self.result.spec, values)
        return made if self.factor == 1.0 else made * self.factor

    def called(self, name: str) -> str:
        words = name.replace("_", " ")
        return f"{words} [{self.unit}]".strip() if self.unit else words


def svg(picture: Picture, curve: Any, columns: Mapping[str, Result], sentence: str, subject: str = "") -> str:
    """The picture of a curve or table as an SVG document.

    ``subject`` names the pack below the title; the sentence is the description for screen readers.
    """
    head = HEAD + (SUBJECT if subject else 0)
    if not len(getattr(curve, next(iter(columns)))):
        body, height = _card(sentence, head)
    elif isinstance(picture, Bars):
        body, height = _bars(picture, curve, columns, head)
    elif isinstance(picture, Rows):
        body, height = _rows(picture, columns, head)
    else:
        body, height = _chart(picture, curve, columns, head)
    title = f"{picture.title}: {subject}" if subject else picture.title
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img" aria-labelledby="t d">'
        f'<title id="t">{escape(title)}</title><desc id="d">{escape(sentence)}</desc>'
        f"<style>{STYLE}</style>"
        f'<rect class="paper" width="{WIDTH}" height="{height}"/>'
        f"{text(EDGE, 28, picture.title, 'title')}{text(EDGE, 28 + SUBJECT, subject) if subject else ''}{body}</svg>\n"
    )


def png(document: str) -> bytes:
    """An SVG document of this module as PNG bytes, in the light colours and the font shipped here."""
    import resvg_py

    start, end = document.index("@media"), document.index("</style>")
    return bytes(
        resvg_py.svg_to_bytes(
            svg_string=document[:start] + document[end:],
            zoom=PNG_ZOOM,
            skip_system_fonts=True,
            font_files=[str(FONT)],
            font_family="DejaVu Sans",
            sans_serif_family="DejaVu Sans",
        )
    )


def _card(sentence: str, head: int) -> tuple[str, int]:
    """The sentence in place of a curve, where there is none."""
    lines = wrap(sentence, int((WIDTH - 2 * EDGE) / LETTER))
    parts = [text(EDGE, head + 24 * place, said) for place, said in enumerate(lines)]
    return "".join(parts), head + 24 * len(lines) + 10


def _chart(picture: Chart, curve: Any, columns: Mapping[str, Result], head: int) -> tuple[str, int]:
    measure = Measure.of(columns[picture.x])
    marks = [limit.value for panel in picture.panels for limit in panel.limits if limit.upright]
    marks += [picture.span.low, picture.span.high] if picture.span else []
    values = getattr(curve, picture.x)
    measure = measure.of_time(max(map(measure.single, [float(values.max()), *marks])))
    across = measure.drawn(values)
    dotted = any(panel.points for panel in picture.panels)
    # Readings are shown beside nothing drawn, on whichever side they lie.
    beside = [0.0] if dotted else []
    least = min([float(across.min()), *beside])
    most = max([float(across.max()), *map(measure.single, marks), *beside])
    x = axis(least, most, LEFT, WIDTH - RIGHT, tight=not dotted)
    parts, top, named = [], head, False
    for panel in picture.panels:
        drawn = _Panel(picture, panel, curve, columns, measure, x, across, top)
        named = drawn.draw(name_span=not named) or named
        parts += drawn.paper.parts + drawn.paper.words
        top += PANEL + GAP
    bottom = top - GAP
    parts += [text(at, bottom + 22, said, anchor="middle") for at, said in x.marks()]
    parts.append(text(WIDTH - RIGHT, bottom + 44, measure.called(picture.x), anchor="end"))
    return "".join(parts), bottom + FOOT


class _Panel:
    """One pair of axes: words first, where nothing is in their way, then strokes that leave them room."""

    def __init__(
        self,
        picture: Chart,
        panel: Panel,
        curve: Any,
        columns: Mapping[str, Result],
        measure: Measure,
        x: Axis,
        across: Floats,
        top: float,
    ) -> None:
        self.picture, self.panel, self.across, self.x, self.top = picture, panel, measure, x, top
        self.first = next(iter(panel.columns))
        self.upward = Measure.of(columns[self.first])
        lines = {name: self.upward.drawn(getattr(curve, name)) for name in panel.columns}
        self.level = [(limit, self.upward.single(limit.value)) for limit in panel.limits if not limit.upright]
        self.upright = [(limit, measure.single(limit.value)) for limit in panel.limits if limit.upright]
        values = [edge for line in lines.values() for edge in _span_of(line)]
        values += [value for _, value in self.level] + ([0.0] if panel.from_zero else [])
        self.y = axis(min(values), max(values), top + PANEL, top + 8)
        along_x = x.at(across)
        self.points = {name: _places(along_x, self.y.at(line)) for name, line in lines.items()}
        self.paper = Paper(Box(LEFT, top - 2, WIDTH - RIGHT, top + PANEL))

    def draw(self, *, name_span: bool) -> bool:
        """Everything of the panel; whether the span's name found an open place here."""
        paper, x, y, top = self.paper, self.x, self.y, self.top
        for points in self.points.values():
            paper.keep_clear(points)
        paper.strokes += [(LEFT, y.at(value), WIDTH - RIGHT, y.at(value)) for _, value in self.level]
        paper.strokes += [(x.at(value), top + 8, x.at(value), top + PANEL) for _, value in self.upright]
        self._words()
        named = bool(self.picture.span) and name_span and self._span_named()
        single = len(self.points) == 1
        unit = f"[{self.upward.unit}]" if self.upward.unit else ""
        paper.words.append(text(EDGE, top - 10, self.upward.called(self.first) if single else unit))
        if span := self.picture.span:
            low, high = (x.at(self.across.single(edge)) for edge in (span.low, span.high))
            paper.parts.append(
                f'<rect class="trough span" x="{low:.1f}" y="{top + 8}" width="{high - low:.1f}" height="{PANEL - 8}"/>'
            )
        for at, said in y.marks():
            paper.rule((LEFT, at, WIDTH - RIGHT, at), "grid")
            paper.words.append(text(LEFT - 8, at + 6, said, anchor="end"))
        paper.parts.append(line(LEFT, top + PANEL, WIDTH - RIGHT, top + PANEL, "frame"))
        dots: list[str] = []
        for n, (name, points) in enumerate(self.points.items()):
            if name in self.panel.points:
                dots += [f'<circle class="line{n}" cx="{a:.1f}" cy="{b:.1f}" r="6"/>' for a, b in points.tolist()]
            else:
                paper.parts.append(_stroke(points, n))
        paper.parts += dots
        for _, value in self.level:
            paper.rule((LEFT, y.at(value), WIDTH - RIGHT, y.at(value)), "limit")
        for _, value in self.upright:
            paper.rule((x.at(value), top + 8, x.at(value), top + PANEL), "limit")
        return named

    def _words(self) -> None:
        # Places are made as they are looked at: mostly the first will do.
        for limit, value in self.level:
            at = self.y.at(value)
            ends = ((LEFT + 6, "start"), (WIDTH - RIGHT - 6, "end"), ((LEFT + WIDTH) / 2, "middle"))
            self._write(limit.label, "limit", (Spot(x, at + up, end) for x, end in ends for up in (-9, 20)))
        for limit, value in self.upright:
            self._write(limit.label, "limit", self._beside(self.x.at(value)))
        for n, (name, words) in enumerate(self.panel.columns.items()):
            parts = (0.0, 1.0) if name in self.panel.points else (0.62, 0.3, 0.8, 0.1, 0.95)
            self._write(words, f"line{n}", self._around(self.points[name], parts))

    def _span_named(self) -> bool:
        span = self.picture.span
        assert span is not None
        low, high = (self.x.at(self.across.single(edge)) for edge in (span.low, span.high))
        open_places = (Spot((low + high) / 2, self.top + down, "middle") for down in (60, 30, 100, 140, 170))
        spots = chain(open_places, self._beside(high), self._beside(low))
        return self.paper.write(span.label, "", spots, None if self.panel is self.picture.panels[-1] else 0)

    def _beside(self, at: float) -> Iterator[Spot]:
        """Places on both sides of an upright, from the top down."""
        for down in (26, PANEL - 12, 60, 100, 140):
            yield Spot(at + 8, self.top + down)
            yield Spot(at - 8, self.top + down, "end")

    def _around(self, points: Floats, parts: Sequence[float]) -> Iterator[Spot]:
        """Places above and below a line, at some parts of its way."""
        for part in parts:
            a, b = along(points, part)
            yield from (Spot(a, b + up, end) for up, end in _AROUND)

    def _write(self, words: str, kind: str, spots: Iterable[Spot]) -> None:
        if words:
            self.paper.write(words, kind, spots)


def _places(along_x: Floats, along_y: Floats) -> Floats:
    """Places on the paper, a row each; where a line has no value there is none."""
    places = np.empty((len(along_x), 2))
    places[:, 0], places[:, 1] = along_x, along_y
    return places if isfinite(along_y.sum()) else places[np.isfinite(along_y)]


def _span_of(line: Floats) -> tuple[float, float]:
    """The least and the most of a line, where it has values."""
    low, high = float(line.min()), float(line.max())
    if isfinite(low) and isfinite(high):
        return low, high
    return _span_of(line[np.isfinite(line)])


_AROUND = ((-12, "start"), (-12, "end"), (26, "start"), (26, "end"))


def _stroke(points: Floats, n: int) -> str:
    """A line through points, without those that lie on a level stretch of it."""
    said = orjson.dumps(_bent(points.round(1)), option=orjson.OPT_SERIALIZE_NUMPY).decode()
    said = said[2:-2].replace("],[", " ")
    return f'<polyline class="curve line{n}" points="{said}"/>'


def _bent(points: Floats) -> Floats:
    """The points at which a line may turn: all but those as high as the ones before and behind them."""
    turns = points[1:, 1] != points[:-1, 1]
    if np.count_nonzero(turns) == len(turns):
        return points
    kept = np.empty(len(points), dtype=bool)
    kept[0] = kept[-1] = True
    np.logical_or(turns[1:], turns[:-1], out=kept[1:-1])
    return points[kept]


def _bars(picture: Bars, table: Any, columns: Mapping[str, Result], head: int) -> tuple[str, int]:
    measure = Measure.of(columns[picture.columns[0]])
    lengths = [measure.shown(getattr(table, name)) for name in picture.columns]
    starts = [sum(lengths[0][:place]) if picture.stacked else 0.0 for place in range(len(lengths[0]))]
    limits = [(limit, measure.single(limit.value)) for limit in picture.limits]
    ends = [start + value for line in lengths for start, value in zip(starts, line, strict=True)]
    x = axis(0.0, max([*ends, *(value for _, value in limits), measure.single(picture.reach)]), EDGE, WIDTH - RIGHT)
    labels = getattr(table, picture.label)
    is_count = isinstance(columns[picture.label].spec, Count)
    head += SUBJECT * max(0, len(limits) - 1)
    names = [f"{picture.label} {label:.0f}" if is_count else str(label) for label in labels]
    room = int((WIDTH - RIGHT - x.start - 4) / LETTER)
    parted = any(len(f"{name}: {said}") > room for name, said in zip(names, picture.words, strict=True))
    high = ROW + SUBJECT if parted else ROW
    bottom = head + high * len(labels)
    paper = Paper(Box(EDGE, 0, WIDTH - RIGHT, bottom))
    rows = _named_limits(paper, limits, x, head, bottom)
    for place, (name, said) in enumerate(zip(names, picture.words, strict=True)):
        y = head + high * place
        if parted:  # what is too long for a line stands in two
            paper.write(shorten(name, room, placeholder=" …"), "", [Spot(x.start + 4, y + 16)])
            y += SUBJECT
            said = shorten(said, room, placeholder=" …")
        paper.write(said if parted else f"{name}: {said}", "", [Spot(x.start + 4, y + 16)])
        at = x.at(starts[place])
        for kind, row in reversed(list(zip(("bar0", "trough"), lengths, strict=False))):
            width = max(x.at(starts[place] + row[place]) - at, 0.0)
            paper.parts.append(f'<rect class="{kind}" x="{at:.1f}" y="{y + 24}" width="{width:.1f}" height="{BAR}"/>')
    bars, paper.parts = paper.parts, []
    marks = x.marks()
    for place, (at, said) in enumerate(marks):
        paper.rule((at, head - 8, at, bottom), "grid")
        end = "start" if place == 0 else "end" if place == len(marks) - 1 else "middle"
        paper.words.append(text(at, bottom + 22, said, anchor=end))
    paper.parts += bars
    for (_, value), up in zip(limits, rows, strict=True):
        paper.rule((x.at(value), up + 4, x.at(value), bottom), "limit")
    called = measure.called(picture.quantity or picture.columns[0])
    paper.words.append(text(WIDTH - RIGHT, bottom + 44, called, anchor="end"))
    return "".join(paper.parts + paper.words), bottom + FOOT


def _rows(picture: Rows, columns: Mapping[str, Result], head: int) -> tuple[str, int]:
    """Stretches on rows, and under them a panel of a line over the same axis."""
    measure = Measure.of(columns[picture.begin])
    marks = [limit.value for limit in picture.marks]
    ends = [stretch.end for stretch in picture.stretches]
    measure = measure.of_time(max(measure.shown([*ends, *marks])))
    x = axis(0.0, max(measure.shown([*ends, *marks])), LEFT, WIDTH - RIGHT, tight=True)
    head += SUBJECT * len(picture.marks)
    bottom = head + LANE * len(picture.rows)
    paper = Paper(Box(EDGE, 0, WIDTH - RIGHT, bottom))
    limits = [(limit, measure.single(limit.value)) for limit in picture.marks]
    ups = _named_limits(paper, limits, x, head, bottom)
    for place, name in enumerate(picture.rows):
        paper.write(name, "", [Spot(LEFT, head + LANE * place + 16)])
    bars, short = [], []
    for number, stretch in enumerate(picture.stretches, 1):
        left, right = x.at(np.array(measure.shown([stretch.begin, stretch.end]))).tolist()
        y = head + LANE * stretch.row + 24
        wide = max(right - left - 1.5, 1.0)
        bars.append(f'<rect class="trough edged" x="{left:.1f}" y="{y}" width="{wide:.1f}" height="{BAR + 4}"/>')
        label = stretch.label
        if LETTER * len(label) > wide - 6:
            short.append((number, label))
            label = str(number)
        if LETTER * len(label) <= wide + 8:
            spot = Spot((left + right) / 2, y + 20, "middle")
            paper.taken.append(spot.box(label))
            paper.words.append(text(spot.x, spot.y, label, "", "middle"))
    for at, _ in x.marks():
        paper.rule((at, head, at, bottom), "grid")
    paper.parts += bars
    for (_, value), up in zip(limits, ups, strict=True):
        paper.rule((x.at(value), up + 4, x.at(value), bottom), "limit")
    top = bottom + GAP
    parts = [*paper.parts, *paper.words, _line_below(picture, columns, measure, x, top)]
    foot = top + PANEL
    parts += [text(at, foot + 22, said, anchor="middle") for at, said in x.marks()]
    parts.append(text(WIDTH - RIGHT, foot + 44, measure.called("time"), anchor="end"))
    foot += FOOT + 4
    for place, said in enumerate(_key(short)):
        parts.append(text(EDGE, foot + 22 * (place + 1), said))
        bottom = foot + 22 * (place + 1)
    return "".join(parts), (foot + 22 * len(_key(short)) + 12 if short else foot)


def _key(short: Sequence[tuple[int, str]]) -> list[str]:
    """What the numbers on short stretches stand for, as many on a line as fit."""
    letters, lines = int((WIDTH - 2 * EDGE) / LETTER), [""]
    for number, label in short:
        said = f"{number} {label}"
        if lines[-1] and len(lines[-1]) + 2 + len(said) > letters:
            lines.append(said)
        else:
            lines[-1] = f"{lines[-1]}; {said}" if lines[-1] else said
    return lines if short else []


def _line_below(picture: Rows, columns: Mapping[str, Result], measure: Measure, x: Axis, top: float) -> str:
    upward = Measure.of(columns[picture.below])
    values, limits = upward.shown(picture.values), [(m, upward.single(m.value)) for m in picture.limits]
    y = axis(0.0, max([*values, *(value for _, value in limits)]), top + PANEL, top + 8)
    paper = Paper(Box(LEFT, top - 2, WIDTH - RIGHT, top + PANEL))
    points = _places(x.at(np.array(measure.shown(picture.times))), y.at(np.array(values)))
    points = points[points[:, 0] <= WIDTH - RIGHT]
    paper.keep_clear(points)
    for limit, value in limits:
        at, ends = y.at(value), ((WIDTH - RIGHT - 6, "end"), (LEFT + 6, "start"))
        paper.strokes.append((LEFT, at, WIDTH - RIGHT, at))
        paper.write(limit.label, "limit", [Spot(a, at + up, end) for up in (-9, 20) for a, end in ends])
    paper.words.append(text(EDGE, top - 10, upward.called(picture.below)))
    for at, said in y.marks():
        paper.rule((LEFT, at, WIDTH - RIGHT, at), "grid")
        paper.words.append(text(LEFT - 8, at + 6, said, anchor="end"))
    paper.parts.append(line(LEFT, top + PANEL, WIDTH - RIGHT, top + PANEL, "frame"))
    paper.parts.append(_stroke(points, 0))
    for _, value in limits:
        paper.rule((LEFT, y.at(value), WIDTH - RIGHT, y.at(value)), "limit")
    return "".join(paper.parts + paper.words)


def _named_limits(
    paper: Paper, limits: list[tuple[Limit, float]], x: Axis, head: float, bottom: float
) -> Sequence[float]:
    """Names of limits above the bars, each on a line of its own; the heights of those lines."""
    rows = [head - 12 - SUBJECT * place for place in range(len(limits))]
    for (limit, value), y in zip(limits, rows, strict=True):
        at = x.at(value)
        others = [(x.at(other), up, x.at(other), bottom) for (_, other), up in zip(limits, rows, strict=True) if up < y]
        paper.strokes = [*others]
        sides = [Spot(at + 6, y), Spot(at - 6, y, "end")]
        paper.write(limit.label, "limit", sides if at <= WIDTH / 2 else sides[::-1])
    paper.strokes = []
    return rows

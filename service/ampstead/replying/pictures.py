"""Curves drawn as SVG, and SVG turned into PNG. Nothing here is imported before a picture is asked for.

Drawn for a phone in sunlight: 480 units wide, large type, labels at the lines instead of a legend. An SVG follows the
reader's dark or light; a PNG is light.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from math import ceil, floor, isfinite, log10
from pathlib import Path
from textwrap import wrap
from typing import Any

import numpy as np

from ampstead.declare import Count, Quantity, Result
from ampstead.replying.writers import in_answers
from ampstead.sketch import Bars, Chart, Limit, Panel, Picture

WIDTH, LEFT, RIGHT = 480, 62, 14
HEAD, GAP, FOOT, PANEL = 62, 46, 52, 190
ROW, BAR = 58, 24
FONT = Path(__file__).parents[1] / "static" / "dejavu-sans.ttf"
PNG_ZOOM = 2.0
LETTER = 8.9  # Width of a letter of the 16-unit type, near enough for placing.

LIGHT = {"paper": "#ffffff", "ink": "#16181d", "faint": "#d6d9de", "limit": "#b3261e", "lines": ("#0a5fb4", "#7a3d00")}
DARK = {"paper": "#14161a", "ink": "#f1f3f5", "faint": "#3a3f46", "limit": "#ff9d94", "lines": ("#79b8ff", "#ffc078")}


def _style(colours: Mapping[str, Any]) -> str:
    ink, faint, limit, lines = colours["ink"], colours["faint"], colours["limit"], colours["lines"]
    return (
        f".paper{{fill:{colours['paper']}}}text{{fill:{ink}}}.frame{{stroke:{ink}}}.grid{{stroke:{faint}}}"
        f"text.over{{stroke:{colours['paper']}}}.limit{{stroke:{limit}}}text.limit{{stroke:{colours['paper']};fill:{limit}}}.trough{{fill:{faint}}}"
        + "".join(
            f".line{n}{{stroke:{colour}}}text.line{n}{{stroke:none;fill:{colour}}}.bar{n}{{fill:{colour}}}"
            for n, colour in enumerate(lines)
        )
    )


COMMON = (
    "text{font:16px 'DejaVu Sans',system-ui,sans-serif}.title{font-size:18px;font-weight:600}.curve{fill:none;"
    "stroke-width:3.5;stroke-linejoin:round;stroke-linecap:round}.limit{stroke-width:2.5;stroke-dasharray:8 6}"
    "line.grid{stroke-width:1}line.frame{stroke-width:1.5}text.limit{paint-order:stroke;stroke-width:5;"
    "stroke-dasharray:none;stroke-linejoin:round}text.over{paint-order:stroke;stroke-width:5;stroke-linejoin:round}"
)


@dataclass(frozen=True, slots=True)
class Axis:
    """A straight scale from values to places on the paper, with round ticks."""

    low: float
    high: float
    start: float
    end: float
    ticks: tuple[float, ...]

    def at(self, value: Any) -> Any:
        """The place of a value, or the places of many."""
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)


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
    digits = 12 - floor(log10(step))
    return Axis(low, high, start, end, tuple(round(n * step, digits) for n in range(first, last + 1)))


def svg(picture: Picture, curve: Any, columns: Mapping[str, Result], sentence: str) -> str:
    """The picture of a curve or table as an SVG document; the sentence is its description for screen readers."""
    if not len(getattr(curve, next(iter(columns)))):
        body, height = _card(sentence)
    elif isinstance(picture, Bars):
        body, height = _bars(picture, curve, columns)
    else:
        body, height = _chart(picture, curve, columns)
    dark = f"@media(prefers-color-scheme:dark){{{_style(DARK)}}}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img" aria-labelledby="t d">'
        f'<title id="t">{escape(picture.title)}</title><desc id="d">{escape(sentence)}</desc>'
        f"<style>{COMMON}{_style(LIGHT)}{dark}</style>"
        f'<rect class="paper" width="{WIDTH}" height="{height}"/>'
        f"{_text(LEFT - 46, 28, picture.title, 'title')}{body}</svg>\n"
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


def _card(sentence: str) -> tuple[str, int]:
    """The sentence in place of a curve, where there is none."""
    lines = wrap(sentence, int((WIDTH - 2 * (LEFT - 46)) / LETTER))
    parts = [_text(LEFT - 46, HEAD + 24 * place, line) for place, line in enumerate(lines)]
    return "".join(parts), HEAD + 24 * len(lines) + 10


def _shown(values: Any, result: Result) -> list[float]:
    made: list[float] = in_answers(result.spec, values).tolist()
    return made


def _called(name: str, result: Result) -> str:
    words = name.replace("_", " ")
    return f"{words} [{result.spec.unit}]" if isinstance(result.spec, Quantity) else words


def _text(x: float, y: float, words: str, kind: str = "", anchor: str = "start") -> str:
    named = f' class="{kind}"' if kind else ""
    return f'<text{named} x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(words)}</text>'


def _line(x1: float, y1: float, x2: float, y2: float, kind: str) -> str:
    return f'<line class="{kind}" x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"/>'


def _tick(value: float, ticks: Sequence[float]) -> str:
    step = ticks[1] - ticks[0] if len(ticks) > 1 else abs(value) or 1.0
    digits = max(0, -floor(log10(step) + 1e-9))
    return f"{value:.{digits}f}"


def _chart(picture: Chart, curve: Any, columns: Mapping[str, Result]) -> tuple[str, int]:
    across = _shown(getattr(curve, picture.x), columns[picture.x])
    upright = [limit.value for panel in picture.panels for limit in panel.limits if limit.upright]
    upright = _shown(upright, columns[picture.x])
    x = axis(min(across), max([*across, *upright]), LEFT, WIDTH - RIGHT, tight=True)
    parts, top = [], HEAD
    for panel in picture.panels:
        parts.append(_panel(panel, curve, columns, x, across, top, picture.x))
        top += PANEL + GAP
    bottom = top - GAP
    parts += [_text(x.at(tick), bottom + 22, _tick(tick, x.ticks), anchor="middle") for tick in x.ticks]
    parts.append(_text(WIDTH - RIGHT, bottom + 44, _called(picture.x, columns[picture.x]), anchor="end"))
    return "".join(parts), bottom + FOOT


def _panel(
    panel: Panel, curve: Any, columns: Mapping[str, Result], x: Axis, across: list[float], top: float, x_name: str
) -> str:
    first = next(iter(panel.columns))
    lines = {name: _shown(getattr(curve, name), columns[name]) for name in panel.columns}
    limits = [(limit, _shown([limit.value], columns[x_name if limit.upright else first])[0]) for limit in panel.limits]
    values = [value for line in lines.values() for value in line if isfinite(value)]
    values += [value for limit, value in limits if not limit.upright] + ([0.0] if panel.from_zero else [])
    y = axis(min(values), max(values), top + PANEL, top + 8)
    parts = [
        _text(LEFT - 46, top - 10, _called(first, columns[first]) if len(lines) == 1 else _unit_of(columns[first]))
    ]
    for tick in y.ticks:
        parts.append(_line(LEFT, y.at(tick), WIDTH - RIGHT, y.at(tick), "grid"))
        parts.append(_text(LEFT - 8, y.at(tick) + 6, _tick(tick, y.ticks), anchor="end"))
    parts.append(_line(LEFT, top + PANEL, WIDTH - RIGHT, top + PANEL, "frame"))
    for n, (name, line) in enumerate(lines.items()):
        parts.append(f'<polyline class="curve line{n}" points="{_points(x, y, across, line)}"/>')
        if panel.columns[name]:
            parts.append(_line_label(panel.columns[name], n, x, y, across, line))
    lowest, highest = min(values), max(values)
    crowded = (y.at(highest) + y.at(lowest)) / 2
    for limit, value in limits:
        near = min(range(len(across)), key=lambda place: abs(across[place] - value)) if limit.upright else 0
        low_down = limit.upright and y.at(next(iter(lines.values()))[near]) < crowded
        parts.append(_limit(limit, value, x, y, top, top + PANEL - 12 if low_down else top + 26))
    return "".join(parts)


def _points(x: Axis, y: Axis, across: list[float], line: list[float]) -> str:
    """The places of a line, to the tenth of a unit; where it has no value there is none."""
    places = np.column_stack([x.at(np.asarray(across)), y.at(np.asarray(line))])
    flat = places[np.isfinite(places[:, 1])].ravel().tolist()
    return ("%.1f,%.1f " * (len(flat) // 2) % tuple(flat)).rstrip()


def _unit_of(result: Result) -> str:
    return f"[{result.spec.unit}]" if isinstance(result.spec, Quantity) else ""


def _line_label(words: str, n: int, x: Axis, y: Axis, across: list[float], line: list[float]) -> str:
    """A line's name on the line: the first above it near its end, the second below it near its start."""
    place = round((len(line) - 1) * (0.62 if n == 0 else 0.2))
    up = -12 if n == 0 else 26
    at = min(max(x.at(across[place]), LEFT + 4), WIDTH - RIGHT - LETTER * len(words))
    return _text(at, min(max(y.at(line[place]) + up, y.end + 16), y.start - 6), words, f"line{n}")


def _limit(limit: Limit, value: float, x: Axis, y: Axis, top: float, height: float) -> str:
    """A limit's line and name; an upright one's name stands at a height clear of the curve."""
    if limit.upright:
        at = x.at(value)
        left = at > (LEFT + WIDTH) / 2
        words = _text(at + (-8 if left else 8), height, limit.label, "limit", "end" if left else "start")
        return _line(at, top + 8, at, top + PANEL, "limit") + words
    at = y.at(value)
    below = at < top + 34
    words = _text(LEFT + 6, at + (20 if below else -8), limit.label, "limit")
    return _line(LEFT, at, WIDTH - RIGHT, at, "limit") + words


def _bars(picture: Bars, table: Any, columns: Mapping[str, Result]) -> tuple[str, int]:
    first = picture.columns[0]
    lengths = [_shown(getattr(table, name), columns[name]) for name in picture.columns]
    starts = [sum(lengths[0][:place]) if picture.stacked else 0.0 for place in range(len(lengths[0]))]
    limits = [(limit, _shown([limit.value], columns[first])[0]) for limit in picture.limits]
    ends = [start + value for line in lengths for start, value in zip(starts, line, strict=True)]
    x = axis(0.0, max([*ends, *(value for _, value in limits)]), LEFT - 46, WIDTH - RIGHT)
    labels = getattr(table, picture.label)
    is_count = isinstance(columns[picture.label].spec, Count)
    height = HEAD + ROW * len(labels) + FOOT
    bottom = height - FOOT
    parts = [_line(x.at(tick), HEAD - 8, x.at(tick), bottom, "grid") for tick in x.ticks]
    parts += [_text(x.at(tick), bottom + 22, _tick(tick, x.ticks), anchor=_end(x, tick)) for tick in x.ticks]
    parts.append(_text(WIDTH - RIGHT, bottom + 44, _called(first, columns[first]), anchor="end"))
    named = []
    for place, label in enumerate(labels):
        y = HEAD + ROW * place
        name = f"{picture.label} {label:.0f}" if is_count else str(label)
        named.append(_text(x.start + 4, y + 16, f"{name}: {picture.words[place]}", "over"))
        at = x.at(starts[place])
        for kind, line in reversed(list(zip(("bar0", "trough"), lengths, strict=False))):
            width = max(x.at(starts[place] + line[place]) - at, 0.0)
            parts.append(f'<rect class="{kind}" x="{at:.1f}" y="{y + 24}" width="{width:.1f}" height="{BAR}"/>')
    for limit, value in limits:
        at = x.at(value)
        left = at > WIDTH / 2
        parts.append(_line(at, HEAD - 8, at, bottom, "limit"))
        parts.append(_text(at + (-6 if left else 6), HEAD - 12, limit.label, "limit", "end" if left else "start"))
    return "".join(parts + named), height


def _end(x: Axis, tick: float) -> str:
    return "start" if tick == x.ticks[0] else "end" if tick == x.ticks[-1] else "middle"

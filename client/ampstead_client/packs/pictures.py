"""A report as a picture: a row for each pack, with its resistance and its capacity over the years."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from html import escape

from ampstead_client.packs.fields import RESISTANCES
from ampstead_client.packs.standing import VERDICTS, Standing
from ampstead_client.packs.trends import YEAR, Trend

WIDTH, ROW, HEAD, FOOT = 760, 96, 56, 34
PANELS = ((200, 380), (480, 640))
"""From where to where each panel goes."""
LIGHT, DARK = (
    ("#ffffff", "#16181d", "#d6d9de", "#0a5fb4", "#b3261e"),
    (
        *("#14161a", "#f1f3f5", "#3a3f46", "#79b8ff"),
        "#ff9d94",
    ),
)
MARKS = {"retire": "✕", "light-duty": "▼", "unknown": "?", "other-model": "◆", "flight": "✓"}


def svg(standings: Sequence[Standing]) -> str:
    """The picture as a document of SVG."""
    height = HEAD + ROW * len(standings) + FOOT
    days = [point.date for standing in standings for trend in standing.trends for point in trend.points]
    first, last = (min(days), max(days)) if days else (date.today(), date.today())
    said = "; ".join(f"{each.pack.name}: {VERDICTS[each.verdict]}" for each in standings) or "The list is empty."
    body = [_text(16, 28, "Packs, worst first", "head")]
    for (left, _), title in zip(PANELS, ("resistance at 25 °C", "capacity at 25 °C"), strict=True):
        body.append(_text(left, 28, title, "head"))
    for place, standing in enumerate(standings):
        body += _row(standing, HEAD + ROW * place, first, last)
    if days:
        for left, right in PANELS:
            body.append(_text(left, height - 10, first.strftime("%Y-%m"), "small"))
            if last > first:
                body.append(_text(right, height - 10, last.strftime("%Y-%m"), "small end"))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img" '
        f'aria-label="{escape(said)}">'
        f"<style>{_style(*LIGHT)}@media(prefers-color-scheme:dark){{{_style(*DARK)}}}text{{font:16px system-ui,"
        "'DejaVu Sans',sans-serif}.head{font-weight:600}.small{font-size:13px}.end{text-anchor:end}"
        ".band{opacity:.18;stroke:none}.line{fill:none;stroke-width:3}</style>"
        f'<rect class="paper" width="{WIDTH}" height="{height}"/>{"".join(body)}</svg>\n'
    )


def _style(paper: str, ink: str, faint: str, line: str, grave: str) -> str:
    return (
        f".paper{{fill:{paper}}}text{{fill:{ink}}}.rule{{stroke:{faint}}}.line{{stroke:{line}}}"
        f".dot,.band{{fill:{line}}}.grave{{fill:{grave};font-weight:600}}"
    )


def _row(standing: Standing, top: int, first: date, last: date) -> list[str]:
    grave = "grave" if standing.verdict == "retire" else ""
    named = standing.pack.name if len(standing.pack.name) <= 21 else f"{standing.pack.name[:20]}…"
    row = [
        f'<line class="rule" x1="16" x2="{WIDTH - 16}" y1="{top}" y2="{top}"/>',
        _text(16, top + 34, named, "head"),
        _text(16, top + 60, f"{MARKS[standing.verdict]} {VERDICTS[standing.verdict]}", grave),
    ]
    trends = (standing.trend(*RESISTANCES), standing.trend("measured_capacity"))
    for (left, right), trend in zip(PANELS, trends, strict=True):
        if trend is None:
            row.append(_text(left, top + 34, "not logged", "small"))
        else:
            row += _panel(trend, left, right, top + 12, top + ROW - 24, first, last)
    return row


def _panel(trend: Trend, left: int, right: int, top: int, bottom: int, first: date, last: date) -> list[str]:
    """Readings as dots from zero up, the line through them, and the band of its slope."""
    whole = max((last - first).days, 1)
    most = max(point.high for point in trend.points) * 1.15

    def x(day: date) -> float:
        return left + (right - left) * (day - first).days / whole

    def y(value: float) -> float:
        return max(top, min(bottom, bottom - (bottom - top) * value / most))

    points = trend.points
    made = [f'<line class="rule" x1="{left}" x2="{right}" y1="{bottom}" y2="{bottom}"/>']
    if trend.per_year is not None and trend.low is not None and trend.high is not None:
        ends = (points[0].date, points[-1].date)
        middle = sum((point.date - ends[0]).days for point in points) / len(points)
        mean = sum(point.value for point in points) / len(points)
        reach = [((day - ends[0]).days - middle) / YEAR for day in ends]
        low, high = ([mean + slope.value * part for part in reach] for slope in (trend.low, trend.high))
        corners = zip((x(ends[0]), x(ends[1]), x(ends[1]), x(ends[0])), (*low, *reversed(high)), strict=True)
        shape = " ".join(f"{across:.1f},{y(up):.1f}" for across, up in corners)
        line = " ".join(
            f"{x(day):.1f},{y(mean + trend.per_year.value * part):.1f}" for day, part in zip(ends, reach, strict=True)
        )
        made += [f'<polygon class="band" points="{shape}"/>', f'<polyline class="line" points="{line}"/>']
    made += [f'<circle class="dot" r="4.5" cx="{x(each.date):.1f}" cy="{y(each.value):.1f}"/>' for each in points]
    value = points[-1].value
    shown = f"{value:.0f}" if trend.unit == "mAh" else f"{value:.1f}"
    beside = min(bottom - 2, max(top + 12, y(value) + 5))
    made.append(_text(right + 10, beside, f"{shown} {trend.unit}", "head"))
    if trend.per_year is None:
        made.append(_text(left, bottom + 17, trend.words, "small"))
    return made


def _text(across: float, down: float, words: str, kind: str = "") -> str:
    named = f' class="{kind}"' if kind else ""
    return f'<text x="{across:.0f}" y="{down:.0f}"{named}>{escape(words)}</text>'

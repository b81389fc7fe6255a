"""A report as text and as a page."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from html import escape
from math import floor

from ampstead_client.packs import pictures
from ampstead_client.packs.fields import RESISTANCES
from ampstead_client.packs.standing import VERDICTS, Standing
from ampstead_client.packs.trends import Trend, signed
from ampstead_client.quantity import Quantity

HEADINGS = ("verdict", "pack", "steady", "burst", "resistance", "a year", "capacity", "a year")
KINDS = {
    "cell_resistance": "Resistance of a cell",
    "pack_resistance": "Resistance of the pack",
    "measured_capacity": "Capacity",
}
FOOT = (
    "Steady and burst are what a pack can give over a flight and for ten seconds at its end. Resistances and "
    "capacities are brought to 25 °C, and only readings of one method are compared; a band holds with 95 percent. "
    "Follow the papers of pack and charger, and the rules where you fly."
)
WIDTH = 80

STYLE = (
    "body{font:18px/1.5 system-ui,sans-serif;margin:1.5rem auto;max-width:70rem;padding:0 1rem;color:#16181d;"
    "background:#fff}table{border-collapse:collapse}.wide{overflow-x:auto}th,td{text-align:left;padding:.4rem .8rem;"
    "border-bottom:1px solid #d6d9de;white-space:nowrap}tr.retire td:first-child{color:#b3261e;font-weight:700}"
    "dt{font-weight:700;margin-top:.8rem}dd{margin:0}"
    "@media(prefers-color-scheme:dark){body{color:#f1f3f5;background:#14161a}th,td{border-color:#3a3f46}"
    "tr.retire td:first-child{color:#ff9d94}}"
)


def text(standings: Sequence[Standing]) -> str:
    """A table that fits a terminal, and below it what is to be said of each pack."""
    if not standings:
        return "The list is empty."
    rows = [HEADINGS, *(cells(standing) for standing in standings)]
    widths = [max(len(row[place]) for row in rows) for place in range(len(HEADINGS))]
    table = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]
    table.insert(1, "  ".join("-" * width for width in widths))
    said = [textwrap.fill(f"{each.pack.name}: {_said(each)}", WIDTH, subsequent_indent="  ") for each in standings]
    return "\n".join([*table, "", *said, "", textwrap.fill(FOOT, WIDTH)])


def cells(standing: Standing) -> tuple[str, ...]:
    """A row of the table."""
    answer, retired = standing.answer, standing.verdict == "retire"
    currents = (answer.continuous_current, answer.burst_current) if answer else (None, None)
    trends = (standing.trend(*RESISTANCES), standing.trend("measured_capacity"))
    return (
        VERDICTS[standing.verdict],
        standing.pack.name,
        *("none" if retired else amperes(current) for current in currents),
        *(cell for trend in trends for cell in (_figure(trend), _change(trend))),
    )


def amperes(current: Quantity | None) -> str:
    """What a pack can give at most, rounded down."""
    if current is None:
        return "?"
    value = current.value_in("A")
    return f"{floor(value)} A" if value >= 10 else f"{floor(value * 10) / 10:.1f} A"


def _figure(trend: Trend | None) -> str:
    if trend is None:
        return "-"
    last = trend.points[-1].value
    shown = f"{last:.0f}" if trend.unit == "mAh" else f"{last:.1f}" if last >= 10 else f"{last:.2f}"
    return f"{shown} {trend.unit}"


def _change(trend: Trend | None) -> str:
    return "-" if trend is None or trend.per_year is None else "unsure" if trend.unsure else signed(trend.per_year)


def _said(standing: Standing) -> str:
    """What is to be said of a pack, each trend with its band."""
    changes = [
        f"{KINDS[each.kind]} by {each.method}: {each.words}, from {len(each.points)} readings."
        for each in standing.trends
        if each.per_year is not None
    ]
    history = standing.pack.history
    read = f"Last read on {history[-1].date}." if history else "Never read."
    return " ".join([standing.sentence, *changes, read])


def html(standings: Sequence[Standing]) -> str:
    """A page of its own: nothing is fetched from elsewhere."""
    head = "".join(f'<th scope="col">{escape(each)}</th>' for each in HEADINGS)
    rows = "".join(
        f'<tr class="{escape(standing.verdict)}">{"".join(f"<td>{escape(each)}</td>" for each in cells(standing))}</tr>'
        for standing in standings
    )
    said = "".join(f"<dt>{escape(each.pack.name)}</dt><dd>{escape(_said(each))}</dd>" for each in standings)
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" '
        f'content="width=device-width"><title>Packs</title><style>{STYLE}</style></head><body><h1>Packs, worst first'
        f'</h1><div class="wide"><table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table></div>'
        f"<dl>{said}</dl>"
        f"{pictures.svg(standings)}<p>{escape(FOOT)}</p></body></html>\n"
    )

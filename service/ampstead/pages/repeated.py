"""Lists of a page that are long and mostly alike from answer to answer: what never changes of them is written once.

What is told of one question alone is never kept.
"""

import re
from collections.abc import Iterable
from functools import lru_cache

from markupsafe import Markup, escape

from ampstead.declare import Calculator, Caution
from ampstead.errors import capitalised
from ampstead.pages.figures import Figure, Table
from ampstead.pages.written import joined

_STRANGE = re.compile("[<>&\"']")
_WORD = re.compile("[A-Za-z]+")
BAND = (
    '<span class=band><span>{}</span><svg viewBox="0 0 100 12" width=120 height=14 aria-hidden=true>'
    '<path d="M3 6H97M3 2V10M97 2V10"/><circle cx={:.1f} cy=6 r=4 /></svg>'
    "<span><span class=unseen>to </span>{}</span></span>"
)
MOST_COLUMNS, LONGEST_CELL = 3, 24
"""Columns, and letters of a cell, that have room on a phone."""
INSET, WIDTH = 3.0, 0.94
"""Where the line of a band begins, and its length for each percent."""


def sentence(pieces: Iterable[tuple[str, bool]]) -> Markup:
    """What is said, its figures strong."""
    made = "".join([f"<strong>{_plain(text)}</strong>" if figure else _plain(text) for text, figure in pieces])
    return Markup(made.replace("</strong> day", "</strong>\N{NO-BREAK SPACE}day"))


def figures(shown: Iterable[Figure]) -> Markup:
    """Results, each with its meaning and the band that it lies in."""
    made = []
    for each in shown:
        begin, end = _around(each.label, each.meaning)
        band = BAND.format(_plain(each.low), INSET + WIDTH * each.dot, _plain(each.high)) if each.low else ""
        made.append(f"{begin}{_plain(each.text)}</strong>{band}{end}")
    return Markup("\n".join(made))


def tables(shown: Iterable[Table]) -> Markup:
    """Results that are lists; one too wide for a phone names each of its figures, so that there it may be a list."""
    made = []
    for table in shown:
        wide = len(table.heads) > MOST_COLUMNS or any(len(cell) > LONGEST_CELL for row in table.rows for cell in row)
        quoted = [head if _WORD.fullmatch(head) else f'"{_plain(head)}"' for head in table.heads]
        heads = [f" data-of={head}" if wide else "" for head in quoted]
        made.append(
            f'<div class=scroll tabindex=0 role=region aria-label="{_plain(table.label)}">'
            f"<table{' class=wide' if wide else ''}><caption>{_plain(table.label)}</caption>"
            f"<thead><tr>{''.join([f'<th scope=col>{_plain(head)}' for head in table.heads])}</thead><tbody>"
        )
        for row in table.rows:
            cells = [f"<td{head}>{_plain(cell)}" for head, cell in zip(heads, row, strict=True)]
            made.append(f"<tr>{''.join(cells)}")
        made.append("</tbody></table></div>")
    return Markup("".join(made))


def cautions(heeded: Iterable[Caution]) -> Markup:
    """Cautions, each with how grave it is in a word."""
    return Markup("\n".join([_standing(each) if each.standing else _caution(each) for each in heeded]))


def links(found: Iterable[tuple[str, str]]) -> Markup:
    """Addresses and what they answer."""
    return Markup("\n".join([f'<li><a href="{_plain(address)}">{_plain(asked)}</a></li>' for address, asked in found]))


def sources(calculator: Calculator, shown: Iterable[Figure]) -> Markup:
    """What the bands and the method rest on."""
    bands = [
        f"<p><strong>{_plain(each.label)}</strong>, {_plain(each.low)} to {_plain(each.high)}: "
        f"{_plain(each.basis)}.</p>"
        for each in shown
        if each.low
    ]
    return Markup("\n".join([*bands, _method(calculator)]))


def _plain(text: str) -> str:
    return str(escape(text)) if _STRANGE.search(text) else text


@lru_cache(maxsize=2048)
def _around(label: str, meaning: str) -> tuple[str, str]:
    begin = f"<div><dt>{escape(label)}</dt><dd><strong>"
    return begin, f"<small>{escape(joined(meaning))}</small></dd></div>"


def _caution(each: Caution) -> str:
    severity = f"<strong>{capitalised(each.severity)}:</strong>"
    return f'<li class="caution {each.severity}">{severity} {escape(joined(each.text))}</li>'


@lru_cache(maxsize=512)
def _standing(each: Caution) -> str:
    return _caution(each)


@lru_cache(maxsize=64)
def _method(calculator: Calculator) -> str:
    return f"<ul>{''.join([f'<li>{escape(joined(source))}</li>' for source in calculator.sources])}</ul>"

"""The page of a list of packs. What is sent to it is answered and forgotten: no file and no log has it.

A pack's name goes into the address of its field card, whose names the log leaves out (``ampstead.server.seen``); no
other link has any.
"""

import logging
from collections import Counter
from collections.abc import Mapping
from traceback import extract_tb
from typing import NamedTuple

from flask import Response, request
from werkzeug.exceptions import HTTPException

from ampstead import words
from ampstead.declare import Calculator, Caution
from ampstead.errors import Problem, capitalised
from ampstead.pages import cards, sent, typed
from ampstead.pages.asking_on import others
from ampstead.pages.packs import LONGEST_LIST
from ampstead.pages.packs.files import MOST_TOLD, Fault, Faulty
from ampstead.pages.packs.listed import listed
from ampstead.pages.packs.standing import VERDICTS, WORST_FIRST, Standing, facts_of, standings
from ampstead.pages.packs.trends import KINDS, Trend

log = logging.getLogger("ampstead.packs")
LONGEST_CARDS = 3500
"""Letters of an address of cards: every browser and every service takes as many."""
MOST_OTHERS = 6
EMPTIES = "let-down"
SAMPLE = """\
[[pack]]
id = "red-trainer-a"
name = "red trainer A"
chemistry = "lipo"
cells = 3
capacity = "2250 mAh"
label_rate = 30
max_rate = 2
flight_time = "7.5 min"
charge_returned = "1480 mAh"

[[pack.reading]]
date = 2026-04-11
kind = "cell_resistance"
value = "8.5 mΩ"
temperature = "25 °C"
method = "1s"
"""
MARKS = {"retire": "✗", "light-duty": "⚠", "unknown": "?", "other-model": "△", "flight": "✓"}
GRAVE = {"retire": "danger", "light-duty": "danger", "unknown": "warning", "other-model": "warning"}
FORMS = ("multipart/form-data", "application/x-www-form-urlencoded")


class Row(NamedTuple):
    """A pack as the page shows it."""

    name: str
    verdict: str
    mark: str
    said: str
    sentence: list[tuple[str, bool]]
    cautions: tuple[Caution, ...]
    trends: list[str]
    last: str
    asked: str
    others: list[tuple[Calculator, str]]
    card: str


def page(calculators: Mapping[str, Calculator]) -> Response:
    """The page: empty, or with what the list that was sent says."""
    request.max_content_length = LONGEST_LIST
    rows: list[Row] = []
    faults: list[Fault] = []
    status = 200
    if request.method == "POST":
        if request.mimetype not in FORMS:
            raise Problem(415, f"A list of packs comes by its page's own form, as {FORMS[0]}.")
        try:
            rows = _rows(*_sent(), calculators)
        except Faulty as fault:
            faults, status = fault.faults, 422
        except HTTPException:
            raise
        except Exception as fault:
            # What an exception says may hold a name of the list: only where it rose is told.
            frames = extract_tb(fault.__traceback__)[-6:]
            places = ", ".join(f"{frame.filename.rpartition('ampstead/')[2]}:{frame.lineno}" for frame in frames)
            log.error("a list of packs was not answered: %s at %s", type(fault).__name__, places)
            raise Problem(500, "The service failed to answer this list.") from None
    found = Counter(row.verdict for row in rows)
    reply = sent.html(
        "packs.html",
        status=200 if request.headers.get(sent.FRAGMENT) else status,
        rows=rows,
        counts=[(VERDICTS[each], found[each]) for each in WORST_FIRST if found[each]],
        grave=next((GRAVE.get(row.verdict, "") for row in rows), ""),
        faults=[_told(fault) for fault in faults[:MOST_TOLD]],
        more=max(0, len(faults) - MOST_TOLD),
        sheets=_sheets([row.card for row in rows]),
        sample=SAMPLE,
        largest=LONGEST_LIST // 1024,
    )
    if request.method == "POST":
        reply.headers["Cache-Control"] = "no-store"
    return reply


def _sent() -> tuple[bytes, str]:
    """The list that was sent, and the name of its file; a file goes before what was pasted."""
    file = request.files.get("list")
    if file is not None and (whole := file.read()):
        return whole, file.filename or ""
    pasted = request.form.get("text", "")
    if not pasted.strip():
        raise Faulty([Fault(0, "no list was sent: choose a file, or paste its text")])
    return pasted.encode(), ""


def _told(fault: Fault) -> str:
    said = fault.message if fault.message.endswith(("?", '"')) else f"{fault.message}."
    return f"Line {fault.line}: {said}" if fault.line else capitalised(said)


def _rows(whole: bytes, file: str, calculators: Mapping[str, Calculator]) -> list[Row]:
    return [_row(each, calculators) for each in standings(listed(whole, file), calculators)]


def _row(standing: Standing, calculators: Mapping[str, Calculator]) -> Row:
    pack = standing.pack
    facts = typed.flattened({"chemistry": "lipo", **facts_of(pack)})
    told = {**facts, **typed.flattened(standing.asked)}
    if current := told.pop("typical_current", None):
        told["current"] = current
    card = {"name": pack.name, **{name: value for name, value in told.items() if name in cards.KNOWN}}
    last = f"Last read on {pack.history[-1].date.isoformat()}." if pack.history else "Never read."
    return Row(
        name=pack.name,
        verdict=standing.verdict,
        mark=MARKS[standing.verdict],
        said=VERDICTS[standing.verdict],
        sentence=words.written(standing.sentence),
        cautions=tuple(each for each in standing.cautions if each.severity != "note"),
        trends=[f"{_of(each)}: {each.words}, from {each.count} readings." for each in standing.trends if each.change],
        last=" ".join([last, *(f"{_of(each)}: {each.words}." for each in standing.trends if not each.change)]),
        asked=typed.address(typed.flattened(standing.asked)) if standing.answer else "",
        others=_others(standing, calculators, facts),
        card=typed.address({f"packs[0].{name}": value for name, value in card.items()}),
    )


def _others(
    standing: Standing, calculators: Mapping[str, Calculator], facts: Mapping[str, str]
) -> list[tuple[Calculator, str]]:
    """Where to ask on: of a pack to be retired only how to empty it, since no other calculator knows that it is."""
    asked = calculators
    if standing.verdict == "retire":
        asked = {name: each for name, each in calculators.items() if name == EMPTIES}
    return others(calculators["pack-fitness"], asked, facts, MOST_OTHERS)


def _of(trend: Trend) -> str:
    return f"{KINDS[trend.kind]} ({trend.method})"


def _sheets(queries: list[str]) -> list[tuple[int, int, str]]:
    """The cards of all packs on as few pages as their addresses may be long: first and last pack, and the query."""
    made: list[tuple[int, int, str]] = []
    for place, query in enumerate(queries, 1):
        first, _, before = made[-1] if made else (1, 0, "")
        here = query.replace("packs[0]", f"packs[{place - first}]")
        if made and place - first < cards.MOST_PACKS and len(before) + len(here) < LONGEST_CARDS:
            made[-1] = (first, place, f"{before}&{here}")
        else:
            made.append((place, place, query))
    return made

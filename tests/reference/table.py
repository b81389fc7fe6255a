"""Every result of every calculator: what from outside holds it, and how near it comes; or why nothing does.

    PYTHONPATH=tests python -m reference.table

writes the table into tests/README.md.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from reference.asking import reply
from reference.cases import NAMES, OURS, OUTSIDE, Figure, figures, plain, read
from reference.reasons import BEYOND, REASONS

from ampstead.calculators import registry
from ampstead.declare import Choice, Flag, Result

README = Path(__file__).parents[1] / "README.md"
COARSE = 0.05
"""A figure that lets an answer be further off than this part of it checks nothing."""
COMMAND = "PYTHONPATH=tests python -m reference.table"
MARK = f"<!-- What follows is made: {COMMAND} -->"


@dataclass
class Row:
    """One result, with what is known of it."""

    calculator: str
    name: str
    options: tuple[str, ...] = ()
    """The words that it may be, where it is one of some words."""
    cases: int = 0
    within: int = 0
    """Figures that must lie within its band."""
    unit: str | None = None
    error: float | None = None
    """The largest part by which an answer is off; of a figure of nothing, none."""
    seen: set[str] = field(default_factory=set)
    """Words that a case from outside expects."""
    judged: set[str] = field(default_factory=set)
    """Words, or figures, that a case tells by the trade's practice or this project's own judgement."""
    sources: dict[str, None] = field(default_factory=dict)

    @property
    def reasons(self) -> dict[str, str]:
        """By word, or by nothing for the whole result: why nothing outside is known for it."""
        return REASONS.get(self.calculator, {}).get(self.name, {})

    @property
    def unheld(self) -> set[str]:
        """Its words, or nothing for the result itself, that nothing from outside holds."""
        return (set(self.options) or {""}) - self.seen


def word(value: Any) -> str:
    return {True: "yes", False: "no"}.get(value, str(value)) if isinstance(value, bool) else str(value)


def counts(figure: Figure) -> bool:
    """Whether the figure could tell a wrong answer from a right one."""
    if not figure.number:
        return figure.wanted is not None
    counted = figure.unit is None and isinstance(figure.wanted, int) and figure.allowed < 1
    return figure.wanted != 0 and (counted or figure.allowed <= COARSE * abs(float(figure.wanted)))


def rows_of(name: str) -> dict[str, Row]:
    rows = {}

    def add(result: Result, before: str = "") -> None:
        spec = result.spec
        options = spec.options if isinstance(spec, Choice) else ("yes", "no") if isinstance(spec, Flag) else ()
        rows[before + result.name] = Row(name, before + result.name, tuple(options))

    for result in registry()[name].results.values():
        if result.item:
            for part in result.item.results.values():
                add(part, f"{result.name}.")
        else:
            add(result)
    return rows


@cache
def table_of(name: str) -> dict[str, Row]:
    """A calculator's rows, by result."""
    rows = rows_of(name)
    for case in read(name):
        if case["kind"] not in OUTSIDE | OURS:
            continue
        answer = None
        for result, told in case.get("within", {}).items():
            rows[result].within += 0 if told.get("longer") else len(told["values"])
            rows[result].sources[case["source"]] = None
        for figure in figures(case):
            row = rows.get(figure.result)
            if row is None or not counts(figure):
                continue
            option = word(figure.wanted) if row.options else ""
            if case["kind"] in OURS:
                row.judged.add(option)
                continue
            answer = answer or reply(name, **plain(case["question"]))
            row.seen.add(option)
            row.cases += 1
            row.unit = figure.unit
            row.sources[case["source"]] = None
            if figure.number:
                part = figure.off(answer) / abs(float(figure.wanted))
                row.error = max(row.error or 0.0, part)
    return rows


def near(row: Row) -> str:
    """The largest error in words: the next of 1, 2, 5, 10 above it, so that no processor's last digits show."""
    if row.error is None:
        return "as expected" if row.cases else ""
    percent = max(100.0 * row.error, 1e-6)
    step = 10.0 ** math.floor(math.log10(percent) + 1e-9)
    above = next(part * step for part in (1, 2, 5, 10) if percent <= part * step * (1 + 1e-9))
    return f"≤ {above:.6f}".rstrip("0").rstrip(".") + " %"


def why(row: Row) -> str:
    """Why nothing outside is known, of the result or of some of its words."""
    told: dict[str, list[str]] = {}
    for option, reason in row.reasons.items():
        told.setdefault(reason, []).append(option)
    return "; ".join(
        f"{', '.join(f'`{each}`' for each in options)}: {reason}" if any(options) else reason
        for reason, options in told.items()
    )


def numbered(sources: Iterable[str], known: list[str]) -> str:
    known += [source for source in sources if source not in known]
    return ", ".join(str(number) for number in sorted(known.index(source) + 1 for source in sources))


def checks(row: Row) -> str:
    """How many there are, and how many more of its band."""
    band = f"{row.within} of its band" if row.within else ""
    return " + ".join(part for part in (str(row.cases or ""), band) if part) or "–"


def in_a_cell(value: str) -> str:
    return value.replace("|", "\\|")


def of_calculator(name: str, rows: dict[str, Row]) -> Iterator[str]:
    sources: list[str] = []
    yield f"### {name}\n"
    yield "| result | checks | largest error | source, or why there is none |"
    yield "| --- | --- | --- | --- |"
    for row in rows.values():
        why_not = why(row)
        origin = " · ".join(part for part in (numbered(row.sources, sources), why_not) if part)
        yield f"| `{row.name}` | {checks(row)} | {near(row) or '–'} | {in_a_cell(origin)} |"
    yield ""
    yield from (f"{number}. {source}" for number, source in enumerate(sources, 1))
    yield ""


def summary(rows: Iterable[Row]) -> str:
    every = list(rows)
    checked = sum(1 for row in every if row.cases)
    return (
        f"{len(every)} results of {len(NAMES)} calculators: {checked} are held against figures from outside by "
        f"{sum(row.cases for row in every)} checks, {len(every) - checked} say why they are not."
    )


def narrow() -> Iterator[str]:
    """A line for each result, to be printed."""
    yield f"{'':18} {'result':24} {'checks':>6} {'largest error':>14}  with"
    for name in NAMES:
        for row in table_of(name).values():
            origin = next(iter(row.sources), "") or why(row)
            others = f" and {len(row.sources) - 1} more" if len(row.sources) > 1 else ""
            yield f"{name:18} {row.name:24} {row.cases or '-':>6} {near(row) or '-':>14}  {origin:.60}{others}"


def written() -> str:
    """The whole of the part that is made."""
    tables = {name: table_of(name) for name in NAMES}
    lines = [summary(row for rows in tables.values() for row in rows.values()), ""]
    for name, rows in tables.items():
        lines += of_calculator(name, rows)
    lines += ["### beyond single answers\n", "| address | held against | where |", "| --- | --- | --- |"]
    lines += [f"| `{address}` | {in_a_cell(what)} | `{where}` |" for address, what, where in BEYOND]
    return "\n".join(lines) + "\n"


def current(text: str) -> str:
    """README's text with the table made anew."""
    return text.partition(MARK)[0] + MARK + "\n\n" + written()


if __name__ == "__main__":
    README.write_text(current(README.read_text(encoding="utf-8")), encoding="utf-8")

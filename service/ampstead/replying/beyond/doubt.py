"""What to measure next: each input that was assumed, at the edges of what it may plausibly be.

The edges stand in ``ampstead.judging.doubts``. One input is moved at a time, and those that follow from it follow.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from typing import Any

import numpy as np

from ampstead.declare import Calculator, Choice, Flag, Input, Number, Quantity, Result
from ampstead.errors import FieldError, Refusal
from ampstead.judging.doubts import plausible
from ampstead.reading.names import blank
from ampstead.reading.plan import Question
from ampstead.replying.answers import Answered, service_version, teller
from ampstead.replying.beyond.needed import named
from ampstead.replying.beyond.spoken import said
from ampstead.replying.writers import quoted, shown, writer

Raw = Mapping[str, Any]
NOTABLE = 1e-9


@dataclass(frozen=True, slots=True)
class Moved:
    """One assumed input, its edges, and what they make of the result."""

    input: Input
    taken: Any
    begin: Any
    end: Any
    low: Any
    high: Any
    width: float
    source: str


@dataclass(frozen=True, slots=True)
class Doubts:
    """What each doubt makes of a result, the widest first."""

    told: Answered
    result: Result
    doubts: list[Moved]

    def sentence(self) -> str:
        """What to measure."""
        label = self.result.name.replace("_", " ")
        first = self.doubts[0] if self.doubts and self.doubts[0].width > 0 else None
        if first is None:
            return f"Nothing that was assumed moves {label}."
        verb = "Measure" if isinstance(first.input.spec, Quantity) else "Find out"
        spec = self.result.spec
        if isinstance(spec, Quantity | Number):
            low, high = said(spec, first.low, "down"), said(spec, first.high, "up")
            if first.low is None or first.high is None:
                return f"{verb} the {first.input.label}: it decides whether there is any {label}."
            return f"{verb} the {first.input.label}: it moves the {label} between {low} and {high}."
        return (
            f"{verb} the {first.input.label}: it decides whether {label} is {said(spec, first.low)} or "
            f"{said(spec, first.high)}."
        )

    def spoken(self) -> str:
        """The sentence, then the gravest caution of the answer."""
        return " ".join([self.sentence(), *(entry.text for entry in self.told.gravest())]) + "\n"

    def json(self) -> str:
        """The same as JSON."""
        tell = writer(self.result)
        rows = []
        for each in self.doubts:
            give = writer(each.input)
            rows.append(
                f'{{"input":{quoted(each.input.name)},"taken":{give(each.taken)},"from":{give(each.begin)},'
                f'"to":{give(each.end)},"low":{tell(each.low)},"high":{tell(each.high)},'
                f'"source":{quoted(each.source)}}}'
            )
        value = getattr(self.told.answer, self.result.name)
        return (
            f'{{"calculator":{quoted(self.told.teller.calculator.name)},"version":{quoted(service_version())},'
            f'"result":{quoted(self.result.name)},"value":{tell(value)},"doubts":[{",".join(rows)}],'
            f'"sentence":{quoted(self.sentence())}}}'
        )


def doubt(calculator: Calculator, raw: Raw) -> Doubts:
    """What each assumed input makes of a result. Raises ``Refusal`` for a question that needs mending."""
    question = {name: value for name, value in raw.items() if name != "result" and not blank(value)}
    known = {name: entry for name, entry in calculator.results.items() if _single(entry)}
    errors: list[FieldError] = []
    if blank(raw.get("result")):
        result: Any = known[next(name for name in (*calculator.main, *known) if name in known)]
    else:
        result = named("result", raw["result"], known, "yes or no, a word or a number among the results", errors)
    try:
        told = teller(calculator).answered(question)
    except Refusal as refusal:
        raise Refusal([*errors, *refusal.errors], refusal.more) from None
    if errors:
        raise Refusal(errors)
    asked = told.question
    moved = [each for name in asked.assumed if (each := _moved(calculator, question, asked, told, name, result))]
    moved.sort(key=lambda each: -each.width)
    return Doubts(told, result, moved)


def _single(entry: Result) -> bool:
    return not entry.many and not entry.item and isinstance(entry.spec, Flag | Choice | Quantity | Number)


def _moved(
    calculator: Calculator, raw: Raw, asked: Question, told: Answered, name: str, result: Result
) -> Moved | None:
    """What one assumed input does at its edges; None where it is not doubted, or its edges cannot be asked."""
    values, entry = asked.values, calculator.inputs[name]
    source = name.startswith("source_")
    chemistry, capacity = (values.get(f"source_{each}" if source else each) for each in ("chemistry", "capacity"))
    found = plausible(name, values[name], chemistry, capacity)
    if found is None:
        return None
    (begin, end), entered = found
    begin, end = (_within(entry, edge) for edge in (begin, end))
    results = [getattr(told.answer, result.name)]
    for edge in (begin, end):
        try:
            made = teller(calculator).answered({**raw, name: shown(entry, edge)})
        except Refusal:
            return None
        results.append(getattr(made.answer, result.name))
    if isinstance(result.spec, Quantity | Number):
        numbers = [float(each) for each in results if each is not None]
        if not numbers:
            return None
        low, high = min(numbers), max(numbers)
        width = high - low if high - low > NOTABLE * max(abs(low), abs(high)) else 0.0
        if len(numbers) < len(results):
            low, width = (None, inf)  # type: ignore[assignment]
    else:
        low, high = results[1], results[2]
        width = float(len(set(results)) - 1)
        if low == high:
            low = results[0]
    return Moved(entry, values[name], begin, end, low, high, width, entered.source)


def _within(entry: Input, edge: Any) -> Any:
    """An edge within what the input is declared for."""
    spec = entry.spec
    assert isinstance(spec, Quantity | Number)
    low, high = spec.inner(spec.si if isinstance(spec, Quantity) else float)
    held = np.clip(edge, low, high)
    return held if isinstance(edge, np.ndarray) else float(held)

"""What to measure next: each input that was assumed, at the edges of what it may plausibly be.

The edges stand in ``ampstead.judging.doubts``. One input is moved at a time, and those that follow from it follow; of
several packs, one input of one pack.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import inf
from typing import Any

import numpy as np

from ampstead.declare import Calculator, Choice, Flag, Input, Number, Quantity, Result
from ampstead.errors import FieldError, Refusal
from ampstead.judging.doubts import PLAUSIBLE, plausible
from ampstead.reading.names import blank, unfolded
from ampstead.replying.answers import Answered, service_version, teller
from ampstead.replying.beyond.needed import named
from ampstead.replying.beyond.spoken import clause, said
from ampstead.replying.writers import quoted, shown, writer

Raw = Mapping[str, Any]
NOTABLE = 1e-9
SLOW, QUICK = 250, 400
"""Rows that a batch takes up to which a calculator is slow, and the most questions that are put to one that is not."""
MOST_SLOW = 80
"""Questions to a slow one: with some packs of which little is known it is not asked about every input of each."""
MOST_SLOWEST = 24
"""Questions to one that takes no batch."""


@dataclass(frozen=True, slots=True)
class Assumed:
    """One input that was assumed: of the question itself, or of one of the things nested in it."""

    input: Input
    value: Any
    told: Mapping[str, Any]
    """All that has a value beside it."""
    of: str = ""
    """The input that it is nested in."""
    place: int | None = None
    """Its place there, from 0."""

    @property
    def name(self) -> str:
        """As an address writes it."""
        at = "" if self.place is None else f"[{self.place}]"
        return f"{self.of}{at}.{self.input.name}" if self.of else self.input.name

    @property
    def label(self) -> str:
        """As it is spoken: ``cell resistance of pack 2``."""
        if not self.of:
            return self.input.label
        whose = self.told.get("name") or (
            f"the {self.of}" if self.place is None else f"{self.of.removesuffix('s')} {self.place + 1}"
        )
        return f"{self.input.name.replace('_', ' ')} of {whose}"

    def moved(self, raw: Raw, edge: Any) -> dict[str, Any]:
        """The question with this input at an edge."""
        put = shown(self.input, edge)
        if not self.of:
            return {**raw, self.input.name: put}
        if self.place is None:
            return {**raw, self.of: {**raw[self.of], self.input.name: put}}
        several = list(raw[self.of])
        several[self.place] = {**several[self.place], self.input.name: put}
        return {**raw, self.of: several}


@dataclass(frozen=True, slots=True)
class Moved:
    """One assumed input, its edges, and what they make of the result."""

    assumed: Assumed
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
    unasked: list[str]
    """Inputs for which there was no time."""

    def sentence(self) -> str:
        """What to measure."""
        return self.told.worded(self._said())

    def _said(self) -> str:
        spec, label = self.result.spec, f"the {self.result.label}"
        first = self.doubts[0] if self.doubts and self.doubts[0].width > 0 else None
        if first is None:
            whole = " of what was tried" if self.unasked else ""
            moves = f"changes whether {spec.yes}" if isinstance(spec, Flag) else f"moves {label}"
            return f"Nothing{whole} that was assumed {moves}."
        what = (
            f"{'Measure' if isinstance(first.assumed.input.spec, Quantity) else 'Find out'} the {first.assumed.label}"
        )
        if isinstance(spec, Flag):
            return f"{what}: it decides whether {spec.yes}."
        if first.low is None or first.high is None:
            return f"{what}: it decides whether there is any {self.result.label}."
        if isinstance(spec, Quantity | Number):
            low, high = said(spec, first.low, "down"), said(spec, first.high, "up")
            return f"{what}: it moves {label} between {low} and {high}."
        return f"{what}: it decides whether {clause(self.result, first.low)} or {said(spec, first.high)}."

    def spoken(self) -> str:
        """The sentence, then the gravest caution of the answer."""
        return " ".join([self.sentence(), *(entry.text for entry in self.told.gravest())]) + "\n"

    def json(self) -> str:
        """The same as JSON."""
        tell = writer(self.result)
        rows = []
        for each in self.doubts:
            give = writer(each.assumed.input)
            rows.append(
                f'{{"input":{quoted(each.assumed.name)},"taken":{give(each.assumed.value)},"from":{give(each.begin)},'
                f'"to":{give(each.end)},"low":{tell(each.low)},"high":{tell(each.high)},'
                f'"source":{quoted(each.source)}}}'
            )
        value = getattr(self.told.answer, self.result.name)
        return (
            f'{{"calculator":{quoted(self.told.teller.calculator.name)},"version":{quoted(service_version())},'
            f'"result":{quoted(self.result.name)},"value":{tell(value)},"doubts":[{",".join(rows)}],'
            f'"unasked":[{",".join(map(quoted, self.unasked))}],"sentence":{quoted(self.sentence())}}}'
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
    whole, _ = unfolded(question, calculator.inputs)
    doubted = [each for each in _assumed(calculator, whole, told) if each.input.name in PLAUSIBLE]
    most = most_asked(calculator) // 2
    if len(doubted) > most:
        # What moves most comes first in the table; of each of these, every pack has its turn.
        order = list(PLAUSIBLE)
        doubted.sort(key=lambda each: order.index(each.input.name))
    moved = [row for each in doubted[:most] if (row := _moved(calculator, whole, told, each, result))]
    moved.sort(key=lambda each: -each.width)
    return Doubts(told, result, moved, [each.name for each in doubted[most:]])


def most_asked(calculator: Calculator) -> int:
    """How many questions may be put to a calculator."""
    return MOST_SLOWEST if not calculator.most else MOST_SLOW if calculator.most <= SLOW else QUICK


def _assumed(calculator: Calculator, whole: Raw, told: Answered) -> Iterator[Assumed]:
    """All that was assumed, of the question and of what is nested in it."""
    question = told.question
    for name, value in question.assumed.items():
        yield Assumed(calculator.inputs[name], value, question.values)
    for name in told.teller.nested:
        value, raw = question.given.get(name), whole.get(name)
        pairs: Any = [(None, (value, raw))]
        if calculator.inputs[name].many:
            # Told as bare figures in one text they have no pack's inputs.
            pairs = enumerate(zip(value or [], raw, strict=True)) if isinstance(raw, list) else []
        for place, (item, element) in pairs:
            if item is not None and isinstance(element, Mapping):
                beside = {**item.assumed, **item.given}
                for inner, assumed in item.assumed.items():
                    yield Assumed(item.inputs[inner], assumed, beside, name, place)


def _single(entry: Result) -> bool:
    return not entry.many and not entry.item and isinstance(entry.spec, Flag | Choice | Quantity | Number)


def _moved(calculator: Calculator, raw: Raw, told: Answered, each: Assumed, result: Result) -> Moved | None:
    """What one assumed input does at its edges; None where it is not doubted, or its edges cannot be asked."""
    found = plausible(each.input.name, each.value, each.told)
    if found is None:
        return None
    (begin, end), entered = found
    begin, end = (_within(each.input, edge) for edge in (begin, end))
    results = [getattr(told.answer, result.name)]
    for edge in (begin, end):
        try:
            made = teller(calculator).answered(each.moved(raw, edge))
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
    return Moved(each, begin, end, low, high, width, entered.source)


def _within(entry: Input, edge: Any) -> Any:
    """An edge within what the input is declared for."""
    spec = entry.spec
    assert isinstance(spec, Quantity | Number)
    low, high = spec.inner(spec.si if isinstance(spec, Quantity) else float)
    held = np.clip(edge, low, high)
    return held if isinstance(edge, np.ndarray) else float(held)

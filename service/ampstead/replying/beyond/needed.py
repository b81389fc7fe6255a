"""The other way round: which value of one input brings a result to where it is wanted.

The input's declared range is gone through on a grid (even for temperatures and short ranges, else by equal ratios),
each point asked forward as anybody would ask it. Where the result comes to what is wanted between two points, the edge
is halved down to a billionth of itself, kept on the side where the wish is met, and rounded outward as far as that
changes nothing. What is answered is what asking forward says there. A grid can miss what begins and ends between two
of its points. The number of questions is bounded, and fewer are put to a slow calculator, whose edge is then
told less closely, never on the wrong side. Over 300 lines: the search, and every way in which there is nothing to find.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from ampstead import units
from ampstead.declare import SLACK, Calculator, Choice, Count, Flag, Fraction, Input, Number, Quantity, Result
from ampstead.errors import FieldError, Refusal, clipped, did_you_mean
from ampstead.reading.names import blank
from ampstead.reading.readers import reader
from ampstead.replying.answers import Answered, service_version, teller
from ampstead.replying.beyond.spoken import clause, said
from ampstead.replying.writers import quoted, shown, writer
from ampstead.units import Unreadable
from ampstead.words import Direction, capitalised, sentences

Raw = Mapping[str, Any]

ASKED = ("result", "input", "target")
GRID, SLOW_GRID = 61, 9
"""Points at which a calculator is asked; one that takes no batch is slow."""
SLOW = 250
"""Rows that a batch takes up to which an edge is halved less often."""
HALVINGS, SLOW_HALVINGS, SLOWEST_HALVINGS = 48, 24, 16
"""Counted and not timed, so that a busy machine answers what an idle one does."""
WIDEST = 1e4
"""Over and under its example, an input without a bound."""
EVEN = 20.0
"""Up to this ratio of its ends a range is gone through evenly."""
CLOSE = 1e-9
STEP = 1e-5
"""Of the target: what comes no nearer to it goes past it in a step."""
TINY = 1e-300
DIGITS = range(3, 13)


@dataclass(frozen=True, slots=True)
class Needed:
    """What is needed, and the answer there."""

    calculator: Calculator
    input: Input
    result: Result
    target: Any
    value: float | None
    until: float | None
    bound: str | None
    low: float
    high: float
    least: float | None
    most: float | None
    asked: int
    forward: Answered | None

    def sentence(self) -> str:
        """What is needed, in words."""
        return self.forward.worded(self._said()) if self.forward else self._said()

    def _said(self) -> str:
        label, spec = self.input.label, self.input.spec
        told = self.result.label
        numeric = _numeric(self.result)
        wish = (
            f"the {told} comes to {said(self.result.spec, self.target)}"
            if numeric
            else clause(self.result, self.target)
        )
        if self.value is None:
            span = f"{said(spec, self.low)} to {said(spec, self.high)}"
            least = None
            if numeric and self.least is not None and self.most is not None:
                between = f"{said(self.result.spec, self.least, 'down')} and {said(self.result.spec, self.most, 'up')}"
                least = f"There it lies between {between}."
            return sentences(f"No {label} in the range asked, {span}, does it: at none of them {wish}.", least)
        if self.bound == "any":
            return f"{capitalised(wish)} at every {label} in the range asked."
        if numeric and self.forward is not None and not self.meets:
            wish = (
                f"the {told} steps to {said(self.result.spec, self.there)}, past {said(self.result.spec, self.target)}"
            )
        up: Direction = "down" if self.bound == "at most" else "up" if self.bound == "at least" else "near"
        at = f"{self.bound} " if self.bound != "exactly" else ""
        more = "" if self.until is None else f" and at most {said(spec, self.until, 'down')}"
        return f"{capitalised(label)} {at}{said(spec, self.value, up)}{more}: then {wish}."

    @property
    def there(self) -> Any:
        """The result at the value."""
        return None if self.forward is None else getattr(self.forward.answer, self.result.name)

    @property
    def meets(self) -> bool:
        """Whether a number comes to the target, and not past it in a step."""
        return bool(abs(self.there - self.target) <= STEP * max(abs(self.target), 1e-12))

    def spoken(self) -> str:
        """The sentence, then the gravest caution of the answer there."""
        gravest = self.forward.gravest() if self.forward else []
        return " ".join([self.sentence(), *(entry.text for entry in gravest)]) + "\n"

    def json(self) -> str:
        """The same as JSON."""
        given, told = writer(self.input), writer(self.result)
        least, most = (self.least, self.most) if _numeric(self.result) else (None, None)
        return (
            f'{{"calculator":{quoted(self.calculator.name)},"version":{quoted(service_version())},'
            f'"result":{quoted(self.result.name)},"input":{quoted(self.input.name)},"target":{told(self.target)},'
            f'"value":{"null" if self.value is None else given(self.value)},'
            f'"bound":{"null" if self.bound is None else quoted(self.bound)},'
            f'"until":{"null" if self.until is None else given(self.until)},'
            f'"range":{{"low":{given(self.low)},"high":{given(self.high)}}},'
            f'"reached":{{"low":{told(least)},"high":{told(most)}}},'
            f'"questions":{self.asked},"sentence":{quoted(self.sentence())},'
            f'"forward":{self.forward.json() if self.forward else "null"}}}'
        )


def _numeric(result: Result) -> bool:
    return isinstance(result.spec, Quantity | Number)


def needed(calculator: Calculator, raw: Raw) -> Needed:
    """What one input has to be. Raises ``Refusal`` for a wish or a question that needs mending."""
    raw = {name: value for name, value in raw.items() if not blank(value)}
    question = {name: value for name, value in raw.items() if name not in ASKED}
    errors: list[FieldError] = []
    results = {name: entry for name, entry in calculator.results.items() if _wanted(entry)}
    inputs = {name: entry for name, entry in calculator.inputs.items() if _searched(entry)}
    result = named("result", raw.get("result"), results, "yes or no, a word or a number among the results", errors)
    entry = named("input", raw.get("input"), inputs, "a number or a quantity among the inputs", errors)
    target = _target(raw.get("target"), result, errors) if result else None
    if result is None or entry is None or errors:
        try:
            teller(calculator).plan.read(question)
        except Refusal as refusal:
            errors += [error for error in refusal.errors if error.code != "missing"]
        raise Refusal(errors)
    return _Search(calculator, question, entry, result, target).found()


def _wanted(entry: Result) -> bool:
    return not entry.many and not entry.item and isinstance(entry.spec, Flag | Choice | Quantity | Number)


def _searched(entry: Input) -> bool:
    return entry.one and not entry.item and isinstance(entry.spec, Quantity | Number)


def named(field: str, told: Any, known: Mapping[str, Any], what: str, errors: list[FieldError]) -> Any:
    """What a word names among some things; None, and an error more, where it names none."""
    like = f", like {next(iter(known))}" if known else "; there is none here"
    if told is None:
        errors.append(FieldError(field, "missing", f"{field} is missing: {what}{like}"))
    elif not isinstance(told, str) or told not in known:
        hint = did_you_mean(str(told), known) or f"; give {what}"
        errors.append(FieldError(field, "not_one_of", f"{field} cannot be {clipped(told)}{hint}"))
    else:
        return known[told]
    return None


def _target(told: Any, result: Result, errors: list[FieldError]) -> Any:
    if told is None:
        if isinstance(result.spec, Flag):
            return True
        errors.append(FieldError("target", "missing", f"target is missing: what {result.name} is to come to"))
        return None
    try:
        return reader(Input("target", result.spec))(told)
    except Unreadable as fault:
        errors.append(FieldError("target", fault.code, f"target {fault.message}"))
        return None


class _Search:
    """One search: forward questions at many values of one input."""

    def __init__(self, calculator: Calculator, question: Raw, entry: Input, result: Result, target: Any) -> None:
        self.calculator, self.question, self.entry, self.result, self.target = (
            calculator,
            question,
            entry,
            result,
            target,
        )
        self.teller = teller(calculator)
        self.asked = 0
        self.refusal: Refusal | None = None
        self.slow = calculator.most == 0
        self.halvings = SLOWEST_HALVINGS if self.slow else SLOW_HALVINGS if calculator.most <= SLOW else HALVINGS

    def forward(self, value: float) -> Answered | None:
        """The answer at a value; None where it is refused."""
        self.asked += 1
        try:
            return self.teller.answered({**self.question, self.entry.name: shown(self.entry, value)})
        except Refusal as refusal:
            self.refusal = self.refusal or refusal
            return None

    def told(self, value: float) -> Any:
        """The result at a value; None where there is none."""
        made = self.forward(value)
        return None if made is None else getattr(made.answer, self.result.name)

    def found(self) -> Needed:
        """The value, or that there is none."""
        first = self._example()
        if self.forward(first) is None:
            assert self.refusal is not None
            others = [error for error in self.refusal.errors if error.field.partition("[")[0] != self.entry.name]
            if others:
                raise Refusal(others, self.refusal.more)
        low, high = self._range()
        points = sorted({*self._grid(low, high), first})
        values = [self.told(point) for point in points]
        met = self._edge(points, values)
        if met[0] is None:
            points, values = self._finer(points, values)
            met = self._edge(points, values)
        refused = self.refusal.errors if self.refusal and all(value is None for value in values) else ()
        if self.refusal and any(error.code != "out_of_range" for error in refused):
            raise self.refusal
        numbers = [value for value in values if value is not None] if _numeric(self.result) else []
        least, most = (float(min(numbers)), float(max(numbers))) if numbers else (None, None)
        value, bound, until = met
        forward = None if value is None else self.forward(value)
        return Needed(
            self.calculator, self.entry, self.result, self.target, value, until, bound, points[0], points[-1],
            least, most, self.asked, forward,
        )  # fmt: skip

    def _finer(self, points: list[float], values: list[Any]) -> tuple[list[float], list[Any]]:
        """The same with as many even points between the ends of what is not refused, such as voltages of this pack."""
        told = [place for place, value in enumerate(values) if value is not None]
        if not told or self.slow or isinstance(self.entry.spec, Count):
            return points, values
        begin, end = points[max(told[0] - 1, 0)], points[min(told[-1] + 1, len(points) - 1)]
        steps = GRID
        known = dict(zip(points, values, strict=True))
        for place in range(1, steps):
            point = begin + (end - begin) * place / steps
            known.setdefault(point, self.told(point))
        return sorted(known), [known[point] for point in sorted(known)]

    def _example(self) -> float:
        example = self.entry.spec.example
        given = self.question.get(self.entry.name)
        for told in (given, example):
            if told is not None:
                try:
                    read = reader(self.entry)(told)
                    return float(read if isinstance(read, int | float) else min(read))
                except (Unreadable, Refusal):
                    continue
        return 1.0

    def _range(self) -> tuple[float, float]:
        spec = self.entry.spec
        assert isinstance(spec, Quantity | Number)
        low, high = spec.inner(spec.si if isinstance(spec, Quantity) else float)
        example = abs(self._example()) or 1.0
        low = low if low > -math.inf else -example * WIDEST
        if 0 < low < TINY:  # above nought
            low = min(example, high) / WIDEST
        high = high if high < math.inf else example * WIDEST
        return low, high

    def _grid(self, low: float, high: float) -> list[float]:
        points = SLOW_GRID if self.slow else GRID
        if isinstance(self.entry.spec, Count):
            whole = range(math.ceil(low), math.floor(high) + 1)
            if len(whole) <= points:
                return [float(each) for each in whole]
            ratio = (whole[-1] / max(whole[0], 1)) ** (1 / (points - 1))
            return sorted({float(round(max(whole[0], 1) * ratio**place)) for place in range(points)})
        least = low if low > 0 else min(abs(self._example()) or 1.0, high) / WIDEST
        if low < 0 or high / least <= EVEN or isinstance(self.entry.spec, Fraction):
            even = [low + (high - low) * place / (points - 1) for place in range(points)]
            return [*even[:-1], high]
        ratio = (high / least) ** (1 / (points - 1))
        grown = [least * ratio**place for place in range(points)]
        return [*([low] if low < least else []), *grown[:-1], high]

    def _edge(self, points: list[float], values: list[Any]) -> tuple[float | None, str | None, float | None]:
        """The value, how it bounds, and where the wish ends again."""
        if _numeric(self.result):
            return self._crossing(points, values)
        good = [value is not None and value == self.target for value in values]
        if True not in good:
            return None, None, None
        if all(good):
            return points[0], "any", None
        begin = good.index(True)
        end = next((place for place in range(begin, len(good)) if not good[place]), len(good)) - 1

        def met(value: float) -> bool:
            return bool(self.told(value) == self.target)

        last = None if end == len(good) - 1 else self._halved(points[end], points[end + 1], met)
        if begin:
            return self._halved(points[begin], points[begin - 1], met), "at least", last
        return last, "at most", None

    def _crossing(self, points: list[float], values: list[Any]) -> tuple[float | None, str | None, float | None]:
        target = float(self.target)
        slack = SLACK * max(abs(target), 1e-12)
        before: tuple[float, float] | None = None
        for point, value in zip(points, values, strict=True):
            if value is None:
                before = None
                continue
            gap = float(value) - target
            if abs(gap) <= slack and before is None:
                return point, "exactly", None
            if before is not None and (before[1] < -slack) != (gap < -slack):
                rising = before[1] < -slack
                # One side short of the target, the other at it or beyond: the edge is taken beyond.
                side = self._beyond(target, slack)
                inside, outside = (point, before[0]) if rising else (before[0], point)
                return self._halved(inside, outside, side, exact=True), "exactly", None
            before = (point, gap)
        return None, None, None

    def _beyond(self, target: float, slack: float) -> Callable[[float], bool]:
        def met(value: float) -> bool:
            told = self.told(value)
            return told is not None and float(told) - target >= -slack

        return met

    def _halved(self, inside: float, outside: float, met: Callable[[float], bool], exact: bool = False) -> float:
        """The edge between a value at which it is met and one at which it is not, on the side where it is."""
        if isinstance(self.entry.spec, Count):
            while abs(inside - outside) > 1:
                middle = float(round((inside + outside) / 2))
                inside, outside = (middle, outside) if met(middle) else (inside, middle)
            return inside
        for _ in range(self.halvings):
            if abs(inside - outside) <= 0.1 * CLOSE * abs(inside):
                break
            ratio = inside > 0 and outside > 0 and max(inside, outside) > EVEN * min(inside, outside)
            middle = math.sqrt(inside * outside) if ratio else (inside + outside) / 2
            inside, outside = (middle, outside) if met(middle) else (inside, middle)
        return self._rounded(inside, outside, met)

    def _rounded(self, inside: float, outside: float, met: Callable[[float], bool]) -> float:
        """The edge at as few digits as tell it, in the unit of answers."""
        spec = self.entry.spec
        scale = units.answer_scale(spec.unit) if isinstance(spec, Quantity) else None
        factor, offset = (scale.factor, scale.offset) if scale else (1.0, 0.0)
        plain = (inside - offset) / factor
        size = abs(inside) / factor
        if size == 0:
            return inside
        for digits in DIGITS:
            step = 10.0 ** (math.floor(math.log10(size)) + 1 - digits)
            up = inside >= outside
            tried = (math.ceil(plain / step - 1e-6) if up else math.floor(plain / step + 1e-6)) * step
            si = float(f"{tried:.15g}") * factor + offset
            if abs(si - inside) <= 4 * max(CLOSE * abs(inside), abs(inside - outside)) and met(si):
                return si
        return inside

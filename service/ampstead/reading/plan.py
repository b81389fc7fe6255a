"""A declaration compiled once: how each input is read, and what follows for each set of names that are given.

Reading goes two ways that share every reader, rule, default and check. The quick one reads each value in turn and
stops at the first thing that is odd; the full one (``ampstead.reading.schemas``) then reads all of it by marshmallow
and finds every error. What a set of given names settles once and for all (exclusions, plain defaults, the order of
those that follow from others, which checks apply) is a ``Shape``, kept for the next question of the same names.
"""

import inspect
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import fields
from functools import lru_cache
from operator import itemgetter
from typing import Any, NamedTuple

from ampstead.declare import NOTHING, Calculator, Derived, Input, Items, ItemType, Nested, OneOf, Quantity, Spec
from ampstead.errors import FieldError, Refusal
from ampstead.reading import schemas
from ampstead.reading.items import items_reader, nested_reader
from ampstead.reading.names import blank, unfolded
from ampstead.reading.readers import Reader, reader
from ampstead.units import Unreadable

MOST_SHAPES = 512
"""Sets of names that are kept, of all calculators together: some 6 kB each, and a stranger could send others without
end."""
Values = Mapping[str, Any]
Check = Callable[..., Iterable[FieldError]]


class Question(NamedTuple):
    """A question as read: what was given, what was assumed (both SI), and all that has a value."""

    shape: "Shape"
    given: Values
    assumed: Values
    values: Values


class Shape:
    """What follows from the set of names that are given, whatever their values."""

    def __init__(self, owner: Calculator | ItemType, given: frozenset[str]) -> None:
        inputs = owner.inputs
        self.owner = owner
        self.given = tuple(name for name in inputs if name in given)
        self.names = set(self.given)
        self.given_names = frozenset(self.given)
        self.broken: list[FieldError] = []
        ruled_out: set[str] = set()
        for rule in owner.rules:
            self.broken += [fault for fault in _broken(rule, given, inputs) if fault not in self.broken]
            if given & rule.members:
                ruled_out |= rule.members - given
        left = {name: entry for name, entry in inputs.items() if name not in given and name not in ruled_out}
        self.plain = {
            name: entry.default
            for name, entry in left.items()
            if entry.default is not NOTHING and not isinstance(entry.default, Derived)
        }
        self.derived = _in_order({n: e.default for n, e in left.items() if isinstance(e.default, Derived)})
        following = {name for name, _, _ in self.derived}
        self.assumable = {name: self.plain.get(name) for name in inputs if name in self.plain or name in following}
        """The plain defaults in the order of the inputs, with room for those that follow from other inputs."""
        self.needed = tuple(name for name, entry in left.items() if entry.required)
        self.written: Sequence[tuple[str, str]] | None = None
        """Room for the plain defaults as a reply writes them."""
        checks = [_asked(check) for check in owner.checks]
        beside = {name: None for _, needs in checks for name in needs} | {"given": self.names}
        self.base = {**beside, **dict.fromkeys(inputs), **self.plain}
        """A value for every input, were nothing given: its plain default, or None; and for what else a check asks."""
        self.checks = tuple((check, needs, _values(needs)) for check, needs in checks)
        self.taken = taking(self.given)

    def completed(self, read: Values, failed: set[str]) -> tuple[Question, list[FieldError]]:
        """The question of the values read, with defaults filled in, and what is wrong with it.

        ``failed`` are the names among those given whose values could not be read; nothing is said of what
        hangs on them.
        """
        given = {name: read[name] for name in self.given if name in read} if failed else self.taken(read)
        values = {**self.base, **given}
        assumed, open_ends = self.plain, failed
        if self.derived:
            assumed, unknown = self.assumable.copy(), False
            for name, function, needs in self.derived:
                value = None
                if open_ends and not open_ends.isdisjoint(needs):
                    open_ends = open_ends | {name}
                else:
                    value = function(*map(values.get, needs))
                if value is None:
                    unknown = True
                else:
                    values[name] = assumed[name] = value
            if unknown:
                assumed = {name: value for name, value in assumed.items() if value is not None}
        errors = list(self.broken)
        if self.needed and (missing := [n for n in self.needed if values[n] is None and n not in open_ends]):
            inputs = self.owner.inputs
            errors += [FieldError(name, "missing", _missing(inputs[name])) for name in missing]
            open_ends = open_ends | set(missing)
        for check, needs, taken in self.checks:
            if not open_ends or open_ends.isdisjoint(needs):
                errors += check(*taken(values))
        return Question(self, given, assumed, values), errors


class Plan:
    """How the questions of a calculator, or of a nested item, are read.

    Everything is settled here once; ``read`` does what is left.
    """

    def __init__(self, owner: Calculator | ItemType) -> None:
        self.owner = owner
        self.inputs = owner.inputs
        self.readers: Mapping[str, Reader] = {name: _reader(entry) for name, entry in owner.inputs.items()}
        self.schema = schemas.schema(self.readers)
        groups = owner.groups if isinstance(owner, Calculator) else {}
        self._groups = []
        grouped: set[str] = set()
        for name, (group, declared) in groups.items():
            members = [entry.name for entry in fields(group)]
            unasked = {each: declared.unasked.get(each) for each in members if each not in self.inputs}
            self._groups.append(
                (name, _maker(group), unasked, taking([each for each in members if each in self.inputs]))
            )
            grouped |= set(members)
        self._alone = taking([name for name in self.inputs if name not in grouped])
        self._nested = [(name, entry.many) for name, entry in self.inputs.items() if entry.item]
        self.shape(frozenset())  # a circle of defaults is told at once

    def shape(self, given: frozenset[str]) -> Shape:
        """What follows from a set of names, worked out once."""
        return _shape(self.owner, given)

    def arguments(self, question: Question) -> dict[str, Any]:
        """What the calculator's function is given: a value for every parameter, groups as their dataclasses."""
        values = question.values
        if self._nested:
            values = dict(values)
            for name, many in self._nested:
                nested = values.get(name)
                if many:
                    values[name] = [element.value for element in nested or ()]
                elif nested is not None:
                    values[name] = nested.value
        made = self._alone(values)
        for name, group, unasked, taken in self._groups:
            made[name] = group(unasked, taken(values))
        return made

    def read(self, raw: Mapping[str, Any]) -> Question:
        """Read a raw question.

        Raises
        ------
        Refusal
            With every error of every field.
        """
        question = self.quick(raw)
        return self.full(raw) if question is None else question

    def quick(self, raw: Mapping[str, Any]) -> Question | None:
        """A question in which nothing is odd; None where something is, for the full way to find out what."""
        read = {}
        readers = self.readers
        try:
            for name, value in raw.items():
                if name not in readers:
                    return None
                if not blank(value):
                    read[name] = readers[name](value)
        except (Unreadable, Refusal):
            return None
        question, errors = self.shape(frozenset(read)).completed(read, set())
        return None if errors else question

    def full(self, raw: Mapping[str, Any]) -> Question:
        """The same by way of marshmallow, which finds every error."""
        whole, odd = unfolded(raw, self.inputs)
        read, errors, more = schemas.loaded(self.schema, whole, self.inputs)
        errors = [*odd, *errors]
        failed = {name for name in self.inputs if any(_owned(error.field, name) for error in errors)}
        question, found = self.shape(frozenset(read) | failed).completed(read, failed)
        if errors or found:
            raise Refusal([*errors, *found], more)
        return question


def taking(names: Sequence[str]) -> Callable[[Values], dict[str, Any]]:
    """How the values of these names are taken out of others."""
    return lambda every: {name: every[name] for name in names}


def _values(names: Sequence[str]) -> Callable[[Values], tuple[Any, ...]]:
    if len(names) > 1:
        return itemgetter(*names)
    return (lambda every: (every[names[0]],)) if names else (lambda every: ())


def _reader(entry: Input) -> Reader:
    if isinstance(entry.spec, Items | Nested):
        assert entry.item is not None
        plan = Plan(entry.item)
        make = items_reader if isinstance(entry.spec, Items) else nested_reader
        return make(entry, plan.read)
    return reader(entry)


_shape = lru_cache(maxsize=MOST_SHAPES)(Shape)


def _maker(group: type) -> Callable[[Values, Values], Any]:
    """How a group is made of its fields' values. A frozen dataclass sets them one by one: where it does nothing else,
    they are put there at once."""
    if hasattr(group, "__post_init__") or hasattr(group, "__slots__"):
        return lambda unasked, asked: group(**unasked, **asked)

    def made(unasked: Values, asked: Values) -> Any:
        thing: Any = object.__new__(group)
        held = thing.__dict__
        held.update(unasked)
        held.update(asked)
        return thing

    return made


@lru_cache(maxsize=512)
def _asked(check: Check) -> tuple[Check, tuple[str, ...]]:
    """A check that takes its inputs in their order, and their names."""
    parameters = inspect.signature(check).parameters
    needs = tuple(parameters)
    if all(each.kind is each.POSITIONAL_OR_KEYWORD for each in parameters.values()):
        return check, needs
    return lambda *values: check(**dict(zip(needs, values, strict=True))), needs


def _in_order(waiting: dict[str, Derived]) -> tuple[tuple[str, Callable[..., Any], tuple[str, ...]], ...]:
    """Derived defaults, each after those that it needs: name, function, and what it needs."""
    waiting = dict(waiting)
    ordered: list[tuple[str, Callable[..., Any], tuple[str, ...]]] = []
    while waiting:
        ready = [name for name, default in waiting.items() if not any(need in waiting for need in default.needs)]
        if not ready:
            raise TypeError(f"derived defaults in a circle: {', '.join(waiting)}")
        ordered += [(name, waiting[name].function, waiting[name].needs) for name in ready]
        for name in ready:
            del waiting[name]
    return tuple(ordered)


def _owned(field: str, name: str) -> bool:
    return field == name or field.startswith((f"{name}[", f"{name}."))


def _broken(rule: OneOf, present: frozenset[str], inputs: Mapping[str, Input]) -> list[FieldError]:
    named = [name for name in rule.names if name in present]
    if len(named) > 1:
        said = f"{' and '.join(named)} cannot be given together: give one of them"
        return [FieldError(name, "conflict", said) for name in named]
    if rule.required and not named:
        first = rule.names[0]
        said = f"give one of {', '.join(rule.names[:-1])} or {rule.names[-1]}{_for_example(inputs[first].spec)}"
        return [FieldError(first, "missing", said)]
    return []


def _missing(entry: Input) -> str:
    meaning = entry.spec.meaning
    said = meaning[:1].lower() + meaning[1:].rstrip(".")
    return f"{entry.name} is missing: {said}{_for_example(entry.spec)}"


def _for_example(spec: Spec) -> str:
    example = getattr(spec, "example", None)
    if isinstance(spec, Quantity):
        example = spec.dimension.example
    if isinstance(example, Sequence) and not isinstance(example, str):
        return f", like {json.dumps(list(example)[:1], ensure_ascii=False)}"
    return "" if example is None else f', like "{example}"' if isinstance(example, str) else f", like {example}"


@lru_cache(maxsize=512)
def plan(calculator: Calculator) -> Plan:
    """The plan of a calculator, made once."""
    return Plan(calculator)

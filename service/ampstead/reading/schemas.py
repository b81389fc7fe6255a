"""Declarations turned into marshmallow schemas: raw questions in, SI values or every error at once out.

Over 300 lines: one way in for every kind of input, with its defaults, rules and errors.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from functools import lru_cache
from typing import Any

import numpy as np
from marshmallow import RAISE, Schema, ValidationError, pre_load
from marshmallow.fields import Field

from ampstead import units
from ampstead.declare import (
    MANY,
    NOTHING,
    Calculator,
    Choice,
    Count,
    Derived,
    Flag,
    Fraction,
    Input,
    Items,
    ItemType,
    Nested,
    Number,
    OneOf,
    Quantity,
    Rate,
    Result,
    Spec,
    Text,
)
from ampstead.errors import FieldError, Refusal, clipped, did_you_mean
from ampstead.units import Unreadable, clean


@dataclass(frozen=True)
class Question:
    """A question as read: what was given, what was assumed (both SI), and the calculator's arguments."""

    calculator: Calculator
    given: Mapping[str, Any]
    assumed: Mapping[str, Any]
    arguments: Mapping[str, Any]

    def given_document(self) -> dict[str, Any]:
        """The question as read, in the contract's units."""
        return {name: shown(self.calculator.inputs[name], value) for name, value in self.given.items()}

    def assumed_document(self) -> dict[str, Any]:
        """Every default that was used; those of nested items under names like ``loads[1].efficiency``."""
        document = {name: shown(self.calculator.inputs[name], value) for name, value in self.assumed.items()}
        for path, element in self._items():
            for inner, value in element.assumed.items():
                document[f"{path}.{inner}"] = shown(element.inputs[inner], value)
        return document

    def given_names(self) -> frozenset[str]:
        """The names of what was given; those in nested items like ``loads[1].efficiency``."""
        return frozenset(self.given) | {f"{path}.{inner}" for path, element in self._items() for inner in element.given}

    def _items(self) -> Iterator[tuple[str, "Item"]]:
        """The nested items given, each with its path."""
        for name, value in self.given.items():
            if isinstance(value, Item):
                yield name, value
            elif self.calculator.inputs[name].item:
                yield from ((f"{name}[{place}]", element) for place, element in enumerate(value))


def question(calculator: Calculator, raw: Mapping[str, Any]) -> Question:
    """Read a raw question.

    Raises
    ------
    Refusal
        With every error of every field.
    """
    values, given, assumed, errors = _completed(calculator, raw, "")
    if errors:
        raise Refusal(errors)
    arguments = {name: values.get(name) for name in calculator.inputs}
    for name, entry in calculator.inputs.items():
        if entry.item and entry.many:
            arguments[name] = [element.value for element in arguments[name] or ()]
        elif isinstance(nested := arguments[name], Item):
            arguments[name] = nested.value
    for name, (owner, _) in calculator.groups.items():
        arguments[name] = owner(**{entry.name: arguments.pop(entry.name, None) for entry in fields(owner)})
    return Question(calculator, given, assumed, arguments)


@lru_cache(maxsize=256)
def _schema(owner: Calculator | ItemType) -> Schema:
    return _Schema.from_dict({entry.name: _Reader(entry) for entry in owner.inputs.values()})()


class _Schema(Schema):
    class Meta:
        unknown = RAISE

    @pre_load
    def without_blanks(self, raw: Any, **_: Any) -> dict[str, Any]:
        """An input of null or of empty text counts as not given; an unknown name stays, to be refused."""
        return {
            name: value
            for name, value in raw.items()
            if name not in self.fields or (value is not None and not (isinstance(value, str) and not value.strip()))
        }


class _Reader(Field[Any]):
    """A marshmallow field that reads one input and fails with this project's own error entries."""

    def __init__(self, entry: Input) -> None:
        super().__init__()
        self.entry = entry

    def _deserialize(self, value: Any, attr: str | None, data: Any, **_: Any) -> Any:
        name = self.entry.name
        try:
            return _value(self.entry, value)
        except Unreadable as fault:
            raise ValidationError([FieldError(name, fault.code, f"{name} {fault.message}")]) from None
        except Refusal as refusal:
            raise ValidationError(list(refusal.errors)) from None


def _completed(
    owner: Calculator | ItemType, raw: Mapping[str, Any], path: str
) -> tuple[dict[str, Any], dict[str, Any], dict[str, Any], list[FieldError]]:
    """Values, those given, those assumed, and all errors, of a calculator's or a nested item's inputs."""
    inputs = owner.inputs
    errors: list[FieldError] = []
    try:
        loaded = _schema(owner).load(raw)
    except ValidationError as fault:
        loaded = dict(fault.valid_data) if isinstance(fault.valid_data, dict) else {}
        for name, messages in _by_field(fault).items():
            listed = messages if isinstance(messages, list) else [messages]
            errors += [entry if isinstance(entry, FieldError) else _unknown(name, inputs) for entry in listed]
    failed = {name for name in inputs if any(_owned(error.field, name) for error in errors)}
    # The declared order, not the sender's: answers read alike however they were asked.
    given = {name: loaded[name] for name in inputs if name in loaded}

    present = given.keys() | failed
    ruled_out: set[str] = set()
    for rule in owner.rules:
        errors += _broken(rule, present, inputs)
        if any(name in present for name in rule.names):
            ruled_out |= set(rule.names) - present
    values, assumed = _with_defaults(inputs, given, failed, ruled_out)
    missing = [
        name
        for name, entry in inputs.items()
        if entry.required and values.get(name) is None and name not in failed | ruled_out
    ]
    errors += [FieldError(name, "missing", _missing(inputs[name])) for name in missing]
    for check in owner.checks:
        errors += _checked(check, values, set(given), failed | set(missing))
    if path:
        errors = [FieldError(f"{path}.{e.field}", e.code, f"{path}: {e.message}") for e in errors]
    return values, given, assumed, errors


def _by_field(fault: ValidationError) -> dict[str, Any]:
    return fault.messages if isinstance(fault.messages, dict) else {}


def _owned(field: str, name: str) -> bool:
    return field == name or field.startswith((f"{name}[", f"{name}."))


def _unknown(name: str, inputs: Iterable[str]) -> FieldError:
    known = list(inputs)
    hint = did_you_mean(name, known) or f"; it takes {', '.join(known)}"
    return FieldError(clipped(name), "unknown", f"{clipped(name)} is not an input here{hint}")


def _missing(entry: Input) -> str:
    return f"{entry.name} is missing: {_in_sentence(entry.spec.meaning)}{_for_example(entry.spec)}"


def _in_sentence(meaning: str) -> str:
    return meaning[:1].lower() + meaning[1:].rstrip(".")


def _for_example(spec: Spec) -> str:
    example = getattr(spec, "example", None)
    if isinstance(spec, Quantity):
        example = spec.dimension.example
    return "" if example is None else f', like "{example}"' if isinstance(example, str) else f", like {example}"


def _broken(rule: OneOf, present: set[str], inputs: Mapping[str, Input]) -> list[FieldError]:
    named = [name for name in rule.names if name in present]
    if len(named) > 1:
        said = f"{' and '.join(named)} cannot be given together: give one of them"
        return [FieldError(name, "conflict", said) for name in named]
    if rule.required and not named:
        first = rule.names[0]
        said = f"give one of {', '.join(rule.names[:-1])} or {rule.names[-1]}{_for_example(inputs[first].spec)}"
        return [FieldError(first, "missing", said)]
    return []


def _with_defaults(
    inputs: Mapping[str, Input], given: Mapping[str, Any], failed: set[str], ruled_out: set[str]
) -> tuple[dict[str, Any], dict[str, Any]]:
    values = dict(given)
    assumed: dict[str, Any] = {}
    waiting: dict[str, Derived] = {}
    for name, entry in inputs.items():
        if name in values or name in failed or name in ruled_out or entry.default is NOTHING:
            continue
        if isinstance(entry.default, Derived):
            waiting[name] = entry.default
        else:
            assumed[name] = entry.default
    values |= assumed
    while waiting:
        ready = [name for name, default in waiting.items() if not any(need in waiting for need in default.needs)]
        if not ready:
            raise TypeError(f"derived defaults in a circle: {', '.join(waiting)}")
        for name in ready:
            default = waiting.pop(name)
            if any(need in failed for need in default.needs):
                failed = failed | {name}
                continue
            value = default.function(**{need: values.get(need) for need in default.needs})
            if value is not None:
                values[name] = assumed[name] = value
    return values, {name: assumed[name] for name in inputs if name in assumed}


def _checked(
    check: Callable[..., Iterable[FieldError]], values: Mapping[str, Any], given: set[str], failed: set[str]
) -> Iterable[FieldError]:
    """The errors a check finds, where everything that it looks at could be read."""
    names = Derived(check, "").needs
    if any(name in failed for name in names):
        return []
    return check(**{name: given if name == "given" else values.get(name) for name in names})


def _value(entry: Input, value: Any) -> Any:
    if isinstance(entry.spec, Items):
        return _items(entry, value)
    if isinstance(entry.spec, Nested):
        return _item(entry, value, entry.name)
    if not entry.many:
        return _bounded(entry.spec, _scalar(entry.spec, value))
    elements = _elements(entry, value)
    if elements is None:
        return _one_of_either(entry.spec, value)
    if not 1 <= len(elements) <= MANY:
        raise Unreadable("wrong_length", f"takes 1 to {MANY} values; {len(elements)} were given")
    numbers = []
    for place, element in enumerate(elements, 1):
        try:
            numbers.append(_bounded(entry.spec, _scalar(entry.spec, element)))
        except Unreadable as fault:
            raise Unreadable(fault.code, f"{fault.message} (value {place} of {len(elements)})") from None
    return np.array(numbers, dtype=float)


def _one_of_either(spec: Spec, value: Any) -> Any:
    """One value where a list is read too; there a comma may have been meant as a list's."""
    try:
        return _bounded(spec, _scalar(spec, value))
    except Unreadable as fault:
        if isinstance(value, str) and "," in value and isinstance(spec, Quantity):
            like = spec.dimension.example
            said = f'{fault.message}; for a list give every value its unit, like "{like},{like}"'
            raise Unreadable(fault.code, said) from None
        raise


def _elements(entry: Input, value: Any) -> list[Any] | None:
    """The elements of a list however it was sent, or None where it is one value for all."""
    if isinstance(value, list):
        return value
    if isinstance(value, Mapping) and isinstance(value.get("value"), list):
        return [{**value, "value": element} for element in value["value"]]
    if isinstance(value, str) and len(value) > MANY * units.LONGEST_TEXT:
        raise Unreadable("wrong_length", f"is too long: it takes at most {MANY} values")
    if isinstance(value, str) and isinstance(entry.spec, Quantity):
        parts = value.split(",")
        if entry.one and (len(parts) == 1 or not all(_has_unit(part) for part in parts)):
            return None
        return _with_last_unit(parts, entry.spec)
    return None if entry.one else [value]


def _has_unit(part: str) -> bool:
    return any(letter.isalpha() or letter in "°ΩµΩμ" for letter in part)


def _with_last_unit(parts: list[str], spec: Quantity) -> list[str]:
    """In a query a bare element takes the unit that the last one names."""
    if len(parts) > MANY or not all(part.strip() for part in parts):
        return parts
    _, unit = units.split(parts[-1], spec.dimension)
    return [part if _has_unit(part) else f"{part} {unit}" for part in parts]


def _scalar(spec: Spec, value: Any) -> Any:
    match spec:
        case Quantity():
            return units.quantity(value, spec.dimension)
        case Count():
            return _count(value)
        case Rate() if isinstance(value, str):
            return units.number(value.strip().removesuffix("C").removesuffix("c"))
        case Fraction() if isinstance(value, str) and value.strip().endswith("%"):
            return units.number(value.strip().removesuffix("%")) / 100
        case Number():
            return units.number(value)
        case Choice():
            return _choice(spec, value)
        case Flag():
            return _flag(value)
        case Text():
            return _text(spec, value)
    raise TypeError(f"{type(spec).__name__} cannot be read")


def _count(value: Any) -> int:
    size = units.number(value)
    if size != int(size):
        raise Unreadable("not_a_number", f"must be a whole number; {clipped(value)} was read")
    return int(size)


def _choice(spec: Choice, value: Any) -> str:
    if isinstance(value, str):
        for option in spec.options:
            if option.lower() == value.strip().lower():
                return option
    hint = did_you_mean(value, spec.options) if isinstance(value, str) else ""
    raise Unreadable("not_one_of", f'must be one of {", ".join(spec.options)}; "{clipped(value)}" was read{hint}')


def _flag(value: Any) -> bool:
    if isinstance(value, bool):
        return value
    if isinstance(value, str) and value.strip().lower() in ("true", "false"):
        return value.strip().lower() == "true"
    raise Unreadable("not_one_of", f'must be true or false; "{clipped(value)}" was read')


def _text(spec: Text, value: Any) -> str:
    if spec.measured and isinstance(value, Mapping) and value.keys() == {"value", "unit"}:
        value = f"{value['value']} {value['unit']}"
    elif spec.measured and isinstance(value, int | float) and not isinstance(value, bool):
        value = str(value)
    if not isinstance(value, str):
        raise Unreadable("not_one_of", "must be text")
    if len(value.strip()) > spec.longest:
        raise Unreadable("wrong_length", f"must be at most {spec.longest} characters long")
    return clipped(value.strip(), spec.longest)


def _bounded(spec: Spec, value: Any) -> Any:
    if isinstance(spec, Quantity):
        broken = spec.broken(value, spec.si)
        was = f"{units.converted(value, spec.unit):.6g} {spec.unit}"
    elif isinstance(spec, Number):
        broken = spec.broken(value, float)
        was = f"{value:.6g}" if isinstance(value, float) else clipped(value)
    else:
        return value
    if broken:
        raise Unreadable("out_of_range", f"must be {broken}; {was} was read")
    return value


def _items(entry: Input, value: Any) -> list[Any]:
    assert entry.item is not None
    assert isinstance(entry.spec, Items)
    name, shorthand = entry.name, entry.spec.shorthand
    if isinstance(value, str) and shorthand:
        spec = entry.item.inputs[shorthand].spec
        assert isinstance(spec, Quantity)
        value = _with_last_unit(value.split(","), spec)
    if not isinstance(value, list):
        raise Unreadable("wrong_length", "must be a list")
    if not 1 <= len(value) <= MANY:
        raise Unreadable("wrong_length", f"takes 1 to {MANY} entries; {len(value)} were given")
    errors: list[FieldError] = []
    items = []
    for place, element in enumerate(value):
        path = f"{name}[{place}]"
        if shorthand and (not isinstance(element, Mapping) or "unit" in element or "value" in element):
            element = {shorthand: element}
        try:
            items.append(_item(entry, element, path))
        except Refusal as refusal:
            errors += refusal.errors
    if errors:
        raise Refusal(errors)
    return items


def _item(entry: Input, value: Any, path: str) -> "Item":
    assert entry.item is not None
    if not isinstance(value, Mapping):
        raise Refusal([FieldError(path, "not_one_of", f"{path} must be an object")])
    values, given, assumed, wrong = _completed(entry.item, value, path)
    if wrong:
        raise Refusal(wrong)
    made = entry.item.type(**{inner: values.get(inner) for inner in entry.item.inputs})
    return Item(made, given, assumed, entry.item.inputs)


@dataclass(frozen=True)
class Item:
    """A nested item as read, with what was given and what was assumed."""

    value: Any
    given: Mapping[str, Any]
    assumed: Mapping[str, Any]
    inputs: Mapping[str, Input]


def shown(entry: Input | Result, value: Any) -> Any:
    """An input's or a result's SI value as the contract writes it."""
    if value is None:
        return None
    if entry.item is not None:
        shown_items = [_shown_item(entry.item, element) for element in (value if entry.many else [value])]
        return shown_items if entry.many else shown_items[0]
    if isinstance(value, list | tuple | np.ndarray):
        return [_shown_scalar(entry.spec, element) for element in value]
    return _shown_scalar(entry.spec, value)


def _shown_item(item: ItemType, element: Any) -> dict[str, Any]:
    if isinstance(element, Item):
        return {name: shown(item.inputs[name], value) for name, value in element.given.items()}
    return {name: shown(result, getattr(element, name)) for name, result in item.results.items()}


def _shown_scalar(spec: Spec, value: Any) -> Any:
    if isinstance(spec, Quantity):
        return units.shown(float(value), spec.unit)
    if isinstance(spec, Count):
        return int(value)
    if isinstance(spec, Number):
        return clean(float(value))
    return bool(value) if isinstance(spec, Flag) else value


def headed(name: str, result: Result) -> str:
    """A column's heading: ``time [min]``."""
    return f"{name} [{result.spec.unit}]" if isinstance(result.spec, Quantity) else name


def shown_plain(result: Result, values: Any) -> list[Any]:
    """A column's values as bare numbers in the unit of its heading."""
    if isinstance(result.spec, Quantity):
        return [units.converted(float(value), result.spec.unit) for value in values]
    return [None if value is None else _shown_scalar(result.spec, value) for value in values]

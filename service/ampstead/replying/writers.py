"""SI values as the contract writes them."""

from collections.abc import Iterator
from typing import Any

import numpy as np

from ampstead import units
from ampstead.declare import Calculator, Count, Flag, Input, ItemType, Number, Quantity, Result, Spec
from ampstead.reading.items import Item
from ampstead.reading.plan import Question


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
        return units.clean(float(value))
    return bool(value) if isinstance(spec, Flag) else value


def headed(name: str, result: Result) -> str:
    """A column's heading: ``time [min]``."""
    return f"{name} [{result.spec.unit}]" if isinstance(result.spec, Quantity) else name


def shown_plain(result: Result, values: Any) -> list[Any]:
    """A column's values as bare numbers in the unit of its heading."""
    if isinstance(result.spec, Quantity):
        return [units.converted(float(value), result.spec.unit) for value in values]
    return [None if value is None else _shown_scalar(result.spec, value) for value in values]


def given_shown(calculator: Calculator, question: Question) -> dict[str, Any]:
    """The question as read, in the contract's units."""
    return {name: shown(calculator.inputs[name], value) for name, value in question.given.items()}


def assumed_shown(calculator: Calculator, question: Question) -> dict[str, Any]:
    """Every default that was used; those of nested items under names like ``loads[1].efficiency``."""
    document = {name: shown(calculator.inputs[name], value) for name, value in question.assumed.items()}
    for path, element in _items(calculator, question):
        for inner, value in element.assumed.items():
            document[f"{path}.{inner}"] = shown(element.inputs[inner], value)
    return document


def given_names(calculator: Calculator, question: Question) -> frozenset[str]:
    """The names of what was given; those in nested items like ``loads[1].efficiency``."""
    nested = (f"{path}.{inner}" for path, element in _items(calculator, question) for inner in element.given)
    return frozenset(question.given).union(nested)


def _items(calculator: Calculator, question: Question) -> Iterator[tuple[str, Item]]:
    """The nested items given, each with its path."""
    for name, value in question.given.items():
        if isinstance(value, Item):
            yield name, value
        elif calculator.inputs[name].item:
            yield from ((f"{name}[{place}]", element) for place, element in enumerate(value))

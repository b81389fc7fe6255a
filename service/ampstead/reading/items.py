"""Nested things as read: ``loads``, ``packs``, a ``source``."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from ampstead.declare import Input, Items, Quantity
from ampstead.errors import FieldError, Refusal
from ampstead.reading.readers import Reader, split, with_commas
from ampstead.units import Unreadable


@dataclass(frozen=True, slots=True)
class Item:
    """A nested item as read, with what was given and what was assumed."""

    value: Any
    given: Mapping[str, Any]
    assumed: Mapping[str, Any]
    inputs: Mapping[str, Input]


def items_reader(entry: Input, read: Callable[[Mapping[str, Any]], Any]) -> Reader:
    """The reader of a list of nested things."""
    assert isinstance(entry.spec, Items)
    shorthand, most = entry.spec.shorthand, entry.spec.most
    one = _item_reader(entry, read)

    def items_read(value: Any) -> list[Item]:
        text = value if isinstance(value, str) else None
        if isinstance(value, str) and shorthand and entry.item:
            spec = entry.item.inputs[shorthand].spec
            assert isinstance(spec, Quantity)
            value = split(value, spec)
        if not isinstance(value, list):
            raise Unreadable("wrong_length", f"must be a list{_written(entry, f'{entry.name}[0]')}")
        if not 1 <= len(value) <= most:
            raise Unreadable("wrong_length", f"takes 1 to {most} entries; {len(value)} were given")
        errors: list[FieldError] = []
        more = 0
        items = []
        for place, element in enumerate(value):
            if shorthand and (not isinstance(element, Mapping) or "unit" in element or "value" in element):
                element = {shorthand: element}
            try:
                items.append(one(element, f"{entry.name}[{place}]"))
            except Refusal as refusal:
                errors += refusal.errors
                more += refusal.more
        if errors and text is not None:
            plain = Unreadable(errors[0].code, errors[0].message)
            if (told := with_commas(text, plain)) is not plain:
                raise told
        if errors:
            raise Refusal(errors, more)
        return items

    return items_read


def nested_reader(entry: Input, read: Callable[[Mapping[str, Any]], Any]) -> Reader:
    """The reader of one nested thing."""
    one = _item_reader(entry, read)
    return lambda value: one(value, entry.name)


def _item_reader(entry: Input, read: Callable[[Mapping[str, Any]], Any]) -> Callable[[Any, str], Item]:
    assert entry.item is not None
    item = entry.item

    def item_read(value: Any, path: str) -> Item:
        if not isinstance(value, Mapping):
            said = f"{path} must be an object{_written(entry, path)}"
            raise Refusal([FieldError(path, "not_one_of", said)])
        try:
            question = read(value)
        except Refusal as refusal:
            errors = [FieldError(f"{path}.{e.field}", e.code, f"{path}: {e.message}") for e in refusal.errors]
            raise Refusal(errors, refusal.more) from None
        made = item.type(**{inner: question.values.get(inner) for inner in item.inputs})
        return Item(made, question.given, question.assumed, item.inputs)

    return item_read


def _written(entry: Input, path: str) -> str:
    """How an address writes it."""
    assert entry.item is not None
    return f"; in an address write {path}.{next(iter(entry.item.inputs))}=…"

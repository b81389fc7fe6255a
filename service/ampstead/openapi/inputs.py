"""Inputs as the document tells them: in a JSON body, and as parameters of an address.

No schema of an input carries ``default``: generated clients would send it, and it excludes other inputs. What is taken
where nothing is given stands under ``x-default``, and in words at the end of the description, which also tells unit,
bounds and an example, since readers are shown no ``x-``.
"""

from dataclasses import fields
from typing import Any

from ampstead.declare import (
    MANY,
    NOTHING,
    Bounds,
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
    Quantity,
    Rate,
    Text,
)
from ampstead.inputs.pack import Pack
from ampstead.openapi.common import Schema, first_line, pascal, ref
from ampstead.replying.writers import shown
from ampstead.units import DIMENSIONS, LONGEST_TEXT

_PACK = frozenset(field.name for field in fields(Pack))
_SIZE: Schema = {"type": "number"}
_NUMBER = r"^\s*[+\-−]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+\-−]?[0-9]{1,4})?\s*"
TEXTS = {
    name: {"type": "string", "maxLength": LONGEST_TEXT, "pattern": _NUMBER + rest}
    for name, rest in (("NumberText", "$"), ("RateText", r"[Cc]?\s*$"), ("FractionText", r"%?\s*$"))
}
"""Numbers written as text."""


def quantities() -> dict[str, Schema]:
    """Every kind of quantity, as questions give one or a list of it."""
    made = {}
    for dimension in DIMENSIONS.values():
        name = f"{pascal(dimension.name)}Input"
        made[name] = {
            "description": f'{dimension.called.capitalize()} with its unit, like "{dimension.example}".',
            "anyOf": [{"type": "string", "maxLength": LONGEST_TEXT}, _measured({"anyOf": [_SIZE, ref("NumberText")]})],
            "x-unit": dimension.unit,
            "x-units": dimension.read,
        }
        several = {"type": "array", "minItems": 1, "maxItems": MANY}
        made[name.replace("Input", "ListInput")] = {
            "description": f"A list of these, or one; in text, comma separated: {dimension.called}.",
            "anyOf": [
                {"type": "string"},
                {**several, "items": ref(name)},
                _measured({"anyOf": [_SIZE, ref("NumberText"), {**several, "items": {"type": ["number", "string"]}}]}),
            ],
            "x-unit": dimension.unit,
        }
    return made


def _measured(value: Schema) -> Schema:
    return {
        "type": "object",
        "required": ["value", "unit"],
        "properties": {"value": value, "unit": {"type": "string"}},
        "additionalProperties": False,
    }


class Givens:
    """The inputs of bodies: one schema for all that are alike, named `GivenCapacity`, `GivenCapacity2`."""

    def __init__(self) -> None:
        self.schemas: dict[str, Schema] = {}
        self._plain: dict[str, list[str]] = {}

    def ref(self, entry: Input) -> Schema:
        made, name = given(entry), f"Given{pascal(entry.name)}"
        alike = self._plain.setdefault(name, [])
        key = next((key for key in alike if self.schemas[key] == made), None)
        if key is None:
            key = f"{name}{len(alike) + 1}" if alike else name
            alike.append(key)
            self.schemas[key] = made
        return ref(key)


def question(owner: Calculator | ItemType, givens: Givens) -> Schema:
    """The schema of a question's body, or of a nested part of one."""
    required = [name for name, entry in owner.inputs.items() if entry.required and entry.default is NOTHING]
    made: Schema = {
        "type": "object",
        **({"description": first_line(owner.type)} if isinstance(owner, ItemType) else {}),
        "properties": {name: givens.ref(entry) for name, entry in owner.inputs.items()},
        "additionalProperties": False,
    }
    if required:
        made["required"] = required
    if owner.rules:
        made["x-one-of"] = [{"names": list(rule.names), "required": rule.required} for rule in owner.rules]
    if isinstance(owner, Calculator) and (groups := _groups(owner)):
        made["x-groups"] = groups
    return made


def _groups(calculator: Calculator) -> dict[str, list[str]]:
    """The inputs that may be handed over in one, by the name of the whole."""
    inputs = calculator.inputs.values()
    whole = [name for name, (_, group) in calculator.groups.items() if group.whole]
    made = {name: [entry.name for entry in inputs if entry.group == name] for name in whole}
    of_a_pack = [entry.name for entry in inputs if entry.name in _PACK]
    if len(of_a_pack) > 1:  # a name means the same everywhere, whether it is taken from a group or by itself
        made.setdefault("pack", of_a_pack)
    return made


def given(entry: Input) -> Schema:
    """An input's schema in a body."""
    made = {"description": described(entry, entry.spec.meaning), **_body_kind(entry)}
    if isinstance(entry.spec, Quantity):
        made |= _bounds(entry.spec)
    if entry.default is not NOTHING:
        made["x-default"] = _taken(entry)
    if isinstance(entry.spec, Choice) and entry.spec.spellings:
        made["x-spellings"] = dict(entry.spec.spellings)
    return made


def described(entry: Input, meaning: str) -> str:
    """What an input means, then its unit, bounds, example and what is taken where it is not given."""
    spec = entry.spec
    told = [f"in {spec.unit}"] if isinstance(spec, Quantity) else []
    if isinstance(spec, Bounds):
        words = ("above", spec.above), ("at least", spec.at_least), ("below", spec.below), ("at most", spec.at_most)
        told += [f"{word} {bound}" for word, bound in words if bound is not None]
    example = getattr(spec, "example", None)
    if not (example is None or isinstance(example, list | dict) or isinstance(spec, Choice | Flag)):
        told.append(f"for example {_word(example)}")
    parts = [meaning.rstrip(".") + "."]
    if told:
        said = "; ".join(told)
        parts.append(f"{said[0].upper()}{said[1:]}.")
    if entry.default is not NOTHING:
        parts.append(f"If not given: {_word(_taken(entry))}.")
    return " ".join(parts)


def _taken(entry: Input) -> Any:
    """What stands for an input that is not given: its value as text or number, or the words of how it follows."""
    if isinstance(entry.default, Derived):
        return entry.default.text
    value = shown(entry, entry.default)
    return f"{value['value']:g} {value['unit']}" if isinstance(value, dict) else value


def _word(value: Any) -> str:
    return str(value).lower() if isinstance(value, bool) else f"{value}"


def _bounds(spec: Bounds) -> Schema:
    """Bounds as the declaration writes them, since text with a unit has none in JSON schema."""
    pairs = {
        "x-above": spec.above,
        "x-at-least": spec.at_least,
        "x-below": spec.below,
        "x-at-most": spec.at_most,
    }
    return {name: bound for name, bound in pairs.items() if bound is not None}


def _body_kind(entry: Input) -> Schema:
    spec = entry.spec
    match spec:
        case Quantity():
            name = pascal(spec.dimension.name)
            return {**ref(f"{name}{'List' if entry.many else ''}Input"), "x-unit": spec.unit}
        case Items():
            assert entry.item is not None
            inner: list[Schema] = [ref(entry.item.type.__name__)]
            if spec.shorthand:
                short = entry.item.inputs[spec.shorthand].spec
                assert isinstance(short, Quantity)
                inner.append(ref(f"{pascal(short.dimension.name)}Input"))
            many = {"type": "array", "minItems": 1, "maxItems": spec.most, "items": {"anyOf": inner}}
            return {"anyOf": [many, {"type": "string"}]} if spec.shorthand else many
        case Nested():
            assert entry.item is not None
            return ref(entry.item.type.__name__)
        case Text(measured=True):
            plain = {"type": "string", "maxLength": spec.longest}
            return {"anyOf": [plain, _measured({"type": ["number", "string"]})]}
    if not entry.many:
        return _plain_kind(spec)
    return {"anyOf": [{"type": "array", "minItems": 1, "maxItems": MANY, "items": _plain_kind(spec)}, *AS_TEXT]}


AS_TEXT: list[Schema] = [{"type": "string", "maxLength": LONGEST_TEXT * MANY}, {"type": "number"}]
"""A list of plain numbers comma separated, or one alone."""


def _plain_kind(spec: Any) -> Schema:
    """What a body and an address write alike."""
    match spec:
        case Count():
            return _number_or_text("integer", spec, "NumberText")
        case Rate():
            return _number_or_text("number", spec, "RateText")
        case Fraction():
            return _number_or_text("number", spec, "FractionText")
        case Number():
            return _number_or_text("number", spec, "NumberText")
        case Choice():
            return {"type": "string", "enum": list(spec.options)}
        case Flag():
            return {"type": "boolean"}
        case Text():
            return {"type": "string", "maxLength": spec.longest}
    raise TypeError(f"{type(spec).__name__} has no schema")


def _number_or_text(kind: str, spec: Number, text: str) -> Schema:
    limits = {
        "exclusiveMinimum": spec.above,
        "minimum": spec.at_least,
        "exclusiveMaximum": spec.below,
        "maximum": spec.at_most,
    }
    bounded = {"type": kind, **{name: limit for name, limit in limits.items() if limit is not None}}
    return {"anyOf": [bounded, ref(text)]}


def parameters(owner: Calculator | ItemType, *, brief: bool = False) -> list[Schema]:
    """An address's parameters; of a list of nested things, those of the first.

    In brief they leave bounds, example and default to the body's input of that name, tell no ``x-``, and not how the
    next of a list are named.
    """
    made = []

    def add(name: str, entry: Input, required: bool, more: str = "") -> None:
        schema, told = _query_kind(entry), described(entry, entry.spec.meaning)
        if brief:
            unit = f" In {entry.spec.unit}." if isinstance(entry.spec, Quantity) else ""
            told = f"{entry.spec.meaning.rstrip('.')}.{unit}"
        elif entry.default is not NOTHING:
            schema["x-default"] = _taken(entry)
        needed = {} if brief and not required else {"required": required}
        made.append({"name": name, "in": "query", **needed, "description": told + more, "schema": schema})

    for name, entry in owner.inputs.items():
        required = entry.required and entry.default is NOTHING
        if entry.item is None:
            add(name, entry, required)
            continue
        assert isinstance(entry.spec, Items | Nested)
        short = isinstance(entry.spec, Items) and entry.spec.shorthand
        if short:
            add(name, entry, False)
        of = f"{name}[0]" if entry.many else name
        more = f" The next are {name}[1] and so on." if entry.many and not brief else ""
        for inner, part in entry.item.inputs.items():
            if part.item is None:
                add(f"{of}.{inner}", part, required and not short and part.required and part.default is NOTHING, more)
    return made


def _query_kind(entry: Input) -> Schema:
    """An input's schema as a query's text; units, bounds and example are told in words."""
    spec = entry.spec
    if isinstance(spec, Quantity):
        made: Schema = {"type": "string", "maxLength": LONGEST_TEXT * (MANY if entry.many else 1)}
    elif isinstance(spec, Items | Nested):
        made = {"type": "string"}
    elif isinstance(spec, Flag):
        made = {"type": "string", "enum": ["true", "false"]}
    elif entry.many:
        made = {"type": "string", "maxLength": LONGEST_TEXT * MANY}
    else:
        made = _plain_kind(spec)
    return made

"""Answers as the document tells them: results, envelopes, rows of a batch, problems, and inputs as they were read."""

from collections.abc import Iterable, Mapping

from ampstead.declare import Calculator, Choice, Count, Flag, Input, ItemType, Number, Quantity, Result, Spec
from ampstead.errors import CODES
from ampstead.openapi.common import TEXT, Schema, pascal, ref
from ampstead.units import DIMENSIONS

_NUMBER: Schema = {"type": "number"}


def quantities() -> dict[str, Schema]:
    """Every kind of quantity, as answers carry it."""
    return {
        pascal(dimension.name): {
            "type": "object",
            "description": f"{dimension.called.capitalize()} in {dimension.unit}.",
            "required": ["value", "unit"],
            "properties": {"value": _NUMBER, "unit": {**TEXT, "const": dimension.unit}},
            "x-unit": dimension.unit,
        }
        for dimension in DIMENSIONS.values()
    }


def results(entries: Mapping[str, Result], description: str = "") -> Schema:
    """The schema of an answer's results, or of a nested part of them."""
    return {
        "type": "object",
        **({"description": description} if description else {}),
        "properties": {name: _result(entry) for name, entry in entries.items()},
        "required": list(entries),
    }


def _result(entry: Result) -> Schema:
    kind = ref(entry.item.type.__name__) if entry.item else _kind(entry.spec)
    if entry.many:
        kind = {"type": "array", "items": kind}
    if entry.nullable:
        kind = {"anyOf": [kind, {"type": "null"}]}
    made = {"description": entry.spec.meaning, **kind}
    if isinstance(entry.spec, Quantity):
        made["x-unit"] = entry.spec.unit
    if isinstance(entry.spec, Quantity | Number) and entry.spec.spoken != "near":
        made["x-spoken"] = entry.spec.spoken
    return made


def _kind(spec: Spec) -> Schema:
    match spec:
        case Quantity():
            return ref(pascal(spec.dimension.name))
        case Count():
            return {"type": "integer"}
        case Number():
            return _NUMBER
        case Flag():
            return {"type": "boolean"}
        case Choice():
            return {**TEXT, "enum": list(spec.options)}
    return TEXT


def inputs_told(calculators: Iterable[Calculator]) -> Schema:
    """Every input as answers tell it: a name means the same everywhere, nested ones too, so that one schema serves."""
    kinds: dict[str, list[Schema]] = {}

    def note(owner: Calculator | ItemType) -> None:
        for name, entry in owner.inputs.items():
            one = ref("Inputs") if entry.item else _told(entry)
            found = kinds.setdefault(name, [])
            for kind in ([one] if entry.one else []) + ([{"type": "array", "items": one}] if entry.many else []):
                if kind not in found:
                    found.append(kind)
            if entry.item:
                note(entry.item)

    for calculator in calculators:
        note(calculator)
    return {
        "type": "object",
        "description": "Inputs as an answer tells them, in the units of answers; defaults of nested ones stand under "
        "names such as packs[0].temperature.",
        "properties": {
            name: found[0] if len(found) == 1 else {"anyOf": found} for name, found in sorted(kinds.items())
        },
    }


def _told(entry: Input) -> Schema:
    return TEXT if isinstance(entry.spec, Choice) else _kind(entry.spec)


def answer(calculator: str) -> Schema:
    """The schema of a whole answer."""
    return _with(
        "Envelope", {"calculator": {**TEXT, "const": calculator}, "answer": ref(f"{pascal(calculator)}Results")}
    )


def _with(base: str, properties: dict[str, Schema]) -> Schema:
    return {"allOf": [ref(base), {"type": "object", "required": list(properties), "properties": properties}]}


def shared() -> dict[str, Schema]:
    """What every answer and every error is made of."""
    figure = {
        "description": "A figure in the result's own form.",
        "anyOf": [
            {"type": "object", "required": ["value", "unit"], "properties": {"value": _NUMBER, "unit": TEXT}},
            _NUMBER,
        ],
    }
    accuracy = {
        "type": "object",
        "required": ["of", "low", "high", "basis"],
        "properties": {
            "of": {**TEXT, "description": "The result's name."},
            "low": ref("Figure"),
            "high": ref("Figure"),
            "basis": {**TEXT, "description": "Why it is no surer."},
        },
    }
    caution = {
        "type": "object",
        "required": ["code", "severity", "standing", "text"],
        "properties": {
            "code": TEXT,
            "severity": {**TEXT, "enum": ["danger", "warning", "note"]},
            "standing": {
                "type": "boolean",
                "description": "Whether it holds on any day; false for what this question brought up.",
            },
            "text": TEXT,
        },
    }
    fault = {
        "type": "object",
        "required": ["field", "code", "message"],
        "properties": {
            "field": {**TEXT, "description": "The input's name; nested like loads[1].power."},
            "code": {**TEXT, "enum": list(CODES)},
            "message": {**TEXT, "description": "What is wrong, and the cure."},
        },
    }
    problem = {
        "type": "object",
        "description": "A problem document (RFC 9457): the one shape of every error.",
        "required": ["type", "title", "status", "detail"],
        "properties": {
            "type": {**TEXT, "format": "uri"},
            "title": TEXT,
            "status": {"type": "integer"},
            "detail": TEXT,
            "errors": {"type": "array", "items": ref("FieldError")},
        },
    }
    beside = {"assumed": ref("Inputs"), "accuracy": ref("Accuracies"), "cautions": ref("Cautions")}
    results = {"type": "object", "description": "The calculator's results.", "additionalProperties": True}
    row = {"answer": results, **beside}
    told = {"version": TEXT, "question": ref("Inputs"), **beside, "sentence": TEXT, "sources": ref("Sources")}
    return {
        "Row": {
            "type": "object",
            "description": "The answer to one of many questions.",
            "required": list(row),
            "properties": row,
        },
        "Envelope": {
            "type": "object",
            "description": "What stands beside an answer: the question as read, what was assumed, how sure it is.",
            "required": list(told),
            "properties": told,
        },
        "Figure": figure,
        "Accuracy": accuracy,
        "Accuracies": {"type": "array", "items": ref("Accuracy"), "description": "How sure results are."},
        "Caution": caution,
        "Cautions": {
            "type": "array",
            "items": ref("Caution"),
            "description": "Gravest first; of one severity the standing ones last.",
        },
        "Sources": {"type": "array", "items": TEXT, "description": "What the method rests on."},
        "FieldError": fault,
        "Problem": problem,
        "Batch": {
            "type": "object",
            "required": ["answers"],
            "properties": {"answers": {"type": "array", "items": {"anyOf": [ref("Row"), ref("RefusedRow")]}}},
        },
        "RefusedRow": {"type": "object", "required": ["problem"], "properties": {"problem": ref("Problem")}},
    }

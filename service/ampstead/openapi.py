"""Declarations turned into the OpenAPI 3.1 document. Units stand in ``x-unit``; each quantity is declared once.

Over 300 lines: the whole document, one function a part.
"""

from collections.abc import Mapping
from typing import Any

from apispec import APISpec

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
    Group,
    Input,
    Items,
    ItemType,
    Nested,
    Number,
    Quantity,
    Rate,
    Result,
    Spec,
    Text,
    group_inputs,
)
from ampstead.errors import CODES, TITLES
from ampstead.replying.answers import answered, service_version
from ampstead.replying.writers import headed, shown
from ampstead.units import DIMENSIONS, LONGEST_TEXT, Dimension

Schema = dict[str, Any]

ANSWERED_WITHIN, BATCH_ANSWERED_WITHIN = 5.0, 15.0
"""Seconds from a question, or from many at once, to the end of any work on it."""

DESCRIPTION = f"""Calculators for a model flier's battery packs. Each takes a question (named inputs) and gives an
answer (named results) with what was assumed, how sure it is, the cautions that apply and where its method comes from.

Quantities carry their unit both ways: write `2250 mAh`, or `{{"value": 2250, "unit": "mAh"}}`; a bare number is
refused. An input of null or of empty text counts as not given. Nested inputs have an address too: `packs[0].cells=4`.
The work can hurt people: the papers of the pack and of the charger, and local rules, go before any answer here.

An answer takes {ANSWERED_WITHIN:.0f} seconds at most, and {BATCH_ANSWERED_WITHIN:.0f} where many questions come at
once: then its work is ended, and status 503 says so. 503 and 429 name the seconds to wait in `Retry-After`. Where the
operator has set keys, a request carries one as `Authorization: Bearer <key>`, but for `/healthz` and `/readyz`. The
`X-Request-ID` of a reply is the one that came with the request, where it is of up to 64 letters, digits and
`._:/+=@-`, or else a new one.

Everything under `/v1/` only grows: names, units and meanings stay, and inputs that come are optional. What is to go one
day says so a year before in the headers `Deprecation` (RFC 9745) and `Sunset` (RFC 8594), and has its follower."""

BATCHES = """Each row is answered or refused by itself. As JSON: `questions`, and under `common` what all of them share;
a question's own inputs win, and one of an exclusive set rules out the others in `common`.

As a table (`text/csv`): the first line names the inputs, a unit stands in the cell or in the heading
(`capacity [mAh]`), lists are separated by spaces, and inputs common to all rows may stand in the address. The table
comes back with results (`answer.…`), the gravest caution that a row brought up and, where it was refused, the problem.
Columns of other names are handed back; separator, decimal mark and line ends are kept.

A batch that takes longer than a few seconds puts its last rows off with status 503."""
NUMBER_TEXT = r"^\s*[+\-−]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+\-−]?[0-9]{1,4})?\s*$"
RATE_TEXT = r"^\s*[+\-−]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+\-−]?[0-9]{1,4})?\s*[Cc]?\s*$"
FRACTION_TEXT = r"^\s*[+\-−]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+\-−]?[0-9]{1,4})?\s*%?\s*$"
JSON, PROBLEM, TEXT = "application/json", "application/problem+json", "text/plain"
DIGITS = 6
"""Significant digits of the figures in the document: from the eleventh on they differ between processors."""
OTHER_FORMS: Mapping[str, tuple[str, str, Schema]] = {
    ".txt": ("One or two plain sentences, then the gravest caution.", TEXT, {"type": "string"}),
    ".csv": ("The curve or table.", "text/csv", {"type": "string"}),
    ".svg": ("The answer's picture; follows the reader's dark or light.", "image/svg+xml", {"type": "string"}),
    ".png": ("The answer's picture as a bitmap.", "image/png", {}),
}
OF_THE_SERVER = (401, 408, 429, 503)
"""Errors that stand before a question: keys, limits, ends to waiting."""
ERRORS = {
    "get": (400, *OF_THE_SERVER, 404, 405, 406, 414, 422, 431, 500),
    "post": (400, *OF_THE_SERVER, 404, 405, 406, 413, 414, 415, 422, 431, 500),
}


def document(calculators: Mapping[str, Calculator], digits: int | None = DIGITS) -> dict[str, Any]:
    """The whole OpenAPI document of some calculators, its figures at so many digits; None leaves them as solved."""
    spec = APISpec(
        title="Ampstead",
        version=service_version(),
        openapi_version="3.1.0",
        info={"description": DESCRIPTION, "license": {"name": "MIT", "identifier": "MIT"}},
        servers=[{"url": "/"}],
        tags=[{"name": "calculators"}, {"name": "service"}],
    )
    _quantities(spec)
    _shared(spec)
    for calculator in calculators.values():
        _calculator(spec, calculator)
    _service_paths(spec)
    made: dict[str, Any] = spec.to_dict()
    return made if digits is None else rounded(made, digits)


def rounded(document: Any, digits: int = DIGITS) -> Any:
    """A document with every figure at so many significant digits.

    A tie goes away from nought, as far as 1e-9 of the figure can tell: solved on another processor it may lie on
    either side. What is left of a difference of equals is nought.
    """
    if isinstance(document, float):
        return float(f"{document * (1 + 1e-9):.{digits}g}") if abs(document) > 1e-12 else 0.0
    if isinstance(document, dict):
        return {name: rounded(entry, digits) for name, entry in document.items()}
    return [rounded(entry, digits) for entry in document] if isinstance(document, list) else document


def _pascal(name: str) -> str:
    return "".join(part.capitalize() for part in name.replace("-", " ").split())


def _ref(name: str) -> Schema:
    return {"$ref": f"#/components/schemas/{name}"}


def _quantities(spec: APISpec) -> None:
    for dimension in DIMENSIONS.values():
        name = _pascal(dimension.name)
        size, unit = {"type": "number"}, {"type": "string", "const": dimension.unit}
        spec.components.schema(
            name,
            {
                "type": "object",
                "description": f"{dimension.called.capitalize()} in {dimension.unit}.",
                "required": ["value", "unit"],
                "properties": {"value": size, "unit": unit},
                "x-unit": dimension.unit,
            },
        )
        spec.components.schema(f"{name}Input", _quantity_input(dimension))
        spec.components.schema(f"{name}ListInput", _quantity_list(name, dimension))


def _quantity_input(dimension: Dimension) -> Schema:
    size = {"anyOf": [{"type": "number"}, {"type": "string", "pattern": NUMBER_TEXT}]}
    return {
        "description": f'{dimension.called.capitalize()} with its unit, like "{dimension.example}".',
        "anyOf": [
            {"type": "string", "maxLength": LONGEST_TEXT},
            {
                "type": "object",
                "required": ["value", "unit"],
                "properties": {"value": size, "unit": {"type": "string"}},
                "additionalProperties": False,
            },
        ],
        "x-unit": dimension.unit,
        "x-units": sorted(dimension.scales),
    }


def _quantity_list(name: str, dimension: Dimension) -> Schema:
    numbers = {"type": "array", "minItems": 1, "maxItems": MANY, "items": {"type": ["number", "string"]}}
    return {
        "description": "A list of quantities; in text, comma separated.",
        "anyOf": [
            {"type": "string"},
            {"type": "array", "minItems": 1, "maxItems": MANY, "items": _ref(f"{name}Input")},
            {
                "type": "object",
                "required": ["value", "unit"],
                "properties": {"value": numbers, "unit": {"type": "string"}},
                "additionalProperties": False,
            },
        ],
        "x-unit": dimension.unit,
        "x-units": sorted(dimension.scales),
    }


def _shared(spec: APISpec) -> None:
    text = {"type": "string"}
    entry = {
        "type": "object",
        "required": ["field", "code", "message"],
        "properties": {
            "field": {**text, "description": "The input's name; nested like loads[1].power."},
            "code": {**text, "enum": list(CODES)},
            "message": {**text, "description": "What is wrong, and the cure."},
        },
    }
    problem = {
        "type": "object",
        "description": "A problem document (RFC 9457): the one shape of every error.",
        "required": ["type", "title", "status", "detail"],
        "properties": {
            "type": {**text, "format": "uri"},
            "title": text,
            "status": {"type": "integer"},
            "detail": text,
            "errors": {"type": "array", "items": _ref("FieldError")},
        },
    }
    caution = {
        "type": "object",
        "required": ["code", "severity", "standing", "text"],
        "properties": {
            "code": text,
            "severity": {**text, "enum": ["danger", "warning", "note"]},
            "standing": {
                "type": "boolean",
                "description": "Whether it holds on any day; false for what this question brought up.",
            },
            "text": text,
        },
    }
    edge = {"description": "In the result's own form.", "type": ["object", "number", "null"]}
    accuracy = {
        "type": "object",
        "required": ["of", "low", "high", "basis"],
        "properties": {"of": text, "low": edge, "high": edge, "basis": text},
    }
    for name, schema in (
        ("FieldError", entry),
        ("Problem", problem),
        ("Caution", caution),
        ("Accuracy", accuracy),
        ("RefusedRow", {"type": "object", "required": ["problem"], "properties": {"problem": _ref("Problem")}}),
    ):
        spec.components.schema(name, schema)
    for status, (_, title) in TITLES.items():
        spec.components.response(
            f"Problem{status}",
            {"description": title + ".", "content": {PROBLEM: {"schema": _ref("Problem")}}},
        )
        spec.components.response(f"Spoken{status}", {"description": title + ".", "content": {TEXT: {"schema": text}}})


def _calculator(spec: APISpec, calculator: Calculator) -> None:
    name = _pascal(calculator.name)
    entries: list[Input | Result] = [*calculator.inputs.values(), *calculator.results.values()]
    for entry in entries:
        if entry.item and entry.item.type.__name__ not in spec.components.schemas:
            made = (
                _object_in(entry.item)
                if isinstance(entry, Input)
                else _object_out(entry.item.results, _first_line(entry.item.type))
            )
            spec.components.schema(entry.item.type.__name__, made)
    for group, (owner, taken) in calculator.groups.items():
        if taken.whole and _pascal(group) not in spec.components.schemas:
            properties = {n: _property_in(entry) for n, entry in group_inputs(group, owner, Group(name=group)).items()}
            made = {"type": "object", "description": _first_line(owner), "properties": properties}
            spec.components.schema(_pascal(group), made)
    spec.components.schema(f"{name}Question", _object_in(calculator))
    spec.components.schema(f"{name}Results", _object_out(calculator.results, f"Results of {calculator.name}."))
    spec.components.schema(f"{name}Answer", _envelope(calculator.name, name))
    for parameter in _parameters(calculator):
        spec.components.parameter(_component(calculator, parameter["name"]), "query", parameter)
    for suffix in ("", ".txt", *calculator.forms):
        spec.path(path=f"/v1/{calculator.name}{suffix}", operations=_operations(calculator, name, suffix))
    spec.components.schema(f"{name}Batch", _batch_out(name))
    spec.path(path=f"/v1/{calculator.name}/batch", operations={"post": _batch(calculator, name)})


def _first_line(owner: type) -> str:
    return (owner.__doc__ or "").strip().partition("\n")[0]


def _object_in(owner: Calculator | ItemType) -> Schema:
    groups = [name for name, (_, group) in getattr(owner, "groups", {}).items() if group.whole]
    required = [name for name, entry in owner.inputs.items() if entry.required and entry.default is NOTHING]
    made: Schema = {
        "type": "object",
        "description": _first_line(owner.type) if isinstance(owner, ItemType) else owner.summary + ".",
        "properties": {name: _property_in(entry) for name, entry in owner.inputs.items()},
        "additionalProperties": False,
    }
    if required:
        made["required"] = required
    if owner.rules:
        made["x-one-of"] = [{"names": list(rule.names), "required": rule.required} for rule in owner.rules]
    if groups:
        made["x-groups"] = {
            name: [entry.name for entry in owner.inputs.values() if entry.group == name] for name in groups
        }
    return made


def _property_in(entry: Input, *, text: bool = False) -> Schema:
    """An input's schema; as a query's text or as JSON."""
    made = {"description": entry.spec.meaning, **_kind_in(entry, text=text)}
    if isinstance(entry.spec, Bounds):
        made |= _bounds(entry.spec)
    if entry.group:
        made["x-group"] = entry.group
    if isinstance(entry.default, Derived):
        made["x-default"] = entry.default.text
    elif entry.default is not NOTHING:
        made["default"] = _as_text(shown(entry, entry.default)) if text else shown(entry, entry.default)
    if isinstance(entry.spec, Choice) and entry.spec.spellings:
        made["x-spellings"] = dict(entry.spec.spellings)
    example = getattr(entry.spec, "example", None)
    if example is not None:
        made["examples"] = [example]
    return made


def _as_text(value: Any) -> Any:
    """A default as a query's text: ``0.02 V``, ``true``."""
    if isinstance(value, dict):
        return f"{value['value']:g} {value['unit']}"
    return str(value).lower() if isinstance(value, bool) else value


def _bounds(spec: Bounds) -> Schema:
    """Bounds as the declaration writes them, since text with a unit has none in JSON schema."""
    pairs = {
        "x-above": spec.above,
        "x-at-least": spec.at_least,
        "x-below": spec.below,
        "x-at-most": spec.at_most,
    }
    return {name: bound for name, bound in pairs.items() if bound is not None}


def _kind_in(entry: Input, *, text: bool) -> Schema:
    spec = entry.spec
    match spec:
        case Quantity():
            name = _pascal(spec.dimension.name)
            if text:
                return {"type": "string", "maxLength": LONGEST_TEXT * (MANY if entry.many else 1), "x-unit": spec.unit}
            return {**_ref(f"{name}{'List' if entry.many else ''}Input"), "x-unit": spec.unit}
        case Items():
            assert entry.item is not None
            if text:
                return {"type": "string"}
            inner: list[Schema] = [_ref(entry.item.type.__name__)]
            if spec.shorthand:
                short = entry.item.inputs[spec.shorthand].spec
                assert isinstance(short, Quantity)
                inner.append(_ref(f"{_pascal(short.dimension.name)}Input"))
            many = {"type": "array", "minItems": 1, "maxItems": MANY, "items": {"anyOf": inner}}
            return {"anyOf": [many, {"type": "string"}]} if spec.shorthand else many
        case Nested():
            assert entry.item is not None
            return {"type": "string"} if text else _ref(entry.item.type.__name__)
        case Count():
            return _number_or_text({"type": "integer"}, spec, NUMBER_TEXT)
        case Rate():
            return _number_or_text({"type": "number"}, spec, RATE_TEXT)
        case Fraction():
            return _number_or_text({"type": "number"}, spec, FRACTION_TEXT)
        case Number():
            return _number_or_text({"type": "number"}, spec, NUMBER_TEXT)
        case Choice():
            return {"type": "string", "enum": list(spec.options)}
        case Flag():
            return {"type": "string", "enum": ["true", "false"]} if text else {"type": "boolean"}
        case Text():
            plain = {"type": "string", "maxLength": spec.longest}
            measured = {"type": "object", "required": ["value", "unit"], "additionalProperties": False}
            measured["properties"] = {"value": {"type": ["number", "string"]}, "unit": {"type": "string"}}
            return {"anyOf": [plain, measured]} if spec.measured and not text else plain
    raise TypeError(f"{type(spec).__name__} has no schema")


def _number_or_text(kind: Schema, spec: Number, pattern: str) -> Schema:
    limits = {
        "exclusiveMinimum": spec.above,
        "minimum": spec.at_least,
        "exclusiveMaximum": spec.below,
        "maximum": spec.at_most,
    }
    bounded = {**kind, **{name: limit for name, limit in limits.items() if limit is not None}}
    return {"anyOf": [bounded, {"type": "string", "pattern": pattern, "maxLength": LONGEST_TEXT}]}


def _object_out(results: Mapping[str, Result], description: str) -> Schema:
    return {
        "type": "object",
        "description": description,
        "required": list(results),
        "properties": {name: _property_out(result) for name, result in results.items()},
    }


def _property_out(result: Result) -> Schema:
    kind = _kind_out(result.spec, result.item)
    if result.many:
        kind = {"type": "array", "items": kind}
    if result.nullable:
        kind = {"anyOf": [kind, {"type": "null"}]}
    made = {"description": result.spec.meaning, **kind}
    if isinstance(result.spec, Quantity):
        made["x-unit"] = result.spec.unit
    if isinstance(result.spec, Quantity | Number) and result.spec.spoken != "near":
        made["x-spoken"] = result.spec.spoken
    return made


def _kind_out(spec: Spec, item: ItemType | None) -> Schema:
    if item is not None:
        return _ref(item.type.__name__)
    match spec:
        case Quantity():
            return _ref(_pascal(spec.dimension.name))
        case Count():
            return {"type": "integer"}
        case Number():
            return {"type": "number"}
        case Flag():
            return {"type": "boolean"}
        case Choice():
            return {"type": "string", "enum": list(spec.options)}
    return {"type": "string"}


def _envelope(calculator: str, name: str) -> Schema:
    text, anything = {"type": "string"}, {"type": "object"}
    properties = {
        "calculator": {**text, "const": calculator},
        "version": text,
        "question": {**anything, "description": "The question as read, in the units of answers."},
        "assumed": {**anything, "description": "Every default that was used."},
        "answer": _ref(f"{name}Results"),
        "accuracy": {"type": "array", "items": _ref("Accuracy"), "description": "How sure results are."},
        "sentence": {**text, "description": "The answer in words fit to be spoken."},
        "cautions": {
            "type": "array",
            "items": _ref("Caution"),
            "description": "Gravest first; of one severity the standing ones last.",
        },
        "sources": {"type": "array", "items": text, "description": "What the method rests on."},
    }
    return {"type": "object", "required": list(properties), "properties": properties}


def _operations(calculator: Calculator, name: str, suffix: str) -> Schema:
    described = {"summary": calculator.summary + ".", "description": calculator.description, "tags": ["calculators"]}
    method = name_of_method(calculator)
    tail = {"": "", ".txt": "_text"}.get(suffix, suffix.replace(".", "_"))
    response = _answer_response(calculator, name, suffix)
    body = {
        "required": True,
        "content": {
            JSON: {
                "schema": _ref(f"{name}Question"),
                "examples": {f"example{n}": {"value": dict(q)} for n, q in enumerate(calculator.examples, 1)},
            }
        },
    }
    prefix = "Spoken" if suffix == ".txt" else "Problem"
    responses = {
        method: {
            "200": response,
            **{str(status): {"$ref": f"#/components/responses/{prefix}{status}"} for status in statuses},
        }
        for method, statuses in ERRORS.items()
    }
    get = {
        **described,
        "operationId": f"get_{method}{tail}",
        "parameters": [_component(calculator, parameter["name"]) for parameter in _parameters(calculator)],
        "responses": responses["get"],
    }
    post = {**described, "operationId": f"{method}{tail}", "requestBody": body, "responses": responses["post"]}
    return {"get": get, "post": post}


def _batch(calculator: Calculator, name: str) -> Schema:
    """Many questions at once."""
    most = calculator.most
    first, *others = calculator.examples
    described = f"Up to {most} questions in one body; more are refused with 413.\n\n{BATCHES}"
    inputs = {"type": "object", "additionalProperties": True}
    questions = {
        "type": "array",
        "maxItems": most,
        "description": f"Each with inputs as in {name}Question, but for those in common.",
        "items": inputs,
    }
    schema = {
        "type": "object",
        "required": ["questions"],
        "properties": {"questions": questions, "common": {**inputs, "description": "Inputs that all share."}},
        "additionalProperties": False,
    }
    example = {"questions": [dict(first), *map(dict, others)]}
    return {
        "operationId": f"{name_of_method(calculator)}_batch",
        "summary": f"{calculator.summary}, for many at once.",
        "description": described,
        "tags": ["calculators"],
        "requestBody": {
            "required": True,
            "content": {
                JSON: {"schema": schema, "examples": {"example1": {"value": example}}},
                "text/csv": {"schema": {"type": "string"}},
            },
        },
        "responses": {
            "200": {
                "description": "An answer or a problem for each question, in order.",
                "content": {JSON: {"schema": _ref(f"{name}Batch")}, "text/csv": {"schema": {"type": "string"}}},
            },
            **{str(status): {"$ref": f"#/components/responses/Problem{status}"} for status in ERRORS["post"]},
        },
    }


def _batch_out(name: str) -> Schema:
    properties = {
        "answer": _ref(f"{name}Results"),
        "assumed": {"type": "object", "description": "Every default that was used."},
        "accuracy": {"type": "array", "items": _ref("Accuracy")},
        "cautions": {"type": "array", "items": _ref("Caution")},
    }
    told = {"type": "object", "required": list(properties), "properties": properties}
    rows = {"type": "array", "items": {"anyOf": [told, _ref("RefusedRow")]}}
    return {"type": "object", "required": ["answers"], "properties": {"answers": rows}}


def name_of_method(calculator: Calculator) -> str:
    """The client's method, which is also the ``operationId`` of the POST."""
    return calculator.name.replace("-", "_")


def _answer_response(calculator: Calculator, name: str, suffix: str) -> Schema:
    if suffix:
        described, media, schema = OTHER_FORMS[suffix]
        if suffix == ".csv":
            heads = ",".join(headed(column, result) for column, result in calculator.columns.items())
            described = f"The curve or table; its first line is `{heads}`."
        return {"description": described, "content": {media: {"schema": schema}}}
    example = answered(calculator, calculator.examples[0]).envelope()
    return {
        "description": "The answer.",
        "content": {JSON: {"schema": _ref(f"{name}Answer"), "example": example}},
    }


def _component(calculator: Calculator, parameter: str) -> str:
    return f"{name_of_method(calculator)}.{parameter.replace('[0]', '.0')}"


def _parameters(calculator: Calculator) -> list[Schema]:
    """An address's parameters; of a list of nested things, those of the first."""
    made = []
    for name, entry in calculator.inputs.items():
        required = entry.required and entry.default is NOTHING
        if entry.item is None:
            made.append(_parameter(name, entry, required, entry.spec.meaning))
            continue
        assert isinstance(entry.spec, Items | Nested)
        short = isinstance(entry.spec, Items) and entry.spec.shorthand
        if short:
            made.append(_parameter(name, entry, False, entry.spec.meaning))
        of, more = (f"{name}[0]", f" The next are {name}[1] and so on.") if entry.many else (name, "")
        for inner, part in entry.item.inputs.items():
            if part.item is None:
                needed = required and not short and part.required and part.default is NOTHING
                said = f"{entry.spec.meaning.rstrip('.')}: {part.spec.meaning}{more}"
                made.append(_parameter(f"{of}.{inner}", part, needed, said))
    return made


def _parameter(name: str, entry: Input, required: bool, meaning: str) -> Schema:
    return {
        "name": name,
        "description": meaning,
        "required": required,
        "schema": _property_in(entry, text=True),
    }


def _service_paths(spec: APISpec) -> None:
    problem = {str(status): {"$ref": f"#/components/responses/Problem{status}"} for status in (405, 406, 414, 431, 500)}
    document: Schema = {JSON: {"schema": {"type": "object"}}}
    for path, operation, summary, description, content, further in (
        (
            "/v1/",
            "calculators",
            "The calculators, their inputs, and the unit names that are read.",
            "Each with its address and an example of a question; unit names by kind of quantity, with that of answers.",
            document,
            OF_THE_SERVER,
        ),
        (
            "/openapi.json",
            "openapi",
            "This document.",
            "OpenAPI 3.1; units, groups, bounds and the way to round a result stand under x-.",
            document,
            OF_THE_SERVER,
        ),
        (
            "/healthz",
            "healthz",
            "Whether the service is alive.",
            "Does no work, so that it may be asked at any time.",
            document,
            (),
        ),
        (
            "/readyz",
            "readyz",
            "Whether the service answers right.",
            "Asks itself a question whose answer is known; 503 where the answer is another, or comes late.",
            document,
            (503,),
        ),
        (
            "/metrics",
            "metrics",
            "Counts for Prometheus.",
            "Replies by address and status, their times, workers and their memory: of all workers together.",
            {TEXT: {"schema": {"type": "string"}}},
            OF_THE_SERVER,
        ),
        (
            "/version",
            "version",
            "The version of the service.",
            "The same that stands in every answer.",
            document,
            OF_THE_SERVER,
        ),
    ):
        answered = {"description": summary, "content": content}
        more = {str(status): {"$ref": f"#/components/responses/Problem{status}"} for status in further}
        get = {
            "operationId": operation,
            "summary": summary,
            "description": description,
            "tags": ["service"],
            "responses": dict(sorted({"200": answered, **problem, **more}.items())),
        }
        spec.path(path=path, operations={"get": get})


def index(calculators: Mapping[str, Calculator]) -> dict[str, Any]:
    """The calculators and the accepted unit names, as ``/v1/`` gives them."""
    return {
        "version": service_version(),
        "calculators": [
            {
                "name": calculator.name,
                "address": f"/v1/{calculator.name}",
                "summary": calculator.summary + ".",
                "inputs": list(calculator.inputs),
                "results": list(calculator.results),
                "example": dict(calculator.examples[0]),
            }
            for calculator in calculators.values()
        ],
        "units": {
            dimension.name: {"answers": dimension.unit, "read": sorted(dimension.scales)}
            for dimension in DIMENSIONS.values()
        },
    }

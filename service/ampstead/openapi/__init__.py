"""Declarations turned into the OpenAPI 3.1 document. Units stand in ``x-unit``; each quantity is declared once.

What several operations share is a component, and what no operation leads to is left out, so that the document stays
small as calculators come.
"""

import json
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Any

from ampstead.declare import Calculator, Group, Input, ItemType, Result, group_inputs
from ampstead.openapi import beyond, inputs, operations, outputs
from ampstead.openapi.common import Schema, first_line, pascal, ref
from ampstead.replying.answers import service_version
from ampstead.replying.beyond.overview import FACTS
from ampstead.units import DIMENSIONS

ANSWERED_WITHIN, BATCH_ANSWERED_WITHIN = 5.0, 15.0
"""Seconds from a question, or from many at once, to the end of any work on it."""

DESCRIPTION = f"""Calculators for a model flier's battery packs. Each takes a question (named inputs) and gives an
answer (named results) with what was assumed, how sure it is, the cautions that apply and where its method comes from.

Quantities carry their unit both ways: write `2250 mAh`, or `{{"value": 2250, "unit": "mAh"}}`; a bare number is
refused. An input of null or of empty text counts as not given; the body's schema says what is taken instead, and
tells the bounds of each. Nested inputs have an address too: `packs[0].cells=4`,
the next pack's `packs[1].cells=3`, and so on; `/docs` has an address to try for each calculator.
The work can hurt people: the papers of the pack and of the charger, and local rules, go before any answer here.

An answer takes {ANSWERED_WITHIN:.0f} seconds at most, and {BATCH_ANSWERED_WITHIN:.0f} where many questions come at
once: then its work is ended, and status 503 says so. 503 and 429 name the seconds to wait in `Retry-After`. Where the
operator has set keys, a request carries one as `Authorization: Bearer <key>`, but for `/healthz` and `/readyz`. The
`X-Request-ID` of a reply is the one that came with the request, where it is of up to 64 letters, digits and
`._:/+=@-`, or else a new one.

Everything under `/v1/` only grows: names, units and meanings stay, and inputs that come are optional. What is to go one
day says so a year before in the headers `Deprecation` (RFC 9745) and `Sunset` (RFC 8594), and has its follower.

Many questions at once go to `/batch`, each answered or refused by itself. As JSON, `common` holds what all share; a
question's own inputs win. As `text/csv`, the first line names the inputs, as `capacity` or `capacity [mAh]`; lists
are separated by spaces; the table comes back with results (`answer.…`), cautions and problems. A batch that takes too
long puts its last rows off with status 503."""
TAGS = {
    "at the field": "Between flights.",
    "at the bench": "Before and while packs are charged.",
    "back home": "After the day: what the packs have become, and how they are kept.",
    "before the next outing": "What to bring, and how to set it.",
    operations.FOR_ALL: "What is asked of every calculator alike.",
    "service": "The service itself.",
}


def document(calculators: Mapping[str, Calculator]) -> dict[str, Any]:
    """The whole OpenAPI document of some calculators."""
    named = _named_parameters(calculators)
    components: dict[str, dict[str, Schema]] = {
        "responses": operations.responses(),
        "schemas": inputs.TEXTS
        | inputs.quantities()
        | outputs.quantities()
        | outputs.shared()
        | {"Inputs": outputs.inputs_told(calculators.values())},
        "parameters": _parameter_components(named),
    }
    paths: dict[str, Any] = {}
    givens = inputs.Givens()
    for calculator in calculators.values():
        _calculator(paths, components, calculator, named[calculator.name], givens)
    components["schemas"] |= beyond.schemas(givens)
    paths |= beyond.paths(calculators, [ref(key, "parameters") for key in named["overview"]])
    components["schemas"] = _in_order(components["schemas"]) | _in_order(givens.schemas)
    made: dict[str, Any] = {
        "openapi": "3.1.0",
        "info": {
            "title": "Ampstead",
            "version": service_version(),
            "description": DESCRIPTION,
            "license": {"name": "MIT", "identifier": "MIT"},
        },
        "servers": [{"url": "/"}],
        "tags": [{"name": name, "description": described} for name, described in TAGS.items()],
        "components": components,
        "paths": paths | operations.for_all(calculators.values()) | operations.service_paths(),
    }
    _drop_unused(made)
    return _with_single_ones_in_place(made)


def occasion(calculator: Calculator) -> str:
    """When a calculator is asked, which is the tag that it goes under."""
    return calculator.when.moment


def _calculator(
    paths: dict[str, Any],
    components: Mapping[str, dict[str, Schema]],
    calculator: Calculator,
    parameters: Mapping[str, Schema],
    givens: inputs.Givens,
) -> None:
    for schema, made in _schemas(calculator, givens):
        components["schemas"].setdefault(schema, made)
    named = [ref(key, "parameters") for key in parameters]
    paths[f"/v1/{calculator.name}"] = operations.operations(calculator, named, occasion(calculator))


def _schemas(calculator: Calculator, givens: inputs.Givens) -> Iterator[tuple[str, Schema]]:
    entries: list[Input | Result] = [*calculator.inputs.values(), *calculator.results.values()]
    for entry in entries:
        if entry.item:
            owner = entry.item.type
            told = outputs.results(entry.item.results, first_line(owner))
            yield owner.__name__, inputs.question(entry.item, givens) if isinstance(entry, Input) else told
    for group, (owner, taken) in calculator.groups.items():
        if taken.whole:
            fields = group_inputs(group, owner, Group(name=group)).items()
            properties = {name: givens.ref(entry) for name, entry in fields}
            yield pascal(group), {"type": "object", "description": first_line(owner), "properties": properties}
    name = pascal(calculator.name)
    yield f"{name}Question", inputs.question(calculator, givens)
    yield f"{name}Results", outputs.results(calculator.results)
    yield f"{name}Answer", outputs.answer(calculator.name)


def _named_parameters(calculators: Mapping[str, Calculator]) -> dict[str, dict[str, Schema]]:
    """Each calculator's parameters under the names of their components: one component for all that are alike."""
    known: dict[str, list[Schema]] = {}
    named: dict[str, dict[str, Schema]] = {}
    owners: dict[str, Calculator | ItemType] = {**calculators, "overview": FACTS}
    for name, owner in owners.items():
        own = named.setdefault(name, {})
        for parameter in inputs.parameters(owner, brief=True):
            plain = parameter["name"].replace("[0]", ".0")
            alike = known.setdefault(plain, [])
            if parameter not in alike:
                alike.append(parameter)
            number = alike.index(parameter)
            own[f"{plain}-{number + 1}" if number else plain] = parameter
    return named


def _parameter_components(named: Mapping[str, Mapping[str, Schema]]) -> dict[str, Schema]:
    """The parameters against the order of the inputs of bodies before them: compression then finds the same words."""
    made = {key: parameter for own in named.values() for key, parameter in own.items()}
    return dict(sorted(made.items(), key=lambda entry: _word(entry[0].rpartition(".")[2]), reverse=True))


KINDS = ("Results", "Answer", "Question")
"""Schemas of one kind stand together, and inputs by name: compression looks back 32 kB for the same words."""


def _in_order(schemas: Mapping[str, Schema]) -> dict[str, Schema]:
    def place(name: str) -> tuple[int, str]:
        if name.startswith("Given"):
            return len(KINDS), _word(name)
        return next((n for n, kind in enumerate(KINDS) if name.endswith(kind)), -1), ""

    return dict(sorted(schemas.items(), key=lambda entry: place(entry[0])))


def _word(name: str) -> str:
    return name.replace("_", "").lower()


_REFERENCE = re.compile(r'"\$ref": "#/components/([^/"]+)/([^/"]+)"')


def _drop_unused(made: dict[str, Any]) -> None:
    """Leaves out the components that no operation leads to, but for the groups that questions name."""
    components = made["components"]
    found: set[tuple[str, str]] = set()
    leads = [json.dumps(made["paths"])]
    while leads:
        for kind, name in _REFERENCE.findall(leads.pop()):
            if (kind, name) not in found:
                found.add((kind, name))
                entry = components[kind][name]
                leads.append(json.dumps(entry))
                leads += [f'"$ref": "#/components/schemas/{pascal(group)}"' for group in entry.get("x-groups", ())]
    for kind, entries in components.items():
        components[kind] = {name: entry for name, entry in entries.items() if (kind, name) in found}


def _with_single_ones_in_place(made: dict[str, Any]) -> dict[str, Any]:
    """A document with each input and parameter that is asked for once written where it is asked for."""
    components = made["components"]
    times = Counter(_REFERENCE.findall(json.dumps(made)))
    single = {
        f"#/components/{kind}/{name}": components[kind].pop(name)
        for (kind, name), count in times.items()
        if count == 1 and (kind == "parameters" or name.startswith("Given"))
    }

    def placed(node: Any) -> Any:
        if isinstance(node, list):
            return [placed(entry) for entry in node]
        if not isinstance(node, dict):
            return node
        whole = single.get(node["$ref"], node) if isinstance(node.get("$ref"), str) else node
        return {name: placed(entry) for name, entry in whole.items()}

    found: dict[str, Any] = placed(made)
    return found


def index(calculators: Mapping[str, Calculator]) -> dict[str, Any]:
    """The calculators and the accepted unit names, as ``/v1/`` gives them."""
    return {
        "version": service_version(),
        "calculators": [
            {
                "name": calculator.name,
                "address": f"/v1/{calculator.name}",
                "summary": calculator.summary + ".",
                "asked": calculator.asked,
                "when": calculator.when.moment,
                "inputs": list(calculator.inputs),
                "results": list(calculator.results),
                "example": dict(calculator.examples[0]),
            }
            for calculator in calculators.values()
        ],
        "units": {
            dimension.name: {"answers": dimension.unit, "read": dimension.read} for dimension in DIMENSIONS.values()
        },
    }

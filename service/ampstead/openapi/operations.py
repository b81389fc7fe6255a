"""The addresses of the document: a calculator's in every form, its batch, and the service's own."""

import re
from collections.abc import Mapping
from typing import Any

from ampstead.declare import Calculator
from ampstead.errors import TITLES
from ampstead.openapi.common import TEXT, Schema, pascal, ref
from ampstead.replying.answers import answered
from ampstead.replying.writers import headed

JSON, PROBLEM, PLAIN, CSV = "application/json", "application/problem+json", "text/plain", "text/csv"
FORMS: Mapping[str, tuple[str, str, Schema]] = {
    "txt": ("text", PLAIN, TEXT),
    "csv": ("CSV", CSV, TEXT),
    "svg": ("SVG", "image/svg+xml", TEXT),
    "png": ("PNG", "image/png", {}),
}
"""The forms beside JSON: how a summary calls them, their media type and its schema."""
EQUATION = re.compile(r"\w+ +=")
SHORT = 160
"""Letters of a description of two sentences."""
SHORTEST_SENTENCE = 4
"""Blanks; a shorter one that leads to an equation says nothing without it."""
OF_THE_SERVER = (401, 408, 429, 503)
"""Errors that stand before a question: keys, limits, ends to waiting."""
_ALL = (400, 406, 414, 422, 431, 500, *OF_THE_SERVER)
ERRORS = {"get": _ALL, "post": (*_ALL, 413, 415), "service": (406, 414, 431, 500)}
"""What may come of an operation; at other addresses there is 404, and 405 for other methods."""


def responses() -> dict[str, Schema]:
    """The responses that all calculators share: every error, as JSON and in words, and the forms beside JSON."""
    made: dict[str, Schema] = {}
    for status, (_, title) in TITLES.items():
        document = {PROBLEM: {"schema": ref("Problem")}}
        made[f"{status}"] = {"description": f"{title}.", "content": document}
        made[f"{status}.any"] = {"description": f"{title}.", "content": {**document, PLAIN: {"schema": TEXT}}}
    return made


def own_responses(calculator: Calculator) -> dict[str, Schema]:
    """The responses of one calculator: its answer with an example, its table."""
    name = pascal(calculator.name)
    example = answered(calculator, calculator.examples[0]).envelope()
    answer = {"description": "The answer.", "content": {JSON: {"schema": ref(f"{name}Answer"), "example": example}}}
    forms = {FORMS[form][1]: {"schema": FORMS[form][2]} for form in forms_of(calculator)}
    described = "One or two plain sentences, then the gravest caution"
    if calculator.curve:
        heads = ",".join(headed(column, result) for column, result in calculator.columns.items())
        described += f"; the curve or table, whose first line is `{heads}`"
    else:
        described += "; the results as a table of one row, headed as in a batch"
    if ".svg" in calculator.forms:
        described += "; the picture, which as SVG follows the reader's dark or light"
    return {f"{name}Answer": answer, f"{name}Form": {"description": f"{described}.", "content": forms}}


def forms_of(calculator: Calculator) -> list[str]:
    """The forms in which a calculator answers, beside JSON."""
    return ["txt", *(suffix[1:] for suffix in calculator.forms)]


def body(calculator: Calculator) -> Schema:
    """The body of a question, with every example."""
    examples = {f"example{n}": {"value": dict(example)} for n, example in enumerate(calculator.examples, 1)}
    return {
        "required": True,
        "content": {JSON: {"schema": ref(f"{pascal(calculator.name)}Question"), "examples": examples}},
    }


def batch_body(most: int) -> Schema:
    """The body of at most so many questions. That of a table stands in words alone: generators read none of text."""
    inputs = {"type": "object", "additionalProperties": True}
    questions = {
        "type": "array",
        "maxItems": most,
        "description": "Each with the calculator's inputs, but for those in common.",
        "items": inputs,
    }
    schema = {
        "type": "object",
        "required": ["questions"],
        "properties": {"questions": questions, "common": {**inputs, "description": "Inputs that all share."}},
        "additionalProperties": False,
    }
    return {"required": True, "content": {JSON: {"schema": schema}}}


def operations(calculator: Calculator, parameters: list[Schema], tag: str) -> dict[str, Schema]:
    """How a calculator is asked for an answer as JSON."""
    name, method = pascal(calculator.name), name_of_method(calculator)
    described = {"summary": f"{calculator.summary}.", "tags": [tag]}
    get = {
        **described,
        "operationId": f"get_{method}",
        "parameters": parameters,
        "responses": outcomes(ref(f"{name}Answer", "responses"), ERRORS["get"]),
    }
    post = {
        **described,
        "description": _in_short(calculator.description),
        "operationId": method,
        "requestBody": ref(name, "requestBodies"),
        "responses": outcomes(ref(f"{name}Answer", "responses"), ERRORS["post"]),
    }
    return {"get": get, "post": post}


def _in_short(description: str) -> str:
    """The first paragraph of words, in one or two whole sentences; ``/docs`` has the rest, and the equations."""
    for paragraph in description.split("\n\n"):
        sentences = re.split(r"(?<=\.) (?=[A-Z])", " ".join(paragraph.split()))
        told = [sentence for sentence in sentences if sentence[:1].isupper() and not EQUATION.match(sentence)]
        if not told or paragraph.startswith(" "):
            continue
        last = told[-1]
        if len(told) > 1 and last[-1] != "." and (last[-1].isalpha() or last.count(" ") < SHORTEST_SENTENCE):
            told.pop()
        first, *others = (sentence.rstrip(".:,") + "." for sentence in told)
        return " ".join([first, *(other for other in others[:1] if len(first) + len(other) < SHORT)])
    return description


def in_a_form(calculator: Calculator, parameters: list[Schema], tag: str) -> dict[str, Any]:
    """How a calculator is asked for its sentence, its table or its picture, by one path of which the form is a part."""
    name, method = pascal(calculator.name), name_of_method(calculator)
    forms = forms_of(calculator)
    words = [FORMS[form][0] for form in forms]
    ending = f"{', '.join(words[:-1])} or {words[-1]}" if len(words) > 1 else words[0]
    described = {"summary": f"{calculator.summary}, as {ending}.", "tags": [tag]}
    success = ref(f"{name}Form", "responses")
    form = {"name": "form", "in": "path", "required": True, "schema": {**TEXT, "enum": forms}}
    get = {
        **described,
        "operationId": f"get_{method}_form",
        "parameters": parameters,
        "responses": outcomes(success, (*ERRORS["get"], 404), ".any"),
    }
    post = {
        **described,
        "operationId": f"{method}_form",
        "requestBody": ref(name, "requestBodies"),
        "responses": outcomes(success, (*ERRORS["post"], 404), ".any"),
    }
    return {"parameters": [form], "get": get, "post": post}


def batch(calculator: Calculator, tag: str) -> Schema:
    """How a calculator is asked many questions at once."""
    name = pascal(calculator.name)
    answers = {
        "description": "An answer or a problem for each question, in order.",
        "content": {JSON: {"schema": ref(f"{name}Batch")}, CSV: {"schema": TEXT}},
    }
    return {
        "operationId": f"{name_of_method(calculator)}_batch",
        "summary": f"{calculator.summary}, for many at once.",
        "description": f"Up to {calculator.most} questions in one body; more are refused with 413. "
        f"The same address takes them as a table ({CSV}), a row each.",
        "tags": [tag],
        "requestBody": ref(f"Batch{calculator.most}", "requestBodies"),
        "responses": outcomes(answers, ERRORS["post"]),
    }


def outcomes(success: Schema, errors: tuple[int, ...], ending: str = "") -> Schema:
    """What may come of an operation; `ending` is that of errors' names where they come in words too."""
    return {"200": success, **{str(status): ref(f"{status}{ending}", "responses") for status in sorted(errors)}}


def name_of_method(calculator: Calculator) -> str:
    """The client's method, which is also the ``operationId`` of the POST."""
    return calculator.name.replace("-", "_")


def service_paths() -> dict[str, dict[str, Any]]:
    """The addresses that are no calculator's."""
    made = {}
    anything: Schema = {JSON: {"schema": {"type": "object", "additionalProperties": True}}}
    for path, operation, summary, description, content, further in (
        (
            "/v1/",
            "calculators",
            "The calculators, their inputs, and the unit names that are read.",
            "Each with its address and an example of a question; unit names by kind of quantity, with that of answers.",
            anything,
            OF_THE_SERVER,
        ),
        (
            "/openapi.json",
            "openapi",
            "This document.",
            "OpenAPI 3.1; units, groups, bounds and the way to round a result stand under x-.",
            anything,
            OF_THE_SERVER,
        ),
        (
            "/healthz",
            "healthz",
            "Whether the service is alive.",
            "Does no work, so that it may be asked at any time.",
            anything,
            (),
        ),
        (
            "/readyz",
            "readyz",
            "Whether the service answers right.",
            "Asks itself a question whose answer is known; 503 where the answer is another, or comes late.",
            anything,
            (503,),
        ),
        (
            "/metrics",
            "metrics",
            "Counts for Prometheus.",
            "Replies by address and status, their times, workers and their memory: of all workers together.",
            {PLAIN: {"schema": TEXT}},
            OF_THE_SERVER,
        ),
        (
            "/version",
            "version",
            "The version of the service.",
            "The same that stands in every answer.",
            anything,
            OF_THE_SERVER,
        ),
    ):
        get = {
            "operationId": operation,
            "summary": summary,
            "description": description,
            "tags": ["service"],
            "responses": outcomes({"description": summary, "content": content}, (*ERRORS["service"], *further)),
        }
        made[path] = {"get": get}
    return made

"""The addresses of the document: each calculator's, those of all calculators alike, and the service's own."""

import re
from collections.abc import Iterable, Mapping
from inspect import signature
from typing import Any

from ampstead.declare import Calculator, Choice
from ampstead.errors import TITLES
from ampstead.openapi.common import TEXT, Schema, pascal, ref
from ampstead.reading.sheets import MOST_COLUMNS
from ampstead.replying.batch import MOST_VALUES
from ampstead.replying.writers import headed

JSON, PROBLEM, PLAIN, CSV = "application/json", "application/problem+json", "text/plain", "text/csv"
FORMS: Mapping[str, tuple[str, str, Schema]] = {
    "txt": ("text", PLAIN, TEXT),
    "csv": ("CSV", CSV, TEXT),
    "svg": ("SVG", "image/svg+xml", TEXT),
    "png": ("PNG", "image/png", {}),
}
"""The forms beside JSON: how a summary calls them, their media type and its schema."""
FOR_ALL = "every calculator"
"""The tag of what is asked of every calculator alike."""
INPUTS: Schema = {"type": "object", "additionalProperties": True}
EQUATION = re.compile(r"\w+ +=")
SHORT = 160
"""Letters of a description of two sentences."""
SHORTEST_SENTENCE = 4
"""Blanks; a shorter one that leads to an equation says nothing without it."""
OF_THE_SERVER = (401, 408, 429, 503)
"""Errors that stand before a question: keys, limits, ends to waiting."""
OF_A_QUESTION = (*OF_THE_SERVER, 422)
OF_MANY = (*OF_A_QUESTION, 404)
"""Where the calculator is a part of the address, which has not each form, nor a batch of each."""
OTHERS = "default"
"""What stands for all other errors, in the one shape of all. Not 4XX and 5XX, which some generators write into code."""


def responses() -> dict[str, Schema]:
    """The responses that all calculators share: errors, as JSON and in words."""
    made: dict[str, Schema] = {}
    told = {f"{status}": f"{TITLES[status][1]}." for status in OF_MANY}
    told[OTHERS] = f"Another error: {', '.join(f'{status} {title}' for status, (_, title) in TITLES.items())}."
    for status, described in told.items():
        document = {PROBLEM: {"schema": ref("Problem")}}
        made[status] = {"description": described, "content": document}
        made[f"{status}.any"] = {"description": described, "content": {**document, PLAIN: {"schema": TEXT}}}
    return made


def answer(calculator: Calculator) -> Schema:
    """The response that is a calculator's answer."""
    return {"description": "The answer.", "content": {JSON: {"schema": ref(f"{pascal(calculator.name)}Answer")}}}


def forms_of(calculator: Calculator) -> list[str]:
    """The forms in which a calculator answers, beside JSON."""
    return ["txt", *(suffix[1:] for suffix in calculator.forms)]


def heads(calculator: Calculator) -> str:
    """The first line of a calculator's curve or table; empty where it has none."""
    told = calculator.columns.items() if calculator.curve else ()
    return ",".join(headed(column, result) for column, result in told)


def body(calculator: Calculator) -> Schema:
    """The body of a question, with every example."""
    examples = {f"example{n}": {"value": dict(example)} for n, example in enumerate(calculator.examples, 1)}
    return {
        "required": True,
        "content": {JSON: {"schema": ref(f"{pascal(calculator.name)}Question"), "examples": examples}},
    }


def operations(calculator: Calculator, parameters: list[Schema], tag: str) -> dict[str, Schema]:
    """How a calculator is asked for an answer as JSON."""
    method = name_of_method(calculator)
    described = {"summary": f"{calculator.summary}.", "tags": [tag]}
    replies = outcomes(answer(calculator), OF_A_QUESTION)
    get = {
        **described,
        "operationId": f"get_{method}",
        "parameters": parameters,
        "responses": replies,
    }
    post = {
        **described,
        "description": f"{_in_short(calculator.description)}{_but(calculator)} {_also(calculator)}",
        "operationId": method,
        "requestBody": body(calculator),
        "responses": replies,
        "x-forms": forms_of(calculator),
        **({"x-most-rows": calculator.most} if calculator.most else {}),
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


def _also(calculator: Calculator) -> str:
    """In which forms a calculator answers besides, and how many questions at once."""
    forms = ", ".join(f"`.{form}`" for form in forms_of(calculator))
    table = f"; the table's first line is `{heads(calculator)}`" if calculator.curve else ""
    many = " Many at once by `/batch`." if calculator.most else ""
    return f"Also as {forms}{table}.{many}"


def _but(calculator: Calculator) -> str:
    """Which kinds of cell a calculator has no answer for."""
    entry = calculator.inputs.get("chemistry")
    if entry is None or not isinstance(entry.spec, Choice):
        return ""
    alone = [check for check in calculator.checks if list(signature(check).parameters) == ["chemistry"]]
    refused = [f"`{kind}`" for kind in entry.spec.options if any(list(check(chemistry=kind)) for check in alone)]
    return f" Refused as `unsupported`: {', '.join(refused)}." if refused else ""


def for_all(calculators: Iterable[Calculator]) -> dict[str, dict[str, Any]]:
    """The addresses that every calculator has besides: its other forms, and its batch. They are told once for all."""
    several = list(calculators)
    batched = [calculator for calculator in several if calculator.most]
    made = {"/v1/{calculator}.{form}": in_a_form(several)}
    return made | ({"/v1/{calculator}/batch": batch(batched)} if batched else {})


def in_a_form(calculators: list[Calculator]) -> dict[str, Any]:
    """How a calculator is asked for its sentence, its table or its picture."""
    forms = [form for form in FORMS if any(form in forms_of(each) for each in calculators)]
    content = {FORMS[form][1]: {"schema": FORMS[form][2]} for form in forms}
    success = {
        "description": "As text one or two plain sentences, then the gravest caution; as CSV the curve or table, or "
        "else the results as one row, headed as in a batch; the picture, which as SVG follows the reader's dark or "
        "light.",
        "content": content,
    }
    words = [FORMS[form][0] for form in forms]
    ending = f"{', '.join(words[:-1])} or {words[-1]}" if len(words) > 1 else words[0]
    described = {"summary": f"An answer as {ending}.", "tags": [FOR_ALL]}
    question = {
        "name": "question",
        "in": "query",
        "description": "The inputs of `/v1/{calculator}`, each under its own name.",
        "style": "form",
        "explode": True,
        "schema": {"type": "object", "additionalProperties": TEXT},
    }
    replies = outcomes(success, OF_MANY, ".any")
    get = {**described, "operationId": "get_form", "parameters": [question], "responses": replies}
    post = {
        **described,
        "description": "Takes the inputs of `/v1/{calculator}`, which tells the forms that there are of it.",
        "operationId": "form",
        "requestBody": {"required": True, "content": {JSON: {"schema": INPUTS}}},
        "responses": replies,
    }
    return {"parameters": [_which(calculators), _part("form", forms)], "get": get, "post": post}


def batch(calculators: list[Calculator]) -> dict[str, Any]:
    """How a calculator is asked many questions at once.

    That of a table stands in words alone: a generator that knows no tables leaves out the whole operation.
    """
    most = max(each.most for each in calculators)
    fewer = sorted({each.most for each in calculators} - {most}, reverse=True)
    limits = [f"{bound} of {', '.join(each.name for each in calculators if each.most == bound)}" for bound in fewer]
    questions = {
        "type": "array",
        "maxItems": most,
        "description": "Each with the calculator's inputs, but for those in common.",
        "items": INPUTS,
    }
    schema = {
        "type": "object",
        "required": ["questions"],
        "properties": {"questions": questions, "common": {**INPUTS, "description": "Inputs that all share."}},
        "additionalProperties": False,
    }
    answers = {
        "description": "An answer or a problem for each question, in order.",
        "content": {JSON: {"schema": ref("Batch")}, CSV: {"schema": TEXT}},
    }
    post = {
        "operationId": "batch",
        "summary": "Answers to many questions at once.",
        "description": f"Takes the inputs of `/v1/{{calculator}}`, up to {'; '.join([f'{most} questions', *limits])}; "
        f"more are refused with 413, as are more than {MOST_VALUES:,} values in all, or {MOST_COLUMNS:,} in one "
        f"question. The same address takes them as a table ({CSV}), a row each.",
        "tags": [FOR_ALL],
        "requestBody": {"required": True, "content": {JSON: {"schema": schema}}},
        "responses": outcomes(answers, OF_MANY),
    }
    return {"parameters": [_which(calculators)], "post": post}


def _which(calculators: list[Calculator]) -> Schema:
    return _part("calculator", [calculator.name for calculator in calculators])


def _part(name: str, options: list[str]) -> Schema:
    return {"name": name, "in": "path", "required": True, "schema": {**TEXT, "enum": options}}


def outcomes(success: Schema, errors: tuple[int, ...], ending: str = "") -> Schema:
    """What may come of an operation; `ending` is that of errors' names where they come in words too."""
    told = [*map(str, sorted(errors)), OTHERS]
    return {"200": success, **{status: ref(f"{status}{ending}", "responses") for status in told}}


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
            "responses": outcomes({"description": summary, "content": content}, further),
        }
        made[path] = {"get": get}
    return made

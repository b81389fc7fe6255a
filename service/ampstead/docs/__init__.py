"""The reference for developers: a page made from the document and from what each calculator says of its method.

Everything stands in the page itself, so that it is read without scripts and without a network; the script only asks
the questions of its forms in place.
"""

import json
import re
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any
from urllib.parse import quote

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup, escape

from ampstead.declare import Calculator
from ampstead.errors import CODES, TITLES
from ampstead.openapi import inputs
from ampstead.openapi.common import addressed

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self' data: blob:; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
"""The content security policy of the page: nothing but its own files and the service."""
FILES: Mapping[str, str] = {"reference.js": "text/javascript", "reference.css": "text/css"}
"""What the page loads, and as what."""


@cache
def part(name: str) -> str:
    """A file of this room as text."""
    return files(__package__).joinpath(name).read_text(encoding="utf-8")


def page(document: Mapping[str, Any], calculators: Mapping[str, Calculator]) -> str:
    """The page for a document and the calculators it is of."""
    paper = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    sections = [_section(document, calculator) for calculator in calculators.values()]
    occasions = [
        (tag, own)
        for tag in document["tags"]
        if (own := [section for section in sections if section["when"] == tag["name"]])
    ]
    return paper.from_string(part("reference.html")).render(
        version=document["info"]["version"],
        told=[_marked(paragraph) for paragraph in document["info"]["description"].split("\n\n")],
        occasions=occasions,
        statuses=[(status, title) for status, (_, title) in TITLES.items()],
        codes=CODES,
        service=[
            (path, item["get"]["summary"], item["get"]["description"])
            for path, item in document["paths"].items()
            if item.get("get", {}).get("tags") == ["service"]
        ],
    )


def _marked(paragraph: str) -> Markup:
    """A paragraph with what stands between backticks as code."""
    return Markup(re.sub(r"`([^`]+)`", r"<code>\1</code>", str(escape(paragraph))))


def _section(document: Mapping[str, Any], calculator: Calculator) -> dict[str, Any]:
    operation = document["paths"][f"/v1/{calculator.name}"]["get"]
    example = dict(calculator.examples[0])
    asked = addressed(example)
    parameters = inputs.parameters(calculator)
    named = {parameter["name"]: parameter for parameter in parameters}
    further = [
        {**named[first], "name": name, "description": ""}
        for name in asked
        if name not in named and (first := re.sub(r"\[[0-9]+\]", "[0]", name)) in named
    ]
    fields = [_input(parameter, asked) for parameter in (*parameters, *further)]
    arguments = ", ".join(f"{name}={value!r}" for name, value in example.items())
    return {
        "name": calculator.name,
        "summary": operation["summary"],
        "when": operation["tags"][0],
        "first": [each for each in fields if each["needed"] or each["value"]],
        "more": [each for each in fields if not each["needed"] and not each["value"]],
        "rules": calculator.rules,
        "results": [
            (name, result.spec.meaning, getattr(result.spec, "unit", ""), result.nullable)
            for name, result in calculator.results.items()
        ],
        "many": calculator.most > 0,
        "forms": [suffix[1:] for suffix in (".txt", *calculator.forms)],
        "method": f"{calculator.description}\n",
        "sources": calculator.sources,
        "query": "&".join(f"{name}={quote(value, safe=',')}" for name, value in asked.items()),
        "body": json.dumps(example, ensure_ascii=False),
        "python": f"client.{calculator.name.replace('-', '_')}({arguments})",
    }


def _input(parameter: Mapping[str, Any], asked: Mapping[str, str]) -> dict[str, Any]:
    schema = parameter["schema"]
    return {
        "name": parameter["name"],
        "needed": parameter["required"],
        "told": parameter["description"],
        "options": schema.get("enum") or (["true", "false"] if schema.get("type") == "boolean" else []),
        "default": schema.get("x-default", ""),
        "value": asked.get(parameter["name"], ""),
    }

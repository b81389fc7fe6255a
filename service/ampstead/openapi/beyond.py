"""The addresses beyond single answers, as the document tells them."""

from collections.abc import Mapping

from ampstead.declare import Calculator
from ampstead.openapi import inputs
from ampstead.openapi.common import TEXT, Schema, ref
from ampstead.openapi.operations import JSON, OF_A_QUESTION, OF_MANY, PLAIN, outcomes
from ampstead.replying.beyond.overview import FACTS

TAG = "at the field"
EXAMPLE = {
    "cells": 3,
    "capacity": "2250 mAh",
    "cell_resistance": "8.5 mΩ",
    "rest_voltage": "11.31 V",
    "temperature": "13 °C",
    "typical_current": "14 A",
}
SUMMARY = "All that can be said of one pack"
DESCRIBED = (
    "Every calculator whose inputs the facts hold is asked, in the order of a flier's day. No two answers disagree on "
    "charging, flying or retiring the pack: where one says no, those that say yes are left out. Unanswered are those "
    "that lack facts, by the names of these, or that cannot answer, with why."
)
_LOGICAL: Schema = {"type": ["boolean", "null"]}


def schemas(givens: inputs.Givens) -> Mapping[str, Schema]:
    """The schemas that these addresses need."""
    verdict = {
        "type": "object",
        "description": "Null where nothing tells.",
        "required": ["charge", "fly", "retire"],
        "properties": {
            "charge": {**_LOGICAL, "description": "Whether it may be charged now."},
            "fly": {**_LOGICAL, "description": "Whether it may be flown: as it is, or else once it is charged."},
            "retire": {**_LOGICAL, "description": "Whether it is to be retired."},
        },
    }
    told = {
        "version": TEXT,
        "question": ref("Inputs"),
        "verdict": verdict,
        "sentence": {**TEXT, "description": "The gravest first."},
        "cautions": ref("Cautions"),
        "answers": {
            "type": "object",
            "description": "By calculator, as it answers alone.",
            "additionalProperties": ref("Envelope"),
        },
        "unanswered": {
            "type": "object",
            "description": "By calculator: the facts that are missing, or why it cannot answer.",
            "additionalProperties": {"type": "array", "items": TEXT},
        },
    }
    either: Schema = {"description": "In the form of the input or the result; null where there is none."}
    found = {
        "calculator": TEXT,
        "version": TEXT,
        "result": TEXT,
        "input": TEXT,
        "target": either,
        "value": {"description": "The value that does, or null where nothing in range does."},
        "bound": {
            "type": ["string", "null"],
            "enum": ["at least", "at most", "exactly", "any", None],
            "description": "Whether it is the smallest or the largest that does, comes to the target just there, or "
            "any value does.",
        },
        "until": {"description": "The largest that still does, above the smallest; null where there is no such end."},
        "range": {"type": "object", "description": "What was gone through, from low to high."},
        "reached": {"type": "object", "description": "Least and most that a number comes to on the way."},
        "questions": {"type": "integer", "description": "How many were asked."},
        "sentence": TEXT,
        "forward": {"anyOf": [ref("Envelope"), {"type": "null"}], "description": "The answer at the value."},
    }
    row: Schema = {
        "type": "object",
        "required": ["input", "from", "to", "low", "high"],
        "properties": {
            "input": TEXT,
            "taken": {"description": "What was assumed."},
            "from": {"description": "The least that it may plausibly be."},
            "to": {"description": "The most."},
            "low": {"description": "The least that the result comes to over that; of words, what it is at the first."},
            "high": {"description": "The most; of words, what it is at the last."},
            "source": {**TEXT, "description": "Where that range comes from."},
        },
    }
    doubted = {
        "calculator": TEXT,
        "version": TEXT,
        "result": TEXT,
        "value": either,
        "doubts": {"type": "array", "items": row},
        "unasked": {
            "type": "array",
            "items": TEXT,
            "description": "Assumed inputs for which there was no time: of many packs, those that move the least.",
        },
        "sentence": TEXT,
    }
    return {
        "DoubtAnswer": {"type": "object", "required": list(doubted), "properties": doubted},
        "NeededAnswer": {"type": "object", "required": list(found), "properties": found},
        "OverviewQuestion": inputs.question(FACTS, givens),
        "OverviewAnswer": {"type": "object", "required": list(told), "properties": told},
    }


WORD = {"type": "string", "maxLength": 60}
ABOUT: Mapping[str, tuple[str, str, Mapping[str, tuple[bool, str]]]] = {
    "needed": (
        "Which value of one input brings a result to where it is wanted",
        "The range that the input is declared for is gone through, each value asked forward, so that the answer under "
        "forward is the one at the value that is told; null where nothing in range does.",
        {
            "result": (True, "The result: yes or no, a word, or a number."),
            "input": (True, "The input that is looked for; a value given for it is put aside."),
            "target": (False, "What the result is to come to, in its own form; true if not given."),
        },
    ),
    "doubt": (
        "Which assumed input moves a result most",
        "Each input that was assumed and may plausibly be another is asked forward at both edges of that range, of "
        "several packs each by itself (packs[1].cell_resistance); the widest first.",
        {"result": (False, "The result: yes or no, a word, or a number; the main one if not given.")},
    ),
}
"""What may be asked about a calculator's questions: summary, description, and its own inputs beside the question's."""


def _about(
    calculators: Mapping[str, Calculator],
    asked: str,
    summary: str,
    description: str,
    own: Mapping[str, tuple[bool, str]],
) -> dict[str, Schema]:
    """One address for all calculators; their inputs stand in full where each is asked for its answer."""
    calculator = {"name": "calculator", "in": "path", "required": True, "schema": {**TEXT, "enum": list(calculators)}}
    rest = {
        "name": "question",
        "in": "query",
        "style": "form",
        "explode": True,
        "description": "The calculator's own inputs, each by its name.",
        "schema": {"type": "object", "additionalProperties": TEXT},
    }
    parameters = [
        {"name": name, "in": "query", "required": required, "description": said, "schema": WORD}
        for name, (required, said) in own.items()
    ]
    properties = {name: {**({} if name == "target" else WORD), "description": said} for name, (_, said) in own.items()}
    schema = {
        "type": "object",
        "required": [name for name, (required, _) in own.items() if required],
        "properties": properties,
        "additionalProperties": True,
    }
    body = {"required": True, "content": {JSON: {"schema": schema}}}
    answer = {"description": "What was found.", "content": {JSON: {"schema": ref(f"{asked.capitalize()}Answer")}}}
    spoken = {"description": "One or two plain sentences, then a caution.", "content": {PLAIN: {"schema": TEXT}}}
    made: dict[str, Schema] = {}
    for ending, words, success, more in (("", ".", answer, ""), (".txt", ", in words.", spoken, ".any")):
        name = asked + ending.replace(".", "_")
        described = {"summary": f"{summary}{words}", "tags": ["before the next outing"]}
        made[f"/v1/{{calculator}}/{asked}{ending}"] = {
            "parameters": [calculator],
            "get": {
                **described,
                "operationId": f"get_{name}",
                "parameters": [*parameters, rest],
                "responses": outcomes(success, OF_MANY, more),
            },
            "post": {
                **described,
                "operationId": name,
                **({} if ending else {"description": description}),
                "requestBody": body,
                "responses": outcomes(success, OF_MANY, more),
            },
        }
    return made


def paths(calculators: Mapping[str, Calculator], named: list[Schema]) -> dict[str, Schema]:
    """The addresses."""
    body = {
        "required": True,
        "content": {JSON: {"schema": ref("OverviewQuestion"), "examples": {"example1": {"value": EXAMPLE}}}},
    }
    answer = {"description": "The answers.", "content": {JSON: {"schema": ref("OverviewAnswer")}}}
    spoken = {"description": "Two or three plain sentences, then a caution.", "content": {PLAIN: {"schema": TEXT}}}
    made: dict[str, Schema] = {}
    for asked, (summary, meant, own) in ABOUT.items():
        made |= _about(calculators, asked, summary, meant, own)
    for path, name, summary, success, ending in (
        ("/v1/overview", "overview", f"{SUMMARY}.", answer, ""),
        ("/v1/overview.txt", "overview_txt", f"{SUMMARY}, in two or three sentences.", spoken, ".any"),
    ):
        described, replies = {"summary": summary, "tags": [TAG]}, outcomes(success, OF_A_QUESTION, ending)
        get = {"operationId": f"get_{name}", "parameters": named, "responses": replies}
        post = {"operationId": name, "requestBody": body, "responses": replies}
        if not ending:
            post["description"] = DESCRIBED
        made[path] = {"get": {**described, **get}, "post": {**described, **post}}
    return made

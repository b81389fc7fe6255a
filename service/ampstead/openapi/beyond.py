"""The addresses beyond single answers, as the document tells them."""

from collections.abc import Mapping

from ampstead.declare import Calculator
from ampstead.openapi import inputs
from ampstead.openapi.common import TEXT, Schema, ref
from ampstead.openapi.operations import ERRORS, JSON, PLAIN, outcomes
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
    return {
        "OverviewQuestion": inputs.question(FACTS, givens),
        "OverviewAnswer": {"type": "object", "required": list(told), "properties": told},
    }


def paths(calculators: Mapping[str, Calculator], named: list[Schema]) -> dict[str, Schema]:
    """The addresses."""
    body = {
        "required": True,
        "content": {JSON: {"schema": ref("OverviewQuestion"), "examples": {"example1": {"value": EXAMPLE}}}},
    }
    answer = {"description": "The answers.", "content": {JSON: {"schema": ref("OverviewAnswer")}}}
    spoken = {"description": "Two or three plain sentences, then a caution.", "content": {PLAIN: {"schema": TEXT}}}
    made: dict[str, Schema] = {}
    for path, name, summary, success, ending in (
        ("/v1/overview", "overview", f"{SUMMARY}.", answer, ""),
        ("/v1/overview.txt", "overview_txt", f"{SUMMARY}, in two or three sentences.", spoken, ".any"),
    ):
        described = {"summary": summary, "tags": [TAG]}
        get = {"operationId": f"get_{name}", "parameters": named, "responses": outcomes(success, ERRORS["get"], ending)}
        post = {"operationId": name, "requestBody": body, "responses": outcomes(success, ERRORS["post"], ending)}
        if not ending:
            post["description"] = DESCRIBED
        made[path] = {"get": {**described, **get}, "post": {**described, **post}}
    return made

"""Schemathesis asks the service in process what its document allows, and what it does not."""

import json
import os
from collections.abc import Mapping
from typing import Any

import schemathesis
from contract.kinds import Fits, written_out
from hypothesis import HealthCheck, Phase, settings
from profiles import FULL, count
from schemathesis.checks import CHECKS, load_all_checks

from ampstead.app import create_app

load_all_checks()
APP = create_app()
WRITTEN_OUT = written_out(json.loads(APP.test_client().get("/openapi.json").data))


def document(*, coverage: bool) -> schemathesis.schemas.BaseSchema:
    """The served document; with ``coverage``, each bound and each wrong form of each input is tried by itself."""
    loaded = schemathesis.openapi.from_wsgi("/openapi.json", APP)
    loaded.config.phases.coverage.enabled = coverage
    rejection = loaded.config.checks.negative_data_rejection
    rejection.expected_statuses = [*rejection.expected_statuses, "413"]  # a text may be longer than a body
    loaded.config.phases.coverage.unexpected_methods = {"trace"}  # tests/contract/test_errors.py tries the others
    return loaded


# A query, a table or a picture is asked for with the inputs that the body takes, so that fewer tries serve there.
# Each bound and wrong form by itself takes a minute: only where properties are asked in full. Every day
# tests/contract/test_random_questions.py tries both for each input.
bodies = document(coverage=FULL).include(path_regex=r"^/[^.]*$", method="POST")
queries = document(coverage=False).include(path_regex=r"^/[^.]*$|\.json$", method="GET")
other = document(coverage=False).include(path_regex=r"\.\{form\}$")

LEFT_OUT = {
    # Text with a unit has no bounds, dimension or grammar in JSON schema, and inputs that exclude each other are told
    # by x-one-of alone. tests/contract/test_random_questions.py asks with both kept.
    "positive_data_acceptance",
}


TIMES = int(os.environ.get("AMPSTEAD_CASES_TIMES", "1"))
"""For a long run by hand: so many times the cases, and others on each run; what fails is kept in .hypothesis."""


def bounded(examples: int) -> settings:
    return settings(
        max_examples=examples * TIMES,
        derandomize=TIMES == 1,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )


def given(question: Any) -> Any:
    """What counts as given: null and empty text do not (contract, section 1), which no schema of an input says."""
    if isinstance(question, Mapping):
        return {name: given(value) for name, value in question.items() if not blank(value)}
    return [given(value) for value in question] if isinstance(question, list) else question


def blank(value: Any) -> bool:
    return value is None or (isinstance(value, str) and not value.strip())


def checked(case: schemathesis.Case, fits: Fits) -> None:
    left_out = set(LEFT_OUT)
    if case.path.endswith("/batch"):
        left_out.add("negative_data_rejection")  # a row that is wrong is refused by itself, the batch never
    elif any(map(blank, (case.query or {}).values())) or (
        isinstance(case.body, Mapping) and not fits(question_schema(case), given(case.body))
    ):
        left_out.add("negative_data_rejection")
    # In process nothing unpacks what comes compressed; tests/contract/test_manners.py asks for that.
    plain = {"Accept-Encoding": "identity"}
    reply = case.call_and_validate(headers=plain, excluded_checks=CHECKS.get_by_names(sorted(left_out)))
    assert reply.status_code == 200 or 400 <= reply.status_code < 500  # "default" stands for errors alone


def question_schema(case: schemathesis.Case) -> dict[str, Any]:
    body = WRITTEN_OUT["paths"][case.operation.path]["post"]["requestBody"]
    schema: dict[str, Any] = body["content"]["application/json"]["schema"]
    return schema


@bodies.parametrize()
@bounded(count(5, 15))
def test_a_body_gets_what_the_document_says(case: schemathesis.Case, fits: Fits) -> None:
    checked(case, fits)


@queries.parametrize()
@bounded(count(5, 15))
def test_a_query_gets_what_the_document_says(case: schemathesis.Case, fits: Fits) -> None:
    checked(case, fits)


@other.parametrize()
@bounded(count(2, 3))
def test_the_other_forms_of_an_answer_get_what_the_document_says(case: schemathesis.Case, fits: Fits) -> None:
    checked(case, fits)

"""Random questions to one calculator and their replies, asked once for all rules that are put to them."""

import json
from functools import lru_cache
from typing import Any

from profiles import count
from questions import many
from reference.asking import client

from ampstead.calculators import registry

QUESTIONS = count(60, 1000)
Reply = tuple[dict[str, Any], dict[str, Any]]


@lru_cache(maxsize=1)
def asked(name: str) -> list[Reply]:
    """The examples, then many random questions, that were answered, each with its reply; none twice.

    Those of the last calculator alone are kept: a thousand replies of each would fill a small machine.
    """
    calculator = registry()[name]
    questions = [*map(dict, calculator.examples), *many(calculator, QUESTIONS)]
    posted = {json.dumps(question): question for question in questions}
    replies = [(question, client().post(f"/v1/{name}", json=question)) for question in posted.values()]
    assert {reply.status_code for _, reply in replies} <= {200, 422}
    return [(question, reply.get_json()) for question, reply in replies if reply.status_code == 200]

"""Questions answered in this process, without a server: for the embedded client and the command line."""

import json
from collections.abc import Mapping
from typing import Any

from ampstead.calculators import registry
from ampstead.errors import Problem
from ampstead.replying import batch
from ampstead.replying.beyond import places
from ampstead.replying.forms import FORMS, Form, Reply, problem, told, unknown


def embedded(name: str, raw: Mapping[str, Any], suffix: str = "") -> tuple[int, Any]:
    """HTTP status and document of a question; of many, where a calculator's name is followed by ``/batch``.

    With the suffix of another form than JSON, the status and that form's body in bytes, or the problem document.
    """
    calculator, many, rest = name.partition("/batch")
    if not many or rest:
        made = asked(name, FORMS[suffix], raw)
        if suffix and made.status == 200:
            return made.status, made.body
        if FORMS[suffix].spoken:
            made = asked(name, FORMS[""], raw)  # what is spoken is no document
    elif (found := registry().get(calculator)) and not found.most:
        made = problem(Problem(404, f"There is no {name}: ask {calculator} one question at a time."), FORMS[""])
    elif found:
        made = batch.at_once(found, raw)
    else:
        made = unknown(calculator, FORMS[""])
    return made.status, json.loads(made.body)


def asked(name: str, form: Form, raw: Mapping[str, Any]) -> Reply:
    """The reply to a raw question put to a calculator by its name, or to an address beyond the calculators."""
    beyond = places(registry()).get(f"{name}{form.suffix}")
    if beyond is not None:
        return told(*beyond, raw)
    calculator = registry().get(name)
    if calculator is None:
        return unknown(name, form)
    if not form.offered(calculator):
        return problem(Problem(404, f"There is no {name}{form.suffix}: {name} has no such form."), form)
    return told(calculator, form, raw)

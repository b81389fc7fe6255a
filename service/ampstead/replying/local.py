"""Questions answered in this process, without a server: for the embedded client and the command line."""

import json
from collections.abc import Mapping
from typing import Any

from ampstead.calculators import registry
from ampstead.replying import batch
from ampstead.replying.forms import FORMS, Form, Reply, told, unknown


def embedded(name: str, raw: Mapping[str, Any]) -> tuple[int, dict[str, Any]]:
    """HTTP status and document of a question; of many, where a calculator's name is followed by ``/batch``."""
    calculator, many, rest = name.partition("/batch")
    if not many or rest:
        made = asked(name, FORMS[""], raw)
    elif found := registry().get(calculator):
        made = batch.at_once(found, raw)
    else:
        made = unknown(calculator, FORMS[""])
    return made.status, json.loads(made.body)


def asked(name: str, form: Form, raw: Mapping[str, Any]) -> Reply:
    """The reply to a raw question put to a calculator by its name."""
    calculator = registry().get(name)
    return unknown(name, form) if calculator is None else told(calculator, form, raw)

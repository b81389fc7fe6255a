"""The promise of /v1/: what the last release took and told, this one takes and tells."""

import copy
import tomllib
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from contract.promise import broken, released, resolved

from ampstead.server import gate

TOP = Path(__file__).resolve().parents[2]
Document = dict[str, Any]


def test_nothing_that_the_last_release_promised_is_broken(spec: Document) -> None:
    assert broken(released(), spec) == []


def question(document: Document, name: str = "/v1/wattage") -> Document:
    schema = resolved(document, document["paths"][name]["post"]["requestBody"])["content"]["application/json"]["schema"]
    return document["components"]["schemas"][schema["$ref"].rpartition("/")[2]]


def results(document: Document) -> Document:
    found: Document = document["components"]["schemas"]["WattageResults"]
    return found


def own(document: Document, schema: Document, name: str) -> Document:
    """A property of one schema, made its own so that a change reaches nothing else."""
    schema["properties"][name] = copy.deepcopy(dict(resolved(document, schema["properties"][name])))
    made: Document = schema["properties"][name]
    return made


def by_address(document: Document) -> list[Any]:
    """The inputs of an address."""
    item = document["paths"]["/v1/wattage"]
    found: list[Any] = item["get"].get("parameters") or item["parameters"]
    return found


BREAKS: dict[str, Callable[[Document], object]] = {
    "a path is gone": lambda d: d["paths"].pop("/v1/wattage"),
    "a method is gone": lambda d: d["paths"]["/v1/wattage"].pop("get"),
    "a form is gone": lambda d: d["paths"]["/v1/wattage"]["post"]["x-forms"].remove("csv"),
    "a form is gone from all": lambda d: d["paths"]["/v1/{calculator}.{form}"]["parameters"][1]["schema"]["enum"].pop(),
    "a calculator has no other form": lambda d: d["paths"]["/v1/{calculator}.{form}"]["parameters"][0]["schema"][
        "enum"
    ].remove("wattage"),
    "fewer go at once": lambda d: d["paths"]["/v1/wattage"]["post"].update({"x-most-rows": 10}),
    "none go at once": lambda d: d["paths"]["/v1/wattage"]["post"].pop("x-most-rows"),
    "an input is gone": lambda d: question(d)["properties"].pop("headroom"),
    "an input is needed": lambda d: question(d).update(required=["available_power"]),
    "an input has another unit": lambda d: own(d, question(d), "capacity").update({"x-unit": "mWh"}),
    "a choice is gone": lambda d: own(d, question(d), "chemistry").update(enum=["lipo"]),
    "inputs exclude each other": lambda d: question(d)["x-one-of"].append(
        {"names": ["headroom", "efficiency"], "required": False}
    ),
    "an input of the address is gone": lambda d: by_address(d).pop(),
    "a result is gone": lambda d: results(d)["properties"].pop("fits"),
    "a result is not always there": lambda d: results(d)["required"].remove("fits"),
    "a result has another unit": lambda d: own(d, results(d), "peak_power").update({"x-unit": "kW"}),
    "a result has another type": lambda d: results(d)["properties"].update(fits={"type": "string"}),
    "a result may be null": lambda d: results(d)["properties"].update(
        current={"anyOf": [results(d)["properties"]["current"], {"type": "null"}]}
    ),
    "a kind of reply is gone": lambda d: d["paths"]["/v1/wattage"]["get"]["responses"]["200"]["content"].pop(
        "application/json"
    ),
}
GROWS: dict[str, Callable[[Document], object]] = {
    "nothing": lambda d: None,
    "a path": lambda d: d["paths"].update({"/v1/further": d["paths"]["/v1/wattage"]}),
    "an input": lambda d: question(d)["properties"].update(colour={"type": "string"}),
    "a choice": lambda d: own(d, question(d), "chemistry").update(
        enum=[*resolved(d, question(d)["properties"]["chemistry"])["enum"], "new"]
    ),
    "a result": lambda d: results(d)["properties"].update(colour={"type": "string"}),
    "a result that was null at times": lambda d: results(d)["required"].append("colour"),
    "words": lambda d: question(d).update(description="Otherwise."),
    "a bound": lambda d: own(d, question(d), "capacity").update({"x-at-most": "1 Ah"}),
}


@pytest.mark.parametrize("change", BREAKS.values(), ids=BREAKS)
def test_each_kind_of_break_is_found(change: Callable[[Document], object], spec: Document) -> None:
    changed = copy.deepcopy(spec)
    change(changed)
    assert broken(spec, changed) != []


@pytest.mark.parametrize("change", GROWS.values(), ids=GROWS)
def test_growth_breaks_nothing(change: Callable[[Document], object], spec: Document) -> None:
    changed = copy.deepcopy(spec)
    change(changed)
    assert broken(spec, changed) == []


def test_an_address_that_is_to_go_says_so_and_no_other(monkeypatch: pytest.MonkeyPatch) -> None:
    """RFC 9745, section 2.1, has the date as seconds behind an @; RFC 8594, section 3, as HTTP has dates."""
    going = gate.Going(datetime(2026, 6, 30, 23, 59, 59, tzinfo=UTC), datetime(2027, 6, 30, tzinfo=UTC), "/v1/sag")
    monkeypatch.setitem(gate.GOING, "/v1/wattage", going)
    served = gate.Gate.__new__(gate.Gate)
    served.safe = []
    told = dict(served.completed([], "id", "/v1/wattage"))
    assert told[b"deprecation"] == b"@1782863999"
    assert told[b"sunset"] == b"Wed, 30 Jun 2027 00:00:00 GMT"
    assert told[b"link"] == b'</v1/sag>; rel="successor-version"'
    assert b"deprecation" not in dict(served.completed([], "id", "/v1/sag"))


def test_service_client_document_and_changelog_are_of_one_version(spec: Document) -> None:
    service, client = (
        tomllib.loads((TOP / place / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]
        for place in (".", "client")
    )
    assert service == client == spec["info"]["version"]
    changes = (TOP / "client" / "CHANGELOG.md").read_text(encoding="utf-8")
    assert f"## {service}" in changes

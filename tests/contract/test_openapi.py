"""The document: current, valid, and true of the service in both directions."""

import json
import re
import shutil
import subprocess
import sys
from collections.abc import Iterable, Iterator
from dataclasses import fields, is_dataclass, replace
from functools import wraps
from importlib.util import module_from_spec, spec_from_file_location
from inspect import signature
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from contract.kinds import Fits
from flask import Flask
from flask.testing import FlaskClient
from openapi_spec_validator import OpenAPIV31SpecValidator

from ampstead.calculators import registry
from ampstead.declare import NOTHING, Bounds, Calculator, Derived, Input, Quantity
from ampstead.errors import CODES
from ampstead_client import AmpsteadClient

TOP = Path(__file__).resolve().parents[2]
COMMITTED = TOP / "openapi" / "openapi.json"
EXAMPLES = TOP / "client" / "ampstead_client" / "examples.json"
COMMAND = "python openapi/generate.py"
CALCULATORS = registry()
SUFFIXES = {"": "application/json", ".txt": "text/plain", ".csv": "text/csv", ".svg": "image/svg+xml"} | {
    ".png": "image/png"
}
GRAMMAR = {"x-above": "above", "x-at-least": "at_least", "x-below": "below", "x-at-most": "at_most"}
# Contract section 4: what may come of an address in the document, asked by a method that it offers. Those that stand
# before any question, and the question's own, have an entry of their own; the others share one.
OF_A_GET = {"400", "401", "406", "408", "414", "422", "429", "431", "500", "503"}
OF_A_POST = OF_A_GET | {"413", "415"}
NAMED = {"401", "408", "422", "429", "503"}

named = pytest.mark.parametrize("name", CALCULATORS)


def operations(spec: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for path, item in spec["paths"].items():
        for method, operation in item.items():
            if method != "parameters":
                yield path, method, operation


def pascal(name: str) -> str:
    return "".join(part.capitalize() for part in name.split("-"))


@pytest.fixture(scope="module")
def generator() -> ModuleType:
    found = spec_from_file_location("generator_of_the_document", TOP / "openapi" / "generate.py")
    assert found is not None
    assert found.loader is not None
    module = module_from_spec(found)
    found.loader.exec_module(module)
    return module


def examples(generator: ModuleType, calculators: Iterable[Calculator] = CALCULATORS.values()) -> dict[str, Any]:
    """The example of an answer of each calculator, its figures as this processor solves them."""
    return {calculator.name: generator.example(calculator) for calculator in calculators}


def test_the_committed_document_is_the_one_served(generator: ModuleType, spec: dict[str, Any]) -> None:
    assert COMMITTED.read_text(encoding="utf-8") == generator.written(spec), f"openapi.json is stale: run  {COMMAND}"


def test_the_committed_examples_are_answers_of_the_service(generator: ModuleType, http: FlaskClient) -> None:
    solved = examples(generator)
    assert generator.current(EXAMPLES.read_text(encoding="utf-8"), solved), f"{EXAMPLES.name} is stale: run  {COMMAND}"
    for name, calculator in CALCULATORS.items():
        assert http.post(f"/v1/{name}", json=calculator.examples[0]).json == solved[name]["answer"]


def figures(document: Any) -> Iterator[float]:
    if isinstance(document, float):
        yield document
    elif isinstance(document, dict | list):
        for entry in document.values() if isinstance(document, dict) else document:
            yield from figures(entry)


def test_figures_of_the_examples_have_six_digits_where_the_service_answers_at_full_precision(
    generator: ModuleType,
) -> None:
    committed = json.loads(EXAMPLES.read_text(encoding="utf-8"))
    assert all(figure == float(f"{figure:.6g}") for figure in figures(committed))
    assert any(figure != float(f"{figure:.6g}") for figure in figures(examples(generator)))


def moved(value: Any, factor: float) -> Any:
    """A result with all its figures, however deep, moved by a factor."""
    if isinstance(value, float):
        return value * factor
    if isinstance(value, np.ndarray):
        return value * factor if value.dtype == float else value
    if isinstance(value, tuple | list):
        return type(value)(moved(entry, factor) for entry in value)
    if is_dataclass(value) and not isinstance(value, type):
        shown = {entry.name: getattr(value, entry.name) for entry in fields(value) if not entry.name.startswith("_")}
        return replace(value, **{name: moved(entry, factor) for name, entry in shown.items()})
    return value


@pytest.mark.parametrize("by", [1e-11, -1e-11])
def test_another_processors_last_digits_make_nothing_stale(by: float, generator: ModuleType) -> None:
    def elsewhere(calculator: Calculator) -> Calculator:
        function = wraps(calculator.function)(lambda **asked: moved(calculator.function(**asked), 1 + by))
        return replace(calculator, function=function)

    others = examples(generator, map(elsewhere, CALCULATORS.values()))
    assert others != examples(generator)
    committed = EXAMPLES.read_text(encoding="utf-8")
    read = json.loads(committed)
    assert [name for name in read if not generator.agrees(read[name], others[name])] == []
    assert generator.current(committed, others)


@pytest.mark.parametrize(
    ("committed", "here", "same"),
    [
        (1.23457, 1.234565, True),
        (1.23457, 1.23456500001, True),
        (1.23457, 1.23456499999, True),
        (1.23457, 1.23456400001, False),
        (-1.23457, -1.23456499999, True),
        (1.23456, 1.23457, False),
        (0.0, 3e-17, True),
        (0.0, 1e-9, False),
        (2, 2.00000000001, True),
        (2, 2.0001, False),
        (1, True, False),
        ({"a": [1.5, "x"]}, {"a": [1.5, "x"]}, True),
        ({"a": [1.5, "x"]}, {"a": [1.5, "y"]}, False),
        ({"a": [1.5, "x"]}, {"a": [1.5]}, False),
        ({"a": 1, "b": 2}, {"b": 2, "a": 1}, False),
    ],
)
def test_a_document_agrees_to_its_last_digit_and_a_tie_may_fall_either_way(
    committed: Any, here: Any, same: bool, generator: ModuleType
) -> None:
    assert generator.agrees(committed, here) is same


def test_without_ruff_the_generator_says_what_to_do(
    generator: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(generator, "find_spec", lambda name: None)
    assert generator.main() == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert "sh tests/run" in told.err


def test_the_document_is_valid_openapi_3_1(spec: dict[str, Any]) -> None:
    assert spec["openapi"].startswith("3.1.")
    assert list(OpenAPIV31SpecValidator(spec).iter_errors()) == []


@pytest.mark.parametrize(
    "spoilt",
    [None, "openapi/openapi.json", "client/ampstead_client/calculators.py", "client/ampstead_client/examples.json"],
)
def test_the_check_tells_a_stale_file_and_the_command_that_mends_it(spoilt: str | None, tmp_path: Path) -> None:
    for part in ("openapi", "client/ampstead_client"):
        shutil.copytree(TOP / part, tmp_path / part, ignore=shutil.ignore_patterns("__pycache__", ".*"))
    shutil.copy(TOP / "pyproject.toml", tmp_path)
    if spoilt:
        with (tmp_path / spoilt).open("a", encoding="utf-8") as file:
            file.write("\n")
    ran = subprocess.run(
        [sys.executable, tmp_path / "openapi" / "generate.py", "--check"], capture_output=True, text=True, timeout=60
    )
    assert ran.stderr == ""
    if spoilt is None:
        assert (ran.returncode, ran.stdout) == (0, "")
    else:
        assert ran.returncode == 1
        assert ran.stdout == f"{Path(spoilt).name} is stale: run  {COMMAND}\n"


def test_every_route_is_in_the_document_and_every_path_is_routed(app: Flask, spec: dict[str, Any]) -> None:
    routed = {
        (rule.rule, method)
        for rule in app.url_map.iter_rules()
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
        if rule.rule.startswith("/v1") or rule.rule in ("/openapi.json", "/healthz", "/readyz", "/metrics", "/version")
    }
    assert routed == {(path, method.upper()) for form, method, _ in operations(spec) for path in paths_of(spec, form)}


def paths_of(spec: dict[str, Any], path: str) -> list[str]:
    """The addresses that a path stands for: where the calculator is a part of it, those that calculators offer."""
    posts = {name: spec["paths"][f"/v1/{name}"]["post"] for name in CALCULATORS}
    if "{form}" in path:
        return [f"/v1/{name}.{form}" for name, post in posts.items() for form in post["x-forms"]]
    if path.endswith("/batch"):
        posts = {name: post for name, post in posts.items() if "x-most-rows" in post}
    return [path.replace("{calculator}", name) for name in posts] if "{calculator}" in path else [path]


def test_what_stands_for_a_part_of_a_path_is_each_calculator_and_each_form_there_is(spec: dict[str, Any]) -> None:
    for path, item in spec["paths"].items():
        options = {part["name"]: part["schema"]["enum"] for part in item.get("parameters", ())}
        assert set(options) == set(re.findall(r"{([a-z]+)}", path))
        addresses = paths_of(spec, path)
        for name, values in options.items():
            pattern = re.escape(path).replace(re.escape(f"{{{name}}}"), "(.+)")
            pattern = re.sub(r"\\{[a-z]+\\}", "[^.]+", pattern)
            assert {re.fullmatch(pattern, address)[1] for address in addresses} == set(values)  # type: ignore[index]


def test_the_addresses_outside_the_document_are_the_pages_for_people(app: Flask, spec: dict[str, Any]) -> None:
    pages = {
        "/",
        "/docs",
        "/docs/reference.js",
        "/docs/reference.css",
        "/sw.js",
        "/packs",
        *(f"/{name}{form}" for name in (*CALCULATORS, "card") for form in ("", ".qr.svg")),
    }
    told = {address for path in spec["paths"] for address in paths_of(spec, path)}
    for rule in app.url_map.iter_rules():
        assert rule.rule in told or rule.rule in pages or rule.rule.startswith("/static/"), rule.rule


def test_each_operation_says_what_it_is_under_a_name_of_its_own(spec: dict[str, Any]) -> None:
    names, summaries = [], set()
    tags = [tag["name"] for tag in spec["tags"]]
    for path, method, operation in operations(spec):
        place = f"{method} {path}"
        assert operation["summary"].endswith("."), place
        assert set(operation["tags"]) <= set(tags), place
        names.append(operation["operationId"])
        summaries.add(operation["summary"])
    assert len(names) == len(set(names))
    assert len(summaries) == len(spec["paths"]), "GET and POST of one path have one summary, others their own"


@named
def test_a_calculator_is_described_once_in_whole_sentences_and_tells_its_forms(name: str, spec: dict[str, Any]) -> None:
    plain = spec["paths"][f"/v1/{name}"]["post"]
    words, _, also = plain["description"].partition(" Also as ")
    assert re.match(r"[A-Z].{30,}[\w)`]\.$", words, re.DOTALL), words
    assert "description" not in spec["paths"][f"/v1/{name}"]["get"]
    assert re.findall(r"`\.([a-z]+)`", also) == plain["x-forms"]
    assert plain.get("x-most-rows", 0) == CALCULATORS[name].most
    assert also.endswith("Many at once by `/batch`.") == bool(CALCULATORS[name].most)


@named
def test_how_many_are_answered_at_once_is_told_of_all_and_of_each_that_takes_fewer(
    name: str, spec: dict[str, Any]
) -> None:
    path = spec["paths"]["/v1/{calculator}/batch"]
    described = path["post"]["description"]
    most = re.search(rf"(\d+) of [a-z, -]*\b{name}\b[,;]", described) or re.search(r"(\d+) questions;", described)
    told = CALCULATORS[name].most
    assert (name in path["parameters"][0]["schema"]["enum"]) == bool(told)
    assert most is not None
    assert int(most[1]) == told or not told, described


@named
def test_the_posts_name_is_the_clients_method(name: str, spec: dict[str, Any]) -> None:
    operation = spec["paths"][f"/v1/{name}"]["post"]["operationId"]
    assert operation == name.replace("-", "_")
    arguments = signature(getattr(AmpsteadClient, operation)).parameters
    question = spec["components"]["schemas"][f"{pascal(name)}Question"]
    assert set(arguments) - {"self"} == {*question["properties"], *question.get("x-groups", {})}


def test_the_client_has_no_method_without_a_calculator() -> None:
    methods = {name for name in vars(AmpsteadClient.__mro__[1]) if not name.startswith("_")}
    assert methods == {name.replace("-", "_") for name in CALCULATORS}


@named
def test_every_example_of_a_question_is_answered_by_its_schema(
    name: str, told: dict[str, Any], http: FlaskClient, fits: Fits
) -> None:
    operation = told["paths"][f"/v1/{name}"]["post"]
    taken = operation["requestBody"]["content"]["application/json"]
    answer = operation["responses"]["200"]["content"]["application/json"]
    assert taken["examples"]
    for example in taken["examples"].values():
        question = example["value"]
        assert fits(taken["schema"], question) == []
        reply = http.post(f"/v1/{name}", json=question)
        assert reply.status_code == 200, reply.text
        assert fits(answer["schema"], reply.json) == []


@named
def test_each_form_of_an_answer_comes_in_a_media_type_told(name: str, told: dict[str, Any], http: FlaskClient) -> None:
    forms = {f".{form}" for form in told["paths"][f"/v1/{name}"]["post"]["x-forms"]}
    assert {".txt"} <= forms <= set(SUFFIXES)
    item = told["paths"]["/v1/{calculator}.{form}"]
    for operation in (item["get"], item["post"]):
        assert {SUFFIXES[suffix] for suffix in forms} <= set(operation["responses"]["200"]["content"])
    for suffix in forms:
        example = first_question(told, name)
        reply = http.post(f"/v1/{name}{suffix}", json=example)
        assert (reply.status_code, reply.mimetype) == (200, SUFFIXES[suffix])
    for suffix in SUFFIXES.keys() - forms - {""}:
        assert http.get(f"/v1/{name}{suffix}").status_code == 404


def first_question(told: dict[str, Any], name: str) -> dict[str, Any]:
    body = told["paths"][f"/v1/{name}"]["post"]["requestBody"]["content"]["application/json"]
    question: dict[str, Any] = body["examples"]["example1"]["value"]
    return question


@pytest.mark.parametrize("name", [name for name, calculator in CALCULATORS.items() if calculator.curve])
def test_a_tables_heading_is_the_one_told(name: str, told: dict[str, Any], http: FlaskClient) -> None:
    heading = http.post(f"/v1/{name}.csv", json=first_question(told, name)).text.partition("\n")[0]
    assert f"`{heading}`" in told["paths"][f"/v1/{name}"]["post"]["description"]
    assert re.fullmatch(r"[a-z_]+( \[[^\]]+\])?(,[a-z_]+( \[[^\]]+\])?)*", heading), heading


def declared(calculator: Calculator) -> Iterator[tuple[str, Input]]:
    """Every input with the schema that carries it, nested ones too."""
    yield from ((f"{pascal(calculator.name)}Question", entry) for entry in calculator.inputs.values())
    for entry in calculator.inputs.values():
        if entry.item:
            yield from ((entry.item.type.__name__, inner) for inner in entry.item.inputs.values())


@named
def test_each_input_carries_meaning_unit_bounds_and_what_is_taken_instead(name: str, told: dict[str, Any]) -> None:
    for owner, entry in declared(CALCULATORS[name]):
        made, place = told["components"]["schemas"][owner]["properties"][entry.name], f"{owner}.{entry.name}"
        assert re.match(r"[A-Z0-9].*\.$", made["description"]), place
        assert made["description"].startswith(entry.spec.meaning.rstrip(".")), place
        if isinstance(entry.spec, Quantity):
            assert made["x-unit"] == entry.spec.unit, place
            assert f"In {entry.spec.unit}" in made["description"], place
        if isinstance(entry.spec, Bounds):
            bounds = {key: getattr(entry.spec, bound) for key, bound in GRAMMAR.items()}
            if isinstance(entry.spec, Quantity):
                assert {key: made.get(key) for key in GRAMMAR} == bounds, place
            else:
                assert in_json(made) == {bound for bound in bounds.values() if bound is not None}, place
            assert any(bound is not None for bound in bounds.values()), f"{place} has no bound at all"
            assert all(str(bound) in made["description"] for bound in bounds.values() if bound is not None), place
        if isinstance(entry.default, Derived):
            assert made["x-default"] == entry.default.text, place
        assert ("x-default" in made) == (entry.default is not NOTHING), place
        assert made["description"].count("If not given: ") == ("x-default" in made), place


def in_json(schema: Any) -> set[float]:
    """The bounds that a schema of numbers has, wherever in it."""
    if isinstance(schema, list):
        return {bound for entry in schema for bound in in_json(entry)}
    if not isinstance(schema, dict):
        return set()
    own = {schema[key] for key in ("minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum") if key in schema}
    return own | {bound for entry in schema.values() for bound in in_json(entry)}


def test_nothing_in_the_document_has_a_default_which_generated_clients_would_send(spec: dict[str, Any]) -> None:
    assert defaults(spec) == []
    spoilt = json.loads(json.dumps(spec))
    spoilt["components"]["schemas"]["GivenStateOfCharge"]["default"] = 0.2
    assert defaults(spoilt) == [".components.schemas.GivenStateOfCharge"]


def defaults(node: Any, place: str = "") -> list[str]:
    """Where an object of a document has a ``default``; among responses it is the name of one."""
    if isinstance(node, list):
        return [found for entry in node for found in defaults(entry, place)]
    if not isinstance(node, dict):
        return []
    own = [place] if "default" in node and not place.endswith(".responses") else []
    return own + [found for name, entry in node.items() for found in defaults(entry, f"{place}.{name}")]


@named
def test_a_group_names_the_inputs_that_belong_to_it(name: str, spec: dict[str, Any]) -> None:
    calculator = CALCULATORS[name]
    groups = spec["components"]["schemas"][f"{pascal(name)}Question"].get("x-groups", {})
    for group, (_, taken) in calculator.groups.items():
        own = [entry.name for entry in calculator.inputs.values() if entry.group == group]
        assert groups.get(group, []) == (own if taken.whole else [])
        if taken.whole:
            assert set(own) <= set(spec["components"]["schemas"][pascal(group)]["properties"])


@named
def test_a_question_needs_what_it_declares_and_takes_nothing_else(name: str, spec: dict[str, Any]) -> None:
    calculator = CALCULATORS[name]
    told = spec["components"]["schemas"][f"{pascal(name)}Question"]
    assert list(told["properties"]) == list(calculator.inputs)
    assert told["additionalProperties"] is False
    without = {entry.name for entry in calculator.inputs.values() if entry.required and entry.default is NOTHING}
    assert set(told.get("required", ())) == without
    excluded = [{"names": list(rule.names), "required": rule.required} for rule in calculator.rules]
    assert told.get("x-one-of", []) == excluded


@named
def test_an_answers_keys_are_always_there_and_null_only_where_told(name: str, spec: dict[str, Any]) -> None:
    told = spec["components"]["schemas"][f"{pascal(name)}Results"]
    assert set(told["required"]) == set(told["properties"]) == set(CALCULATORS[name].results)
    for entry in CALCULATORS[name].results.values():
        nullable = {"type": "null"} in told["properties"][entry.name].get("anyOf", [])
        assert nullable == entry.nullable, entry.name
        if isinstance(entry.spec, Quantity):
            assert told["properties"][entry.name]["x-unit"] == entry.spec.unit


@named
def test_the_query_takes_the_names_of_the_body(name: str, told: dict[str, Any]) -> None:
    question = told["components"]["schemas"][f"{pascal(name)}Question"]
    parameters = told["paths"][f"/v1/{name}"]["get"]["parameters"]
    assert [entry["name"] for entry in parameters] == list(in_an_address(registry()[name]))
    assert {entry["name"] for entry in parameters if entry.get("required")} == {
        parameter for parameter, needed in in_an_address(registry()[name]).items() if needed
    }
    heads = {entry["name"].partition(".")[0].partition("[")[0] for entry in parameters}
    assert heads == set(question["properties"])
    assert {entry["in"] for entry in parameters} == {"query"}
    for entry in parameters:
        taken = question["properties"].get(entry["name"])
        if taken:
            assert taken["description"].startswith(entry["description"].rstrip(".")), entry["name"]
            assert ("In " in entry["description"]) >= ("x-unit" in taken), entry["name"]


def in_an_address(calculator: Calculator) -> dict[str, bool]:
    """The names of an address's inputs, nested ones by those of the first, and whether they must be given."""
    named: dict[str, bool] = {}
    for name, entry in calculator.inputs.items():
        required = entry.required and entry.default is NOTHING
        if entry.item is None:
            named[name] = required
            continue
        shorthand = getattr(entry.spec, "shorthand", None)
        if shorthand:
            named[name] = False
        for inner, part in entry.item.inputs.items():
            needed = required and not shorthand and part.required and part.default is NOTHING
            named[f"{name}[0].{inner}" if entry.many else f"{name}.{inner}"] = needed
    return named


def answered(spec: dict[str, Any], operation: dict[str, Any], status: str) -> dict[str, Any]:
    reference = operation["responses"][status]["$ref"]
    found: dict[str, Any] = spec["components"]["responses"][reference.rpartition("/")[2]]
    return found


def test_every_error_is_listed_in_its_one_shape(spec: dict[str, Any]) -> None:
    for path, method, operation in operations(spec):
        place = f"{method} {path}"
        listed = set(operation["responses"]) - {"200"}
        if operation["tags"] == ["service"]:
            assert "default" in listed, place
        else:
            offered = OF_A_GET if method == "get" else OF_A_POST
            assert listed == NAMED | {"default"} | ({"404"} if "{calculator}" in path else set()), place
            others = answered(spec, operation, "default")["description"]
            assert all(status in others for status in offered - NAMED), place
        for status in listed:
            response = answered(spec, operation, status)
            spoken = ["text/plain"] if "{form}" in path or path.endswith(".txt") else []
            assert list(response["content"]) == ["application/problem+json", *spoken], place
            schema = response["content"]["application/problem+json"]["schema"]
            assert schema == {"$ref": "#/components/schemas/Problem"}, place
    codes = spec["components"]["schemas"]["FieldError"]["properties"]["code"]["enum"]
    assert codes == list(CODES)


def test_quantities_are_declared_once_with_the_units_of_the_contract(spec: dict[str, Any]) -> None:
    # The contract's table of units in answers, section 2.
    contract = {
        *("A", "V", "mΩ", "mAh", "W", "Wh", "°C", "K", "g", "m", "mm²", "min", "s"),
        *("W/K", "W/m", "mV/K", "K/s", "mV/day"),
    }
    schemas = spec["components"]["schemas"]
    plain = {
        name: schema["x-unit"]
        for name, schema in schemas.items()
        if "x-unit" in schema and set(schema.get("properties", ())) == {"value", "unit"}
    }
    assert len(set(plain.values())) == len(plain)
    assert set(plain.values()) <= contract
    for name, unit in plain.items():
        assert schemas[name]["properties"]["unit"]["const"] == unit
        read = schemas.get(f"{name}Input", {"x-units": [unit]})["x-units"]
        assert len(read) == len(set(read)) >= 1
    inline = [
        name
        for name, schema in schemas.items()
        if name.endswith(("Question", "Results"))
        for inner in schema["properties"].values()
        if {"value", "unit"} <= set(inner.get("properties", ()))
    ]
    assert inline == []


def test_the_unit_names_in_the_document_are_those_of_the_index(spec: dict[str, Any], http: FlaskClient) -> None:
    index: dict[str, Any] = json.loads(http.get("/v1/").data)
    in_the_document = {
        schema["x-unit"]: schema["x-units"]
        for name, schema in spec["components"]["schemas"].items()
        if name.endswith("Input") and not name.endswith("ListInput")
    }
    read = {entry["answers"]: entry["read"] for entry in index["units"].values()}
    assert in_the_document == {unit: read[unit] for unit in in_the_document}
    assert all(unit in names for unit, names in read.items())
    assert len(in_the_document) > 10
    assert [entry["name"] for entry in index["calculators"]] == list(CALCULATORS)
    for entry in index["calculators"]:
        assert http.post(entry["address"], json=entry["example"]).status_code == 200


def test_every_reference_leads_somewhere(spec: dict[str, Any]) -> None:
    references = set(re.findall(r'"\$ref": "#/([^"]+)"', json.dumps(spec)))
    assert references
    for reference in references:
        place: Any = spec
        for step in reference.split("/"):
            place = place[step]


@named
def test_the_example_of_each_input_is_told_and_read(
    name: str, told: dict[str, Any], http: FlaskClient, fits: Fits
) -> None:
    for owner, entry in declared(CALCULATORS[name]):
        made, example = told["components"]["schemas"][owner]["properties"][entry.name], entry.spec.example
        if example is None:
            continue
        assert fits(made, example) == []
        if isinstance(entry.spec, Bounds):
            assert f"or example {example}" in made["description"]
        if owner == f"{pascal(name)}Question":
            reply = http.post(f"/v1/{name}", json={entry.name: example})
            faults = reply.json["errors"] if reply.status_code == 422 else []
            assert [fault for fault in faults if fault["field"] == entry.name] == [], entry.name


@pytest.mark.parametrize(
    "written",
    ["7, 9, 8, 7 mΩ", {"value": [7, 9, 8, 7], "unit": "mΩ"}, {"value": 8.5, "unit": "mΩ"}, ["7 mΩ", "9 mΩ"], "8.5mohm"],
)
def test_each_way_to_write_a_list_or_one_for_all_fits_and_is_read(
    written: Any, told: dict[str, Any], http: FlaskClient, fits: Fits
) -> None:
    question = told["components"]["schemas"]["SagQuestion"]["properties"]
    assert fits(question["cell_resistance"], written) == []
    reply = http.post("/v1/sag", json={"cell_resistance": written, "current": "20 A", "capacity": "2250 mAh"})
    faults = reply.json.get("errors", [])
    assert [fault for fault in faults if fault["code"] in ("not_a_number", "unit_missing", "wrong_dimension")] == []


@pytest.mark.parametrize(
    "wrong", [8.5, {"value": [7, 9]}, {"value": [[7]], "unit": "mΩ"}, [], {"value": True, "unit": "mΩ"}]
)
def test_what_is_no_list_of_quantities_does_not_fit(wrong: Any, told: dict[str, Any], fits: Fits) -> None:
    assert fits(told["components"]["schemas"]["SagQuestion"]["properties"]["cell_resistance"], wrong) != []


def test_each_calculator_stands_under_the_moment_when_it_is_asked(spec: dict[str, Any]) -> None:
    moments = {tag["name"] for tag in spec["tags"]} - {"every calculator", "service"}
    used = {tag for name in CALCULATORS for tag in spec["paths"][f"/v1/{name}"]["get"]["tags"]}
    assert used == moments


def test_no_component_is_without_use(spec: dict[str, Any]) -> None:
    text = json.dumps(spec)
    groups = {pascal(group) for calculator in CALCULATORS.values() for group in calculator.groups}
    for kind, entries in spec["components"].items():
        for name in entries:
            assert f'"#/components/{kind}/{name}"' in text or name in groups, f"{kind} {name}"


@pytest.mark.parametrize(("packed", "most"), [(False, 420_000), (True, 45_000)])
def test_the_document_stays_small(packed: bool, most: int, http: FlaskClient) -> None:
    reply = http.get("/openapi.json", headers={"Accept-Encoding": "gzip"} if packed else {})
    assert reply.headers.get("Content-Encoding") == ("gzip" if packed else None)
    assert len(reply.data) < most


def refused_kinds(spec: dict[str, Any], name: str) -> set[str]:
    """The kinds of cell that the document says are refused."""
    _, told, kinds = spec["paths"][f"/v1/{name}"]["post"]["description"].partition("Refused as `unsupported`: ")
    return set(re.findall("`([a-z]+)`", kinds.partition(" Also as ")[0])) if told else set()


def test_the_document_says_which_kinds_of_cell_are_refused(spec: dict[str, Any], http: FlaskClient) -> None:
    assert refused_kinds(spec, "charge-current") == {"nimh", "nicd"}
    assert refused_kinds(spec, "nickel-charge") == {"lipo", "lihv", "liion", "life", "lead"}
    assert refused_kinds(spec, "wattage") == set()
    told = {(name, kind) for name in registry() for kind in refused_kinds(spec, name)}
    assert len(told) > 20
    for name, kind in told:
        reply = http.post(f"/v1/{name}", json={**registry()[name].examples[0], "chemistry": kind}).get_json()
        assert "unsupported" in {error["code"] for error in reply["errors"]}, (name, kind)

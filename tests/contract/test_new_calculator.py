"""Adding a calculator is adding one file: everything else follows from its declaration."""

import importlib.util
import json
import subprocess
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from contract.kinds import NewPackage, written_out
from flask.testing import FlaskClient
from jsonschema import Draft202012Validator
from openapi_spec_validator import OpenAPIV31SpecValidator

from ampstead.app import create_app
from ampstead.calculators import registry

TOP = Path(__file__).resolve().parents[2]
PROP_WASH = '''
"""How long the hangar's fan runs on a pack."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated

from ampstead.declare import (
    Caution, Choice, Count, Flag, Fraction, Group, Items, OneOf, Quantity, Rate, Text, derived,
)
from ampstead.errors import FieldError
from ampstead.inputs.pack import Pack
from ampstead.words import amperes
from typing import ClassVar, Literal

ASKED = "How long does the fan run?"
WHEN = ("at the bench", 5)
SOURCES = ("Charge is current times time",)
EXAMPLES = ({"capacity": "2200 mAh", "current": "1.1 A", "fans": [{"name": "left"}, {"current": "100 mA"}]},)
RULES = (OneOf("current", "rate", required=True),)
FAN = 0.05


def not_too_loud(fans: Sequence[object] | None) -> Iterator[FieldError]:
    if fans and len(fans) > 3:
        yield FieldError("fans", "conflict", "fans drown the tower: three at most")


CHECKS = (not_too_loud,)


def usual_share(speed: str) -> float:
    return 1.0 if speed == "high" else 0.5


@dataclass(frozen=True, kw_only=True)
class Fan:
    """One fan."""

    name: Annotated[str | None, Text("Its name.", example="left")] = None
    current: Annotated[float, Quantity("A", "What it draws.", at_least=0, at_most="9 A", example="50 mA")] = FAN


@dataclass(frozen=True, kw_only=True)
class PropWash:
    time_running: Annotated[float, Quantity("min", "Time until empty.")]
    blades: Annotated[int, Count("Blades in the air.")]
    cools: Annotated[bool | None, Flag("Whether it cools; no answer at low speed.")]


def prop_wash(
    *,
    pack: Annotated[Pack, Group(name="pack", only=("capacity",), require=("capacity",))],
    current: Annotated[float | None, Quantity("A", "Drawn.", above=0, at_most="99 A", example="1 A")] = None,
    rate: Annotated[float | None, Rate("Drawn, as a rate.", above=0, at_most=9, example=1)] = None,
    speed: Annotated[Literal["low", "high"], Choice("Its speed.", example="low")] = "high",
    share: Annotated[float, Fraction("Of full speed.", at_least=0.1, at_most=1, example=1)] = derived(
        usual_share, "half at low speed"
    ),
    fans: Annotated[list[Fan] | None, Items("Further fans.")] = None,
) -> PropWash:
    """How long the fan runs.

    The charge over the currents: t = Q / (share * I + sum of the fans).
    """
    drawn = pack.capacity * rate / 3600 if current is None else current
    total = share * drawn + sum(fan.current for fan in fans)
    return PropWash(time_running=pack.capacity / total, blades=3, cools=True if speed == "high" else None)


def sentence(answer: PropWash, *, current: float | None) -> str:
    return f"The fan runs on, drawing {amperes(current or 0.0)}."


def cautions(answer: PropWash) -> Iterator[Caution]:
    yield Caution("fingers", "warning", "Keep fingers out of the fan.")
'''


@pytest.fixture
def package(new_package: NewPackage) -> ModuleType:
    return new_package({"prop_wash": PROP_WASH})


@pytest.fixture
def http(package: ModuleType) -> FlaskClient:
    return create_app(package).test_client()


@pytest.fixture
def spec(http: FlaskClient) -> dict[str, Any]:
    document: dict[str, Any] = json.loads(http.get("/openapi.json").data)
    return document


@pytest.fixture(scope="module")
def generator() -> ModuleType:
    found = importlib.util.spec_from_file_location("generator_of_the_client", TOP / "openapi" / "generate.py")
    assert found is not None
    assert found.loader is not None
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    return module


def test_its_routes_appear_and_no_others(http: FlaskClient) -> None:
    rules = {rule.rule for rule in http.application.url_map.iter_rules()}
    assert {rule for rule in rules if "prop" in rule} >= {"/v1/prop-wash", "/v1/prop-wash.txt"}
    assert http.get("/v1/wattage?cells=2&capacity=1Ah").status_code == 404
    assert [entry["name"] for entry in http.get("/v1/").json["calculators"]] == ["prop-wash"]


def test_it_answers_on_get_and_post_and_in_words(http: FlaskClient) -> None:
    got = http.get("/v1/prop-wash?capacity=2200mAh&current=1.1 A&speed=LOW")
    assert got.status_code == 200, got.text
    document = json.loads(got.data)
    assert document["answer"] == {"time_running": {"value": 240.0, "unit": "min"}, "blades": 3, "cools": None}
    assert document["assumed"] == {"share": 0.5}
    assert document["cautions"][0]["code"] == "fingers"
    spoken = http.post("/v1/prop-wash.txt", json={"capacity": "2200 mAh", "current": "1.1 A"})
    assert spoken.text == "The fan runs on, drawing 1.1 amperes. Keep fingers out of the fan.\n"


def test_its_nested_inputs_are_read_with_their_defaults(http: FlaskClient) -> None:
    fans = [{"name": "left"}, {"current": "0 A"}]
    document = http.post("/v1/prop-wash", json={"capacity": "1150 mAh", "current": "1.1 A", "fans": fans}).json
    assert document["answer"]["time_running"] == {"value": 60.0, "unit": "min"}
    assert document["assumed"]["fans[0].current"] == {"value": 0.05, "unit": "A"}
    assert document["question"]["fans"] == [{"name": "left"}, {"current": {"value": 0.0, "unit": "A"}}]


@pytest.mark.parametrize(
    ("question", "told"),
    [
        ({"capacity": "1 Ah"}, {"current": "missing"}),
        ({"current": "1 A"}, {"capacity": "missing"}),
        ({"capacity": "1 Ah", "current": "1 A", "rate": 1}, {"current": "conflict", "rate": "conflict"}),
        ({"capacity": "1 Ah", "rate": 10}, {"rate": "out_of_range"}),
        ({"capacity": "1 Ah", "rate": 1, "cells": 3}, {"cells": "unknown"}),
        ({"capacity": "1 Ah", "rate": 1, "fans": [{}, {"current": 1}]}, {"fans[1].current": "unit_missing"}),
        ({"capacity": "1 Ah", "rate": 1, "fans": [{}] * 4}, {"fans": "conflict"}),
    ],
)
def test_its_declaration_refuses_what_it_rules_out(
    question: Mapping[str, Any], told: Mapping[str, str], http: FlaskClient
) -> None:
    reply = http.post("/v1/prop-wash", json=question)
    assert reply.status_code == 422
    assert {error["field"]: error["code"] for error in reply.json["errors"]} == told


def test_its_schemas_appear_in_a_valid_document(spec: dict[str, Any], http: FlaskClient) -> None:
    assert list(OpenAPIV31SpecValidator(spec).iter_errors()) == []
    (which, _) = spec["paths"]["/v1/{calculator}.{form}"]["parameters"]
    assert which["schema"]["enum"] == ["prop-wash"]
    told = written_out(spec)
    schemas = told["components"]["schemas"]
    question = schemas["PropWashQuestion"]["properties"]
    assert question["speed"]["enum"] == ["low", "high"]
    assert question["current"]["x-unit"] == "A"
    assert question["share"]["x-default"] == "half at low speed"
    assert "capacity" in schemas["PropWashQuestion"]["x-groups"]["pack"]
    assert question["fans"]["items"]["anyOf"] == [{"$ref": "#/components/schemas/Fan"}]
    example = told["paths"]["/v1/prop-wash"]["post"]["requestBody"]["content"]["application/json"]["examples"]
    answer = http.post("/v1/prop-wash", json=example["example1"]["value"]).json
    for name, value in (("PropWashQuestion", example["example1"]["value"]), ("PropWashAnswer", answer)):
        schema = {"$ref": f"#/components/schemas/{name}", "components": spec["components"]}
        assert list(Draft202012Validator(schema).iter_errors(value)) == []


def test_the_client_gets_a_method_of_it(
    spec: dict[str, Any],
    package: ModuleType,
    generator: ModuleType,
    http: FlaskClient,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    examples = {name: generator.example(each) for name, each in registry(package).items()}
    source = generator.formatted(generator.Client(spec, examples).module())
    (tmp_path / "client_of_prop_wash.py").write_text(source, encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.delitem(sys.modules, "client_of_prop_wash", raising=False)
    made = importlib.import_module("client_of_prop_wash")
    of_every_client = {"Calculators", "Inputs", "TypedAnswer"}
    assert set(made.__all__) == of_every_client | {"Chemistry", "Condition", "Fan", "Pack", "PropWash"} | {
        "ResistanceMethod",
        "Speed",
    }

    class Direct:
        def ask(self, calculator: str, question: Mapping[str, Any]) -> dict[str, Any]:
            document: dict[str, Any] = http.post(f"/v1/{calculator}", json=dict(question)).json
            return document

        def address(self, calculator: str) -> str:
            return calculator

        def close(self) -> None:
            return

    answer = made.Calculators(Direct()).prop_wash(
        pack=made.Pack(capacity="1150 mAh", cells=3), current="1.1 A", fans=[made.Fan(name="left")]
    )
    assert (answer.time_running.value, answer.time_running.unit, answer.cools) == (60.0, "min", True)
    assert str(answer) == "The fan runs on, drawing 1.1 amperes. Keep fingers out of the fan."
    checked = subprocess.run(
        [sys.executable, "-m", "mypy", "--strict", "--config-file", TOP / "pyproject.toml", "client_of_prop_wash.py"],
        cwd=tmp_path,
        env={"MYPYPATH": str(TOP / "client"), "PATH": ""},
        capture_output=True,
        text=True,
    )
    assert checked.stdout == "Success: no issues found in 1 source file\n", checked.stdout + checked.stderr


DESCRIBED = PROP_WASH[PROP_WASH.index('    """How long the fan') : PROP_WASH.index("    drawn = ")]


def spoilt() -> Iterator[Any]:
    for name, old, new, said in (
        ("no function", "def prop_wash(", "def propwash(", r"prop_wash needs a function prop_wash\(\)"),
        ("no sentence", "def sentence(", "def told(", "prop_wash needs sentence"),
        ("no question", "ASKED =", "TOLD =", "prop_wash needs ASKED"),
        ("no question mark", "fan run?", "fan run", "ASKED is no question"),
        ("no moment", "WHEN =", "THEN =", "prop_wash needs WHEN"),
        ("a moment of its own", "at the bench", "at the pub", "WHEN must be one of at the field, at the bench"),
        ("null in a meaning", "no answer at low", "null at low", "the meaning of cools says null"),
        ("a main result that is none", "WHEN =", 'MAIN = ("noise",)\nWHEN =', "MAIN names noise, which is no result"),
        ("no sources", "SOURCES =", "ORIGINS =", "prop_wash needs SOURCES"),
        ("no example", "EXAMPLES =", "SAMPLES =", "prop_wash needs EXAMPLES"),
        ("no result", ") -> PropWash:\n", ") -> dict:\n", "must return a dataclass"),
        ("no docstring", DESCRIBED, "", "needs a docstring"),
        ("no meaning", 'blades: Annotated[int, Count("Blades in the air.")]', "blades: int", "annotate it"),
    ):
        yield pytest.param(old, new, said, id=name.replace(" ", "-"))


@pytest.mark.parametrize(("old", "new", "said"), list(spoilt()))
def test_a_file_that_lacks_a_part_fails_at_once_and_says_which(
    old: str, new: str, said: str, new_package: NewPackage
) -> None:
    assert old in PROP_WASH
    package = new_package({"prop_wash": PROP_WASH.replace(old, new)})
    with pytest.raises(TypeError, match=said):
        create_app(package)


def test_an_example_that_cannot_be_answered_gives_the_client_none(
    new_package: NewPackage, generator: ModuleType
) -> None:
    from ampstead.errors import Refusal

    package = new_package({"prop_wash": PROP_WASH.replace('"current": "1.1 A", "fans"', '"current": "1.1 V", "fans"')})
    with pytest.raises(Refusal, match="current takes a current"):
        generator.example(registry(package)["prop-wash"])


def test_calculators_come_in_order_of_their_names(new_package: NewPackage) -> None:
    files = {name: PROP_WASH.replace("prop_wash", name) for name in ("zephyr", "aileron", "moth")}
    http = create_app(new_package(files)).test_client()
    assert [entry["name"] for entry in http.get("/v1/").json["calculators"]] == ["aileron", "moth", "zephyr"]

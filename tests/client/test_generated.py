"""The client's calculators.py is what the generator makes of the committed document and examples, and of no more."""

from __future__ import annotations

import ast
import importlib.util
import inspect
import json
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

import ampstead_client
from ampstead_client import Calculators, calculators

TOP = Path(__file__).resolve().parents[2]
SPEC: dict[str, Any] = json.loads((TOP / "openapi" / "openapi.json").read_text(encoding="utf-8"))
EXAMPLES: dict[str, Any] = json.loads(Path(calculators.__file__).with_name("examples.json").read_text(encoding="utf-8"))
SOURCE = Path(calculators.__file__).read_text(encoding="utf-8")
COMMAND = "python openapi/generate.py"
POSTS = {
    path.removeprefix("/v1/"): item["post"] for path, item in SPEC["paths"].items() if "x-forms" in item.get("post", ())
}


@pytest.fixture(scope="module")
def generator() -> ModuleType:
    found = importlib.util.spec_from_file_location("generator_of_calculators", TOP / "openapi" / "generate.py")
    assert found is not None
    assert found.loader is not None
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    return module


def test_calculators_is_what_the_generator_makes_of_the_committed_document(generator: ModuleType) -> None:
    made = generator.formatted(generator.Client(SPEC, EXAMPLES).module())
    assert made == SOURCE, f"calculators.py is stale: run  {COMMAND}"


def test_each_kind_of_word_says_what_it_tells() -> None:
    body = ast.parse(SOURCE).body
    kinds = [place for place, node in enumerate(body) if isinstance(node, ast.AnnAssign)]
    assert len(kinds) > 10
    for place in kinds:
        told = body[place + 1]
        assert isinstance(told, ast.Expr), ast.unparse(body[place])
        assert isinstance(told.value, ast.Constant)
        assert str(told.value.value).strip().endswith("."), ast.unparse(body[place])


def test_a_spoilt_document_makes_another_module(generator: ModuleType) -> None:
    spoilt = json.loads(json.dumps(SPEC))
    question = spoilt["components"]["schemas"]["WattageQuestion"]
    question["properties"]["colour"] = {"type": "string", "description": "Its colour."}
    made = generator.formatted(generator.Client(spoilt, EXAMPLES).module())
    assert made != SOURCE
    assert "colour: str | None = None" in made


def test_every_method_takes_keywords_alone_and_the_names_of_the_document() -> None:
    schemas = SPEC["components"]["schemas"]
    for name, operation in POSTS.items():
        method = getattr(Calculators, operation["operationId"])
        parameters = {key: entry for key, entry in inspect.signature(method).parameters.items() if key != "self"}
        assert {entry.kind for entry in parameters.values()} == {inspect.Parameter.KEYWORD_ONLY}
        question = schemas["".join(map(str.capitalize, name.split("-"))) + "Question"]
        assert set(parameters) == {*question["properties"], *question.get("x-groups", {})}
        grouped = {inner for names in question.get("x-groups", {}).values() for inner in names}
        needed = {key for key, entry in parameters.items() if entry.default is inspect.Parameter.empty}
        assert needed == set(question.get("required", ())) - grouped
        for key in parameters:
            assert f"- `{key}`: " in (inspect.getdoc(method) or ""), (name, key)
        assert "Raises `InvalidQuestion`" in (inspect.getdoc(method) or "")


def test_every_answer_names_what_it_rests_on(generator: ModuleType) -> None:
    for name in POSTS:
        told = " ".join((inspect.getdoc(getattr(calculators, generator.pascal(name))) or "").split())
        sources = EXAMPLES[name]["answer"]["sources"]
        assert sources
        assert all(" ".join(source.split()) in told for source in sources), name


def test_a_nested_pack_is_a_pack() -> None:
    for kind in (calculators.FieldSource, calculators.ChargedPack, calculators.JoinedPack):
        assert issubclass(kind, calculators.Pack)
        assert "cells" not in vars(kind)["__annotations__"]
    assert calculators.ChargedPack(cells=3, capacity="2250 mAh", name="red").name == "red"


def test_the_exported_names_are_exact() -> None:
    defined = {
        entry.name if isinstance(entry, ast.ClassDef) else entry.target.id
        for entry in ast.parse(SOURCE).body
        if isinstance(entry, ast.ClassDef) or (isinstance(entry, ast.AnnAssign) and isinstance(entry.target, ast.Name))
    }
    assert set(calculators.__all__) == defined
    assert calculators.__all__ == sorted(calculators.__all__)
    assert set(calculators.__all__) <= set(ampstead_client.__all__)
    assert len(ampstead_client.__all__) == len(set(ampstead_client.__all__))
    results = {"".join(map(str.capitalize, name.split("-"))) for name in POSTS}
    assert results <= set(calculators.__all__)


def test_every_attribute_says_what_it_is_and_in_which_unit() -> None:
    tree = ast.parse(SOURCE)
    for owner in (entry for entry in tree.body if isinstance(entry, ast.ClassDef)):
        assert ast.get_docstring(owner), owner.name
        for place, entry in enumerate(owner.body):
            if not isinstance(entry, ast.AnnAssign):
                continue
            after = owner.body[place + 1]
            assert isinstance(after, ast.Expr), ast.unparse(entry)
            assert isinstance(after.value, ast.Constant), ast.unparse(entry)
            told = str(after.value.value)
            if ast.unparse(entry.annotation).startswith(("Quantity", "tuple[Quantity")):
                assert "[" in told or " In " in told, f"{owner.name}.{ast.unparse(entry)} tells no unit"

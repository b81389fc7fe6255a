"""The service in process, its document, and packages of calculators made for one test."""

import json
import sys
from collections.abc import Mapping
from importlib import import_module, invalidate_caches
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from contract.kinds import Fits, NewPackage, written_out
from flask import Flask
from flask.testing import FlaskClient
from jsonschema import Draft202012Validator

from ampstead.app import create_app
from ampstead.calculators import registry


@pytest.fixture(scope="session", params=registry())
def name(request: pytest.FixtureRequest) -> str:
    """Each calculator; of the session's scope, so that all rules are put to the questions of one before the next."""
    return str(request.param)


@pytest.fixture(scope="session")
def app() -> Flask:
    return create_app()


@pytest.fixture(scope="session")
def http(app: Flask) -> FlaskClient:
    return app.test_client()


@pytest.fixture(scope="session")
def spec(http: FlaskClient) -> dict[str, Any]:
    """The document as the service serves it."""
    document: dict[str, Any] = json.loads(http.get("/openapi.json").data)
    return document


@pytest.fixture(scope="session")
def told(spec: dict[str, Any]) -> dict[str, Any]:
    """The document with what its operations and questions share written out in each of them."""
    return written_out(spec)


@pytest.fixture(scope="session")
def fits(spec: dict[str, Any]) -> Fits:
    """What is wrong with a value by one of the document's schemas, its references resolved."""
    made: dict[str, Draft202012Validator] = {}

    def faults(schema: Mapping[str, Any], value: Any) -> list[str]:
        key = json.dumps(schema, sort_keys=True)
        if key not in made:
            made[key] = Draft202012Validator({**schema, "components": spec["components"]})
        return [f"{fault.json_path}: {fault.message}" for fault in made[key].iter_errors(value)]

    return faults


@pytest.fixture
def new_package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> NewPackage:
    """A package of calculators from their source text, importable until the test ends."""
    name = f"calculators_of_{request.node.originalname.removeprefix('test_')}"

    def made(files: Mapping[str, str]) -> ModuleType:
        place = tmp_path / name
        place.mkdir()
        for file, source in {"__init__": "", **files}.items():
            (place / f"{file}.py").write_text(source, encoding="utf-8")
        monkeypatch.syspath_prepend(tmp_path)
        for known in [module for module in sys.modules if module.partition(".")[0] == name]:
            monkeypatch.delitem(sys.modules, known)
        invalidate_caches()
        return import_module(name)

    return made

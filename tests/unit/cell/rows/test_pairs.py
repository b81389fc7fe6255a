"""Solvers of one pack and of many are pairs, side by side under like names; that they agree is held in `test_rows`."""

import inspect
import pkgutil
from dataclasses import fields
from importlib import import_module
from types import ModuleType

import pytest

from ampstead.cell import one, rows
from ampstead.cell.one.charge import Charge
from ampstead.cell.one.discharge import Loaded
from ampstead.cell.rows.charge import Charges
from ampstead.cell.rows.discharge import LoadedMany

SHARED = {"arrays", "alike"}  # what the many have in common, and what takes one or many
MODULES = [entry.name for entry in pkgutil.iter_modules(rows.__path__) if entry.name not in SHARED]


def functions(module: ModuleType) -> dict[str, list[str]]:
    """Public functions of a module, with their parameters."""
    return {
        name: list(inspect.signature(thing).parameters)
        for name, thing in vars(module).items()
        if inspect.isfunction(thing) and thing.__module__ == module.__name__ and not name.startswith("_")
    }


def test_every_module_of_many_has_one_of_the_same_name_for_one() -> None:
    assert set(MODULES) <= {entry.name for entry in pkgutil.iter_modules(one.__path__)}
    assert {"charge", "discharge", "constant_power"} <= set(MODULES)


@pytest.mark.parametrize("name", ["charge", "discharge"])
def test_every_solver_of_many_is_named_after_that_of_one_and_takes_the_same(name: str) -> None:
    single = functions(import_module(f"ampstead.cell.one.{name}"))
    for called, takes in functions(import_module(f"ampstead.cell.rows.{name}")).items():
        twin = called.removesuffix("s") if called.endswith("s") else called.removesuffix("_many")
        assert twin in single, called
        for parameter in single[twin]:
            assert parameter == "pack" or f"{parameter}s" in takes or parameter in takes, (called, parameter)


def test_results_of_many_carry_the_names_of_those_of_one() -> None:
    names = {*(entry.name for entry in fields(Charge)), *vars(Charge)}
    assert {entry.name for entry in fields(Charges) if not entry.name.endswith("_then")} <= names
    assert {entry.name for entry in fields(LoadedMany)} <= {entry.name for entry in fields(Loaded)} | {"possible"}

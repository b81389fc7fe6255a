"""Lists with an entry per cell: as long as the pack has cells, and as each other, or an error on both fields."""

from typing import Any

import pytest
from reference.asking import client, refusals

from ampstead.calculators import registry
from ampstead.declare import Items, Quantity

LISTS: dict[str, list[Any]] = {
    "cell_resistance": ["4.2 mΩ", "8 mΩ"],
    "polarisation_resistance": ["3 mΩ", "4 mΩ"],
    "capacity": ["3700 mAh", "1500 mAh"],
    "cell_voltages": ["3.8 V", "3.9 V"],
    "cell_mass": ["40 g", "41 g"],
}
QUESTIONS: dict[str, dict[str, Any]] = {
    "charge-current": {"capacity": "3700 mAh"},
    "sag": {"capacity": "3700 mAh", "current": "10 A"},
    "safe-draw": {"capacity": "3700 mAh", "cell_resistance": "4.2 mΩ"},
    "wattage": {"capacity": "3700 mAh"},
}
TAKEN = {
    "charge-current": ("cell_resistance", "polarisation_resistance", "capacity", "cell_voltages"),
    "sag": ("cell_resistance", "polarisation_resistance", "capacity", "cell_voltages"),
    "safe-draw": ("cell_resistance", "polarisation_resistance", "capacity", "cell_mass"),
    "wattage": ("capacity",),
}


@pytest.mark.parametrize(("calculator", "name"), [(calculator, name) for calculator in TAKEN for name in
                                                  TAKEN[calculator]])  # fmt: skip
def test_a_list_that_does_not_fit_the_cells_is_an_error_on_both(calculator: str, name: str) -> None:
    question = QUESTIONS[calculator] | {"cells": 3, name: LISTS[name]}
    assert refusals(calculator, **question) == {("cells", "wrong_length"), (name, "wrong_length")}


@pytest.mark.parametrize("calculator", ["charge-current", "sag", "safe-draw"])
def test_two_lists_that_differ_are_an_error_on_both(calculator: str) -> None:
    question = QUESTIONS[calculator] | {"capacity": ["3700 mAh"] * 3, "cell_resistance": LISTS["cell_resistance"]}
    assert refusals(calculator, **question) == {("capacity", "wrong_length"), ("cell_resistance", "wrong_length")}


def in_one_text(entry: Any) -> Any:
    """What the values of a list that an address gives in one text are; None where it has no such form."""
    spec = entry.spec
    if isinstance(spec, Items):
        spec = entry.item.inputs[spec.shorthand].spec if spec.shorthand else None
    return spec if entry.many and isinstance(spec, Quantity) else None


@pytest.mark.parametrize(
    ("calculator", "name"),
    [(each.name, name) for each in registry().values() for name, entry in each.inputs.items() if in_one_text(entry)],
)
def test_a_list_without_its_commas_is_refused_with_the_cure(calculator: str, name: str) -> None:
    spec = in_one_text(registry()[calculator].inputs[name])
    unit = spec.unit
    for lacking, cure in (
        (f"11 6 {unit}", f"11,6 {unit}"),
        (f"11{unit} 6{unit} 5{unit}", f"11{unit},6{unit},5{unit}"),
    ):
        errors = client().get(f"/v1/{calculator}", query_string={name: lacking}).get_json()["errors"]
        told = [error["message"] for error in errors if error["field"].startswith(name)]
        assert told == [f'{name} must have commas between the values: write "{cure}"']

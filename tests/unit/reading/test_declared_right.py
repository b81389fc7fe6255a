"""What a declaration misspells is told when it is read, not when it is answered."""

from dataclasses import dataclass
from types import ModuleType
from typing import Annotated

import pytest
from contract.conftest import new_package  # noqa: F401  # a fixture
from contract.kinds import NewPackage

from ampstead.calculators import registry
from ampstead.declare import Count, Group, Quantity, derived, group_inputs

GLIDER = '''
"""A calculator made for a test."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

from ampstead.declare import Band, Caution, Number
from ampstead.judging.cautions import caution

ASKED = "Is it read?"
WHEN = ("back home", 1)
SOURCES = ("made for a test",)
EXAMPLES = ({"number": 4},)


@dataclass(frozen=True, kw_only=True)
class Glider:
    half: Annotated[float, Number("Half of it.")]


def glider(*, number: Annotated[float, Number("Any number.", example=4)]) -> Glider:
    """Half of a number."""
    return Glider(half=number / 2)


def sentence(answer: Glider) -> str:
    return "It is."


def cautions(answer: Glider) -> Iterator[Caution]:
    if answer.half > 1e9:
        yield caution("CODE")


def edges(answer: Glider) -> Iterator[Band]:
    if answer.half > 1e9:
        yield Band("RESULT", 0.0, 1.0, "made for a test")


def accuracy(answer: Glider) -> Iterator[Band]:
    yield from edges(answer)
'''


@dataclass(frozen=True, kw_only=True)
class Airframe:
    """Shared inputs."""

    cells: Annotated[int, Count("Cells.")] = 4
    span: Annotated[float | None, Quantity("m", "Span.")] = None
    chord: Annotated[float | None, Quantity("m", "Chord.")] = derived(lambda span: span, "as the span")


@pytest.mark.parametrize(
    "group",
    [
        Group(name="frame", only=("cels",)),
        Group(name="frame", omit=("cels",)),
        Group(name="frame", require=("cels",)),
        Group(name="frame", defaults={"cels": 3}),
        Group(name="frame", omit=("cells",), require=("cells",)),
        Group(name="frame", only=("span",), defaults={"cells": 3}),
    ],
)
def test_a_group_that_names_what_it_does_not_take_is_refused(group: Group) -> None:
    with pytest.raises(TypeError, match="frame takes no c"):
        group_inputs("frame", Airframe, group)


def test_what_a_group_requires_has_no_plain_default_left() -> None:
    inputs = group_inputs("frame", Airframe, Group(name="frame", require=("cells", "chord")))
    assert inputs["cells"].required
    assert not isinstance(inputs["cells"].default, int)
    assert inputs["chord"].required, "one that may follow from others stays"
    assert inputs["chord"].default is Airframe.__dataclass_fields__["chord"].default


@pytest.mark.parametrize(
    ("code", "result", "said"),
    [
        ("never-alone", "half", None),
        ("never-alon", "half", "no caution never-alon"),
        ("never-alone", "whole", "band of whole"),
    ],
)
def test_a_caution_or_a_band_that_cannot_be_is_told_at_import(
    code: str,
    result: str,
    said: str | None,
    new_package: NewPackage,  # noqa: F811
) -> None:
    package: ModuleType = new_package({"glider": GLIDER.replace("CODE", code).replace("RESULT", result)})
    if said is None:
        assert list(registry(package)) == ["glider"]
    else:
        with pytest.raises(TypeError, match=said):
            registry(package)

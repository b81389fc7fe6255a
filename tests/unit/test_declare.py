"""Declarations: what a signature says, read once, and held to when a question is completed."""

import sys
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import permutations
from types import ModuleType
from typing import Annotated, Any, ClassVar, Literal, TypeVar

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from typing_extensions import TypeAliasType

from ampstead.calculators import registry
from ampstead.declare import (
    NOTHING,
    Bounds,
    Calculator,
    Choice,
    Count,
    Extensible,
    Flag,
    Floats,
    Fraction,
    Group,
    Items,
    Number,
    OneOf,
    Quantity,
    Rate,
    Text,
    calculator,
    derived,
    item_type,
)
from ampstead.errors import FieldError, Refusal
from ampstead.reading.plan import plan


@dataclass(frozen=True, kw_only=True)
class Answer:
    total: Annotated[float, Number("Sum.")]
    part: Annotated[Floats | None, Quantity("V", "Parts; none without any.")] = None


Declared = Callable[..., Calculator]


@dataclass(frozen=True)
class Asked:
    """A question as read, and what its calculator is given."""

    given: Mapping[str, Any]
    assumed: Mapping[str, Any]
    arguments: Mapping[str, Any]


def question(declaration: Calculator, raw: Mapping[str, Any]) -> Asked:
    asked = plan(declaration).read(raw)
    return Asked(asked.given, asked.assumed, plan(declaration).arguments(asked))


@pytest.fixture
def declared() -> Iterator[Declared]:
    """A calculator from a function, as if it stood in a file of its own."""
    made: list[str] = []

    def of(function: Callable[..., Any], **parts: Any) -> Calculator:
        module = ModuleType(f"made_for_a_test.{function.__name__}")
        setattr(module, function.__name__, function)
        parts = {
            "sentence": lambda answer: "It is.",
            "ASKED": "What is it?",
            "WHEN": ("back home", 1),
            "SOURCES": ("none",),
            "EXAMPLES": ({},),
            **parts,
        }
        for name, part in parts.items():
            setattr(module, name, part)
        sys.modules[module.__name__] = module
        made.append(module.__name__)
        return calculator(module)

    yield of
    for name in made:
        sys.modules.pop(name, None)


def told(declaration: Calculator, **raw: Any) -> set[tuple[str, str]]:
    with pytest.raises(Refusal) as refused:
        question(declaration, raw)
    return {(error.field, error.code) for error in refused.value.errors}


@pytest.mark.parametrize(
    ("bounds", "value", "broken"),
    [
        (Bounds(above=0), 0.0, "above 0"),
        (Bounds(above=0), 5e-324, None),
        (Bounds(at_least=0), 0.0, None),
        (Bounds(at_least=0), -1e-300, "at least 0"),
        (Bounds(below=1), 1.0, "below 1"),
        (Bounds(below=1), 1 - 1e-16, None),
        (Bounds(at_most=1), 1.0, None),
        (Bounds(at_most=0.02), 4.16 - 4.14, None),  # 0.020000000000000462: contract, section 4
        (Bounds(at_most=1), 1 + 1e-8, "at most 1"),
        (Bounds(at_least=10, at_most=20), 9, "at least 10"),
        (Bounds(at_least=10, at_most=20), 21, "at most 20"),
        (Bounds(), 1e308, None),
    ],
)
def test_a_bound_holds_with_a_slack_of_a_billionth(bounds: Bounds, value: float, broken: str | None) -> None:
    assert bounds.broken(value, float) == broken


@given(st.floats(1e-6, 1e6), st.floats(-0.5, 0.5))
def test_inclusive_bounds_give_way_by_the_slack_and_no_more(limit: float, off: float) -> None:
    low, high = Bounds(at_least=limit), Bounds(at_most=limit)
    assert high.broken(limit * (1 + off * 1e-9), float) is None
    assert low.broken(limit * (1 + off * 1e-9), float) is None
    assert high.broken(limit * (1 + 3e-9), float)
    assert low.broken(limit * (1 - 3e-9), float)


def test_a_bound_with_a_unit_is_held_in_si_and_told_as_written() -> None:
    capacity = Quantity("mAh", "Capacity.", at_least="10 mAh", at_most="200 Ah")
    assert capacity.broken(36.0, capacity.si) is None
    assert capacity.broken(35.9, capacity.si) == "at least 10 mAh"
    assert capacity.broken(720001.0, capacity.si) == "at most 200 Ah"
    temperature = Quantity("°C", "Temperature.", at_least="-20 °C")
    assert temperature.broken(253.15, temperature.si) is None
    assert temperature.broken(253.1, temperature.si) == "at least -20 °C"


def chained(
    *,
    last: Annotated[float, Number("Last.", at_most=99)] = derived(lambda middle, first: middle + first, "the sum"),
    middle: Annotated[float, Number("Middle.", at_most=99)] = derived(lambda first: 10 * first, "ten times"),
    first: Annotated[float, Number("First.", at_most=9)] = 2.0,
) -> Answer:
    """Three numbers."""
    return Answer(total=last)


def test_derived_defaults_follow_in_order_of_dependence_whatever_their_place(declared: Declared) -> None:
    declaration = declared(chained)
    asked = question(declaration, {})
    assert asked.arguments == {"last": 22.0, "middle": 20.0, "first": 2.0}
    assert asked.assumed == asked.arguments
    assert asked.given == {}
    assert question(declaration, {"first": 3}).arguments == {"last": 33.0, "middle": 30.0, "first": 3.0}
    asked = question(declaration, {"middle": 5})
    assert (asked.arguments["last"], dict(asked.assumed)) == (7.0, {"last": 7.0, "first": 2.0})


def test_assumed_stands_in_the_order_declared(declared: Declared) -> None:
    assert list(question(declared(chained), {}).assumed) == ["last", "middle", "first"]


@pytest.mark.parametrize("order", list(permutations("abc")))
def test_a_circle_of_derived_defaults_is_refused(order: tuple[str, ...], declared: Declared) -> None:
    following = dict(zip(order, order[1:] + order[:1], strict=True))
    defaults = {
        "a": eval(f"lambda {following['a']}: 1"),
        "b": eval(f"lambda {following['b']}: 1"),
        "c": eval(f"lambda {following['c']}: 1"),
    }

    def circle(
        *,
        a: Annotated[float, Number("A.")] = derived(defaults["a"], "from another"),
        b: Annotated[float, Number("B.")] = derived(defaults["b"], "from another"),
        c: Annotated[float, Number("C.")] = derived(defaults["c"], "from another"),
    ) -> Answer:
        """A circle."""
        return Answer(total=a + b + c)

    with pytest.raises(TypeError, match=r"circle.*a.*b.*c"):
        question(declared(circle), {})


def test_a_derived_default_of_what_failed_is_not_told_as_a_fault_of_its_own(declared: Declared) -> None:
    assert told(declared(chained), first="much") == {("first", "not_a_number")}


def test_a_derived_default_of_none_is_not_assumed(declared: Declared) -> None:
    def maybe(
        *,
        given: Annotated[float | None, Number("Given.")] = None,
        twice: Annotated[float | None, Number("Twice.")] = derived(
            lambda given: None if given is None else 2 * given, "twice"
        ),
    ) -> Answer:
        """Maybe."""
        return Answer(total=0.0)

    declaration = declared(maybe)
    assert question(declaration, {}).assumed == {}
    assert question(declaration, {"given": 2}).assumed == {"twice": 4.0}


def choosing(
    *,
    current: Annotated[float | None, Quantity("A", "Current.", above=0, example="1 A")] = None,
    rate: Annotated[float | None, Rate("Rate.", above=0)] = None,
    power: Annotated[float, Quantity("W", "Power.", above=0)] = 5.0,
) -> Answer:
    """One of three."""
    return Answer(total=0.0)


def test_one_of_refuses_two_on_every_field_and_drops_the_default_of_the_rest(declared: Declared) -> None:
    declaration = declared(choosing, RULES=(OneOf("current", "rate", "power"),))
    assert question(declaration, {}).assumed == {"power": 5.0}
    assert question(declaration, {"rate": "2C"}).assumed == {}
    assert told(declaration, rate=1, power="3 W") == {("rate", "conflict"), ("power", "conflict")}
    everything = {"rate": 1, "power": "3 W", "current": "1 A"}
    assert told(declaration, **everything) == {(name, "conflict") for name in everything}


def test_one_of_tells_a_conflict_even_with_an_input_that_cannot_be_read(declared: Declared) -> None:
    declaration = declared(choosing, RULES=(OneOf("current", "rate"),))
    assert told(declaration, rate=1, current=1) == {
        ("current", "unit_missing"),
        ("rate", "conflict"),
        ("current", "conflict"),
    }


def test_one_of_that_is_required_names_the_first(declared: Declared) -> None:
    declaration = declared(choosing, RULES=(OneOf("current", "rate", required=True),))
    assert told(declaration) == {("current", "missing")}
    assert question(declaration, {"rate": 1}).given == {"rate": 1.0}


def test_one_of_is_narrowed_to_what_a_calculator_takes() -> None:
    rule = OneOf("state_of_charge", "rest_voltage", "cell_voltages")
    assert rule.among(["cell_voltages", "rest_voltage"]) == OneOf("rest_voltage", "cell_voltages")
    assert rule.among(["cell_voltages"]) is None


def odd(cells: int, given: set[str]) -> Iterator[FieldError]:
    if cells % 2 and "cells" in given:
        yield FieldError("cells", "conflict", "cells must be even")


def long(cells: int, tail: float | None = None) -> Iterator[FieldError]:
    if tail is not None and tail > cells:
        yield FieldError("tail", "conflict", "tail is too long")


def absent(cells: int, rudder: float) -> Iterator[FieldError]:
    yield FieldError("rudder", "missing", "rudder is missing")


@dataclass(frozen=True, kw_only=True)
class Airframe:
    """Shared inputs."""

    cells: Annotated[int, Count("Cells.", at_least=1, at_most=9)] = 4
    span: Annotated[float | None, Quantity("m", "Span.", above=0)] = None
    tail: Annotated[float | None, Number("Tail.")] = None

    RULES: ClassVar = (OneOf("span", "tail"),)
    CHECKS: ClassVar = (odd, long, absent)


def flown(*, frame: Annotated[Airframe, Group(name="frame", omit=("tail",), require=("span",))]) -> Answer:
    """Flown."""
    return Answer(total=float(frame.cells))


def test_a_group_is_expanded_flat_and_handed_over_whole(declared: Declared) -> None:
    declaration = declared(flown)
    assert list(declaration.inputs) == ["cells", "span"]
    assert {entry.group for entry in declaration.inputs.values()} == {"frame"}
    asked = question(declaration, {"span": "150 cm"})
    assert asked.arguments == {"frame": Airframe(cells=4, span=1.5, tail=None)}
    assert told(declaration) == {("span", "missing")}
    assert told(declaration, span="1 m", tail=1) == {("tail", "unknown")}


def test_a_groups_defaults_may_be_others_and_a_part_be_taken(declared: Declared) -> None:
    def hovered(
        *, frame: Annotated[Airframe, Group(name="frame", only=("cells", "tail"), defaults={"cells": 6, "tail": 2.0})]
    ) -> Answer:
        """Hovered."""
        return Answer(total=0.0)

    asked = question(declared(hovered), {})
    assert asked.assumed == {"cells": 6, "tail": 2.0}


def test_a_groups_rules_and_checks_go_with_the_inputs_taken(declared: Declared) -> None:
    declaration = declared(flown)
    assert declaration.rules == ()
    assert declaration.checks == (odd, long), "one that needs an input not taken is left out"
    assert told(declaration, span="1 m", cells=3) == {("cells", "conflict")}


def test_a_check_waits_until_what_it_looks_at_can_be_read(declared: Declared) -> None:
    assert told(declared(flown), span="1 m", cells="three") == {("cells", "not_a_number")}


@dataclass(frozen=True, kw_only=True)
class Wing(Extensible):
    area: Annotated[float | None, Quantity("mm²", "Area.", above=0)] = None
    panels: Annotated[int, Count("Panels.", at_least=1)] = 2


def test_an_input_declared_again_says_its_default_or_that_it_has_none() -> None:
    with pytest.raises(TypeError, match="Silent declares area again"):

        @dataclass(frozen=True, slots=True, kw_only=True)
        class Silent(Wing):
            area: Annotated[float | None, Quantity("mm²", "Area.", above=0)]
            panels: Annotated[int, Count("Panels.", at_least=1)] = 3

    @dataclass(frozen=True, slots=True, kw_only=True)
    class Said(Wing):
        area: Annotated[float | None, Quantity("mm²", "Area.", above=0)] = field()
        panels: Annotated[int, Count("Panels.", at_least=1)] = 3
        name: Annotated[str, Text("Name.")]

    inputs = item_type(Said).inputs
    assert [name for name, entry in inputs.items() if entry.required] == ["area", "name"]
    assert inputs["panels"].default == 3


@dataclass(frozen=True, kw_only=True)
class Part:
    """One part."""

    name: Annotated[str | None, Text("Name.", longest=5)] = None
    mass: Annotated[float, Quantity("g", "Mass.", at_least=0, example="40 g")]
    share: Annotated[float, Fraction("Share.", at_least=0, at_most=1)] = derived(
        lambda mass: None if mass is None else 1.0 if mass > 1 else 0.5, "by mass"
    )


def built(*, parts: Annotated[list[Part], Items("Parts.", shorthand="mass", example="40 g,2 kg")]) -> Answer:
    """Built."""
    return Answer(total=sum(part.mass for part in parts))


def test_items_are_read_from_objects_quantities_and_text(declared: Declared) -> None:
    declaration = declared(built)
    for parts in ([{"mass": "40 g"}, "2 kg"], "40 g,2 kg", "40,2000 g", [{"value": 40, "unit": "g"}, {"mass": "2 kg"}]):
        read = question(declaration, {"parts": parts}).arguments["parts"]
        assert [(part.mass, part.share) for part in read] == [(0.04, 0.5), (2.0, 1.0)], parts


def test_items_tell_every_fault_by_its_place(declared: Declared) -> None:
    parts: list[Any] = [{"mass": 40}, {"mass": "1 g", "name": "rudder"}, "1 V", 7, {"mass": "1 g", "colour": 1}, {}]
    assert told(declared(built), parts=parts) == {
        ("parts[0].mass", "unit_missing"),
        ("parts[1].name", "wrong_length"),
        ("parts[2].mass", "wrong_dimension"),
        ("parts[3].mass", "unit_missing"),
        ("parts[4].colour", "unknown"),
        ("parts[5].mass", "missing"),
    }


@pytest.mark.parametrize("parts", [[], ["1 g"] * 65, {"mass": "1 g"}, 3])
def test_items_are_a_list_of_one_to_sixty_four(parts: Any, declared: Declared) -> None:
    assert told(declared(built), parts=parts) == {("parts", "wrong_length")}


def test_an_item_is_read_once_for_both_directions() -> None:
    made = item_type(Part)
    assert list(made.inputs) == list(made.results) == ["name", "mass", "share"]
    assert made.results["name"].nullable
    assert made.inputs["mass"].required


def test_hints_tell_lists_options_and_what_may_be_null(declared: Declared) -> None:
    def mixed(
        *,
        each: Annotated[Floats, Quantity("V", "Each.")],
        either: Annotated[float | Floats | None, Quantity("V", "Either.")] = None,
        word: Annotated[Literal["up", "down"], Choice("Way.")] = "up",
        rested: Annotated[bool, Flag("Rested.")] = True,
    ) -> Answer:
        """Mixed."""
        return Answer(total=0.0)

    inputs = declared(mixed).inputs
    assert [(entry.one, entry.many, entry.required) for entry in inputs.values()] == [
        (False, True, True),
        (True, True, False),
        (True, False, False),
        (True, False, False),
    ]
    assert isinstance(inputs["word"].spec, Choice)
    assert inputs["word"].spec.options == ("up", "down")
    assert inputs["either"].default is NOTHING
    results = declared(mixed).results
    assert (results["part"].many, results["part"].nullable, results["total"].nullable) == (True, True, False)
    asked = question(declared(mixed), {"each": "1 V", "either": "2 V,3 V", "word": "DOWN"})
    assert np.array_equal(asked.arguments["each"], [1.0])
    assert np.array_equal(asked.arguments["either"], [2.0, 3.0])
    assert asked.arguments["word"] == "down"


@pytest.mark.parametrize("hint", [float, Annotated[float, "a length"]])
def test_a_hint_without_a_meaning_is_refused_by_its_name(hint: Any, declared: Declared) -> None:
    def bare(*, span: float) -> Answer:
        """Bare."""
        return Answer(total=span)

    bare.__annotations__["span"] = hint
    with pytest.raises(TypeError, match=r"^span carries no meaning: annotate it"):
        declared(bare)
    del bare.__annotations__["span"]
    with pytest.raises(TypeError, match=r"^span carries no meaning: annotate it"):
        declared(bare)


@pytest.mark.parametrize(
    ("spec", "told"),
    [
        ({"unit": "amps"}, "^'amps' is no unit that answers carry: they are A, "),
        ({"unit": "A", "at_most": "5 V"}, "^a bound or the example of 'Drawn.' cannot be read: it takes a current"),
        ({"unit": "A", "above": "5"}, "^a bound or the example of 'Drawn.' cannot be read: it needs a unit"),
    ],
)
def test_a_unit_or_a_bound_that_is_none_is_refused_where_it_stands(spec: dict[str, Any], told: str) -> None:
    with pytest.raises(TypeError, match=told):
        Quantity(meaning="Drawn.", **spec)


@pytest.mark.parametrize(
    ("part", "told"),
    [
        ({"sentence": lambda answer, *, sppan: "It is."}, r"sentence\(\) names sppan, which is no input"),
        ({"cautions": lambda answer, sppan, given: ()}, r"cautions\(\) names sppan, which is no input"),
        ({"RULES": (OneOf("first", "sppan"),)}, r"a rule of RULES, .* names sppan, which is no input"),
        ({"CHECKS": (lambda sppan: iter(()),)}, r"names sppan, which is no input"),
        ({"SOURCES": "none"}, "SOURCES is one alone"),
        ({"EXAMPLES": {"first": "1 V"}}, "EXAMPLES is one alone"),
    ],
)
def test_what_a_file_tells_of_inputs_that_there_are_not_is_refused_at_once(
    part: dict[str, Any], told: str, declared: Declared
) -> None:
    assert "first" in declared(chained).inputs
    with pytest.raises(TypeError, match=told):
        declared(chained, **part)


def test_a_picture_needs_a_curve_to_draw(declared: Declared) -> None:
    with pytest.raises(TypeError, match="no curve"):
        declared(chained, picture=lambda answer: None)


@pytest.mark.parametrize("declaration", registry().values(), ids=registry())
def test_every_default_lies_within_its_own_bounds(declaration: Calculator) -> None:
    for name, entry in declaration.inputs.items():
        if isinstance(entry.spec, Bounds) and isinstance(entry.default, int | float):
            si = entry.spec.si if isinstance(entry.spec, Quantity) else float
            assert entry.spec.broken(entry.default, si) is None, name
        if isinstance(entry.spec, Choice) and entry.default is not NOTHING:
            assert entry.default in entry.spec.options or not isinstance(entry.default, str), name


def test_a_list_is_known_by_whatever_name_numpy_gives_its_arrays() -> None:
    scalar = TypeVar("scalar", bound=np.generic)
    named = TypeAliasType("named", np.ndarray[Any, np.dtype[scalar]], type_params=(scalar,))

    @dataclass(frozen=True)
    class Asked:
        voltages: Annotated[float | named[np.float64], Quantity("V", "Of each cell.")]  # type: ignore[valid-type]

    read = item_type(Asked).inputs["voltages"]
    assert (read.one, read.many) == (True, True)

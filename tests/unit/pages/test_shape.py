"""A form's shape follows from what excludes what."""

from collections.abc import Iterator

from hypothesis import given
from hypothesis import strategies as st

from ampstead.declare import OneOf
from ampstead.pages.shape import Choice, Node, nodes

NAMES = "abcdef"


def leaves(made: tuple[Node, ...]) -> Iterator[str]:
    for node in made:
        if isinstance(node, Choice):
            for way in node.ways:
                yield from leaves(way)
        else:
            yield node


def test_inputs_that_exclude_each_other_are_ways_and_those_beside_each_other_are_one_way() -> None:
    rules = (OneOf("cells", "voltage", asked="What is charged?"), OneOf("capacity", "voltage"))
    assert nodes(("cells", "capacity", "voltage", "rate"), rules) == (
        Choice("What is charged?", (("cells", "capacity"), ("voltage",))),
        "rate",
    )


def test_a_way_may_hold_a_choice_of_its_own() -> None:
    full = OneOf("state", "rest", asked="How full is it?")
    rules = (OneOf("packs", "cells"), OneOf("packs", "state"), OneOf("packs", "rest"), full)
    (choice,) = nodes(("packs", "cells", "state", "rest"), rules)
    assert choice == Choice("", (("packs",), ("cells", Choice("How full is it?", (("state",), ("rest",))))))


@given(st.lists(st.lists(st.sampled_from(NAMES), min_size=2, max_size=4, unique=True), max_size=6))
def test_whatever_excludes_what_every_input_stands_in_the_form_once(excluded: list[list[str]]) -> None:
    assert sorted(leaves(nodes(tuple(NAMES), tuple(OneOf(*names) for names in excluded)))) == list(NAMES)

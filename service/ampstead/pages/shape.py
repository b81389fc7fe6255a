"""The shape of a form, which follows from a calculator's declaration: what is asked first, and what stands for what.

Inputs that exclude each other are a question with several ways to answer it. The parts that are connected by exclusions
are such questions; the parts of one that are connected by *not* excluding each other are its ways, and each way is
taken apart again. So ``cells`` and ``capacity`` come out as one way, and ``voltage`` as the other.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from ampstead.declare import Calculator, Input, ItemType, OneOf


@dataclass(frozen=True)
class Choice:
    """A question with several ways to answer it, each a row of inputs and further choices."""

    asked: str
    ways: tuple[tuple["Node", ...], ...]


Node = str | Choice
Owner = Calculator | ItemType


@lru_cache(maxsize=256)
def first_inputs(owner: Owner, example: frozenset[str]) -> frozenset[str]:
    """The inputs that a form shows at once: what must be given, what the first example gives, the chemistry, and
    whatever stands for one of these."""
    inputs = owner.inputs
    first = {
        name for name, entry in inputs.items() if entry.required or name in example or name in ("chemistry", "name")
    }
    first |= {name for rule in owner.rules if rule.required for name in rule.names}
    asked = frozenset(first)
    for rule in owner.rules:
        if asked & rule.members:
            first |= {name for name in rule.names if not inputs[name].spec.aside}
    return frozenset(first & inputs.keys())


@lru_cache(maxsize=1024)
def nodes(names: tuple[str, ...], rules: tuple[OneOf, ...]) -> tuple[Node, ...]:
    """The names in their order, those that exclude each other gathered into choices."""
    ordered = names
    opposed = {
        name: {
            other
            for rule in rules
            if name in rule.members
            for other in rule.names
            if other != name and other in ordered
        }
        for name in ordered
    }
    made: list[Node] = []
    for part in _connected(ordered, opposed):
        if len(part) == 1:
            made.append(part[0])
            continue
        allied = {name: set(part) - opposed[name] - {name} for name in part}
        ways = _connected(part, allied)
        if len(ways) == 1:  # no way stands apart from the others: each input says by itself what it excludes
            made += part
        else:
            made.append(Choice(_question(ways, rules), tuple(nodes(way, rules) for way in ways)))
    return tuple(made)


def _connected(names: tuple[str, ...], neighbours: Mapping[str, set[str]]) -> list[tuple[str, ...]]:
    """The connected parts, each in the order of the names."""
    left, parts = list(names), []
    while left:
        reached, front = set(), {left[0]}
        while front:
            reached |= front
            front = {other for name in front for other in neighbours[name]} - reached
        parts.append(tuple(name for name in names if name in reached))
        left = [name for name in left if name not in reached]
    return parts


def _question(ways: list[tuple[str, ...]], rules: tuple[OneOf, ...]) -> str:
    """What the ways all answer: the question of the widest rule between them, none within one, that asks one."""
    part = {name for way in ways for name in way}
    asking = [
        rule
        for rule in rules
        if rule.asked and rule.members <= part and not any(rule.members <= set(way) for way in ways)
    ]
    return max(asking, key=lambda rule: len(rule.names)).asked if asking else ""


def labelled(entry: Input) -> str:
    """A label with its first letter large."""
    return entry.label[:1].upper() + entry.label[1:]

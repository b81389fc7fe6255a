"""Where to ask on about a pack: other calculators, each with what is known of the pack."""

from collections.abc import Mapping
from functools import lru_cache

from ampstead.declare import MOMENTS, Calculator
from ampstead.errors import Refusal
from ampstead.pages import typed
from ampstead.reading.plan import plan
from ampstead.replying.beyond.overview import CURRENT_BEFORE_FLIGHT, NAMED

MISSING = "missing"


def others(
    besides: Calculator, calculators: Mapping[str, Calculator], facts: Mapping[str, str], most: int
) -> list[tuple[Calculator, str]]:
    """Other calculators that can be asked about the same pack, each with the facts that it takes as a query; those
    that lack least come first."""
    written = {name: typed.address({"": value}) for name, value in facts.items()}
    found = _asked_on(besides, tuple(calculators.values()), frozenset(facts), facts.get("chemistry", "lipo"))
    return [
        (other, "&".join([f"{name}{written[fact]}" for name, fact in taken.items()])) for other, taken in found[:most]
    ]


@lru_cache(maxsize=512)
def _asked_on(
    besides: Calculator, calculators: tuple[Calculator, ...], facts: frozenset[str], chemistry: str
) -> list[tuple[Calculator, Mapping[str, str]]]:
    found = []
    for other in calculators:
        taken = _named(other, facts)
        if other is besides or taken.keys() <= {"chemistry"} or _refused(other, chemistry):
            continue
        lacking = len(_needed(other).difference(taken))
        found.append((lacking, MOMENTS.index(other.when.moment), other.when.place, other.name, other, taken))
    found.sort(key=lambda each: each[:4])
    return [(other, taken) for *_, other, taken in found]


@lru_cache(maxsize=512)
def _named(other: Calculator, facts: frozenset[str]) -> Mapping[str, str]:
    """The facts that stand for a calculator's inputs, as in an overview."""
    own, made = NAMED.get(other.name, {}), {}
    for name, entry in other.inputs.items():
        fact = next((fact for fact in own.get(name, (name,)) if fact in facts), None)
        if fact is not None and not entry.item:
            made[name] = fact
    if {"current", "typical_current"} & made.keys():
        for name in CURRENT_BEFORE_FLIGHT:
            made.pop(name, None)
    return made


@lru_cache(maxsize=64)
def _needed(other: Calculator) -> frozenset[str]:
    """All that a calculator must be told."""
    return frozenset(name for name, entry in other.inputs.items() if entry.required)


@lru_cache(maxsize=512)
def _refused(other: Calculator, chemistry: str) -> bool:
    """Whether another calculator takes no pack of this chemistry; what is only missing can be told."""
    try:
        plan(other).read({"chemistry": chemistry} if "chemistry" in other.inputs else {})
    except Refusal as refusal:
        return any(error.code != MISSING for error in refusal.errors)
    return False

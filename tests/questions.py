"""Questions made from the declarations: within bounds, units and rules, near the examples or anywhere.

Whoever draws is a ``Random``: Python's own where there are thousands to make, since hypothesis takes many times as
long; that of hypothesis (``strategies.randoms``) where a failure is to be made small.
"""

from random import Random
from typing import Any

from ampstead.declare import (
    Bounds,
    Calculator,
    Choice,
    Count,
    Flag,
    Fraction,
    Input,
    ItemType,
    Number,
    Quantity,
    Rate,
    Text,
)
from ampstead.units import quantity

EDGES = 0.08
"""How often a number stands at either of its bounds."""
LETTERS = (
    "abcdefghijklmnopqrstuvwxyz",
    "ABCDEFGHIJKLMNOPQRSTUVWXYZ 0123456789",
    " .,;:#-_'&<>%/(){}",
    "éßΩµжπ漢٣½²\u00a0🛩",
)


def number(chance: Random, spec: Bounds, example: float | None, to_si: Any, near: bool) -> float:
    """One within a spec's bounds: near its example, or anywhere, evenly over orders of magnitude, or at an edge."""
    edges = [None if bound is None else to_si(bound) for bound in (spec.above, spec.at_least, spec.below, spec.at_most)]
    low = max((edge for edge in edges[:2] if edge is not None), default=-1e3)
    high = min((edge for edge in edges[2:] if edge is not None), default=1e3)
    if near and example is not None:
        return float(min(max(chance.uniform(0.9, 1.1) * example, low), high))
    at = chance.random()
    if at < EDGES and edges[1] is not None:
        return float(low)
    if at > 1 - EDGES:
        return float(high)
    if low < 0:
        return chance.uniform(low, high)
    least = max(low, high * 1e-9)
    return float(min(max(least * (high / least) ** chance.random(), least), high))


def written(chance: Random, spec: Any, near: bool) -> Any:
    """One value in one of the forms that the contract reads."""
    match spec:
        case Quantity():
            si = number(chance, spec, None if spec.example is None else first_of(spec), spec.si, near)
            return in_unit(si, chance.choice(sorted(spec.dimension.scales.items())), chance.random() < 0.5)
        case Count():
            size = chance.randint(int(spec.at_least or 0), int(spec.at_most or 24))
            return chance.choice([size, float(size), str(size)])
        case Rate():
            rate = number(chance, spec, plain(spec), float, near)
            return chance.choice([rate, f"{rate!r}C", f" {rate!r} c "])
        case Fraction():
            part = number(chance, spec, plain(spec), float, near)
            return chance.choice([part, repr(part), f"{part * 100!r} %"])
        case Number():
            size = number(chance, spec, plain(spec), float, near)
            return chance.choice([size, repr(size)])
        case Choice():
            return chance.choice([*spec.options, *(option.upper() for option in spec.options)])
        case Flag():
            return chance.choice([True, False, "true", "False"])
        case Text():
            kinds = chance.choice((LETTERS, LETTERS[:1], LETTERS[1:2]))
            length = min(chance.choice((0, 1, 5, 12, 40)), spec.longest)
            return "".join(chance.choice(chance.choice(kinds)) for _ in range(length))
    raise TypeError(spec)


def plain(spec: Number) -> float | None:
    """A spec's example; of a list, the last."""
    return float(spec.example.rpartition(",")[2]) if isinstance(spec.example, str) else spec.example


def first_of(spec: Quantity) -> float:
    """A spec's example in SI; of a list, the last."""
    assert spec.example is not None
    return quantity(spec.example.rpartition(",")[2], spec.dimension)


def in_unit(si: float, unit: tuple[str, Any], as_object: bool) -> Any:
    name, scale = unit
    value = (si - scale.offset) / scale.factor
    return {"value": value, "unit": name} if as_object else f"{value!r} {name}"


def values(chance: Random, entry: Input, cells: int, near: bool) -> Any:
    if entry.item:
        item = entry.item
        made = [items(chance, item, cells, near) for _ in range(chance.choice((2, 3)) if entry.many else 1)]
        return made if entry.many else made[0]
    if entry.name == "cells":
        return cells
    if isinstance(entry.spec, Text) and entry.required:
        return entry.spec.example  # its own small grammar, such as a gauge's
    if not entry.many or (entry.one and chance.random() < 0.5):
        return written(chance, entry.spec, near)
    length = cells + (chance.random() < 0.1)  # now and then one that the pack does not have
    return [written(chance, entry.spec, near) for _ in range(length)]


def items(chance: Random, owner: Calculator | ItemType, cells: int, near: bool) -> dict[str, Any]:
    """A question, or a nested part of one, that keeps the rules of exclusion."""
    ruled_out: set[str] = set()
    for rule in owner.rules:
        allowed = [name for name in rule.names if name not in ruled_out]
        kept = chance.choice(allowed if rule.required and allowed else [*allowed, None])
        ruled_out |= set(rule.names) - {kept}
    made = {}
    for name, entry in owner.inputs.items():
        if name in ruled_out:
            continue
        needed = entry.required or any(rule.required and name in rule.names for rule in owner.rules)
        if needed or chance.randrange(3) == 0:
            made[name] = values(chance, entry, cells, near)
    return made


LEAD_ALONE = {"peukert", "rated_hours"}


def around(chance: Random, calculator: Calculator) -> dict[str, Any]:
    """One of the declared examples, with some of its inputs near those values and with further ones."""
    example = chance.choice(calculator.examples)
    listed = [value.count(",") + 1 for value in example.values() if isinstance(value, str) and "," in value]
    cells = int(example.get("cells", listed[0] if listed else 4))
    ruled_out = {name for rule in calculator.rules if example.keys() & set(rule.names) for name in rule.names}
    if example.get("chemistry", example.get("source_chemistry")) != "lead":
        ruled_out |= LEAD_ALONE
    made = dict(example)
    for name, entry in calculator.inputs.items():
        near_by = name in example and not entry.item and not entry.many and name != "cells"
        further = name not in example and name not in ruled_out
        if (near_by or further) and chance.randrange(6) == 0:
            made[name] = values(chance, entry, cells, near=True)
            ruled_out |= {other for rule in calculator.rules if name in rule.names for other in rule.names}
    return made


def many(calculator: Calculator, size: int) -> list[dict[str, Any]]:
    """Questions of every kind at once, the same on each run."""
    chance = Random(calculator.name)
    kinds = (
        lambda: around(chance, calculator),
        lambda: items(chance, calculator, chance.randint(1, 6), near=True),
        lambda: items(chance, calculator, chance.randint(1, 6), near=False),
    )
    return [chance.choice(kinds)() for _ in range(size)]

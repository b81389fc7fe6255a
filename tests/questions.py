"""Questions made from the declarations: within bounds, units and rules, near the examples or anywhere."""

from typing import Any

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

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


def numbers(spec: Bounds, example: float | None, to_si: Any, near: bool) -> st.SearchStrategy[float]:
    """Numbers within a spec's bounds: near its example, or anywhere, evenly over orders of magnitude."""
    edges = [None if bound is None else to_si(bound) for bound in (spec.above, spec.at_least, spec.below, spec.at_most)]
    low = max((edge for edge in edges[:2] if edge is not None), default=-1e3)
    high = min((edge for edge in edges[2:] if edge is not None), default=1e3)
    if near and example is not None:
        return st.floats(0.9, 1.1).map(lambda part: min(max(part * example, low), high))
    if low < 0:
        return st.floats(low, high)
    least = max(low, high * 1e-9)
    spread = st.floats(0, 1).map(lambda part: min(max(least * (high / least) ** part, least), high))
    return spread if edges[1] is None else st.one_of(st.just(low), spread)


def written(spec: Any, near: bool) -> st.SearchStrategy[Any]:
    """One value in one of the forms that the contract reads."""
    match spec:
        case Quantity():
            example = None if spec.example is None else first_of(spec)
            return st.builds(
                in_unit,
                numbers(spec, example, spec.si, near),
                st.sampled_from(sorted(spec.dimension.scales.items())),
                st.booleans(),
            )
        case Count():
            low, high = int(spec.at_least or 0), int(spec.at_most or 24)
            return st.integers(low, high).flatmap(lambda size: st.sampled_from([size, float(size), str(size)]))
        case Rate():
            return numbers(spec, plain(spec), float, near).flatmap(
                lambda rate: st.sampled_from([rate, f"{rate!r}C", f" {rate!r} c "])
            )
        case Fraction():
            return numbers(spec, plain(spec), float, near).flatmap(
                lambda part: st.sampled_from([part, repr(part), f"{part * 100!r} %"])
            )
        case Number():
            return numbers(spec, plain(spec), float, near).flatmap(lambda size: st.sampled_from([size, repr(size)]))
        case Choice():
            return st.sampled_from([*spec.options, *(option.upper() for option in spec.options)])
        case Flag():
            return st.sampled_from([True, False, "true", "False"])
        case Text():
            return st.text(max_size=spec.longest)
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


def values(entry: Input, cells: int, near: bool) -> st.SearchStrategy[Any]:
    if entry.item:
        item = items(entry.item, cells, near)
        return st.lists(item, min_size=2, max_size=3) if entry.many else item
    one = written(entry.spec, near)
    if entry.name == "cells":
        return st.just(cells)
    if isinstance(entry.spec, Text) and entry.required:
        return st.just(entry.spec.example)  # its own small grammar, such as a gauge's
    if not entry.many:
        return one
    lengths = st.sampled_from([cells] * 9 + [cells + 1])  # now and then one that the pack does not have
    several = lengths.flatmap(lambda length: st.lists(one, min_size=length, max_size=length))
    return st.one_of(one, several) if entry.one else several


@st.composite
def items(draw: st.DrawFn, owner: Calculator | ItemType, cells: int, near: bool) -> dict[str, Any]:
    """A question, or a nested part of one, that keeps the rules of exclusion."""
    ruled_out: set[str] = set()
    for rule in owner.rules:
        allowed = [name for name in rule.names if name not in ruled_out]
        kept = draw(st.sampled_from(allowed if rule.required and allowed else [*allowed, None]))
        ruled_out |= set(rule.names) - {kept}
    made = {}
    for name, entry in owner.inputs.items():
        if name in ruled_out:
            continue
        needed = entry.required or any(rule.required and name in rule.names for rule in owner.rules)
        if needed or draw(st.integers(0, 2)) == 0:
            made[name] = draw(values(entry, cells, near))
    return made


LEAD_ALONE = {"peukert", "rated_hours"}


@st.composite
def around(draw: st.DrawFn, calculator: Calculator) -> dict[str, Any]:
    """One of the declared examples, with some of its inputs near those values and with further ones."""
    example = draw(st.sampled_from(calculator.examples))
    listed = [value.count(",") + 1 for value in example.values() if isinstance(value, str) and "," in value]
    cells = int(example.get("cells", listed[0] if listed else 4))
    ruled_out = {name for rule in calculator.rules if example.keys() & set(rule.names) for name in rule.names}
    if example.get("chemistry", example.get("source_chemistry")) != "lead":
        ruled_out |= LEAD_ALONE
    made = dict(example)
    for name, entry in calculator.inputs.items():
        near_by = name in example and not entry.item and not entry.many and name != "cells"
        further = name not in example and name not in ruled_out
        if (near_by or further) and draw(st.integers(0, 5)) == 0:
            made[name] = draw(values(entry, cells, near=True))
            ruled_out |= {other for rule in calculator.rules if name in rule.names for other in rule.names}
    return made


def many(calculator: Calculator, size: int) -> list[dict[str, Any]]:
    """Questions of every kind at once, the same on each run."""
    made: list[dict[str, Any]] = []
    kinds = st.one_of(
        around(calculator),
        st.integers(1, 6).flatmap(lambda cells: items(calculator, cells, True)),
        st.integers(1, 6).flatmap(lambda cells: items(calculator, cells, False)),
    )

    @settings(max_examples=size, phases=[Phase.generate], suppress_health_check=list(HealthCheck))
    @given(kinds)
    def put(question: dict[str, Any]) -> None:
        made.append(question)

    put()
    return made

"""Nested names as addresses and tables write them, ``packs[0].cells``, and the question that they stand for."""

import re
from collections.abc import Iterator, Mapping
from typing import Any

from ampstead.declare import MANY, Input, Items
from ampstead.errors import FieldError, clipped

_NESTED = re.compile(r"([^\[\].]+)(?:\[([^\[\]]*)\])?(?:\.(.+))?", re.DOTALL)
_INDEX = re.compile(r"0|[1-9][0-9]{0,8}")
_Parts = dict[int, dict[str, Any]]


def blank(value: Any) -> bool:
    """Whether a value counts as not given."""
    return value is None or (isinstance(value, str) and not value.strip())


def unfolded(raw: Mapping[str, Any], inputs: Mapping[str, Input]) -> tuple[Mapping[str, Any], list[FieldError]]:
    """A question with its nested names put together: ``packs[0].cells`` as the cells of the first of ``packs``.

    The errors tell of a gap, of a wrong count, or of one thing that is told twice.
    """
    if not any("[" in name or "." in name for name in raw):
        return raw, []
    whole: dict[str, Any] = {}
    found: dict[str, _Parts] = {}
    errors: list[FieldError] = []
    for name, value in raw.items():
        matched = _NESTED.fullmatch(name)
        entry = inputs.get(matched[1]) if matched else None
        if matched is None or matched[0] == matched[1] or entry is None or entry.item is None:
            whole[name] = value
        elif fault := _miscounted(name, entry, matched[2], matched[3]):
            errors.append(fault)
        else:
            found.setdefault(entry.name, {}).setdefault(int(matched[2] or 0), {})[matched[3] or ""] = value
    for name, parts in found.items():
        if faults := list(_torn(name, parts, whole.pop(name, None))):
            errors += faults
            continue
        elements = [parts[place].get("", parts[place]) for place in sorted(parts)]
        whole[name] = elements if inputs[name].many else elements[0]
    return whole, list(dict.fromkeys(errors))


def _miscounted(name: str, entry: Input, index: str | None, inner: str | None) -> FieldError | None:
    """What is wrong with a nested name by itself."""
    assert entry.item is not None
    like = next(iter(entry.item.inputs))
    if not entry.many:
        if index is None and inner:
            return None
        return FieldError(clipped(name), "unknown", f"{clipped(name)} cannot be read: write {entry.name}.{like}")
    if index is None or not _INDEX.fullmatch(index):
        said = f"{clipped(name)} cannot be read: count the {entry.name} from 0, like {entry.name}[0].{like}"
        return FieldError(clipped(name), "unknown", said)
    most = entry.spec.most if isinstance(entry.spec, Items) else MANY
    if int(index) >= most:
        said = f"{entry.name} takes 1 to {most} entries, counted from 0; {clipped(name)} was read"
        return FieldError(entry.name, "wrong_length", said)
    return None


def _torn(name: str, parts: _Parts, whole: Any) -> Iterator[FieldError]:
    """What is wrong with the parts together: a gap in their count, or something that is told twice."""
    for place in range(len(parts)):
        if place not in parts:
            path = f"{name}[{place}]"
            yield FieldError(path, "missing", f"{path} is missing: count the {name} from 0 without a gap")
    for place, inner in parts.items():
        if "" in inner and len(inner) > 1:
            path = f"{name}[{place}]"
            yield FieldError(path, "conflict", f"{path} is given both in one and in parts: give it once")
    if not blank(whole):
        yield FieldError(name, "conflict", f"{name} is given both in one and in parts: give it once")


def base(name: str) -> str:
    """The input that a nested name is a part of: ``packs[0].cells`` of ``packs``."""
    matched = _NESTED.fullmatch(name)
    return matched[1] if matched else name


def parts(name: str) -> tuple[str, str] | None:
    """The input of a nested name, and what of it is named: ``packs[0].cells`` is ``packs`` and ``cells``."""
    matched = _NESTED.fullmatch(name)
    return (matched[1], matched[3] or "") if matched else None

"""What a person typed, turned into the one address of the question.

A form names a box after its input, the unit picked beside it ``capacity:unit``, one box of several
``cell_voltages:2``, and one whose unit is fixed ``capacity:mAh``. Nothing is guessed: what cannot be read one way only
is handed on as it is, and refused there.
"""

import re
from collections.abc import Mapping
from typing import Any
from urllib.parse import quote

from ampstead.declare import Choice, Flag, Fraction, Input, Items, Quantity, Rate, Spec
from ampstead.reading.names import parts

Pairs = Mapping[str, str]

_BARE = re.compile(r"[+\-−]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)")
_THOUSANDS = re.compile(r"[+\-−]?[1-9][0-9]{0,2}(?:,[0-9]{3})+")
_SIZED = re.compile(r"\s*([+\-−]?[0-9.,:]+)\s*(\D.*)?", re.DOTALL)
_ROW = re.compile(r"([a-z_]+)\[([0-9]{1,2})\](?:\.(.+))?")
_ASCII = {"mΩ": "mohm", "Ω": "ohm", "°C": "degC", "°F": "degF", "mm²": "mm2", "cm²": "cm2"}
_SHOWN = {plain: shown for shown, plain in _ASCII.items()}
PERCENT, PART = "%", "of 1"
MOST_BOXES = 24


def by_form(pairs: Pairs) -> bool:
    """Whether a query comes from a form, and has a plainer address."""
    return any(":" in name or not value.strip() for name, value in pairs.items())


def question(pairs: Pairs, inputs: Mapping[str, Input]) -> dict[str, str]:
    """The question by the names of its inputs, in their order, blanks left out, rows counted from nought anew."""
    boxes: dict[str, dict[str, str]] = {}
    for name, value in pairs.items():
        base, _, suffix = name.partition(":")
        if value.strip():
            boxes.setdefault(base, {})[suffix] = value.strip()
    told: dict[str, str] = {}
    for base, given in boxes.items():
        entry = input_at(base, inputs)
        unit = given.pop("unit", "")
        for suffix in [each for each in given if each and not each.isdecimal()]:
            unit, given[""] = suffix, given.pop(suffix)
        if given and (text := _text(given, unit, entry.spec if entry else None)):
            told[base] = text
    return _in_order(told, inputs)


def input_at(name: str, inputs: Mapping[str, Input]) -> Input | None:
    """The input that a name, nested or not, stands for."""
    if name in inputs:
        return inputs[name]
    found = parts(name)
    entry = inputs.get(found[0]) if found else None
    return entry.item.inputs.get(found[1]) if found and entry and entry.item else None


def address(told: Pairs) -> str:
    """A question as the query of an address."""
    return "&".join(f"{quote(name, safe='[].')}={quote(value, safe=',:./')}" for name, value in told.items())


def flattened(example: Mapping[str, Any], before: str = "") -> dict[str, str]:
    """A question of JSON by the names that an address has."""
    told: dict[str, str] = {}
    for name, value in example.items():
        path = f"{before}{name}"
        if isinstance(value, Mapping):
            told |= flattened(value, f"{path}.")
        elif isinstance(value, list | tuple) and value and isinstance(value[0], Mapping):
            for place, element in enumerate(value):
                told |= flattened(element, f"{path}[{place}].")
        elif isinstance(value, list | tuple):
            told[path] = ",".join(map(str, value))
        else:
            told[path] = str(value).lower() if isinstance(value, bool) else str(value)
    return {name: plainly(value) for name, value in told.items()}


def plainly(value: str) -> str:
    """A quantity with its unit in letters that every keyboard has, without a blank: ``8.5mohm``."""
    found = _SIZED.fullmatch(value)
    if found is None or not found[2]:
        return value
    return f"{found[1]}{_ASCII.get(found[2].strip(), found[2].strip())}"


def apart(value: str, spec: Spec, many: bool = False) -> tuple[list[str], str]:
    """A value as the boxes of a form show it: the figures, and the unit picked beside them."""
    if isinstance(spec, Quantity):
        if ambiguous(value) and (found := re.fullmatch(r"([0-9,+−-]+)\s*(\D*)", value)):
            return [found[1]], _SHOWN.get(found[2], found[2])
        if not many and "," in value:
            return [value], ""
        pieces = [_SIZED.fullmatch(piece) for piece in value.split(",")] if value else []
        units = [_SHOWN.get(unit, unit) for piece in pieces if piece and (unit := (piece[2] or "").strip())]
        if all(piece or not text.strip() for piece, text in zip(pieces, value.split(","), strict=False)) and units:
            one = set(units) if len(units) == len(pieces) else {units[-1]}
            if len(one) == 1 and (unit := one.pop()) in spec.dimension.offered:
                return [piece[1] if piece else "" for piece in pieces], unit
        return [value], ""
    if isinstance(spec, Fraction):
        return ([value.removesuffix("%").strip()], PERCENT) if value.endswith("%") else ([value], PART)
    if isinstance(spec, Rate):
        return [value.removesuffix("C").removesuffix("c").strip()], ""
    return [value], ""


def ambiguous(value: str) -> str | None:
    """The figure that a comma makes ambiguous, if there is one: ``1,300`` may be 1.3 or 1300."""
    found = _SIZED.fullmatch(value)
    return found[1] if found and _THOUSANDS.fullmatch(found[1]) else None


def blank(value: str) -> int:
    """The first place of a list that holds no figure, from 1; 0 if there is none."""
    pieces = value.split(",")
    return next(
        (place for place, piece in enumerate(pieces, 1) if len(pieces) > 1 and not re.search("[0-9]", piece)), 0
    )


def _text(given: dict[str, str], unit: str, spec: Spec | None) -> str:
    """The text of one input, out of its boxes."""
    each = {int(place): text for place, text in given.items() if place.isdecimal() and int(place) <= MOST_BOXES}
    if "" in given or not each:
        return _united(given.get("", ""), unit, spec)
    texts = [each.get(place, "") for place in range(1, max(each) + 1)]
    if all(_BARE.fullmatch(text) and not _THOUSANDS.fullmatch(text) for text in texts if text) and unit:
        return ",".join(text.replace(",", ".") for text in texts) + _ASCII.get(unit, unit)
    return ",".join(_united(text, unit, spec) if text else "" for text in texts)


def _united(text: str, unit: str, spec: Spec | None) -> str:
    """A figure with the unit picked beside it, a decimal comma as a point; anything else as it is."""
    if isinstance(spec, Choice | Flag | None) or not _BARE.fullmatch(text):
        return plainly(text) if isinstance(spec, Quantity) and "," not in text else text
    plain = text if _THOUSANDS.fullmatch(text) else text.replace(",", ".")
    if isinstance(spec, Fraction):
        return f"{plain}%" if unit == PERCENT else plain
    return f"{plain}{_ASCII.get(unit, unit)}" if isinstance(spec, Quantity) else plain


def _in_order(told: Pairs, inputs: Mapping[str, Input]) -> dict[str, str]:
    rows: dict[str, list[int]] = {}
    for name in told:
        if found := _ROW.fullmatch(name):
            rows.setdefault(found[1], []).append(int(found[2]))
    counted = {name: {row: place for place, row in enumerate(sorted(set(found)))} for name, found in rows.items()}

    def renamed(name: str) -> str:
        found = _ROW.fullmatch(name)
        return name if found is None else name.replace(f"[{found[2]}]", f"[{counted[found[1]][int(found[2])]}]", 1)

    def place(name: str) -> tuple[int, int, int]:
        found = parts(name)
        base = found[0] if found else name
        entry, row = inputs.get(base), _ROW.fullmatch(name)
        inner = list(entry.item.inputs) if entry and entry.item else []
        last = found[1] if found else ""
        return (
            list(inputs).index(base) if entry else len(inputs),
            counted[row[1]][int(row[2])] if row else 0,
            inner.index(last) if last in inner else len(inner),
        )

    return {renamed(name): told[name] for name in sorted(told, key=place)}


def opened(told: Pairs, inputs: Mapping[str, Input]) -> dict[str, str]:
    """The same with a list that an address gives in one (``loads=110 W,60 W``) as a row for each."""
    made: dict[str, str] = {}
    for name, value in told.items():
        entry = inputs.get(name)
        if entry and entry.item and isinstance(entry.spec, Items) and entry.spec.shorthand:
            pieces = value.split(",")
            last = _SIZED.fullmatch(pieces[-1])
            unit = (last[2] or "").strip() if last else ""
            for place, piece in enumerate(pieces):
                whole = piece.strip() if re.search(r"[A-Za-zΩ°]", piece) else f"{piece.strip()}{unit}"
                made[f"{name}[{place}].{entry.spec.shorthand}"] = whole
        else:
            made[name] = value
    return made


def held(told: Pairs, name: str) -> int:
    """How many rows of a list a question has."""
    rows = [int(found[2]) for key in told if (found := _ROW.fullmatch(key)) and found[1] == name]
    return max(rows) + 1 if rows else 0


def is_nested(entry: Input) -> bool:
    """Whether an input is made of others."""
    return entry.item is not None

"""One reader per input, chosen once: a function from what was sent to the SI value, raising ``Unreadable``.

A reader is told neither the input's name nor the rest of the question, so that a column of ten thousand texts is read
by the same function as one. Over 300 lines: what a value may look like, and the cure where it does not, on one page.
"""

import re
import sys
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from ampstead import units
from ampstead.declare import (
    MANY,
    Choice,
    Count,
    Flag,
    Floats,
    Fraction,
    Input,
    Number,
    Quantity,
    Rate,
    Spec,
    Text,
)
from ampstead.errors import clipped
from ampstead.units import Unreadable

Reader = Callable[[Any], Any]

LONGEST_LIST = 1000
"""Characters of a list that is told how to be written."""

_PLAIN = re.compile(r"([+-]?[0-9]{1,9}(?:\.[0-9]{1,20})?(?:[eE][+-]?[0-9]{1,2})?) ?([A-Za-zΩ°]*)")
_FIGURE = r"[0-9]{1,9}(?:\.[0-9]{1,20})?"
_ROW = re.compile(rf"({_FIGURE}(?:,{_FIGURE})+) ?([A-Za-zΩ°]+)")
_DIGITS = re.compile(r"[0-9]{1,9}(\.[0-9]{1,9})?")
_LEADING = re.compile(r"[0-9.]+")
_BARE = re.compile(r"\s*[+\-−]?[0-9.]*(?:[eE][+\-−]?[0-9]+)?\s*")
_ONE = r"[0-9]+(?:[.,][0-9]+)?(?:\s?[A-Za-zµΩ°]+)?"
_LOOSE = re.compile(rf"\s*{_ONE}(?:(?:\s*;\s*|\s+){_ONE})+\s*")
_THOUSANDS = re.compile(r"\s*[0-9]{1,3}(?:\s[0-9]{3})+(?![0-9]).*", re.DOTALL)
_IN_SERIES = re.compile(r"\s*([0-9]{1,2})\s?[sS](?:\s?[0-9]{1,2}\s?[pP])?\s*")


def reader(entry: Input) -> Reader:
    """How an input's value is read."""
    one = _bounded(entry.spec, _scalar(entry.spec))
    if not entry.many:
        return one
    return _either(entry.spec, one) if entry.one else _several(entry.spec, one)


def _scalar(spec: Spec) -> Reader:
    match spec:
        case Quantity():
            return lambda value: units.quantity(value, spec.dimension)
        case Count():
            return _count
        case Rate():
            return _rate
        case Fraction():
            return _fraction
        case Number():
            return units.number
        case Choice():
            return _choice(spec)
        case Flag():
            return _flag
        case Text():
            return lambda value: _text(spec, value)
    raise TypeError(f"{type(spec).__name__} cannot be read")


def _bounded(spec: Spec, read: Reader) -> Reader:
    """The reader of what must also be in range; plain text within bounds takes a short cut to the same figure."""
    if isinstance(spec, Quantity):
        quantity = spec
        low, high = spec.inner(spec.si)
        scales = {name: (scale.factor, scale.offset) for name, scale in spec.dimension.scales.items()}

        def quantity_read(value: Any) -> float:
            if type(value) is str and (plain := _PLAIN.fullmatch(value)) and (scale := scales.get(plain[2])):
                quick = float(plain[1]) * scale[0] + scale[1]
                if low <= quick <= high and quick > units.SMALLEST:
                    return quick
            size: float = read(value)
            if broken := quantity.broken(size, quantity.si):
                was = f"{units.converted(size, quantity.unit):.6g} {quantity.unit}"
                raise Unreadable("out_of_range", f"must be {broken}; {was} was read")
            return min(max(size, low), high)  # what the slack admits is the bound itself

        return quantity_read
    if isinstance(spec, Number):
        number = spec
        least, most = spec.inner(float)
        kind, largest = int if isinstance(spec, Count) else float, min(most, sys.float_info.max)

        def number_read(value: Any) -> float:
            quick = None
            if type(value) is str:
                if (digits := _DIGITS.fullmatch(value)) and (digits[1] is None or kind is float):
                    quick = kind(value)
            elif type(value) is kind or type(value) is int:
                quick = value
            if quick is not None and least <= quick <= largest and (quick > units.SMALLEST or quick == 0):
                return kind(quick)
            size: float = read(value)
            if broken := number.broken(size, float):
                was = f"{size:.6g}" if isinstance(size, float) else clipped(size)
                bare = isinstance(spec, Fraction) and size > 1 and not (isinstance(value, str) and "%" in value)
                cure = f': write "{was} %"' if bare and not number.broken(size / 100, float) else ""
                raise Unreadable("out_of_range", f"must be {broken}; {was} was read{cure}")
            return min(max(size, least), most)

        return number_read
    return read


def _count(value: Any) -> int:
    if isinstance(value, str) and (marked := _IN_SERIES.fullmatch(value)):
        raise Unreadable("not_a_number", f'must be a plain number: write "{marked[1]}"; "{clipped(value)}" was read')
    size = units.number(value)
    if size != int(size):
        raise Unreadable("not_a_number", f"must be a whole number; {clipped(value).strip()} was read")
    return int(size)


_RATE = re.compile(r"\s*(.*[0-9.])\s*[Cc]\s*", re.DOTALL)


_COMMA = re.compile(r"\s*([0-9]{1,6}),([0-9]{1,6})\s*[Cc]?\s*")


def _rate(value: Any) -> float:
    marked = _RATE.fullmatch(value) if isinstance(value, str) else None
    try:
        return units.number(marked[1] if marked else value)
    except Unreadable:
        comma = _COMMA.fullmatch(value) if isinstance(value, str) else None
        cure = f': write "{comma[1]}.{comma[2]}C", with a decimal point' if comma else ""
        read = str(value).lower() if isinstance(value, bool) else _quoted(value)
        raise Unreadable("not_a_number", f'must be a rate like "1.5C"; {read} was read{cure}') from None


def _fraction(value: Any) -> float:
    if isinstance(value, str) and value.strip().endswith("%"):
        return units.number(value.strip().removesuffix("%")) / 100
    return units.number(value)


def _choice(spec: Choice) -> Reader:
    """Options and other spellings, whatever the case of letters; a misspelt one is told all of them, and no guess."""
    known = {option.lower(): option for option in spec.options}
    known |= {_joined(spelling): option for spelling, option in spec.spellings.items()}

    def choice_read(value: Any) -> str:
        option = None
        if isinstance(value, str):
            option = known.get(value) or known.get(value.strip().lower()) or known.get(_joined(value))
        if option is None:
            raise Unreadable("not_one_of", f"must be one of {', '.join(spec.options)}; {_quoted(value)} was read")
        return option

    return choice_read


def _joined(spelling: str) -> str:
    return spelling.strip().lower().replace("-", "").replace("_", "").replace(" ", "")


def _quoted(value: Any) -> str:
    return f'"{clipped(value)}"' if isinstance(value, str) else clipped(value)


def _flag(value: Any) -> bool:
    if isinstance(value, bool):
        return value
    if isinstance(value, str) and value.strip().lower() in ("true", "false"):
        return value.strip().lower() == "true"
    raise Unreadable("not_one_of", f"must be true or false; {_quoted(value)} was read")


def _text(spec: Text, value: Any) -> str:
    if spec.measured and not isinstance(value, str):
        value = _measured(value)
    if not isinstance(value, str):
        raise Unreadable("not_one_of", "must be text")
    plain = value.strip()
    if len(plain) > spec.longest:
        raise Unreadable("wrong_length", f"must be at most {spec.longest} characters long")
    return clipped(plain, spec.longest)


def _measured(value: Any) -> Any:
    """A size told as an object or a bare number, as text."""
    if isinstance(value, Mapping) and value.keys() == {"value", "unit"}:
        return f"{_shortly(value['value'])} {_shortly(value['unit'])}"
    return str(value) if isinstance(value, int | float) and not isinstance(value, bool) else value


def _shortly(value: Any) -> str:
    if not isinstance(value, str | int | float):
        raise Unreadable("not_one_of", "must be text")
    return str(value)


def _row(spec: Spec) -> Callable[[str], Floats | None]:
    """How plain figures with one unit behind the last are read at once, each to what it is read to alone; None for
    whatever is odd or out of range."""
    if not isinstance(spec, Quantity):
        return lambda text: None
    low, high = spec.inner(spec.si)
    scales = spec.dimension.scales

    def row_read(text: str) -> Floats | None:
        plain = _ROW.fullmatch(text) if "," in text else None
        if plain is None or (scale := scales.get(plain[2])) is None:
            return None
        values = [float(figure) * scale.factor + scale.offset for figure in plain[1].split(",")]
        fine = len(values) <= MANY and low <= min(values) and max(values) <= high
        return np.array(values) if fine else None

    return row_read


def _several(spec: Spec, one: Reader) -> Reader:
    """A list, however it was sent; one value alone is a list of one."""
    row = _row(spec)

    def read(value: Any) -> Any:
        if isinstance(value, str):
            if (figures := row(value)) is not None:
                return figures
            try:
                return _array(split(value, spec) if isinstance(spec, Quantity) else value.split(","), one)
            except Unreadable as fault:
                raise with_commas(value, fault) from None
        elements = _elements(value)
        return _array([value] if elements is None else elements, one)

    return read


def _either(spec: Spec, one: Reader) -> Reader:
    """One value, or a list of them."""
    row = _row(spec)

    def read(value: Any) -> Any:
        if isinstance(value, str):
            if (figures := row(value)) is not None and len(figures) > 2:  # two may be one with a decimal comma
                return figures
            try:
                return _one_or_several(value, spec, one)
            except Unreadable as fault:
                raise with_commas(value, fault) from None
        elements = _elements(value)
        return one(value) if elements is None else _array(elements, one)

    return read


def _one_or_several(text: str, spec: Spec, one: Reader) -> Any:
    if "," not in text or not isinstance(spec, Quantity):
        return one(text)
    parts = text.split(",")
    if len(parts) == 2 and not all(has_unit(part) for part in parts):
        raise _comma(parts)
    return _array(split(text, spec), one)


def _comma(parts: list[str]) -> Unreadable:
    """Two values of which one is bare could be one with a decimal comma: neither is guessed."""
    first, second = (clipped(part.strip(), 20) for part in parts)
    if has_unit(first):
        return Unreadable("unit_missing", f'must have a unit on every value; "{first},{second}" was read')
    bare = _LEADING.match(second)
    size = bare[0] if bare else second
    unit = second[len(size) :].strip()
    ways = [f"{first}.{size} {unit}"] + ([f"{first}{size} {unit}"] if len(size) == 3 and size.isdigit() else [])
    one = '" or "'.join(way.strip() for way in ways)  # a comma may part thousands too
    two = f"{first} {unit},{size} {unit}".strip()
    if "." in first or "." in size:
        return Unreadable("not_a_number", f'has a comma: for two values write "{two}"')
    return Unreadable("not_a_number", f'has a comma: for one value write "{one}", for two "{two}"')


def with_commas(text: str, fault: Unreadable) -> Unreadable:
    """What is wrong with a list: where its values are not parted by commas, how to write it."""
    if len(text) > LONGEST_LIST or not _LOOSE.fullmatch(text) or _THOUSANDS.fullmatch(text):
        return fault
    parts = re.split(r"\s*;\s*|\s+(?=[0-9])", text.strip())
    if any(map(has_unit, parts)) and not has_unit(parts[-1]):
        return fault
    cure = ",".join(part.replace(",", ".") for part in parts)
    return Unreadable(fault.code, f'must have commas between the values: write "{clipped(cure, 80)}"')


def _refuse_decimal_commas(parts: list[str]) -> None:
    """Refuses ``8,5mohm,9,2mohm``: two values with decimal commas, or four; neither is guessed."""
    whole, rest = parts[::2], parts[1::2]
    if len(whole) < 2 or len(whole) != len(rest) or not all(part.strip().isdigit() for part in whole):
        return
    if not all(has_unit(part) and part.strip()[:1].isdigit() and "." not in part for part in rest):
        return
    points = ",".join(f"{first.strip()}.{second.strip()}" for first, second in zip(whole, rest, strict=True))
    raise Unreadable(
        "not_a_number",
        f'has commas that may be decimal points: write "{clipped(points, 80)}", or a unit behind every value',
    )


def _elements(value: Any) -> list[Any] | None:
    """The elements of a list of JSON; None for anything else."""
    if isinstance(value, list):
        return value
    if isinstance(value, Mapping) and isinstance(listed := value.get("value"), list):
        # Of too many only their number is told.
        return listed if len(listed) > MANY else [{**value, "value": element} for element in listed]
    return None


def _array(elements: list[Any], one: Reader) -> Any:
    if not 1 <= len(elements) <= MANY:
        raise Unreadable("wrong_length", f"takes 1 to {MANY} values; {len(elements)} were given")
    numbers = []
    for place, element in enumerate(elements, 1):
        try:
            numbers.append(one(element))
        except Unreadable as fault:
            which = f" (value {place} of {len(elements)})" if len(elements) > 1 else ""
            raise Unreadable(fault.code, f"{fault.message}{which}") from None
    return np.array(numbers, dtype=float)


def has_unit(part: str) -> bool:
    """Whether a text is more than a bare number."""
    return not _BARE.fullmatch(part)


def split(text: str, spec: Quantity) -> list[str]:
    """The elements of a comma separated text; a bare one takes the unit that the last one names."""
    parts = text.split(",")
    if len(parts) > MANY:
        raise Unreadable("wrong_length", f"takes 1 to {MANY} values; {len(parts)} were given")
    if len(parts) == 1:
        return parts
    _refuse_decimal_commas(parts)
    plain = _PLAIN.fullmatch(parts[-1])
    unit = plain[2] if plain else ""
    if not unit:
        if not any(map(has_unit, parts)):
            raise Unreadable("unit_missing", f"needs a unit: write {spec.dimension.with_unit(clipped(text, 80))}")
        _, unit = units.split(parts[-1], spec.dimension)
    return [part if has_unit(part) else f"{part} {unit}" for part in parts]

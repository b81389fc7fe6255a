"""Quantities in and out: text to SI floats, and back into the contract's units.

The only module that imports pint, and only when a unit is asked for that the table below lacks. Number and
unit are split by hand and matched against a small grammar first, so that user text never reaches a parser of
expressions. A test proves the table equal to pint.
Over 300 lines: a third of it is the table.
"""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from ampstead.errors import Code, clipped

LONGEST_UNIT = 40
LONGEST_TEXT = 120
SMALLEST = 1e-60
"""A number closer to nought is read as nought: its quotients would leave the range of floats."""

_NUMBER = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,4})?"
_QUANTITY = re.compile(rf"({_NUMBER})\s*(.*)", re.DOTALL)
_CLOCK = re.compile(r"([0-9]{1,4}):([0-5][0-9])(?:\s*(?:min|minutes))?")
_PARTED = re.compile(
    r"(?:([0-9]{1,4})\s*(?:h|hours?)\s*)?(?:([0-9]{1,4})(?![0-9])\s*(?:m|min|minutes?)?\s*)?"
    r"(?:([0-9]{1,4})(?![0-9])\s*(?:s|sec|seconds?)?)?",
    re.IGNORECASE,
)
_COLONS = re.compile(r"(?:([0-9]{1,3}):)?([0-9]{1,4}):([0-9]{1,2})\s*(?:h|min|minutes)?")
_PLAIN_NUMBER = re.compile(_NUMBER)
_DECIMAL_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+(?![0-9]*\.[0-9])\s*[^0-9,]*")
_THOUSANDS = re.compile(r"\s*[+-]?[1-9][0-9]{0,2},[0-9]{3}(?![0-9])")
_GRAMMAR = re.compile(r"[A-Za-zµΩ°]+(?:\^?[1-9])?(?:[*/][A-Za-zµΩ°]+(?:\^?[1-9])?){0,4}")
_SPELLINGS = str.maketrans(
    {
        "\u03bc": "\u00b5",  # escaped, since the two code points of each look alike
        "\u2126": "\u03a9",
        "²": "2",
        "³": "3",
        "·": "*",
        "⋅": "*",
        "×": "*",
        "−": "-",
        "\u00a0": " ",
        "\u202f": " ",
    }
)
_WHOLE = {"℃": "°C", "℉": "°F"}


class Unreadable(ValueError):
    """Text or an object that is not the quantity or number wanted; carries the error code."""

    def __init__(self, code: Code, message: str) -> None:
        super().__init__(message)
        self.code = code
        self.message = message


@dataclass(frozen=True, slots=True)
class Scale:
    """A unit as a straight line to SI: ``SI = value * factor + offset``."""

    factor: float
    offset: float = 0.0


@dataclass(frozen=True, slots=True)
class Dimension:
    """One kind of quantity: the unit its answers carry, and the unit names read for it."""

    name: str
    article: str
    unit: str
    si: str
    example: str
    scales: Mapping[str, Scale]

    @property
    def offered(self) -> tuple[str, ...]:
        """The units that a page offers, that of answers first."""
        return (self.unit, *_OFFERED.get(self.unit, ()))

    @property
    def read(self) -> list[str]:
        """The unit names that are read, that of answers as answers write it."""
        return sorted({*self.scales, self.unit})

    @property
    def called(self) -> str:
        """The name with its article, for messages."""
        return f"{self.article} {self.name}"

    def with_unit(self, bare: str) -> str:
        """How to write a bare number: in the unit of this input's example and, if that is another, in that of answers;
        10 ohms taken for 10 milliohms would be a short circuit."""
        customary = self.example.rpartition(" ")[2]
        units = dict.fromkeys(unit for unit in (customary, self.unit) if _tidy(unit) in self.scales)
        return " or ".join(f'"{bare} {unit}"' for unit in units)


def _prefixed(names: Mapping[str, float], *, mega: bool = False) -> dict[str, Scale]:
    prefixes = {"": 1.0, "k": 1e3, "m": 1e-3, "µ": 1e-6, "u": 1e-6} | ({"M": 1e6} if mega else {})
    return {f"{p}{name}": Scale(size * factor) for name, factor in names.items() for p, size in prefixes.items()}


def _named(**names: float) -> dict[str, Scale]:
    return {name: Scale(factor) for name, factor in names.items()}


_TIMES = (
    _prefixed({"s": 1.0})
    | _named(
        sec=1.0,
        second=1.0,
        seconds=1.0,
        min=60.0,
        minute=60.0,
        minutes=60.0,
        h=3600.0,
        hour=3600.0,
        hours=3600.0,
    )
    | {"day": Scale(86400.0), "days": Scale(86400.0)}
)
_OFFERED: Mapping[str, tuple[str, ...]] = {
    "A": ("mA",),
    "V": ("mV",),
    "mΩ": ("Ω",),
    "mAh": ("Ah",),
    "W": ("kW",),
    "Wh": ("kWh",),
    "°C": ("°F",),
    "K": ("°F",),
    "g": ("kg",),
    "m": ("cm", "mm", "ft"),
    "mm²": ("cm²",),
    "min": ("s", "h"),
    "s": ("min", "h"),
    "mV/day": ("V/day",),
    "K/s": ("K/min",),
    "mV/K": ("V/K",),
    "W/K": ("mW/K",),
    "W/m": ("kW/m",),
}
_CELSIUS = Scale(1.0, 273.15)
_FAHRENHEIT = Scale(5 / 9, 273.15 - 32 * 5 / 9)

_DIMENSIONS = (
    Dimension(
        "current", "a", "A", "A", "2.3 A",
        _prefixed({"A": 1.0}) | _named(amp=1.0, amps=1.0, ampere=1.0, amperes=1.0),
    ),
    Dimension("voltage", "a", "V", "V", "3.8 V", _prefixed({"V": 1.0}) | _named(volt=1.0, volts=1.0)),
    Dimension(
        "resistance", "a", "mΩ", "ohm", "8.5 mΩ",
        _prefixed({"Ω": 1.0, "ohm": 1.0}) | _named(ohms=1.0, milliohm=1e-3, milliohms=1e-3, microohm=1e-6),
    ),
    Dimension(
        "charge", "a", "mAh", "A*s", "2250 mAh",
        _prefixed({"Ah": 3600.0, "A*h": 3600.0, "A*s": 1.0}),
    ),
    Dimension(
        "power", "a", "W", "W", "60 W", _prefixed({"W": 1.0}, mega=True) | _named(watt=1.0, watts=1.0)
    ),
    Dimension("energy", "an", "Wh", "J", "24 Wh", _prefixed({"Wh": 3600.0, "W*h": 3600.0, "J": 1.0})),
    Dimension(
        "temperature", "a", "°C", "K", "25 °C",
        {"K": Scale(1.0), "kelvin": Scale(1.0)}
        | dict.fromkeys(("°C", "degC", "C", "celsius"), _CELSIUS)
        | dict.fromkeys(("°F", "degF", "F", "fahrenheit"), _FAHRENHEIT),
    ),
    Dimension(
        "temperature rise", "a", "K", "K", "20 K",
        dict.fromkeys(("K", "kelvin", "°C", "degC", "C"), Scale(1.0))
        | dict.fromkeys(("°F", "degF", "F"), Scale(5 / 9)),
    ),
    Dimension("mass", "a", "g", "kg", "40 g", _prefixed({"g": 1e-3})),
    Dimension(
        "length", "a", "m", "m", "0.35 m",
        _prefixed({"m": 1.0}) | {"cm": Scale(0.01), "ft": Scale(0.3048), "in": Scale(0.0254)},
    ),
    Dimension("cross-section", "a", "mm²", "m**2", "2.5 mm²", _named(mm2=1e-6, cm2=1e-4, m2=1.0)),
    Dimension("cooling", "a", "W/K", "W/K", "0.2 W/K", _prefixed({"W/K": 1.0, "W/°C": 1.0})),
    Dimension("heat per length", "a", "W/m", "W/m", "10 W/m", _prefixed({"W/m": 1.0})),
    Dimension("time", "a", "min", "s", "45 min", _TIMES),
    Dimension("duration", "a", "s", "s", "10 s", _TIMES),
    Dimension("entropy coefficient", "an", "mV/K", "V/K", "-0.235 mV/K", _prefixed({"V/K": 1.0})),
    Dimension("heating rate", "a", "K/s", "K/s", "0.5 K/s", _prefixed({"K/s": 1.0}) | {"K/min": Scale(1 / 60)}),
    Dimension(
        "loss per day", "a", "mV/day", "V/s", "2 mV/day",
        {f"{p}V/{d}": Scale(size / 86400) for p, size in (("", 1.0), ("m", 1e-3), ("µ", 1e-6)) for d in ("day", "d")},
    ),
)  # fmt: skip

DIMENSIONS: Mapping[str, Dimension] = {dimension.unit: dimension for dimension in _DIMENSIONS}


def _tidy(unit: str) -> str:
    unit = unit.strip().translate(_SPELLINGS)
    unit = _WHOLE.get(unit, unit)
    return re.sub(r"\s*([*/])\s*", r"\1", unit).replace("^", "")


_LOWER: dict[str, dict[str, str]] = {}
for _dimension in _DIMENSIONS:
    _spelt: dict[str, set[str]] = {}
    for _name in _dimension.scales:
        _spelt.setdefault(_name.lower(), set()).add(_name)
    _LOWER[_dimension.unit] = {lower: names.pop() for lower, names in _spelt.items() if len(names) == 1}
_SHOWN = {unit: dimension.scales[_tidy(unit)] for unit, dimension in DIMENSIONS.items()}


def scale(unit: str, dimension: Dimension) -> Scale:
    """How a unit's text turns into SI.

    Raises
    ------
    Unreadable
        ``wrong_dimension``; the message says what was read and what is wanted.
    """
    wanted = f'takes {dimension.called}: write "{dimension.example}"'
    if len(unit) > LONGEST_UNIT:
        raise Unreadable("wrong_dimension", f"{wanted}; the unit is longer than {LONGEST_UNIT} characters")
    tidy = _tidy(unit)
    known = dimension.scales.get(tidy) or dimension.scales.get(_otherwise_spelt(tidy, dimension))
    if known:
        return known
    if dimension.unit == "mAh" and tidy in ("C", "c", "mC", "kC"):
        raise Unreadable("wrong_dimension", f"{wanted}; C is the trade's word for a charge rate, not a unit here")
    if not _GRAMMAR.fullmatch(tidy):
        raise Unreadable("wrong_dimension", f'{wanted}; "{clipped(unit)}" is not a unit')
    for other in _DIMENSIONS:
        if tidy in other.scales and (other.unit, dimension.unit) != ("min", "s"):
            raise Unreadable("wrong_dimension", f'{wanted}; "{clipped(unit)}" was read as {other.called}')
    factor = _by_pint(tidy, dimension.si)
    if factor is None:
        near = [name for name in dimension.scales if name.lower() == tidy.lower()]
        hint = f"; did you mean {near[0]}? The case of letters counts" if near else ""
        raise Unreadable("wrong_dimension", f'{wanted}; "{clipped(unit)}" is no unit of {dimension.name}{hint}')
    return Scale(factor)


def _otherwise_spelt(tidy: str, dimension: Dimension) -> str:
    """The unit meant by other letters' case, like ``mah`` or ``MAH``; M as a prefix may mean mega and is left."""
    name = _LOWER[dimension.unit].get(tidy.lower(), "")
    mega = tidy[:1] == "M" and name[:1] == "m" and (tidy[1:] == name[1:] or not tidy.isupper())
    return "" if mega else name


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()


@lru_cache(maxsize=512)
def _by_pint(tidy: str, si: str) -> float | None:
    """Factor to SI of a unit that passed the grammar, or None. Coulombs, offsets, decibels and angles stay out."""
    if re.search(r"(?<![A-Za-zµ])[A-Za-zµ]?C(?![A-Za-z])", tidy) or "°" in tidy:
        return None
    text = re.sub(r"(?<=[A-Za-zµΩ])(?=[1-9])", "**", tidy)
    try:
        factor, twice = (float(_registry().Quantity(size, text).to(si).magnitude) for size in (1.0, 2.0))
    except Exception:  # pint raises a dozen kinds on odd text; each of them means "not this unit"
        return None
    straight = math.isclose(twice, 2.0 * factor, rel_tol=1e-12)
    return factor if math.isfinite(factor) and factor > 0 and straight else None


def number(text: object) -> float:
    """A finite plain number, from JSON or text."""
    if isinstance(text, bool):
        raise Unreadable("not_a_number", "must be a number, not true or false")
    if isinstance(text, int | float):
        try:
            value = float(text)
        except OverflowError:
            value = math.inf
    elif isinstance(text, str):
        plain = text.strip().translate(_SPELLINGS)
        if len(plain) > LONGEST_TEXT or not _PLAIN_NUMBER.fullmatch(plain):
            comma = "; write a decimal point, not a comma" if _DECIMAL_COMMA.fullmatch(plain) else ""
            raise Unreadable("not_a_number", f'must be a number; "{clipped(text)}" was read{comma}')
        value = float(plain)
    else:
        raise Unreadable("not_a_number", "must be a number")
    if not math.isfinite(value):
        raise Unreadable("not_a_number", "must be a finite number")
    return value if abs(value) >= SMALLEST else 0.0


def split(text: str, dimension: Dimension) -> tuple[float, str]:
    """Number and unit text of one quantity; the unit may be empty."""
    plain = text.strip().translate(_SPELLINGS)
    matched = _QUANTITY.fullmatch(plain) if len(plain) <= LONGEST_TEXT else None
    if matched is None:
        raise Unreadable(
            "not_a_number",
            f'must be a number with a unit like "{dimension.example}"; "{clipped(text)}" was read',
        )
    if _DECIMAL_COMMA.match(plain):
        raise Unreadable(
            "not_a_number",
            f'has a comma in "{clipped(text)}"; write {_without_comma(clipped(text))}',
        )
    if dimension.si == "s" and (clock := _CLOCK.fullmatch(plain)):
        return float(clock[1]) + float(clock[2]) / 60, "min"
    if matched[2][:1] in tuple(",_.'0123456789"):
        raise Unreadable(
            "not_a_number",
            f'must be a plain number with a unit like "{dimension.example}"; "{clipped(text)}" was read',
        )
    return number(matched[1]), matched[2]


def _without_comma(text: str) -> str:
    """How to write a number in which one comma stands: what parts thousands for some parts decimals for others."""
    pointed = f'"{text.replace(",", ".", 1)}", with a decimal point'
    return f'"{text.replace(",", "", 1)}", or {pointed}' if _THOUSANDS.match(text) else pointed


def _in_one(text: str) -> str | None:
    """How to write a time that was told in hours, minutes and seconds; None for any other text."""
    plain = text.strip().translate(_SPELLINGS)
    parted = _PARTED.fullmatch(plain) or _COLONS.fullmatch(plain)
    if parted is None or (":" not in plain and parted.groups().count(None) > 1):
        return None
    hours, minutes, seconds = (int(part or 0) for part in parted.groups())
    whole, rest = divmod(3600 * hours + 60 * minutes + seconds, 60)
    return f"{whole}:{rest:02}" if rest else f"{whole} min"


def quantity(value: object, dimension: Dimension) -> float:
    """One quantity in SI, from ``"2250 mAh"`` or ``{"value": 2250, "unit": "mAh"}``.

    Raises
    ------
    Unreadable
        With the code and a message that shows the right form.
    """
    if isinstance(value, str):
        size, unit = split(value, dimension)
    elif isinstance(value, Mapping):
        size, unit = _from_object(value, dimension)
    elif isinstance(value, bool) or not isinstance(value, int | float):
        raise Unreadable("not_a_number", f'must be a quantity like "{dimension.example}"')
    else:
        size, unit = number(value), ""
    if not unit.strip():
        raise Unreadable("unit_missing", f"needs a unit: write {dimension.with_unit(f'{size:.15g}')}")
    try:
        line = scale(unit, dimension)
    except Unreadable as fault:
        cure = _in_one(value) if isinstance(value, str) and dimension.si == "s" else None
        if cure is None:
            raise
        raise Unreadable(fault.code, f'takes one time: write "{cure}"; "{clipped(value)}" was read') from None
    result = size * line.factor + line.offset
    if not math.isfinite(result):
        raise Unreadable("not_a_number", "must be a finite number")
    return result if abs(result) >= SMALLEST else 0.0


def _from_object(value: Mapping[str, Any], dimension: Dimension) -> tuple[float, str]:
    extra = [key for key in value if key not in ("value", "unit")]
    if extra or "value" not in value:
        raise Unreadable(
            "not_a_number",
            f'must be a quantity: {{"value": …, "unit": "{dimension.unit}"}} or "{dimension.example}"',
        )
    unit = value.get("unit")
    if unit is not None and not isinstance(unit, str):
        raise Unreadable("wrong_dimension", f'takes its unit as text, like "{dimension.unit}"')
    return number(value["value"]), unit or ""


def answer_scale(unit: str) -> Scale:
    """The scale of an answer's unit."""
    return _SHOWN[unit]


def converted(value: float, unit: str) -> float:
    """An SI value in an answer's unit, freed of the last digit's binary noise."""
    line = _SHOWN[unit]
    return clean((value - line.offset) / line.factor)


def clean(value: float) -> float:
    """The number at fifteen digits: 9.620000000000001 is 9.62."""
    return float(f"{value:.15g}")

"""The units of the trade: what they convert to, what they multiply to, and what pint calls them."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Context, Decimal
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: `base value = factor × (value + offset)`, exact, so that a conversion rounds once."""

    dimension: str
    factor: Fraction
    offset: Fraction
    pint: str


def _unit(dimension: str, factor: str, pint: str, offset: str = "0") -> Unit:
    return Unit(dimension, Fraction(factor), Fraction(offset), pint)


UNITS: dict[str, Unit] = {
    "µA": _unit("current", "1e-6", "microampere"),
    "mA": _unit("current", "1e-3", "milliampere"),
    "A": _unit("current", "1", "ampere"),
    "kA": _unit("current", "1e3", "kiloampere"),
    "µV": _unit("voltage", "1e-6", "microvolt"),
    "mV": _unit("voltage", "1e-3", "millivolt"),
    "V": _unit("voltage", "1", "volt"),
    "kV": _unit("voltage", "1e3", "kilovolt"),
    "µΩ": _unit("resistance", "1e-6", "microohm"),
    "mΩ": _unit("resistance", "1e-3", "milliohm"),
    "Ω": _unit("resistance", "1", "ohm"),
    "kΩ": _unit("resistance", "1e3", "kiloohm"),
    "mAh": _unit("charge", "1e-3", "milliampere * hour"),
    "Ah": _unit("charge", "1", "ampere * hour"),
    "mW": _unit("power", "1e-3", "milliwatt"),
    "W": _unit("power", "1", "watt"),
    "kW": _unit("power", "1e3", "kilowatt"),
    "J": _unit("energy", "1", "joule"),
    "kJ": _unit("energy", "1e3", "kilojoule"),
    "mWh": _unit("energy", "3.6", "milliwatt * hour"),
    "Wh": _unit("energy", "3600", "watt * hour"),
    "kWh": _unit("energy", "3.6e6", "kilowatt * hour"),
    "K": _unit("temperature", "1", "kelvin"),
    "°C": _unit("temperature", "1", "degree_Celsius", "273.15"),
    "°F": _unit("temperature", "5/9", "degree_Fahrenheit", "459.67"),
    "g": _unit("mass", "1", "gram"),
    "kg": _unit("mass", "1e3", "kilogram"),
    "mm": _unit("length", "1e-3", "millimeter"),
    "cm": _unit("length", "1e-2", "centimeter"),
    "m": _unit("length", "1", "meter"),
    "km": _unit("length", "1e3", "kilometer"),
    "mm²": _unit("cross-section", "1", "millimeter ** 2"),
    "s": _unit("time", "1", "second"),
    "min": _unit("time", "60", "minute"),
    "h": _unit("time", "3600", "hour"),
    "mW/K": _unit("cooling", "1e-3", "milliwatt / kelvin"),
    "W/K": _unit("cooling", "1", "watt / kelvin"),
    "W/m": _unit("heat per length", "1", "watt / meter"),
    "mV/K": _unit("entropy coefficient", "1e-3", "millivolt / kelvin"),
    "V/K": _unit("entropy coefficient", "1", "volt / kelvin"),
    "K/s": _unit("heating rate", "1", "kelvin / second"),
    "mV/day": _unit("loss per day", "1", "millivolt / day"),
}

_SPELLINGS = {
    "uA": "µA",
    "uV": "µV",
    "ohm": "Ω",
    "mohm": "mΩ",
    "milliohm": "mΩ",
    "uohm": "µΩ",
    "µohm": "µΩ",
    "uΩ": "µΩ",
    "microohm": "µΩ",
    "kohm": "kΩ",
    "degC": "°C",
    "degF": "°F",
    "mm2": "mm²",
    "mm^2": "mm²",
}

# Ohm sign, Greek mu and ring operator look like the letters that the table uses, and keyboards give either.
_CODE_POINTS = str.maketrans({"\u2126": "\u03a9", "\u03bc": "\u00b5", "\u2218": "\u00b0"})

ANSWER_UNITS = {
    UNITS[name].dimension: name
    for name in (
        *("A", "V", "mΩ", "mAh", "W", "Wh", "K", "g", "m", "mm²", "min"),
        *("W/K", "W/m", "mV/K", "K/s", "mV/day"),
    )
}
"""The unit of each dimension in the service's answers; of temperatures that of their differences."""

_PRODUCTS = (
    ("voltage", "current", "resistance"),
    ("power", "voltage", "current"),
    ("charge", "current", "time"),
    ("energy", "power", "time"),
    ("energy", "voltage", "charge"),
    ("power", "cooling", "temperature"),
    ("power", "heat per length", "length"),
    ("voltage", "entropy coefficient", "temperature"),
    ("temperature", "heating rate", "time"),
    ("voltage", "loss per day", "time"),
)
_TIMES = {(one, other): whole for whole, *parts in _PRODUCTS for one, other in (parts, reversed(parts))}
_OVER = {(whole, part): other for (part, other), whole in _TIMES.items()}
_SI = {"charge": Fraction(3600), "loss per day": Fraction(1, 86_400_000)}
"""What turns the table's base units into coherent ones, where they are not."""

_TWELVE = Context(prec=12)


def known(name: str) -> Unit | None:
    """The unit of that name in any of its spellings, or None."""
    plain = name.strip().translate(_CODE_POINTS)
    return UNITS.get(_SPELLINGS.get(plain, plain))


def spelt(name: str) -> str | None:
    """The table's name for a unit's spelling, that in small letters among them where it can mean one unit only."""
    plain = name.strip().translate(_CODE_POINTS)
    plain = _SPELLINGS.get(plain, plain)
    if plain in UNITS:
        return plain
    alike = [unit for unit in UNITS if unit.lower() == plain]
    return alike[0] if len(alike) == 1 else None


def exact(value: float) -> Fraction:
    """The number that a float prints as: 0.1 is a tenth."""
    return Fraction(repr(value))


def sortable(value: float, unit: str) -> tuple[str, Decimal]:
    """The kind of a quantity and its size in twelve digits, alike for the same quantity in any of its units."""
    found = known(unit)
    size = exact(value) if found is None else (exact(value) + found.offset) * found.factor
    return found.dimension if found else unit, _TWELVE.divide(Decimal(size.numerator), Decimal(size.denominator))


def span(value: float, unit: str, target: str) -> Fraction | None:
    """A size or difference in another unit of its kind; None where there is none, as for a temperature in °C."""
    one, two = known(unit), known(target)
    if one is None or two is None:
        return exact(value) if unit == target else None
    return exact(value) * one.factor / two.factor if one.dimension == two.dimension and not one.offset else None


def combined(value: float, unit: str, other: float, other_unit: str, *, over: bool) -> tuple[Fraction, str] | None:
    """Product or quotient of two quantities in the unit of answers, or None where it is no quantity of the trade."""
    one, two = known(unit), known(other_unit)
    if one is None or two is None or one.offset or two.offset:
        return None
    dimension = (_OVER if over else _TIMES).get((one.dimension, two.dimension))
    if dimension is None:
        return None
    left, right = (
        exact(size) * part.factor * _SI.get(part.dimension, Fraction(1)) for size, part in ((value, one), (other, two))
    )
    size = left / right if over else left * right
    name = ANSWER_UNITS[dimension]
    return size / (UNITS[name].factor * _SI.get(dimension, Fraction(1))), name


def names(dimension: str | None = None) -> str:
    """The units of a dimension, or all of them, as text."""
    return ", ".join(name for name, unit in UNITS.items() if dimension in (None, unit.dimension))

"""The units of the trade: what they convert to, and what pint calls them."""

from __future__ import annotations

from dataclasses import dataclass
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


def known(name: str) -> Unit | None:
    """The unit of that name in any of its spellings, or None."""
    plain = name.strip().translate(_CODE_POINTS)
    return UNITS.get(_SPELLINGS.get(plain, plain))


def names(dimension: str | None = None) -> str:
    """The units of a dimension, or all of them, as text."""
    return ", ".join(name for name, unit in UNITS.items() if dimension in (None, unit.dimension))

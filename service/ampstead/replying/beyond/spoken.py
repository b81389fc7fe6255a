"""A value in words, by what its declaration says it is."""

from collections.abc import Callable, Mapping
from typing import Any

from ampstead import units, words
from ampstead.declare import Choice, Count, Flag, Fraction, Quantity, Rate, Result, Spec
from ampstead.words import Direction

SPEAK: Mapping[str, Callable[[float, Direction], str]] = {
    "A": words.amperes,
    "V": words.volts,
    "W": words.watts,
    "Wh": words.watt_hours,
    "mΩ": words.milliohms,
    "mAh": words.milliampere_hours,
    "°C": words.degrees,
    "K": words.warming,
    "min": words.minutes,
    "s": words.duration,
}
OTHERS: Mapping[str, str] = {
    "m": "metres",
    "mm²": "square millimetres",
    "g": "grams",
    "W/K": "watts a kelvin",
    "W/m": "watts a metre",
    "mV/K": "millivolts a kelvin",
    "mV/day": "millivolts a day",
    "K/s": "kelvin a second",
}


def said(spec: Spec, value: Any, direction: Direction = "near") -> str:
    """A value as spoken; rounded in a direction."""
    if value is None:
        return "nothing"
    if isinstance(spec, Quantity):
        if spec.unit in SPEAK:
            return SPEAK[spec.unit](float(value), direction)
        scale = units.answer_scale(spec.unit)
        return f"{words.number((float(value) - scale.offset) / scale.factor, 3, direction)} {OTHERS[spec.unit]}"
    if isinstance(spec, Rate):
        return words.rate(float(value), direction)
    if isinstance(spec, Fraction):
        return words.percent(float(value), direction)
    if isinstance(spec, Count):
        return str(int(value))
    if isinstance(spec, Choice):
        return spec.said(value)
    return words.number(float(value), 3, direction) if isinstance(value, int | float) else str(value)


def clause(result: Result, value: Any) -> str:
    """What a yes or no, or a word, among the results says: "it may fly again", "it is limited by heat"."""
    spec, label = result.spec, result.label
    if isinstance(spec, Flag):
        return spec.yes if value else spec.no
    word = said(spec, value)
    of, by, _ = f"{label} ".partition("limited by ")
    if by:
        return f"{f'the {of}' if of else 'it '}is limited by {word}"
    return f"it is {label} {word}" if label.endswith(" by") else f"the {label} is {word}"

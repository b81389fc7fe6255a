"""Numbers and units as a phone speaks them. Values come in SI; nothing here is read back."""

from collections.abc import Sequence

_NUMERALS = (
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)


def number(value: float, digits: int = 3) -> str:
    """A number at a few significant digits, without an exponent: 12.85 is 12.9, 385 is 385."""
    if value == 0:
        return "0"
    text = f"{value:.{digits}g}"
    return f"{float(text):.0f}" if abs(float(text)) >= 100 or "e+" in text else f"{float(text):g}"


def _counted(value: float, one: str, many: str, digits: int) -> str:
    said = number(value, digits)
    return f"{said} {one if said == '1' else many}"


def amperes(current: float) -> str:
    """A current: ``1.3 amperes``."""
    return _counted(current, "ampere", "amperes", 3)


def volts(voltage: float) -> str:
    """A voltage to the hundredth of a volt: ``8.4 volts``."""
    said = f"{voltage:.2f}".rstrip("0").rstrip(".")
    return f"{said} {'volt' if said == '1' else 'volts'}"


def millivolts(voltage: float) -> str:
    """A small voltage: ``30 millivolts``."""
    return _counted(round(voltage * 1000, 1), "millivolt", "millivolts", 3)


def watts(power: float) -> str:
    """A power: ``15 watts``."""
    return _counted(power, "watt", "watts", 3)


def milliohms(resistance: float) -> str:
    """A resistance: ``28 milliohms``."""
    return _counted(resistance * 1000, "milliohm", "milliohms", 3)


def milliampere_hours(charge: float) -> str:
    """A charge: ``1040 milliampere hours``, to the nearest ten from a thousand up."""
    size = charge / 3.6
    return f"{round(size, -1) if size >= 1000 else round(size):.0f} milliampere hours"


def degrees(temperature: float) -> str:
    """A temperature in degrees Celsius: ``25 degrees``."""
    said = f"{temperature - 273.15:.0f}"
    return f"{said.replace('-', 'minus ') if said != '-0' else '0'} degrees"


def percent(fraction: float) -> str:
    """A fraction: ``20 percent``."""
    return f"{number(fraction * 100, 2)} percent"


def duration(time: float) -> str:
    """A time in the unit that suits it: ``10 seconds``, ``55 minutes``, ``2 hours and 5 minutes``."""
    if time < 100:
        return _counted(round(time) if time >= 2 else round(time, 1), "second", "seconds", 3)
    minutes = round(time / 60)
    if minutes < 120:
        return f"{minutes} minutes"
    hours, rest = divmod(minutes, 60)
    return f"{hours} hours" + (f" and {rest} minutes" if rest else "")


def between(low: float, high: float) -> str:
    """A span of time at the honesty of five minutes: ``50 to 70 minutes``."""
    low_minutes, high_minutes = int(low / 300) * 5, -int(-high // 300) * 5
    if low_minutes < 5:
        return f"up to {high_minutes} minutes"
    if high_minutes >= 180:
        return f"{number(low / 3600, 2)} to {number(high / 3600, 2)} hours"
    return f"{low_minutes} to {high_minutes} minutes"


def rate(value: float) -> str:
    """A charge or discharge rate: ``1 C``, letter and all, as the trade says it."""
    return f"{number(value, 2)} C"


def count(size: int, noun: str) -> str:
    """A small number of things: ``two cells``, ``one cell``."""
    said = _NUMERALS[size] if 0 <= size < len(_NUMERALS) else str(size)
    return f"{said} {noun}{'' if size == 1 else 's'}"


def listed(words: Sequence[str]) -> str:
    """Words in a row: ``a``, ``a and b``, ``a, b and c``."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def sentences(*said: str | None) -> str:
    """Sentences joined; those that are empty or None left out."""
    return " ".join(text for text in said if text)

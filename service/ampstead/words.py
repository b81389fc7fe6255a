"""Numbers and units as a phone speaks them. Values come in SI; nothing here is read back."""

from collections.abc import Sequence
from math import ceil, floor, log10

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
    """A number at a few significant digits, without an exponent or a sign: 12.86 is 12.9, -5 is minus 5."""
    rounded = float(f"{value:.{digits}g}")
    places = max(0, digits - 1 - floor(log10(abs(rounded)))) if rounded else 0
    return _spoken(f"{rounded:.{places}f}")


def down(value: float, digits: int = 3) -> float:
    """A value at a few digits, never more than it is: what may be at most is spoken so."""
    return -up(-value, digits)


def up(value: float, digits: int = 3) -> float:
    """A value at a few digits, never less than it is: what is needed is spoken so."""
    if not value:
        return value
    places = digits - 1 - floor(log10(abs(value)))
    slack = 1e-9 * abs(value)
    return float(f"{ceil((value - slack) * 10.0**places) / 10.0**places:.12g}")


def _spoken(text: str) -> str:
    """A written number without idle noughts, its sign in a word."""
    plain = text.rstrip("0").rstrip(".") if "." in text else text
    return f"minus {plain[1:]}" if plain.startswith("-") and plain != "-0" else plain.lstrip("-")


def _counted(value: float, one: str, many: str, digits: int) -> str:
    said = number(value, digits)
    return f"{said} {one if said == '1' else many}"


def amperes(current: float) -> str:
    """A current: ``2.3 amperes``."""
    return _counted(current, "ampere", "amperes", 3)


def volts(voltage: float) -> str:
    """A voltage to the hundredth of a volt: ``8.4 volts``."""
    said = _spoken(f"{voltage:.2f}")
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
    return f"{_spoken(f'{round(size, -1) if size >= 1000 else round(size):.0f}')} milliampere hours"


def degrees(temperature: float) -> str:
    """A temperature in degrees Celsius: ``25 degrees``."""
    return f"{_spoken(f'{temperature - 273.15:.0f}')} degrees"


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
    return f"{hours} hours" + (f" and {rest} {'minute' if rest == 1 else 'minutes'}" if rest else "")


def metres(length: float) -> str:
    """A length: ``0.3 metres``, ``1 metre``."""
    return _counted(length, "metre", "metres", 3)


def watt_hours(energy: float) -> str:
    """An energy, to the tenth, at which rules turn: ``100.1 watt hours``."""
    said = _spoken(f"{energy / 3600:.1f}")
    return f"{said} watt {'hour' if said == '1' else 'hours'}"


def kelvins(rise: float) -> str:
    """A rise in temperature: ``10 degrees``."""
    said = _spoken(f"{rise:.0f}")
    return f"{said} {'degree' if said == '1' else 'degrees'}"


def countdown(time: float) -> str:
    """A time to set a timer to, down to five seconds (to one below a minute): ``6 minutes and 35 seconds``."""
    whole = int(time * (1 + 1e-9))
    minutes, seconds = divmod(whole if whole < 60 else whole // 5 * 5, 60)
    hours, minutes = divmod(minutes, 60)
    parts = [(hours, "hour"), (minutes, "minute"), (0 if hours else seconds, "second")]
    said = [f"{size} {noun}{'' if size == 1 else 's'}" for size, noun in parts if size]
    return listed(said) if said else "0 seconds"


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


def capitalised(text: str) -> str:
    """The text with its first letter large and the others as they are: names keep their own."""
    return text[:1].upper() + text[1:]


def listed(words: Sequence[str]) -> str:
    """Words in a row: ``a``, ``a and b``, ``a, b and c``."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def sentences(*said: str | None) -> str:
    """Sentences joined; those that are empty or None left out."""
    return " ".join(text for text in said if text)


def cells_named(size: int | None) -> list[str]:
    """What to call the rows of a table of cells: each by its place, or all as one where only the pack was read."""
    return ["each cell"] if size is None else [f"cell {place}" for place in range(1, size + 1)]


def span(low: float, high: float) -> str:
    """A span of fractions: ``43 to 63 percent``; one figure where both are the same."""
    least, most = number(low * 100, 2), percent(high)
    return most if most == f"{least} percent" else f"{least} to {most}"

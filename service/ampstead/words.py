"""Numbers and units as a phone speaks them. Values come in SI; nothing here is read back.

What may be at most is spoken rounded down, what is needed rounded up, a band with its edges outward: each helper takes
the direction that the result declares. Times of flight go in quarter minutes.

Over 300 lines: all that is ever spoken, on one page.
"""

import re
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from math import ceil, copysign, floor, log10
from typing import Literal

Direction = Literal["down", "up", "near"]
Speaker = Callable[[float, Direction], str]

_SAID = re.compile(r"^((?:minus )?[0-9.]+)(.*?)s?$")
"""A figure as the helpers speak it, and its unit."""
# Below this nothing is worth a figure: it is spoken as none.
_NOTHING = 1e-12
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


def _rounded(value: float, places: int, direction: Direction) -> float:
    """A value at so many decimal places, with a slack of 1e-9: 385.00000000000006 W is not more than 385 W."""
    scale = 10.0**places
    size = value * scale
    slack = 1e-9 * size if size > 1.0 else -1e-9 * size if size < -1.0 else 1e-9
    if direction == "up":
        return ceil(size - slack) / scale
    if direction == "down":
        return floor(size + slack) / scale
    return round(value + copysign(slack, value) / scale, places)


def _spoken(value: float, places: int, direction: Direction) -> str:
    """A number at so many decimal places, without idle noughts, its sign in a word; never "minus 0"."""
    rounded = _rounded(value, places, direction)
    plain = f"{rounded:.0f}" if places <= 0 else f"{rounded:.{places}f}".rstrip("0").rstrip(".")
    if plain[0] != "-":
        return plain
    return f"minus {plain[1:]}" if plain != "-0" else "0"


def _of(said: str, one: str, many: str) -> str:
    """A spoken number of something: ``1 volt``, ``minus 1 degree``, ``2 volts``."""
    return f"{said} {one if said in ('1', 'minus 1') else many}"


def number(value: float, digits: int = 3, direction: Direction = "near") -> str:
    """A number at a few significant digits, without an exponent or a sign: 12.86 is 12.9, -5 is minus 5."""
    size = abs(value)
    return "0" if size < _NOTHING else _spoken(value, digits - 1 - floor(log10(size)), direction)


def amperes(current: float, direction: Direction = "near") -> str:
    """A current: ``2.3 amperes``."""
    return _of(number(current, 3, direction), "ampere", "amperes")


def amperes_to_set(current: float) -> str:
    """A charge current as a charger is set to it, never above: ``2.2 amperes``; below one with two digits."""
    return _of(_spoken(current, 1, "down") if current >= 1 else number(current, 2, "down"), "ampere", "amperes")


def volts(voltage: float, direction: Direction = "near") -> str:
    """A voltage to the hundredth of a volt: ``8.4 volts``."""
    return _of(_spoken(voltage, 2, direction), "volt", "volts")


def millivolts(voltage: float, direction: Direction = "near") -> str:
    """A small voltage, to the tenth below ten: ``30 millivolts``."""
    size = voltage * 1000
    return _of(_spoken(size, 1 if abs(size) < 10 else 0, direction), "millivolt", "millivolts")


def watts(power: float, direction: Direction = "near") -> str:
    """A power: ``15 watts``."""
    return _of(number(power, 3, direction), "watt", "watts")


def milliohms(resistance: float, direction: Direction = "near") -> str:
    """A resistance: ``28 milliohms``."""
    return _of(number(resistance * 1000, 3, direction), "milliohm", "milliohms")


def ohms(resistance: float, direction: Direction = "near") -> str:
    """A resistance of a load: ``18 ohms``."""
    return _of(number(resistance, 3, direction), "ohm", "ohms")


def milliampere_hours(charge: float, direction: Direction = "near") -> str:
    """A charge: ``1040 milliampere hours``, to the ten from a thousand up; ``23.8 ampere hours`` from ten of those."""
    size = charge / 3.6
    if size >= 10_000:
        return _of(number(size / 1000, 3, direction), "ampere hour", "ampere hours")
    return _of(_spoken(size, -1 if size >= 1000 else 0, direction), "milliampere hour", "milliampere hours")


def degrees(temperature: float, direction: Direction = "near") -> str:
    """A temperature in degrees Celsius: ``25 degrees``."""
    return warming(temperature - 273.15, direction)


def warmth(temperatures: Iterable[float]) -> str:
    """Temperatures of several things: ``13 degrees and 33 degrees``; of more than two the span, ``5 to 33 degrees``."""
    each = sorted(temperatures)
    said = list(dict.fromkeys(degrees(temperature) for temperature in each))
    return listed(said) if len(said) <= 2 else span(each[0], each[-1], degrees)


def warming(rise: float, direction: Direction = "near") -> str:
    """A rise in temperature: ``10 degrees``."""
    return _of(_spoken(rise, 0, direction), "degree", "degrees")


def percent(fraction: float, direction: Direction = "near") -> str:
    """A fraction: ``20 percent``."""
    return f"{number(fraction * 100, 2, direction)} percent"


def metres(length: float) -> str:
    """A length: ``0.3 metres``, ``1 metre``."""
    return _of(number(length), "metre", "metres")


def watt_hours(energy: float, direction: Direction = "near") -> str:
    """An energy, to the tenth, at which rules turn: ``100.1 watt hours``."""
    return _of(_spoken(energy / 3600, 1, direction), "watt hour", "watt hours")


def days(size: float, direction: Direction = "near") -> str:
    """A number of days: ``19 days``."""
    return _of(number(size, 2, direction), "day", "days")


def rate(value: float, direction: Direction = "near") -> str:
    """A charge or discharge rate: ``1 C``, letter and all, as the trade says it."""
    return f"{number(value, 2, direction)} C"


def duration(time: float, direction: Direction = "near") -> str:
    """A time in the unit that suits it: ``10 seconds``, ``55 minutes``, ``2 hours and 5 minutes``."""
    if time < 100:
        return _of(_spoken(time, 0 if time >= 2 else 1, direction), "second", "seconds")
    return _clock(60 * int(_rounded(time / 60, 0, direction)))


def minutes(time: float, direction: Direction = "near") -> str:
    """The same, but in quarter minutes below ten of them: ``3 minutes and 45 seconds``."""
    if not 100 <= time < 600:
        return duration(time, direction)
    return _clock(15 * int(_rounded(time / 15, 0, direction)))


def told(time: float) -> str:
    """A time as somebody told it, to the second: ``6 minutes and 30 seconds``."""
    whole = round(time)
    return _clock(whole) if whole >= 100 and abs(whole - time) < 1e-6 else duration(time)


def quarter_minutes(time: float) -> str:
    """A time of flight, down to the quarter minute (to the second below one): ``6 minutes and 30 seconds``."""
    whole = int(_rounded(time, 0, "down"))
    return _clock(whole if whole < 60 else whole // 15 * 15)


def _clock(time: int) -> str:
    """Whole seconds in hours, minutes and seconds; below two hours in minutes and seconds."""
    hours, rest = divmod(time, 3600) if time >= 7200 else (0, time)
    parts = [(hours, "hour"), (rest // 60, "minute"), (0 if hours else rest % 60, "second")]
    said = [_of(str(size), noun, f"{noun}s") for size, noun in parts if size]
    return " and ".join(said) if said else "0 seconds"


def between(low: float, high: float) -> str:
    """A span of time at the honesty of five minutes: ``50 to 70 minutes``; both edges outward. One that is over within
    five is told as it is: ``37 to 46 seconds``.
    """
    if high < 300 and low >= 1:
        return span(low, high, duration)
    low_minutes, high_minutes = 5 * int(_rounded(low / 300, 0, "down")), 5 * int(_rounded(high / 300, 0, "up"))
    if low_minutes < 5:
        return f"up to {high_minutes} minutes"
    if high_minutes >= 180 and low_minutes < 60:
        return f"{low_minutes} minutes to {number(high / 3600, 2, 'up')} hours"
    low_said, high_said, unit = str(low_minutes), str(high_minutes), "minutes"
    if high_minutes >= 180:
        low_said, high_said, unit = number(low / 3600, 2, "down"), number(high / 3600, 2, "up"), "hours"
    return f"{high_said} {unit}" if low_said == high_said else f"{low_said} to {high_said} {unit}"


def span(low: float, high: float, speak: Speaker = percent) -> str:
    """A band with its edges outward: ``43 to 63 percent``; one figure where both are the same."""
    least, most = speak(low, "down"), speak(high, "up")
    if least == most:
        return most
    (figure, unit), (_, other) = (_SAID.findall(said)[0] for said in (least, most))
    return f"{figure if unit == other else least} to {most}"


def count(size: int, noun: str) -> str:
    """A small number of things: ``two cells``, ``one cell``."""
    said = _NUMERALS[size] if 0 <= size < len(_NUMERALS) else str(size)
    return f"{said} {noun}{'' if size == 1 else 's'}"


def capitalised(text: str) -> str:
    """The text with its first letter large, where there is a large one, and the others as they are in names."""
    first = text[:1].upper()
    return first + text[1:] if len(first) == 1 else text


def numbered(names: Sequence[str | None], noun: str) -> list[str]:
    """What to call each of several things: unnamed ones by their place, equal names numbered."""
    given = [name.strip() if name and name.strip() else None for name in names]
    often = Counter(name for name in given if name)
    seen: Counter[str] = Counter()
    made = []
    for place, name in enumerate(given, 1):
        if name is None:
            made.append(f"{noun} {place}")
        elif often[name] == 1:
            made.append(name)
        else:
            seen[name] += 1
            made.append(f"{name} {seen[name]}")
    return made


def listed(words: Sequence[str]) -> str:
    """Words in a row: ``a``, ``a and b``, ``a, b and c``."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def sentences(*said: str | None) -> str:
    """Sentences joined; those that are empty or None left out."""
    return " ".join(text for text in said if text)


def cells_named(size: int | None) -> list[str]:
    """What to call the rows of a table of cells: each by its place, or all as one where only the pack was read."""
    return ["each cell"] if size is None else [f"cell {place}" for place in range(1, size + 1)]


WRITTEN = {
    "ampere": "A",
    "volt": "V",
    "millivolt": "mV",
    "watt": "W",
    "milliohm": "mΩ",
    "ohm": "Ω",
    "ampere hour": "Ah",
    "milliampere hour": "mAh",
    "watt hour": "Wh",
    "degree": "°C",
    "percent": "%",
    "metre": "m",
    "square millimetre": "mm²",
    "gauge": "AWG",
    "second": "s",
    "minute": "min",
    "hour": "h",
}
"""The units that the helpers above speak, and how they are written."""
_UNITS = "|".join(rf"{unit}s?" for unit in sorted(WRITTEN, key=len, reverse=True))
_NUMBER = r"(?:minus )?(?:[0-9]{1,2}:[0-9]{2}|[0-9]+(?:\.[0-9]+)?)(?![0-9A-Za-z])"
_FIGURE = re.compile(rf"({_NUMBER})(?: to ({_NUMBER}))?(?: ({_UNITS})\b| (C)\b)?(?: and (?=[0-9]+ (?:minute|second)))?")


def written(spoken: str) -> list[tuple[str, bool]]:
    """A spoken sentence as it is written, in pieces that are figures (true) or plain words: ``Charge it at`` and
    ``2.2 A``. One sentence serves both, so that they cannot differ.
    """
    pieces: list[tuple[str, bool]] = []
    place = 0
    for found in _FIGURE.finditer(spoken):
        first, second, unit, rate_unit = found.groups()
        if found.start() > place or not pieces:
            pieces.append((spoken[place : found.start()], False))
        size = " to ".join(each.replace("minus ", "\N{MINUS SIGN}") for each in (first, second) if each)
        shown = rate_unit or WRITTEN.get((unit or "").removesuffix("s"), "")
        joint = " " if shown and found[0].endswith(" and ") else ""  # 6 minutes and 30 seconds are one figure
        figure = f"{size}\N{NO-BREAK SPACE}{shown}" if shown else size
        if pieces[-1][1]:
            pieces[-1] = (f"{pieces[-1][0]}{figure}{joint}", True)
        else:
            pieces.append((figure + joint, True))
        place = found.end()
    pieces.append((spoken[place:], False))
    return [piece for piece in pieces if piece[0]]

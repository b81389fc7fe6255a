"""A refusal as a phone can speak it: messages name units and signs as they are written."""

import re

from ampstead.words import WRITTEN

_HEARD = {sign: name for name, sign in WRITTEN.items()} | {
    "kA": "kiloampere",
    "kV": "kilovolt",
    "kW": "kilowatt",
    "MW": "megawatt",
    "kWh": "kilowatt hour",
    "km": "kilometre",
    "g": "gram",
    "kg": "kilogram",
    "milliohm": "milliohm",
    "ohm": "ohm",
    "K": "kelvin",
    "W/K": "watt per kelvin",
    "kW/K": "kilowatt per kelvin",
    "mV/K": "millivolt per kelvin",
}
"""How units of messages are heard; a message names some that no answer speaks."""
_SIGNED = r"(?<![\w.-])-?[0-9]{1,15}(?:\.[0-9]{1,15})?(?:e[+-]?[0-9]{1,2})?(?!\w|\.[0-9])"
_MEASURE = re.compile(
    rf"({_SIGNED})(?: to ({_SIGNED}))? ({'|'.join(sorted(map(re.escape, _HEARD), key=len, reverse=True))})(?![\w/²])"
)
_FIGURES = re.compile(_SIGNED)
_READ = re.compile(r"(?<=[0-9] )([a-z ]+s(?: per kelvin)?) was read")


def heard(message: str) -> str:
    """A written message as a phone can speak it: ``-20 °C`` as minus 20 degrees. What stands in quotes is to be
    written, and stays.
    """
    pieces = re.split(r'("[^"]*")', message)
    pieces[::2] = [_FIGURES.sub(_plain, _MEASURE.sub(_measured, piece)) for piece in pieces[::2]]
    return _READ.sub(r"\1 were read", "".join(pieces))


def _measured(found: re.Match[str]) -> str:
    first, second, unit = found.groups()
    name = _HEARD[unit]
    one = (not second and abs(float(first)) == 1) or name in ("percent", "gauge", "kelvin")
    many = name if one else f"{name.partition(' per ')[0]}s{name[len(name.partition(' per ')[0]) :]}"
    return f"{first} to {second} {many}" if second else f"{first} {many}"


def _plain(found: re.Match[str]) -> str:
    figure = f"{abs(float(found[0])):.15f}".rstrip("0").rstrip(".")
    return f"{'minus ' if found[0].startswith('-') else ''}{figure}"

"""Quantities: a number that never goes without its unit, and how questions travel.

Inputs may be text (`"2250 mAh"`), a `Quantity`, or a quantity of pint. A bare number is sent as it is, and
the service refuses it with the right form: no unit is ever guessed here. pint is imported only by
`Quantity.pint`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from importlib import import_module
from math import isfinite
from typing import Any, Protocol, TypeAlias

from ampstead_client._units import UNITS, known, names


@dataclass(frozen=True, slots=True)
class Quantity:
    """A finite number with its unit, such as `Quantity(2250, "mAh")`.

    Prints as `2250 mAh`, rounded to ten digits; a format spec rounds the number: `f"{voltage:.1f}"` is
    `14.8 V`.

    Raises `TypeError` for a value that is no number, `ValueError` for one that is not finite.
    """

    value: float
    """The number, in full precision."""
    unit: str
    """The unit, as the service writes it: `mAh`, `mΩ`, `°C` and so on."""

    def __post_init__(self) -> None:
        if isinstance(self.value, bool | str | bytes):
            raise TypeError(f'{self.value!r} is no number: write Quantity(2250, "mAh")')
        value = float(self.value)
        if not isfinite(value):
            raise ValueError(f"{value} is not finite: a quantity needs a finite number")
        object.__setattr__(self, "value", value)

    @classmethod
    def of(cls, document: Quantity | Mapping[str, Any]) -> Quantity:
        """The quantity in a JSON object of the service, `{"value": 2250, "unit": "mAh"}`.

        Raises `ValueError` for anything else.
        """
        if isinstance(document, Quantity):
            return document
        if not isinstance(document, Mapping):
            raise ValueError(f'{document!r} is no {{"value", "unit"}} object')
        value, unit = document.get("value"), document.get("unit")
        if isinstance(value, bool) or not isinstance(value, int | float) or not isinstance(unit, str):
            raise ValueError(f'{dict(document)!r} is no {{"value", "unit"}} object')
        return cls(value, unit)

    def to(self, unit: str) -> Quantity:
        """The same quantity in another unit, which keeps the spelling asked for.

        Temperatures are absolute: 300 K is 26.85 °C. A temperature rise also comes in K; do not convert it to
        °C or °F, which would move it by the offset.

        Raises `ValueError`, naming both units and the choices, where no conversion is known.
        """
        if unit == self.unit:
            return self
        source, target = known(self.unit), known(unit)
        if source is None:
            raise ValueError(f"no conversion from {self.unit} to {unit}: the known units are {names()}")
        if target is None or target.dimension != source.dimension:
            raise ValueError(
                f"no conversion from {self.unit} to {unit}: {self.unit} is a unit of {source.dimension}, "
                f"for which the known units are {names(source.dimension)}"
            )
        base = (Fraction(self.value) + source.offset) * source.factor
        return Quantity(float(base / target.factor - target.offset), unit)

    def pint(self, registry: Any = None) -> Any:
        """This quantity as one of pint's, in the registry given or else pint's application registry.

        Raises `ImportError` without pint, `ValueError` for a unit that `to` does not know either.
        """
        unit = known(self.unit)
        if unit is None:
            raise ValueError(f"no unit of pint is known for {self.unit}: the known units are {names()}")
        if registry is None:
            try:
                registry = import_module("pint").get_application_registry()
            except ImportError as fault:
                raise ImportError(
                    'Quantity.pint needs pint: pip install "ampstead-client[pint]"', name="pint"
                ) from fault
        return registry.Quantity(self.value, unit.pint)

    def __str__(self) -> str:
        return f"{self.value:.10g} {self.unit}"

    def __format__(self, spec: str) -> str:
        return f"{self.value:{spec}} {self.unit}" if spec else str(self)


class PintQuantity(Protocol):
    """What a quantity of pint looks like from outside."""

    @property
    def magnitude(self) -> Any:
        """The number, or an array of numbers."""

    @property
    def units(self) -> Any:
        """The unit."""


QuantityLike: TypeAlias = str | Quantity | PintQuantity
"""One quantity: text such as `"2250 mAh"`, a `Quantity`, or a quantity of pint."""

QuantitiesLike: TypeAlias = QuantityLike | Sequence[QuantityLike]
"""One quantity, or one for each cell or item."""


def wire(value: Any) -> Any:
    """A question's input as JSON carries it.

    Text and numbers stay; quantities become `{"value", "unit"}` objects; mappings and dataclasses become
    objects without their None values; sequences and arrays become lists.

    Raises `ValueError` for a number that is not finite, `TypeError` for a type that no question has.
    """
    if value is None or isinstance(value, str | bool):
        return value
    if isinstance(value, Enum):
        return wire(value.value)
    if isinstance(value, Quantity):
        return {"value": value.value, "unit": value.unit}
    if isinstance(value, int | float | Decimal | Fraction):
        return _number(value)
    if isinstance(value, Mapping):
        return {str(name): wire(item) for name, item in value.items() if item is not None}
    if is_dataclass(value) and not isinstance(value, type):
        return wire({field.name: getattr(value, field.name) for field in fields(value)})
    if hasattr(value, "magnitude") and hasattr(value, "units"):
        return _from_pint(value)
    if hasattr(value, "tolist"):
        return wire(value.tolist())
    if isinstance(value, Sequence) and not isinstance(value, bytes | bytearray | memoryview):
        return [wire(item) for item in value]
    raise TypeError(f"a question cannot hold {value!r}, of type {type(value).__name__}")


def _number(value: float | Decimal | Fraction) -> int | float:
    number = int(value) if isinstance(value, int) else float(value)
    if not isfinite(number):
        raise ValueError(f"{value} is not finite: a question needs finite numbers")
    return number


# The units of the service's answers, tried in turn on what pint alone writes: `h*mA`, `mm**2`, `W/Δ°C`, `fur`.
_ANSWER_UNITS = (
    *("A", "V", "mΩ", "mAh", "W", "Wh", "K", "g", "m", "mm²", "min"),
    *("W/K", "W/m", "mV/K", "K/s", "mV/day"),
)


def _from_pint(value: Any) -> Any:
    unit = value.units if isinstance(value.units, str) else f"{value.units:~C}"
    if known(unit) is None and hasattr(value, "to"):
        number = _in_pint(value, "dimensionless")
        if number is not None:
            return wire(number.magnitude)
        for name in _ANSWER_UNITS:
            converted = _in_pint(value, UNITS[name].pint)
            if converted is not None:
                value, unit = converted, name
                break
    return {"value": wire(value.magnitude), "unit": unit}


def _in_pint(value: Any, unit: str) -> Any:
    try:
        return value.to(unit)
    except (AttributeError, TypeError, ValueError):  # the roots of pint's own errors
        return None

"""How questions travel.

Inputs may be text (`"2250 mAh"`), a `Quantity`, or a quantity of pint. A bare number is sent as it is, and
the service refuses it with the right form: no unit is ever guessed here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import date
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from math import isfinite
from typing import Any

from ampstead_client._units import ANSWER_UNITS, UNITS, known
from ampstead_client.quantity import Quantity


def wire(value: Any) -> Any:
    """A question's input as JSON carries it.

    Text and numbers stay; dates become text; quantities become `{"value", "unit"}` objects; mappings and dataclasses
    become objects without their None values; sequences and arrays become lists.

    Raises `ValueError` for a number that is not finite, `TypeError` for a type that no question has.
    """
    if value is None or isinstance(value, str | bool):
        return value
    if isinstance(value, Enum):
        return wire(value.value)
    if isinstance(value, Quantity):
        return {"value": value.value, "unit": value.unit}
    if isinstance(value, date):
        return value.isoformat()
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


def _from_pint(value: Any) -> Any:
    unit = value.units if isinstance(value.units, str) else f"{value.units:~C}"
    if known(unit) is None and hasattr(value, "to"):
        number = _in_pint(value, "dimensionless")
        if number is not None:
            return wire(number.magnitude)
        # What pint alone writes: `h*mA`, `mm**2`, `W/Δ°C`, `fur`.
        for name in ANSWER_UNITS.values():
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

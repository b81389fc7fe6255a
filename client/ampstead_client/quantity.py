"""Quantities: a number that never goes without its unit. pint is imported only by `Quantity.pint`."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import total_ordering
from importlib import import_module
from math import isfinite
from typing import Any, ClassVar, Protocol, SupportsFloat, TypeAlias, overload

from ampstead_client._units import combined, exact, known, names, sortable, span, spelt


@total_ordering
@dataclass(frozen=True, slots=True, eq=False)
class Quantity:
    """A finite number with its unit, such as `Quantity(2250, "mAh")`.

    Prints as `2250 mAh`, rounded to ten digits; a format spec rounds the number: `f"{voltage:.1f}"` is
    `14.8 V`.

    Quantities of one kind compare across units, to twelve digits: `Quantity(2250, "mAh") == Quantity(2.25, "Ah")`.
    They add and subtract in the unit on the left, scale by plain numbers, and divide to a plain number. Products and
    quotients that the trade knows come in the unit of answers: volts times amperes are watts, milliampere-hours over
    amperes are minutes. The difference of two temperatures is in K, and K added to a temperature moves it. All else
    raises `TypeError`, since a slip of units is what this class is there to catch.

    Raises `TypeError` for a value that is no number, `ValueError` for one that is not finite.
    """

    __array_ufunc__: ClassVar[None] = None  # numpy's numbers leave arithmetic to this class

    value: float
    """The number, in full precision."""
    unit: str
    """The unit, as the service writes it: `mAh`, `mΩ`, `°C` and so on."""

    def __post_init__(self) -> None:
        if isinstance(self.value, bool | str | bytes):
            raise TypeError(f'{self.value!r} is no number: write Quantity(2250, "mAh") or Quantity.parse("2250 mAh")')
        if not isinstance(self.unit, str):
            raise TypeError(f'the unit {self.unit!r} is no text: write Quantity(2250, "mAh")')
        object.__setattr__(self, "value", _finite(self.value))

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

    @classmethod
    def parse(cls, text: str) -> Quantity:
        """The quantity in a text such as `"2250 mAh"`, `"8.5 mohm"` or `"2.25ah"`, in the unit's usual spelling.

        Raises `ValueError`, with the right form, for anything else: a bare number, a comma, an unknown unit.
        """
        matched = _TEXT.fullmatch(text.strip()) if len(text) <= _LONGEST_TEXT else None
        if matched is None:
            raise ValueError(f'{text[:60]!r} is no quantity: write a number with a unit, as in "2250 mAh"')
        number, unit = matched[1].replace("\u2212", "-"), matched[2]
        if not unit:
            raise ValueError(f'{text!r} needs a unit, as in "2250 mAh"')
        name = spelt(unit)
        if name is None:
            raise ValueError(f"{unit!r} is no unit that is known here: the known units are {names()}")
        return cls(float(number), name)

    @classmethod
    def many(cls, values: Iterable[float] | str, unit: str | None = None) -> tuple[Quantity, ...]:
        """Quantities of one unit: `Quantity.many([3.86, 3.91, 3.87], "V")`, or `Quantity.many("3.86, 3.91, 3.87 V")`.

        In a text an element without a unit takes that of the last. Raises what `Quantity` and `parse` raise.
        """
        if not isinstance(values, str):
            if unit is None:
                raise TypeError('numbers need their unit: write Quantity.many([3.86, 3.91], "V")')
            return tuple(cls(value, unit) for value in values)
        parts = [part.strip() for part in values.split(",")]
        last = unit or parts[-1].lstrip("+-\u2212.0123456789eE").strip()
        return tuple(cls.parse(f"{part} {last}" if _BARE.fullmatch(part) else part) for part in parts)

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
        base = (exact(self.value) + source.offset) * source.factor
        return Quantity(_finite(base / target.factor - target.offset), unit)

    def value_in(self, unit: str) -> float:
        """The number alone, in a unit: `answer.current.value_in("mA")`. Raises as `to` does."""
        return self.to(unit).value

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

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Quantity):
            return NotImplemented
        return sortable(self.value, self.unit) == sortable(other.value, other.unit)

    def __hash__(self) -> int:
        return hash(sortable(self.value, self.unit))

    def __lt__(self, other: Quantity) -> bool:
        if not isinstance(other, Quantity):
            return NotImplemented
        (kind, size), (other_kind, other_size) = (sortable(each.value, each.unit) for each in (self, other))
        if kind != other_kind:
            raise TypeError(f"{self} and {other} are of different kinds: no order between them")
        return size < other_size

    def __add__(self, other: Quantity) -> Quantity:
        if not isinstance(other, Quantity):
            return NotImplemented
        if other._absolute and self.unit == "K":
            return other + self
        return self._shifted(other, 1)

    def __radd__(self, other: int) -> Quantity:
        # `sum` starts from a plain 0, which is nought of any unit.
        return self if isinstance(other, int) and other == 0 else NotImplemented

    def __sub__(self, other: Quantity) -> Quantity:
        if not isinstance(other, Quantity):
            return NotImplemented
        if self._absolute and other._absolute:
            return Quantity(_finite(exact(self.value_in("K")) - exact(other.value_in("K"))), "K")
        return self._shifted(other, -1)

    def __mul__(self, other: float | Quantity) -> Quantity:
        if isinstance(other, Quantity):
            return self._combined(other, over=False)
        scaled: Quantity = self._scaled(other, over=False)
        return scaled

    __rmul__ = __mul__

    @overload
    def __truediv__(self, other: float) -> Quantity: ...
    @overload
    def __truediv__(self, other: Quantity) -> Any: ...
    def __truediv__(self, other: float | Quantity) -> Any:
        """By a number: a quantity. By a quantity: a plain number if they are of one kind, else a quantity."""
        if not isinstance(other, Quantity):
            return self._scaled(other, over=True)
        if other.value == 0 and not other._absolute:
            raise ZeroDivisionError(f"{self} over {other}")
        if not self._absolute and (divisor := span(other.value, other.unit, self.unit)):
            return _finite(exact(self.value) / divisor)
        return self._combined(other, over=True)

    def __neg__(self) -> Quantity:
        return self * -1

    def __abs__(self) -> Quantity:
        return self if self.value >= 0 else -self

    def __round__(self, digits: int = 0) -> Quantity:
        return Quantity(round(self.value, digits), self.unit)

    @property
    def _absolute(self) -> bool:
        """Whether this is a temperature on a scale with an offset, rather than a difference."""
        unit = known(self.unit)
        return bool(unit and unit.offset)

    def _shifted(self, other: Quantity, sign: int) -> Quantity:
        if other._absolute:
            raise TypeError(
                f"{self} and {other}: temperatures have no sum, and only a temperature has one taken from it"
            )
        moved = span(other.value, other.unit, self.unit)
        if moved is None:
            raise TypeError(f"{self} and {other} are of different kinds: no sum or difference")
        return Quantity(_finite(exact(self.value) + sign * moved), self.unit)

    def _combined(self, other: Quantity, *, over: bool) -> Quantity:
        made = combined(self.value, self.unit, other.value, other.unit, over=over)
        if made is None:
            raise TypeError(f"{self} {'over' if over else 'times'} {other} is no quantity that is known here")
        return Quantity(_finite(made[0]), made[1])

    def _scaled(self, by: Any, *, over: bool) -> Any:
        if isinstance(by, bool) or not isinstance(by, SupportsFloat) or hasattr(by, "__len__") or hasattr(by, "units"):
            return NotImplemented
        if self._absolute:
            raise TypeError(f"{self} is a temperature, not a difference: it has no multiple")
        number = exact(_finite(by))
        return Quantity(_finite(exact(self.value) / number if over else exact(self.value) * number), self.unit)


_LONGEST_TEXT = 120
_NUMBER = r"[+\-\u2212]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+\-\u2212]?[0-9]{1,3})?"
_TEXT = re.compile(rf"({_NUMBER})\s*([^\s0-9.,]\S{{0,30}})?")
_BARE = re.compile(_NUMBER)


def _finite(value: Any) -> float:
    try:
        number = float(value)
    except OverflowError:
        raise ValueError("the number is too large: a quantity needs a finite number") from None
    if not isfinite(number):
        raise ValueError(f"{number} is not finite: a quantity needs a finite number")
    return number


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

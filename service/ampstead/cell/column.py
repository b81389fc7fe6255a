"""A column of numbers that stands where one number would, so that scalar code answers many rows at once.

Arithmetic is done for all rows together. Where code asks for a truth that holds for some of them only, ``Split`` is
raised: the rows part there, and each half starts again. Whatever a column cannot stand for raises ``TypeError``; above
all no function of numpy takes its rows for cells. A list of cells is an array of columns.
"""

from collections.abc import Callable
from operator import add, eq, ge, gt, le, lt, mul, ne, pow, sub, truediv
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


class Split(Exception):
    """A truth that holds for some rows only."""

    def __init__(self, mask: NDArray[np.bool_]) -> None:
        super().__init__("rows part here")
        self.mask = mask


def _doing(operation: Callable[[Any, Any], Any], turned: bool = False) -> Any:
    def done(self: "Column", other: Any) -> Any:
        if type(other) is Column:
            other = other.values
        elif isinstance(other, np.ndarray):
            return _of_each(other, lambda cell: done(self, cell))
        elif not isinstance(other, int | float):
            return NotImplemented
        return Column(operation(other, self.values) if turned else operation(self.values, other))

    return done


def _asking(operation: Callable[[Any, Any], Any]) -> Any:
    def asked(self: "Column", other: Any) -> Any:
        if type(other) is Column:
            other = other.values
        elif isinstance(other, np.ndarray):
            return _of_each(other, lambda cell: asked(self, cell)).astype(bool)
        elif not isinstance(other, int | float):
            return NotImplemented
        return _truth(operation(self.values, other))

    return asked


def _of_each(cells: NDArray[Any], function: Callable[[Any], Any]) -> NDArray[Any]:
    """An array is a list of cells or of other things, never of rows."""
    made = np.empty(cells.size, dtype=object)
    made[:] = [function(cell) for cell in cells.flat]
    return made.reshape(cells.shape)


def _truth(mask: NDArray[np.bool_]) -> bool:
    count = int(np.count_nonzero(mask))
    if 0 < count < len(mask):
        raise Split(mask)
    return count > 0


class Column:
    """A number for each row, in place of one."""

    __slots__ = ("values",)
    __array_ufunc__ = None  # numpy leaves it alone, so that none of its functions takes rows for cells
    __hash__ = None  # type: ignore[assignment]

    def __init__(self, values: Floats) -> None:
        self.values = values

    __add__, __radd__ = _doing(add), _doing(add, turned=True)
    __sub__, __rsub__ = _doing(sub), _doing(sub, turned=True)
    __mul__, __rmul__ = _doing(mul), _doing(mul, turned=True)
    __truediv__, __rtruediv__ = _doing(truediv), _doing(truediv, turned=True)
    __pow__, __rpow__ = _doing(pow), _doing(pow, turned=True)
    __lt__, __le__, __gt__, __ge__ = _asking(lt), _asking(le), _asking(gt), _asking(ge)
    __eq__, __ne__ = _asking(eq), _asking(ne)

    def mapped(self, function: Callable[[Floats], Any]) -> "Column":
        """A function of one number applied to each row's."""
        return Column(np.asarray(function(self.values), dtype=float))

    def __neg__(self) -> "Column":
        return Column(-self.values)

    def __abs__(self) -> "Column":
        return Column(np.abs(self.values))

    def __ceil__(self) -> "Column":
        return Column(np.ceil(self.values))

    def __floor__(self) -> "Column":
        return Column(np.floor(self.values))

    def __bool__(self) -> bool:
        return _truth(self.values != 0)

    def __str__(self) -> str:
        raise TypeError("a column has no single text")

    __repr__ = __str__

    def __format__(self, spec: str) -> str:
        raise TypeError("a column has no single text")


def figure(value: Any) -> float:
    """A number as a plain float; a column as it is."""
    return value if type(value) is Column else float(value)  # type: ignore[return-value]  # stands for a float


def listed(size: int, value: Any) -> Any:
    """A value for each of so many cells: floats, or columns."""
    if isinstance(value, Column):
        cells = np.empty(size, dtype=object)
        cells[:] = [value] * size
        return cells
    if isinstance(value, np.ndarray) and value.dtype == object:
        return value
    made = np.empty(size)
    made[:] = value
    return made


def each(values: Any, function: Callable[[Column], Column]) -> Any:
    """A function of columns applied to one, or to those of a list; like cells are worked out once."""
    if type(values) is Column:
        return function(values)
    known: dict[int, Any] = {}
    cells = np.empty(len(values), dtype=object)
    for place, value in enumerate(values):
        if id(value) not in known:
            known[id(value)] = function(value if type(value) is Column else Column(np.array([float(value)])))
        cells[place] = known[id(value)]
    return cells

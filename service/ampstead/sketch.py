"""What a picture shows, as data: which columns of a curve, which limits, which words. Drawn by ``pictures``."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Limit:
    """A marked value of the panel's quantity, in SI (along the x axis where ``upright``), and what it is called."""

    value: float
    label: str
    upright: bool = False


@dataclass(frozen=True, slots=True)
class Panel:
    """One pair of axes: columns of the curve that share a quantity, each with a label at its end.

    Those named in ``points`` are drawn as dots: what was read, rather than what follows.
    """

    columns: Mapping[str, str]
    limits: tuple[Limit, ...] = ()
    from_zero: bool = False
    points: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of the x axis, in SI, and what it is called: where something ends by the band of its time."""

    low: float
    high: float
    label: str


@dataclass(frozen=True, slots=True)
class Chart:
    """Columns of a curve over one of them, panels below each other."""

    title: str
    x: str
    panels: tuple[Panel, ...]
    span: Span | None = None


@dataclass(frozen=True, slots=True)
class Bars:
    """A row for each entry of a table: its label and words, a bar for each of one or two columns, and limits.

    The second column is the trough that the first one fills. ``stacked`` bars begin where the one before ends.
    ``quantity`` is what their lengths are, where the first column's name does not say it; the scale goes as far as
    ``reach``, in SI, or farther.
    """

    title: str
    label: str
    columns: tuple[str, ...]
    words: tuple[str, ...]
    limits: tuple[Limit, ...] = ()
    stacked: bool = False
    quantity: str = ""
    reach: float = 0.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """From one value of the x axis to another, in SI, on one of several rows, and what it is called."""

    row: int
    begin: float
    end: float
    label: str


@dataclass(frozen=True, slots=True)
class Rows:
    """Stretches on rows over one axis, upright marks through all of them, and a panel of a line below.

    The columns named tell the quantities: ``begin`` of the axis, ``below`` of the line, whose points are ``times`` and
    ``values`` in SI. A stretch too short for its label bears its place in the table, under which a list names it.
    """

    title: str
    begin: str
    label: str
    rows: tuple[str, ...]
    stretches: tuple[Stretch, ...]
    below: str
    times: NDArray[np.float64]
    values: NDArray[np.float64]
    marks: tuple[Limit, ...] = ()
    limits: tuple[Limit, ...] = ()


Picture = Chart | Bars | Rows

"""Where a pack lies while it warms or cools: what the air there takes from it, and what it is to come to."""

from collections.abc import Iterator, Mapping
from dataclasses import MISSING, dataclass
from math import inf
from typing import Annotated, Any, Literal

import numpy as np

from ampstead.cell.one.slab import Slab
from ampstead.declare import Band, Choice, Floats, Group, Quantity, derived
from ampstead.errors import FieldError
from ampstead.inputs.pack import Pack
from ampstead.inputs.warming import Thermal
from ampstead.sketch import Chart, Limit, Panel, Span
from ampstead.words import between

Surroundings = Literal["still-air", "box", "draught"]
SurroundingsInput = Annotated[
    Surroundings,
    Choice(
        "Where the pack lies: free in still air, in a closed box or bag, or in a draught such as a fan's.",
        example="still-air",
    ),
]
TargetTemperature = Annotated[
    float,
    Quantity(
        "°C", "Temperature that the middle of the pack is to come to.", at_least="-20 °C", at_most="70 °C",
        example="20 °C",
    ),
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Air:
    """What air takes from each square metre, W/m²K: as taken, at least, at most."""

    usual: float
    least: float
    most: float
    words: str


# Published ranges are 2 to 25 for free and 25 to 250 for forced convection of gases (Çengel), 5 to 35 in published
# sets of cells; which of it a pack meets is this project's own judgement, radiation counted.
AIRS: Mapping[Surroundings, Air] = {
    "still-air": Air(8.0, 5.0, 12.0, "in still air"),
    "box": Air(4.0, 2.0, 6.0, "in a closed box"),
    "draught": Air(25.0, 15.0, 50.0, "in a draught"),
}


def whole_mass(cell_mass: float | Floats, cells: int) -> float:
    """Mass of the pack from one for all cells, or one per cell, kg."""
    return float(np.broadcast_to(cell_mass, (cells,)).sum())


def usual_cooling(surroundings: Surroundings, cell_mass: Any, cells: int | None) -> float | None:
    """What the air takes from each cell of a block of this mass, W/K."""
    if cells is None or cell_mass is None or np.shape(cell_mass) not in ((), (cells,)):
        return None
    return AIRS[surroundings].usual * Slab(whole_mass(cell_mass, cells), 0.0).surface / cells


def in_air() -> Group:
    """The air that must be told, and what it takes by the surroundings."""
    return Group(
        name="thermal",
        whole=False,
        only=("ambient", "cell_mass", "cooling"),
        defaults={"ambient": MISSING, "cooling": derived(usual_cooling, "by the surroundings, from all sides")},
    )


@dataclass(frozen=True, slots=True)
class Passage:
    """A pack on its way from one temperature to another, kelvin."""

    slab: Slab
    start: float
    ambient: float
    target: float

    @classmethod
    def of(cls, pack: Pack, thermal: Thermal, target: float) -> "Passage":
        """A pack in its air."""
        slab = Slab(whole_mass(thermal.cell_mass, pack.size), thermal.cooling * pack.size)
        return cls(slab, pack.temperature, thermal.ambient, target)

    @property
    def share(self) -> float:
        """The part of the difference to the air that is left at the target; below 0 where it lies beyond the air."""
        whole = self.start - self.ambient
        return (self.target - self.ambient) / whole if whole else inf

    def time(self) -> float | None:
        """Time until the middle is there, s, of one that is not there yet; None where the air never brings it there."""
        if self.share >= 1.0:
            return None  # the air is no further on than the pack, or leads away from the target
        time = self.slab.time_to(self.share)
        return None if time == inf else time

    def skin(self, time: float) -> float:
        """The skin's temperature then."""
        return self.ambient + (self.start - self.ambient) * float(self.slab.skin(time))

    def course(self, end: float, points: int = 121) -> tuple[Floats, Floats, Floats]:
        """Times to an end, and the middle and the skin at each; shape (points,)."""
        times = np.linspace(0.0, end, points)
        whole = self.start - self.ambient
        begun = times > 0
        middle = np.where(begun, self.slab.middle(times), 1.0)
        skin = np.where(begun, self.slab.skin(times), 1.0)
        return times, self.ambient + whole * middle, self.ambient + whole * skin


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    time: Annotated[Floats, Quantity("min", "Time from now.")]
    middle: Annotated[Floats, Quantity("°C", "Temperature of its middle.")]
    skin: Annotated[Floats, Quantity("°C", "Temperature of its skin.")]


def course(passage: Passage, time: float | None, halving: float) -> Course:
    """A passage to a third beyond its target, or over three halvings where it has none."""
    times, middle, skin = passage.course(1.33 * time if time else 3.0 * halving)
    return Course(time=times, middle=middle, skin=skin)


def chart(title: str, target: Limit, air: Limit, bands: Mapping[str, Band]) -> Chart:
    """Middle and skin over time."""
    band = bands.get("time_to_target")
    span = None if band is None else Span(band.low, band.high, f"there in {between(band.low, band.high)}")
    return Chart(
        title=title,
        x="time",
        panels=(Panel({"middle": "middle", "skin": "skin"}, (target, air)),),
        span=span,
    )


def air_takes_something(cooling: float | None) -> Iterator[FieldError]:
    """Without any cooling a pack stays as warm as it is for ever."""
    if cooling is not None and cooling <= 0:
        said = 'cooling must be above 0 here: leave it out, or give what the air takes from a cell, like "0.2 W/K"'
        yield FieldError("cooling", "out_of_range", said)

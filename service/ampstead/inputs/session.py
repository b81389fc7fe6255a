"""A charging session: its packs and chargers as inputs."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Annotated, ClassVar

from ampstead.declare import Count, Quantity, Text, derived
from ampstead.errors import FieldError
from ampstead.inputs.pack import Capacity, Checks, Pack, has_curve
from ampstead.inputs.shared import (
    MOST_POWER,
    ChargeRate,
    ChargerCurrentLimit,
    ChargerPowerLimit,
    Efficiency,
    MaxRate,
    cells_told,
    usual_charge_rate,
)
from ampstead.inputs.source import StateOfCharge

MOST_PACKS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionPack(Pack):
    """A pack to be charged in a session."""

    name: Annotated[str | None, Text("What to call the pack.", example="grey tug")] = None
    capacity: Capacity = field()  # without a default, where a pack has one
    state_of_charge: StateOfCharge = 0.2
    rate: ChargeRate = derived(usual_charge_rate, "the chemistry's usual rate")
    max_rate: MaxRate = None
    ready_at: Annotated[
        float | None,
        Quantity("min", "Time from the start before which the pack is not there.", at_least=0, at_most="10000 min",
                 example="30 min"),
    ] = None  # fmt: skip
    need_by: Annotated[
        float | None,
        Quantity("min", "Time from the start by which the pack is needed.", at_least=0, at_most="10000 min",
                 example="90 min"),
    ] = None  # fmt: skip

    CHECKS: ClassVar[Checks] = (*Pack.CHECKS, cells_told, has_curve)


def cells_in_order(cells_min: int | None, cells_max: int | None) -> Iterator[FieldError]:
    """A charger's least number of cells is not above its largest."""
    if cells_min is not None and cells_max is not None and cells_min > cells_max:
        said = f"cells_min is {cells_min} but cells_max is {cells_max}: cells_min is the smaller one"
        yield FieldError("cells_min", "conflict", said)
        yield FieldError("cells_max", "conflict", said)


@dataclass(frozen=True, slots=True, kw_only=True)
class Charger:
    """A charger of a session; one without limits charges whatever is put on it."""

    name: Annotated[str | None, Text("What to call the charger.", example="left")] = None
    outputs: Annotated[int, Count("Packs that it charges at once.", at_least=1, at_most=16, example=1)] = 1
    current_limit: ChargerCurrentLimit = None
    power_limit: ChargerPowerLimit = None
    total_power_limit: Annotated[
        float | None,
        Quantity("W", "Most power that all its outputs together put out.", above=0, at_most=MOST_POWER,
                 example="200 W"),
    ] = None  # fmt: skip
    idle_power: Annotated[
        float,
        Quantity("W", "What it draws for itself while it is on.", at_least=0, at_most=MOST_POWER, example="3 W"),
    ] = 0.0
    efficiency: Efficiency = 0.85
    cells_min: Annotated[
        int | None, Count("Fewest cells that it charges.", at_least=1, at_most=24, example=2, label="fewest cells")
    ] = None
    cells_max: Annotated[
        int | None, Count("Most cells that it charges.", at_least=1, at_most=24, example=6, label="most cells")
    ] = None

    CHECKS: ClassVar[Checks] = (cells_in_order,)

    def takes(self, cells: int) -> bool:
        """Whether it charges packs of so many cells."""
        return (self.cells_min or 0) <= cells <= (self.cells_max or cells)

"""The battery at the field: inputs that calculators share which charge from one."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Annotated, Any, ClassVar

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.kinds.resistance import TIME_CONSTANT
from ampstead.declare import Choice, Count, Floats, Fraction, Number, Quantity
from ampstead.errors import FieldError
from ampstead.inputs.pack import (
    CHEMISTRY_SPELLINGS,
    ROOM,
    Capacity,
    Checks,
    ChemistryName,
    Pack,
    cells_in_range,
    has_curve,
    usual_cell_resistance,
    usual_polarisation,
)
from ampstead.inputs.shared import cells_told
from ampstead.words import listed

RATED_HOURS = 20.0

StateOfCharge = Annotated[
    float | None,
    Fraction("State of charge of every cell, empty at 0, full at 1 or 100 %.", at_least=0, at_most=1, example=1),
]
Peukert = Annotated[
    float | None,
    Number(
        "Exponent by which a lead-acid source gives less at high currents, for its rated hours.",
        at_least=1,
        at_most=2,
        example=1.15,
        label="Peukert exponent",
        aside=True,
    ),
]
RatedHours = Annotated[
    float | None,
    Number(
        "Hours in which a lead-acid source gives its rated capacity.",
        above=0,
        at_most=1000,
        example=20,
        label="hours that the capacity is rated over",
        aside=True,
    ),
]
SourceChemistry = Annotated[
    ChemistryName | None,
    Choice("Kind of cell of the source, instead of source.", example="lead", spellings=CHEMISTRY_SPELLINGS),
]
SourceCells = Annotated[
    int | None,
    Count("Number of cells in series of the source, 6 for 12 V of lead-acid.", at_least=1, at_most=24, example=6),
]
SourceCapacity = Annotated[
    float | None,
    Quantity("mAh", "Capacity of the source.", at_least="10 mAh", at_most="200 Ah", example="38 Ah"),
]
SourceCellResistance = Annotated[
    float | None,
    Quantity("mΩ", "Resistance of one cell of the source.", above=0, at_most="10 Ω", example="2.2 mΩ"),
]
SourceStateOfCharge = Annotated[
    float | None, Fraction("State of charge of the source.", at_least=0, at_most=1, example=1)
]
SourceTemperature = Annotated[
    float | None,
    Quantity("°C", "Temperature of the source now.", at_least="-20 °C", at_most="70 °C", example="13 °C"),
]
NEEDED = ("source_chemistry", "source_cells", "source_capacity")
FLAT_SOURCE = (*NEEDED, "source_cell_resistance", "source_state_of_charge", "source_temperature")


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldSource(Pack):
    """A battery at the field, full unless its state is told."""

    capacity: Capacity = field()  # without a default, where a pack has one
    state_of_charge: StateOfCharge = 1.0
    peukert: Peukert = None
    rated_hours: RatedHours = None

    CHECKS: ClassVar[Checks] = (*Pack.CHECKS, cells_told, has_curve)

    def available(self) -> Floats:
        """Charge that each cell can give when it is full, coulomb, shape (cells,): less in the cold, by chemistry."""
        return self.capacities() * self.kind.left_in_cold(self.temperature)


def usual_source_resistance(source_chemistry: ChemistryName | None, source_capacity: float | None) -> float | None:
    """A cautious resistance per cell of a source that is told flat."""
    if source_chemistry is None:
        return None
    usual: float | None = usual_cell_resistance(source_chemistry, source_capacity, None)
    return usual


def usual_source_state(source_chemistry: ChemistryName | None) -> float | None:
    """Full, for a source that is told flat."""
    return None if source_chemistry is None else 1.0


def usual_source_temperature(source_chemistry: ChemistryName | None) -> float | None:
    """A room's, for a source that is told flat."""
    return None if source_chemistry is None else ROOM


def flat_source(
    chemistry: ChemistryName,
    cells: int,
    capacity: float,
    cell_resistance: float,
    state_of_charge: float,
    temperature: float,
) -> FieldSource:
    """The source that is told flat."""
    return FieldSource(
        chemistry=chemistry,
        cells=cells,
        capacity=capacity,
        cell_resistance=cell_resistance,
        polarisation_resistance=usual_polarisation(cell_resistance, None, cells, "1s", TIME_CONSTANT),
        state_of_charge=state_of_charge,
        temperature=temperature,
    )


def kind_of(source: Any, source_chemistry: ChemistryName | None) -> ChemistryName | None:
    """The source's chemistry, however it is told."""
    return source_chemistry if source is None else source.value.chemistry


def loses_to_peukert(source: Any, source_chemistry: ChemistryName | None) -> bool:
    """Whether the source gives less at high currents."""
    chemistry = kind_of(source, source_chemistry)
    return chemistry is not None and CHEMISTRIES[chemistry].peukert is not None


def usual_depth(source: Any, source_chemistry: ChemistryName | None) -> float | None:
    """How far a source is used by habit."""
    chemistry = kind_of(source, source_chemistry)
    return None if chemistry is None else CHEMISTRIES[chemistry].usual_depth


def usual_peukert(source: Any, source_chemistry: ChemistryName | None) -> float | None:
    """The worst published exponent, for a lead-acid source of which none is told."""
    chemistry = kind_of(source, source_chemistry)
    exponents = None if chemistry is None else CHEMISTRIES[chemistry].peukert
    return None if exponents is None or (source is not None and source.value.peukert is not None) else exponents[1]


def usual_hours(source: Any, source_chemistry: ChemistryName | None) -> float | None:
    """The usual rated hours, for a lead-acid source of which none are told."""
    told = source is not None and source.value.rated_hours is not None
    return RATED_HOURS if loses_to_peukert(source, source_chemistry) and not told else None


def source_is_told(
    given: set[str], source: Any, source_chemistry: Any, source_cells: Any, source_capacity: Any
) -> Iterator[FieldError]:
    """A source is an object, or told flat."""
    if source is not None:
        return
    if not any(name in given for name in FLAT_SOURCE):
        said = (
            'source is missing: the battery at the field, like {"chemistry": "lead", "cells": 6, "capacity": "38 Ah"}; '
            f"or give {listed(NEEDED)}"
        )
        yield FieldError("source", "missing", said)
        return
    for name, value in zip(NEEDED, (source_chemistry, source_cells, source_capacity), strict=True):
        if value is None:
            yield FieldError(name, "missing", f"{name} is missing: the source needs {listed(NEEDED)}")


def flat_source_in_range(source_chemistry: ChemistryName | None, source_cells: int | None) -> Iterator[FieldError]:
    """The flat source has a curve and so many cells as its kind has."""
    if source_chemistry is None:
        return
    for fault in has_curve(source_chemistry):
        yield FieldError("source_chemistry", fault.code, fault.message)
    for fault in cells_in_range(source_chemistry, source_cells):
        yield FieldError("source_cells", fault.code, f"source_{fault.message}")


def loss_goes_with_lead(given: set[str], source: Any, source_chemistry: ChemistryName | None) -> Iterator[FieldError]:
    """Peukert's exponent is told once, and of a lead-acid source."""
    if kind_of(source, source_chemistry) is None:
        return
    for name in ("peukert", "rated_hours"):
        nested = source is not None and getattr(source.value, name) is not None
        if nested and name in given:
            for field in (name, f"source.{name}"):
                yield FieldError(field, "conflict", f"{name} is told twice: give it once")
        elif not loses_to_peukert(source, source_chemistry) and (nested or name in given):
            kind = "source_chemistry" if source is None else "source.chemistry"
            for field in (f"source.{name}" if nested else name, kind):
                yield FieldError(field, "conflict", f"{name} goes with a lead-acid source only")


def exponent(source: FieldSource, peukert: float | None) -> float:
    """Peukert's exponent of the source; 1 for one without that loss."""
    return next((k for k in (source.peukert, peukert) if k is not None), 1.0)

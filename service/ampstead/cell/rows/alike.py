"""A pack whose figures are columns: many packs of like make, charged together by the solver of rows."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..column import Column
from ..kinds.curves import Curve
from ..one import charge as one
from ..one.series import SeriesPack
from .arrays import Floats
from .charge import charges


@dataclass(frozen=True, eq=False)
class PackColumn:
    """`series.SeriesPack` in columns: one entry per cell, each a column or a number."""

    curve: Curve
    states: Any
    capacities: Any
    ohmic: Any
    polarisation: Any
    time_constant: Any

    @property
    def kinds(self) -> list[tuple[Any, Any, Any, Any]]:
        """`series.SeriesPack.kinds`, one per cell."""
        return list(zip(self.states, self.capacities, self.ohmic, self.polarisation, strict=True))

    def resisting(self, ohmic: Any, polarisation: Any, time_constant: Any) -> "PackColumn":
        """The same cells with their resistances by these factors."""
        made = self.ohmic * ohmic, self.polarisation * polarisation, time_constant
        return PackColumn(self.curve, self.states, self.capacities, *made)


@dataclass(frozen=True, eq=False, kw_only=True)
class ChargeColumn:
    """`charge.Charge` in columns, as far as the end of the charge."""

    time_constant_current: Column
    time_constant_voltage: Column
    time_total: Column
    charge: Column
    energy: Column
    first_current: Column

    def at(self, time: float) -> tuple[Column, Column]:
        """Charge (C) and energy (J) put in by the end. TypeError for a time before it."""
        if not (isinstance(time, float) and time == np.inf):
            raise TypeError("columns are followed to the end of the charge only")
        return self.charge, self.energy


def time_of_charge(pack: SeriesPack | PackColumn, current: Any, end_voltage: Any, end_current: Any) -> Any:
    """`one.charge.time_of_charge` of a pack, or of a column of packs."""
    if isinstance(pack, SeriesPack):
        return one.time_of_charge(pack, current, end_voltage, end_current)
    return charge(pack, current, end_voltage, end_current).time_total


def charge(pack: SeriesPack | PackColumn, current: Any, end_voltage: Any, end_current: Any) -> Any:
    """`one.charge.charge` of a pack, or of a column of packs."""
    if isinstance(pack, SeriesPack):
        return one.charge(pack, current, end_voltage, end_current)
    cells = [pack.states, pack.capacities, pack.ohmic, pack.polarisation]
    count = len(pack.states)
    equal = all(_equal(values) for values in cells)
    packs = (pack.time_constant, current, end_voltage, end_current)
    rows = next(len(v.values) for v in (*(e for values in cells for e in values), *packs) if type(v) is Column)
    of_cells = [_row(v[0], rows) if equal else np.column_stack([_row(e, rows) for e in v]) for v in cells]
    came = charges(pack.curve, *of_cells, *(_row(value, rows) for value in packs))
    return ChargeColumn(
        time_constant_current=Column(came.time_constant_current),
        time_constant_voltage=Column(came.time_constant_voltage),
        time_total=Column(came.time_total),
        charge=Column(came.charge),
        energy=Column(came.energy * count if equal else came.energy),
        first_current=Column(came.first_current),
    )


def _equal(values: Any) -> bool:
    return all(value is values[0] or (not isinstance(value, Column) and value == values[0]) for value in values)


def _row(value: Any, rows: int) -> Floats:
    return value.values if type(value) is Column else np.full(rows, float(value))

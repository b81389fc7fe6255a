"""The calculators, one method each, as `openapi/generate.py` writes them from `openapi/openapi.json`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

from ampstead_client.base import ClientBase
from ampstead_client.envelope import Answer
from ampstead_client.quantity import QuantitiesLike, Quantity, QuantityLike

__all__ = ["Calculators", "Chemistry", "Pack", "ResistanceMethod", "Sag", "Wattage"]

Chemistry: TypeAlias = Literal["lipo", "lihv", "liion", "life", "nimh", "nicd", "lead"]
"""What a pack's cells are made of."""

ResistanceMethod: TypeAlias = Literal["1kHz", "charger", "1s", "10s"]
"""How a resistance was measured."""


@dataclass(frozen=True, kw_only=True)
class Pack:
    """A pack, for the `pack` of the calculators; each takes of it what it uses."""

    chemistry: Chemistry | None = None
    """What the cells are made of; lipo if not given."""
    cells: int | None = None
    """Cells in series."""
    capacity: QuantitiesLike | None = None
    """Capacity on the label, one or one for each cell [mAh]."""
    cell_resistance: QuantitiesLike | None = None
    """Resistance of a cell, one or one for each cell [mΩ]."""
    pack_resistance: QuantityLike | None = None
    """Resistance of the whole pack [mΩ]."""
    resistance_method: ResistanceMethod | None = None
    """How the resistance was measured; 1s if not given."""
    resistance_temperature: QuantityLike | None = None
    """Temperature at which the resistance was measured [°C]."""
    temperature: QuantityLike | None = None
    """Temperature of the pack now [°C]."""
    state_of_charge: float | str | None = None
    """Charge left, as a fraction of the capacity."""
    rest_voltage: QuantityLike | None = None
    """Voltage of the whole pack at rest [V]."""
    cell_voltages: QuantitiesLike | None = None
    """Voltage of each cell at rest [V]."""


@dataclass(frozen=True, kw_only=True)
class Sag(Answer):
    """Answer of `sag`."""

    rest_voltage: Quantity
    """Voltage of the pack at rest [V]."""
    loaded_voltage: Quantity | None
    """Voltage after the lead, at the end of the duration [V]; None where the power is impossible."""
    sag: Quantity | None
    """Rest voltage less loaded voltage, lead included [V]; None where the power is impossible."""
    current: Quantity | None
    """Current drawn from the pack [A]; None where the power is impossible."""
    loaded_cell_voltages: tuple[Quantity, ...] | None
    """Voltage of each cell, before the lead [V]; None where the power is impossible."""
    weakest_cell: int
    """The cell with the lowest loaded voltage, counted from 1."""
    holds: bool
    """Whether no cell falls below the floor."""
    largest_power: Quantity
    """The most that keeps every cell at its floor or above [W]."""


@dataclass(frozen=True, kw_only=True)
class Wattage(Answer):
    """Answer of `wattage`."""

    nominal_power: Quantity
    """Nominal voltage times current [W]."""
    peak_power: Quantity
    """End-of-charge voltage times current [W]."""
    supply_power: Quantity
    """Power drawn from the supply at the peak [W]."""
    supply_current: Quantity | None
    """Current drawn from the supply at the peak [A]; None without `supply_voltage`."""
    advised_rating: Quantity
    """The supply's rating to look for [W]."""
    fits: bool | None
    """Whether the available power suffices; None without `available_power`."""
    overload: Quantity | None
    """What is lacking [W]; None without `available_power`."""


class Calculators(ClientBase):
    """One method for each calculator."""

    _pack_class = Pack

    def sag(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        current: QuantityLike | None = None,
        rate: float | str | None = None,
        power: QuantityLike | None = None,
        lead_resistance: QuantityLike | None = None,
        duration: QuantityLike | None = None,
        floor: QuantityLike | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
        capacity: QuantitiesLike | None = None,
        cell_resistance: QuantitiesLike | None = None,
        pack_resistance: QuantityLike | None = None,
        resistance_method: ResistanceMethod | None = None,
        resistance_temperature: QuantityLike | None = None,
        temperature: QuantityLike | None = None,
        state_of_charge: float | str | None = None,
        rest_voltage: QuantityLike | None = None,
        cell_voltages: QuantitiesLike | None = None,
    ) -> Sag:
        """Voltage under load.

        Needs one of `current`, `rate` and `power`.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `current`: current drawn from the pack [A].
        - `rate`: the same as a charge rate: 20 or "20C".
        - `power`: constant power at the load [W].
        - `lead_resistance`: the whole loop of the leads [mΩ]; 0 if not given.
        - `duration`: how long the load has been on [s]; 10 s if not given.
        - `floor`: lowest voltage of a cell [V]; by chemistry if not given.
        - `chemistry`: what the cells are made of; lipo if not given.
        - `cells`: cells in series.
        - `capacity`: capacity on the label, one or one for each cell [mAh].
        - `cell_resistance`: resistance of a cell, one or one for each cell [mΩ].
        - `pack_resistance`: resistance of the whole pack [mΩ].
        - `resistance_method`: how the resistance was measured; 1s if not given.
        - `resistance_temperature`: temperature at which the resistance was measured [°C].
        - `temperature`: temperature of the pack now [°C].
        - `state_of_charge`: charge left, as a fraction of the capacity.
        - `rest_voltage`: voltage of the whole pack at rest [V].
        - `cell_voltages`: voltage of each cell at rest [V].
        """
        return self._ask(
            "sag",
            Sag,
            {
                "current": current,
                "rate": rate,
                "power": power,
                "lead_resistance": lead_resistance,
                "duration": duration,
                "floor": floor,
                "chemistry": chemistry,
                "cells": cells,
                "capacity": capacity,
                "cell_resistance": cell_resistance,
                "pack_resistance": pack_resistance,
                "resistance_method": resistance_method,
                "resistance_temperature": resistance_temperature,
                "temperature": temperature,
                "state_of_charge": state_of_charge,
                "rest_voltage": rest_voltage,
                "cell_voltages": cell_voltages,
            },
            pack=pack,
            exclusive=(
                ("state_of_charge", "rest_voltage", "cell_voltages"),
                ("cell_resistance", "pack_resistance"),
            ),
        )

    def wattage(
        self,
        *,
        pack: Pack | Mapping[str, Any] | None = None,
        rate: float | str | None = None,
        current: QuantityLike | None = None,
        voltage: QuantityLike | None = None,
        efficiency: float | str | None = None,
        headroom: float | str | None = None,
        rating_step: QuantityLike | None = None,
        supply_voltage: QuantityLike | None = None,
        available_power: QuantityLike | None = None,
        chemistry: Chemistry | None = None,
        cells: int | None = None,
        capacity: QuantitiesLike | None = None,
    ) -> Wattage:
        """What a charge asks of charger and supply.

        - `pack`: the pack's inputs in one; those given beside it win.
        - `rate`: the charge rate: 1 or "1C"; the chemistry's usual one if not given.
        - `current`: charge current [A].
        - `voltage`: end-of-charge voltage, in place of a pack [V].
        - `efficiency`: the charger's, as a fraction; 0.85 if not given.
        - `headroom`: the part of a supply's rating kept free; 0.1 if not given.
        - `rating_step`: step to which the rating is rounded up [W]; 5 W if not given.
        - `supply_voltage`: the supply's voltage [V].
        - `available_power`: what the supply can spare for this charge [W].
        - `chemistry`: what the cells are made of; lipo if not given.
        - `cells`: cells in series.
        - `capacity`: capacity on the label, one or one for each cell [mAh].
        """
        return self._ask(
            "wattage",
            Wattage,
            {
                "rate": rate,
                "current": current,
                "voltage": voltage,
                "efficiency": efficiency,
                "headroom": headroom,
                "rating_step": rating_step,
                "supply_voltage": supply_voltage,
                "available_power": available_power,
                "chemistry": chemistry,
                "cells": cells,
                "capacity": capacity,
            },
            pack=pack,
        )

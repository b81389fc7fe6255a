"""The pack's warmth: inputs shared by calculators that balance a cell's heat."""

from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np

from ampstead.cell.kinds.chemistries import CHEMISTRIES, cell_mass
from ampstead.cell.one.flight import Warming
from ampstead.declare import Floats, Quantity, derived
from ampstead.inputs.pack import ChemistryName, Pack


def usual_entropy(chemistry: ChemistryName) -> float:
    """The chemistry's mean entropy coefficient over a discharge."""
    return CHEMISTRIES[chemistry].entropy


def usual_mass(chemistry: ChemistryName, capacity: Any) -> Any:
    """Mass of a cell by the chemistry's energy per mass, on the light and so the safe side."""
    return None if capacity is None else cell_mass(CHEMISTRIES[chemistry], capacity)


def same_as_pack(temperature: float) -> float:
    """The air as warm as the pack."""
    return temperature


@dataclass(frozen=True, slots=True, kw_only=True)
class Thermal:
    """How warm a cell may get, and what it takes to warm it."""

    limit_temperature: Annotated[
        float,
        Quantity(
            "°C", "Temperature that no cell may pass.", at_least="0 °C", at_most="100 °C", example="60 °C", aside=True
        ),
    ] = 333.15
    ambient: Annotated[
        float,
        Quantity(
            "°C",
            "Temperature of the air.",
            at_least="-30 °C",
            at_most="70 °C",
            example="25 °C",
            label="temperature of the air",
        ),
    ] = derived(same_as_pack, "the pack's own temperature")
    cell_mass: Annotated[
        float | Floats,
        Quantity("g", "Mass of one cell, or of each.", at_least="0.1 g", at_most="100 kg", example="40 g", aside=True),
    ] = derived(usual_mass, "by the chemistry's energy per mass, on the light side")
    cooling: Annotated[
        float,
        Quantity(
            "W/K", "Heat that air takes from a cell.", at_least=0, at_most="1 kW/K", example="0.2 W/K", aside=True
        ),
    ] = 0.0
    entropy_coefficient: Annotated[
        float,
        Quantity(
            "mV/K",
            "Mean change of a cell's open-circuit voltage with temperature; below zero it heats on discharge.",
            at_least="-5 mV/K",
            at_most="5 mV/K",
            example="-0.235 mV/K",
            aside=True,
        ),
    ] = derived(usual_entropy, "the chemistry's own")

    @classmethod
    def usual(cls, pack: Pack) -> "Thermal":
        """The usual limit and masses, in still air as warm as the pack."""
        return cls(
            ambient=pack.temperature,
            cell_mass=usual_mass(pack.chemistry, pack.capacity),
            entropy_coefficient=usual_entropy(pack.chemistry),
        )

    def warming(self, pack: Pack) -> Warming:
        """What a flight asks of the cells."""
        return Warming(
            mass=self.cell_mass,
            start=pack.temperature,
            ambient=self.ambient,
            cooling=self.cooling,
            entropy=self.entropy_coefficient,
        )

    def cells(self, pack: Pack) -> list[dict[str, float]]:
        """What ``ampstead.cell.one.heat`` asks of each cell."""
        masses = np.broadcast_to(self.cell_mass, (pack.size,))
        return [
            {
                "ohmic": float(R0),
                "polarisation": float(R1),
                "time_constant": pack.polarisation_time,
                "mass": float(mass),
                "start": pack.temperature,
                "ambient": self.ambient,
                "cooling": self.cooling,
                "entropy": self.entropy_coefficient,
            }
            for R0, R1, mass in zip(pack.ohmic(), pack.polarisation(), masses, strict=True)
        ]

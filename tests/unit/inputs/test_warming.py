"""The pack's warmth as calculators ask for it: usual masses and entropies, and what a cell's heat balance is given.

Masses follow from the energy per mass agreed on (lipo 150 Wh/kg, life 120); entropies are the mean of the Ai2020 curve.
"""

import numpy as np
import pytest

from ampstead.inputs.pack import Pack
from ampstead.inputs.warming import Thermal, same_as_pack, usual_entropy, usual_mass

HOUR = 3600.0


def pack(**told: object) -> Pack:
    given = {
        "chemistry": "lipo",
        "cells": 3,
        "capacity": 2.25 * HOUR,
        "state_of_charge": 0.5,
        "cell_resistance": 0.0085,
    }
    return Pack(**given | {"polarisation_resistance": 0.00425} | told)  # type: ignore[arg-type]


def test_a_cell_weighs_its_energy_over_what_its_kind_holds_by_mass() -> None:
    assert usual_mass("lipo", 2.25 * HOUR) == pytest.approx(3.7 * 2.25 / 150)
    assert usual_mass("life", 2.1 * HOUR) == pytest.approx(3.3 * 2.1 / 120)
    assert usual_mass("lipo", np.array([HOUR, 2 * HOUR])) == pytest.approx([3.7 / 150, 7.4 / 150])
    assert usual_mass("lipo", None) is None


@pytest.mark.parametrize(
    ("chemistry", "entropy"), [("lipo", -0.235e-3), ("lihv", -0.235e-3), ("liion", 0), ("lead", 0)]
)
def test_only_polymer_cells_warm_by_their_reaction(chemistry: str, entropy: float) -> None:
    assert usual_entropy(chemistry) == pytest.approx(entropy)  # type: ignore[arg-type]


def test_the_air_is_as_warm_as_the_pack_and_no_cell_passes_sixty_degrees() -> None:
    told = Thermal.usual(pack(temperature=286.15))
    assert same_as_pack(286.15) == told.ambient == 286.15
    assert told.limit_temperature == pytest.approx(333.15)
    assert told.cooling == 0
    assert told.cell_mass == pytest.approx(3.7 * 2.25 / 150)
    assert told.entropy_coefficient == pytest.approx(-0.235e-3)


def test_a_flight_starts_at_the_packs_warmth_in_the_air_told() -> None:
    thermal = Thermal(ambient=303.15, cell_mass=0.05, cooling=0.2, entropy_coefficient=-1e-4)
    warming = thermal.warming(pack(temperature=293.15))
    told = (warming.start, warming.ambient, warming.mass, warming.cooling, warming.entropy)
    assert told == (293.15, 303.15, 0.05, 0.2, -1e-4)


def test_each_cell_has_its_own_resistances_and_mass() -> None:
    thermal = Thermal(ambient=303.15, cell_mass=np.array([0.05, 0.06, 0.07]), cooling=0.2, entropy_coefficient=-1e-4)
    ohms = np.array([0.008, 0.012, 0.009])
    cells = thermal.cells(pack(cell_resistance=ohms, polarisation_resistance=ohms / 2, polarisation_time=20.0))
    assert [cell["ohmic"] for cell in cells] == pytest.approx(ohms)
    assert [cell["polarisation"] for cell in cells] == pytest.approx(ohms / 2)
    assert [cell["mass"] for cell in cells] == pytest.approx([0.05, 0.06, 0.07])
    for cell in cells:
        kept = (cell["start"], cell["ambient"], cell["cooling"], cell["entropy"], cell["time_constant"])
        assert kept == (298.15, 303.15, 0.2, -1e-4, 20.0)

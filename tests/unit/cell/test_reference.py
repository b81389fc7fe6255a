"""The physics against runs of other programs; each data file names its source."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.one.charge import charge
from ampstead.cell.one.discharge import loaded, time_to_floor
from ampstead.cell.one.heat import end_temperature, heat_limited_current
from ampstead.cell.one.series import SeriesPack
from ampstead.cell.wiring import supply

DATA = Path(__file__).parents[2] / "reference" / "data"
HOUR = 3600.0


def read(name: str) -> Any:
    return json.loads((DATA / f"cell_{name}.json").read_text(encoding="utf-8"))


CHARGE, DISCHARGE, WEAK, HEAT, SUPPLY = (read(name) for name in ("charge", "discharge", "weak", "heat_limit", "supply"))


def one_cell(cell: dict[str, float], state: float) -> SeriesPack:
    curve = CHEMISTRIES["lipo"].curve
    assert curve is not None
    return SeriesPack(
        curve,
        np.array([state]),
        np.array([cell["capacity_Ah"] * HOUR]),
        np.array([cell["ohmic"]]),
        np.array([cell["polarisation"]]),
        cell["time_constant"],
    )


@pytest.mark.parametrize("case", CHARGE["cases"])
def test_a_charge_takes_the_time_charge_and_energy_of_the_simulation(case: dict[str, Any]) -> None:
    pack = one_cell(CHARGE["cells"][case["cell"]], case["state"])
    answer = charge(pack, case["current"], case["end_voltage"], case["end_current"])
    assert answer.time_constant_current == pytest.approx(case["time_constant_current"], rel=1e-6, abs=1e-6)
    assert answer.time_constant_voltage == pytest.approx(case["time_constant_voltage"], abs=1e-3)
    assert answer.first_current == pytest.approx(case["first_current"], rel=1e-9)
    assert answer.states_end[0] == pytest.approx(case["state_end"], abs=1e-8)
    if "charge_Ah" in case:
        assert answer.charge == pytest.approx(case["charge_Ah"] * HOUR, rel=1e-6)
        assert answer.energy == pytest.approx(case["energy_Wh"] * HOUR, rel=1e-6)


@pytest.mark.parametrize("case", DISCHARGE["pulse"])
def test_a_pulse_sags_as_in_the_simulation(case: dict[str, Any]) -> None:
    pack = one_cell(DISCHARGE["cells"][case["cell"]], case["state"])
    for seconds, voltage in case["voltages"].items():
        answer = loaded(pack, float(seconds), current=case["current"])
        assert answer is not None
        assert answer.cell_voltages[0] == pytest.approx(voltage, abs=1e-6)


@pytest.mark.parametrize(("kind", "case"), [(kind, case) for kind in ("current", "power") for case in DISCHARGE[kind]])
def test_a_discharge_meets_the_floor_when_the_simulation_does(kind: str, case: dict[str, Any]) -> None:
    pack = one_cell(DISCHARGE["cells"][case["cell"]], 1.0)
    load = {kind: case[kind]}
    time = time_to_floor(pack, case["floor"], **load)
    if case["time"] == 0.0:
        assert time is None
        return
    assert time == pytest.approx(case["time"], rel=1e-6)
    answer = loaded(pack, case["time"], **load)
    assert answer is not None
    assert answer.charge == pytest.approx(case["charge_Ah"] * HOUR, rel=1e-6)
    assert answer.energy == pytest.approx(case["energy_Wh"] * HOUR, rel=1e-6)
    assert answer.current == pytest.approx(case["current_end"], rel=1e-5)


@pytest.mark.parametrize("case", DISCHARGE["thermal"])
def test_a_discharge_ends_as_warm_as_in_the_simulation(case: dict[str, Any]) -> None:
    cell = DISCHARGE["cells"][case["cell"]]
    temperature = end_temperature(
        current=case["current"],
        time=case["time"],
        ohmic=cell["ohmic"],
        polarisation=cell["polarisation"],
        time_constant=cell["time_constant"],
        mass=case["mass"],
        start=298.15,
        ambient=298.15,
        cooling=case["cooling"],
        entropy=0.0,
    )
    assert temperature == pytest.approx(case["end_celsius"] + 273.15, abs=1e-3)


def test_the_weak_cell_of_a_pack_sags_as_in_the_simulation() -> None:
    curve = CHEMISTRIES["lipo"].curve
    assert curve is not None
    pack = SeriesPack(
        curve,
        np.array(WEAK["states"]),
        np.array(WEAK["capacities_Ah"]) * HOUR,
        np.array(WEAK["ohmic"]),
        np.array(WEAK["polarisation"]),
        WEAK["time_constant"],
    )
    for sample in WEAK["samples"]:
        answer = loaded(pack, sample["time"], current=WEAK["current"])
        assert answer is not None
        np.testing.assert_allclose(answer.cell_voltages, sample["cell_voltages"], atol=1e-9)


@pytest.mark.parametrize("case", HEAT["cases"])
def test_the_heat_limited_current_is_that_of_the_simulation(case: dict[str, float]) -> None:
    current = heat_limited_current(
        charge=HEAT["charge_Ah"] * HOUR,
        limit=HEAT["limit"],
        ohmic=case["ohmic"],
        polarisation=case["polarisation"],
        time_constant=case["time_constant"],
        mass=HEAT["mass"],
        start=HEAT["start"],
        ambient=HEAT["start"],
        cooling=case["cooling"],
        entropy=0.0,
    )
    assert current == pytest.approx(case["current"], rel=2e-5)


@pytest.mark.parametrize("case", SUPPLY["cases"])
def test_two_loads_settle_where_the_circuit_does(case: dict[str, Any]) -> None:
    circuit = (case["source_voltage"], case["source_resistance"])
    bus = supply.bus(*circuit, case["powers"], case["lead_resistances"])
    if case["solution"] is None:
        assert bus is None
    else:
        assert bus is not None
        assert bus.voltage == pytest.approx(case["solution"]["voltage"], rel=1e-9)
        assert bus.currents == pytest.approx(case["solution"]["currents"], rel=1e-9)
        assert bus.load_voltages == pytest.approx(case["solution"]["load_voltages"], rel=1e-9)
    factor = supply.largest_load_factor(*circuit, case["powers"], case["lead_resistances"])
    assert factor == pytest.approx(case["load_factor"], rel=2e-4)


@pytest.mark.parametrize("name", ["charge", "discharge", "weak", "heat_limit", "supply"])
def test_every_data_file_names_its_source_and_kind(name: str) -> None:
    assert {"source", "kind", "status", "about"} <= read(name).keys()

"""Flights of full-order cells in the cold, by PyBaMM: what the band of endurance must hold.

    pip install pybamm==26.10.1.1 && python tests/reference/makers/full_order_flights.py [runs.json]

puts them into `endurance.json`. Each published set of parameters is solved as Doyle, Fuller and Newman wrote the cell,
with one temperature: that of the air throughout, or, without air, what its own heat makes of it. A flier knows no more
of a cell than its label and a load test: so the question carries the nominal capacity of the set, and its resistance
after a second at 1C, half full and 25 degrees, measured on the model as on a bench. The flight begins full and ends
where the voltage meets the floor or four fifths of the label are drawn. An hour of work; what is done is kept in
runs.json, and not done again.
"""

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pybamm

PATH = Path(__file__).parents[1] / "data" / "endurance.json"
RUNS = Path(sys.argv[1] if len(sys.argv) > 1 else "runs.json")
ROOM, RESERVE = 298.15, 0.2
SETS = {
    "Ai2020": ("lipo", 3.3, (2.0, 3.0)),
    "Marquis2019": ("lipo", 3.3, (2.0, 3.0)),
    "Ecker2015": ("lipo", 3.3, (2.0, 3.0)),
    "ORegan2022": ("liion", 3.0, (1.0, 1.5)),
    "OKane2022": ("liion", 3.0, (1.0, 1.5)),
}
"""Chemistry as a flier calls it, a floor under load that fliers use, and rates of the label."""
COLD = (0.0, 10.0, 25.0)
LONGER = {"Marquis2019 10.0 3.0 True": {"longer": True}}
"""Flights that last longer than the band tells: nothing is risked by that."""
HELD = 1e5  # W/m²K, so that the cell stays as warm as the air


def simulated(
    name: str, kelvins: float, state: float, amperes: float, air: bool, floor: float | None, times: Any
) -> Any:
    model = pybamm.lithium_ion.DFN({"thermal": "lumped"})
    values = pybamm.ParameterValues(name)
    values.update(
        {
            "Initial temperature [K]": kelvins,
            "Ambient temperature [K]": kelvins,
            "Total heat transfer coefficient [W.m-2.K-1]": HELD if air else 0.0,
            "Current function [A]": amperes,
        },
        check_already_exists=False,
    )
    values.set_initial_state(state)
    if floor is not None:
        values["Lower voltage cut-off [V]"] = floor
    solver = pybamm.IDAKLUSolver(rtol=1e-5, atol=1e-7)
    return pybamm.Simulation(model, parameter_values=values, solver=solver).solve(times)


def resistance(name: str, label: float) -> float:
    run = simulated(name, ROOM, 0.5, label, True, None, np.linspace(0.0, 1.0, 21))
    rest = float(run["Surface open-circuit voltage [V]"].entries[0])
    return (rest - float(run["Terminal voltage [V]"].entries[-1])) / label


def flight(name: str, label: float, celsius: float, rate: float, floor: float, air: bool) -> dict[str, Any]:
    longest = (1.0 - RESERVE) * 3600.0 / rate
    run = simulated(name, celsius + 273.15, 1.0, rate * label, air, floor, np.linspace(0.0, longest, 401))
    time, T = run["Time [s]"].entries, run["Volume-averaged cell temperature [K]"].entries
    found: dict[str, Any] = {
        "minutes": round(float(time[-1]) / 60.0, 4),
        "ended_by": "floor" if time[-1] < longest * (1.0 - 1e-6) else "reserve",
        "end_voltage": round(float(run["Terminal voltage [V]"].entries[-1]), 4),
        "end_celsius": round(float(T[-1]) - 273.15, 2),
    }
    if not air:
        heat = float(np.trapezoid(run["Total heating [W]"].entries, time))
        found["heat_capacity"] = round(heat / float(T[-1] - T[0]), 3)
    return found


def case(key: str, told: dict[str, Any], run: dict[str, Any]) -> dict[str, Any]:
    """A question that a flier would ask of this cell, and the flight that must lie within the answer's band."""
    thermal = {"cooling": "1 kW/K"}
    if "heat_capacity" in run:
        thermal = {"cell_mass": f"{run['heat_capacity']} g"}  # at the service's 1000 J/kgK
    return {
        "id": f"full-order-{run['cell']}-{run['celsius']:g}-{run['rate']:g}C" + "-no-air" * ("heat_capacity" in run),
        "question": {
            "chemistry": told["chemistry"],
            "cells": 1,
            "capacity": f"{told['capacity'] * 1000:.10g} mAh",
            "cell_resistance": f"{told['milliohms']} mΩ",
            "resistance_method": "1s",
            "current": f"{run['rate'] * told['capacity']:.10g} A",
            "temperature": f"{run['celsius']:g} °C",
            "reserve": RESERVE,
            "floor": f"{told['floor']} V",
            "limit_temperature": "100 °C",
            **thermal,
        },
        "expect": {},
        "within": {"time_flight": {"values": [run["minutes"]], "unit": "min", **LONGER.get(key, {})}},
        "source": f"PyBaMM {pybamm.__version__} (BSD-3-Clause), Doyle-Fuller-Newman with a lumped temperature",
        "place": f"tests/reference/makers/full_order_flights.py; set {run['cell']}, ended by {run['ended_by']} at "
        f"{run['end_voltage']} V and {run['end_celsius']} °C",
        "kind": "simulated elsewhere",
        "status": "computed",
    }


def main() -> None:
    pybamm.set_logging_level("ERROR")
    kept = json.loads(RUNS.read_text("utf-8")) if RUNS.exists() else {"cells": {}, "runs": {}}
    cells, runs = kept["cells"], kept["runs"]
    made = []
    for name, (chemistry, floor, rates) in SETS.items():
        label = float(pybamm.ParameterValues(name)["Nominal cell capacity [A.h]"])
        if name not in cells:
            milliohms = round(1e3 * resistance(name, label), 4)
            cells[name] = {"chemistry": chemistry, "capacity": label, "milliohms": milliohms, "floor": floor}
        for celsius in COLD:
            for rate in rates:
                for air in (True, False):
                    key = f"{name} {celsius} {rate} {air}"
                    if key not in runs:
                        found = flight(name, label, celsius, rate, floor, air)
                        runs[key] = {"cell": name, "celsius": celsius, "rate": rate, **found}
                        RUNS.write_text(json.dumps(kept, indent=1), "utf-8")
                    print(key, runs[key], flush=True)
                    made.append(case(key, cells[name], runs[key]))
    ids = {each["id"] for each in made}
    others = [each for each in json.loads(PATH.read_text("utf-8")) if each["id"] not in ids]
    PATH.write_text(json.dumps(others + made, ensure_ascii=False, indent=1) + "\n", "utf-8")


if __name__ == "__main__":
    main()

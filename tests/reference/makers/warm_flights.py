"""Flights that warm, by PyBaMM's equivalent circuit with a lumped temperature: the reference cases of endurance.

    pip install --group bench && python tests/reference/makers/warm_flights.py

works the cases of `endurance.json` that name PyBaMM out anew and prints how far the file is from them; `--write` puts
them into the file. One of n like cells in series is simulated, since all are alike. The jig stands for the air: of so
much heat capacity that it stays at ambient. R0 and R1 follow the cell's temperature with 20 kJ/mol, C1 = τ/R1.
"""

import json
import re
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pybamm

from ampstead.cell.kinds.tables import AI_2020, STATES

DATA = Path(__file__).parents[1] / "data"
RG, EA, ROOM = 8.31446261815324, 20000.0, 298.15
HUGE = 1e12


def size(text: Any, default: float = 0.0) -> float:
    """A quantity of a question in SI; temperatures in kelvin."""
    if text is None:
        return default
    if isinstance(text, int | float):
        return float(text)
    match = re.fullmatch(r"(-?[0-9.]+) ?(.*)", text)
    assert match is not None
    value, unit = float(match[1]), match[2]
    if unit == "°C":
        return value + 273.15
    return value * {"mAh": 3.6, "Ah": 3600.0, "mΩ": 1e-3, "g": 1e-3, "mV/K": 1e-3, "kW/K": 1e3}.get(unit, 1.0)


def simulated(question: dict[str, Any], curve: tuple[np.ndarray, np.ndarray]) -> dict[str, Any]:
    """Time in min, charge in mAh, energy in Wh, voltage in V and temperature in °C at the end, for the whole pack."""
    cells, Q = question["cells"], size(question["capacity"])
    start = size(question.get("temperature"), ROOM)
    air = size(question.get("ambient"), start)
    R0, R1 = size(question["cell_resistance"]), size(question["polarisation_resistance"])
    tau, entropy = size(question["polarisation_time"]), size(question.get("entropy_coefficient"), -0.235e-3)
    mass = size(question.get("cell_mass"), Q / 3600.0 * 3.7 / 150.0)
    state = float(question.get("state_of_charge", 1.0))

    def warmth(T: Any) -> Any:
        # The model hands the temperature over in degrees Celsius.
        return pybamm.exp(EA / RG * (1.0 / (T + 273.15) - 1.0 / ROOM))

    model = pybamm.equivalent_circuit.Thevenin(options={"operating mode": "power"} if "power" in question else {})
    values = pybamm.ParameterValues("ECM_Example")
    values.update(
        {
            "Initial SoC": min(state, 1.0 - 1e-9),  # at 1 it would end at once
            "Initial temperature [K]": start,
            "Cell capacity [A.h]": Q / 3600.0,
            "Nominal cell capacity [A.h]": Q / 3600.0,
            "Ambient temperature [K]": air,
            "Upper voltage cut-off [V]": 10.0,
            "Lower voltage cut-off [V]": size(question["floor"]),
            "Cell thermal mass [J/K]": 1000.0 * mass,
            "Cell-jig heat transfer coefficient [W/K]": size(question.get("cooling")),
            "Jig thermal mass [J/K]": HUGE,
            "Jig-air heat transfer coefficient [W/K]": HUGE,
            "Open-circuit voltage [V]": lambda soc: pybamm.Interpolant(*curve, soc, "OCV", "linear"),
            "R0 [Ohm]": lambda T, i, soc: R0 * warmth(T),
            "R1 [Ohm]": lambda T, i, soc: R1 * warmth(T),
            "C1 [F]": lambda T, i, soc: tau / (R1 * warmth(T)),
            "Element-1 initial overpotential [V]": 0.0,
            "Entropic change [V/K]": lambda ocv, T: pybamm.Scalar(entropy),
            "RCR lookup limit [A]": 1e6,
        },
        check_already_exists=False,
    )
    drawn = size(question.get("current"))
    if "power" in question:
        values.update({"Power function [W]": size(question["power"]) / cells}, check_already_exists=False)
        drawn = size(question["power"]) / cells / 3.6
    else:
        values["Current function [A]"] = drawn
    reserve = float(question.get("reserve", 0.2))
    longest = (state - reserve) * Q / drawn * (1.6 if "power" in question else 1.0)
    values["Initial temperature [K]"] = start
    simulation = pybamm.Simulation(model, parameter_values=values, solver=pybamm.IDAKLUSolver(rtol=1e-9, atol=1e-10))
    solution = simulation.solve(np.linspace(0.0, longest, 4001))
    time, charge = solution["Time [s]"].entries, (state - solution["SoC"].entries) * Q / 3600.0
    V, I = solution["Voltage [V]"].entries, solution["Current [A]"].entries
    T = solution["Cell temperature [degC]"].entries
    wanted, hottest = (state - reserve) * Q / 3600.0, size(question.get("limit_temperature"), 333.15) - 273.15
    ends = {"floor": float(time[-1])}
    if charge[-1] > wanted:
        ends["reserve"] = float(np.interp(wanted, charge, time))
    if T[-1] > hottest:
        ends["heat"] = float(np.interp(hottest, T, time))
    by = min(ends, key=lambda name: ends[name])
    if ends[by] < time[-1]:
        end = ends[by]
        keep = time < end
        V, I, T, charge = (np.append(values_[keep], np.interp(end, time, values_)) for values_ in (V, I, T, charge))
        time = np.append(time[keep], end)
    return {
        "answer.time_flight": float(time[-1]) / 60.0,
        "answer.charge_used": float(charge[-1]) * 1000.0,
        "answer.energy_used": cells * float(np.trapezoid(V * I, time)) / 3600.0,
        "answer.landing_voltage": cells * float(V[-1]),
        "answer.end_temperature": float(T[-1]),
        "ended_by": by,
    }


def main() -> None:
    path = DATA / "endurance.json"
    cases = json.loads(path.read_text("utf-8"))
    curve = np.array(STATES), np.array(AI_2020)
    for case in cases:
        if "PyBaMM" not in case["source"] or "equivalent circuit with a lumped" not in case["source"]:
            continue
        found = simulated(case["question"], curve)
        ended = found.pop("ended_by")
        for name, expected in case["expect"].items():
            if name == "answer.ended_by":
                if "--write" in sys.argv:
                    case["expect"][name] = ended
                assert case["expect"][name] == ended, case["id"]
                continue
            if "--write" in sys.argv:
                expected["value"] = round(found[name], 9)
            print(f"{case['id']:32} {name:26} {expected['value']:14.7f} {found[name]:14.7f}")
    if "--write" in sys.argv:
        path.write_text(json.dumps(cases, ensure_ascii=False, indent=1) + "\n", "utf-8")


if __name__ == "__main__":
    main()

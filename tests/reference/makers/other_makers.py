"""Cells of other makers than those whose curves the service uses, from the tables that simses ships.

    pip install simses==1.3.12 && python tests/reference/makers/other_makers.py

writes `cell_other_makers.json`: open-circuit voltages by state of charge, 1 where a cell rests at 4.2 V or at the end
of its own table below that; and direct-current resistances over those at 25 degrees, by state of charge.
"""

import csv
import importlib.metadata
import importlib.util
import json
from pathlib import Path

import numpy as np

OUT = Path(__file__).parents[1] / "data" / "cell_other_makers.json"
FULL = 4.2
CURVES = {
    "Molicel 18650, NMC": ("NMC_Molicel_OCV", 0, 1, 1.0),
    "Sanyo UR18650E, NMC": ("NMC_Sanyo_OCV", 0, 1, 1.0),
    "Panasonic NCR18650, NCA": ("NCA_PanasonicNCR_OCV", 0, 1, 1.0),
    "LG INR18650MJ1, NMC811": ("LG_INR18560MJ1_OCV", 0, 1, 1.0),
    "Samsung 21700, NCA and silicon": ("NCA_SiG_Samsung_21700_OCV", 0, 1, 1.0),
    "Samsung, NMC, as tested": ("NMC_Samsung_LabTest_cell_00_OCV", 5, 6, 0.01),
}
"""File, columns of state and voltage, and the unit of the state."""
RESISTANCES = {
    "Sony US26650, LFP": ("CLFP_Sony_US26650_Rint", {10: 6, 25: 7, 40: 8}),
    "Akasol, NMC": ("NMC_Akasol_OEM_Rint", {0: 10, 10: 11, 25: 12, 40: 13}),
}
"""File, and the columns of discharge by degrees Celsius."""
STATES = tuple(round(0.05 * step, 2) for step in range(1, 20))


def table(name: str) -> list[list[str]]:
    found = importlib.util.find_spec("simses")
    assert found is not None
    assert found.origin is not None
    path = Path(found.origin).parent / "data" / "lithium_ion" / "cell" / f"{name}.csv"
    with path.open(encoding="utf-8") as file:
        return list(csv.reader(file))


def curve(name: str, state: int, volt: int, unit: float) -> dict[str, float]:
    rows = [(float(row[state]) * unit, float(row[volt])) for row in table(name)[1:] if row[state] and row[volt]]
    z, v = np.array(rows).T
    full = float(np.interp(FULL, v, z))
    return {str(at): round(float(np.interp(at * full, z, v)), 5) for at in STATES}


def ratios(name: str, columns: dict[int, int]) -> dict[str, dict[str, float]]:
    rows = np.array([[float(row[0]), *(float(row[at]) for at in columns.values())] for row in table(name)[1:]])
    found = {}
    for at in (0.2, 0.5, 0.8):
        ohms = {celsius: float(np.interp(at, rows[:, 0], rows[:, k])) for k, celsius in enumerate(columns, 1)}
        found[str(at)] = {str(celsius): round(ohms[celsius] / ohms[25], 4) for celsius in columns if celsius != 25}
    return found


if __name__ == "__main__":
    made = {
        "source": f"tables of other makers' cells that simses {importlib.metadata.version('simses')} ships "
        "(Technical University of Munich, BSD-3-Clause)",
        "kind": "published",
        "status": "retrieved",
        "about": "Open-circuit voltage by state of charge, V; resistance over that at 25 degC, by state and degC.",
        "curves": {name: curve(*how) for name, how in CURVES.items()},
        "resistances": {name: ratios(*how) for name, how in RESISTANCES.items()},
    }
    OUT.write_text(json.dumps(made, ensure_ascii=False, indent=1) + "\n", "utf-8")

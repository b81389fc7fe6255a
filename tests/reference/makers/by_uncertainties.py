"""Resistance from readings that scatter, with the errors carried by `uncertainties`: cases of load-test.

    pip install uncertainties==3.2.3 numpy && python tests/reference/makers/by_uncertainties.py

puts them into `load-test.json`. The readings are drawn with a scatter and rounded to the meter's step. numpy fits the
line and its covariance; uncertainties carries those, and an ammeter that is off, into resistance and voltage at rest.
"""

import importlib.metadata
import json
from pathlib import Path
from typing import Any

import numpy as np
from uncertainties import correlated_values, ufloat

PATH = Path(__file__).parents[1] / "data" / "load-test.json"
CASES = {
    "trainer-of-five-readings": (3, (8.5, 8.5, 8.5), 11.6, (2, 6, 12, 18, 23), 0.004, 0.01, 1),
    "aerobat-of-eight-readings": (4, (4.2, 4.4, 4.9, 4.3), 15.9, (4, 8, 14, 20, 27, 34, 41, 48), 0.006, 0.01, 2),
    "tug-of-six-readings": (6, (2.6, 2.6, 3.4, 2.6, 2.7, 2.6), 23.4, (5, 16, 28, 40, 51, 62), 0.002, 0.001, 3),
}
"""Cells, their milliohms, voltage at rest, currents, scatter of a cell in V, step of the meter in V, seed."""
NORMAL = 1.96
AMMETER = 0.03


def case(name: str) -> dict[str, Any]:
    cells, ohms, rest, currents, scatter, step, seed = CASES[name]
    draw = np.random.default_rng(seed)
    I = np.array(currents, dtype=float)
    R = np.array(ohms) * 1e-3
    true = rest / cells - np.outer(I, R)
    read = np.round((true + scatter * draw.standard_normal(true.shape)) / step) * step
    digits = 2 if step >= 0.01 else 3

    def line(volts: np.ndarray) -> tuple[Any, Any]:
        (slope, intercept), covariance = np.polyfit(I, volts, 1, cov=True)
        return correlated_values([slope, intercept], covariance)  # type: ignore[no-any-return]

    slope, intercept = line(read.sum(axis=1))
    each = [-line(column)[0].nominal_value for column in read.T]
    # The ammeter may be off by so much, evenly spread, alike in all readings.
    resistance = -slope / ufloat(1.0, AMMETER / np.sqrt(3.0))
    edges = [1e3 * (resistance.nominal_value + side * NORMAL * resistance.std_dev) for side in (-1, 1)]
    rests = [intercept.nominal_value + side * NORMAL * intercept.std_dev for side in (-1, 1)]
    return {
        "id": name,
        "question": {
            "readings": [
                {"current": f"{i} A", "cell_voltages": [f"{v:.{digits}f} V" for v in row]}
                for i, row in zip(currents, read, strict=True)
            ],
            "meter_resolution": f"{step * 1000:g} mV",
            "current_error": AMMETER,
        },
        "expect": {
            "answer.pack_resistance": {"value": round(-1e3 * slope.nominal_value, 6), "unit": "mΩ"},
            "answer.standard_error": {"value": round(1e3 * slope.std_dev, 6), "unit": "mΩ"},
            "answer.rest_voltage": {"value": round(intercept.nominal_value, 6), "unit": "V"},
            **{f"answer.cell_resistances.{k}": {"value": round(1e3 * r, 6), "unit": "mΩ"} for k, r in enumerate(each)},
            "answer.weakest_cell": int(np.argmax(each)) + 1,
        },
        "within": {
            "pack_resistance": {"values": [round(edge, 4) for edge in edges], "unit": "mΩ"},
            "rest_voltage": {"values": [round(edge, 5) for edge in rests], "unit": "V"},
        },
        "tolerance": {"default": {"rel": 1e-5}},
        "source": f"uncertainties {importlib.metadata.version('uncertainties')} and numpy {np.__version__}, "
        "covariance of a line by least squares",
        "place": "tests/reference/makers/by_uncertainties.py; the band holds 95 percent of what they say it may be",
        "kind": "simulated elsewhere",
        "status": "computed",
    }


if __name__ == "__main__":
    made = [case(name) for name in CASES]
    kept = [each for each in json.loads(PATH.read_text("utf-8")) if each["id"] not in CASES]
    PATH.write_text(json.dumps(kept + made, ensure_ascii=False, indent=1) + "\n", "utf-8")

"""How a cell's resistance was measured, and what it is at another temperature.

The model has an ohmic part R0, felt at once, and a slower part R1 that appears with a time constant τ:

    voltage across the resistance after a step of current i = i·(R0 + R1·(1 − exp(−t/τ)))    (1)
"""

from math import exp, expm1
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

GAS_CONSTANT = 8.31446261815324
"""J/(mol·K), exact in the SI of 2019."""

POLARISATION_RATIO = 0.5
"""R1 ÷ R0. **Fit**: with 1.5 × the pulse resistance, electrochemical charge times of power cells come out within
0.1 %."""

TIME_CONSTANT = 30.0
"""τ of the slow part, s. **Own judgement**, guided by ratios of 30 s to 1 s resistance of 1.1 to 1.5."""

METHOD_FACTORS: dict[str, float] = {
    "1kHz": 1.4,
    "charger": 1.0,
    "1s": 1.0,
    "10s": 1.0 / (1.0 + POLARISATION_RATIO * (1.0 - exp(-10.0 / TIME_CONSTANT))),
}
"""R0 ÷ the figure measured, by method. **Own judgement**; the last is Eq. (1) after 10 s, turned round, with the usual
slow part (`ohmic_part` takes the one told)."""

METHOD_BANDS: dict[str, tuple[float, float]] = {
    "1kHz": (1.2, 2.0),
    "charger": (0.8, 1.5),
    "1s": (1.0, 1.0),
    "10s": (0.82, 0.96),
}
"""Least and most of R0 ÷ the figure measured. **Own judgement**; 10s: from the ratios of 1.1 to 1.5 above."""

SUSTAINED = 10.0
"""Length of the load of the method "10s", s."""


def ohmic_part(figure: Any, method: str, polarisation: Any, time_constant: float) -> Any:
    """R0 behind a measured figure, ohm: by the method's factor, or after ten seconds of load

    R0 = figure − R1·(1 − exp(−10/τ))    (2)
    """
    if method == "10s":
        return figure + polarisation * expm1(-SUSTAINED / time_constant)  # Eq. (2)
    return METHOD_FACTORS[method] * figure


def usual_slow_part(figure: Any, method: str, time_constant: float) -> Any:
    """R1 where none was measured, ohm: `POLARISATION_RATIO` times the R0 that it leaves in Eq. (2)."""
    if method == "10s":
        return POLARISATION_RATIO * figure / (1.0 - POLARISATION_RATIO * expm1(-SUSTAINED / time_constant))
    return POLARISATION_RATIO * METHOD_FACTORS[method] * figure


REFERENCE_TEMPERATURE = 298.15
ACTIVATION = 20000.0
"""J/mol. General lithium-ion: ±25 % from 0 to 40 °C against published tables; below −10 °C no promise."""

TEMPERATURE_BAND: tuple[float, float] = (15000.0, 25000.0)
"""Activation energies that published tables fit, J/mol. **Published** tables, computed fits."""

COLD_ACTIVATION = 35000.0
"""J/mol, by which resistance may rise in the cold at most: full-order models of published cells in cold air (Ecker et
al. 2015, by PyBaMM) meet their floor sooner than `TEMPERATURE_BAND` tells. **Own judgement**, from those runs."""


def temperature_ratio(
    temperature: ArrayLike, reference: ArrayLike = REFERENCE_TEMPERATURE, activation: ArrayLike = ACTIVATION
) -> Any:
    """Resistance at one temperature ÷ resistance at another.

        R(T)/R(Tref) = exp(Ea/Rg · (1/T − 1/Tref))    (1)

    Temperatures in kelvin, `activation` Ea in J/mol; above 1 in the cold. It acts on R0 and R1, not on τ.
    Arrhenius form with 20 kJ/mol: the demonstration set of PyBaMM and fits to tables shipped by simses 1.3.
    **Published**.
    """
    if type(temperature) is float and type(reference) is float and type(activation) is float:
        return exp(activation / GAS_CONSTANT * (1.0 / temperature - 1.0 / reference))
    T, Tref = np.asarray(temperature, dtype=float), np.asarray(reference, dtype=float)
    return np.asarray(np.exp(np.asarray(activation) / GAS_CONSTANT * (1.0 / T - 1.0 / Tref)))  # Eq. (1)

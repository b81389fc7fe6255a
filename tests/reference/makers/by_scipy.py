"""A pack held by its heat, by scipy: cases of pack-for-model and of safe-draw.

    python tests/reference/makers/by_scipy.py

prints them. One cell of n alike is followed: charge, slow part and temperature as differential equations, the limit
found as a root. Nothing of the service's code is used but the published table.
"""

from collections.abc import Callable

import numpy as np
import scipy
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from ampstead.cell.kinds.tables import AI_2020, STATES

RG, EA, ROOM, LIMIT = 8.31446261815324, 20000.0, 298.15, 333.15
HEAT = 1000.0


def ratio(kelvins: float) -> float:
    return float(np.exp(EA / RG * (1.0 / kelvins - 1.0 / ROOM)))


def warmed(
    amperes: float,
    seconds: float,
    *,
    fast: float,
    slow: float,
    tau: float,
    grams: float,
    entropy: float,
    begun: tuple[float, float],
    resistance: float,
) -> tuple[float, float]:
    """Temperature and slow part's voltage at the end, from those at the start; `resistance` times those told, held."""

    def rates(t: float, y: np.ndarray) -> list[float]:
        T, w = y
        heat = amperes * (amperes * fast * resistance + w) - amperes * T * entropy
        return [heat / (grams / 1000.0 * HEAT), (amperes * slow * resistance - w) / tau]

    run = solve_ivp(rates, (0.0, seconds), begun, rtol=1e-10, atol=1e-12, method="LSODA")
    return float(run.y[0, -1]), float(run.y[1, -1])


def root(function: Callable[[float], float], low: float, high: float) -> float:
    return float(brentq(function, low, high, xtol=1e-10))


def model_held_by_heat() -> dict[str, float]:
    """Four cells of 3.7 Ah and 6 mΩ at 33 °C, 40 A for 3 minutes: the heat of as much charge at 40/0.8 A."""
    amperes, charge = 40.0 / 0.8, 40.0 * 180.0
    grams = 3.7 * 3.7 / 150.0 * 1000.0
    T, _ = warmed(
        amperes,
        charge / amperes,
        fast=6e-3,
        slow=3e-3,
        tau=30.0,
        grams=grams,
        entropy=-0.235e-3,
        begun=(306.15, 0.0),
        resistance=ratio(306.15),
    )
    return {"load_factor": (T - 306.15) / (LIMIT - 306.15)}


def burst_held(limit: float, floor: float, depth: float, seconds: float) -> dict[str, float]:
    """Of 3.7 Ah, 4.2 and 2.1 mΩ from 25 °C: the flight's limits, and the burst's after a flight at 0.8 of the least."""
    Q, fast, slow, tau, grams = 3.7 * 3600.0, 4.2e-3, 2.1e-3, 30.0, 3.7 * 3.7 / 150.0 * 1000.0
    cell = {"fast": fast, "slow": slow, "tau": tau, "grams": grams, "entropy": 0.0, "resistance": 1.0}

    def burst_from(begun: tuple[float, float], amperes: float, seconds: float) -> tuple[float, float]:
        return warmed(amperes, seconds, begun=begun, **cell)

    def after(amperes: float) -> tuple[float, float]:
        return burst_from((ROOM, 0.0), amperes, depth * Q / amperes)

    def emf(spent: float) -> float:
        return float(np.interp(1.0 - spent / Q, STATES, AI_2020))

    by_heat = root(lambda i: after(i)[0] - limit, 1.0, 500.0)
    by_voltage = (emf(depth * Q) - floor) / (fast + slow)
    flight = 0.8 * min(by_heat, by_voltage)
    begun = after(flight)

    def burst(amperes: float) -> tuple[float, float]:
        T, w = burst_from(begun, amperes, seconds)
        return T - limit, emf(depth * Q + amperes * seconds) - amperes * fast - w - floor

    return {
        "current_limit_by_heat": by_heat,
        "current_limit_by_voltage": by_voltage,
        "burst_limit_by_heat": root(lambda i: burst(i)[0], 0.1, 1000.0),
        "burst_limit_by_voltage": root(lambda i: burst(i)[1], 0.0, 1000.0),
    }


if __name__ == "__main__":
    print("scipy", scipy.__version__)
    print("model held by heat", model_held_by_heat())
    print("burst held by voltage, the flight too", burst_held(363.15, 3.3, 0.8, 10.0))
    print("burst held by heat", burst_held(LIMIT, 2.8, 0.5, 60.0))

"""Heat in a cell: limits of the closed form, and the currents it allows."""

from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from ampstead.cell.one.heat import end_temperature, heat_limited_burst, heat_limited_current

PLAIN: dict[str, Any] = {
    "ohmic": 0.007,
    "polarisation": 0.0,
    "time_constant": 30.0,
    "mass": 0.03946666666666667,
    "start": 298.15,
    "ambient": 298.15,
    "cooling": 0.0,
    "entropy": 0.0,
}
LIMIT = 333.15


def stepped(time: float, current: float, steps: int = 2000, **cell: float) -> float:
    """The classical fourth-order rule on the heat equation, written out anew."""
    C, h, T = cell["mass"] * 1000.0, time / steps, cell["start"]

    def rate(t: float, T: float) -> float:
        R = cell["ohmic"] + cell["polarisation"] * (1.0 - np.exp(-t / cell["time_constant"]))
        return float(
            (current * current * R - current * T * cell["entropy"] - cell["cooling"] * (T - cell["ambient"])) / C
        )

    for step in range(steps):
        t = step * h
        k1 = rate(t, T)
        k2 = rate(t + 0.5 * h, T + 0.5 * h * k1)
        k3 = rate(t + 0.5 * h, T + 0.5 * h * k2)
        k4 = rate(t + h, T + h * k3)
        T += h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4)
    return T


@pytest.mark.parametrize("cooling", [0.0, 0.2, 39.46666666666667 / 30.0, 5.0])
@pytest.mark.parametrize("entropy", [0.0, -0.235e-3, 0.2e-3])
def test_the_closed_form_is_what_small_steps_find(cooling: float, entropy: float) -> None:
    cell = PLAIN | {"polarisation": 0.004, "cooling": cooling, "entropy": entropy, "ambient": 290.0}
    answer = float(end_temperature(current=35.0, time=110.0, **cell))
    assert answer == pytest.approx(stepped(110.0, 35.0, **cell), abs=1e-6)


def test_without_cooling_the_limit_is_the_energy_balance() -> None:
    expected = 0.03946666666666667 * 1000.0 * 35.0 / (0.007 * 0.8 * 1.6 * 3600.0)
    assert heat_limited_current(charge=4608.0, limit=LIMIT, **PLAIN) == pytest.approx(expected, rel=1e-9)
    assert expected == pytest.approx(42.82, abs=0.005)


def test_reversible_heat_warms_by_eight_kelvin_at_any_current() -> None:
    cell = PLAIN | {"ohmic": 1e-9, "entropy": -0.235e-3}
    rises = [float(end_temperature(current=i, time=4608.0 / i, **cell)) - 298.15 for i in (0.01, 1.0, 50.0)]
    np.testing.assert_allclose(rises, rises[0], rtol=1e-3)
    assert rises[0] == pytest.approx(8.3, abs=0.1)


def test_a_long_rest_ends_at_ambient_and_none_at_the_start() -> None:
    cell = PLAIN | {"cooling": 0.05, "start": 320.0}
    assert float(end_temperature(current=0.0, time=1e6, **cell)) == pytest.approx(298.15)
    assert float(end_temperature(current=30.0, time=0.0, **cell)) == 320.0


def test_arrays_give_what_single_numbers_give() -> None:
    currents, times = np.array([0.0, 10.0, 40.0]), np.array([10.0, 0.0, 100.0])
    cell = PLAIN | {"polarisation": 0.003, "cooling": 0.1, "time_constant": np.array([1e-12, 30.0, 1e5])}
    together = end_temperature(current=currents, time=times, **cell)
    for index in range(3):
        single = cell | {"time_constant": cell["time_constant"][index]}
        assert together[index] == end_temperature(current=currents[index], time=times[index], **single)


@given(
    st.floats(1e-3, 0.05),
    st.floats(0.0, 0.05),
    st.floats(0.1, 500.0),
    st.floats(0.0, 0.5),
    st.floats(-0.2e-3, 0.1e-3),
    st.floats(5.0, 600.0),
    st.floats(500.0, 20000.0),
)
def test_the_allowed_current_ends_exactly_at_the_limit_and_more_resistance_allows_less(
    ohmic: float,
    polarisation: float,
    tau: float,
    cooling: float,
    entropy: float,
    time: float,
    charge: float,
) -> None:
    cell = PLAIN | {
        "ohmic": ohmic,
        "polarisation": polarisation,
        "time_constant": tau,
        "cooling": cooling,
        "entropy": entropy,
    }
    worse = cell | {"ohmic": ohmic * 1.1}
    burst = heat_limited_burst(time=time, limit=LIMIT, **cell)
    assert float(end_temperature(current=burst, time=time, **cell)) == pytest.approx(LIMIT, abs=1e-6)
    assert heat_limited_burst(time=time, limit=LIMIT, **worse) < burst
    current = heat_limited_current(charge=charge, limit=LIMIT, **cell)
    assert heat_limited_current(charge=charge, limit=LIMIT, **worse) <= current
    assume(current > 0.0)
    end = float(end_temperature(current=current, time=charge / current, **cell))
    assert end == pytest.approx(LIMIT, abs=1e-6)


def test_a_cell_that_is_too_warm_already_gives_nothing() -> None:
    for warm in ({"start": 333.15}, {"cooling": 0.1, "ambient": 340.0}):
        assert heat_limited_current(charge=4608.0, limit=LIMIT, **PLAIN | warm) == 0.0
        assert heat_limited_burst(time=10.0, limit=LIMIT, **PLAIN | warm) == 0.0
    brink = PLAIN | {"start": 330.0, "entropy": -0.235e-3}
    assert heat_limited_current(charge=4608.0, limit=LIMIT, **brink) == 0.0
    assert heat_limited_burst(time=10.0, limit=LIMIT, **brink) > 0.0

"""Packs let down through resistors and lamps, against scipy and against what any such course obeys."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import simpson, solve_ivp
from scipy.optimize import brentq

from ampstead.cell.kinds.curves import LIPO
from ampstead.cell.one.emptying import Lamps, Resistor, let_down
from ampstead.cell.one.series import SeriesPack

CAPACITY = 8100.0


def pack(*states: float, ohmic: float = 0.0085) -> SeriesPack:
    size = len(states)
    return SeriesPack(
        LIPO, np.array(states), np.full(size, CAPACITY), np.full(size, ohmic), np.full(size, ohmic / 2), 30.0
    )


@pytest.mark.parametrize("load", [Resistor(18.0), Resistor(2.2), Lamps(21.0, 12.0, 1), Lamps(5.0, 12.0, 2)])
def test_the_time_is_the_integral_that_scipy_finds(load: Resistor | Lamps) -> None:
    made, charge = pack(0.95, 0.9, 0.93), 0.4 * CAPACITY
    R = 3 * 0.0085 * 1.5

    def slowness(q: float) -> float:
        U = float(sum(LIPO.voltage(state - q / CAPACITY) for state in (0.95, 0.9, 0.93)))
        if isinstance(load, Resistor):
            return (R + load.resistance) / U
        amps, whole = load.power / load.voltage, load.count * load.voltage
        return 1 / brentq(lambda i: amps * (max(U - R * i, 0.0) / whole) ** 0.55 - i, 0.0, 100.0)

    wanted = solve_ivp(lambda q, _: [slowness(q)], (0.0, charge), [0.0], max_step=charge / 400).y[0, -1]
    assert let_down(made, load, charge).time == pytest.approx(wanted, rel=1e-5)


@given(resistance=st.floats(0.5, 1000), state=st.floats(0.1, 1), part=st.floats(0.01, 1))
def test_the_load_gets_what_the_cells_give_but_for_their_own_heat(resistance: float, state: float, part: float) -> None:
    made, charge = pack(state, state), part * state * CAPACITY
    course = let_down(made, Resistor(resistance), charge)
    own = 2 * 0.0085 * 1.5
    given_by_cells = float(np.trapezoid(course.voltages + own * course.currents, course.charges))
    fine = np.linspace(0.0, charge, 100_001)
    area = simpson(2 * LIPO.voltage(state - fine / CAPACITY), x=fine)
    assert given_by_cells == pytest.approx(area, rel=1e-5)
    assert course.energy == pytest.approx(given_by_cells * resistance / (resistance + own), rel=1e-9)
    assert np.all(np.diff(course.currents) <= 1e-15)


@given(power=st.floats(1, 100), state=st.floats(0.1, 1))
def test_a_lamp_at_its_voltage_takes_its_power(power: float, state: float) -> None:
    voltage = float(3 * LIPO.voltage(state))
    course = let_down(pack(state, state, state, ohmic=1e-9), Lamps(power, voltage, 1), 1.0)
    assert course.currents[0] * course.voltages[0] == pytest.approx(power, rel=1e-6)

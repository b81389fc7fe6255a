"""Loads of constant power on one source: the bus and its limit."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ampstead.cell.wiring.supply import bus, largest_load_factor

resistances = st.one_of(st.just(0.0), st.floats(1e-4, 0.2))
loads = st.lists(st.tuples(st.floats(0.1, 500.0), resistances), min_size=1, max_size=5)


@given(st.floats(5.0, 60.0), st.floats(1e-4, 0.5), loads, st.floats(0.01, 0.9999))
def test_the_bus_carries_what_is_below_the_largest_factor_and_nothing_above(
    voltage: float, resistance: float, pairs: list[tuple[float, float]], part: float
) -> None:
    powers, leads = [power for power, _ in pairs], [lead for _, lead in pairs]
    factor = largest_load_factor(voltage, resistance, powers, leads)
    answer = bus(voltage, resistance, [part * factor * power for power in powers], leads)
    assert answer is not None
    assert answer.voltage == pytest.approx(voltage - resistance * sum(answer.currents), rel=1e-9)
    for power, lead, current, at_load in zip(powers, leads, answer.currents, answer.load_voltages, strict=True):
        assert at_load * current == pytest.approx(part * factor * power, rel=1e-9)
        assert at_load >= lead * current * (1.0 - 1e-9)
    assert bus(voltage, resistance, [(1.0 + 1e-9) * factor * power for power in powers], leads) is None
    assert bus(voltage, resistance, [(1.0 - 1e-9) * factor * power for power in powers], leads) is not None


@given(st.floats(5.0, 60.0), st.floats(1e-4, 0.5), st.floats(1.0, 500.0), resistances)
def test_one_load_is_held_by_maximum_power_transfer(
    voltage: float, resistance: float, power: float, lead: float
) -> None:
    factor = largest_load_factor(voltage, resistance, [power], [lead])
    assert factor == pytest.approx(voltage**2 / (4.0 * (resistance + lead) * power), rel=1e-9)


def test_a_source_without_resistance_is_limited_by_the_leads_alone() -> None:
    answer = bus(12.0, 0.0, [100.0, 50.0], [0.1, 0.0])
    assert answer is not None
    assert answer.voltage == 12.0
    assert largest_load_factor(12.0, 0.0, [100.0, 50.0], [0.1, 0.0]) == pytest.approx(3.6)
    assert bus(12.0, 0.0, [361.0], [0.1]) is None
    assert largest_load_factor(12.0, 0.0, [100.0], [0.0]) == math.inf
    assert largest_load_factor(12.0, 0.1, [0.0], [0.1]) == math.inf


def test_no_load_leaves_the_bus_at_the_source() -> None:
    answer = bus(12.0, 0.1, [0.0], [0.1])
    assert answer is not None
    assert (answer.voltage, answer.currents) == (12.0, (0.0,))

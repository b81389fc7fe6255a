"""Curves, constants and resistance: what the tables say, and how far they are to be trusted."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ampstead.cell.kinds import tables
from ampstead.cell.kinds.chemistries import CHEMISTRIES, cell_mass
from ampstead.cell.kinds.curves import LIHV, LIPO, Curve, state_band
from ampstead.cell.kinds.resistance import METHOD_BANDS, METHOD_FACTORS, TEMPERATURE_BAND, temperature_ratio

WITH_CURVE = [name for name, chemistry in CHEMISTRIES.items() if chemistry.curve is not None]


def curve_of(name: str) -> Curve:
    curve = CHEMISTRIES[name].curve
    assert curve is not None
    return curve


@given(st.sampled_from(WITH_CURVE), st.floats(0.0, 1.0))
def test_state_undoes_voltage(name: str, state: float) -> None:
    curve = curve_of(name)
    assert float(curve.state(curve.voltage(state))) == pytest.approx(state, abs=1e-9)


@pytest.mark.parametrize("name", WITH_CURVE)
def test_a_curve_is_held_beyond_its_ends_and_takes_arrays(name: str) -> None:
    curve = curve_of(name)
    np.testing.assert_array_equal(curve.voltage([-1.0, 2.0]), [curve.voltages[0], curve.voltages[-1]])
    np.testing.assert_array_equal(curve.state([0.0, 9.0]), [0.0, 1.0])
    with pytest.raises(ValueError, match="read-only"):
        curve.voltages[0] = 1.0


def test_a_curve_that_does_not_rise_is_refused() -> None:
    with pytest.raises(ValueError, match="rise"):
        Curve(np.array([0.0, 1.0]), np.array([3.0, 3.0]), "made up")


def test_the_high_voltage_curve_is_the_plain_one_rescaled_and_says_that_it_is_extrapolated() -> None:
    assert not LIHV.sourced
    assert "extrapolated, not measured" in LIHV.source
    assert [curve_of(name).sourced for name in WITH_CURVE] == [True, False, True, True, True]
    assert float(LIHV.voltage(1.0)) == 4.35
    full = float(LIHV.state(4.2))
    assert full == pytest.approx(0.91, abs=0.005)
    states = np.linspace(0.0, 1.0, 101)
    np.testing.assert_allclose(LIHV.voltage(states * full), LIPO.voltage(states), atol=1e-12)
    last = (4.2 - 4.170022) / 0.02
    assert float(LIHV.voltage(full + 0.01 * full)) == pytest.approx(4.2 + 0.01 * last)


def test_lead_is_a_sixth_of_the_published_battery() -> None:
    np.testing.assert_allclose(
        6.0 * curve_of("lead").voltage([0.0, 0.25, 0.5, 0.75, 1.0]), [11.7, 12.0, 12.2, 12.4, 12.6]
    )


@pytest.mark.parametrize("name", WITH_CURVE)
def test_the_band_of_states_rises_with_voltage_and_holds_the_curve(name: str) -> None:
    curve = curve_of(name)
    bands = np.array([state_band(name, voltage) for voltage in np.linspace(0.0, 5.0, 2001)])
    assert np.all(np.diff(bands, axis=0) >= -1e-12)
    assert bands.min() >= 0.0
    assert bands.max() <= 1.0
    for voltage in np.linspace(float(curve.voltages[0]), float(curve.voltages[-1]), 301):
        low, high = state_band(name, voltage)
        assert low <= float(curve.state(voltage)) <= high


@pytest.mark.parametrize("name", ["lipo", "liion"])
@pytest.mark.parametrize("row", tables.STATE_AT_VOLTAGE)
def test_the_band_holds_every_published_set(name: str, row: tuple[float, ...]) -> None:
    low, high = state_band(name, row[0])
    assert low <= min(row[1:]) / 100.0 + 1e-12
    assert high >= max(row[1:]) / 100.0 - 1e-12
    # ... and is no wider, but for a point on the chemistry's own steep end.
    if row[0] >= 3.5:
        assert low == pytest.approx(min(row[1:]) / 100.0, abs=0.015)
        assert high == pytest.approx(max(row[1:]) / 100.0, abs=0.015)


@pytest.mark.parametrize(
    ("volts", "low", "high"),
    [(3.7, 0.19, 0.52), (3.8, 0.43, 0.63), (3.85, 0.55, 0.68), (3.9, 0.65, 0.72), (4.0, 0.76, 0.83)],
)
def test_the_band_is_as_wide_as_published_curves_disagree(volts: float, low: float, high: float) -> None:
    assert state_band("lipo", volts) == pytest.approx((low, high), abs=0.006)


def test_a_flat_chemistry_says_that_its_voltage_tells_little() -> None:
    low, high = state_band("life", 3.30)
    assert high - low > 0.3
    assert state_band("life", 3.6)[0] > 0.99
    assert state_band("life", 2.0)[0] == 0.0


def test_a_full_reading_is_full_and_only_lead_stays_uncertain() -> None:
    for name in ("lipo", "lihv", "liion"):
        assert state_band(name, float(curve_of(name).voltages[-1])) == (1.0, 1.0)
    assert state_band("lead", 2.1) == pytest.approx((0.9, 1.0))
    with pytest.raises(ValueError, match="nimh"):
        state_band("nimh", 1.2)


def test_chemistries_come_in_order_and_read_only() -> None:
    assert list(CHEMISTRIES) == ["lipo", "lihv", "liion", "life", "nimh", "nicd", "lead"]
    with pytest.raises(TypeError):
        CHEMISTRIES["lipo"] = CHEMISTRIES["lead"]  # type: ignore[index]


@pytest.mark.parametrize("name", WITH_CURVE)
def test_the_voltages_of_a_chemistry_stand_in_order(name: str) -> None:
    chemistry, curve = CHEMISTRIES[name], curve_of(name)
    assert chemistry.floor < chemistry.nominal < chemistry.end_of_charge
    assert float(curve.voltages[-1]) <= chemistry.end_of_charge
    assert chemistry.rest_floor is not None
    assert chemistry.floor < chemistry.rest_floor
    assert (chemistry.storage_voltage is None) != (chemistry.storage_state is None)


def test_a_lipo_cell_weighs_what_its_specific_energy_says() -> None:
    assert cell_mass(CHEMISTRIES["lipo"], 5760.0) == pytest.approx(0.03946666666666667)
    assert CHEMISTRIES["lipo"].resistance_charge == pytest.approx(54.0)
    assert CHEMISTRIES["lipo"].resistance_charge_band == pytest.approx((18.0, 144.0))


# PyBaMM's demonstration set, Ea = 20 kJ/mol stated in its docstring; printed to 4 decimals. Computed.
@pytest.mark.parametrize(
    ("celsius", "ratio"),
    [(-20, 4.1961), (-10, 2.9243), (0, 2.0926), (10, 1.5333), (20, 1.1475), (25, 1.0), (35, 0.7697)],
)
def test_resistance_rises_in_the_cold_as_the_arrhenius_law_of_another_program(celsius: float, ratio: float) -> None:
    assert float(temperature_ratio(celsius + 273.15)) == pytest.approx(ratio, abs=1e-4)


# Tables shipped by simses 1.3, discharge at 50 % state of charge, R/R(25 °C).
@pytest.mark.parametrize(
    ("celsius", "ratio"), [(0, 1.89), (10, 1.28), (10, 1.4508), (15, 1.3127), (35, 0.8272), (40, 0.8024)]
)
def test_the_temperature_law_is_within_a_quarter_of_published_tables(celsius: float, ratio: float) -> None:
    assert float(temperature_ratio(celsius + 273.15)) == pytest.approx(ratio, rel=0.25)


@given(st.floats(250.0, 340.0), st.floats(250.0, 340.0))
def test_the_temperature_law_turns_round(there: float, back: float) -> None:
    product = float(temperature_ratio(there, back) * temperature_ratio(back, there))
    assert product == pytest.approx(1.0)
    assert np.all(np.diff(temperature_ratio(np.array([260.0, 280.0, 300.0]))) < 0.0)


def test_each_method_of_measuring_has_a_factor_inside_its_band() -> None:
    assert METHOD_FACTORS.keys() == METHOD_BANDS.keys()
    for method, (low, high) in METHOD_BANDS.items():
        assert low <= METHOD_FACTORS[method] <= high
    # Ten seconds see R0·(1 + 0.5·(1 − exp(−10/30))).
    assert 1.0 / METHOD_FACTORS["10s"] == pytest.approx(1.5 - 0.5 * math.exp(-1.0 / 3.0))
    assert TEMPERATURE_BAND == (15000.0, 25000.0)

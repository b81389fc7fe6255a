"""What holds for any charge, whatever the pack."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.kinds.curves import Curve
from ampstead.cell.one.charge import Charge, charge
from ampstead.cell.one.series import SeriesPack

CURVES = [chemistry.curve for chemistry in CHEMISTRIES.values() if chemistry.curve is not None]
LIPO, LIFE = CURVES[0], CURVES[3]


states = st.floats(0.0, 0.95)
ohms = st.floats(5e-4, 0.1)
slow_ohms = st.one_of(st.just(0.0), st.floats(1e-4, 0.1))
taus = st.floats(0.05, 300.0)


@st.composite
def packs(draw: st.DrawFn, most: int = 5) -> SeriesPack:
    cells = draw(st.integers(1, most))

    def per_cell(values: st.SearchStrategy[float]) -> np.ndarray:
        return np.array(draw(st.lists(values, min_size=cells, max_size=cells)))

    return SeriesPack(
        draw(st.sampled_from(CURVES)),
        per_cell(states),
        per_cell(st.floats(500.0, 20000.0)),
        per_cell(ohms),
        per_cell(slow_ohms),
        draw(taus),
    )


def lipo(state: float, ohmic: float = 0.007, slow: float = 0.0035, cells: int = 1) -> SeriesPack:
    return SeriesPack(
        LIPO,
        np.full(cells, state),
        np.full(cells, 5760.0),
        np.full(cells, ohmic),
        np.full(cells, slow),
        30.0,
    )


def ordinary(pack: SeriesPack, rate: float = 1.0, end_voltage: float | None = None) -> Charge:
    current = rate * float(pack.capacities.min()) / 3600.0
    top = float(pack.curve.voltages[-1]) if end_voltage is None else end_voltage
    return charge(pack, current, top, 0.1 * current)


def stepped(pack: SeriesPack, current: float, top: float, end: float, step: float) -> tuple[float, float]:
    """Time and charge by small explicit steps of the model's equations, written out anew."""
    q = w = t = 0.0
    while True:
        z = pack.states + q / pack.capacities
        allowed = (top - pack.curve.voltage(z) - pack.polarisation * w) / pack.ohmic
        i = min(current, float(allowed.min()))
        if i <= end or np.any(z >= 1.0):
            return t, q
        # Midpoint rule.
        qm, wm = q + 0.5 * step * i, w + 0.5 * step * (i - w) / pack.time_constant
        zm = pack.states + qm / pack.capacities
        im = min(current, float(((top - pack.curve.voltage(zm) - pack.polarisation * wm) / pack.ohmic).min()))
        q, w, t = q + step * im, w + step * (im - wm) / pack.time_constant, t + step


@pytest.mark.parametrize("seed", range(4))
def test_unlike_cells_take_turns_at_the_limit_as_small_steps_find(seed: int) -> None:
    draw = np.random.default_rng(seed)
    pack = SeriesPack(
        LIPO if seed % 2 else LIFE,
        0.75 + 0.15 * draw.random(4),
        3600.0 * (1.0 + 0.5 * draw.random(4)),
        0.01 + 0.05 * draw.random(4),
        0.06 * draw.random(4),
        20.0,
    )
    top = float(pack.curve.voltages[-1]) - 0.05 * (seed > 1)
    answer = charge(pack, 2.0, top, 0.2)
    time, added = stepped(pack, 2.0, top, 0.2, 0.25)
    assert answer.time_total == pytest.approx(time, abs=0.6)
    assert answer.charge == pytest.approx(added, rel=2e-4)


@given(packs(), st.floats(0.1, 5.0), st.floats(0.0, 0.1))
def test_a_charge_keeps_its_books_and_its_limits(pack: SeriesPack, rate: float, below_top: float) -> None:
    top = float(pack.curve.voltages[-1]) - below_top
    current = rate * float(pack.capacities.min()) / 3600.0
    answer = charge(pack, current, top, 0.1 * current)
    phases = answer.time_constant_current + answer.time_constant_voltage
    assert answer.time_total == pytest.approx(phases, rel=1e-12)
    assert answer.first_current <= current
    # Each cell took the same charge, and none is above full.
    taken = (answer.states_end - pack.states) * pack.capacities
    np.testing.assert_allclose(taken, answer.charge, rtol=1e-9, atol=1e-6)
    assert answer.states_end.max() <= 1.0
    if answer.charge > 0.0:
        assert answer.end_voltages.max() <= top + 1e-7
    times = np.linspace(0.0, answer.time_total, 2001)
    voltage, flow, charged = answer.curve(times)
    assert flow.max() <= current * (1.0 + 1e-9)
    assert flow.min() >= 0.0
    assert np.all(np.diff(charged) >= -1e-9)
    assert np.trapezoid(flow, times) == pytest.approx(answer.charge, rel=2e-3, abs=1e-6)
    assert np.trapezoid(voltage * flow, times) == pytest.approx(answer.energy, rel=2e-3, abs=1e-6)
    # Energy in is at least what the cells store.
    fine = np.linspace(0.0, answer.charge, 2001)
    stored = sum(
        np.trapezoid(pack.curve.voltage(z + fine / capacity), fine)
        for z, capacity in zip(pack.states, pack.capacities, strict=True)
    )
    assert answer.energy >= stored * (1.0 - 1e-5)


@given(packs(), st.floats(0.2, 4.0), st.floats(0.0, 1.0))
def test_a_charge_looked_at_midway_agrees_with_its_curve_and_its_end(
    pack: SeriesPack, rate: float, part: float
) -> None:
    answer = ordinary(pack, rate)
    assert answer.at(0.0) == (0.0, 0.0)
    assert answer.at(answer.time_total + 1.0) == (answer.charge, answer.energy)
    time = part * answer.time_total
    added, energy = answer.at(time)
    assert added == pytest.approx(float(answer.curve(time)[2][0]), rel=1e-12)
    near_end = answer.at(answer.time_total * (1.0 - 1e-9))
    assert near_end == pytest.approx((answer.charge, answer.energy), rel=1e-6, abs=1e-6)
    assert 0.0 <= energy <= answer.energy * (1.0 + 1e-9)


@given(packs(), st.floats(0.2, 4.0), st.floats(1.05, 3.0))
def test_more_resistance_never_charges_more_or_stays_longer_at_constant_current(
    pack: SeriesPack, rate: float, more: float
) -> None:
    worse = SeriesPack(
        pack.curve,
        pack.states,
        pack.capacities,
        pack.ohmic * more,
        pack.polarisation * more,
        pack.time_constant,
    )
    good, bad = ordinary(pack, rate), ordinary(worse, rate)
    assert bad.time_constant_current <= good.time_constant_current * (1.0 + 1e-9)
    for time in np.linspace(0.0, good.time_total, 9):
        # The shorter charge has stopped at its taper: compare while both still run.
        if time <= bad.time_total:
            assert bad.at(time)[0] <= good.at(time)[0] * (1.0 + 1e-9) + 1e-9


@given(packs(), st.floats(0.2, 4.0), st.floats(0.1, 10.0))
def test_a_pack_k_times_as_large_takes_as_long_at_k_times_the_current(pack: SeriesPack, rate: float, k: float) -> None:
    large = SeriesPack(
        pack.curve,
        pack.states,
        pack.capacities * k,
        pack.ohmic / k,
        pack.polarisation / k,
        pack.time_constant,
    )
    small_answer, large_answer = ordinary(pack, rate), ordinary(large, rate)
    assert large_answer.time_total == pytest.approx(small_answer.time_total, rel=1e-6, abs=1e-6)
    assert large_answer.charge == pytest.approx(k * small_answer.charge, rel=1e-6, abs=1e-6)
    assert large_answer.energy == pytest.approx(k * small_answer.energy, rel=1e-6, abs=1e-6)


@given(states, ohms, slow_ohms, st.integers(2, 14), st.floats(0.2, 4.0))
def test_equal_cells_behave_as_one(state: float, ohmic: float, slow: float, cells: int, rate: float) -> None:
    one, many = (
        ordinary(lipo(state, ohmic, slow), rate),
        ordinary(lipo(state, ohmic, slow, cells), rate),
    )
    assert many.time_total == one.time_total
    assert many.charge == one.charge
    assert many.energy == pytest.approx(cells * one.energy, rel=1e-12)
    assert many.highest_cell == 0


@pytest.mark.parametrize("difference", [1e-15, 1e-12, 1e-9, 1e-6])
def test_nearly_equal_cells_behave_nearly_as_one(difference: float) -> None:
    pack = lipo(0.4, cells=4)
    near = SeriesPack(
        LIPO,
        pack.states * (1.0 + difference * np.arange(4)),
        pack.capacities * (1.0 + difference * np.arange(4)[::-1]),
        pack.ohmic,
        pack.polarisation,
        30.0,
    )
    assert ordinary(near).time_total == pytest.approx(ordinary(pack).time_total, rel=1e-4)


def test_the_fullest_cell_starts_constant_voltage_and_ends_at_its_limit() -> None:
    pack = SeriesPack(LIPO, np.array([0.2, 0.3, 0.25]), np.full(3, 5760.0), np.full(3, 0.007), np.full(3, 0.0035), 30.0)
    answer = ordinary(pack)
    assert answer.highest_cell == 1
    assert answer.end_voltages.argmax() == 1
    assert answer.end_voltages[1] == pytest.approx(4.2, abs=1e-9)
    assert answer.states_end[1] - answer.states_end[0] == pytest.approx(0.1)


def test_a_nearly_full_pack_starts_at_constant_voltage_below_the_set_current() -> None:
    answer = charge(lipo(0.95, 0.03, 0.015), 3.2, 4.2, 0.16)
    assert answer.time_constant_current == 0.0
    assert answer.first_current == pytest.approx((4.2 - float(LIPO.voltage(0.95))) / 0.03)
    assert answer.curve(0.0)[1][0] == pytest.approx(answer.first_current)
    assert answer.curve(0.0)[0][0] == pytest.approx(4.2)


@pytest.mark.parametrize("state", [1.0, 0.9995])
def test_a_pack_that_takes_no_more_than_the_end_current_gets_nothing(state: float) -> None:
    answer = charge(lipo(state), 1.6, 4.2, 0.16)
    assert (answer.time_total, answer.charge, answer.energy, answer.first_current) == (0.0, 0.0, 0.0, 0.0)
    assert answer.at(10.0) == (0.0, 0.0)
    assert answer.states_end[0] == state
    voltage, flow, added = answer.curve([0.0, 5.0])
    np.testing.assert_allclose(voltage, LIPO.voltage(state))
    assert not flow.any()
    assert not added.any()


def test_a_cell_resting_above_the_end_voltage_gets_nothing() -> None:
    assert charge(lipo(0.98), 1.6, 4.1, 0.16).time_total == 0.0


def test_a_table_that_ends_below_the_charge_voltage_ends_with_a_full_cell() -> None:
    answer = charge(lipo(0.5), 1.6, 4.5, 0.16)
    assert answer.states_end[0] == 1.0
    assert answer.time_constant_voltage == 0.0
    assert answer.time_total == pytest.approx(0.5 * 5760.0 / 1.6)
    held = charge(lipo(0.5), 1.6, 4.205, 0.16)
    assert held.states_end[0] == 1.0
    assert held.time_constant_voltage > 0.0
    assert held.end_voltages[0] == pytest.approx(4.205)


def test_an_end_current_at_the_set_current_ends_where_constant_voltage_begins() -> None:
    answer = charge(lipo(0.2), 1.6, 4.2, 1.6)
    assert answer.time_constant_voltage == 0.0
    assert answer.end_voltages[0] == pytest.approx(4.2)


def test_a_flat_stretch_of_the_curve_is_crossed_at_a_settled_current() -> None:
    # Nearly flat from a tenth to nine tenths; constant voltage begins on the flat.
    curve = Curve(np.array([0.0, 0.1, 0.9, 1.0]), np.array([3.0, 3.3, 3.3 + 1e-12, 3.6]), "made up")
    pack = SeriesPack(curve, np.array([0.2]), np.array([3600.0]), np.array([0.1]), np.array([0.1]), 30.0)
    answer = charge(pack, 1.0, 3.35, 0.05)
    assert answer.time_constant_current == 0.0
    # From 0.05/0.1 it settles at 0.05/(0.1 + 0.1) A.
    assert answer.curve(600.0)[1][0] == pytest.approx(0.25, rel=1e-6)
    assert answer.end_voltages[0] == pytest.approx(3.35)
    assert answer.states_end[0] > 0.9


@pytest.mark.parametrize(("current", "end"), [(0.0, 0.1), (-1.0, 0.1), (1.0, 0.0)])
def test_a_charge_without_a_current_is_refused(current: float, end: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        charge(lipo(0.2), current, 4.2, end)


def test_a_charge_of_unknown_capacity_is_refused() -> None:
    pack = SeriesPack(LIPO, np.array([0.2]), np.array([np.inf]), np.array([0.007]), np.array([0.0]), 30.0)
    with pytest.raises(ValueError, match="finite"):
        charge(pack, 1.0, 4.2, 0.1)


@pytest.mark.parametrize(
    ("states", "ohmic", "tau"), [(1.2, 0.01, 30.0), (-0.1, 0.01, 30.0), (0.5, 0.0, 30.0), (0.5, 0.01, 0.0)]
)
def test_a_pack_outside_its_range_is_refused(states: float, ohmic: float, tau: float) -> None:
    with pytest.raises(ValueError, match=r"0…1|above 0"):
        SeriesPack(LIPO, np.array([states]), np.array([1.0]), np.array([ohmic]), np.array([0.0]), tau)


def test_a_cell_that_overtakes_between_two_points_of_the_table_is_held_from_there() -> None:
    # One straight piece: the resistive cell is the first to reach the limit, the small one then passes it.
    straight = Curve(np.array([0.0, 1.0]), np.array([3.0, 4.2]), "made up")
    pack = SeriesPack(
        straight, np.array([0.70, 0.85]), np.array([7200.0, 1800.0]), np.array([0.2, 0.02]), np.full(2, 0.02), 20.0
    )
    answer = charge(pack, 2.0, 4.1, 0.2)
    time, added = stepped(pack, 2.0, 4.1, 0.2, 0.02)
    assert answer.highest_cell == 0
    assert answer.end_voltages.argmax() == 1
    assert answer.end_voltages[1] == pytest.approx(4.1, abs=1e-8)
    assert answer.time_total == pytest.approx(time, abs=0.05)
    assert answer.charge == pytest.approx(added, abs=0.005)  # one step at the end current

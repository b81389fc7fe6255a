"""What holds for any load on any pack. A load is a current or a power; current out of the pack is positive."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.one.discharge import (
    Loaded,
    largest_current,
    largest_power,
    loaded,
    power_current,
    time_to_floor,
)
from ampstead.cell.one.series import SeriesPack

CURVES = [chemistry.curve for chemistry in CHEMISTRIES.values() if chemistry.curve is not None]
LIPO = CURVES[0]


leads = st.one_of(st.just(0.0), st.floats(1e-4, 0.02))


@st.composite
def packs(draw: st.DrawFn, most: int = 4) -> SeriesPack:
    cells = draw(st.integers(1, most))

    def per_cell(values: st.SearchStrategy[float]) -> np.ndarray:
        return np.array(draw(st.lists(values, min_size=cells, max_size=cells)))

    return SeriesPack(
        draw(st.sampled_from(CURVES)),
        per_cell(st.floats(0.1, 1.0)),
        per_cell(st.floats(1000.0, 20000.0)),
        per_cell(st.floats(1e-3, 0.03)),
        per_cell(st.one_of(st.just(0.0), st.floats(1e-4, 0.03))),
        draw(st.floats(0.5, 100.0)),
    )


def lipo(
    state: float = 0.6, cells: int = 4, capacity: float = 5760.0, ohmic: float = 0.007, slow: float = 0.0035
) -> SeriesPack:
    return SeriesPack(
        LIPO,
        np.full(cells, state),
        np.full(cells, capacity),
        np.full(cells, ohmic),
        np.full(cells, slow),
        30.0,
    )


def under(
    pack: SeriesPack,
    time: float,
    *,
    current: float | None = None,
    power: float | None = None,
    lead: float = 0.0,
) -> Loaded:
    answer = loaded(pack, time, current=current, power=power, lead_resistance=lead)
    assert answer is not None
    return answer


def stepped(pack: SeriesPack, power: float, lead: float, time: float, steps: int) -> tuple[float, float, float]:
    """Current, charge and energy by the classical fourth-order rule in time, written out anew."""

    def current(q: float, w: float) -> float:
        z = np.maximum(pack.states - q / pack.capacities, 0.0)
        E = float((pack.curve.voltage(z) - pack.polarisation * w).sum())
        return float(power_current(E, pack.ohmic.sum() + lead, power))

    def rates(y: np.ndarray) -> np.ndarray:
        i = current(y[0], y[1])
        return np.array([i, (i - y[1]) / pack.time_constant, power + lead * i * i])

    y, h = np.zeros(3), time / steps
    for _ in range(steps):
        k1 = rates(y)
        k2 = rates(y + 0.5 * h * k1)
        k3 = rates(y + 0.5 * h * k2)
        k4 = rates(y + h * k3)
        y = y + h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4)
    return current(y[0], y[1]), float(y[0]), float(y[2])


@pytest.mark.parametrize("seed", range(3))
def test_constant_power_on_unlike_cells_is_what_small_steps_find(seed: int) -> None:
    draw = np.random.default_rng(seed)
    pack = SeriesPack(
        LIPO,
        0.4 + 0.5 * draw.random(3),
        3000.0 * (1.0 + draw.random(3)),
        0.004 + 0.01 * draw.random(3),
        0.01 * draw.random(3),
        8.0,
    )
    answer = under(pack, 90.0, power=110.0, lead=0.004)
    current, drawn, energy = stepped(pack, 110.0, 0.004, 90.0, 1800)
    assert answer.current == pytest.approx(current, rel=1e-6)
    assert answer.charge == pytest.approx(drawn, rel=1e-7)
    assert answer.energy == pytest.approx(energy, rel=1e-7)


@pytest.mark.parametrize("tau", [1e-3, 0.1, 30.0, 3000.0])
def test_a_long_discharge_at_constant_power_closes_its_energy_at_any_time_constant(tau: float) -> None:
    pack = SeriesPack(LIPO, np.full(2, 1.0), np.full(2, 7200.0), np.full(2, 0.01), np.full(2, 0.01), tau)
    answer = under(pack, 3000.0, power=12.0, lead=0.01)
    fine = np.linspace(0.0, answer.charge, 20001)
    from_cells = 2.0 * np.trapezoid(LIPO.voltage(1.0 - fine / 7200.0), fine)
    # What the cells give is what the pack delivers and what its resistances burn, Σ(R0 + R1)·i² at a steady i.
    mean = answer.charge / 3000.0
    burnt = (0.02 + 0.02 * (1.0 - tau / 3000.0 * -math.expm1(-3000.0 / tau))) * mean * answer.charge
    assert from_cells == pytest.approx(answer.energy + burnt, rel=3e-4)
    assert answer.current * (answer.terminal_voltage - 0.01 * answer.current) == pytest.approx(12.0, rel=1e-9)


@given(packs(), st.floats(0.5, 200.0), st.floats(0.0, 120.0), leads)
def test_the_load_gets_the_power_it_asks_for(pack: SeriesPack, power: float, time: float, lead: float) -> None:
    answer = loaded(pack, time, power=power, lead_resistance=lead)
    assume(answer is not None)
    assert answer is not None
    at_load = answer.terminal_voltage - lead * answer.current
    assert at_load * answer.current == pytest.approx(power, rel=1e-6)
    # The upper branch: the load has at least half of the voltage there is.
    assert at_load >= lead * answer.current
    assert answer.terminal_voltage == pytest.approx(float(answer.cell_voltages.sum()))
    assert answer.energy >= power * time * (1.0 - 1e-9)
    assert answer.heat >= 0.0


@given(packs(), st.floats(0.0, 60.0), st.floats(0.0, 400.0))
def test_constant_current_keeps_its_books(pack: SeriesPack, current: float, time: float) -> None:
    answer = under(pack, time, current=current)
    assert answer.charge == pytest.approx(current * time)
    emptied = bool(np.any(pack.states - current * time / pack.capacities <= 0.0))
    assert answer.emptied == emptied
    z = np.maximum(pack.states - current * time / pack.capacities, 0.0)
    heat = current * (pack.curve.voltage(z) - answer.cell_voltages).sum()
    assert answer.heat == pytest.approx(float(heat), rel=1e-6, abs=1e-6)
    times = np.linspace(0.0, time, 401)
    voltages = [under(pack, float(at), current=current).terminal_voltage for at in times]
    assert answer.energy == pytest.approx(current * np.trapezoid(voltages, times), rel=5e-3, abs=1e-3)


@given(packs(), st.floats(0.2, 60.0), st.floats(0.0, 200.0), st.floats(1.02, 3.0))
def test_more_resistance_sags_more_lasts_less_and_allows_less(
    pack: SeriesPack, current: float, time: float, more: float
) -> None:
    worse = SeriesPack(
        pack.curve,
        pack.states,
        pack.capacities,
        pack.ohmic * more,
        pack.polarisation * more,
        pack.time_constant,
    )
    floor = float(pack.curve.voltage(0.05))
    assert np.all(under(worse, time, current=current).cell_voltages < under(pack, time, current=current).cell_voltages)
    assert largest_current(worse, floor, time) <= largest_current(pack, floor, time)
    assert largest_power(worse, floor, time, 0.004) <= largest_power(pack, floor, time, 0.004) * (1.0 + 1e-9)
    good, bad = (
        time_to_floor(pack, floor, current=current),
        time_to_floor(worse, floor, current=current),
    )
    assert bad is None or (good is not None and bad <= good * (1.0 + 1e-9))


@given(packs(), st.floats(0.5, 60.0), st.booleans(), leads)
def test_at_the_time_to_the_floor_the_weakest_cell_is_there(
    pack: SeriesPack, load: float, as_power: bool, lead: float
) -> None:
    floor = float(pack.curve.voltage(0.03))
    kind = {"power": load * 3.0 * pack.cells, "lead_resistance": lead} if as_power else {"current": load}
    time = time_to_floor(pack, floor, **kind)
    assume(time is not None and time > 0.0)
    assert time is not None
    before = loaded(pack, time * (1.0 - 1e-6), **kind)
    assert before is not None
    assert not before.emptied
    assert before.cell_voltages.min() > floor
    after = loaded(pack, time * (1.0 + 1e-6), **kind)
    assert after is None or after.emptied or after.cell_voltages.min() < floor


@given(packs(), st.floats(0.0, 300.0), leads)
def test_the_largest_current_and_power_leave_the_weakest_cell_on_the_floor(
    pack: SeriesPack, time: float, lead: float
) -> None:
    floor = float(pack.curve.voltage(0.03))
    current = largest_current(pack, floor, time)
    answer = under(pack, time, current=current)
    drained = pack.states - answer.charge / pack.capacities
    on_floor = answer.cell_voltages.min() == pytest.approx(floor, abs=1e-9)
    assert on_floor or drained.min() == pytest.approx(0.0, abs=1e-9)
    power = largest_power(pack, floor, time, lead)
    answer = under(pack, time, power=power * (1.0 - 1e-9), lead=lead)
    assert answer.cell_voltages.min() >= floor - 1e-9
    beyond = loaded(pack, time, power=power * (1.0 + 1e-6), lead_resistance=lead)
    assert beyond is None or beyond.cell_voltages.min() < floor or beyond.emptied


def test_the_largest_power_of_like_cells_puts_each_on_the_floor() -> None:
    power = largest_power(lipo(), 3.3, 10.0, 0.004)
    np.testing.assert_allclose(under(lipo(), 10.0, power=power, lead=0.004).cell_voltages, 3.3, atol=1e-8)


@given(st.floats(0.1, 1.0), st.integers(2, 14), st.floats(1.0, 40.0), st.floats(0.0, 60.0))
def test_n_equal_cells_behave_like_n_of_one(state: float, cells: int, current: float, time: float) -> None:
    one, many = (
        under(lipo(state, 1), time, current=current),
        under(lipo(state, cells), time, current=current),
    )
    np.testing.assert_array_equal(many.cell_voltages, np.repeat(one.cell_voltages, cells))
    assert many.energy == pytest.approx(cells * one.energy)
    assert largest_power(lipo(state, cells), 3.3, time) == pytest.approx(
        cells * largest_power(lipo(state, 1), 3.3, time), rel=1e-9
    )


@given(packs(), st.floats(0.1, 10.0), st.floats(0.1, 50.0), st.floats(0.1, 100.0))
def test_a_pack_k_times_as_large_sags_alike_at_k_times_the_load(
    pack: SeriesPack, k: float, power: float, time: float
) -> None:
    large = SeriesPack(
        pack.curve,
        pack.states,
        pack.capacities * k,
        pack.ohmic / k,
        pack.polarisation / k,
        pack.time_constant,
    )
    small_answer = loaded(pack, time, power=power)
    large_answer = loaded(large, time, power=k * power)
    assert (small_answer is None) == (large_answer is None)
    if small_answer is not None and large_answer is not None:
        np.testing.assert_allclose(large_answer.cell_voltages, small_answer.cell_voltages, rtol=1e-6)


def test_no_load_leaves_the_pack_at_rest_for_ever() -> None:
    for load in ({"current": 0.0}, {"power": 0.0}):
        answer = under(lipo(), 100.0, **load)
        np.testing.assert_allclose(answer.cell_voltages, LIPO.voltage(0.6))
        assert answer.energy == answer.heat == answer.charge == 0.0
        assert time_to_floor(lipo(), 3.3, **load) is None


def test_a_load_that_starts_below_the_floor_never_had_the_time() -> None:
    at_once = float(LIPO.voltage(0.6)) - 40.0 * 0.007
    assert time_to_floor(lipo(), at_once + 1e-6, current=40.0) is None
    assert time_to_floor(lipo(), at_once, current=40.0) == 0.0
    assert time_to_floor(lipo(), 3.3, power=5000.0) is None
    assert time_to_floor(lipo(), 3.8, power=500.0) is None
    assert loaded(lipo(), 0.0, power=5000.0) is None


def test_an_emptied_cell_counts_as_having_met_the_floor_and_stays_at_the_bottom() -> None:
    pack = lipo(0.1)
    empty = 0.1 * 5760.0 / 5.0
    assert time_to_floor(pack, 2.0, current=5.0) == pytest.approx(empty)
    answer = under(pack, 2.0 * empty, current=5.0)
    assert answer.emptied
    assert answer.cell_voltages[0] == pytest.approx(3.0 - 5.0 * (0.007 - 0.0035 * math.expm1(-2.0 * empty / 30.0)))
    by_power = time_to_floor(pack, 2.0, power=70.0)
    assert by_power is not None
    assert under(pack, by_power, power=70.0).charge == pytest.approx(576.0)
    assert under(pack, 2.0 * by_power, power=70.0).emptied
    assert time_to_floor(lipo(0.0), 2.0, current=5.0) == 0.0
    assert largest_current(pack, 2.0, 3600.0) == pytest.approx(0.16)
    assert largest_current(lipo(0.0), 2.0, 10.0) == largest_power(lipo(0.0), 2.0, 10.0) == 0.0


def test_a_power_that_becomes_impossible_ends_the_run_there() -> None:
    pack = lipo(0.3, ohmic=0.05, slow=0.05)
    power = 0.9 * pack.rest_voltage**2 / (4.0 * 0.21)
    end = time_to_floor(pack, 0.5, power=power, lead_resistance=0.01)
    assert end is not None
    assert loaded(pack, end * 0.999, power=power, lead_resistance=0.01) is not None
    assert loaded(pack, end * 1.001, power=power, lead_resistance=0.01) is None
    assert largest_power(pack, 0.5, end, 0.01) == pytest.approx(power, rel=1e-3)


def test_unknown_capacity_keeps_its_state_and_only_the_slow_part_sags() -> None:
    pack = lipo(capacity=np.inf)
    rest = float(LIPO.voltage(0.6))
    settled = rest - 40.0 * 0.0105
    assert under(pack, 1e5, current=40.0).cell_voltages[0] == pytest.approx(settled)
    assert time_to_floor(pack, settled - 1e-3, current=40.0) is None
    half = time_to_floor(pack, rest - 40.0 * (0.007 + 0.00175), current=40.0)
    assert half == pytest.approx(30.0 * math.log(2.0))
    assert largest_current(pack, 3.3, 1e6) == pytest.approx((rest - 3.3) / 0.0105)
    power = largest_power(pack, 3.3, 1e4)
    assert power == pytest.approx(4.0 * 3.3 * (rest - 3.3) / 0.0105, rel=1e-6)
    assert time_to_floor(pack, 3.3, power=power * 0.99) is None
    met = time_to_floor(pack, 3.3, power=power * 1.01)
    assert met is not None
    assert under(pack, met, power=power * 1.01).cell_voltages.min() == pytest.approx(3.3, abs=1e-6)


def test_a_pack_at_rest_below_the_floor_gives_nothing() -> None:
    assert largest_current(lipo(0.1), 3.7, 10.0) == 0.0
    assert largest_power(lipo(0.1), 3.7, 10.0) == 0.0


def test_the_largest_power_is_held_by_maximum_power_transfer_behind_a_long_lead() -> None:
    pack = lipo()
    assert largest_power(pack, 0.1, 0.0, 0.5) == pytest.approx(pack.rest_voltage**2 / (4.0 * 0.528))
    assert largest_power(pack, 3.3, 10.0, 0.5) < pack.rest_voltage**2 / (4.0 * 0.528)


@pytest.mark.parametrize("load", [{}, {"current": 1.0, "power": 1.0}, {"current": -1.0}, {"power": math.nan}])
def test_a_load_that_is_not_one_is_refused(load: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="one of current and power"):
        loaded(lipo(), 1.0, **load)


@given(st.floats(1.0, 60.0), st.one_of(st.just(0.0), st.floats(1e-9, 1.0)), st.floats(0.0, 0.999))
def test_the_current_of_a_constant_power_solves_its_equation(emf: float, resistance: float, part: float) -> None:
    power = part * (emf * emf / (4.0 * resistance) if resistance else 1000.0)
    current = float(power_current(emf, resistance, power))
    assert current * (emf - resistance * current) == pytest.approx(power, rel=1e-9)
    assert resistance * current <= 0.5 * emf


def test_an_impossible_power_has_no_current_and_its_neighbours_keep_theirs() -> None:
    currents = power_current(12.0, 0.1, np.array([100.0, 360.0, 361.0]))
    assert currents[1] == pytest.approx(60.0)
    np.testing.assert_array_equal(np.isnan(currents), [False, False, True])

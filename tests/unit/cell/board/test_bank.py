"""Packs in parallel: conservation, limits, and one solver against another."""

from math import exp

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from profiles import few

from ampstead.cell.board import strands
from ampstead.cell.board.bank import Bank, Branch
from ampstead.cell.board.bank_charge import bank_charge, largest_total
from ampstead.cell.board.bank_walk import Course, Walk
from ampstead.cell.board.exchange import Exchange, exchange, largest_difference
from ampstead.cell.kinds.curves import LIFE, LIION, LIPO, Curve
from ampstead.cell.one.charge import charge
from ampstead.cell.one.series import SeriesPack

MOST_TOTALS, MOST_STEPS = 8, 2000
"""Tried for one largest total, and taken in all: what a question may cost."""
STRAIGHT = Curve(np.array([0.0, 1.0]), np.array([3.0, 4.0]), "a straight line, for closed forms")


def pack(
    state: float | list[float],
    capacity: float = 5000.0,
    ohmic: float = 0.02,
    polarisation: float = 0.01,
    *,
    cells: int = 1,
    tau: float = 30.0,
    curve: Curve = LIPO,
) -> SeriesPack:
    states = np.full(cells, state) if isinstance(state, float) else np.array(state)
    ones = np.ones(len(states))
    return SeriesPack(curve, states, capacity * ones, ohmic * ones, polarisation * ones, tau)


packs = st.builds(
    lambda state, capacity, ohmic, ratio, lead, tau: Branch(
        pack(state, capacity, ohmic, ratio * ohmic, cells=2, tau=tau), lead
    ),
    st.floats(0.05, 0.95),
    st.floats(1000, 20000),
    st.floats(0.002, 0.1),
    st.floats(0, 2),
    st.floats(0, 0.05),
    st.floats(1, 300),
)
boards = st.lists(packs, min_size=2, max_size=4)


def at(run: Exchange, time: float) -> np.ndarray:
    return run.points([time]).currents[0]


# Well within a thousandth as it is asked, and as exact as one likes with smaller steps.
exactly = pytest.mark.parametrize(("tolerance", "within"), [(2e-6, 2e-4), (1e-11, 1e-5)])


@exactly
def test_two_packs_on_a_straight_curve_decay_as_one_capacitor(tolerance: float, within: float) -> None:
    one, other = pack(0.6, curve=STRAIGHT, polarisation=0.0), pack(0.4, curve=STRAIGHT, polarisation=0.0)
    run = exchange([Branch(one), Branch(other, 0.01)], tolerance)
    # 0.2 V through 50 milliohm; each volt of either side is 5000 C.
    for t in (0.0, 7.0, 60.0, 200.0):
        assert at(run, t)[1] == pytest.approx(4.0 * exp(-t * 2 / (0.05 * 5000)), rel=within)
    assert run.settled_voltage == pytest.approx(3.5)
    assert run.charge_moved == pytest.approx(500.0)
    # 0.1 of 5000 C an hour is 0.1389 A.
    assert run.time_to(0.1) == pytest.approx(125 * np.log(4.0 / (500 / 3600)), rel=within)
    assert run.time_above(np.array([1.0, 1.0])) == pytest.approx(125 * np.log(4.0), rel=within)


@exactly
def test_slow_parts_alike_decay_with_the_two_rates_of_the_circuit(tolerance: float, within: float) -> None:
    run = exchange([Branch(pack(0.6, curve=STRAIGHT)), Branch(pack(0.4, curve=STRAIGHT))], tolerance)
    # i' = -p i + k w, w' = (i - w)/30, p = (2/5000 + 0.02/30)/0.04, k = 0.02/(30*0.04), of the difference of both.
    matrix = np.array([[-(2 / 5000 + 0.02 / 30) / 0.04, 0.02 / (30 * 0.04)], [1 / 30, -1 / 30]])
    rates, vectors = np.linalg.eig(matrix)
    parts = np.linalg.solve(vectors, np.array([5.0, 0.0]))
    for t in (0.0, 5.0, 40.0, 150.0):
        assert at(run, t)[1] == pytest.approx(float((vectors @ (parts * np.exp(rates * t)))[0]), rel=within)


@given(boards)
def test_charge_is_conserved_and_currents_add_up_to_nothing(branches: list[Branch]) -> None:
    run = exchange(branches)
    size = float(np.max(np.abs(run.first_currents)))
    points = run.points([0.0, 1.0, 20.0, 300.0, 1e5])
    assert np.all(np.abs(np.sum(points.currents, axis=1)) <= 1e-9 * size + 1e-11)
    assert np.all(np.abs(np.sum(points.charges, axis=1)) <= 1e-9 * float(np.sum(run.bank.capacities)))
    assert abs(float(np.sum(run.settled_charges))) <= 1e-9 * float(np.sum(run.bank.capacities))
    assert run.charge_moved >= 0


@given(boards)
def test_the_end_lies_between_the_beginnings_and_every_pack_stands_there(branches: list[Branch]) -> None:
    run = exchange(branches)
    rest = [branch.pack.rest_voltage for branch in branches]
    assert min(rest) - 1e-9 <= run.settled_voltage <= max(rest) + 1e-9
    assert np.interp(run.settled_states, run.bank.states, run.bank.voltages).reshape(-1, 2).sum(
        axis=1
    ) == pytest.approx(run.settled_voltage, abs=1e-6)
    # The run comes close to it by itself.
    last = run.points([1e9]).voltages[0]
    assert last == pytest.approx(run.settled_voltage, abs=0.02)


@given(packs, st.integers(2, 5))
def test_equal_packs_exchange_nothing(branch: Branch, count: int) -> None:
    run = exchange([branch] * count)
    assert np.all(run.first_currents == 0)
    assert (run.charge_moved, run.time_to(0.1)) == (0, 0)


def test_a_pack_that_only_gives_takes_nothing_at_its_most() -> None:
    run = exchange([Branch(pack(0.9)), Branch(pack(0.4))])
    assert run.first_currents[0] < 0.0
    assert run.largest[0] == 0.0
    assert run.largest[1] == pytest.approx(run.first_currents[1])


@given(st.lists(packs, min_size=2, max_size=2), st.floats(0.001, 0.1))
def test_more_lead_resistance_never_makes_a_higher_peak_between_two(branches: list[Branch], more: float) -> None:
    longer = [Branch(branch.pack, branch.lead + more) for branch in branches]
    assert np.max(exchange(longer).largest) <= np.max(exchange(branches).largest) + 1e-9


@few
@given(boards, st.randoms())
def test_the_order_of_packs_does_not_count(branches: list[Branch], random: object) -> None:
    order = list(range(len(branches)))
    random.shuffle(order)  # type: ignore[attr-defined]
    straight, shuffled = exchange(branches), exchange([branches[p] for p in order])
    assert shuffled.largest == pytest.approx(straight.largest[order], rel=1e-5, abs=1e-6)
    assert shuffled.settled_voltage == pytest.approx(straight.settled_voltage)
    assert shuffled.time_to(0.1) == pytest.approx(straight.time_to(0.1), rel=1e-4, abs=1e-3)


@few
@given(boards, st.floats(0.2, 3))
def test_within_the_largest_difference_no_pack_is_charged_above_its_limit(branches: list[Branch], rate: float) -> None:
    limits = np.array([rate * float(branch.pack.capacities[0]) / 3600 for branch in branches])
    room = largest_difference(Bank(branches).ohmic, limits)
    # One pack at the bottom of the room and the others at its top is the worst of all.
    tops = [branch.pack.curve for branch in branches]
    for low in range(len(branches)):
        shifted = []
        for place, branch in enumerate(branches):
            volts = 3.7 + (0.0 if place == low else min(room, 0.4)) / branch.pack.cells
            state = float(tops[place].state(volts))
            moved = SeriesPack(
                branch.pack.curve,
                np.full(branch.pack.cells, state),
                branch.pack.capacities,
                branch.pack.ohmic,
                branch.pack.polarisation,
                branch.pack.time_constant,
            )
            shifted.append(Branch(moved, branch.lead))
        assert np.all(exchange(shifted).largest <= limits * (1 + 1e-6))


def test_the_largest_difference_is_met_by_the_worst_of_the_packs() -> None:
    ohmic, limits = np.array([0.03, 0.05, 0.08]), np.array([1.0, 2.0, 0.5])
    room = largest_difference(ohmic, limits)
    met = []
    for low in range(3):
        g = 1 / ohmic
        volts = np.where(np.arange(3) == low, 0.0, room)
        met.append(float((np.sum(g * volts) / np.sum(g) - 0.0) * g[low] / limits[low]))
    assert max(met) == pytest.approx(1.0)


def test_a_reading_below_empty_stands_where_it_was_read() -> None:
    low = Branch(pack(0.0, cells=2), shortfalls=np.array([0.3, 0.3]))
    full = Branch(pack(1.0, cells=2))
    assert exchange([low, full]).first_currents[0] == pytest.approx((2 * 4.2 - 2 * 2.7) / 0.08)


@pytest.mark.parametrize("curve", [LIPO, LIION, LIFE])
def test_strands_in_arrays_go_as_those_in_floats(curve: Curve, monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(7)
    branches = [
        Branch(pack(rng.uniform(0.55, 0.6, 3).tolist(), 3000 + 400 * n, 0.01 + 0.002 * n, curve=curve), 0.003)
        for n in range(6)
    ]
    end = {LIPO: 4.2, LIION: 4.2, LIFE: 3.6}[curve]
    floats, charged = exchange(branches), bank_charge(branches, 8.0, end, 0.8)
    monkeypatch.setattr(strands, "FEW", 0)
    arrays, other = exchange(branches), bank_charge(branches, 8.0, end, 0.8)
    assert arrays.time_to(0.1) == pytest.approx(floats.time_to(0.1), rel=1e-5)
    assert arrays.largest == pytest.approx(floats.largest, abs=1e-5 * float(np.max(floats.largest)))
    assert charged.time_total == pytest.approx(other.time_total, rel=1e-5)
    assert charged.largest == pytest.approx(other.largest, abs=1e-5 * float(np.max(other.largest)))


@given(
    st.floats(0.0, 0.97),
    st.floats(0.2, 4.0),
    st.floats(0.0, 2.0),
    st.floats(0.02, 0.5),
    st.integers(1, 4),
    st.sampled_from([(LIPO, 4.2), (LIPO, 4.1), (LIION, 4.2), (LIFE, 3.6)]),
)
def test_equal_packs_are_charged_as_each_would_be_alone(
    state: float, rate: float, ratio: float, taper: float, count: int, kind: tuple[Curve, float]
) -> None:
    curve, end = kind
    one = pack(state, 5000, 0.02, 0.02 * ratio, cells=3, curve=curve)
    current = rate * 5000 / 3600
    alone = charge(one, current, end, taper * current)
    together = bank_charge([Branch(one)] * count, count * current, end, count * taper * current)
    assert together.time_total == pytest.approx(alone.time_total, rel=1e-5, abs=1e-3)
    assert together.time_constant_current == pytest.approx(alone.time_constant_current, rel=1e-6, abs=1e-3)
    assert together.charges == pytest.approx(alone.charge, rel=1e-5, abs=1e-3)
    assert together.largest == pytest.approx(alone.first_current, rel=1e-6)


def test_a_pack_of_unlike_cells_is_charged_as_charge_has_it() -> None:
    one = SeriesPack(
        LIPO,
        np.array([0.2, 0.25, 0.3, 0.2]),
        np.array([1.3, 1.2, 1.4, 1.25]) * 3600,
        np.array([0.012, 0.03, 0.02, 0.01]),
        np.array([0.012, 0.003, 0.02, 0.0]),
        20.0,
    )
    alone, together = charge(one, 2.6, 4.2, 0.26), bank_charge([Branch(one)], 2.6, 4.2, 0.26)
    assert together.time_total == pytest.approx(alone.time_total, rel=1e-6)
    assert together.states_end == pytest.approx(alone.states_end, rel=1e-6)


@few
@given(boards)
def test_the_largest_total_keeps_every_pack_at_its_limit_or_below(branches: list[Branch]) -> None:
    limits = np.array([float(branch.pack.capacities[0]) / 3600 for branch in branches])
    total, run = largest_total(branches, limits, np.inf, 4.2, 0.1)
    if run is None:
        # Not even a hundredth of what the limits add up to is left.
        least = bank_charge(branches, 0.01 * float(np.sum(limits)), 4.2, 0.001 * float(np.sum(limits)))
        assert np.any(least.largest >= limits)
        return
    assert 0 < total <= float(np.sum(limits)) * (1 + 1e-9)
    assert np.all(run.largest <= limits * (1 + 2e-6))
    if run.time_constant_current == 0.0:
        # A cell stands at the end voltage from the first instant: the total never flows, and a larger one changes
        # nothing.
        wider = bank_charge(branches, 2.0 * total, 4.2, 0.2 * total)
        assert np.sum(run.points([0.0]).currents) < total
        assert wider.points([0.0]).currents == pytest.approx(run.points([0.0]).currents, rel=1e-9)
        return
    # And one of them is at it, or all packs together are.
    assert np.any(run.largest >= limits * (1 - 1e-4))
    harder = bank_charge(branches, 1.01 * total, 4.2, 0.101 * total)
    assert np.any(harder.largest > limits)


@pytest.mark.parametrize("count", [8, 17, 40])
def test_the_largest_total_of_many_flat_packs_takes_few_steps(count: int, monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(count)
    branches = [
        Branch(pack(state, capacity, ohmic, 0.5 * ohmic, cells=4, curve=LIFE), 0.005)
        for state, capacity, ohmic in zip(
            rng.uniform(0.4, 0.6, count), rng.uniform(5000, 12000, count), rng.uniform(0.004, 0.012, count), strict=True
        )
    ]
    limits = Bank(branches).capacities / 3600
    steps: list[int] = []
    course = Walk.course

    def counted(walk: Walk) -> Course:
        steps.append(len(walk.times))
        return course(walk)

    monkeypatch.setattr(Walk, "course", counted)
    total, run = largest_total(branches, limits, np.inf, 3.6, 0.1)
    assert run is not None
    assert len(steps) <= MOST_TOTALS
    assert sum(steps) <= MOST_STEPS
    # And what was found by them is so, followed by the smallest steps.
    exact = bank_charge(branches, total, 3.6, 0.1 * total, 1e-7)
    assert np.max(exact.largest / limits) == pytest.approx(1.0, abs=5e-3)
    assert exact.largest == pytest.approx(run.largest, abs=5e-3 * float(np.max(limits)))
    assert run.time_total == pytest.approx(exact.time_total, rel=1e-3)


@few
@given(boards, st.floats(0.1, 1.0))
def test_no_cell_stands_above_the_end_voltage_while_charged(branches: list[Branch], rate: float) -> None:
    current = rate * sum(float(branch.pack.capacities[0]) for branch in branches) / 3600
    run = bank_charge(branches, current, 4.2, 0.1 * current)
    points = run.points(np.linspace(0, run.time_total, 25))
    assert np.max(run.bank.cell_voltages(points)) <= 4.2 + 1e-6
    assert np.max(np.sum(points.currents, axis=1)) <= current * (1 + 1e-9)
    assert np.all(run.states_end <= 1)


@given(boards, st.floats(0.2, 1.0))
def test_what_the_charger_gives_is_stored_or_lost_in_resistance(branches: list[Branch], rate: float) -> None:
    total = rate * sum(float(branch.pack.capacities[0]) for branch in branches) / 3600
    run = bank_charge(branches, total, 4.2, 0.1 * total)
    if run.time_total == 0:
        return
    points = run.points(np.linspace(0, run.time_total, 4001))
    given = np.trapezoid(points.voltages * np.sum(points.currents, axis=1), points.times)
    kept = 0.0
    for p, branch in enumerate(branches):
        pack, q, i = branch.pack, points.charges[:, p], points.currents[:, p]
        states = pack.states + q[:, None] / pack.capacities
        emf = np.sum(pack.curve.voltage(states), axis=1)
        lost = (float(np.sum(pack.ohmic)) + branch.lead) * i**2 + float(np.sum(pack.polarisation)) * points.slow[
            :, p
        ] * i
        kept += float(np.trapezoid(emf * i + lost, points.times))
    assert given == pytest.approx(kept, rel=1e-6)

"""Flights: against runs of other programs, against small steps written out anew, and what holds for any of them."""

import json
import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.kinds.curves import Curve
from ampstead.cell.kinds.resistance import temperature_ratio
from ampstead.cell.one.discharge import loaded, time_to_floor
from ampstead.cell.one.flight import Flight, Phase, TooManySteps, Warming, flight
from ampstead.cell.one.heat import end_temperature
from ampstead.cell.one.series import SeriesPack

DATA = Path(__file__).parents[3] / "reference" / "data"
HOUR = 3600.0
CURVES = [chemistry.curve for chemistry in CHEMISTRIES.values() if chemistry.curve is not None]
LIPO = CURVES[0]
ENTROPY = -0.235e-3


def read(name: str) -> Any:
    return json.loads((DATA / f"cell_{name}.json").read_text(encoding="utf-8"))


DISCHARGE, RECOVERY = read("discharge"), read("recovery")


def one_cell(cell: dict[str, float], state: float = 1.0) -> SeriesPack:
    return SeriesPack(
        LIPO,
        np.array([state]),
        np.array([cell["capacity_Ah"] * HOUR]),
        np.array([cell["ohmic"]]),
        np.array([cell["polarisation"]]),
        cell["time_constant"],
    )


def lipo(state: float = 1.0, cells: int = 4, capacity: float = 5760.0, ohmic: float = 0.007) -> SeriesPack:
    one = np.ones(cells)
    return SeriesPack(LIPO, state * one, capacity * one, ohmic * one, 0.5 * ohmic * one, 30.0)


@st.composite
def packs(draw: st.DrawFn, most: int = 3) -> SeriesPack:
    cells = draw(st.integers(1, most))

    def per_cell(low: float, high: float) -> np.ndarray:
        return np.array(draw(st.lists(st.floats(low, high), min_size=cells, max_size=cells)))

    slow = per_cell(0.0, 0.02) * draw(st.sampled_from([0.0, 1.0, 1.0]))
    return SeriesPack(
        draw(st.sampled_from(CURVES)),
        per_cell(0.3, 1.0),
        per_cell(1500.0, 9000.0),
        per_cell(2e-3, 0.02),
        slow,
        draw(st.floats(2.0, 90.0)),
    )


def some_steps(power: bool | None = None) -> st.SearchStrategy[list[Phase]]:
    duration = st.floats(3.0, 120.0)
    current = st.builds(lambda i, t: Phase(current=i, duration=t), st.floats(0.0, 30.0), duration)
    watts = st.builds(lambda p, t: Phase(power=p, duration=t), st.floats(1.0, 60.0), duration)
    kinds = {None: st.one_of(current, watts), True: watts, False: current}
    # The last step sees to it that the pack comes down.
    return st.lists(kinds[power], min_size=1, max_size=4).map(lambda steps: [*steps, Phase(current=4.0, duration=60.0)])


WARM = Warming(mass=0.04, start=298.15, ambient=290.0, cooling=0.1, entropy=ENTROPY)


@pytest.mark.parametrize(("kind", "case"), [(kind, case) for kind in ("current", "power") for case in DISCHARGE[kind]])
def test_a_steady_flight_is_that_of_the_simulation(kind: str, case: dict[str, Any]) -> None:
    answer = flight(one_cell(DISCHARGE["cells"][case["cell"]]), [Phase(**{kind: case[kind]})], floor=case["floor"])
    assert answer.time == pytest.approx(case["time"], rel=1e-6)
    assert answer.charge == pytest.approx(case["charge_Ah"] * HOUR, rel=1e-6)
    assert answer.energy == pytest.approx(case["energy_Wh"] * HOUR, rel=1e-6)
    if case["time"] == 0.0:
        assert answer.ended_by in ("floor", "impossible")
    else:
        assert answer.ended_by == "floor"
        assert answer.current == pytest.approx(case["current_end"], rel=1e-6)
        assert answer.cell_voltages[0] == pytest.approx(case["floor"], abs=1e-9)


@pytest.mark.parametrize("case", DISCHARGE["thermal"])
def test_a_flight_ends_as_warm_as_in_the_simulation(case: dict[str, Any]) -> None:
    warming = Warming(mass=case["mass"], start=298.15, ambient=298.15, cooling=case["cooling"], activation=0.0)
    answer = flight(
        one_cell(DISCHARGE["cells"][case["cell"]]),
        [Phase(current=case["current"])],
        floor=case["floor"],
        warming=warming,
    )
    assert answer.temperatures is not None
    assert answer.temperatures[0] == pytest.approx(case["end_celsius"] + 273.15, abs=1e-3)


@pytest.mark.parametrize("case", RECOVERY["cases"])
def test_a_rest_after_a_pulse_recovers_as_in_the_simulation(case: dict[str, Any]) -> None:
    pack = one_cell(RECOVERY["cells"][case["cell"]], case["state"])
    pulse = RECOVERY["duration"]
    answer = flight(
        pack, [Phase(current=case["current"], duration=pulse), Phase(current=0.0, duration=60.0)], repeat=False
    )
    after = np.array([float(seconds) for seconds in case["voltages"]])
    np.testing.assert_allclose(
        answer.curve(pulse + after).weakest_voltage, list(case["voltages"].values()), rtol=0.0, atol=1e-6
    )


def test_the_recovery_figures_name_their_source_and_kind() -> None:
    assert {"source", "kind", "status", "about"} <= RECOVERY.keys()


def stepped(
    pack: SeriesPack, steps: list[Phase], lead: float, warming: Warming, until: float, parts: int
) -> tuple[float, np.ndarray, np.ndarray, float]:
    """q, drop of the slow part, T and energy delivered, by the classical rule of fourth order, written out anew."""
    tau = pack.time_constant

    start = np.asarray(warming.start, dtype=float)

    def rates(y: np.ndarray, step: Phase) -> np.ndarray:
        q, T, drop = y[0], y[2 : 2 + pack.cells], y[2 + pack.cells :]
        ratio = np.exp(warming.activation / 8.31446261815324 * (1.0 / T - 1.0 / start))
        emf = pack.curve.voltage(pack.states - q / pack.capacities)
        E, R = float((emf - drop).sum()), float((pack.ohmic * ratio).sum()) + lead
        if step.power is None:
            i = step.current
            assert i is not None
        else:
            i = (E - math.sqrt(E * E - 4.0 * R * step.power)) / (2.0 * R)
        V = emf - pack.ohmic * ratio * i - drop
        warm = i * (emf - V) - i * T * np.asarray(warming.entropy) - warming.cooling * (T - warming.ambient)
        heated = warm / (np.asarray(warming.mass) * np.asarray(warming.specific_heat))
        return np.concatenate([[i, i * (V.sum() - lead * i)], heated, (i * pack.polarisation * ratio - drop) / tau])

    y = np.concatenate([np.zeros(2), np.broadcast_to(start, (pack.cells,)), np.zeros(pack.cells)])
    t, index = 0.0, 0
    while t < until - 1e-9:
        step = steps[index % len(steps)]
        length = min(step.duration, until - t)
        h = length / parts
        for _ in range(parts):
            k1 = rates(y, step)
            k2 = rates(y + 0.5 * h * k1, step)
            k3 = rates(y + 0.5 * h * k2, step)
            k4 = rates(y + h * k3, step)
            y = y + h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4)
        t, index = t + length, index + 1
    return float(y[0]), y[2 + pack.cells :], y[2 : 2 + pack.cells], float(y[1])


@pytest.mark.parametrize("seed", range(3))
def test_a_changing_load_on_unlike_cells_is_what_small_steps_find(seed: int) -> None:
    draw = np.random.default_rng(seed)
    pack = SeriesPack(
        LIPO,
        0.85 + 0.15 * draw.random(3),
        3000.0 * (1.0 + draw.random(3)),
        0.004 + 0.01 * draw.random(3),
        0.01 * draw.random(3),
        12.0,
    )
    warming = Warming(
        mass=0.03 + 0.02 * draw.random(3),
        start=293.15 + 10.0 * draw.random(3),
        ambient=285.15,
        cooling=np.array([0.0, 0.1, 0.4]),
        entropy=ENTROPY,
    )
    steps = [
        Phase(power=120.0, duration=20.0),
        Phase(power=15.0, duration=25.0),
        Phase(current=0.0, duration=7.0),
        Phase(current=18.0, duration=11.0),
    ]
    answer = flight(pack, steps, lead_resistance=0.005, warming=warming, longest=150.0)
    assert (answer.time, answer.ended_by) == (150.0, "end")
    q, drop, T, delivered = stepped(pack, steps, 0.005, warming, 150.0, 400)
    assert answer.charge == pytest.approx(q, rel=1e-6)
    assert answer.delivered == pytest.approx(delivered, rel=1e-6)
    np.testing.assert_allclose(answer.temperatures, T, atol=2e-3)
    expected = pack.curve.voltage(pack.states - q / pack.capacities)
    np.testing.assert_allclose(answer.rest_voltages, expected, atol=2e-5)
    ratio = temperature_ratio(T) / temperature_ratio(warming.start)
    expected = expected - pack.ohmic * ratio * answer.current - drop
    np.testing.assert_allclose(answer.cell_voltages, expected, atol=2e-5)


@given(packs(), st.floats(0.5, 40.0), st.booleans(), st.floats(0.0, 0.01))
def test_one_load_held_on_is_the_time_to_the_floor(pack: SeriesPack, load: float, power: bool, lead: float) -> None:
    floor = float(pack.curve.voltage(0.03))
    kind = {"power": 3.0 * load} if power else {"current": load}
    time = time_to_floor(pack, floor, **kind, lead_resistance=lead)
    answer = flight(pack, [Phase(**kind)], floor=floor, lead_resistance=lead)
    if time is None:
        assert answer.time == 0.0
        assert answer.ended_by in ("floor", "impossible")
        return
    assert answer.time == pytest.approx(time, rel=1e-9)
    there = loaded(pack, answer.time * (1.0 - 1e-12), **kind, lead_resistance=lead)
    assert there is not None
    assert answer.energy == pytest.approx(there.energy, rel=1e-6)
    assert answer.charge == pytest.approx(there.charge, rel=1e-6)


@given(packs(most=1), st.floats(0.5, 30.0), st.floats(0.0, 0.5), st.floats(265.0, 315.0))
def test_one_current_held_on_warms_as_the_closed_form_says(
    pack: SeriesPack, current: float, cooling: float, ambient: float
) -> None:
    warming = Warming(mass=0.05, start=298.15, ambient=ambient, cooling=cooling, entropy=ENTROPY, activation=0.0)
    answer = flight(pack, [Phase(current=current)], reserve=0.1, warming=warming)
    expected = end_temperature(
        current=current,
        time=answer.time,
        ohmic=pack.ohmic[0],
        polarisation=pack.polarisation[0],
        time_constant=pack.time_constant,
        mass=0.05,
        start=298.15,
        ambient=ambient,
        cooling=cooling,
        entropy=ENTROPY,
    )
    assert answer.temperatures is not None
    assert answer.temperatures[0] == pytest.approx(float(expected), abs=1e-3)


@given(packs(), some_steps(), st.floats(0.0, 0.01))
def test_what_the_cells_give_is_delivered_or_turns_to_heat(pack: SeriesPack, steps: list[Phase], lead: float) -> None:
    heat_capacity = 40.0
    sealed = Warming(mass=0.04, start=298.15, ambient=298.15, specific_heat=1000.0)
    answer = flight(pack, steps, lead_resistance=lead, reserve=0.1, floor=1.0, warming=sealed)
    assume(answer.charge > 0.0)
    given_up = 0.0
    for state, capacity, end in zip(pack.states, pack.capacities, answer.states, strict=True):
        knots = np.unique(np.concatenate([[end, state], np.clip(pack.curve.states, end, state)]))
        given_up += capacity * float(np.trapezoid(pack.curve.voltage(knots), knots))
    assert answer.temperatures is not None
    warmed = heat_capacity * float((answer.temperatures - 298.15).sum())
    assert answer.energy + warmed == pytest.approx(given_up, rel=5e-5)
    assert answer.delivered <= answer.energy


@pytest.mark.parametrize(
    ("curve", "capacity", "ohmic", "power", "time"),
    [(LIPO, 1500.0, 0.0156, 41.0, 11.0), (CHEMISTRIES["life"].curve, 1500.0, 0.0083, 18.0, 25.0)],
)
def test_a_power_over_the_bends_of_a_curve_draws_what_small_steps_find(
    curve: Curve, capacity: float, ohmic: float, power: float, time: float
) -> None:
    # No slow part, so that nothing but the curve's own bends makes the steps of the solver short.
    pack = SeriesPack(curve, np.array([0.31]), np.array([capacity]), np.array([ohmic]), np.zeros(1), 80.0)
    answer = flight(pack, [Phase(power=power)], warming=WARM, longest=time)
    q, _, T, _ = stepped(pack, [Phase(power=power)], 0.0, WARM, time, 4000)
    assert answer.charge == pytest.approx(q, rel=1e-5)
    np.testing.assert_allclose(answer.temperatures, T, atol=1e-3)


@given(packs(), some_steps(), st.floats(0.0, 0.01))
def test_the_curve_adds_up_to_the_charge_and_the_energy(pack: SeriesPack, steps: list[Phase], lead: float) -> None:
    answer = flight(pack, steps, lead_resistance=lead, reserve=0.1)
    assume(answer.time > 1.0)
    # Cut where the load changes, so that no piece has a jump in it.
    cuts = np.cumsum([0.0, *[step.duration for step in steps] * math.ceil(answer.time / 60.0)])
    cuts = np.append(cuts[cuts < answer.time], answer.time)
    charge = energy = 0.0
    for start, end in pairwise(cuts.tolist()):
        times = np.linspace(start, end, 2001)[:-1] + 0.5 * (end - start) / 2000.0
        curve = answer.curve(times)
        charge += float(curve.current.sum()) * (end - start) / 2000.0
        energy += float((curve.current * curve.voltage).sum()) * (end - start) / 2000.0
    assert charge == pytest.approx(answer.charge, rel=1e-5)
    assert energy == pytest.approx(answer.delivered, rel=1e-5)


@given(packs(), some_steps(), st.floats(0.01, 0.99), st.integers(0, 3))
def test_a_step_cut_in_two_changes_nothing(pack: SeriesPack, steps: list[Phase], part: float, which: int) -> None:
    step = steps[which % len(steps)]
    halves = [
        Phase(current=step.current, power=step.power, duration=length)
        for length in (part * step.duration, (1.0 - part) * step.duration)
    ]
    at = which % len(steps)
    floor = float(pack.curve.voltage(0.05))
    options = {"floor": floor, "reserve": 0.1, "warming": WARM, "limit_temperature": 330.0}
    whole = flight(pack, steps, **options)
    cut = flight(pack, [*steps[:at], *halves, *steps[at + 1 :]], **options)
    assert cut.ended_by == whole.ended_by
    # Followed within 1e-4, as `flight` says.
    assert cut.time == pytest.approx(whole.time, rel=1e-4, abs=1e-6)
    assert cut.charge == pytest.approx(whole.charge, rel=1e-4, abs=1e-3)
    assert cut.energy == pytest.approx(whole.energy, rel=1e-4, abs=1e-2)
    np.testing.assert_allclose(cut.temperatures, whole.temperatures, atol=1e-2)


def steady(pack: SeriesPack, factor: float) -> SeriesPack:
    return SeriesPack(
        pack.curve,
        pack.states,
        pack.capacities,
        pack.ohmic * factor,
        pack.polarisation * factor,
        pack.time_constant,
    )


@given(packs(), some_steps(), st.floats(1.01, 3.0))
def test_more_resistance_never_flies_longer(pack: SeriesPack, steps: list[Phase], more: float) -> None:
    floor = float(pack.curve.voltage(0.05))
    options = {"floor": floor, "reserve": 0.1, "warming": WARM, "limit_temperature": 320.0}
    good, bad = flight(pack, steps, **options), flight(steady(pack, more), steps, **options)
    assert bad.time <= good.time * (1.0 + 1e-6)


@given(packs(), some_steps(), st.floats(250.0, 300.0), st.floats(0.5, 30.0))
def test_a_colder_pack_never_flies_longer(
    pack: SeriesPack, steps: list[Phase], temperature: float, colder: float
) -> None:
    floor = float(pack.curve.voltage(0.05))
    warm, cold = (steady(pack, float(temperature_ratio(T))) for T in (temperature, temperature - colder))
    assert flight(cold, steps, floor=floor, reserve=0.1).time <= flight(warm, steps, floor=floor, reserve=0.1).time * (
        1.0 + 1e-6
    )


@given(packs(), some_steps(), st.floats(300.0, 330.0), st.floats(0.05, 0.4), st.floats(0.02, 0.3))
def test_a_flight_ends_on_the_first_limit_and_passes_none(
    pack: SeriesPack, steps: list[Phase], limit: float, reserve: float, low: float
) -> None:
    floor = float(pack.curve.voltage(low))
    answer = flight(pack, steps, floor=floor, reserve=reserve, warming=WARM, limit_temperature=limit)
    assert answer.temperatures is not None
    weakest, least, warmest = answer.cell_voltages.min(), answer.states.min(), answer.temperatures.max()
    assume(answer.time > 0.0)
    curve = answer.curve(np.linspace(0.0, answer.time, 500)[:-1])
    assert curve.temperature is not None
    assert np.all(curve.weakest_voltage >= floor - 1e-6)
    assert np.all(curve.temperature <= limit + 1e-4)
    assert least >= reserve - 1e-12
    met = {
        "floor": weakest <= floor + 1e-5,
        "reserve": least <= reserve + 1e-9,
        "heat": warmest >= limit - 1e-4,
        "impossible": True,
    }
    assert met[answer.ended_by]


@given(packs(), some_steps(), st.floats(0.0, 1.0), st.floats(0.0, 0.01))
def test_the_curve_at_a_time_is_a_flight_that_ends_then(
    pack: SeriesPack, steps: list[Phase], part: float, lead: float
) -> None:
    whole = flight(pack, steps, lead_resistance=lead, reserve=0.1, warming=WARM)
    time = part * whole.time
    starts = np.cumsum([0.0, *[step.duration for step in steps] * 100])
    assume(time > 0.0 and np.abs(starts - time).min() > 1e-3)
    short = flight(pack, steps, lead_resistance=lead, reserve=0.1, warming=WARM, longest=time)
    there = whole.curve([time])
    assert short.temperatures is not None
    assert there.temperature is not None
    assert there.charge[0] == pytest.approx(short.charge, rel=1e-5, abs=1e-3)
    assert there.current[0] == pytest.approx(short.current, rel=1e-4, abs=1e-9)
    assert there.voltage[0] == pytest.approx(short.voltage, abs=1e-4)
    assert there.weakest_voltage[0] == pytest.approx(short.cell_voltages.min(), abs=1e-4)
    assert there.temperature[0] == pytest.approx(short.temperatures.max(), abs=1e-3)


def test_a_limit_met_at_the_start_ends_the_flight_there() -> None:
    load = [Phase(current=10.0), Phase(power=100.0)]
    hot = Warming(mass=0.04, start=335.0, ambient=298.15)
    for step in load:
        for expected, options in (
            ("floor", {"floor": 4.19}),
            ("reserve", {"reserve": 1.0}),
            ("heat", {"warming": hot, "limit_temperature": 333.15}),
        ):
            answer = flight(lipo(), [step], **options)
            assert (answer.time, answer.ended_by, answer.charge) == (0.0, expected, 0.0)
            assert answer.current == pytest.approx(10.0 if step.power is None else 6.02, rel=1e-2)
            assert answer.curve([0.0, 5.0]).weakest_voltage == pytest.approx([answer.cell_voltages.min()] * 2)
        assert flight(lipo(state=0.0), [step]).ended_by == "empty"


def test_power_beyond_the_pack_is_impossible_from_the_instant_it_is() -> None:
    pack = lipo(ohmic=0.02)
    most = pack.rest_voltage**2 / (4.0 * pack.ohmic.sum())
    never = flight(pack, [Phase(power=1.01 * most)])
    assert (never.time, never.ended_by, never.current) == (0.0, "impossible", 0.0)
    assert never.cell_voltages == pytest.approx(pack.rest_voltages)
    later = flight(pack, [Phase(power=0.9 * most)])
    assert later.ended_by == "impossible"
    assert 0.0 < later.time < 30.0
    # At maximum power transfer half of the voltage is lost in the resistance.
    slow = later.rest_voltages.sum() - later.voltage - pack.ohmic.sum() * later.current
    assert later.voltage == pytest.approx(0.5 * (later.rest_voltages.sum() - slow), rel=1e-2)
    second = flight(pack, [Phase(current=5.0, duration=20.0), Phase(power=1.01 * most, duration=1.0)])
    assert (second.time, second.ended_by, second.current) == (20.0, "impossible", 5.0)


def test_without_a_reserve_a_flight_ends_empty_at_the_latest() -> None:
    for step in (Phase(current=10.0), Phase(power=100.0)):
        answer = flight(lipo(), [step])
        assert answer.ended_by == "empty"
        assert answer.charge == pytest.approx(5760.0)
        assert answer.states == pytest.approx(0.0, abs=1e-12)
        assert answer.rest_voltages == pytest.approx(LIPO.voltages[0])
    assert flight(lipo(), [Phase(current=10.0)], reserve=0.0).ended_by == "reserve"


def test_the_emptiest_cell_has_the_reserve_of_the_pack() -> None:
    pack = SeriesPack(LIPO, np.array([1.0, 0.9]), np.array([5400.0, 3600.0]), np.full(2, 0.01), np.zeros(2), 30.0)
    answer = flight(pack, [Phase(current=3.0)], reserve=0.2)
    assert answer.time == pytest.approx(0.7 * 3600.0 / 3.0)
    assert answer.states == pytest.approx([1.0 - 2520.0 / 5400.0, 0.2])


def test_steps_not_repeated_end_with_the_last() -> None:
    steps = [Phase(current=10.0, duration=30.0), Phase(current=20.0, duration=15.0)]
    once = flight(lipo(), steps, repeat=False)
    assert (once.time, once.ended_by, once.current, once.charge) == (45.0, "end", 20.0, 600.0)
    twice = flight(lipo(), steps, longest=80.0)
    assert (twice.time, twice.ended_by, twice.current, twice.charge) == (80.0, "end", 20.0, 1000.0)


def test_the_later_load_counts_where_two_meet_and_the_last_is_held_after_the_end() -> None:
    answer = flight(lipo(), [Phase(current=10.0, duration=30.0), Phase(current=20.0, duration=15.0)], repeat=False)
    curve = answer.curve([-1.0, 0.0, 29.999, 30.0, 44.0, 45.0, 99.0])
    assert curve.current == pytest.approx([10.0, 10.0, 10.0, 20.0, 20.0, 20.0, 20.0])
    assert curve.charge == pytest.approx([0.0, 0.0, 299.99, 300.0, 580.0, 600.0, 600.0])
    assert curve.voltage[-1] == pytest.approx(answer.voltage)
    assert curve.temperature is None


@pytest.mark.parametrize("kind", ["current", "power"])
def test_a_cell_that_warms_most_ends_the_flight(kind: str) -> None:
    warming = Warming(mass=[0.06, 0.03, 0.06, 0.06], start=298.15, ambient=298.15, cooling=0.02, entropy=ENTROPY)
    step = Phase(**{kind: 30.0 if kind == "current" else 450.0})
    answer = flight(lipo(), [step], warming=warming, limit_temperature=333.15)
    assert answer.ended_by == "heat"
    assert answer.temperatures is not None
    assert answer.temperatures.argmax() == 1
    assert answer.temperatures[1] == pytest.approx(333.15, abs=1e-6)
    assert answer.temperatures[0] == pytest.approx(answer.temperatures[3])


def test_a_cell_that_peaks_within_a_step_and_cools_again_is_caught_at_the_peak() -> None:
    # A burst leaves the slow part charged; under the small load that follows, its loss still warms the cell for a
    # while, until cooling wins.
    pack = SeriesPack(LIPO, np.array([1.0]), np.array([7200.0]), np.array([0.001]), np.array([0.03]), 10.0)
    for step in (Phase(current=12.0, duration=60.0), Phase(power=45.0, duration=60.0)):
        steps = [Phase(current=40.0, duration=12.0), step]
        warming = Warming(mass=0.02, start=298.15, ambient=298.15, cooling=0.8)
        free = flight(pack, steps, repeat=False, warming=warming)
        times = np.linspace(12.0, 72.0, 60001)
        warm = free.curve(times).temperature
        assert warm is not None
        peak = int(warm.argmax())
        assert 0 < peak < 60000
        limit = float(warm[peak]) - 1e-4
        caught = flight(pack, steps, repeat=False, warming=warming, limit_temperature=limit)
        assert caught.ended_by == "heat"
        assert 12.0 < caught.time <= times[peak]
        missed = flight(pack, steps, repeat=False, warming=warming, limit_temperature=limit + 2e-3)
        assert missed.ended_by == "end"


def test_reversible_heat_warms_a_pack_by_about_eight_kelvin_at_any_current() -> None:
    # The mean entropy coefficient of the Ai2020 set over 80 % of the charge: cell model of the project, published.
    def rise(current: float) -> float:
        def end(entropy: float) -> float:
            warming = Warming(mass=0.0395, start=298.15, ambient=298.15, entropy=entropy, activation=0.0)
            answer = flight(lipo(cells=1), [Phase(current=current)], reserve=0.2, warming=warming)
            assert answer.temperatures is not None
            return float(answer.temperatures[0])

        return end(ENTROPY) - end(0.0)

    assert rise(2.0) == pytest.approx(8.3, abs=0.3)
    assert rise(20.0) == pytest.approx(8.5, abs=0.5)


@pytest.mark.parametrize(
    ("words", "wrong"),
    [
        ("needs a phase", lambda: flight(lipo(), [])),
        ("nothing ends", lambda: flight(lipo(), [Phase(current=0.0)])),
        ("nothing ends", lambda: flight(lipo(capacity=math.inf), [Phase(current=1.0)])),
        ("nothing ends", lambda: flight(lipo(), [Phase(current=0.0), Phase(power=0.0)], repeat=False)),
        ("needs `warming`", lambda: flight(lipo(), [Phase(current=1.0)], limit_temperature=333.0)),
        ("lead's resistance", lambda: flight(lipo(), [Phase(current=1.0)], lead_resistance=-1.0)),
        ("longest", lambda: flight(lipo(), [Phase(current=1.0)], longest=-1.0)),
        ("one of current and power", lambda: Phase(current=1.0, power=1.0)),
        ("one of current and power", lambda: Phase()),
        ("one of current and power", lambda: Phase(current=-1.0)),
        ("one of current and power", lambda: Phase(power=math.inf)),
        ("longer than 0", lambda: Phase(current=1.0, duration=0.0)),
        ("above 0", lambda: Warming(mass=0.0, start=298.0, ambient=298.0)),
        ("kelvin", lambda: Warming(mass=0.04, start=-3.0, ambient=298.0)),
        ("cooling", lambda: Warming(mass=0.04, start=298.0, ambient=298.0, cooling=-1.0)),
        (
            "one per cell",
            lambda: flight(lipo(), [Phase(current=1.0)], warming=Warming(mass=[0.04] * 3, start=298.0, ambient=298.0)),
        ),
        ("too often", lambda: flight(lipo(), [Phase(current=1e-3, duration=1e-3), Phase(current=0.0, duration=1e-3)])),
    ],
)
def test_what_cannot_be_flown_is_refused(words: str, wrong: Any) -> None:
    with pytest.raises(ValueError, match=words):
        wrong()


def test_a_load_that_changes_too_often_has_its_own_error() -> None:
    with pytest.raises(TooManySteps):
        flight(lipo(), [Phase(current=0.01, duration=0.5), Phase(current=0.02, duration=0.5)])


def test_a_pack_of_unknown_capacity_flies_as_long_as_it_is_told() -> None:
    answer: Flight = flight(
        lipo(capacity=math.inf), [Phase(current=20.0)], longest=600.0, floor=3.3, warming=replace(WARM, activation=0.0)
    )
    assert (answer.time, answer.ended_by) == (600.0, "end")
    assert answer.states == pytest.approx(1.0)
    assert answer.energy == pytest.approx(
        answer.charge * 4 * 4.2 - 20.0 * 20.0 * 4 * (0.007 * 600 + 0.0035 * 570), rel=1e-6
    )


@pytest.mark.parametrize("load", [{"current": 10.0}, {"power": 35.0}])
def test_a_cell_that_dips_below_the_floor_and_recovers_under_load_is_caught_in_the_dip(load: dict[str, float]) -> None:
    # After a burst the slow part gives voltage back for a while; a steep piece of the curve takes more, for a while.
    steep = Curve(np.array([0.0, 0.45, 0.5, 1.0]), np.array([3.66, 3.68, 3.80, 4.0]), "made up")
    pack = SeriesPack(steep, np.array([0.667]), np.array([3600.0]), np.array([0.0005]), np.array([0.02]), 30.0)
    steps = [Phase(current=60.0, duration=10.0), Phase(duration=60.0, **load)]
    free = flight(pack, steps, repeat=False)
    voltages = free.curve(np.linspace(10.0, 70.0, 6001)).weakest_voltage
    dip = int(voltages.argmin())
    assert 0 < dip < 6000
    assert min(voltages[0], voltages[-1]) > voltages[dip] + 0.01
    caught = flight(pack, steps, repeat=False, floor=float(voltages[dip]) + 0.002)
    assert caught.ended_by == "floor"
    assert 10.0 < caught.time < 10.0 + 0.01 * dip


def test_a_short_small_load_after_a_burst_ends_on_time() -> None:
    # The current of a constant power falls while the slow part of the burst fades.
    pack = SeriesPack(LIPO, np.array([1.0]), np.array([7200.0]), np.array([0.002]), np.array([0.03]), 2.0)
    steps = [Phase(current=60.0, duration=6.0), Phase(power=40.0, duration=0.9)]
    answer = flight(pack, steps, repeat=False)
    q, _, _, delivered = stepped(pack, steps, 0.0, replace(WARM, activation=0.0), 6.9, 400)
    assert answer.time == pytest.approx(6.9, rel=1e-12)
    assert answer.charge == pytest.approx(q, rel=1e-7)
    assert answer.delivered == pytest.approx(delivered, rel=1e-7)


@pytest.mark.parametrize("cooling", [1.0, 5.0, 40.0])
def test_strong_cooling_is_followed_at_constant_power(cooling: float) -> None:
    pack = SeriesPack(LIPO, np.array([1.0]), np.array([7200.0]), np.array([0.01]), np.array([0.005]), 30.0)
    warming = Warming(mass=0.02, start=313.15, ambient=283.15, cooling=cooling, entropy=ENTROPY)
    for time in (3.0, 20.0, 120.0):
        answer = flight(pack, [Phase(power=60.0)], warming=warming, longest=time)
        _, _, T, _ = stepped(pack, [Phase(power=60.0)], 0.0, warming, time, 2000)
        np.testing.assert_allclose(answer.temperatures, T, atol=2e-3)


def test_a_load_below_the_floor_at_once_is_the_last_of_the_curve() -> None:
    steps = [Phase(current=5.0, duration=20.0), Phase(current=200.0, duration=1.0)]
    answer = flight(lipo(), steps, floor=3.3)
    assert (answer.time, answer.ended_by, answer.current, answer.charge) == (20.0, "floor", 200.0, 100.0)
    curve = answer.curve([19.9, 20.0, 21.0])
    assert curve.current == pytest.approx([5.0, 200.0, 200.0])
    assert curve.voltage[1:] == pytest.approx(answer.voltage)
    assert curve.weakest_voltage[1] == pytest.approx(answer.cell_voltages.min())


def test_a_power_that_the_last_load_has_left_no_voltage_for_ends_the_flight_as_it_begins() -> None:
    pack = SeriesPack(LIPO, np.array([1.0]), np.array([7200.0]), np.array([0.002]), np.array([0.03]), 2.0)
    steps = [Phase(current=20.0, duration=6.0), Phase(power=150.0, duration=5.0)]
    floor = float(flight(pack, steps[:1], repeat=False).cell_voltages[0]) - 0.02
    answer = flight(pack, steps, floor=floor)
    assert (answer.time, answer.ended_by) == (6.0, "floor")
    assert answer.current * answer.voltage == pytest.approx(150.0, rel=1e-12)
    rested = flight(pack, steps[1:], floor=floor)
    assert rested.time > 0.0


def test_between_the_steps_of_the_integrator_the_curve_is_as_near_as_at_them() -> None:
    pack = SeriesPack(LIPO, np.array([1.0, 0.95]), np.array([7200.0, 6000.0]), np.full(2, 0.01), np.full(2, 0.02), 10.0)
    answer = flight(pack, [Phase(power=120.0)], lead_resistance=0.004, longest=60.0)
    times = np.linspace(0.0, 59.9, 97)
    curve = answer.curve(times)
    for time, weakest, current, charge in zip(times, curve.weakest_voltage, curve.current, curve.charge, strict=True):
        there = loaded(pack, float(time), power=120.0, lead_resistance=0.004)
        assert there is not None
        assert weakest == pytest.approx(there.cell_voltages.min(), abs=1e-5)
        assert current == pytest.approx(there.current, rel=1e-5)
        assert charge == pytest.approx(there.charge, rel=1e-6)


@pytest.mark.parametrize("load", [{"current": 20.0}, {"power": 300.0}])
@pytest.mark.parametrize("mass", [1e-4, 1e-6, 1e-9])
def test_a_cell_of_next_to_no_mass_is_warm_without_end_and_never_cold(load: dict[str, float], mass: float) -> None:
    feather = Warming(mass=mass, start=298.15, ambient=298.15, entropy=ENTROPY)
    free = flight(lipo(), [Phase(**load)], floor=3.3, warming=feather)
    assert free.temperatures is not None
    assert np.all(free.temperatures > 10_000.0)
    warm = free.curve(np.linspace(0.0, free.time, 50)).temperature
    assert warm is not None
    assert np.all(warm >= 298.15)
    held = replace(feather, activation=0.0)
    answer = flight(lipo(), [Phase(**load)], floor=3.3, warming=held, limit_temperature=333.15)
    assert answer.ended_by == "heat"
    # Without time for the slow part: m·cp·ΔT = i²·R0·t, and the reversible heat.
    watts = 20.0**2 * 0.007 + 20.0 * 315.0 * 0.235e-3
    assert answer.time == pytest.approx(mass * 1000.0 * 35.0 / watts, rel=0.2)

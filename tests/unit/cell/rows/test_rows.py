"""Many packs at once against one at a time, and against the runs of another program."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from profiles import few

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.kinds.curves import Curve
from ampstead.cell.one.charge import charge
from ampstead.cell.one.discharge import loaded, time_to_floor
from ampstead.cell.one.series import SeriesPack
from ampstead.cell.rows.arrays import first_fall
from ampstead.cell.rows.charge import Charges, charges
from ampstead.cell.rows.discharge import loaded_many, time_to_floor_many

DATA = Path(__file__).parents[3] / "reference" / "data"
HOUR = 3600.0
CURVES = [chemistry.curve for chemistry in CHEMISTRIES.values() if chemistry.curve is not None]
LIPO = CURVES[0]
TIMES = ("time_constant_current", "time_constant_voltage", "time_total")


def read(name: str) -> Any:
    return json.loads((DATA / f"cell_{name}.json").read_text(encoding="utf-8"))


CHARGE, DISCHARGE = read("charge"), read("discharge")


def cells_of(cases: list[dict[str, Any]], cells: dict[str, dict[str, float]]) -> tuple[np.ndarray, ...]:
    """Capacities, R0, R1 and τ, one per case."""
    columns = [[cells[case["cell"]][key] for case in cases] for key in ("capacity_Ah", "ohmic", "polarisation")]
    tau = [cells[case["cell"]]["time_constant"] for case in cases]
    return np.array(columns[0]) * HOUR, np.array(columns[1]), np.array(columns[2]), np.array(tau)


def column(cases: list[dict[str, Any]], key: str) -> np.ndarray:
    return np.array([case[key] for case in cases])


def agree(many: Charges, packs: list[SeriesPack], settings_: list[tuple[float, float, float]]) -> None:
    """To 1e-12: charge and energy of themselves, times of the whole charge."""
    for row, (pack, setting) in enumerate(zip(packs, settings_, strict=True)):
        one = charge(pack, *setting)
        for name in TIMES:
            assert getattr(many, name)[row] == pytest.approx(getattr(one, name), abs=1e-12 * one.time_total + 1e-300)
        assert many.charge[row] == pytest.approx(one.charge, rel=1e-12)
        per_cell = one.energy / (pack.cells if many.states_end.ndim == 1 else 1)
        assert many.energy[row] == pytest.approx(per_cell, rel=1e-12)
        assert many.first_current[row] == pytest.approx(one.first_current, rel=1e-12)
        np.testing.assert_allclose(np.broadcast_to(many.states_end[row], pack.cells), one.states_end, atol=1e-12)


@st.composite
def batches(draw: st.DrawFn, cells: int = 0) -> tuple[Curve, list[np.ndarray]]:
    """A curve, and states, capacities, R0, R1, τ for a few packs; some without a slow part, empty or full."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    N = 8
    shape = (N, cells) if cells else (N,)
    # Parts in fiftieths put some states on the points of the table.
    z = np.where(rng.random(shape) < 0.3, rng.integers(0, 51, shape) / 50.0, rng.random(shape))
    slow = rng.uniform(0.0, 0.03, shape) * (rng.random(shape) > 0.3)
    return draw(st.sampled_from(CURVES)), [
        z,
        rng.uniform(500.0, 20000.0, shape),
        rng.uniform(1e-3, 0.04, shape),
        slow,
        np.exp(rng.uniform(-3.0, 6.0, N)),
    ]


def each(curve: Curve, inputs: list[np.ndarray], counts: np.ndarray | None = None) -> list[SeriesPack]:
    counts = np.ones(len(inputs[4]), dtype=int) if counts is None else counts
    return [
        SeriesPack(curve, *(np.resize(value, value.size * int(count)) for value in row), float(tau))
        for *row, tau, count in zip(*(np.atleast_1d(value) for value in inputs), counts, strict=True)
    ]


@pytest.mark.parametrize("cells", [0, 3])
@given(data=st.data())
def test_many_charges_are_each_the_single_charge(cells: int, data: st.DataObject) -> None:
    curve, inputs = data.draw(batches(cells))
    rng = np.random.default_rng(data.draw(st.integers(0, 2**32 - 1)))
    capacity = inputs[1] if cells == 0 else inputs[1][:, 0]
    current = capacity / HOUR * np.exp(rng.uniform(-2.0, 2.5, len(capacity)))
    end_voltage = float(curve.voltages[-1]) + rng.choice([0.0, -0.05, -0.2, 0.05], len(capacity))
    end_current = current * np.exp(rng.uniform(-5.0, 0.2, len(capacity)))
    whole = charges(curve, *inputs, current, end_voltage, end_current)
    packs, settings_ = each(curve, inputs), list(zip(current, end_voltage, end_current, strict=True))
    agree(whole, packs, settings_)
    np.testing.assert_array_equal(whole.charge_then, whole.charge)
    times = whole.time_total * rng.choice([0.0, 0.2, 0.7, 0.95, 1.0, 2.0], len(capacity))
    cut = charges(curve, *inputs, current, end_voltage, end_current, times)
    np.testing.assert_array_equal(cut.time_total, whole.time_total)
    for row, (pack, setting) in enumerate(zip(packs, settings_, strict=True)):
        one = charge(pack, *setting)
        q, energy = one.at(float(times[row]))
        # A rounding of the time moves the charge by as much of the current.
        slack = 1e-11 * float(setting[0]) * one.time_total
        assert cut.charge_then[row] == pytest.approx(q, rel=1e-11, abs=slack)
        per_cell = energy / (pack.cells if cut.states_then.ndim == 1 else 1)
        assert cut.energy_then[row] == pytest.approx(per_cell, rel=1e-11, abs=5.0 * pack.cells * slack)
        states = np.minimum(pack.states + q / pack.capacities, 1.0)
        np.testing.assert_allclose(np.broadcast_to(cut.states_then[row], pack.cells), states, atol=1e-9)


def test_many_charges_are_those_of_the_simulation() -> None:
    # An equivalent-circuit library, named in the data file.
    cases = CHARGE["cases"]
    many = charges(
        LIPO,
        column(cases, "state"),
        *cells_of(cases, CHARGE["cells"]),
        column(cases, "current"),
        column(cases, "end_voltage"),
        column(cases, "end_current"),
    )
    np.testing.assert_allclose(many.time_constant_current, column(cases, "time_constant_current"), rtol=1e-6, atol=1e-6)
    np.testing.assert_allclose(many.time_constant_voltage, column(cases, "time_constant_voltage"), atol=1e-3)
    np.testing.assert_allclose(many.first_current, column(cases, "first_current"), rtol=1e-9)
    np.testing.assert_allclose(many.states_end, column(cases, "state_end"), atol=1e-8)
    known = np.array(["charge_Ah" in case for case in cases])
    told = [case for case in cases if "charge_Ah" in case]
    np.testing.assert_allclose(many.charge[known], column(told, "charge_Ah") * HOUR, rtol=1e-6)
    np.testing.assert_allclose(many.energy[known], column(told, "energy_Wh") * HOUR, rtol=1e-6)


EDGES = {
    "constant voltage from the first instant": (0.95, 0.03, 0.015, 2.6, 4.2, 0.26),
    "the taper met at the start": (0.999, 0.03, 0.015, 2.6, 4.2, 1.0),
    "the taper met as the voltage is": (0.3, 0.012, 0.006, 1.0, 4.2, 1.5),
    "at the end voltage already": (1.0, 0.012, 0.006, 1.3, 4.2, 0.1),
    "above the end voltage": (0.95, 0.012, 0.006, 1.3, 4.0, 0.1),
    "a table that ends below the end voltage": (0.2, 0.012, 0.006, 1.3, 4.5, 0.1),
    "no slow part": (0.1, 0.018, 0.0, 2.6, 4.2, 0.1),
    "full under constant voltage before the taper": (0.1, 0.012, 0.006, 2.6, 4.21, 1e-3),
    "a low taper": (0.1, 0.012, 0.006, 2.6, 4.2, 1e-3),
    "empty": (0.0, 0.012, 0.006, 1.3, 4.2, 0.13),
    "on a point of the table": (0.5, 0.012, 0.006, 1.3, 4.2, 0.13),
}


def test_every_edge_case_goes_with_the_others_in_one_batch() -> None:
    z, R0, R1, current, end_voltage, end_current = np.array(list(EDGES.values())).T
    inputs = [z, np.full(len(z), 4680.0), R0, R1, np.full(len(z), 30.0)]
    many = charges(LIPO, *inputs, current, end_voltage, end_current)
    agree(many, each(LIPO, inputs), list(zip(current, end_voltage, end_current, strict=True)))
    rows = dict(zip(EDGES, range(len(z)), strict=True))

    def row(name: str) -> dict[str, float]:
        return {field: float(getattr(many, field)[rows[name]]) for field in (*TIMES, "charge", "first_current")}

    at_once = row("constant voltage from the first instant")
    assert at_once["time_constant_current"] == 0.0
    assert 0.0 < at_once["first_current"] < 2.6
    for name in ("the taper met at the start", "at the end voltage already", "above the end voltage"):
        assert row(name) == dict.fromkeys((*TIMES, "charge", "first_current"), 0.0)
    assert row("the taper met as the voltage is")["time_constant_voltage"] == 0.0
    for name in ("a table that ends below the end voltage", "full under constant voltage before the taper"):
        assert many.states_end[rows[name]] == 1.0
    assert row("a table that ends below the end voltage")["time_constant_voltage"] == 0.0


def test_flat_pieces_of_a_curve_are_charged_through() -> None:
    flat = Curve(np.array([0.0, 0.2, 0.6, 0.601, 1.0]), np.array([3.0, 3.3, 3.3 + 1e-9, 3.3 + 2e-9, 3.6]), "made up")
    inputs = [np.linspace(0.0, 0.6, 7), np.full(7, 3600.0), np.full(7, 0.02), np.full(7, 0.02), np.full(7, 20.0)]
    setting = (np.full(7, 8.0), np.full(7, 3.35), np.full(7, 0.05))
    many = charges(flat, *inputs, *setting)
    agree(many, each(flat, inputs), list(zip(*setting, strict=True)))
    assert np.all(many.time_constant_voltage > 0.0)


def test_the_cell_that_is_first_at_the_end_voltage_is_named() -> None:
    z = np.array([[0.3, 0.3, 0.4], [0.5, 0.3, 0.3], [0.3, 0.3, 0.3]])
    R0 = np.array([[0.01, 0.01, 0.01], [0.01, 0.01, 0.01], [0.01, 0.03, 0.01]])
    many = charges(LIPO, z, 5400.0, R0, 0.5 * R0, [30.0] * 3, [3.0] * 3, [4.2] * 3, [0.3] * 3)
    assert many.highest_cell.tolist() == [2, 0, 1]
    assert many.states_end.shape == (3, 3)
    for row in range(3):
        one = charge(SeriesPack(LIPO, z[row], np.full(3, 5400.0), R0[row], 0.5 * R0[row], 30.0), 3.0, 4.2, 0.3)
        assert many.highest_cell[row] == one.highest_cell


@pytest.mark.parametrize("cells", [0, 3])
@pytest.mark.parametrize("kind", ["currents", "powers"])
@pytest.mark.parametrize("known", [True, False])
@few
@given(data=st.data())
def test_many_loads_are_each_the_single_load(cells: int, kind: str, known: bool, data: st.DataObject) -> None:
    curve, inputs = data.draw(batches(cells))
    if not known:
        inputs[1] = np.full(inputs[1].shape, np.inf)
    rng = np.random.default_rng(data.draw(st.integers(0, 2**32 - 1)))
    N = len(inputs[4])
    counts = np.ones(N, dtype=int) if cells else rng.integers(1, 7, N)
    load = np.exp(rng.uniform(-1.0, 4.5, N)) * (rng.random(N) > 0.1)
    if kind == "powers":
        load = load * 3.5 * (counts if cells == 0 else cells)
    times, lead = rng.uniform(0.0, 300.0, N) * (rng.random(N) > 0.1), rng.uniform(0.0, 0.01, N)
    # Below all of the curve, a cell is empty before it is at the floor.
    floors = np.where(rng.random(N) < 0.3, 0.5, curve.voltage(rng.uniform(0.0, 0.2, N)))
    many = loaded_many(curve, *inputs, times, **{kind: load}, lead_resistances=lead, cells=counts)
    met = time_to_floor_many(curve, *inputs, floors, **{kind: load}, lead_resistances=lead, cells=counts)
    for row, pack in enumerate(each(curve, inputs, counts)):
        options = {kind[:-1]: float(load[row]), "lead_resistance": float(lead[row])}
        one = loaded(pack, float(times[row]), **options)
        assert many.possible[row] == (one is not None)
        if one is None:
            assert np.isnan(many.terminal_voltage[row])
        else:
            for name in ("current", "terminal_voltage", "heat", "charge", "energy"):
                assert getattr(many, name)[row] == pytest.approx(getattr(one, name), rel=1e-11, abs=1e-12)
            assert many.emptied[row] == one.emptied
            row_voltages = np.broadcast_to(many.cell_voltages[row], pack.cells)
            np.testing.assert_allclose(row_voltages, one.cell_voltages, rtol=1e-12, atol=1e-12)
        time = time_to_floor(pack, float(floors[row]), **options)
        if time is None:
            assert np.isnan(met[row])
        else:
            assert met[row] == pytest.approx(time, rel=1e-11 if kind == "currents" else 1e-8)


@pytest.mark.parametrize("kind", ["current", "power"])
def test_many_discharges_meet_the_floor_when_the_simulation_does(kind: str) -> None:
    # An equivalent-circuit library, named in the data file.
    cases = [case for case in DISCHARGE[kind] if case["time"] > 0.0]
    inputs = (LIPO, np.ones(len(cases)), *cells_of(cases, DISCHARGE["cells"]))
    load = {f"{kind}s": column(cases, kind)}
    np.testing.assert_allclose(
        time_to_floor_many(*inputs, column(cases, "floor"), **load), column(cases, "time"), rtol=1e-6
    )
    many = loaded_many(*inputs, column(cases, "time"), **load)
    np.testing.assert_allclose(many.charge, column(cases, "charge_Ah") * HOUR, rtol=1e-6)
    np.testing.assert_allclose(many.energy, column(cases, "energy_Wh") * HOUR, rtol=1e-6)


@pytest.mark.parametrize(
    ("words", "wrong"),
    [
        ("0…1", lambda: charges(LIPO, [1.2], 3600.0, 0.01, 0.0, 30.0, 1.0, 4.2, 0.1)),
        ("above 0", lambda: charges(LIPO, [0.2], 3600.0, 0.0, 0.0, 30.0, 1.0, 4.2, 0.1)),
        ("time constant", lambda: charges(LIPO, [0.2], 3600.0, 0.01, 0.0, 0.0, 1.0, 4.2, 0.1)),
        ("end current", lambda: charges(LIPO, [0.2], 3600.0, 0.01, 0.0, 30.0, 1.0, 4.2, 0.0)),
        ("finite", lambda: charges(LIPO, [0.2], np.inf, 0.01, 0.0, 30.0, 1.0, 4.2, 0.1)),
        ("one of", lambda: loaded_many(LIPO, [0.2], 3600.0, 0.01, 0.0, 30.0, 1.0)),
        ("one of", lambda: loaded_many(LIPO, [0.2], 3600.0, 0.01, 0.0, 30.0, 1.0, currents=1.0, powers=1.0)),
        ("loads", lambda: loaded_many(LIPO, [0.2], 3600.0, 0.01, 0.0, 30.0, 1.0, currents=-1.0)),
        ("times", lambda: loaded_many(LIPO, [0.2], 3600.0, 0.01, 0.0, 30.0, -1.0, currents=1.0)),
        ("cells", lambda: loaded_many(LIPO, [[0.2, 0.3]], 3600.0, 0.01, 0.0, 30.0, 1.0, currents=1.0, cells=2)),
    ],
)
def test_what_no_pack_can_be_is_refused(words: str, wrong: Any) -> None:
    with pytest.raises(ValueError, match=words):
        wrong()


def test_equal_rates_of_the_taper_are_no_trouble() -> None:
    # Without a slow part the two rates are b/R0 and 1/τ; made equal on the last piece of the curve, and nearly so.
    slope = float((LIPO.voltages[-1] - LIPO.voltages[-2]) / (LIPO.states[-1] - LIPO.states[-2])) / 4680.0
    tau = 0.03 / slope * np.array([1.0, 1.0 + 1e-9, 1.0 + 1e-6, 1.0 - 1e-4, 0.98])
    inputs = [np.full(5, 0.985), np.full(5, 4680.0), np.full(5, 0.03), np.array([0.0, 0.0, 1e-12, 0.0, 0.0]), tau]
    setting = (np.full(5, 2.6), np.full(5, 4.2), np.full(5, 0.05))
    many = charges(LIPO, *inputs, *setting)
    agree(many, each(LIPO, inputs), list(zip(*setting, strict=True)))
    # Without a slow part τ means nothing.
    np.testing.assert_allclose(many.time_total, many.time_total[4], rtol=1e-8)


def test_the_first_fall_is_found_before_a_turn_and_behind_one() -> None:
    rng = np.random.default_rng(5)
    N, times = 4000, np.linspace(0.0, 1.0, 4001)
    a, rates = rng.uniform(0.0, 0.5, N), -np.exp(rng.uniform(-3.0, 4.0, (2, N)))
    rates[0, ::7] = 0.0
    d1, d2 = rng.normal(size=(2, N)) * np.maximum(1.0, -rates)
    longest = rng.uniform(0.2, 1.0, N)
    found = first_fall(a, d1, d2, rates[0], rates[1], longest)
    kinds = {"falls at once": 0, "falls, then rises": 0, "rises, then falls": 0, "never": 0}
    for row in range(N):
        t = longest[row] * times
        grown = [t if rate == 0.0 else np.expm1(rate * t) / rate for rate in rates[:, row]]
        f = a[row] + d1[row] * grown[0] + d2[row] * grown[1]
        under = np.flatnonzero(f <= 0.0)
        if not len(under):
            # A dip between two points of the grid is no more than a touch.
            assert np.isinf(found[row]) or f.min() < 1e-4
            kinds["never"] += bool(np.isinf(found[row]))
            continue
        first = under[0]
        assert t[max(first - 1, 0)] <= found[row] <= t[first]
        begins = f[1] > f[0]
        kinds["rises, then falls" if begins else "falls, then rises" if f[-1] > 0.0 else "falls at once"] += 1
    assert min(kinds.values()) >= 10, kinds


@pytest.mark.parametrize("kind", ["currents", "powers"])
def test_an_empty_cell_among_the_many_is_at_its_floor_at_once(kind: str) -> None:
    load = {kind: np.array([2.0, 2.0, 2.0])}
    met = time_to_floor_many(LIPO, [0.0, 0.5, 1.0], 3600.0, 0.01, 0.005, 30.0, 1.0, **load)
    assert met[0] == 0.0
    assert 0.0 < met[1] < met[2]

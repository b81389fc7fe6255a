"""Storage, clause by clause, and what must hold of any pack."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, cautions, client, refusals, reply, spoken

from ampstead.cell.kinds.chemistries import CHEMISTRIES

PACK = {"cells": 4, "capacity": "2000 mAh", "cell_resistance": "6 mΩ"}
NOTHING = {"action": "none", "charge_to_move": 0, "time_total": None, "current": None}


def stored(**question: Any) -> dict[str, Any]:
    return answer("storage", **PACK | question)


def band(of: str, **question: Any) -> tuple[float, float]:
    entry = next(entry for entry in reply("storage", **PACK | question)["accuracy"] if entry["of"] == of)
    return entry["low"]["value"], entry["high"]["value"]


def voltage(chemistry: str, state: float) -> float:
    curve = CHEMISTRIES[chemistry].curve
    assert curve is not None
    return float(curve.voltage(state))


@pytest.mark.parametrize(
    ("chemistry", "cell"), [("lipo", 3.80), ("lihv", 3.85), ("liion", 3.70), ("life", voltage("life", 0.5))]
)
def test_the_usual_target_goes_by_chemistry(chemistry: str, cell: float) -> None:
    got = stored(chemistry=chemistry, state_of_charge=1)
    assert got["action"] == "discharge"
    assert got["end_voltage"] == pytest.approx(4 * cell)
    assert stored(chemistry=chemistry, state_of_charge=0.1)["end_voltage"] == pytest.approx(4 * cell)


def test_a_target_may_be_told_of_a_cell_of_the_pack_or_as_a_state() -> None:
    state = 0.66  # 3.875152 V in the table
    by_state = stored(state_of_charge=1, target_state=state)
    for target in ("3.875152 V", "15.500608 V"):
        got = stored(state_of_charge=1, target_voltage=target)
        assert got["charge_to_move"] == pytest.approx(by_state["charge_to_move"], rel=1e-4)
        assert got["end_voltage"] == pytest.approx(15.500608)
    assert by_state["charge_to_move"] == pytest.approx(680)
    assert refusals("storage", **PACK, state_of_charge=1, target_voltage="7.7 V") == {
        ("target_voltage", "out_of_range")
    }
    assert refusals("storage", **PACK, state_of_charge=1, target_voltage="4.3 V") == {
        ("target_voltage", "out_of_range")
    }
    assert refusals("storage", **PACK, state_of_charge=1, target_voltage="3.8 V", target_state=0.5) == {
        ("target_voltage", "conflict"),
        ("target_state", "conflict"),
    }


@given(st.sampled_from(["lipo", "lihv", "liion", "life"]), st.floats(0, 1), st.floats(0, 1))
def test_the_charge_is_the_difference_of_the_states_and_ends_at_the_target(
    chemistry: str, state: float, target: float
) -> None:
    got = stored(chemistry=chemistry, state_of_charge=state, target_state=target)
    if abs(target - state) <= 0.03:
        assert got == NOTHING | {"end_voltage": pytest.approx(4 * voltage(chemistry, state))}
        return
    assert got["action"] == ("charge" if target > state else "discharge")
    assert got["charge_to_move"] == pytest.approx(2000 * abs(target - state), abs=1e-6)
    assert got["end_voltage"] == pytest.approx(4 * voltage(chemistry, target))
    assert got["time_total"] > 0


@given(st.floats(0.4, 1), st.floats(1, 40))
def test_a_discharge_takes_its_energy_over_its_power(state: float, power: float) -> None:
    got = stored(state_of_charge=state, target_state=0.3, discharge_power=f"{power} W")
    if got["action"] == "none":
        return
    curve = CHEMISTRIES["lipo"].curve
    assert curve is not None
    steps = 2000
    mean = sum(float(curve.voltage(0.3 + (state - 0.3) * (n + 0.5) / steps)) for n in range(steps)) / steps
    ideal = 4 * mean * 2 * (state - 0.3) / power * 60  # minutes, without resistance
    lost = power / (4 * 3.3) * 4 * 9e-3 / (4 * 3.3)  # at most, of the voltage: R0 and R1 at the lowest voltage
    assert ideal * (1 - lost) - 1e-6 <= got["time_total"] <= ideal + 1e-6


@given(st.floats(0.05, 0.4), st.floats(0.1, 1))
def test_a_charge_below_the_end_voltage_takes_its_charge_over_its_current(state: float, rate: float) -> None:
    got = stored(state_of_charge=state, target_state=0.5, rate=rate)
    assert got["time_total"] == pytest.approx(60 * (0.5 - state) / rate)


@given(st.floats(0.6, 0.99), st.floats(0.001, 0.01))
def test_more_to_move_takes_longer(state: float, more: float) -> None:
    one, two = (stored(state_of_charge=z, target_state=0.5) for z in (state, state + more))
    assert two["time_total"] > one["time_total"]
    assert two["charge_to_move"] > one["charge_to_move"]


def test_a_pack_near_its_target_is_left_alone() -> None:
    got = stored(rest_voltage="15.24 V")
    assert got == NOTHING | {"end_voltage": pytest.approx(15.24)}
    assert spoken("storage", **PACK, rest_voltage="15.24 V").startswith("Leave this lithium-polymer pack as it is")


def test_a_long_discharge_is_said_first_with_a_faster_safe_way() -> None:
    said = spoken("storage", **PACK, rest_voltage="16.8 V")
    assert said.startswith("At 5 watts it takes ")
    assert "hours" in said.split(" to bring ")[0]
    assert "watched all that time" in said
    assert "fly it down" in said
    assert said.endswith("or use a stronger discharger.\n")
    assert "long-discharge" in cautions("storage", **PACK, rest_voltage="16.8 V")
    short = PACK | {"rest_voltage": "16.8 V", "discharge_power": "60 W"}
    assert spoken("storage", **short).startswith("Discharge this lithium-polymer pack by ")
    assert "long-discharge" not in cautions("storage", **short)
    assert cautions("storage", **short)[0] == "watched-discharge"


def test_without_the_capacity_it_still_says_what_to_do() -> None:
    got = answer("storage", cells=4, rest_voltage="16.8 V")
    assert got == {
        "action": "discharge",
        "charge_to_move": None,
        "time_total": None,
        "end_voltage": pytest.approx(15.2),
        "current": None,
    }
    assert answer("storage", cells=4, rest_voltage="14.8 V")["action"] == "charge"
    assert answer("storage", cells=4, rest_voltage="15.2 V")["charge_to_move"] == 0


def test_lead_is_stored_full_and_is_given_no_charge_time() -> None:
    got = answer("storage", chemistry="lead", cells=6, rest_voltage="12.4 V", capacity="8 Ah")
    assert got["action"] == "charge"
    assert got["charge_to_move"] == pytest.approx(2000)
    assert got["end_voltage"] == pytest.approx(12.6)
    assert got["time_total"] is None
    codes = cautions("storage", chemistry="lead", cells=6, rest_voltage="12.4 V", capacity="8 Ah")
    assert {"lead-time", "lead-kept-full", "never-alone"} <= set(codes)


@pytest.mark.parametrize("condition", ["swollen", "damaged", "wet", "crashed"])
@pytest.mark.parametrize("state", [0.1, 0.52, 1])
def test_an_unsound_pack_is_not_touched(condition: str, state: float) -> None:
    got = stored(condition=condition, state_of_charge=state)
    assert got | NOTHING == got
    assert cautions("storage", **PACK, condition=condition, state_of_charge=state)[0] == condition
    assert spoken("storage", **PACK, condition=condition, state_of_charge=state).startswith(
        "Do not charge, discharge or"
    )


def test_low_and_doubtful_packs_are_treated_as_a_charge_treats_them() -> None:
    dead = {"cell_voltages": ["2.4 V", "3.8 V", "3.8 V", "3.8 V"]}
    assert stored(**dead) | NOTHING == stored(**dead)
    assert "dead-cell" in cautions("storage", **PACK, **dead)
    # 12 V on four cells would suit three.
    assert stored(rest_voltage="12.3 V") | NOTHING == stored(rest_voltage="12.3 V")
    assert cautions("storage", **PACK, rest_voltage="12.3 V")[0] == "cell-count"
    low = {"cell_voltages": ["2.9 V"] * 4, "target_state": 0.5}
    assert stored(**low)["time_total"] == pytest.approx(0.5 / 0.1 * 60)
    assert cautions("storage", **PACK, **low)[0] == "low-cell"


@pytest.mark.parametrize(
    ("celsius", "part", "code"),
    [(-1, None, "too-cold"), (0, 0.2, "cold"), (10, 0.2, "cold"), (11, 1, None), (40, 1, None), (41, None, "too-hot")],
)
def test_warmth_cuts_a_charge_as_charge_current_does(celsius: float, part: float | None, code: str | None) -> None:
    question = {"state_of_charge": 0.2, "target_state": 0.5, "temperature": f"{celsius} °C"}
    got = stored(**question)
    assert got["action"] == "charge"
    assert got["charge_to_move"] == pytest.approx(600)
    assert got["time_total"] == (None if part is None else pytest.approx(0.3 / part * 60))
    codes = cautions("storage", **PACK, **question)
    assert {"too-cold", "cold", "too-hot"} & set(codes) == ({code} if code else set())
    if part is None:
        assert spoken("storage", **PACK, **question).startswith("First ")


def test_a_hard_charge_is_a_danger() -> None:
    assert cautions("storage", **PACK, state_of_charge=0.2, rate=2)[0] == "rate-above-usual"
    assert "rate-above-usual" not in cautions("storage", **PACK, state_of_charge=0.2, rate=1)


def test_an_impossible_power_has_no_time() -> None:
    got = stored(state_of_charge=1, discharge_power="100 kW")
    assert got["time_total"] is None
    assert got["charge_to_move"] > 0
    assert "load-impossible" in cautions("storage", **PACK, state_of_charge=1, discharge_power="100 kW")
    assert "discharge-strong" in cautions("storage", **PACK, state_of_charge=1, discharge_power="1000 W")


def test_cells_that_differ_move_together_and_none_beyond_its_end() -> None:
    # 80, 70 and 90 percent: their mean is 80.
    cells = {"cells": 3, "cell_voltages": ["3.994483 V", "3.90889 V", "4.087947 V"], "target_state": 0.5}
    got = stored(**cells)
    assert got["charge_to_move"] == pytest.approx(600, rel=1e-5)
    assert got["end_voltage"] == pytest.approx(sum(voltage("lipo", z) for z in (0.5, 0.4, 0.6)), rel=1e-6)
    assert "cells-differ" in cautions("storage", **PACK | cells)
    apart = {"cells": 3, "cell_voltages": ["4.2 V", "4.2 V", "3.65 V"]}
    assert stored(**apart) | NOTHING == stored(**apart)
    assert "cells-too-far" in cautions("storage", **PACK | apart)
    # One cell has 4 percent left above its resting floor of 3.7 V, which is 20.9 percent.
    tight = stored(cells=3, cell_voltages=["4.2 V", "4.2 V", "3.726291 V"])
    assert tight["charge_to_move"] == pytest.approx(2000 * (0.28 - 0.2091), rel=1e-3)


def test_unlike_capacities_meet_the_target_on_the_mean() -> None:
    # 600 mAh are 60 percent of one cell and 30 of the other.
    got = answer("storage", cells=2, capacity=["1 Ah", "2 Ah"], state_of_charge=1, target_state=0.55)
    assert got["charge_to_move"] == pytest.approx(600)
    assert got["end_voltage"] == pytest.approx(voltage("lipo", 0.4) + voltage("lipo", 0.7))


def test_where_the_voltage_may_mean_the_target_already_the_band_begins_at_nothing() -> None:
    # 3.80 V is 43 to 63 percent on the published curves.
    low, high = band("charge_to_move", rest_voltage="15.2 V", target_state=0.6)
    assert (low, high) == pytest.approx((0, 2000 * (0.6 - 0.433)), abs=1)


def test_a_lead_battery_may_be_told_a_target_a_little_above_the_table() -> None:
    question = {"chemistry": "lead", "cells": 6, "rest_voltage": "12.2 V", "capacity": "8 Ah"}
    assert answer("storage", **question, target_voltage="12.7 V")["charge_to_move"] == pytest.approx(4000)


@given(st.lists(st.floats(3.4, 4.2), min_size=1, max_size=6), st.floats(0.05, 0.95))
def test_the_bands_hold_the_answer(cells: list[float], target: float) -> None:
    question = {"cells": len(cells), "cell_voltages": [f"{v:.6f} V" for v in cells], "target_state": target}
    got = stored(**question)
    if got["action"] == "none":
        assert reply("storage", **PACK | question)["accuracy"] == []
        return
    for name in ("charge_to_move", "time_total"):
        low, high = band(name, **question)
        assert 0 <= low <= got[name] * (1 + 1e-9)
        assert got[name] <= high * (1 + 1e-9)


def test_a_target_that_is_bad_for_storing_is_told() -> None:
    assert "stored-high" in cautions("storage", **PACK, state_of_charge=0.2, target_state=1)
    assert "stored-low" in cautions("storage", **PACK, state_of_charge=0.5, target_state=0.1)
    assert not {"stored-high", "stored-low"} & set(cautions("storage", **PACK, state_of_charge=1))


def test_every_charge_says_never_to_leave_it_and_to_follow_the_papers() -> None:
    for state in (0.1, 0.52, 1):
        codes = set(cautions("storage", **PACK, state_of_charge=state))
        assert "papers" in codes
        assert codes & {"never-alone", "watched-discharge"}


def test_a_pack_must_be_told_its_state_and_its_cells() -> None:
    assert refusals("storage", **PACK) == {("rest_voltage", "missing")}
    assert refusals("storage", rest_voltage="15.2 V") == {("cells", "missing")}
    uneven = refusals("storage", **PACK, cell_voltages=["4 V", "4 V"])
    assert uneven == {("cells", "wrong_length"), ("cell_voltages", "wrong_length")}
    assert refusals("storage", **PACK, rest_voltage="19.7 V") == {("rest_voltage", "out_of_range")}
    assert refusals("storage", cells=4, chemistry="nicd", state_of_charge=0.5) >= {("chemistry", "unsupported")}


def test_the_curve_runs_from_now_to_the_target_and_is_empty_where_nothing_moves() -> None:
    def rows(**question: Any) -> list[list[str]]:
        text: str = client().get("/v1/storage.csv", query_string=PACK | question).text
        return [line.split(",") for line in text.splitlines()]

    table = rows(state_of_charge=0.2, target_state=0.5)
    assert table[0] == ["time [min]", "voltage [V]", "current [A]", "charge [mAh]", "state_of_charge"]
    first, last = ([float(cell) for cell in table[row]] for row in (1, -1))
    assert (first[0], first[4]) == (0, 0.2)
    assert (last[0], last[3], last[4]) == pytest.approx((18, 600, 0.5))
    down = rows(state_of_charge=1, target_state=0.5)
    assert float(down[-1][4]) == pytest.approx(0.5)
    assert float(down[1][4]) == 1
    assert len(rows(state_of_charge=0.5, target_state=0.5)) == 1


@pytest.mark.parametrize("cells", ["4.35,4.2,4.2,4.2 V", "4.05,4.2,4.2,4.2 V"])
def test_a_pack_that_is_overcharged_or_has_a_cell_apart_is_not_to_be_flown_down(cells: str) -> None:
    told = PACK | {"cell_voltages": cells}
    said = spoken("storage", **told)
    assert "but not to fly it" in said
    assert "fly it down" not in said
    assert not any("fly the pack" in entry["text"] for entry in reply("storage", **told)["cautions"])


@pytest.mark.parametrize("target", ["2.9 V", "4.25 V", "17.2 V", "11.8 V"])
def test_a_target_that_no_resting_cell_has_is_refused_with_the_ends_of_the_curve(target: str) -> None:
    """The table of Ai et al. 2020 goes from 3.0 to 4.2 V."""
    got = client().post("/v1/storage", json=PACK | {"state_of_charge": 0.5, "target_voltage": target})
    (error,) = got.get_json()["errors"]
    assert (error["field"], error["code"]) == ("target_voltage", "out_of_range")
    assert "3.00 to 4.20 V for a lithium-polymer cell, or 12.00 to 16.80 V for the 4 cells" in error["message"]

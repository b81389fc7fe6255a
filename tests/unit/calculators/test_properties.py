"""What must hold of every answer, whatever the question: physics, and one question giving one answer."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, client, reply

from ampstead.calculators import registry
from ampstead.declare import Quantity

SMALL = 1e-9
factors = st.floats(1, 5)
temperatures = st.floats(-20, 45)
states = st.floats(0.05, 1)


def as_query(question: dict[str, Any]) -> dict[str, str]:
    return {name: ",".join(value) if isinstance(value, list) else str(value) for name, value in question.items()}


def sags_no_less(one: dict[str, Any], other: dict[str, Any]) -> bool:
    """Whether one sags and warms no less than another; what leaves no voltage at all, and has no figures, sags most."""
    if one["sag"] is None or other["sag"] is None:
        return one["sag"] is None and not one["holds"]
    return bool(one["sag"] >= other["sag"] - SMALL and one["heat"] >= other["heat"] - SMALL)


@pytest.mark.parametrize(("unit", "most"), [("W", "1 MW"), ("W/K", "1 kW/K"), ("m", "1 km")])
def test_no_question_is_out_of_range_that_any_bench_could_ask(unit: str, most: str) -> None:
    asked = [
        (calculator.name, name, entry.spec)
        for calculator in registry().values()
        for name, entry in calculator.inputs.items()
        if isinstance(entry.spec, Quantity) and entry.spec.unit == unit
    ]
    assert asked
    assert [(calculator, name) for calculator, name, spec in asked if spec.broken(spec.si(most), spec.si)] == []


@given(milliohms=st.floats(1, 30), factor=factors, amperes=st.floats(0.1, 60), state=states, seconds=st.floats(0, 60))
def test_more_resistance_never_sags_less(
    milliohms: float, factor: float, amperes: float, state: float, seconds: float
) -> None:
    question = {"cells": 4, "capacity": "2200 mAh", "current": f"{amperes} A", "state_of_charge": state,
                "duration": f"{seconds} s"}  # fmt: skip
    one = answer("sag", **question, cell_resistance=f"{milliohms} mΩ")
    other = answer("sag", **question, cell_resistance=f"{milliohms * factor} mΩ")
    assert sags_no_less(other, one)
    assert other["largest_power"] <= one["largest_power"] * (1 + 1e-6) + SMALL
    assert one["holds"] or not other["holds"]


@given(cold=temperatures, warmer=st.floats(0, 25), amperes=st.floats(0.1, 60), state=states)
def test_a_colder_pack_never_sags_less(cold: float, warmer: float, amperes: float, state: float) -> None:
    question = {"cells": 3, "capacity": "2200 mAh", "cell_resistance": "6 mΩ", "current": f"{amperes} A",
                "state_of_charge": state}  # fmt: skip
    one = answer("sag", **question, temperature=f"{cold} °C")
    other = answer("sag", **question, temperature=f"{cold + warmer} °C")
    assert sags_no_less(one, other)
    assert one["largest_power"] <= other["largest_power"] * (1 + 1e-6) + SMALL


@given(amperes=st.floats(0.1, 50), more=st.floats(0, 30), lead=st.floats(0, 20))
def test_more_current_or_lead_never_leaves_more_voltage(amperes: float, more: float, lead: float) -> None:
    question = {"cells": 4, "capacity": "2200 mAh", "cell_resistance": "6 mΩ"}
    one = answer("sag", **question, current=f"{amperes} A", lead_resistance=f"{lead} mΩ")
    other = answer("sag", **question, current=f"{amperes + more} A", lead_resistance=f"{lead} mΩ")
    without = answer("sag", **question, current=f"{amperes} A")
    assert other["loaded_voltage"] <= one["loaded_voltage"] + SMALL
    assert one["loaded_voltage"] == pytest.approx(without["loaded_voltage"] - amperes * lead / 1000)
    assert one["loaded_cell_voltages"] == without["loaded_cell_voltages"]
    assert one["sag"] == pytest.approx(one["rest_voltage"] - one["loaded_voltage"])


@given(watts=st.floats(1, 400), state=states)
def test_a_power_and_the_current_it_draws_at_once_agree(watts: float, state: float) -> None:
    question = {"cells": 4, "capacity": "2200 mAh", "cell_resistance": "6 mΩ", "state_of_charge": state,
                "duration": "0 s", "lead_resistance": "5 mΩ"}  # fmt: skip
    by_power = answer("sag", **question, power=f"{watts} W")
    by_current = answer("sag", **question, current=f"{by_power['current']!r} A")
    assert by_power["delivered_power"] == pytest.approx(watts)
    assert by_current["loaded_voltage"] == pytest.approx(by_power["loaded_voltage"])


@given(milliohms=st.floats(2, 30), factor=factors, depth=st.floats(0.1, 0.9))
def test_more_resistance_never_allows_more(milliohms: float, factor: float, depth: float) -> None:
    question = {"cells": 4, "capacity": "3700 mAh", "depth": depth}
    one = answer("safe-draw", **question, cell_resistance=f"{milliohms} mΩ")
    other = answer("safe-draw", **question, cell_resistance=f"{milliohms * factor} mΩ")
    for name in ("continuous_current", "burst_current", "current_limit_by_heat", "current_limit_by_voltage",
                 "burst_limit_by_voltage", "burst_limit_by_heat"):  # fmt: skip
        assert other[name] <= one[name] * (1 + SMALL)


@given(cooling=st.floats(0, 2), more=st.floats(0, 2), margin=st.floats(0.1, 1))
def test_more_cooling_never_allows_less_and_no_cell_passes_the_limit(
    cooling: float, more: float, margin: float
) -> None:
    question = {"cells": 4, "capacity": "3700 mAh", "cell_resistance": "4.2 mΩ", "margin": margin}
    one = answer("safe-draw", **question, cooling=f"{cooling} W/K")
    other = answer("safe-draw", **question, cooling=f"{cooling + more} W/K")
    assert other["continuous_current"] >= one["continuous_current"] * (1 - SMALL)
    assert one["end_temperature"] <= 60 + 1e-6
    assert one["loaded_voltage"] >= 4 * 3.3 - 1e-6


@given(factor=st.floats(0.1, 10))
def test_a_pack_twice_as_large_of_cells_in_parallel_gives_twice_as_much(factor: float) -> None:
    one = answer("safe-draw", cells=4, capacity="3.7 Ah", cell_resistance="4.2 mΩ")
    many = answer("safe-draw", cells=4, capacity=f"{3.7 * factor} Ah", cell_resistance=f"{4.2 / factor} mΩ")
    for name in ("continuous_current", "burst_current", "current_limit_by_heat", "burst_limit_by_voltage"):
        assert many[name] == pytest.approx(factor * one[name], rel=1e-7)
    for name in ("continuous_rate", "loaded_voltage", "end_temperature"):
        assert many[name] == pytest.approx(one[name], rel=1e-7)


@given(factor=st.floats(0.1, 10), cells=st.integers(2, 14), state=st.floats(0, 0.97), rate=st.floats(0.1, 2))
def test_a_charge_scales_with_capacity_and_cells(factor: float, cells: int, state: float, rate: float) -> None:
    question = {"state_of_charge": state, "rate": rate, "max_rate": rate}
    one = answer("charge-current", cells=1, capacity="3.7 Ah", cell_resistance="9 mΩ", **question)
    other = answer("charge-current", cells=cells, capacity=f"{3.7 * factor} Ah", cell_resistance=f"{9 / factor} mΩ",
                   **question)  # fmt: skip
    for name in ("time_constant_current", "time_constant_voltage", "time_total", "state_of_charge_end"):
        assert other[name] == pytest.approx(one[name], rel=1e-6, abs=1e-9)
    assert other["charge_added"] == pytest.approx(factor * one["charge_added"], rel=1e-6)
    for name in ("energy_added", "peak_power", "supply_power"):
        assert other[name] == pytest.approx(cells * factor * one[name], rel=1e-6)


@given(state=st.floats(0, 0.99), taper=st.floats(0.005, 0.9), rate=st.floats(0.1, 3), milliohms=st.floats(0.5, 60))
def test_a_charge_balances(state: float, taper: float, rate: float, milliohms: float) -> None:
    got = answer("charge-current", cells=3, capacity="2 Ah", cell_resistance=f"{milliohms} mΩ", taper=taper,
                 state_of_charge=state, rate=rate, max_rate=rate)  # fmt: skip
    assert got["state_of_charge_end"] == pytest.approx(state + got["charge_added"] / 2000, abs=1e-9)
    assert state - SMALL <= got["state_of_charge_end"] <= 1
    assert got["supply_energy"] == pytest.approx(got["energy_added"] / 0.85)
    assert got["peak_power"] <= 12.6 * got["current"] * (1 + SMALL)
    charge = got["charge_added"] / 1000
    assert 9.0 * charge - SMALL <= got["energy_added"] <= 12.6 * charge + SMALL
    assert got["time_total"] * got["current"] / 60 >= charge - SMALL


@given(state=st.floats(0, 0.9), more=st.floats(0, 0.09), end=st.floats(4.0, 4.2))
def test_a_fuller_pack_or_a_lower_end_never_takes_more(state: float, more: float, end: float) -> None:
    question = {"cells": 3, "capacity": "2 Ah", "cell_resistance": "6 mΩ"}
    one = answer("charge-current", **question, state_of_charge=state)
    fuller = answer("charge-current", **question, state_of_charge=state + more)
    lower = answer("charge-current", **question, state_of_charge=state, end_cell_voltage=f"{end} V")
    assert fuller["charge_added"] <= one["charge_added"] + SMALL
    assert fuller["time_total"] <= one["time_total"] + 1e-6
    assert lower["charge_added"] <= one["charge_added"] + SMALL


@given(name=st.sampled_from(["charger_current_limit", "charger_power_limit", "supply_limit"]),
       limit=st.floats(0.05, 200))  # fmt: skip
def test_no_limit_is_ever_exceeded(name: str, limit: float) -> None:
    unit = "A" if name == "charger_current_limit" else "W"
    got = answer("charge-current", cells=4, capacity="3 Ah", rate=2, max_rate=1.5, **{name: f"{limit} {unit}"})
    assert got["rate"] <= 1.5 * (1 + SMALL)
    reached = {"charger_current_limit": got["current"], "charger_power_limit": got["peak_power"],
               "supply_limit": got["supply_power"]}[name]  # fmt: skip
    assert reached <= limit * (1 + SMALL)


MORE: list[tuple[str, dict[str, Any]]] = [
    ("charge-current", {"cells": 4, "capacity": "3000 mAh", "temperature": "5 °C", "resistance_method": "1kHz"}),
    ("charge-current", {"chemistry": "lead", "cells": 6, "capacity": "7 Ah"}),
    ("charge-current", {"chemistry": "lihv", "capacity": "1 Ah", "cell_voltages": ["3.8 V", "3.9 V"]}),
    ("wattage", {"chemistry": "nimh", "cells": 7, "capacity": "3000 mAh"}),
    ("sag", {"cells": 6, "capacity": "5 Ah", "rate": "20C", "temperature": "0 °C"}),
    ("sag", {"cells": 3, "pack_resistance": "27 mΩ", "power": "100 W", "resistance_method": "10s"}),
    ("balance-need", {"cell_voltages": ["3.30 V", "3.31 V"], "chemistry": "life"}),
    ("safe-draw", {"chemistry": "liion", "cells": 4, "capacity": "3 Ah", "pack_resistance": "80 mΩ"}),
    ("safe-draw", {"capacity": "2.25 Ah", "cell_resistance": ["8.5 mΩ", "9 mΩ"], "temperature": "10 °C"}),
]
QUESTIONS = [(name, dict(example)) for name, entry in registry().items() for example in entry.examples] + MORE


def nested(question: dict[str, Any]) -> bool:
    """Whether only a body can carry the question."""
    values = [element for value in question.values() for element in (value if isinstance(value, list) else [value])]
    return any(isinstance(value, dict) for value in values)


def over(questions: list[tuple[str, dict[str, Any]]]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize(
        ("name", "question"), questions, ids=[f"{n}-{i}" for i, (n, _) in enumerate(questions)]
    )


EVERY = over(QUESTIONS)
EVERY_PLAIN = over([(name, question) for name, question in QUESTIONS if not nested(question)])


def flat(assumed: dict[str, Any]) -> dict[str, Any]:
    """What was assumed of the question itself, not of things nested in it."""
    return {name: value for name, value in assumed.items() if "[" not in name and "." not in name}


@EVERY
def test_what_was_assumed_gives_the_same_answer_when_asked(name: str, question: dict[str, Any]) -> None:
    first = reply(name, **question)
    told = flat(first["assumed"])
    assert told
    again = reply(name, **question | told)
    assert same(again["answer"], first["answer"])
    assert not flat(again["assumed"])


def same(one: Any, other: Any) -> bool:
    """Alike to a billionth, however deep."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(same(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(same(a, b) for a, b in zip(one, other, strict=True))
    if isinstance(one, float) and isinstance(other, float):
        return one == pytest.approx(other, rel=SMALL)
    return bool(one == other)


@EVERY
def test_the_question_as_read_gives_the_same_answer(name: str, question: dict[str, Any]) -> None:
    first = reply(name, **question)
    again = reply(name, **first["question"])
    assert again["question"] == first["question"]
    assert same(again["answer"], first["answer"])


@EVERY_PLAIN
def test_get_and_post_give_the_same_reply(name: str, question: dict[str, Any]) -> None:
    got = client().get(f"/v1/{name}", query_string=as_query(question))
    assert got.status_code == 200
    assert got.get_json() == reply(name, **question)
    by_text = client().post(f"/v1/{name}.txt", json=question)
    assert client().get(f"/v1/{name}.txt", query_string=as_query(question)).text == by_text.text


@EVERY
def test_every_reply_has_the_whole_envelope(name: str, question: dict[str, Any]) -> None:
    got = reply(name, **question)
    assert list(got) == ["calculator", "version", "question", "assumed", "answer", "accuracy", "sentence", "cautions",
                         "sources"]  # fmt: skip
    results = registry()[name].results
    assert set(got["answer"]) == set(results)
    for key, value in got["answer"].items():
        assert value is not None or results[key].nullable, key
    ranks = [("danger", "warning", "note").index(entry["severity"]) for entry in got["cautions"]]
    assert ranks == sorted(ranks)
    assert len({entry["code"] + entry["text"] for entry in got["cautions"]}) == len(ranks)
    assert not set(got["question"]) & set(got["assumed"])
    assert got["sources"]


@EVERY
def test_a_misspelt_input_is_unknown_and_every_other_fault_is_said_with_it(name: str, question: dict[str, Any]) -> None:
    got = client().post(f"/v1/{name}", json=question | {"chemistri": "lipo"}).get_json()
    assert ("chemistri", "unknown") in {(error["field"], error["code"]) for error in got["errors"]}

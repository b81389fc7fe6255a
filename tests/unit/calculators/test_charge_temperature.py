"""Charge-temperature, clause by clause."""

import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, cautions, client, refusals, reply, spoken

LITHIUM = ["lipo", "lihv", "liion", "life"]
PACK = {"cells": 6, "capacity": "4900 mAh", "cell_resistance": "2.6 mΩ"}
DEGREES = st.floats(-20, 70)


def at(degrees: float, **question: Any) -> dict[str, Any]:
    return answer("charge-temperature", temperature=f"{degrees} °C", **question)


def test_the_temperature_is_asked_for() -> None:
    assert refusals("charge-temperature") == {("temperature", "missing")}


@pytest.mark.parametrize("chemistry", LITHIUM)
@pytest.mark.parametrize(
    ("degrees", "part"), [(-0.01, 0), (0, 0.2), (10, 0.2), (10.01, 1), (25, 1), (40, 1), (40.01, 0), (60, 0), (-20, 0)]
)
def test_the_strictest_published_band_holds_for_lithium(chemistry: str, degrees: float, part: float) -> None:
    usual = 0.5 if chemistry == "liion" else 1.0
    got = at(degrees, chemistry=chemistry)
    assert got["allowed"] is (part > 0)
    assert got["rate_limit"] == pytest.approx(part * usual)
    assert (got["charge_voltage_limit"] is None) is (part == 0)
    assert got["stop_temperature"] == 50
    assert got["rise_alarm"] == 10


@given(chemistry=st.sampled_from(LITHIUM), degrees=DEGREES)
def test_it_allows_what_charge_current_allows(chemistry: str, degrees: float) -> None:
    charge = answer("charge-current", chemistry=chemistry, cells=3, capacity="2 Ah", temperature=f"{degrees} °C")
    got = at(degrees, chemistry=chemistry)
    assert got["rate_limit"] == pytest.approx(charge["rate"])
    assert got["stop_temperature"] == charge["stop_temperature"]
    if got["charge_voltage_limit"] is not None:
        assert got["charge_voltage_limit"] <= charge["end_voltage"] / 3 + 1e-9


@pytest.mark.parametrize(
    ("chemistry", "cold", "warm"),
    [("lipo", 4.10, 4.20), ("liion", 4.10, 4.20), ("lihv", 4.25, 4.35), ("life", 3.60, 3.60), ("lead", 2.40, 2.40)],
)
def test_the_cold_lowers_the_voltage_of_the_kinds_that_the_guideline_is_for(
    chemistry: str, cold: float, warm: float
) -> None:
    assert at(5, chemistry=chemistry)["charge_voltage_limit"] == pytest.approx(cold)
    assert at(20, chemistry=chemistry)["charge_voltage_limit"] == pytest.approx(warm)


@pytest.mark.parametrize("chemistry", ["nimh", "nicd"])
def test_nickel_has_the_band_but_no_voltage_and_no_rise(chemistry: str) -> None:
    question = {"chemistry": chemistry, "cells": 6, "capacity": "2 Ah", "current": "1 A"}
    got = at(20, **question)
    assert got["allowed"] is True
    assert got["rate_limit"] == pytest.approx(0.5)
    assert got["charge_voltage_limit"] is None
    assert got["predicted_rise"] is None
    assert at(-1, **question)["allowed"] is False
    assert "limits-borrowed" in cautions("charge-temperature", temperature="20 °C", **question)


def test_lead_is_charged_in_frost_but_never_frozen() -> None:
    assert at(-10, chemistry="lead")["allowed"] is True
    assert at(-16, chemistry="lead")["allowed"] is False
    assert cautions("charge-temperature", temperature="-10 °C", chemistry="lead")[0] == "frozen-lead"
    assert "frozen-lead" not in cautions("charge-temperature", temperature="10 °C", chemistry="lead")


@pytest.mark.parametrize("degrees", [-5, 5, 25, 45])
def test_every_answer_carries_the_cautions_of_charging_and_names_the_other_limits(degrees: int) -> None:
    told = cautions("charge-temperature", temperature=f"{degrees} °C")
    assert {"never-alone", "papers", "limits-conflict", "rise-alarm"} <= set(told)
    text = next(
        entry["text"]
        for entry in reply("charge-temperature", temperature=f"{degrees} °C")["cautions"]
        if entry["code"] == "limits-conflict"
    )
    for edge in ("40", "45", "60"):
        assert edge in text


@pytest.mark.parametrize("condition", ["swollen", "damaged", "wet", "crashed"])
def test_a_pack_that_is_not_sound_is_not_charged(condition: str) -> None:
    got = reply("charge-temperature", temperature="20 °C", condition=condition)
    assert got["answer"]["allowed"] is False
    assert got["answer"]["rate_limit"] == 0
    assert got["cautions"][0]["code"] == condition
    assert got["sentence"].startswith("Do not charge")


def test_the_rise_needs_capacity_and_current() -> None:
    assert at(20)["predicted_rise"] is None
    assert at(20, current="5 A")["predicted_rise"] is None
    assert at(20, **PACK)["predicted_rise"] is None
    assert at(20, **PACK, current="5 A")["predicted_rise"] > 0
    one_cell = at(20, capacity="4900 mAh", cell_resistance="2.6 mΩ", current="5 A")["predicted_rise"]
    assert one_cell == pytest.approx(at(20, **PACK, current="5 A")["predicted_rise"])


@given(
    amperes=st.floats(0.1, 20), milliohms=st.floats(0.5, 20), state=st.floats(0, 0.95), grams=st.floats(50, 500),
    degrees=st.floats(0, 40),
)  # fmt: skip
def test_without_cooling_the_heat_of_the_resistance_stays_in_the_mass(
    amperes: float, milliohms: float, state: float, grams: float, degrees: float
) -> None:
    question = {"cells": 2, "capacity": "5 Ah", "cell_resistance": f"{milliohms} mΩ", "cell_mass": f"{grams} g",
                "polarisation_resistance": "0 mΩ", "resistance_temperature": f"{degrees} °C"}  # fmt: skip
    got = at(degrees, **question, state_of_charge=state, current=f"{amperes} A")
    seconds = (1 - state) * 5 * 3600 / amperes
    joules = amperes**2 * milliohms / 1000 * seconds
    assert got["predicted_rise"] == pytest.approx(joules / (grams / 1000 * 1000), rel=1e-6, abs=1e-9)


@given(amperes=st.floats(0.5, 10), cooling=st.floats(0, 1), more=st.floats(0, 1), state=st.floats(0, 0.9))
def test_more_cooling_never_warms_and_never_cools_below_the_air(
    amperes: float, cooling: float, more: float, state: float
) -> None:
    question = {**PACK, "current": f"{amperes} A", "state_of_charge": state}
    one, other = (at(25, **question, cooling=f"{k} W/K")["predicted_rise"] for k in (cooling, cooling + more))
    assert -1e-9 <= other <= one + 1e-9


@given(amperes=st.floats(0.5, 10), factor=st.floats(1, 3), state=st.floats(0, 0.9))
def test_a_harder_or_longer_charge_never_warms_less(amperes: float, factor: float, state: float) -> None:
    one = at(25, **PACK, current=f"{amperes} A", state_of_charge=state)["predicted_rise"]
    harder = at(25, **PACK, current=f"{amperes * factor} A", state_of_charge=state)["predicted_rise"]
    longer = at(25, **PACK, current=f"{amperes} A", state_of_charge=state / factor)["predicted_rise"]
    assert harder >= one - 1e-9
    assert longer >= one - 1e-9


def test_cooling_by_the_reaction_is_never_credited() -> None:
    """A lipo cell's reaction would take 0.235 mV/K × 298 K = 70 mV off the heat, more than 3 A through 4.5 milliohm."""
    assert at(25, **PACK, current="3 A")["predicted_rise"] > 0


def test_the_warmest_cell_counts() -> None:
    resistances = {"cell_resistance": ["2.6 mΩ", "7.8 mΩ", *["2.6 mΩ"] * 4]}
    got = at(25, **PACK | resistances, current="5 A")["predicted_rise"]
    assert got == pytest.approx(3 * at(25, **PACK, current="5 A")["predicted_rise"])


def test_a_charge_that_would_overheat_is_warned_of() -> None:
    question = {"capacity": "1150 mAh", "cell_resistance": "24 mΩ", "current": "5 A"}
    got = reply("charge-temperature", temperature="35 °C", **question)
    assert 35 + got["answer"]["predicted_rise"]["value"] > 50
    assert "charge-heats" in [entry["code"] for entry in got["cautions"]]
    assert "stop if it reaches 50 degrees. 5 amperes may bring it past that" in got["sentence"]
    assert "charge-heats" not in cautions("charge-temperature", temperature="15 °C", **question)


def test_a_current_beyond_what_the_cold_leaves_is_a_danger() -> None:
    assert "charge-too-hard" in cautions("charge-temperature", temperature="5 °C", **PACK, current="1.1 A")
    assert "charge-too-hard" not in cautions("charge-temperature", temperature="5 °C", **PACK, current="0.97 A")
    assert "rate-above-usual" in cautions("charge-temperature", temperature="20 °C", **PACK, current="6 A")


def test_the_band_begins_at_no_rise_and_holds_the_figure() -> None:
    got = reply("charge-temperature", temperature="25 °C", cells=4, capacity="5 Ah", current="5 A")
    (band,) = got["accuracy"]
    assert band["low"]["value"] == 0
    assert band["high"]["value"] > got["answer"]["predicted_rise"]["value"] > 0


def test_the_table_shows_the_band() -> None:
    rows = client().get("/v1/charge-temperature.csv", query_string={"temperature": "20 °C"}).text.splitlines()
    assert rows[0] == "temperature [°C],rate_limit"
    table = {float(t): float(rate) for t, rate in (row.split(",") for row in rows[1:])}
    assert {t: table[t] for t in (-0.5, 0.0, 10.0, 10.5, 40.0, 40.5)} == pytest.approx(
        {-0.5: 0, 0.0: 0.2, 10.0: 0.2, 10.5: 1, 40.0: 1, 40.5: 0}
    )


def test_what_is_too_cold_or_too_hot_to_be_charged_is_told_what_comes_first() -> None:
    assert "minus 16 degrees: warm it first." in spoken("charge-temperature", chemistry="lead", temperature="-16 °C")
    assert "52 degrees: let it cool first." in spoken("charge-temperature", temperature="52 °C")


@pytest.mark.parametrize(("degrees", "said"), [(10, "At 10 degrees"), (10.3, "At 11 degrees"), (40.3, "at 41 degrees")])
def test_no_temperature_is_spoken_as_that_of_another_answer(degrees: float, said: str) -> None:
    assert said in spoken("charge-temperature", temperature=f"{degrees} °C")


def test_a_rise_is_told_once_where_the_worst_sounds_alike() -> None:
    told = {"cells": 3, "capacity": "2250 mAh", "cell_resistance": "8.5 mΩ", "temperature": "13 °C"}
    for current in ("0.5 A", "1 A", "1.5 A", "2 A", "4.5 A"):
        said = reply("charge-temperature", **told, current=current)["sentence"]
        assert not re.search(r"by (\S+ degrees?), at the worst by \1", said), said


def test_a_proviso_stands_between_commas() -> None:
    cold = {"chemistry": "lead", "cells": 6, "capacity": "38 Ah", "temperature": "-8 °C", "state_of_charge": 0.2}
    assert reply("charge-temperature", **cold)["sentence"].startswith(
        "At minus 8 degrees, only if it is not frozen, ch"
    )


def test_a_pack_resistance_tells_the_warming_only_with_the_cells_that_share_it() -> None:
    told = {"capacity": "2250 mAh", "temperature": "13 °C", "current": "2.25 A"}
    assert answer("charge-temperature", **told, pack_resistance="30 mΩ")["predicted_rise"] is None
    shared = answer("charge-temperature", **told, pack_resistance="30 mΩ", cells=3)["predicted_rise"]
    assert shared == pytest.approx(answer("charge-temperature", **told, cell_resistance="10 mΩ")["predicted_rise"])


def test_a_resistance_without_the_number_of_cells_is_taken_as_it_is() -> None:
    asked = {"temperature": "25 °C", "capacity": "2250 mAh", "current": "5 A", "cell_resistance": "9 mΩ"}
    assert reply("charge-temperature", **asked)["answer"]["allowed"] is True

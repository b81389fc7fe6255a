"""Wattage, clause by clause. Its equations run on pint quantities; capacity and rate, which pass through arrays, are
held by scaling."""

import dataclasses
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, cautions, refusals, reply, spoken

from ampstead.calculators import registry
from ampstead.calculators.wattage import Wattage
from ampstead.calculators.wattage import wattage as wattage_on
from ampstead.declare import Quantity
from ampstead.inputs.pack import Pack

PACK = {"cells": 3, "capacity": "1150 mAh"}
POWERS = ("nominal_power", "peak_power", "supply_power")


def wattage(**question: Any) -> dict[str, Any]:
    return answer("wattage", **question)


@pytest.mark.parametrize(
    ("chemistry", "nominal", "end", "rate"),
    [("lipo", 3.7, 4.2, 1), ("lihv", 3.8, 4.35, 1), ("liion", 3.6, 4.2, 0.5), ("life", 3.3, 3.6, 1),
     ("nimh", 1.2, 1.6, 0.5), ("nicd", 1.2, 1.6, 0.5), ("lead", 2.0, 2.4, 0.1)],
)  # fmt: skip
def test_voltages_and_usual_rate_go_by_chemistry(chemistry: str, nominal: float, end: float, rate: float) -> None:
    got = wattage(chemistry=chemistry, cells=5, capacity="2000 mAh")
    current = 2 * rate
    assert got["nominal_power"] == pytest.approx(5 * nominal * current)
    assert got["peak_power"] == pytest.approx(5 * end * current)
    assert got["supply_power"] == pytest.approx(5 * end * current / 0.85)


def test_a_rate_and_the_current_it_means_give_the_same() -> None:
    assert wattage(**PACK, rate="2C") == wattage(**PACK, current="2.3 A")


def test_a_voltage_with_a_current_needs_no_pack() -> None:
    by_pack, by_voltage = wattage(**PACK, rate=1), wattage(voltage="12.6 V", current="1.15 A")
    assert by_voltage == by_pack


def test_what_cannot_go_together_or_is_missing_is_said() -> None:
    assert refusals("wattage", **PACK, rate=1, current="1 A") == {("rate", "conflict"), ("current", "conflict")}
    assert refusals("wattage", **PACK, voltage="12.6 V", current="1 A") >= {("voltage", "conflict"),
                                                                         ("cells", "conflict")}  # fmt: skip
    assert refusals("wattage", voltage="12.6 V") == {("current", "missing")}
    assert refusals("wattage", cells=2) == {("capacity", "missing")}
    assert {code for _, code in refusals("wattage")} == {"missing"}
    assert refusals("wattage", cells=3, capacity=1150) == {("capacity", "unit_missing")}


@pytest.mark.parametrize(
    ("supply_watts", "headroom", "step", "rating"),
    [
        (12.84, 0.1, "5 W", 15),
        (13.5, 0.1, "5 W", 15),  # 13.5 / 0.9 is 15 exactly
        (13.51, 0.1, "5 W", 20),
        (15.0, 0, "5 W", 15),
        (308.0, 0.2, "5 W", 385),  # 308 / 0.8 is 385, whatever the binary digits say
        (385.00000000000006, 0, "5 W", 385),
        (15.0001, 0, "5 W", 20),
        (70.0, 0.3, "0.1 W", 100),
        (0.1, 0.1, "25 W", 25),
    ],
)
def test_the_rating_keeps_its_headroom_up_to_a_whole_step(
    supply_watts: float, headroom: float, step: str, rating: float
) -> None:
    got = wattage(voltage="10 V", current=f"{supply_watts / 10!r} A", efficiency=1, headroom=headroom,
                  rating_step=step)  # fmt: skip
    assert got["advised_rating"] == pytest.approx(rating, rel=1e-12)


@pytest.mark.parametrize(
    ("available", "fits", "overload"),
    [("20 W", True, 0), ("20.000000001 W", True, 0), ("19.99999999999 W", True, 0), ("19.9 W", False, 0.1),
     ("0 W", False, 20)],
)  # fmt: skip
def test_fits_compares_with_what_is_available_and_no_headroom(available: str, fits: bool, overload: float) -> None:
    got = wattage(voltage="10 V", current="1.7 A", available_power=available, headroom=0.5)
    assert got["fits"] is fits
    assert got["overload"] == pytest.approx(overload, abs=1e-12)


def test_what_was_not_given_is_null() -> None:
    got = wattage(**PACK)
    assert (got["fits"], got["overload"], got["supply_current"]) == (None, None, None)
    assert wattage(**PACK, supply_voltage="12 V")["supply_current"] == pytest.approx(14.49 / 0.85 / 12)


def test_every_answer_is_a_charging_answer() -> None:
    assert {"never-alone", "papers"} <= set(cautions("wattage", **PACK))
    assert "never leave a charging pack alone" in spoken("wattage", **PACK).lower()


def test_the_defaults_used_are_told() -> None:
    told = reply("wattage", **PACK)["assumed"]
    assert told == {"chemistry": "lipo", "rate": 1, "efficiency": 0.85, "headroom": 0.1,
                    "rating_step": {"value": 5, "unit": "W"}}  # fmt: skip


scales = st.floats(0.2, 5)


@given(volts=scales, amperes=scales)
def test_power_scales_as_volts_and_amperes_do(volts: float, amperes: float) -> None:
    base = {"efficiency": 0.8, "headroom": 0.2, "rating_step": "0.001 W", "supply_voltage": "12 V"}
    one = wattage(voltage="10 V", current="2 A", available_power="1 W", **base)
    scaled = {"voltage": f"{10 * volts} V", "current": f"{2 * amperes} A"}
    other = wattage(**scaled, available_power=f"{volts * amperes} W",
                    **base | {"supply_voltage": f"{12 * volts} V",
                              "rating_step": f"{0.001 * volts * amperes} W"})  # fmt: skip
    for name in (*POWERS, "advised_rating", "overload"):
        assert other[name] == pytest.approx(volts * amperes * one[name], rel=1e-9)
    assert other["supply_current"] == pytest.approx(amperes * one["supply_current"], rel=1e-9)
    assert other["fits"] is one["fits"]


@given(hours=scales)
def test_current_scales_as_charge_over_time_does(hours: float) -> None:
    one = wattage(cells=4, capacity="2 Ah", rate=1)
    same = wattage(cells=4, capacity=f"{2 * hours} Ah", rate=1 / hours)
    for name in POWERS:
        assert same[name] == pytest.approx(one[name], rel=1e-9)


@given(efficiency=st.floats(0.1, 1), current=st.floats(0.01, 100))
def test_nothing_comes_out_that_did_not_go_in(efficiency: float, current: float) -> None:
    got = wattage(cells=3, current=f"{current} A", efficiency=efficiency)
    assert 0 < got["nominal_power"] < got["peak_power"] <= got["supply_power"] * (1 + 1e-12)
    assert got["supply_power"] <= got["advised_rating"] * (1 + 1e-9)


UNITS = pint.UnitRegistry()


def on_pint(**question: Any) -> Wattage:
    question = {"voltage": 12.6 * UNITS.V, "current": 1.15 * UNITS.A, "rating_step": 5 * UNITS.W} | question
    return wattage_on(pack=Pack(), rate=None, **question)


def test_the_dimensions_come_out_as_declared() -> None:
    got = on_pint(supply_voltage=14.2 * UNITS.V, available_power=12 * UNITS.W)
    results = registry()["wattage"].results
    checked = 0
    for field in dataclasses.fields(got):
        if field.name not in results:
            continue
        spec, value = results[field.name].spec, getattr(got, field.name)
        if isinstance(spec, Quantity):
            assert value.check(UNITS(spec.unit).dimensionality), field.name
            checked += 1
    assert checked == 7
    assert got.supply_current.to("A").magnitude == pytest.approx(14.49 / 0.85 / 14.2)


@pytest.mark.parametrize("wrong", [{"voltage": 12.6 * UNITS.A}, {"current": 1.15 * UNITS.V},
                                   {"rating_step": 5 * UNITS.V}, {"available_power": 12 * UNITS.A}])  # fmt: skip
def test_a_wrong_dimension_does_not_pass_through_the_equations(wrong: dict[str, Any]) -> None:
    with pytest.raises(pint.DimensionalityError):
        on_pint(**wrong)


def test_what_the_charger_draws_is_told_unless_too_few_watts_say_enough() -> None:
    told = {"cells": 3, "capacity": "2250 mAh"}
    assert "draws up to 33.4 watts." in spoken("wattage", **told, available_power="180 W")
    assert "draws" not in spoken("wattage", **told, available_power="30 W")
    few = spoken("wattage", **told, available_power="30 W", supply_voltage="14.2 V")
    assert "2.35 amperes from its supply" in few  # 12.6 V × 2.25 A / 0.85 / 14.2 V = 2.3488 A

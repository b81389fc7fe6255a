"""Charge-current, clause by clause; figures worked out by hand. Long, since so many things may cut a charge."""

from typing import Any

import pytest
from reference.asking import answer, cautions, refusals, reply, spoken

PACK = {"cells": 3, "capacity": "2000 mAh", "cell_resistance": "6 mΩ"}
TIMES = ("time_constant_current", "time_constant_voltage", "time_total")


def charge(**question: Any) -> dict[str, Any]:
    return answer("charge-current", **PACK | question)


@pytest.mark.parametrize(("chemistry", "rate"), [("lipo", 1), ("lihv", 1), ("life", 1), ("liion", 0.5), ("lead", 0.1)])
def test_the_usual_rate_goes_by_chemistry(chemistry: str, rate: float) -> None:
    got = charge(chemistry=chemistry)
    assert got["rate"] == pytest.approx(rate)
    assert got["current"] == pytest.approx(2 * rate)
    assert got["limited_by"] == "asked-rate"


@pytest.mark.parametrize(("chemistry", "end"), [("lipo", 12.6), ("lihv", 13.05), ("life", 10.8), ("liion", 12.6)])
def test_the_end_voltage_goes_by_chemistry_and_cells(chemistry: str, end: float) -> None:
    got = charge(chemistry=chemistry)
    assert got["end_voltage"] == pytest.approx(end)
    assert got["peak_power"] == pytest.approx(end * got["current"])
    assert got["supply_power"] == pytest.approx(end * got["current"] / 0.85)


@pytest.mark.parametrize("chemistry", ["nimh", "nicd"])
def test_nickel_is_not_supported_for_want_of_a_curve(chemistry: str) -> None:
    assert refusals("charge-current", **PACK, chemistry=chemistry) == {("chemistry", "unsupported")}


# At 12.6 V: 31.5 W out is 2.5 A; 42 W in at 0.75 is 31.5 W out.
@pytest.mark.parametrize(
    ("limits", "current", "named"),
    [
        ({"rate": 3, "max_rate": 2}, 4.0, "pack-label"),
        ({"rate": 3, "max_rate": 5}, 6.0, "asked-rate"),
        ({"rate": 2, "max_rate": 5, "charger_current_limit": "3 A"}, 3.0, "charger-current"),
        ({"rate": 2, "max_rate": 5, "charger_power_limit": "31.5 W"}, 2.5, "charger-power"),
        ({"rate": 2, "max_rate": 5, "supply_limit": "42 W", "efficiency": 0.75}, 2.5, "supply"),
        ({"rate": 2, "max_rate": 5, "charger_current_limit": "3 A", "supply_limit": "42 W", "efficiency": "75 %"}, 2.5,
         "supply"),
    ],
)  # fmt: skip
def test_the_least_limit_sets_the_current_and_is_named(limits: dict[str, Any], current: float, named: str) -> None:
    got = charge(**limits)
    assert got["current"] == pytest.approx(current)
    assert got["limited_by"] == named


# All of them allow 2 A; the later one in the contract's list has the name.
TIES = [
    ("asked-rate", {"rate": 1}),
    ("pack-label", {"max_rate": 1}),
    ("charger-current", {"charger_current_limit": "2 A"}),
    ("charger-power", {"charger_power_limit": "25.2 W"}),
    ("supply", {"supply_limit": "25.2 W", "efficiency": 1}),
]


@pytest.mark.parametrize("last", range(len(TIES)))
def test_equal_limits_are_named_by_the_last_that_holds(last: int) -> None:
    limits: dict[str, Any] = {}
    for _, limit in TIES[: last + 1]:
        limits |= limit
    got = charge(**limits)
    assert got["current"] == pytest.approx(2)
    assert got["limited_by"] == TIES[last][0]


def test_of_the_refusals_too_the_last_that_holds_is_named() -> None:
    assert charge(temperature="-5 °C")["limited_by"] == "temperature"
    # 2.4 V a cell: dead, and no other count of these cells puts it into range.
    assert charge(cells=1, rest_voltage="2.4 V")["limited_by"] == "low-cell"
    assert charge(cells=1, rest_voltage="2.4 V", temperature="-5 °C")["limited_by"] == "low-cell"
    # 7.4 V on three cells is 2.47 V each, and 3.7 V each on two.
    assert charge(rest_voltage="7.4 V")["limited_by"] == "cell-count"
    assert charge(rest_voltage="7.4 V", condition="wet", temperature="-5 °C")["limited_by"] == "condition"
    assert charge(state_of_charge=1, condition="swollen")["limited_by"] == "condition"
    assert charge(state_of_charge=1)["limited_by"] == "full"


@pytest.mark.parametrize("condition", ["swollen", "damaged", "wet", "crashed"])
def test_anything_but_a_sound_pack_gets_no_current_and_the_reason_first(condition: str) -> None:
    got = charge(condition=condition)
    assert (got["current"], got["limited_by"], got["peak_power"]) == (0, "condition", 0)
    assert cautions("charge-current", **PACK, condition=condition)[0] == condition
    first = reply("charge-current", **PACK, condition=condition)["cautions"][0]
    assert first["severity"] == "danger"
    assert "recycling" in first["text"]
    assert "Do not charge" in spoken("charge-current", **PACK, condition=condition)


@pytest.mark.parametrize(
    ("temperature", "part"),
    [(-20, 0), (-0.1, 0), (0, 0.2), (5, 0.2), (10, 0.2), (10.1, 1), (25, 1), (40, 1), (40.1, 0), (70, 0)],
)
@pytest.mark.parametrize(("chemistry", "usual"), [("lipo", 1), ("lihv", 1), ("liion", 0.5), ("life", 1)])
def test_cold_and_heat_leave_a_part_of_the_usual_rate(
    temperature: float, part: float, chemistry: str, usual: float
) -> None:
    # 2 Ah, and a charger of 0.9 A.
    got = charge(chemistry=chemistry, charger_current_limit="0.9 A", temperature=f"{temperature} °C")
    assert got["current"] == pytest.approx(min(part * usual * 2, 0.9))
    assert (got["limited_by"] == "temperature") == (part < 1)


@pytest.mark.parametrize(("rate", "expected", "named"), [("5C", 0.2, "temperature"), (0.1, 0.1, "asked-rate")])
@pytest.mark.parametrize("temperature", [0, 5, 10])
def test_a_label_does_not_help_against_the_cold(temperature: int, rate: Any, expected: float, named: str) -> None:
    question = {"rate": rate, "max_rate": "5C", "temperature": f"{temperature} °C"}
    got = charge(**question)
    assert (got["rate"], got["limited_by"]) == (pytest.approx(expected), named)
    assert got["end_voltage"] == pytest.approx(3 * 4.1)
    assert ("a fifth of the usual" in spoken("charge-current", **PACK, **question).split(";")[0]) == (expected == 0.2)


@pytest.mark.parametrize(
    ("temperature", "rate"), [(-16, 0), (-15, 0), (-11, 0), (-5, 0.1), (25, 0.1), (40, 0.1), (41, 0), (45, 0)]
)
def test_lead_has_a_band_of_its_own(temperature: int, rate: float) -> None:
    question = {"chemistry": "lead", "temperature": f"{temperature} °C"}
    assert charge(**question)["rate"] == pytest.approx(rate)
    assert ("frozen-lead" in cautions("charge-current", **PACK, **question)) == (temperature < 0)


@pytest.mark.parametrize(("temperature", "said"), [(-5, True), (13, False)])
def test_lead_that_may_be_frozen_is_charged_on_a_condition_that_is_said_first(temperature: int, said: bool) -> None:
    question = {"chemistry": "lead", "cells": 6, "capacity": "38 Ah", "temperature": f"{temperature} °C"}
    assert spoken("charge-current", **question).startswith("Only if it is not frozen, charge") == said
    assert ("only if it is not frozen, charge" in spoken("charge-temperature", **question)) == said


def test_a_cold_low_cell_gets_the_less_of_both() -> None:
    got = charge(cell_voltages="2.9,3.3,3.3 V", temperature="5 °C")
    assert (got["rate"], got["limited_by"]) == (pytest.approx(0.1), "low-cell")


@pytest.mark.parametrize(
    ("above", "rate", "named"),
    [(0.0, 1, "asked-rate"), (-0.01, 0.1, "low-cell"), (-0.5, 0.1, "low-cell"), (-0.51, 0, "low-cell")],
)
@pytest.mark.parametrize(("chemistry", "low"), [("lipo", 3.0), ("lihv", 3.0), ("life", 2.5)])
def test_a_low_cell_is_charged_at_a_tenth_and_a_dead_one_not_at_all(
    above: float, rate: float, named: str, chemistry: str, low: float
) -> None:
    got = charge(chemistry=chemistry, cell_voltages=[f"{low + 0.02} V", f"{low + above} V", f"{low + 0.02} V"])
    assert got["rate"] == pytest.approx(rate)
    assert got["limited_by"] == named


def test_a_low_cell_is_never_derived_from_a_state_of_charge() -> None:
    assert charge(state_of_charge=0)["limited_by"] == "asked-rate"


def test_a_rate_below_a_tenth_stays_as_asked_with_a_low_cell() -> None:
    got = charge(rate=0.05, cell_voltages="2.9,3.2,3.2 V")
    assert got["rate"] == pytest.approx(0.05)
    assert got["limited_by"] == "asked-rate"


# The curve of lipo stands at 3.63956 V at z = 0.1; the end voltage and 50 mV are 4.25 V.
@pytest.mark.parametrize(
    ("cells", "voltage", "doubted"),
    [
        (3, 3 * 3.63955, False),  # 5.46 V each on two, 10.9 V on one: no count fits
        (3, 3 * 3.63957, False),
        (4, 4 * 3.2, False),  # 4.27 V each on three
        (4, 4 * 3.18, True),  # 4.24 V each on three
        (3, 8.4, True),
        (3, 8.51, False),  # 4.255 V each on two
        (2, 7.2, False),
        (2, 4.2, True),
        (1, 3.1, False),
        (6, 6 * 3.63957, False),
        (6, 6 * 3.54, True),  # 4.248 V each on five
        (6, 6 * 3.545, False),  # 4.254 V each on five, 5.3 V on four
    ],
)
def test_a_voltage_that_suits_fewer_cells_stops_the_charge(cells: int, voltage: float, doubted: bool) -> None:
    got = answer("charge-current", cells=cells, capacity="2000 mAh", rest_voltage=f"{voltage} V")
    assert (got["limited_by"] == "cell-count") == doubted
    if doubted:
        assert got["current"] == 0
        assert "cell-count" in cautions("charge-current", cells=cells, capacity="2000 mAh", rest_voltage=f"{voltage} V")


def test_cell_voltages_settle_the_count() -> None:
    assert charge(rest_voltage="8.4 V")["limited_by"] == "cell-count"
    assert charge(cell_voltages="2.8,2.8,2.8 V")["limited_by"] == "low-cell"


def test_life_is_doubted_down_to_its_own_lowest_voltage() -> None:
    # 5.2 V on three: 1.73 V each; 2.6 V each on two, between 2.5 and 3.65 V.
    assert charge(chemistry="life", rest_voltage="5.2 V")["limited_by"] == "cell-count"
    # On two lipo cells 2.6 V each would still be below 3.0 V, on one above 4.25 V.
    assert charge(chemistry="lipo", rest_voltage="5.2 V")["limited_by"] == "low-cell"


@pytest.mark.parametrize("state", [{"state_of_charge": 1}, {"rest_voltage": "12.6 V"}, {"rest_voltage": "12.7 V"},
                                   {"cell_voltages": "4.1,4.2,4.1 V"}])  # fmt: skip
def test_a_pack_at_or_above_its_end_voltage_is_full(state: dict[str, Any]) -> None:
    got = charge(**state)
    assert (got["current"], got["limited_by"]) == (0, "full")
    assert all(got[time] is None for time in TIMES)
    assert (got["charge_added"], got["energy_added"], got["supply_energy"]) == (0, 0, 0)


def test_a_cell_above_its_end_voltage_is_a_danger_and_one_at_it_is_not() -> None:
    above = reply("charge-current", **PACK, cell_voltages="4.19,4.22,4.19 V")["cautions"]
    assert ("overcharged", "danger") in {(entry["code"], entry["severity"]) for entry in above}
    assert "overcharged" not in cautions("charge-current", **PACK, cell_voltages="4.19,4.2,4.19 V")


def test_a_voltage_a_little_above_the_table_reads_as_full_and_more_is_out_of_range() -> None:
    assert charge(cell_voltages="4.25,4.2,4.2 V")["limited_by"] == "full"
    assert charge(cell_voltages="4.89,4.2,4.2 V")["limited_by"] == "full"
    assert refusals("charge-current", **PACK, cell_voltages="4.91,4.2,4.2 V") == {("cell_voltages", "out_of_range")}
    assert refusals("charge-current", **PACK, rest_voltage="14.8 V") == {("rest_voltage", "out_of_range")}


def test_a_lower_end_voltage_is_held_and_a_higher_one_refused() -> None:
    got = charge(end_cell_voltage="4.1 V", state_of_charge=0.2)
    assert got["end_voltage"] == pytest.approx(12.3)
    assert 0.85 < got["state_of_charge_end"] < 0.92
    assert charge(end_cell_voltage="4.1 V", cell_voltages="4.12,4.0,4.0 V")["limited_by"] == "full"
    assert refusals("charge-current", **PACK, end_cell_voltage="4.21 V") == {("end_cell_voltage", "out_of_range")}
    assert charge(chemistry="lihv", end_cell_voltage="4.35 V")["end_voltage"] == pytest.approx(13.05)


def test_a_rate_above_the_usual_one_without_a_label_is_answered_with_a_danger_first() -> None:
    question = PACK | {"rate": "2C"}
    assert charge(rate="2C")["current"] == pytest.approx(4)
    first = reply("charge-current", **question)["cautions"][0]
    assert (first["code"], first["severity"]) == ("rate-above-usual", "danger")
    assert first["text"] in spoken("charge-current", **question)
    assert "rate-above-usual" not in cautions("charge-current", **question, max_rate=2)
    assert "rate-above-usual" not in cautions("charge-current", **PACK, rate=1)
    assert "rate-above-usual" in cautions("charge-current", **PACK, chemistry="liion", rate=0.6)


def test_every_answer_says_never_to_leave_it_alone_and_to_follow_the_papers() -> None:
    for extra in ({}, {"condition": "wet"}, {"state_of_charge": 1}, {"temperature": "-5 °C"}, {"chemistry": "lead"}):
        codes = cautions("charge-current", **PACK, **extra)
        assert {"never-alone", "papers"} <= set(codes)
        assert reply("charge-current", **PACK, **extra)["answer"]["stop_temperature"] == {"value": 50, "unit": "°C"}


def test_time_available_cuts_the_charge_but_not_the_times() -> None:
    whole = charge(state_of_charge=0.2)
    part = charge(state_of_charge=0.2, time_available="30 min")
    assert [part[time] for time in TIMES] == [whole[time] for time in TIMES]
    assert part["charge_added"] == pytest.approx(1000)  # 30 min at 2 A, still at constant current
    assert part["state_of_charge_end"] == pytest.approx(0.7)
    assert part["supply_energy"] == pytest.approx(part["energy_added"] / 0.85)
    assert 11 < part["energy_added"] < 12.6  # 1 Ah between 11.2 and 12.6 V, resistance included
    none = charge(state_of_charge=0.2, time_available="0 min")
    assert (none["charge_added"], none["energy_added"], none["state_of_charge_end"]) == (0, 0, 0.2)
    long = charge(state_of_charge=0.2, time_available="600 min")
    for name in ("charge_added", "energy_added", "supply_energy", "state_of_charge_end"):
        assert long[name] == whole[name]


def test_the_two_times_make_the_whole() -> None:
    got = charge()
    assert got["time_total"] == pytest.approx(got["time_constant_current"] + got["time_constant_voltage"])
    assert min(got[time] for time in TIMES) > 0


def test_the_largest_current_that_flows_sets_the_peak() -> None:
    # From 95 % the voltage is reached at once: 4.2 V less U(0.95) over 30 mohm, below the 4 A asked.
    got = charge(cell_resistance="30 mΩ", state_of_charge=0.95, rate=2, max_rate=2)
    assert got["current"] == pytest.approx(4)
    assert got["time_constant_current"] == 0
    rest = 0.5 * (4.128071 + 4.148785)
    assert got["peak_power"] == pytest.approx(12.6 * (4.2 - rest) / 0.030, rel=1e-6)


def test_a_pack_that_takes_nothing_is_told_so_and_no_watts_are_promised() -> None:
    question = {"cells": 3, "capacity": "2250 mAh", "rest_voltage": "12.599 V"}
    assert answer("charge-current", **question)["charge_added"] == 0
    assert spoken("charge-current", **question).startswith(
        "Charged at 2.2 amperes, up to 12.6 volts, this lithium-polymer pack takes next to nothing from 12.6 volts at "
        "rest. Never"
    )


def test_a_charge_that_meets_its_taper_at_once_takes_nothing() -> None:
    got = charge(cell_resistance="30 mΩ", state_of_charge=0.995, taper=0.9)
    assert got["limited_by"] == "asked-rate"
    assert (got["time_total"], got["charge_added"]) == (0, 0)


def test_lead_has_a_current_but_no_times_and_says_so() -> None:
    question = {"chemistry": "lead", "cells": 6, "capacity": "7 Ah"}
    got = answer("charge-current", **question)
    assert got["current"] == pytest.approx(0.7)
    assert all(got[time] is None for time in TIMES)
    assert "lead" in reply("charge-current", **question)["sentence"]
    assert "lead-time" in cautions("charge-current", **question)


def test_cells_that_differ_end_with_the_highest_and_are_to_be_balanced() -> None:
    level = charge(cell_voltages="3.8,3.8,3.8 V")
    uneven = charge(cell_voltages="3.8,3.9,3.8 V")
    assert uneven["time_constant_current"] < level["time_constant_current"]
    assert uneven["charge_added"] < level["charge_added"]
    assert uneven["state_of_charge_end"] < 0.95  # of the least charged cell
    assert any("level" in entry["text"] or "balance" in entry["text"]
               for entry in reply("charge-current", **PACK, cell_voltages="3.8,3.9,3.8 V")["cautions"])  # fmt: skip


def test_the_count_of_cells_may_come_from_a_list_and_must_agree_with_it() -> None:
    told = answer("charge-current", capacity="2000 mAh", cell_voltages="3.8,3.8,3.8 V")
    assert told["end_voltage"] == pytest.approx(12.6)
    assert answer("charge-current", capacity=["2000 mAh"] * 2)["end_voltage"] == pytest.approx(8.4)
    wrong = refusals("charge-current", **PACK, cell_voltages="3.8,3.8 V")
    assert wrong == {("cells", "wrong_length"), ("cell_voltages", "wrong_length")}


def test_unlike_capacities_make_a_pack_of_the_smallest() -> None:
    assert charge(capacity=["2000 mAh", "1500 mAh", "2000 mAh"])["current"] == pytest.approx(1.5)


def test_a_state_is_told_once() -> None:
    wrong = refusals("charge-current", **PACK, state_of_charge=0.5, rest_voltage="11.4 V")
    assert wrong == {("state_of_charge", "conflict"), ("rest_voltage", "conflict")}


def test_a_discharged_pack_is_assumed_at_a_fifth() -> None:
    assert reply("charge-current", **PACK)["assumed"]["state_of_charge"] == 0.2
    assert charge() == charge(state_of_charge=0.2)


@pytest.mark.parametrize(("figure", "bound"), [("cells", 15), ("cells", 0), ("capacity", "9 mAh"), ("taper", 0.004),
                                               ("capacity", "201 Ah"), ("rate", 101), ("taper", 0.96)])  # fmt: skip
def test_beyond_the_bounds_is_out_of_range(figure: str, bound: Any) -> None:
    assert refusals("charge-current", **PACK | {figure: bound}) == {(figure, "out_of_range")}


@pytest.mark.parametrize(("figure", "bound"), [("cells", 14), ("capacity", "10 mAh"), ("capacity", "200 Ah"),
                                               ("rate", 100), ("taper", 0.005), ("taper", 0.95)])  # fmt: skip
def test_the_bounds_themselves_are_answered(figure: str, bound: Any) -> None:
    charge(**{"max_rate": 100, figure: bound})


def test_a_charge_too_short_to_be_seen_in_percent_tells_what_goes_in() -> None:
    pack = {"cells": 3, "capacity": "2200 mAh"}
    # 2.2 A for half a minute are 18.3 mAh.
    short = reply("charge-current", **pack, time_available="0:30")["sentence"]
    assert "In 30 seconds it takes in 18 milliampere hours only, from 20 percent charge" in short
    assert (
        "it gets to 36 percent from 20 percent" in reply("charge-current", **pack, time_available="10 min")["sentence"]
    )

"""Load-test, clause by clause, against a general-purpose fit, and what must hold of any readings."""

from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from reference.asking import answer, cautions, client, refusals, reply, spoken

from ampstead.cell.one.load_line import STUDENT_95, load_line

TWO = {"currents": "5,25 A", "voltages": "16.4,15.6 V"}  # 0.8 V for 20 A: 40 mΩ, 16.6 V at rest


def loaded(**question: Any) -> dict[str, Any]:
    return answer("load-test", **question)


def band(of: str, **question: Any) -> tuple[float, float]:
    exact = {"current_error": 0} | question  # the ammeter's part apart
    entry = next(entry for entry in reply("load-test", **exact)["accuracy"] if entry["of"] == of)
    return entry["low"]["value"], entry["high"]["value"]


def readings(*rows: tuple[float, Any], duration: str | None = None) -> list[dict[str, Any]]:
    made: list[dict[str, Any]] = []
    for current, voltage in rows:
        each = (
            {"cell_voltages": [f"{v} V" for v in voltage]} if isinstance(voltage, list) else {"voltage": f"{voltage} V"}
        )
        made.append({"current": f"{current} A"} | each | ({"duration": duration} if duration else {}))
    return made


def test_two_levels_give_the_resistance_between_them() -> None:
    got = loaded(**TWO)
    assert got["pack_resistance"] == pytest.approx(40)
    assert got["rest_voltage"] == pytest.approx(16.6)
    assert got["standard_error"] is None
    assert got["cell_resistances"] is None
    assert got["weakest_cell"] is None
    assert got["resistance_at_25C"] == pytest.approx(40)
    assert loaded(readings=readings((5, 16.4), (25, 15.6))) == got


@given(
    st.floats(3, 60),
    st.floats(0.001, 0.2),
    st.lists(st.floats(-50, 200), min_size=2, max_size=12, unique=True),
    st.floats(0, 0.05),
)
def test_readings_of_a_known_pack_give_it_back(rest: float, R: float, currents: list[float], lead: float) -> None:
    assume(np.ptp(currents) > 1)
    voltages = [rest + 20 - (R + lead) * current for current in currents]
    assume(min(voltages) > 0)
    got = loaded(
        currents=[f"{current:.9f} A" for current in currents],
        voltages=[f"{voltage:.12f} V" for voltage in voltages],
        lead_resistance=f"{lead} Ω",
    )
    assert got["pack_resistance"] == pytest.approx(1000 * R, rel=1e-6, abs=1e-6)
    assert got["rest_voltage"] == pytest.approx(rest + 20)
    assert got["standard_error"] == (None if len(currents) == 2 else pytest.approx(0, abs=1e-3))


@given(st.lists(st.tuples(st.floats(0, 100), st.floats(10, 17)), min_size=4, max_size=20))
def test_the_line_is_that_of_a_general_purpose_fit(rows: list[tuple[float, float]]) -> None:
    currents, voltages = (np.array(column) for column in zip(*rows, strict=True))
    assume(np.ptp(currents) > 5)
    line = load_line(currents, voltages)
    (slope, offset), covariance = np.polyfit(currents, voltages, 1, cov=True)
    assert line.resistance == pytest.approx(-slope, rel=1e-6, abs=1e-9)
    assert line.rest_voltage == pytest.approx(offset, rel=1e-6)
    assert line.resistance_error == pytest.approx(np.sqrt(covariance[0, 0]), rel=1e-6, abs=1e-9)
    assert line.rest_error == pytest.approx(np.sqrt(covariance[1, 1]), rel=1e-6, abs=1e-9)


@given(
    st.lists(st.floats(0, 100), min_size=2, max_size=8, unique=True),
    st.lists(st.floats(-1, 1), min_size=8, max_size=8),
    st.floats(0.001, 0.1),
)
def test_no_error_of_the_meter_moves_the_line_further_than_the_band(
    currents: list[float], errors: list[float], step: float
) -> None:
    assume(np.ptp(currents) > 1)
    exact = np.array([20 - 0.03 * current for current in currents])
    read = exact + step / 2 * np.array(errors[: len(currents)])
    true, line = load_line(currents, exact), load_line(currents, read)
    assert abs(line.resistance - true.resistance) <= true.resistance_reach * step / 2 * (1 + 1e-9) + 1e-12
    assert abs(line.rest_voltage - true.rest_voltage) <= true.rest_reach * step / 2 * (1 + 1e-9) + 1e-12
    # ... and some readings do move it that far.
    apart = np.array(currents) - np.mean(currents)
    worst = load_line(currents, exact - step / 2 * np.sign(apart))
    assert worst.resistance - true.resistance == pytest.approx(true.resistance_reach * step / 2)


def test_the_reach_is_what_single_readings_can_do_together() -> None:
    currents, exact = np.array([0.0, 1.0, 4.0, 30.0]), np.array([20.0, 19.97, 19.88, 19.1])
    line = load_line(currents, exact)
    moved = [load_line(currents, exact + np.eye(4)[place]) for place in range(4)]
    assert line.resistance_reach == pytest.approx(sum(abs(one.resistance - line.resistance) for one in moved))
    assert line.rest_reach == pytest.approx(sum(abs(one.rest_voltage - line.rest_voltage) for one in moved))


def test_ten_millivolts_at_ten_amperes_are_a_milliohm() -> None:
    two = {"currents": "10,20 A", "voltages": "3.75,3.70 V"}
    assert loaded(**two)["pack_resistance"] == pytest.approx(5)
    assert band("pack_resistance", **two) == pytest.approx((4, 6))
    assert band("pack_resistance", **two, meter_resolution="1 mV") == pytest.approx((4.9, 5.1))
    assert band("rest_voltage", **two) == pytest.approx((3.785, 3.815))
    assert "coarse-meter" in cautions("load-test", **two)
    assert "coarse-meter" not in cautions("load-test", **two, meter_resolution="1 mV")


def test_scatter_widens_the_band_by_students_t() -> None:
    # Three readings about 10 mΩ, off the line by 1, -2 and 1 times 10 mV: residue² 6e-4, S = 200 A².
    three = {"currents": "10,20,30 A", "voltages": "3.91,3.78,3.71 V", "meter_resolution": "0 mV"}
    error = 1000 * (6e-4 / 200) ** 0.5
    assert loaded(**three)["standard_error"] == pytest.approx(error)
    assert band("pack_resistance", **three) == pytest.approx((0, 10 + 12.706 * error), rel=1e-4)
    assert "scattered-readings" in cautions("load-test", **three)
    assert list(STUDENT_95) == sorted(STUDENT_95, reverse=True)


def test_cells_are_told_one_by_one_and_the_leads_are_not_in_them() -> None:
    rows = readings((5, [4.10, 4.11, 4.09]), (25, [3.98, 3.99, 3.83]))
    got = loaded(readings=rows)
    assert got["cell_resistances"] == pytest.approx([6, 6, 13])
    assert got["pack_resistance"] == pytest.approx(25)
    assert got["weakest_cell"] == 3
    assert got["rest_voltage"] == pytest.approx(12.3 + 0.125)
    assert loaded(readings=rows, lead_resistance="5 mΩ") == got
    assert "leads-not-counted" in cautions("load-test", readings=rows, lead_resistance="5 mΩ")
    assert "unlike-cells" in cautions("load-test", readings=rows)
    assert "number 3, has 13 milliohms" in reply("load-test", readings=rows)["sentence"]
    # Three cells of 10 mV steps each: three times the band of one reading of the pack.
    low, high = band("pack_resistance", readings=rows)
    assert (low, high) == pytest.approx((25 - 1.5, 25 + 1.5))


def test_leads_are_taken_off() -> None:
    assert loaded(**TWO, lead_resistance="6 mΩ")["pack_resistance"] == pytest.approx(34)
    assert loaded(**TWO, lead_resistance="6 mΩ")["rest_voltage"] == pytest.approx(16.6)
    assert "the leads taken off" in spoken("load-test", **TWO, lead_resistance="6 mΩ")


@given(st.floats(-10, 60))
def test_a_resistance_is_converted_to_25_degrees_with_its_band(celsius: float) -> None:
    question = TWO | {"temperature": f"{celsius} °C", "meter_resolution": "0 mV"}
    got = loaded(**question)
    per_kilojoule = 1000 / 8.314462618 * (1 / (celsius + 273.15) - 1 / 298.15)
    assert got["resistance_at_25C"] == pytest.approx(40 * np.exp(-20 * per_kilojoule), rel=1e-6)
    edges = sorted(40 * np.exp(-energy * per_kilojoule) for energy in (15, 25))
    assert band("resistance_at_25C", **question) == pytest.approx(tuple(edges), rel=1e-6)
    assert got["pack_resistance"] == pytest.approx(40)


def test_a_voltage_that_rises_with_the_current_is_a_finding() -> None:
    odd = {"currents": "5,25 A", "voltages": "15.6,16.4 V"}
    got = loaded(**odd)
    assert {name for name, value in got.items() if value is None} == set(got)
    assert reply("load-test", **odd)["accuracy"] == []
    assert spoken("load-test", **odd).startswith("Check the readings")
    assert cautions("load-test", **odd)[0] == "check-readings"
    assert "leads-too-large" in cautions("load-test", **TWO, lead_resistance="50 mΩ")
    flat = {"currents": "5,25 A", "voltages": "16,16 V"}
    assert spoken("load-test", **flat).startswith("Check the readings")
    assert loaded(**TWO, lead_resistance="50 mΩ")["pack_resistance"] is None


def test_a_cell_without_resistance_makes_no_list_of_cells() -> None:
    rows = readings((5, [4.10, 4.11, 4.00]), (25, [3.98, 3.99, 4.01]))
    got = loaded(readings=rows)
    assert got["pack_resistance"] == pytest.approx(11.5)
    assert (got["cell_resistances"], got["weakest_cell"]) == (None, None)
    assert cautions("load-test", readings=rows)[0] == "check-readings"


@given(
    st.lists(st.tuples(st.floats(-30, 100), st.floats(0, 60)), min_size=2, max_size=6, unique_by=lambda pair: pair[0]),
    st.floats(0, 200),
)
def test_no_resistance_and_no_voltage_is_ever_below_zero(rows: list[tuple[float, float]], lead: float) -> None:
    currents = [round(current, 3) for current, _ in rows]
    if max(currents) - min(currents) < 0.01:
        return
    question = {
        "currents": [f"{current} A" for current in currents],
        "voltages": [f"{volt} V" for _, volt in rows],
        "lead_resistance": f"{lead} mΩ",
    }
    got = reply("load-test", **question)
    for name in ("pack_resistance", "rest_voltage", "resistance_at_25C"):
        assert got["answer"][name] is None or got["answer"][name]["value"] > 0
    assert all(entry["low"]["value"] >= 0 for entry in got["accuracy"] if entry["of"] != "rest_voltage")


@pytest.mark.parametrize(("part", "low", "high"), [(0.03, 40 / 1.03, 40 / 0.97), (0.05, 40 / 1.05, 40 / 0.95)])
def test_an_ammeter_that_errs_makes_the_resistance_err_as_much(part: float, low: float, high: float) -> None:
    exact = {**TWO, "meter_resolution": "0 mV"}
    assert band("pack_resistance", **exact, current_error=part) == pytest.approx((low, high))
    # 2 to 5 percent: common practice, no published source.
    assert reply("load-test", **TWO)["assumed"]["current_error"] == 0.03


def test_fast_readings_are_said_to_be_smaller_and_by_how_much() -> None:
    told = next(c["text"] for c in reply("load-test", **TWO)["cautions"] if c["code"] == "fast-reading")
    assert "1 kilohertz" in told
    # 1.4 (1.2 to 2) times for the method, 1 + 0.5·(1 − e^(−1/3)) times for ten seconds.
    assert "1.6 times" in told
    assert "1.4 to 2.3 times" in told


@pytest.mark.parametrize(
    ("durations", "unequal", "method"),
    [
        (("10 s", "1 s"), False, "1s"),
        (("1 s", "1 s"), False, "1s"),
        (("10 s", "10 s"), False, "10s"),
        (("1 s", "10 s"), True, None),
        (("5 s", "1 s"), True, None),
        ((None, "10 s"), False, None),
    ],
)
def test_unlike_durations_are_told_but_for_those_of_the_standard(
    durations: tuple[str | None, ...], unequal: bool, method: str | None
) -> None:
    rows = readings((1, 16.4), (5, 16.2))
    for row, duration in zip(rows, durations, strict=True):
        row["duration"] = duration
    got = reply("load-test", readings=rows)
    codes = {entry["code"]: entry["text"] for entry in got["cautions"]}
    assert ("unequal-durations" in codes) is unequal
    assert codes.get("reading-as-method", "").endswith(f" {method}.") is (method is not None)
    assert got["answer"]["pack_resistance"]["value"] == pytest.approx(50)


def test_unlike_durations_widen_the_band() -> None:
    rows = readings((1, 16.4), (5, 16.2))
    exact = {"meter_resolution": "0 mV", "current_error": 0}
    assert reply("load-test", readings=rows, **exact)["accuracy"] == []
    rows[0]["duration"], rows[1]["duration"] = "1 s", "30 s"
    low, high = band("pack_resistance", readings=rows, meter_resolution="0 mV")
    # Felt after 1 s: 1.0164, after 30 s: 1.3161 of the first instant's; so 0.2 V are 5.564 A at the first instant's.
    first = 200 / (5 * 1.3161 - 1 * 1.0164)
    assert (low, high) == pytest.approx((first * 1.0164, 50), rel=1e-3)


def test_a_reading_at_rest_counts_and_is_told() -> None:
    question = {"currents": "0,20 A", "voltages": "16.6,15.8 V"}
    assert loaded(**question)["pack_resistance"] == pytest.approx(40)
    assert "reading-at-rest" in cautions("load-test", **question)
    assert "reading-at-rest" not in cautions("load-test", **TWO)


def test_the_order_of_the_readings_does_not_matter() -> None:
    assert loaded(currents="25,5 A", voltages="15.6,16.4 V") == loaded(**TWO)
    table = client().get("/v1/load-test.csv", query_string={"currents": "25,5 A", "voltages": "15.6,16.4 V"}).text
    assert table.splitlines()[1:] == ["5,16.4,16.4", "25,15.6,15.6"]


def test_what_tells_nothing_is_refused_by_name() -> None:
    assert refusals("load-test") == {("currents", "missing")}
    assert refusals("load-test", currents="5,25 A") == {("voltages", "missing")}
    assert refusals("load-test", voltages="16.4,15.6 V") == {("currents", "missing")}
    assert refusals("load-test", currents="5 A", voltages="16.4 V") == {("currents", "wrong_length")}
    assert refusals("load-test", currents="5,5 A", voltages="16.4,16 V") == {("currents", "out_of_range")}
    assert refusals("load-test", currents="5,5.0000000001 A", voltages="16.4,16 V") == {("currents", "out_of_range")}
    assert refusals("load-test", currents="1e-200 A,1e-9 A", voltages="16.4,16 V") == {("currents", "out_of_range")}
    lengths = {("currents", "wrong_length"), ("voltages", "wrong_length")}
    assert refusals("load-test", currents="5,25 A", voltages="16.4,16,15 V") == lengths
    rows = readings((5, 16.4), (25, 15.6))
    assert refusals("load-test", readings=rows, currents="5,25 A", voltages="1,2 V") == {
        ("readings", "conflict"),
        ("currents", "conflict"),
    }
    assert refusals("load-test", readings=rows, voltages="1,2 V") == {
        ("readings", "conflict"),
        ("voltages", "conflict"),
    }
    assert refusals("load-test", readings=rows[:1]) == {("readings", "wrong_length")}
    assert refusals("load-test", readings=[rows[0], rows[0]]) == {("readings", "out_of_range")}
    assert refusals("load-test", readings=[rows[0], {"current": "25 A"}]) == {("readings[1].voltage", "missing")}


def test_readings_of_unlike_kinds_are_refused_where_they_stand() -> None:
    mixed = readings((5, 16.4), (25, [4.0, 4.0]))
    assert refusals("load-test", readings=mixed) == {("readings[1].cell_voltages", "conflict")}
    uneven = readings((5, [4.0, 4.0]), (25, [3.9, 3.9, 3.9]))
    assert refusals("load-test", readings=uneven) == {("readings[1].cell_voltages", "wrong_length")}
    both = readings((5, 16.4), (25, 15.6))
    both[1]["cell_voltages"] = ["4 V"]
    assert refusals("load-test", readings=both) == {
        ("readings[1].voltage", "conflict"),
        ("readings[1].cell_voltages", "conflict"),
    }


@pytest.mark.parametrize(("worst", "seen"), [(3.85, True), (3.8501, False)])
def test_a_cell_of_half_again_the_usual_resistance_stands_out(worst: float, seen: bool) -> None:
    """15 mΩ beside 10 and 10: this project's own judgement."""
    rows = readings((0, [4.0, 4.0, 4.0]), (10, [3.9, 3.9, worst]))
    assert ("unlike-cells" in cautions("load-test", readings=rows)) == seen


@pytest.mark.parametrize(
    ("lasted", "method"),
    [(0.49, None), (0.5, "1s"), (1, "1s"), (3, "1s"), (3.01, "10s"), (10, "10s"), (30, "10s"), (30.1, None)],
)
def test_how_long_the_readings_lasted_tells_what_the_other_calculators_call_it(lasted: float, method: str) -> None:
    """This project's own judgement of what lies between the two methods of IEC 61960."""
    rows = [row | {"duration": f"{lasted} s"} for row in readings((5, 16.4), (25, 15.6))]
    told = {entry["code"]: entry["text"] for entry in reply("load-test", readings=rows)["cautions"]}
    said = told.get("reading-as-method", "")
    assert bool(said) == bool(method)
    assert not method or f"method {method}." in said


def test_a_meter_is_not_blamed_for_a_voltage_that_rises_far() -> None:
    rising = cautions("load-test", currents="10,20 A", voltages="15,15.5 V")
    assert "check-readings" in rising
    assert "coarse-meter" not in rising
    assert "coarse-meter" in cautions("load-test", currents="10,20 A", voltages="15,15 V")

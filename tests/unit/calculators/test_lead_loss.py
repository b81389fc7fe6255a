"""Lead-loss, clause by clause."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, cautions, client, refusals, reply, spoken

USUAL = {"gauge": "14 AWG", "length": "0.3 m", "current": "25 A"}
# IEC 60228 class 5, most ohm per km of plain copper at 20 °C; three pages agree, the standard itself was not read.
CLASS_5 = {0.5: 39.0, 0.75: 26.0, 1: 19.5, 1.5: 13.3, 2.5: 7.98, 4: 4.95, 6: 3.30, 10: 1.91}
# FAA AC 43.13-1B CHG 1, table 11-9: most ohm per 1000 ft of tin-plated wire at 20 °C (aircraft strandings).
TIN_PLATED = {24: 28.4, 22: 16.2, 20: 9.88, 18: 6.23, 16: 4.81, 14: 3.06, 12: 2.02, 10: 1.26, 8: 0.70}
AREAS = st.floats(0.05, 50)
CURRENTS = st.floats(0.1, 200)
LENGTHS = st.floats(0.01, 100)


def lead(**question: Any) -> dict[str, Any]:
    return answer("lead-loss", **USUAL | question)


@pytest.mark.parametrize("area", CLASS_5)
def test_ideal_copper_stays_below_what_flexible_wire_may_have_and_its_band_reaches_it(area: float) -> None:
    question = {"gauge": f"{area} mm²", "length": "1 km", "current": "1 A", "conductor_temperature": "20 °C"}
    got = reply("lead-loss", **question)
    a_wire = got["answer"]["resistance"]["value"] / 2 / 1000
    assert 0.84 * CLASS_5[area] < a_wire < CLASS_5[area]
    band = next(entry for entry in got["accuracy"] if entry["of"] == "resistance")
    assert band["low"]["value"] <= 2000 * a_wire
    assert band["high"]["value"] >= 2000 * CLASS_5[area] * 0.999


@pytest.mark.parametrize("gauge", TIN_PLATED)
def test_the_band_of_a_gauge_holds_aircraft_wire(gauge: int) -> None:
    got = reply("lead-loss", gauge=f"{gauge} AWG", length="1000 ft", current="1 A", conductor_temperature="20 °C")
    band = next(entry for entry in got["accuracy"] if entry["of"] == "resistance")
    assert band["low"]["value"] <= 2000 * TIN_PLATED[gauge] <= band["high"]["value"]


@pytest.mark.parametrize(
    ("text", "same"),
    [
        ("14AWG", "14 AWG"),
        ("awg 14", "14 AWG"),
        ("#14 awg", "14 AWG"),
        ("0000 AWG", "4/0 AWG"),
        ("AWG 00", "2/0 AWG"),
        ("0 AWG", "1/0 AWG"),
        ("2.5 mm2", "2.5 mm²"),
        ("2.5mm^2", "2.5 mm²"),
        ("0.025 cm²", "2.5 mm²"),
        ("2.50 mm²", "2.5 mm²"),
    ],
)
def test_one_wire_has_many_spellings(text: str, same: str) -> None:
    assert lead(gauge=text) == lead(gauge=same)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("14", "unit_missing"),
        ("2.5", "unit_missing"),
        ("41 AWG", "out_of_range"),
        ("5/0 AWG", "out_of_range"),
        ("00000 AWG", "out_of_range"),
        ("0/0 AWG", "out_of_range"),
        ("14.5 AWG", "not_a_number"),
        ("-1 AWG", "not_a_number"),
        ("AWG", "not_a_number"),
        ("14 AWG AWG", "not_a_number"),
        ("٤ AWG", "not_a_number"),
        ("14 mm", "wrong_dimension"),
        ("14 A", "wrong_dimension"),
        ("2,5 mm²", "not_a_number"),
        ("0 mm²", "out_of_range"),
        ("-2.5 mm²", "out_of_range"),
        ("2000 mm²", "out_of_range"),
        ("thick", "not_a_number"),
    ],
)
def test_a_gauge_that_cannot_be_read_is_refused_with_the_cure(text: str, code: str) -> None:
    assert refusals("lead-loss", **USUAL | {"gauge": text}) == {("gauge", code)}
    got = client().get("/v1/lead-loss", query_string=USUAL | {"gauge": text}).get_json()
    cure = "14 AWG" if code != "out_of_range" else "AWG" if "AWG" in text else "mm²"
    assert cure in got["errors"][0]["message"]


def test_every_fault_is_told_at_once() -> None:
    assert refusals("lead-loss", gauge="14", length="0 m", current="5") == {
        ("gauge", "unit_missing"),
        ("length", "out_of_range"),
        ("current", "unit_missing"),
    }


def test_without_a_voltage_no_part_and_no_gauge_are_told() -> None:
    got = lead()
    assert got["drop_fraction"] is None
    assert got["gauge_for_drop"] is None


def test_no_standard_gauge_may_keep_the_limit() -> None:
    got = lead(length="1 km", current="500 A", voltage="12 V")
    assert got["gauge_for_drop"] is None
    assert "shorten" in spoken("lead-loss", gauge="4/0 AWG", length="100 m", current="100 A", voltage="12 V")


GAUGES = [f"{n} AWG" for n in range(30, 0, -2)] + [f"{n}/0 AWG" for n in range(1, 5)]
METRIC = [f"{area} mm²" for area in (0.14, 0.25, 0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120)]


@given(
    volts=st.floats(3, 400),
    amperes=CURRENTS,
    metres=LENGTHS,
    limit=st.floats(0.001, 0.5),
    sizes=st.sampled_from([GAUGES, METRIC]),
)
def test_the_size_advised_keeps_drop_and_heat_and_the_next_thinner_sold_does_not(
    volts: float, amperes: float, metres: float, limit: float, sizes: list[str]
) -> None:
    question = {"length": f"{metres} m", "current": f"{amperes} A", "voltage": f"{volts} V", "drop_limit": limit}

    def keeps(size: str) -> bool:
        got = lead(**question, gauge=size)
        return bool(got["drop_fraction"] <= limit * (1 + 1e-8) and got["loss_per_metre"] <= 10 * (1 + 1e-8))

    size = lead(**question, gauge=sizes[3])["gauge_for_drop"]
    if size is None:
        assert not keeps(sizes[-1])
        return
    assert size in sizes
    assert keeps(size)
    assert size == sizes[0] or not keeps(sizes[sizes.index(size) - 1])


@given(area=AREAS, amperes=CURRENTS, metres=LENGTHS, factor=st.floats(1, 10), degrees=st.floats(-40, 150))
def test_loss_follows_from_drop_and_scales_as_ohm_and_joule_say(
    area: float, amperes: float, metres: float, factor: float, degrees: float
) -> None:
    def told(a: float, i: float, m: float) -> dict[str, Any]:
        return lead(gauge=f"{a} mm²", current=f"{i} A", length=f"{m} m", conductor_temperature=f"{degrees} °C")

    one = told(area, amperes, metres)
    assert one["drop"] == pytest.approx(amperes * one["resistance"] / 1000)
    assert one["loss_power"] == pytest.approx(amperes * one["drop"])
    assert one["loss_per_metre"] == pytest.approx(one["loss_power"] / metres)
    longer, harder, thicker = (
        told(area, amperes, factor * metres),
        told(area, factor * amperes, metres),
        told(factor * area, amperes, metres),
    )
    assert longer["drop"] == pytest.approx(factor * one["drop"])
    assert longer["loss_per_metre"] == pytest.approx(one["loss_per_metre"])
    assert longer["heating_rate"] == pytest.approx(one["heating_rate"])
    assert harder["loss_power"] == pytest.approx(factor**2 * one["loss_power"])
    assert harder["heating_rate"] == pytest.approx(factor**2 * one["heating_rate"])
    assert thicker["drop"] == pytest.approx(one["drop"] / factor)
    assert thicker["heating_rate"] == pytest.approx(one["heating_rate"] / factor**2)


@given(area=AREAS, amperes=CURRENTS, metres=LENGTHS)
def test_the_heat_of_a_second_warms_the_copper_by_its_mass(area: float, amperes: float, metres: float) -> None:
    got = lead(gauge=f"{area} mm²", current=f"{amperes} A", length=f"{metres} m")
    grams = 8.96 * area * 1e-2 * 2 * metres * 100  # g/cm³ times the volume of both conductors in cm³
    assert got["heating_rate"] == pytest.approx(got["loss_power"] / (grams * 0.385))


@given(cold=st.floats(-40, 150), warmer=st.floats(0, 50))
def test_warm_copper_never_costs_less(cold: float, warmer: float) -> None:
    one, other = (lead(conductor_temperature=f"{degrees} °C") for degrees in (cold, cold + warmer))
    assert other["drop"] >= one["drop"]
    assert other["heating_rate"] >= one["heating_rate"]


def test_a_thicker_gauge_costs_less_all_the_way() -> None:
    names = [f"{n} AWG" for n in range(40, 0, -1)] + [f"{n}/0 AWG" for n in range(1, 5)]
    drops = [lead(gauge=name)["drop"] for name in names]
    assert drops == sorted(drops, reverse=True)


def test_heat_is_warned_of_from_ten_watts_a_metre() -> None:
    heat = lead()["loss_per_metre"]
    below, above = (f"{25 * (10 / heat) ** 0.5 * part} A" for part in (0.999, 1.001))
    assert "lead-hot" not in cautions("lead-loss", **USUAL | {"current": below})
    assert "lead-hot" in cautions("lead-loss", **USUAL | {"current": above})


@pytest.mark.parametrize(("asked", "advised"), [("22 AWG", "10 AWG"), ("0.5 mm²", "4 mm²")])
def test_a_size_thin_enough_by_drop_but_hot_is_never_recommended(asked: str, advised: str) -> None:
    # 30 A, 10 W/m both ways: 5.56 milliohm a metre at 50 °C, 4.97 at 20 °C, of one conductor. Tables: 12 AWG 5.21,
    # 10 AWG 3.28; 2.5 mm² 6.9, 4 mm² 4.3 of solid copper. By drop alone 22 AWG would do.
    question = USUAL | {"length": "0.1 m", "voltage": "14.8 V", "current": "30 A", "gauge": asked}
    got = reply("lead-loss", **question)
    assert got["answer"]["drop_fraction"] < 0.03
    assert got["answer"]["gauge_for_drop"] == advised
    assert "lead-hot" in [entry["code"] for entry in got["cautions"]]
    assert "cool take" in got["sentence"]


def test_a_question_in_square_millimetres_is_answered_in_them() -> None:
    got = reply("lead-loss", gauge="1.5 mm²", length="5 m", current="12 A", voltage="12.5 V")
    # 0.375 V at 12 A over 10 m: 3.13 milliohm a metre at 50 °C, 2.79 at 20 °C; solid copper has 2.87 at 6 mm².
    assert got["answer"]["gauge_for_drop"] == "10 mm²"
    assert got["sentence"].endswith("take 10 square millimetre wire or thicker.")


def test_there_is_no_verdict_on_ampacity_and_it_says_why() -> None:
    got = reply("lead-loss", **USUAL)
    assert "no-ampacity" in [entry["code"] for entry in got["cautions"]]
    assert not [name for name in got["answer"] if "ampacity" in name or "safe" in name]


def test_a_lead_that_would_lose_the_whole_voltage_is_a_finding() -> None:
    question = {"gauge": "26 AWG", "length": "100 m", "current": "8 A", "voltage": "12.6 V"}
    got = reply("lead-loss", **question)
    assert got["answer"]["drop_fraction"] > 1
    assert got["cautions"][0]["code"] == "lead-impossible"
    assert "cannot flow" in got["sentence"]


@pytest.mark.parametrize("gauge", ["16 AWG", "1.5 mm²"])
def test_a_lead_that_cannot_carry_the_current_still_says_which_wire_would(gauge: str) -> None:
    question = {"gauge": gauge, "length": "12 m", "current": "62 A", "voltage": "12.6 V"}
    got = reply("lead-loss", **question)
    assert got["answer"]["drop_fraction"] > 1
    advised = got["answer"]["gauge_for_drop"]
    size = advised.split(" ")[0]
    assert f" take {size} " in got["sentence"].replace(" aught", "/0")
    there = reply("lead-loss", **question | {"gauge": advised})
    assert there["answer"]["drop_fraction"] <= 0.03
    # None does where the lead is too long for any that is sold.
    far = reply("lead-loss", **question | {"length": "900 m"})
    assert far["answer"]["gauge_for_drop"] is None
    assert far["sentence"].endswith("shorten it or draw less.")


def test_the_table_holds_the_wire_asked_for_among_its_neighbours() -> None:
    rows = client().get("/v1/lead-loss.csv", query_string=USUAL).text.splitlines()
    assert rows[0] == "gauge,area [mm²],resistance [mΩ],drop [V],loss_per_metre [W/m],heating_rate [K/s]"
    table = {row.split(",")[0]: [float(value) for value in row.split(",")[1:]] for row in rows[1:]}
    assert list(table) == ["8 AWG", "10 AWG", "12 AWG", "14 AWG", "16 AWG", "18 AWG", "20 AWG"]
    got = lead()
    assert table["14 AWG"][1:] == pytest.approx(
        [got[n] for n in ("resistance", "drop", "loss_per_metre", "heating_rate")]
    )
    odd = client().get("/v1/lead-loss.csv", query_string=USUAL | {"gauge": "2.5 mm²"}).text
    assert [row.split(",")[0] for row in odd.splitlines()[1:]][3:5] == ["2.5 mm²", "1.5 mm²"]


@pytest.mark.parametrize("gauge", ["4/0 AWG", "40 AWG", "0.001 mm²", "1000 mm²"])
def test_the_picture_is_drawn_to_the_ends_of_the_range(gauge: str) -> None:
    got = client().get("/v1/lead-loss.svg", query_string=USUAL | {"gauge": gauge, "voltage": "12 V"})
    assert got.status_code == 200
    assert "(asked)" in got.text


def test_heat_that_nobody_feels_has_no_figure() -> None:
    small = reply("lead-loss", gauge="12 AWG", length="0.1 m", current="0.1 A")["sentence"]
    assert "turns next to nothing into heat, both conductors counted and taken at 50 degrees." in small
    assert "watts a metre" in reply("lead-loss", gauge="12 AWG", length="0.6 m", current="62 A")["sentence"]


def test_a_lead_that_would_burn_before_anybody_reacts_is_not_offered_for_short_bursts() -> None:
    # 0.25 mm2 at 14 A: rho J^2/(c rho_m) with IEC 60028 copper at 50 degrees, 385 J/kgK and 8.96 g/cm3.
    heating = (1 + 0.00393 * 30) / 58e6 * (14 / 0.25e-6) ** 2 / (385 * 8960)
    assert 10 < heating < 20
    got = reply("lead-loss", gauge="0.25 mm²", length="0.35 m", current="14 A")
    assert got["answer"]["heating_rate"]["value"] == pytest.approx(heating, rel=1e-3)
    assert next(each["code"] for each in got["cautions"]) == "lead-fierce"
    assert "burst" not in spoken("lead-loss", gauge="0.25 mm²", length="0.35 m", current="14 A")
    assert "lead-fierce" not in cautions("lead-loss", gauge="0.25 mm²", length="0.35 m", current="10 A")


def test_a_current_that_cannot_flow_is_not_to_be_drawn_in_bursts() -> None:
    asked = {"gauge": "16 AWG", "length": "1 km", "current": "23 A"}
    for voltage, bursts in (("11.1 V", False), (None, True)):
        found = reply("lead-loss", **asked, voltage=voltage)["cautions"]
        (text,) = (entry["text"] for entry in found if entry["code"] == "lead-hot")
        assert ("bursts" in text) is bursts

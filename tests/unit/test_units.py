"""Quantities carry their unit, in and out; pint is the judge of what a unit is."""

import math
import time
from contextlib import suppress
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, client, refusals, reply

from ampstead.units import DIMENSIONS, Dimension, Unreadable, converted, number, quantity

PINT = pint.UnitRegistry()
# Names of the trade and of a thermometer that pint has for something else, or not at all.
OWN = {
    "current": {"amps": "ampere"},
    "temperature": {"C": "degC", "F": "degF"},
    "temperature rise": {"C": "delta_degC", "F": "delta_degF", "°C": "delta_degC", "°F": "delta_degF",
                         "degC": "delta_degC", "degF": "delta_degF"},
    "cross-section": {"mm2": "mm**2", "cm2": "cm**2", "m2": "m**2"},
    "cooling": {f"{prefix}W/°C": f"{prefix}W/delta_degC" for prefix in ("", "k", "m", "µ", "u")},
}  # fmt: skip
NAMED = [(dimension, name) for dimension in DIMENSIONS.values() for name in dimension.scales]
LARGEST_WAIT = 0.050


def shown(value: float, unit: str) -> dict[str, Any]:
    return {"value": converted(value, unit), "unit": unit}


def code(text: object, unit: str) -> str:
    with pytest.raises(Unreadable) as caught:
        quantity(text, DIMENSIONS[unit])
    return caught.value.code


@pytest.mark.parametrize(("dimension", "name"), NAMED, ids=[f"{d.name}-{name}" for d, name in NAMED])
@pytest.mark.parametrize("size", [1.0, -3.7, 1250.0])
def test_every_accepted_unit_is_what_pint_makes_of_it(dimension: Dimension, name: str, size: float) -> None:
    meant = OWN.get(dimension.name, {}).get(name, name)
    si = "delta_degC" if dimension.name == "temperature rise" and "delta" in meant else dimension.si
    expected = PINT.Quantity(size, meant).to(si).magnitude
    assert quantity(f"{size} {name}", dimension) == pytest.approx(float(expected), rel=1e-12)
    assert quantity(f"{size}{name}", dimension) == quantity({"value": size, "unit": name}, dimension)


@pytest.mark.parametrize(
    ("unit", "names"),
    [
        ("A", "A kA mA µA"),
        ("V", "V kV mV µV"),
        ("mΩ", "Ω kΩ mΩ µΩ ohm kohm mohm milliohm"),
        ("mAh", "Ah kAh mAh µAh"),
        ("W", "W kW mW µW"),
        ("Wh", "Wh kWh mWh µWh"),
        ("°C", "°C degC C °F degF F K"),
        ("K", "K"),
        ("g", "g kg mg"),
        ("m", "m km mm µm cm"),
        ("mm²", "mm² m² mm2"),
        ("W/K", "W/K mW/K kW/K"),
        ("W/m", "W/m mW/m kW/m"),
        ("min", "min s h"),
        ("s", "s ms min h"),
        ("mV/K", "V/K mV/K µV/K"),
        ("K/s", "K/s mK/s"),
        ("mV/day", "V/day mV/day µV/day"),
    ],
)
def test_the_units_of_the_contract_are_read(unit: str, names: str) -> None:
    for name in names.split():
        quantity(f"1 {name}", DIMENSIONS[unit])


def test_every_answers_unit_is_read_back_and_published() -> None:
    published = client().get("/v1/").get_json()
    text = str(published) + str(client().get("/openapi.json").get_json())
    for unit, dimension in DIMENSIONS.items():
        assert quantity(f"1 {unit}", dimension) == pytest.approx(quantity(shown(quantity(f"1 {unit}", dimension), unit),
                                                                         dimension))  # fmt: skip
        for name in dimension.scales:
            assert name in text


@pytest.mark.parametrize(("lower", "right", "unit"), [("2250 mah", "2250 mAh", "mAh"), ("2.25ah", "2.25 Ah", "mAh"),
                                                      ("24 wh", "24 Wh", "Wh"), ("8.4 v", "8.4 V", "V"),
                                                      ("3 a", "3 A", "A"), ("15 w", "15 W", "W"),
                                                    ("2250 MAH", "2250 mAh", "mAh"), ("38AH", "38 Ah", "mAh"),
                                                    ("9 mOhm", "9 mΩ", "mΩ"), ("9 MOHM", "9 mΩ", "mΩ"),
                                                    ("7 MIN", "7 min", "min"),
                                                    ("180 WATTS", "180 W", "W")])  # fmt: skip
def test_another_case_of_letters_is_read_where_it_is_plain(lower: str, right: str, unit: str) -> None:
    assert quantity(lower, DIMENSIONS[unit]) == quantity(right, DIMENSIONS[unit])


@pytest.mark.parametrize(("text", "unit"), [("15 mw", "W"), ("15 MV", "min"), ("7 MΩ", "V")])
def test_case_counts_where_it_could_mean_two_things(text: str, unit: str) -> None:
    assert code(text, unit) == "wrong_dimension"


@pytest.mark.parametrize(("text", "unit"), [("2250 MAh", "mAh"), ("9 MΩ", "mΩ"), ("9 MOhm", "mΩ"), ("3 MA", "A")])
def test_a_capital_m_is_never_taken_for_milli_where_it_may_mean_mega(text: str, unit: str) -> None:
    with suppress(Unreadable):
        assert quantity(text, DIMENSIONS[unit]) > 1e6


@pytest.mark.parametrize(("text", "seconds"), [("6:30", 390), ("0:45", 45), ("90:00", 5400), (" 7:05 ", 425),
                                               ("6:30 min", 390)])  # fmt: skip
def test_minutes_and_seconds_are_read_as_a_time(text: str, seconds: float) -> None:
    for unit in ("min", "s"):
        assert quantity(text, DIMENSIONS[unit]) == pytest.approx(seconds)


@pytest.mark.parametrize(("text", "unit"), [("6:60", "min"), ("6:3", "min"), ("-6:30", "min"), ("1:06:30", "min"),
                                            ("6:30 h", "min"), (":30", "s"), ("6:30", "V")])  # fmt: skip
def test_what_is_no_minutes_and_seconds_is_refused(text: str, unit: str) -> None:
    assert code(text, unit) in {"not_a_number", "wrong_dimension"}


@pytest.mark.parametrize(("one", "other", "unit"), [
    ("7 m\u03a9", "7 m\u2126", "mΩ"),
    ("700 \u00b5\u03a9", "700 \u03bc\u2126", "mΩ"),
    ("700 \u00b5V", "700 \u03bcV", "V"),
    ("2.5 mm\u00b2", "2.5 mm2", "mm²"),
    ("25 \u00b0C", "25 \u2103", "°C"),
    ("2.25\u00a0Ah", "2.25 Ah", "mAh"),
    ("\u22125 °C", "-5 °C", "°C"),
])  # fmt: skip
def test_both_code_points_are_read(one: str, other: str, unit: str) -> None:
    assert quantity(one, DIMENSIONS[unit]) == quantity(other, DIMENSIONS[unit])


def test_answers_are_written_with_the_contracts_code_points() -> None:
    assert "m\u03a9" in DIMENSIONS
    assert "mm\u00b2" in DIMENSIONS
    assert "\u00b0C" in DIMENSIONS
    assert not {"\u2126", "\u03bc"} & set("".join(DIMENSIONS))


@pytest.mark.parametrize(
    ("bare", "cure"),
    [("2250", "2250"), (2250, "2250"), (2250.0, "2250"), ("0", "0"), (0, "0"), ({"value": 1150}, "1150"),
     ({"value": 3700, "unit": ""}, "3700"), ({"value": 38.5, "unit": None}, "38.5"), (" 4900 ", "4900"),
     ("1e3", "1000")],
)  # fmt: skip
def test_a_bare_number_is_refused_with_the_number_that_was_read(bare: Any, cure: str) -> None:
    with pytest.raises(Unreadable) as caught:
        quantity(bare, DIMENSIONS["mAh"])
    assert caught.value.code == "unit_missing"
    assert caught.value.message == f'needs a unit: write "{cure} mAh"'


def test_the_cure_names_the_input() -> None:
    got = client().post("/v1/wattage", json={"cells": 3, "capacity": 2250}).get_json()
    assert got["errors"] == [{"field": "capacity", "code": "unit_missing",
                              "message": 'capacity needs a unit: write "2250 mAh"'}]  # fmt: skip


@pytest.mark.parametrize("text", ["8100 C", "8.1 kC", "8100 c", "8100C", "1 mC", "1 nC", "1 µC", "1 MC"])
def test_c_is_no_unit_of_charge(text: str) -> None:
    assert code(text, "mAh") == "wrong_dimension"


def test_25_c_is_degrees_in_a_temperature_field() -> None:
    for text in ("25 C", "25C", "25 °C", "77 °F", "77 degF", "298.15 K", {"value": 25, "unit": "C"}):
        assert quantity(text, DIMENSIONS["°C"]) == pytest.approx(298.15)


@pytest.mark.parametrize("text", ["10 dBm", "2 dBW", "20 degRe", "3 Np", "25 degC*1", "25 °C/m"])
def test_a_unit_that_is_no_straight_factor_is_never_taken_for_one(text: str) -> None:
    for unit in DIMENSIONS:
        assert code(text, unit) == "wrong_dimension"


def test_a_wrong_dimension_says_what_was_read_and_what_is_wanted() -> None:
    with pytest.raises(Unreadable) as caught:
        quantity("2250 mV", DIMENSIONS["mAh"])
    assert caught.value.code == "wrong_dimension"
    for words in ("a charge", "2250 mAh", "a voltage"):
        assert words in caught.value.message


@pytest.mark.parametrize(("text", "unit"), [("2,25 Ah", "mAh"), ("-2,25 Ah", "mAh"), ("8,4V", "V"), ("2,5 mm²", "mm²"),
                                            ("2250,5 mAh", "mAh"), ("0,5 min", "min")])  # fmt: skip
def test_a_decimal_comma_is_refused_with_a_hint(text: str, unit: str) -> None:
    with pytest.raises(Unreadable) as caught:
        quantity(text, DIMENSIONS[unit])
    assert caught.value.code == "not_a_number"
    assert "decimal point" in caught.value.message


@pytest.mark.parametrize(("text", "unit", "cure"), [
    ("11,4V", "V", '"11.4V", with a decimal point'),
    ("1,480mAh", "mAh", '"1480mAh", or "1.480mAh", with a decimal point'),
    ("0,480 Ah", "mAh", '"0.480 Ah", with a decimal point'),
])  # fmt: skip
def test_a_comma_is_cured_with_the_figure_that_was_told(text: str, unit: str, cure: str) -> None:
    with pytest.raises(Unreadable) as caught:
        quantity(text, DIMENSIONS[unit])
    assert caught.value.message == f'has a comma in "{text}"; write {cure}'


def test_a_comma_parts_a_list_where_every_element_has_its_unit_or_there_are_three() -> None:
    pack = {"cells": 2, "current": "1 A"}
    assert answer("sag", **pack, capacity="1 Ah,2 Ah", duration="0 s")["weakest_cell"] == 1
    assert refusals("sag", **pack, capacity="2,25 Ah") == {("capacity", "not_a_number")}
    assert refusals("sag", **pack, cell_resistance="7,3 mΩ") == {("cell_resistance", "not_a_number")}
    for written in ("8.5,9,14 mohm", "8.5 mΩ,9 mΩ,14 mΩ", "8.5mohm,9,14mohm"):
        read = reply("sag", cells=3, current="23 A", capacity="2250 mAh", cell_resistance=written)["question"]
        assert [each["value"] for each in read["cell_resistance"]] == pytest.approx([8.5, 9, 14])
    assert answer("balance-need", cell_voltages="3.86,3.91 V")["pack_voltage"] == pytest.approx(7.77)


@pytest.mark.parametrize(
    "text",
    ["nan mAh", "inf mAh", "-inf mAh", "Infinity mAh", "1e400 mAh", "2250 mAh; 5", "2250 mAh\x005", "\x00", "",
     "mAh", "2,250 mAh", "2.250,5 mAh", "2_250 mAh", "2250 #mAh", "2250 m**9**9**7", "2250 9**9**7", "2250 mAh mAh",
     "2250 (mAh)", "2250 mAh+mAh", "2250 mAh-1", "0x10 mAh", "2250 mAh\n5 mAh", "١٣٠٠ mAh", "１３００ mAh", "2 250 mAh",
     "1.3.0 mAh", "--5 mAh", "2250 " + "m" * 41, "2250 " + "m*" * 19 + "m", "2250 " + "m" * 5000, "9" * 5000 + " mAh",
     "2250 m^99", "2250 mAh^0", "2250 delta_degC", "2250 pi", "2250 dimensionless", "2250 %", "2250 mAh/0",
     "2250 __import__", "2250 lambda", "2250 A*s*A/A/A*A", "1e5", "2250 mAh²", "½ Ah", "2250 °C"],
)  # fmt: skip
def test_odd_text_is_refused_quickly(text: str) -> None:
    started = time.perf_counter()
    assert code(text, "mAh") in {"not_a_number", "wrong_dimension", "unit_missing"}
    assert time.perf_counter() - started < LARGEST_WAIT


@pytest.mark.parametrize("value", [True, False, None, [], {}, [1], {"value": True, "unit": "mAh"},
                                   {"value": [1], "unit": "mAh"}, {"value": 1, "unit": 5}, {"value": 1, "units": "mAh"},
                                   {"value": 1, "unit": "mAh", "more": 2}, math.nan, math.inf, 10**400,
                                   {"value": "nan", "unit": "mAh"}, {"value": 1e308, "unit": "kAh"}])  # fmt: skip
def test_odd_values_are_refused(value: Any) -> None:
    code(value, "mAh")


def test_a_unit_of_forty_characters_is_the_longest() -> None:
    longest = "milliampere*seconds*ampere/second/ampere"
    assert len(longest) == 40
    assert quantity(f"1 {longest}", DIMENSIONS["A"]) == pytest.approx(1e-3)
    with pytest.raises(Unreadable, match="40 characters"):
        quantity({"value": 1, "unit": "A" * 41}, DIMENSIONS["A"])


@pytest.mark.parametrize("rate", ["1.5C", "1.5 C", "1.5", 1.5, " 1.5C "])
def test_a_rate_takes_the_trades_c(rate: Any) -> None:
    assert reply("wattage", cells=2, capacity="1 Ah", rate=rate)["question"]["rate"] == 1.5


@pytest.mark.parametrize("depth", ["80 %", "80%", 0.8, "0.8"])
def test_a_fraction_takes_percent(depth: Any) -> None:
    got = reply("safe-draw", cells=2, capacity="1 Ah", cell_resistance="9 mΩ", depth=depth)
    assert got["question"]["depth"] == pytest.approx(0.8)


@pytest.mark.parametrize(("cells", "read"), [(3, 3), (3.0, 3), ("3", 3), ("3.0", 3), (" 3 ", 3)])
def test_a_count_is_a_whole_number_in_any_form(cells: Any, read: int) -> None:
    assert reply("wattage", cells=cells, capacity="1 Ah")["question"]["cells"] == read


@pytest.mark.parametrize("cells", [2.7, "2.7", True, "three", "3 cells", "1e400", "0x3", "٣", [3]])
def test_what_is_no_whole_number_is_refused(cells: Any) -> None:
    assert refusals("wattage", cells=cells, capacity="1 Ah") == {("cells", "not_a_number")}


def test_null_and_empty_text_count_as_not_given() -> None:
    plain = answer("wattage", cells=2, capacity="1 Ah")
    assert answer("wattage", cells=2, capacity="1 Ah", rate=None, supply_voltage="", current=" ") == plain
    assert refusals("wattage", cells=None, capacity="1 Ah")


moderate = st.floats(1e-9, 1e9) | st.floats(-1e9, -1e-9)
units = st.sampled_from(NAMED)


@given(size=moderate, named=units)
def test_a_number_with_any_accepted_unit_comes_back_as_it_was(size: float, named: tuple[Dimension, str]) -> None:
    dimension, name = named
    value = quantity(f"{size!r} {name}", dimension)
    line = dimension.scales[name]
    assert value == pytest.approx(size * line.factor + line.offset, rel=1e-14)
    assert quantity(shown(value, dimension.unit), dimension) == pytest.approx(value, rel=1e-13, abs=1e-12)


@given(size=st.floats(-1e300, 1e300), unit=st.sampled_from(list(DIMENSIONS)))
def test_any_finite_number_is_shown_as_it_was_asked(size: float, unit: str) -> None:
    value = quantity(f"{size!r} {unit}", DIMENSIONS[unit])
    assert converted(value, unit) == pytest.approx(size, rel=1e-12, abs=1e-9 if unit == "°C" else 1e-50)


@given(text=st.text(max_size=80), unit=st.sampled_from(list(DIMENSIONS)))
def test_arbitrary_text_raises_nothing_but_a_refusal(text: str, unit: str) -> None:
    for tried in (text, f"1 {text}", {"value": 1, "unit": text}, {"value": text, "unit": unit}):
        with suppress(Unreadable):
            assert math.isfinite(quantity(tried, DIMENSIONS[unit]))
    with suppress(Unreadable):
        assert math.isfinite(number(text))


@given(text=st.from_regex(r"[A-Za-zµΩ°*/^1-9]{1,12}", fullmatch=True), unit=st.sampled_from(list(DIMENSIONS)))
def test_whatever_is_read_as_a_unit_is_what_pint_makes_of_it(text: str, unit: str) -> None:
    dimension = DIMENSIONS[unit]
    try:
        one, two = (quantity({"value": size, "unit": text}, dimension) for size in (1, 2))
    except Unreadable:
        return
    if text not in dimension.scales and text.lower() not in {name.lower() for name in dimension.scales}:
        assert two == pytest.approx(2 * one)


@pytest.mark.parametrize("dimension", DIMENSIONS.values(), ids=lambda dimension: dimension.name)
def test_a_few_units_are_offered_and_each_is_read(dimension: Dimension) -> None:
    assert 2 <= len(dimension.offered) <= 4
    assert dimension.offered[0] == dimension.unit
    for unit in dimension.offered:
        meant = unit.replace("°", "delta_deg") if dimension.name == "temperature rise" else unit.replace("°", "deg")
        expected = PINT.Quantity(3.0, meant.replace("²", "**2").replace("V/day", "V/d")).to(
            "delta_degC" if dimension.name == "temperature rise" and "delta" in meant else dimension.si
        )
        assert math.isclose(quantity(f"3 {unit}", dimension), expected.magnitude, rel_tol=1e-12)

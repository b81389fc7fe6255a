"""Numbers and units as a phone speaks them: nothing that speech mangles."""

import re

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from reference.asking import client, spoken

from ampstead import words

MANGLED = re.compile(r"[ΩΩ°µμ²³×·±−≤≥→<>%$€#*_^~|/\\=+]|[0-9]e[-+]?[0-9]|(?<![a-z])-[0-9]|\bnan\b|\binf\b")
SPEAKERS: tuple[words.Speaker, ...] = (
    words.amperes, words.volts, words.millivolts, words.watts, words.milliohms, words.ohms, words.milliampere_hours,
    words.watt_hours, words.degrees, words.warming, words.days, words.percent, words.rate,
)  # fmt: skip


@pytest.mark.parametrize(
    ("said", "heard"),
    [
        (words.amperes(2.25), "2.25 amperes"),
        (words.amperes(1.0), "1 ampere"),
        (words.ohms(18.04), "18 ohms"),
        (words.amperes(0.9999), "1 ampere"),
        (words.amperes(42.824), "42.8 amperes"),
        (words.amperes_to_set(2.25), "2.2 amperes"),
        (words.amperes_to_set(2.2999999999), "2.3 amperes"),
        (words.amperes_to_set(0.575), "0.57 amperes"),
        (words.amperes_to_set(0.0199), "0.019 amperes"),
        (words.volts(8.4), "8.4 volts"),
        (words.volts(10.395), "10.4 volts"),
        (words.volts(10.394999999999998), "10.4 volts"),
        (words.volts(1.0), "1 volt"),
        (words.volts(12.6), "12.6 volts"),
        (words.volts(100.0), "100 volts"),
        (words.volts(-0.001), "0 volts"),
        (words.volts(-2.5), "minus 2.5 volts"),
        (words.millivolts(0.03), "30 millivolts"),
        (words.watts(385.00000000000006), "385 watts"),
        (words.watts(100000), "100000 watts"),
        (words.watts(123456), "123000 watts"),
        (words.milliohms(0.028), "28 milliohms"),
        (words.milliampere_hours(2.25 * 3600), "2250 milliampere hours"),
        (words.milliampere_hours(1.036 * 3600), "1040 milliampere hours"),
        (words.milliampere_hours(0.4 * 3600), "400 milliampere hours"),
        (words.milliampere_hours(23.75 * 3600, "down"), "23.7 ampere hours"),
        (words.span(9.94 * 3600, 10.2 * 3600, words.milliampere_hours), "9940 milliampere hours to 10.2 ampere hours"),
        (words.span(11 * 3600, 12 * 3600, words.milliampere_hours), "11 to 12 ampere hours"),
        (words.degrees(298.15), "25 degrees"),
        (words.degrees(263.15), "minus 10 degrees"),
        (words.degrees(273.1), "0 degrees"),
        (words.percent(0.2), "20 percent"),
        (words.percent(1.0), "100 percent"),
        (words.percent(0.9999), "100 percent"),
        (words.percent(0.00001), "0.001 percent"),
        (words.number(0), "0"),
        (words.number(0.00001), "0.00001"),
        (words.number(-5), "minus 5"),
        (words.number(12.86), "12.9"),
        (words.duration(0.5), "0.5 seconds"),
        (words.duration(1), "1 second"),
        (words.duration(10), "10 seconds"),
        (words.duration(3300), "55 minutes"),
        (words.duration(7200), "2 hours"),
        (words.duration(7260), "2 hours and 1 minute"),
        (words.duration(7500), "2 hours and 5 minutes"),
        (words.between(3000, 4200), "50 to 70 minutes"),
        (words.between(0, 900), "up to 15 minutes"),
        (words.between(37.6, 45.9), "37 to 46 seconds"),
        (words.between(85, 130), "85 seconds to 3 minutes"),
        (words.between(7200, 14400), "2 to 4 hours"),
        (words.rate(1), "1 C"),
        (words.rate(0.5), "0.5 C"),
        (words.count(1, "cell"), "one cell"),
        (words.count(2, "cell"), "two cells"),
        (words.count(0, "cell"), "no cells"),
        (words.count(14, "cell"), "14 cells"),
        (words.listed(["a"]), "a"),
        (words.listed(["a", "b"]), "a and b"),
        (words.listed(["a", "b", "c"]), "a, b and c"),
        (words.capitalised("tX 16"), "TX 16"),
        (words.capitalised("ß 2"), "ß 2"),
        (words.sentences("A.", None, "", "B."), "A. B."),
        (words.degrees(274.15), "1 degree"),
        (words.degrees(272.15), "minus 1 degree"),
        (words.degrees(272.9), "0 degrees"),
        (words.days(1), "1 day"),
        (words.metres(0.35), "0.35 metres"),
        (words.watt_hours(3600), "1 watt hour"),
        (words.warming(10.4), "10 degrees"),
        (words.amperes(2.349, "down"), "2.34 amperes"),
        (words.amperes(2.341, "up"), "2.35 amperes"),
        (words.amperes(2.35, "down"), "2.35 amperes"),
        (words.amperes(0.1 + 0.2, "up"), "0.3 amperes"),
        (words.volts(1.7499, "down"), "1.74 volts"),
        (words.volts(-0.001, "down"), "minus 0.01 volts"),
        (words.volts(12.601, "up"), "12.61 volts"),
        (words.millivolts(0.0309, "down"), "30 millivolts"),
        (words.millivolts(0.0301, "up"), "31 millivolts"),
        (words.millivolts(0.00212, "up"), "2.2 millivolts"),
        (words.watts(1234, "down"), "1230 watts"),
        (words.watts(1231, "up"), "1240 watts"),
        (words.watts(385.00000000000006, "up"), "385 watts"),
        (words.milliohms(0.02549, "down"), "25.4 milliohms"),
        (words.milliampere_hours(1049 * 3.6, "down"), "1040 milliampere hours"),
        (words.milliampere_hours(1041 * 3.6, "up"), "1050 milliampere hours"),
        (words.milliampere_hours(3.6), "1 milliampere hour"),
        (words.degrees(322.9, "down"), "49 degrees"),
        (words.degrees(273.05, "down"), "minus 1 degree"),
        (words.percent(0.199, "down"), "19 percent"),
        (words.percent(0.191, "up"), "20 percent"),
        (words.watt_hours(100.04 * 3600, "up"), "100.1 watt hours"),
        (words.days(19.9, "down"), "19 days"),
        (words.rate(1.29, "down"), "1.2 C"),
        (words.rate(1.21, "up"), "1.3 C"),
        (words.duration(61, "down"), "61 seconds"),
        (words.duration(179, "down"), "2 minutes"),
        (words.duration(121, "up"), "3 minutes"),
        (words.quarter_minutes(216), "3 minutes and 30 seconds"),
        (words.quarter_minutes(224.99), "3 minutes and 30 seconds"),
        (words.quarter_minutes(225), "3 minutes and 45 seconds"),
        (words.quarter_minutes(104.4), "1 minute and 30 seconds"),
        (words.quarter_minutes(59.9), "59 seconds"),
        (words.quarter_minutes(0.4), "0 seconds"),
        (words.quarter_minutes(8130), "2 hours and 15 minutes"),
        (words.between(3001, 4199), "50 to 70 minutes"),
        (words.between(2999, 4201), "45 to 75 minutes"),
        (words.between(7300, 14300), "2 to 4 hours"),
        (words.span(0.4309, 0.6321), "43 to 64 percent"),
        (words.span(0.2, 0.2), "20 percent"),
        (words.span(0.02549, 0.02591, words.milliohms), "25.4 to 26 milliohms"),
        (words.span(-0.011, 0.02, words.millivolts), "minus 11 to 20 millivolts"),
        # At each figure where a helper goes over to other digits or another unit, and just beside it.
        (words.milliampere_hours(36000), "10 ampere hours"),
        (words.milliampere_hours(35999, "down"), "9990 milliampere hours"),
        (words.milliampere_hours(3600), "1000 milliampere hours"),
        (words.milliampere_hours(1009 * 3.6, "down"), "1000 milliampere hours"),
        (words.milliampere_hours(999.9 * 3.6, "down"), "999 milliampere hours"),
        (words.amperes_to_set(1.0), "1 ampere"),
        (words.amperes_to_set(1.09), "1 ampere"),
        (words.amperes_to_set(0.999), "0.99 amperes"),
        (words.millivolts(0.01), "10 millivolts"),
        (words.millivolts(0.0109, "down"), "10 millivolts"),
        (words.millivolts(0.00999, "down"), "9.9 millivolts"),
        (words.number(1e-12), "0.000000000001"),
        (words.number(0.9e-12), "0"),
        (words.duration(2.4), "2 seconds"),
        (words.duration(2, "up"), "2 seconds"),
        (words.duration(1.94), "1.9 seconds"),
        (words.duration(99.9, "down"), "99 seconds"),
        (words.duration(100, "down"), "1 minute"),
        (words.minutes(99.9, "down"), "99 seconds"),
        (words.minutes(100, "down"), "1 minute and 30 seconds"),
        (words.minutes(599.9, "down"), "9 minutes and 45 seconds"),
        (words.minutes(600, "up"), "10 minutes"),
        (words.minutes(600.1, "up"), "11 minutes"),
        (words.told(99), "99 seconds"),
        (words.told(101), "1 minute and 41 seconds"),
        (words.told(101.0000005), "1 minute and 41 seconds"),
        (words.told(101.00001), "2 minutes"),
        (words.quarter_minutes(60), "1 minute"),
        (words.quarter_minutes(7199), "119 minutes and 45 seconds"),
        (words.quarter_minutes(7200), "2 hours"),
        (words.between(1, 299), "1 second to 5 minutes"),
        (words.between(0.9, 299), "up to 5 minutes"),
        (words.between(60, 300), "up to 5 minutes"),
        (words.between(299.9, 600), "up to 10 minutes"),
        (words.between(300, 600), "5 to 10 minutes"),
        (words.between(300, 300), "5 minutes"),
        (words.between(10800, 10800), "3 hours"),
        (words.between(3599, 10800), "55 minutes to 3 hours"),
    ],
)
def test_numbers_and_units_sound_right(said: str, heard: str) -> None:
    assert said == heard


@given(value=st.floats(-1e9, 1e9))
def test_no_value_sounds_of_symbols(value: float) -> None:
    assert not MANGLED.search(words.number(value))
    for speak in SPEAKERS:
        assert not MANGLED.search(speak(value, "near"))
    for speak in (words.duration,):
        assert not MANGLED.search(speak(abs(value)))


@given(value=st.floats(0.001, 1e5), speak=st.sampled_from(SPEAKERS))
def test_rounding_goes_the_way_it_is_told(value: float, speak: words.Speaker) -> None:
    least, near, most = (
        float(re.sub(r"minus ", "-", re.match(r"(minus )?[0-9.]+", speak(value, way))[0]))  # type: ignore[index]
        for way in ("down", "near", "up")
    )
    assert least <= near <= most
    assert near in (least, most)


@example(low=85.0, more=45.0)
@given(low=st.floats(0, 1e6), more=st.floats(0, 1e6))
def test_a_span_of_time_holds_the_time(low: float, more: float) -> None:
    said = words.between(low, low + more)
    assert not MANGLED.search(said)
    figures = [float(figure) for figure in re.findall(r"[0-9.]+", said)]
    if "minutes to" in said or "seconds to" in said:
        figures[-1] *= 60
    assert figures == sorted(figures)


@given(value=st.floats(1e-6, 1e6), digits=st.integers(1, 4))
def test_a_spoken_number_is_the_number_at_its_digits(value: float, digits: int) -> None:
    assert float(words.number(value, digits)) == pytest.approx(float(f"{value:.{digits}g}"), rel=1e-12)


QUESTIONS = [
    ("charge-current", {"cells": 3, "capacity": "2250 mAh"}),
    ("charge-current", {"cells": 3, "capacity": "2250 mAh", "temperature": "-5 °C"}),
    ("charge-current", {"cells": 3, "capacity": "2250 mAh", "temperature": "5 °C", "rate": "2C"}),
    ("charge-current", {"chemistry": "lead", "cells": 6, "capacity": "7 Ah"}),
    ("charge-current", {"cells": 3, "capacity": "20 mAh", "supply_limit": "1 µW", "time_available": "3 min"}),
    ("charge-current", {"cells": 3, "capacity": "2250 mAh", "condition": "wet"}),
    ("wattage", {"cells": 3, "capacity": "2250 mAh", "available_power": "30 W"}),
    ("wattage", {"voltage": "1 kV", "current": "20 kA"}),
    ("supply-split", {"supply_rating": "180 W", "loads": "80 W,10 W"}),
    ("supply-split", {"supply_rating": "180 W", "loads": "110 W", "supply_voltage": "12 V", "source_resistance": "1 Ω",
                      "input_floor": "11 V"}),
    ("sag", {"cells": 4, "capacity": "3700 mAh", "current": "40 A", "resistance_method": "1kHz",
             "cell_resistance": "4.2 mΩ", "temperature": "-15 °C"}),
    ("sag", {"cells": 4, "capacity": "3700 mAh", "cell_resistance": "50 mΩ", "current": "400 A", "duration": "0 s"}),
    ("sag", {"cells": 4, "capacity": "3700 mAh", "power": "1 MW"}),
    ("sag", {"cells": 1, "cell_resistance": "4.2 mΩ", "current": "1 µA"}),
    ("balance-need", {"cell_voltages": "3.86,3.91 V", "capacity": "2250 mAh", "bleed_current": "100 mA"}),
    ("balance-need", {"cell_voltages": "3.9 V,3.9000001 V"}),
    ("safe-draw", {"cells": 4, "capacity": "3700 mAh", "cell_resistance": "4.2 mΩ,4.2 mΩ,4.2 mΩ,9 mΩ"}),
    ("safe-draw", {"cells": 4, "capacity": "3700 mAh", "cell_resistance": "4.2 mΩ", "temperature": "60 °C"}),
]  # fmt: skip


@pytest.mark.parametrize(("calculator", "question"), QUESTIONS)
def test_what_a_phone_reads_out_is_plain_speech(calculator: str, question: dict[str, str]) -> None:
    said = spoken(calculator, **question)
    assert not MANGLED.search(said), said
    assert said[0].isupper()
    assert said.rstrip().endswith(".")
    assert len(said) < 700


def test_the_chemistry_is_named_in_words() -> None:
    for chemistry, named in (("lipo", "lithium-polymer"), ("lihv", "high-voltage lithium-polymer"),
                             ("liion", "lithium-ion"), ("life", "lithium-iron-phosphate"),
                             ("lead", "lead-acid")):  # fmt: skip
        said = spoken("charge-current", cells=3, capacity="2 Ah", chemistry=chemistry)
        assert f"this {named} pack" in said
    for chemistry, named in (("nimh", "nickel-metal-hydride"), ("nicd", "nickel-cadmium")):
        assert named in spoken("wattage", cells=3, capacity="2 Ah", chemistry=chemistry)


def test_a_refusal_is_plain_speech_too() -> None:
    got = client().get("/v1/charge-current.txt?cells=3&capacity=2250")
    assert (got.status_code, got.mimetype) == (422, "text/plain")
    assert got.text == 'Capacity needs a unit: write "2250 mAh".\n'


@pytest.mark.parametrize(
    ("spoken", "shown"),
    [
        ("Charge it at 2.2 amperes.", "Charge it at *2.2 A*."),
        ("Set the timer to 6 minutes and 30 seconds.", "Set the timer to *6 min 30 s*."),
        ("It takes 50 to 70 minutes at minus 5 degrees.", "It takes *50 to 70 min* at *−5 °C*."),
        ("Between 43 to 63 percent at 1 C of 3 cells.", "Between *43 to 63 %* at *1 C* of *3* cells."),
        ("Put in 1040 milliampere hours, 23.1 watt hours.", "Put in *1040 mAh*, *23.1 Wh*."),
        ("It lasts 2 hours and 5 minutes and flies.", "It lasts *2 h 5 min* and flies."),
        ("Use 12 AWG and 3 volts and 2 amperes.", "Use *12* AWG and *3 V* and *2 A*."),
        ("Swap at 10:34 to the tug.", "Swap at *10:34* to the tug."),
        ("Use 18 ohms and a 16 gauge lead.", "Use *18 Ω* and a *16 AWG* lead."),
        ("All is well.", "All is well."),
    ],
)
def test_a_spoken_sentence_is_written_with_figures_and_symbols(spoken: str, shown: str) -> None:
    said = "".join(f"*{text}*" if figure else text for text, figure in words.written(spoken))
    assert said.replace("\N{NO-BREAK SPACE}", " ") == shown


def test_a_time_is_given_back_as_it_was_told() -> None:
    assert words.told(390) == "6 minutes and 30 seconds"
    assert words.told(100) == "1 minute and 40 seconds"
    assert words.told(30) == "30 seconds"
    assert words.told(1800) == "30 minutes"
    assert words.told(389.7) == words.duration(389.7)


def test_a_span_from_minutes_to_hours_names_both() -> None:
    assert words.between(2040, 15840) == "30 minutes to 4.4 hours"


@pytest.mark.parametrize(
    ("celsius", "said"),
    [
        ((13.0, 13.0), "13 degrees"),
        ((13.1, 13.2), "13 degrees"),
        ((33.0, 13.0), "13 degrees and 33 degrees"),
        ((13.0, 33.0, 25.0), "13 to 33 degrees"),
        ((13.4, 20.0, 25.0, 32.6), "13 to 33 degrees"),
    ],
)
def test_the_warmth_of_many_is_one_span(celsius: tuple[float, ...], said: str) -> None:
    assert words.warmth(degree + 273.15 for degree in celsius) == said


@pytest.mark.parametrize(
    ("minutes", "said"),
    [
        ((30, 179), "30 minutes to 3 hours"),
        ((30, 175), "30 to 175 minutes"),
        ((30, 180), "30 minutes to 3 hours"),
        ((60, 180), "1 to 3 hours"),
        ((55, 180), "55 minutes to 3 hours"),
    ],
)
def test_a_span_of_three_hours_is_told_in_hours(minutes: tuple[float, float], said: str) -> None:
    assert words.between(minutes[0] * 60.0, minutes[1] * 60.0) == said

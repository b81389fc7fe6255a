"""The report: worst first, the graver of two comparisons, and its three forms."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from xml.etree import ElementTree

import pytest

from ampstead_client import AmpsteadClient, Quantity, Unreachable
from ampstead_client.packs import PackList, Report
from ampstead_client.packs.pages import amperes

EXAMPLE = Path(__file__).resolve().parents[3] / "client" / "examples" / "packs.toml"
CLIENT = AmpsteadClient.embedded()


@pytest.fixture
def packs(tmp_path: Path) -> PackList:
    shutil.copy(EXAMPLE, tmp_path)
    return PackList.load(tmp_path / "packs.toml")


@pytest.fixture(scope="module")
def report() -> Report:
    return PackList.load(EXAMPLE).report(CLIENT)


def verdicts(packs: PackList) -> dict[str, str]:
    return {standing.pack.name: standing.verdict for standing in packs.report(CLIENT)}


def test_every_pack_is_judged_worst_first(report: Report) -> None:
    assert len(report) == 10
    assert [(each.pack.name, each.verdict) for each in report[:3]] == [
        ("red trainer C", "light-duty"),
        ("yellow glider", "other-model"),
        ("blue aerobat B", "flight"),
    ]


def test_a_verdict_is_pack_fitness_s_own(report: Report) -> None:
    glider = report[1]
    alone = CLIENT.pack_fitness(
        cells=3, capacity="1150 mAh", cell_resistance="11 mΩ", typical_current="14 A", resistance_method="1s"
    )
    assert glider.answer is not None
    assert glider.answer.continuous_current == alone.continuous_current
    assert glider.answer.reasons == alone.reasons


def test_a_pack_is_held_against_its_first_reading_and_against_like_packs_whichever_is_graver(packs: PackList) -> None:
    [worn] = [each for each in packs.report(CLIENT) if each.pack.name == "red trainer C"]
    assert worn.answer is not None
    assert worn.answer.resistance_ratio == pytest.approx(14 / 8.5)  # its own first, not the siblings' 8.75
    # A pack that was poor from the first day is told by its siblings alone.
    packs.log("red trainer A", cell_resistance="13.5 mΩ", temperature="25 °C", method="1s", date="2025-04-19")
    packs.log("red trainer A", cell_resistance="14 mΩ", temperature="25 °C", method="1s", date="2026-05-01")
    [poor] = [each for each in packs.report(CLIENT) if each.pack.name == "red trainer A"]
    assert poor.answer is not None
    assert poor.answer.resistance_ratio == pytest.approx(14 / 11.5)  # the median of 9 and 14
    packs.log("red trainer C", condition="crashed")
    [alone] = [each for each in packs.report(CLIENT) if each.pack.name == "red trainer A"]
    assert alone.verdict == "light-duty"
    assert alone.answer is not None
    assert alone.answer.resistance_ratio == pytest.approx(14 / 9)  # what is not sound is no measure


def test_readings_of_other_warmth_are_brought_to_that_of_the_latest(packs: PackList) -> None:
    packs.log("red trainer A", cell_resistance="11.92 mΩ", temperature="13 °C", method="1s", date="2026-05-01")
    [same] = [each for each in packs.report(CLIENT) if each.pack.name == "red trainer A"]
    assert same.answer is not None
    assert same.answer.question["cell_resistance"] == Quantity(11.92, "mΩ")
    assert same.answer.resistance_ratio == pytest.approx(1, abs=0.01)


def test_what_is_not_sound_is_retired_whether_or_not_it_was_measured(packs: PackList) -> None:
    packs.log("red trainer A", condition="swollen")
    packs.add("red trainer D", cells=3, capacity="2250 mAh", condition="wet")
    packs.add("starter", cells=6, capacity="1700 mAh", chemistry="nimh", condition="damaged")
    packs.add("red trainer E", cells=3, capacity="2250 mAh")
    report = packs.report(CLIENT)
    assert {each.pack.name for each in report[:3]} == {"red trainer A", "red trainer D", "starter"}
    assert all(each.verdict == "retire" for each in report[:3])
    assert all("do not" in each.sentence.lower() for each in report[:3])
    assert [each.pack.name for each in report[3:5]] == ["red trainer C", "red trainer E"]
    assert "measure it" in report[4].sentence
    # One line of the pack's own outweighs a later reading.
    packs.log("red trainer D", condition="sound", date="2030-01-01")
    assert verdicts(packs)["red trainer D"] == "retire"


def test_what_a_calculator_refuses_is_told_in_its_words(packs: PackList) -> None:
    packs.add("starter", cells=6, capacity="1700 mAh", chemistry="nimh")
    packs.log("starter", cell_resistance="9 mΩ", method="1s", temperature="25 °C")
    [starter] = [each for each in packs.report(CLIENT) if each.pack.name == "starter"]
    assert starter.verdict == "unknown"
    assert "nickel-metal-hydride" in starter.sentence


def test_low_cells_and_a_small_capacity_count(packs: PackList) -> None:
    packs.log("blue aerobat B", cell_voltages="3.77, 3.76, 3.30, 3.75 V")
    packs.log("grey tug", measured_capacity="3430 mAh", method="capacity-check")
    told = verdicts(packs)
    assert told["blue aerobat B"] == "retire"
    assert told["grey tug"] == "retire"


def test_the_cold_of_the_day_is_asked_for_all(packs: PackList) -> None:
    warm, cold = packs.report(CLIENT), packs.report(CLIENT, temperature="-15 °C")
    assert {each.answer.question["temperature"] for each in cold if each.answer} == {Quantity(-15, "°C")}
    most = [next(each.answer for each in told if each.pack.name == "grey tug") for told in (warm, cold)]
    assert most[0] is not None
    assert most[1] is not None
    assert most[1].burst_current < most[0].burst_current


def test_a_list_without_packs_has_a_report_that_says_so(tmp_path: Path) -> None:
    (tmp_path / "packs.toml").write_text("# none yet\n")
    report = PackList.load(tmp_path / "packs.toml").report(CLIENT)
    assert str(report) == "The list is empty."
    ElementTree.fromstring(report.svg())
    assert "The list is empty." in report.html()


def test_a_service_out_of_reach_raises_as_any_question_would() -> None:
    with AmpsteadClient("http://127.0.0.1:9", retries=0) as client, pytest.raises(Unreachable):
        PackList.load(EXAMPLE).report(client)


def test_the_table_has_a_row_for_each_pack_and_limits_rounded_down(report: Report) -> None:
    lines = str(report).splitlines()
    assert re.split(" {2,}", lines[2]) == [
        *("light duty", "red trainer C", "8.7 A", "16 A", "14.0 mΩ", "+5.2 mΩ", "-", "-")
    ]
    assert "by 1s: +5.2 mΩ a year (+0.70 to +9.7), from 4" in " ".join(str(report).split())
    assert max(map(len, lines)) <= 80
    assert report[0].answer is not None
    assert report[0].answer.continuous_current > Quantity(8.7, "A")
    assert report[0].answer.burst_current > Quantity(16, "A")
    assert lines[12] == ""
    assert all(f"{each.pack.name}: " in str(report) for each in report)


def test_the_picture_is_small_names_every_pack_and_tells_no_verdict_by_colour_alone(report: Report) -> None:
    picture = report.svg()
    assert len(picture) < 16_000
    texts = [element.text for element in ElementTree.fromstring(picture).iter("{http://www.w3.org/2000/svg}text")]
    assert {each.pack.name for each in report} <= set(texts)
    assert {"▼ light duty", "◆ too weak", "✓ fit to fly"} <= set(texts)
    assert picture.count("<polyline") == picture.count("<polygon") == 1  # three readings on three days: one trend


def test_names_from_the_file_are_text_in_page_and_picture(tmp_path: Path) -> None:
    (tmp_path / "packs.toml").write_text(
        '[[pack]]\nid = "x"\nname = "<script>&"\ncells = 3\ncapacity = "2250 mAh"\n', encoding="utf-8"
    )
    report = PackList.load(tmp_path / "packs.toml").report(CLIENT)
    assert "<script>" not in report.html()
    assert "&lt;script&gt;&amp;" in report.html()
    ElementTree.fromstring(report.svg())


def test_the_page_fetches_nothing(report: Report) -> None:
    page = report.html()
    assert page.startswith("<!doctype html>")
    assert "http" not in page.replace("http://www.w3.org/2000/svg", "")
    assert "src=" not in page
    assert page.count("<tr") == 11


def test_a_limit_is_rounded_down() -> None:
    shown = [amperes(Quantity(value, "A")) for value in (0.09, 8.79, 19.98)] + [amperes(None)]
    assert shown == ["0.0 A", "8.7 A", "19 A", "?"]

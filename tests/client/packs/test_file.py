"""The list in its file: what is read, what is refused with line and cure, and what is written."""

from __future__ import annotations

import os
import shutil
import stat
import subprocess
import sys
import tomllib
from datetime import date
from pathlib import Path

import pytest

from ampstead_client import AmpsteadClient, JoinedPack, Quantity
from ampstead_client.packs import FaultyPacks, NoSuchPack, PackList, packlist

EXAMPLE = Path(__file__).resolve().parents[3] / "client" / "examples" / "packs.toml"

TRAINERS = """\
# the club's packs

[[pack]]  # flies best
id = "red-trainer-a"
name = "red trainer A"
cells = 3
capacity = "2250 mAh"   # by its label
colour = 'red'

[[pack.reading]]
date = 2026-04-11
kind = "cell_resistance"
value = "8.5 mΩ"
temperature = "25 °C"
method = "1s"
by = "the bench"
# it was a cold day

# the twin
[[pack]]
id = "red-trainer-b"
name = "red trainer B"
cells = 3
capacity = "2250 mAh"
# bought used

[club]
name = "meadow club"
"""


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "packs.toml"
    path.write_text(TRAINERS, encoding="utf-8")
    return path


def faults(tmp_path: Path, text: str) -> list[str]:
    path = tmp_path / "packs.toml"
    path.write_bytes(text.encode())
    with pytest.raises(FaultyPacks) as told:
        PackList.load(path)
    return [str(fault) for fault in told.value.faults]


def test_a_pack_is_found_by_its_name_and_by_its_id_whatever_the_case(file: Path) -> None:
    packs = PackList.load(file)
    assert packs["red trainer A"] is packs["Red-Trainer-A"]
    assert [pack.name for pack in packs] == ["red trainer A", "red trainer B"]
    assert "red trainer B" in packs
    assert "grey tug" not in packs


def test_a_name_that_is_not_there_is_told_with_the_likeliest_one(file: Path) -> None:
    with pytest.raises(NoSuchPack, match=r'did you mean "red trainer A"\?') as told:
        PackList.load(file)["red trainr A"]
    assert isinstance(told.value, KeyError)


def test_any_calculator_takes_a_pack_and_uses_of_it_what_it_asks_for() -> None:
    pack = PackList.load(EXAMPLE)["red trainer A"]
    client = AmpsteadClient.embedded()
    charge = client.charge_current(pack=pack, rate=5)
    assert charge.question["max_rate"] == 2  # from the label
    assert charge.limited_by == "pack-label"
    assert client.safe_draw(pack=pack).question["label_rate"] == 30
    assert client.wattage(pack=pack).question["capacity"] == Quantity(2250, "mAh")
    assert client.load_test(pack=pack, currents="4,48 A", voltages="16.30,15.17 V").pack_resistance is not None
    # What is given beside it wins, and rules out what excludes it.
    fit = client.pack_fitness(pack=pack, typical_current="14 A")
    assert "flight_time" not in fit.question


def test_packs_of_the_list_may_stand_among_several() -> None:
    packs, client = PackList.load(EXAMPLE), AmpsteadClient.embedded()
    voltages = {"red trainer A": "11.31 V", "red trainer B": "11.42 V"}
    joined = client.parallel_join(
        packs=[packs[name].among(JoinedPack, rest_voltage=voltage) for name, voltage in voltages.items()]
    )
    first = joined.question["packs"][0]
    assert (first["name"], first["max_rate"]) == ("red trainer A", 2)
    assert first["cell_resistance"] == Quantity(8.5, "mΩ")
    assert joined.initial_currents[0] > Quantity(0, "A") > joined.initial_currents[1]
    with pytest.raises(TypeError):
        packs["red trainer A"].among(JoinedPack, rest_volts="11.31 V")


def test_the_latest_resistance_goes_with_its_method_and_temperature(tmp_path: Path) -> None:
    path = tmp_path / "packs.toml"
    shutil.copy(EXAMPLE, path)
    packs = PackList.load(path)
    packs.log("red trainer A", pack_resistance="27 mΩ", temperature="13 °C", method="charger", date="2026-05-01")
    packs.log("red trainer A", cell_resistance="9 mΩ", temperature="33 °C", method="10s", date="2025-05-01")
    asked = AmpsteadClient.embedded().sag(pack=packs["red trainer A"], current="23 A").question
    assert asked["pack_resistance"] == Quantity(27, "mΩ")
    assert asked["resistance_method"] == "charger"
    assert asked["resistance_temperature"] == Quantity(13, "°C")
    assert "cell_resistance" not in asked


@pytest.mark.parametrize(
    ("wrong", "right", "told"),
    [
        ('"2250 mAh"   #', "2250   #", 'packs.toml line 7: capacity needs a unit: write "2250 mAh"'),
        ('"2250 mAh"   #', '"2250"   #', 'packs.toml line 7: capacity needs a unit: write "2250 mAh"'),
        ('"2250 mAh"   #', "2250 mAh   #", 'packs.toml line 7: text goes in quotes: write capacity = "2250 mAh"'),
        ('"2250 mAh"   #', '"2250 mV"   #', 'line 7: capacity is a charge, "2250 mV" is a voltage'),
        ('"2250 mAh"   #', '"0 mAh"   #', 'line 7: capacity must be above 0, "0 mAh" was read'),
        ("capacity = ", "capcity = ", 'line 7: capcity is not known: did you mean "capacity"?'),
        ("cells = 3", "cells = 2.5", "line 6: cells must be a whole number from 1 to 24: 2.5 was read"),
        ("cells = 3\n", "", "line 3: cells is missing: write cells = 3"),
        ('id = "red-trainer-a"\n', "", 'line 3: id is missing: write id = "red-trainer-a"'),
        ("2026-04-11", '"11.4.2026"', "line 11: date must be a day as year, month, day, like 2026-04-11"),
        ('"cell_resistance"', '"resistence"', "line 12: kind must be one of cell_resistance, pack_resistance"),
        ('"8.5 mΩ"', '"8,5 mΩ"', 'line 13: cell_resistance "8,5 mΩ" can be read in two ways: write "8.5mΩ"'),
        ('"8.5 mΩ"', '"8.5, 8.7, 9, 9 mΩ"', "line 13: cell_resistance has 4 values, but the pack has 3 cells"),
        ('"8.5 mΩ"', '"8.5 8.7 9 mΩ"', 'line 13: cell_resistance "8.5 8.7 9 mΩ" holds 3 values: put commas'),
        ('"25 °C"', "25", 'line 14: temperature needs a unit: write "25 °C"'),
        ('"2250 mAh"   #', "1150   #", 'packs.toml line 7: capacity needs a unit: write "1150 mAh"'),
        ("cells = 3", 'cells = "3S"', 'line 6: cells must be a plain number: write 3, "3S" was read'),
        (
            '"8.5 mΩ"',
            '"8,5mΩ,8,7mΩ"',
            'line 13: cell_resistance "8,5mΩ,8,7mΩ" can be read in two ways: write "8.5mΩ, 8.7mΩ"',
        ),
        ('"1s"', '"quick"', 'line 15: method must be one of 1kHz, charger, 1s, 10s: "quick" was read'),
        ('method = "1s"\n', "", "line 10: method is missing: write how it was measured, 1kHz, charger, 1s or 10s"),
        ("[[pack.reading]]", "[pack.reading]", "line 10: write each reading under a heading of its own"),
        ('"red trainer B"', '"Red trainer A"', 'line 22: "Red trainer A" is the name of two packs'),
        ("# the twin\n[[pack]]", "[pack]", "packs.toml line"),
        ('"red trainer A"\n', '"red trainer A\n', "packs.toml line 5:"),
    ],
)
def test_what_is_wrong_is_told_with_its_line_and_the_cure(tmp_path: Path, wrong: str, right: str, told: str) -> None:
    assert wrong in TRAINERS
    assert told in faults(tmp_path, TRAINERS.replace(wrong, right, 1))[0]


def test_all_faults_are_told_at_once_in_the_order_of_the_lines(tmp_path: Path) -> None:
    spoilt = TRAINERS.replace("cells = 3", "cells = 0").replace('"8.5 mΩ"', "8.5")
    assert [fault.split(":")[0] for fault in faults(tmp_path, spoilt)] == [
        "packs.toml line 6",
        "packs.toml line 13",
        "packs.toml line 23",
    ]


def test_lines_are_counted_as_toml_counts_them(tmp_path: Path) -> None:
    """Text over several lines may hold what looks like a heading, or letters that break lines elsewhere."""
    note = 'note = """\n[[pack]]\ncapacity = 3\n"""\nother = "a\u2028b"\n'
    text = TRAINERS.replace("colour = 'red'\n", note).replace('"8.5 mΩ"', "8.5").replace("\n", "\r\n")
    assert faults(tmp_path, text) == ['packs.toml line 17: cell_resistance needs a unit: write "8.5 mΩ"']


def test_a_file_that_is_missing_empty_of_packs_or_no_text_is_told_with_a_cure(tmp_path: Path) -> None:
    with pytest.raises(FaultyPacks, match="there is no such file; begin one with: ampstead-packs"):
        PackList.load(tmp_path / "none.toml")
    assert faults(tmp_path, '[[packs]]\nname = "red trainer A"\n') == [
        "packs.toml line 1: no pack is in it, but [[packs]]: begin each pack with a line [[pack]]"
    ]
    (tmp_path / "latin.toml").write_bytes('# ok\nname = "mΩ"'.encode("utf-16"))
    with pytest.raises(FaultyPacks, match=r"latin.toml line 1: save the file as UTF-8 text"):
        PackList.load(tmp_path / "latin.toml")


def test_a_logged_reading_stands_with_its_pack_and_every_other_line_stays(file: Path) -> None:
    packs = PackList.load(file)
    packs.log(
        "red trainer A", cell_resistance="9, 9.1, 9.4 mΩ", temperature="13 C", method="charger", date="2026-05-02"
    )
    packs.log("red trainer B", condition="crashed", date=date(2026, 5, 3))
    written = file.read_text(encoding="utf-8")
    first = (
        '\n[[pack.reading]]\ndate = 2026-05-02\nkind = "cell_resistance"\nvalue = "9 mΩ, 9.1 mΩ, 9.4 mΩ"\n'
        'temperature = "13 °C"\nmethod = "charger"\n'
    )
    second = '\n[[pack.reading]]\ndate = 2026-05-03\nkind = "condition"\nvalue = "crashed"\n'
    assert written == TRAINERS.replace("# it was a cold day\n", "# it was a cold day\n" + first).replace(
        "# bought used\n", "# bought used\n" + second
    )
    assert packs["red trainer A"].history[-1].value == Quantity.many([9, 9.1, 9.4], "mΩ")
    assert PackList.load(file)["red trainer B"].condition == "crashed"


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_line_ends_and_a_missing_last_one_are_kept(file: Path, end: str) -> None:
    file.write_bytes(TRAINERS.partition("\n[club]")[0].strip().replace("\n", end).encode())
    PackList.load(file).log("red trainer B", measured_capacity="2140 mAh", method="capacity-check", date="2026-05-02")
    written = file.read_bytes().decode()
    assert written.count("\n") == written.count(end)
    assert PackList.load(file)["red trainer B"].measured_capacity == Quantity(2140, "mAh")


def test_a_wrong_reading_writes_nothing_and_says_the_cure(file: Path) -> None:
    packs = PackList.load(file)
    for values, told in (
        ({"cell_resistance": 9}, "cell_resistance needs a unit"),
        ({"cell_resistance": "9 mΩ"}, "method is missing"),
        ({"resistance": "9 mΩ"}, "resistance of what: write cell_resistance"),
        ({"capacity": "2140 mAh"}, "write measured_capacity"),
        ({"cell_voltages": "3.77, 3.76 V"}, "can be read in two ways"),
        ({"cell_voltages": ["3.77 V", "3.76 V"]}, "has 2 values, but the pack has 3 cells"),
        ({"measured_capacity": "2140 mAh", "cell_voltages": "11.31 V"}, "needs the voltage of each cell"),
        ({}, "nothing to log"),
    ):
        with pytest.raises(FaultyPacks, match=told):
            packs.log("red trainer A", **values)  # type: ignore[arg-type]
    assert file.read_text(encoding="utf-8") == TRAINERS


def test_packs_that_are_not_written_under_headings_are_read_but_not_written_to(file: Path) -> None:
    text = 'pack = [{id = "a", name = "red trainer A", cells = 3, capacity = "2250 mAh"}]\n'
    file.write_text(text, encoding="utf-8")
    packs = PackList.load(file)
    with pytest.raises(FaultyPacks, match=r"write each pack under a heading \[\[pack\]\]"):
        packs.log("red trainer A", condition="sound")
    assert file.read_text(encoding="utf-8") == text


def test_a_broken_write_leaves_the_old_file_whole_and_no_other_behind(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(packlist.os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        PackList.load(file).log("red trainer A", condition="sound")
    assert file.read_text(encoding="utf-8") == TRAINERS
    assert {each.name for each in file.parent.iterdir()} <= {"packs.toml", ".packs.toml.lock"}


@pytest.mark.skipif(os.name == "nt", reason="modes and links are of other systems")
def test_a_link_and_the_file_mode_stay(file: Path, tmp_path: Path) -> None:
    file.chmod(0o640)
    link = tmp_path / "link.toml"
    link.symlink_to(file)
    PackList.load(link).log("red trainer A", condition="sound")
    assert link.is_symlink()
    assert stat.S_IMODE(file.stat().st_mode) == 0o640
    assert "condition" in file.read_text(encoding="utf-8")


def test_two_processes_that_log_at_once_lose_nothing(file: Path) -> None:
    program = (
        "import sys; from ampstead_client.packs import PackList; packs = PackList.load(sys.argv[1])\n"
        "print('ready', flush=True); sys.stdin.readline()\n"
        "for n in range(20): packs.log(sys.argv[2], measured_capacity=f'{2100 + n} mAh', date='2026-05-02')"
    )
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", program, file, name], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        for name in ("red trainer A", "red trainer B", "red trainer A")
    ]
    for writer in writers:
        assert writer.stdout is not None
        assert writer.stdout.readline() == "ready\n"
    for writer in writers:
        assert writer.stdin is not None
        writer.stdin.write("\n")
        writer.stdin.flush()
    for writer in writers:
        writer.communicate(timeout=60)
        assert writer.returncode == 0
    packs = PackList.load(file)
    logged = [[reading.words for reading in pack.history if reading.kind == "measured_capacity"] for pack in packs]
    every = [f"{2100 + n} mAh" for n in range(20)]
    assert sorted(logged[0]) == sorted(every * 2)
    assert logged[1] == every
    assert all(line in file.read_text(encoding="utf-8") for line in TRAINERS.splitlines())


def test_a_pack_is_added_at_the_end_with_an_id_of_its_name(file: Path) -> None:
    packs = PackList.load(file)
    packs.add("blue aerobat A", cells=4, capacity="3700 mAh", chemistry="LiPo", max_rate=3, bought="2025-09-06")
    assert file.read_text(encoding="utf-8").startswith(TRAINERS)
    assert tomllib.loads(file.read_text(encoding="utf-8"))["pack"][-1] == {
        "id": "blue-aerobat-a",
        "name": "blue aerobat A",
        "chemistry": "lipo",
        "cells": 4,
        "capacity": "3700 mAh",
        "max_rate": 3,
        "bought": date(2025, 9, 6),
    }
    with pytest.raises(FaultyPacks, match='has a pack "blue-aerobat-a" already'):
        packs.add("Blue aerobat A", cells=4, capacity="3700 mAh")
    with pytest.raises(FaultyPacks, match='capcity is not known: did you mean "capacity"'):
        packs.add("blue aerobat B", cells=4, capcity="3700 mAh")

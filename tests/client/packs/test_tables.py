"""The list as a table of CSV, out and in again."""

from __future__ import annotations

import csv
import io
import shutil
from pathlib import Path

import pytest

from ampstead_client.packs import FaultyPacks, PackList
from ampstead_client.packs.tables import harmless, table, take

EXAMPLE = Path(__file__).resolve().parents[3] / "client" / "examples" / "packs.toml"


@pytest.fixture
def packs(tmp_path: Path) -> PackList:
    shutil.copy(EXAMPLE, tmp_path)
    return PackList.load(tmp_path / "packs.toml")


def fresh(tmp_path: Path) -> PackList:
    (tmp_path / "new.toml").write_text("# mine\n")
    return PackList.load(tmp_path / "new.toml")


def test_a_table_holds_one_row_a_reading_and_comes_back_as_the_same_list(packs: PackList, tmp_path: Path) -> None:
    packs.log("red trainer A", measured_capacity="2140 mAh", method="discharge", temperature="-5 °C", current="5 A")
    packs.add("red trainer D", cells=3, capacity="2250 mAh")
    made = table(packs)
    rows = list(csv.DictReader(io.StringIO(made)))
    assert len(rows) == sum(len(pack.history) or 1 for pack in packs)
    assert rows[0]["value"] == "11 mΩ"
    back = fresh(tmp_path)
    taken = take(back, made, "packs.csv")
    assert len(taken.packs) == len(packs)
    assert list(back) == list(packs)
    assert back.path.read_text(encoding="utf-8").startswith("# mine\n")


def test_what_is_there_already_is_not_written_twice(packs: PackList) -> None:
    before = packs.path.read_text(encoding="utf-8")
    taken = take(packs, table(packs), "packs.csv")
    assert (taken.packs, taken.readings, taken.known) == ([], [], 14)
    assert packs.path.read_text(encoding="utf-8") == before


def test_a_new_reading_needs_the_pack_s_name_alone_whatever_the_separator(packs: PackList) -> None:
    take(packs, "\ufeffname;date;kind;value\r\nRed trainer A;2026-05-01;measured_capacity;2140 mAh\r\n", "mine.csv")
    take(packs, "id\tdate\tkind\tvalue\nred-trainer-a\t2026-05-02\tcell_voltages\t3.77, 3.76, 3.79 V\n", "mine.csv")
    assert [reading.kind for reading in packs["red trainer A"].history[-2:]] == ["measured_capacity", "cell_voltages"]


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        ("name,date\nnobody,2026-05-01", "mine.csv line 2: id is missing"),
        ("name,date,kind,value\nred trainer A,01/05/2026,condition,sound", "line 2: date must be a day as year"),
        ('name,date,kind,value\n"red trainer A",2026-05-01,condition,\n', "line 2: value is missing"),
        (
            "name,capacity\n\nred trainer A,2200 mAh",
            'line 3: capacity of "red trainer A" is 2200 mAh here and',
        ),
        ("name,capacty\nred trainer A,1", 'line 1: the column capacty is not known: did you mean "capacity"?'),
        ("name,date,date\nred trainer A,1,1", "line 1: there are two columns date: leave one"),
        ("pack,volts\n1,2", "line 1: the first row must name the columns, id or name among them"),
        ('name,date\n"red trainer A,2026', "mine.csv line 2: this is no table of CSV"),
        ("", "line 1: the first row must name the columns"),
    ],
)
def test_a_wrong_row_is_told_with_its_line_and_nothing_is_written(packs: PackList, rows: str, told: str) -> None:
    before = packs.path.read_text(encoding="utf-8")
    good = "\nred trainer B,2026-05-01" if rows.startswith("name,date\n") else ""
    with pytest.raises(FaultyPacks) as raised:
        take(packs, rows + good, "mine.csv")
    assert told in str(raised.value)
    assert packs.path.read_text(encoding="utf-8") == before


@pytest.mark.parametrize("name", ["=HYPERLINK(1)", "+1+cmd", "-2+3", "@SUM(A1)", "\tx", "=1;2", "−x"])
def test_what_a_spreadsheet_would_take_for_a_formula_is_disarmed_and_comes_back_as_it_was(
    tmp_path: Path, name: str
) -> None:
    packs = fresh(tmp_path)
    packs.add(name.strip(), cells=3, capacity="2250 mAh", id="odd")
    made = table(packs)
    cell = next(csv.DictReader(io.StringIO(made)))["name"]
    if name.strip() == name:
        assert cell == f"'{name}"
    (tmp_path / "back.toml").write_text("")
    back = PackList.load(tmp_path / "back.toml")
    take(back, made, "odd.csv")
    assert back["odd"].name == name.strip()


def test_figures_below_zero_stay_figures() -> None:
    assert harmless("-5 °C") == "-5 °C"
    assert harmless("'tis") == "'tis"

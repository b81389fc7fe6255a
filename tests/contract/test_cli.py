"""The command line: one question, answered at once, or a table row by row."""

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest

from ampstead.cli import main
from ampstead.replying.local import embedded

WATTAGE = ["ask", "wattage", "cells=3", "capacity=2250 mAh", "available_power=30W"]


def answered() -> dict[str, Any]:
    status, document = embedded("wattage", dict(entry.split("=", 1) for entry in WATTAGE[2:]))
    assert status == 200
    return document


def test_it_speaks_the_answer_and_the_gravest_caution(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(WATTAGE) == 0
    said = capsys.readouterr().out
    assert said.startswith("Charge this lithium-polymer pack at 2.2 amperes")
    gravest = sorted(answered()["cautions"], key=lambda entry: entry["standing"])[0]
    assert said == f"{answered()['sentence']} {gravest['text']}\n"


def test_it_prints_the_whole_envelope_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*WATTAGE, "--as", "json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["answer"]["advised_rating"] == {"value": 40.0, "unit": "W"}


def test_a_refused_question_says_the_cure_and_exits_with_one(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ask", "wattage", "cells=3", "capacity=2250"]) == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err == 'Capacity needs a unit: write "2250 mAh".\n'


def test_an_unknown_calculator_gets_a_hint(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ask", "watage", "cells=2"]) == 1
    assert "did you mean wattage?" in capsys.readouterr().err


@pytest.mark.parametrize("inputs", [["cells"], ["cells=2", "cells=3"]])
def test_inputs_that_are_not_named_once_are_a_wrong_call(inputs: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["ask", "wattage", *inputs])
    assert ended.value.code == 2
    assert inputs[-1].partition("=")[0] in capsys.readouterr().err


TABLE = "pack,cells,capacity [mAh]\nglider,3,1150\nworn,3,much\n"


@pytest.mark.parametrize("piped", [True, False])
def test_a_table_is_answered_row_by_row(
    piped: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "packs.csv"
    file.write_text(TABLE, encoding="utf-8")
    if piped:
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(TABLE.encode())))
    assert main(["ask", "wattage", "--csv", "-" if piped else str(file), "rate=2C"]) == 0
    told = capsys.readouterr()
    glider, worn = csv.DictReader(io.StringIO(told.out))
    assert (glider["pack"], glider["answer.nominal_power [W]"], glider["problem"]) == ("glider", "25.53", "")
    assert worn["problem"].startswith("capacity must be a number")
    assert told.err == "2 rows, 1 of them refused\n"


def test_a_terminal_sees_how_far_a_table_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "packs.csv"
    file.write_text("cells,capacity\n" + "3,1150 mAh\n" * 12_000, encoding="utf-8")  # more than a request may hold
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    assert main(["ask", "wattage", "--csv", str(file)]) == 0
    told = capsys.readouterr()
    assert told.out.count("\n") == 12_001
    assert told.err.count("\r") == 40
    assert told.err.splitlines()[-2].endswith(f"[{'#' * 40}] 12000 of 12000")


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (["wattage", "--csv", "no/such/file"], 2, "cannot be read"),
        (["watage", "--csv", "-"], 1, "did you mean wattage"),
        (["wattage", "--csv", "-"], 1, "no column"),
    ],
)
def test_what_is_wrong_with_a_table_is_told(
    arguments: list[str],
    status: int,
    said: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"pack,owner\n1,2\n")))
    assert main(["ask", *arguments]) == status
    told = capsys.readouterr()
    assert told.out == ""
    assert said in told.err.replace("No column", "no column")

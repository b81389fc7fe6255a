"""The command `ampstead-packs`: what it prints, what it leaves, and its exit status."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path
from urllib.parse import parse_qsl, urlsplit

import pytest

from ampstead_client import AmpsteadClient, NotInstalled, Quantity
from ampstead_client.packs import PackList, packlist
from ampstead_client.packs.cards import LONGEST, card_addresses
from ampstead_client.packs.command import main

TOP = Path(__file__).resolve().parents[3]
EXAMPLE = TOP / "client" / "examples" / "packs.toml"


@pytest.fixture(autouse=True)
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the list in it."""
    shutil.copy(EXAMPLE, tmp_path)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(line: str) -> int:
    try:
        return main(shlex.split(line))
    except SystemExit as leaving:
        return int(leaving.code or 0)


def test_each_command_of_the_readme_runs(capsys: pytest.CaptureFixture[str]) -> None:
    readme = (TOP / "client" / "README.md").read_text(encoding="utf-8")
    lines = re.findall(r"^ampstead-packs (.+)$", readme, re.MULTILINE)
    assert {shlex.split(line)[1] for line in lines} == {"log", "report", "check", "export", "import", "cards", "add"}
    for line in lines:
        assert run(line) == 0, line
    assert capsys.readouterr().err == ""
    assert "red trainer D" in PackList.load("packs.toml")
    assert Path("packs.html").read_text(encoding="utf-8").startswith("<!doctype html>")


def test_a_report_is_printed_or_written_in_the_form_of_its_ending(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("packs.toml report") == 0
    assert capsys.readouterr().out.splitlines()[2].startswith("light duty  red trainer C")
    assert run("packs.toml report --out packs.svg --temperature '13 °C'") == 0
    assert Path("packs.svg").read_text(encoding="utf-8").startswith("<svg")
    assert run("packs.toml report --as html") == 0
    assert "<!doctype html>" in capsys.readouterr().out


def test_what_was_logged_is_said_and_stands_in_the_file(capsys: pytest.CaptureFixture[str]) -> None:
    line = "packs.toml log 'red trainer A' cell-resistance='9 mΩ' method=charger temperature='13 C' date=2026-05-01"
    assert run(line) == 0
    said = "red trainer A: cell_resistance 9 mΩ (charger, 13 °C) of 2026-05-01 is written to packs.toml.\n"
    assert capsys.readouterr().out == said
    assert PackList.load("packs.toml")["red trainer A"].history[-1].method == "charger"


def test_a_name_needs_no_quotes_and_a_reading_that_counts_for_nothing_is_told_at_once(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run("packs.toml log red trainer A measured_capacity='2140 mAh' temperature='13 °C' method=discharge") == 0
    assert PackList.load("packs.toml")["red trainer A"].measured_capacity == Quantity(2140, "mAh")
    assert "has no current, so it counts in no trend" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("line", "status", "told"),
    [
        ("none.toml report", 2, "none.toml: there is no such file; begin one with: ampstead-packs none.toml add"),
        ("packs.toml log 'red trainr A' condition=sound", 2, 'did you mean "red trainer A"?'),
        ("packs.toml log 'red trainer A' cell_resistance=9 method=1s", 2, "cell_resistance needs a unit"),
        ("packs.toml log condition=sound 'red trainer A'", 2, "write the name of the pack, and then what=value"),
        ("packs.toml log 'red trainer A'", 2, "nothing to log: give one of cell_resistance"),
        ("packs.toml log 'red trainer A' --date=2026-05-01", 2, "unrecognised: --date=2026-05-01"),
        ("packs.toml log 'red trainer A' method=1s method=10s", 2, "method is given twice"),
        ("packs.toml report --server http://127.0.0.1:9", 1, "no service answers at http://127.0.0.1:9: no conn"),
        ("packs.toml report --server nonsense", 2, '"nonsense" is no address'),
        ("packs.toml report --temperature 13", 2, "temperature needs a unit"),
        ("packs.toml report --out packs.pdf", 2, 'no form ends in ".pdf": end the file in .html, .svg or .txt'),
        ("packs.toml import none.csv", 1, "none.csv: No such file"),
        ("packs.toml add 'red trainer A' cells=3 capacity='2250 mAh'", 2, "already"),
        ("packs.toml", 2, "COMMAND"),
    ],
)
def test_what_goes_wrong_is_one_message_with_the_cure(
    capsys: pytest.CaptureFixture[str], line: str, status: int, told: str
) -> None:
    assert run(line) == status
    said = capsys.readouterr().err
    assert told in said
    assert "Traceback" not in said


def test_a_pack_that_is_refused_begins_no_file() -> None:
    assert run("mine.toml add 'red trainer A' cells=3") == 2
    assert not Path("mine.toml").exists()
    assert run("mine.toml add 'red trainer A' cells=3 capacity='2250 mAh'") == 0
    assert PackList.load("mine.toml")["red-trainer-a"].cells == 3


def test_check_says_which_readings_count_for_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    packs = PackList.load("packs.toml")
    packs.log("red trainer A", cell_resistance="9 mΩ", method="1s")
    packs.log("red trainer A", measured_capacity="2140 mAh", method="discharge", temperature="13 °C")
    packs.log("red trainer A", condition="sound", date="2999-01-01")
    assert run("packs.toml check") == 0
    told = capsys.readouterr().out
    assert "has no temperature, so it counts in no trend" in told
    assert "has no current, so it counts in no trend" in told
    assert "lies ahead of today" in told
    assert "10 packs, 17 readings." in told
    Path("packs.toml").write_text(EXAMPLE.read_text(encoding="utf-8").replace('"1150 mAh"', "1150"), encoding="utf-8")
    assert run("packs.toml check") == 2
    assert re.search(r'packs.toml line \d+: capacity needs a unit: write "1150 mAh"', capsys.readouterr().err)


def test_reading_needs_no_more_than_the_client_and_writing_says_what_it_needs(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "filelock", None)
    monkeypatch.setitem(sys.modules, "tomlkit", None)
    assert run("packs.toml report") == 0
    assert run("packs.toml log 'red trainer A' condition=sound") == 1
    assert 'pip install "ampstead-client[packs]"' in capsys.readouterr().err


def test_a_list_that_another_program_holds_is_told(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from filelock import FileLock

    monkeypatch.setattr(packlist, "LOCK_WAIT", 0.1)
    with FileLock(Path(".packs.toml.lock").absolute()):
        assert run("packs.toml log 'red trainer A' condition=sound") == 1
    assert "is being written by another program: try again" in capsys.readouterr().err


def test_a_reader_that_has_enough_is_no_error() -> None:
    program = [sys.executable, "-m", "ampstead_client.packs.command", "packs.toml", "export"]
    made = subprocess.Popen(program, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert made.stdout is not None
    made.stdout.close()
    assert made.stderr is not None
    assert made.stderr.read() == b""
    made.stderr.close()
    assert made.wait(20) == 1


def test_cards_are_asked_for_with_the_facts_of_every_pack(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("packs.toml cards --server http://bench.example:8080/") == 0
    asked = [parse_qsl(urlsplit(address).query) for address in capsys.readouterr().out.split()]
    first = dict(asked[0])
    assert first["name"] == "packs"
    assert first["packs[1].name"] == "red trainer A"
    assert first["packs[1].capacity"] == "2250 mAh"
    assert first["packs[1].cell_resistance"] == "8.5 mΩ"
    assert first["packs[1].max_rate"] == "2"
    named = [value for query in asked for key, value in query if key.endswith("].name")]
    assert named == [pack.name for pack in PackList.load("packs.toml")]


def test_the_cards_know_what_the_report_knows_of_a_worn_pack(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("packs.toml cards") == 0
    made = capsys.readouterr()
    asked = dict(parse_qsl(urlsplit(made.out.split()[0]).query))
    (worn,) = [key.removesuffix(".name") for key, value in asked.items() if value == "red trainer C"]
    with AmpsteadClient.embedded() as client:
        told = {each.pack.name: each for each in PackList.load("packs.toml").report(client)}["red trainer C"]
    assert told.verdict == "light-duty"
    ((name, resistance),) = told.held_against.items()
    assert asked[f"{worn}.{name}"] == ",".join(map(str, resistance if isinstance(resistance, tuple) else [resistance]))
    assert made.err == ""


def test_where_no_service_answers_the_cards_say_what_they_do_not_know(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def missing() -> AmpsteadClient:
        raise NotInstalled("the service is not installed here")

    monkeypatch.setattr(AmpsteadClient, "embedded", missing)
    assert run("packs.toml cards --server http://127.0.0.1:1") == 0
    made = capsys.readouterr()
    assert "do not know how the packs have aged" in made.err
    assert made.out.startswith("http://127.0.0.1:1/card?")
    assert run("packs.toml cards --server bench") == 2
    assert "is no address" in capsys.readouterr().err


def test_a_long_list_is_asked_for_in_several_addresses() -> None:
    packs = list(PackList.load("packs.toml")) * 5
    addresses = card_addresses(packs, "http://bench.example", "packs")
    assert len(addresses) > 1
    assert all(len(address) <= LONGEST for address in addresses)
    assert sum(address.count("].name=") for address in addresses) == len(packs)
    assert all("packs[0].name=" in address for address in addresses)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no such device on this system")
def test_a_full_disk_under_the_output_is_not_blamed_on_the_list() -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "ampstead_client.packs", "packs.toml", "export"],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert done.returncode == 1
    assert done.stderr.strip() == "No space left on device"

"""The command line: one question, answered at once or by a server, or a table row by row."""

import csv
import io
import json
import os
import re
import shlex
import subprocess
import sys
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from werkzeug.serving import make_server

from ampstead.app import create_app
from ampstead.calculators import registry
from ampstead.cli import main
from ampstead.cli.completion import script
from ampstead.cli.guide import example
from ampstead.cli.terminal import figure, laid_out
from ampstead.declare import Quantity
from ampstead.replying.local import embedded

WATTAGE = ["ask", "wattage", "cells=3", "capacity=2250 mAh", "available_power=25W"]
CHARGE = ["ask", "charge-current", "cells=3", "capacity=2250mAh", "rest_voltage=11.31V"]
SPLIT = '{"supply_rating": "180 W", "loads": [{"name": "left", "power": "110 W"}, "60 W"]}'


def answered() -> dict[str, Any]:
    status, document = embedded("wattage", dict(entry.split("=", 1) for entry in WATTAGE[2:]))
    assert status == 200
    return document


def on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    monkeypatch.setenv("COLUMNS", "80")


@pytest.fixture(scope="module")
def server() -> Iterator[str]:
    made = make_server("127.0.0.1", 0, create_app(), threaded=True)
    thread = threading.Thread(target=made.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{made.server_port}"
    made.shutdown()
    thread.join(5)
    made.server_close()


class TestOnATerminal:
    def test_an_answer_is_laid_out_to_be_read(
        self, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        on_a_terminal(monkeypatch)
        assert main(CHARGE) == 0
        sentence, figures, cautions, assumed = capsys.readouterr().out.split("\n\n")
        assert " ".join(sentence.split()).startswith(
            "Charge this lithium-polymer pack at 2.2 amperes, up to 12.6 volts;"
        )
        rows = {row[0]: row[1:] for row in (re.split(r"  +", line.strip()) for line in figures.splitlines())}
        assert rows["current"] == ["2.25 A"]
        assert rows["limited by"] == ["asked-rate"]
        assert re.fullmatch(r"[0-9.]+ to [0-9.]+ min", rows["time total"][1])
        starts = {re.match(r" *\S+( \S+)* +", line).end() for line in figures.splitlines()}  # type: ignore[union-attr]
        assert len(starts) == 1
        assert cautions.startswith("DANGER   Never leave a charging pack alone.\nWARNING  ")
        assert assumed.startswith("Assumed: chemistry lipo, ")
        assert "efficiency 85 %" in assumed
        assert max(map(len, "\n".join((sentence, figures, cautions, assumed)).splitlines())) <= 80

    def test_a_limit_is_shown_on_the_safe_side_and_a_band_outward(self) -> None:
        most = Quantity("A", "The most.", spoken="down")
        needed = Quantity("W", "What is needed.", spoken="up")
        assert figure({"value": 48.2999, "unit": "A"}, most) == "48.29 A"
        assert figure({"value": 188.81, "unit": "W"}, needed) == "188.9 W"
        assert figure(None) == "–"
        document = answered()
        document["accuracy"] = [
            {
                "of": "supply_power",
                "low": {"value": 29.8477, "unit": "W"},
                "high": {"value": 35.4322, "unit": "W"},
                "basis": "",
            }
        ]
        assert "29.84 to 35.44 W" in laid_out(document)

    @pytest.mark.parametrize("name", sorted(registry()))
    def test_every_calculators_examples_can_be_laid_out(self, name: str, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setenv("COLUMNS", "70")
        for question in registry()[name].examples:
            document = embedded(name, question)[1]
            told = laid_out(document)
            assert all(result.replace("_", " ") in told for result in document["answer"])
            assert not re.search(r"None|True|False|\{|\}|e[-+][0-9]", told)
            assert all(" ".join(caution["text"].split()) in " ".join(told.split()) for caution in document["cautions"])

    def test_a_name_cannot_steer_it(self) -> None:
        document = answered()
        document["sentence"] = "Charge \x1b[31mit\x9b2J\r."
        assert laid_out(document).startswith("Charge [31mit2J.\n")

    def test_a_bitmap_is_not_thrown_at_it(
        self, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        on_a_terminal(monkeypatch)
        with pytest.raises(SystemExit) as ended:
            main([*CHARGE, "--form", "png"])
        assert ended.value.code == 2
        assert "-o FILE" in capsys.readouterr().err


def test_elsewhere_the_whole_answer_comes_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(WATTAGE) == 0
    assert json.loads(capsys.readouterr().out) == answered()


def test_it_speaks_the_answer_and_the_gravest_caution_where_asked(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*WATTAGE, "--form", "txt"]) == 0
    gravest = sorted(answered()["cautions"], key=lambda entry: entry["standing"])[0]
    assert capsys.readouterr().out == f"{answered()['sentence']} {gravest['text']}\n"


@pytest.mark.parametrize("ending", ["json", "txt", "csv", "svg", "png"])
def test_the_ending_of_a_file_tells_the_form(ending: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / f"charge.{ending}"
    assert main([*CHARGE, "-o", str(file)]) == 0
    assert capsys.readouterr().out == ""
    body = file.read_bytes()
    if ending == "json":
        assert json.loads(body)["calculator"] == "charge-current"
    elif ending == "svg":
        assert ElementTree.fromstring(body).tag.endswith("svg")
    else:
        start = {"txt": b"Charge this", "csv": b"time [min],voltage [V]", "png": b"\x89PNG\r\n"}[ending]
        assert body.startswith(start)


def test_a_file_that_cannot_be_written_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*WATTAGE, "-o", str(tmp_path / "no" / "such.json")]) == 1
    assert "cannot be written" in capsys.readouterr().err


@pytest.mark.parametrize("form", [[], ["--form", "txt"], ["--form", "terminal"]])
def test_a_refused_question_tells_every_fault_on_its_line_and_exits_with_two(
    form: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["ask", "wattage", "cells=3", "capacity=2250", "rat=2C", *form]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert sorted(told.err.splitlines()) == [
        'capacity: needs a unit: write "2250 mAh"',
        "rat: is not an input here; did you mean rate?",
    ]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["watage", "cells=2"], "did you mean wattage?"),
        (["wattage", "cells=3", "capacity=1150mAh", "--form", "svg"], "has no such form"),
        (["wattage", "cells=2", "cells=3"], "cells: is given more than once"),
        (["wattage", "--json", "{"], "not JSON"),
        (["watage", "--help"], "did you mean wattage?"),
    ],
)
def test_what_cannot_be_asked_exits_with_two(
    arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["ask", *arguments]) == 2
    assert said in capsys.readouterr().err


@pytest.mark.parametrize(
    "arguments",
    [
        ["wattage", "cells"],
        ["wattage", "--json", '{"cells": 3}', "cells=3"],
        ["wattage", "--json", "{}", "-"],
        ["wattage", "--frm", "txt"],
        ["wattage", "--csv", "-", "--form", "json"],
        ["wattage", "--json", "no-such-file.json"],
        ["wattage", "cells=3", "capacity=1150mAh", "-o", "no-such-form.pdf"],
    ],
)
def test_a_wrong_call_says_how_to_call_it(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["ask", *arguments])
    assert ended.value.code == 2
    assert "usage: ampstead ask CALCULATOR" in capsys.readouterr().err


@pytest.mark.parametrize("how", ["argument", "lone dash", "dash behind the option", "file"])
def test_a_nested_question_comes_as_json(
    how: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(SPLIT.encode())))
    file = tmp_path / "split.json"
    file.write_text(SPLIT)
    given = {
        "argument": ["--json", SPLIT],
        "lone dash": ["-"],
        "dash behind the option": ["--json", "-"],
        "file": ["--json", str(file)],
    }[how]
    assert main(["ask", "supply_split", "headroom=0", *given, "share=even"]) == 0
    answer = json.loads(capsys.readouterr().out)["answer"]
    assert [load["allotted_power"]["value"] for load in answer["allotments"]] == [110, 60]


def test_a_nested_input_may_be_given_by_its_name(capsys: pytest.CaptureFixture[str]) -> None:
    loads = ["loads[0].name=left", "loads[0].power=110W", "loads[1].power=60W"]
    assert main(["ask", "supply-split", "supply_rating=180W", "share=even", *loads]) == 0
    given = json.loads(capsys.readouterr().out)["answer"]
    assert main(["ask", "supply-split", "share=even", "--json", SPLIT]) == 0
    assert given == json.loads(capsys.readouterr().out)["answer"]


class TestOfAServer:
    @pytest.mark.parametrize("form", [[], ["--form", "txt"], ["--form", "terminal"]])
    def test_answers_are_those_of_this_process(
        self, form: list[str], server: str, capsys: pytest.CaptureFixture[str]
    ) -> None:
        for question in (WATTAGE, ["ask", "supply-split", "--json", SPLIT]):
            assert main([*question, *form]) == 0
            own = capsys.readouterr().out
            assert main([*question, *form, "--server", server]) == 0
            assert capsys.readouterr().out == own

    def test_refusals_are_those_of_this_process(self, server: str, capsys: pytest.CaptureFixture[str]) -> None:
        question = ["ask", "wattage", "cells=99", "capacity=2250"]
        assert main(question) == main([*question, "--server", server]) == 2
        lines = capsys.readouterr().err.splitlines()
        assert lines[:2] == lines[2:]

    def test_a_table_is_answered_too(self, server: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        file = tmp_path / "packs.csv"
        file.write_text(TABLE, encoding="utf-8")
        assert main(["ask", "wattage", "--csv", str(file), "rate=2C", "--server", server]) == 0
        assert [row["pack"] for row in csv.DictReader(io.StringIO(capsys.readouterr().out))] == ["glider", "worn"]

    @pytest.mark.parametrize("address", ["http://127.0.0.1:1", "meadow", "ftp://127.0.0.1", "http://[x"])
    def test_one_that_is_not_there_is_told(self, address: str, capsys: pytest.CaptureFixture[str]) -> None:
        assert main([*WATTAGE, "--server", address]) == 1
        told = capsys.readouterr()
        assert address in told.err
        assert told.out == ""
        assert told.err.count("\n") == 1

    def test_a_key_goes_to_it_and_follows_no_redirect(
        self, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        heard: list[tuple[str, str | None]] = []

        class Gate(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                heard.append((self.path, self.headers.get("Authorization")))
                self.send_response(307)
                self.send_header("Location", "/elsewhere")
                self.end_headers()

            def log_message(self, format: str, *args: Any) -> None:
                pass

        monkeypatch.setenv("AMPSTEAD_KEY", "meadow-9f3c")
        with HTTPServer(("127.0.0.1", 0), Gate) as gate:
            thread = threading.Thread(target=gate.serve_forever, kwargs={"poll_interval": 0.01}, daemon=True)
            thread.start()
            assert main([*WATTAGE, "--server", f"http://127.0.0.1:{gate.server_port}"]) == 1
            gate.shutdown()
            thread.join(5)
        assert [path.partition("?")[0] for path, _ in heard] == ["/v1/wattage"]
        assert heard[0][1] == "Bearer meadow-9f3c"
        told = capsys.readouterr()
        assert "307" in told.err
        assert "9f3c" not in told.err


class TestHelp:
    @pytest.mark.parametrize("name", sorted(registry()))
    def test_tells_every_input_with_its_unit_and_every_result(
        self, name: str, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert main(["ask", name, "--help"]) == 0
        told = capsys.readouterr().out
        for entry in (*registry()[name].inputs.values(), *registry()[name].results.values()):
            line = re.search(rf"^  {entry.name}  .*(\n {{5,}}.*)*", told, re.MULTILINE)
            assert line, entry.name
            if isinstance(entry.spec, Quantity):
                assert f"[{entry.spec.unit}]" in line[0]
        for entry in registry()[name].inputs.values():
            for inner in entry.item.inputs if entry.item else ():
                assert re.search(rf"^  {entry.name}(\[0\])?\.{inner}  ", told, re.MULTILINE)
        assert max(map(len, told.partition("For example")[0].splitlines())) <= 100

    def test_tells_bounds_defaults_choices_and_examples(self, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["ask", "wattage", "-h"]) == 0
        told = " ".join(capsys.readouterr().out.split())
        assert "at least 10 mAh, at most 200 Ah" in told
        assert "If not given: 85 %." in told
        assert "one of lipo, lihv, liion" in told
        assert 'Like capacity="2250 mAh"' in told
        assert "One of cells, voltage." in told

    @pytest.mark.parametrize("name", sorted(registry()))
    def test_its_examples_are_answered(self, name: str, capsys: pytest.CaptureFixture[str]) -> None:
        for question in registry()[name].examples:
            command = shlex.split(example(name, question))
            assert main(command[1:]) == 0, command
            assert json.loads(capsys.readouterr().out)["answer"] == embedded(name, question)[1]["answer"]

    def test_a_list_tells_every_calculator(self, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["list"]) == 0
        told = [line.split("\t") for line in capsys.readouterr().out.splitlines()]
        assert told == [[name, calculator.summary] for name, calculator in registry().items()]

    def test_a_misspelt_command_gets_a_hint(self, capsys: pytest.CaptureFixture[str]) -> None:
        with pytest.raises(SystemExit) as ended:
            main(["asc"])
        assert ended.value.code == 2
        assert "did you mean ask?" in capsys.readouterr().err


class TestCompletion:
    @pytest.mark.parametrize(
        ("words", "offered"),
        [
            ("ampstead a", ["ask"]),
            ("ampstead ask wat", ["wattage"]),
            ("ampstead ask wattage ce", ["cells="]),
            ("ampstead ask wattage chemistry = li", ["lipo", "lihv", "liion", "life"]),
            ("ampstead ask wattage --form s", ["svg"]),
            ("ampstead completion f", ["fish"]),
        ],
    )
    def test_bash_completes_commands_calculators_inputs_and_choices(self, words: str, offered: list[str]) -> None:
        program = (
            f"{script('bash')}\n"
            f"COMP_WORDS=({words}); COMP_CWORD=$((${{#COMP_WORDS[@]}}-1)); _ampstead 2>/dev/null\n"
            'printf "%s\\n" "${COMPREPLY[@]}"'
        )
        ended = subprocess.run(["bash", "-c", program], capture_output=True, text=True, timeout=60, check=True)
        assert ended.stdout.split() == offered

    @pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
    def test_every_shells_script_holds_every_name(self, shell: str, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["completion", shell]) == 0
        script = capsys.readouterr().out
        for name, calculator in registry().items():
            assert name in script
            assert all(f"{entry}=" in script for entry in calculator.inputs)


def test_what_needs_no_numbers_starts_without_them() -> None:
    program = (
        "import sys; from ampstead.cli import main; "
        "main(['--version']); main(['ask', 'wattage', '--server', 'nowhere']); "
        "print([name for name in ('numpy', 'flask', 'marshmallow') if name in sys.modules])"
    )
    ended = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, timeout=60, check=True)
    assert ended.stdout.splitlines()[-1] == "[]"


def test_a_reader_that_leaves_early_causes_no_outcry() -> None:
    command = shlex.join([str(Path(sys.executable).parent / "ampstead"), *CHARGE])
    ended = subprocess.run(
        ["bash", "-c", f"{command} | true; exit ${{PIPESTATUS[0]}}"],
        capture_output=True,
        text=True,
        timeout=60,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )
    assert ended.stderr == ""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a disk that is always full")
def test_an_output_that_finds_no_room_is_told_in_a_sentence() -> None:
    command = [sys.executable, "-m", "ampstead", *CHARGE]
    with Path("/dev/full").open("wb") as full:
        ended = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, timeout=60, check=False)
    assert (ended.returncode, ended.stderr) == (1, "The output cannot be written: No space left on device.\n")


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
        (["watage", "--csv", "-"], 2, "did you mean wattage"),
        (["wattage", "--csv", "-"], 2, "no column"),
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


def test_a_refusal_in_any_form_is_a_problem_document_in_this_process() -> None:
    for suffix in ("", ".txt", ".svg"):
        status, document = embedded("sag", {"cells": 3, "capacity": "2250", "current": "23 A"}, suffix)
        assert status == 422
        assert document["errors"][0]["code"] == "unit_missing"

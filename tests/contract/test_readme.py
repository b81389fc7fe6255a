"""Every command and snippet of README.md, run as it is printed (the container's apart: that needs an engine)."""

import csv
import io
import json
import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parents[2]
README = (TOP / "README.md").read_text(encoding="utf-8")
PRINTED = "http://127.0.0.1:8080"
BLOCKS = re.findall(r"^```(\w+)\n(.*?)^```", README, re.MULTILINE | re.DOTALL)
COMMANDS = [line for kind, block in BLOCKS if kind == "sh" for line in block.strip().replace("|\n", "|").splitlines()]
CURLS = [line for line in COMMANDS if line.startswith("curl ")]
ASKED = [line for line in COMMANDS if line.startswith(".venv/bin/ampstead ")]
PIPED = [line for line in COMMANDS if re.search(r"\|\s+\.venv/bin/ampstead ", line)]
ELSEWHERE = {"sh service/run", "sh tests/run", "docker compose -f docker/compose.yaml up --build --detach"}
SPOKEN = re.findall(r"^```sh\n(curl [^\n]*\.txt[^\n]*)\n```\n\n((?:> [^\n]*\n)+)", README, re.MULTILINE)
CALCULATORS = re.findall(r"^\| `([a-z-]+)` \|", README, re.MULTILINE)


@pytest.fixture(scope="module")
def service() -> Iterator[str]:
    """The README's first command, on a free port."""
    process = subprocess.Popen(
        ["sh", "service/run"],
        cwd=TOP,
        env={**os.environ, "PORT": "0"},
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    assert process.stdout is not None
    greeting = [process.stdout.readline() for _ in range(4)]
    yield greeting[1].strip().partition("/v1/")[0]
    process.send_signal(signal.SIGTERM)
    assert process.wait(10) == 0
    process.stdout.close()


def shell(command: str, base: str) -> str:
    ended = subprocess.run(
        command.replace(PRINTED, base), shell=True, cwd=TOP, capture_output=True, text=True, timeout=60, check=True
    )
    return ended.stdout


def test_every_command_is_of_a_kind_that_is_run() -> None:
    assert set(COMMANDS) == {*CURLS, *ASKED, *PIPED, *ELSEWHERE}
    assert "sh tests/run\n" in (TOP / ".ci" / "run").read_text(encoding="utf-8")


def test_curl_is_there_to_run_them() -> None:
    assert shutil.which("curl"), "install curl: the README's commands are run with it"


@pytest.mark.parametrize("command", [command for command in CURLS if ".txt" not in command])
def test_each_curl_answers_without_an_error(command: str, service: str) -> None:
    said = shell(command.replace("curl ", "curl --silent --show-error --fail ", 1), service)
    if ".csv" in command:
        assert said.startswith("time [min],voltage [V]")
        return
    answer = json.loads(said)
    assert answer["calculator"] in command
    assert answer["sentence"]


@pytest.mark.parametrize(("command", "quoted"), SPOKEN)
def test_each_sentence_it_quotes_is_the_one_that_is_spoken(command: str, quoted: str, service: str) -> None:
    said = shell(command.replace("curl ", "curl --silent --show-error --fail ", 1), service)
    assert said.strip() == " ".join(line.removeprefix("> ") for line in quoted.strip().splitlines())


def test_every_spoken_answer_is_quoted() -> None:
    assert [command for command, _ in SPOKEN] == [command for command in CURLS if ".txt" in command]
    assert README.count("\n> ") == sum(quoted.count("\n") for _, quoted in SPOKEN)


@pytest.mark.parametrize("command", ASKED)
def test_each_question_without_a_server_is_answered(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The same console script, wherever the environment of this run stands.
    # A file that it writes goes where the test's own may stand.
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    said = shell(command.replace(".venv/bin/ampstead", str(Path(sys.executable).parent / "ampstead")), "")
    if "-o " in command:
        assert said == ""
        assert (tmp_path / "sag.svg").read_text(encoding="utf-8").startswith("<svg")
    elif "--form txt" in command:
        assert said.startswith("The supply of 180 watts is too small")
    else:
        assert json.loads(said)["calculator"] in command


SHOWN = re.compile(r"^```sh\n(\.venv[^\n]*)\n```\n\n```text\n(.*?)^```", re.MULTILINE | re.DOTALL)


def test_what_a_terminal_shows_is_as_it_is_printed() -> None:
    ((command, printed),) = SHOWN.findall(README)
    console = str(Path(sys.executable).parent / "ampstead")
    assert shell(f"COLUMNS=100 {command.replace('.venv/bin/ampstead', console)} --form terminal", "") == printed


def test_the_table_of_packs_is_answered() -> None:
    (command,) = PIPED
    said = shell(command.replace(".venv/bin/ampstead", str(Path(sys.executable).parent / "ampstead")), "")
    rows = list(csv.DictReader(io.StringIO(said)))
    assert [row["pack"] for row in rows] == ["red", "blue"]
    assert all(float(row["answer.current [A]"]) > 0 and not row["problem"] for row in rows)


def test_the_python_snippet_runs(service: str) -> None:
    (snippet,) = (block for kind, block in BLOCKS if kind == "python")
    assert len(snippet.strip().splitlines()) <= 12
    ended = subprocess.run(
        [sys.executable, "-W", "error", "-c", snippet.replace(PRINTED, service)],
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    assert "Charge this lithium-polymer pack at" in ended.stdout
    assert "Never leave a charging pack alone." in ended.stdout


def test_its_table_names_every_calculator_in_order_of_use() -> None:
    from ampstead.calculators import registry

    assert sorted(CALCULATORS) == sorted(registry())

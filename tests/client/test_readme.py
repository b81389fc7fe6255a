"""The client's README, run as it is printed, against a service on loopback; its install lines, without an index."""

from __future__ import annotations

import ast
import re
import shutil
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from werkzeug.serving import make_server

import ampstead_client
from ampstead.app import create_app

TOP = Path(__file__).resolve().parents[2]
README = (TOP / "client" / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```(\w*)\n(.*?)^```", README, re.MULTILINE | re.DOTALL)
PRINTED = "http://127.0.0.1:8080"


@pytest.fixture(scope="module")
def base_url() -> Iterator[str]:
    server = make_server("127.0.0.1", 0, create_app(), threaded=True)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    thread.join(5)
    server.server_close()


@pytest.mark.filterwarnings("ignore::ResourceWarning")
def test_every_sample_runs_and_gives_what_its_remarks_say(
    base_url: str, capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copy(TOP / "client" / "examples" / "packs.toml", tmp_path)
    monkeypatch.chdir(tmp_path)
    names: dict[str, Any] = {}
    remarks = 0
    for kind, block in BLOCKS:
        if kind != "python":
            continue
        source = block.replace(PRINTED, base_url)
        lines = source.splitlines()
        for step in ast.parse(source).body:
            if not isinstance(step, ast.Expr):
                exec(compile(ast.Module([step], []), "README.md", "exec"), names)
                continue
            value = eval(compile(ast.Expression(step.value), "README.md", "eval"), names)
            remark = re.search(r'#\s+(".*")$', lines[(step.end_lineno or 0) - 1])
            if remark:
                remarks += 1
                assert value == ast.literal_eval(remark[1])
    assert remarks
    printed = capsys.readouterr().out
    assert "Under 48 amperes" in printed
    assert "no service in reach" not in printed
    assert PRINTED in README.replace(base_url, PRINTED)


def test_the_first_sample_survives_a_load_that_cannot_be_carried(
    base_url: str, capsys: pytest.CaptureFixture[str]
) -> None:
    first = next(block for kind, block in BLOCKS if kind == "python").replace(PRINTED, base_url)
    assert 'current="48 A"' in first
    names: dict[str, Any] = {}
    exec(compile(first.replace('current="48 A"', 'power="100 kW"'), "README.md", "exec"), names)
    names["client"].close()
    assert "It cannot carry that at all; at most" in capsys.readouterr().out


def test_the_table_of_errors_names_every_error_of_the_package() -> None:
    told = set(re.findall(r"`([A-Z]\w+)`", README))
    assert told >= {name for name, kind in vars(ampstead_client).items() if is_error(kind)} - {"AmpsteadError"}


def is_error(kind: object) -> bool:
    return isinstance(kind, type) and issubclass(kind, ampstead_client.AmpsteadError)


INSTALLS = [block.strip().removeprefix("pip install ").split() for kind, block in BLOCKS if kind == "sh"]


BARELY = ("--no-deps", "--no-index", "--no-build-isolation")


def test_each_command_installs_from_the_clone() -> None:
    assert INSTALLS == [["./client"], [".", "./client"]]


@pytest.mark.parametrize("paths", INSTALLS, ids=" ".join)
def test_what_the_install_lines_install_answers_without_the_clone(paths: list[str], tmp_path: Path) -> None:
    """Built from a copy by the tools at hand, so that neither an index is asked nor the clone written to."""
    clone, target = tmp_path / "clone", tmp_path / "installed"
    shutil.copytree(TOP / "client", clone / "client", ignore=shutil.ignore_patterns("*.egg-info", "build"))
    shutil.copytree(TOP / "service", clone / "service", ignore=shutil.ignore_patterns("*.egg-info", "build"))
    for part in ("pyproject.toml", "README.md"):
        shutil.copy(TOP / part, clone / part)
    tool = ["uv", "pip"] if shutil.which("uv") else [sys.executable, "-m", "pip"]
    python = ["--python", sys.executable] if shutil.which("uv") else []
    subprocess.run(
        [
            *tool,
            "install",
            "--quiet",
            *python,
            "--no-deps",
            "--no-index",
            "--no-build-isolation",
            "--target",
            str(target),
            *paths,
        ],
        cwd=clone,
        check=True,
        timeout=120,
    )
    asked = "AmpsteadClient.embedded()" if "." in paths else "AmpsteadClient.over(FakeTransport())"
    program = (
        "import ampstead_client; from ampstead_client import AmpsteadClient; "
        "from ampstead_client.testing import FakeTransport; "
        f"print(ampstead_client.__file__); print({asked}.sag(current='48 A', cells=4, cell_resistance='4.6 mΩ'))"
    )
    ran = subprocess.run(
        [sys.executable, "-c", f"import sys; sys.path.insert(0, {str(target)!r}); {program}"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    where, said = ran.stdout.strip().split("\n")
    assert where.startswith(str(target))
    assert said.startswith("Under 48 amperes")
    assert (target / "ampstead_client" / "py.typed").exists()

"""What an app writes type-checks, and what it must not write does not."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

TOP = Path(__file__).resolve().parents[2]
APP = TOP / "tests" / "type_check" / "app.py"
MARK = "  # type: ignore["


def checked(app: Path, cache: Path) -> str:
    ran = subprocess.run(
        [
            *(sys.executable, "-m", "mypy", "--strict", "--config-file", str(TOP / "pyproject.toml")),
            *("--cache-dir", str(cache), "--warn-unused-ignores", str(app)),
        ],
        cwd=TOP,
        env={**os.environ, "MYPYPATH": str(TOP / "client")},
        capture_output=True,
        text=True,
        timeout=120,
    )
    return ran.stdout + ran.stderr


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("mypy")


def test_the_app_type_checks_and_every_mistake_is_seen(cache: Path) -> None:
    # An ignore that hides nothing is an error under --strict, so that each marked line is seen to fail.
    assert checked(APP, cache) == "Success: no issues found in 1 source file\n"


def test_each_marked_line_fails_as_marked(tmp_path: Path, cache: Path) -> None:
    lines = APP.read_text(encoding="utf-8").splitlines()
    marked = {
        place: line.partition(MARK)[2].rstrip("]").split(", ") for place, line in enumerate(lines, 1) if MARK in line
    }
    assert len(marked) >= 2
    bare = tmp_path / "app.py"
    bare.write_text("\n".join(line.partition(MARK)[0] for line in lines) + "\n", encoding="utf-8")
    told = checked(bare, cache).splitlines()
    for place, codes in marked.items():
        for code in codes:
            assert any(f"app.py:{place}: error:" in line and f"[{code}]" in line for line in told), (place, code, told)


def test_the_app_is_ten_lines() -> None:
    source = APP.read_text(encoding="utf-8")
    app = source.partition("def hangar_board")[2].partition("\n\n")[0].splitlines()
    assert len(app) - 2 <= 10


def seen_by_pyright(app: Path, where: Path) -> list[dict[str, Any]]:
    """What pyright complains of, at its strictest."""
    settings = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["pyright"]
    config = where / "pyrightconfig.json"
    config.write_text(
        json.dumps({**settings, "include": [os.path.relpath(app, where)], "extraPaths": [str(TOP / "client")]}),
        encoding="utf-8",
    )
    ran = subprocess.run(
        [sys.executable, "-m", "pyright", "--project", str(config), "--pythonpath", sys.executable, "--outputjson"],
        capture_output=True,
        text=True,
        timeout=120,
        env={**os.environ, "PYRIGHT_PYTHON_IGNORE_WARNINGS": "1"},
    )
    told = json.loads(ran.stdout)
    assert told["summary"]["filesAnalyzed"] == 1, ran.stdout
    complaints: list[dict[str, Any]] = told["generalDiagnostics"]
    return complaints


def test_pyright_finds_nothing_in_the_app_and_every_mistake(tmp_path: Path) -> None:
    assert seen_by_pyright(APP, tmp_path) == []
    lines = APP.read_text(encoding="utf-8").splitlines()
    bare = tmp_path / "app.py"
    bare.write_text("\n".join(line.partition(MARK)[0] for line in lines) + "\n", encoding="utf-8")
    told = {entry["range"]["start"]["line"] for entry in seen_by_pyright(bare, tmp_path)}
    assert told >= {place for place, line in enumerate(lines) if MARK in line}

"""openapi-typescript at its default settings makes types by which a program compiles strictly, and runs."""

import json
import os
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).parent
DOCUMENT = HERE.parents[1] / "openapi" / "openapi.json"


@pytest.fixture(scope="module")
def project(modules: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("typescript")
    (place / "node_modules").symlink_to(modules)
    (place / "package.json").write_text('{"type": "module", "private": true}', encoding="utf-8")
    for name in ("program.ts", "tsconfig.json"):
        shutil.copy(HERE / name, place)
    ran(place, modules / ".bin" / "openapi-typescript", str(DOCUMENT), "-o", "document.d.ts")
    return place


def ran(place: Path, *command: str | Path) -> str:
    quiet = {**os.environ, "NO_COLOR": "1", "CI": "1"}
    made = subprocess.run(command, cwd=place, env=quiet, capture_output=True, text=True, timeout=120)
    assert made.returncode == 0, made.stdout + made.stderr
    assert "warn" not in made.stderr.lower()
    return made.stdout


def compiled(place: Path, modules: Path) -> str:
    command = [modules / ".bin" / "tsc", "--project", "tsconfig.json"]
    return subprocess.run(command, cwd=place, capture_output=True, text=True, timeout=120).stdout


def test_a_program_compiles_strictly_asks_four_calculators_and_reads_a_problem(
    project: Path, modules: Path, site: str
) -> None:
    assert compiled(project, modules) == ""
    told: dict[str, Any] = json.loads(ran(project, "node", "made/program.js", site))
    # 1.15 A at three times 3.7 volts, as the trade counts a lipo's nominal voltage.
    assert told["nominal_power"] == pytest.approx(1.15 * 3 * 3.7)
    assert told["holds"] is True
    assert told["assumed"] == "lipo"
    assert told["read"] == {"value": 15.07, "unit": "V"}
    assert set(told["edge"]) == {"value", "unit"}
    assert told["verdict"] in ("empty", "low", "storage", "flyable", "full")
    assert told["spoken"].endswith(".\n")
    assert told["heard"] == told["spoken"]
    assert told["codes"] == ["capacity unit_missing"]

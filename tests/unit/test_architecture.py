"""The arrows between modules: held by import-linter, and each contract seen to break."""

import os
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import grimp
import pytest

TOP = Path(__file__).resolve().parents[2]
LINT = "from importlinter.cli import lint_imports_command; lint_imports_command()"
CONTRACTS = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]["contracts"]
SERVICE, CLIENT = "service/ampstead", "client/ampstead_client"

BREAKS = [
    ("arrows", f"{SERVICE}/units.py", "import ampstead.declare"),
    ("arrows", f"{SERVICE}/errors.py", "import ampstead.units"),
    ("arrows", f"{SERVICE}/declare.py", "import ampstead.inputs.pack"),
    ("arrows", f"{SERVICE}/cell/kinds/curves.py", "import ampstead.declare"),
    ("arrows", f"{SERVICE}/words.py", "import ampstead.judging.cautions"),
    ("arrows", f"{SERVICE}/inputs/pack.py", "import ampstead.judging.bands"),
    ("arrows", f"{SERVICE}/planning/work.py", "import ampstead.calculators.wattage"),
    ("arrows", f"{SERVICE}/calculators/wattage.py", "import ampstead.reading.schemas"),
    ("arrows", f"{SERVICE}/reading/schemas.py", "def late():\n    import ampstead.replying.answers"),
    ("arrows", f"{SERVICE}/openapi/__init__.py", "import ampstead.app"),
    ("arrows", f"{SERVICE}/replying/pictures.py", "import ampstead.openapi"),
    ("arrows", f"{SERVICE}/misplaced.py", ""),
    ("cell", f"{SERVICE}/cell/kinds/curves.py", "import ampstead.cell.one.series"),
    ("cell", f"{SERVICE}/cell/wiring/drain.py", "import ampstead.cell.board.bank"),
    ("planning", f"{SERVICE}/planning/work.py", "import ampstead.planning.placing"),
    ("planning", f"{SERVICE}/planning/settling.py", "import ampstead.planning.search"),
    ("physics", f"{SERVICE}/cell/kinds/curves.py", "import ampstead.units"),
    ("physics", f"{SERVICE}/cell/one/charge.py", "import ampstead.errors"),
    ("physics", f"{SERVICE}/cell/one/charge.py", "import pint"),
    ("web", f"{SERVICE}/calculators/wattage.py", "import flask"),
    ("web", f"{SERVICE}/calculators/sag.py", "import marshmallow"),
    ("web", f"{SERVICE}/calculators/sag.py", "import pint"),
    ("independence", f"{SERVICE}/calculators/wattage.py", "import ampstead.calculators.sag"),
    ("pint", f"{SERVICE}/reading/schemas.py", "import pint"),
    ("pint", f"{CLIENT}/quantity.py", "def late():\n    import pint"),
    ("service", f"{SERVICE}/replying/answers.py", "import ampstead_client"),
    ("client", f"{CLIENT}/embedded.py", "def late():\n    import ampstead"),
    ("client", f"{CLIENT}/calculators.py", "import ampstead.units"),
]


def linted(top: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-P", "-c", LINT, "--no-cache", "--no-logo", *arguments],
        cwd=top,
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(top / "service"), str(top / "client")])},
        capture_output=True,
        text=True,
        timeout=60,
    )


def test_every_contract_is_kept() -> None:
    ran = linted(TOP)
    assert ran.returncode == 0, ran.stdout
    assert f"Contracts: {len(CONTRACTS)} kept, 0 broken." in ran.stdout


def test_every_contract_is_broken_below() -> None:
    assert {contract["id"] for contract in CONTRACTS} == {contract for contract, _, _ in BREAKS}


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> Path:
    top = tmp_path_factory.mktemp("tree")
    for part in (SERVICE, CLIENT):
        shutil.copytree(TOP / part, top / part, ignore=shutil.ignore_patterns("__pycache__", ".*"))
    shutil.copy(TOP / "pyproject.toml", top)
    return top


@pytest.mark.parametrize(("contract", "file", "line"), BREAKS, ids=[f"{c}-{Path(f).stem}" for c, f, _ in BREAKS])
def test_an_arrow_the_wrong_way_breaks_its_contract(contract: str, file: str, line: str, tree: Path) -> None:
    place = tree / file
    before = place.read_text(encoding="utf-8") if place.exists() else None
    place.write_text(f"{before or ''}\n{line}\n", encoding="utf-8")
    try:
        ran = linted(tree, "--contract", contract)
    finally:
        if before is None:
            place.unlink()
        else:
            place.write_text(before, encoding="utf-8")
    assert ran.returncode == 1, ran.stdout + ran.stderr
    name = next(entry["name"] for entry in CONTRACTS if entry["id"] == contract)
    assert f"{name} BROKEN" in ran.stdout


def test_no_two_modules_share_a_name_but_the_solvers_of_one_and_of_many() -> None:
    places: dict[str, list[str]] = {}
    for path in sorted((TOP / SERVICE).rglob("*.py")):
        if path.stem != "__init__":
            places.setdefault(path.stem, []).append(path.parent.relative_to(TOP / SERVICE).as_posix())
    assert len(places) > 50
    shared = {name: rooms for name, rooms in places.items() if len(rooms) > 1 and rooms != ["cell/one", "cell/rows"]}
    assert not shared


EXTRAS = ("ampstead_client.packs",)


@pytest.mark.parametrize(
    ("package", "needs"),
    [
        ("ampstead.cell", {"numpy"}),
        ("ampstead.calculators", {"numpy"}),
        ("ampstead_client", {"requests", "urllib3"}),
        # The list of packs, an extra: the rest of the client must not ask for what it needs.
        ("ampstead_client.packs", {"filelock", "tomlkit"}),
        (
            "ampstead",
            {
                "flask",
                "gunicorn",
                "jinja2",
                "limits",
                "markupsafe",
                "marshmallow",
                "numpy",
                "orjson",
                "pint",
                "prometheus_client",
                "pythonjsonlogger",
                "redis",
                "resvg_py",
                "segno",
                "uvicorn",
                "uvicorn_worker",
                "werkzeug",
            },
        ),
    ],
)
def test_a_package_imports_from_outside_only_what_it_needs(package: str, needs: set[str]) -> None:
    root = package.partition(".")[0]
    graph = grimp.build_graph(root, include_external_packages=True, cache_dir=None)
    imported = {
        outside.partition(".")[0]
        for module in {package, *graph.find_descendants(package)}
        if package in EXTRAS or not module.startswith(EXTRAS)
        for outside in graph.find_modules_directly_imported_by(module)
    }
    assert imported - sys.stdlib_module_names - {"ampstead", "ampstead_client"} == needs

"""DEVELOPERS.md names what there is."""

import re
import subprocess
from pathlib import Path

import pytest

from ampstead.units import DIMENSIONS

TOP = Path(__file__).resolve().parents[2]
TEXT = (TOP / "DEVELOPERS.md").read_text(encoding="utf-8")
PLACES = (TOP, TOP / "service" / "ampstead", TOP / "service" / "ampstead" / "cell")
PROSE = re.sub(r"^```.*?^```", "", TEXT, flags=re.MULTILINE | re.DOTALL)
NAMED = {
    name
    for name in re.findall(r"`([\w./-]+(?:\.py|\.json|\.toml|\.md|/))`", PROSE)
    if "<" not in name and name[0] != "/"
}
HOUSE = TEXT.partition("```\n")[2].partition("```")[0]


@pytest.mark.parametrize("name", sorted(NAMED))
def test_each_file_that_it_names_is_there(name: str) -> None:
    assert any((place / name).exists() for place in PLACES) or list(TOP.glob(f"service/ampstead/*/{name}"))


def test_the_house_has_every_room_and_no_other() -> None:
    rooms = {path.name for path in (TOP / "service" / "ampstead").iterdir() if (path / "__init__.py").exists()}
    shown = set(re.findall(r"(?<![\w/])([a-z]+)/(?= )", HOUSE)) | set(re.findall(r"([a-z]+)/,", HOUSE))
    kinds = {path.name for path in (TOP / "service" / "ampstead" / "cell").iterdir() if (path / "__init__.py").exists()}
    assert rooms | kinds <= shown, rooms | kinds - shown


def test_the_top_level_holds_what_it_says() -> None:
    kept = {"README.md", "DEVELOPERS.md", "pyproject.toml", "service", "client", "openapi", "tests", "docker"}
    listed = subprocess.run(["git", "ls-files"], cwd=TOP, capture_output=True, text=True, check=False).stdout.split()
    seen = {name.partition("/")[0] for name in listed} or kept  # an unpacked archive has no list
    assert {name for name in seen if not name.startswith(".")} == kept
    assert all(name in TEXT for name in kept)


def test_it_lists_every_unit_of_an_answer() -> None:
    listed = re.search(r"`units.DIMENSIONS`:\n([^.]*)\.", TEXT)
    assert listed is not None
    assert set(re.split(r",\s+", listed[1])) == set(DIMENSIONS)


def test_no_text_keeps_the_marks_of_an_unfinished_merge() -> None:
    mark = re.compile(r"^(?:<{7} |>{7} |={7}$)", re.MULTILINE)
    listed = subprocess.run(["git", "ls-files"], cwd=TOP, capture_output=True, text=True, check=False).stdout.split()
    texts = {name: TOP / name for name in listed if (TOP / name).exists()}
    assert not [name for name, path in texts.items() if mark.search(path.read_text(encoding="utf-8", errors="ignore"))]

"""Every calculator against figures from outside, asked as a user would; each case names its source.

`cases` tells the form of the files; `cautions` must be among the reply's, `says` stand in the sentence or a caution.
"""

from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from reference.cases import DATA, KINDS, NAMES, OUTSIDE, at, figures, outside_bands, plain, read
from reference.layout import laid_out

from ampstead.app import create_app

ENOUGH = 3
CASES = [(name, case) for name in NAMES for case in read(name)]
IDS = [f"{name}:{case['id']}" for name, case in CASES]


@pytest.fixture(scope="module")
def client() -> Any:
    return create_app().test_client()


def in_a_query(question: dict[str, Any]) -> dict[str, str] | None:
    """The question as a query string; None where it nests objects."""
    query = {}
    for name, value in question.items():
        if isinstance(value, dict):
            return None
        if isinstance(value, list):
            if not all(isinstance(element, str) for element in value):
                return None
            value = ",".join(value)
        query[name] = str(value)
    return query


def assert_met(case: dict[str, Any], reply: dict[str, Any]) -> None:
    for figure in figures(case):
        got = at(reply, figure.path)
        if figure.unit is not None:
            assert got is not None, figure.path
            assert got["unit"] == figure.unit, figure.path
        if figure.number:
            assert figure.off(reply) <= figure.allowed, f"{figure.path}: {got} is not {figure.wanted} {figure.bounds}"
        else:
            assert got == figure.wanted, f"{figure.path}: {got} is not {figure.wanted}"
    assert not list(outside_bands(case, reply))
    cautions = {entry["code"]: entry["text"] for entry in reply["cautions"]}
    assert set(case.get("cautions", ())) <= cautions.keys()
    for words in case.get("says", ()):
        assert any(words in text for text in (reply["sentence"], *cautions.values()))


@pytest.mark.parametrize(("name", "case"), CASES, ids=IDS)
def test_a_calculator_gives_the_figure_of_its_source(client: Any, name: str, case: dict[str, Any]) -> None:
    question = plain(case["question"])
    posted = client.post(f"/v1/{name}", json=question)
    assert posted.status_code == 200, posted.get_json()
    assert_met(case, posted.get_json())
    query = in_a_query(question)
    if query is not None:
        got = client.get(f"/v1/{name}", query_string=query)
        assert got.status_code == 200, got.get_json()
        assert got.get_json() == posted.get_json()


@pytest.mark.parametrize("name", NAMES)
def test_every_calculator_has_enough_figures_from_outside(name: str) -> None:
    kinds = Counter(case["kind"] for case in read(name))
    assert sum(kinds[kind] for kind in OUTSIDE) >= ENOUGH, f"{DATA.name}/{name}.json needs more cases from outside"


@pytest.mark.parametrize("name", NAMES)
def test_every_figure_says_where_it_comes_from(name: str) -> None:
    cases = read(name)
    assert len({case["id"] for case in cases}) == len(cases)
    for case in cases:
        assert case["kind"] in KINDS, case["id"]
        for told in ("source", "place", "status"):
            assert isinstance(case[told], str), case["id"]
            assert case[told].strip(), case["id"]
        assert case["expect"] or case["within"], case["id"]


def test_no_figures_are_kept_for_a_calculator_that_does_not_exist() -> None:
    kept = {path.stem for path in DATA.glob("*.json") if not path.stem.startswith("cell_")}
    assert kept <= set(NAMES)


@pytest.mark.parametrize("path", sorted(DATA.glob("*.json")), ids=lambda path: path.stem)
def test_a_reference_file_has_one_field_a_line(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert text == laid_out(text), "run: python tests/reference/layout.py"

"""Every calculator against figures from outside, asked as a user would; each case names its source.

An `expect` key is a path into the reply. Tolerances (all given bounds must hold): the field's own, else the case's
`default`, else half a unit of the last printed digit. `cautions` must be among the reply's; `says` stand in the
sentence or a caution.
"""

import json
from collections import Counter
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from reference.layout import laid_out

from ampstead.app import create_app
from ampstead.calculators import registry
from ampstead.declare import Text

DATA = Path(__file__).parent / "data"
OUTSIDE = {"published", "simulated elsewhere"}
OURS = {"common practice", "own judgement"}
POLICY = {
    "balance-need": {"balance", "verdict"},
    "charge-current": {"stop_temperature"},
    "charge-left": {"flies"},
    "charge-session": {"late.need_by", "late.late_by"},
    "charge-temperature": {"rise_alarm", "stop_temperature"},
    "group-charge": {"stop_temperature"},
    "match-packs": {"left_out.why"},
    "nickel-charge": {"stop_temperature"},
    "series-join": {"verdict"},
    "standing-loss": {"verdict"},
}
"""Results that are a policy: no figure from outside exists, and a case says whose judgement each is."""
KINDS = OUTSIDE | {"common practice", "own judgement", "from memory", "regression"}
NAMES = sorted(registry())
ENOUGH = 3


def read(name: str) -> list[dict[str, Any]]:
    path = DATA / f"{name}.json"
    cases: list[dict[str, Any]] = json.loads(path.read_text("utf-8"), parse_float=Decimal) if path.exists() else []
    return cases


CASES = [(name, case) for name in NAMES for case in read(name)]
IDS = [f"{name}:{case['id']}" for name, case in CASES]


@pytest.fixture(scope="module")
def client() -> Any:
    return create_app().test_client()


def plain(value: Any) -> Any:
    return json.loads(json.dumps(value, default=float))


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


def at(reply: Any, path: str) -> Any:
    for step in path.split("."):
        reply = reply[int(step)] if isinstance(reply, list) else reply[step]
    return reply


def last_digit(printed: Decimal | int) -> float:
    exponent = printed.as_tuple().exponent if isinstance(printed, Decimal) else 0
    assert isinstance(exponent, int)
    return 0.5 * 10.0**exponent


def assert_met(case: dict[str, Any], reply: dict[str, Any]) -> None:
    tolerance = case.get("tolerance", {})
    for path, wanted in case["expect"].items():
        got = at(reply, path)
        bounds = plain(tolerance.get(path, tolerance.get("default", {})))
        if isinstance(wanted, dict):
            assert got is not None, path
            assert got["unit"] == wanted["unit"], path
            got, wanted = got["value"], wanted["value"]
        if isinstance(wanted, Decimal | int) and not isinstance(wanted, bool):
            bounds = bounds or {"abs": last_digit(wanted)}
            for kind, bound in bounds.items():
                allowed = bound if kind == "abs" else bound * abs(float(wanted))
                assert abs(got - float(wanted)) <= allowed, f"{path}: {got} is not {wanted} within {kind} {bound}"
        else:
            assert got == wanted, f"{path}: {got} is not {wanted}"
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


def figured(name: str) -> set[str]:
    """A calculator's results, nested ones too, but for words."""
    figures = set()
    for result in registry()[name].results.values():
        inner = result.item.results.values() if result.item else ()
        figures |= {f"{result.name}.{part.name}" for part in inner if not isinstance(part.spec, Text)}
        figures |= {result.name} if not inner and not isinstance(result.spec, Text) else set()
    return figures


def expected(name: str, kinds: set[str]) -> set[str]:
    """The results that cases of these kinds expect."""
    paths = [path for case in read(name) if case["kind"] in kinds for path in case["expect"]]
    steps = [path.split(".")[1:] for path in paths if path.startswith("answer.")]
    return {".".join(step for step in each if not step.isdigit()) for each in steps}


@pytest.mark.parametrize("name", NAMES)
def test_every_result_is_held_against_a_figure_from_outside_or_is_a_policy_that_says_whose_it_is(name: str) -> None:
    policy = POLICY.get(name, set())
    assert figured(name) - expected(name, OUTSIDE) == policy
    assert policy <= expected(name, OURS)


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
        assert case["expect"], case["id"]


def test_no_figures_are_kept_for_a_calculator_that_does_not_exist() -> None:
    kept = {path.stem for path in DATA.glob("*.json") if not path.stem.startswith("cell_")}
    assert kept <= set(NAMES)


@pytest.mark.parametrize("path", sorted(DATA.glob("*.json")), ids=lambda path: path.stem)
def test_a_reference_file_has_one_field_a_line(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert text == laid_out(text), "run: python tests/reference/layout.py"

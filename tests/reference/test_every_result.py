"""No result of any calculator goes unchecked from outside without saying why; and the table of that is current."""

import re
import runpy
from pathlib import Path

import pytest
from reference.cases import NAMES
from reference.reasons import BEYOND, POLICIES, REASONS, STARTS
from reference.table import COMMAND, README, Row, current, near, rows_of, table_of

TESTS = Path(__file__).parents[1]
NAMES_PRINTED = tuple(f"{name} " for name in NAMES)


def rows(name: str) -> list[Row]:
    return list(table_of(name).values())


@pytest.mark.parametrize("name", NAMES)
def test_every_result_and_each_of_its_words_is_held_from_outside_or_says_why_not(name: str) -> None:
    for row in rows(name):
        assert row.unheld == row.reasons.keys(), f"{row.name}: give it a case from outside, or a reason, and not both"


@pytest.mark.parametrize("name", NAMES)
def test_what_is_a_policy_is_told_by_a_case(name: str) -> None:
    for row in rows(name):
        for option, reason in row.reasons.items():
            assert reason.startswith(STARTS), row.name
            if reason.startswith(POLICIES):
                assert option in row.judged, f"{row.name} {option}: a case says whose judgement it is"


@pytest.mark.parametrize("name", NAMES)
def test_every_result_held_from_outside_names_its_sources_and_its_error(name: str) -> None:
    for row in rows(name):
        assert bool(row.cases) == bool(row.sources) == bool(near(row)), row.name


def test_reasons_are_of_results_that_there_are() -> None:
    for name, results in REASONS.items():
        assert results.keys() <= rows_of(name).keys()


@pytest.mark.parametrize("where", [where for _, _, where in BEYOND] + re.findall(r"tests/[\w/]+\.py", str(REASONS)))
def test_a_test_that_the_table_names_exists(where: str) -> None:
    path, _, name = where.removeprefix("tests/").partition("::")
    assert f"def {name}" in (TESTS / path).read_text(encoding="utf-8")


def test_the_table_is_current() -> None:
    text = README.read_text(encoding="utf-8")
    assert text == current(text), f"run: {COMMAND}"


def test_what_the_tests_print_at_their_end_is_every_group_and_every_result_with_small_errors(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert runpy.run_path(str(TESTS / "bench" / "accuracy.py"))["main"]() == 0
    printed = capsys.readouterr().out.splitlines()
    groups = [line.split()[-4:] for line in printed if re.match(r"\w.{37} +\d+ +[-\d]", line)]
    assert len(groups) > 10
    # Parts of a per cent, of a second, of a millivolt and of a kelvin: far below what a meter shows.
    assert all(float(error) < 0.02 for group in groups for error in group if error != "-")
    assert sum(line.startswith(NAMES_PRINTED) for line in printed) == sum(len(rows(name)) for name in NAMES)

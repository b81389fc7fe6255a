"""Where answers change in kind, by the table of edges: regression only, so that no edge moves unseen."""

import json
import os
from typing import Any

import pytest
from profiles import count
from reference.edges import FILE, asked, changed, figure, figures, pictured, placed, sides
from reference.makers.edges import SKIPPED

from ampstead.calculators import registry

EVERY = 1 if os.environ.get("EVERY_ROW") else count(4, 1)
"""Of the table's rows; which of them, goes by the calculator. All where properties are asked in full, and where
``tests/bench/mutate.py`` says so."""
WHOLE: dict[str, list[dict[str, Any]]] = json.loads(FILE.read_text(encoding="utf-8"))
TABLE = {name: rows[len(name) % EVERY :: EVERY] or rows[:1] for name, rows in WHOLE.items()}
MEND = "if that is meant: PYTHONPATH=tests python -m reference.makers.edges"


def test_every_calculator_that_is_quick_enough_stands_in_the_table() -> None:
    assert set(TABLE) == set(registry()) - set(SKIPPED), MEND


@pytest.mark.parametrize("calculator", TABLE)
def test_an_answer_says_the_same_in_words_as_it_did(calculator: str) -> None:
    for row in TABLE[calculator]:
        assert asked(calculator, row["question"]) == row["told"], (row["question"], MEND)


@pytest.mark.parametrize("calculator", TABLE)
def test_an_answer_speaks_the_figures_that_it_did(calculator: str) -> None:
    for row in TABLE[calculator]:
        assert figures(calculator, row["question"]) == row["figures"], (row["question"], MEND)


@pytest.mark.parametrize("calculator", TABLE)
def test_a_picture_shows_what_it_did(calculator: str) -> None:
    for row in TABLE[calculator]:
        assert pictured(calculator, row["question"]) == row["drawn"], (row["question"], MEND)


@pytest.mark.parametrize("calculator", TABLE)
def test_an_answer_changes_in_kind_where_it_did(calculator: str) -> None:
    for row in TABLE[calculator]:
        for edge in row["edges"]:
            below, above = sides(calculator, row["question"], edge)
            assert changed(below, above) == edge["changes"], (row["question"], edge, MEND)
            if "itself" in edge:
                there = asked(calculator, placed(row["question"], edge["path"], figure(edge["at"], edge["unit"])))
                assert there == (below if edge["itself"] == "below" else above), (row["question"], edge, MEND)

"""Many questions answered together are answered as each alone: to 1e-12, choices and texts exactly."""

import json
import random
from collections.abc import Iterator
from math import isclose
from typing import Any

import numpy as np
import pytest
from profiles import count
from questions import many

from ampstead.calculators import registry
from ampstead.cell.column import Column, Split
from ampstead.declare import Calculator, Quantity
from ampstead.errors import Refusal
from ampstead.replying.answers import teller
from ampstead.replying.columns import FEW, briefs, groups, lines
from ampstead.replying.writers import number

CALCULATORS = registry()
TOGETHER = ("carriage", "flight-timer", "wattage")
"""Calculators whose everyday questions are answered together."""


def alike(calculator: Calculator) -> Iterator[dict[str, Any]]:
    """Questions in dozens of the same names, with figures that cross whatever limits there are."""
    chance = random.Random(calculator.name)
    for first in [*calculator.examples, *many(calculator, count(12, 120))]:
        for _ in range(4 * FEW):
            yield {name: varied(chance, calculator, name, value) for name, value in first.items()}


def varied(chance: random.Random, calculator: Calculator, name: str, value: Any) -> Any:
    entry = calculator.inputs[name]
    if not isinstance(entry.spec, Quantity) or isinstance(value, list) or chance.random() < 0.2:
        return value
    factor = chance.choice((1.0, 1.1, chance.uniform(0.3, 3.0)))
    if isinstance(value, dict):
        return {**value, "value": value["value"] * factor}
    figure, _, unit = str(value).partition(" ")
    try:
        return f"{float(figure) * factor!r} {unit}"
    except ValueError:
        return value


NOISE = 1e-14


def same(one: Any, other: Any, least: float = NOISE) -> bool:
    """Whether figures are the same to 1e-12 and all else exactly; a time to 1e-12 of the longest beside it.

    Rows of charges promise no more: the last phase is the whole less the first, which may be a million times as long.
    """
    if isinstance(one, dict):
        times = {name for name, told in one.items() if isinstance(told, dict) and told.get("unit") == "min"}
        longest = max((abs(one[name]["value"]) for name in times), default=0.0)
        slack = {name: max(NOISE, 1e-12 * longest) for name in times} | {"value": least}
        return (
            isinstance(other, dict)
            and list(one) == list(other)
            and all(same(told, other[name], slack.get(name, NOISE)) for name, told in one.items())
        )
    if isinstance(one, list):
        return isinstance(other, list) and len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, int | float) and not isinstance(one, bool):
        return isclose(one, other, rel_tol=1e-12, abs_tol=least)
    return bool(one == other)


@pytest.mark.parametrize("calculator", CALCULATORS.values(), ids=CALCULATORS)
def test_what_is_answered_together_is_what_each_alone_is_answered(calculator: Calculator) -> None:
    asked = list(alike(calculator))
    made = teller(calculator)
    together = dict(groups(made, asked, briefs))
    for place, written in together.items():
        alone = json.loads(made.answered(asked[place]).brief())
        assert same(json.loads(written), alone), asked[place]
    if calculator.name in TOGETHER:
        good = sum(answers(made, question) for question in asked)
        assert len(together) > 0.2 * good, f"{len(together)} of {good} together"


def answers(made: Any, question: dict[str, Any]) -> bool:
    try:
        made.answered(question)
    except Refusal:
        return False
    return True


def test_rows_part_where_a_truth_holds_for_some() -> None:
    column = Column(np.array([1.0, 2.0, 3.0]))
    assert column > 0
    assert not column > 3
    with pytest.raises(Split) as parted:
        assert column >= 2
    assert parted.value.mask.tolist() == [False, True, True]
    with pytest.raises(Split):
        assert Column(np.array([0.0, 1.0]))


@pytest.mark.parametrize(
    "use",
    [
        float,
        int,
        str,
        repr,
        hash,
        len,
        list,
        np.exp,
        np.isfinite,
        lambda column: f"{column:.2f}",
        lambda column: np.array([column, 1.0], dtype=float),
        lambda column: column @ column,
        lambda column: "x" * column,
    ],
)
def test_a_column_stands_for_nothing_that_takes_rows_for_something_else(use: Any) -> None:
    with pytest.raises((TypeError, Split)):
        use(Column(np.array([1.0, 2.0])))


def test_an_array_is_a_list_of_cells_and_never_of_rows() -> None:
    column = Column(np.array([1.0, 2.0]))
    for cells in (np.array([10.0, 20.0, 30.0]) * column, column * np.array([10.0, 20.0, 30.0])):
        assert [cell.values.tolist() for cell in cells] == [[10.0, 20.0], [20.0, 40.0], [30.0, 60.0]]
    assert (column < np.array([0.5, 9.0])).tolist() == [False, True]
    with pytest.raises(Split):
        assert (np.array([1.5]) > column).all()


def test_a_cell_of_columns_keeps_its_rows() -> None:
    cells = np.array([Column(np.array([1.0, 2.0])), Column(np.array([3.0, 4.0]))])
    assert np.max(cells).values.tolist() == [3.0, 4.0]
    assert np.float64(2.0) * Column(np.array([1.0, 2.0])) is not None
    assert (np.float64(2.0) * Column(np.array([1.0, 2.0]))).values.tolist() == [2.0, 4.0]


def test_figures_are_written_with_fifteen_digits() -> None:
    chance = random.Random(7)
    figures = [chance.choice((-1, 1)) * chance.random() * 10 ** chance.uniform(-12, 12) for _ in range(2000)]
    figures += [0.0, -0.0, 1.0, 2.25, 9.62, 0.1 + 0.2, 1e6, 123456789012345.0]
    for figure, line in zip(figures, lines([np.array(figures)]), strict=True):
        assert float(line) == pytest.approx(float(number(figure)), rel=1e-14, abs=0)
        assert not line.endswith(".0")
    assert lines([np.array([-0.0]), np.array([2.0])]) == ["0,2"]
    for odd in (np.nan, np.inf):
        with pytest.raises(ValueError, match="finite"):
            lines([np.array([1.0, odd])])

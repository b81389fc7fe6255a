"""Tables as comma separated text, read back by the library's own reader."""

import csv
import io
from math import isnan, nan
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ampstead.declare import Count, Flag, Fraction, Quantity, Result, Text
from ampstead.replying.writers import number, table

COLUMNS = {
    "time": Result("time", Quantity("min", "")),
    "part": Result("part", Fraction("")),
    "cell": Result("cell", Count("")),
    "sound": Result("sound", Flag("")),
    "name": Result("name", Text("")),
}


def read(**values: Any) -> tuple[list[str], list[list[str]]]:
    text = table({name: COLUMNS[name] for name in values}, SimpleNamespace(**values))
    head, *rows = csv.reader(io.StringIO(text, newline=""))
    return head, rows


def test_figures_stand_in_the_units_of_answers_and_gaps_stay_empty() -> None:
    head, rows = read(time=np.array([0.0, 90.0, nan, 1e5]), part=np.array([1.0, nan, 0.25, 1 / 3]))
    assert head == ["time [min]", "part"]
    assert [row[0] for row in rows] == ["0", "1.5", "", "1666.66666666667"]
    assert [row[1] for row in rows] == ["1", "", "0.25", "0.33333333333333"]


@given(st.lists(st.tuples(st.floats(-1e6, 1e6), st.floats(0, 1) | st.just(nan)), min_size=1, max_size=9))
def test_a_figure_is_written_to_twelve_digits_of_its_columns_largest(rows: list[tuple[float, float]]) -> None:
    times, parts = np.array(rows).T
    for name, values, scale in (("time", times, 60.0), ("part", parts, 1.0)):
        sizes = np.abs(values[np.isfinite(values)]) / scale
        slack = 1e-12 * float(np.max(sizes, initial=1e-280))
        for written, value in zip(read(**{name: values})[1], values.tolist(), strict=True):
            # Of one column, an empty line is a row with nothing in it.
            told = written[0] if written else ""
            assert told == "" if isnan(value) else abs(float(told) - value / scale) <= slack


@pytest.mark.parametrize("missing", [None, "all"])
def test_what_is_missing_among_plain_values_stays_empty(missing: str | None) -> None:
    part = [None, None] if missing else [0.5, None]
    _, rows = read(part=part, cell=[1, 2], sound=[True, None], name=["red trainer A", None])
    assert rows == [["" if missing else "0.5", "1", "true", "red trainer A"], ["", "2", "", ""]]


@given(st.lists(st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=9), min_size=1, max_size=5))
def test_any_name_comes_back_as_it_went_in(names: list[str]) -> None:
    _, rows = read(cell=list(range(len(names))), name=names)
    assert [row[1] for row in rows] == names


@pytest.mark.parametrize("name", ['the "red" one', "red, A", "red\nA", "red\r\nA", '"', ""])
def test_what_would_break_a_table_is_quoted(name: str) -> None:
    _, rows = read(cell=[1], name=[name])
    assert rows == [["1", name]]


def test_no_figure_is_written_that_is_none() -> None:
    assert number(9.620000000000001) == "9.62"
    assert number(-0.0) == "0"
    for value in (nan, float("inf")):
        with pytest.raises(ValueError, match="finite"):
            number(value)

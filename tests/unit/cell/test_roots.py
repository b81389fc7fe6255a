"""The root finder: it always ends, and it ends at the root."""

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ampstead.cell.roots import root


@pytest.mark.parametrize(
    ("function", "low", "high", "expected"),
    [
        (lambda x: x * x - 2.0, 0.0, 2.0, math.sqrt(2.0)),
        (lambda x: math.cos(x) - x, 0.0, 1.0, 0.7390851332151607),
        (lambda x: math.exp(-x) - 1e-9, 0.0, 1e3, math.log(1e9)),
        (lambda x: (x - 1.0) ** 9, 0.0, 2.5, 1.0),
        (lambda x: math.atan(1e9 * (x - 0.3)), -5.0, 5.0, 0.3),
        (lambda x: 1e-8 - x, 0.0, 1.0, 1e-8),
        (lambda x: x * x * x, -1.0, 2.0, 0.0),
        (lambda x: -1.0 if x < 0.7 else 1.0, 0.0, 1.0, 0.7),
    ],
)
def test_the_root_is_found(function: Callable[[float], float], low: float, high: float, expected: float) -> None:
    assert root(function, low, high) == pytest.approx(expected, rel=1e-11, abs=1e-15)


@given(st.floats(-100.0, 100.0), st.floats(0.01, 100.0), st.floats(0.01, 100.0), st.floats(0.1, 9.0))
def test_any_rising_function_is_solved_in_few_evaluations(at: float, left: float, right: float, bend: float) -> None:
    count = 0

    def function(x: float) -> float:
        nonlocal count
        count += 1
        return math.copysign(abs(x - at) ** 1.2, x - at) + math.expm1(bend * (x - at) / 100.0)

    assert root(function, at - left, at + right) == pytest.approx(at, rel=1e-10, abs=1e-10)
    assert count < 120


def test_a_root_at_an_end_is_returned_as_it_is() -> None:
    assert root(lambda x: x - 1.0, 1.0, 2.0) == 1.0
    assert root(lambda x: x - 2.0, 1.0, 2.0) == 2.0


@pytest.mark.parametrize("value", [1.0, -1.0, math.nan])
def test_ends_of_one_sign_are_refused(value: float) -> None:
    with pytest.raises(ValueError, match="no change of sign"):
        root(lambda x: value, 0.0, 1.0)

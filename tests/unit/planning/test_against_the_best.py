"""Plans of small sessions against the best that OR-Tools CP-SAT proves, and against first come, first served."""

from functools import cache
from typing import Any

from profiles import count
from reference.asking import answer
from unit.planning import referee

INSTANCES = count(6, 60)
MEAN, WORST = 1.02, 1.12
"""Of the finish over the proven best."""


@cache
def compared() -> list[tuple[dict[str, Any], dict[str, Any], float | None]]:
    asked = map(referee.session, range(INSTANCES))
    return [(question, answer("charge-session", **question), referee.best(question)) for question in asked]


def test_a_plan_is_as_good_as_the_best_that_is_proven() -> None:
    ratios = [got["finish"] / best for _, got, best in compared() if best is not None]
    assert len(ratios) >= 0.8 * INSTANCES, "too few were proven"
    assert sum(ratios) / len(ratios) <= MEAN
    assert max(ratios) <= WORST


def test_no_plan_is_worse_than_first_come_first_served() -> None:
    for question, got, _ in compared():
        assert got["finish"] <= referee.first_come(question) * (1 + 1e-9), question


def test_no_proven_plan_is_sooner_than_the_bound() -> None:
    # The solver's stretches round up, never down.
    assert all(got["bound"] <= best * (1 + 1e-9) for _, got, best in compared() if best is not None)

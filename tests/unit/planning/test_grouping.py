"""Groups of what is alike, against an integer program that knows nothing of the service."""

from collections.abc import Sequence
from itertools import combinations
from math import inf

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from ampstead.planning import grouping
from ampstead.planning.grouping import best_groups, provable


def spread(figures: Sequence[float], group: tuple[int, ...], limit: float) -> float:
    told = [figures[place] for place in group]
    apart = max(told) - min(told)
    return apart if apart <= limit else inf


def packed(figures: Sequence[float], size: int, limit: float) -> tuple[int, float]:
    """Most groups and their least sum, by set packing."""
    groups = [group for group in combinations(range(len(figures)), size) if spread(figures, group, limit) < inf]
    if not groups:
        return 0, 0.0
    costs = np.array([spread(figures, group, limit) for group in groups])
    members = np.array([[place in group for group in groups] for place in range(len(figures))], dtype=float)
    found = milp(costs - 1e3, constraints=LinearConstraint(members, -np.inf, 1), integrality=np.ones(len(groups)),
                 bounds=Bounds(0, 1), options={"mip_rel_gap": 0})  # fmt: skip
    chosen = found.x > 0.5
    return int(np.sum(chosen)), float(np.sum(costs[chosen]))


@pytest.mark.parametrize(("count", "size", "limit"), [(7, 2, 9), (10, 2, 0.15), (9, 3, 9), (10, 3, 0.3), (9, 4, 0.5)])
@pytest.mark.parametrize("seed", range(4))
def test_no_grouping_is_better_than_a_proven_one(count: int, size: int, limit: float, seed: int) -> None:
    figures = np.random.default_rng(seed).uniform(0, 1, count).tolist()
    found = best_groups(count, size, lambda group: spread(figures, group, limit), range(count))
    most, least = packed(figures, size, limit)
    assert found.proven
    assert len(found.groups) == most
    assert sum(spread(figures, group, limit) for group in found.groups) == pytest.approx(least, abs=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_a_search_that_proves_nothing_says_so_and_comes_near(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(grouping, "MOST_WORK", 0)
    figures = np.random.default_rng(seed).uniform(0, 1, 13).tolist()
    order = sorted(range(13), key=figures.__getitem__)
    found = best_groups(13, 2, lambda group: spread(figures, group, 0.4), order)
    most, least = packed(figures, 2, 0.4)
    assert not found.proven
    assert len(found.groups) == most
    assert least - 1e-9 <= sum(spread(figures, group, 0.4) for group in found.groups) <= least + 0.05


def test_each_is_in_one_group_at_most_and_few_are_provable() -> None:
    found = best_groups(14, 3, lambda group: float(sum(group)), range(14))
    members = [place for group in found.groups for place in group]
    assert len(members) == len(set(members)) == 12
    assert [provable(count, size) for count, size in ((18, 2), (19, 2), (16, 3), (17, 3), (14, 4), (15, 4))] == [
        True, False, True, False, True, False,
    ]  # fmt: skip
    assert best_groups(0, 2, lambda group: 0.0, ()).groups == ()
    assert best_groups(2, 3, lambda group: 0.0, range(2)).groups == ()

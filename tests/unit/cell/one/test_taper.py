"""Constant voltage on one straight piece of the curve, against scipy."""

from collections.abc import Callable
from random import Random

import numpy as np
import pytest
from scipy.optimize import brentq

from ampstead.cell.one.taper import Taper

GRID = 400


def first_fall(value: Callable[[float], float], longest: float) -> float | None:
    """When a value first falls to 0: sought on a fine grid, then by Brent's method (scipy)."""
    times = longest * np.linspace(0.0, 1.0, GRID) ** 3
    falls = np.flatnonzero(np.array([value(t) for t in times]) <= 0.0)
    if not len(falls):
        return None
    at = int(falls[0])
    return 0.0 if at == 0 else float(brentq(value, times[at - 1], times[at], xtol=1e-300, rtol=1e-13))


def laws(ahead: bool) -> list[tuple[Taper, float, float]]:
    """Laws, each with a current and a longest time; with the slow part's current ahead, which then lets it rise."""
    chance, made = Random(ahead), []
    for _ in range(400):
        R0, tau, i = 10 ** chance.uniform(-4, 0), 10 ** chance.uniform(-1, 3.5), 10 ** chance.uniform(-1, 1.5)
        slope, part = chance.choice((0.0, 1.0)) * 10 ** chance.uniform(-8, -2), 10 ** chance.uniform(-2, 1)
        w = i * (chance.uniform(1.0, 1.3) if ahead else chance.uniform(0.0, 1.0))
        end = i * 10 ** chance.uniform(-1.5, 0.05 if ahead else 0.0)
        made.append((Taper(i, w, slope, R0, part * R0, tau), end, 10 ** chance.uniform(1, 7)))
    return made


@pytest.mark.parametrize("ahead", [False, True])
def test_a_current_or_a_charge_is_met_when_scipy_finds_it(ahead: bool) -> None:
    met = 0
    for law, end, longest in laws(ahead):
        expected = first_fall(lambda t, law=law, end=end: law.after(t)[2] - end, longest)
        found = law.time_of_current(end, longest)
        if expected is None:
            assert found is None
            continue
        assert found == pytest.approx(expected, rel=1e-9, abs=1e-9)
        room = 0.7 * law.after(longest)[0]
        whole = first_fall(lambda t, law=law, room=room: room - law.after(t)[0], longest)
        assert law.time_of(room, longest) == pytest.approx(whole, rel=1e-9, abs=1e-9)
        met += 1
    assert met > 100

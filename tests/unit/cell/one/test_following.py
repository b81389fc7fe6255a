"""Flights that warm, against scipy on the same equations written out anew (`reference.integrator`)."""

import math
import time
from typing import Any

import numpy as np
import pytest
from profiles import count
from reference.integrator import Cells, flown

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.kinds.resistance import temperature_ratio
from ampstead.cell.one.flight import Phase, Warming, flight
from ampstead.cell.one.series import SeriesPack

LIPO = CHEMISTRIES["lipo"].curve
assert LIPO is not None
ENTROPY = -0.235e-3
MASS = 1.5 * 3.7 / 150

Load = tuple[tuple[str, float], float]


def both(
    phases: list[Load],
    *,
    cells: int = 1,
    resistance: float = 0.010,
    start: float = 25.0,
    ambient: float | None = None,
    cooling: float = 0.0,
    unlike: float = 0.0,
    lead: float = 0.0,
    seed: int = 0,
    **limits: float,
) -> tuple[Any, Any, Cells]:
    """The same flight of 1.5 Ah cells by the service's cell model and by scipy; temperatures in °C."""
    draw = np.random.default_rng(seed)
    one = np.ones(cells)
    capacities, ohmic, slow = (
        value * (one + unlike * (draw.random(cells) - 0.5)) for value in (5400.0, resistance, 0.5 * resistance)
    )
    kelvin, air = start + 273.15, (start if ambient is None else ambient) + 273.15
    ours = flight(
        SeriesPack(LIPO, one, capacities, ohmic, slow, 30.0),
        [Phase(**{kind: value}, duration=duration) for (kind, value), duration in phases],
        warming=Warming(mass=MASS, start=kelvin, ambient=air, cooling=cooling, entropy=ENTROPY),
        lead_resistance=lead,
        floor=limits.get("floor", 3.3),
        reserve=limits.get("reserve", 0.2),
        limit_temperature=limits.get("limit", 60.0) + 273.15,
    )
    theirs = Cells(
        table=(LIPO.states, LIPO.voltages),
        states=one,
        capacities=capacities,
        ohmic=ohmic,
        polarisation=slow,
        tau=30.0,
        heat_capacity=1000.0 * MASS * one,
        start=kelvin,
        ambient=air,
        cooling=cooling,
        entropy=ENTROPY,
        lead=lead,
    )
    found = flown(
        theirs,
        phases,
        floor=limits.get("floor", 3.3),
        reserve=limits.get("reserve", 0.2),
        limit=limits.get("limit", 60.0) + 273.15,
    )
    return ours, found, theirs


COLD = float(temperature_ratio(268.15)) * 0.010
HELD = math.inf


@pytest.mark.parametrize(
    ("phases", "question"),
    [
        ([(("current", 20.0), HELD)], {"resistance": COLD, "start": -5.0}),
        ([(("current", 20.0), HELD)], {"resistance": COLD, "start": -5.0, "cooling": 0.3}),
        ([(("power", 60.0), HELD)], {"resistance": COLD, "start": -5.0, "cooling": 0.3}),
        ([(("current", 20.0), HELD)], {"floor": 3.0, "reserve": 0.02, "limit": 90.0}),
        ([(("power", 60.0), HELD)], {"limit": 45.0}),
        ([(("current", 20.0), HELD)], {"limit": 45.0}),
        ([(("current", 0.2), HELD)], {"cooling": 5.0, "ambient": 5.0, "cells": 4, "unlike": 0.3}),
        ([(("current", 40.0), HELD)], {"resistance": 0.02, "limit": 90.0, "cells": 3, "unlike": 0.4}),
        (
            [(("power", 300.0), HELD)],
            {"cells": 4, "unlike": 0.3, "ambient": 5.0, "cooling": 0.1, "lead": 0.01, "limit": 90.0},
        ),
        (
            [(("power", 450.0), 10.0), (("power", 100.0), 30.0)],
            {"cells": 4, "unlike": 0.3, "ambient": 5.0, "cooling": 0.1, "limit": 90.0},
        ),
        ([(("current", 40.0), 8.0), (("power", 30.0), 20.0), (("current", 0.0), 5.0)], {"cells": 2, "unlike": 0.2}),
    ],
)
def test_a_warming_flight_is_what_scipy_finds(phases: list[Load], question: dict[str, Any]) -> None:
    ours, theirs, cells = both(phases, **question)
    q, drop, T = cells.split(theirs.y)
    assert ours.ended_by == theirs.ended_by
    assert ours.time == pytest.approx(theirs.time, rel=1e-4)
    assert ours.charge == pytest.approx(q, rel=1e-4)
    assert ours.energy == pytest.approx(theirs.y[-1], rel=1e-4)
    np.testing.assert_allclose(ours.temperatures, T, atol=5e-3)
    np.testing.assert_allclose(ours.cell_voltages, cells.voltages(theirs.y, theirs.load), atol=2e-4)
    assert drop.shape == T.shape


@pytest.mark.parametrize("kind", ["current", "power"])
@pytest.mark.parametrize("most", [0.1, 1.0])
@pytest.mark.parametrize("seed", range(count(1, 2)))
def test_cycles_passed_over_in_the_mean_are_what_scipy_finds_leg_by_leg(kind: str, most: float, seed: int) -> None:
    draw = np.random.default_rng(seed)
    size = 30.0 if kind == "current" else 200.0
    phases: list[Load] = [((kind, float(value) * size), most) for value in draw.random(64)]
    ours, theirs, cells = both(phases, cells=2, unlike=0.3, start=5.0, cooling=0.1, limit=90.0)
    assert ours.ended_by == theirs.ended_by
    # Where a cycle goes on is a matter of a leg; the charge and the energy are counted nearer.
    assert ours.time == pytest.approx(theirs.time, rel=2e-3)
    assert ours.energy == pytest.approx(theirs.y[-1], rel=1e-3)
    assert float(ours.temperatures.max()) == pytest.approx(float(cells.split(theirs.y)[2].max()), abs=0.5)


def test_twenty_amperes_from_a_cold_pack_fly_three_and_a_half_minutes() -> None:
    # A pack at −5 °C with the usual cautious resistance warms, and carries what it could not if it stayed cold.
    ours, theirs, _ = both([(("current", 20.0), HELD)], resistance=COLD, start=-5.0, cells=3)
    assert ours.time / 60 == pytest.approx(3.6, abs=0.05)
    assert theirs.time / 60 == pytest.approx(3.6, abs=0.05)


@pytest.mark.parametrize("cells", [1, 14])
@pytest.mark.parametrize("kind", ["current", "power"])
def test_a_flight_of_five_thousand_short_steps_takes_no_more_than_its_share(cells: int, kind: str) -> None:
    draw = np.random.default_rng(2)
    size = 30.0 if kind == "current" else 110.0 * cells
    phases = [Phase(**{kind: float(value) * size}, duration=0.1) for value in draw.random(64)]
    one = np.ones(cells)
    pack = SeriesPack(LIPO, one, 5400.0 * (one + 0.2 * draw.random(cells)), 0.01 * one, 0.005 * one, 30.0)
    warming = Warming(mass=MASS, start=298.15, ambient=298.15, cooling=0.1, entropy=ENTROPY)
    spent = []
    for _ in range(3):
        begun = time.process_time()
        answer = flight(pack, phases, floor=3.2, reserve=0.2, limit_temperature=360.0, warming=warming)
        spent.append(time.process_time() - begun)
    assert answer.time > 100.0
    # Followed leg by leg it took seconds; no bound on a loaded machine's time, but on that.
    assert min(spent) < 0.25

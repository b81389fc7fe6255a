"""Boards by scipy: the equations written out anew and given to a general-purpose integrator."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from ampstead.cell.board.bank import Branch
from ampstead.cell.board.bank_charge import bank_charge
from ampstead.cell.board.exchange import exchange
from ampstead.cell.kinds.curves import LIFE, LIHV, LIION, LIPO, Curve
from ampstead.cell.one.series import SeriesPack

Floats = np.ndarray[Any, np.dtype[np.float64]]
HOUR = 3600.0


class Board:
    """Packs of cells in series in parallel, each with its lead; state is q and w of every pack."""

    def __init__(self, curve: Curve, packs: list[dict[str, Any]]) -> None:
        self.z, self.u = curve.states, curve.voltages
        self.packs = packs
        self.R = np.array([np.sum(pack["ohmic"]) + pack["lead"] for pack in packs])
        self.R1 = np.array([np.sum(pack["polarisation"]) for pack in packs])
        self.tau = np.array([pack["tau"] for pack in packs])
        self.size = len(packs)

    def emf(self, q: Floats) -> Floats:
        """Beyond full the voltage stays; none of these packs is emptied."""
        return np.array(
            [
                float(np.sum(np.interp(pack["states"] + q[p] / pack["capacities"], self.z, self.u)))
                for p, pack in enumerate(self.packs)
            ]
        )

    def by_total(self, y: Floats, total: float) -> tuple[Floats, float]:
        behind = self.emf(y[: self.size]) + self.R1 * y[self.size :]
        V = (total + float(np.sum(behind / self.R))) / float(np.sum(1.0 / self.R))
        return (V - behind) / self.R, V

    def cells(self, y: Floats, i: Floats) -> Floats:
        return np.concatenate(
            [
                np.interp(pack["states"] + y[p] / pack["capacities"], self.z, self.u)
                + pack["ohmic"] * i[p]
                + pack["polarisation"] * y[self.size + p]
                for p, pack in enumerate(self.packs)
            ]
        )

    def held(self, y: Floats, end: float) -> Floats:
        """Currents with the highest of all cells at `end`, by search for the total."""

        def over(total: float) -> float:
            return float(np.max(self.cells(y, self.by_total(y, total)[0]))) - end

        return self.by_total(y, brentq(over, -1.0, 500.0, xtol=1e-10))[0]

    def follow(
        self, currents: Callable[[Floats], Floats], y: Floats, until: float, event: Callable[[Floats], float]
    ) -> tuple[float, Floats, Floats, Floats]:
        """The time of the event, the state then, and times and currents on the way."""

        def rates(_: float, y: Floats) -> Floats:
            i = currents(y)
            return np.concatenate([i, (i - y[self.size :]) / self.tau])

        def met(_: float, y: Floats) -> float:
            return event(y)

        met.terminal = True  # type: ignore[attr-defined]
        run = solve_ivp(rates, (0.0, until), y, method="LSODA", rtol=1e-7, atol=1e-6, events=met, max_step=6.0)
        assert run.status == 1
        return float(run.t[-1]), run.y[:, -1], run.t, np.array([currents(state) for state in run.y.T])


def drawn(rng: np.random.Generator, size: int, unlike: bool) -> list[dict[str, Any]]:
    packs = []
    base = rng.uniform(0.35, 0.5)
    for _ in range(size):
        capacity = HOUR * rng.uniform(1.0, 6.0)
        each = np.ones(4)
        ohmic = 15e-3 * HOUR / capacity * rng.uniform(0.6, 1.8) * each
        spread = rng.uniform(-0.01, 0.01, 4) if unlike else np.zeros(4)
        packs.append(
            {
                "states": base + rng.uniform(-0.01, 0.01) + spread,
                "capacities": capacity * (rng.uniform(0.95, 1.0, 4) if unlike else each),
                "ohmic": ohmic * (rng.uniform(0.8, 1.2, 4) if unlike else each),
                "polarisation": rng.uniform(0.2, 1.0) * ohmic,
                "tau": rng.uniform(10.0, 60.0),
                "lead": rng.uniform(0.0, 0.005),
            }
        )
    return packs


def branches(curve: Curve, packs: list[dict[str, Any]]) -> list[Branch]:
    keys = ("states", "capacities", "ohmic", "polarisation", "tau")
    return [Branch(SeriesPack(curve, *(pack[key] for key in keys)), pack["lead"]) for pack in packs]


KINDS = [(LIPO, 4.2), (LIION, 4.2), (LIFE, 3.6), (LIHV, 4.35)]


@pytest.mark.parametrize(("curve", "end"), KINDS, ids=["lipo", "liion", "life", "lihv"])
@pytest.mark.parametrize(("size", "unlike"), [(2, False), (3, True)])
def test_a_boards_charge_is_the_integrators_within_a_thousandth(
    curve: Curve, end: float, size: int, unlike: bool
) -> None:
    packs = drawn(np.random.default_rng(100 * size + KINDS.index((curve, end))), size, unlike)
    board = Board(curve, packs)
    total = sum(float(np.min(pack["capacities"])) for pack in packs) / HOUR
    run = bank_charge(branches(curve, packs), total, end, 0.1 * total)
    start = np.zeros(2 * size)
    steady, y, _, first = board.follow(
        lambda y: board.by_total(y, total)[0],
        start,
        2 * HOUR,
        lambda y: float(np.max(board.cells(y, board.by_total(y, total)[0]))) - end,
    )
    tail, y, _, later = board.follow(
        lambda y: board.held(y, end), y, 2 * HOUR, lambda y: float(np.sum(board.held(y, end))) - 0.1 * total
    )
    assert run.time_constant_current == pytest.approx(steady, rel=1e-4)
    assert run.time_total == pytest.approx(steady + tail, rel=5e-4)
    assert run.charges == pytest.approx(y[:size], rel=5e-4)
    reached = np.max(np.concatenate([first, later]), axis=0)
    assert run.largest == pytest.approx(reached, rel=1e-3)


@pytest.mark.parametrize("curve", [curve for curve, _ in KINDS], ids=["lipo", "liion", "life", "lihv"])
def test_an_exchange_is_the_integrators_within_a_thousandth(curve: Curve) -> None:
    packs = drawn(np.random.default_rng(7), 3, True)
    packs[0]["states"] = packs[0]["states"] + 0.15
    board = Board(curve, packs)
    run = exchange(branches(curve, packs))
    levels = 0.1 * np.array([float(np.min(pack["capacities"])) for pack in packs]) / HOUR
    rest = 0.05 / 0.1
    _, _, times, currents = board.follow(
        lambda y: board.by_total(y, 0.0)[0],
        np.zeros(6),
        20 * HOUR,
        lambda y: float(np.max(np.abs(board.by_total(y, 0.0)[0]) / levels)) - rest,
    )
    above = np.flatnonzero(np.max(np.abs(currents) / levels, axis=1) > 1.0)
    k = int(above[-1])
    over = np.max(np.abs(currents[k : k + 2]) / levels, axis=1) - 1.0
    settled = float(times[k] + (times[k + 1] - times[k]) * over[0] / (over[0] - over[1]))
    assert run.time_to(0.1) == pytest.approx(settled, rel=1e-3)
    points = run.points(times[:: max(len(times) // 50, 1)])
    assert points.currents == pytest.approx(
        currents[:: max(len(times) // 50, 1)], abs=1e-3 * float(np.max(np.abs(currents)))
    )

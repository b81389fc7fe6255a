"""A field battery under a load of constant power, until it is used to a depth, its voltage too low, or it collapses.

The load P stands behind a lead. Current out of the battery is positive, V is what the load sees:

    P = V·i,  V = E(q) − R·i,  so that  i = 2P/(E + sqrt(E² − 4·R·P))        (1)

A lithium source gives its charge whatever the current: `constant_power` integrates it, its RC pairs included. A
lead-acid one loses more than it gives (Peukert): at a constant current it lasts, to a depth d,

    t = d·H·(C/(I·H))^k                                                     (2)

where C is its capacity when it is emptied in H hours. So its state falls by

    dz/dt = −(i/C)·max(1, (i·H/C)^(k−1))                                    (3)

and below the rated current C/H nothing is gained (**own judgement**, the safe side). Its runs last hours, so R has
the slow part in full, and E follows the state that (3) has left.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..one.constant_power import ConstantPower, Impossible, State
from ..one.series import SeriesPack, Track, knots
from ..roots import root

Floats = NDArray[np.float64]

Ending = Literal["depth", "input-floor", "power"]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)
_SAMPLES = 160
_ROUNDING = 1e-12


@dataclass(frozen=True, slots=True)
class Drain:
    """A run from its first instant to its end; empty where the source cannot even begin."""

    ended_by: Ending
    power: float
    times: Floats
    currents: Floats
    charges: Floats
    """By how much the state has fallen, in coulomb; with Peukert more than has flowed."""
    lowest_cell: float
    """The lowest that any cell stood at under the load, V."""

    @property
    def energy(self) -> float:
        """What the load got, J."""
        return float(self.power * self.times[-1]) if len(self.times) else 0.0

    @property
    def voltages(self) -> Floats:
        """What the load saw."""
        return self.power / self.currents


def drained(
    pack: SeriesPack, power: float, lead: float, depth: float, floor: float, peukert: float, rated_time: float
) -> Drain:
    """A run at `power` until the emptiest cell is down to 1 − `depth`, the load below `floor`, or none is possible.

    `peukert` k of 1 is a source without that loss; `rated_time` H in seconds.
    """
    left = float(np.min((pack.states - (1.0 - depth)) * pack.capacities))
    if peukert <= 1.0:
        return _followed(pack, power, lead, max(left, 0.0), floor)
    return _with_loss(pack, power, lead, max(left, 0.0), floor, peukert, rated_time)


def _followed(pack: SeriesPack, power: float, lead: float, left: float, floor: float) -> Drain:
    run = ConstantPower(pack.discharging, pack.time_constant, power, lead)
    try:
        state = run.start()
    except Impossible:
        return _none(power)
    states = [state]
    lowest = min(run.voltages(state))
    ended: Ending | None = _at_once(power / state.current, left, floor)
    while ended is None:
        try:
            after = run.advance(state)
        except Impossible:
            ended = "power"
            break
        if after.charge >= left * (1.0 - _ROUNDING):
            after, ended = run.part(left - state.charge), "depth"
        if power / after.current < floor:
            after, ended = _at_floor(run, state, after, floor), "input-floor"
        state = after
        states.append(state)
        lowest = min(lowest, *run.voltages(state))
    return Drain(
        ended,
        power,
        np.array([state.time for state in states]),
        np.array([state.current for state in states]),
        np.array([state.charge for state in states]),
        lowest,
    )


def _at_floor(run: ConstantPower, before: State, after: State, floor: float) -> State:
    width = after.charge - before.charge
    low = 1e-12 * width
    floor = min(floor, run.power / run.part(low).current)  # by rounding it may begin a little below
    return run.part(root(lambda h: run.power / run.part(h).current - floor, low, width))


def _at_once(voltage: float, left: float, floor: float) -> Ending | None:
    if voltage < floor:
        return "input-floor"
    return "depth" if left <= 0.0 else None


def _none(power: float) -> Drain:
    return Drain("power", power, np.empty(0), np.empty(0), np.empty(0), inf)


def _with_loss(
    pack: SeriesPack, power: float, lead: float, left: float, floor: float, k: float, rated_time: float
) -> Drain:
    tracks = pack.discharging
    R = float(np.sum(pack.ohmic) + np.sum(pack.polarisation)) + lead
    rated = float(np.min(pack.capacities)) / rated_time
    points = np.array(knots(tracks))

    def emf(q: Floats) -> Floats:
        return np.asarray(
            sum(track.count * np.interp(q, track.charges, track.voltages) for track in tracks), dtype=float
        )

    def current(q: Floats) -> Floats:
        E = emf(q)
        return 2.0 * power / (E + np.sqrt(np.maximum(E * E - 4.0 * R * power, 0.0)))  # Eq. (1)

    # The least E on the upper branch: at the floor, or where the source collapses.
    collapse = 2.0 * sqrt(R * power)
    holds = floor > sqrt(R * power)
    least = floor + R * power / floor if holds else collapse
    start = float(emf(np.zeros(1))[0])
    if start < collapse:
        return _none(power)
    ended: Ending | None = _at_once(power / float(current(np.zeros(1))[0]), left, floor)
    end = 0.0 if ended else left
    if ended is None:
        ended = "depth"
        if float(emf(np.array([left]))[0]) < least:
            least = min(least, start)  # by rounding the source may begin a little below
            end = root(lambda q: float(emf(np.array([q]))[0]) - least, 0.0, left)
            ended = "input-floor" if holds else "power"
    breaks = [0.0, *points[(points > 0.0) & (points < end)], end]
    turn = power / rated + R * rated  # E where the rated current flows
    if float(emf(np.array([end]))[0]) < turn < start:
        breaks.append(root(lambda q: float(emf(np.array([q]))[0]) - turn, 0.0, end))
    grid = np.array(sorted({*breaks, *np.linspace(0.0, end, _SAMPLES)})) if end > 0.0 else np.zeros(1)
    half = 0.5 * np.diff(grid)[:, None]
    q = grid[:-1, None] + half * (1.0 + _NODES)
    i = current(q)
    spans = np.sum(half * _WEIGHTS / (i * np.maximum(1.0, (i / rated) ** (k - 1.0))), axis=1)  # Eq. (3)
    currents = current(grid)
    return Drain(
        ended,
        power,
        np.concatenate([[0.0], np.cumsum(spans)]),
        currents,
        grid,
        _lowest_cell(tracks, float(grid[-1]), float(currents[-1])),
    )


def _lowest_cell(tracks: Sequence[Track], q: float, i: float) -> float:
    return min(track.voltage(q) - i * (track.ohmic + track.polarisation) for track in tracks)

"""Many packs under load at once: `discharge` in arrays, one row per pack. Current out of the pack is positive."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..kinds.curves import Curve
from .arrays import Curves, Floats, rows
from .constant_power import Powers, crossings


@dataclass(frozen=True, eq=False, kw_only=True)
class LoadedMany:
    """N packs under load at one instant each: shape (N,). Not a number where the power is impossible by then."""

    current: Floats
    cell_voltages: Floats
    """Before the lead; shaped as the states were."""
    terminal_voltage: Floats
    """Their sum, over all cells."""
    heat: Floats
    """Σ i·(U − V), W."""
    charge: Floats
    energy: Floats
    """Delivered so far at the pack's terminals, J."""
    emptied: NDArray[np.bool_]
    possible: NDArray[np.bool_]


def loaded_many(
    curve: Curve,
    states: ArrayLike,
    capacities: ArrayLike,
    ohmic: ArrayLike,
    polarisation: ArrayLike,
    time_constants: ArrayLike,
    times: ArrayLike,
    *,
    currents: ArrayLike | None = None,
    powers: ArrayLike | None = None,
    lead_resistances: ArrayLike = 0.0,
    cells: ArrayLike = 1,
) -> LoadedMany:
    """N packs after `times` of a constant current, or of a constant power behind a lead, as `discharge.loaded`.

    `states`, `capacities` (infinite where unknown), `ohmic` and `polarisation` have shape (N,) for packs of `cells`
    equal cells each, or (N, cells) and then `cells` stays 1; all else has shape (N,) or is one number. Give one of
    `currents` and `powers`, each 0 or above.

    Agrees with the scalar solver to 1e-12, at constant power too, since every row takes the scalar solver's steps.
    """
    pack = _Packs(
        curve, (states, capacities, ohmic, polarisation), time_constants, lead_resistances, cells, currents, powers
    )
    t = np.broadcast_to(np.atleast_1d(np.asarray(times, dtype=float)), pack.load.shape)
    if not (np.all(t >= 0.0) and np.all(np.isfinite(t))):
        raise ValueError("times must be 0 or above")
    if not pack.by_power:
        i = pack.load
        rise = np.expm1(-t / pack.tau)
        products = i * i * (t + pack.tau * rise)  # ∫ w·i dt
        q = i * t
        given = pack.curves.area(q) - pack.R0 * (i * q)[:, None] - pack.R1 * products[:, None]
        return pack.loaded(i, -i * rise, q, (pack.count * given).sum(axis=1), np.ones(len(i), dtype=bool))
    run = pack.run()
    on = np.flatnonzero(~run.impossible & (pack.load > 0.0))
    while len(on := on[t[on] - run.time[on] > 1e-13 * t[on]]):
        on, reached = run.advance(on, t[on])
        run.take(on, reached)
    possible = ~run.impossible | (pack.load == 0.0)
    energy = pack.load * t + pack.lead * run.squares
    return pack.loaded(run.current, run.slow, run.charge, energy, possible)


def time_to_floor_many(
    curve: Curve,
    states: ArrayLike,
    capacities: ArrayLike,
    ohmic: ArrayLike,
    polarisation: ArrayLike,
    time_constants: ArrayLike,
    floors: ArrayLike,
    *,
    currents: ArrayLike | None = None,
    powers: ArrayLike | None = None,
    lead_resistances: ArrayLike = 0.0,
    cells: ArrayLike = 1,
) -> Floats:
    """When a cell of each of N packs first falls to its floor (V per cell), s, as `discharge.time_to_floor`.

    Shapes as in `loaded_many`; `floors` (N,). Not a number where that is None: below the floor or impossible at the
    start, or never.
    Agrees with the scalar solver to 1e-12 at constant current; at constant power to 1e-9, the noise of its iterations
    in the voltage that is root-found.
    """
    pack = _Packs(
        curve, (states, capacities, ohmic, polarisation), time_constants, lead_resistances, cells, currents, powers
    )
    floor = np.broadcast_to(np.atleast_1d(np.asarray(floors, dtype=float)), pack.load.shape)
    nothing = pack.load == 0.0
    times = _by_current(pack, np.where(nothing, 0.0, pack.load) if not pack.by_power else np.zeros(len(floor)), floor)
    if pack.by_power:
        times = np.where(nothing, times, _by_power(pack, floor))
    return np.where(np.isinf(times), np.nan, times)


class _Packs:
    """The packs and their loads, as rows."""

    def __init__(
        self,
        curve: Curve,
        per_cell: tuple[ArrayLike, ArrayLike, ArrayLike, ArrayLike],
        time_constants: ArrayLike,
        lead_resistances: ArrayLike,
        cells: ArrayLike,
        currents: ArrayLike | None,
        powers: ArrayLike | None,
    ) -> None:
        given = currents if powers is None else powers
        if given is None or (currents is not None and powers is not None):
            raise ValueError("give one of currents and powers")
        (self.z, self.Q, self.R0, self.R1), (self.tau, self.load, self.lead, count), self.flat = rows(
            per_cell, (time_constants, given, lead_resistances, cells)
        )
        if not (np.all(self.load >= 0.0) and np.all(np.isfinite(self.load)) and np.all(self.lead >= 0.0)):
            raise ValueError("loads and lead resistances must be 0 or above")
        if not (np.all(count >= 1.0) and (self.flat or np.all(count == 1.0))):
            raise ValueError("`cells` is the number of equal cells, and stays 1 where each cell is given")
        self.by_power = powers is not None
        self.count = np.broadcast_to(count[:, None], self.z.shape)
        self.curves = Curves(curve, self.z, self.Q, -1)

    def run(self) -> Powers:
        power = np.where(self.load > 0.0, self.load, 1.0)
        return Powers(self.curves, self.R0, self.R1, self.tau, power, self.lead, self.count)

    def loaded(self, i: Floats, w: Floats, q: Floats, energy: Floats, possible: NDArray[np.bool_]) -> LoadedMany:
        flowing = np.where(self.load > 0.0, i, 0.0)
        q, w = np.where(self.load > 0.0, q, 0.0), np.where(self.load > 0.0, w, 0.0)
        drops = self.R0 * flowing[:, None] + self.R1 * w[:, None]
        known = np.where(possible, 0.0, np.nan)
        voltages = self.curves.voltage(q[:, None]) - drops + known[:, None]
        return LoadedMany(
            current=flowing + known,
            cell_voltages=voltages[:, 0] if self.flat else voltages,
            terminal_voltage=(self.count * voltages).sum(axis=1),
            heat=flowing * (self.count * drops).sum(axis=1) + known,
            charge=q + known,
            energy=energy + known,
            emptied=possible & (q[:, None] >= self.curves.end).any(axis=1),
            possible=possible,
        )


def _by_current(pack: _Packs, i: Floats, floor: Floats) -> Floats:
    starts = pack.curves.start - pack.R0 * i[:, None]
    meets = pack.curves.meeting(i, pack.R0, pack.R1, pack.tau, floor)
    flows = i[:, None] > 0.0
    empty = np.where(flows, pack.curves.end / np.where(flows, i[:, None], 1.0), np.inf)
    first = np.where(pack.curves.end == 0.0, 0.0, np.minimum(meets, empty)).min(axis=1)
    return np.where((starts < floor[:, None]).any(axis=1), np.nan, first)


def _by_power(pack: _Packs, floor: Floats) -> Floats:
    run = pack.run()
    times = np.full(len(floor), np.nan)
    every = np.arange(len(floor))

    def margin(on: NDArray[np.intp], q: Floats, w: Floats, i: Floats) -> Floats:
        return np.asarray(run.voltages(on, q, w, i).min(axis=1) - floor[on])

    at_first = margin(every, run.charge, run.slow, run.current)
    starts = ~run.impossible & (pack.load > 0.0) & (at_first >= 0.0)
    at_once = starts & ((at_first == 0.0) | (run.end == 0.0))
    times[at_once] = 0.0
    on = np.flatnonzero(starts & ~at_once & ~(np.isinf(run.end) & _never(pack, run, floor)))
    forever = np.full(len(floor), np.inf)
    while len(on):
        before = on
        on, reached = run.advance(before, forever[before])
        gone = before[run.impossible[before]]
        times[gone] = run.time[gone]
        _, q, w, i, _ = reached
        low = margin(on, q, w, i) <= 0.0
        if low.any():
            met = on[low]

            def at(which: NDArray[np.intp], h: Floats, met: NDArray[np.intp] = met) -> Floats:
                _, q, w, i, _ = run.part(met[which], h)
                return margin(met[which], q, w, i)

            h = crossings(at, q[low] - run.charge[met])
            times[met] = np.where(h > 0.0, run.part(met, h)[0], run.time[met])
        on, reached = on[~low], tuple(value[~low] for value in reached)  # type: ignore[assignment]
        run.take(on, reached)
        spent = run.charge[on] >= run.end[on]
        times[on[spent]] = run.time[on[spent]]
        # With no capacity known the pack settles: what has not met the floor by now never does.
        settled = np.isinf(run.end[on]) & (run.time[on] > 60.0 * pack.tau[on])
        on = on[~spent & ~settled]
    return times


def _never(pack: _Packs, run: Powers, floor: Floats) -> NDArray[np.bool_]:
    """Whether packs whose states stay put settle at the floor or above."""
    emf = (pack.count * pack.curves.start).sum(axis=1)
    R = run.resistance + run.slow_resistance
    square = emf * emf - 4.0 * R * run.power
    possible = square >= 0.0
    i = 2.0 * run.power / (emf + np.sqrt(np.where(possible, square, 0.0)))
    settled = pack.curves.start - i[:, None] * (pack.R0 + pack.R1)
    return np.asarray(possible & (settled >= floor[:, None]).all(axis=1))

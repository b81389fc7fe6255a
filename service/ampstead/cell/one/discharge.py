"""A pack under load: voltages, the time to a floor, and the most it can give without falling below one.

Current out of the pack is positive throughout. Over 300 lines: each question stands here for constant current and
for constant power.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import expm1, inf, isinf, log

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..roots import root
from .constant_power import TOLERANCE, ConstantPower, Impossible, State
from .series import SeriesPack, Track

Floats = NDArray[np.float64]

FEW, MEAN_POINTS = 4, 100
"""A search follows unlike cells as their mean, straight between so many points; up to so many kinds of cell exact runs
then correct it. Beyond them power is good to some 1e-5."""
SEARCHING = 1e-3
"""Of the current, in the steps of a search that exact runs correct."""
BESIDE, CORRECTIONS = 1e-4, 2
SMALLEST = 1e-12
NEAR = 0.6
"""Lost over delivered power: at 1 is maximum power transfer, where the voltage collapses."""


def power_current(emf: ArrayLike, resistance: ArrayLike, power: ArrayLike) -> Floats:
    """Current of a load of constant power P behind a resistance R, from a source voltage U.

        i = (U − sqrt(U² − 4·R·P))/(2·R)    (1)

    the upper, stable solution of P = i·(U − R·i), worked out as 2P/(U + sqrt(U² − 4·R·P)), which holds at R
    = 0 too and loses no digits at small R. Not a number where P > U²/(4·R): no source gives more (maximum
    power transfer).
    """
    U, R, P = (np.asarray(argument, dtype=float) for argument in (emf, resistance, power))
    square = U * U - 4.0 * R * P
    possible = (square >= 0.0) & (U > 0.0)
    below = np.where(possible, U + np.sqrt(np.where(possible, square, 0.0)), 1.0)
    return np.asarray(np.where(possible, 2.0 * P / below, np.nan))  # Eq. (1)


@dataclass(frozen=True, eq=False, kw_only=True)
class Loaded:
    """A pack under load at one instant. V, A, W, C, J."""

    current: float
    cell_voltages: Floats
    """Of each cell, before the lead."""
    terminal_voltage: float
    """Their sum."""
    heat: float
    """Σ i·(U − V): what the pack turns into heat at this instant, reversible heat not counted."""
    charge: float
    """Drawn so far."""
    energy: float
    """Delivered so far, at the pack's terminals."""
    emptied: bool
    """A cell has come to z = 0; from there its open-circuit voltage is held at the bottom of the table."""


def loaded(
    pack: SeriesPack,
    time: float,
    *,
    current: float | None = None,
    power: float | None = None,
    lead_resistance: float = 0.0,
) -> Loaded | None:
    """The pack after `time` seconds of a constant current, or of a constant power behind a lead.

    At constant current, from rest,

        V_j(t) = U_j(z0_j − i·t/Q_j) − i·(R0_j + R1_j·(1 − exp(−t/τ)))    (1)

    and at constant power the same with the current of `constant_power`. None where that power is impossible
    at `time` or before it. Give one of `current` and `power`, 0 or above.
    """
    amperes, watts = _load(current, power)
    tracks = pack.discharging
    if watts is None:
        return _steady(pack, time, amperes)
    run = ConstantPower(tracks, pack.time_constant, watts, lead_resistance)
    try:
        state = _run(run, time)
    except Impossible:
        return None
    i = state.current
    return _loaded(pack, i, state.slow, state.charge, watts * time + lead_resistance * state.squares)


def _load(current: float | None, power: float | None) -> tuple[float, float | None]:
    """The load as a current, or as a power where that is not nil."""
    given = current if power is None else power
    if given is None or (current is not None and power is not None) or not 0.0 <= given < inf:
        raise ValueError("give one of current and power, 0 or above")
    if current is not None or given == 0.0:
        return given, None
    return 0.0, given


def _steady(pack: SeriesPack, time: float, i: float) -> Loaded:
    tau, q = pack.time_constant, i * time
    w = -i * expm1(-time / tau)
    products = i * i * (time + tau * expm1(-time / tau))  # ∫ w·i dt
    energy = sum(
        track.count * (track.area(q) - track.ohmic * i * q - track.polarisation * products)
        for track in pack.discharging
    )
    return _loaded(pack, i, w, q, energy)


def _loaded(pack: SeriesPack, i: float, w: float, q: float, energy: float) -> Loaded:
    tracks = pack.discharging
    drops = [track.ohmic * i + track.polarisation * w for track in tracks]
    cells = pack.spread([track.voltage(q) - drop for track, drop in zip(tracks, drops, strict=True)])
    return Loaded(
        current=i,
        cell_voltages=cells,
        terminal_voltage=float(cells.sum()),
        heat=i * sum(track.count * drop for track, drop in zip(tracks, drops, strict=True)),
        charge=q,
        energy=energy,
        emptied=any(q >= track.end for track in tracks),
    )


def _until_collapse(run: ConstantPower, state: State, time: float) -> float:
    """How much longer than `time` the power can go on, over that time; 1 where it is as long again or longer."""
    while state.time < 2.0 * time:
        try:
            state = run.advance(state, 2.0 * time)
        except Impossible:
            break
    return min(1.0, max(SMALLEST, state.time / time - 1.0))


def _run(run: ConstantPower, time: float) -> State:
    state = run.start()
    while time - state.time > 1e-13 * time:
        state = run.advance(state, time)
    return state


def time_to_floor(
    pack: SeriesPack,
    floor: float,
    *,
    current: float | None = None,
    power: float | None = None,
    lead_resistance: float = 0.0,
) -> float | None:
    """When a cell's terminal voltage first falls to `floor` (V per cell) under a load held on, s.

    A cell that comes to z = 0 counts as having met it, and so does the instant from which the power is
    impossible (the safe side: **own judgement**). None where a cell is below the floor, or the power
    impossible, at the start, and where the floor is never met (no current, or capacities unknown).
    """
    amperes, watts = _load(current, power)
    tracks = pack.discharging
    if watts is not None:
        return _time_at_power(ConstantPower(tracks, pack.time_constant, watts, lead_resistance), floor)
    if any(track.voltages[0] - track.ohmic * amperes < floor for track in tracks):
        return None
    earliest = min(_time_at_current(track, floor, amperes, pack.time_constant) for track in tracks)
    return None if isinf(earliest) else earliest


def _time_at_current(track: Track, floor: float, i: float, tau: float) -> float:
    def above(t: float) -> float:
        return track.voltage(i * t) - i * (track.ohmic - track.polarisation * expm1(-t / tau)) - floor

    if above(0.0) <= 0.0 or track.end == 0.0:
        return 0.0
    if i == 0.0:
        return inf
    if isinf(track.end):
        left = track.voltages[0] - i * track.ohmic - floor
        slow = i * track.polarisation
        return -tau * log(1.0 - left / slow) if left < slow else inf
    before, after = 0, len(track.charges) - 1
    if above(track.charges[after] / i) >= 0.0:
        return track.end / i
    while after - before > 1:
        middle = (before + after) // 2
        if above(track.charges[middle] / i) > 0.0:
            before = middle
        else:
            after = middle
    return root(above, track.charges[before] / i, track.charges[after] / i)


def _time_at_power(run: ConstantPower, floor: float) -> float | None:
    try:
        state = run.start()
    except Impossible:
        return None
    margin = min(run.voltages(state)) - floor
    if margin < 0.0:
        return None
    if margin == 0.0 or run.end == 0.0:
        return 0.0
    endless = isinf(run.end) and _never(run, floor)
    while not endless:
        before = state
        try:
            state = run.advance(before)
        except Impossible:
            return before.time
        if min(run.voltages(state)) <= floor:
            h = root(lambda h: min(run.voltages(run.part(h))) - floor, 0.0, state.charge - before.charge)
            return run.part(h).time if h > 0.0 else before.time
        if state.charge >= run.end:
            return state.time
        # With no capacity known the pack settles: what has not met the floor by now never does.
        endless = isinf(run.end) and state.time > 60.0 * run.tau
    return None


def _never(run: ConstantPower, floor: float) -> bool:
    """Whether a pack whose states stay put settles at the floor or above."""
    emf = sum(track.count * track.voltages[0] for track in run.tracks)
    i = float(power_current(emf, run.resistance + run.slow_resistance, run.power))
    return all(track.voltages[0] - i * (track.ohmic + track.polarisation) >= floor for track in run.tracks)


def largest_current(
    pack: SeriesPack, floor: float, time: float, slow: float = 0.0, lead_resistance: float = 0.0
) -> float:
    """The most constant current, A, that leaves every cell at `floor` or above, and not empty, after `time`.

    Its own charge counts: U is straight between the points of the table, so Eq. (1) of `loaded`, set to the
    floor, is solved exactly from one point to the next. 0 where a cell rests at the floor or below. Begun where an
    earlier load has left w (`series`) at `slow`, A, the cells stand at the floor or above at the first instant too.
    Through a lead (of a pack at rest) no more flows than leaves a voltage behind it.
    """
    rise = -expm1(-time / pack.time_constant)
    most = inf
    for track in pack.discharging:
        left = track.polarisation * slow
        resistance = track.ohmic + track.polarisation * rise
        most = min(most, _most_current(track, floor + left * (1.0 - rise), time, resistance))
        if slow > 0.0:
            most = min(most, (track.voltages[0] - floor - left) / track.ohmic)

    def behind(i: float) -> float:
        return _steady(pack, time, i).terminal_voltage - i * lead_resistance

    if lead_resistance > 0.0 and most > 0.0 and behind(most) < 0.0:
        return root(behind, 0.0, most)
    return max(0.0, most)


def _most_current(track: Track, floor: float, time: float, resistance: float) -> float:
    if track.voltages[0] <= floor or track.end == 0.0:
        return 0.0
    if time == 0.0:
        return (track.voltages[0] - floor) / resistance
    most = track.end / time
    for k, (q, U, slope) in enumerate(zip(track.charges, track.voltages, track.slopes, strict=True)):
        if k + 1 < len(track.charges):
            i = track.charges[k + 1] / time
            if track.voltages[k + 1] - resistance * i > floor:
                continue
        # U + slope·(i·t − q) − R·i = floor
        return min(most, (U - slope * q - floor) / (resistance - slope * time))
    return most


def largest_power(pack: SeriesPack, floor: float, time: float, lead_resistance: float = 0.0) -> float:
    """The most constant power, W, at a load behind the lead that keeps every cell as `largest_current` does.

    Also the most that the pack can give at all until then (maximum power transfer). 0 where a cell rests at
    the floor or below. Root-found on the run of `constant_power`; at `time` 0 closed: P = i·(ΣU − (ΣR0 +
    R_lead)·i), with i the largest current, but not more than ΣU/(2·(ΣR0 + R_lead)).
    """
    tracks = pack.discharging
    resistance = sum(track.count * track.ohmic for track in tracks) + lead_resistance
    emf = sum(track.count * track.voltages[0] for track in tracks)
    first = min(largest_current(pack, floor, 0.0), 0.5 * emf / resistance)
    most = first * (emf - resistance * first)
    if time == 0.0 or most <= 0.0:
        return max(0.0, most)
    end = min(track.end for track in tracks)
    if not isinf(end):
        stored = sum(track.count * track.area(end) for track in tracks)
        most = min(most, stored / time)  # no more can be drawn before a cell is empty

    def margin(power: float, followed: Sequence[Track], tolerance: float) -> float:
        run = ConstantPower(followed, pack.time_constant, power, lead_resistance, tolerance)
        reached = 0.0
        try:
            state = run.start()
            while time - state.time > 1e-13 * time:
                reached = state.time
                state = run.advance(state, time)
        except Impossible:
            return min(-SMALLEST, reached / time - 1.0)
        # Past the charge of an empty cell the run goes on at the bottom of the table, so this stays continuous.
        spare = 1.0 if isinf(end) else 1.0 - state.charge / end if end else -1.0
        lowest = min(
            track.voltage(state.charge) - track.ohmic * state.current - track.polarisation * state.slow
            for track in tracks
        )
        behind, lost = power / state.current, run.resistance * state.current
        least = min(lowest - floor, spare)
        return least if least <= 0.0 or lost < NEAR * behind else min(least, _until_collapse(run, state, time))

    # Unlike cells have many points to stop at: their mean is followed, each of them looked at in the end.
    unlike = len(tracks) > 1 and not isinf(end)
    followed = (Track.mean(tracks, MEAN_POINTS),) if unlike else tracks

    def near(power: float) -> float:
        return margin(power, followed, SEARCHING)

    if most == 0.0 or near(most) >= 0.0:
        return most
    least = 1e-15 * most
    if near(least) <= 0.0:
        return 0.0
    found = root(near, least, most, tolerance=1e-9)
    if unlike and len(tracks) > FEW:
        return found
    # Corrected by exact runs, along the slope.
    beside = found * (1.0 - BESIDE)
    slope = (near(found) - near(beside)) / (found - beside)
    for _ in range(CORRECTIONS if slope < 0.0 else 0):
        correction = margin(found, tracks, TOLERANCE) / slope
        found -= max(-BESIDE * found, min(BESIDE * found, correction))
    return min(found, most)

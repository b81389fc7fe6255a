"""A flight at any times, from what it was made of, without integrating anew."""

from bisect import bisect_right
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .constant_power import Impossible
from .following import Following, Instant
from .legs import Leg, LegEnd
from .series import SeriesPack

Floats = NDArray[np.float64]


class Samples(NamedTuple):
    """One value per time. V, V, A, C, K."""

    voltage: Floats
    """At the load, behind the lead."""
    weakest_voltage: Floats
    """Of the lowest cell at that time, before the lead."""
    current: Floats
    charge: Floats
    temperature: Floats | None
    """Of the warmest cell at that time; None where resistances were held."""


def held_samples(pack: SeriesPack, lead: float, legs: Sequence[Leg], end: LegEnd, times: ArrayLike) -> Samples:
    """Where two loads meet the later one counts; after the end, what was at the end.

    At constant current from the closed forms (`legs`, Eq. 1). At constant power q and w by the cubics through both ends
    of a step with the slopes there, and the current from E by Eq. (1) of `constant_power`, so that the load has its
    power at every time.
    """
    asked = np.clip(np.atleast_1d(np.asarray(times, dtype=float)), 0.0, None)
    held = asked >= end.time
    legs = legs or [Leg(end, end, None)]
    starts = np.array([leg.start[:4] for leg in legs]).T
    ends = np.array([leg.end[:4] for leg in legs]).T
    powers = np.array([0.0 if leg.power is None else leg.power for leg in legs])
    at = np.clip(np.searchsorted(starts[0], asked, side="right") - 1, 0, len(legs) - 1)
    (t0, q0, w0, i0), (t1, q1, w1, i1), P = starts[:, at], ends[:, at], powers[at]
    dt = np.clip(asked - t0, 0.0, t1 - t0)
    tau, powered = pack.time_constant, P > 0.0
    width = t1 - t0
    q = np.where(powered, _cubic(dt, width, q0, q1, i0, i1), q0 + i0 * dt)
    w = np.where(
        powered,
        _cubic(dt, width, w0, w1, (i0 - w0) / tau, (i1 - w1) / tau),
        i0 + (w0 - i0) * np.exp(-dt / tau),
    )
    q, w = np.where(held, end.charge, q), np.where(held, end.slow, w)
    tracks = pack.discharging
    emfs = [np.interp(q, track.charges, track.voltages) - track.polarisation * w for track in tracks]
    E = np.sum([track.count * emf for track, emf in zip(tracks, emfs, strict=True)], axis=0)
    R = sum(track.count * track.ohmic for track in tracks) + lead
    square = np.maximum(E * E - 4.0 * R * P, 0.0)
    i = np.where(powered, 2.0 * P / np.where(powered, E + np.sqrt(square), 1.0), i0)
    i = np.where(held, end.current, i)
    weakest = np.min([emf - track.ohmic * i for track, emf in zip(tracks, emfs, strict=True)], axis=0)
    return Samples(E - R * i, weakest, i, q, None)


def following_samples(run: Following, times: ArrayLike) -> Samples:
    """The same of a flight that warms. Within cycles passed over at once, w and T as between them, and from there on
    leg by leg (`cycles`, Eq. 1).
    """
    asked = np.clip(np.atleast_1d(np.asarray(times, dtype=float)), 0.0, None).tolist()
    starts = [stretch.start.time for stretch in run.stretches]
    rows = []
    for time in asked:
        at = _moment(run, starts, time)
        cells = run.cell_voltages(at)
        total = sum(track.count * V for track, V in zip(run.tracks, cells, strict=True))
        rows.append((total - run.lead * at.current, min(cells), at.current, at.charge, max(at.temperatures)))
    return Samples(*np.array(rows).T)


def _moment(run: Following, starts: Sequence[float], time: float) -> Instant:
    if time >= run.now.time or not starts:
        return run.now
    start, end, power, cycle, load = run.stretches[max(0, bisect_right(starts, time) - 1)]
    if cycle is None:
        at = run.between(start, end, time - start.time)
        if power is None:
            return at
        try:
            return at._replace(current=run.drawn(power, at.charge, at.slow, at.ratios))
        except Impossible:
            return at
    since = (time - cycle.origin) % cycle.period
    begun = run.between(start, end, time - since - start.time, load)
    return run.within(cycle, begun, since)


def _cubic(x: Floats, width: Floats, y0: Floats, y1: Floats, d0: Floats, d1: Floats) -> Floats:
    """The cubic through two points with two slopes."""
    safe = np.where(width > 0.0, width, 1.0)
    s = x / safe
    rise, first, last = y1 - y0, d0 * safe, d1 * safe
    return np.asarray(y0 + s * (first + s * (3.0 * rise - 2.0 * first - last + s * (first + last - 2.0 * rise))))

"""A flight at any times, from its legs, without integrating anew."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .heat import decay_integral
from .legs import Leg, Point
from .series import SeriesPack
from .warmth import Body

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
    """Of the warmest cell at that time; None without a `Thermal`."""


def samples(
    pack: SeriesPack, lead: float, bodies: Sequence[Body], legs: Sequence[Leg], end: Point, times: ArrayLike
) -> Samples:
    """Where two loads meet the later one counts; after the end, what was at the end.

    At constant current from the closed forms (`legs`, Eq. 1; `warmth`, Eq. 2). At constant power q, w and T by the
    cubics through both ends of a step with the slopes there, and the current from E by Eq. (1) of `constant_power`,
    so that the load has its power at every time.
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
    T = [_warm(body, index, legs, at, dt, tau, (w0, w1, i0, i1), powered) for index, body in enumerate(bodies)]
    q, w = np.where(held, end.charge, q), np.where(held, end.slow, w)
    tracks = pack.discharging
    emfs = [np.interp(q, track.charges, track.voltages) - track.polarisation * w for track in tracks]
    E = np.sum([track.count * emf for track, emf in zip(tracks, emfs, strict=True)], axis=0)
    R = sum(track.count * track.ohmic for track in tracks) + lead
    square = np.maximum(E * E - 4.0 * R * P, 0.0)
    i = np.where(powered, 2.0 * P / np.where(powered, E + np.sqrt(square), 1.0), i0)
    i = np.where(held, end.current, i)
    weakest = np.min([emf - track.ohmic * i for track, emf in zip(tracks, emfs, strict=True)], axis=0)
    warmest = np.where(held, max(end.temperatures), np.max(T, axis=0)) if T else None
    return Samples(E - R * i, weakest, i, q, warmest)


def _cubic(x: Floats, width: Floats, y0: Floats, y1: Floats, d0: Floats, d1: Floats) -> Floats:
    """The cubic through two points with two slopes."""
    safe = np.where(width > 0.0, width, 1.0)
    s = x / safe
    rise, first, last = y1 - y0, d0 * safe, d1 * safe
    return np.asarray(y0 + s * (first + s * (3.0 * rise - 2.0 * first - last + s * (first + last - 2.0 * rise))))


def _warm(
    body: Body,
    index: int,
    legs: Sequence[Leg],
    at: NDArray[np.intp],
    dt: Floats,
    tau: float,
    ends: tuple[Floats, Floats, Floats, Floats],
    powered: NDArray[np.bool_],
) -> Floats:
    w0, w1, i0, i1 = ends
    T0 = np.array([leg.start.temperatures[index] for leg in legs])[at]
    T1 = np.array([leg.end.temperatures[index] for leg in legs])[at]
    width = np.array([leg.end.time - leg.start.time for leg in legs])[at]

    def slope(T: Floats, i: Floats, w: Floats) -> Floats:
        heat = i * (body.ohmic * i + body.polarisation * w) - i * T * body.entropy
        return np.asarray((heat - body.cooling * (T - body.ambient)) / body.heat_capacity)

    with np.errstate(over="ignore", invalid="ignore"):
        rate, fall = (body.cooling + i0 * body.entropy) / body.heat_capacity, 1.0 / tau
        both = np.exp(-np.minimum(rate, fall) * dt) * decay_integral(np.abs(rate - fall), dt)
        lag = i0 * body.polarisation * (w0 - i0) / body.heat_capacity
        steady = T0 + slope(T0, i0, i0) * decay_integral(rate, dt) + lag * both
        between = _cubic(dt, width, T0, T1, slope(T0, i0, w0), slope(T1, i1, w1))
        # A cubic overshoots where a temperature runs away or falls in within one step.
        steep = np.abs(rate) * width > 0.5
        between = np.where(steep, np.clip(between, np.minimum(T0, T1), np.maximum(T0, T1)), between)
        T = np.where(powered, between, steady)
    # Heat beyond all bounds is warm without end.
    return np.where(np.isnan(T), np.inf, T)

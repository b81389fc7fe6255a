"""Charging at constant current, then at constant voltage, solved exactly piece by piece.

Over 300 lines: both phases, and what is asked of a charge afterwards, rest on the same pieces.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import expm1, inf, isfinite
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .series import SeriesPack, Track
from .taper import Taper, sampled

Floats = NDArray[np.float64]

# A cell takes over the constant voltage when it stands this far above it; less is rounding.
_TAKES_OVER = 1e-9
_EQUAL = 1e-12
_CLOSE = 1e-14  # of the time
_ROUNDING = 2e-15  # of the end voltage


class _Piece(NamedTuple):
    """From `time` on, until the next piece: the state at its start, and its law of the current."""

    time: float
    charge: float
    law: Taper


class _Course(NamedTuple):
    """A charge as it is followed: times at constant current and in all, what is put in, the first current."""

    steady: float
    total: float
    charge: float
    first: float
    controls: int
    """The kind of cell that first reaches the end voltage; -1 where none does."""
    last: tuple[float, float]
    """Current and slow part at the end, while it still flows."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Charge:
    """What a charge comes to, in SI units; current into the pack is positive."""

    time_constant_current: float
    time_constant_voltage: float
    time_total: float
    charge: float
    first_current: float
    """The largest that flows: the set current, or less where constant voltage holds from the first."""
    _pack: SeriesPack = field(repr=False)
    _controls: int
    _last: tuple[float, float]
    _pieces: tuple[_Piece, ...] = field(repr=False)

    @property
    def energy(self) -> float:
        """∫ V·i dt at the pack's terminals."""
        return self._energies[-1]

    @cached_property
    def states_end(self) -> Floats:
        q = self.charge
        tracks = self._pack.charging
        return self._pack.spread([1.0 if q >= track.end else track.state + q / track.capacity for track in tracks])

    @cached_property
    def end_voltages(self) -> Floats:
        """Of each cell, while the last current still flows."""
        i, w = self._last
        tracks = self._pack.charging
        return self._pack.spread(
            [track.voltage(self.charge) + track.ohmic * i + track.polarisation * w for track in tracks]
        )

    @property
    def highest_cell(self) -> int:
        """The cell (from 0) that first reaches the end voltage; the highest at the end if none does."""
        if self._controls < 0:
            return int(np.argmax(self.end_voltages))
        return self._pack.charging[self._controls].member

    @cached_property
    def _energies(self) -> list[float]:
        """Put in before each piece, and in all."""
        tracks, steady = self._pack.charging, self.time_constant_current
        ends = [*((piece.time, piece.charge) for piece in self._pieces[1:]), (self.time_total, self.charge)]
        before = [_steady_energy(tracks, self.first_current, steady, self._pack.time_constant) if steady else 0.0]
        for piece, (time, q) in zip(self._pieces, ends, strict=False):
            before.append(before[-1] + _energy(tracks, piece.law, piece.charge, q, time - piece.time))
        return before

    def _state(self, time: float) -> tuple[float, float, float, float]:
        """q, w, i and the energy at a time."""
        t = min(max(time, 0.0), self.time_total)
        if t <= self.time_constant_current and self.time_constant_current > 0.0:
            i, tau = self.first_current, self._pack.time_constant
            return i * t, -i * expm1(-t / tau), i, _steady_energy(self._pack.charging, i, t, tau)
        if not self._pieces:
            return 0.0, 0.0, 0.0, 0.0
        at = max(bisect_right(self._pieces, t, key=lambda piece: piece.time) - 1, 0)
        piece = self._pieces[at]
        dt, law = t - piece.time, piece.law
        passed, w, i = law.after(dt)
        q = piece.charge + passed
        return q, w, i, self._energies[at] + _energy(self._pack.charging, law, piece.charge, q, dt)

    def at(self, time: float) -> tuple[float, float]:
        """Charge (C) and energy (J) put in by a time; after the end, those of the end."""
        if time >= self.time_total:
            return self.charge, self.energy
        q, _, _, energy = self._state(time)
        return q, energy

    def slow(self, time: float) -> float:
        """The current that flows in the slow part by a time, A."""
        return self._state(time)[1]

    def curve(self, times: ArrayLike) -> tuple[Floats, Floats, Floats]:
        """Voltage of the pack (V), current (A) and charge put in (C) at some times; held after the end."""
        asked = np.minimum(np.maximum(np.array(times, dtype=float, ndmin=1), 0.0), self.time_total)
        i, tau = self.first_current, self._pack.time_constant
        q, w, currents = i * asked, -i * np.expm1(-asked / tau), np.full(asked.shape, i)
        if self._pieces:
            later = asked > self.time_constant_current
            q[later], w[later], currents[later] = sampled(
                [(piece.time, piece.charge, piece.law) for piece in self._pieces], asked[later]
            )
        V = np.zeros(q.shape)
        for track in self._pack.charging:
            U = np.interp(q, track.charges, track.voltages)
            V += track.count * (U + track.ohmic * currents + track.polarisation * w)
        return V, currents, q


def charge(pack: SeriesPack, current: float, end_voltage: float, end_current: float) -> Charge:
    """A charge at constant `current` until the highest cell stands at `end_voltage`, which is then held.

    Every cell has V = U(z) + R0·i + R1·w (`series`, Eqs. 1, 2). With i set,

        V_j(t) = U_j(i·t) + i·(R0_j + R1_j·(1 − exp(−t/τ)))    (1)

    rises in every cell; constant voltage begins with the first to reach `end_voltage`. From then on

        i = min over j of (end_voltage − U_j − R1_j·w)/R0_j    (2)

    keeps the highest cell there, whichever that is, by the closed form of `taper` from one point of the
    table to the next. It ends when the current under constant voltage has fallen to `end_current`, and with
    any cell full (z = 1) at the latest. Constant voltage may hold from the first instant; a full pack, or
    one that takes no more than `end_current` at first, gets nothing.

    Range: constant resistance and temperature, no hysteresis, every coulomb kept. Within 0.1 % of the same
    equations solved by an equivalent-circuit library.
    """
    pieces: list[_Piece] = []
    course = _followed(pack, current, end_voltage, end_current, pieces)
    return Charge(
        time_constant_current=course.steady,
        time_constant_voltage=course.total - course.steady,
        time_total=course.total,
        charge=course.charge,
        first_current=course.first if course.total > 0.0 else 0.0,
        _pack=pack,
        _controls=course.controls,
        _last=course.last,
        _pieces=tuple(pieces),
    )


def time_of_charge(pack: SeriesPack, current: float, end_voltage: float, end_current: float) -> float:
    """How long a `charge` takes, where nothing else of it is asked."""
    return _followed(pack, current, end_voltage, end_current, []).total


def _followed(
    pack: SeriesPack, current: float, end_voltage: float, end_current: float, pieces: list[_Piece]
) -> _Course:
    """`charge`, but for what follows from it; `pieces` takes what is passed through under constant voltage."""
    tracks, tau = pack.charging, pack.time_constant
    if not (current > 0.0 and end_current > 0.0 and all(isfinite(track.capacity) for track in tracks)):
        raise ValueError("a charge needs a current and an end current above 0, and finite capacities")
    at_once = min([(end_voltage - track.voltages[0]) / track.ohmic for track in tracks])
    full = min([track.charges[-1] for track in tracks])
    t, q, w, i, controls = 0.0, 0.0, 0.0, max(at_once, 0.0), -1
    if full > 0.0 and at_once > current:
        i, t = current, full / current
        for index, track in enumerate(tracks):
            crossing = _crossing(track, current, end_voltage, tau, t)
            if crossing is not None and (controls < 0 or crossing < t):
                t, controls = crossing, index
        q, w = current * t, -current * expm1(-t / tau)
    elif full > 0.0 and at_once > end_current:
        controls = _controlling(tracks, [0] * len(tracks), 0.0, 0.0, end_voltage, tau)[0]
    steady, first = t, i
    if controls >= 0:
        t, q, w, i = _hold(tracks, tau, end_voltage, end_current, (t, q, w, i), pieces)
    if full <= 0.0 or (steady == 0.0 and not pieces):
        i = 0.0
    return _Course(steady, t, q, first, controls, (i, w))


def _steady_energy(tracks: Sequence[Track], i: float, t: float, tau: float) -> float:
    slow = i * i * (t + tau * expm1(-t / tau))  # ∫ w·i dt
    return sum(
        track.count * (track.area(i * t) + track.ohmic * i * i * t + track.polarisation * slow) for track in tracks
    )


def _energy(tracks: Sequence[Track], law: Taper, q0: float, q: float, t: float) -> float:
    squares, products = law.squares(t)
    return sum(
        track.count * (track.area(q) - track.area(q0) + track.ohmic * squares + track.polarisation * products)
        for track in tracks
    )


def _crossing(track: Track, i: float, end_voltage: float, tau: float, latest: float) -> float | None:
    """When the track meets the end voltage at constant current, Eq. (1), if not after `latest`."""

    R0, R1, charges, voltages = track.ohmic, track.polarisation, track.charges, track.voltages
    if track.voltage(i * latest) + i * (R0 - R1 * expm1(-latest / tau)) < end_voltage:
        return None
    # Not before the point where a slow part that has settled would meet it; mostly just after.
    before, after = max(bisect_right(voltages, end_voltage - i * (R0 + R1)) - 1, 0), len(charges)
    middle = before + 1
    while after - before > 1:
        if voltages[middle] + i * (R0 - R1 * expm1(-charges[middle] / (i * tau))) < end_voltage:
            before = middle
        else:
            after = middle
        middle = (before + after) // 2
    start = charges[before] / i
    end = min(latest, charges[after] / i) if after < len(charges) else latest
    missing, steep, slow = end_voltage - voltages[before] - i * R0, track.slopes[before] * i, i * R1

    # Voltage missing at a time: it falls ever slower, so that Newton's steps never go too far.
    t = start
    while t < end:
        fallen = expm1(-t / tau)
        turning = slow * (fallen + 1.0) / tau
        slope = steep + turning
        if slope <= 0.0:
            return end
        step = (missing - steep * (t - start) + slow * fallen) / slope
        t += step
        # What a step leaves is its square times half the curvature.
        if turning * step * step <= _CLOSE * t * slope * tau:
            return min(max(t, start), end)
    return end


def _controlling(
    tracks: Sequence[Track], at: Sequence[int], q: float, w: float, end_voltage: float, tau: float
) -> tuple[int, float]:
    """The track that allows the least current, Eq. (2), and that current; of equals, the fastest falling."""
    if len(tracks) == 1:
        (track,), (k,) = tracks, at
        rest = track.voltages[k] + track.slopes[k] * (q - track.charges[k])
        return 0, (end_voltage - rest - track.polarisation * w) / track.ohmic
    currents = [
        (end_voltage - track.voltages[k] - track.slopes[k] * (q - track.charges[k]) - track.polarisation * w)
        / track.ohmic
        for track, k in zip(tracks, at, strict=True)
    ]
    least = min(currents)

    def rise(index: int) -> float:
        track = tracks[index]
        return -(track.slopes[at[index]] * least + track.polarisation * (least - w) / tau) / track.ohmic

    equal = [index for index, i in enumerate(currents) if (i - least) * tracks[index].ohmic <= _EQUAL]
    controls = min(equal, key=rise) if len(equal) > 1 else equal[0]
    return controls, currents[controls]


def _end(track: Track, segment: int) -> float:
    """The charge at which a segment ends; minus infinity past the last point."""
    return track.charges[segment + 1] if segment + 1 < len(track.charges) else -inf


def _hold(
    tracks: Sequence[Track],
    tau: float,
    end_voltage: float,
    end_current: float,
    start: tuple[float, float, float, float],
    pieces: list[_Piece],
) -> tuple[float, float, float, float]:
    """Constant voltage from a state (t, q, w, i) to the end; `pieces` takes what is passed through."""
    t, q, w, i = start
    at = [track.segment(q) for track in tracks]
    ends = [_end(track, k) for track, k in zip(tracks, at, strict=True)]
    for _ in range(1000 + 100 * sum([len(track.charges) for track in tracks])):
        controls, i = _controlling(tracks, at, q, w, end_voltage, tau)
        room = min(ends) - q
        if (i - end_current) * tracks[controls].ohmic <= _ROUNDING * end_voltage or room == -inf:
            return t, q, w, i
        track, k = tracks[controls], at[controls]
        law = Taper(i, w, track.slopes[k], track.ohmic, track.polarisation, tau)
        # The current stays above end_current until it ends, so the charge that is left cannot take longer
        # than this; and where too little voltage is left for such a current at the piece's end, it ends before.
        dt = room / end_current
        left = end_voltage - track.voltages[k] - track.slopes[k] * (q + room - track.charges[k])
        if left > track.ohmic * end_current + track.polarisation * min(w, end_current):
            dt = law.time_of(room, dt)
        tapered = law.time_of_current(end_current, dt)
        ended = tapered is not None
        if tapered is not None:
            dt = tapered
        taken_over = False
        for index, other in enumerate(tracks):
            if index != controls:
                U = other.voltages[at[index]] + other.slopes[at[index]] * (q - other.charges[at[index]])
                gap = end_voltage + _TAKES_OVER - U - other.ohmic * i - other.polarisation * w
                meets = law.time_of_voltage(gap, other.slopes[at[index]], other.ohmic, other.polarisation, dt)
                if meets is not None and meets < dt:
                    dt, ended, taken_over = meets, False, True
        pieces.append(_Piece(t, q, law))
        passed, w, i = law.after(dt)
        t, q = t + dt, q + (min(passed, room) if ended or taken_over else room)
        if ended:
            return t, q, w, end_current
        for index, each in enumerate(tracks):
            while -inf < ends[index] <= q * (1.0 + 1e-15):
                at[index] += 1
                ends[index] = _end(each, at[index])
    raise ArithmeticError("constant voltage does not come to an end")

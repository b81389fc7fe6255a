"""A load that repeats, in the mean over one of its cycles.

Within a cycle ρ is held. With i_j over the leg j, which begins at t_j and lasts d_j, and α = exp(−t/τ),

    w(t) = α(t)·w0 + ρ·p(t),   p' = (i − p)/τ,  p(0) = 0                                         (1)

so that from cycle to cycle w follows, exactly, w' = (ρ·W − w)/τ with W = p(P)/(1 − α(P)), P the period. The heat of a
cycle is that of the mean of i² and of i·w. Temperature is taken to rise evenly through a cycle: what heats within it
sees, weighted by the heat, the same mean temperature in whatever order it comes, so that the error is of second order
in the rise of one cycle. Under loads of power the currents are those of the cycle that begins, from `upper_current` at
the middle of each leg.
"""

from collections.abc import Callable, Sequence
from copy import copy
from dataclasses import dataclass
from math import exp, expm1

import numpy as np
from numpy.typing import NDArray

from .constant_power import upper_current
from .series import Track
from .warmth import Body, Load

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Marks:
    """One cycle, leg by leg: charge drawn at both ends, current, α and p at both ends, duration."""

    begins: Floats
    ends: Floats
    current: Floats
    fades: Floats
    slow: Floats
    duration: Floats

    def holds(
        self,
        track: Track,
        body: Body,
        charge: float,
        w: float,
        T: float,
        ratio: float,
        floor: float,
        heat: float,
    ) -> bool:
        """Whether a kind of cell goes through the cycle without meeting its floor or the limit temperature.

        Under each current the voltage is least at one of the ends of the leg.
        """
        slow = w * self.fades + ratio * self.slow
        drop = ratio * track.ohmic * self.current
        for q, part in ((self.begins, slow[:-1]), (self.ends, slow[1:])):
            voltage = np.interp(charge + q, track.charges, track.voltages) - drop - track.polarisation * part
            if voltage.min() <= floor:
                return False
        if heat == np.inf:
            return True
        heats = self.current * (drop + track.polarisation * np.maximum(slow[:-1], slow[1:]))
        if body.ambient <= T:
            watts = heats + self.current * max(-body.entropy, 0.0) * heat
            if T + float((watts * self.duration).sum()) / body.heat_capacity < heat:
                return True
        for watt, i, d in zip(heats.tolist(), self.current.tolist(), self.duration.tolist(), strict=True):
            fade = body.fade(i)
            grown = -expm1(-fade * d) / fade if abs(fade * d) > 1e-9 else d
            T += (watt - i * body.entropy * T - body.cooling * (T - body.ambient)) / body.heat_capacity * grown
            if heat <= T:
                return False
        return True


class Cycle:
    """Legs of `(current, power, duration)`, the one that is not None holding."""

    def __init__(self, legs: Sequence[tuple[float | None, float | None, float]], tau: float) -> None:
        self.legs = [(current, power, duration, exp(-duration / tau)) for current, power, duration in legs]
        self.period = sum(duration for _, _, duration in legs)
        self.powered = any(power for _, power, _ in legs)
        self.origin = 0.0
        self._same: tuple[Load, Marks] | None = None

    def begun(self, time: float) -> "Cycle":
        """The same, one of them beginning at `time`."""
        again = copy(self)
        again.origin = time
        return again

    def at(
        self, since: float, tau: float, emf: Callable[[float], float], resistance: float, held_back: float, fast: float
    ) -> tuple[float, float, float, float]:
        """Charge drawn, current, α and p, so long after the cycle began; the rest as for `load`."""
        _, marks = self.load(tau, emf, resistance, held_back, fast)
        ends = np.cumsum(marks.duration)
        leg = min(int(np.searchsorted(ends, since, side="right")), len(ends) - 1)
        into = since - float(ends[leg] - marks.duration[leg])
        i, e = float(marks.current[leg]), exp(-into / tau)
        p = i + (float(marks.slow[leg]) - i) * e
        return float(marks.begins[leg]) + i * into, i, float(marks.fades[leg]) * e, p

    def load(
        self, tau: float, emf: Callable[[float], float], resistance: float, held_back: float, fast: float
    ) -> tuple[Load, Marks]:
        """The cycle from where the pack stands: U of all against the charge drawn in it, Σρ·R0, Σ R1·w, Σ R1·ρ."""
        if self._same is not None:
            return self._same
        q = p = t = square = own = carried = 0.0
        fade = 1.0
        rows, fades, slow = [], [1.0], [0.0]
        for current, power, duration, e in self.legs:
            i = current or 0.0
            if power:
                i = upper_current(emf(q) - held_back * fade - fast * p, resistance, power)
                half = e**0.5
                p_half = i + (p - i) * half
                back = held_back * fade * half + fast * p_half
                i = upper_current(emf(q + 0.5 * i * duration) - back, resistance, power)
            through = tau * (1.0 - e)
            own += i * (i * duration + (p - i) * through)
            carried += i * fade * through
            square += i * i * duration
            rows.append((q, q + i * duration, i, duration))
            q += i * duration
            p = i + (p - i) * e
            fade *= e
            t += duration
            fades.append(fade)
            slow.append(p)
        load = Load(q / t, square / t, p / (1.0 - fade), own / t, carried / t)
        begins, ends, currents, durations = np.array(rows).T
        marks = Marks(begins, ends, currents, np.array(fades), np.array(slow), durations)
        if not self.powered:
            self._same = load, marks
        return load, marks

"""A flight whose resistances follow the temperature of its cells, as far as it has come.

A current, a power, or whole cycles of a load that repeats (`cycles`) are stepped by `warmth` for each kind of cell. At
constant power the current of a step is straight in time, between ends that agree with the voltages there:

    i = 2P/(E + sqrt(E² − 4·R·P)),  E = Σ(U − R1·w),  R = Σρ·R0 + R_lead        (1)

Between the ends of a step w and T are cubics with the slopes of their equations there; the moment at which a limit is
met is root-found on them. Current out of the pack is positive. Over 300 lines: a flight is one state that all its
methods move on.
"""

from bisect import bisect_right
from collections.abc import Callable, Sequence
from math import exp, inf, isinf, sqrt
from typing import NamedTuple

import numpy as np

from ..roots import root
from .constant_power import Impossible, upper_current
from .cycles import Cycle, Marks
from .legs import Ending, Limits
from .series import Track, knots
from .warmth import WARMEST, Body, Load, steady

_ROUNDING = 1e-13
_SETTLED = 1e-7
_STRAIGHT = 1.2e-4
"""How far the current at the end of a step may lie from where it was heading, over itself."""
_INSIDE = 4.0
"""How much more the current in the middle of a step counts: a parabola lies there an eighth off its chord."""
_UNLIKE = 0.01
"""How far the mean current of a cycle may have moved over the cycles that are passed over at once."""
_WARMER = 5.0  # K, likewise
_BRIEFEST = 1e-9
_LOOKS = 8


class Instant(NamedTuple):
    """A pack at one moment: charge drawn, the current, and w and T of each kind of cell."""

    time: float
    charge: float
    current: float
    slow: tuple[float, ...]
    temperatures: tuple[float, ...]
    ratios: tuple[float, ...]


class Stretch(NamedTuple):
    """From one moment to another under one load: `power`, or `cycle` with its `load` in the mean, or a current."""

    start: Instant
    end: Instant
    power: float | None
    cycle: Cycle | None
    load: Load


class Following:
    """`now` is where the flight stands, `stretches` what led there. One track and one body for each kind of cell."""

    def __init__(
        self, tracks: Sequence[Track], bodies: Sequence[Body], tau: float, lead: float, limits: Limits
    ) -> None:
        self.tracks, self.bodies, self.tau, self.lead, self.limits = tracks, bodies, tau, lead, limits
        self.stretches: list[Stretch] = []
        starts = tuple(body.start for body in bodies)
        none = tuple(0.0 for _ in bodies)
        self.now = Instant(0.0, 0.0, 0.0, none, starts, tuple(body.ratio(body.start) for body in bodies))
        self.h = 0.1 * tau
        self._slope = 0.0
        self._emf = _sum(tracks)

    # What flows.

    def emf(self, q: float) -> float:
        """ΣU after the charge q."""
        charges, voltages, slopes = self._emf
        k = bisect_right(charges, q) - 1
        return voltages[k] + slopes[k] * (q - charges[k])

    def held_back(self, slow: Sequence[float]) -> float:
        """Σ R1·w."""
        return sum(track.count * track.polarisation * w for track, w in zip(self.tracks, slow, strict=True))

    def resistance(self, ratios: Sequence[float]) -> float:
        """Σ ρ·R0 and the lead."""
        return self.lead + sum(track.count * track.ohmic * r for track, r in zip(self.tracks, ratios, strict=True))

    def drawn(self, power: float, q: float, slow: Sequence[float], ratios: Sequence[float]) -> float:
        """Eq. (1)."""
        return upper_current(self.emf(q) - self.held_back(slow), self.resistance(ratios), power)

    # The three kinds of load. Each gives what ended the flight before `until`, if anything did.

    def current(self, i: float, until: float) -> Ending | None:
        self.now = self.now._replace(current=i)
        ended = self._at_once()
        if ended is not None:
            return ended
        load, begun = steady(i), self.now
        spent, by_charge = self.limits.by_charge()
        stop = until
        if i > 0.0 and begun.time + (spent - begun.charge) / i <= until:
            stop, ended = begun.time + (spent - begun.charge) / i, by_charge
        if isinf(stop):
            raise ValueError("a load that nothing ends: give `longest`")
        while stop - self.now.time > _ROUNDING * stop:
            left = stop - self.now.time
            h, slow, T = self._advanced(load, min(self.h, left))
            time, charge = self.now.time + h, begun.charge + i * (self.now.time + h - begun.time)
            if h >= left * (1.0 - _ROUNDING):
                time, charge = stop, spent if ended else charge
            met = self._met(self._instant(time, charge, i, slow, T), None)
            if met is not None:
                return met
        return ended

    def power(self, power: float, until: float) -> Ending | None:
        now = self.now
        try:
            i = self.drawn(power, now.charge, now.slow, now.ratios)
        except Impossible:
            return "impossible"
        self.now = now._replace(current=i)
        ended = self._at_once()
        self.h, self._slope = min(self.h, 0.5 * self.tau), self._steepness()
        while ended is None and self.now.time < until * (1.0 - _ROUNDING):
            left = until - self.now.time
            try:
                then = self._powered(power, min(self.h, left))
            except Impossible:
                return "impossible"
            if then.time >= until * (1.0 - _ROUNDING):
                then = then._replace(time=until)
            ended = self._met(then, power)
        return ended

    def _steepness(self) -> float:
        """di/dt at constant power as the slow part comes or goes: that of Eq. (1) with E alone moving."""
        now, i = self.now, self.now.current
        E = self.emf(now.charge) - self.held_back(now.slow)
        kinds = zip(self.tracks, now.slow, now.ratios, strict=True)
        falling = sum(track.count * track.polarisation * (r * i - w) for track, w, r in kinds) / self.tau
        return i * falling / max(E - 2.0 * self.resistance(now.ratios) * i, 1e-3 * E)

    def cycles(self, cycle: Cycle, latest: float) -> None:
        """Whole cycles passed over, up to the last before something ends the flight, or nearly so."""
        spent, _ = self.limits.by_charge()
        times, cycle = 1, cycle.begun(self.now.time)
        try:
            begun, calm = self._cycle(cycle)
            while calm:
                now, kept = self.now, len(self.stretches)
                room = min((spent - now.charge) / max(begun.mean, 1e-300), latest - now.time) / cycle.period
                times = min(times, int(room) - 1)
                if times < 1:
                    return
                ended, good = self._passed(cycle, begun, times)
                if good:
                    begun, times = ended, 2 * times
                    continue
                self.now = now
                del self.stretches[kept:]
                if times == 1:
                    return
                times = max(1, times // 4)
        except Impossible:
            return

    def _cycle(self, cycle: Cycle) -> tuple[Load, bool]:
        """What the cycle asks from here on, and whether it can be gone through without meeting a limit."""
        now = self.now
        load, marks = self._asked(cycle, now)
        floor, heat = self.limits.floor, self.limits.heat
        kinds = zip(self.tracks, self.bodies, now.slow, now.temperatures, now.ratios, strict=True)
        return load, all(marks.holds(track, body, now.charge, w, T, r, floor, heat) for track, body, w, T, r in kinds)

    def _asked(self, cycle: Cycle, at: Instant) -> tuple[Load, Marks]:
        return cycle.load(
            self.tau, lambda q: self.emf(at.charge + q), self.resistance(at.ratios), *self._slow_parts(at)
        )

    def _slow_parts(self, at: Instant) -> tuple[float, float]:
        """Σ R1·w and Σ R1·ρ."""
        fast = sum(t.count * t.polarisation * r for t, r in zip(self.tracks, at.ratios, strict=True))
        return self.held_back(at.slow), fast

    def _passed(self, cycle: Cycle, begun: Load, times: int) -> tuple[Load, bool]:
        """So many cycles at once: what they ask at the end, and whether the pack could be followed so far.

        What powers ask is straight from the first of the cycles to the last, each at the temperature of its middle.
        """
        now, kept = self.now, len(self.stretches)
        self._averaged(cycle, begun, now.time + times * cycle.period)
        if cycle.powered:
            end, before = self.now, (times - 1) / times
            slow = tuple(w0 + (w1 - w0) * before for w0, w1 in zip(now.slow, end.slow, strict=True))
            last = end._replace(charge=now.charge + (end.charge - now.charge) * before, slow=slow)
            asked, _ = self._asked(cycle, last)
            self.now = now
            del self.stretches[kept:]
            mean = Load(*(0.5 * (one + other) for one, other in zip(begun, asked, strict=True)))
            self._averaged(cycle, mean, now.time + times * cycle.period)
        ended, calm = self._cycle(cycle)
        warmer = max(abs(T1 - T0) for T0, T1 in zip(now.temperatures, self.now.temperatures, strict=True))
        alike = abs(ended.mean - begun.mean) <= _UNLIKE * begun.mean and warmer <= _WARMER
        return ended, calm and (alike or times == 1)

    def _averaged(self, cycle: Cycle, load: Load, until: float) -> None:
        begun = self.now
        while until - self.now.time > _ROUNDING * until:
            left = until - self.now.time
            h, slow, T = self._advanced(load, min(self.h, left))
            time = until if h >= left * (1.0 - _ROUNDING) else self.now.time + h
            charge = begun.charge + load.mean * (time - begun.time)
            then = self._instant(time, charge, load.mean, slow, T)
            self.stretches.append(Stretch(self.now, then, None, cycle, load))
            self.now = then

    # One step.

    def _instant(self, time: float, charge: float, i: float, slow: Sequence[float], T: Sequence[float]) -> Instant:
        ratios = tuple([body.ratio(t) for body, t in zip(self.bodies, T, strict=True)])
        return Instant(time, charge, i, tuple(slow), tuple(T), ratios)

    def _stepped(self, load: Load, h: float) -> tuple[list[float], list[float], float]:
        slow, warm, worst, now = [], [], 0.0, self.now
        for body, w, T, ratio in zip(self.bodies, now.slow, now.temperatures, now.ratios, strict=True):
            w, T, error = body.step(load, h, w, T, ratio)
            slow.append(w)
            warm.append(T)
            if error > worst:
                worst = error
        return slow, warm, worst

    def _resized(self, h: float, factor: float) -> None:
        """After a step that was good enough."""
        wider = h * min(4.0, 0.9 * factor)
        self.h = max(self.h, wider) if h < self.h else wider

    def _advanced(self, load: Load, h: float) -> tuple[float, list[float], list[float]]:
        """The longest good step up to `h`, with what it leads to."""
        while True:
            slow, warm, worst = self._stepped(load, h)
            if worst <= 1.0:
                self._resized(h, max(worst, 1e-6) ** (-1.0 / 3.0))
                return h, slow, warm
            h *= max(0.1, 0.9 * worst ** (-1.0 / 3.0)) if worst < inf else 0.1
            self.h = h

    def _powered(self, power: float, h: float) -> Instant:
        """A step at constant power, up to `h` long."""
        now = self.now
        i0 = now.current
        while True:
            heading = min(max(i0 + self._slope * h, 0.5 * i0), 2.0 * i0)
            i1, miss, worst, change = heading, inf, 0.0, inf
            then = now
            try:
                for _ in range(6):
                    mean = 0.5 * (i0 + i1)
                    load = Load(mean, (i0 * i0 + i0 * i1 + i1 * i1) / 3.0, mean, 0.0, mean)
                    slow, warm, worst = self._stepped(load, h)
                    if worst > 1.0:
                        break
                    ratios = [body.ratio(T) for body, T in zip(self.bodies, warm, strict=True)]
                    # What the slope of the current adds to w: (1/τ)·∫ (u − h/2)·exp(−(h − u)/τ) du.
                    ramp = (i1 - i0) / h * (0.5 * h - self.tau + (0.5 * h + self.tau) * exp(-h / self.tau))
                    slow = [w + ratio * ramp for w, ratio in zip(slow, ratios, strict=True)]
                    q = now.charge + mean * h
                    found = self.drawn(power, q, slow, ratios)
                    change, i1 = abs(found - i1), found
                    if change <= _SETTLED * i1:
                        then = Instant(now.time + h, q, i1, tuple(slow), tuple(warm), tuple(ratios))
                        break
                miss = inf
                if change <= _SETTLED * i1:
                    miss = max(abs(i1 - heading), _INSIDE * self._bulge(power, then)) / (_STRAIGHT * i0)
            except Impossible:
                miss = inf
            factor = min(max(worst, 1e-6) ** (-1.0 / 3.0), max(miss, 1e-3) ** -0.5) if worst < inf else 0.0
            if worst <= 1.0 and miss <= 1.0:
                self._resized(h, factor)
                self._slope = (i1 - i0) / h
                return then
            if h <= _BRIEFEST * self.tau:
                raise Impossible
            h *= max(0.1, 0.9 * factor)
            self.h = h

    def _bulge(self, power: float, then: Instant) -> float:
        """How far the current in the middle of a step lies off the straight line: a curve may bend within."""
        now = self.now
        mean = 0.5 * (now.current + then.current)
        charge = now.charge + 0.25 * (now.current + mean) * (then.time - now.time)
        slow = [0.5 * (w0 + w1) for w0, w1 in zip(now.slow, then.slow, strict=True)]
        ratios = [0.5 * (r0 + r1) for r0, r1 in zip(now.ratios, then.ratios, strict=True)]
        return abs(self.drawn(power, charge, slow, ratios) - mean)

    # Limits.

    def cell_voltages(self, at: Instant) -> list[float]:
        """Terminal voltage of each kind of cell."""
        return [
            track.voltage(at.charge) - ratio * track.ohmic * at.current - track.polarisation * w
            for track, w, ratio in zip(self.tracks, at.slow, at.ratios, strict=True)
        ]

    def _at_once(self) -> Ending | None:
        if min(self.cell_voltages(self.now)) <= self.limits.floor:
            return "floor"
        if max(self.now.temperatures) >= self.limits.heat:
            return "heat"
        spent, by_charge = self.limits.by_charge()
        return by_charge if spent <= self.now.charge else None

    def _met(self, then: Instant, power: float | None) -> Ending | None:
        """The step to `then` taken, or the part of it before a limit is met, and which that is."""
        now = self.now
        h = then.time - now.time
        ended: Ending | None = None
        part = h
        spent, by_charge = self.limits.by_charge()
        if power is not None and then.charge >= spent:
            needed, bend = spent - now.charge, 2.0 * (then.current - now.current) / h
            part = min(h, 2.0 * needed / (now.current + sqrt(max(0.0, now.current**2 + bend * needed))))
            ended = by_charge
        for kind in range(len(self.tracks)):
            found = self._too_warm(kind, then, part)
            if found is not None and (found < part or ended is None):
                part, ended = found, "heat"
            found = self._too_low(kind, then, part)
            if found is not None and (found < part or ended is None or found <= part):
                part, ended = found, "floor"
        if part < h:
            at = self.between(now, then, part)
            if ended not in ("floor", "heat"):
                at = at._replace(charge=spent)
            if power is not None:
                at = at._replace(current=self.drawn(power, at.charge, at.slow, at.ratios))
            then = at
        if then.time > now.time:
            self.stretches.append(Stretch(now, then, power, None, steady(now.current)))
        self.now = then
        return ended

    def _too_warm(self, kind: int, then: Instant, part: float) -> float | None:
        """When within a step, and not after `part`, a kind of cell comes to the limit of temperature."""
        limit = self.limits.heat
        if isinf(limit):
            return None
        now, h = self.now, then.time - self.now.time
        T0, T1 = now.temperatures[kind], then.temperatures[kind]
        begun = self._rates(kind, now)[1]
        below = limit > T1  # at the end of the step; it may still have peaked within
        if below and (begun <= 0.0 or T0 + begun * h < limit):
            return None
        end = self._rates(kind, then)[1]
        if below and end >= 0.0:
            return None

        def over(t: float) -> float:
            return _cubic(t / h, T0, T1, begun * h, end * h) - limit

        before = 0.0
        for look in range(1, _LOOKS + 1):
            t = h * look / _LOOKS
            if over(t) >= 0.0:
                found = root(over, before, t) if before < t and over(before) < 0.0 else t
                return found if found <= part else None
            before = t
        return None

    def _too_low(self, kind: int, then: Instant, part: float) -> float | None:
        """When within a step, and not after `part`, a kind of cell comes to the floor."""
        now, track, floor = self.now, self.tracks[kind], self.limits.floor
        most = track.ohmic * max(now.ratios[kind], then.ratios[kind]) * max(now.current, then.current)
        slow = track.polarisation * max(now.slow[kind], then.slow[kind])
        if track.voltage(then.charge) - most - slow > floor:
            return None
        h, voltage = then.time - now.time, self._voltage(kind, then)
        charge = then.charge - now.charge
        times = [h * look / _LOOKS for look in range(1, _LOOKS + 1)]
        if charge > 0.0:
            first, last = track.segment(now.charge) + 1, track.segment(then.charge)
            times += [h * (knot - now.charge) / charge for knot in track.charges[first : last + 1]]
        before = 0.0
        for t in sorted(times):
            if voltage(t) <= floor:
                found = root(lambda t: voltage(t) - floor, before, t) if before < t else t
                return found if found <= part else None
            before = t
        return None

    # Within a step.

    def _rates(self, kind: int, at: Instant) -> tuple[float, float]:
        return self.bodies[kind].rates(steady(at.current), at.slow[kind], at.temperatures[kind], at.ratios[kind])

    def _warm(self, kind: int, x: float, start: Instant, end: Instant, rise: float, last: float) -> float:
        """T within a step, kept between its ends where it runs away or falls in so fast that a cubic overshoots."""
        T0, T1 = start.temperatures[kind], end.temperatures[kind]
        T = _cubic(x, T0, T1, rise, last)
        if abs(self.bodies[kind].fade(start.current)) * (end.time - start.time) > 0.5 or T1 >= WARMEST:
            return min(max(T, min(T0, T1)), max(T0, T1))
        return T

    def _voltage(self, kind: int, then: Instant) -> Callable[[float], float]:
        now, track, body = self.now, self.tracks[kind], self.bodies[kind]
        h = then.time - now.time
        (w0, T0), (w1, T1) = self._rates(kind, now), self._rates(kind, then)

        def voltage(t: float) -> float:
            x = t / h
            w = _cubic(x, now.slow[kind], then.slow[kind], w0 * h, w1 * h)
            T = self._warm(kind, x, now, then, T0 * h, T1 * h)
            i = now.current + x * (then.current - now.current)
            q = now.charge + 0.5 * t * (now.current + i)
            return track.voltage(q) - body.ratio(T) * track.ohmic * i - track.polarisation * w

        return voltage

    def between(self, start: Instant, end: Instant, t: float, load: Load | None = None) -> Instant:
        """The moment `t` after the start of a step; `load` in the mean where it is one of cycles."""
        h = end.time - start.time
        x = t / h if h > 0.0 else 1.0
        i = start.current + x * (end.current - start.current)
        slow, warm = [], []
        for kind, body in enumerate(self.bodies):
            ends = []
            for at in (start, end):
                own = steady(at.current) if load is None else load
                ends.append(body.rates(own, at.slow[kind], at.temperatures[kind], at.ratios[kind]))
            (w0, T0), (w1, T1) = ends
            slow.append(_cubic(x, start.slow[kind], end.slow[kind], w0 * h, w1 * h))
            warm.append(self._warm(kind, x, start, end, T0 * h, T1 * h))
        if load is not None:
            return self._instant(start.time + t, start.charge + load.mean * t, load.mean, slow, warm)
        return self._instant(start.time + t, start.charge + 0.5 * t * (start.current + i), i, slow, warm)

    def within(self, cycle: Cycle, begun: Instant, since: float) -> Instant:
        """A moment of a cycle, so long after it began."""
        held_back, fast = self._slow_parts(begun)
        resistance = self.resistance(begun.ratios)
        q, i, fade, p = cycle.at(since, self.tau, lambda q: self.emf(begun.charge + q), resistance, held_back, fast)
        slow = tuple(w * fade + ratio * p for w, ratio in zip(begun.slow, begun.ratios, strict=True))
        return begun._replace(time=begun.time + since, charge=begun.charge + q, current=i, slow=slow)

    # What it comes to.

    def energies(self) -> tuple[float, float]:
        """∫ V·i dt so far, at the pack and at the load behind the lead, J."""
        pack = load = 0.0
        for start, end, power, cycle, mean in self.stretches:
            h = end.time - start.time
            if power is not None:
                square = (start.current**2 + start.current * end.current + end.current**2) / 3.0
                load += power * h
                pack += power * h + self.lead * square * h
                continue
            middle = self.between(start, end, 0.5 * h, None if cycle is None else mean)
            heats = [
                sum(
                    track.count * body.heat(mean, w, ratio)
                    for track, body, w, ratio in zip(self.tracks, self.bodies, at.slow, at.ratios, strict=True)
                )
                for at in (start, middle, end)
            ]
            given = sum(track.count * (track.area(end.charge) - track.area(start.charge)) for track in self.tracks)
            given -= h * (heats[0] + 4.0 * heats[1] + heats[2]) / 6.0
            pack += given
            load += given - self.lead * mean.square * h
        return pack, load


def _sum(tracks: Sequence[Track]) -> tuple[list[float], list[float], list[float]]:
    """ΣU against the charge, straight from knot to knot of them all and held at its ends."""
    charges = np.array(knots(tracks))
    total = sum(track.count * np.interp(charges, track.charges, track.voltages) for track in tracks)
    voltages = np.asarray(total)
    slopes = np.append(np.diff(voltages) / np.diff(charges), 0.0)
    return charges.tolist(), voltages.tolist(), slopes.tolist()


def _cubic(x: float, y0: float, y1: float, d0: float, d1: float) -> float:
    """The cubic from y0 at 0 to y1 at 1 with the slopes d0 and d1 there."""
    rise = y1 - y0
    return y0 + x * (d0 + x * (3.0 * rise - 2.0 * d0 - d1 + x * (d0 + d1 - 2.0 * rise)))

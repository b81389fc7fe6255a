"""The legs of a flight at held resistances: from one state on under one load, until a limit is met or the load ends.

A leg at constant current I is closed: from q0 and w0,

    q = q0 + I·t,   w = I + (w0 − I)·exp(−t/τ),   V_j = U_j(q) − R0_j·I − R1_j·w    (1)

and only the moment at which a limit is met is root-found. A load of constant power is many legs, one per step of
`constant_power`. Current out of the pack is positive.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, expm1, isinf
from typing import Literal, NamedTuple

from ..roots import root
from .constant_power import ConstantPower, Impossible, State
from .series import Track

Ending = Literal["floor", "reserve", "heat", "empty", "end", "impossible"]

_ROUNDING = 1e-13


class LegEnd(NamedTuple):
    """A pack at one instant: q, w, the current, and the energy given at the pack and at the load."""

    time: float
    charge: float
    slow: float
    current: float
    energy: float
    delivered: float


class Leg(NamedTuple):
    """From one point to the next; `power` is None at constant current."""

    start: LegEnd
    end: LegEnd
    power: float | None


@dataclass(frozen=True, slots=True)
class Limits:
    """What ends a flight: V per cell, kelvin, and the charges at which the reserve is met and a cell is empty.

    Held resistances know no heat.
    """

    floor: float
    heat: float
    reserve: float
    empty: float

    def by_charge(self) -> tuple[float, Ending]:
        return (self.reserve, "reserve") if self.reserve <= self.empty else (self.empty, "empty")


class Legs:
    """A flight as far as it has come: `point` is where it stands, `legs` is what led there."""

    def __init__(self, tracks: Sequence[Track], tau: float, lead: float, limits: Limits) -> None:
        self.tracks, self.tau, self.lead, self.limits = tracks, tau, lead, limits
        self.legs: list[Leg] = []
        self.point = LegEnd(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
        self.runs: dict[float, ConstantPower] = {}

    def _add(self, start: LegEnd, end: LegEnd, power: float | None) -> None:
        if end.time > start.time:
            self.legs.append(Leg(start, end, power))
        self.point = end

    def current(self, i: float, until: float) -> Ending | None:
        """Constant current up to a time; what ended the flight before, if anything did."""
        start = self.point._replace(current=i)
        spent, by_charge = self.limits.by_charge()
        dt = until - start.time
        ended: Ending | None = None
        if spent <= start.charge:
            dt, ended = 0.0, by_charge
        elif i > 0.0 and (spent - start.charge) / i <= dt:
            dt, ended = (spent - start.charge) / i, by_charge
        reached = spent if ended and dt > 0.0 else start.charge + i * dt
        if isinf(dt):
            raise ValueError("a load that nothing ends: give `longest`")
        for track in self.tracks:
            meets = self._floor_time(track, start, dt)
            if meets is not None:
                dt, ended, reached = meets, "floor", start.charge + i * meets
        self._add(start, self._after(start, dt, reached), None)
        return ended

    def _after(self, start: LegEnd, dt: float, q: float) -> LegEnd:
        """Eq. (1), with the energies."""
        i, w0, tau = start.current, start.slow, self.tau
        w = i + (w0 - i) * exp(-dt / tau)
        passed = i * dt
        products = i * passed - i * (w0 - i) * tau * expm1(-dt / tau)  # ∫ i·w dt
        energy = sum(
            track.count
            * (track.area(q) - track.area(start.charge) - track.ohmic * i * passed - track.polarisation * products)
            for track in self.tracks
        )
        return LegEnd(
            start.time + dt,
            q,
            w,
            i,
            start.energy + energy,
            start.delivered + energy - self.lead * i * passed,
        )

    def _floor_time(self, track: Track, start: LegEnd, latest: float) -> float | None:
        """When a cell first stands at the floor. With w above I it may rise first, but V is concave between knots."""
        i, q0, w0, tau, floor = start.current, start.charge, start.slow, self.tau, self.limits.floor

        def above(t: float) -> float:
            w = i + (w0 - i) * exp(-t / tau)
            return track.voltage(q0 + i * t) - track.ohmic * i - track.polarisation * w - floor

        if above(0.0) <= 0.0:
            return 0.0
        if i == 0.0 or (w0 <= i and above(latest) > 0.0):
            return None
        first, last = track.segment(q0) + 1, track.segment(q0 + i * latest)
        before, after = 0.0, latest
        if w0 <= i:
            while first <= last:
                middle = (first + last) // 2
                t = (track.charges[middle] - q0) / i
                if above(t) > 0.0:
                    before, first = t, middle + 1
                else:
                    after, last = t, middle - 1
            after = min(after, latest)
            return root(above, before, after) if before < after else after
        for knot in [*track.charges[first : last + 1], q0 + i * latest]:
            after = min((knot - q0) / i, latest)
            if above(after) <= 0.0:
                return root(above, before, after) if before < after else after
            before = after
        return None

    def power(self, power: float, until: float) -> Ending | None:
        """Constant power at the load up to a time; what ended the flight before, if anything did."""
        run = self.runs.get(power)
        if run is None:
            run = self.runs[power] = ConstantPower(self.tracks, self.tau, power, self.lead)
        begun = self.point
        try:
            state = run.start(begun.time, begun.charge, begun.slow)
        except Impossible:
            return "impossible"
        self.point = begun._replace(current=state.current)
        ended = self._at_once(run, state)
        while ended is None and state.time < until * (1.0 - _ROUNDING):
            before = state
            try:
                state = run.advance(before, until)
            except Impossible:
                return "impossible"
            state, ended = self._cut(run, before, state, until)
            worked = power * (state.time - begun.time)
            end = LegEnd(
                until if ended is None and state.time >= until * (1.0 - _ROUNDING) else state.time,
                state.charge,
                state.slow,
                state.current,
                begun.energy + worked + self.lead * state.squares,
                begun.delivered + worked,
            )
            self._add(self.point, end, power)
        return ended

    def _at_once(self, run: ConstantPower, state: State) -> Ending | None:
        if min(run.voltages(state)) <= self.limits.floor:
            return "floor"
        spent, by_charge = self.limits.by_charge()
        return by_charge if spent <= state.charge else None

    def _cut(self, run: ConstantPower, before: State, after: State, until: float) -> tuple[State, Ending | None]:
        """A step of the run, cut where the load ends or a limit is met first."""
        ended: Ending | None = None
        spent, by_charge = self.limits.by_charge()
        if after.charge >= spent:
            after, ended = run.part(spent - before.charge), by_charge
        width = after.charge - before.charge
        if after.time > until * (1.0 + _ROUNDING):
            after, ended = run.part(root(lambda h: run.part(h).time - until, 0.0, width)), None
            width = after.charge - before.charge
        floor = self.limits.floor
        if min(run.voltages(after)) <= floor:
            h = root(lambda h: min(run.voltages(run.part(h))) - floor, 0.0, width)
            after, ended = run.part(h), "floor"
        return after, ended

"""A whole flight: a pack under a load that changes step by step, until the first of its limits is met."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import cycle
from math import inf, isinf

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .heat import SPECIFIC_HEAT
from .legs import Ending, Leg, Legs, Limits, Point
from .sampling import Samples, samples
from .series import SeriesPack
from .warmth import Body

Floats = NDArray[np.float64]

MOST_LEGS = 50_000


class TooManySteps(ValueError):
    """The load changes more often than can be followed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A load held for a `duration` in s: a current in A, or a power in W at the load, behind the lead."""

    current: float | None = None
    power: float | None = None
    duration: float = inf

    def __post_init__(self) -> None:
        given = self.current if self.power is None else self.power
        if given is None or (self.current is not None and self.power is not None) or not 0.0 <= given < inf:
            raise ValueError("a step has one of current and power, 0 or above")
        if not self.duration > 0.0:
            raise ValueError("a step lasts longer than 0 s")


@dataclass(frozen=True, eq=False, kw_only=True)
class Thermal:
    """What decides the temperature of the cells; each a number for all or one per cell.

    kg, K, K, W/K, V/K, J/(kg·K), per cell, as in `heat`. `entropy` dU/dT below zero heats on discharge.
    """

    mass: ArrayLike
    start: ArrayLike
    ambient: ArrayLike
    cooling: ArrayLike = 0.0
    entropy: ArrayLike = 0.0
    specific_heat: ArrayLike = SPECIFIC_HEAT

    def __post_init__(self) -> None:
        if not (np.all(np.asarray(self.mass) > 0.0) and np.all(np.asarray(self.specific_heat) > 0.0)):
            raise ValueError("masses and specific heats must be above 0")
        if not (np.all(np.asarray(self.start) > 0.0) and np.all(np.asarray(self.ambient) > 0.0)):
            raise ValueError("temperatures are in kelvin")
        if np.any(np.asarray(self.cooling) < 0.0):
            raise ValueError("cooling must be 0 or above")


@dataclass(frozen=True, eq=False, kw_only=True)
class Flight:
    """What a flight comes to. SI units; per cell where an array. Current out of the pack is positive."""

    time: float
    ended_by: Ending
    charge: float
    energy: float
    """∫ V·i dt at the pack's terminals."""
    delivered: float
    """The same at the load, behind the lead."""
    current: float
    """The last that flows. If the load that comes next is impossible, the last that was not; 0 if none was."""
    voltage: float
    """At the load, while that current flows."""
    cell_voltages: Floats
    """While that current flows."""
    rest_voltages: Floats
    """Long after landing."""
    states: Floats
    temperatures: Floats | None
    _pack: SeriesPack = field(repr=False)
    _lead: float = field(repr=False)
    _bodies: tuple[Body, ...] = field(repr=False)
    _legs: tuple[Leg, ...] = field(repr=False)
    _end: Point = field(repr=False)

    def curve(self, times: ArrayLike) -> Samples:
        """The flight at some times, s; held at its start before and at its end after. See `sampling`."""
        return samples(self._pack, self._lead, self._bodies, self._legs, self._end, times)


def flight(
    pack: SeriesPack,
    steps: Sequence[Step],
    *,
    lead_resistance: float = 0.0,
    repeat: bool = True,
    floor: float | None = None,
    reserve: float | None = None,
    limit_temperature: float | None = None,
    thermal: Thermal | None = None,
    longest: float | None = None,
) -> Flight:
    """A flight from rest through `steps`, one after the other, and over again with `repeat`.

    It ends with the first of (of two at once, the earlier in this list)

    - `floor`: any cell's terminal voltage is at `floor` (V per cell) or below;
    - `heat`: any cell is at `limit_temperature` (K) or above, which needs `thermal`;
    - `reserve`: any cell's state of charge is at `reserve` or below, since a pack has what its emptiest cell has;
    - `empty`: any cell is at z = 0;
    - `impossible`: no current gives the power that is asked (maximum power transfer);
    - `end`: `longest` seconds have passed, or the steps are through and are not repeated.

    A limit that is met at the start ends it at 0 s. A constant current is exact (`legs`, Eq. 1; `warmth`, Eq. 2); a
    constant power is integrated (`constant_power`) within about 1e-7. Resistances are held at what they are at the
    start; that warming lowers them stays as margin. A flight of more than 50 000 legs (changes of load,
    and about a hundred per pack at constant power) is refused with `TooManySteps`, and a load that nothing would end
    with ValueError.

    Range: that of `series`; no hysteresis, every coulomb counted; below z = 0 nothing is promised.
    """
    _check(pack, steps, lead_resistance, repeat, limit_temperature, thermal, longest)
    tracks = pack.discharging
    spent = inf if reserve is None else float(((pack.states - reserve) * pack.capacities).min())
    if reserve is not None and np.any(pack.states <= reserve):
        spent = 0.0
    limits = Limits(
        floor=-inf if floor is None else floor,
        heat=inf if limit_temperature is None else limit_temperature,
        reserve=spent,
        empty=min(track.end for track in tracks),
    )
    bodies = _bodies(pack, thermal)
    legs = Legs(tracks, pack.time_constant, lead_resistance, bodies, limits)
    latest = inf if longest is None else longest
    ended: Ending | None = None
    for step in cycle(steps) if repeat else steps:
        if legs.point.time >= latest:
            break
        until = min(legs.point.time + step.duration, latest)
        ended = legs.power(step.power, until) if step.power else legs.current(step.current or 0.0, until)
        if ended is not None:
            break
        if len(legs.legs) > MOST_LEGS:
            raise TooManySteps(f"a flight of more than {MOST_LEGS} legs")
    return _landed(pack, legs, ended or "end")


def _check(
    pack: SeriesPack,
    steps: Sequence[Step],
    lead_resistance: float,
    repeat: bool,
    limit_temperature: float | None,
    thermal: Thermal | None,
    longest: float | None,
) -> None:
    if not steps:
        raise ValueError("a flight needs a step")
    if not 0.0 <= lead_resistance < inf:
        raise ValueError("the lead's resistance must be 0 or above")
    if limit_temperature is not None and thermal is None:
        raise ValueError("a limit of temperature needs `thermal`")
    if longest is not None and longest < 0.0:
        raise ValueError("the longest time must be 0 or above")
    endless = repeat or any(isinf(step.duration) for step in steps)
    drained = any(step.current or step.power for step in steps) and bool(np.all(np.isfinite(pack.capacities)))
    if endless and longest is None and not drained:
        raise ValueError("a load that nothing ends: give `longest`")


def _bodies(pack: SeriesPack, thermal: Thermal | None) -> tuple[Body, ...]:
    """Cells that warm alike are followed once."""
    if thermal is None:
        return ()
    mass, start, ambient, cooling, entropy, specific_heat = (
        np.asarray(value, dtype=float)
        for value in (
            thermal.mass,
            thermal.start,
            thermal.ambient,
            thermal.cooling,
            thermal.entropy,
            thermal.specific_heat,
        )
    )
    own = (mass * specific_heat, start, ambient, cooling, entropy)
    if any(value.shape not in ((), (1,), (pack.cells,)) for value in own):
        raise ValueError("`thermal` has one value for all, or one per cell")
    rows = np.stack(np.broadcast_arrays(pack.ohmic, pack.polarisation, *own), axis=-1).tolist()
    bodies: dict[tuple[float, ...], Body] = {}
    for cell, row in enumerate(rows):
        bodies.setdefault(tuple(row), Body(*row)).cells.append(cell)
    return tuple(bodies.values())


def _landed(pack: SeriesPack, legs: Legs, ended: Ending) -> Flight:
    end, tracks = legs.point, pack.discharging
    cells = pack.spread(
        [track.voltage(end.charge) - track.ohmic * end.current - track.polarisation * end.slow for track in tracks]
    )
    temperatures = np.empty(pack.cells) if legs.bodies else None
    for body, T in zip(legs.bodies, end.temperatures, strict=True):
        assert temperatures is not None
        temperatures[body.cells] = T
    return Flight(
        time=end.time,
        ended_by=ended,
        charge=end.charge,
        energy=end.energy,
        delivered=end.delivered,
        current=end.current,
        voltage=float(cells.sum()) - legs.lead * end.current,
        cell_voltages=cells,
        rest_voltages=pack.spread([track.voltage(end.charge) for track in tracks]),
        states=pack.spread([max(0.0, track.state - end.charge / track.capacity) for track in tracks]),
        temperatures=temperatures,
        _pack=pack,
        _lead=legs.lead,
        _bodies=tuple(legs.bodies),
        _legs=tuple(legs.legs),
        _end=end,
    )

"""A whole flight: a pack under a load that changes phase by phase, until the first of its limits is met."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import cycle
from math import inf, isinf

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..kinds.resistance import ACTIVATION, GAS_CONSTANT
from .cycles import Cycle
from .following import Following
from .heat import SPECIFIC_HEAT
from .legs import Ending, Legs, Limits
from .sampling import Samples, following_samples, held_samples
from .series import SeriesPack, Track
from .warmth import Body

Floats = NDArray[np.float64]

MOST_LEGS = 50_000
MOST_FOLLOWED = 4000
_FEW = 400
"""Changes of load, times kinds of cells, that are followed one by one; where there are more, whole cycles are passed
over (`cycles`)."""


class TooManySteps(ValueError):
    """The load changes more often than can be followed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """A load held for a `duration` in s: a current in A, or a power in W at the load, behind the lead."""

    current: float | None = None
    power: float | None = None
    duration: float = inf

    def __post_init__(self) -> None:
        given = self.current if self.power is None else self.power
        if given is None or (self.current is not None and self.power is not None) or not 0.0 <= given < inf:
            raise ValueError("a phase has one of current and power, 0 or above")
        if not self.duration > 0.0:
            raise ValueError("a phase lasts longer than 0 s")


@dataclass(frozen=True, eq=False, kw_only=True)
class Warming:
    """What decides the temperature of the cells; each a number for all or one per cell.

    kg, K, K, W/K, V/K, J/(kg·K), per cell, as in `heat`. `entropy` dU/dT below zero heats on discharge.
    """

    mass: ArrayLike
    start: ArrayLike
    ambient: ArrayLike
    cooling: ArrayLike = 0.0
    entropy: ArrayLike = 0.0
    specific_heat: ArrayLike = SPECIFIC_HEAT
    activation: float = ACTIVATION
    """Ea, J/mol, by which resistance falls with temperature (`resistance`); 0 holds it."""

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
    _run: Legs | Following = field(repr=False)

    @cached_property
    def _energies(self) -> tuple[float, float]:
        run = self._run
        return run.energies() if isinstance(run, Following) else (run.point.energy, run.point.delivered)

    @property
    def energy(self) -> float:
        """∫ V·i dt at the pack's terminals."""
        return self._energies[0]

    @property
    def delivered(self) -> float:
        """The same at the load, behind the lead."""
        return self._energies[1]

    def curve(self, times: ArrayLike) -> Samples:
        """The flight at some times, s; held at its start before and at its end after. See `sampling`."""
        run = self._run
        if isinstance(run, Following):
            return following_samples(run, times)
        return held_samples(self._pack, run.lead, run.legs, run.point, times)


def flight(
    pack: SeriesPack,
    phases: Sequence[Phase],
    *,
    lead_resistance: float = 0.0,
    repeat: bool = True,
    floor: float | None = None,
    reserve: float | None = None,
    limit_temperature: float | None = None,
    warming: Warming | None = None,
    longest: float | None = None,
) -> Flight:
    """A flight from rest through `phases`, one after the other, and over again with `repeat`.

    It ends with the first of (of two at once, the earlier in this list)

    - `floor`: any cell's terminal voltage is at `floor` (V per cell) or below;
    - `heat`: any cell is at `limit_temperature` (K) or above, which needs `warming`;
    - `reserve`: any cell's state of charge is at `reserve` or below, since a pack has what its emptiest cell has;
    - `empty`: any cell is at z = 0;
    - `impossible`: no current gives the power that is asked (maximum power transfer);
    - `end`: `longest` seconds have passed, or the phases are through and are not repeated.

    A limit that is met at the start ends it at 0 s. With `warming`, resistances follow the temperature of the cells
    (`following`), within 1e-4; cycles of a load that changes hundreds of times are passed over in the
    mean (`cycles`). Without it resistances are held at what they are at the start: a constant current is exact
    (`legs`, Eq. 1), a constant power is integrated (`constant_power`) within about 1e-7.

    A flight of too many changes of load is refused with `TooManySteps`, and a load that nothing would end with
    ValueError. Range: that of `series`; no hysteresis, every coulomb counted; below z = 0 nothing is promised.
    """
    _check(pack, phases, lead_resistance, repeat, limit_temperature, warming, longest)
    spent = inf if reserve is None else float(((pack.states - reserve) * pack.capacities).min())
    if reserve is not None and np.any(pack.states <= reserve):
        spent = 0.0
    limits = Limits(
        floor=-inf if floor is None else floor,
        heat=inf if limit_temperature is None else limit_temperature,
        reserve=spent,
        empty=min(track.end for track in pack.discharging),
    )
    latest = inf if longest is None else longest
    if warming is None:
        legs = Legs(pack.discharging, pack.time_constant, lead_resistance, limits)
        return _landed(pack, legs, _flown(legs, phases, repeat, latest) or "end")
    tracks, bodies = _kinds(pack, warming)
    run = Following(tracks, bodies, pack.time_constant, lead_resistance, limits)
    return _followed(pack, run, _flown(run, phases, repeat, latest) or "end")


def _flown(run: Legs | Following, phases: Sequence[Phase], repeat: bool, latest: float) -> Ending | None:
    passing = _passing(run, phases, latest) if repeat and isinstance(run, Following) else None
    most = MOST_FOLLOWED if isinstance(run, Following) else MOST_LEGS
    for number, phase in enumerate(cycle(phases) if repeat else phases):
        if passing is not None and number % len(phases) == 0 and isinstance(run, Following):
            run.cycles(passing, latest)
        time = run.now.time if isinstance(run, Following) else run.point.time
        if time >= latest:
            return None
        until = min(time + phase.duration, latest)
        ended = run.power(phase.power, until) if phase.power else run.current(phase.current or 0.0, until)
        if ended is not None:
            return ended
        if number > most or (isinstance(run, Legs) and len(run.legs) > most):
            break
    else:
        return None
    raise TooManySteps("a load that changes too often to be followed")


def _passing(run: Following, phases: Sequence[Phase], latest: float) -> Cycle | None:
    """The load as a cycle, where it changes too often to be followed phase by phase."""
    if len(phases) == 1 or any(isinf(phase.duration) for phase in phases):
        return None
    period = sum(phase.duration for phase in phases)
    volts = run.emf(0.0)
    drawn = sum((phase.power / volts if phase.power else phase.current or 0.0) * phase.duration for phase in phases)
    spent, _ = run.limits.by_charge()
    rounds = min(spent / drawn if drawn > 0.0 else inf, latest / period)
    if rounds * len(phases) <= _FEW / len(run.bodies):
        return None
    return Cycle([(phase.current, phase.power, phase.duration) for phase in phases], run.tau)


def _check(
    pack: SeriesPack,
    phases: Sequence[Phase],
    lead_resistance: float,
    repeat: bool,
    limit_temperature: float | None,
    warming: Warming | None,
    longest: float | None,
) -> None:
    if not phases:
        raise ValueError("a flight needs a phase")
    if not 0.0 <= lead_resistance < inf:
        raise ValueError("the lead's resistance must be 0 or above")
    if limit_temperature is not None and warming is None:
        raise ValueError("a limit of temperature needs `warming`")
    if longest is not None and longest < 0.0:
        raise ValueError("the longest time must be 0 or above")
    endless = repeat or any(isinf(phase.duration) for phase in phases)
    drained = any(phase.current or phase.power for phase in phases) and bool(np.all(np.isfinite(pack.capacities)))
    if endless and longest is None and not drained:
        raise ValueError("a load that nothing ends: give `longest`")


def _kinds(pack: SeriesPack, warming: Warming) -> tuple[list[Track], list[Body]]:
    """Cells alike in voltage and warmth are followed once."""
    heat_capacity = np.asarray(warming.mass, dtype=float) * np.asarray(warming.specific_heat, dtype=float)
    own = [
        np.asarray(value, dtype=float)
        for value in (heat_capacity, warming.start, warming.ambient, warming.cooling, warming.entropy)
    ]
    if any(value.shape not in ((), (1,), (pack.cells,)) for value in own):
        raise ValueError("`warming` has one value for all, or one per cell")
    whole = (pack.states, pack.capacities, pack.ohmic, pack.polarisation)
    kinds: dict[tuple[float, ...], list[int]] = {}
    for cell, row in enumerate(np.stack(np.broadcast_arrays(*whole, *own), axis=-1).tolist()):
        kinds.setdefault(tuple(row), []).append(cell)
    tracks, bodies = [], []
    for (state, capacity, R0, R1, *rest), cells in kinds.items():
        tracks.append(Track(pack.curve, -1, state, capacity, R0, R1, len(cells), cells[0]))
        heat_capacity, start, ambient, cooling, entropy = rest
        fall = warming.activation / GAS_CONSTANT
        body = Body(R0, R1, heat_capacity, start, ambient, cooling, entropy, fall, pack.time_constant)
        body.cells.extend(cells)
        bodies.append(body)
    return tracks, bodies


def _followed(pack: SeriesPack, run: Following, ended: Ending) -> Flight:
    end = run.now

    def spread(values: Iterable[float]) -> Floats:
        cells = np.empty(pack.cells)
        for value, body in zip(values, run.bodies, strict=True):
            cells[body.cells] = value
        return cells

    cells = spread(run.cell_voltages(end))
    return Flight(
        time=end.time,
        ended_by=ended,
        charge=end.charge,
        current=end.current,
        voltage=float(cells.sum()) - run.lead * end.current,
        cell_voltages=cells,
        rest_voltages=spread(track.voltage(end.charge) for track in run.tracks),
        states=spread(max(0.0, track.state - end.charge / track.capacity) for track in run.tracks),
        temperatures=spread(end.temperatures),
        _pack=pack,
        _run=run,
    )


def _landed(pack: SeriesPack, legs: Legs, ended: Ending) -> Flight:
    end, tracks = legs.point, pack.discharging
    cells = pack.spread(
        [track.voltage(end.charge) - track.ohmic * end.current - track.polarisation * end.slow for track in tracks]
    )
    return Flight(
        time=end.time,
        ended_by=ended,
        charge=end.charge,
        current=end.current,
        voltage=float(cells.sum()) - legs.lead * end.current,
        cell_voltages=cells,
        rest_voltages=pack.spread([track.voltage(end.charge) for track in tracks]),
        states=pack.spread([max(0.0, track.state - end.charge / track.capacity) for track in tracks]),
        temperatures=None,
        _pack=pack,
        _run=legs,
    )

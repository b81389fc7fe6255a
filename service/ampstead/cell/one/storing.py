"""Cells moved together to the charge at which they are stored."""

from bisect import bisect_left
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..kinds.chemistries import Chemistry
from ..roots import root
from .charge import Charge
from .constant_power import ConstantPower, Impossible, State
from .flight import Flight, Phase, flight
from .series import SeriesPack

Floats = NDArray[np.float64]

_SLACK = 1e-9


@dataclass(frozen=True, kw_only=True)
class Move:
    """One charge through all the cells of a pack, so that their mean state comes to a target.

        q = |mean(z) − z_target| / mean(1/Q)    (1)

    but no cell goes beyond full, nor below `least`. `capacities` in coulomb; ones where none is known, so that q is a
    part of the capacity.
    """

    states: Floats
    capacities: Floats
    target: float
    least: float

    @cached_property
    def gap(self) -> float:
        """How far the mean state lies below the target; below zero above it."""
        return self.target - float(np.mean(self.states))

    @cached_property
    def room(self) -> float:
        """The most that every cell can take, or give."""
        room = 1.0 - self.states if self.gap > 0.0 else self.states - min(self.target, self.least)
        return max(0.0, float(np.min(room * self.capacities)))

    @cached_property
    def stuck(self) -> bool:
        """Whether one cell is at its end before the others have moved at all."""
        return self.room <= _SLACK * float(np.min(self.capacities))

    @cached_property
    def per_state(self) -> float:
        """Charge that moves the mean state by one."""
        return 1.0 / float(np.mean(1.0 / self.capacities))

    @cached_property
    def charge(self) -> float:
        return min(abs(self.gap) * self.per_state, self.room)  # Eq. (1)

    def after(self) -> Floats:
        """The cells' states afterwards."""
        moved = self.charge / self.capacities
        return np.clip(self.states + (moved if self.gap > 0.0 else -moved), 0.0, 1.0)


def charge_time(run: Charge, moved: float) -> float:
    """When a charge has put so much in, s; its end where it never does."""
    if moved >= run.charge:
        return run.time_total
    if moved <= run.first_current * run.time_constant_current:
        return moved / run.first_current
    return root(lambda t: run.at(t)[0] - moved, run.time_constant_current, run.time_total)


class Discharge:
    """A discharge at constant power (W), followed once, as far as it is asked for."""

    def __init__(self, pack: SeriesPack, power: float) -> None:
        self._run = ConstantPower(pack.discharging, pack.time_constant, power, 0.0)
        self._steps: list[tuple[State, float, float]] = []
        self._last: State | None = None
        self._stuck = False
        try:
            self._last = self._run.start()
        except Impossible:
            self._stuck = True

    def after(self, given: float) -> State | None:
        """The state when so much has been given, C, which no cell may lack; None where the power is not possible."""
        while self._last is not None and self._last.charge < given and not self._stuck:
            try:
                self._last = self._run.advance(self._last)
                self._steps.append(self._run.origin)
            except Impossible:
                self._stuck = True
        if self._last is None or self._last.charge < given:
            return None
        if not self._steps:
            return self._last
        step = self._steps[max(bisect_left(self._steps, given, key=lambda step: step[0].charge) - 1, 0)]
        return self._run.within(step, given - step[0].charge)

    def lowest_cell(self, given: float) -> float | None:
        """The lowest terminal voltage of a cell when so much has been given, V."""
        state = self.after(given)
        return None if state is None else min(self._run.voltages(state))


def discharge_at_power(pack: SeriesPack, power: float, moved: float) -> Flight:
    """A discharge at constant power (W) until so much has been given; earlier where the power is impossible."""
    left = float(np.min(pack.states - moved / pack.capacities))
    return flight(pack, [Phase(power=power)], reserve=max(left, 0.0))


def target_cell_voltage(kind: Chemistry, cells: int, target: float) -> float | None:
    """A resting voltage as volts per cell, whether told of a cell or of the pack; None where it can be neither.

    The two cannot be confused: the highest voltage of one cell lies below the lowest of two.
    """
    assert kind.curve is not None
    low, high = float(kind.curve.voltages[0]), float(kind.curve.voltages[-1])
    if not kind.is_lithium:
        high += kind.full_margin
    for voltage in (target, target / cells):
        if low - _SLACK <= voltage <= high + _SLACK:
            return voltage
    return None

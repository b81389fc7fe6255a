"""Packs in parallel charged as one: constant total current, then constant voltage of the highest cell."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import inf

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..roots import root
from .bank import Bank, Branch, Point
from .bank_walk import Held, Step, Walk, at_times, largest, within

Floats = NDArray[np.float64]

_TAKES_OVER = 1e-7  # V: a cell takes over the constant voltage when it stands this far above it
_FULL = 1e-6  # of its capacity that a full cell may still lack
_WITHIN = 1e-6  # of a limit
_LITTLE = 0.01  # of what the limits allow: less than that is not worth a charge


@dataclass(frozen=True, eq=False)
class BankCharge:
    """Currents into the packs are positive; SI units."""

    bank: Bank
    time_constant_current: float
    time_total: float
    largest: Floats
    """The largest current into each branch at any time."""
    largest_total: float
    charges: Floats
    """What each branch took in."""
    states_end: Floats
    """Of every cell."""
    _steps: tuple[Step, ...] = field(repr=False)

    def points(self, times: ArrayLike) -> list[Point]:
        """The board at some times, those after the end as at the end."""
        asked = np.atleast_1d(np.asarray(times, dtype=float))
        return at_times(self.bank, self._steps, asked) if self._steps else []


def bank_charge(branches: Sequence[Branch], current: float, end_voltage: float, end_current: float) -> BankCharge:
    """A charge of packs on one board at a total `current`, until the highest cell stands at `end_voltage`.

    The total is shared as resistances and states will have it (`bank`, Eqs. 1 to 3); a pack that stands high may
    give at first. Constant voltage begins with the first cell of any pack to reach `end_voltage` and holds whichever
    cell is highest; it ends when the total has fallen to `end_current`, and with any cell full at the latest. One
    pack alone is charged as by `charge`.
    """
    if not (current > 0.0 and end_current > 0.0):
        raise ValueError("a charge needs a current and an end current above 0")
    bank = Bank(branches)
    walk = Walk(bank, current)
    cells = bank.cell_voltages(walk.point)
    steady: float | None = None
    if np.max(cells) >= end_voltage:
        steady = 0.0
        _hold_lowest(walk, end_voltage)
    largest_total = _total(walk.point)
    if np.any(bank.start_states >= 1.0 - _FULL) or (steady == 0.0 and largest_total <= end_current):
        zero = np.zeros(bank.size)
        return BankCharge(bank, 0.0, 0.0, zero, 0.0, zero, bank.start_states, ())
    above, ended = end_voltage + _TAKES_OVER, False
    while not ended:
        walk.advance()
        # Each event cuts the step shorter; the last that still lies in it came first.
        ended = _cut(walk, lambda point: float(np.max(bank.cell_states(point.charges))) - 1.0 + _FULL, 0.0)
        if steady is None:
            if _cut(walk, lambda point: float(np.max(bank.cell_voltages(point))) - end_voltage, 0.0):
                steady, ended = walk.point.time, False
                walk.hold(Held(int(np.argmax(bank.cell_voltages(walk.point))), end_voltage))
            continue
        ended = _cut(walk, lambda point: end_current - _total(point), 0.0) or ended
        if _cut(walk, lambda point: float(np.max(bank.cell_voltages(point))) - above, 0.5 * _TAKES_OVER):
            held, volts = walk.closure, bank.cell_voltages(walk.point)
            assert isinstance(held, Held)
            volts[held.cell] = -inf
            walk.hold(Held(int(np.argmax(volts)), end_voltage))
            ended = False
    point = walk.point
    return BankCharge(
        bank=bank,
        time_constant_current=point.time if steady is None else steady,
        time_total=point.time,
        largest=largest(bank, tuple(walk.steps)),
        largest_total=largest_total,
        charges=point.charges,
        states_end=np.minimum(bank.cell_states(point.charges), 1.0),
        _steps=tuple(walk.steps),
    )


def _total(point: Point) -> float:
    return float(np.sum(point.currents))


def _hold_lowest(walk: Walk, end_voltage: float) -> None:
    """Constant voltage from the first instant: by the cell that allows the least board voltage."""
    bank, q, w = walk.bank, walk.point.charges, walk.point.slow
    U = np.interp(bank.cell_states(q), bank.states, bank.voltages)
    own = bank.owner
    i = (end_voltage - U - bank.cell_polarisation * w[own]) / bank.cell_ohmic
    board = bank.emf(q)[own] + bank.polarisation[own] * w[own] + bank.ohmic[own] * i
    walk.hold(Held(int(np.argmin(board)), end_voltage))


def _cut(walk: Walk, over: Callable[[Point], float], room: float) -> bool:
    """Whether something rose above nought within the last step, which then ends where it did."""
    step = walk.steps[-1]
    if over(step.end) <= room:
        return False
    h = step.end.time - step.start.time
    if over(step.start) < 0.0:
        h = root(lambda h: over(within(walk.bank, step, h)), 0.0, h, tolerance=1e-12)
        walk.cut(h)
    return True


def largest_total(
    branches: Sequence[Branch], limits: Floats, most: float, end_voltage: float, taper: float
) -> tuple[float, BankCharge | None]:
    """The largest total up to `most` with which no branch ever takes more than its limit, A; and that charge.

    The largest share of a branch is not in the first instant alone: it grows where a fuller pack takes over later.
    0 and no charge where the exchange between the packs leaves less than a hundredth of what the limits allow.
    """

    def over(total: float) -> tuple[float, BankCharge]:
        run = bank_charge(branches, total, end_voltage, taper * total)
        return float(np.max(run.largest / limits)) - 1.0, run

    high = min(most, float(np.sum(limits)))
    excess, run = over(high)
    if excess <= _WITHIN:
        return high, run
    low, best = _LITTLE * high, None
    low_excess = float(np.max(Bank(branches).first_currents(low)[0] / limits)) - 1.0
    if low_excess >= 0.0:
        return 0.0, None
    low_excess, best = over(low)
    if low_excess >= 0.0:
        return 0.0, None
    kept = 0
    for _ in range(60):
        # False position; an end that stays twice loses half its weight (the Illinois rule), so that both ends move.
        part = low_excess / (low_excess - excess)
        middle = low + min(max(part, 0.001), 0.999) * (high - low)
        value, run = over(middle)
        if value > 0.0:
            high, excess = middle, value
            low_excess *= 0.5 if kept > 0 else 1.0
            kept = 1
        else:
            low, low_excess, best = middle, value, run
            excess *= 0.5 if kept < 0 else 1.0
            kept = -1
            if value >= -_WITHIN:
                break
        if high - low <= _WITHIN * high:
            break
    return low, best

"""Packs in parallel charged as one: constant total current, then constant voltage of the highest cell."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..one.charge import Charge, charge
from .bank import Bank, Branch, Points
from .bank_walk import TOLERANCE, Course, Walk, tolerance_of
from .exchange import Exchange

Floats = NDArray[np.float64]

_FULL = 1e-6  # of its capacity that a full cell may still lack
_WITHIN = 1e-6  # of a limit
_NEAR = 1e-4  # of a limit: so far below it the largest total of a few packs may stay
_LITTLE = 0.01  # of what the limits allow: less than that is not worth a charge


@dataclass(frozen=True, eq=False)
class BankCharge:
    """Currents into the packs are positive; SI units."""

    bank: Bank
    time_constant_current: float
    time_total: float
    largest_total: float
    charges: Floats
    """What each branch took in."""
    states_end: Floats
    """Of every cell."""
    _run: "Course | Alone" = field(repr=False)

    @cached_property
    def largest(self) -> Floats:
        """The largest current into each branch at any time."""
        return self._run.largest() if self.largest_total else np.zeros(self.bank.size)

    def points(self, times: ArrayLike) -> Points:
        """The board at some times, those after the end as at the end."""
        return self._run.at(np.atleast_1d(np.asarray(times, dtype=float)))


@dataclass(frozen=True, eq=False)
class Alone:
    """A board of packs that are all alike: each is charged as it would be alone."""

    bank: Bank
    run: Charge

    def largest(self) -> Floats:
        return np.full(self.bank.size, self.run.first_current)

    def at(self, times: Floats) -> Points:
        V, i, q = self.run.curve(times)
        w = np.array([self.run.slow(float(time)) for time in times])
        size, lead = self.bank.size, self.bank.branches[0].lead
        spread = np.ones(size)
        return Points(times, q[:, None] * spread, w[:, None] * spread, i[:, None] * spread, V + lead * i)


def bank_charge(
    branches: Sequence[Branch],
    current: float,
    end_voltage: float,
    end_current: float,
    tolerance: float = TOLERANCE,
    bank: Bank | None = None,
) -> BankCharge:
    """A charge of packs on one board at a total `current`, until the highest cell stands at `end_voltage`.

    The total is shared as resistances and states will have it (`bank`, Eqs. 1 to 3); a pack that stands high may
    give at first. Constant voltage begins with the first cell of any pack to reach `end_voltage` and holds whichever
    cell is highest; it ends when the total has fallen to `end_current`, and with any cell full at the latest. Packs
    all alike are charged as each would be alone (`charge`). `bank` is that of the branches, where it is at hand.
    """
    if not (current > 0.0 and end_current > 0.0):
        raise ValueError("a charge needs a current and an end current above 0")
    bank = bank or Bank(branches)
    if len(bank.alike) == 1 and np.all(bank.start_states >= 0.0):
        return _alone(bank, current, end_voltage, end_current)
    walk = Walk(bank, current, end_voltage, tolerance_of(bank, tolerance))
    steady = 0.0 if walk.held else None
    total = walk.strands.total()
    ended = bool(np.any(bank.start_states >= 1.0 - _FULL)) or (walk.held and total <= end_current)
    largest_total = 0.0 if ended else total
    while not ended:
        h, over = walk.advance()
        if not walk.held and over > 0.0:
            h = walk.landed(lambda over: -over, h)
            if walk.error() > 1.0:
                # Where a curve steepens, what comes before has to be nearer first.
                walk.width = 0.3 * h
                continue
            ended = walk.strands.filled() >= -_FULL
            walk.accept(h)
            walk.hold()
            steady = walk.time
            continue
        if walk.strands.filled() > -_FULL:
            h, ended = walk.landed(lambda _: -walk.strands.filled() - _FULL, h), True
        if walk.held and walk.strands.total() < end_current:
            h, ended = walk.landed(lambda _: walk.strands.total() - end_current, h), True
        walk.accept(h)
    charges = np.array(walk.strands.snapshot()[0])[bank.of]
    return BankCharge(
        bank=bank,
        time_constant_current=walk.time if steady is None else steady,
        time_total=walk.time,
        largest_total=largest_total,
        charges=charges,
        states_end=np.minimum(bank.cell_states(charges), 1.0),
        _run=walk.course(),
    )


def _alone(bank: Bank, current: float, end_voltage: float, end_current: float) -> BankCharge:
    run = charge(bank.branches[0].pack, current / bank.size, end_voltage, end_current / bank.size)
    charges = np.full(bank.size, run.charge)
    return BankCharge(
        bank=bank,
        time_constant_current=run.time_constant_current,
        time_total=run.time_total,
        largest_total=bank.size * run.first_current,
        charges=charges,
        states_end=np.minimum(bank.cell_states(charges), 1.0),
        _run=Alone(bank, run),
    )


def largest_total(
    branches: Sequence[Branch],
    limits: Floats,
    most: float,
    end_voltage: float,
    taper: float,
    settling: Exchange | None = None,
) -> tuple[float, BankCharge | None]:
    """The largest total up to `most` with which no branch ever takes more than its limit, A; and that charge.

    The largest share of a branch is not in the first instant alone: it grows where a fuller pack takes over later. The
    total is found from below, to a ten-thousandth where packs are few and to a thousandth where they are many. 0 and no
    charge where the exchange between the packs, `settling` where it is at hand, leaves less than a hundredth of what
    the limits allow.
    """
    bank = Bank(branches) if settling is None else settling.bank

    # At the first instant currents rise with the total by the resistances alone: that bounds it.
    exchange, share = bank.first_currents()[0], (1.0 / bank.ohmic) / float(np.sum(1.0 / bank.ohmic))
    allowed = min(most, float(np.sum(limits)))
    high = min(allowed, float(np.min((limits - exchange) / share)))
    low = _LITTLE * allowed
    least = exchange + share * low
    if settling is not None:
        least = np.maximum(least, settling.largest)
    if high <= low or np.any(least >= limits):
        return 0.0, None

    def over(total: float) -> tuple[float, BankCharge]:
        run = bank_charge(branches, total, end_voltage, taper * total, bank=bank)
        return float(np.max(run.largest / limits)) - 1.0, run

    excess, run = over(high)
    if excess <= _WITHIN:
        return high, run
    near = _NEAR * min(max(0.25 * len(bank.alike), 1.0), 10.0)
    aim = -0.4 * near
    total, best = 0.0, None
    # A share grows about as the total does; then by the line through the last two, kept between both ends.
    last, middle = (high, excess), high * (1.0 + aim) / (1.0 + excess)
    for tries in range(1, 40):
        if tries % 8 == 0 or not low < middle < high:
            middle = low + 0.5 * (high - low)
        value, run = over(middle)
        if value <= 0.0:
            total, best = middle, run
            if value >= -near:
                break
        if value > aim:
            high = middle
        else:
            low = middle
        if high - low <= (_WITHIN if best is None else near) * high:
            break
        steep = (value - last[1]) / (middle - last[0])
        last, middle = (middle, value), middle + (aim - value) / steep if steep > 0.0 else low
    return total, best

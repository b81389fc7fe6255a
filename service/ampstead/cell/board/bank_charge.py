"""Packs in parallel charged as one: constant total current, then constant voltage of the highest cell."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..one.charge import Charge, charge
from .bank import Bank, Branch, Points
from .bank_walk import TOLERANCE, Course, Walk, tolerance_of

Floats = NDArray[np.float64]

_FULL = 1e-6  # of its capacity that a full cell may still lack
_WITHIN = 1e-6  # of a limit
_NEAR, _AIM = 1e-4, -4e-5  # of a limit: so far below it the largest total may stay, and where it is looked for
_ROUGH = 4e-4  # tolerance while the largest total is only looked for
_UNSURE = 0.05  # of a limit: nearer to it a rough run does not tell on which side
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
    _run: "Course | Alone" = field(repr=False)

    def points(self, times: ArrayLike) -> Points:
        """The board at some times, those after the end as at the end."""
        return self._run.at(np.atleast_1d(np.asarray(times, dtype=float)))


@dataclass(frozen=True, eq=False)
class Alone:
    """A board of packs that are all alike: each is charged as it would be alone."""

    bank: Bank
    run: Charge

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
    course = walk.course()
    return BankCharge(
        bank=bank,
        time_constant_current=walk.time if steady is None else steady,
        time_total=walk.time,
        largest=course.largest() if largest_total else np.zeros(bank.size),
        largest_total=largest_total,
        charges=charges,
        states_end=np.minimum(bank.cell_states(charges), 1.0),
        _run=course,
    )


def _alone(bank: Bank, current: float, end_voltage: float, end_current: float) -> BankCharge:
    run = charge(bank.branches[0].pack, current / bank.size, end_voltage, end_current / bank.size)
    charges = np.full(bank.size, run.charge)
    return BankCharge(
        bank=bank,
        time_constant_current=run.time_constant_current,
        time_total=run.time_total,
        largest=np.full(bank.size, run.first_current),
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
    exchanged: Floats | None = None,
) -> tuple[float, BankCharge | None]:
    """The largest total up to `most` with which no branch ever takes more than its limit, A; and that charge.

    The largest share of a branch is not in the first instant alone: it grows where a fuller pack takes over later. The
    total is found to a ten-thousandth, from below. 0 and no charge where the exchange between the packs, whose largest
    currents are `exchanged`, leaves less than a hundredth of what the limits allow.
    """
    bank = Bank(branches)

    def over(total: float, tolerance: float) -> tuple[float, BankCharge]:
        run = bank_charge(branches, total, end_voltage, taper * total, tolerance, bank)
        return float(np.max(run.largest / limits)) - 1.0, run

    # At the first instant currents rise with the total by the resistances alone: that bounds it.
    exchange, share = bank.first_currents()[0], (1.0 / bank.ohmic) / float(np.sum(1.0 / bank.ohmic))
    allowed = min(most, float(np.sum(limits)))
    high = min(allowed, float(np.min((limits - exchange) / share)))
    low = _LITTLE * allowed
    low_excess = (
        float(
            np.max(
                (exchange + share * low if exchanged is None else np.maximum(exchange + share * low, exchanged))
                / limits
            )
        )
        - 1.0
    )
    if high <= low or low_excess >= 0.0:
        return 0.0, None
    # A rough run tells on which side of a limit it stands, unless it is near.
    for tolerance in (_ROUGH, TOLERANCE) if len(bank.alike) > 1 else (TOLERANCE,):
        excess, run = over(high, tolerance)
        if excess > (_UNSURE if tolerance == _ROUGH else _WITHIN):
            break
    else:
        return high, run
    found, best = _searched(over, (low, low_excess), (high, excess), tolerance)
    # Where a rough run told it wrong, once more without.
    return (found, best) if best else _searched(over, (low, low_excess), (high, max(excess, _WITHIN)), TOLERANCE)


def _searched(
    over: Callable[[float, float], tuple[float, BankCharge]],
    below: tuple[float, float],
    above: tuple[float, float],
    tolerance: float,
) -> tuple[float, BankCharge | None]:
    """The largest total between two, of which the first is below all limits and the other is not."""
    (low, low_excess), (high, excess) = below, above
    total, best, kept = 0.0, None, 0
    for _ in range(60):
        # False position; an end that stays twice loses half its weight (the Illinois rule), so that both ends move.
        part = (_AIM - low_excess) / (excess - low_excess)
        middle = low + min(max(part, 0.001), 0.999) * (high - low)
        value, run = over(middle, tolerance)
        if tolerance == TOLERANCE and value <= 0.0:
            total, best = middle, run
            if value >= -_NEAR:
                break
        if value > _AIM:
            high, excess = middle, value
            low_excess = _AIM + (low_excess - _AIM) * (0.5 if kept > 0 else 1.0)
            kept = 1
        else:
            low, low_excess = middle, value
            excess = _AIM + (excess - _AIM) * (0.5 if kept < 0 else 1.0)
            kept = -1
        if abs(value) < _UNSURE or high - low < _UNSURE * high:
            tolerance = TOLERANCE
        if high - low <= (_WITHIN if best is None else _NEAR) * high:
            break
    return total, best

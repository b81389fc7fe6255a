"""Packs in parallel charged as one: constant total current, then constant voltage of the highest cell."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import log
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..one.charge import Charge, charge
from .bank import Bank, Branch, Points
from .bank_walk import TOLERANCE, Course, Walk, tolerance_of
from .exchange import Exchange

Floats = NDArray[np.float64]

ROUGH = 4e-4
"""Of the highest rate at the time: what a step may err in any of two branches' rates, where a guess is asked for."""

_FULL = 1e-6  # of its capacity that a full cell may still lack
_WITHIN = 1e-6  # of a limit
_FEW = 4  # strands up to which each share is followed exactly, however far it is below its limit
_AT_MOST = 4.0  # times an even part of the total that a branch hardly ever takes
_MORE = 5.0  # times as much may a step err of a limit as of the highest rate at the time
_NEAR = 1e-4  # of a limit: so far below it the largest total of a few packs may stay
_FARTHEST = 20.0  # times as far that of many
_CLOSE = 0.06  # of a limit: so near to it the total is looked for roughly
_GROWTH = 0.25, 3.0  # the powers of the total by which shares may grow, least and most
_AIM = 0.4  # of how near: where the total is aimed at
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
    limits: Floats | None = None,
) -> BankCharge:
    """A charge of packs on one board at a total `current`, until the highest cell stands at `end_voltage`.

    The total is shared as resistances and states will have it (`bank`, Eqs. 1 to 3); a pack that stands high may
    give at first. Constant voltage begins with the first cell of any pack to reach `end_voltage` and holds whichever
    cell is highest; it ends when the total has fallen to `end_current`, and with any cell full at the latest. Packs
    all alike are charged as each would be alone (`charge`). `bank` is that of the branches, where it is at hand.
    With `limits`, A for each branch, currents of more than a few are as exact as it takes to hold them against these.
    """
    if not (current > 0.0 and end_current > 0.0):
        raise ValueError("a charge needs a current and an end current above 0")
    bank = bank or Bank(branches)
    if len(bank.alike) == 1 and np.all(bank.start_states >= 0.0):
        return _alone(bank, current, end_voltage, end_current)
    held_against, allowed = None, tolerance_of(bank, tolerance)
    if limits is not None and len(bank.alike) > _FEW:
        held_against, allowed = np.full(len(bank.alike), np.inf), tolerance_of(bank, _MORE * tolerance, 1.0)
        np.minimum.at(held_against, bank.of, limits * min(_AT_MOST * current / float(np.sum(limits)), 1.0))
    walk = Walk(bank, current, end_voltage, allowed, held_against)
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
    total is found from below, to a ten-thousandth where packs are few and to two thousandths where they are many. Of
    many a peak that lasts a second may be missed by half a hundredth of a limit. 0 and no charge where the exchange
    between the packs, `settling` where it is at hand, leaves less than a hundredth of what the limits allow.
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

    def tried(total: float, tolerance: float) -> Trial:
        run = bank_charge(branches, total, end_voltage, taper * total, tolerance, bank, limits)
        return Trial(total, float(np.max(run.largest / limits)), run)

    # Shares grow about as the total does. From near by on they do so steadily.
    rough, growth = _highest_within(lambda total: tried(total, ROUGH), low, high, high, 1.0, _CLOSE)
    near = _NEAR * (1.0 if len(bank.alike) <= _FEW else min(0.6 * len(bank.alike), _FARTHEST))
    start = high if rough is None or rough.total == high else rough.next(1.0 - _AIM * near, growth)
    found, _ = _highest_within(lambda total: tried(total, TOLERANCE), low, high, min(start, high), growth, near)
    return (0.0, None) if found is None else (found.total, found.run)


class Trial(NamedTuple):
    """A charge at a total, and the highest share in it as part of its limit."""

    total: float
    share: float
    run: BankCharge

    def next(self, share: float, growth: float) -> float:
        """The total with which that share is looked for, where shares grow by a power of the total."""
        return float(self.total * (share / self.share) ** (1.0 / growth))


def _highest_within(
    tried: Callable[[float], Trial], low: float, high: float, start: float, growth: float, near: float
) -> tuple[Trial | None, float]:
    """The trial whose highest share is at its limit, or below by `near` at most; and by what power shares grew.

    `high` itself where it keeps within the limits. None where no trial did.
    """
    best: Trial | None = None
    last: Trial | None = None
    aim, top, total = 1.0 - _AIM * near, high, start
    for tries in range(1, 40):
        trial = tried(total)
        if last is not None and last.share != trial.share:
            growth = log(trial.share / last.share) / log(total / last.total)
            growth = min(max(growth, _GROWTH[0]), _GROWTH[1])
        if trial.share <= 1.0 + (_WITHIN if total == top else 0.0):
            best = trial
            if total == top or trial.share >= 1.0 - near:
                break
        if trial.share > aim:
            high = total
        else:
            low = total
        if high - low <= (_WITHIN if best is None else near) * high:
            break
        last, total = trial, trial.next(aim, growth)
        if tries % 8 == 0 or not low < total < high:
            total = low + 0.5 * (high - low)
    return best, growth

"""Packs joined in parallel: their inputs, and whether they may be joined; shared by calculators of boards."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Annotated, Any, ClassVar

import numpy as np

from ampstead.cell.board.bank import Branch
from ampstead.cell.board.exchange import Exchange, exchange, largest_difference
from ampstead.cell.sizing import HOUR, current_rate
from ampstead.declare import Caution, Floats, Quantity, Text
from ampstead.errors import FieldError
from ampstead.inputs.pack import Capacity, Checks, Pack, has_curve
from ampstead.inputs.shared import MaxRate, cells_told, state_is_told
from ampstead.judging.bands import model_error, resistance_factors
from ampstead.judging.cautions import caution
from ampstead.judging.charging import SLACK, LimitName, Verdict, charge_verdict
from ampstead.judging.overfull import TOLERANCE, highest_cell
from ampstead.words import capitalised, listed, millivolts
from ampstead.words import rate as spoken_rate

AT_REST = 0.1
"""Of the capacity an hour: below it packs count as settled."""
FEWEST = 2
TENTH = 0.1
"""V a cell, the trade's rule, which is weighed."""
OVERDRIVEN = 0.005
"""Of its capacity that a cell may be driven above full or below empty without a word; own judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinedPack(Pack):
    """One of several packs on a board; its state must be told."""

    name: Annotated[str | None, Text("What to call the pack.", example="red four-cell")] = None
    capacity: Capacity
    lead_resistance: Annotated[
        float | None,
        Quantity(
            "mΩ",
            "Resistance of the leads in series with this pack, both conductors; that for all packs if not given.",
            at_least=0,
            at_most="100 Ω",
            example="5 mΩ",
        ),
    ] = None
    max_rate: MaxRate = None

    CHECKS: ClassVar[Checks] = (
        *Pack.CHECKS,
        cells_told,
        has_curve,
        state_is_told,
    )

    def branch(self, lead_resistance: float) -> Branch:
        """The pack as the bank takes it."""
        lead = lead_resistance if self.lead_resistance is None else self.lead_resistance
        return Branch(self.resolved(), lead, self.shortfalls())


def enough_packs(packs: Sequence[Any]) -> Iterator[FieldError]:
    """One pack alone is not joined to anything."""
    if len(packs) < FEWEST:
        yield FieldError("packs", "wrong_length", f"packs takes {FEWEST} to 64 entries; {len(packs)} was given")


def packs_alike(packs: Sequence[Any]) -> Iterator[FieldError]:
    """Only packs of one chemistry and one number of cells may share a board."""
    values = [element.value for element in packs]
    for name, what, found in (
        ("cells", "numbers of cells", [str(pack.cells) for pack in values]),
        ("chemistry", "chemistries", [pack.kind.words for pack in values]),
    ):
        if len(set(found)) > 1:
            said = f"packs of unlike {what} must never be joined; {listed(found)} were given"
            for place in range(len(values)):
                yield FieldError(f"packs[{place}].{name}", "conflict", said)


def names(packs: Sequence[JoinedPack]) -> list[str]:
    """What to call each pack."""
    return [pack.name or f"pack {place}" for place, pack in enumerate(packs, 1)]


def given_of(given: frozenset[str], place: int) -> frozenset[str]:
    """The names of what was given of one of the packs."""
    start = f"packs[{place}]."
    return frozenset(name.removeprefix(start) for name in given if name.startswith(start))


def unfit(pack: Pack, verdict: Verdict) -> LimitName | None:
    """Why a pack may not be joined at all; None where it may, were it only to give charge."""
    if verdict.refused and verdict.limited_by != "temperature":
        return verdict.limited_by
    return "full" if highest_cell(pack) - pack.kind.end_of_charge >= TOLERANCE - SLACK else None


@dataclass(frozen=True)
class Join:
    """Some packs on a board, and the currents up to which each may take charge from the others, A."""

    packs: Sequence[JoinedPack]
    lead_resistance: float
    limit_rate: float

    @cached_property
    def reasons(self) -> list[LimitName | None]:
        """Of each pack, why it may not be joined."""
        return [unfit(pack, verdict) for pack, verdict in zip(self.packs, self.verdicts, strict=True)]

    @property
    def refused(self) -> bool:
        """Whether a pack may not be joined at all."""
        return any(reason is not None for reason in self.reasons)

    @cached_property
    def limits(self) -> Floats:
        """The largest current into each pack, its label's or the rate asked at most."""
        return np.array([verdict.current for verdict in self.verdicts])

    @cached_property
    def verdicts(self) -> list[Verdict]:
        """Of each pack, what may flow into it from the others."""
        return [
            charge_verdict(
                pack, self.limit_rate if pack.max_rate is None else pack.max_rate, pack.max_rate, beside_full=True
            )
            for pack in self.packs
        ]

    @cached_property
    def branches(self) -> list[Branch]:
        """The packs as the bank takes them."""
        return [pack.branch(self.lead_resistance) for pack in self.packs]

    @cached_property
    def run(self) -> Exchange:
        """What flows between them."""
        return exchange(self.branches)

    @property
    def rates(self) -> Floats:
        """The largest rate into each pack."""
        return np.array(
            [
                current_rate(max(float(most), 0.0), pack.charge)
                for most, pack in zip(self.run.largest, self.packs, strict=True)
            ]
        )

    @property
    def hardest(self) -> int:
        """The pack (from 0) that is charged hardest beside its limit."""
        over = self.run.largest - self.limits
        return int(np.argmax(over if np.any(self.limits <= 0) else self.run.largest / self.limits))

    @cached_property
    def overcharged(self) -> tuple[int, int] | None:
        """A pack and its cell (both from 0) that the other packs would drive above full."""
        states = self.run.settled_states
        worst = int(np.argmax(states))
        if states[worst] <= 1 + OVERDRIVEN:
            return None
        pack = int(self.run.bank.owner[worst])
        return pack, worst - int(np.searchsorted(self.run.bank.owner, pack))

    @property
    def too_hard(self) -> bool:
        """Whether a pack would be charged above its limit."""
        return bool(np.any(self.run.largest > self.limits * (1 + SLACK) + SLACK))

    @property
    def within_limit(self) -> bool:
        """Whether they may be joined."""
        return not self.refused and not self.too_hard and self.overcharged is None

    @property
    def largest_difference(self) -> float:
        """Difference of voltage per cell up to which no pack takes more than its limit, V."""
        if self.refused or len(self.packs) < 2:
            return 0.0
        return largest_difference(self.run.bank.ohmic, self.limits) / self.packs[0].size

    def current_factors(self, given: frozenset[str]) -> tuple[float, float]:
        """Least and most of the real currents over those of the model."""
        factors = [resistance_factors(pack, given_of(given, place)) for place, pack in enumerate(self.packs)]
        error = model_error(float(np.max(self.rates)))
        low, high = min(low for low, _ in factors), max(high for _, high in factors)
        return 1 / (high * (1 + error)), 1 / (low * (1 - error))


def unfit_words(join: Join) -> Iterator[str]:
    """A sentence for each pack that may not be joined."""
    for name, verdict, reason in zip(names(join.packs), join.verdicts, join.reasons, strict=True):
        if reason == "full":
            yield f"{capitalised(name)}: it stands above its end of charge."
        elif reason is not None:
            yield f"{capitalised(name)}: {verdict.because}."


def join_cautions(join: Join, given: frozenset[str]) -> Iterator[Caution]:
    """What to heed before packs are joined, the reason not to first."""
    for verdict in join.verdicts:
        yield from (entry for entry in verdict.cautions if entry.code != "rate-above-usual")
    if join.refused:
        return
    called = names(join.packs)
    if join.too_hard:
        yield caution("join-too-hard")
    elif np.any(join.run.largest * join.current_factors(given)[1] > join.limits * (1 + SLACK)):
        highest = spoken_rate(float(np.max(join.rates)) * join.current_factors(given)[1])
        yield caution("join-unsure", rate=highest, difference=millivolts(join.largest_difference))
    if join.overcharged:
        yield caution("join-overcharges", cell=join.overcharged[1] + 1, pack=called[join.overcharged[0]])
    states, owner = join.run.settled_states, join.run.bank.owner
    for p, name in enumerate(called):
        cells = states[owner == p]
        if np.min(cells) < -OVERDRIVEN and join.run.settled_charges[p] < 0:
            yield caution("join-empties", cell=int(np.argmin(cells)) + 1, pack=name)
    if any(not {"cell_resistance", "pack_resistance"} & given_of(given, place) for place in range(len(called))):
        yield caution("join-resistance-assumed")
    if np.any(join.limits <= 0) or len(called) < 2:
        return
    if join.largest_difference < TENTH * (1 - SLACK):
        rates = join.limits / join.run.bank.capacities * HOUR * TENTH / join.largest_difference
        yield caution("tenth-of-a-volt", rate=spoken_rate(float(np.max(rates))))

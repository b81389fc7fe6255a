"""Packs joined in parallel: their inputs, and whether they may be joined; shared by calculators of boards.

Over 300 lines: what may be joined and what follows from a join stand together.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Annotated, Any, ClassVar, Protocol

import numpy as np

from ampstead.cell.board.bank import Branch
from ampstead.cell.board.exchange import Exchange, exchange, largest_difference
from ampstead.cell.board.taps import tap_currents
from ampstead.cell.sizing import HOUR, current_rate
from ampstead.declare import Band, Caution, Floats, Quantity, Text
from ampstead.errors import FieldError
from ampstead.inputs.pack import Capacity, Checks, Pack, has_curve
from ampstead.inputs.shared import STATE_TOLD, MaxRate, cells_told
from ampstead.judging.bands import model_edges, resistance_factors, resistance_told
from ampstead.judging.cautions import caution, of_packs
from ampstead.judging.cells import is_suspect, suspect_words
from ampstead.judging.charging import SLACK, LimitName, Verdict, charge_verdict
from ampstead.judging.overfull import TOLERANCE, highest_cell
from ampstead.words import (
    amperes,
    capitalised,
    count,
    listed,
    millivolts,
    numbered,
    volts,
)
from ampstead.words import rate as spoken_rate

AT_REST = 0.1
"""Of the capacity an hour: below it packs count as settled."""
FEWEST = 2
FAR_TOO_HARD = 3.0
"""Times its limit from which a charge is not only hard but may end badly. This project's own judgement."""
CELLS_APART = 0.1
"""V between cells of one place, above which each pack is levelled by itself first. This project's own judgement."""
BALANCE_WIRE = 0.030
"""Ohm, both wires of a tap between two packs. This project's own judgement."""
TENTH = 0.1
"""V a cell, the trade's rule, which is weighed."""
OVERDRIVEN = 0.005
"""Of its capacity that a cell may be driven above full or below empty without a word; own judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinedPack(Pack):
    """One of several packs on a board; its state must be told."""

    name: Annotated[str | None, Text("What to call the pack.", example="red trainer A")] = None
    capacity: Capacity = field()  # without a default, where a pack has one
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

    RULES: ClassVar = (*Pack.RULES, STATE_TOLD)
    CHECKS: ClassVar[Checks] = (
        *Pack.CHECKS,
        cells_told,
        has_curve,
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
    yield from _alike("cells", "numbers of cells", [str(element.value.cells) for element in packs])
    yield from one_chemistry(packs)


def one_chemistry(packs: Sequence[Any]) -> Iterator[FieldError]:
    """Only packs of one chemistry may be joined, in whatever way."""
    yield from _alike("chemistry", "chemistries", [element.value.kind.words for element in packs])


def _alike(name: str, what: str, found: Sequence[str]) -> Iterator[FieldError]:
    if len(set(found)) > 1:
        said = f"packs of unlike {what} must never be joined; {listed(found)} were given"
        for place in range(len(found)):
            yield FieldError(f"packs[{place}].{name}", "conflict", said)


class Named(Protocol):
    """A pack that may have a name."""

    @property
    def name(self) -> str | None: ...


def names(packs: Sequence[Named]) -> list[str]:
    """What to call each pack."""
    return numbered([pack.name for pack in packs], "pack")


def given_of(given: frozenset[str], place: int) -> frozenset[str]:
    """The names of what was given of one of the packs."""
    start = f"packs[{place}]."
    return frozenset(name.removeprefix(start) for name in given if name.startswith(start))


def unfit(pack: Pack, verdict: Verdict) -> LimitName | None:
    """Why a pack may not be joined at all; None where it may, were it only to give charge."""
    if verdict.refused and verdict.limited_by != "temperature":
        return verdict.limited_by
    if is_suspect(pack):
        return "suspect-cell"
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

    @cached_property
    def edges(self) -> tuple[Floats, Floats]:
        """Least and most of each pack's true resistance over the one used."""
        factors = [resistance_factors(pack, resistance_told(pack)) for pack in self.packs]
        return np.array([low for low, _ in factors]), np.array([high for _, high in factors])

    @cached_property
    def _ohmic(self) -> tuple[Floats, Floats]:
        """Ohmic resistance of each pack, and of its lead."""
        own = np.array([float(np.sum(branch.pack.ohmic)) for branch in self.branches])
        return own, np.array([branch.lead for branch in self.branches])

    def ohmic(self, factors: Floats | float = 1.0) -> Floats:
        """Ohmic resistance of each pack and its lead, the pack's own multiplied by a factor."""
        own, leads = self._ohmic
        total: Floats = own * factors + leads
        return total

    def _largest(self, factors: Floats) -> Floats:
        """The largest current into each pack with other resistances: the first exactly, a later one by its bound."""
        ohmic, other = self.ohmic(), self.ohmic(factors)
        emf = -self.run.first_currents * ohmic  # above the board's first voltage
        first: Floats = (np.sum(emf / other) / np.sum(1 / other) - emf) / other
        later = self.run.largest > np.maximum(self.run.first_currents, 0.0) * (1 + 1e-9) + 1e-12
        return np.maximum(first, np.where(later, self.run.largest * np.max(ohmic / other), 0.0))

    @cached_property
    def most(self) -> Floats:
        """The largest current into each pack, resistances at the low edge of what they may be, A."""
        return self._largest(self.edges[0])

    def rates(self, currents: Floats) -> Floats:
        """Currents into the packs as rates."""
        return np.array(
            [
                current_rate(max(float(current), 0.0), pack.charge)
                for current, pack in zip(currents, self.packs, strict=True)
            ]
        )

    @property
    def peak_rate(self) -> float:
        """The largest rate into any pack."""
        return float(np.max(self.rates(self.run.largest)))

    @property
    def peak_edges(self) -> tuple[float, float]:
        """Least and most that it may be by the resistances."""
        return float(np.max(self.rates(self._largest(self.edges[1])))), float(np.max(self.rates(self.most)))

    @property
    def hardest(self) -> int:
        """The pack (from 0) that may be charged hardest beside its limit."""
        return int(np.argmax(self.most - self.limits if np.any(self.limits <= 0) else self.most / self.limits))

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
        """Whether a pack may be charged above its limit, its resistance being no surer than it is."""
        return bool(np.any(self.most > self.limits * (1 + SLACK) + SLACK))

    @property
    def just_within(self) -> bool:
        """Whether the model's own error, beside that of the resistances, may bring a pack above its limit."""
        return not self.too_hard and bool(np.any(self.most > self.sure * self.limits * (1 + SLACK)))

    @property
    def sure(self) -> float:
        """The part of a limit that the model's error leaves."""
        return 1 - (model_edges(self.peak_edges[1])[1] - 1)

    @property
    def far_too_hard(self) -> bool:
        """Whether that is more than some warmth."""
        return bool(np.any(self.most > FAR_TOO_HARD * self.limits + SLACK))

    @property
    def within_limit(self) -> bool:
        """Whether they may be joined."""
        return not self.refused and not self.apart and not self.too_hard and self.overcharged is None

    @property
    def largest_difference(self) -> float:
        """Difference of voltage per cell up to which no pack takes more than its limit, V, at the low edge."""
        return self.difference(self.edges[0])

    def difference(self, factors: Floats) -> float:
        """That difference with each pack's resistance multiplied by a factor."""
        if self.refused or len(self.packs) < 2:
            return 0.0
        return largest_difference(self.ohmic(factors), self.limits) / self.packs[0].size

    @cached_property
    def cells(self) -> Floats | None:
        """Resting voltage of every cell, V, shape (packs, cells); None where no pack was told cell by cell."""
        if all(pack.cell_voltages is None for pack in self.packs):
            return None
        read = [pack.voltage_readings() for pack in self.packs]
        return np.array(
            [
                pack.curve.voltage(pack.states()) if volts is None else volts
                for pack, volts in zip(self.packs, read, strict=True)
            ]
        )

    @property
    def largest_cell_difference(self) -> float | None:
        """The most by which cells of one place differ between the packs, V."""
        return None if self.cells is None else float(np.max(np.ptp(self.cells, axis=0)))

    @cached_property
    def balance_wire_current(self) -> float | None:
        """The most that flows through a wire of the balance plugs when they are joined after the main leads, A."""
        if self.cells is None:
            return None
        ohmic = np.array([pack.ohmic() for pack in self.packs])
        leads = np.array([branch.lead for branch in self.branches])
        return float(np.max(np.abs(tap_currents(self.cells, ohmic, leads, BALANCE_WIRE)), initial=0.0))

    @property
    def apart(self) -> tuple[int, int, int] | None:
        """The cell and the packs with its highest and its lowest, all from 0, that stand too far apart to be joined."""
        if self.cells is None:
            return None
        spreads = np.ptp(self.cells, axis=0)
        worst = int(np.argmax(spreads))
        if spreads[worst] <= CELLS_APART + SLACK:
            return None
        return worst, int(np.argmax(self.cells[:, worst])), int(np.argmin(self.cells[:, worst]))


def edges_said(join: Join) -> str:
    """Where a band of the exchange comes from."""
    low, high = join.edges
    return (
        f"the resistances may be {float(np.min(low)):.2g} to {float(np.max(high)):.2g} of the figures used, by how "
        "they were measured or guessed and by the temperature; this project's own judgement"
    )


def peak_band(join: Join) -> Iterator[Band]:
    """How sure the largest rate between the packs is, where a resistance is not as measured at this warmth."""
    if np.any(join.edges[0] != join.edges[1]):
        low, high = join.peak_edges
        yield Band("peak_rate", min(low, join.peak_rate), max(high, join.peak_rate), edges_said(join))


def apart_words(join: Join, figure: bool = True) -> str:
    """Which cells stand too far apart, and by how much unless only that is asked; empty where none do."""
    if join.apart is None or join.largest_cell_difference is None:
        return ""
    cell, high, low = join.apart
    called = names(join.packs)
    apart = f"differ by {volts(join.largest_cell_difference)}" if figure else "stand too far apart"
    return f"cell {cell + 1} of {called[high]} and of {called[low]} {apart}"


def unfit_said(name: str, pack: Pack, verdict: Verdict, reason: LimitName | None) -> str:
    """Why a pack may not be joined, as a sentence that begins small; empty where it may."""
    if reason is None:
        return ""
    if reason == "suspect-cell" and pack.cell_voltages is not None:
        return f"of {name}, {suspect_words(pack.kind, pack.cell_voltages)}."
    if reason == "full":
        return f"{name} stands above its end of charge."
    return f"{name}: {verdict.because}."


def unfit_words(join: Join) -> Iterator[str]:
    """Sentences for the packs that may not be joined: two, the second of all the others where there are more."""
    said = [*filter(None, map(unfit_said, names(join.packs), join.packs, join.verdicts, join.reasons))]
    yield from shortened(said)


def shortened(said: Sequence[str]) -> Sequence[str]:
    """One sentence of several that each refuse a pack: the first, and the other, or how many there are."""
    begun = [*map(capitalised, said[:1])]
    if len(said) < 2:
        return begun
    other = said[1] if len(said) == 2 else f"{count(len(said) - 1, 'other pack')} are ruled out too."
    return (f"{begun[0].removesuffix('.')}; {other}",)


def join_cautions(join: Join, given: frozenset[str]) -> Iterator[Caution]:
    """What to heed before packs are joined, the reason not to first."""
    told = zip(names(join.packs), join.verdicts, strict=True)
    yield from of_packs(
        [(name, [entry for entry in verdict.cautions if entry.code != "rate-above-usual"]) for name, verdict in told]
    )
    if join.apart and join.balance_wire_current is not None:
        flow = amperes(join.balance_wire_current, "up")
        plugged = f"with the balance plugs joined, up to {flow} would flow through a wire not made for it"
        why = "one of them may be failing" if join.packs[0].kind.holds_acid else plugged
        yield caution("join-cells-apart", cells=capitalised(apart_words(join)), why=why)
    if join.refused:
        return
    called = names(join.packs)
    if join.too_hard:
        yield caution("join-too-hard" if join.far_too_hard else "join-hard")
    elif join.just_within:
        difference = millivolts(join.largest_difference * join.sure, "down")
        yield caution("join-unsure", rate=spoken_rate(join.peak_edges[1] / join.sure, "up"), difference=difference)
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

"""Every pack judged, worst first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, overload

from ampstead_client.calculators import PackFitness
from ampstead_client.client import AmpsteadClient
from ampstead_client.errors import InvalidQuestion
from ampstead_client.packs import pages, pictures
from ampstead_client.packs.entries import ListedPack
from ampstead_client.packs.faults import Fault, FaultyPacks, Wrong
from ampstead_client.packs.fields import READING, RESISTANCES
from ampstead_client.packs.standing import WORST_FIRST, Standing
from ampstead_client.packs.trends import Warmth
from ampstead_client.quantity import Quantity, QuantityLike


class Report(Sequence[Standing]):
    """All packs of a list, worst first; prints as a table."""

    def __init__(self, standings: Iterable[Standing]) -> None:
        self._standings = tuple(standings)

    @overload
    def __getitem__(self, place: int) -> Standing: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[Standing]: ...
    def __getitem__(self, place: int | slice) -> Standing | Sequence[Standing]:
        return self._standings[place]

    def __len__(self) -> int:
        return len(self._standings)

    def __str__(self) -> str:
        return self.text()

    def text(self) -> str:
        """A table, and below it what is to be said of each pack."""
        return pages.text(self._standings)

    def svg(self) -> str:
        """A picture: each pack's verdict, and its resistance and capacity over the years."""
        return pictures.svg(self._standings)

    def html(self) -> str:
        """A page of its own, with the picture."""
        return pages.html(self._standings)


def report(packs: Sequence[ListedPack], client: AmpsteadClient, temperature: QuantityLike | None) -> Report:
    """The report on packs, asked of a service. Raises `FaultyPacks` for a temperature that is none."""
    if isinstance(temperature, str):
        try:
            temperature = READING["temperature"]("temperature", temperature)
        except Wrong as wrong:
            raise FaultyPacks([Fault("", str(wrong))]) from None
    warmth = Warmth(client, packs)
    standings = [_standing(pack, packs, client, warmth, temperature) for pack in packs]
    return Report(sorted(standings, key=_rank))


def _rank(standing: Standing) -> tuple[int, float, str]:
    ratio = standing.answer.resistance_ratio if standing.answer else None
    return WORST_FIRST.index(standing.verdict), -(ratio or 1.0), standing.pack.name.casefold()


def _standing(
    pack: ListedPack,
    packs: Sequence[ListedPack],
    client: AmpsteadClient,
    warmth: Warmth,
    temperature: QuantityLike | None,
) -> Standing:
    verdict, sentence, answer = "unknown", "", None
    against: Mapping[str, Any] = {}
    if pack.latest(*RESISTANCES) is None:
        sentence = "No resistance is logged: measure it with the charger or by load-test, and log it."
    else:
        try:
            answers = [(_fitness(client, pack, temperature, held), held) for held in _held_against(pack, packs, warmth)]
            answer, against = min(answers, key=_gravest)
            verdict, sentence = answer.verdict, answer.sentence if answer.verdict == "flight" else str(answer)
        except InvalidQuestion as fault:
            sentence = "; ".join(error.message for error in fault.errors) or fault.message
    if answer is None and pack.condition not in (None, "sound"):
        # Whatever the calculator lacks: a body that is not sound outweighs all figures.
        verdict, sentence = "retire", f"It is {pack.condition}: do not charge, join or fly it; have it recycled."
    trends = warmth.trends(pack)
    return Standing(pack=pack, verdict=verdict, sentence=sentence, answer=answer, trends=trends, held_against=against)


def _gravest(answered: tuple[PackFitness, Mapping[str, Any]]) -> tuple[int, float]:
    answer = answered[0]
    return WORST_FIRST.index(answer.verdict), -(answer.resistance_ratio or 0.0)


def _fitness(
    client: AmpsteadClient, pack: ListedPack, temperature: QuantityLike | None, held: Mapping[str, Any]
) -> PackFitness:
    voltages = pack.latest("cell_voltages")
    return client.pack_fitness(
        pack=pack,
        temperature=temperature,
        cell_voltages=None if voltages is None or isinstance(voltages.value, str) else voltages.value,
        **held,
    )


def _held_against(pack: ListedPack, packs: Sequence[ListedPack], warmth: Warmth) -> list[dict[str, Any]]:
    """What a pack's resistance is held against, in turn: its own first reading, and like packs; or nothing."""
    held: list[dict[str, Any]] = []
    last = pack.latest(*RESISTANCES)
    back = _room(pack, warmth)
    if last is None or back is None:
        return [{}]
    # As warm as the last reading was, so that all of them are measured alike.
    as_read = last_figure(pack) / back[-1][1]
    if len(back) > 1:
        held.append({"reference_resistance": Quantity(back[0][1] * as_read, "mΩ")})
    siblings = [
        found[-1][1] * as_read
        for other in packs
        if other is not pack and _alike(other, pack) and (found := _room(other, warmth, last.kind, last.method))
    ]
    if siblings:
        held.append({"sibling_resistances": Quantity.many(siblings, "mΩ")})
    return held or [{}]


def last_figure(pack: ListedPack) -> float:
    """The latest resistance of a cell, or the mean of the cells', as it was read, mΩ."""
    last = pack.latest(*RESISTANCES)
    mean = None if last is None else last.mean
    assert last is not None
    assert mean is not None
    return mean.value_in("mΩ") / (1 if last.kind == "cell_resistance" else pack.cells or 1)


def _room(
    pack: ListedPack, warmth: Warmth, kind: str | None = None, method: str | None = None
) -> list[tuple[Any, float]] | None:
    """Days and resistances of a cell at 25 °C, mΩ, measured as the latest was; None if that is not of this kind."""
    last = pack.latest(*RESISTANCES)
    if last is None or (kind, method) not in ((None, None), (last.kind, last.method)):
        return None
    parts = 1 if last.kind == "cell_resistance" else pack.cells or 1
    found = []
    for reading in pack.history:
        factor, mean = warmth.factor(pack, reading), reading.mean
        if (reading.kind, reading.method) == (last.kind, last.method) and factor is not None and mean is not None:
            found.append((reading, factor[0] * mean.value_in("mΩ") / parts))
    return found if found and found[-1][0] is last else None


def _alike(one: ListedPack, other: ListedPack) -> bool:
    """Whether two packs are of one kind, and this one sound."""
    facts = [(each.chemistry or "lipo", each.cells, each.capacity, each.label_rate) for each in (one, other)]
    return facts[0] == facts[1] and one.condition in (None, "sound")

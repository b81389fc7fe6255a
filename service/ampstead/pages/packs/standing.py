"""Where each pack of a list stands: pack-fitness' verdict, worst first, and how its readings change."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ampstead.declare import Calculator, Caution
from ampstead.errors import FieldError, Refusal, capitalised, spoken
from ampstead.judging.charging import body_words
from ampstead.pages import typed
from ampstead.pages.packs.files import Fault, Faulty
from ampstead.pages.packs.listed import METHOD, RESISTANCES, Listed, Reading
from ampstead.pages.packs.trends import Trend, Warmth
from ampstead.replying.answers import Answered, teller
from ampstead.units import converted

WORST_FIRST = ("retire", "light-duty", "unknown", "other-model", "flight")
VERDICTS: Mapping[str, str] = {
    "retire": "retire",
    "light-duty": "light duty",
    "unknown": "not known",
    "other-model": "too weak",
    "flight": "fit to fly",
}
UNMEASURED = "No resistance is logged: measure it with the charger or by load-test, and log it."


@dataclass(frozen=True)
class Standing:
    """One pack, and what is to be said of it."""

    pack: Listed
    verdict: str
    sentence: str
    cautions: tuple[Caution, ...]
    asked: Mapping[str, Any]
    """What pack-fitness was asked: the graver question where there were two."""
    answer: Answered | None
    trends: tuple[Trend, ...]

    @property
    def said(self) -> str:
        """The verdict in words."""
        return VERDICTS[self.verdict]

    @property
    def ratio(self) -> float:
        """Its resistance over what it was held against; 1 where it was held against nothing."""
        return self.answer.answer.resistance_ratio or 1.0 if self.answer else 1.0


def standings(packs: list[Listed], calculators: Mapping[str, Calculator]) -> list[Standing]:
    """Every pack's standing, worst first.

    Raises
    ------
    Faulty
        If what is told of a pack contradicts itself, with the line.
    """
    warmth = Warmth(calculators)
    faults: list[Fault] = []
    at_room = {id(pack): _at_room(pack, warmth) for pack in packs}
    found = []
    for pack in packs:
        held = _held_against(pack, packs, at_room)
        found.append(_standing(pack, held, calculators["pack-fitness"], warmth, faults))
    if faults:
        raise Faulty(faults)
    return sorted(found, key=lambda each: (WORST_FIRST.index(each.verdict), -each.ratio, each.pack.name.casefold()))


def _standing(
    pack: Listed, held: list[dict[str, Any]], fitness: Calculator, warmth: Warmth, faults: list[Fault]
) -> Standing:
    facts = {name: value for name, value in facts_of(pack).items() if name in fitness.inputs}
    answers: list[tuple[Answered, dict[str, Any]]] = []
    sentence, asked = "", facts
    try:
        for question in ({**facts, **more} for more in held):
            answer = teller(fitness).answered(question)
            answers.append((answer, question))  # an answer before a refusal stays
    except Refusal as refusal:
        wrong = [error for error in refusal.errors if error.code != "unsupported" and error.field in pack.lines]
        unmeasured = pack.latest(*RESISTANCES) is None
        if unmeasured:
            wrong = [error for error in wrong if error.field not in RESISTANCES]
        faults += [Fault(pack.lines[error.field], error.message) for error in _once(wrong)]
        sentence = UNMEASURED if unmeasured else " ".join(_sentence(error) for error in _once(refusal.errors))
    trends = tuple(warmth.trends(pack))
    if answers:
        answer, asked = min(answers, key=_gravest)
        verdict = str(answer.answer.verdict)
        cautions = () if verdict == "flight" else tuple(answer.gravest())
        return Standing(pack, verdict, answer.sentence(), cautions, asked, answer, trends)
    if pack.condition != "sound":
        # Whatever the calculator lacks: a body that is not sound outweighs all figures.
        words: Any = pack.condition
        sentence = f"It {body_words(words)}: do not charge, join or use it; have it recycled."
        return Standing(pack, "retire", sentence, (), asked, None, trends)
    return Standing(pack, "unknown", sentence, (), asked, None, trends)


def _gravest(answered: tuple[Answered, Any]) -> tuple[int, float]:
    answer = answered[0].answer
    return WORST_FIRST.index(answer.verdict), -(answer.resistance_ratio or 0.0)


def _once(errors: tuple[FieldError, ...] | list[FieldError]) -> list[FieldError]:
    return list({error.message: error for error in reversed(errors)}.values())[::-1]


def _sentence(error: FieldError) -> str:
    return f"{capitalised(spoken(error.message)).rstrip('.?')}."


def facts_of(pack: Listed) -> dict[str, Any]:
    """What calculators are told of a pack: the label's facts, and those of the latest readings."""
    facts = dict(pack.facts)
    if resistance := pack.latest(*RESISTANCES):
        facts |= {resistance.kind: resistance.told, METHOD: resistance.method}
        if resistance.temperature is not None:
            facts["resistance_temperature"] = resistance.temperature
    for kind in ("measured_capacity", "cell_voltages"):
        if read := pack.latest(kind):
            facts[kind] = read.told
    if pack.condition != "sound":
        facts["condition"] = pack.condition
    return facts


def addressed(facts: Mapping[str, Any]) -> dict[str, str]:
    """The same as the query of an address writes it."""
    return typed.flattened(facts)


Room = list[tuple[Reading, float]]


def _at_room(pack: Listed, warmth: Warmth) -> Room:
    """Readings of the kind and method of the latest resistance, with what a cell has at 25 °C, ohm; none where the
    latest cannot be brought there."""
    last = pack.latest(*RESISTANCES)
    found: Room = []
    for reading in pack.history:
        if last is not None and (reading.kind, reading.method) == (last.kind, last.method):
            factor = warmth.factor(pack, reading)
            if factor is not None:
                found.append((reading, factor[0] * reading.value / _parts(pack, reading)))
    return found if found and found[-1][0] is last else []


def _parts(pack: Listed, reading: Reading) -> int:
    return 1 if reading.kind == "cell_resistance" else pack.cells


def _held_against(pack: Listed, packs: list[Listed], at_room: Mapping[int, Room]) -> list[dict[str, Any]]:
    """What a pack's resistance is held against, in turn: its own first reading, and like packs; or nothing."""
    own = at_room[id(pack)]
    if not own:
        return [{}]
    last, now = own[-1]
    # As warm as the last reading was, so that all of them are measured alike.
    as_read = last.value / _parts(pack, last) / now

    def written(resistance: float) -> str:
        return f"{converted(resistance * as_read, 'mΩ'):.10g} mΩ"

    held: list[dict[str, Any]] = []
    if len(own) > 1:
        held.append({"reference_resistance": written(own[0][1])})
    siblings = [
        written(found[-1][1])
        for other in packs
        if other is not pack
        and other.alike == pack.alike
        and other.condition == "sound"
        and (found := at_room[id(other)])
        and (found[-1][0].kind, found[-1][0].method) == (last.kind, last.method)
    ]
    if siblings:
        held.append({"sibling_resistances": siblings})
    return held or [{}]

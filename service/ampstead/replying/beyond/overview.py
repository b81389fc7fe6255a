"""One pack's facts, and all that the calculators say of them, without contradiction.

A calculator is asked when the facts hold what it needs; ``NAMED`` says which fact stands for which of its inputs, so
that a flight's current is never read as a charge's. What it says it says by itself, just as when it is asked alone,
but for these:

- The charge is one charge. Charger, label, supply, temperature and cells set its current in charge-current (or
  nickel-charge); wattage, charge-temperature and storage are then asked about that current, and not about the usual
  one, which the charger may never give.
- No goes before yes. Each calculator judges by what it is told: a pack that has lost too much capacity is to be
  retired, though no rule forbids its charge, and cells too far apart are not flown, though their mean voltage would
  do. Where one answer says no, those that say yes are left out, and stand among the unanswered with who is against
  it. The other way round somebody would read the yes alone, and such packs burn or fall.
- A pack to be retired is not used. What only tells how to use it (a timer, a storage charge, the current that it gives)
  is left out too, and let-down empties it in place of bringing it to storage.

``verdict`` says the three in one: charged now, flown, retired; null where nothing tells.
"""

import re
from collections.abc import Mapping
from functools import cache, lru_cache
from typing import Any

from ampstead.cell.kinds.chemistries import CHEMISTRIES, Chemistry
from ampstead.declare import MOMENTS, Calculator, Caution, ItemType, item_type
from ampstead.errors import Refusal
from ampstead.inputs.facts import Facts
from ampstead.judging.cautions import ranked
from ampstead.judging.charging import body_words
from ampstead.reading.names import blank
from ampstead.reading.plan import Plan, Question
from ampstead.replying.answers import Answered, cautions_said, service_version, teller
from ampstead.replying.beyond.stances import Stance, contradicts, denied, granted, stance, too_weak
from ampstead.replying.on_the_ground import on_the_ground
from ampstead.replying.writers import Writer, member, quoted
from ampstead.words import sentences

FACTS: ItemType = item_type(Facts)
Raw = Mapping[str, Any]

CHARGE = {"rate": ("charge_rate",)}
FLIGHT = {"current": ("typical_current",)}
NAMED: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "alarm-voltage": FLIGHT,
    "charge-current": CHARGE,
    "endurance": FLIGHT,
    "field-energy": CHARGE,
    "nickel-charge": CHARGE,
    "sag": {"current": ("typical_current", "peak_current")},
    "storage": CHARGE,
    "wattage": CHARGE,
    # A receiver's reserve is wider than a motor's, and its efficiency is a regulator's.
    "receiver-time": {"reserve": (), "efficiency": ()},
}
"""Inputs by calculator that another fact stands for than that of the same name; the first that is given, or none."""
CURRENT_BEFORE_FLIGHT = ("flight_time", "charge_returned")
"""Left out where the current of a flight is told: for calculators that take one or the other."""
ASKED_OF = (("fly", "now"), ("charge",))
FIRST_HEARD = ("receiver-time", "charge-left", "endurance", "pack-fitness", "charge-current", "nickel-charge")
"""Answers that are told before others that say the same."""
CHARGES = ("charge-current", "nickel-charge")
"""What sets the current of a charge."""
CHARGED_ALIKE = ("wattage", "charge-temperature", "storage")
"""What is asked about a charge at that current."""


@cache
def _plan() -> Plan:
    return Plan(FACTS)


@lru_cache(maxsize=8)
def _in_order(calculators: tuple[Calculator, ...]) -> tuple[Calculator, ...]:
    """Calculators in the order of a flier's day."""
    return tuple(sorted(calculators, key=lambda each: (MOMENTS.index(each.when.moment), each.when.place)))


class Overview:
    """All that the calculators say of one pack."""

    def __init__(self, calculators: Mapping[str, Calculator], question: Question, raw: Raw) -> None:
        self.question = question
        self.order = _in_order(tuple(calculators.values()))
        self.raw = {name: value for name, value in raw.items() if not blank(value)}
        told: dict[str, Answered] = {}
        self.unanswered: dict[str, list[str]] = {}
        self._charge: Any = None
        for name in CHARGES:
            charge = self._asked(calculators[name], {}) if name in calculators else None
            if isinstance(charge, Answered) and charge.answer.current > 0:
                self._charge = charge.answer
        for calculator in self.order:
            self._into(told, calculator)
        stances = {name: stance(answer) for name, answer in told.items()}
        values = question.values
        self.no = denied(stances, values["condition"] != "sound")
        if not {"sound", "fly"} & self.no.keys() and too_weak(told, values["typical_current"], values["peak_current"]):
            stances["safe-draw"] = Stance(fly=False, uses=True)
            self.no = denied(stances, False)
        if "sound" in self.no and "let-down" in calculators:
            self._into(told, calculators["let-down"], {"to": "empty"})
        self.answers: dict[str, Answered] = {}
        for calculator in self.order:
            name = calculator.name
            if name not in told:
                continue
            against = contradicts(stances.get(name, Stance()), self.no)
            if against is None:
                self.answers[name] = told[name]
            else:
                self.unanswered[name] = [self._objection(told, self.no[against])]
        self.stances = {name: stances[name] for name in self.answers if name in stances}
        self._decide()

    def _into(self, told: dict[str, Answered], calculator: Calculator, more: Raw | None = None) -> None:
        name = calculator.name
        self.unanswered.pop(name, None)
        made = self._asked(calculator, more or {})
        if isinstance(made, Answered):
            told[name] = made
        else:
            told.pop(name, None)
            self.unanswered[name] = made

    def _asked(self, calculator: Calculator, more: Raw) -> Any:
        """The answer of a calculator, or what it lacks: facts by their names, or why it cannot answer."""
        try:
            return teller(calculator).answered({**self._named(calculator), **more})
        except Refusal as refusal:
            missing = [error.field for error in refusal.errors if error.code == "missing"]
            if len(missing) == len(refusal.errors):
                own = NAMED.get(calculator.name, {})
                return [next(iter(own.get(name, ())), name) for name in dict.fromkeys(missing)]
            return list(dict.fromkeys(error.message for error in refusal.errors if error.code != "missing"))

    def _named(self, calculator: Calculator) -> dict[str, Any]:
        """The facts under the names of a calculator's inputs."""
        own, made = NAMED.get(calculator.name, {}), {}
        for name in calculator.inputs:
            fact = next((fact for fact in own.get(name, (name,)) if fact in self.raw and fact in FACTS.inputs), None)
            if fact is not None:
                made[name] = self.raw[fact]
        if "chemistry" in calculator.inputs:
            made.setdefault("chemistry", self.question.values["chemistry"])
        if {"current", "typical_current"} & made.keys():
            for name in CURRENT_BEFORE_FLIGHT:
                made.pop(name, None)
        if self._charged_at(calculator):
            if "rate" in calculator.inputs:
                made["rate"] = self._charge.rate
            else:
                made["current"] = {"value": self._charge.current, "unit": "A"}
        return made

    def _charged_at(self, calculator: Calculator) -> bool:
        return self._charge is not None and calculator.name in CHARGED_ALIKE

    def _objection(self, told: Mapping[str, Answered], who: str) -> str:
        if not who:
            return f"left out, since the pack {body_words(self.question.values['condition'])}"
        return f"left out, since {who} speaks against it: {first(told[who].sentence())}"

    @property
    def verdict(self) -> dict[str, bool | None]:
        """Whether the pack may be charged now, be flown, and is to be retired."""
        stances = self.stances.values()
        fly = None
        if {"fly", "now"} & self.no.keys():
            fly = False
        elif granted(stances, "now") or granted(stances, "fly"):
            fly = True
        charge = False if "charge" in self.no else True if granted(stances, "charge") else None
        retire = True if "sound" in self.no else False if granted(stances, "sound") else None
        return {"charge": charge, "fly": fly, "retire": retire}

    def sentence(self) -> str:
        """The gravest first: retired, or not flown, or not charged; then what may be done."""
        kind = CHEMISTRIES[self.question.values["chemistry"]]
        return self._whole(kind) if kind.flown else on_the_ground(self._whole(kind))

    def _whole(self, kind: Chemistry) -> str:
        named = f"this {kind.words} pack"
        if "sound" in self.no:
            why = f"Retire {named}: it {body_words(self.question.values['condition'])}."
            if self.deciding:
                why = first(self.answers[self.deciding[0]].sentence())
            return sentences(why, "Neither charge it nor fly it.")
        if not self.deciding:
            return f"Of {named} nothing can be told yet of charging or flying: give at least cells and capacity."
        return sentences(*map(self._said, self.deciding))

    def _decide(self) -> None:
        """Finds ``deciding``, the answers that the sentence tells, the gravest first."""
        if "sound" in self.no:
            self.deciding = [who for who in (self.no["sound"],) if who]
            return
        no = [next((self.no[each] for each in asked if each in self.no), None) for asked in ASKED_OF]
        yes = [None if who else self._granting(asked) for who, asked in zip(no, ASKED_OF, strict=True)]
        self.deciding = list(dict.fromkeys(who for who in (*no, *yes) if who))

    def _granting(self, asked: tuple[str, ...]) -> str | None:
        """The first answer by yes."""
        told = (name for name in (*FIRST_HEARD, *self.stances) if name in self.stances)
        return next((name for name in told if any(getattr(self.stances[name], each) for each in asked)), None)

    def _said(self, who: str) -> str:
        """The first sentence of an answer, as one of several."""
        said = first(self.answers[who].sentence())
        if who == "safe-draw":
            said = f"Do not fly it at the currents told: {said[:1].lower()}{said[1:]}"
        return re.sub(r"^No\b", "Do not fly it", re.sub(r"^Yes\b", "It may fly", said))

    def cautions(self) -> list[Caution]:
        """What to heed in all of the answers, each once, gravest first."""
        every = (caution for answer in self.answers.values() for caution in answer.cautions())
        return ranked(list(dict.fromkeys(every)))

    def spoken(self) -> str:
        """The sentence, then the gravest caution of the answers that it tells."""
        deciding = [caution for who in self.deciding for caution in self.answers[who].cautions()]
        body = [entry for entry in self.cautions() if entry.code == self.question.values["condition"]]
        gravest = sorted(ranked(body or deciding) or self.cautions(), key=lambda entry: entry.standing)[:1]
        return " ".join([self.sentence(), *(entry.text for entry in gravest)]) + "\n"

    def json(self) -> str:
        """The overview as the contract writes it."""
        given = [_member(name)(value) for name, value in self.question.given.items()]
        answers = [f"{quoted(name)}:{answer.json()}" for name, answer in self.answers.items()]
        verdict = ",".join(f'"{name}":{_LOGICAL[value]}' for name, value in self.verdict.items())
        unanswered = [
            f"{quoted(each.name)}:[{','.join(map(quoted, self.unanswered[each.name]))}]"
            for each in self.order
            if each.name in self.unanswered
        ]
        return (
            f'{{"version":{quoted(service_version())},"question":{{{",".join(given)}}},"verdict":{{{verdict}}},'
            f'"sentence":{quoted(self.sentence())},"cautions":[{cautions_said(tuple(self.cautions()))}],'
            f'"answers":{{{",".join(answers)}}},"unanswered":{{{",".join(unanswered)}}}}}'
        )


_LOGICAL = {True: "true", False: "false", None: "null"}


@cache
def _member(name: str) -> Writer:
    return member(name, FACTS.inputs[name])


def first(said: str) -> str:
    """The first of some sentences."""
    return re.split(r"(?<=\.) (?=[A-Z])", said, maxsplit=1)[0]


def overview(calculators: Mapping[str, Calculator], facts: ItemType, raw: Raw) -> Overview:
    """All that calculators say of a pack; raises ``Refusal`` where the facts themselves are wrong."""
    return Overview(calculators, _plan().read(raw), raw)

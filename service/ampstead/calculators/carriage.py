"""Watt-hours and air carriage."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Literal

from ampstead import words
from ampstead.declare import Band, Caution, Choice, Count, Group, Quantity, Text
from ampstead.inputs.pack import Pack
from ampstead.inputs.shared import MOST_ENERGY
from ampstead.judging.cautions import Table
from ampstead.judging.cautions import caution as shared
from ampstead.judging.charging import body_words
from ampstead.judging.doubts import error
from ampstead.words import number, percent, sentences, watt_hours

ASKED = "May I take these packs on an aircraft?"
WHEN = ("before the next outing", 40)
MAIN = ("category", "allowed_count", "energy")
SOURCES = (
    "Watt-hours are rated capacity times nominal voltage: 49 CFR 171.8. The maker's declared value rules: PHMSA letter "
    "22-0113 of 19 January 2023",
    "Lithium up to 100 watt-hours in the cabin, spares never in the hold: TSA; terminals: 49 CFR 175.10",
    "Above 100 to 160 watt-hours with the airline's approval and at most two spares, above that not by passengers: "
    "FAA and CASA texts as quoted by others",
    "At most twenty spares of any kind, sealed lead-acid up to 12 volts and 100 watt-hours, nickel without limit of "
    "energy: international rules, from memory",
    "Freight: packs alone at no more than 30 percent charge on cargo aircraft, from 2026 also packed with equipment "
    "(IATA 66th edition, ICAO 2025-2026, as told by dangerous-goods trainers)",
    "Rules as read for 2025 and 2026. They change every year, operators may be stricter, and the operator decides",
)
EXAMPLES = (
    {"cells": 6, "capacity": "4900 mAh", "count": 2},
    {"chemistry": "liion", "cells": 4, "capacity": "3500 mAh", "label_energy": "50.4 Wh", "count": 3},
)

HOUR = 3600.0
CABIN, ASKING = 100 * HOUR, 160 * HOUR  # J; TSA, and FAA and CASA as quoted. Both limits are still allowed.
SPARES, SPARES_ASKED = 20, 2  # The first from memory, the second FAA and CASA as quoted.
LEAD_VOLTAGE, LEAD_ENERGY = 12.0, 100 * HOUR  # Of a sealed lead-acid battery; from memory.
CLOSE = 0.03
LABEL_OFF = 0.10  # This project's own judgement.
SLACK = 1e-9

Category = Literal["cabin", "ask-operator", "not-by-passengers"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Carriage:
    energy: Annotated[
        float, Quantity("Wh", "Energy of one pack: the label's, else capacity times nominal voltage.", spoken="up")
    ]
    category: Annotated[
        Category,
        Choice("Carried in the cabin, only with the operator's approval, or not by passengers at all."),
    ]
    allowed_count: Annotated[int, Count("Most spare packs like this that one traveller may carry.")]
    advice: Annotated[str, Text("What to do with them, in plain words.", longest=300, said=True)]


def carriage(
    *,
    pack: Annotated[
        Pack,
        Group(name="pack", only=("chemistry", "cells", "capacity", "condition"), require=("cells", "capacity")),
    ],
    label_energy: Annotated[
        float | None,
        Quantity(
            "Wh",
            "Energy declared on the label; it rules over the computed one.",
            above=0,
            at_most=MOST_ENERGY,
            example="50.4 Wh",
        ),
    ] = None,
    count: Annotated[
        int,
        Count(
            "How many such packs one traveller carries.",
            at_least=1,
            at_most=1000,
            example=2,
            label="number of such packs",
        ),
    ] = 1,
) -> Carriage:
    """Watt-hours of a pack, and whether a traveller may take it on an aircraft.

        E = capacity * nominal voltage * cells, or the energy declared on the label    (1)

    Lithium packs: up to and with 100 Wh in the cabin; above, up to and with 160 Wh, with the operator's approval
    and at most two spares; above that not by passengers. Nickel packs have no limit of energy. Lead-acid ones only
    if they cannot spill, at most 12 V and 100 Wh, and after asking. A pack that is not sound goes by no aircraft.
    These are rules for passengers' baggage, as read for 2025 and 2026; for freight others hold.
    """
    energy = pack.charge * pack.kind.nominal * pack.size if label_energy is None else label_energy  # Eq. (1)
    category = judged(pack, energy)
    allowed = {"cabin": SPARES, "ask-operator": SPARES_ASKED, "not-by-passengers": 0}[category]
    return Carriage(energy=energy, category=category, allowed_count=allowed, advice=advice(pack, category))


def judged(pack: Pack, energy: float) -> Category:
    """What the passenger rules make of a pack."""
    if pack.condition != "sound":
        return "not-by-passengers"
    if pack.kind.holds_acid:
        small = energy <= LEAD_ENERGY * (1 + SLACK) and pack.kind.nominal * pack.size <= LEAD_VOLTAGE * (1 + SLACK)
        return "ask-operator" if small else "not-by-passengers"
    if not pack.kind.is_lithium or energy <= CABIN * (1 + SLACK):
        return "cabin"
    return "ask-operator" if energy <= ASKING * (1 + SLACK) else "not-by-passengers"


def advice(pack: Pack, category: Category) -> str:
    """What to do."""
    if pack.condition != "sound":
        return "Do not take it on any aircraft: bring it to a battery recycling point."
    if category == "not-by-passengers":
        return "Leave it at home, or have it sent as dangerous goods by someone trained for that."
    if pack.kind.holds_acid:
        return "Ask the airline first; only a sealed battery that cannot spill may go, its terminals guarded."
    asked = "Ask the airline for its approval before you travel. " if category == "ask-operator" else ""
    if not pack.kind.is_lithium:
        return "Carry spares in the cabin, their terminals taped over or each in a bag of its own."
    return (
        f"{asked}Carry spares in the cabin, never in the hold, their terminals taped over or each in a bag of its own, "
        "about half charged."
    )


def sentence(answer: Carriage, *, pack: Pack, count: int) -> str:
    """The answer as spoken."""
    named = f"{pack.kind.words} pack"
    if pack.condition != "sound":
        return f"Leave this {named} at home: it {body_words(pack.condition)}."
    energy = watt_hours(answer.energy, "up")
    if answer.category == "not-by-passengers":
        return f"Passengers may not take this {named} of {energy}. {answer.advice}"
    hold = ", never in the hold" if pack.kind.is_lithium else ""
    most = words.count(answer.allowed_count, "spare")
    told = {
        "cabin": f"This {named} of {energy} may go in the cabin{hold}, at most {most} a traveller.",
        "ask-operator": f"This {named} of {energy} may go only if the airline approves, in the cabin{hold}, at most "
        f"{most} a traveller.",
    }[answer.category]
    return sentences(told, "By the rules as read for 2025 and 2026; the airline decides.")


OWN_CAUTIONS: Table = {
    # 49 CFR 175.10 (terminals; 2018 edition, retrieved), TSA (spares never in checked baggage; retrieved).
    "carriage-spares": (
        "warning",
        "Spare lithium packs never go into the hold: carry them in the cabin, each with its terminals taped over or in "
        "a bag of its own.",
    ),
    # FAA, from memory: damaged or recalled batteries may not fly.
    "carriage-unsound": ("danger", "A pack that is not sound, or is recalled, goes on no aircraft at all."),
    "carriage-rules": (
        "warning",
        "These are the passenger rules of 2025 and 2026 as read from copies: they change every year, airlines and "
        "countries may be stricter, and the airline decides. Ask before you travel.",
    ),
    # IATA and ICAO rules of 2025-26 for freight, as told by dangerous-goods trainers.
    "carriage-cargo": (
        "note",
        "Sent as freight, other rules hold: lithium packs alone go on cargo aircraft only, at no more than 30 percent "
        "charge. That is a rule for freight, not for baggage.",
    ),
    "carriage-too-many": ("warning", "{count} are more than the {allowed} that one traveller may carry."),
    "carriage-label": (
        "warning",
        "The label's energy is {ratio} of what voltage and capacity make: read the label again.",
    ),
    "carriage-close": (
        "warning",
        "This is close to a limit of the rules: the energy printed on the label decides, not this figure.",
    ),
    "carriage-unlike-lithium": (
        "note",
        "The lithium rules do not apply to {words} packs; what is said here of them is from memory. Terminals must be "
        "guarded against a short all the same.",
    ),
    "carriage-acid": (
        "danger",
        "A lead-acid battery that can spill does not go on a passenger aircraft; only a sealed one that cannot may.",
    ),
}
caution = shared.beside(OWN_CAUTIONS, standing={"carriage-spares", "carriage-rules", "carriage-cargo"})


def cautions(answer: Carriage, *, pack: Pack, label_energy: float | None, count: int) -> Iterator[Caution]:
    """What to heed."""
    if pack.condition != "sound":
        yield caution("carriage-unsound")
        yield caution(pack.condition)
    if answer.allowed_count and pack.kind.is_lithium:
        yield caution("carriage-spares")
    elif answer.allowed_count and pack.kind.holds_acid:
        yield caution("carriage-acid")
    if 0 < answer.allowed_count < count:
        yield caution(
            "carriage-too-many",
            count=words.capitalised(words.count(count, "pack")),
            allowed=number(answer.allowed_count),
        )
    computed = pack.charge * pack.kind.nominal * pack.size
    if label_energy is not None and abs(label_energy / computed - 1) > LABEL_OFF + SLACK:
        yield caution("carriage-label", ratio=percent(label_energy / computed))
    if label_energy is None and pack.kind.is_lithium and close(answer.energy):
        yield caution("carriage-close")
    yield caution("carriage-rules")
    if not pack.kind.is_lithium:
        yield caution("carriage-unlike-lithium", words=pack.kind.words)
    else:
        yield caution("carriage-cargo")


def close(energy: float) -> bool:
    """Whether another maker's nominal voltage could put the pack on the other side of a limit."""
    return any(abs(energy / limit - 1) <= CLOSE for limit in (CABIN, ASKING))


def accuracy(answer: Carriage, *, pack: Pack, label_energy: float | None) -> Iterator[Band]:
    """How far a label may differ from the computed energy."""
    if label_energy is None and pack.kind.is_lithium:
        low, high = (1 + off / pack.kind.nominal for off in error("nominal voltage beside"))
        basis = "makers declare nominal voltages about 0.1 volt apart; common practice, no published source"
        yield Band("energy", answer.energy * low, answer.energy * high, basis)

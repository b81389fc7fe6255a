"""A battery that never flies is spoken of as one that is used; what people call their packs stays."""

import re
from random import Random
from typing import Any

import pytest
from profiles import count
from questions import around, items

from ampstead.calculators import registry
from ampstead.errors import Refusal
from ampstead.replying.answers import Answered, teller
from ampstead.replying.beyond.overview import overview
from ampstead.replying.local import embedded
from ampstead.replying.on_the_ground import on_the_ground

CALCULATORS = registry()
ALOFT = re.compile(
    r"\b(?:fly|flies|flown|flying|flights?|lands?|landing|take[- ]?offs?|aloft|motor|this model|in a model)\b",
    re.IGNORECASE,
)
BATTERY = {"chemistry": "lead", "cells": 6, "capacity": "38 Ah", "cell_resistance": "2.2 mΩ"}
REFUSED = {"field-energy", "let-down", "nickel-charge", "parallel-join"}
"""What a question by the name lead alone is not answered for, or whose packs are told one by one."""
VOLTS = (1.7, 1.9, 1.98, 2.03, 2.08, 2.1)


def of_lead(chance: Random, asked: dict[str, Any]) -> dict[str, Any]:
    """A question about packs of whatever kind, put of lead-acid ones, at voltages that those have."""
    made = {name: value for name, value in asked.items() if name not in ("floor", "target_voltage", "name")}
    for name, value in made.items():
        if isinstance(value, list) and value and isinstance(value[0], dict) and "value" not in value[0]:
            made[name] = [of_lead(chance, each) for each in value]
        elif name.endswith("cell_voltages") and value is not None:
            size = len(value) if isinstance(value, list) else str(value).count(",") + 1
            made[name] = [f"{chance.choice(VOLTS)} V" for _ in range(size)]
    if {"cells", "capacity", "cell_voltages", "chemistry"} & made.keys():
        made["chemistry"] = "lead"
    if "rest_voltage" in made:
        made["rest_voltage"] = f"{chance.choice(VOLTS) * float(made.get('cells', 6)):.2f} V"
    return made


def texts(answered: Answered) -> list[str]:
    bands = [band.basis for band in answered.known["bands"].values()]
    return [answered.sentence(), *(caution.text for caution in answered.cautions()), *bands]


@pytest.mark.parametrize("name", [name for name, each in CALCULATORS.items() if "chemistry" in each.inputs])
def test_nothing_is_told_of_a_flight_where_the_battery_never_flies(name: str) -> None:
    calculator, chance = CALCULATORS[name], Random(name)
    answers = 0
    for _ in range(count(40, 150)):
        kinds = (around(chance, calculator), items(chance, calculator, chance.randint(1, 6), near=True))
        try:
            answered = teller(calculator).answered(of_lead(chance, chance.choice(kinds)) | {"chemistry": "lead"})
        except Refusal:
            continue
        answers += 1
        for said in texts(answered):
            assert not ALOFT.search(said), said
    assert answers or name in REFUSED


@pytest.mark.parametrize("name", ["series-join", "match-packs", "charge-session", "group-charge"])
def test_several_such_batteries_are_not_flown_either(name: str) -> None:
    calculator, chance = CALCULATORS[name], Random(name)
    answers = 0
    for _ in range(count(40, 150)):
        try:
            answered = teller(calculator).answered(of_lead(chance, items(chance, calculator, 6, near=True)))
        except Refusal:
            continue
        answers += 1
        for said in texts(answered):
            assert not ALOFT.search(said), said
    assert answers


@pytest.mark.parametrize(
    "more",
    [
        {"rest_voltage": "12.5 V", "typical_current": "5 A"},
        {"rest_voltage": "11 V"},
        {"typical_current": "5 A", "peak_current": "900 A"},
        {"condition": "swollen"},
        {"cell_voltages": "2.1,2.1,1.8,2.1,2.1,2.1 V"},
        {"temperature": "-15 °C", "typical_current": "5 A"},
    ],
)
def test_an_overview_of_such_a_battery_tells_of_no_flight(more: dict[str, str]) -> None:
    told = overview(CALCULATORS, None, BATTERY | more)  # type: ignore[arg-type]  # the facts are its own
    for said in (told.sentence(), told.spoken(), *(caution.text for caution in told.cautions())):
        assert not ALOFT.search(said), said


@pytest.mark.parametrize("beyond", ["needed?result=time_flight&input=current&target=60 min", "doubt"])
def test_what_is_needed_and_what_is_in_doubt_tell_of_no_flight(beyond: str) -> None:
    name, _, query = beyond.partition("?")
    asked = dict(pair.split("=") for pair in query.split("&")) if query else {"current": "5 A"}
    _, spoken = embedded(f"endurance/{name}", BATTERY | asked, ".txt")
    assert b"run time" in spoken or b"time run" in spoken
    assert not ALOFT.search(spoken.decode())


def test_a_picture_of_such_a_battery_is_titled_without_a_flight() -> None:
    drawn = teller(CALCULATORS["endurance"]).answered(BATTERY | {"current": "5 A"}).svg()
    title = re.search("<title[^>]*>([^<]*)", drawn)
    assert title
    assert title[1].startswith("A run of")


def test_what_people_call_their_packs_stays() -> None:
    packs = [BATTERY | {"name": "Flight box", "condition": "swollen"}, BATTERY | {"name": "fly (old)"}]
    answered = teller(CALCULATORS["series-join"]).answered({"packs": packs, "current": "5 A"})
    assert "light box" in answered.sentence()
    assert any("Flight box: A swollen" in said for said in texts(answered))
    assert on_the_ground("Fly fly (old) for 5 minutes.", ["fly (old)"]) == "Use fly (old) for 5 minutes."


def test_packs_that_fly_are_told_to_fly() -> None:
    asked = {"cells": 3, "capacity": "2250 mAh", "current": "23 A"}
    assert teller(CALCULATORS["endurance"]).answered(asked).sentence().startswith("Fly this lithium-polymer pack")

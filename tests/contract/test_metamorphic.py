"""How answers move when the question does, over all calculators: nobody is promised more for having less."""

import copy
import json
import random
from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

import pytest
from profiles import count
from questions import many

from ampstead.calculators import registry
from ampstead.declare import Flag
from ampstead.replying.local import embedded

CALCULATORS = registry()
SMALL = 1e-6
Question = dict[str, Any]
Reply = dict[str, Any]


def answered(name: str, question: Question) -> Reply | None:
    """The whole reply; None where the question is refused."""
    status, document = embedded(name, question)
    assert status in (200, 422), document
    reply: Reply = document
    return reply if status == 200 else None


def answer(name: str, question: Question) -> dict[str, Any]:
    reply = answered(name, question)
    assert reply is not None, question
    return {result: plain(value) for result, value in reply["answer"].items()}


def plain(value: Any) -> Any:
    """Without units."""
    if isinstance(value, dict):
        quantity = value.keys() == {"value", "unit"}
        return value["value"] if quantity else {name: plain(each) for name, each in value.items()}
    return [plain(each) for each in value] if isinstance(value, list) else value


@cache
def asked(name: str) -> list[Reply]:
    """Replies to questions of every kind, the same on each run."""
    slow = CALCULATORS[name].most <= 250
    posted = many(CALCULATORS[name], count(10 if slow else 25, 24 if slow else 90))
    examples = map(dict, CALCULATORS[name].examples)
    return [reply for question in (*examples, *posted) if (reply := answered(name, question)) is not None]


def changed(reply: Reply, names: tuple[str, ...], change: Callable[[Any], Any]) -> Question | None:
    """The question as it was read, with some inputs changed wherever they stand, told or assumed; None without them."""
    question, found = copy.deepcopy(reply["question"]), False

    def put(owner: Question, path: str) -> None:
        nonlocal found
        for name in names:
            taken = owner.get(name, reply["assumed"].get(path + name))
            if taken is not None:
                owner[name], found = change(taken), True

    put(question, "")
    for name, value in reply["question"].items():
        if isinstance(value, list):
            for place, each in enumerate(value):
                if isinstance(each, dict) and "unit" not in each:
                    put(question[name][place], f"{name}[{place}].")
        elif isinstance(value, dict) and "unit" not in value:
            put(question[name], f"{name}.")
    return question if found else None


def times(part: float) -> Callable[[Any], Any]:
    def scaled(value: Any) -> Any:
        if isinstance(value, list):
            return [scaled(each) for each in value]
        return {**value, "value": value["value"] * part} if isinstance(value, dict) else value * part

    return scaled


def colder(value: Any) -> Any:
    return {**value, "value": value["value"] - 12}


def longer(value: Any) -> Any:
    return {**value, "value": value["value"] * 1.5 + 5}


TEMPERATURES = ("temperature", "source_temperature", "next_temperature")


def no_warmer_than_a_room(reply: Reply) -> bool:
    """Whether no pack in a question is warmer than 25 °C; what is hotter may do more for being cooled."""
    question = reply["question"]
    nested = [each for value in question.values() for each in (value if isinstance(value, list) else [value])]
    told = [*question.items(), *reply["assumed"].items()]
    told += [pair for each in nested if isinstance(each, dict) for pair in each.items()]
    return not any(name.rpartition(".")[2] in TEMPERATURES and plain(value) > 25 + SMALL for name, value in told)


RESISTANCES = ("cell_resistance", "pack_resistance", "source_cell_resistance")
LESS: dict[str, tuple[tuple[str, ...], Callable[[Any], Any]]] = {
    "more resistance": (RESISTANCES, times(1.5)),
    "a longer lead": (("lead_resistance", "source_resistance"), longer),
    "less capacity": (("capacity", "source_capacity", "next_capacity", "measured_capacity"), times(0.8)),
    "an older pack": (("capacity_left",), times(0.8)),
    "a colder pack": (TEMPERATURES, colder),
    "an emptier pack": (("state_of_charge", "source_state_of_charge"), times(0.8)),
}
ALL = "*"
NOT_PROMISED: dict[tuple[str, str, str], str] = {
    # A calculator, a change, a result: why it may well rise.
    ("capacity-check", "less capacity", "capacity_left"): "the label is what the capacity is held against",
    ("counted-discharge", "less capacity", "capacity_left"): "the label is what the capacity is held against",
    ("charge-current", "less capacity", "rate"): "a charger's current is a higher rate of a smaller pack",
    ("charge-current", "less capacity", "state_of_charge_end"): "a charger's current fills a smaller pack",
    ("charge-session", ALL, "bound"): "that a session takes longer is no promise",
    ("cool-down", ALL, "skin_temperature"): "a temperature to wait for is no promise",
    ("charge-temperature", ALL, "rise_alarm"): "a temperature to stop at is no promise",
    ("field-energy", "less capacity", ALL): "smaller packs take less: see the test of the source alone",
    ("field-energy", "more resistance", ALL): "charges of packs with more resistance end sooner: likewise",
    ("field-energy", "an emptier pack", ALL): "likewise",
    ("group-charge", "a longer lead", "total_current"): "longer leads share a current more evenly",
    ("let-down", ALL, "time_total"): "that it takes longer to come down is no promise",
    ("nickel-charge", "a colder pack", "time_limit"): "by a timer it takes longer",
    ("nickel-charge", "an emptier pack", ALL): "an emptier pack is charged, and takes longer",
    ("nickel-charge", "less capacity", "rate"): "a charger's current is a higher rate of a smaller pack",
    ("group-charge", "an emptier pack", "total_current"): "emptier packs may share a current more evenly",
    ("pack-fitness", "less capacity", "continuous_current"): "a flight on less charge is shorter, and warms less",
    ("pack-fitness", "less capacity", "burst_current"): "the burst begins where that ends",
    ("pack-fitness", "a colder pack", "burst_current"): "the burst begins where a gentler flight ends",
    ("parallel-join", ALL, "largest_difference"): "more resistance lets less flow",
    ("receiver-time", ALL, "stall_voltage"): "it is that at the end, which comes sooner for a weaker pack",
    ("receiver-time", "more resistance", "time_safe"): "one that is told counts for less than a guess may be: of told "
    "ones, test_receiver_time",
    ("safe-draw", "less capacity", ALL): "a flight on less charge is shorter, and warms less",
    ("pack-fitness", "a colder pack", "continuous_current"): "to where heat ends it a colder pack may warm further",
    ("pack-for-model", "a colder pack", "largest_resistance"): "likewise",
    **{
        ("safe-draw", "a colder pack", result): "likewise; the test of its voltages follows"
        for result in (
            "continuous_current",
            "continuous_rate",
            "current_limit_by_heat",
            "burst_current",
            "burst_rate",
            "burst_limit_by_heat",
            "loaded_voltage",
        )
    },
    ("safe-draw", "more resistance", "loaded_voltage"): "it is that at a lower current",
    ("safe-draw", "more resistance", "burst_limit_by_heat"): "the burst begins where a gentler flight ends",
    ("supply-split", "less capacity", ALL): "smaller packs ask less of a supply",
    ("supply-split", "a longer lead", "load_factor"): "without any resistance there is no such factor",
    ("wattage", "less capacity", ALL): "a smaller pack asks less of a supply",
}


def promises(name: str, change: str) -> list[str]:
    """Results that say what may be at most, or that something may be done."""
    return [
        result
        for result, entry in CALCULATORS[name].results.items()
        if (getattr(entry.spec, "spoken", None) == "down" or isinstance(entry.spec, Flag))
        and not entry.many
        and not {(name, change, result), (name, ALL, result), (name, change, ALL)} & NOT_PROMISED.keys()
    ]


def more(one: Any, other: Any) -> bool:
    """Whether the other is more than the one; what there is none of is the least."""
    if other is None or one is None:
        return one is None and bool(other)
    return bool(plain(other) > plain(one) + SMALL * abs(plain(one)) + 1e-9)


def broken(name: str, change: str) -> Iterator[str]:
    names, how = LESS[change]
    for reply in asked(name):
        if change == "a colder pack" and not no_warmer_than_a_room(reply):
            continue
        if "rate" in reply["question"] and change == "less capacity":
            continue  # at a rate, a smaller pack is asked for less
        if reply["answer"].get("ended_by") == "heat" and change == "a colder pack":
            continue  # it takes longer to become too hot
        less = changed(reply, names, how)
        other = None if less is None else answered(name, less)
        if other is None:
            continue
        for result in promises(name, change):
            one, two = reply["answer"][result], other["answer"][result]
            if one is None and reply["answer"].get("holds") and result == "time_to_floor":
                continue  # it is never met
            if more(one, two):
                yield f"{result} {one} becomes {two}: {json.dumps(reply['question'])}"


@pytest.mark.parametrize("change", LESS)
@pytest.mark.parametrize("name", CALCULATORS)
def test_nobody_is_promised_more_for_a_weaker_pack(name: str, change: str) -> None:
    faults = list(broken(name, change))
    assert not faults, "\n".join([f"{len(faults)} faults, such as", *faults[:3]])


def test_every_reason_is_of_a_promise() -> None:
    for name, change, result in NOT_PROMISED:
        assert change in LESS or change == ALL
        assert result in CALCULATORS[name].results or result == ALL


def test_a_colder_pack_that_voltage_limits_is_never_promised_more() -> None:
    tried = 0
    for reply in asked("safe-draw"):
        cold = changed(reply, TEMPERATURES, colder)
        other = None if cold is None else answered("safe-draw", cold)
        for limit, result in (("continuous_limited_by", "continuous_current"), ("burst_limited_by", "burst_current")):
            if other is not None and reply["answer"][limit] == "voltage":
                tried += 1
                assert not more(reply["answer"][result], other["answer"][result]), (result, reply["question"])
    assert tried


SOURCES: tuple[tuple[str, Callable[[Any], Any]], ...] = (
    ("source_capacity", times(0.8)),
    ("source_cell_resistance", times(1.5)),
    ("source_state_of_charge", times(0.8)),
    ("source_temperature", colder),
    ("lead_resistance", longer),
    ("peukert", lambda exponent: min(exponent + 0.05, 1.5)),
    ("input_floor", times(1.05)),
    ("depth", times(0.9)),
    ("efficiency", times(0.9)),
    ("idle_power", lambda power: {**power, "value": power["value"] + 3}),
)


@pytest.mark.parametrize(("name", "change"), SOURCES, ids=[name for name, _ in SOURCES])
def test_a_weaker_source_never_recharges_more(name: str, change: Callable[[Any], Any]) -> None:
    tried = 0
    for reply in asked("field-energy"):
        if name == "source_temperature" and not no_warmer_than_a_room(reply):
            continue
        weaker = changed(reply, (name,), change)
        other = None if weaker is None else answered("field-energy", weaker)
        if other is not None:
            tried += 1
            assert not more(reply["answer"]["recharges"], other["answer"]["recharges"]), reply["question"]
    assert tried


LIMITS: dict[str, tuple[str, tuple[float, float]]] = {
    "charger_current_limit": ("A", (0.1, 20)),
    "charger_power_limit": ("W", (1, 400)),
    "supply_limit": ("W", (1, 400)),
    "max_rate": ("", (0.1, 5)),
    "label_rate": ("", (1, 60)),
    "limit_temperature": ("°C", (30, 60)),
    "mass_limit": ("g", (50, 500)),
    "available_power": ("W", (5, 400)),
}
CURRENTS = ("current", "total_current", "continuous_current", "burst_current", "suits", "fits", "within_limit")
"""What a limit may lower, and never raises."""
LIMITED = [
    (name, limit)
    for name, calculator in CALCULATORS.items()
    for limit in LIMITS
    if limit in calculator.inputs and set(CURRENTS) & calculator.results.keys()
]


@pytest.mark.parametrize(("name", "limit"), LIMITED)
def test_one_limit_more_or_lower_never_raises_a_current(name: str, limit: str) -> None:
    draw = random.Random(name + limit)
    unit, (low, high) = LIMITS[limit]
    tried = 0
    for reply in asked(name):
        taken = reply["question"].get(limit, reply["assumed"].get(limit))
        size = draw.uniform(low, high) if taken is None else plain(taken) * draw.uniform(0.3, 1)
        told = {"value": size, "unit": unit} if unit else size
        other = answered(name, {**reply["question"], limit: told})
        if other is None:
            continue
        tried += 1
        for result in CURRENTS:
            if limit in ("limit_temperature", "label_rate") and result == "burst_current":
                continue  # the burst begins where a gentler flight ends, which leaves it more
            one, two = reply["answer"].get(result), other["answer"].get(result)
            if one is not None and two is not None:  # asked about nothing, nothing is told
                assert not more(one, two), (result, one, two, told, reply["question"])
    assert tried


PLACES = {"plan", "packs", "groups", "left_out", "allotments", "charges_left", "initial_currents", "first_pack",
          "floor_pack", "late", "unserved"}  # fmt: skip
"""Results that name packs, or stand in their order."""
ORDERED = [name for name, calculator in CALCULATORS.items() if "packs" in calculator.inputs and calculator.most]
"""Of a session the order told is one of those that are tried, so that no plan is worse than doing as told."""


@pytest.mark.parametrize("name", ORDERED)
def test_the_order_in_which_packs_are_told_does_not_matter(name: str) -> None:
    draw = random.Random(name)
    tried = 0
    for reply in asked(name):
        question = reply["question"]
        if not isinstance(question.get("packs"), list):
            continue
        tried += 1
        shuffled = answered(name, {**question, "packs": draw.sample(question["packs"], len(question["packs"]))})
        assert shuffled is not None
        for result, one in reply["answer"].items():
            if result in PLACES:
                continue
            one, other = plain(one), plain(shuffled["answer"][result])
            alike = one == other if isinstance(one, str | None) else other == pytest.approx(one, rel=1e-6, abs=1e-9)
            assert alike, (result, one, other, question)
    assert tried


LITHIUM = {"lipo": 15.0, "lihv": 15.0, "liion": 100.0, "life": 35.0}
"""Resistance times capacity that is usual, mΩ·Ah."""


def flights() -> Iterator[Question]:
    draw = random.Random("flights")
    for _ in range(count(20, 150)):
        kind = draw.choice(sorted(LITHIUM))
        ampere_hours = draw.uniform(0.5, 6)
        yield {
            "chemistry": kind,
            "cells": draw.randint(1, 6),
            "capacity": f"{ampere_hours!r} Ah",
            "cell_resistance": f"{LITHIUM[kind] / ampere_hours * draw.uniform(0.4, 1.2)!r} mΩ",
            "current": f"{ampere_hours * draw.uniform(0.5, 3)!r} A",
            "temperature": f"{draw.uniform(5, 30)!r} °C",
        }


def told(question: Question, *names: str) -> Question:
    return {name: question[name] for name in names}


def test_what_a_flight_took_is_what_goes_back() -> None:
    flew = 0
    for question in flights():
        flown = answer("endurance", question)
        if flown["time_flight"] == 0:
            continue
        flew += 1
        assert flown["charge_to_return"] == pytest.approx(flown["charge_used"])
        put = {"flight_time": f"{flown['time_flight']!r} min", "charge_returned": f"{flown['charge_to_return']!r} mAh"}
        pack = told(question, "chemistry", "cells", "capacity", "cell_resistance", "temperature")
        # The same flight, told by what went back, lasts as long and takes as much.
        again = answer("endurance", pack | put)
        assert again["time_flight"] == pytest.approx(flown["time_flight"], rel=1e-6)
        assert again["charge_used"] == pytest.approx(flown["charge_used"], rel=1e-6)
        timer = answer("flight-timer", put | told(question, "chemistry", "capacity"))
        assert timer["average_current"] == pytest.approx(float(question["current"].split()[0]), rel=1e-6)
        # At rest after landing it reads as no more than what is left.
        rested = {"rest_voltage": f"{flown['resting_landing_voltage']!r} V"}
        left = 1 - flown["charge_used"] / 1000 / float(question["capacity"].split()[0])
        assert answer("charge-left", told(question, "chemistry", "cells") | rested)["state_of_charge"] <= left + SMALL
    assert flew


def test_what_is_moved_to_storage_is_what_is_moved_back() -> None:
    for question in flights():
        pack = told(question, "chemistry", "cells", "capacity", "cell_resistance")
        down = answer("storage", pack | {"state_of_charge": 0.9, "target_state": 0.5})
        up = answer("storage", pack | {"state_of_charge": 0.5, "target_state": 0.9})
        assert (down["action"], up["action"]) == ("discharge", "charge")
        assert down["charge_to_move"] == pytest.approx(400 * float(question["capacity"].split()[0]), rel=1e-6)
        assert up["charge_to_move"] == pytest.approx(down["charge_to_move"], rel=1e-6)


def test_what_leaves_packs_in_parallel_is_what_enters_others() -> None:
    for reply in asked("parallel-join"):
        currents = plain(reply["answer"]["initial_currents"])
        assert sum(currents) == pytest.approx(0, abs=1e-6 * max(1.0, *map(abs, currents)))


def test_what_is_allotted_is_never_more_than_a_supply_has() -> None:
    for reply in asked("supply-split"):
        given = plain({**reply["assumed"], **reply["question"]})
        allotted = sum(each["allotted_power"] for each in plain(reply["answer"])["allotments"])
        assert allotted <= given["supply_rating"] * (1 - given["headroom"]) * (1 + SMALL)


def test_what_is_left_and_what_was_given_is_what_packs_in_series_had() -> None:
    tried = 0
    for reply in asked("series-join"):
        got = plain(reply["answer"])
        told = {**reply["assumed"], **{f"packs[{place}].{name}": value for place, pack in
                enumerate(reply["question"]["packs"]) for name, value in pack.items()}}  # fmt: skip
        states = [told.get(f"packs[{place}].state_of_charge") for place in range(len(reply["question"]["packs"]))]
        if got["charges_left"] is None or None in states or told["packs[0].chemistry"] == "lead":
            continue
        if got["ended_by"] == "reserve" and got["time_flight"] > 0:
            for place, (state, left) in enumerate(zip(states, got["charges_left"], strict=True)):
                tried += 1
                whole = plain(told[f"packs[{place}].capacity"])
                had = state * (min(whole) if isinstance(whole, list) else whole)
                assert left + got["charge_used"] == pytest.approx(had, rel=1e-6)
    assert tried

"""Bands of all calculators: their edges are the answers asked again at the edges of what is not known.

Each edge is asked through the service itself, with the input changed that the band's basis names; the factors by which
it is changed are those agreed on for the project and are written out here once more.
"""

from collections.abc import Callable
from math import exp
from typing import Any

import pytest
from tests.reference.asking import answer, plain, reply

from ampstead.calculators import registry
from ampstead.inputs.pack import Pack
from ampstead.judging import doubts
from ampstead.judging.bands import resistance_factors

Question = dict[str, Any]
Edges = tuple[float, float]
AERO: Question = {"cells": 4, "capacity": "3700 mAh"}
AIRLINER: Question = {"cells": 6, "capacity": "4900 mAh"}


def band(calculator: str, of: str, question: Question) -> Edges | None:
    for entry in reply(calculator, **question)["accuracy"]:
        if entry["of"] == of:
            return plain(entry["low"]), plain(entry["high"])
    return None


def asked(calculator: str, of: str, question: Question, **changed: Any) -> float:
    figure: float = answer(calculator, **question | changed)[of]
    return figure


def milliohms(size: float, slow: float | None = None, time: float = 30.0) -> dict[str, str]:
    """All that is told of a resistance: the fast part, the slow one (half of it) and that one's time."""
    return {
        "cell_resistance": f"{size!r} mΩ",
        "polarisation_resistance": f"{size / 2 if slow is None else slow!r} mΩ",
        "polarisation_time": f"{time!r} s",
    }


TRAINER: Question = {"cells": 3, "capacity": "2250 mAh"} | milliohms(8.5)


def by_efficiency(calculator: str, question: Question) -> Edges:
    low, high = (asked(calculator, "supply_power", question, efficiency=part) for part in (0.95, 0.80))
    return low, high


def states(question: Question) -> Edges:
    """What a voltage may mean, as charge-left tells it."""
    names = ("cells", "chemistry", "rest_voltage")
    edges = band("charge-left", "state_of_charge", {name: question[name] for name in names if name in question})
    assert edges is not None
    return edges


def at_state(question: Question, state: float) -> Question:
    return {name: value for name, value in question.items() if name != "rest_voltage"} | {"state_of_charge": state}


def charge_time(question: Question, slower: float) -> Edges:
    empty, full = (
        asked("charge-current", "time_total", at_state(question, state) if "rest_voltage" in question else question)
        for state in (states(question) if "rest_voltage" in question else (0.2, 0.2))
    )
    return 0.95 * full, slower * empty + 15


def guessed_charge_time(question: Question) -> Edges:
    """Published lithium-ion cells have 50 to 140 mΩ·Ah, and so resistive ones take up to 1.35 times as long."""
    empty, full = (
        asked("charge-current", "time_total", at_state(question, state), cell_resistance=f"{size / 3.5!r} mΩ")
        for state, size in zip(states(question), (140, 50), strict=True)
    )
    return 0.95 * full, 1.05 * 1.35 * empty + 15


def group_time(question: Question) -> Edges:
    empty, full = (
        asked(
            "group-charge",
            "time_total",
            question,
            packs=[at_state(pack, states(pack)[edge]) for pack in question["packs"]],
        )
        for edge in (0, 1)
    )
    return 0.95 * full, 1.05 * empty + 15


def stored(question: Question) -> Edges:
    moved = [asked("storage", "charge_to_move", at_state(question, state)) for state in states(question)]
    return min(moved), max(moved)


def time_to_store(question: Question) -> Edges:
    """The least and the most that may have to come out, each taken from the state that the pack is taken to be in."""
    capacity = float(question["capacity"].split()[0])
    state = asked("charge-left", "state_of_charge", {name: question[name] for name in ("cells", "rest_voltage")})
    low, high = (
        asked("storage", "time_total", question, target_state=state - moved / capacity) for moved in stored(question)
    )
    return 0.95 * low, 1.05 * high


def left(question: Question) -> Edges:
    low, high = states(question)
    capacity = float(question["capacity"].split()[0])
    return max(0.0, low - 0.2) * capacity, (high - 0.2) * capacity


def sagging(of: str, calculator: str, question: Question, most: float, least: float) -> Edges:
    """Asked again with the most and the least resistance, in mΩ."""
    low, high = (asked(calculator, of, question, **milliohms(size), resistance_method="1s") for size in (most, least))
    return low, high


def alarm(question: Question) -> Edges:
    resting = band("alarm-voltage", "resting_voltage", question)
    assert resting is not None
    drops = []
    for size in (4.6 * 1.40, 4.6 * 0.60):
        at = answer("alarm-voltage", **question | milliohms(size))
        drops.append(at["resting_voltage"] - at["alarm_voltage"])
    return max(4 * 3.3, resting[0] - drops[0]), resting[1] - drops[1]


def metered(of: str, question: Question) -> Edges:
    """Half of the meter's 10 mV in each of two readings, and an ammeter that is 3 percent off."""
    steep, flat = ({"voltages": voltages} for voltages in ("16.305,15.165 V", "16.295,15.175 V"))
    if of == "rest_voltage":
        return asked("load-test", of, question, **flat), asked("load-test", of, question, **steep)
    own = asked("load-test", of, question)
    less, more = (
        asked("load-test", of, question, currents=f"{4 * part!r},{48 * part!r} A") for part in (1.03, 1 / (1 / 0.97))
    )
    return (
        less - (own - asked("load-test", of, question, **flat)),
        more + (asked("load-test", of, question, **steep) - own),
    )


def at_room(question: Question) -> Edges:
    """Both edges by Arrhenius' law with the published 15 to 25 kJ/mol."""
    low, high = metered("pack_resistance", question)
    ratios = [exp(energy / 8.314462618 * (1 / 298.15 - 1 / 286.15)) for energy in (15e3, 25e3)]
    return low * min(ratios), high * max(ratios)


def joined(of: str, question: Question) -> Edges:
    """1 kHz shows a resistance whose half to five sixths it is: 1.2 to 2 times the figure."""
    low, high = (
        asked(
            "parallel-join",
            of,
            question,
            packs=[
                pack
                | milliohms(float(pack["cell_resistance"].split()[0]) * factor)
                | {"resistance_method": "1s", "polarisation_resistance": "0 mΩ"}
                for pack in question["packs"]
            ],
        )
        for factor in (2.0, 1.2)
    )
    return (low, high) if of == "peak_rate" else (high, low)


def flown(question: Question) -> Edges:
    worst = asked("endurance", "time_flight", question, **milliohms(11 * 1.40), capacity="920 mAh")
    best = asked("endurance", "time_flight", question, **milliohms(11 * 0.60))
    return worst, best


def recharged(question: Question) -> Edges:
    old = question | {"source": question["source"] | {"capacity": "30.4 Ah"}}
    return (
        asked("field-energy", "recharges", old, efficiency=0.80, peukert=1.25),
        asked("field-energy", "recharges", question, efficiency=0.95, peukert=1.05),
    )


def scaled(calculator: str, of: str, low: float, high: float) -> Callable[[Question], Edges]:
    return lambda question: (
        low * asked(calculator, of, question),
        high * asked(calculator, of, question),
    )


def standing(question: Question) -> Edges:
    """Half a step of 10 mV in each reading."""
    soon = {"first_cell_voltages": "3.865,3.865,3.855 V", "second_cell_voltages": "3.845,3.845,3.775 V"}
    late = {"first_cell_voltages": "3.855,3.855,3.845 V", "second_cell_voltages": "3.855,3.855,3.785 V"}
    return asked("standing-loss", "days_to_floor", question, **soon), asked(
        "standing-loss", "days_to_floor", question, **late
    )


KHZ = {"resistance_method": "1kHz", "polarisation_resistance": "2.94 mΩ"}
PAIR = [
    TRAINER | KHZ | {"rest_voltage": "11.31 V"},
    TRAINER | KHZ | {"cell_resistance": "9 mΩ", "rest_voltage": "11.40 V"},
]
LEAD_SOURCE: Question = {
    "source": {"chemistry": "lead", "cells": 6, "capacity": "38 Ah"} | milliohms(2.2),
    "input_floor": "11 V",
    "rate": 1,
}
READ: Question = {"currents": "4,48 A", "voltages": "16.30,15.17 V", "temperature": "13 °C"}
STOOD: Question = {
    "first_cell_voltages": "3.86,3.86,3.85 V",
    "second_cell_voltages": "3.85,3.85,3.78 V",
    "days": 17,
}
TIMER: Question = {"flight_time": "7.5 min", "charge_returned": "1480 mAh", "capacity": "2250 mAh", "capacity_left": 1}
ALARM: Question = AERO | milliohms(4.6) | {"current": "38 A"}
WIRE: Question = {"gauge": "16 AWG", "length": "0.35 m", "current": "14 A", "voltage": "11.1 V",
                  "conductor_temperature": "50 °C"}  # fmt: skip
FLEXIBLE: Question = WIRE | {"gauge": "1.5 mm²"}
GROUP: Question = {"charger_current_limit": "3 A"} | {
    "packs": [TRAINER | {"rest_voltage": volts} for volts in ("11.31 V", "11.33 V", "11.28 V")]
}
WARMED: Question = AIRLINER | milliohms(2.6) | {"current": "4.3 A", "temperature": "33 °C"}
WARMED["resistance_temperature"] = "33 °C"
RECEIVER: Question = {"chemistry": "life", "cells": 2, "capacity": "2100 mAh", "servos": 4, "servo_current": "1.1 A",
                      "idle_current": "0.25 A", "duty": 0.2, "capacity_left": 0.8}  # fmt: skip
RECEIVER |= milliohms(16)
DOWN: Question = AIRLINER | {"cell_resistance": "2.6 mΩ", "rest_voltage": "25.1 V", "load_resistance": "18 Ω"}


def drained(question: Question, least: float, most: float) -> Edges:
    """From the states that the voltage may mean, a tenth off for the resistor."""
    low, high = (asked("let-down", "time_total", at_state(question, state)) for state in states(question))
    return low * least, high * most


ALONE: Question = {
    "packs": [TRAINER | {"rest_voltage": "11.31 V"}],
    "chargers": [{"current_limit": "2.25 A", "power_limit": "60 W", "cells_min": 2, "cells_max": 4}],
    "supply_rating": "180 W",
}


def session_of_one(question: Question) -> Edges:
    """A session of one pack at 1C lasts as long as its charge may."""
    edges = band("charge-current", "time_total", question["packs"][0] | {"rate": 1})
    assert edges is not None
    return 0.95 * asked("charge-session", "finish", question), edges[1]


NICKEL: Question = {"cells": 6, "capacity": "2100 mAh"}
COOLED: Question = {"cells": 3, "capacity": "2250 mAh", "temperature": "52 °C", "ambient": "13 °C",
                    "cell_mass": "55 g"}  # fmt: skip
WARMED_UP: Question = {"cells": 3, "capacity": "1150 mAh", "temperature": "4 °C", "ambient": "33 °C",
                       "surroundings": "draught", "cell_mass": "28 g"}  # fmt: skip


def by_cooling(calculator: str, question: Question, most: float, least: float) -> Edges:
    """With the most and the least that the air may take, as parts of the figure used."""
    told = reply(calculator, **question)
    used = plain({**told["assumed"], **told["question"]}["cooling"])
    quick, slow = (asked(calculator, "time_to_target", question, cooling=f"{used * part!r} W/K")
                   for part in (most, least))  # fmt: skip
    return quick, slow


STACK: Question = {"current": "11 A", "packs": [TRAINER, TRAINER | {"capacity": "2200 mAh"}]}


def stacked(of: str, question: Question) -> Edges:
    """With four fifths of the labels and 1.13 times the resistances, and with 0.87 times these."""
    low, high = (
        asked(
            "series-join",
            of,
            question,
            packs=[
                pack | milliohms(8.5 * part) | {"capacity": f"{left * float(pack['capacity'].split()[0])!r} mAh"}
                for pack in question["packs"]
            ],
        )
        for part, left in ((1.13, 0.8), (0.87, 1.0))
    )
    return low, high


LOST = ("resistance", "drop", "drop_fraction", "loss_power", "loss_per_metre")

EDGES: list[tuple[str, str, Question, Callable[[Question], Edges]]] = [
    ("wattage", "supply_power", AERO | {"rate": 2}, lambda q: by_efficiency("wattage", q)),
    ("charge-current", "supply_power", AERO, lambda q: by_efficiency("charge-current", q)),
    ("group-charge", "supply_power", GROUP, lambda q: by_efficiency("group-charge", q)),
    ("charge-current", "time_total", TRAINER | {"rest_voltage": "11.31 V"}, lambda q: charge_time(q, 1.05)),
    ("charge-current", "time_total", TRAINER, lambda q: charge_time(q, 1.05)),
    (
        "charge-current",
        "time_total",
        {"chemistry": "liion", "cells": 4, "capacity": "3500 mAh", "rest_voltage": "14.4 V"},
        guessed_charge_time,
    ),
    ("group-charge", "time_total", GROUP, group_time),
    ("charge-session", "finish", ALONE, session_of_one),
    ("storage", "charge_to_move", AIRLINER | {"rest_voltage": "25.1 V", "target_state": 0.5}, stored),
    ("storage", "time_total", AIRLINER | {"rest_voltage": "25.1 V", "target_state": 0.5}, time_to_store),
    # Seven published cells at 3.80 V.
    ("charge-left", "state_of_charge", {"cells": 4, "rest_voltage": "15.20 V"}, lambda _: (0.433, 0.633)),
    ("charge-left", "charge_left", AERO | {"rest_voltage": "15.07 V"}, left),
    (
        "sag",
        "loaded_voltage",
        AERO | milliohms(4.2) | {"current": "48 A", "lead_resistance": "6.5 mΩ"},
        lambda q: sagging("loaded_voltage", "sag", q, 4.2 * 1.40, 4.2 * 0.60),
    ),
    (
        "sag",
        "loaded_voltage",
        AERO | milliohms(4.2) | KHZ | {"current": "18.5 A"},
        lambda q: sagging("loaded_voltage", "sag", q, 4.2 * 2.0 * 1.13, 4.2 * 1.2 * 0.87),
    ),
    ("alarm-voltage", "alarm_voltage", ALARM, alarm),
    (
        "safe-draw",
        "continuous_current",
        TRAINER,
        lambda q: sagging("continuous_current", "safe-draw", q, 8.5 * 1.30, 8.5 * 0.70),
    ),
    ("safe-draw", "burst_current", TRAINER, scaled("safe-draw", "burst_current", 0.6, 1.4)),
    ("pack-fitness", "continuous_current", TRAINER, scaled("pack-fitness", "continuous_current", 0.70, 1.30)),
    ("pack-fitness", "burst_current", TRAINER, scaled("pack-fitness", "burst_current", 0.6, 1.4)),
    ("load-test", "pack_resistance", READ, lambda q: metered("pack_resistance", q)),
    ("load-test", "rest_voltage", READ, lambda q: metered("rest_voltage", q)),
    ("load-test", "resistance_at_25C", READ, at_room),
    ("parallel-join", "peak_rate", {"packs": PAIR}, lambda q: joined("peak_rate", q)),
    ("group-charge", "peak_rate", {"packs": PAIR}, lambda q: joined("peak_rate", q)),
    ("parallel-join", "largest_difference", {"packs": PAIR}, lambda q: joined("largest_difference", q)),
    (
        "charge-temperature",
        "predicted_rise",
        WARMED | {"cell_mass": "100 g"},
        lambda q: (0.0, asked("charge-temperature", "predicted_rise", q, cell_mass="85 g")),
    ),
    (
        "endurance",
        "time_flight",
        {"cells": 3, "capacity": "1150 mAh", "current": "14 A", "cell_mass": "30 g"} | milliohms(11),
        flown,
    ),
    ("flight-timer", "average_current", TIMER, scaled("flight-timer", "average_current", 0.95, 1.05)),
    ("flight-timer", "timer", TIMER, scaled("flight-timer", "timer", 1 / 1.20, 1 / 0.80)),
    ("field-energy", "recharges", LEAD_SOURCE | TRAINER, recharged),
    ("standing-loss", "days_to_floor", STOOD, standing),
    (
        "cool-down",
        "time_to_target",
        COOLED,
        # Still air takes 5 to 12 of the 8 W/m²K that are counted on.
        lambda q: by_cooling("cool-down", q, 12 / 8, 5 / 8),
    ),
    ("cool-down", "time_to_target", COOLED | {"surroundings": "box"}, lambda q: by_cooling("cool-down", q, 1.5, 0.5)),
    (
        "cool-down",
        "time_to_target",
        COOLED | {"cooling": "0.03 W/K"},
        lambda q: by_cooling("cool-down", q, 1.3, 0.7),
    ),
    ("warm-up", "time_to_target", WARMED_UP, lambda q: by_cooling("warm-up", q, 50 / 25, 15 / 25)),
    # 14 to 16 hours: common practice, no published source.
    ("nickel-charge", "time_total", NICKEL, scaled("nickel-charge", "time_total", 14 / 16, 1)),
    ("nickel-charge", "time_total", NICKEL | {"rate": 0.5}, scaled("nickel-charge", "time_total", 1 / 1.1, 1.2 / 1.1)),
    ("receiver-time", "time_safe", RECEIVER, scaled("receiver-time", "time_safe", 1 / 1.3, 1 / 0.7)),
    (
        "receiver-time",
        "stall_voltage",
        RECEIVER,
        lambda q: sagging("stall_voltage", "receiver-time", q, 16 * 1.13, 16 * 0.87),
    ),
    (
        "pack-for-model",
        "mass_expected",
        {"cells": 3, "current": "14 A", "time_wanted": "6 min", "capacity_left": 0.8},
        scaled("pack-for-model", "mass_expected", 0.95, 1.4),
    ),
    ("series-join", "time_flight", STACK, lambda q: stacked("time_flight", q)),
    ("series-join", "loaded_voltage", STACK, lambda q: stacked("loaded_voltage", q)),
    ("let-down", "time_total", DOWN, lambda q: drained(q, 0.9, 1.1)),
    ("carriage", "energy", AIRLINER, scaled("carriage", "energy", 3.6 / 3.7, 3.8 / 3.7)),
    # FAA AC 43.13-1B table 11-9 against solid copper; IEC 60228 table 3, class 5.
    *(("lead-loss", of, WIRE, scaled("lead-loss", of, 0.97, 1.28)) for of in LOST),
    *(("lead-loss", of, FLEXIBLE, scaled("lead-loss", of, 1.0, 1.16)) for of in LOST),
]
ASSUMED: list[tuple[str, str, Question, dict[str, Any], dict[str, Any]]] = [
    # What nobody told is at its own edges: the slow part at 0.7 to 1.3, with 20 to 45 s, where the model errs less.
    (
        "sag",
        "loaded_voltage",
        AERO | {"cell_resistance": "4.2 mΩ", "current": "18 A"},
        milliohms(4.2 * 1.13, 2.1 * 1.3, 20),
        milliohms(4.2 * 0.87, 2.1 * 0.7, 45),
    ),
    # Published cells have 5 to 40 mΩ·Ah.
    (
        "sag",
        "loaded_voltage",
        AERO | {"current": "18 A"},
        milliohms(40 / 3.7 * 1.13, 20 / 3.7 * 1.3, 20),
        milliohms(5 / 3.7 * 0.87, 2.5 / 3.7 * 0.7, 45),
    ),
    # None is published of this kind: half to twice the figure that is taken.
    (
        "sag",
        "loaded_voltage",
        {"chemistry": "life", "cells": 2, "capacity": "2100 mAh", "current": "2.1 A", "duration": "0 s"},
        milliohms(35 / 2.1 * 2 * 1.13),
        milliohms(35 / 2.1 / 2 * 0.87),
    ),
    (
        "receiver-time",
        "time_safe",
        {"chemistry": "life", "cells": 2, "capacity": "2100 mAh", "servos": 4, "servo_current": "1.1 A"}
        | milliohms(16),
        {"idle_current": "0.5 A", "duty": 0.4, "capacity_left": 0.7},
        {"idle_current": "0.1 A", "duty": 0.1, "capacity_left": 1},
    ),
    (
        "endurance",
        "time_flight",
        {"chemistry": "lead", "cells": 6, "capacity": "7 Ah", "current": "7 A"} | milliohms(7.1),
        {"capacity": "5.6 Ah"} | milliohms(7.1 * 1.13),
        {"peukert": 1.05} | milliohms(7.1 * 0.87),
    ),
    (
        "flight-timer",
        "timer",
        {name: value for name, value in TIMER.items() if name != "capacity_left"},
        # A fifth more drawn, and 80 percent of the label left; and a fifth less.
        {"charge_returned": "1776 mAh", "capacity_left": 0.8},
        {"charge_returned": "1184 mAh", "capacity_left": 1},
    ),
]


@pytest.mark.parametrize(("calculator", "of", "question", "worst", "best"), ASSUMED)
def test_what_nobody_told_is_at_the_edges_of_its_own_doubt(
    calculator: str, of: str, question: Question, worst: dict[str, Any], best: dict[str, Any]
) -> None:
    edges = tuple(asked(calculator, of, question, **changed) for changed in (worst, best))
    assert band(calculator, of, question) == pytest.approx(edges, rel=1e-6)


ELSEWHERE = {
    ("alarm-voltage", "alarm_cell_voltage"): "as alarm_voltage, of the weakest cell",
    ("alarm-voltage", "resting_voltage"): "published cells: test_alarm_voltage",
    ("balance-need", "imbalance"): "published cells: test_balance_need",
    ("balance-need", "charge_gap"): "that of the imbalance, of the capacity: test_balance_need",
    ("balance-need", "time_to_level"): "that of the charge gap, at the bleed current: test_balance_need",
    ("counted-discharge", "measured_capacity"): "published cells: test_counted_discharge",
    ("capacity-check", "capacity_left"): "measured_capacity over the label: test_capacity_check",
    ("capacity-check", "measured_capacity"): "published cells: test_capacity_check",
}


@pytest.mark.parametrize(
    ("calculator", "of", "question", "edges"), EDGES, ids=[f"{case[0]}:{case[1]}" for case in EDGES]
)
def test_the_edges_are_the_answers_asked_again_at_the_edges_of_what_is_not_known(
    calculator: str, of: str, question: Question, edges: Callable[[Question], Edges]
) -> None:
    told = band(calculator, of, question)
    assert told is not None
    assert told == pytest.approx(edges(question), rel=1e-4, abs=1e-9)
    assert told[0] <= asked(calculator, of, question) <= told[1]


def test_every_band_has_its_edges_asked_again() -> None:
    seen = {
        (name, entry["of"])
        for name, calculator in registry().items()
        for example in calculator.examples
        for entry in reply(name, **example)["accuracy"]
    }
    assert seen - {(calculator, of) for calculator, of, *_ in EDGES} - ELSEWHERE.keys() == set()


@pytest.mark.parametrize("efficiency", [0.5, 0.79, 0.96])
def test_an_efficiency_that_no_everyday_charger_has_is_taken_as_told(efficiency: float) -> None:
    assert band("wattage", "supply_power", AERO | {"efficiency": efficiency}) is None


@pytest.mark.parametrize(("current", "error"), [("18.5 A", 0.13), ("18.6 A", 0.30), ("37 A", 0.30), ("37.1 A", 0.40)])
def test_the_model_errs_more_at_higher_rates(current: str, error: float) -> None:
    """13 % up to 5C, 30 % to 10C, 40 % beyond: comparison with full electrochemical models, for this project."""
    question = AERO | {"cell_resistance": "4.2 mΩ", "current": current, "duration": "0 s"}
    told, got = band("sag", "loaded_voltage", question), answer("sag", **question)
    assert told is not None
    assert told[0] == pytest.approx(got["loaded_voltage"] - error * got["sag"], abs=1e-9)
    assert told[1] == pytest.approx(got["loaded_voltage"] + error * got["sag"], abs=1e-9)


def test_a_guessed_resistance_has_the_whole_band_of_its_chemistry() -> None:
    """5 to 40 mΩ·Ah of a lipo pack, where 15 is taken; this project's own judgement."""
    question = AERO | {"current": "3.7 A", "duration": "0 s"}
    told, got = band("sag", "loaded_voltage", question), answer("sag", **question)
    assert told is not None
    assert told[0] == pytest.approx(got["rest_voltage"] - got["sag"] * 40 / 15 * 1.13, abs=1e-9)
    assert told[1] == pytest.approx(got["rest_voltage"] - got["sag"] * 5 / 15 * 0.87, abs=1e-9)


def test_no_band_of_a_voltage_goes_below_none() -> None:
    question = {"cells": 1, "capacity": "1150 mAh", "cell_resistance": "40 mΩ", "current": "60 A", "floor": "0 V"}
    told = band("sag", "loaded_voltage", question)
    assert told is not None
    assert told[0] == 0 < told[1]


BESIDE = {
    ("alarm-voltage", "alarm_cell_voltage"): "published cells differ at rest",
    ("alarm-voltage", "alarm_voltage"): "published cells differ at rest",
    ("alarm-voltage", "resting_voltage"): "published cells differ at rest",
    ("balance-need", "imbalance"): "published cells differ at rest",
    ("balance-need", "charge_gap"): "published cells differ at rest",
    ("balance-need", "time_to_level"): "published cells differ at rest",
    ("capacity-check", "capacity_left"): "published cells differ at rest",
    ("capacity-check", "measured_capacity"): "published cells differ at rest",
    ("counted-discharge", "measured_capacity"): "published cells differ at rest",
    ("load-test", "pack_resistance"): "the resolution of the meters is an input",
    ("load-test", "resistance_at_25C"): "the resolution of the meters is an input",
    ("load-test", "rest_voltage"): "the resolution of the meters is an input",
    ("standing-loss", "days_to_floor"): "the resolution of the meter is an input",
    ("storage", "charge_to_move"): "published cells differ at rest",
    ("storage", "time_total"): "a charger may hold the storage voltage itself, which takes longer",
    ("charge-temperature", "predicted_rise"): "from nothing, since air may take all of the heat",
}
"""Bands, or edges of them, that rest on something else than the table of doubts."""


@pytest.mark.parametrize("name", registry())
def test_without_the_table_of_doubts_no_band_has_any_width(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    for entry, doubt in doubts.PLAUSIBLE.items():
        sure = doubt._replace(edges=lambda taken, told: (taken, taken))
        monkeypatch.setitem(doubts.PLAUSIBLE, entry, sure)  # type: ignore[arg-type]
    for entry, error in doubts.ERRORS.items():
        none = 0.0 if entry.endswith(" beside") else 1.0
        monkeypatch.setitem(doubts.ERRORS, entry, error._replace(low=none, high=none))  # type: ignore[arg-type]
    monkeypatch.setattr(Pack, "state_edges", lambda pack: (pack.states(), pack.states()))
    for example in registry()[name].examples:
        for entry in reply(name, **example)["accuracy"]:
            low, high = plain(entry["low"]), plain(entry["high"])
            if (name, entry["of"]) not in BESIDE:
                assert high == pytest.approx(low, rel=1e-9), entry


TOLD = frozenset({"cell_resistance"})


@pytest.mark.parametrize(
    ("method", "low", "high"),
    [("1s", 1.0, 1.0), ("1kHz", 1.2 / 1.4, 2.0 / 1.4), ("charger", 0.8, 1.5)],
)
def test_what_is_not_known_of_a_figure_is_its_method_at_the_warmth_of_the_measurement(
    method: str, low: float, high: float
) -> None:
    assert resistance_factors(Pack(cells=3, resistance_method=method), TOLD) == pytest.approx((low, high))


@pytest.mark.parametrize("celsius", [-5, 10, 40, 55])
def test_away_from_that_warmth_the_published_band_of_activation_counts_and_more_in_the_cold(celsius: float) -> None:
    away = 1 / (celsius + 273.15) - 1 / 298.15
    ratios = [exp(energy / 8.314462618 * away) for energy in (15e3, 20e3, 25e3)]
    low, high = resistance_factors(Pack(cells=3, temperature=celsius + 273.15, resistance_method="charger"), TOLD)
    assert low == pytest.approx(0.8 * min(ratios) / ratios[1])
    # What full-order models of cells in cold air need (tests/reference/makers/full_order_flights.py).
    steepest = exp(35e3 / 8.314462618 * away)
    assert high == pytest.approx(1.5 * max(*ratios, steepest) / ratios[1])

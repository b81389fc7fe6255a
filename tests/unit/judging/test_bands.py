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

Question = dict[str, Any]
Edges = tuple[float, float]
AERO: Question = {"cells": 4, "capacity": "3700 mAh"}
TRAINER: Question = {"cells": 3, "capacity": "2250 mAh", "cell_resistance": "8.5 mΩ"}
AIRLINER: Question = {"cells": 6, "capacity": "4900 mAh"}


def band(calculator: str, of: str, question: Question) -> Edges | None:
    for entry in reply(calculator, **question)["accuracy"]:
        if entry["of"] == of:
            return plain(entry["low"]), plain(entry["high"])
    return None


def asked(calculator: str, of: str, question: Question, **changed: Any) -> float:
    figure: float = answer(calculator, **question | changed)[of]
    return figure


def milliohms(size: float) -> dict[str, str]:
    return {"cell_resistance": f"{size!r} mΩ"}


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
    worst = {"efficiency": 0.80, "peukert": 1.25, "source_capacity": "30.4 Ah"}
    best = {"efficiency": 0.95, "peukert": 1.05}
    return asked("field-energy", "recharges", question, **worst), asked("field-energy", "recharges", question, **best)


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


KHZ = {"resistance_method": "1kHz"}
PAIR = [
    TRAINER | KHZ | {"rest_voltage": "11.31 V"},
    TRAINER | KHZ | {"cell_resistance": "9 mΩ", "rest_voltage": "11.40 V"},
]
LEAD_SOURCE: Question = {
    "source_chemistry": "lead",
    "source_cells": 6,
    "source_capacity": "38 Ah",
    "source_cell_resistance": "2.2 mΩ",
    "input_floor": "11 V",
    "rate": 1,
}
READ: Question = {"currents": "4,48 A", "voltages": "16.30,15.17 V", "temperature": "13 °C"}
STOOD: Question = {
    "first_cell_voltages": "3.86,3.86,3.85 V",
    "second_cell_voltages": "3.85,3.85,3.78 V",
    "days": 17,
}
TIMER: Question = {"flight_time": "7.5 min", "charge_returned": "1480 mAh", "capacity": "2250 mAh"}
ALARM: Question = AERO | {"cell_resistance": "4.6 mΩ", "current": "38 A"}
WIRE: Question = {"gauge": "16 AWG", "length": "0.35 m", "current": "14 A", "voltage": "11.1 V"}
FLEXIBLE: Question = WIRE | {"gauge": "1.5 mm²"}
GROUP: Question = {"charger_current_limit": "3 A"} | {
    "packs": [TRAINER | {"rest_voltage": volts} for volts in ("11.31 V", "11.33 V", "11.28 V")]
}
WARMED: Question = AIRLINER | {"cell_resistance": "2.6 mΩ", "current": "4.3 A", "temperature": "33 °C"}
WARMED["resistance_temperature"] = "33 °C"
RECEIVER: Question = {"chemistry": "life", "cells": 2, "capacity": "2100 mAh", "cell_resistance": "16 mΩ", "servos": 4,
                      "servo_current": "1.1 A"}  # fmt: skip
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
COOLED: Question = {"cells": 3, "capacity": "2250 mAh", "temperature": "52 °C", "ambient": "13 °C"}
WARMED_UP: Question = {"cells": 3, "capacity": "1150 mAh", "temperature": "4 °C", "ambient": "33 °C",
                       "surroundings": "draught"}  # fmt: skip


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
        lambda q: charge_time(q, 1.05 * 1.35),
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
        AERO | {"cell_resistance": "4.2 mΩ", "current": "48 A", "lead_resistance": "6.5 mΩ"},
        lambda q: sagging("loaded_voltage", "sag", q, 4.2 * 1.40, 4.2 * 0.60),
    ),
    (
        "sag",
        "loaded_voltage",
        AERO | KHZ | {"cell_resistance": "4.2 mΩ", "current": "18.5 A"},
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
        {"cells": 3, "current": "14 A", "time_wanted": "6 min"},
        scaled("pack-for-model", "mass_expected", 1, 1.4),
    ),
    ("series-join", "time_flight", STACK, lambda q: stacked("time_flight", q)),
    ("series-join", "loaded_voltage", STACK, lambda q: stacked("loaded_voltage", q)),
    ("let-down", "time_total", DOWN, lambda q: drained(q, 0.9, 1.1)),
    ("carriage", "energy", AIRLINER, scaled("carriage", "energy", 3.6 / 3.7, 3.8 / 3.7)),
    # FAA AC 43.13-1B table 11-9 against solid copper; IEC 60228 table 3, class 5.
    *(("lead-loss", of, WIRE, scaled("lead-loss", of, 0.97, 1.28)) for of in LOST),
    *(("lead-loss", of, FLEXIBLE, scaled("lead-loss", of, 1.0, 1.16)) for of in LOST),
]
ELSEWHERE = {
    ("alarm-voltage", "alarm_cell_voltage"): "as alarm_voltage, of the weakest cell",
    ("alarm-voltage", "resting_voltage"): "published cells: test_alarm_voltage",
    ("balance-need", "imbalance"): "published cells: test_balance_need",
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

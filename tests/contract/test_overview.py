"""One pack's facts, and all that is said of it: the same by every way, in order, and never yes and no at once."""

import json
import random
from typing import Any
from urllib.parse import urlencode

import pytest
from flask.testing import FlaskClient
from profiles import count

from ampstead.calculators import registry
from ampstead.declare import MOMENTS
from ampstead.replying.beyond.overview import FACTS, NAMED
from ampstead.replying.local import embedded

TRAINER = {
    "cells": "3",
    "capacity": "2250 mAh",
    "cell_resistance": "8.5 mohm",
    "rest_voltage": "11.31 V",
    "temperature": "13 degC",
    "max_rate": "2",
}
CALCULATORS = registry()


def asked(**facts: Any) -> dict[str, Any]:
    status, document = embedded("overview", facts)
    assert status == 200, document
    made: dict[str, Any] = document
    return made


def test_every_way_to_ask_gives_the_same(http: FlaskClient) -> None:
    got = http.get(f"/v1/overview?{urlencode(TRAINER)}")
    assert got.status_code == 200
    assert got.headers["Content-Type"] == "application/json"
    assert http.post("/v1/overview", json=TRAINER).json == got.json == asked(**TRAINER)
    spoken = http.get(f"/v1/overview.txt?{urlencode(TRAINER)}")
    assert spoken.headers["Content-Type"] == "text/plain; charset=utf-8"
    assert spoken.text.startswith(str(got.json["sentence"]))
    assert embedded("overview", TRAINER, ".txt") == (200, spoken.data)


def test_a_calculator_says_what_it_says_alone_and_the_others_what_they_lack(http: FlaskClient) -> None:
    told = asked(**TRAINER)
    assert {*told["answers"], *told["unanswered"]} == set(CALCULATORS)
    assert not told["answers"].keys() & told["unanswered"].keys()
    alone = {name: value for name, value in TRAINER.items() if name != "max_rate"}
    assert told["answers"]["charge-current"]["answer"] == http.post("/v1/charge-current", json=TRAINER).json["answer"]
    for name in ("charge-left", "pack-fitness", "storage", "carriage"):
        taken = {each: value for each, value in alone.items() if each in CALCULATORS[name].inputs}
        assert told["answers"][name]["answer"] == http.post(f"/v1/{name}", json=taken).json["answer"], name
    assert told["unanswered"]["flight-timer"] == ["flight_time", "charge_returned"]
    assert told["unanswered"]["alarm-voltage"] == ["typical_current"]
    assert told["unanswered"]["receiver-time"] == ["servos", "servo_current"]
    assert told["unanswered"]["parallel-join"] == ["packs"]


def test_answers_come_in_the_order_of_a_fliers_day() -> None:
    names = list(asked(**TRAINER, typical_current="14 A")["answers"])
    places = [(MOMENTS.index(CALCULATORS[name].when.moment), CALCULATORS[name].when.place) for name in names]
    assert places == sorted(places)
    assert len(names) > 8


def test_all_that_is_wrong_with_the_facts_is_told_at_once(http: FlaskClient) -> None:
    wrong = {"cells": "3", "capacity": "2250", "typical_curent": "14 A", "temperature": "90 degC"}
    reply = http.get(f"/v1/overview?{urlencode(wrong)}")
    assert reply.status_code == 422
    assert {(error["field"], error["code"]) for error in reply.json["errors"]} == {
        ("capacity", "unit_missing"),
        ("typical_curent", "unknown"),
        ("temperature", "out_of_range"),
    }
    assert "did you mean typical_current?" in reply.text
    assert http.get("/v1/overview?cells=3&cells=4").json["errors"][0]["code"] == "repeated"
    assert http.get("/v1/overview.txt?cells=x").headers["Content-Type"].startswith("text/plain")
    assert http.put("/v1/overview").status_code == 405


@pytest.mark.parametrize("name", ["current", "rate", "power", "load", "duration"])
def test_what_two_calculators_mean_differently_is_no_fact(name: str, http: FlaskClient) -> None:
    assert name not in FACTS.inputs
    assert http.post("/v1/overview", json={**TRAINER, name: "14 A"}).json["errors"][0]["code"] == "unknown"


def test_a_flights_current_is_never_a_charges_nor_the_other_way_round() -> None:
    told = asked(**{**TRAINER, "rest_voltage": "12.25 V"}, typical_current="14 A", charge_rate="0.5")["answers"]
    assert told["sag"]["question"]["current"] == {"value": 14, "unit": "A"}
    assert told["endurance"]["question"]["current"] == {"value": 14, "unit": "A"}
    assert "rate" not in told["sag"]["question"]
    for name in ("charge-current", "wattage", "storage"):
        assert told[name]["question"]["rate"] == 0.5
    assert told["charge-temperature"]["question"]["current"] == {"value": 1.125, "unit": "A"}


def test_a_receivers_reserve_and_regulator_are_not_a_motors_and_a_chargers() -> None:
    told = asked(**TRAINER, servos=4, servo_current="1.1 A", reserve=0.2, efficiency=0.9, condition="sound")
    receiver = told["answers"]["receiver-time"]
    assert receiver["assumed"]["reserve"] == 0.5
    assert "efficiency" not in receiver["question"]
    assert NAMED["receiver-time"] == {"reserve": (), "efficiency": ()}


def test_the_charge_is_one_charge_everywhere() -> None:
    told = asked(**{**TRAINER, "charger_current_limit": "0.8 A"})["answers"]
    assert told["charge-current"]["answer"]["current"]["value"] == pytest.approx(0.8)
    assert told["wattage"]["answer"]["current"]["value"] == pytest.approx(0.8)
    assert told["storage"]["answer"]["current"]["value"] == pytest.approx(0.8)
    assert told["charge-temperature"]["question"]["current"]["value"] == pytest.approx(0.8)


def test_a_pack_of_a_kind_that_a_calculator_cannot_judge_is_unanswered_with_why() -> None:
    told = asked(chemistry="nimh", cells=6, capacity="2100 mAh", temperature="13 degC")
    assert "not supported" in told["unanswered"]["charge-current"][0]
    assert set(told["answers"]) >= {"nickel-charge", "wattage", "charge-temperature", "carriage"}
    charge = told["answers"]["nickel-charge"]["answer"]["current"]["value"]
    assert told["answers"]["wattage"]["answer"]["current"]["value"] == pytest.approx(charge)


def test_a_pack_that_lost_its_capacity_is_retired_and_by_nobody_charged_or_flown() -> None:
    told = asked(**TRAINER, measured_capacity="900 mAh", typical_current="14 A")
    assert told["verdict"] == {"charge": False, "fly": False, "retire": True}
    assert told["answers"]["pack-fitness"]["answer"]["verdict"] == "retire"
    assert told["sentence"].startswith("Retire this lithium-polymer pack")
    for name in ("charge-current", "wattage", "storage", "endurance", "alarm-voltage", "charge-temperature"):
        assert "pack-fitness speaks against it" in told["unanswered"][name][0]
    full = asked(**{**TRAINER, "rest_voltage": "12.4 V"}, measured_capacity="900 mAh")
    assert full["answers"]["let-down"]["question"]["to"] == "empty"


def test_an_unsound_pack_is_retired_even_where_no_calculator_is_answered() -> None:
    told = asked(condition="swollen")
    assert told["answers"] == {}
    assert told["verdict"] == {"charge": False, "fly": False, "retire": True}
    assert told["sentence"].startswith("Retire this lithium-polymer pack: it is swollen.")


def test_nothing_known_is_nothing_said() -> None:
    told = asked()
    assert told["verdict"] == {"charge": None, "fly": None, "retire": None}
    assert "nothing can be told" in told["sentence"]


SPOKEN = {
    "charged": ({"cells": 3, "capacity": "2250 mAh"}, "Charge this lithium-polymer pack at"),
    "too cold": ({**TRAINER, "temperature": "-5 degC", "rest_voltage": "12.3 V"}, "Do not charge"),
    "flown low": ({**TRAINER, "rest_voltage": "11.1 V"}, "Do not fly it: "),
    "retired": ({**TRAINER, "condition": "crashed"}, "Retire this lithium-polymer pack: "),
    "too weak": ({**TRAINER, "typical_current": "150 A"}, "This lithium-polymer pack is sound, but too weak"),
}


@pytest.mark.parametrize(("facts", "start"), SPOKEN.values(), ids=SPOKEN)
def test_the_gravest_is_spoken_first_in_a_few_sentences(facts: dict[str, Any], start: str) -> None:
    status, body = embedded("overview", facts, ".txt")
    said = body.decode()
    assert status == 200
    assert said.startswith(start), said
    assert said.endswith(".\n")
    assert len(said.split()) < 110, said


# What a reader takes from an answer, told from its JSON alone.
def charges(name: str, answer: dict[str, Any]) -> bool | None:
    if name in ("charge-current", "nickel-charge", "wattage"):
        return bool(answer["current"]["value"] > 0)
    if name == "charge-temperature":
        return bool(answer["allowed"])
    if name == "storage" and answer["action"] == "charge" and answer["current"]:
        return bool(answer["current"]["value"] > 0)
    return None


def flies(name: str, envelope: dict[str, Any]) -> bool | None:
    """Of the pack as it is, where its state is told; of the pack charged, elsewhere."""
    answer = envelope["answer"]
    if name == "charge-left":
        return bool(answer["flies"])
    if name == "endurance":
        return bool(answer["time_flight"]["value"] > 0) and not envelope["sentence"].startswith(
            ("Do not fly", "Do not use")
        )
    if name == "receiver-time":
        return bool(answer["verdict"] == "go")
    return None


def fit(name: str, answer: dict[str, Any]) -> bool | None:
    if name == "pack-fitness":
        return bool(answer["verdict"] == "flight")
    if name == "alarm-voltage":
        return answer["alarm_voltage"] is not None
    return True if name == "flight-timer" else None


def random_pack(draw: random.Random) -> dict[str, Any]:
    """Some facts of a pack, sound or not, fresh or worn, cold or hot, full or empty."""
    kind = draw.choice(["lipo"] * 5 + ["lihv", "liion", "life", "lead", "nimh", "nicd"])
    cells = 6 if kind == "lead" else draw.randint(1, 6)
    full = {"lipo": 4.2, "lihv": 4.35, "liion": 4.2, "life": 3.6, "lead": 2.4, "nimh": 1.45, "nicd": 1.45}[kind]
    made: dict[str, Any] = {
        "chemistry": kind,
        "cells": cells,
        "capacity": f"{draw.choice([450, 1150, 2250, 4900])} mAh",
    }
    resistance = draw.choice([2.6, 4.2, 8.5, 14, 40])
    optional = {
        "cell_resistance": f"{resistance} mohm",
        "temperature": f"{draw.choice([-12, 2, 8, 13, 25, 33, 44, 58])} degC",
        "condition": draw.choice(["sound"] * 8 + ["swollen", "wet", "crashed"]),
        "charge_rate": draw.choice([0.2, 1, 3]),
        "max_rate": draw.choice([0.3, 1, 2, 5]),
        "label_rate": draw.choice([3, 25, 45]),
        "charger_current_limit": f"{draw.choice([0.3, 5, 8])} A",
        "charger_power_limit": f"{draw.choice([10, 60, 110])} W",
        "available_power": f"{draw.choice([5, 45, 180])} W",
        "typical_current": f"{draw.choice([3, 14, 23, 48, 140])} A",
        "peak_current": f"{draw.choice([14, 48, 200])} A",
        "flight_time": f"{draw.choice([4, 7.5, 20])} min",
        "charge_returned": f"{draw.choice([300, 1480, 2390])} mAh",
        "reserve": draw.choice([0, 0.2, 0.4]),
        "ambient": f"{draw.choice([-5, 13, 33])} degC",
        "measured_capacity": f"{draw.choice([300, 1000, 2000, 4500])} mAh",
        "reference_resistance": f"{draw.choice([2.6, 8.5, 14])} mohm",
        "servos": draw.choice([3, 6]),
        "servo_current": f"{draw.choice([0.8, 1.1, 3])} A",
        "time_planned": f"{draw.choice([8, 40])} min",
        "capacity_left": draw.choice([0.5, 0.9]),
        "days": 17,
    }
    made |= {name: value for name, value in optional.items() if draw.random() < 0.35}
    if "servos" in made:
        made.setdefault("servo_current", "1.1 A")
    state = draw.choice(["none", "state_of_charge", "rest_voltage", "cell_voltages", "cell_voltages"])
    low = full * draw.choice([0.3, 0.6, 0.78, 0.85, 0.9, 0.92, 0.95, 0.98, 1.0, 1.005])
    if state == "state_of_charge":
        made[state] = draw.choice([0, 0.05, 0.2, 0.5, 0.9, 1])
    elif state == "rest_voltage":
        made[state] = f"{low * cells:.3f} V"
    elif state == "cell_voltages":
        spread = draw.choice([0, 0.005, 0.03, 0.2])
        each = [max(0.0, low - spread * draw.random()) for _ in range(cells)]
        made[state] = ",".join(f"{voltage:.3f}V" for voltage in each)
        if "days" in made:
            made["second_cell_voltages"] = made[state]
            made["first_cell_voltages"] = ",".join(f"{v + draw.choice([0, 0.001, 0.3]):.3f}V" for v in each)
    return made


WORKERS = 8


@pytest.mark.parametrize("part", range(WORKERS))
def test_no_two_answers_disagree_on_charging_flying_or_retiring(part: int) -> None:
    draw = random.Random(20_000 + part)
    seen: set[tuple[str, bool | None]] = set()
    for _ in range(count(15, 5000 // WORKERS)):
        facts = random_pack(draw)
        status, told = embedded("overview", facts)
        if status == 422:
            assert {error["code"] for error in told["errors"]} <= {"out_of_range", "wrong_length"}, facts
            continue
        assert status == 200, facts
        verdict, answers = told["verdict"], told["answers"]
        seen |= {(name, value) for name, value in verdict.items()}
        told_to_retire = [
            name for name in ("pack-fitness", "standing-loss")
            if name in answers and answers[name]["answer"]["verdict"] == "retire"
        ]  # fmt: skip
        unsound = facts.get("condition", "sound") != "sound"
        charge = {n: said for n, a in answers.items() if (said := charges(n, a["answer"])) is not None}
        fly = {n: said for n, a in answers.items() if (said := flies(n, a)) is not None}
        suits = {n: said for n, a in answers.items() if (said := fit(n, a["answer"])) is not None}
        where = json.dumps([facts, charge, fly, suits, verdict])
        assert len(set(charge.values())) <= 1, where
        assert len(set(fly.values())) <= 1, where
        assert len(set(suits.values())) <= 1, where
        if told_to_retire or unsound:
            assert verdict == {"charge": False, "fly": False, "retire": True}, where
            assert True not in {*charge.values(), *fly.values(), *suits.values()}, where
            assert told["sentence"].startswith("Retire"), where
            draw_told = answers.get("safe-draw", {"answer": {"continuous_current": {"value": 0}}})
            assert draw_told["answer"]["continuous_current"]["value"] == 0, where
            assert "sag" not in answers or answers["sag"]["answer"]["holds"] is False, where
        else:
            assert verdict["retire"] is not True, where
        if False in suits.values():
            assert True not in fly.values(), where
        if charge:
            assert verdict["charge"] is next(iter(charge.values())), where
        if False in fly.values() or False in suits.values():
            assert verdict["fly"] is False, where
        currents = {
            answers[n]["answer"]["current"]["value"]
            for n in ("charge-current", "nickel-charge", "wattage")
            if n in answers
        }
        assert max(currents, default=0) <= min(currents, default=0) * (1 + 1e-9), where
    assert {("charge", True), ("charge", False), ("fly", False), ("retire", True)} <= seen

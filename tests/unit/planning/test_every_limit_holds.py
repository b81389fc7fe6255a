"""Plans for random sessions, added up anew second by second: at no instant is a limit exceeded."""

from functools import cache
from itertools import pairwise
from random import Random
from typing import Any

import numpy as np
import pytest
from profiles import count
from reference.asking import answer
from unit.planning.checker import Floats, Job, powers

SESSIONS = count(16, 300)
NEAR, SOON = 0.004, 5.0
"""Part of a power, and seconds of a charge, by which steps of a second err."""
EFFICIENCY = 0.85
Session = tuple[dict[str, Any], dict[str, Any]]


def session(seed: int) -> dict[str, Any]:
    """A question: packs of like cells in known states, chargers of all kinds, a supply that is mostly scarce."""
    random = Random(seed)

    def pack(place: int) -> dict[str, Any]:
        chemistry = random.choice(["lipo", "lipo", "lipo", "liion", "life"])
        made = {
            "name": f"pack {place}",
            "chemistry": chemistry,
            "cells": random.choice([2, 3, 4, 6]),
            "capacity": f"{random.randrange(800, 5000)} mAh",
            "cell_resistance": f"{random.uniform(4, 20):.2f} mΩ",
            "state_of_charge": round(random.uniform(0.1, 0.9), 3),
        }
        made |= {"rate": 1} if chemistry != "liion" else {}
        if random.random() < 0.3:
            made["ready_at"] = f"{random.randrange(0, 90)} min"
        if random.random() < 0.4:
            made["need_by"] = f"{random.randrange(20, 200)} min"
        if random.random() < 0.2:
            made |= {"rate": 2, "max_rate": 1.5}
        return made

    def charger() -> dict[str, Any]:
        made: dict[str, Any] = {"outputs": random.choice([1, 1, 2, 4]), "efficiency": EFFICIENCY}
        if random.random() < 0.7:
            made["current_limit"] = f"{random.choice([2, 5, 8])} A"
        if random.random() < 0.7:
            made["power_limit"] = f"{random.choice([40, 60, 110])} W"
        if made["outputs"] > 1 and random.random() < 0.5:
            made["total_power_limit"] = f"{random.choice([60, 90, 150])} W"
        if random.random() < 0.4:
            made["idle_power"] = f"{random.choice([1, 3, 6])} W"
        if random.random() < 0.3:
            made |= {"cells_min": 2, "cells_max": random.choice([3, 4])}
        return made

    made = {
        "packs": [pack(place) for place in range(1, random.randrange(2, 9))],
        "chargers": [charger() for _ in range(random.randrange(1, 4))],
        "supply_rating": f"{random.choice([40, 60, 60, 90, 120, 240])} W",
        "headroom": random.choice([0.0, 0.1, 0.25]),
        "swap_time": f"{random.choice([0, 1, 2, 3.5])} min",
        "watch_limit": random.choice([1, 2, 3, 4, 4, 8]),
    }
    if random.random() < 0.25:
        often = random.choice([7, 20, 45])
        made["by_hand"] = f"{often} min" if random.random() < 0.5 else [f"{often * n} min" for n in range(1, 40)]
    return made


@cache
def answered() -> tuple[list[Session], list[slice], list[Floats], Floats]:
    """The sessions with their answers, where the charges of each are among all, and those second by second."""
    sessions = [(question, answer("charge-session", **question)) for question in map(session, range(SESSIONS))]
    jobs: list[Job] = []
    places = []
    for question, got in sessions:
        packs = {pack["name"]: pack for pack in question["packs"]}
        start = len(jobs)
        for charge in got["plan"]:
            pack = packs[charge["pack"]]
            jobs.append(
                Job(
                    chemistry=pack["chemistry"],
                    cells=pack["cells"],
                    capacity=3.6 * figure(pack["capacity"]),
                    ohmic=figure(pack["cell_resistance"]) / 1000,
                    state=pack["state_of_charge"],
                    current=charge["current"],
                )
            )
        places.append(slice(start, len(jobs)))
    return sessions, places, *powers(jobs, [time for _, got in sessions for time in lasting(got)])


def lasting(got: dict[str, Any]) -> list[float]:
    return [seconds(charge["end"] - charge["begin"]) for charge in got["plan"]]


def figure(text: str) -> float:
    return float(text.split()[0])


def seconds(minutes: float) -> float:
    return 60.0 * minutes


def drawn(plan: list[dict[str, Any]], put: list[Floats], finish: float) -> Floats:
    """What all charges of a plan put into their packs at each second of the session, one row a charge."""
    times = np.arange(int(finish) + 2)
    rows = []
    for charge, power in zip(plan, put, strict=True):
        at = times - seconds(charge["begin"])
        on = (at >= 0) & (at < seconds(charge["end"] - charge["begin"]))
        rows.append(np.where(on, power[np.clip(at, 0, len(power) - 1).astype(int)], 0.0))
    return np.array(rows).reshape(len(plan), len(times))


def each_session() -> list[tuple[dict[str, Any], dict[str, Any], list[Floats], Floats]]:
    sessions, places, put, ends = answered()
    return [(*told, put[place], ends[place]) for told, place in zip(sessions, places, strict=True)]


def test_the_supply_and_every_charger_have_the_power_at_every_second() -> None:
    scarce = 0
    for question, got, put, _ in each_session():
        if not got["plan"]:
            continue
        rows = drawn(got["plan"], put, seconds(got["finish"]))
        used = [
            n for n, charger in enumerate(question["chargers"]) if any(takes(charger, p) for p in question["packs"])
        ]
        idle = sum(figure(question["chargers"][n].get("idle_power", "0 W")) for n in used)
        total = rows.sum(axis=0) / EFFICIENCY + idle
        limit = figure(question["supply_rating"]) * (1 - question["headroom"])
        assert total.max() <= limit * (1 + NEAR), question
        assert got["peak_power"] >= total.max() * (1 - NEAR)
        assert got["peak_power"] <= limit * (1 + 1e-6)
        assert got["supply_energy"] == pytest.approx(
            (rows.sum() / EFFICIENCY + idle * seconds(got["finish"])) / 3600, rel=0.01
        )
        scarce += total.max() > 0.98 * limit
        for number, charger in enumerate(question["chargers"], 1):
            own = [n for n, charge in enumerate(got["plan"]) if charge["charger"] == f"charger {number}"]
            if own and "total_power_limit" in charger:
                assert rows[own].sum(axis=0).max() <= figure(charger["total_power_limit"]) * (1 + NEAR)
    assert scarce > SESSIONS / 8, "hardly a session lacks power"


def takes(charger: dict[str, Any], pack: dict[str, Any]) -> bool:
    return bool(charger.get("cells_min", 1) <= pack["cells"] <= charger.get("cells_max", 24))


def test_no_output_and_no_pack_gets_more_than_it_may() -> None:
    for question, got, put, _ in each_session():
        packs = {pack["name"]: pack for pack in question["packs"]}
        for charge, power in zip(got["plan"], put, strict=True):
            charger = question["chargers"][int(charge["charger"].split()[1]) - 1]
            pack = packs[charge["pack"]]
            assert takes(charger, pack)
            assert 1 <= charge["output"] <= charger["outputs"]
            rate = min(pack.get("rate", 0.5), pack.get("max_rate", 100))
            assert charge["current"] <= rate * figure(pack["capacity"]) / 1000 * (1 + 1e-9)
            assert charge["current"] <= figure(charger.get("current_limit", "1000 A")) * (1 + 1e-9)
            assert power.max() <= figure(charger.get("power_limit", "10000 W")) * (1 + NEAR)
            assert charge["supply_power"] == pytest.approx(power.max() / EFFICIENCY, rel=NEAR)


def test_every_charge_is_as_long_as_it_takes_and_every_pack_is_told_of_once() -> None:
    for question, got, _, ends in each_session():
        for charge, end in zip(got["plan"], ends, strict=True):
            assert seconds(charge["end"] - charge["begin"]) == pytest.approx(end, rel=NEAR, abs=SOON)
        told = [entry["pack"] for entry in (*got["plan"], *got["unserved"])]
        assert sorted(told) == sorted(pack["name"] for pack in question["packs"])
        if got["plan"]:
            assert got["finish"] == max(charge["end"] for charge in got["plan"])
            assert got["bound"] <= got["finish"] * (1 + 1e-9)


def test_one_person_swaps_one_pack_after_the_other_and_only_when_there() -> None:
    for question, got, _, _ in each_session():
        swap = figure(question["swap_time"])
        begins = sorted(charge["begin"] for charge in got["plan"] if charge["begin"] > 0)
        assert all(after - before >= swap - 1e-6 for before, after in pairwise(begins))
        outputs: dict[tuple[str, int], list[dict[str, Any]]] = {}
        for charge in got["plan"]:
            outputs.setdefault((charge["charger"], charge["output"]), []).append(charge)
        for charges in outputs.values():
            for before, after in pairwise(sorted(charges, key=lambda charge: charge["begin"])):
                assert after["begin"] >= before["end"] + swap - 1e-6
        if "by_hand" in question:
            often = figure(question["by_hand"] if isinstance(question["by_hand"], str) else question["by_hand"][0])
            chained = {0.0}
            for begin in begins:
                since = (begin - swap) % often
                at_visit = min(since, often - since) < 0.02
                assert at_visit or any(abs(begin - swap - other) < 0.02 for other in chained), (begin, question)
                chained.add(begin)


def test_no_more_are_watched_than_may_be_and_no_pack_begins_before_it_is_there() -> None:
    for question, got, _, _ in each_session():
        edges = sorted([(c["begin"], 1) for c in got["plan"]] + [(c["end"] - 1e-6, -1) for c in got["plan"]])
        assert max(np.cumsum([change for _, change in edges]), default=0) <= question["watch_limit"]
        ready = {pack["name"]: figure(pack.get("ready_at", "0 min")) for pack in question["packs"]}
        assert all(charge["begin"] >= ready[charge["pack"]] - 1e-9 for charge in got["plan"])


def test_a_pack_that_is_not_said_to_be_late_is_in_time_even_if_it_takes_long() -> None:
    late = 0
    for question, got, _, _ in each_session():
        packs = {pack["name"]: pack for pack in question["packs"]}
        said = {entry["pack"]: entry["late_by"] for entry in got["late"]}
        late += len(said)
        for charge in got["plan"]:
            pack = packs[charge["pack"]]
            if "need_by" in pack:
                resistive = figure(pack["cell_resistance"]) * figure(pack["capacity"]) / 1000 >= 50
                longest = (charge["end"] - charge["begin"]) * 1.05 * (1.35 if resistive else 1.0) + 15
                over = charge["begin"] + longest - figure(pack["need_by"])
                assert over <= said.get(charge["pack"], 0.0) + 1e-6
                assert charge["pack"] not in said or said[charge["pack"]] > 0
    assert late > SESSIONS / 10


OPEN = ([0.0, 0.25, 0.5, 0.75, 1.0], [11.7, 12.0, 12.2, 12.4, 12.6])
"""Of a lead-acid battery of six cells: US Army TM 5-3805-262-20."""


@pytest.mark.parametrize("exponent", [1.0, 1.25])
def test_a_battery_holds_its_depth_and_its_floor_to_the_end(exponent: float) -> None:
    packs = [
        {"name": f"pack {n}", "chemistry": "lipo", "cells": 3, "capacity": f"{1000 + 150 * n} mAh",
         "cell_resistance": "9 mΩ", "state_of_charge": 0.2, "rate": 1}
        for n in range(1, 9)
    ]  # fmt: skip
    question = {
        "packs": packs, "chargers": [{"outputs": 3, "idle_power": "2 W"}], "swap_time": "2 min", "peukert": exponent,
        "source": {"chemistry": "lead", "cells": 6, "capacity": "20 Ah", "cell_resistance": "5 mΩ"},
        "input_floor": "12 V", "lead_resistance": "10 mΩ",
    }  # fmt: skip
    got = answer("charge-session", **question)
    assert 2 <= len(got["plan"]) < 8
    capacities = {pack["name"]: figure(pack["capacity"]) for pack in packs}
    jobs = [
        Job(
            chemistry="lipo",
            cells=3,
            capacity=3.6 * capacities[c["pack"]],
            ohmic=0.009,
            state=0.2,
            current=c["current"],
        )
        for c in got["plan"]
    ]
    put, _ = powers(jobs, lasting(got))
    power = drawn(got["plan"], put, seconds(got["finish"])).sum(axis=0)[: int(seconds(got["finish"]))] / EFFICIENCY + 2
    resistance, charge, rated = 6 * 0.005 * 1.5 + 0.010, 20 * 3600.0, 20 / 20.0
    state, least = 1.0, 99.0
    for watts in power:
        volts = np.interp(state, *OPEN)
        current = 2 * watts / (volts + np.sqrt(volts**2 - 4 * resistance * watts))
        least = min(least, watts / current)
        state -= current / charge * max(1.0, (current / rated) ** (exponent - 1))
    assert state >= 0.5 - 0.002
    assert least >= 12 - 0.01
    assert min(state - 0.5, least - 12) < 0.06, "hardly anything is made of the battery"

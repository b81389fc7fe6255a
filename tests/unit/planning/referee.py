"""The best plan of a small session, proven by OR-Tools CP-SAT, and the plan of first come, first served.

Each charge is cut into stretches in which it counts with the most that it draws there; begins fall on whole minutes.
What the solver proves is the best of such plans: one to the second may be a little sooner.
"""

import csv
import io
from dataclasses import dataclass
from itertools import pairwise
from random import Random
from typing import Any

import numpy as np
from ortools.sat.python import cp_model
from reference.asking import client

EFFICIENCY = 0.85
PARTS = (1.0, 0.72, 0.5)
SWAP = 2
WORK = 0.5
"""Of the solver's own measure of time, which is the same on every machine."""


@dataclass(frozen=True)
class Way:
    """A charge in minutes: how long, and the stretches `(begin, end, watts)` of what it draws at most."""

    minutes: int
    exact: float
    stretches: tuple[tuple[int, int, int], ...]


def session(seed: int) -> dict[str, Any]:
    """Three or four packs, two or three like outputs, and too little power for all at once."""
    random = Random(1000 + seed)
    packs = [
        {
            "name": f"pack {place}",
            "cells": random.choice([2, 3, 4, 6]),
            "capacity": f"{random.randrange(900, 4000)} mAh",
            "cell_resistance": f"{random.uniform(4, 14):.1f} mΩ",
            "state_of_charge": round(random.uniform(0.2, 0.7), 2),
        }
        for place in range(1, random.choice([4, 5, 5]))
    ]
    return {
        "packs": packs,
        "chargers": [{"name": "bench", "outputs": random.choice([2, 3])}],
        "supply_rating": f"{random.choice([60, 90, 120])} W",
        "swap_time": f"{SWAP} min",
        "headroom": 0,
    }


def way(pack: dict[str, Any], rate: float) -> Way:
    """A charge as charge-current's table has it."""
    asked = {name: value for name, value in pack.items() if name != "name"} | {"rate": rate}
    rows = list(csv.DictReader(io.StringIO(client().post("/v1/charge-current.csv", json=asked).text)))
    time = np.array([float(row["time [min]"]) for row in rows])
    power = np.array([float(row["voltage [V]"]) * float(row["current [A]"]) for row in rows]) / EFFICIENCY
    minutes = int(np.ceil(time[-1]))
    edges = np.unique(np.linspace(0, minutes, 21).round().astype(int))
    stretches = []
    for low, high in pairwise(edges):
        inside = power[(time >= low) & (time <= high)]
        most = max([*inside, *np.interp([low, min(high, time[-1])], time, power)])
        stretches.append((int(low), int(high), int(np.ceil(most))))
    return Way(minutes, float(time[-1]), tuple(stretches))


def ways(question: dict[str, Any]) -> list[list[Way]]:
    """Of each pack, the ways in which it may be charged: no stronger than the supply."""
    supply = float(question["supply_rating"].split()[0])
    made = []
    for pack in question["packs"]:
        amperes = supply * EFFICIENCY / (4.2 * pack["cells"])
        most = min(1.0, amperes / (float(pack["capacity"].split()[0]) / 1000))
        made.append([way(pack, part * most) for part in PARTS])
    return made


def best(question: dict[str, Any]) -> float | None:
    """Minutes of the soonest end, or None where the solver does not prove one."""
    supply, outputs = int(question["supply_rating"].split()[0]), question["chargers"][0]["outputs"]
    model, every = cp_model.CpModel(), ways(question)
    horizon = sum(each[0].minutes + SWAP for each in every)
    finish = model.new_int_var(0, horizon, "finish")
    drawing, watts, held, swaps = [], [], [], []
    for each in every:
        begin = model.new_int_var(0, horizon, "begin")
        first = model.new_bool_var("first")
        model.add(begin == 0).only_enforce_if(first)
        model.add(begin >= SWAP).only_enforce_if(~first)
        swaps.append(model.new_optional_interval_var(begin - SWAP, SWAP, begin, ~first, "swap"))
        chosen = [model.new_bool_var("way") for _ in each]
        model.add_exactly_one(chosen)
        for told, taken in zip(each, chosen, strict=True):
            model.add(finish >= begin + told.minutes).only_enforce_if(taken)
            held.append(model.new_optional_fixed_size_interval_var(begin, told.minutes + SWAP, taken, "output"))
            for low, high, most in told.stretches:
                drawing.append(model.new_optional_fixed_size_interval_var(begin + low, high - low, taken, "power"))
                watts.append(min(most, supply))
    model.add_cumulative(drawing, watts, supply)
    model.add_cumulative(held, [1] * len(held), outputs)
    model.add_no_overlap(swaps)
    model.minimize(finish)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = WORK
    return solver.objective_value if solver.solve(model) == cp_model.OPTIMAL else None


def first_come(question: dict[str, Any]) -> float:
    """Minutes when packs go in the order given, each as hard as it may and as soon as an output and power are there."""
    supply, outputs = float(question["supply_rating"].split()[0]), question["chargers"][0]["outputs"]
    room, ends, swaps = np.full(5000, supply), [-1.0] * outputs, [-9.0]
    finish = 0.0
    for each in ways(question):
        told = each[0]
        free = int(np.argmin(ends))
        begin = 0 if ends[free] < 0 else int(np.ceil(ends[free] + SWAP))
        while True:
            apart = all(abs(begin - other) >= SWAP for other in swaps)
            fits = all(room[begin + a : begin + b].min() >= min(most, supply) for a, b, most in told.stretches)
            if fits and (begin == 0 or (apart and begin >= SWAP)):
                break
            begin += 1
        for low, high, most in told.stretches:
            room[begin + low : begin + high] -= min(most, supply)
        if begin > 0:
            swaps.append(begin)
        ends[free] = begin + told.exact
        finish = max(finish, ends[free])
    return finish

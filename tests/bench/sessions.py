"""How good plans of charge-session are, and what they cost; prints tables. CPU time of one process, after warm-up.

Fields are random: packs of 2 to 6 cells and 850 to 5800 mAh, 10 to 50 % full, on outputs of 8 A and 110 W; a tenth of
the supply is kept free. `python tests/bench/sessions.py` takes about two minutes.
"""

import sys
from pathlib import Path
from random import Random
from time import process_time
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from reference.asking import answer
from unit.planning import referee

CAPACITIES = (850, 1150, 1300, 1800, 2250, 2600, 3300, 3700, 4900, 5800)
FIELDS = (
    (40, 6, 400, 4, 30),
    (40, 6, 400, 6, 30),
    (40, 6, 300, 6, 6),
    (40, 6, 150, 6, 6),
    (64, 12, 200, 12, 4),
    (200, 12, 800, 12, 2),
    (200, 12, 800, 4, 2),
)
REFEREED = 50


def field(seed: int, packs: int, outputs: int, watts: int, watch: int) -> dict[str, Any]:
    random = Random(seed)
    made = [
        {
            "name": f"pack {place}",
            "cells": random.choice([2, 3, 3, 4, 4, 6]),
            "capacity": f"{random.choice(CAPACITIES)} mAh",
            "state_of_charge": round(random.uniform(0.1, 0.5), 3),
        }
        for place in range(1, packs + 1)
    ]
    charger = {"outputs": outputs, "current_limit": "8 A", "power_limit": "110 W"}
    return {"packs": made, "chargers": [charger], "supply_rating": f"{watts} W", "watch_limit": watch}


def fields() -> None:
    print("| packs | outputs | supply W | watched | fields | finish ÷ bound: mean | worst | CPU s: mean | most |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- | --- |")
    for packs, outputs, watts, watch, size in FIELDS:
        ratios, times = [], []
        for seed in range(size):
            question = field(seed, packs, outputs, watts, watch)
            begun = process_time()
            got = answer("charge-session", **question)
            times.append(process_time() - begun)
            ratios.append(got["finish_to_bound"])
        figures = f"{np.mean(ratios):.4f} | {max(ratios):.4f} | {np.mean(times):.2f} | {max(times):.2f}"
        print(f"| {packs} | {outputs} | {watts} | {watch} | {size} | {figures} |", flush=True)


def refereed() -> None:
    print("\n| session | packs | proven best min | plan min | ratio | first come min |")
    print("| --- | --- | --- | --- | --- | --- |")
    ratios = []
    for seed in range(REFEREED):
        question = referee.session(seed)
        got, best, plain = answer("charge-session", **question), referee.best(question), referee.first_come(question)
        told = "not proven | " if best is None else f"{best:.0f} | "
        if best is not None:
            ratios.append(got["finish"] / best)
        ratio = "" if best is None else f"{ratios[-1]:.3f}"
        print(f"| {seed} | {len(question['packs'])} | {told}{got['finish']:.1f} | {ratio} | {plain:.1f} |", flush=True)
    print(f"\n{len(ratios)} proven; ratio {np.mean(ratios):.4f} on the mean, {max(ratios):.4f} at the worst")


if __name__ == "__main__":
    answer("charge-session", **field(0, 4, 2, 200, 4))
    fields()
    refereed()

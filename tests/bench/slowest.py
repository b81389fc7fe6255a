"""The slowest of many random accepted questions, in CPU time, for each calculator.

    python tests/bench/slowest.py [--number 2000] [calculator …]

Questions come from the declarations (`tests/questions.py`): around the examples, near their values, and anywhere within
the declared bounds; where a calculator takes a list, also with long ones of up to 64 entries, alike but for a tenth.
Each is asked through the service in process, once; what is slow is asked twice more, and the least time counts. Nothing
is asserted: times are those of this machine. What is asked for is 50 ms at most.
"""

import argparse
import json
import random
import sys
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from questions import many

from ampstead.app import create_app
from ampstead.calculators import registry

MOST = 0.050
"""s of CPU that an accepted question may take."""
LONGEST = 64
LONG = 20  # of so many questions one has a long list
STATES = ("state_of_charge", "rest_voltage", "cell_voltages")


def main() -> int:
    reader = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    reader.add_argument("--number", type=int, default=2000, help="questions for each calculator")
    reader.add_argument("--show", action="store_true", help="print the slowest question itself")
    reader.add_argument("calculators", nargs="*")
    told = reader.parse_args()
    http = create_app().test_client()
    over = 0
    print(f"{'':20}  accepted   median  slowest, ms")
    for name, calculator in registry().items():
        if told.calculators and name not in told.calculators:
            continue
        chance = random.Random(name)
        questions = many(calculator, told.number)
        questions += [longer(chance, chance.choice(questions)) for _ in range(told.number // LONG)]
        taken: list[tuple[float, dict[str, Any]]] = []
        for question in questions:
            spent, accepted = asked(http, name, question)
            if accepted:
                if spent > 0.5 * MOST:
                    spent = min(spent, *(asked(http, name, question)[0] for _ in range(2)))
                taken.append((spent, question))
        taken.sort(key=lambda pair: pair[0])
        if not taken:
            print(f"{name:20}  {0:8}")
            continue
        slow = [pair for pair in taken if pair[0] > MOST]
        over += len(slow)
        note = f"{len(slow)} above {1e3 * MOST:.0f} ms" if slow else ""
        half = taken[len(taken) // 2][0]
        print(f"{name:20}  {len(taken):8}  {1e3 * half:7.2f}  {1e3 * taken[-1][0]:7.1f}  {note}".rstrip(), flush=True)
        if told.show:
            print(json.dumps(taken[-1][1]))
    return 1 if over else 0


def asked(http: Any, name: str, question: dict[str, Any]) -> tuple[float, bool]:
    """CPU seconds of one question, and whether it was accepted."""
    begun = time.process_time()
    reply = http.post(f"/v1/{name}", json=question)
    return time.process_time() - begun, reply.status_code == 200


def longer(chance: random.Random, question: dict[str, Any]) -> dict[str, Any]:
    """The question with its lists made long, each entry a little different, from states that are near each other."""
    made = dict(question)
    for name, value in question.items():
        if isinstance(value, list) and value and isinstance(value[0], dict):
            first = value[0]
            made[name] = [varied(chance, first) for _ in range(chance.choice((4, 8, 16, 32, LONGEST)))]
    return made


def varied(chance: random.Random, entry: dict[str, Any]) -> dict[str, Any]:
    made = {}
    for name, value in entry.items():
        factor = chance.uniform(*((0.999, 1.001) if name in STATES else (0.7, 1.4)))
        number, _, unit = value.partition(" ") if isinstance(value, str) else ("", "", "")
        if isinstance(value, dict) and isinstance(value.get("value"), float):
            made[name] = {**value, "value": value["value"] * factor}
        elif unit and "," not in value:
            made[name] = f"{float(number) * factor!r} {unit}" if number.replace(".", "").isdigit() else value
        else:
            made[name] = value
    return made


if __name__ == "__main__":
    sys.exit(main())

"""Finds where answers change in kind, and writes ``tests/unit/judging/edges.json``; see ``reference.edges``.

PYTHONPATH=tests python -m reference.makers.edges             those that moved, anew; seconds
PYTHONPATH=tests python -m reference.makers.edges --search    all, anew; a quarter of an hour
"""

import argparse
import json
import re
from collections.abc import Iterator
from typing import Any

from questions import many
from reference.edges import FILE, Signature, asked, changed, figure, figures, pictured, placed, scale, sides

from ampstead.calculators import registry
from ampstead.declare import Calculator, Count, Quantity
from ampstead.replying.beyond.needed import _Search, _searched
from ampstead.replying.writers import shown

SKIPPED = ("charge-session", "match-packs")
"""Too slow to be searched."""
POINTS = 33
SLOW = 500
"""Rows of a batch up to which a calculator is searched less closely."""
STATES = ("state_of_charge", "rest_voltage", "cell_voltages")
ODD: dict[str, list[Any]] = {
    "condition": ["swollen", "wet"],
    "temperature": ["-15 °C", "5 °C", "55 °C"],
    "ambient": ["-15 °C", "33 °C"],
    "state_of_charge": [0.01, 0.5, 1.0],
    "cell_voltages": [["3.85 V", "3.84 V", "3.86 V", "3.1 V"], ["3.7 V", "3.72 V"]],
    "resistance_method": ["1kHz", "charger"],
    "pack_resistance": ["60 mΩ"],
    "reserve": [0],
    "cells": [1],
    "chemistry": ["lihv", "liion", "life", "nimh", "lead"],
}
RANDOM, MOST_RANDOM = 200, 20
"""Questions made at random: how many are asked, and how many are kept at most."""
HALVINGS = 44
NEARBY = 0.3
"""Of an edge: how far one that has moved is looked for."""
SLACK = 2e-10
"""Of an edge: what rounding may do to it, well within the slack of comparisons."""
FIGURE = re.compile(r"(-?[0-9.]+) ?(.*)")
MORE: dict[str, list[dict[str, Any]]] = {
    "charge-current": [
        {"capacity": "3700 mAh", "cell_voltages": "3.77,3.76,3.79,3.75 V", "max_rate": 3},
        {"capacity": "2250 mAh", "cells": 3, "rest_voltage": "11.31 V", "temperature": "13 °C", "rate": 1.5},
        {"capacity": "2100 mAh", "chemistry": "life", "cell_voltages": "3.3,3.31 V"},
        {"capacity": "38 Ah", "chemistry": "lead", "cells": 6, "rest_voltage": "12.4 V"},
    ],
    "lead-loss": [{"gauge": "12 AWG", "length": "0.6 m", "current": "23 A"}],
    "load-test": [
        {"readings": [
            {"current": "5 A", "cell_voltages": ["4.05 V", "4.04 V", "4.05 V"]},
            {"current": "23 A", "cell_voltages": ["3.89 V", "3.87 V", "3.79 V"]},
        ]},
        {"currents": ["0 A", "14 A", "23 A"], "voltages": ["12.5 V", "12.1 V", "11.9 V"], "temperature": "13 °C"},
    ],
    "supply-split": [
        {"supply_rating": "180 W", "loads": ["45 W", "90 W"], "supply_voltage": "14.2 V", "source_resistance": "50 mΩ",
         "input_floor": "11 V"},
        {"supply_rating": "180 W", "loads": ["45 W", "90 W", "60 W"], "share": "even"},
    ],
    "flight-timer": [
        {"flight_time": "7.5 min", "charge_returned": "1480 mAh", "capacity": "2250 mAh", "next_temperature": "13 °C"}
    ],
    "carriage": [{"cells": 6, "capacity": "4900 mAh", "count": 2}],
    "charge-left": [{"cells": 3, "rest_voltage": "11.31 V"}, {"cell_voltages": "3.86,3.91,3.87 V"}],
    "storage": [{"cells": 3, "capacity": "2250 mAh", "rest_voltage": "11.31 V"}],
    "endurance": [{"cells": 3, "capacity": "2250 mAh", "current": "23 A", "cell_voltages": "4.18,4.19,4.2 V"}],
    "sag": [{"cells": 3, "capacity": "2250 mAh", "current": "23 A", "cell_voltages": "3.9,3.9,3.92 V"}],
    "receiver-time": [
        {"cells": 2, "capacity": "2250 mAh", "servos": 4, "servo_current": "1.1 A", "cell_voltages": "4.1,4.1 V"}
    ],
    "pack-fitness": [
        {"cells": 4, "capacity": "3700 mAh", "cell_resistance": "4.2 mΩ", "measured_capacity": "3500 mAh",
         "reference_resistance": "4 mΩ", "typical_current": "30 A", "peak_current": "48 A"},
        {"cells": 4, "capacity": "3700 mAh", "cell_resistance": "4.2,4.4,4.2,4.6 mΩ",
         "cell_voltages": "3.77,3.76,3.79,3.75 V"},
    ],
    "parallel-join": [
        {"packs": [
            {"cells": 3, "capacity": "2250 mAh", "cell_voltages": "3.8,3.8,3.8 V", "cell_resistance": "8.5 mΩ"},
            {"cells": 3, "capacity": "2250 mAh", "cell_voltages": "3.85,3.85,3.85 V", "cell_resistance": "9 mΩ"},
        ]}
    ],
}  # fmt: skip


def bases(calculator: Calculator) -> Iterator[dict[str, Any]]:
    """Questions from which one figure at a time is moved."""
    examples = [json.loads(json.dumps(dict(example))) for example in calculator.examples]
    examples += MORE.get(calculator.name, [])
    for example in examples:
        yield listed(example)
    if "chemistry" in calculator.inputs:
        for chemistry in ("lihv", "liion", "life", "nimh", "lead"):
            question = {name: value for name, value in examples[0].items() if name not in STATES}
            yield listed({**question, "chemistry": chemistry})


def others(calculator: Calculator) -> Iterator[dict[str, Any]]:
    """Questions that are asked as they are: packs that are spoilt, cold, hot, empty or full, and some at random."""
    for example in [*calculator.examples[:2], *MORE.get(calculator.name, [])[:1]]:
        question = listed(json.loads(json.dumps(dict(example))))
        for name, values in ODD.items():
            if name in calculator.inputs:
                rest = {each: value for each, value in question.items() if name not in STATES or each not in STATES}
                yield from ({**rest, name: value} for value in values)
    if "chemistry" in calculator.inputs:
        rest = {name: value for name, value in question.items() if name not in STATES}
        for chemistry in ODD["chemistry"]:
            for name in ("condition", "temperature", "ambient"):
                if name in calculator.inputs:
                    yield from ({**rest, "chemistry": chemistry, name: value} for value in ODD[name])
    yield from at_random(calculator)


def at_random(calculator: Calculator) -> Iterator[dict[str, Any]]:
    """Random questions that are answered, each in another way than those before."""
    seen: list[Signature] = []
    slow = calculator.most <= SLOW
    for made in many(calculator, RANDOM // 4 if slow else RANDOM):
        question = json.loads(json.dumps(made))
        told = asked(calculator.name, question)
        if "refused" not in told and told not in seen:
            seen.append(told)
            yield question
        if len(seen) == (MOST_RANDOM // 2 if slow else MOST_RANDOM):
            return


def listed(question: dict[str, Any]) -> dict[str, Any]:
    """A question with its lists told element by element."""
    made: dict[str, Any] = {}
    for name, value in question.items():
        if isinstance(value, str) and "," in value and (unit := re.search(r"[A-Za-zΩ°]+$", value)):
            parts = value[: unit.start()].split(",")
            made[name] = [part if re.search(r"[A-Za-z]", part) else f"{part.strip()} {unit[0]}" for part in parts]
        else:
            made[name] = value
    return made


def leaves(value: Any, path: list[Any]) -> Iterator[tuple[list[Any], float, str]]:
    """Figures nested in a question, with their units."""
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from leaves(inner, [*path, name])
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from leaves(inner, [*path, place])
    elif len(path) > 1 and isinstance(value, str) and (found := FIGURE.fullmatch(value)):
        yield path, float(found[1]), found[2]


def moved(calculator: Calculator, question: dict[str, Any]) -> Iterator[tuple[list[Any], str | None, list[float]]]:
    """Which figure to move, its unit, and where to."""
    for name, entry in calculator.inputs.items():
        if not _searched(entry) or isinstance(question.get(name), list | dict):
            continue
        search = _Search(calculator, question, entry, next(iter(calculator.results.values())), None)
        low, high = search._range()
        every = 3 if calculator.most <= SLOW else 1
        points = [shown(entry, point) for point in search._grid(low, high)[::every]]
        if isinstance(entry.spec, Quantity):
            yield [name], entry.spec.unit, [point["value"] for point in points]
        elif isinstance(entry.spec, Count):
            yield [name], "count", [float(size) for size in range(int(low), min(int(high), int(low) + POINTS) + 1)]
        else:
            yield [name], None, points
    for path, size, unit in leaves(question, []):
        if unit == "V":
            yield path, unit, [size + 0.04 * step for step in range(-40, 18)]
        elif unit:
            yield path, unit, [size * 1.25**step for step in range(-POINTS // 2, POINTS // 2)]


def found(calculator: Calculator, question: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """Every edge of one question."""
    for path, unit, points in moved(calculator, question):
        yield from along(calculator.name, question, path, unit, points)


def along(
    name: str, question: dict[str, Any], path: list[Any], unit: str | None, points: list[float]
) -> Iterator[dict[str, Any]]:
    """The edges between some sizes of one figure."""
    answers = [asked(name, placed(question, path, figure(point, unit))) for point in points]
    for low, high, one, other in zip(points, points[1:], answers, answers[1:], strict=False):
        if one == other:
            continue
        if unit == "count":
            yield {"path": path, "at": int(high), "unit": unit, "changes": changed(one, other)}
            continue
        begin, end = low, high
        for _ in range(HALVINGS):
            middle = (begin + end) / 2
            # Where several change between two points, the first is followed.
            same = asked(name, placed(question, path, figure(middle, unit))) == one
            begin, end = (middle, end) if same else (begin, middle)
        at = snapped((begin + end) / 2)
        edge = {"path": path, "at": at, "unit": unit}
        below, above = sides(name, question, edge)
        if below != above:
            yield edge | {"changes": changed(below, above)} | side_of(name, question, edge, below, above)


def side_of(
    name: str, question: dict[str, Any], edge: dict[str, Any], below: Signature, above: Signature
) -> dict[str, str]:
    """To which side the edge itself belongs, where it is a round figure and rounding cannot part it."""
    at, unit = edge["at"], edge["unit"]
    if unit == "count" or not is_round(at):
        return {}
    step = SLACK * max(abs(at), scale(unit))
    one, there, other = (
        asked(name, placed(question, edge["path"], figure(size, unit))) for size in (at - step, at, at + step)
    )
    return {"itself": "below" if there == below else "above"} if one == there == other in (below, above) else {}


def snapped(at: float) -> float:
    """An edge at nine digits, or at the round figure that the slack of comparisons has moved it from."""
    near = float(f"{at:.4g}")
    return near if abs(at - near) <= 1e-7 * max(abs(at), 1.0) else float(f"{at:.9g}")


def is_round(at: float) -> bool:
    return len(f"{abs(at):.9g}".replace(".", "").strip("0")) <= 4


def kept(edges: list[dict[str, Any]], seen: set[str]) -> list[dict[str, Any]]:
    """Those that tell something new of their calculator: the same change of the same input at another figure only
    where that figure is a round one."""
    new = []
    for edge in edges:
        kind = json.dumps([[step for step in edge["path"] if isinstance(step, str)], edge["changes"]])
        mark = f"{kind} {edge['at']}" if is_round(edge["at"]) and edge["unit"] != "count" else kind
        if mark not in seen:
            seen.add(mark)
            new.append(edge)
    return new


def searched(calculator: Calculator) -> list[dict[str, Any]]:
    """All that is kept of one calculator."""
    rows: list[dict[str, Any]] = []
    seen: set[str] = set()
    for question in bases(calculator):
        told = asked(calculator.name, question)
        if "refused" in told or any(row["question"] == question for row in rows):
            continue
        edges = kept(list(found(calculator, question)), seen)
        rows.append(row_of(calculator.name, question, edges))
    return telling([*rows, *asked_as_they_are(calculator)])


def asked_as_they_are(calculator: Calculator) -> Iterator[dict[str, Any]]:
    """A row for each of the other questions that is answered."""
    for question in others(calculator):
        if "refused" not in asked(calculator.name, question):
            yield row_of(calculator.name, question, [])


def telling(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Those that tell something that none before did."""
    seen: list[Any] = []
    new = []
    for row in rows:
        answer = [row["told"], row["drawn"]]
        if row["edges"] or answer not in seen:
            seen.append(answer)
            new.append(row)
    return new


def row_of(name: str, question: dict[str, Any], edges: list[dict[str, Any]]) -> dict[str, Any]:
    told, drawn = asked(name, question), pictured(name, question)
    return {"question": question, "told": told, "figures": figures(name, question), "drawn": drawn, "edges": edges}


def mended(name: str, row: dict[str, Any]) -> dict[str, Any]:
    """A row with its answers as they are now; edges that have moved are looked for nearby."""
    question, edges = row["question"], []
    for edge in row["edges"]:
        at, unit, path = edge["at"], edge["unit"], edge["path"]
        below, above = sides(name, question, edge)
        if changed(below, above) == edge["changes"]:
            itself = side_of(name, question, edge, below, above)
            edges.append({part: edge[part] for part in edge if part != "itself"} | itself)
            continue
        reach = NEARBY * max(abs(at), scale(unit))
        points = [at + reach * step / POINTS for step in range(-POINTS, POINTS + 1)]
        near = [at - 1, at, at + 1, at + 2] if unit == "count" else points
        candidates = list(along(name, question, path, unit, near))
        alike = [each for each in candidates if each["changes"] == edge["changes"]] or candidates
        edges += sorted(alike, key=lambda each: abs(each["at"] - at))[:1]
    return row_of(name, question, edges)


def written(table: dict[str, list[dict[str, Any]]]) -> None:
    """One edge a line."""
    lines = []
    for name, rows in sorted(table.items()):
        told = []
        for row in rows:
            edges = ",\n   ".join(json.dumps(edge, ensure_ascii=False) for edge in row["edges"])
            question, answer, spoken, drawn = (
                json.dumps(row[part], ensure_ascii=False) for part in ("question", "told", "figures", "drawn")
            )
            edges = f"\n   {edges}" if edges else ""
            head = f' {{"question": {question},\n  "told": {answer},\n  "figures": {spoken},\n  "drawn": {drawn}'
            told.append(f'{head},\n  "edges": [{edges}]}}')
        lines.append(f"{json.dumps(name)}: [\n" + ",\n".join(told) + "]")
    FILE.write_text("{" + ",\n".join(lines) + "}\n", encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--search", action="store_true", help="all edges anew")
    parser.add_argument("calculators", nargs="*", help="of these alone")
    options = parser.parse_args()
    table = json.loads(FILE.read_text(encoding="utf-8")) if FILE.exists() else {}
    for name, calculator in registry().items():
        if name in SKIPPED or (options.calculators and name not in options.calculators):
            continue
        if options.search or name not in table:
            table[name] = searched(calculator)
        else:
            table[name] = telling([*(mended(name, row) for row in table[name]), *asked_as_they_are(calculator)])
        print(name, [len(row["edges"]) for row in table[name]], flush=True)
    written(table)


if __name__ == "__main__":
    main()

"""Random questions to every calculator: no answer is a figure that cannot be, and every band holds its answer."""

import json
import math
from collections.abc import Iterator
from typing import Any

from contract.asked import QUESTIONS, asked

from ampstead.calculators import registry

LEAST = {"°C": -273.15}
NEVER_NEGATIVE = {"V", "W", "mΩ", "Wh", "g", "m", "mm²", "min", "s", "W/m", "K/s"}
"""Units of what has no sign in any answer. A current and a charge have one where they are exchanged, and a loss per day
where a cell gained."""
SLACK = 1e-9


def figures(value: Any, path: str = "") -> Iterator[tuple[str, float, str | None]]:
    """Every number in a part of a reply: where it stands, and its unit if it has one."""
    if isinstance(value, dict) and value.keys() == {"value", "unit"}:
        yield path, value["value"], value["unit"]
    elif isinstance(value, dict):
        for name, inner in value.items():
            yield from figures(inner, f"{path}.{name}" if path else name)
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from figures(inner, f"{path}.{place}")
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield path, value, None


def faultless(faults: list[str]) -> None:
    assert not faults, "\n".join([f"{len(faults)} faults, such as", *faults[:5]])


def test_enough_random_questions_are_answered(name: str) -> None:
    assert len(asked(name)) - len(registry()[name].examples) >= QUESTIONS / 15, "the questions made are mostly refused"


def test_no_answer_is_a_figure_that_cannot_be(name: str) -> None:
    faultless(
        [
            f"{path} {figure}: {json.dumps(question)}"
            for question, reply in asked(name)
            for path, figure, unit in (*figures(reply["answer"]), *figures(reply["accuracy"], "accuracy"))
            if not math.isfinite(figure) or figure < (-SLACK if unit in NEVER_NEGATIVE else LEAST.get(unit, -math.inf))
        ]
    )


def misfit(band: dict[str, Any], answer: Any) -> str | None:
    """What is wrong with a band of this answer."""
    low, high = band["low"], band["high"]
    if isinstance(answer, dict):
        if not low["unit"] == high["unit"] == answer["unit"]:
            return "another unit"
        low, high, answer = low["value"], high["value"], answer["value"]
    slack = SLACK * max(abs(low), abs(high), abs(answer))
    if not low - slack <= answer <= high + slack:
        return f"{low} to {high} does not hold {answer}"
    return None if low < high or answer == 0 else f"{low} to {high} has no width"


def test_every_band_is_of_a_result_in_its_unit_and_holds_it(name: str) -> None:
    faults = []
    for question, reply in asked(name):
        told = [band["of"] for band in reply["accuracy"]]
        assert len(set(told)) == len(told), question
        assert all(band["basis"].strip() for band in reply["accuracy"])
        for band in reply["accuracy"]:
            answer = reply["answer"][band["of"]]
            assert answer is not None, (band["of"], question)
            if fault := misfit(band, answer):
                faults.append(f"{band['of']}: {fault}: {json.dumps(question)}")
    faultless(faults)


def test_a_band_that_does_not_hold_its_answer_is_noticed() -> None:
    volts = [{"value": float(value), "unit": "V"} for value in (1, 2, 3)]
    assert misfit({"low": volts[0], "high": volts[2]}, volts[1]) is None
    for low, answer, high in ((1, 0, 2), (0, 2, 1), (2, 1, 0), (1, 1, 1)):
        assert misfit({"low": volts[low], "high": volts[high]}, volts[answer])
    assert misfit({"low": volts[0], "high": {"value": 3.0, "unit": "mV"}}, volts[1])

"""The cases of tests/reference/data: read, asked, and how near each answer comes to its figure.

An `expect` key is a path into the reply. Tolerances (all given bounds must hold): the field's own, else the case's
`default`, else half a unit of the last printed digit. What stands under `within`, by a result's name, must lie within
the band that `accuracy` tells of it; `longer` says that it lies above, on the side where nothing is risked.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

from ampstead.calculators import registry

DATA = Path(__file__).parent / "data"
OUTSIDE = {"published", "simulated elsewhere"}
OURS = {"common practice", "own judgement"}
KINDS = OUTSIDE | OURS | {"from memory", "regression"}
NAMES = sorted(registry())


@cache
def read(name: str) -> list[dict[str, Any]]:
    path = DATA / f"{name}.json"
    cases: list[dict[str, Any]] = json.loads(path.read_text("utf-8"), parse_float=Decimal) if path.exists() else []
    return cases


def plain(value: Any) -> Any:
    """The same with floats in place of printed digits."""
    return json.loads(json.dumps(value, default=float))


def at(reply: Any, path: str) -> Any:
    for step in path.split("."):
        reply = reply[int(step)] if isinstance(reply, list) else reply[step]
    return reply


def last_digit(printed: Decimal | int) -> float:
    exponent = printed.as_tuple().exponent if isinstance(printed, Decimal) else 0
    assert isinstance(exponent, int)
    return 0.5 * 10.0**exponent


@dataclass(frozen=True)
class Figure:
    """One figure that a case expects: what of, what it is, and how far an answer may be from it."""

    path: str
    wanted: Any
    unit: str | None
    bounds: dict[str, float]

    @property
    def result(self) -> str:
        """The result's name without places in lists; empty where it is none, as of a band."""
        start, *steps = self.path.split(".")
        return ".".join(step for step in steps if not step.isdigit()) if start == "answer" else ""

    @property
    def number(self) -> bool:
        return isinstance(self.wanted, Decimal | int) and not isinstance(self.wanted, bool)

    @property
    def allowed(self) -> float:
        """How far off a number may be, in its own unit."""
        size = abs(float(self.wanted))
        return min(bound if kind == "abs" else bound * size for kind, bound in self.bounds.items())

    def off(self, reply: dict[str, Any]) -> float:
        """How far off the reply's number is, in its own unit."""
        got = at(reply, self.path)
        return abs((got["value"] if self.unit else got) - float(self.wanted))


def figures(case: dict[str, Any]) -> Iterator[Figure]:
    tolerance = plain(case.get("tolerance", {}))
    for path, wanted in case["expect"].items():
        unit = wanted["unit"] if isinstance(wanted, dict) else None
        value = wanted["value"] if isinstance(wanted, dict) else wanted
        bounds = tolerance.get(path, tolerance.get("default", {}))
        if isinstance(value, Decimal | int) and not isinstance(value, bool):
            bounds = bounds or {"abs": last_digit(value)}
        yield Figure(path, value, unit, bounds)


def outside_bands(case: dict[str, Any], reply: dict[str, Any]) -> Iterator[str]:
    """What does not lie within the band of its result, in words."""
    for name, told in plain(case.get("within", {})).items():
        band = next(each for each in reply["accuracy"] if each["of"] == name)
        low, high = band["low"], band["high"]
        assert low["unit"] == high["unit"] == told["unit"], name
        for value in told["values"]:
            if not low["value"] <= value <= high["value"] and not (told.get("longer") and value > high["value"]):
                yield f"{name}: {value} is not within {low['value']} to {high['value']} {told['unit']}"

"""Where an answer changes in kind as one figure of its question grows: a caution more, another verdict, no result.

``edges.json`` beside the tests of judging holds such edges, as found by a search over every calculator. They are
**regression only**: what each rests on is said where it is judged. They are kept so that no edge moves unseen; after a
change that is meant, ``PYTHONPATH=tests python -m reference.makers.edges`` finds anew those that moved, and the file's
own changes show which.
"""

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np
from reference.asking import client

from ampstead.calculators import registry
from ampstead.replying.answers import answered

FILE = Path(__file__).parents[1] / "unit" / "judging" / "edges.json"
NEAR = 2e-6
"""How near to an edge both sides of it are asked, over the size of its figure."""

SPOKEN = re.compile(r"(?:minus )?[0-9]+(?:\.[0-9]+)?")
ABSENT = "there"
"""Of a result that is a figure."""

Signature = Mapping[str, Any]


def asked(calculator: str, question: Mapping[str, Any]) -> Signature:
    """All of an answer that is no figure, by name; of a refusal what is refused."""
    got = client().post(f"/v1/{calculator}", json=question)
    document = got.get_json()
    if got.status_code != 200:
        assert got.status_code == 422, document
        return {"refused": sorted(f"{error['field']} {error['code']}" for error in document["errors"])}
    sentence = document["sentence"]
    return {
        "cautions": sorted({entry["code"] for entry in document["cautions"]}),
        "bands": sorted({entry["of"] for entry in document["accuracy"]}),
        "do not": sentence.startswith("Do not"),
        "sentences": sentence.count(". ") + 1,
        **dict(words(document["answer"])),
    }


def figures(calculator: str, question: Mapping[str, Any]) -> list[str]:
    """The figures that an answer speaks, rounded as it speaks them: those of its sentence, then of its cautions."""
    document = client().post(f"/v1/{calculator}", json=question).get_json()
    said = [document["sentence"], *(entry["text"] for entry in document["cautions"])]
    return [found for text in said for found in SPOKEN.findall(text)]


def words(result: Any, name: str = "") -> Iterator[tuple[str, Any]]:
    """The words, the yes and no, and what is missing, of an answer; prose and figures left out."""
    if isinstance(result, Mapping) and result.keys() != {"value", "unit"}:
        for key, value in result.items():
            yield from words(value, f"{name}.{key}" if name else key)
    elif isinstance(result, list):
        yield f"{name} of", len(result)
        for place, value in enumerate(result):
            yield from words(value, f"{name}[{place}]")
    elif result is None or isinstance(result, bool) or (isinstance(result, str) and " " not in result):
        yield name, result


def pictured(calculator: str, question: Mapping[str, Any]) -> Any:
    """What an answer's picture is made of, but for its figures, and how long its table is; None where it has none."""
    declared = registry()[calculator]
    if declared.picture is None:
        return None
    made = answered(declared, dict(question))
    return {"rows": len(made.csv().splitlines()) - 1} | parts(made.teller.picture(made.answer, made.known))


def parts(sketch: Any) -> Any:
    """A sketch as JSON; figures in its words are written as #, others left out."""
    if is_dataclass(sketch):
        told = {field.name: getattr(sketch, field.name) for field in fields(sketch)}
        return {
            name: parts(value) for name, value in told.items() if kept(value) and value not in (False, "", (), None)
        }
    if isinstance(sketch, Mapping):
        return {name: parts(value) for name, value in sketch.items()}
    if isinstance(sketch, tuple | list):
        every = [parts(value) for value in sketch]
        alike = len(every) > 1 and all(each == every[0] for each in every)
        return {"of": len(every), "each": every[0]} if alike else every
    return re.sub(r"[0-9][0-9.]*", "#", sketch) if isinstance(sketch, str) else sketch


def kept(value: Any) -> bool:
    return isinstance(value, bool) or not isinstance(value, int | float | np.ndarray)


def changed(one: Signature, other: Signature) -> dict[str, list[Any]]:
    """What differs, each as it was and as it is; of lists of words only those that come and go."""
    if ("refused" in one) != ("refused" in other):
        return {"refused": [one.get("refused", []), other.get("refused", [])]}
    found = {}
    for name in sorted(one.keys() | other.keys()):
        before, after = one.get(name, ABSENT), other.get(name, ABSENT)
        if before != after:
            if name in ("cautions", "bands", "refused"):
                before, after = sorted(set(before) - set(after)), sorted(set(after) - set(before))
            found[name] = [before, after]
    return found


def placed(question: Mapping[str, Any], path: list[Any], value: Any) -> dict[str, Any]:
    """A question with one figure of it put in, nested as its path tells."""
    made: dict[str, Any] = json.loads(json.dumps(question))
    inner: Any = made
    for step in path[:-1]:
        inner = inner[step]
    inner[path[-1]] = value
    return made


def figure(size: float, unit: str | None) -> Any:
    """A figure as a question gives it."""
    return int(size) if unit == "count" else size if unit is None else {"value": size, "unit": unit}


def scale(unit: str | None) -> float:
    """What a figure is at least compared with: degrees have no nought of their own."""
    return 1.0 if unit == "°C" else 0.0


def sides(calculator: str, question: Mapping[str, Any], edge: Mapping[str, Any]) -> tuple[Signature, Signature]:
    """An answer on either side of an edge."""
    at, unit = edge["at"], edge["unit"]
    step = NEAR * max(abs(at), scale(unit))
    below, above = (at - 1, at) if unit == "count" else (at - step, at + step)
    one, other = (asked(calculator, placed(question, edge["path"], figure(size, unit))) for size in (below, above))
    return one, other

"""Many questions in one body: JSON with ``questions`` and what is ``common`` to them."""

import json
from collections.abc import Mapping, Sequence
from typing import Any, TypeAlias

from ampstead.declare import Calculator
from ampstead.errors import FieldError, Problem, Refusal, clipped
from ampstead.reading.names import base, blank
from ampstead.reading.raw import no_json

Asked: TypeAlias = Mapping[str, Any] | Refusal | Problem
"""One raw question of many, or why there is none: a row that cannot be read never loses the others."""
NAMES = ("questions", "common")
MOST_NAMES = 1000
"""In one object; no question has a tenth of that."""


class _Twice(dict[str, Any]):
    """An object of JSON in which a name stands twice."""

    name = ""


def from_json(body: bytes, calculator: Calculator) -> list[Asked]:
    """The questions of a body, each with what is common to all of them.

    Raises
    ------
    Problem
        If it is no JSON, no object, or holds more questions than the calculator takes.
    Refusal
        If it has no list of questions.
    """
    twice: list[_Twice] = []
    try:
        read = json.loads(body)
        if body.count(b":") != _named(read):  # of which there are more than names where one may stand twice
            read = json.loads(body, object_pairs_hook=lambda pairs: _marked(pairs, twice))
    except (ValueError, RecursionError) as fault:
        raise no_json(fault) from None
    if not isinstance(read, dict):
        raise Problem(400, 'The body must be a JSON object: {"questions": […], "common": {…}}.')
    for part in (read, read.get("common")):
        if isinstance(part, _Twice):
            raise _repeated(part)
    return asked(read, calculator, bool(twice))


def _named(read: Any) -> int:
    """How many names stand in the objects of a batch, if it is one of plain questions and none of them is large."""
    if not isinstance(read, dict):
        return -1
    questions, common = read.get("questions"), read.get("common")
    objects = [
        read,
        *([common] if isinstance(common, dict) else ()),
        *(questions if isinstance(questions, list) else ()),
    ]
    sizes = [len(each) for each in objects if type(each) is dict]
    return sum(sizes) if max(sizes) <= MOST_NAMES else -1


def _marked(pairs: list[tuple[str, Any]], twice: list[_Twice]) -> dict[str, Any]:
    """An object of JSON; marked, and among those ``twice``, where a name stands twice in it."""
    if len(pairs) > MOST_NAMES:
        raise Problem(413, f"An object has at most {MOST_NAMES} names; one of {len(pairs)} was sent.")
    read = dict(pairs)
    if len(read) == len(pairs):
        return read
    marked = _Twice(read)
    names = [name for name, _ in pairs]
    marked.name = next(name for name in names if names.count(name) > 1)
    twice.append(marked)
    return marked


def asked(read: Mapping[str, Any], calculator: Calculator, marked: bool = False) -> list[Asked]:
    """The questions of a batch that has been read; where names stand twice in some of them, these are ``marked``."""
    errors = [
        FieldError(clipped(name), "unknown", f"{clipped(name)} is not known here; a batch has questions and common")
        for name in list(read)[:10]
        if name not in NAMES
    ]
    questions, common = read.get("questions"), read.get("common")
    if questions is None:
        errors.append(FieldError("questions", "missing", "questions is missing: a list of questions"))
    elif not isinstance(questions, list):
        errors.append(FieldError("questions", "wrong_length", "questions must be a list of objects of named inputs"))
    if common is not None and not isinstance(common, Mapping):
        errors.append(FieldError("common", "not_one_of", "common must be an object of named inputs"))
    if errors:
        raise Refusal(errors)
    assert isinstance(questions, list)
    few_enough(len(questions), calculator)
    shared = Common(calculator, common or {})
    simple = not marked and not shared.common
    return [
        entry if simple and type(entry) is dict else _one(entry, place, shared, marked)
        for place, entry in enumerate(questions)
    ]


def few_enough(number: int, calculator: Calculator) -> None:
    """Raises ``Problem`` where these are more questions than the calculator takes at once."""
    if number > calculator.most:
        said = f"A batch of {calculator.name} takes at most {calculator.most} questions; {number} were sent."
        raise Problem(413, said)


def _one(entry: Any, place: int, shared: "Common", marked: bool) -> Asked:
    if not isinstance(entry, Mapping):
        said = f"questions[{place}] must be an object of named inputs"
        return Refusal([FieldError(f"questions[{place}]", "not_one_of", said)])
    if marked and (found := _found(entry)):
        return _repeated(found)
    return shared.joined(entry)


def _found(value: Any) -> _Twice | None:
    """The first object within a value in which a name stands twice."""
    open_ends = [value]
    while open_ends:
        part = open_ends.pop()
        if isinstance(part, _Twice):
            return part
        if isinstance(part, Mapping):
            open_ends += part.values()
        elif isinstance(part, list):
            open_ends += part
    return None


def _repeated(found: _Twice) -> Problem:
    return Problem(400, f"The name {clipped(found.name)} stands twice in one object of the body.")


class Common:
    """What is common to many questions: each question's own inputs win, also over what they exclude."""

    def __init__(self, calculator: Calculator, common: Mapping[str, Any]) -> None:
        self.common = {name: value for name, value in common.items() if not blank(value)}
        self._rules = [rule.members for rule in calculator.rules]
        self._left: dict[tuple[str, ...], Mapping[str, Any]] = {}

    def joined(self, own: Mapping[str, Any]) -> Mapping[str, Any]:
        """A question's own inputs, and what is left of the common ones beside them."""
        if not self.common:
            return own
        names = tuple(name for name, value in own.items() if not blank(value))
        left = self._left.get(names)
        if left is None:
            if len(self._left) > 512:
                self._left.clear()
            left = self._left[names] = {
                name: value for name, value in self.common.items() if not self._won(name, names)
            }
        return {**left, **{name: own[name] for name in names}}

    def _won(self, name: str, own: Sequence[str]) -> bool:
        """Whether a common input yields to a question's own: the same, part of the same, or one that excludes it."""
        mine = base(name)
        for other in own:
            theirs = base(other)
            if name == other or (mine == theirs and (mine == name or theirs == other)):
                return True
            if mine != theirs and any(mine in members and theirs in members for members in self._rules):
                return True
        return False

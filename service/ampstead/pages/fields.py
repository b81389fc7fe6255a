"""A form as its template needs it: every box with its name, label, unit, and what is wrong with it.

What was typed, or is taken where nothing was, stands beside the fields: they have room for it, by name, and are the
same whatever it is, so that a field is made and written once.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple

IDLE = frozenset(
    re.findall(r"\w+", "a an and as at by each every for in is it its number of on one or that the to whole")
)
FEWEST_NEW = 3
"""Words that a meaning must add to a label to be worth its room."""
ROOM = "\ue000{}\ue001"
"""Room for what is typed into the box of a name; between codes that no script uses."""
TAKEN = "\ue002{}\ue001"
"""Room for what is taken for an input."""


class Box(NamedTuple):
    """One box of a field; where something is typed the value is room for it, or the choice itself."""

    name: str
    value: str
    label: str = ""


class Field(NamedTuple):
    """One input of a form."""

    name: str
    label: str
    kind: str
    hint: str
    boxes: tuple[Box, ...]
    units: tuple[str, ...] = ()
    unit: str = ""
    options: tuple[tuple[str, str], ...] = ()
    taken: str = ""
    errors: tuple[str, ...] = ()
    lacking: bool = False
    """Whether it is only missing, which is no fault while somebody types."""
    required: bool = False
    told: bool = False
    short: bool = False
    """Whether its label, its box and its unit stand in one line."""


class Row(NamedTuple):
    """One of several like things."""

    title: str
    parts: tuple["Part", ...]
    more: tuple["Part", ...] = ()
    errors: tuple[str, ...] = ()

    @property
    def told(self) -> bool:
        return any(each.told for each in fields_of(self.more))


class Rows(NamedTuple):
    """A nested input: its rows, the last of a list empty."""

    name: str
    label: str
    rows: tuple[Row, ...]
    errors: tuple[str, ...] = ()
    folded: str = ""
    """Of many rows what they are called: they are folded away but for the empty one."""
    kind: str = "rows"

    @property
    def wrong(self) -> bool:
        """Whether anything is wrong in a row."""
        return any(row.errors or any(each.errors for each in fields_of((*row.parts, *row.more))) for row in self.rows)


class Ways(NamedTuple):
    """A question with several ways to answer it."""

    asked: str
    ways: tuple[tuple["Part", ...], ...]
    kind: str = "ways"

    @property
    def otherwise(self) -> bool:
        """Whether another way than the first is used, or wrong."""
        return any(each.told or each.errors for way in self.ways[1:] for each in fields_of(way))


Part = Field | Rows | Ways


@dataclass(frozen=True, eq=False)
class Shaped:
    """The parts of a form: what is asked first, what may be told too, and the finer points. They are the same for all
    questions that tell the same inputs in the same units."""

    first: tuple[Part, ...]
    more: tuple[Part, ...]
    aside: tuple[Part, ...]
    boxes: Mapping[str, tuple[str, ...]]
    """The names of the boxes of each input that is told."""
    lasting: bool
    """Whether it holds nothing of one question alone, and so is kept."""

    @cached_property
    def more_told(self) -> bool:
        """Whether anything is told, or wrong, in what may be told too."""
        return any(each.told or each.errors for each in fields_of(self.more))

    @cached_property
    def aside_told(self) -> bool:
        """The same of the finer points."""
        return any(each.told or each.errors for each in fields_of(self.aside))


class Form(NamedTuple):
    """A form, and what goes into its room."""

    shape: Shaped
    told: Mapping[str, str]
    """By the names of boxes."""
    taken: Mapping[str, str]
    """By the names of inputs."""


def fields_of(parts: Sequence[Part]) -> Iterator[Field]:
    """Every field of some parts."""
    for part in parts:
        if isinstance(part, Field):
            yield part
        elif isinstance(part, Ways):
            for way in part.ways:
                yield from fields_of(way)
        else:
            for row in part.rows:
                yield from fields_of((*row.parts, *row.more))


@lru_cache(maxsize=2048)
def hint(label: str, meaning: str) -> str:
    """The meaning, where it tells more than the label does."""
    known = set(re.findall(r"[a-z]+", label.lower())) | IDLE
    more = [word for word in re.findall(r"[a-z0-9]+", meaning.lower()) if word not in known]
    return meaning if len(more) >= FEWEST_NEW else ""


def at_first(words: str) -> str:
    """What stands in brackets behind words, before them: there it is seen in a narrow box."""
    short = briefly(words)
    return words if short == words else f"{short} – {words.removesuffix(f' ({short})')}"


def briefly(words: str) -> str:
    """What stands in brackets behind words, where that says it too: LiPo for lithium-polymer (LiPo)."""
    found = re.fullmatch(r".* \((.+)\)", words)
    return found[1] if found else words

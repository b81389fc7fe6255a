"""What can be wrong with a list of packs: each fault says the line, what was read and the cure."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from typing import TypeAlias

from ampstead_client.errors import AmpsteadError


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong."""

    where: str
    """The file and the line, as in `packs.toml line 14`."""
    message: str
    """What was read, and the cure."""

    def __str__(self) -> str:
        return f"{self.where}: {self.message}" if self.where else self.message


class FaultyPacks(AmpsteadError):
    """A file of packs, or a reading to be logged, is wrong; `faults` lists all of it."""

    faults: tuple[Fault, ...]
    """What is wrong, in the order of the lines."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(map(str, self.faults)))


class NoSuchPack(AmpsteadError, KeyError):
    """The list has no pack of that name or id."""

    def __init__(self, name: str, names: Iterable[str]) -> None:
        known = list(names)
        super().__init__(f'there is no pack "{name}"{likeliest(name, known)}')
        self.name = name

    def __str__(self) -> str:
        return self.message


class Wrong(Exception):
    """A value that cannot be read; its message names the field and the cure."""


Tell: TypeAlias = Callable[[str, str], None]
"""Takes a fault: the key that it is about ("" for the whole entry), and the message."""


def likeliest(name: str, known: list[str], cutoff: float = 0.6) -> str:
    """What may have been meant, or else what there is."""
    folded = {each.casefold(): each for each in reversed(known)}
    close = get_close_matches(name.casefold(), folded, n=1, cutoff=cutoff)
    if close:
        return f': did you mean "{folded[close[0]]}"?'
    return f": there are {', '.join(known)}" if known else ": the list is empty"

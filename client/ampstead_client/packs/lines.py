"""Where things stand in a file of packs, so that a fault has its line and a new reading its place.

No library for TOML tells the lines of what it read, and the one that keeps comments puts a new table behind the
comment that heads the next pack. So the text is looked through for its headings, and whatever is written is read
again before it replaces the file.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from ampstead_client.packs.faults import Wrong

_PACK = re.compile(r"\s*\[\[\s*\"?pack\"?\s*\]\]\s*(#.*)?")
_READING = re.compile(r"\s*\[\[\s*pack\s*\.\s*reading\s*\]\]\s*(#.*)?")
_WITHIN = re.compile(r"\s*\[+\s*pack\s*\.\s*([\w-]+)")
_OTHER = re.compile(r"\s*\[+[\w\s.\"'-]+\]+\s*(#.*)?")
_KEY = re.compile(r"\s*[\"']?([\w-]+)[\"']?\s*=")
_FENCES = ('"""', "'''")


NO_PLACE = "write each pack under a heading [[pack]], each reading under [[pack.reading]]: else there is no safe place"


@dataclass
class Entry:
    """Lines of a pack or a reading, from 1."""

    head: int
    keys: dict[str, int] = field(default_factory=dict)
    readings: list[Entry] = field(default_factory=list)
    last: int = 0
    """The last line of it that says anything."""

    def line(self, key: str) -> int:
        """Where a key stands, or else the heading."""
        return self.keys.get(key, self.head)


def entries(text: str) -> list[Entry]:
    """The packs of a text that is TOML, where they are written as `[[pack]]`."""
    packs: list[Entry] = []
    inside: Entry | None = None
    fence = ""
    for number, whole in enumerate(split(text), 1):
        line = whole.rstrip("\r\n")
        if not fence and _PACK.fullmatch(line):
            inside = Entry(number)
            packs.append(inside)
        elif not fence and packs and _READING.fullmatch(line):
            inside = Entry(number)
            packs[-1].readings.append(inside)
        elif not fence and _OTHER.fullmatch(line) and not (packs and _WITHIN.match(line)):
            inside = None
        elif not fence and packs and (within := _WITHIN.match(line)):
            packs[-1].keys.setdefault(within[1], number)
        elif not fence and inside is not None and (key := _KEY.match(line)):
            inside.keys.setdefault(key[1], number)
        for mark in _FENCES:
            if fence in ("", mark) and line.count(mark) % 2:
                fence = "" if fence else mark
        if inside is not None and line.strip() and (fence or not line.lstrip().startswith("#")):
            packs[-1].last = number
    return packs


def split(text: str) -> list[str]:
    """Lines with their ends, as TOML counts them: a text may hold other letters that break a line elsewhere."""
    return re.findall(r"[^\n]*\n|[^\n]+", text)


def with_reading(text: str, place: int, reading: Mapping[str, Any]) -> str:
    """The text with one more reading of the pack at that place. Raises `Wrong` where no headings tell it."""
    lines, end, packs = split(text), _ending(text), entries(text)
    if place >= len(packs):
        raise Wrong(NO_PLACE)
    at = _behind_remarks(lines, packs[place].last)
    if at and not lines[at - 1].endswith("\n"):
        lines[at - 1] += end
    lines[at:at] = [end, *_block("[[pack.reading]]", reading, end)]
    return "".join(lines)


def with_pack(text: str, pack: Mapping[str, Any]) -> str:
    """The text with one more pack at its end."""
    end = _ending(text)
    start = text if not text or text.endswith("\n") else text + end
    return "".join([start, *([end] if text.strip() else []), *_block("[[pack]]", pack, end)])


def _behind_remarks(lines: list[str], last: int) -> int:
    """Behind the comments that follow the last line, unless they lead up to the next heading."""
    at = last
    while at < len(lines) and lines[at].lstrip().startswith("#"):
        at += 1
    return at if at == len(lines) or not lines[at].strip() else last


def _block(heading: str, entry: Mapping[str, Any], end: str) -> list[str]:
    import tomlkit  # here and not above: whoever only reads needs none of it

    body = tomlkit.dumps({name: value for name, value in entry.items() if value is not None})
    return [f"{line}{end}" for line in (heading, *body.splitlines())]


def _ending(text: str) -> str:
    return "\r\n" if "\r\n" in text else "\n"

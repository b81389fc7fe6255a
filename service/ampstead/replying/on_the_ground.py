"""Words for a battery that never flies: what calculators say of flights, said of its use.

A calculator tells its sentences of packs that fly, as nearly all do. Of a kind that does not (``Chemistry.flown``) the
same sentences are told in other words, here alone, as ``words.written`` tells them for the eye.
"""

import re
from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Any

from ampstead.cell.kinds.chemistries import CHEMISTRIES

_PHRASES = {
    "after landing": "afterwards",
    "be flown in series": "be used in series",
    "before each take-off": "before each use",
    "before take-off": "before use",
    "before the model has left the ground": "at once",
    "do not take off with it": "do not load it so",
    "do not take off with": "do not use",
    "do not take off": "do not use it",
    "fit to fly": "fit to use",
    "flown again": "asked again",
    "flown alike": "alike",
    "flown empty": "run empty",
    "flown on": "run on",
    "fly as it is": "be used as it is",
    "fly by a timer": "go by a timer",
    "fly for": "run for",
    "fly harder": "draw more",
    "fly longer": "run longer",
    "fly shorter": "run shorter",
    "fly them": "use them",
    "for flying like": "for a load like that of",
    "for the landing": "for the end",
    "it may fly": "it may be used",
    "it then lands at": "it then ends at",
    "land at the first": "stop at the first",
    "land by the voltage": "stop by the voltage",
    "land, or": "stop, or",
    "light duty on the ground only, never in a model, and": "light duty only,",
    "light duty on the ground only, never in a model": "light duty only",
    "mean to fly": "mean to use it for",
    "on the ground first": "for a moment first",
    "take off with": "use",
    "that fly in": "that are used in",
    "the model draws": "the load draws",
    "whatever the model draws": "whatever the load draws",
    "the motor still pulls": "the load still draws",
    "this model": "this load",
    "to start and fly": "to use",
    "you fly": "you use it",
    # Whatever else is told of a flight.
    "flies": "is used",
    "flight": "run",
    "flights": "runs",
    "flown": "used",
    "fly": "use",
    "flying": "use",
    "landing": "the end",
}
_SAID = re.compile(rf"\b({'|'.join(sorted(map(re.escape, _PHRASES), key=len, reverse=True))})\b", re.IGNORECASE)


def never_flown(known: Mapping[str, Any]) -> bool:
    """Whether a question, as its calculator was asked, is about a battery that does not fly."""
    packs = known.get("packs")
    if packs:
        return not all(CHEMISTRIES[pack.chemistry].flown for pack in packs)
    pack = known.get("pack")
    chemistry = known.get("chemistry") if pack is None else pack.chemistry
    return chemistry is not None and not CHEMISTRIES[chemistry].flown


def on_the_ground(text: str, names: Iterable[str] = ()) -> str:
    """A text of flights, told of a battery that never flies; what people call their packs stays as it is."""
    return _told(text, tuple(sorted({name.strip() for name in names if name.strip()}, key=len, reverse=True)))


@lru_cache(maxsize=512)
def _told(text: str, names: tuple[str, ...]) -> str:
    if not names:
        return _SAID.sub(_other, text)
    kept = re.split(rf"((?<!\w)(?:{'|'.join(map(re.escape, names))})(?!\w))", text, flags=re.IGNORECASE)
    kept[::2] = [_SAID.sub(_other, piece) for piece in kept[::2]]
    return "".join(kept)


def _other(found: re.Match[str]) -> str:
    other = _PHRASES[found[0].lower()]
    return other[:1].upper() + other[1:] if found[0][:1].isupper() else other

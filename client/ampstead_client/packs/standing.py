"""Where one pack stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from ampstead_client.calculators import PackFitness
from ampstead_client.packs.entries import ListedPack
from ampstead_client.packs.trends import Trend

WORST_FIRST = ("retire", "light-duty", "unknown", "other-model", "flight")
VERDICTS: Mapping[str, str] = {
    "retire": "retire",
    "light-duty": "light duty",
    "unknown": "not known",
    "other-model": "too weak",
    "flight": "fit to fly",
}
"""The verdicts in words."""


@dataclass(frozen=True, kw_only=True)
class Standing:
    """One pack, and what is to be said of it."""

    pack: ListedPack
    """The pack."""
    verdict: str
    """`retire`, `light-duty`, `other-model` or `flight`, as pack-fitness has it; `unknown` where it cannot tell."""
    sentence: str
    """The verdict in words, with the gravest caution unless it is fit to fly."""
    answer: PackFitness | None
    """The whole answer; the graver one where the pack was held against itself and against like packs."""
    trends: tuple[Trend, ...]
    """Of its resistance and its capacity."""
    held_against: Mapping[str, Any] = field(default_factory=dict)
    """What its resistance was held against for that answer: `reference_resistance`, its own when new, or
    `sibling_resistances`, those of like packs; empty where there is neither."""

    def trend(self, *kinds: str) -> Trend | None:
        """The trend of the latest readings of any of these kinds."""
        return next((each for each in self.trends if each.kind in kinds), None)

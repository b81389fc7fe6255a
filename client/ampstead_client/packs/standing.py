"""Where one pack stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

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

    def trend(self, *kinds: str) -> Trend | None:
        """The trend of the latest readings of any of these kinds."""
        return next((each for each in self.trends if each.kind in kinds), None)

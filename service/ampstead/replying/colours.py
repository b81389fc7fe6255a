"""The one table of colours, of pictures and pages alike, in daylight and in the dark.

Ink on paper, `limit`, `warn` and `good` on paper have a contrast of 7 to 1 at least, so that they are read in sunlight
(WCAG 2.2, success criterion 1.4.6); the rest of what is read of 4.5 to 1. A test works them out.
"""

from collections.abc import Mapping
from typing import Any

LIGHT: Mapping[str, Any] = {
    "paper": "#ffffff",
    "ink": "#16181d",
    "faint": "#d6d9de",
    "limit": "#b3261e",
    "lines": ("#0a5fb4", "#7a3d00"),
}
DARK: Mapping[str, Any] = {
    "paper": "#14161a",
    "ink": "#f1f3f5",
    "faint": "#3a3f46",
    "limit": "#ff9d94",
    "lines": ("#79b8ff", "#ffc078"),
}
PAGE_LIGHT: Mapping[str, str] = {
    "paper": LIGHT["paper"],
    "ink": LIGHT["ink"],
    "faint": LIGHT["faint"],
    "desk": "#eef0ea",
    "quiet": "#4a4f58",
    "edge": "#767c86",
    "link": "#0a4f98",
    "limit": "#8f1a13",
    "warn": "#6b3a00",
    "good": "#1d5b2c",
    "on": "#ffffff",
}
PAGE_DARK: Mapping[str, str] = {
    "paper": DARK["paper"],
    "ink": DARK["ink"],
    "faint": DARK["faint"],
    "desk": "#0c0d0f",
    "quiet": "#b9c0c9",
    "edge": "#8b939e",
    "link": "#8fc4ff",
    "limit": DARK["limit"],
    "warn": DARK["lines"][1],
    "good": "#8ad49b",
    "on": "#14161a",
}
"""What pages add: the desk on which papers lie, words that are less important, edges of boxes, links, and the three
tones of a finding, each of which stands beside a word or a sign."""

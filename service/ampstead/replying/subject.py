"""Which pack a picture is of, in the few words below its title."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.inputs.pack import Pack
from ampstead.words import capitalised

LONGEST = 44
LISTS = ("cell_voltages", "first_cell_voltages")


def subject(known: Mapping[str, Any], inputs: Mapping[str, Any]) -> str:
    """``Lithium-polymer, 3 cells, 2250 mAh``; the names of several packs; empty where no pack is told.

    ``known`` is what the calculator was asked with, ``inputs`` the names that it takes.
    """
    packs: Sequence[Pack] | None = known.get("packs")
    if packs:
        names = ", ".join(getattr(pack, "name", None) or f"pack {place}" for place, pack in enumerate(packs, 1))
        return capitalised(names) if len(names) <= LONGEST else f"{len(packs)} packs"
    if "chemistry" not in inputs:
        return ""
    pack: Pack | None = known.get("pack")
    if pack is None:
        cells = next((len(known[name]) for name in LISTS if known.get(name) is not None), None)
        return _said(known["chemistry"], cells, None)
    return _said(pack.chemistry, pack.cells, pack.capacity)


def _said(chemistry: str, cells: int | None, capacity: Any) -> str:
    count = [f"{cells} cell{'' if cells == 1 else 's'}"] if cells else []
    smallest = min(capacity.tolist()) if isinstance(capacity, np.ndarray) else capacity
    charge = [f"{smallest / 3.6:.4g} mAh"] if smallest is not None else []
    return capitalised(", ".join([CHEMISTRIES[chemistry].words, *count, *charge]))

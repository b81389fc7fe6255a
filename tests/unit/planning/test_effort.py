"""What the search for a plan may cost, where power is so scarce that hardly a charge begins when it is first looked."""

from itertools import cycle, islice
from typing import Any

import pytest
from reference.asking import answer

from ampstead.planning.placing import Board
from ampstead.planning.work import Task

PACKS = 64


def night(watts: int) -> dict[str, Any]:
    """A club's packs on twelve outputs overnight."""
    sizes = cycle((850, 5800, 1150, 4900, 1300, 3700, 1800, 3300, 2250, 2600))
    packs = [
        {
            "name": f"pack {place}",
            "cells": cells,
            "capacity": f"{size + place} mAh",
            "state_of_charge": 0.1 + 0.4 * (place * 37 % PACKS) / PACKS,
        }
        for place, (cells, size) in enumerate(islice(zip(cycle((2, 3, 3, 4, 4, 6)), sizes, strict=False), PACKS), 1)
    ]
    charger = {"outputs": 12, "current_limit": "8 A", "power_limit": "110 W"}
    return {"packs": packs, "chargers": [charger], "supply_rating": f"{watts} W", "watch_limit": 12}


@pytest.mark.parametrize("watts", [200, 150])
def test_scarce_power_does_not_make_a_question_long(watts: int, monkeypatch: pytest.MonkeyPatch) -> None:
    seen, place = [0], Board.place

    def counted(board: Board, task: Task, part: float = 1.0) -> None:
        before = board.looks
        place(board, task, part)
        seen[0] += board.looks - before

    monkeypatch.setattr(Board, "place", counted)
    over = answer("charge-session", **night(watts))["finish_to_bound"]
    # Each takes some hundredths of a millisecond. Without an end to them it would be three millions and half a minute.
    assert seen[0] < 120_000
    assert over < 1.2

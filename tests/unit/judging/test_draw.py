"""Whoever draws more gets no more: every calculator about a load, asked twice, the second time for more.

The direction of each is Ohm's law and the conservation of charge; no figure is compared with one.
"""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer

LOADED: dict[str, tuple[str, dict[str, int]]] = {
    "sag": ("current", {"loaded_voltage": -1, "weakest_cell_voltage": -1, "sag": 1, "heat": 1, "time_to_floor": -1}),
    "endurance": ("current", {"time_flight": -1}),
    "alarm-voltage": ("current", {"alarm_cell_voltage": -1}),
}
"""By calculator: the input by which it is told what is drawn, and results that may only rise (1) or fall (-1)."""
PACK = {"cells": 3, "capacity": "2250 mAh", "cell_resistance": ["8.5 mΩ", "9 mΩ", "14 mΩ"]}


def asked(calculator: str, draw: str, amperes: float, **more: Any) -> dict[str, Any]:
    return answer(calculator, **PACK, **{draw: f"{amperes} A"}, **more)


@pytest.mark.parametrize("calculator", ["sag", "endurance", "alarm-voltage"])
@given(amperes=st.floats(0.5, 60), more=st.floats(1.02, 2), state=st.floats(0.3, 1))
def test_more_current_never_promises_more(calculator: str, amperes: float, more: float, state: float) -> None:
    draw, results = LOADED[calculator]
    told = {} if calculator == "alarm-voltage" else {"state_of_charge": state}
    one, other = asked(calculator, draw, amperes, **told), asked(calculator, draw, amperes * more, **told)
    for name, sign in results.items():
        if one[name] is not None and other[name] is not None:
            assert sign * (other[name] - one[name]) >= -1e-9 * abs(one[name]), name


@pytest.mark.parametrize("place", range(3))
@pytest.mark.parametrize(
    ("calculator", "more", "named"),
    [
        ("sag", {"current": "23 A"}, "weakest_cell"),
        ("safe-draw", {}, "weakest_cell"),
        ("pack-fitness", {}, "weakest_cell"),
    ],
)
def test_the_weakest_cell_is_named_wherever_it_stands(
    calculator: str, more: dict[str, Any], named: str, place: int
) -> None:
    resistances = ["8.5 mΩ", "9 mΩ"]
    resistances.insert(place, "14 mΩ")
    told = {"cells": 3, "capacity": "2250 mAh", "cell_resistance": resistances}
    assert answer(calculator, **told, **more)[named] == place + 1


@pytest.mark.parametrize("place", range(3))
def test_one_weaker_cell_costs_less_than_if_all_were_as_weak_and_more_than_none(place: int) -> None:
    def promised(*milliohms: float) -> dict[str, Any]:
        told = {"cells": 3, "capacity": "2250 mAh", "cell_resistance": [f"{size} mΩ" for size in milliohms]}
        flown, drawn = answer("endurance", **told, current="23 A"), answer("safe-draw", **told)
        return {"time": flown["time_flight"], "cool": -flown["end_temperature"], "draw": drawn["continuous_current"]}

    mixed = [9.0, 9.0]
    mixed.insert(place, 25.0)
    sound, one, all_weak = promised(9, 9, 9), promised(*mixed), promised(25, 25, 25)
    for name in sound:
        slack = 1e-5 * abs(one[name])
        assert sound[name] >= one[name] - slack, name
        assert one[name] >= all_weak[name] - slack, name
    assert one["cool"] == pytest.approx(all_weak["cool"], abs=0.5)  # the hottest cell is the one that is told
    assert one["cool"] < sound["cool"] - 2

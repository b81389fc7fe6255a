"""Packs on a board as judged: who may be joined, by which resistances, and what their cells do to each other.

Figures are worked by hand: two packs exchange their difference over all resistances between them.
"""

from typing import Any

import numpy as np
import pytest
from tests.reference.asking import answer, cautions, reply

from ampstead.inputs.pack import usual_cell_resistance
from ampstead.judging.bands import resistance_told
from ampstead.judging.joining import Join, JoinedPack, apart_words, names, unfit_words

HOUR = 3600.0
OHM = 0.010


def pack(**told: Any) -> JoinedPack:
    usual: dict[str, Any] = {
        "cells": 3,
        "capacity": 2.25 * HOUR,
        "cell_resistance": OHM,
        "polarisation_resistance": 0.0,
    }
    if not {"cell_voltages", "rest_voltage", "state_of_charge"} & told.keys():
        usual["rest_voltage"] = 11.4
    return JoinedPack(**usual | told)


def join(*packs: JoinedPack, lead: float = 0.0, rate: float = 1.0) -> Join:
    return Join(packs, lead, rate)


def test_each_pack_keeps_its_own_lead_and_has_the_shared_one_where_it_has_none() -> None:
    made = join(pack(), pack(lead_resistance=0.002), lead=0.005)
    assert made.ohmic() == pytest.approx([0.035, 0.032])
    assert made.ohmic(2.0) == pytest.approx([0.065, 0.062])


def test_a_packs_limit_is_its_labels_rate_or_the_one_asked() -> None:
    made = join(pack(max_rate=2.0), pack(), rate=0.5)
    assert made.limits == pytest.approx([4.5, 1.125])


def test_names_are_as_told_or_by_place() -> None:
    assert names([pack(name="red trainer"), pack(), pack()]) == ["red trainer", "pack 2", "pack 3"]


def test_the_most_that_flows_goes_by_the_low_edge_of_each_resistance() -> None:
    """1 kHz: the figure times 1.4, at least 1.2, at most 2."""
    made = join(pack(rest_voltage=11.7, resistance_method="1kHz"), pack(resistance_method="1kHz"))
    assert made.run.first_currents == pytest.approx([-0.3 / 0.084, 0.3 / 0.084])
    assert made.most[1] == pytest.approx(0.3 / 0.072)
    assert made.most[0] == pytest.approx(0)
    low, high = made.peak_edges
    assert low == pytest.approx(0.3 / 0.120 / 2.25)
    assert high == pytest.approx(0.3 / 0.072 / 2.25)
    assert made.peak_rate == pytest.approx(0.3 / 0.084 / 2.25)


@pytest.mark.parametrize(
    ("volts", "hard", "far"),
    # Two packs of three cells of 10 mΩ, one limited to 2.25 A: 0.135 V make just that, three times as much is far.
    [(11.534, False, False), (11.536, True, False), (11.80, True, False), (11.806, True, True)],
)
def test_too_hard_begins_above_the_limit_and_far_too_hard_at_three_times_it(
    volts: float, hard: bool, far: bool
) -> None:
    made = join(pack(rest_voltage=volts), pack())
    assert made.too_hard is hard
    assert made.far_too_hard is far
    assert made.within_limit is not hard


def test_the_hardest_charged_is_the_one_farthest_beyond_its_own_limit() -> None:
    made = join(pack(rest_voltage=11.8), pack(max_rate=2.0), pack(rest_voltage=11.45))
    assert made.hardest == 2
    cold = join(pack(rest_voltage=11.8), pack(max_rate=5.0), pack(temperature=263.15, max_rate=2.0))
    assert cold.limits == pytest.approx([2.25, 11.25, 0])
    assert cold.hardest == 2


def test_the_largest_difference_is_that_at_which_the_limit_flows() -> None:
    made = join(pack(), pack())
    assert made.largest_difference == pytest.approx(2.25 * 0.06 / 3)
    assert made.difference(np.array([2.0, 2.0])) == pytest.approx(2.25 * 0.12 / 3)
    assert join(pack(condition="swollen"), pack()).largest_difference == 0
    assert join(pack()).largest_difference == 0


def test_cells_of_one_place_are_compared_and_a_pack_told_as_a_whole_counts_evenly() -> None:
    odd = pack(cell_voltages=np.array([3.80, 3.91, 3.79]))
    made = join(odd, pack(rest_voltage=11.40))
    assert made.largest_cell_difference == pytest.approx(0.11)
    assert made.apart == (1, 0, 1)
    assert apart_words(made) == "cell 2 of pack 1 and of pack 2 differ by 0.11 volts"
    assert not made.within_limit
    assert join(pack(rest_voltage=11.40), odd).apart == (1, 1, 0)


def test_a_tenth_of_a_volt_is_not_yet_apart() -> None:
    made = join(pack(cell_voltages=np.array([3.80, 3.90, 3.80])), pack(cell_voltages=np.array([3.80, 3.80, 3.80])))
    assert made.apart is None
    assert apart_words(made) == ""
    untold = join(pack(), pack())
    assert untold.cells is untold.largest_cell_difference is untold.balance_wire_current is untold.apart is None


def test_a_balance_wire_carries_more_the_farther_the_cells_are_apart() -> None:
    even = pack(cell_voltages=np.array([3.80, 3.80, 3.80]))
    flows = [
        join(pack(cell_voltages=np.array([3.80, 3.80 + more, 3.80 - more])), even).balance_wire_current
        for more in (0.0, 0.02, 0.04)
    ]
    assert flows[0] == pytest.approx(0, abs=1e-9)
    assert flows[1] is not None
    assert flows[2] == pytest.approx(2 * flows[1])


@pytest.mark.parametrize(
    ("told", "reason", "said"),
    [
        ({"condition": "crashed"}, "condition", "Pack 2: it crashed."),
        ({"cell_voltages": np.array([3.8, 3.8, 3.1])}, "suspect-cell", "Of pack 2, cell 3 stands out at 3.1 volts."),
        ({"cell_voltages": np.array([3.8, 3.8, 2.4])}, "low-cell", "Pack 2: a cell is below 2.5 volts."),
        ({"rest_voltage": 12.66}, "full", "Pack 2 stands above its end of charge."),
        ({"rest_voltage": 8.0}, "cell-count", "Pack 2: its voltage leaves the number of cells in doubt."),
    ],
)
def test_a_pack_that_may_not_be_joined_is_named_with_its_reason(told: dict[str, Any], reason: str, said: str) -> None:
    made = join(pack(), pack(**told))
    assert made.reasons == [None, reason]
    assert made.refused
    assert not made.within_limit
    assert list(unfit_words(made)) == [said]


def test_a_cold_pack_may_give_and_a_full_one_within_a_chargers_tolerance_is_joined() -> None:
    assert not join(pack(temperature=263.15), pack()).refused
    assert not join(pack(rest_voltage=12.65), pack(rest_voltage=12.6)).refused


def test_a_cell_driven_above_full_is_found_by_pack_and_place() -> None:
    high = pack(cell_voltages=np.array([4.15, 4.195, 4.15]))
    made = join(pack(rest_voltage=12.6), high)
    assert made.overcharged == (1, 1)
    assert not made.within_limit
    assert join(pack(rest_voltage=11.5), pack()).overcharged is None


def test_a_guess_is_known_as_one_and_a_figure_of_the_packs_own_is_not() -> None:
    guess = usual_cell_resistance("lipo", 2.25 * HOUR, None)
    assert resistance_told(pack(cell_resistance=guess)) == set()
    assert resistance_told(pack()) == {"cell_resistance"}
    assert resistance_told(pack(cell_resistance=None, pack_resistance=0.03)) == {"cell_resistance"}
    # A guess leaves 5 to 40 mΩ·Ah, 15 being taken.
    low, high = join(pack(cell_resistance=guess), pack()).edges
    assert low == pytest.approx([5 / 15, 1])
    assert high == pytest.approx([40 / 15, 1])


TWO = [
    {"cells": 3, "capacity": "2250 mAh", "cell_resistance": "10 mΩ", "rest_voltage": volts} for volts in ("11.4 V",) * 2
]


def asked(*volts: str, **more: Any) -> list[str]:
    return cautions(
        "parallel-join", packs=[one | {"rest_voltage": v} | more for one, v in zip(TWO, volts, strict=True)]
    )


def test_close_to_the_limit_the_model_is_not_sure() -> None:
    """13 % of error at this rate: from 87 % of the limit on."""
    assert "join-unsure" not in asked("11.516 V", "11.4 V")
    assert "join-unsure" in asked("11.519 V", "11.4 V")
    assert "join-unsure" not in asked("11.536 V", "11.4 V")  # that is hard, not unsure


def test_the_trades_tenth_of_a_volt_is_weighed_where_it_is_too_much() -> None:
    assert "tenth-of-a-volt" in asked("11.4 V", "11.4 V")
    assert "tenth-of-a-volt" not in asked("11.4 V", "11.4 V", max_rate=2.3)
    (said,) = [
        entry["text"] for entry in reply("parallel-join", packs=TWO)["cautions"] if entry["code"] == "tenth-of-a-volt"
    ]
    assert "2.2 C" in said or "2.3 C" in said  # 0.1 V a cell over 20 mΩ are 5 A: 2.2 times the capacity an hour


def test_a_group_has_the_same_judgement() -> None:
    far = [TWO[0] | {"rest_voltage": "12.0 V"}, TWO[1]]
    assert "join-too-hard" in cautions("group-charge", packs=far)
    assert answer("parallel-join", packs=far)["within_limit"] is False


def test_packs_that_may_not_be_joined_are_refused_in_one_sentence() -> None:
    crashed, wet = pack(condition="crashed"), pack(condition="wet")
    assert list(unfit_words(join(crashed, wet))) == ["Pack 1: it crashed; pack 2: it got wet."]
    said = ["Pack 1: it crashed; two other packs are ruled out too."]
    assert list(unfit_words(join(crashed, wet, pack(condition="swollen")))) == said

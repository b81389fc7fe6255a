"""What is in doubt, and by how much: one frozen table, so that a change of it is a decision, never a side effect.

Sources stand beside each entry of the service's own table; most of it is this project's own judgement.
"""

from typing import Any

import pytest

from ampstead.judging.doubts import ERRORS, PLAUSIBLE, edges, error

CELSIUS = 273.15
TRAINER: dict[str, Any] = {"chemistry": "lipo", "capacity": 2.25 * 3600}
RANGES: dict[str, tuple[float, tuple[float, float], bool]] = {
    "cell_resistance": (0.011, (0.005 / 2.25, 0.040 / 2.25), True),  # 5 to 40 mΩ·Ah
    "source_cell_resistance": (0.011, (0.005 / 2.25, 0.040 / 2.25), True),
    "state_of_charge": (0.5, (0.4, 0.6), False),
    "source_state_of_charge": (1.0, (0.95, 1.0), False),
    "temperature": (CELSIUS + 25, (CELSIUS + 10, CELSIUS + 35), False),
    "source_temperature": (CELSIUS + 25, (CELSIUS + 5, CELSIUS + 35), False),
    "efficiency": (0.85, (0.80, 0.95), True),
    "capacity_left": (0.8, (0.7, 1.0), True),
    "peukert": (1.25, (1.05, 1.3), True),
    "polarisation_resistance": (0.005, (0.0035, 0.0065), True),
    "polarisation_time": (30.0, (20.0, 45.0), True),
    "ambient": (CELSIUS + 25, (CELSIUS + 15, CELSIUS + 35), False),
    "resistance_temperature": (CELSIUS + 25, (CELSIUS + 15, CELSIUS + 30), False),
    "cooling": (0.0, (0.0, 0.3), False),
    "cell_mass": (0.1, (0.095, 0.14), False),
    "entropy_coefficient": (0.0, (-0.15e-3, 0.15e-3), False),
    "duty": (0.2, (0.1, 0.4), True),
    "idle_current": (0.25, (0.1, 0.5), True),
    "conductor_temperature": (CELSIUS + 50, (CELSIUS + 20, CELSIUS + 70), True),
    "lead_resistance": (0.0, (0.0, 0.01), False),
    "source_resistance": (0.0, (0.0, 0.05), False),
    "taper": (0.1, (0.05, 0.2), False),
}
"""What is taken, its edges (SI), and whether bands count it."""
WRONG = {
    "resistance to 5C": (0.87, 1.13),
    "resistance to 10C": (0.7, 1.3),
    "resistance beyond 10C": (0.6, 1.4),
    "burst_current": (0.6, 1.4),
    "activation": (15 / 20, 25 / 20),  # kJ/mol
    "activation in the cold": (1.0, 35 / 20),
    "slow part of an energy cell": (1.0, 10.0),
    "charge time": (0.95, 1.05),
    "charge time of a resistive pack": (0.95, 1.4175),
    "charge time beside": (0.0, 900.0),
    "resistance by 1kHz": (1.2 / 1.4, 2.0 / 1.4),
    "resistance by charger": (0.8, 1.5),
    "resistance by 1s": (1.0, 1.0),
    "resistance by 10s": (0.936222, 1.096065),
    "capacity": (0.8, 1.0),
    "charge_returned": (0.95, 1.05),
    "flight current": (0.85, 1.15),
    "receiver current": (0.7, 1.3),
    "cooling": (0.7, 1.3),
    "specific heat": (0.85, 1.15),
    "load_resistance": (0.9, 1.1),
    "gauge": (0.97, 1.28),
    "cross-section": (1.0, 1.16),
    "nickel timer": (14 / 16, 1.0),
    "nickel charge": (1 / 1.1, 1.2 / 1.1),
    "nominal voltage beside": (-0.1, 0.1),
    "rest reading beside": (-0.005, 0.005),
}


def test_every_doubt_stands_in_the_frozen_table() -> None:
    assert set(RANGES) == set(PLAUSIBLE)
    assert set(WRONG) == set(ERRORS)


@pytest.mark.parametrize("name", RANGES)
def test_an_input_that_nobody_told_may_be_this_much(name: str) -> None:
    taken, limits, banded = RANGES[name]
    # A source goes by what is told of the source.
    told = {f"source_{each}": value for each, value in TRAINER.items()} if name.startswith("source_") else TRAINER
    assert edges(name, taken, (), told) == pytest.approx(limits)
    assert edges(name, taken, (name,), told) == (taken, taken)
    assert PLAUSIBLE[name].banded == banded
    assert PLAUSIBLE[name].source


@pytest.mark.parametrize("name", WRONG)
def test_a_figure_may_be_wrong_by_this_much(name: str) -> None:
    assert error(name) == pytest.approx(WRONG[name], abs=1e-6)
    assert ERRORS[name].source


def test_a_state_near_its_end_is_in_doubt_no_further_than_that() -> None:
    assert edges("state_of_charge", 0.05, ()) == pytest.approx((0.0, 0.15))
    assert edges("state_of_charge", 0.95, ()) == pytest.approx((0.85, 1.0))
    assert edges("capacity_left", 1.0, ()) == pytest.approx((0.8, 1.0))
    assert edges("capacity_left", 0.05, ()) == pytest.approx((0.01, 1.0))


def test_a_resistance_of_no_known_pack_is_half_to_twice() -> None:
    assert edges("cell_resistance", 0.01, ()) == pytest.approx((0.005, 0.02))
    assert edges("cell_resistance", 0.01, (), {"chemistry": "lipo"}) == pytest.approx((0.005, 0.02))
    assert edges("cell_resistance", 0.01, (), {"capacity": 3600.0}) == pytest.approx((0.005, 0.02))


@pytest.mark.parametrize(
    ("where", "least", "usual", "most"),
    [(None, 5, 8, 12), ("still-air", 5, 8, 12), ("box", 2, 4, 6), ("draught", 15, 25, 50)],
)
def test_air_is_as_much_in_doubt_as_where_the_pack_lies(where: str | None, least: int, usual: int, most: int) -> None:
    """W/m²K; free convection of 5 to 12 is Çengel's range (from memory), the others this project's own judgement."""
    assert edges("cooling", 0.1, (), {"surroundings": where}) == pytest.approx(
        (0.1 * least / usual, 0.1 * most / usual)
    )


def test_what_is_no_doubtful_input_stays_as_it_is() -> None:
    assert edges("rate", 2.0, ()) == (2.0, 2.0)
    assert edges("cooling", None, ()) == (None, None)

"""What several calculators ask for alike means the same in each, in whatever form it is told.

Each expectation is an identity of the quantities themselves: a mean is a sum over time, a share a part of the whole.
"""

from typing import Any

import pytest
from reference.asking import answer, reply

TRAINER = {"cells": 3, "capacity": "2250 mAh", "cell_resistance": "9 mΩ"}
STEADY: list[dict[str, Any]] = [
    {"load": [{"current": "13.5 A", "duration": "20 s"}]},
    {"load": [{"current": "13.5 A", "duration": "5 s"}, {"current": "13.5 A", "duration": "11 s"}]},
    {"currents": ["13.5 A", "13.5 A"], "shares": ["25 %", 0.75]},
    {"currents": ["13.5 A", "42 A"], "shares": [1, 0]},
    {"flight_time": "6:30", "charge_returned": "1462.5 mAh"},
]


@pytest.mark.parametrize("told", STEADY)
def test_a_steady_flight_is_the_same_flight_however_it_is_told(told: dict[str, Any]) -> None:
    steady, other = answer("endurance", **TRAINER, current="13.5 A"), answer("endurance", **TRAINER, **told)
    assert other["ended_by"] == steady["ended_by"]
    for name in ("time_flight", "charge_used", "energy_used", "resting_landing_voltage", "end_temperature"):
        assert other[name] == pytest.approx(steady[name], rel=1e-3), name


def test_shares_that_are_rounded_count_by_their_part_of_the_whole() -> None:
    thirds: dict[str, Any] = {"currents": ["8 A", "23 A", "40 A"]}
    rounded = answer("endurance", **TRAINER, **thirds, shares=[0.33, 0.33, 0.33])
    exact = answer("endurance", **TRAINER, **thirds, shares=[1 / 3, 1 / 3, 1 / 3])
    assert rounded["time_flight"] == pytest.approx(exact["time_flight"], rel=1e-6)


def test_a_lead_acid_battery_stores_less_than_went_back_and_an_earlier_flight_counts_that() -> None:
    # Charge efficiency of lead-acid about 0.85: common practice, no published source.
    battery = {"chemistry": "lead", "cells": 6, "capacity": "38 Ah"}
    told = answer("endurance", **battery, flight_time="60 min", charge_returned="10 Ah")
    assert told["time_flight"] == pytest.approx(
        answer("endurance", **battery, current="8.5 A")["time_flight"], rel=1e-6
    )


def test_peukerts_law_counts_a_changing_load_by_its_strong_parts() -> None:
    # Peukert 1897: the charge that a lead-acid battery gives falls with the current; Jensen's inequality does the rest.
    battery = {"chemistry": "lead", "cells": 6, "capacity": "38 Ah", "floor": "1 V", "peukert": 1.2}
    times = {}
    for strong in (4, 6, 7):
        shares = {"currents": [f"{strong} A", f"{8 - strong} A"], "shares": [0.5, 0.5]}
        times[strong] = answer("endurance", **battery, **shares)["time_flight"]
    assert times[4] == pytest.approx(answer("endurance", **battery, current="4 A")["time_flight"], rel=1e-3)
    assert times[4] > times[6] > times[7]


SOURCE = {"chemistry": "lead", "cells": 6, "capacity": "38 Ah", "cell_resistance": "2.2 mΩ"}
FLAT = {f"source_{name}": value for name, value in SOURCE.items()}


def test_a_source_told_by_flat_inputs_is_the_same_source() -> None:
    charged = {"cells": 3, "capacity": "2250 mAh", "rate": 1}
    assert answer("field-energy", **FLAT, **charged) == answer("field-energy", source=SOURCE, **charged)


@pytest.mark.parametrize(("left", "right"), [("13 °C", "286.15 K"), ("13 °C", "55.4 °F"), ("33 °C", "91.4 degF")])
def test_a_temperature_is_the_same_in_every_scale(left: str, right: str) -> None:
    one, other = (answer("sag", **TRAINER, current="23 A", temperature=told) for told in (left, right))
    assert {name: pytest.approx(value) for name, value in one.items()} == other


def test_what_is_assumed_of_one_pack_is_assumed_by_every_calculator_that_takes_it() -> None:
    pack = {"cells": 3, "capacity": "2250 mAh"}
    asked: dict[str, dict[str, Any]] = {
        "sag": {"current": "23 A"},
        "endurance": {"current": "14 A"},
        "charge-current": {},
        "storage": {"state_of_charge": 0.9},
    }
    found: dict[str, set[str]] = {}
    for name, more in asked.items():
        for given, value in reply(name, **pack, **more)["assumed"].items():
            if given in ("cell_resistance", "chemistry", "temperature", "resistance_method", "polarisation_time"):
                found.setdefault(given, set()).add(str(value))
    assert len(found) == 5
    assert {given: len(values) for given, values in found.items() if len(values) > 1} == {}

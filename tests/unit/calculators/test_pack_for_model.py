"""Pack-for-model, clause by clause; endurance and safe-draw are asked forward."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, cautions, client, refusals, reply

MODEL: dict[str, Any] = {"cells": 3, "current": "14 A", "peak_current": "23 A", "time_wanted": "6 min"}
PACK: dict[str, Any] = {"capacity": "3000 mAh", "cell_resistance": "5 mΩ", "label_rate": 40}


def needed(**more: Any) -> dict[str, Any]:
    return answer("pack-for-model", **MODEL | more)


def said(**more: Any) -> str:
    return str(reply("pack-for-model", **MODEL | more)["sentence"])


@given(
    mean=st.floats(2, 60), more=st.floats(1, 4), minutes=st.floats(1, 30), reserve=st.floats(0.1, 0.4),
    left=st.floats(0.6, 1), celsius=st.floats(0, 40),
)  # fmt: skip
def test_a_pack_so_sized_flies_the_time_and_may_be_drawn_so_hard(
    mean: float, more: float, minutes: float, reserve: float, left: float, celsius: float
) -> None:
    question = {"current": f"{mean!r} A", "peak_current": f"{mean * more!r} A", "time_wanted": f"{minutes!r} min",
                "reserve": reserve, "capacity_left": left, "temperature": f"{celsius!r} °C"}  # fmt: skip
    got = needed(**question)
    if got["largest_resistance"] is None:
        return
    pack = {"cells": 3, "cell_resistance": f"{got['largest_resistance']!r} mΩ", "temperature": f"{celsius!r} °C"}
    aged = f"{got['capacity_needed'] * left!r} mAh"
    flown = answer("endurance", **pack, capacity=aged, current=f"{mean!r} A", reserve=reserve)
    assert flown["time_flight"] == pytest.approx(minutes, rel=1e-6)
    assert flown["ended_by"] == "reserve"
    label = f"{got['capacity_needed']!r} mAh"
    drawn = answer("safe-draw", **pack, capacity=label, depth=1 - reserve)
    assert drawn["continuous_current"] >= mean * (1 - 1e-6)
    assert drawn["current_limit_by_voltage"] >= mean * more * (1 - 1e-6)
    nearest = (
        drawn["current_limit_by_heat"] / (mean / 0.8)
        if got["resistance_limited_by"] == "heat"
        else drawn["current_limit_by_voltage"] / max(mean * more, mean / 0.8)
    )
    assert nearest == pytest.approx(1, rel=1e-6)


def test_the_charge_that_is_kept_and_that_age_takes_is_added() -> None:
    assert needed()["capacity_needed"] == pytest.approx(1400 / 0.8 / 0.8)
    assert needed(reserve=0, capacity_left=1)["capacity_needed"] == pytest.approx(1400)
    assert "no-reserve" in cautions("pack-for-model", **MODEL, reserve=0)


def test_a_flight_tells_the_current_as_well() -> None:
    flown = answer("pack-for-model", cells=3, flight_time="7.5 min", charge_returned="1480 mAh", time_wanted="7.5 min")
    assert flown["average_current"] == pytest.approx(11.84)
    assert flown["capacity_needed"] == pytest.approx(1480 / 0.64)


def test_the_label_that_is_looked_for_is_twice_what_is_drawn() -> None:
    got = needed()
    assert got["rate_needed"] == pytest.approx(2 * 23 / (got["capacity_needed"] / 1000))
    assert needed(label_part=1)["rate_needed"] == pytest.approx(got["rate_needed"] / 2)
    assert "labels-overstate" in cautions("pack-for-model", **MODEL)


def test_in_the_cold_less_resistance_is_to_be_looked_for() -> None:
    hard = {"peak_current": "80 A"}
    assert needed(**hard, temperature="3 °C")["largest_resistance"] < needed(**hard)["largest_resistance"]
    assert needed(**hard)["resistance_limited_by"] == "voltage"
    assert needed(peak_current="14 A")["resistance_limited_by"] == "heat"


def test_a_voltage_stands_for_the_cells() -> None:
    question = {name: value for name, value in MODEL.items() if name != "cells"}
    assert answer("pack-for-model", **question, nominal_voltage="11.1 V") == needed()
    assert answer("pack-for-model", **question, nominal_voltage="9.9 V", chemistry="life") == needed(chemistry="life")
    assert needed(nominal_voltage="11.1 V") == needed()
    assert refusals("pack-for-model", **MODEL, nominal_voltage="14.8 V") == {
        ("cells", "conflict"),
        ("nominal_voltage", "conflict"),
    }
    assert refusals("pack-for-model", **question) == {("cells", "missing")}


@pytest.mark.parametrize(
    ("pack", "suits", "binds"),
    [
        (PACK, True, "capacity"),
        (PACK | {"label_rate": 20}, True, "label"),
        (PACK | {"cell_resistance": "10 mΩ"}, True, "voltage"),
        (PACK | {"cell_resistance": "14 mΩ", "peak_current": "14 A"}, True, "heat"),
        (PACK | {"label_rate": 10}, False, "label"),
        (PACK | {"capacity": "2000 mAh"}, False, "capacity"),
        (PACK | {"cell_resistance": "20 mΩ", "peak_current": "14 A"}, False, "heat"),
        (PACK | {"cell_resistance": "30 mΩ", "peak_current": "90 A", "label_rate": 900}, False, "voltage"),
        (PACK | {"mass": "260 g", "mass_limit": "220 g"}, False, "mass"),
        (PACK | {"condition": "swollen"}, False, "condition"),
        ({"capacity": "3000 mAh"}, True, "capacity"),
    ],
)
def test_a_pack_at_hand_is_judged_and_what_binds_is_named(pack: dict[str, Any], suits: bool, binds: str) -> None:
    got = needed(**pack)
    assert (got["suits"], got["binds"]) == (suits, binds)
    assert said(**pack).startswith("This lithium-polymer pack " + ("suits" if suits else "does not suit"))


def test_the_capacity_that_is_needed_suits_to_the_last_drop_and_no_less_does() -> None:
    size = needed()["capacity_needed"]
    assert needed(capacity=f"{size!r} mAh")["suits"] is True
    assert needed(capacity=f"{size * 0.999!r} mAh")["suits"] is False
    exact = needed(capacity=f"{size!r} mAh", cell_resistance=f"{needed()['largest_resistance']!r} mΩ")
    assert exact["load_factor"] == pytest.approx(1, rel=1e-6)


def test_without_a_resistance_voltage_and_heat_are_not_vouched_for() -> None:
    assert "resistance-untold" in cautions("pack-for-model", **MODEL, capacity="3000 mAh")
    assert "resistance-untold" not in cautions("pack-for-model", **MODEL, **PACK)
    assert "resistance-untold" not in cautions("pack-for-model", **MODEL)


def test_the_mass_allowed_is_held_by_a_heavy_pack_too() -> None:
    light = needed()["mass_expected"]
    for part, within, code in ((1.41, True, None), (1.39, False, "mass-close"), (0.99, False, "too-heavy")):
        limit = f"{light * part!r} g"
        assert needed(mass_limit=limit)["within_mass"] is within
        told = set(cautions("pack-for-model", **MODEL, mass_limit=limit)) & {"mass-close", "too-heavy"}
        assert told == ({code} if code else set())
    assert needed()["within_mass"] is None


def test_what_no_pack_carries_is_told() -> None:
    got = needed(floor="4.1 V")
    assert got["largest_resistance"] is None
    assert said(floor="4.1 V").endswith("at its reserve a cell rests below its floor; keep more, or lower the floor.")
    assert "hardly-any-pack" in cautions("pack-for-model", **MODEL, floor="4.1 V")
    assert needed(temperature="60 °C")["resistance_limited_by"] == "heat"
    assert said(temperature="60 °C").endswith("from 60 degrees such a flight makes it too hot; cool it.")
    assert "Look for" not in said(temperature="60 °C", **PACK)
    hot = cautions("pack-for-model", **MODEL, temperature="60 °C")
    assert "hot-start" in hot
    assert "hardly-any-pack" not in hot
    assert "hardly-any-pack" not in cautions("pack-for-model", **MODEL)


def test_what_cannot_be_is_refused() -> None:
    assert refusals("pack-for-model", **MODEL | {"peak_current": "9 A"}) == {
        ("current", "conflict"),
        ("peak_current", "conflict"),
    }
    assert refusals("pack-for-model", **MODEL, cell_resistance="5 mΩ") == {("capacity", "missing")}
    assert refusals("pack-for-model", cells=3, time_wanted="6 min") == {("current", "missing")}
    assert refusals("pack-for-model", **MODEL | {"chemistry": "nimh"}) == {("chemistry", "unsupported")}


def test_the_picture_goes_from_shorter_to_longer_flights() -> None:
    lines = client().post("/v1/pack-for-model.csv", json=MODEL).text.splitlines()
    assert lines[0] == "time [min],capacity [mAh],mass [g],rate"
    first, last = ([float(value) for value in line.split(",")] for line in (lines[1], lines[-1]))
    assert (first[0], last[0]) == pytest.approx((1.5, 12))
    assert last[1] == pytest.approx(8 * first[1])
    assert client().post("/v1/pack-for-model.svg", json=MODEL).status_code == 200


def test_what_is_far_beyond_a_limit_is_not_told_in_thousands_of_percent() -> None:
    told = {"cells": 3, "current": "14 A", "time_wanted": "6:30", "capacity": "150 mAh", "cell_resistance": "11 mΩ"}
    got = reply("pack-for-model", **told)
    assert got["answer"]["load_factor"] > 10
    assert "that takes far more than a hundred percent of what" in got["sentence"]
    assert "a flight of 6 minutes and 30 seconds at" in got["sentence"]
    near = reply("pack-for-model", **told | {"capacity": "1150 mAh", "cell_resistance": "2 mΩ"})
    assert "takes 210 percent of what its capacity allows" in near["sentence"]


def test_a_pack_that_gives_next_to_nothing_is_told_how_far_it_falls_short() -> None:
    """By its voltage alone, however little it gives: (U − floor)/R against the current at the end."""
    weak = needed(**PACK | {"cell_resistance": "1200 mΩ", "condition": "sound"})
    weaker = needed(**PACK | {"cell_resistance": "2400 mΩ"})
    assert weak["suits"] is weaker["suits"] is False
    assert weak["binds"] == weaker["binds"] == "voltage"
    assert weaker["load_factor"] == pytest.approx(2 * weak["load_factor"])


@pytest.mark.parametrize("minutes", [5, 60, 600])
def test_a_lead_acid_battery_is_sized_by_peukerts_law(minutes: float) -> None:
    # Peukert's law in the form t = H (C / (I H))^k of battery handbooks; H is 20 h, k the steeper of the usual 1.05 to
    # 1.25, both from memory.
    got = answer("pack-for-model", cells=6, chemistry="lead", current="9 A", time_wanted=f"{minutes} min",
                 reserve=0.2, capacity_left=1)  # fmt: skip
    lasts = 20 * (got["capacity_needed"] / 1000 / (9 * 20)) ** 1.25
    assert 0.8 * lasts * 60 == pytest.approx(minutes)


SO_SOON = "A lithium-polymer pack just large enough for that needs more C on its label than any "


@pytest.mark.parametrize(("question", "told"), [
    ({"time_wanted": "1 s"}, SO_SOON),
    ({"time_wanted": "0.001 s"}, SO_SOON),
    ({"time_wanted": "600 min", "current": "20 kA", "peak_current": "20 kA"},
     "No lithium-polymer pack does that: it takes more charge than any holds. "),
])  # fmt: skip
def test_what_no_pack_can_be_is_not_to_be_looked_for(question: dict[str, Any], told: str) -> None:
    assert said(**question).startswith(told)
    assert "Look for" not in said(**question, capacity="150 mAh", cell_resistance="100 mΩ")
    # A pack at hand that is large enough suits all the same, whatever a smaller one would need.
    assert said(time_wanted="1 s", **PACK).startswith("This lithium-polymer pack suits a flight of 1 second")
    assert "hardly-any-pack" not in cautions("pack-for-model", **MODEL | {"time_wanted": "1 s"}, **PACK)


def test_a_swollen_pack_is_not_to_be_measured_and_a_cold_one_is_to_be_warmed() -> None:
    swollen = cautions("pack-for-model", **MODEL, capacity="3000 mAh", condition="swollen")
    assert "resistance-untold" not in swollen
    assert "cold-load" in cautions("pack-for-model", **MODEL, temperature="0 °C")
    assert "cold-load" not in cautions("pack-for-model", **MODEL)

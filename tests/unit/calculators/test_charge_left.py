"""Charge-left, clause by clause, and what must hold of any reading."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, cautions, client, refusals, reply, spoken

voltages = st.lists(st.floats(3.0, 4.2), min_size=1, max_size=8)


def left(**question: Any) -> dict[str, Any]:
    return answer("charge-left", **question)


def volts(cells: list[float]) -> list[str]:
    return [f"{voltage:.6f} V" for voltage in cells]


def band(of: str, **question: Any) -> tuple[float, float]:
    """The edges of a result; the result itself where its band has no width and is not told."""
    entry = next((entry for entry in reply("charge-left", **question)["accuracy"] if entry["of"] == of), None)
    if entry is None:
        return left(**question)[of], left(**question)[of]
    low, high = (edge["value"] if isinstance(edge, dict) else edge for edge in (entry["low"], entry["high"]))
    return low, high


def test_the_commonest_question_is_answered_no_first_and_by_the_low_edge() -> None:
    said = spoken("charge-left", cells=4, rest_voltage="15.2 V")
    assert said.startswith("No")
    assert "15.2 volts on four lithium-polymer cells means 43 to 64 percent" in said
    assert "count on 43 percent, of which 20 percent is the reserve" in said


# 4.1 V a cell is 91 to 92 percent on the seven published curves; 3.9 V 65 to 72; 3.7 V 19 to 52; 3.5 V 4.6 to 31.
@pytest.mark.parametrize(
    ("volt", "verdict", "first"),
    [(4.2, "full", "Yes"), (4.1, "flyable", "Yes"), (3.9, "flyable", "Yes"), (3.8, "storage", "No"),
     (3.7, "low", "No"), (3.5, "empty", "No"), (0, "empty", "No")],
)  # fmt: skip
def test_the_verdict_goes_by_the_low_edge_and_the_sentence_says_it_first(volt: float, verdict: str, first: str) -> None:
    assert left(cells=1, rest_voltage=f"{volt} V")["verdict"] == verdict
    assert spoken("charge-left", cells=1, rest_voltage=f"{volt} V").startswith(
        f"{first}, " if verdict != "low" else "No:"
    )


@pytest.mark.parametrize(
    ("reserve", "verdict"), [(0.2, "storage"), (0.43, "storage"), (0.44, "low"), (0.9, "low"), (0, "storage")]
)
def test_below_the_reserve_is_low(reserve: float, verdict: str) -> None:
    # The low edge at 3.80 V is 43.3 percent.
    assert left(cells=4, rest_voltage="15.2 V", reserve=reserve)["verdict"] == verdict


def test_an_empty_pack_is_empty_whatever_the_reserve() -> None:
    assert left(cells=1, rest_voltage="3.4 V", reserve=0)["verdict"] == "empty"
    assert left(cells=1, rest_voltage="3.4 V", reserve=0.9)["verdict"] == "empty"


def test_what_is_left_goes_by_the_low_edge_and_is_null_without_the_capacity() -> None:
    assert left(cells=4, rest_voltage="15.2 V")["charge_left"] is None
    assert left(cells=4, rest_voltage="15.2 V", capacity="1000 mAh")["charge_left"] == pytest.approx(433 - 200)
    assert left(cells=4, rest_voltage="14.4 V", capacity="1000 mAh")["charge_left"] == 0


@given(voltages, st.floats(0, 0.95), st.floats(0.1, 20))
def test_a_pack_has_what_its_lowest_cell_has(cells: list[float], reserve: float, ampere_hours: float) -> None:
    more = {"reserve": reserve, "capacity": f"{ampere_hours} Ah"}
    lowest = f"{min(cells):.6f} V"
    assert left(cell_voltages=volts(cells), **more) == left(cells=1, rest_voltage=lowest, **more)


@given(st.floats(3.0, 4.19), st.floats(0, 0.01), st.sampled_from(["lipo", "lihv", "liion"]))
def test_more_volts_never_mean_less(volt: float, more: float, chemistry: str) -> None:
    order = ["empty", "low", "storage", "flyable", "full"]
    question = {"cells": 1, "capacity": "1 Ah", "chemistry": chemistry}
    one, two = (left(rest_voltage=f"{v:.6f} V", **question) for v in (volt, volt + more))
    assert two["state_of_charge"] >= one["state_of_charge"] - 1e-12
    assert two["charge_left"] >= one["charge_left"] - 1e-9
    assert order.index(two["verdict"]) >= order.index(one["verdict"])


@given(voltages, st.floats(0, 0.95))
def test_the_bands_hold_the_answer_and_nothing_above_the_low_edge_is_promised(
    cells: list[float], reserve: float
) -> None:
    question = {"cell_voltages": volts(cells), "capacity": "1 Ah", "reserve": reserve}
    got = left(**question)
    low, high = band("state_of_charge", **question)
    assert low - 1e-12 <= got["state_of_charge"] <= high + 1e-12
    assert got["charge_left"] == pytest.approx(max(0.0, low - reserve) * 1000, abs=1e-6)
    assert band("charge_left", **question) == pytest.approx(
        (got["charge_left"], max(0.0, high - reserve) * 1000), abs=1e-6
    )


def test_unlike_capacities_count_by_the_cell_that_has_least_to_give() -> None:
    # 4.0 V is at least 75.6 percent, 3.9 V at least 64.8: 0.556 lies between 0.448 of 1 Ah and of 2 Ah.
    even = {"cell_voltages": ["4.0 V", "3.9 V"]}
    assert left(**even, capacity=["1000 mAh", "1000 mAh"])["charge_left"] == pytest.approx(448)
    assert left(**even, capacity=["1000 mAh", "2000 mAh"])["charge_left"] == pytest.approx(556)


def test_a_pack_must_be_told_its_state_and_its_cells() -> None:
    assert refusals("charge-left") == {("rest_voltage", "missing"), ("cells", "missing")}
    assert refusals("charge-left", cells=4) == {("rest_voltage", "missing")}
    assert refusals("charge-left", rest_voltage="15.2 V") == {("cells", "missing")}
    both = refusals("charge-left", cells=1, rest_voltage="4 V", cell_voltages=["4 V"])
    assert both == {("rest_voltage", "conflict"), ("cell_voltages", "conflict")}
    uneven = refusals("charge-left", cells=3, cell_voltages=["4 V", "4 V"])
    assert uneven == {("cells", "wrong_length"), ("cell_voltages", "wrong_length")}
    assert refusals("charge-left", cells=4, rest_voltage="19.7 V") == {("rest_voltage", "out_of_range")}
    assert refusals("charge-left", cells=4, rest_voltage="5 V", chemistry="nimh") == {("chemistry", "unsupported")}
    assert refusals("charge-left", cells=4, state_of_charge=0.5) >= {("state_of_charge", "unknown")}


def test_a_conflict_is_told_once_for_each_field() -> None:
    got = (
        client().post("/v1/charge-left", json={"cells": 1, "rest_voltage": "4 V", "cell_voltages": ["4 V"]}).get_json()
    )
    assert sorted(entry["field"] for entry in got["errors"]) == ["cell_voltages", "rest_voltage"]


def test_low_and_doubtful_readings_are_dangers_in_the_first_place() -> None:
    assert cautions("charge-left", cells=1, rest_voltage="2.9 V")[0] == "low-cell"
    assert cautions("charge-left", cells=1, rest_voltage="2.4 V")[0] == "dead-cell"
    assert cautions("charge-left", cells=4, rest_voltage="11.4 V")[0] == "cell-count"
    assert "overcharged-slightly" in cautions("charge-left", cells=4, rest_voltage="16.85 V")
    assert "uneven-cells" in cautions("charge-left", cell_voltages=["3.9 V", "3.87 V"])
    assert "uneven-cells" not in cautions("charge-left", cell_voltages=["3.9 V", "3.88 V"])
    assert "flat-curve" in cautions("charge-left", cells=4, rest_voltage="13.2 V", chemistry="life")
    assert "extrapolated-curve" in cautions("charge-left", cells=4, rest_voltage="15.2 V", chemistry="lihv")


def test_the_table_has_a_row_for_each_cell_or_one_for_the_pack() -> None:
    def rows(**question: Any) -> list[str]:
        text: str = client().get("/v1/charge-left.csv", query_string=question).text
        return text.splitlines()

    each = rows(cell_voltages="3.8,3.9 V")
    assert each[0] == "cell,voltage [V],state_low,state_of_charge,state_high"
    assert [row.split(",")[0] for row in each[1:]] == ["cell 1", "cell 2"]
    assert [row.split(",")[0] for row in rows(cells=4, rest_voltage="15.2 V")[1:]] == ["each cell"]


@pytest.mark.parametrize("volts", ["4.19,4.18,4.20,3.90 V", "4.20,4.20,4.20,3.95 V"])
def test_a_cell_that_stands_out_is_never_a_yes(volts: str) -> None:
    assert spoken("charge-left", cell_voltages=volts).startswith("No: cell 4 stands out at 3.9")
    assert answer("charge-left", cell_voltages=volts)["flies"] is False
    assert cautions("charge-left", cell_voltages=volts)[0] == "suspect-cell"


def test_a_level_pack_flies_again_where_its_verdict_says_so() -> None:
    assert answer("charge-left", cell_voltages="4.19,4.18,4.20,4.19 V")["flies"] is True
    assert answer("charge-left", cell_voltages="4.0,4.0,3.99,4.01 V")["flies"] is True
    assert answer("charge-left", cell_voltages="3.70,3.70,3.69,3.70 V")["flies"] is False
    assert "suspect-cell" not in cautions("charge-left", cell_voltages="3.70,3.70,3.69,3.70 V")


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({"cells": 4, "rest_voltage": "17.4 V"}, "17.4 volts on four lithium-polymer cells is above full"),
        ({"cell_voltages": "4.2,4.35,4.2,4.2 V"}, "a cell of this lithium-polymer pack stands at 4.35 volts"),
    ],
)
def test_an_overcharged_pack_is_never_told_to_fly(told: dict[str, Any], said: str) -> None:
    # This project's own judgement: more than 50 mV above full no meter's error explains.
    assert left(**told)["flies"] is False
    assert spoken("charge-left", **told).startswith(f"No: {said}")
    assert "overcharged" in cautions("charge-left", **told)
    assert left(cells=4, rest_voltage="17.0 V")["flies"] is True


def test_a_reserve_of_nothing_is_not_spoken_of() -> None:
    assert "reserve" not in spoken("charge-left", cells=4, rest_voltage="15.6 V", reserve=0)
    assert "reserve" not in spoken("charge-left", cells=4, rest_voltage="15.6 V", reserve=0, capacity="3700 mAh")
    assert "reserve of 20 percent" in spoken("charge-left", cells=4, rest_voltage="15.6 V", capacity="3700 mAh")


def test_a_battery_without_a_balance_plug_is_not_sent_to_one() -> None:
    def unseen(**told: Any) -> str:
        got = reply("charge-left", cells=6, **told)
        return next(each["text"] for each in got["cautions"] if each["code"] == "cells-unseen")

    assert "balance plug" in unseen(rest_voltage="22.6 V")
    assert "balance plug" not in unseen(chemistry="lead", rest_voltage="12.5 V")


def test_no_caution_levels_cells_or_tells_how_low_they_are_where_another_forbids_it() -> None:
    assert "uneven-cells" in cautions("charge-left", cell_voltages="3.77,3.76,3.79,3.65 V")
    assert "uneven-cells" not in cautions("charge-left", cell_voltages="3.77,3.76,3.79,2.3 V")
    doubt = cautions("charge-left", cells=4, rest_voltage="10 V")  # as well of three
    assert "cell-count" in doubt
    assert "low-cell" not in doubt


def test_lead_acid_that_is_to_be_charged_gives_off_gas() -> None:
    half = {"chemistry": "lead", "cells": 6, "rest_voltage": "12.2 V"}
    assert {"never-alone", "lead-gas"} <= set(cautions("charge-left", **half))
    assert "lead-gas" in cautions("balance-need", chemistry="lead", cell_voltages="2.05,2.1 V")
    assert "lead-gas" not in cautions("charge-left", cells=3, rest_voltage="11.1 V")


def test_what_is_as_good_as_nothing_is_told_as_nothing() -> None:
    # Its low edge is 19.2 percent.
    told = {"cells": 1, "rest_voltage": "3.7 V", "capacity": "1000 mAh"}
    assert "count on nothing above the reserve of 19 percent" in spoken("charge-left", **told, reserve=0.1915)
    assert "count on 12 milliampere hours above" in spoken("charge-left", **told, reserve=0.18)

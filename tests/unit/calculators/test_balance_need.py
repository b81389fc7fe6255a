"""Balance-need, clause by clause."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.asking import answer, cautions, client, refusals, reply, spoken


def need(*volts: float, **question: Any) -> dict[str, Any]:
    return answer("balance-need", cell_voltages=[f"{voltage} V" for voltage in volts], **question)


# With the usual limit of 20 mV.
@pytest.mark.parametrize(
    ("volts", "verdict", "balance"),
    [
        ((3.90, 3.90), "level", False),
        ((3.90, 3.91), "level", False),  # half the limit
        ((3.900, 3.9101), "drifting", False),
        ((3.86, 3.88), "drifting", False),  # the limit, whatever the binary digits say
        ((3.86, 3.8801), "balance", True),
        ((3.86, 3.91), "balance", True),
        ((3.90, 4.00), "balance", True),  # five limits
        ((3.90, 4.0001), "suspect", True),
        ((2.99, 2.99), "suspect", False),  # below 3.0 V, though level
        ((3.00, 3.00), "level", False),
        ((3.695, 3.7151), "suspect", True),  # over the limit, some but not all below the rest floor of 3.7 V
        ((3.70, 3.70, 3.69, 3.70), "level", False),  # no more than a meter's step below it
        ((3.695, 3.699), "level", False),  # all of them
        ((3.700, 3.705), "level", False),
    ],
)
def test_verdicts_at_their_edges(volts: tuple[float, ...], verdict: str, balance: bool) -> None:
    got = need(*volts)
    assert got["verdict"] == verdict
    assert got["balance"] is balance


@pytest.mark.parametrize(
    ("chemistry", "volts", "verdict"),
    [
        ("life", (2.50, 2.50), "level"),
        ("life", (2.49, 2.49), "suspect"),
        ("life", (2.995, 3.016), "suspect"),  # rest floor 3.0 V
        ("life", (2.995, 3.0), "level"),
        ("life", (3.60, 3.40, 3.50), "balance"),  # hardly any charge lies between
        ("life", (3.0, 3.005), "level"),
        ("liion", (3.195, 3.216), "suspect"),  # rest floor 3.2 V
        ("liion", (3.0, 3.005), "level"),
        ("liion", (2.99, 3.0), "suspect"),
        ("lihv", (4.30, 4.33), "balance"),
        ("lihv", (3.695, 3.716), "suspect"),
        ("lead", (2.02, 2.041), "suspect"),  # rest floor 2.03 V
        ("lead", (2.05, 2.055), "level"),
    ],
)
def test_verdicts_go_by_chemistry(chemistry: str, volts: tuple[float, ...], verdict: str) -> None:
    assert need(*volts, chemistry=chemistry)["verdict"] == verdict


@pytest.mark.parametrize(
    ("spread", "verdict", "balance"),
    [(0.05, "level", False), (0.051, "drifting", False), (0.1, "drifting", False), (0.101, "balance", True)],
)
def test_the_limit_can_be_told(spread: float, verdict: str, balance: bool) -> None:
    got = need(3.9, 3.9 + spread, limit="100 mV")
    assert (got["verdict"], got["balance"]) == (verdict, balance)


def test_the_lowest_4_14_and_the_highest_4_17_call_for_balancing_and_are_not_suspect() -> None:
    # Common practice, no published source.
    got = need(3.86, 3.91)
    assert got["verdict"] == "balance"
    assert (got["lowest_cell"], got["highest_cell"]) == (1, 2)
    assert "suspect-cell" not in cautions("balance-need", cell_voltages="3.86,3.91 V")
    assert reply("balance-need", cell_voltages="3.86,3.91 V")["assumed"]["limit"] == {"value": 0.02, "unit": "V"}


def test_cells_are_counted_from_one_and_the_first_of_equals_is_named() -> None:
    got = need(3.91, 3.90, 3.92, 3.90, 3.92)
    assert (got["highest_cell"], got["lowest_cell"]) == (3, 2)
    assert got["mean_voltage"] == pytest.approx(3.91)
    assert got["pack_voltage"] == pytest.approx(19.55)
    assert got["spread"] == pytest.approx(0.02)


def test_the_gap_needs_a_capacity_and_the_time_a_bleed_current_too() -> None:
    bare = need(3.836461, 3.847834)  # 0.60 and 0.62 of Ai et al. 2020
    assert bare["imbalance"] == pytest.approx(0.02)
    assert (bare["charge_gap"], bare["time_to_level"]) == (None, None)
    assert need(3.836461, 3.847834, bleed_current="50 mA")["time_to_level"] is None
    full = need(3.836461, 3.847834, capacity="2500 mAh", bleed_current="50 mA")
    assert full["charge_gap"] == pytest.approx(50)
    assert full["time_to_level"] == pytest.approx(60)


def test_gap_and_time_are_as_sure_as_the_imbalance_and_the_time_is_said_as_a_span() -> None:
    asked = {"cell_voltages": "3.86,3.91,3.87 V", "capacity": "2250 mAh", "bleed_current": "250 mA"}
    got = reply("balance-need", **asked)
    bands = {band["of"]: band for band in got["accuracy"]}
    for edge in ("low", "high"):
        part = bands["imbalance"][edge]
        assert bands["charge_gap"][edge]["value"] == pytest.approx(2250 * part)
        assert bands["time_to_level"][edge]["value"] == pytest.approx(60 * 2250 * part / 250)
    assert got["sentence"].endswith(
        "That is 4.4 to 9.3 percent of the charge, and takes 20 to 50 minutes to bleed off."
    )


def test_the_same_spread_is_more_charge_where_the_curve_is_flat() -> None:
    assert need(3.76, 3.78)["imbalance"] > 3 * need(3.50, 3.52)["imbalance"]
    assert "level-by-voltage" in cautions("balance-need", cell_voltages="3.76,3.78 V")
    assert "level-by-voltage" not in cautions("balance-need", cell_voltages="4.11,4.13 V")
    assert "flat-curve" in cautions("balance-need", cell_voltages="3.26,3.27 V", chemistry="life")


def test_cells_that_did_not_rest_are_told_so() -> None:
    assert "not-rested" in cautions("balance-need", cell_voltages="3.76,3.78 V", rested=False)
    assert "not-rested" in cautions("balance-need", cell_voltages="3.76,3.78 V", rested="False")
    assert "not-rested" not in cautions("balance-need", cell_voltages="3.76,3.78 V")
    assert refusals("balance-need", cell_voltages="3.76,3.78 V", rested=1) == {("rested", "not_one_of")}


def test_a_suspect_cell_is_a_danger_named_first() -> None:
    first = reply("balance-need", cell_voltages="3.9,3.9,3.7 V")["cautions"][0]
    assert (first["code"], first["severity"]) == ("suspect-cell", "danger")
    assert "cell 3" in first["text"]


def test_a_dead_cell_is_not_to_be_charged_at_all() -> None:
    question = {"cell_voltages": "0,0,0 V"}
    assert spoken("balance-need", **question).startswith(
        "Do not charge or fly this lithium-polymer pack: every cell rests below 2.5 volts."
    )
    told = cautions("balance-need", **question)
    assert told[0] == "dead-cell"
    assert "suspect-cell" not in told


def test_a_cell_that_cannot_be_is_refused_with_the_word_not_to_charge() -> None:
    got = client().get("/v1/balance-need", query_string={"cell_voltages": "4.95,4.20 V"})
    assert got.status_code == 422
    assert "do not charge it" in got.get_json()["errors"][0]["message"]


def test_a_cell_within_a_meters_error_of_full_is_said_to_be_full() -> None:
    assert "overcharged-slightly" in cautions("balance-need", cell_voltages="4.215,4.21 V")
    assert "overcharged-slightly" not in cautions("balance-need", cell_voltages="4.20,4.20 V")


def test_the_odd_cell_is_named_wherever_it_stands() -> None:
    said = spoken("balance-need", cell_voltages="3.85,4.15,3.84,3.86 V")
    assert "cell 2 stands out at 4.15 volts" in said
    assert "cell 2 stands out at 4.15 volts" in said


def test_balancing_is_charging_and_says_never_to_leave_it_alone() -> None:
    assert {"never-alone", "papers"} <= set(cautions("balance-need", cell_voltages="3.86,3.91 V"))


@pytest.mark.parametrize("chemistry", ["nimh", "nicd"])
def test_nickel_is_not_supported_for_want_of_a_curve(chemistry: str) -> None:
    assert refusals("balance-need", cell_voltages="1.2,1.3 V", chemistry=chemistry) == {("chemistry", "unsupported")}


def test_two_cells_or_more_and_no_voltage_beyond_reason() -> None:
    assert refusals("balance-need", cell_voltages="3.86 V") == {("cell_voltages", "wrong_length")}
    assert refusals("balance-need", cell_voltages=["3.9 V"] * 15) == {("cell_voltages", "wrong_length")}
    assert refusals("balance-need", cell_voltages=["3.9 V"] * 65) == {("cell_voltages", "wrong_length")}
    assert refusals("balance-need", cell_voltages="3.86,4.96 V") == {("cell_voltages", "out_of_range")}
    assert refusals("balance-need", cell_voltages="3.86,3.91") == {("cell_voltages", "unit_missing")}
    assert refusals("balance-need") == {("cell_voltages", "missing")}
    assert need(*[3.9] * 14)["verdict"] == "level"


@pytest.mark.parametrize(
    "listed",
    [
        "3.86,3.91 V",
        "3.86 V,3.91 V",
        "3860 mV, 3910mV",
        "3860,3910 mV",
        "3860 mV,3.91 V",
        ["3.86 V", "3.91 V"],
        [{"value": 3.86, "unit": "V"}, "3910 mV"],
        {"value": [3.86, 3.91], "unit": "V"},
    ],
)
def test_a_list_is_read_in_every_form(listed: Any) -> None:
    assert answer("balance-need", cell_voltages=listed) == need(3.86, 3.91)


volts = st.floats(3.0, 4.2)


@given(cells=st.lists(volts, min_size=2, max_size=14))
def test_the_order_of_cells_changes_places_only(cells: list[float]) -> None:
    one, other = need(*cells), need(*reversed(cells))
    for name in ("spread", "highest_voltage", "lowest_voltage", "imbalance", "verdict", "balance"):
        assert other[name] == one[name]
    assert other["mean_voltage"] == pytest.approx(one["mean_voltage"])
    assert one["lowest_voltage"] - 1e-12 <= one["mean_voltage"] <= one["highest_voltage"] + 1e-12
    assert 0 <= one["imbalance"] <= 1


@given(cells=st.lists(volts, min_size=2, max_size=6), factor=st.floats(0.1, 10))
def test_gap_and_time_scale_with_charge_and_current(cells: list[float], factor: float) -> None:
    one = need(*cells, capacity="1 Ah", bleed_current="100 mA")
    more = need(*cells, capacity=f"{factor} Ah", bleed_current="100 mA")
    faster = need(*cells, capacity="1 Ah", bleed_current=f"{100 * factor} mA")
    assert more["charge_gap"] == pytest.approx(factor * one["charge_gap"])
    assert more["time_to_level"] == pytest.approx(factor * one["time_to_level"])
    assert faster["time_to_level"] == pytest.approx(one["time_to_level"] / factor)


def test_of_a_cell_above_full_the_phone_says_last_not_to_charge() -> None:
    said = spoken("balance-need", cell_voltages="4.2,4.35,4.2 V")
    assert said.startswith("Do not charge this lithium-polymer pack: cell 2 stands at 4.35 volts, above full.")
    assert cautions("balance-need", cell_voltages="4.2,4.35,4.2 V")[0] == "overcharged"
    assert "percent" not in said


@pytest.mark.parametrize("chemistry", ["lead", "lihv", "lipo", "life"])
def test_cells_never_differ_by_more_than_a_whole_charge(chemistry: str) -> None:
    cells = {"lead": "2.0,2.13 V", "life": "2.6,3.5 V"}.get(chemistry, "3.0,4.2 V")
    (band,) = reply("balance-need", cell_voltages=cells, chemistry=chemistry)["accuracy"]
    assert band["low"] <= band["high"] <= 1


def test_a_pack_that_is_retired_for_its_cells_is_not_told_to_wait() -> None:
    assert " yet: " not in spoken("balance-need", cell_voltages="3.85,3.84,3.86,3.10 V")
    assert " yet: " in spoken("balance-need", cell_voltages="4.19,4.18,4.20,3.90 V")


def test_no_part_of_the_charge_is_spoken_off_the_ends_of_the_curve() -> None:
    off = {"cell_voltages": "4.21,4.22 V", "capacity": "2250 mAh", "bleed_current": "0.2 A"}
    assert answer("balance-need", **off)["imbalance"] == 0
    assert "percent" not in spoken("balance-need", **off)
    assert "percent" in spoken("balance-need", cell_voltages="4.17,4.19 V")


@pytest.mark.parametrize(
    ("highest", "charged"), [("4.20 V", True), ("4.21 V", True), ("4.22 V", False), ("4.25 V", False)]
)
def test_cells_that_must_not_be_charged_are_not_levelled_at_the_next_charge(highest: str, charged: bool) -> None:
    got = reply("balance-need", cell_voltages=[highest, "4.16 V", "4.17 V"])
    assert got["answer"]["verdict"] == "balance"
    barred = any("Do not charge" in each["text"] for each in got["cautions"])
    assert barred is not charged
    assert ("at the next charge" in got["sentence"]) is charged

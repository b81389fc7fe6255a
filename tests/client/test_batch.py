"""Many questions by the client: lists, columns, and frames of libraries that need not be there."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import pytest

from ampstead_client import AmpsteadClient, FieldError, InvalidQuestion, NotFound, Pack, Quantity, TooLarge, Unreadable

QUESTIONS = [{"cells": 3, "capacity": "1150 mAh"}, {"cells": 4, "capacity": Quantity(3.7, "Ah"), "rate": None}]


@pytest.fixture
def client() -> Iterator[AmpsteadClient]:
    with AmpsteadClient.embedded() as embedded:
        yield embedded


class Frame:
    """A frame as pandas and polars have in common: `.columns`, and a column by its name."""

    def __init__(self, **columns: list[Any]) -> None:
        self.columns = [name.replace("__", " [") + "]" if "__" in name else name for name in columns]
        self._columns = dict(zip(self.columns, columns.values(), strict=True))

    def __getitem__(self, name: str) -> list[Any]:
        return self._columns[name]


class Missing:
    """A value like pandas' NA, which tells neither that it equals itself nor that it does not."""

    def __ne__(self, other: object) -> Any:
        return self

    def __bool__(self) -> bool:
        raise TypeError("ambiguous")

    __hash__ = None  # type: ignore[assignment]


def test_a_list_of_questions_is_answered_in_order(client: AmpsteadClient) -> None:
    told = client.batch("wattage", QUESTIONS, common={"rate": "2C"})
    alone = [
        client.wattage(cells=3, capacity="1150 mAh", rate="2C"),
        client.wattage(cells=4, capacity="3.7 Ah", rate="2C"),
    ]
    assert [row["peak_power"] for row in told] == [answer.peak_power for answer in alone]
    assert told[1].cautions == alone[1].cautions
    assert told[1].accuracy == alone[1].accuracy
    assert told[0].assumed["efficiency"] == 0.85
    assert told.column("nominal_power", "kW") == pytest.approx([0.02553, 0.10952])
    assert "2, 0 refused" in repr(told)


def test_a_refused_row_loses_no_other_and_raises_what_it_would_alone(client: AmpsteadClient) -> None:
    good, bad = client.batch("wattage", [QUESTIONS[0], {"cells": 3, "capacity": 1150}])
    assert good.problem is None
    assert good.fault is None
    assert good.errors == ()
    assert bad.answer == {}
    assert [type(error) for error in bad.errors] == [FieldError]
    assert bad.errors[0].code == "unit_missing"
    with pytest.raises(InvalidQuestion, match="1150 mAh"):
        bad["peak_power"]


@pytest.mark.parametrize("hole", [None, math.nan, Missing()])
def test_columns_and_frames_are_read_and_their_holes_are_not_given(hole: Any, client: AmpsteadClient) -> None:
    columns = {"cells": [3, 3], "capacity [mAh]": [1150.0, 2250], "rate": ["2C", hole]}
    frame = Frame(cells=[3, 3], capacity__mAh=[1150.0, 2250], rate=["2C", hole])
    rows = [{"cells": 3, "capacity": "1150 mAh", "rate": "2C"}, {"cells": 3, "capacity": "2250 mAh", "rate": hole}]
    expected = pytest.approx([3 * 3.7 * 2.3, 3 * 3.7 * 2.25])
    assert client.batch("wattage", columns=columns).column("nominal_power", "W") == expected
    assert client.batch("wattage", columns=frame).column("nominal_power", "W") == expected
    assert client.batch("wattage", frame).column("nominal_power", "W") == expected
    assert client.batch("wattage", rows).column("nominal_power", "W") == expected


def test_packs_and_lists_may_be_questions(client: AmpsteadClient) -> None:
    packs = [Pack(cells=3, capacity="2250 mAh", rest_voltage="11.31 V"), Pack(cells=3, capacity="2250 mAh")]
    assert client.batch("charge_current", packs).column("current", "A") == [2.25, 2.25]
    listed = client.batch("balance-need", columns={"cell_voltages [V]": [[3.86, 3.91, 3.87]]})
    assert listed[0]["highest_cell"] == 2


@pytest.mark.parametrize(
    ("asked", "fault"),
    [
        ({}, TypeError),
        ({"questions": [], "columns": {}}, TypeError),
        ({"columns": {"cells": [3, 4], "capacity": ["1 Ah"]}}, ValueError),
        ({"questions": "cells"}, TypeError),
        ({"questions": [5]}, TypeError),
        ({"questions": [{}] * 10_001}, TooLarge),
    ],
)
def test_what_is_no_table_is_told(asked: dict[str, Any], fault: type[Exception], client: AmpsteadClient) -> None:
    with pytest.raises(fault):
        client.batch("wattage", **asked)


def test_no_such_calculator_is_told(client: AmpsteadClient) -> None:
    with pytest.raises(NotFound):
        client.batch("watage", QUESTIONS)


@pytest.mark.parametrize("document", [{}, {"answers": []}, {"answers": [{}, {}]}, {"answers": [3, 4]}])
def test_an_unexpected_reply_is_told(document: dict[str, Any]) -> None:
    class Recorded:
        def ask(self, calculator: str, question: Any) -> dict[str, Any]:
            return document

        def address(self, calculator: str) -> str:
            return calculator

        def close(self) -> None:
            pass

    with pytest.raises(Unreadable):
        AmpsteadClient.over(Recorded()).batch("wattage", QUESTIONS)


def test_a_pack_fills_in_what_a_question_of_many_or_all_of_them_leave_open(client: AmpsteadClient) -> None:
    trainer = Pack(cells=3, capacity="2250 mAh", cell_resistance="9 mΩ", rest_voltage="11.31 V")
    several = [{"pack": trainer, "rest_voltage": math.nan}, {"pack": {"cells": 4, "capacity": "3700 mAh"}}]
    told = client.batch("charge_current", [*several, {"pack": trainer, "state_of_charge": 0.5}])
    assert told[0]["time_total"] == client.charge_current(pack=trainer).time_total
    assert told[1]["current"] == Quantity(3.7, "A")
    assert told[2]["time_total"] == client.charge_current(pack=trainer, state_of_charge=0.5).time_total
    # Of a pack only what the calculator takes goes along, and a question's own inputs win over one for all.
    shared = client.batch("wattage", [{}, {"rate": 2}, {"cells": 4}], common={"pack": trainer, "rate": 1})
    assert shared.column("nominal_power", "W") == pytest.approx([24.975, 49.95, 33.3])


@pytest.mark.parametrize("columns", [{"cells": 3, "capacity": "2 Ah"}, {"cells": [3, 4], "capacity": "2250 mAh"}])
def test_a_column_that_is_no_list_is_told_with_its_name_and_the_cure(
    client: AmpsteadClient, columns: dict[str, Any]
) -> None:
    wrong = "cells" if columns["cells"] == 3 else "capacity"
    with pytest.raises(TypeError, match=f"the column '{wrong}' must be a list .* goes into common"):
        client.batch("wattage", columns=columns)


def test_a_result_that_is_none_of_the_answers_names_is_told_where_any_row_was_answered(client: AmpsteadClient) -> None:
    with pytest.raises(ValueError, match=r"'suply_power' is no result here: the results are .*supply_power"):
        client.batch("wattage", [{"cells": 3, "capacity": 1150}, *QUESTIONS]).column("suply_power", "W")
    assert client.batch("wattage", [{"cells": 3, "capacity": 1150}]).column("supply_power", "W") == [None]

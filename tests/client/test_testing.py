"""What apps test with: a transport that asks nobody."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

import ampstead_client
from ampstead_client import (
    AmpsteadClient,
    AmpsteadError,
    ChargeCurrent,
    FieldError,
    InvalidQuestion,
    NotFound,
    NotInstalled,
    Pack,
    Quantity,
    Sag,
    ServiceFault,
    SupplySplit,
    TimedOut,
    TooMany,
    Transport,
    Unreadable,
    Wattage,
)
from ampstead_client.testing import Asked, FakeTransport, _examples, example

EXAMPLES = _examples()
each_calculator = pytest.mark.parametrize("name", EXAMPLES)


@pytest.fixture
def service() -> FakeTransport:
    return FakeTransport()


@pytest.fixture
def client(service: FakeTransport) -> AmpsteadClient:
    transport: Transport = service
    return AmpsteadClient.over(transport)


def method(client: AmpsteadClient, name: str) -> Any:
    return getattr(client, name.replace("-", "_"))


@each_calculator
def test_each_calculator_answers_with_the_documents_example(name: str, client: AmpsteadClient) -> None:
    told: Mapping[str, Any] = EXAMPLES[name]["answer"]
    answer = method(client, name)(**told["question"])
    assert answer.to_dict() == told
    kind = getattr(ampstead_client, "".join(map(str.capitalize, name.split("-"))))
    assert example(kind) == answer


@each_calculator
def test_each_table_and_picture_has_a_stand_in_of_the_right_shape(name: str, client: AmpsteadClient) -> None:
    forms, answer = (
        EXAMPLES[name]["forms"],
        example(getattr(ampstead_client, type(method(client, name)(**EXAMPLES[name]["answer"]["question"])).__name__)),
    )
    if "svg" not in forms:
        with pytest.raises(NotFound):
            client.picture(answer)
        return
    table = client.table(answer)
    assert (
        ",".join(
            f"{column} [{unit}]" if unit else column for column, unit in zip(table.columns, table.units, strict=True)
        )
        == forms["csv"]
    )
    assert len(table) == 2
    assert client.picture(answer).startswith("<svg ")
    assert client.picture(answer, form="png").startswith(b"\x89PNG")


def test_what_was_asked_is_kept_in_order(service: FakeTransport, client: AmpsteadClient) -> None:
    aerobat = Pack(cells=4, capacity=Quantity(3.7, "Ah"))
    answer = client.sag(pack=aerobat, current="48 A")
    client.table(answer)
    asked = {"cells": 4, "capacity": {"value": 3.7, "unit": "Ah"}, "current": "48 A"}
    told = {**asked, "current": {"value": 48, "unit": "A"}}
    assert service.asked == [Asked("sag", asked, "json"), Asked("sag", told, "csv")]
    assert answer.question["current"] == Quantity(48, "A")
    assert "capacity" not in answer.assumed
    assert "duration" in answer.assumed


def test_results_are_given_in_any_unit_and_the_rest_stays(service: FakeTransport, client: AmpsteadClient) -> None:
    service.give("sag", holds=False, sag="3100 mV", loaded_voltage=Quantity(11.9, "V"), time_to_floor=None)
    answer = client.sag(current="48 A")
    assert (answer.holds, answer.sag, answer.time_to_floor) == (False, Quantity(3.1, "V"), None)
    assert answer.loaded_voltage.unit == "V"
    assert answer.band("loaded_voltage") is None
    assert answer.heat == example(Sag).heat
    assert client.sag(current="48 A") == answer


def test_lists_and_their_parts_are_given_as_they_are_told() -> None:
    answer = example(
        SupplySplit,
        allotments=[
            {
                "name": "red trainer",
                "asked_power": "45 W",
                "allotted_power": "0.04 kW",
                "short_by": "5 W",
                "current": None,
                "rate": 0.8,
            }
        ],
    )
    [allotment] = answer.allotments
    assert (allotment.name, allotment.asked_power, allotment.rate) == ("red trainer", Quantity(45, "W"), 0.8)
    assert allotment.allotted_power == Quantity(40, "W")


def test_answers_and_faults_come_in_order_and_the_last_stays(service: FakeTransport, client: AmpsteadClient) -> None:
    service.fail("charge_current", TooMany)
    service.give("charge-current", limited_by="condition", current="0 A")
    service.fail("charge-current", TimedOut)
    with pytest.raises(TooMany):
        client.charge_current(cells=3)
    assert client.charge_current(cells=3).limited_by == "condition"
    for _ in range(2):
        with pytest.raises(TimedOut, match="POST fake:/v1/charge-current"):
            client.charge_current(cells=3)
    assert client.sag(current="14 A")


def test_a_whole_answer_is_given_as_it_is(service: FakeTransport, client: AmpsteadClient) -> None:
    given = example(ChargeCurrent, time_total="40 min")
    service.give("charge-current", given)
    assert client.charge_current(**given.to_dict()["question"]) == given


ERROR = FieldError("capacity", "unit_missing", 'capacity needs a unit: write "2250 mAh"')


@pytest.mark.parametrize(
    ("fault", "kind"),
    [
        *(
            (kind, kind)
            for kind in vars(ampstead_client).values()
            if isinstance(kind, type) and issubclass(kind, AmpsteadError)
        ),
        (422, InvalidQuestion),
        (503, ServiceFault),
        (429, TooMany),
        (Unreadable("a log-in page", method="POST", url="fake:"), Unreadable),
    ],
)
def test_any_fault_is_raised_on_demand(
    fault: Any, kind: type[AmpsteadError], service: FakeTransport, client: AmpsteadClient
) -> None:
    service.fail("sag", fault)
    with pytest.raises(kind) as caught:
        client.sag(current="48 A")
    assert type(caught.value) is kind
    with pytest.raises(kind):
        client.table(example(Sag))


def test_a_refusal_names_its_fields(service: FakeTransport, client: AmpsteadClient) -> None:
    service.fail("wattage", InvalidQuestion, errors=[ERROR])
    with pytest.raises(InvalidQuestion) as caught:
        client.wattage(cells=3, capacity="2250")
    assert caught.value.errors == (ERROR,)
    assert caught.value.status == 422


def test_many_questions_get_a_row_each(service: FakeTransport, client: AmpsteadClient) -> None:
    service.fail("wattage", InvalidQuestion, errors=[ERROR])
    service.give("wattage", supply_power="60 W")
    told = client.batch("wattage", [{"cells": 3}, {"cells": 4}], common={"capacity": "2250"})
    assert told[0].errors == (ERROR,)
    assert told[1]["supply_power"] == Quantity(60, "W")
    assert service.asked[0].calculator == "wattage/batch"


def test_tables_and_pictures_may_be_given(service: FakeTransport, client: AmpsteadClient) -> None:
    service.draw("sag", "csv", "time [min],voltage [V]\n0,14.2\n")
    service.draw("sag", "svg", "<svg/>")
    assert client.table(example(Sag)).to_dict() == {"time": [0.0], "voltage": [14.2]}
    assert client.picture(example(Sag)) == "<svg/>"


def test_misspelt_names_are_refused(service: FakeTransport) -> None:
    for misspelt, told in (
        (lambda: service.give("sagg"), "'sagg' is no calculator: there are .*sag"),
        (lambda: service.fail("sagg", TimedOut), "is no calculator"),
        (lambda: service.draw("sagg", "csv", ""), "is no calculator"),
        (lambda: service.give("sag", hold=False), "'hold' is no result of sag: .*holds"),
        (lambda: example(Sag, hold=False), "'hold' is no result of sag"),
        (lambda: service.give("sag", example(Wattage)), "an answer of sag"),
        (lambda: example(Sag, sag="3 A"), "no conversion from A to V"),
    ):
        with pytest.raises(ValueError, match=told):
            misspelt()
    with pytest.raises(Unreadable, match="holds"):
        example(Sag, holds="yes")


def test_nothing_that_is_given_or_told_leaks_into_the_examples(service: FakeTransport, client: AmpsteadClient) -> None:
    before = example(Sag)
    service.give("sag", holds=False)
    copied = client.sag(current="48 A").to_dict()
    copied["cautions"].clear()
    copied["answer"].clear()
    assert example(Sag) == before
    assert NotInstalled

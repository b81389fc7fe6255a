"""What is beyond single answers, asked by the client of the real service."""

from collections.abc import Mapping
from typing import Any

import pytest

from ampstead_client import (
    AmpsteadClient,
    ChargeCurrent,
    Endurance,
    InvalidQuestion,
    Pack,
    Quantity,
    Unreadable,
    Wattage,
)

TRAINER = Pack(cells=3, capacity="2250 mAh", cell_resistance="8.5 mΩ", temperature="13 °C")


@pytest.fixture(scope="module")
def client() -> AmpsteadClient:
    return AmpsteadClient.embedded()


def test_an_overviews_answers_are_typed_as_those_of_the_methods(client: AmpsteadClient) -> None:
    told = client.overview(pack=TRAINER, rest_voltage="11.31 V", max_rate=2)
    charge = told.of(ChargeCurrent)
    assert charge is not None
    assert charge.current == Quantity(2.25, "A")
    assert told.answers["charge-current"] is charge
    assert told.verdict.charge is True
    assert told.verdict.fly is False
    assert told.of(Endurance) is None
    assert told.unanswered["alarm-voltage"] == ("typical_current",)
    assert str(told) == told.sentence
    assert told.question["rest_voltage"] == Quantity(11.31, "V")
    assert "charge-current" in repr(told)


def test_what_is_given_goes_before_the_pack(client: AmpsteadClient) -> None:
    full = Pack(cells=3, capacity="2250 mAh", state_of_charge=1)
    told = client.overview(pack=full, rest_voltage="11.31 V", capacity="1150 mAh")
    assert told.question["capacity"] == Quantity(1150, "mAh")
    assert "state_of_charge" not in told.question


def test_a_misspelt_fact_is_refused(client: AmpsteadClient) -> None:
    with pytest.raises(InvalidQuestion, match="typical_current"):
        client.overview(pack=TRAINER, typical_curent="14 A")


class Odd:
    """A transport that answers with what it was made with."""

    def __init__(self, document: dict[str, Any]) -> None:
        self.document = document

    def ask(self, calculator: str, question: Mapping[str, Any]) -> dict[str, Any]:
        return self.document

    def fetch(self, calculator: str, question: Mapping[str, Any], form: str) -> bytes:
        raise AssertionError(form)

    def address(self, calculator: str) -> str:
        return f"odd:{calculator}"

    def close(self) -> None: ...


def test_an_overview_that_makes_no_sense_is_unreadable(client: AmpsteadClient) -> None:
    whole = client.overview(pack=TRAINER).raw
    assert AmpsteadClient.over(Odd(dict(whole))).overview() == client.overview(pack=TRAINER)
    for name in ("verdict", "answers", "unanswered", "sentence"):
        with pytest.raises(Unreadable, match="not the one expected"):
            AmpsteadClient.over(Odd({**whole, name: None})).overview(cells=3)


def test_what_is_needed_comes_with_the_typed_answer_there(client: AmpsteadClient) -> None:
    told = client.needed("wattage", pack=TRAINER, rate=1, result="fits", input="available_power")
    assert told.value == Quantity(33.3529412, "W")
    assert told.bound == "at least"
    assert isinstance(told.forward, Wattage)
    assert told.forward.fits is True
    assert str(told) == told.sentence
    nothing = client.needed("wattage", pack=TRAINER, result="supply_power", target="5 MW", input="rate")
    assert (nothing.value, nothing.forward) == (None, None)
    with pytest.raises(InvalidQuestion, match="did you mean fits"):
        client.needed("wattage", pack=TRAINER, result="fit", input="rate")


def test_what_to_measure_comes_the_widest_first(client: AmpsteadClient) -> None:
    told = client.doubt("wattage", pack=Pack(cells=3, capacity="2250 mAh"))
    assert [each.input for each in told.doubts] == ["efficiency"]
    assert told.doubts[0].edges == (0.8, 0.95)
    assert told.doubts[0].low < told.value < told.doubts[0].high
    assert str(told).startswith("Find out the efficiency")
    assert client.doubt("sag", pack=TRAINER, current="14 A", result="heat").result == "heat"
    whole = dict(told.raw)
    with pytest.raises(Unreadable, match="no doubts"):
        AmpsteadClient.over(Odd({**whole, "doubts": [{}]})).doubt("wattage")

"""Quantities, with pint as the check from outside, and how a question's inputs travel."""

from __future__ import annotations

import pickle
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import Enum
from itertools import permutations
from typing import Any

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ampstead_client import AmpsteadClient, Pack, Quantity, ServiceFault
from ampstead_client._units import UNITS
from ampstead_client.base import ClientBase
from ampstead_client.envelope import Answer
from ampstead_client.quantity import wire

REGISTRY: Any = pint.UnitRegistry()
PAIRS = [
    (source, target) for source, target in permutations(UNITS, 2) if UNITS[source].dimension == UNITS[target].dimension
]


def by_pint(name: str) -> Any:
    """pint's own reading of a unit's name."""
    return REGISTRY.parse_units(name.replace("²", "**2"))


@pytest.mark.parametrize("name", UNITS)
def test_each_units_name_means_to_pint_what_the_table_says(name: str) -> None:
    ours = REGISTRY.Quantity(1, REGISTRY.parse_units(UNITS[name].pint))
    assert ours.to(by_pint(name)).magnitude == pytest.approx(1, rel=1e-15)


@pytest.mark.parametrize(("source", "target"), PAIRS)
@pytest.mark.parametrize("value", [0.0, 1.0, -40.0, 2250.0, 0.07])
def test_each_conversion_is_pints(source: str, target: str, value: float) -> None:
    theirs = REGISTRY.Quantity(value, by_pint(source)).to(by_pint(target)).magnitude
    assert Quantity(value, source).to(target).value == pytest.approx(theirs, rel=1e-12, abs=1e-12)


@given(pair=st.sampled_from(PAIRS), value=st.floats(-1e6, 1e6))
def test_a_conversion_and_back_changes_nothing(pair: tuple[str, str], value: float) -> None:
    source, target = pair
    assert Quantity(value, source).to(target).to(source).value == pytest.approx(value, rel=1e-12, abs=1e-9)


@pytest.mark.parametrize(
    ("quantity", "unit", "value"),
    [
        (Quantity(2250, "mAh"), "Ah", 2.25),
        (Quantity(2.25, "Ah"), "mAh", 2250.0),
        (Quantity(77, "°F"), "°C", 25.0),
        (Quantity(300, "K"), "°C", 26.85),
        (Quantity(0.03, "ohm"), "mohm", 30.0),
        (Quantity(30, "m\u2126"), "\u03a9", 0.03),
        (Quantity(5, "\u03bcA"), "\u00b5A", 5.0),
        (Quantity(90, "milliohm"), "mΩ", 90.0),
        (Quantity(25, "degC"), "degF", 77.0),
        (Quantity(2.5, "mm2"), "mm²", 2.5),
    ],
)
def test_round_figures_stay_round_in_every_spelling(quantity: Quantity, unit: str, value: float) -> None:
    assert quantity.to(unit) == Quantity(value, unit)


@pytest.mark.parametrize(
    ("source", "target", "message"),
    [
        ("mAh", "V", r"from mAh to V: mAh is a unit of charge, .* mAh, Ah$"),
        ("mAh", "mah", "from mAh to mah: .* mAh, Ah$"),
        ("furlong", "m", "from furlong to m: the known units are .*mAh"),
        ("K", "K/s", "from K to K/s: .* K, °C, °F$"),
    ],
)
def test_no_conversion_names_both_units_and_the_choices(source: str, target: str, message: str) -> None:
    with pytest.raises(ValueError, match=message) as caught:
        Quantity(1, source).to(target)
    assert type(caught.value) is ValueError


def test_a_unit_converts_to_itself_even_if_unknown() -> None:
    assert Quantity(2, "furlong").to("furlong") == Quantity(2, "furlong")


def test_a_quantity_is_a_value() -> None:
    quantity = Quantity(2250, "mAh")
    assert quantity == Quantity(2250.0, "mAh")
    assert len({quantity, Quantity(2250.0, "mAh"), Quantity(2.25, "Ah")}) == 2
    assert pickle.loads(pickle.dumps(quantity)) == quantity
    assert isinstance(quantity.value, float)
    with pytest.raises(AttributeError):
        quantity.value = 2  # type: ignore[misc]


@pytest.mark.parametrize(
    ("quantity", "text"),
    [
        (Quantity(2250, "mAh"), "2250 mAh"),
        (Quantity(9.620000000000001, "W"), "9.62 W"),
        (Quantity(-0.5, "°C"), "-0.5 °C"),
        (Quantity(0, "V"), "0 V"),
    ],
)
def test_a_quantity_prints_for_people(quantity: Quantity, text: str) -> None:
    assert str(quantity) == f"{quantity}" == text


def test_a_format_spec_rounds_the_number() -> None:
    assert f"{Quantity(14.8374, 'V'):.1f}" == "14.8 V"


@pytest.mark.parametrize("value", ["2250", True, None, b"1"])
def test_a_value_that_is_no_number_is_refused(value: Any) -> None:
    with pytest.raises(TypeError):
        Quantity(value, "mAh")


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_a_number_that_is_not_finite_is_refused(value: float) -> None:
    with pytest.raises(ValueError, match="is not finite"):
        Quantity(value, "mAh")
    with pytest.raises(ValueError, match="is not finite"):
        wire([1.0, value])


def test_an_answers_object_is_read_as_a_quantity() -> None:
    assert Quantity.of({"value": 2250, "unit": "mAh"}) == Quantity(2250, "mAh")
    assert Quantity.of(Quantity(1, "V")) == Quantity(1, "V")


@pytest.mark.parametrize("document", [{"value": 1}, {"value": "1", "unit": "V"}, {"value": True, "unit": "V"}, 3, None])
def test_another_object_is_no_quantity(document: Any) -> None:
    with pytest.raises(ValueError, match="is no"):
        Quantity.of(document)


class TestPint:
    @pytest.mark.parametrize("name", UNITS)
    def test_each_unit_goes_there_and_comes_back(self, name: str) -> None:
        theirs = Quantity(1.5, name).pint(REGISTRY)
        assert theirs.magnitude == 1.5
        assert theirs.to(by_pint(name)).magnitude == pytest.approx(1.5, rel=1e-15)
        assert Quantity.of(wire(theirs)).to(name).value == pytest.approx(1.5, rel=1e-15)

    def test_the_application_registry_is_the_default(self) -> None:
        theirs = Quantity(25, "°C").pint()
        assert theirs == pint.application_registry.Quantity(25, "degC")

    def test_the_registry_is_left_as_it_is(self) -> None:
        fresh: Any = pint.UnitRegistry()
        before = set(fresh._units)
        default = fresh.formatter.default_format
        wire(Quantity(3, "mAh").pint(fresh))
        # pint itself notes a unit with its prefix in there, once it is used; nothing else may come in.
        assert all(name.removeprefix("milli") in before for name in set(fresh._units) - before)
        assert fresh.formatter.default_format == default

    @pytest.mark.parametrize(
        ("quantity", "sent"),
        [
            (REGISTRY.Quantity(2.25, "ampere * hour"), (2250, "mAh")),
            (REGISTRY.Quantity(2250, "hour * milliampere"), (2250, "mAh")),
            (REGISTRY.Quantity(24, "watt_hour"), (24, "Wh")),
            (REGISTRY.Quantity(30, "milliohm"), (30, "mΩ")),
            (REGISTRY.Quantity(25, "degC"), (25, "°C")),
            (REGISTRY.Quantity(77, "degF"), (77, "°F")),
            (REGISTRY.Quantity(20, "delta_degC"), (20, "K")),
            (REGISTRY.Quantity(0.2, "watt / delta_degC"), (0.2, "W/K")),
            (REGISTRY.Quantity(2, "mV / day"), (2, "mV/day")),
            (REGISTRY.Quantity(2.5, "mm ** 2"), (2.5, "mm²")),
            (REGISTRY.Quantity(5, "furlongs"), (1005.84, "m")),
            (REGISTRY.Quantity(9, "delta_degF"), (5, "K")),
            (REGISTRY.Quantity(8100, "coulomb"), (2250, "mAh")),
            (REGISTRY.Quantity(36, "volt * ampere"), (36, "W")),
            (REGISTRY.Quantity(5, "furlongs / fortnight"), (5, "fur/fortnight")),
        ],
    )
    def test_units_go_out_in_the_services_spelling(self, quantity: Any, sent: tuple[float, str]) -> None:
        document = wire(quantity)
        assert document == {"value": pytest.approx(sent[0], rel=1e-4), "unit": sent[1]}

    def test_dimensionless_ones_go_out_as_plain_numbers(self) -> None:
        assert wire(REGISTRY.Quantity(80, "percent")) == pytest.approx(0.8)
        assert wire(REGISTRY.Quantity(0.8, "")) == 0.8

    def test_arrays_go_out_as_one_object(self) -> None:
        volts = REGISTRY.Quantity(np.array([4.1, 4.2]), "V")
        assert wire(volts) == {"value": [4.1, 4.2], "unit": "V"}
        assert wire([REGISTRY.Quantity(Decimal("4.1"), "V")]) == [{"value": 4.1, "unit": "V"}]

    def test_without_pint_it_says_what_to_install(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setitem(sys.modules, "pint", None)
        with pytest.raises(ImportError, match=r'pip install "ampstead-client\[pint\]"'):
            Quantity(1, "V").pint()

    def test_a_unit_that_no_table_holds_is_refused(self) -> None:
        with pytest.raises(ValueError, match="no unit of pint is known for furlong"):
            Quantity(1, "furlong").pint(REGISTRY)


class Share(Enum):
    EVEN = "even"


@dataclass(frozen=True)
class Load:
    name: str | None
    power: Any


@pytest.mark.parametrize(
    ("value", "sent"),
    [
        ("2250 mAh", "2250 mAh"),
        (Quantity(2250, "mAh"), {"value": 2250.0, "unit": "mAh"}),
        (3, 3),
        (2.5, 2.5),
        (True, True),
        (None, None),
        (Share.EVEN, "even"),
        (Decimal("0.5"), 0.5),
        (np.float64(0.5), 0.5),
        (np.int64(3), 3),
        (np.array([1, 2]), [1, 2]),
        (("4.1 V", Quantity(4.2, "V")), ["4.1 V", {"value": 4.2, "unit": "V"}]),
        ({"power": "60 W", "name": None}, {"power": "60 W"}),
        ([Load("heater", Quantity(110, "W")), Load(None, "60 W")], None),
    ],
)
def test_an_input_goes_out_as_json(value: Any, sent: Any) -> None:
    if isinstance(value, list):
        sent = [{"name": "heater", "power": {"value": 110.0, "unit": "W"}}, {"power": "60 W"}]
    out = wire(value)
    assert out == sent
    assert type(out) is type(sent) or isinstance(value, float)


@pytest.mark.parametrize("value", [object(), b"2250 mAh", {1, 2}, Load])
def test_what_no_question_holds_is_refused(value: Any) -> None:
    with pytest.raises(TypeError, match="a question cannot hold"):
        wire(value)


class Asked:
    """A transport that keeps the question and gives no answer."""

    question: Mapping[str, Any]

    def ask(self, calculator: str, question: Mapping[str, Any]) -> dict[str, Any]:
        self.question = question
        raise ServiceFault("kept", method="POST", url=self.address(calculator), status=500)

    def address(self, calculator: str) -> str:
        return f"kept:{calculator}"

    def close(self) -> None:
        pass


class Probe(ClientBase):
    _pack_class = Pack

    def probe(self, pack: Any = None, **inputs: Any) -> Answer:
        names = ("cells", "capacity", "current", "state_of_charge", "rest_voltage")
        question = dict.fromkeys(names) | inputs
        return self._ask(
            "probe",
            Answer,
            question,
            pack=pack,
            exclusive=[("state_of_charge", "rest_voltage", "cell_voltages")],
        )


def asked(pack: Any = None, **inputs: Any) -> Mapping[str, Any]:
    transport = Asked()
    with pytest.raises(ServiceFault):
        Probe(transport).probe(pack, **inputs)
    return transport.question


class TestThePackOfAQuestion:
    def test_fills_in_what_is_not_given(self) -> None:
        pack = Pack(cells=4, capacity=Quantity(2250, "mAh"))
        expected = {"cells": 4, "capacity": {"value": 2250, "unit": "mAh"}, "current": "20 A"}
        assert asked(pack, current="20 A") == expected

    def test_yields_to_what_is_given_beside_it(self) -> None:
        assert asked(Pack(cells=4, capacity="2250 mAh"), cells=3) == {"cells": 3, "capacity": "2250 mAh"}

    def test_loses_what_the_calculator_does_not_take(self) -> None:
        assert asked(Pack(cells=4, resistance_method="charger")) == {"cells": 4}

    def test_loses_its_state_where_another_is_given(self) -> None:
        assert asked(Pack(cells=4, state_of_charge=0.5), rest_voltage="15 V") == {
            "cells": 4,
            "rest_voltage": "15 V",
        }

    def test_keeps_a_conflict_of_its_own_for_the_service_to_tell(self) -> None:
        pack = Pack(state_of_charge=0.5, rest_voltage="15 V")
        assert asked(pack) == {"state_of_charge": 0.5, "rest_voltage": "15 V"}

    def test_may_be_a_mapping(self) -> None:
        assert asked({"cells": 4, "capacity": None}) == {"cells": 4}

    def test_loses_no_misspelt_name_in_silence(self) -> None:
        with pytest.raises(TypeError, match="capcity"):
            asked({"cells": 4, "capcity": "2250 mAh"})


def test_a_bare_number_is_left_for_the_service_to_refuse() -> None:
    assert asked(capacity=2250) == {"capacity": 2250}


def test_an_input_of_a_wrong_type_is_named() -> None:
    transport = Asked()
    with pytest.raises(TypeError) as caught:
        AmpsteadClient.over(transport).sag(cells=object())  # type: ignore[arg-type]
    assert caught.value.__notes__ == ["in the input 'cells'"]

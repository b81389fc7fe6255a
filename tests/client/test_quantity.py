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
from ampstead_client.wire import wire

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
    assert len({quantity, Quantity(2250.0, "mAh"), Quantity(2.25, "Ah")}) == 1
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


@pytest.mark.parametrize("unit", ["mA", "mV", "mΩ", "mAh", "Wh", "°F", "min", "km"])
@given(value=st.decimals(-9999, 9999, places=3).map(float))
def test_a_quantity_equals_itself_in_each_of_its_units_and_hashes_alike(unit: str, value: float) -> None:
    quantity = Quantity(value, unit)
    for other in UNITS:
        if UNITS[other].dimension == UNITS[unit].dimension:
            assert quantity.to(other) == quantity
            assert hash(quantity.to(other)) == hash(quantity)


def test_quantities_of_other_kinds_and_other_things_are_never_equal() -> None:
    quantity = Quantity(1, "V")
    others: list[object] = [Quantity(1, "A"), Quantity(1.00001, "V"), 1, 1.0, "1 V", None, Quantity(1, "furlong")]
    assert [other for other in others if quantity == other] == []


@given(pair=st.sampled_from(PAIRS), one=st.floats(-1e6, 1e6), other=st.floats(-1e6, 1e6))
def test_the_order_across_units_is_pints(pair: tuple[str, str], one: float, other: float) -> None:
    left, right = Quantity(one, pair[0]), Quantity(other, pair[1])
    if left == right:
        assert not left < right
        assert left <= right
        return
    theirs = [REGISTRY.Quantity(each.value, by_pint(each.unit)).to_base_units().magnitude for each in (left, right)]
    if theirs[0] != pytest.approx(theirs[1], rel=1e-9):
        assert (left < right, left >= right) == (theirs[0] < theirs[1], theirs[0] >= theirs[1])


def test_quantities_sort_and_no_order_crosses_kinds() -> None:
    cells = [Quantity(3.86, "V"), Quantity(3910, "mV"), Quantity(3.87, "V")]
    assert max(cells) == Quantity(3.91, "V")
    assert sorted(cells)[0] is cells[0]
    with pytest.raises(TypeError, match=r"3\.86 V and 14 A are of different kinds"):
        _ = cells[0] < Quantity(14, "A")
    with pytest.raises(TypeError):
        _ = cells[0] < 4  # type: ignore[operator]


@given(pair=st.sampled_from([pair for pair in PAIRS if "°" not in "".join(pair)]), size=st.floats(0.001, 1e4))
def test_sums_differences_and_ratios_are_pints(pair: tuple[str, str], size: float) -> None:
    one, other = Quantity(62, pair[0]), Quantity(size, pair[1])
    ours, theirs = REGISTRY.Quantity(62, by_pint(pair[0])), REGISTRY.Quantity(size, by_pint(pair[1]))
    if pair[0] == "K":
        return
    for made, wanted in ((one + other, ours + theirs), (one - other, ours - theirs)):
        assert made.unit == pair[0]
        assert made.value == pytest.approx(wanted.magnitude, rel=1e-9, abs=1e-9)
    assert one / other == pytest.approx((ours / theirs).to("").magnitude, rel=1e-12)


@pytest.mark.parametrize(
    ("made", "wanted"),
    [
        (Quantity(14.8, "V") * Quantity(2, "A"), "29.6 W"),
        (Quantity(48, "A") * Quantity(4.6, "mΩ"), "0.2208 V"),
        (Quantity(4.6, "mΩ") * Quantity(48000, "mA"), "0.2208 V"),
        (Quantity(0.2208, "V") / Quantity(48, "A"), "4.6 mΩ"),
        (Quantity(1.48, "Ah") / Quantity(450, "s"), "11.84 A"),
        (Quantity(2250, "mAh") / Quantity(2.25, "A"), "60 min"),
        (Quantity(3, "A") * Quantity(90, "s"), "75 mAh"),
        (Quantity(11.1, "V") * Quantity(2250, "mAh"), "24.975 Wh"),
        (Quantity(24.975, "Wh") / Quantity(0.5, "h"), "49.95 W"),
        (Quantity(60, "W") * Quantity(6, "min"), "6 Wh"),
        (Quantity(5, "W") / Quantity(0.25, "W/K"), "20 K"),
        (Quantity(0.25, "W/K") * Quantity(20, "K"), "5 W"),
        (Quantity(10, "W/m") * Quantity(35, "cm"), "3.5 W"),
        (Quantity(2, "mV/day") * Quantity(240, "h"), "0.02 V"),
        (Quantity(0.5, "K/s") * Quantity(1, "min"), "30 K"),
        (Quantity(33, "°C") - Quantity(13, "°C"), "20 K"),
        (Quantity(77, "°F") - Quantity(13, "°C"), "12 K"),
        (Quantity(13, "°C") + Quantity(20, "K"), "33 °C"),
        (Quantity(20, "K") + Quantity(13, "°C"), "33 °C"),
        (Quantity(77, "°F") - Quantity(10, "K"), "59 °F"),
        (sum([Quantity(45, "W"), Quantity(0.09, "kW")]), "135 W"),
        (np.float64(2) * Quantity(45, "W") / 3, "30 W"),
        (Quantity(45, "W") * np.int64(2), "90 W"),
        (Quantity(45, "W") * Decimal("0.2"), "9 W"),
        (abs(-Quantity(45, "W")), "45 W"),
        (round(Quantity(45.678, "W"), 1), "45.7 W"),
    ],
)
def test_arithmetic_that_means_something(made: Any, wanted: str) -> None:
    assert str(made) == wanted
    assert made == Quantity.parse(wanted)


@given(size=st.floats(0.01, 1e3), by=st.floats(0.01, 1e3), units=st.sampled_from(list(permutations(UNITS, 2))))
def test_products_and_quotients_are_pints_wherever_there_are_any(
    size: float, by: float, units: tuple[str, str]
) -> None:
    one, other = (Quantity(value, unit) for value, unit in zip((size, by), units, strict=True))
    ours, theirs = (REGISTRY.Quantity(each.value, by_pint(each.unit)) for each in (one, other))
    try:
        made, quotient = one * other, one / other
    except TypeError:
        return
    for result, wanted in ((made, ours * theirs), (quotient, ours / theirs)):
        if isinstance(result, Quantity):
            assert result.value == pytest.approx(wanted.to(by_pint(result.unit)).magnitude, rel=1e-9)


VOLT, WARM = Quantity(4.1, "V"), Quantity(25, "°C")


@pytest.mark.parametrize(
    ("meaningless", "told"),
    [
        (lambda: VOLT + Quantity(1, "A"), "4.1 V and 1 A are of different kinds"),
        (lambda: VOLT - Quantity(1, "furlong"), "different kinds"),
        (lambda: VOLT * VOLT, "is no quantity"),
        (lambda: VOLT / Quantity(1, "W"), "is no quantity"),
        (lambda: WARM + WARM, "temperatures have no sum"),
        (lambda: Quantity(20, "K") - WARM, "temperatures have no sum"),
        (lambda: WARM * 2, "25 °C is a temperature"),
        (lambda: -WARM, "25 °C is a temperature"),
        (lambda: WARM / WARM, "is no quantity"),
        (lambda: Quantity(0.2, "W/K") * WARM, "is no quantity"),
        (lambda: VOLT + 1, "unsupported operand"),
        (lambda: 1 + VOLT, "unsupported operand"),
        (lambda: VOLT - 0, "unsupported operand"),
        (lambda: VOLT * True, "unsupported operand"),
        (lambda: VOLT * "2", "unsupported operand|can't multiply"),
        (lambda: VOLT * np.array([1.0, 2.0]), "unsupported operand|did not contain|does not support"),
        (lambda: 2 / VOLT, "unsupported operand"),
    ],
)
def test_arithmetic_without_meaning_is_refused(meaningless: Any, told: str) -> None:
    with pytest.raises(TypeError, match=told):
        meaningless()


def test_nought_divides_nothing_and_no_number_outgrows_a_float() -> None:
    with pytest.raises(ZeroDivisionError):
        _ = VOLT / Quantity(0, "mA")
    with pytest.raises(ZeroDivisionError):
        _ = VOLT / 0
    for outgrown in (
        lambda: Quantity(10**400, "V"),
        lambda: Quantity(1e308, "kV").to("mV"),
        lambda: Quantity(1e308, "V") * 10,
        lambda: Quantity.parse("1e999 V"),
    ):
        with pytest.raises(ValueError, match="finite"):
            outgrown()


def test_the_number_alone_is_told_in_the_unit_asked_for() -> None:
    assert Quantity(2.25, "A").value_in("mA") == 2250.0
    assert Quantity(77, "°F").value_in("°C") == 25.0
    with pytest.raises(ValueError, match="no conversion from A to V"):
        Quantity(2.25, "A").value_in("V")


@pytest.mark.parametrize(
    ("text", "quantity"),
    [
        ("2250 mAh", Quantity(2250, "mAh")),
        (" 2.25Ah ", Quantity(2.25, "Ah")),
        ("2250mah", Quantity(2250, "mAh")),
        ("8.5 mohm", Quantity(8.5, "mΩ")),
        ("8.5 m\u2126", Quantity(8.5, "mΩ")),
        ("-.5e1 °C", Quantity(-5, "°C")),
        ("\u22125 degC", Quantity(-5, "°C")),
        ("2.5 mm^2", Quantity(2.5, "mm²")),
        ("0.2 W/K", Quantity(0.2, "W/K")),
        ("11.31 v", Quantity(11.31, "V")),
    ],
)
def test_text_is_parsed(text: str, quantity: Quantity) -> None:
    parsed = Quantity.parse(text)
    assert (parsed.value, parsed.unit) == (quantity.value, quantity.unit)
    assert Quantity.parse(str(parsed)) == parsed


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("2250", "needs a unit"),
        ("2,25 Ah", "is no quantity"),
        ("mAh", "is no quantity"),
        ("", "is no quantity"),
        ("nan V", "is no quantity"),
        ("3 V V", "is no quantity"),
        ("٣ V", "is no quantity"),
        ("1_000 mAh", "is no quantity"),
        ("5 C", "is no unit that is known"),
        ("5 MW", "is no unit that is known"),
        ("5 furlong", "'furlong' is no unit that is known here: the known units are .*mAh"),
        ("1" * 500 + " V", "is no quantity"),
    ],
)
def test_text_that_is_no_quantity_is_refused_with_the_right_form(text: str, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        Quantity.parse(text)


def test_lists_of_quantities_share_a_unit() -> None:
    cells = (Quantity(3.86, "V"), Quantity(3.91, "V"), Quantity(3.87, "V"))
    assert Quantity.many([3.86, 3.91, 3.87], "V") == cells
    assert Quantity.many(np.array([3.86, 3.91, 3.87]), "V") == cells
    assert Quantity.many("3.86, 3.91, 3.87 V") == cells
    assert Quantity.many("3.86 V,3910 mV,3.87", "V") == cells
    assert wire(cells) == [{"value": each.value, "unit": "V"} for each in cells]
    with pytest.raises(TypeError, match="numbers need their unit"):
        Quantity.many([3.86])
    with pytest.raises(ValueError, match="needs a unit"):
        Quantity.many("3.86,3.91")


def test_a_unit_is_text() -> None:
    with pytest.raises(TypeError, match="is no text"):
        Quantity(3, None)  # type: ignore[arg-type]


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

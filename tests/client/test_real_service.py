"""Every method of the client against the real service, with no socket: embedded, and over HTTP into the WSGI app."""

from __future__ import annotations

import html
import inspect
import json
import types
from collections.abc import Iterator, Mapping
from dataclasses import fields
from typing import Any, get_args, get_origin, get_type_hints, is_typeddict
from urllib.parse import urlsplit
from xml.etree import ElementTree

import pytest
import requests
from requests.adapters import BaseAdapter
from werkzeug.test import Client as WsgiClient

import ampstead_client
from ampstead.app import create_app
from ampstead.calculators import registry
from ampstead.replying.answers import answered as service_answered
from ampstead.replying.writers import shown
from ampstead_client import (
    AmpsteadClient,
    Answer,
    Band,
    Calculators,
    Caution,
    FieldError,
    Inputs,
    InvalidQuestion,
    Load,
    NotFound,
    Pack,
    Quantity,
    Table,
    TooLarge,
)
from ampstead_client.base import ClientBase

CALCULATORS = registry()
EXAMPLES = [
    pytest.param(name, example, id=f"{name}-{place}")
    for name, calculator in CALCULATORS.items()
    for place, example in enumerate(calculator.examples, 1)
]
each_example = pytest.mark.parametrize(("name", "example"), EXAMPLES)
AEROBAT = {"cells": 4, "capacity": "3700 mAh", "cell_resistance": "4.6 mΩ", "rest_voltage": "15.07 V"}


class IntoTheApp(BaseAdapter):
    """A requests adapter that calls the service as a function."""

    def __init__(self) -> None:
        super().__init__()
        self.service = WsgiClient(create_app())

    def send(self, request: requests.PreparedRequest, *_: Any, **__: Any) -> requests.Response:
        parts = urlsplit(request.url or "")
        assert not isinstance(request.body, str)
        given = self.service.open(
            parts.path, method=request.method, data=request.body, headers=list(request.headers.items())
        )
        response = requests.Response()
        response.status_code = given.status_code
        response.headers.update(given.headers)
        response._content = given.get_data()
        response.url, response.request = request.url or "", request
        return response

    def close(self) -> None:
        """Nothing is held."""


@pytest.fixture(params=["embedded", "http"], scope="module")
def client(request: pytest.FixtureRequest) -> Iterator[AmpsteadClient]:
    if request.param == "embedded":
        with AmpsteadClient.embedded() as made:
            yield made
        return
    session = requests.Session()
    session.mount("http://fernhill.example", IntoTheApp())
    with AmpsteadClient("http://fernhill.example/", session=session) as made:
        yield made
    session.close()


def method(client: AmpsteadClient, name: str) -> Any:
    return getattr(client, name.replace("-", "_"))


def test_there_is_one_method_for_each_calculator() -> None:
    methods = {name for name, _ in inspect.getmembers(Calculators, inspect.isfunction) if not name.startswith("_")}
    assert methods - {"close", *vars(ClientBase)} == {name.replace("-", "_") for name in CALCULATORS}


@each_example
def test_each_method_answers_with_what_the_service_said(
    name: str, example: Mapping[str, Any], client: AmpsteadClient
) -> None:
    answer = method(client, name)(**example)
    raw = answer.raw
    assert type(answer) is getattr(ampstead_client, "".join(map(str.capitalize, name.split("-"))))
    assert (answer.calculator, answer.version, answer.sentence) == (name, raw["version"], raw["sentence"])
    assert list(answer.question) == list(raw["question"])
    assert dict(answer.assumed).keys() == raw["assumed"].keys()
    for key, value in raw["answer"].items():
        assert same(getattr(answer, key), value), key
    said = [entry["text"] for standing in (False, True) for entry in raw["cautions"] if entry["standing"] is standing]
    assert str(answer) == " ".join([raw["sentence"], *said[:1]])


def same(typed: Any, raw: Any) -> bool:
    """Whether a typed value is the JSON value, quantity by quantity."""
    if isinstance(raw, dict) and raw.keys() == {"value", "unit"}:
        return bool(typed == Quantity(raw["value"], raw["unit"]))
    if isinstance(raw, dict):
        return all(same(getattr(typed, key), value) for key, value in raw.items())
    if isinstance(raw, list):
        return isinstance(typed, tuple) and all(same(one, other) for one, other in zip(typed, raw, strict=True))
    return bool(typed == raw)


@each_example
def test_the_table_behind_an_answer_is_its_curve(name: str, example: Mapping[str, Any], client: AmpsteadClient) -> None:
    calculator = CALCULATORS[name]
    answer = method(client, name)(**example)
    table = client.table(answer)
    if calculator.curve is None:
        (row,) = table.rows
        told = dict(zip(table.columns, zip(row, table.units, strict=True), strict=True))
        for result, value in answer.raw["answer"].items():
            figure, unit = (value["value"], value["unit"]) if isinstance(value, dict) else (value, None)
            if figure is not None and not isinstance(figure, bool | list):
                column, column_unit = told[f"answer.{result}"]
                assert column_unit == unit
                assert column == (figure if isinstance(figure, str) else pytest.approx(figure, rel=1e-9))
        return
    curve = service_answered(calculator, example).curve()
    assert table.columns == tuple(calculator.columns)
    assert table.units == tuple(getattr(column.spec, "unit", None) for column in calculator.columns.values())
    for (column, spec), values in zip(calculator.columns.items(), table.to_dict().values(), strict=True):
        wanted = [shown(spec, value) for value in getattr(curve, column)]
        wanted = [entry["value"] if isinstance(entry, dict) else entry for entry in wanted]
        figures = all(isinstance(entry, int | float) for entry in wanted)
        assert values == (pytest.approx(wanted, rel=1e-9, abs=1e-9) if figures else wanted)
    assert len(table) == len(table.rows) > 0


@each_example
def test_the_picture_of_an_answer_is_drawn_as_text_or_as_bytes(
    name: str, example: Mapping[str, Any], client: AmpsteadClient
) -> None:
    answer = method(client, name)(**example)
    if CALCULATORS[name].picture is None:
        with pytest.raises(NotFound):
            client.picture(answer)
        return
    drawn = client.picture(answer)
    assert ElementTree.fromstring(drawn).tag == "{http://www.w3.org/2000/svg}svg"
    assert answer.sentence[:20] in html.unescape(drawn)
    if name == "sag":
        assert client.picture(answer, form="png").startswith(b"\x89PNG\r\n")


def test_a_picture_comes_in_two_forms(client: AmpsteadClient) -> None:
    answer = client.sag(current="48 A", **AEROBAT)
    with pytest.raises(ValueError, match="form is 'gif'"):
        client.picture(answer, form="gif")  # type: ignore[call-overload]


def test_a_table_is_a_value_with_columns_units_and_rows(client: AmpsteadClient) -> None:
    loads = [Load(name='trainer, "red"', power="45 W"), Load(name="7", power="90 W")]
    table = client.table(client.supply_split(supply_rating="180 W", loads=loads))
    assert table == Table(
        columns=("name", "allotted_power", "asked_power", "short_by"),
        units=(None, "W", "W", "W"),
        rows=(('trainer, "red"', 45.0, 45.0, 0.0), ("7", 90.0, 90.0, 0.0)),
    )
    assert hash(table)
    assert table.to_dict()["asked_power"] == [45.0, 90.0]


@each_example
def test_each_answer_has_the_types_that_its_annotations_say(
    name: str, example: Mapping[str, Any], client: AmpsteadClient
) -> None:
    answer = method(client, name)(**example)
    hints = get_type_hints(type(answer))
    for entry in fields(answer):
        assert of_type(getattr(answer, entry.name), hints[entry.name]), entry.name
    assert all(type(entry) is Band for entry in answer.accuracy)
    assert all(type(entry) is Caution for entry in answer.cautions)


def of_type(value: Any, hint: Any) -> bool:
    origin, arguments = get_origin(hint), get_args(hint)
    if origin in (types.UnionType,) or str(origin) == "typing.Union":
        return any(of_type(value, inner) for inner in arguments)
    if str(origin) == "typing.Literal":
        return value in arguments
    if origin is tuple:
        return isinstance(value, tuple) and all(of_type(one, arguments[0]) for one in value)
    if origin is not None:
        return isinstance(value, origin)
    if is_typeddict(hint):
        told = get_type_hints(hint)
        return all(of_type(entry, told.get(key, Any)) for key, entry in value.items())
    if hint is float:
        return isinstance(value, int | float) and not isinstance(value, bool)
    return hint is Any or isinstance(value, hint)


@each_example
def test_each_answer_is_a_value_with_bands_and_a_short_look(
    name: str, example: Mapping[str, Any], client: AmpsteadClient
) -> None:
    answer, twin = (method(client, name)(**example) for _ in range(2))
    assert len({answer, twin}) == 1
    told = {band["of"]: band for band in answer.raw["accuracy"]}
    for result in answer.raw["answer"]:
        band = answer.band(result)
        assert (band is None) is (result not in told)
        if band is not None:
            assert same(band, told[result])
    look = repr(answer)
    assert look.startswith(f"<{type(answer).__name__}\n  ")
    assert len(look.splitlines()) <= 6
    assert max(map(len, look.splitlines())) <= 110
    assert f"{next(iter(answer.raw['answer']))}=" in look
    copied = answer.to_dict()
    assert json.loads(json.dumps(copied)) == answer.raw
    copied["answer"].clear()
    assert answer.raw["answer"]


def test_every_input_and_default_has_its_declared_type(client: AmpsteadClient) -> None:
    """Names of nested inputs aside, which no type can list."""
    declared = set(get_type_hints(Inputs))
    for name, calculator in CALCULATORS.items():
        for example in calculator.examples:
            answer = method(client, name)(**example)
            assert {key for key in (*answer.question, *answer.assumed) if "[" not in key and "." not in key} <= declared


@pytest.mark.parametrize("name", CALCULATORS)
def test_each_refusal_tells_the_fields_with_messages(name: str, client: AmpsteadClient) -> None:
    example = dict(CALCULATORS[name].examples[0])
    for key, value in example.items():
        if not isinstance(value, str) or CALCULATORS[name].inputs[key].item:
            continue
        with pytest.raises(InvalidQuestion) as caught:
            method(client, name)(**{**example, key: "much"})
        assert caught.value.status == 422
        error = next(error for error in caught.value.errors if error.field == key)
        assert isinstance(error, FieldError)
        assert key in error.message
        assert str(error) in str(caught.value)


def test_all_faults_are_told_at_once(client: AmpsteadClient) -> None:
    with pytest.raises(InvalidQuestion) as caught:
        client.charge_current(cells=1000, capacity="2250", temperature="25 V")
    assert {(error.field, error.code) for error in caught.value.errors} == {
        ("cells", "out_of_range"),
        ("capacity", "unit_missing"),
        ("temperature", "wrong_dimension"),
    }
    assert 'write "2250 mAh"' in str(caught.value)


def test_a_bare_number_is_refused_by_the_service_with_the_right_form(client: AmpsteadClient) -> None:
    with pytest.raises(InvalidQuestion, match='capacity needs a unit: write "2250 mAh"'):
        client.wattage(cells=3, capacity=2250)  # type: ignore[arg-type]


def test_a_finding_is_an_answer_and_no_error(client: AmpsteadClient) -> None:
    answer = client.charge_current(cells=3, capacity="2250 mAh", condition="swollen")
    assert answer.current == Quantity(0, "A")
    assert answer.limited_by == "condition"
    assert answer.time_total is None
    assert answer.cautions[0].severity == "danger"


FORMS = [
    Pack(cells=4, capacity="3700 mAh", cell_resistance="4.6 mΩ", rest_voltage="15.07 V"),
    Pack(cells=4, capacity=Quantity(3.7, "Ah"), cell_resistance=Quantity(4.6, "mΩ"), rest_voltage="15070 mV"),
    AEROBAT,
    types.MappingProxyType(AEROBAT),
    {**AEROBAT, "cell_voltages": None},
]


@pytest.mark.parametrize("pack", FORMS, ids=["class", "quantities", "mapping", "read-only", "with-none"])
def test_a_pack_in_each_of_its_forms_is_the_pack_spelt_out(pack: Any, client: AmpsteadClient) -> None:
    spelt = client.sag(current="48 A", **AEROBAT)
    packed = client.sag(pack=pack, current="48 A")
    assert packed.loaded_voltage == spelt.loaded_voltage
    assert packed.question == spelt.question


def test_one_pack_serves_every_calculator_that_takes_one(client: AmpsteadClient) -> None:
    for name, calculator in CALCULATORS.items():
        if "pack" not in calculator.groups:
            continue
        example = dict(calculator.examples[-1])
        pack = {key: example.pop(key) for key in list(example) if calculator.inputs[key].group == "pack"}
        answer = method(client, name)(pack=Pack(**pack, condition=None), **example)
        assert answer == method(client, name)(**calculator.examples[-1])


def test_a_pack_serves_whoever_takes_its_inputs_one_by_one(client: AmpsteadClient) -> None:
    pack = Pack(chemistry="liion", capacity="2250 mAh", cell_voltages="3.86,3.91,3.87 V", cell_resistance="8.5 mΩ")
    told = client.balance_need(pack=pack)
    assert told.question.keys() == {"chemistry", "capacity", "cell_voltages"}
    assert told == client.balance_need(chemistry="liion", capacity="2250 mAh", cell_voltages="3.86,3.91,3.87 V")
    timer = client.flight_timer(pack=pack, flight_time="7:30 min", charge_returned="1480 mAh")
    assert timer.question.keys() == {"chemistry", "capacity", "flight_time", "charge_returned"}
    for calculator in registry().values():  # a name means the same wherever it stands
        if len(calculator.inputs.keys() & {field.name for field in fields(Pack)}) > 1:
            assert "pack" in inspect.signature(method(client, calculator.name)).parameters


def test_what_is_given_beside_the_pack_wins_and_drops_what_it_excludes(client: AmpsteadClient) -> None:
    pack = Pack(**AEROBAT, condition="sound")  # type: ignore[arg-type]
    answer = client.sag(pack=pack, current="48 A", state_of_charge="50 %", cells=3)
    assert answer.question["state_of_charge"] == 0.5
    assert "rest_voltage" not in answer.question
    assert answer.question["cells"] == 3
    assert "condition" not in answer.question


def test_lists_go_out_in_each_of_their_forms(client: AmpsteadClient) -> None:
    forms: list[Any] = [
        "3.86,3.91 V",
        ["3.86 V", "3910 mV"],
        (Quantity(3.86, "V"), Quantity(3.91, "V")),
        [{"value": 3.86, "unit": "V"}, "3.91 V"],
    ]
    answers = [client.balance_need(cell_voltages=form) for form in forms]
    assert {answer.verdict for answer in answers} == {"balance"}
    assert all(answer.spread.value == pytest.approx(0.05) for answer in answers)


LOADS = [
    "110 W,60 W",
    ["110 W", Quantity(60, "W")],
    [{"power": "110 W"}, {"power": Quantity(0.06, "kW")}],
    [Load(power="110 W"), Load(power=Quantity(60, "W"))],
    ("110 W", Load(power="60 W")),
]


@pytest.mark.parametrize("loads", LOADS, ids=["text", "quantities", "mappings", "classes", "mixed"])
def test_loads_go_out_in_each_of_their_forms(loads: Any, client: AmpsteadClient) -> None:
    answer = client.supply_split(supply_rating="180 W", headroom=0.05, loads=loads)
    assert [entry.asked_power for entry in answer.allotments] == [Quantity(110, "W"), Quantity(60, "W")]
    assert answer.asked_power == Quantity(170, "W")
    assert answer.fits


def test_a_load_that_is_a_pack_is_named_and_gets_its_current(client: AmpsteadClient) -> None:
    loads = [Load(name="trainer", cells=3, capacity="2250 mAh", rate="1C"), Load(name="lamp", power="5 W")]
    answer = client.supply_split(supply_rating="100 W", loads=loads, share="even")
    assert [entry.name for entry in answer.allotments] == ["trainer", "lamp"]
    assert answer.allotments[0].current == Quantity(2.25, "A")
    assert answer.allotments[1].current is None


def test_a_fault_of_a_nested_input_tells_its_place(client: AmpsteadClient) -> None:
    with pytest.raises(InvalidQuestion) as caught:
        client.supply_split(supply_rating="180 W", loads=["60 W", Load(power="9 V"), {"power": "1 W", "colour": "red"}])
    assert {(error.field, error.code) for error in caught.value.errors} == {
        ("loads[1].power", "wrong_dimension"),
        ("loads[2].colour", "unknown"),
    }


def test_a_calculator_that_the_service_does_not_have_is_not_found(client: AmpsteadClient) -> None:
    with pytest.raises(NotFound, match="did you mean wattage") as caught:
        client._transport.ask("watage", {})
    assert caught.value.status == 404


def test_a_question_too_large_is_told_over_http() -> None:
    session = requests.Session()
    session.mount("http://fernhill.example", IntoTheApp())
    with session, AmpsteadClient("http://fernhill.example", session=session) as client, pytest.raises(TooLarge) as told:
        client.supply_split(supply_rating="180 W", loads=[Load(name="n" * 2000, power="1 W")] * 64)
    assert told.value.status == 413


class Newer:
    """A transport to a later service, which says more than this client knows."""

    def __init__(self, client: AmpsteadClient) -> None:
        self.inner = client._transport

    def ask(self, calculator: str, question: Mapping[str, Any]) -> dict[str, Any]:
        document = json.loads(json.dumps(self.inner.ask(calculator, question)))
        document["mood"] = {"value": 1, "unit": "smile"}
        document["answer"]["further"] = [1, {"a": None}]
        for entry in document["cautions"] + document["accuracy"] + document["answer"].get("allotments", []):
            entry["further"] = True
        return document

    def address(self, calculator: str) -> str:
        return self.inner.address(calculator)

    def close(self) -> None:
        return


@each_example
def test_keys_of_a_later_service_are_ignored_but_kept_in_raw(
    name: str, example: Mapping[str, Any], client: AmpsteadClient
) -> None:
    known = method(client, name)(**example)
    newer = method(AmpsteadClient.over(Newer(client)), name)(**example)
    assert newer == known
    assert newer.raw["mood"] == {"value": 1, "unit": "smile"}
    assert isinstance(newer, Answer)

"""Every question has an address: nested names, spellings, odd slashes, OPTIONS, and how errors are told and counted."""

import json
from collections.abc import Mapping
from typing import Any

import pytest
from flask.testing import FlaskClient

from ampstead.calculators import registry
from ampstead.declare import Calculator
from ampstead.errors import MOST_ERRORS

TRAINERS = {
    "packs[0].cells": "3",
    "packs[0].capacity": "2250mAh",
    "packs[0].rest_voltage": "11.31 V",
    "packs[1].cells": "3",
    "packs[1].capacity": "2250mAh",
    "packs[1].cell_voltages": "3.86,3.91,3.87 V",
}
QUESTIONS = [
    pytest.param(calculator, example, id=f"{calculator.name}-{place}")
    for calculator in registry().values()
    for place, example in enumerate(calculator.examples, 1)
]


def addressed(value: Any, name: str = "") -> dict[str, str]:
    """A question of JSON as an address writes it."""
    if isinstance(value, Mapping) and value.keys() != {"value", "unit"}:
        return {
            key: text
            for inner, part in value.items()
            for key, text in addressed(part, f"{name}.{inner}" if name else inner).items()
        }
    if isinstance(value, Mapping):
        return {name: f"{value['value']} {value['unit']}"}
    if isinstance(value, list) and all(isinstance(part, Mapping) and "value" not in part for part in value):
        return {k: v for place, part in enumerate(value) for k, v in addressed(part, f"{name}[{place}]").items()}
    if isinstance(value, list):
        return {name: ",".join(str(part) for part in value)}
    return {name: str(value).lower() if isinstance(value, bool) else str(value)}


def told(reply: Any) -> dict[str, str]:
    assert reply.status_code == 422, reply.text
    return {error["field"]: error["code"] for error in reply.json["errors"]}


@pytest.mark.parametrize(("calculator", "example"), QUESTIONS)
def test_every_question_has_an_address_under_every_suffix(
    calculator: Calculator, example: Mapping[str, Any], http: FlaskClient
) -> None:
    for suffix in ("", ".txt", *calculator.forms):
        path = f"/v1/{calculator.name}{suffix}"
        got, posted = http.get(path, query_string=addressed(example)), http.post(path, json=example)
        assert got.status_code == 200, got.text
        assert got.data == posted.data
        assert got.headers["Content-Type"] == posted.headers["Content-Type"]


def test_a_body_takes_the_names_of_an_address_too(http: FlaskClient) -> None:
    got = http.get("/v1/parallel-join", query_string=TRAINERS)
    assert got.status_code == 200, got.text
    assert http.post("/v1/parallel-join", json=TRAINERS).data == got.data


def test_the_order_of_nested_names_does_not_count(http: FlaskClient) -> None:
    turned = dict(reversed(TRAINERS.items()))
    got = [http.get("/v1/parallel-join", query_string=asked) for asked in (TRAINERS, turned)]
    assert got[0].status_code == 200
    assert got[0].data == got[1].data


@pytest.mark.parametrize(
    ("change", "errors"),
    [
        ({"packs[3].cells": "3"}, {"packs[2]": "missing"}),
        ({"packs[64].cells": "3"}, {"packs": "wrong_length"}),
        ({"packs[99999999999].cells": "3"}, {"packs[99999999999].cells": "unknown"}),
        ({"packs[-1].cells": "3"}, {"packs[-1].cells": "unknown"}),
        ({"packs[01].cells": "3"}, {"packs[01].cells": "unknown"}),
        ({"packs[].cells": "3"}, {"packs[].cells": "unknown"}),
        ({"packs[x].cells": "3"}, {"packs[x].cells": "unknown"}),
        ({"packs.cells": "3"}, {"packs.cells": "unknown"}),
        ({"packs[0][1].cells": "3"}, {"packs[0][1].cells": "unknown"}),
        ({"packs[0].wings": "3"}, {"packs[0].wings": "unknown"}),
        ({"packs[0].cells.wings": "3"}, {"packs[0].cells.wings": "unknown"}),
        ({"packs[0]": "3"}, {"packs[0]": "conflict"}),
        ({"packs": "3"}, {"packs": "conflict"}),
        ({"packs[1].capacity": "2250"}, {"packs[1].capacity": "unit_missing"}),
        ({"rates[0].wings": "3"}, {"rates[0].wings": "unknown"}),
    ],
)
def test_an_odd_nested_name_gets_a_clear_error(
    change: dict[str, str], errors: dict[str, str], http: FlaskClient
) -> None:
    assert told(http.get("/v1/parallel-join", query_string={**TRAINERS, **change})) == errors


def test_one_nested_thing_has_an_address(http: FlaskClient) -> None:
    asked = {
        "source.chemistry": "Pb",
        "source.cells": "6",
        "source.capacity": "38 Ah",
        "cells": 3,
        "capacity": "1150mAh",
    }
    assert http.get("/v1/field-energy", query_string=asked).status_code == 200
    assert told(http.get("/v1/field-energy", query_string={**asked, "source[0].cells": "6"})) == {
        "source[0].cells": "unknown"
    }


def test_a_repeated_nested_name_is_refused(http: FlaskClient) -> None:
    reply = http.get("/v1/parallel-join?packs[0].cells=3&packs%5B0%5D.cells=4")
    assert told(reply) == {"packs[0].cells": "repeated"}


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("LiPo", "lipo"), ("Li-Po", "lipo"), ("li po", "lipo"), ("LiHV", "lihv"), ("Li-HV", "lihv"),
        ("Li-ion", "liion"), ("Li-Ion", "liion"), ("LiFePO4", "life"), ("lifepo4", "life"), ("LFP", "life"),
        ("Ni-MH", "nimh"), ("NiMH", "nimh"), ("Ni-Cd", "nicd"), ("NiCd", "nicd"), ("Pb", "lead"), ("AGM", "lead"),
    ],
)  # fmt: skip
def test_the_trades_spellings_of_a_chemistry_are_read(written: str, read: str, http: FlaskClient) -> None:
    reply = http.get("/v1/wattage", query_string={"cells": 2, "capacity": "2100 mAh", "chemistry": written})
    assert reply.json["question"]["chemistry"] == read


@pytest.mark.parametrize("written", ["lipoo", "LiFePO5", "Li-Po4", "lif", "lithium", "NiMHH", "A", "le", "liio"])
def test_a_misspelt_chemistry_is_told_all_of_them_and_no_guess(written: str, http: FlaskClient) -> None:
    reply = http.get("/v1/wattage", query_string={"cells": 2, "capacity": "2100 mAh", "chemistry": written})
    (error,) = reply.json["errors"]
    assert error["message"] == (
        f'chemistry must be one of lipo, lihv, liion, life, nimh, nicd, lead; "{written}" was read'
    )


@pytest.mark.parametrize("path", ["/v1/wattage/", "/v1//wattage", "/v1/wattage//", "/v1//wattage/"])
def test_slashes_too_many_mean_the_address_without(path: str, http: FlaskClient) -> None:
    plain = http.get("/v1/wattage?cells=3&capacity=2250mAh")
    odd = http.get(path, query_string="cells=3&capacity=2250mAh")
    assert (odd.status_code, odd.data) == (200, plain.data)


def test_the_list_of_calculators_stands_with_and_without_its_slash(http: FlaskClient) -> None:
    assert http.get("/v1").data == http.get("/v1/").data
    assert http.get("/v1").status_code == 200


@pytest.mark.parametrize(
    ("path", "meant"),
    [
        ("/v2/wattage", "/v1/wattage"),
        ("/v1/v1/wattage", "/v1/wattage"),
        ("/v2/charge-curent.svg", "/v1/charge-current.svg"),
        ("/api/sag.txt", "/v1/sag.txt"),
    ],
)
def test_a_wrong_front_of_an_address_is_told_the_right_one(path: str, meant: str, http: FlaskClient) -> None:
    reply = http.get(path)
    assert reply.status_code == 404
    assert f"did you mean {meant}?" in reply.text
    assert http.post(meant, json={}).status_code == 422


@pytest.mark.parametrize("path", ["/v1/wattage", "/v1/wattage.txt", "/v1/parallel-join", "/v1/sag.svg"])
def test_options_answers_with_the_methods_in_one_order(path: str, http: FlaskClient) -> None:
    reply = http.options(path)
    assert (reply.status_code, reply.data) == (204, b"")
    assert reply.headers["Allow"] == "GET, HEAD, POST, OPTIONS"


def test_options_of_what_there_is_not_is_a_problem(http: FlaskClient) -> None:
    reply = http.options("/v1/watage")
    assert (reply.status_code, reply.mimetype) == (404, "application/problem+json")


@pytest.mark.parametrize("method", ["get", "post"])
def test_names_without_end_are_counted_and_not_repeated(method: str, http: FlaskClient) -> None:
    names = {f"x{place}": "1" for place in range(1400)}
    asked = {"query_string": names} if method == "get" else {"json": names}
    reply = getattr(http, method)("/v1/wattage", **asked)
    assert reply.status_code == 422
    assert len(reply.data) < 12_000
    listed = [error for error in reply.json["errors"] if error["code"] == "unknown"]
    assert len(listed) < MOST_ERRORS
    more = 1400 - len(listed)
    assert f"There are {more + len(reply.json['errors']) - 10} more errors." in reply.json["detail"]
    assert len(getattr(http, method)("/v1/wattage.txt", **asked).data) < 2000


def test_an_unknown_name_is_told_the_nearest_few(http: FlaskClient) -> None:
    reply = http.get("/v1/charge-current?cells=3&capacity=2250mAh&utm_source=mail")
    (error,) = reply.json["errors"]
    named = [name for name in registry()["charge-current"].inputs if name in error["message"].split(" are ")[1]]
    assert 1 <= len(named) <= 4
    assert http.get("/v1/charge-current.txt?cells=3&capacity=2250mAh&utm_source=mail").text.startswith("Utm source is")


@pytest.mark.parametrize("deep", [60, 480, 980])
@pytest.mark.parametrize("name", ["chemistry", "rested", "cell_voltages", "limit"])
def test_json_however_deep_in_an_input_is_refused(name: str, deep: int, http: FlaskClient) -> None:
    for left, right in (("[", "]"), ('{"value":', "}")):
        inner = left * deep + "1" + right * deep
        reply = http.post("/v1/balance-need", data=f'{{"{name}": {inner}}}', content_type="application/json")
        assert reply.status_code in (400, 422)
        assert reply.status_code == 400 or name in json.dumps(reply.json["errors"])


def test_a_list_that_nothing_else_tells_the_length_of_is_refused(http: FlaskClient) -> None:
    asked = {"temperature": "13 °C", "capacity": "2250 mAh", "current": "2.25 A"}
    for name, values in (("polarisation_resistance", "3 mΩ,4 mΩ"), ("cell_mass", "40 g,50 g")):
        assert told(http.get("/v1/charge-temperature", query_string={**asked, name: values})) == {name: "wrong_length"}
        agreed = http.get("/v1/charge-temperature", query_string={**asked, name: values, "cells": 2})
        assert agreed.status_code == 200

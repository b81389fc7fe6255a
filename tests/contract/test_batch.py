"""Many at once: a batch answers as single questions do, in JSON and as a table."""

import csv
import io
import json
import math
import re
from collections.abc import Mapping
from typing import Any

import pytest
from contract.kinds import Fits
from flask import Flask
from flask.testing import FlaskClient
from profiles import count
from questions import many
from werkzeug.test import TestResponse

from ampstead.app import create_app
from ampstead.calculators import registry
from ampstead.declare import Calculator
from ampstead.replying import batch
from ampstead.replying.local import embedded

CALCULATORS = registry()
SEVERAL = {name: calculator for name, calculator in CALCULATORS.items() if calculator.most}
each = pytest.mark.parametrize("calculator", SEVERAL.values(), ids=SEVERAL)
ODD: tuple[Any, ...] = ({"colour": "red"}, {"cells": "many"}, {}, 5, None, [], {"capacity": "2250"}, {"x" * 90: 1})
TRAINER = {"cells": 3, "capacity": "2250 mAh"}


def rows(http: FlaskClient, name: str, questions: list[Any], **beside: Any) -> list[dict[str, Any]]:
    reply = http.post(f"/v1/{name}/batch", json={"questions": questions, **beside})
    assert reply.status_code == 200, reply.text
    answers: list[dict[str, Any]] = reply.json["answers"]
    assert len(answers) == len(questions)
    return answers


def table(http: FlaskClient, name: str, text: str, query: str = "") -> TestResponse:
    return http.post(f"/v1/{name}/batch{query}", data=text.encode(), content_type="text/csv")


def read(reply: TestResponse, separator: str = ",") -> list[dict[str, str]]:
    assert (reply.status_code, reply.mimetype) == (200, "text/csv"), reply.text
    return list(csv.DictReader(io.StringIO(reply.text.removeprefix("\ufeff")), delimiter=separator))


def same(one: Any, other: Any) -> bool:
    """Whether documents are the same, figures to 1e-12."""
    if isinstance(one, float | int) and not isinstance(one, bool):
        return isinstance(other, float | int) and math.isclose(one, other, rel_tol=1e-12, abs_tol=1e-12)
    if isinstance(one, Mapping):
        return isinstance(other, Mapping) and one.keys() == other.keys() and all(same(one[k], other[k]) for k in one)
    if isinstance(one, list):
        return isinstance(other, list) and len(one) == len(other) and all(map(same, one, other))
    return bool(one == other)


def mixed(calculator: Calculator, size: int) -> list[Any]:
    """Random questions, good and refused, the examples, and things that are no questions."""
    return [*many(calculator, size), *calculator.examples, *ODD]


@each
def test_a_batch_answers_as_single_questions_do(calculator: Calculator, http: FlaskClient, fits: Fits) -> None:
    questions = mixed(calculator, min(count(30, 250), calculator.most - 20))
    told = {"answers": rows(http, calculator.name, questions)}
    schema = "".join(part.capitalize() for part in calculator.name.split("-"))
    assert fits({"$ref": "#/components/schemas/Batch"}, told) == []
    answered = refused = 0
    for question, row in zip(questions, told["answers"], strict=True):
        if not isinstance(question, dict):
            assert row["problem"]["errors"][0]["code"] == "not_one_of"
            continue
        alone = http.post(f"/v1/{calculator.name}", json=question)
        if alone.status_code == 200:
            assert fits({"$ref": f"#/components/schemas/{schema}Results"}, row["answer"]) == []
            assert same(row, {name: alone.json[name] for name in ("answer", "assumed", "accuracy", "cautions")}), (
                question
            )
            answered += 1
        else:
            assert row == {"problem": alone.json}, question
            refused += 1
    assert answered >= 5
    assert refused >= 3


@each
def test_a_table_answers_as_single_questions_do(calculator: Calculator, http: FlaskClient) -> None:
    questions = [q for q in many(calculator, count(20, 150)) if all(plain(value) for value in q.values())]
    questions += [q for q in calculator.examples if all(plain(value) for value in q.values())]
    names = list(dict.fromkeys(name for question in questions for name in question))
    if not names:
        assert calculator.nested
        return
    made = io.StringIO()
    writer = csv.DictWriter(made, names)
    writer.writeheader()
    writer.writerows({name: celled(value) for name, value in question.items()} for question in questions)
    for question, row in zip(questions, read(table(http, calculator.name, made.getvalue())), strict=True):
        alone = http.post(f"/v1/{calculator.name}", json=question)
        if alone.status_code != 200:
            assert row["problem"] == alone.json["detail"].strip() or "is missing" in row["problem"], question
            continue
        assert row["problem"] == ""
        for name, result in alone.json["answer"].items():
            if isinstance(result, Mapping):
                assert math.isclose(float(row[f"answer.{name} [{result['unit']}]"]), result["value"], rel_tol=1e-12)
            elif isinstance(result, float | int) and not isinstance(result, bool):
                assert math.isclose(float(row[f"answer.{name}"]), result, rel_tol=1e-12)
            elif isinstance(result, str | bool):
                assert row[f"answer.{name}"] == (result if isinstance(result, str) else str(result).lower())
        particular = [entry["text"] for entry in alone.json["cautions"] if not entry["standing"]]
        assert row["caution"] == (particular[0] if particular else "")


def plain(value: Any) -> bool:
    """Whether a cell can hold it."""
    if isinstance(value, list):
        return len(value) > 1 and all(
            isinstance(entry, str | Mapping) and plain(entry) and celled(entry) for entry in value
        )
    return not isinstance(value, Mapping) or {"value", "unit"} == value.keys()


def celled(value: Any) -> str:
    if isinstance(value, list):
        return " ".join(celled(entry) for entry in value)
    return f"{value['value']!r} {value['unit']}" if isinstance(value, Mapping) else str(value)


def test_each_question_keeps_its_place_and_a_bad_one_loses_no_other(http: FlaskClient) -> None:
    asked = [{"cells": 2 + place % 4, "capacity": f"{500 + place} mAh"} for place in range(200)]
    spoilt = [{"cells": "x"} if place % 3 == 0 else question for place, question in enumerate(asked)]
    for place, row in enumerate(rows(http, "wattage", spoilt)):
        if place % 3 == 0:
            assert row["problem"]["status"] == 422
        else:
            expected = (2 + place % 4) * 3.7 * (500 + place) / 1000
            assert row["answer"]["nominal_power"]["value"] == pytest.approx(expected, rel=1e-12)


def test_all_bad_is_still_a_reply(http: FlaskClient) -> None:
    assert all("problem" in row for row in rows(http, "wattage", [{}, {"cells": -1}, "x"]))
    assert rows(http, "wattage", []) == []


@pytest.mark.parametrize(
    ("common", "own", "alone"),
    [
        (TRAINER | {"rate": 2}, {"capacity": "1150 mAh"}, {"cells": 3, "capacity": "1150 mAh", "rate": 2}),
        (TRAINER | {"rate": 2}, {"current": "1 A"}, TRAINER | {"current": "1 A"}),
        (TRAINER, {"voltage": "12.6 V", "current": "1 A"}, {"voltage": "12.6 V", "current": "1 A"}),
        (TRAINER, {"capacity": None, "rate": ""}, TRAINER),
        (TRAINER | {"rate": 2}, {"rate": "1C"}, TRAINER | {"rate": 1}),
    ],
)
def test_a_questions_own_inputs_win_over_the_common_ones(
    common: dict[str, Any], own: dict[str, Any], alone: dict[str, Any], http: FlaskClient
) -> None:
    (row,) = rows(http, "wattage", [own], common=common)
    assert row["answer"] == http.post("/v1/wattage", json=alone).json["answer"]


def test_naming_one_of_an_exclusive_set_drops_the_common_others(http: FlaskClient) -> None:
    common = {"cells": 3, "capacity": "2250 mAh", "rest_voltage": "11.31 V"}
    own = [{"state_of_charge": 0.5}, {"cell_voltages": "3.86,3.91,3.87 V"}, {}]
    for question, row in zip(own, rows(http, "charge-current", own, common=common), strict=True):
        kept = {name: value for name, value in common.items() if not question or name != "rest_voltage"}
        assert row["answer"] == http.post("/v1/charge-current", json=kept | question).json["answer"]


def test_nested_parts_win_over_common_lists(http: FlaskClient) -> None:
    one = {"supply_rating": "180 W", "loads": [{"power": "110 W"}, {"power": "60 W"}]}
    own = [{"loads[0].power": "50 W"}, {}, {"loads": ["10 W"]}]
    alone = [one | {"loads": ["50 W"]}, one, one | {"loads": ["10 W"]}]
    for question, row in zip(alone, rows(http, "supply-split", own, common=one), strict=True):
        assert row["answer"] == http.post("/v1/supply-split", json=question).json["answer"]


@pytest.mark.parametrize(
    ("body", "status", "said"),
    [
        (b"", 400, "JSON"),
        (b"[]", 400, "questions"),
        (b'{"questions": [}', 400, "JSON that can be read: look at line 1, column 16"),
        (b'{"questions": [], "questions": []}', 400, "twice"),
        (b'{"questions": [], "common": {"cells": 3, "cells": 4}}', 400, "twice"),
        (b"{}", 422, "questions is missing"),
        (b'{"questions": {}}', 422, "list"),
        (b'{"questions": [], "common": []}', 422, "common"),
        (b'{"questions": [], "commun": {}}', 422, "commun"),
        (b'{"questions": ' + b"[" * 100_000 + b"}", 400, "JSON"),
    ],
)
def test_what_is_no_batch_is_told_in_the_one_shape(body: bytes, status: int, said: str, http: FlaskClient) -> None:
    reply = http.post("/v1/wattage/batch", data=body, content_type="application/json")
    assert (reply.status_code, reply.mimetype) == (status, "application/problem+json")
    assert said in reply.json["detail"]


def test_a_name_twice_or_no_number_in_one_question_loses_no_other(http: FlaskClient) -> None:
    body = b"""{"questions": [{"cells": 3, "cells": 4, "capacity": "1 Ah"}, {"cells": 3, "capacity": "1 Ah"},
        {"cells": NaN, "capacity": "1 Ah"}, {"cells": 3, "capacity": {"value": 1, "value": 2, "unit": "Ah"}}]}"""
    reply = http.post("/v1/wattage/batch", data=body, content_type="application/json")
    problems = [row.get("problem", {}).get("status") for row in reply.json["answers"]]
    assert problems == [400, None, 422, 400]


@each
def test_more_questions_than_it_takes_are_refused_and_the_document_says_how_many(
    calculator: Calculator, http: FlaskClient, told: dict[str, Any]
) -> None:
    operation = told["paths"]["/v1/{calculator}/batch"]["post"]
    questions = operation["requestBody"]["content"]["application/json"]["schema"]["properties"]["questions"]
    most = told["paths"][f"/v1/{calculator.name}"]["post"]["x-most-rows"]
    assert most == calculator.most <= questions["maxItems"]
    limits = re.search(rf"\b{most} (questions|of [^;]*\b{calculator.name}\b)", operation["description"])
    assert limits is not None
    assert (limits[1] == "questions") == (most == questions["maxItems"])
    reply = http.post(f"/v1/{calculator.name}/batch", json={"questions": [0] * (most + 1)})
    assert (reply.status_code, reply.json["status"]) == (413, 413)
    assert str(most) in reply.json["detail"]
    heads = ",".join(list(calculator.inputs)[:1])
    reply = table(http, calculator.name, f"{heads},n\n" + ",1\n" * (most + 1))
    assert reply.status_code == 413
    if most <= 1000:
        assert table(http, calculator.name, f"{heads},n\n" + ",1\n" * most).status_code == 200


def test_eight_megabytes_are_taken_and_more_is_too_large(app: Flask) -> None:
    http = app.test_client()
    question = json.dumps({"cells": 3, "capacity": "1150 mAh", "condition": " " * 700})
    body = f'{{"questions": [{",".join([question] * 9_000)}]}}'.encode()
    assert 6_000_000 < len(body) < batch.LONGEST_BATCH
    assert http.post("/v1/wattage/batch", data=body, content_type="application/json").status_code == 200
    over = http.post("/v1/wattage/batch", data=b" " * (batch.LONGEST_BATCH + 1), content_type="application/json")
    assert over.status_code == 413
    assert "8192 kilobytes" in over.json["detail"]
    assert http.post("/v1/wattage", data=body, content_type="application/json").status_code == 413


def test_a_batch_is_posted_and_comes_in_its_own_form(http: FlaskClient) -> None:
    assert http.get("/v1/wattage/batch").status_code == 405
    assert http.get("/v1/wattage/batch").headers["Allow"] == "POST, OPTIONS"
    assert http.post("/v1/wattage/batch", data="x", content_type="text/plain").status_code == 415
    asked = {"questions": [TRAINER]}
    assert http.post("/v1/wattage/batch", json=asked, headers={"Accept": "text/csv"}).status_code == 406
    assert http.post("/v1/wattage/batch?cells=3", json=asked).status_code == 400
    csv_only = {"Accept": "application/json"}
    reply = http.post("/v1/wattage/batch", data="cells\n3", content_type="text/csv", headers=csv_only)
    assert reply.status_code == 406
    assert "/v1/wattage/batch" in http.post("/v1/watage/batch", json=asked).json["detail"]


def test_a_batch_that_takes_too_long_puts_the_rest_off(http: FlaskClient, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = iter([0.0, *(second * 1.0 for second in range(100))])
    monkeypatch.setattr(batch, "thread_time", lambda: next(clock))
    told = [row.get("problem", {}).get("status", 200) for row in rows(http, "wattage", [TRAINER] * 7)]
    assert told == [200] * 5 + [503] * 2


def test_a_fault_of_the_service_stays_in_its_row(monkeypatch: pytest.MonkeyPatch, caplog: Any) -> None:
    app = create_app()
    teller = batch.teller(CALCULATORS["wattage"])
    function = teller.function
    monkeypatch.setattr(teller, "function", lambda **asked: 1 / 0 if asked["rate"] == 3 else function(**asked))
    told = rows(app.test_client(), "wattage", [TRAINER, TRAINER | {"rate": 3}, TRAINER])
    assert [row.get("problem", {}).get("status", 200) for row in told] == [200, 500, 200]
    assert "ZeroDivisionError" not in json.dumps(told)
    assert "ZeroDivisionError" in caplog.text


# A spreadsheet's habits.


def test_a_table_is_handed_back_as_it_was_written(http: FlaskClient) -> None:
    text = '\ufeffpack;cells;capacity [mAh];rest_voltage;bought\r\n"red; one";3;2250;11,31 V;3.4.2024\r\n'
    reply = table(http, "charge-current", text)
    assert reply.text.startswith("\ufeffpack;cells;capacity [mAh];rest_voltage;bought;answer.current [A];")
    assert reply.text.count("\r\n") == reply.text.count("\n") == 2
    (row,) = read(reply, ";")
    assert (row["pack"], row["capacity [mAh]"], row["rest_voltage"]) == ("red; one", "2250", "11,31 V")
    assert row["bought"] == "3.4.2024"
    alone = http.get("/v1/charge-current?cells=3&capacity=2250mAh&rest_voltage=11.31V").json["answer"]
    assert row["answer.current [A]"] == "2,25"
    assert float(row["answer.energy_added [Wh]"].replace(",", ".")) == alone["energy_added"]["value"]
    assert row["problem"] == ""


@pytest.mark.parametrize(
    ("text", "separator"),
    [
        ("cells,capacity\n3,1150 mAh", ","),
        ('cells,capacity\n3,"1150 mAh"\n', ","),
        ("cells\tcapacity\n3\t1150 mAh\n", "\t"),
        ("sep=;\ncells;capacity\n3;1150 mAh\n", ";"),
        ("cells,capacity [mAh]\n3,1150\n", ","),
        ("cells,capacity [Ah]\n3,1150 mAh\n", ","),
        ("cells , Capacity (mAh)\n 3 , 1150 \n", ","),
        ("cells;capacity [Ah]\n3;1,15\n", ";"),
        ("cells;capacity [Ah]\n3;1.15\n", ";"),
        ("cells,capacity,rate,condition\n3,1150 mAh,,\n,,,\n,,,\n", ","),
        ("\n\ncells,capacity\n3,1150 mAh\n", ","),
        ("cells,capacity\r3,1150 mAh\r", ","),
        ("cells,capacity,answer.peak_power [W],problem\n3,1150 mAh,99,old\n", ","),
        ("cells,capacity\n'3,\u00a01150\u00a0mAh\n", ","),
    ],
)
def test_tables_are_read_however_spreadsheets_write_them(text: str, separator: str, http: FlaskClient) -> None:
    reply = table(http, "wattage", text)
    shown = reply.text.partition("\n")[2] if text.startswith("sep=") else reply.text
    (row,) = csv.DictReader(io.StringIO(shown, newline=None), delimiter=separator)
    mark = "," if ";" in text and "," in text else "," if separator == ";" and "." not in text else "."
    assert row["answer.peak_power [W]"] == f"14{mark}49"
    assert row["problem"] == ""
    assert shown.count("answer.peak_power") == 1


def test_the_encoding_of_a_table_is_found(http: FlaskClient) -> None:
    text = "cells,capacity,temperature\n3,2250 mAh,25 °C\n"
    for body, kind in (
        (text.encode("utf-8"), "text/csv"),
        (text.encode("utf-8-sig"), "text/csv; charset=utf-8"),
        (text.encode("cp1252"), "text/csv"),
        (text.encode("latin-1"), "text/csv; charset=iso-8859-1"),
        (text.encode("utf-16"), "text/csv"),
    ):
        reply = http.post("/v1/charge-current/batch", data=body, content_type=kind)
        (row,) = read(reply)
        assert (row["temperature"], row["answer.current [A]"]) == ("25 °C", "2.25"), kind


@pytest.mark.parametrize("body", [b"\xff\xfe\x00", b'cells,"capacity\n3,1150 mAh\n'])
def test_a_table_that_is_no_text_or_breaks_off_is_refused(body: bytes, http: FlaskClient) -> None:
    reply = http.post("/v1/wattage/batch", data=body, content_type="text/csv; charset=utf-8")
    assert (reply.status_code, reply.mimetype) == (400, "application/problem+json")


@pytest.mark.parametrize(
    "cell", ["3.86 3.91 3.87 V", "3.86V 3.91V 3.87V", "3860 mV 3.91 V 3.87 V", '"3.86,3.91,3.87 V"']
)
def test_a_list_stands_in_a_cell_with_spaces_between(cell: str, http: FlaskClient) -> None:
    (row,) = read(table(http, "balance-need", f"cell_voltages\n{cell}\n"))
    assert (float(row["answer.spread [V]"]), row["answer.highest_cell"]) == (pytest.approx(0.05), "2")
    (row,) = read(table(http, "balance-need", "cell_voltages [V]\n3.86 3.91 3.87\n"))
    assert float(row["answer.spread [V]"]) == pytest.approx(0.05)
    (row,) = read(table(http, "balance-need", "cell_voltages [mV];x\n3860,5 3910,5 3870\n"), ";")
    assert float(row["answer.spread [V]"].replace(",", ".")) == pytest.approx(0.05)


def test_two_values_with_a_space_are_a_list_but_a_thousand_is_not(http: FlaskClient) -> None:
    text = "cells,capacity,cell_resistance,state_of_charge\n2,2250 mAh,8 9 mΩ,0.5\n2,2 250 mAh,8 mΩ,0.5\n"
    pair, thousand = read(table(http, "sag", text, "?current=20A"))
    assert pair["problem"] == ""
    assert pair["answer.weakest_cell"] == "2"
    assert thousand["problem"].startswith("capacity")


@pytest.mark.parametrize(
    ("heading", "cell"),
    [("shares", "0.2 0.3 0.5"), ("shares", "20 % 30 % 50 %"), ("shares", "20% 0.3 50%"), ("shares [%]", "20 30 50")],
)
def test_fractions_in_one_cell_are_a_list(heading: str, cell: str, http: FlaskClient) -> None:
    (row,) = read(table(http, "endurance", f"cells,capacity,currents,{heading}\n3,2250 mAh,8 20 42 A,{cell}\n"))
    asked = {"cells": 3, "capacity": "2250 mAh", "currents": ["8 A", "20 A", "42 A"], "shares": [0.2, 0.3, 0.5]}
    alone = http.post("/v1/endurance", json=asked).get_json()["answer"]
    assert row["problem"] == ""
    assert float(row["answer.time_flight [min]"]) == pytest.approx(alone["time_flight"]["value"], rel=1e-9)


def test_a_unit_in_a_heading_that_the_input_has_not_is_refused_and_never_dropped(http: FlaskClient) -> None:
    def problem(heading: str) -> str:
        (row,) = read(table(http, "wattage", f"cells,capacity,{heading}\n3,1150 mAh,0.9\n"))
        return row["problem"]

    assert problem("rate [C]") == problem("rate [c]") == problem("efficiency") == ""
    assert problem("rate [A]").startswith("rate")
    assert problem("rate [%]").startswith("rate")
    assert problem("efficiency [C]").startswith("efficiency")
    (counted,) = read(table(http, "wattage", "cells [pcs],capacity [mAh],rate\n3,1150,1\n"))
    assert counted["problem"] == ""


@pytest.mark.parametrize("cell", ["2.250", "2.250,5", "1,000.5"])
def test_a_point_among_decimal_commas_is_not_guessed(cell: str, http: FlaskClient) -> None:
    good, bad = read(table(http, "wattage", f"cells;capacity [mAh];rate\n3;1150;0,5\n3;{cell};1\n"), ";")
    assert good["answer.peak_power [W]"] == "7,245"
    assert bad["problem"].startswith("capacity has a point")
    assert bad["answer.peak_power [W]"] == ""


def test_lists_of_results_stand_in_columns_of_their_own(http: FlaskClient) -> None:
    short, long = read(table(http, "supply-split", "supply_rating,loads\n180 W,45 W 90 W\n180 W,110 W 60 W 20 W\n"))
    assert short["answer.allotments[1].allotted_power [W]"] == "90"
    assert short["answer.allotments[2].allotted_power [W]"] == ""
    assert long["answer.allotments[2].asked_power [W]"] == "20"


def test_nested_inputs_have_columns_too(http: FlaskClient) -> None:
    text = "packs[0].cells,packs[0].capacity [mAh],packs[0].rest_voltage,packs[1].cells,packs[1].capacity [mAh],"
    text += "packs[1].cell_voltages [V]\n3,2250,11.31 V,3,2250,3.86 3.91 3.87\n"
    (row,) = read(table(http, "parallel-join", text))
    assert row["problem"] == ""
    assert len(row["answer.initial_currents [A]"].split(" ")) == 2


FORMULAS = ["=1+1", "@SUM(A1)", "+cmd|' /C calc'!A0", "-2+3", '=HYPERLINK("x")', " =1", "\t=1", "−1+1", "-A1"]
HARMLESS = ["-5", "+3", "-5,5", "-5 °C", "-1.5e3", "3-4", "a=b", "", "x", "-0.5 A"]


def test_what_a_spreadsheet_would_work_out_is_made_harmless(http: FlaskClient) -> None:
    made = io.StringIO()
    csv.writer(made).writerows([["cells", "capacity", "=note"], *(["3", "1150 mAh", f] for f in FORMULAS + HARMLESS)])
    told = read(table(http, "wattage", made.getvalue()))
    assert [row["'=note"] for row in told] == [f"'{text}" for text in FORMULAS] + HARMLESS
    name = read(table(http, "supply-split", "supply_rating,loads[0].name,loads[0].power\n90 W,=1+1,45 W\n"))[0]
    assert name["answer.allotments[0].name"] == "'=1+1"
    assert name["loads[0].name"] == "'=1+1"
    refused = read(table(http, "wattage", "cells,capacity\n3,=2*1150\n"))[0]
    assert refused["problem"].startswith("capacity")


def test_a_misspelt_heading_is_refused_where_it_is_filled(http: FlaskClient) -> None:
    swollen, sound = read(table(http, "charge-current", "cells,capacity,conditon\n3,2250 mAh,swollen\n3,2250 mAh,\n"))
    assert "did you mean condition" in swollen["problem"]
    assert swollen["answer.current [A]"] == ""
    assert sound["answer.current [A]"] == "2.25"
    kept = read(table(http, "charge-current", "cells,capacity,owner,date,name\n3,2250 mAh,a,b,c\n"))[0]
    assert (kept["problem"], kept["owner"], kept["date"], kept["name"]) == ("", "a", "b", "c")


def test_rows_may_be_short_and_a_row_that_is_too_long_is_told(http: FlaskClient) -> None:
    short, long, empty = read(table(http, "wattage", "cells,capacity,rate\n3,1150 mAh\n3,1150 mAh,1,5\n,,\n3,,x\n"))[:3]
    assert short["answer.peak_power [W]"] == "14.49"
    assert "4 cells under 3 headings" in long["problem"]
    assert "missing" in empty["problem"]


@pytest.mark.parametrize(
    ("text", "code"), [("", "missing"), ("a,b\n1,2\n", "missing"), ("cells,capacity,Cells\n3,1 Ah,3\n", "repeated")]
)
def test_a_table_without_inputs_or_with_one_twice_is_refused(text: str, code: str, http: FlaskClient) -> None:
    reply = table(http, "wattage", text)
    assert reply.status_code == 422
    assert reply.json["errors"][0]["code"] == code


def test_what_is_common_to_all_rows_stands_in_the_address(http: FlaskClient) -> None:
    text = "cells,capacity,current\n3,1150 mAh,\n3,1150 mAh,1 A\n"
    shared, own = read(table(http, "wattage", text, "?rate=2C&efficiency=80%25"))
    assert (shared["answer.nominal_power [W]"], own["answer.nominal_power [W]"]) == ("25.53", "11.1")


def test_a_clock_time_and_a_percentage_are_read(http: FlaskClient) -> None:
    heads = "flight_time,charge_returned [mAh],capacity [mAh],reserve [%]"
    one, other = read(table(http, "flight-timer", f"{heads}\n6:30,1500,2250,20\n6.5 min,1500,2250,20 %\n"))
    alone = {"flight_time": "6.5 min", "charge_returned": "1500 mAh", "capacity": "2250 mAh", "reserve": 0.2}
    timer = http.post("/v1/flight-timer", json=alone).json["answer"]["timer"]["value"]
    assert float(one["answer.timer [min]"]) == float(other["answer.timer [min]"]) == pytest.approx(timer)


@pytest.mark.parametrize("name", CALCULATORS.keys() - SEVERAL.keys())
def test_a_calculator_that_takes_one_question_at_a_time_has_no_batch(
    name: str, http: FlaskClient, spec: dict[str, Any]
) -> None:
    asked = {"questions": [CALCULATORS[name].examples[0]]}
    reply = http.post(f"/v1/{name}/batch", json=asked)
    assert (reply.status_code, reply.mimetype) == (404, "application/problem+json")
    (which,) = spec["paths"]["/v1/{calculator}/batch"]["parameters"]
    assert name not in which["schema"]["enum"]
    status, document = embedded(f"{name}/batch", asked)
    assert status == 404
    assert "one question at a time" in document["detail"]

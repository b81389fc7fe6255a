"""The error tree, typed answers and what stops a document from being one, and the names that are exported."""

from __future__ import annotations

import copy
import inspect
import pickle
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import pytest
import responses

import ampstead_client
from ampstead_client import (
    AmpsteadClient,
    AmpsteadError,
    Answer,
    AnswerFault,
    Band,
    Caution,
    FieldError,
    InvalidQuestion,
    NotInstalled,
    Quantity,
    TimedOut,
    TooMany,
    Unreachable,
    Unreadable,
    calculators,
    errors,
)
from ampstead_client.reading import read

PROBLEM = {
    "type": "about:blank",
    "title": "Unprocessable Content",
    "status": 422,
    "detail": "2 inputs are wrong",
    "errors": [
        {"field": "capacity", "code": "unit_missing", "message": 'capacity needs a unit: write "2250 mAh"'},
        {"field": "loads[1].power", "code": "missing", "message": "is missing", "hint": "unknown key"},
    ],
}


@responses.activate
def test_a_refused_question_tells_every_fault() -> None:
    responses.post("http://packs.example/v1/wattage", status=422, json=PROBLEM)
    with AmpsteadClient("http://packs.example") as client, pytest.raises(InvalidQuestion) as caught:
        client.wattage(cells=3, capacity=2250)  # type: ignore[arg-type]
    assert caught.value.errors == (
        FieldError("capacity", "unit_missing", 'capacity needs a unit: write "2250 mAh"'),
        FieldError("loads[1].power", "missing", "is missing"),
    )
    assert str(caught.value).splitlines() == [
        "POST http://packs.example/v1/wattage answered 422:",
        '  capacity needs a unit: write "2250 mAh"',
        "  loads[1].power: is missing",
    ]
    assert len(responses.calls) == 1


def test_a_fault_of_one_of_several_names_its_place_once() -> None:
    told = FieldError("loads[1].power", "unit_missing", 'loads[1]: power needs a unit: write "60 W"')
    assert str(told) == 'loads[1]: power needs a unit: write "60 W"'


@pytest.mark.parametrize("wrong", ["red trainer A", 3, [{"cells": 3}]])
def test_a_pack_that_is_none_is_told_with_the_cure(wrong: Any) -> None:
    with AmpsteadClient("http://packs.example") as client, pytest.raises(TypeError, match=r"give a Pack, such as Pack"):
        client.wattage(pack=wrong)


@pytest.mark.parametrize("entries", [None, "odd", [3, None], {}])
def test_an_odd_problem_document_still_gives_the_error(entries: object) -> None:
    fault = errors.answer_fault({"errors": entries}, url="http://packs.example", status=422)
    assert isinstance(fault, InvalidQuestion)
    assert fault.errors == ()
    assert str(fault).startswith("POST http://packs.example answered 422: ")


def instances() -> list[AmpsteadError]:
    address = {"method": "POST", "url": "http://packs.example/v1/sag"}
    return [
        AmpsteadError("root"),
        NotInstalled("no service"),
        Unreachable("refused", **address),
        TimedOut("slow", **address),
        Unreadable("a log-in page", **address),
        *(
            errors.answer_fault(PROBLEM, url=address["url"], status=status, retry_after=3)
            for status in (301, 401, 404, 413, 418, 422, 429, 503, 999)
        ),
    ]


@pytest.mark.parametrize("error", instances(), ids=lambda error: type(error).__name__)
def test_each_error_pickles_and_copies(error: AmpsteadError) -> None:
    for twin in (pickle.loads(pickle.dumps(error)), copy.copy(error), copy.deepcopy(error)):
        assert type(twin) is type(error)
        assert str(twin) == str(error)
        assert twin.args == error.args
        assert vars(twin) == vars(error)


def test_the_tree_in_the_docstring_is_the_tree() -> None:
    classes = {
        name: kind
        for name, kind in vars(errors).items()
        if inspect.isclass(kind) and issubclass(kind, AmpsteadError) and not name.startswith("_")
    }
    path: list[str] = []
    drawn: dict[str, str | None] = {}
    for line in (errors.__doc__ or "").splitlines():
        stem = line.removeprefix("    ").lstrip("│├└─ ")
        if not line.startswith("    ") or not stem:
            continue
        name = stem.split()[0]
        depth = (len(line) - 4 - len(stem)) // 4
        path[depth:] = [name]
        drawn[name] = path[depth - 1] if depth else None
    actual = {
        name: next((base.__name__ for base in kind.__mro__[1:] if base.__name__ in classes), None)
        for name, kind in classes.items()
    }
    assert drawn == actual
    assert set(classes) <= set(ampstead_client.__all__)


@dataclass(frozen=True, kw_only=True)
class Allotment:
    name: str | None
    power: Quantity


@dataclass(frozen=True, kw_only=True, repr=False)
class Specimen(Answer):
    power: Quantity
    time_total: Quantity | None
    voltages: tuple[Quantity, ...]
    load_factor: float
    weakest_cell: int
    holds: bool
    verdict: Literal["level", "drifting"]
    allotments: tuple[Allotment, ...]
    either: Quantity | float


def document() -> dict[str, Any]:
    volts = [{"value": 4.1, "unit": "V"}, {"value": 4, "unit": "V"}]
    return {
        "calculator": "specimen",
        "version": "1.0.0",
        "question": {"cells": 2, "cell_voltages": volts, "loads": [{"power": {"value": 5, "unit": "W"}}]},
        "assumed": {
            "chemistry": "lipo",
            "taps": {"value": [1, 2], "unit": "V"},
            "step": {"value": 5, "unit": "W"},
        },
        "answer": {
            "power": {"value": 9.62, "unit": "W", "later": 1},
            "time_total": None,
            "voltages": volts,
            "load_factor": 1,
            "weakest_cell": 2.0,
            "holds": True,
            "verdict": "a-later-verdict",
            "allotments": [{"name": None, "power": {"value": 5, "unit": "W"}, "later": 1}],
            "either": {"value": 1, "unit": "A"},
            "later": 1,
        },
        "accuracy": [
            {"of": "load_factor", "low": 0.9, "high": {"value": 1, "unit": "W"}, "basis": "tried", "later": 1}
        ],
        "sentence": "The pack holds.",
        "cautions": [
            {"code": "never-alone", "severity": "danger", "standing": True, "text": "Stay with it.", "later": 1},
            {"code": "other", "severity": "note", "standing": False, "text": "And more."},
        ],
        "sources": ["common practice, no published source"],
        "later": {"a": 1},
    }


def answered(document: Mapping[str, Any]) -> Specimen:
    return read(Specimen, document, calculator="specimen", address="http://packs.example/v1/specimen")


def test_an_answer_is_typed_and_ignores_keys_of_later_versions() -> None:
    answer = answered(document())
    volts = (Quantity(4.1, "V"), Quantity(4, "V"))
    assert answer.power == Quantity(9.62, "W")
    assert answer.time_total is None
    assert answer.voltages == volts
    assert answer.load_factor == 1.0
    assert isinstance(answer.load_factor, float)
    assert answer.weakest_cell == 2
    assert isinstance(answer.weakest_cell, int)
    assert answer.holds is True
    assert str(answer.verdict) == "a-later-verdict"
    assert answer.allotments == (Allotment(name=None, power=Quantity(5, "W")),)
    assert answer.either == Quantity(1, "A")
    assert answer.question == {"cells": 2, "cell_voltages": volts, "loads": ({"power": Quantity(5, "W")},)}
    assert answer.assumed == {
        "chemistry": "lipo",
        "taps": (Quantity(1, "V"), Quantity(2, "V")),
        "step": Quantity(5, "W"),
    }
    assert answer.accuracy == (Band(of="load_factor", low=0.9, high=Quantity(1, "W"), basis="tried"),)
    assert answer.cautions[0] == Caution(code="never-alone", severity="danger", standing=True, text="Stay with it.")
    assert answer.sources == ("common practice, no published source",)
    assert answer.raw == document()
    assert "later" not in repr(answer).replace("a-later-verdict", "")
    assert str(answer) == "The pack holds. And more."
    assert pickle.loads(pickle.dumps(answer)) == answer


def test_an_answer_shows_itself_in_a_few_lines() -> None:
    assert repr(answered(document())) == (
        "<Specimen\n"
        "  power=9.62 W, time_total=None, voltages=(4.1 V, 4 V), load_factor=1, weakest_cell=2, holds=True,\n"
        "  verdict=a-later-verdict, allotments=(None), either=1 A\n"
        "  cautions: danger never-alone, note other>"
    )


def test_a_band_is_found_by_its_result_and_a_misspelt_name_is_refused() -> None:
    answer = answered(document())
    assert answer.band("load_factor") == Band(of="load_factor", low=0.9, high=Quantity(1, "W"), basis="tried")
    assert answer.band("power") is None
    for wrong in ("load_faktor", "sentence"):
        with pytest.raises(ValueError, match=f"{wrong!r} is no result of specimen: its results are power, time_total"):
            answer.band(wrong)


def test_inputs_are_read_only_values() -> None:
    answer, twin = answered(document()), answered(document())
    assert len({answer, twin}) == 1
    assert hash(answer.question) == hash(twin.question)
    inputs: Any = answer.question
    for change in (
        lambda: inputs.update(cells=3),
        lambda: inputs.__setitem__("cells", 3),
        lambda: inputs.__delitem__("cells"),
        lambda: inputs.pop("cells"),
        lambda: inputs.__ior__({"cells": 3}),
        lambda: inputs["loads"][0].clear(),
    ):
        with pytest.raises(TypeError, match="read-only"):
            change()
    assert pickle.loads(pickle.dumps(inputs)) == copy.deepcopy(inputs) == inputs
    assert dict(inputs) | {"cells": 3} != inputs


def test_an_answer_in_dicts_is_a_copy_that_keeps_keys_of_later_versions() -> None:
    answer = answered(document())
    copied = answer.to_dict()
    assert copied == document()
    copied["answer"]["power"]["value"] = 0
    assert answer.to_dict() == document()


def test_a_key_that_may_be_null_may_be_missing() -> None:
    short = document()
    del short["answer"]["time_total"]
    assert answered(short).time_total is None


@pytest.mark.parametrize("path", ["version", "sentence", "cautions", "answer", "answer.power", "answer.either"])
def test_a_missing_key_is_named(path: str) -> None:
    short = document()
    *parents, last = path.split(".")
    place = short
    for parent in parents:
        place = place[parent]
    del place[last]
    with pytest.raises(Unreadable, match=f"http://packs.example/v1/specimen: .* {path} is missing"):
        answered(short)


@pytest.mark.parametrize(
    ("key", "value", "message"),
    [
        ("power", 9.62, r"answer\.power is 9\.62 instead of a quantity"),
        ("power", None, r"answer\.power is None instead of a quantity"),
        ("power", {"value": float("nan"), "unit": "W"}, r"answer\.power is .* instead of a quantity"),
        ("voltages", [{"value": 4, "unit": "V"}, 4], r"answer\.voltages\[1\] is 4 instead of a quantity"),
        ("voltages", "4 V", r"answer\.voltages is '4 V' instead of a list"),
        ("load_factor", True, r"answer\.load_factor is True instead of a number"),
        ("load_factor", "x" * 500, r"answer\.load_factor is 'x{50,60}\.\.\. instead of a number"),
        ("weakest_cell", 1.5, r"answer\.weakest_cell is 1\.5 instead of a whole number"),
        ("holds", 1, r"answer\.holds is 1 instead of true or false"),
        ("verdict", 1, r"answer\.verdict is 1 instead of text"),
        ("allotments", [{"name": "a"}], r"answer\.allotments\[0\]\.power is missing"),
        ("allotments", [3], r"answer\.allotments\[0\] is 3 instead of an object"),
        ("either", "x", r"answer\.either is 'x' instead of a number"),
    ],
)
def test_a_value_of_another_kind_is_named(key: str, value: Any, message: str) -> None:
    odd = document()
    odd["answer"][key] = value
    with pytest.raises(Unreadable, match=message):
        answered(odd)


@responses.activate
def test_json_that_is_no_answer_is_unreadable_through_the_client() -> None:
    responses.post("http://packs.example/v1/wattage", json={"status": "ok"})
    with (
        AmpsteadClient("http://packs.example") as client,
        pytest.raises(Unreadable, match=r"http://packs\.example/v1/wattage: .*answer is missing"),
    ):
        client.wattage(cells=3)


def test_too_many_is_an_answer_fault() -> None:
    assert issubclass(TooMany, AnswerFault)


def test_all_names_are_exported_once_and_nothing_else() -> None:
    exported = ampstead_client.__all__
    assert len(exported) == len(set(exported))
    modules = {name for name, value in vars(ampstead_client).items() if inspect.ismodule(value)}
    public = {name for name in vars(ampstead_client) if not name.startswith("_")} - modules
    assert public | {"__version__"} == set(exported)
    assert set(calculators.__all__) <= set(exported)


def test_every_public_name_says_what_it_is() -> None:
    for name in ampstead_client.__all__:
        value = getattr(ampstead_client, name)
        if inspect.isclass(value):
            assert value.__doc__, name
            assert not value.__doc__.startswith(f"{name}("), name
            for method, member in vars(value).items():
                if inspect.isfunction(member) and not method.startswith("_"):
                    assert member.__doc__, f"{name}.{method}"


def test_the_import_takes_neither_pint_nor_the_service() -> None:
    source = (
        "import sys, ampstead_client; "
        "print(sorted({name.partition('.')[0] for name in sys.modules} & {'pint', 'numpy', 'ampstead'}))"
    )
    found = subprocess.run([sys.executable, "-c", source], capture_output=True, text=True, check=True, timeout=30)
    assert found.stdout.strip() == "[]"

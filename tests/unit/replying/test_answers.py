"""One answer and its forms: the envelope, what a batch says of it, and what is spoken."""

import json

import pytest

from ampstead.calculators import registry
from ampstead.errors import Refusal
from ampstead.replying.answers import answered

CALCULATORS = registry()
AEROBAT = {"cells": 4, "capacity": "3700 mAh", "cell_resistance": "4.2 mΩ"}
RANK = {"danger": 0, "warning": 1, "note": 2}


@pytest.mark.parametrize("name", CALCULATORS)
def test_a_batch_says_of_an_answer_just_what_its_envelope_says(name: str) -> None:
    one = answered(CALCULATORS[name], CALCULATORS[name].examples[0])
    whole, brief = one.envelope(), json.loads(one.brief())
    assert brief == {key: whole[key] for key in ("answer", "assumed", "accuracy", "cautions")}
    assert not whole["question"].keys() & whole["assumed"].keys()
    assert whole["answer"].keys() == CALCULATORS[name].results.keys()


@pytest.mark.parametrize("name", CALCULATORS)
def test_cautions_go_gravest_first_and_what_is_spoken_ends_with_the_gravest_particular_one(name: str) -> None:
    one = answered(CALCULATORS[name], CALCULATORS[name].examples[-1])
    cautions = one.envelope()["cautions"]
    order = [(RANK[entry["severity"]], entry["standing"]) for entry in cautions]
    assert order == sorted(order)
    particular = [entry["text"] for entry in cautions if not entry["standing"]] or [entry["text"] for entry in cautions]
    assert one.spoken() == " ".join([one.envelope()["sentence"], *particular[:1]]) + "\n"


def test_a_particular_caution_is_spoken_before_a_graver_standing_one() -> None:
    # Never to leave it alone is a danger on any day; that a cell is apart is what this question brought up.
    one = answered(CALCULATORS["charge-current"], AEROBAT | {"cell_voltages": "3.85 V,3.84 V,3.86 V,3.10 V"})
    first = next(entry for entry in one.cautions() if not entry.standing)
    assert one.spoken().endswith(f"{first.text}\n")
    assert any(entry.standing and entry.severity == "danger" for entry in one.cautions())


def test_what_a_question_gives_is_not_among_what_is_assumed() -> None:
    bare = answered(CALCULATORS["sag"], AEROBAT | {"current": "48 A"}).envelope()
    told = answered(CALCULATORS["sag"], AEROBAT | {"current": "48 A", "duration": "10 s"}).envelope()
    assert bare["assumed"]["duration"] == told["question"]["duration"] == {"value": 10, "unit": "s"}
    assert "duration" not in told["assumed"]
    assert bare["answer"] == told["answer"]


def test_a_question_that_cannot_be_answered_is_refused_with_all_that_is_wrong() -> None:
    with pytest.raises(Refusal) as refused:
        answered(CALCULATORS["sag"], {"cells": 4, "current": "48", "floor": "3 A"})
    assert {(error.field, error.code) for error in refused.value.errors} >= {
        ("current", "unit_missing"),
        ("floor", "wrong_dimension"),
    }

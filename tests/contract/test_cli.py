"""The command line: one question, answered at once."""

import json
from typing import Any

import pytest

from ampstead.cli import main
from ampstead.replying.forms import embedded

WATTAGE = ["ask", "wattage", "cells=3", "capacity=2250 mAh", "available_power=30W"]


def answered() -> dict[str, Any]:
    status, document = embedded("wattage", dict(entry.split("=", 1) for entry in WATTAGE[2:]))
    assert status == 200
    return document


def test_it_speaks_the_answer_and_the_gravest_caution(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(WATTAGE) == 0
    said = capsys.readouterr().out
    assert said.startswith("Charge this lithium-polymer pack at 2.25 amperes")
    assert said.rstrip().endswith(".")
    gravest = next(entry for entry in answered()["cautions"] if not entry["standing"])
    assert said.endswith(f" {gravest['text']}\n")


def test_it_prints_the_whole_envelope_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*WATTAGE, "--as", "json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["answer"]["advised_rating"] == {"value": 40.0, "unit": "W"}


def test_a_refused_question_says_the_cure_and_exits_with_one(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ask", "wattage", "cells=3", "capacity=2250"]) == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err == 'Capacity needs a unit: write "2250 mAh".\n'


def test_an_unknown_calculator_gets_a_hint(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ask", "watage", "cells=2"]) == 1
    assert "did you mean wattage?" in capsys.readouterr().err


@pytest.mark.parametrize("inputs", [["cells"], ["cells=2", "cells=3"]])
def test_inputs_that_are_not_named_once_are_a_wrong_call(inputs: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["ask", "wattage", *inputs])
    assert ended.value.code == 2
    assert inputs[-1].partition("=")[0] in capsys.readouterr().err

"""openapi-python-client makes a client without a warning, which asks by a rest voltage and reads the answer."""

import importlib
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

DOCUMENT = Path(__file__).resolve().parents[2] / "openapi" / "openapi.json"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """The name of a generated package that can be imported, and what the generator said."""
    place = tmp_path_factory.mktemp("python") / "made_of_the_document"
    settings = place.with_name("settings.yaml")
    settings.write_text("post_hooks: []\npackage_name_override: made_of_the_document\n", encoding="utf-8")
    command = ["generate", "--path", DOCUMENT, "--output-path", place, "--config", settings, "--meta", "none"]
    ran = subprocess.run(
        [sys.executable, "-m", "openapi_python_client", *command], capture_output=True, text=True, timeout=120
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    sys.path.insert(0, str(place.parent))
    return place.name, ran.stdout + ran.stderr


def part(made: tuple[str, str], name: str) -> Any:
    return importlib.import_module(f"{made[0]}.{name}")


def test_it_is_made_without_a_warning(made: tuple[str, str]) -> None:
    warned = [line for line in made[1].splitlines() if "warning" in line.lower() or "unsupported" in line.lower()]
    assert [line for line in warned if "image/" not in line] == []


def test_a_question_by_rest_voltage_is_answered_by_get_and_post(made: tuple[str, str], site: str) -> None:
    sag = part(made, "api.at_the_bench.sag").sync_detailed
    question = part(made, "models").SagQuestion
    asked = question(cells=4, capacity="3700 mAh", current="48 A", rest_voltage="15.07 V")
    get = part(made, "api.at_the_bench.get_sag").sync_detailed
    with part(made, "client").Client(base_url=site, raise_on_unexpected_status=True) as client:
        posted = sag(client=client, body=asked)
        got = get(client=client, cells=4, capacity="3700 mAh", current="48 A", rest_voltage="15.07 V")
    assert posted.status_code == 200, posted.content
    assert posted.parsed.question.rest_voltage.value == 15.07
    assert posted.parsed.assumed.chemistry == "lipo"
    assert isinstance(posted.parsed.answer.holds, bool)
    assert got.content == posted.content


def test_a_sentence_comes_by_get_and_post_and_many_are_answered_at_once(made: tuple[str, str], site: str) -> None:
    models, asked = part(made, "models"), {"cells": "4", "capacity": "3700 mAh", "current": "48 A"}
    which, spoken = models.GetFormCalculator.SAG, models.GetFormForm.TXT
    with part(made, "client").Client(base_url=site, raise_on_unexpected_status=True) as client:
        got = part(made, "api.every_calculator.get_form").sync_detailed(
            which, spoken, client=client, question=models.GetFormQuestion.from_dict(asked)
        )
        posted = part(made, "api.every_calculator.form").sync_detailed(
            models.FormCalculator.SAG, models.FormForm.TXT, client=client, body=models.FormBody.from_dict(asked)
        )
        many = part(made, "api.every_calculator.batch").sync_detailed(
            models.BatchCalculator.SAG,
            client=client,
            body=models.BatchBody.from_dict({"questions": [asked, {"cells": 4}], "common": {"duration": "5 s"}}),
        )
    assert got.status_code == 200, got.content
    assert got.parsed == posted.parsed == got.content.decode()
    answered, refused = many.parsed.answers
    assert isinstance(answered.answer["holds"], bool)
    assert answered.assumed.chemistry == "lipo"
    assert refused.problem.status == 422


def test_a_problem_is_read(made: tuple[str, str], site: str) -> None:
    sag, question = part(made, "api.at_the_bench.sag").sync_detailed, part(made, "models").SagQuestion
    with part(made, "client").Client(base_url=site) as client:
        reply = sag(client=client, body=question(cells=4, capacity="3700", current="48 A"))
    assert reply.status_code == 422
    assert [(fault.field, fault.code) for fault in reply.parsed.errors] == [("capacity", "unit_missing")]

"""The snippets of client/README.md, run as they are printed, one after the other."""

import re
from pathlib import Path
from typing import Any

import pytest

from ampstead_client import AmpsteadClient, Quantity

README = (Path(__file__).resolve().parents[2] / "client" / "README.md").read_text(encoding="utf-8")
SNIPPETS = re.findall(r"^```python\n(.*?)^```", README, re.MULTILINE | re.DOTALL)
PORT = "http://127.0.0.1:8080"


@pytest.fixture
def without_a_socket(monkeypatch: pytest.MonkeyPatch) -> None:
    """The service that the README names, answering in this process."""

    def started(self: AmpsteadClient, base_url: str, **kept: Any) -> None:
        assert base_url == PORT, "the port that the service has unless another is set"
        self.__dict__.update(AmpsteadClient.embedded().__dict__)

    monkeypatch.setattr(AmpsteadClient, "__init__", started)


@pytest.mark.usefixtures("without_a_socket")
def test_each_snippet_runs_after_those_before_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert len(SNIPPETS) >= 5
    names: dict[str, Any] = {}
    for snippet in SNIPPETS:
        exec(compile(snippet, "client/README.md", "exec"), names)
    said = capsys.readouterr().out
    assert "this lithium-polymer pack" in said
    assert "no service in reach" not in said
    assert names["answer"].supply_power.value_in("W") == pytest.approx(1.15 * 12.6 / 0.85)
    assert isinstance(names["answer"].current, Quantity)


@pytest.mark.usefixtures("without_a_socket")
def test_the_first_snippet_survives_a_load_that_cannot_be_carried(capsys: pytest.CaptureFixture[str]) -> None:
    (asked,) = re.findall(r'current="48 A"', SNIPPETS[0])
    exec(compile(SNIPPETS[0].replace(asked, 'power="100 kW"'), "client/README.md", "exec"), {})
    assert "It cannot carry that at all; at most" in capsys.readouterr().out

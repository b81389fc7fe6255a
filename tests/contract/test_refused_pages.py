"""Whatever fails where a person asks is a page that says what to do; a program gets the one shape of every error."""

import re
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
import requests
from contract.serving import WITH_BAD_QUESTIONS, Running, hurried
from contract.test_addresses import addressed
from contract.test_pages import plain
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from ampstead.calculators import registry
from ampstead.pages.packs import LONGEST_LIST

BROWSER = {"Accept": "text/html,application/xhtml+xml,application/xml;q=0.9,image/avif,image/webp,*/*;q=0.8"}
PROBLEM = "application/problem+json"
LONG_LIST = b"# old readings\n" * (LONGEST_LIST // 15 + 9)
SESSION = addressed(registry()["charge-session"].examples[0])


FAILURES = [
    pytest.param("POST", "/packs", {"data": LONG_LIST}, 413, "in two parts", id="list too long"),
    pytest.param("POST", "/packs", {"json": {}}, 415, "its own form", id="list as JSON"),
    pytest.param("GET", "/wattge", {}, 404, "Did you mean this? What supply does this charge ask for?", id="misspelt"),
    pytest.param("GET", "/nothing/at/all", {}, 404, "choose from all questions", id="nothing there"),
    pytest.param("POST", "/sag", {}, 405, "press Answer", id="sent otherwise"),
    pytest.param("GET", "/sag?current=" + "9" * 17_000, {}, 414, "fewer packs", id="address too long"),
    pytest.param("GET", "/card.qr.svg?name=" + "a" * 3_000, {}, 414, "bookmark it", id="code too long"),
    pytest.param("GET", "/sag", {"headers": {"X-Much": "a" * 33_000}}, 431, "cookies", id="headers too large"),
]


@pytest.mark.parametrize(("method", "path", "more", "status", "cure"), FAILURES)
def test_a_person_gets_a_page_with_the_cure_and_a_program_the_problem(
    method: str, path: str, more: dict[str, Any], status: int, cure: str, http: FlaskClient
) -> None:
    def asked(headers: dict[str, str]) -> TestResponse:
        told = {**more, "headers": {**headers, **more.get("headers", {})}}
        if "data" in told:
            told["data"] = {"list": (BytesIO(told["data"]), "packs.toml")}
        return http.open(path, method=method, **told)

    page, problem = asked(BROWSER), asked({})
    assert page.status_code == problem.status_code == status
    assert page.content_type.startswith("text/html")
    assert cure in plain(page.text)
    assert 'href="/"' in page.text
    assert "script" not in page.text
    assert "default-src 'none'" in page.headers["Content-Security-Policy"]
    assert page.headers["Cache-Control"] == "no-store"
    assert problem.content_type == PROBLEM


@pytest.mark.parametrize("path", ["/v1/wattge", "/v1/sag", "/openapi.jsn/x", "/v1"])
def test_where_programs_ask_a_browser_sees_what_they_see(path: str, http: FlaskClient) -> None:
    reply = http.get(path, headers=BROWSER)
    assert reply.content_type.startswith("text/html") == (path == "/openapi.jsn/x")


def test_a_code_of_a_question_told_twice_is_refused_and_a_person_is_led_to_why(http: FlaskClient) -> None:
    for name in ("wattage", "card"):
        path = f"/{name}.qr.svg?name=3&name=4"
        assert http.get(path).status_code == 422
        led = http.get(path, headers=BROWSER)
        assert (led.status_code, led.headers["Location"]) == (303, f"/{name}?name=3&name=4")


@pytest.mark.parametrize("suffix", ["txt", "csv", "png", "qr.svg"])
def test_another_form_of_a_question_that_has_become_wrong_leads_back_to_its_page(
    suffix: str, http: FlaskClient
) -> None:
    wrong = {**SESSION, "packs[1].cells": "77", ":as": suffix}
    led = http.get("/charge-session", query_string=wrong, headers=BROWSER)
    assert led.status_code == 303
    assert led.headers["Location"].startswith("/charge-session?")
    assert "at most" in plain(http.get(led.headers["Location"]).text)


def test_a_fault_of_the_service_is_a_page_that_shows_nothing_of_it(
    http: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    from ampstead.pages import figures

    def broken(*_: object) -> None:
        raise RuntimeError("made to fail")

    monkeypatch.setattr(figures, "figures", broken)
    reply = http.get("/wattage?cells=3&capacity=1150mAh", headers=BROWSER)
    assert (reply.status_code, reply.mimetype) == (500, "text/html")
    assert "tell those who run the service" in plain(reply.text)
    assert "made to fail" not in reply.text


@pytest.fixture(scope="module")
def strict(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A server that wants a key, lets few questions pass and has little time."""
    keys: Path = tmp_path_factory.mktemp("keys") / "keys"
    keys.write_text("meadow\n", encoding="utf-8")
    server = Running(
        hurried(0.3),
        workers=1,
        script=WITH_BAD_QUESTIONS,
        environment={"AMPSTEAD_KEYS_FILE": str(keys), "AMPSTEAD_LIMIT": "4 per minute"},
    )
    yield server.base
    server.stopped()


def test_a_page_that_the_server_refuses_says_so_to_a_person(strict: str) -> None:
    def seen(headers: dict[str, str], path: str = "/packs", list_: bytes = b"") -> tuple[int, str]:
        sent = {"list": ("packs.toml", list_)} if list_ else None
        method = "POST" if list_ else "GET"
        reply = requests.request(method, strict + path, headers={**BROWSER, **headers}, timeout=10, files=sent)
        assert reply.headers["Content-Type"].startswith("text/html"), reply.text
        said = re.search(r"<h1>(.*?)</h1>", reply.text)
        assert said is not None
        assert reply.headers["X-Request-ID"]
        return reply.status_code, said[1]

    key = {"Authorization": "Bearer meadow"}
    assert seen({}) == (401, "A key is needed here")
    assert seen(key, "/slow") == (503, "The service is busy")
    assert seen(key, list_=LONG_LIST) == (413, "This list of packs is too long")
    for _ in range(3):
        last = seen(key)
    assert last == (429, "You have asked very often")
    assert requests.get(f"{strict}/packs", timeout=10).headers["Content-Type"] == PROBLEM

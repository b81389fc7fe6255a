"""A page that another server gave asks the service from the browser, which lets it read answers and errors alike."""

from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread
from typing import Any

import pytest
from playwright.sync_api import Page


class Elsewhere(BaseHTTPRequestHandler):
    """One empty page, whatever is asked."""

    def do_GET(self) -> None:
        body = b'<!doctype html><title>elsewhere</title><link rel="icon" href="data:,">'
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *args: Any) -> None:
        """Nothing."""


@pytest.fixture(scope="module")
def elsewhere() -> Iterator[str]:
    server = ThreadingHTTPServer(("127.0.0.1", 0), Elsewhere)
    thread = Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}/"
    server.shutdown()
    server.server_close()
    thread.join()


ASKED = """async ([address, question]) => {
    const posted = question && {method: "POST", body: question, headers: {"Content-Type": "application/json"}};
    const reply = await fetch(address, posted || {});
    return [reply.status, await reply.json(), reply.headers.get("ETag"), reply.headers.get("X-Request-ID")];
}"""


def test_it_asks_by_get(page: Page, site: str, elsewhere: str, complaints: list[str]) -> None:
    page.goto(elsewhere)
    status, told, tag, id = page.evaluate(ASKED, [f"{site}/v1/wattage?cells=3&capacity=1150mAh", ""])
    assert (status, told["calculator"]) == (200, "wattage")
    assert tag
    assert id
    assert complaints == []


def test_it_asks_by_post_after_the_browser_has_asked_beforehand(
    page: Page, site: str, elsewhere: str, complaints: list[str]
) -> None:
    page.goto(elsewhere)
    status, told, *_ = page.evaluate(ASKED, [f"{site}/v1/wattage", '{"cells": 3, "capacity": "1150 mAh"}'])
    assert (status, told["calculator"]) == (200, "wattage")
    assert complaints == []


@pytest.mark.parametrize(
    ("address", "question", "status", "code"),
    [
        ("/v1/wattage?cells=3&capacity=1150", "", 422, "unit_missing"),
        ("/v1/wattage", '{"cells": 3}', 422, "missing"),
        ("/v1/watage", "", 404, ""),
    ],
)
def test_it_reads_an_error(
    address: str, question: str, status: int, code: str, page: Page, site: str, elsewhere: str
) -> None:
    page.goto(elsewhere)
    found, told, *_ = page.evaluate(ASKED, [site + address, question])
    assert (found, told["status"]) == (status, status)
    assert code in str(told.get("errors", ""))


def test_without_the_services_leave_the_browser_would_show_nothing(page: Page, site: str, elsewhere: str) -> None:
    page.goto(site + "/version")
    other = page.evaluate("address => fetch(address).then(() => 'read', () => 'kept from it')", elsewhere)
    assert other == "kept from it"

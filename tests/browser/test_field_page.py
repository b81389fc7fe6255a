"""The example of a page that asks by fetch, in a real browser and served by another site than the service's."""

from collections.abc import Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread
from typing import Any

import pytest
from playwright.sync_api import Page, expect

EXAMPLES = Path(__file__).resolve().parents[2] / "client" / "examples"


class Quiet(SimpleHTTPRequestHandler):
    def log_message(self, format: str, *args: Any) -> None:
        pass


@pytest.fixture(scope="module")
def elsewhere() -> Iterator[str]:
    """Where the page stands."""
    with ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=str(EXAMPLES))) as server:
        thread = Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01}, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}/field_page.html"
        server.shutdown()
        thread.join(5)


def test_it_tells_the_answer_and_its_cautions(page: Page, site: str, elsewhere: str) -> None:
    page.goto(f"{elsewhere}?service={site}")
    page.get_by_role("button").click()
    expect(page.get_by_role("status")).to_contain_text("15.07 volts on four lithium-polymer cells means")
    assert page.get_by_role("listitem").count() > 0


def test_it_tells_everything_that_is_to_be_mended(page: Page, site: str, elsewhere: str) -> None:
    page.goto(f"{elsewhere}?service={site}")
    page.get_by_label("At rest").fill("15.07")
    page.get_by_label("Cells").fill("99")
    page.get_by_role("button").click()
    expect(page.get_by_role("status")).to_have_text("Please mend this:")
    expect(page.get_by_role("listitem")).to_have_count(2)
    expect(page.get_by_role("list")).to_contain_text("rest_voltage needs a unit")


def test_it_tells_that_nobody_answers(page: Page, elsewhere: str) -> None:
    page.goto(f"{elsewhere}?service=http://127.0.0.1:1")
    page.get_by_role("button").click()
    expect(page.get_by_role("status")).to_have_text("The service cannot be reached.")

"""A real browser before the real server.

`page` is a blank page of a desk's width, `phone` one of 390 pixels; `site` is where the service is. What a page's
console complains of, and what its scripts raise, gathers in `complaints`. Where there is no Chromium the tests are
skipped, but for a machine that sets `CI`: there they fail. `.ci/run` installs it.

The fixtures end with this room: while Playwright runs, its thread has an event loop that no other test may meet.
"""

import os
import shutil
from collections.abc import Iterator

import pytest
from contract.serving import Running
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright
from profiles import FULL

CHROMIUM = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
CLOSED_NETWORK = (
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    if not CHROMIUM:
        missing = "needs Chromium: apt-get install chromium fonts-dejavu-core, or name one in CHROMIUM"
        pytest.fail(missing) if FULL else pytest.skip(missing)
    root = ("--no-sandbox",) if os.geteuid() == 0 else ()
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=[*CLOSED_NETWORK, *root])
        yield started
        started.close()


@pytest.fixture(scope="package")
def site() -> Iterator[str]:
    """The address of the service, without a slash at its end."""
    server = Running(workers=1)
    yield server.base
    server.stopped()


@pytest.fixture
def complaints() -> list[str]:
    return []


def opened(context: BrowserContext, complaints: list[str]) -> Page:
    page = context.new_page()
    page.set_default_timeout(20_000)
    page.on("console", lambda said: complaints.append(said.text) if said.type in ("error", "warning") else None)
    page.on("pageerror", lambda fault: complaints.append(str(fault)))
    return page


@pytest.fixture
def page(browser: Browser, complaints: list[str]) -> Iterator[Page]:
    with browser.new_context(viewport={"width": 1200, "height": 900}) as context:
        yield opened(context, complaints)


@pytest.fixture
def phone(browser: Browser, complaints: list[str]) -> Iterator[Page]:
    with browser.new_context(viewport={"width": 390, "height": 844}, device_scale_factor=2, has_touch=True) as context:
        yield opened(context, complaints)

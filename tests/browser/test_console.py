"""The console is heard, so that a test which finds it silent means something."""

from playwright.sync_api import Page


def test_what_a_pages_console_and_scripts_complain_of_is_heard(page: Page, site: str, complaints: list[str]) -> None:
    page.goto(f"{site}/version")
    page.evaluate("console.error('a complaint')")
    with page.expect_event("pageerror"):
        page.evaluate("() => { setTimeout(() => { throw new Error('a fault'); }); }")
    assert complaints[-2:] == ["a complaint", "a fault"]

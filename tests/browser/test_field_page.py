"""The example of a page that asks by fetch, in a real browser."""

from pathlib import Path

from playwright.sync_api import Page, expect

PAGE = Path(__file__).resolve().parents[2] / "client" / "examples" / "field_page.html"


def opened(page: Page, site: str, service: str) -> None:
    """The page as the service's own site would serve it."""
    page.route(f"{site}/field_page.html**", lambda route: route.fulfill(path=PAGE, content_type="text/html"))
    page.goto(f"{site}/field_page.html?service={service}")


def test_it_tells_the_answer_and_its_cautions(page: Page, site: str) -> None:
    opened(page, site, site)
    page.get_by_role("button").click()
    expect(page.get_by_role("status")).to_contain_text("15.07 volts on four lithium-polymer cells means")
    assert page.get_by_role("listitem").count() > 0


def test_it_tells_everything_that_is_to_be_mended(page: Page, site: str) -> None:
    opened(page, site, site)
    page.get_by_label("At rest").fill("15.07")
    page.get_by_label("Cells").fill("99")
    page.get_by_role("button").click()
    expect(page.get_by_role("status")).to_have_text("Please mend this:")
    expect(page.get_by_role("listitem")).to_have_count(2)
    expect(page.get_by_role("list")).to_contain_text("rest_voltage needs a unit")


def test_it_tells_that_nobody_answers(page: Page, site: str) -> None:
    opened(page, site, "http://127.0.0.1:1")
    page.get_by_role("button").click()
    expect(page.get_by_role("status")).to_have_text("The service cannot be reached.")

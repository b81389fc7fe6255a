"""The reference for developers, in a real browser: quiet, whole without a network, on a phone, and it asks."""

import pytest
from playwright.sync_api import Page, expect

from ampstead.calculators import registry

FIELDS = "#sag form"


def test_it_opens_on_a_phone_with_a_quiet_console_and_nothing_sticks_out(
    phone: Page, site: str, complaints: list[str]
) -> None:
    phone.goto(f"{site}/docs")
    assert phone.locator("article").count() == len(registry()) + 2
    for closed in phone.locator("#sag details").all():
        closed.locator("summary").first.click()
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
    assert complaints == []


def test_it_loads_nothing_but_its_own_files(page: Page, site: str) -> None:
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(f"{site}/docs")
    page.wait_for_load_state("networkidle")
    assert {url for url in asked if not url.startswith("data:")} == {
        f"{site}/docs",
        f"{site}/docs/reference.js",
        f"{site}/docs/reference.css",
    }


def test_a_form_asks_its_question_and_shows_the_answer(page: Page, site: str, complaints: list[str]) -> None:
    page.goto(f"{site}/docs")
    page.locator(f"{FIELDS} button").click()
    expect(page.locator(f"{FIELDS} output")).to_contain_text('"loaded_voltage"')
    page.locator(f"{FIELDS} [data-form]").select_option(".svg")
    page.locator(f"{FIELDS} button").click()
    expect(page.locator(f"{FIELDS} output img")).to_be_visible()
    expect(page.locator(f"{FIELDS} output img")).to_have_js_property("complete", True)
    assert page.evaluate("document.querySelector('#sag output img').naturalWidth") > 0, "it was read as a picture"
    assert page.evaluate("document.querySelector('#sag output img').clientWidth") > 300
    assert complaints == []


def test_a_wrong_value_shows_the_problem_and_the_lines_to_copy_follow(page: Page, site: str) -> None:
    page.goto(f"{site}/docs")
    page.locator("#sag-capacity").fill("2250")
    page.locator(f"{FIELDS} button").click()
    expect(page.locator(f"{FIELDS} output")).to_contain_text("422")
    expect(page.locator(f"{FIELDS} output")).to_contain_text("unit_missing")
    assert f"{site}/v1/sag?" in (page.locator("#sag [data-curl]").text_content() or "")
    assert "capacity=2250&" in (page.locator("#sag [data-curl]").text_content() or "")


@pytest.mark.parametrize("name", ["supply-split", "parallel-join", "lead-loss"])
def test_every_kind_of_question_is_answered_as_it_stands(name: str, page: Page, site: str) -> None:
    page.goto(f"{site}/docs")
    page.locator(f"#{name} form button").click()
    expect(page.locator(f"#{name} output")).to_contain_text('"sentence"')


def test_without_scripts_the_form_still_leads_to_the_answer(page: Page, site: str) -> None:
    context = page.context.browser.new_context(java_script_enabled=False)  # type: ignore[union-attr]
    with context:
        plain = context.new_page()
        plain.goto(f"{site}/docs")
        plain.locator("#wattage button").click()
        assert '"nominal_power"' in plain.content()


def test_finding_a_word_leaves_the_calculators_that_speak_of_it(page: Page, site: str) -> None:
    page.goto(f"{site}/docs")
    page.locator("#sought").fill("gauge")
    expect(page.locator("#lead-loss")).to_be_visible()
    expect(page.locator("#wattage")).to_be_hidden()

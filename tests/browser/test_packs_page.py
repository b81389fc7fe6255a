"""The page of a list of packs in a real browser: a file in, verdicts out; kept on a tick alone, and forgotten."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from browser.test_pages import NARROW, TARGET, faults, overflow

EXAMPLE = Path(__file__).resolve().parents[2] / "client" / "examples" / "packs.toml"
KEPT = "localStorage.getItem('ampstead.packs')"
CACHED = "async () => (await (await caches.open('visited')).keys()).map((each) => each.url).join(' ')"


def answered(page: Page, site: str) -> None:
    page.goto(f"{site}/packs")
    page.get_by_label("Your list of packs").set_input_files(EXAMPLE)
    page.get_by_role("button", name="Answer", exact=True).click()
    expect(page.locator(".pack")).to_have_count(10)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_has_no_fault_empty_refused_or_answered_on_a_phone(
    scheme: str, phone: Page, site: str, complaints: list[str]
) -> None:
    phone.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    phone.goto(f"{site}/packs")
    assert faults(phone) == []
    assert overflow(phone) == 0
    phone.get_by_text("or paste its text").click()
    phone.get_by_label("Text of the list").fill("[[pack]]\ncells = 3\n")
    phone.get_by_role("button", name="Answer", exact=True).click()
    expect(phone.locator(".refused")).to_contain_text("Line 1: capacity is missing")
    assert faults(phone) == []
    answered(phone, site)
    expect(phone.locator(".pack h3").first).to_have_text("red trainer C")
    phone.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    assert faults(phone) == []
    assert overflow(phone) == 0
    small = phone.evaluate(
        """least => [...document.querySelectorAll(`main :is(input:not([type=checkbox]), button, summary, .tick label,
        li > a)`)].filter(each => each.checkVisibility() && each.getBoundingClientRect().height < least - 0.5)
        .map(each => each.outerHTML.slice(0, 90))""",
        TARGET,
    )
    assert small == []
    assert complaints == []


def test_a_list_is_kept_on_a_tick_alone_and_forgotten_with_all_that_was_kept(
    page: Page, site: str, complaints: list[str]
) -> None:
    answered(page, site)
    assert page.evaluate(KEPT) is None
    page.get_by_label("Keep the list in this browser").check()
    expect(page.locator("#kept")).to_contain_text("packs.toml is kept in this browser since")
    page.get_by_role("link", name="Field cards of all packs").click()
    expect(page.locator("article.card")).to_have_count(10)
    page.goto(f"{site}/packs")
    expect(page.locator(".pack")).to_have_count(0)
    expect(page.get_by_label("Keep the list in this browser")).to_be_checked()
    page.get_by_role("button", name="Answer the kept list").click()
    expect(page.locator(".pack")).to_have_count(10)
    for _ in range(100):
        if "/card?" in page.evaluate(CACHED):
            break
        page.wait_for_timeout(50)
    assert "trainer" in page.evaluate(CACHED)
    page.get_by_role("button", name="Forget all").click()
    expect(page.locator("#said")).to_contain_text("Forgotten")
    assert page.evaluate(KEPT) is None
    assert page.evaluate("localStorage.length") == 0
    assert "trainer" not in page.evaluate(CACHED)
    page.reload()
    expect(page.locator("#kept")).to_be_hidden()
    expect(page.locator(".pack")).to_have_count(0)
    assert complaints == []


def test_without_the_tick_any_more_it_is_forgotten_too(page: Page, site: str) -> None:
    answered(page, site)
    keep = page.get_by_label("Keep the list in this browser")
    keep.check()
    expect(page.locator("#kept")).to_be_visible()
    keep.uncheck()
    assert page.evaluate(KEPT) is None
    expect(page.locator("#kept")).to_be_hidden()


def test_by_keyboard_alone(page: Page, site: str) -> None:
    page.goto(f"{site}/packs")
    page.get_by_label("Your list of packs").focus()
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    expect(page.get_by_label("Text of the list")).to_be_focused()
    page.keyboard.insert_text(EXAMPLE.read_text(encoding="utf-8"))
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.locator(".pack")).to_have_count(10)
    expect(page.locator("#said")).to_be_focused()
    assert "A pasted list" in page.locator("#kept").inner_text()


def test_without_script_it_answers_too_and_offers_to_keep_nothing(browser: Browser, site: str) -> None:
    with browser.new_context(java_script_enabled=False, viewport={"width": NARROW, "height": 844}) as context:
        page = context.new_page()
        page.goto(site)
        page.get_by_role("link", name="How do all my packs stand?").click()
        expect(page.locator(".tick")).to_be_hidden()
        expect(page.locator("#kept")).to_be_hidden()
        page.get_by_label("Your list of packs").set_input_files(EXAMPLE)
        page.get_by_role("button", name="Answer", exact=True).click()
        expect(page.locator(".pack")).to_have_count(10)
        page.locator("summary", has_text="Ask on").first.click()
        page.get_by_role("link", name="The whole answer").first.click()
        expect(page.locator(".sentence")).to_contain_text("light duty")


def test_on_paper_stand_the_packs_and_at_twice_the_size_nothing_leaves_the_page(page: Page, site: str) -> None:
    page.set_viewport_size({"width": 640, "height": 450})  # 1280 at 200 %
    answered(page, site)
    assert overflow(page) == 0
    page.emulate_media(media="print", color_scheme="dark")
    expect(page.locator(".verdict").first).to_be_visible()
    expect(page.locator("#list")).to_be_hidden()
    assert page.pdf(format="A4").startswith(b"%PDF")

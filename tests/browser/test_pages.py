"""The pages for people in a real browser: asked and answered, by keyboard, on a phone, without script, on paper."""

from io import BytesIO
from pathlib import Path

import axe_playwright_python
import pytest
from contract.test_addresses import addressed
from playwright.sync_api import Browser, Page, expect
from pypdf import PdfReader

from ampstead.calculators import registry
from ampstead.pages.typed import address

CALCULATORS = registry()
AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
QUESTIONS = {name: address(addressed(each.examples[0])) for name, each in CALCULATORS.items()}
WIDE, NARROW = "How hard may I charge this pack?", 390
TARGET = 50
SIDEWAYS = """[...document.querySelectorAll('main *')].filter(each => each.scrollWidth > each.clientWidth + 1
    && /auto|scroll/.test(getComputedStyle(each).overflowX)).map(each => each.outerHTML.slice(0, 90))"""
"""What one would have to move sideways to read."""
PARTED = """[...document.querySelectorAll('.band > span, .sentence strong, .first dd > strong')].filter(each => {
    const range = document.createRange();
    range.selectNodeContents(each);
    const lines = new Set([...range.getClientRects()].filter(line => line.width > 2).map(line => Math.round(line.top)));
    return lines.size > 1 && !each.textContent.includes(',');
}).map(each => each.textContent)"""
"""Figures that stand apart from their unit."""


def faults(page: Page) -> list[str]:
    """What axe-core finds wrong, with where; it is let in past the page's own policy by the debugger."""
    page.evaluate(AXE)
    found = page.evaluate("() => axe.run({resultTypes: ['violations']})")
    return [f"{each['id']}: {[node['html'][:90] for node in each['nodes']][:3]}" for each in found["violations"]]


def overflow(page: Page) -> int:
    return int(page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth"))


@pytest.mark.parametrize("name", CALCULATORS)
def test_each_page_answers_on_a_phone_with_its_picture_and_without_a_fault(
    name: str, phone: Page, site: str, complaints: list[str]
) -> None:
    phone.goto(f"{site}/{name}?{QUESTIONS[name]}")
    expect(phone.locator(".sentence")).to_be_visible()
    if CALCULATORS[name].picture:
        phone.wait_for_function("document.querySelector('.picture').complete")
        assert phone.evaluate("document.querySelector('.picture').naturalWidth") > 0
    assert overflow(phone) == 0
    assert phone.evaluate(SIDEWAYS) == []
    assert phone.evaluate(PARTED) == []
    assert faults(phone) == []
    assert complaints == []


def test_what_axe_finds_is_heard(page: Page, site: str) -> None:
    page.goto(f"{site}/wattage")
    page.evaluate("document.querySelectorAll('label').forEach(each => each.remove())")
    assert any(fault.startswith("label") for fault in faults(page))


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_start_a_bare_page_and_a_refused_one_have_no_fault(scheme: str, page: Page, site: str) -> None:
    page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    for path in (
        "/",
        "/parallel-join",
        "/charge-current?cells=3&capacity=1.3mAh",
        "/charge-current?cells=3&capacity=2Ah",
        "/chargecurrent",
        "/card?packs[0].cells=3&packs[0].capacity=2250mAh&packs[1].cells=3",
    ):
        page.goto(f"{site}{path}")
        assert faults(page) == []


def test_it_answers_as_one_types_and_the_console_stays_clean(page: Page, site: str, complaints: list[str]) -> None:
    page.goto(f"{site}/charge-current")
    page.get_by_label("Cells in series").fill("3")
    expect(page.locator(".waiting")).to_contain_text("Capacity is missing")
    page.get_by_label("Capacity", exact=False).first.fill("2250")
    expect(page.locator(".sentence strong").first).to_have_text("2.2\N{NO-BREAK SPACE}A")
    assert page.url == f"{site}/charge-current?cells=3&capacity=2250mAh"
    page.get_by_label("Cells in series").fill("99")
    expect(page.locator(".refused")).to_contain_text("at most 24")
    expect(page.locator("#f-cells-wrong")).to_be_visible()
    assert page.get_by_label("Cells in series").get_attribute("aria-invalid") == "true"
    page.get_by_label("Cells in series").fill("4")
    expect(page.locator(".sentence")).to_contain_text("16.8")
    assert page.locator("#f-cells-wrong").count() == 0
    assert complaints == []


def test_the_old_answer_fades_at_once(page: Page, site: str) -> None:
    page.goto(f"{site}/wattage?cells=3&capacity=1150mAh")
    page.route("**/wattage?*", lambda route: None)  # no answer comes
    page.get_by_label("Cells in series").fill("4")
    expect(page.locator("main")).to_have_class("asked stale")


def test_by_keyboard_alone(page: Page, site: str) -> None:
    page.goto(site)
    page.keyboard.press("Tab")
    expect(page.locator(".skip")).to_be_focused()
    page.get_by_label("Find a question").focus()
    page.keyboard.type("charge hard this")
    assert page.locator(".moments li:visible").count() < len(CALCULATORS)
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text(WIDE)
    page.locator("#f-chemistry").focus()
    page.keyboard.press("Tab")
    page.keyboard.type("3")
    page.keyboard.press("Tab")
    page.keyboard.type("2250")
    page.keyboard.press("Enter")
    expect(page.locator(".sentence")).to_be_visible()
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"


def test_rows_come_as_one_fills_them(page: Page, site: str, complaints: list[str]) -> None:
    page.goto(f"{site}/supply-split?supply_rating=180W")
    page.locator("#f-loads-0-power").fill("110")
    page.locator("#f-loads-1-power").fill("60")
    expect(page.locator(".sentence")).to_be_visible()
    expect(page.locator("#f-loads-2")).to_be_visible()
    assert complaints == []


def test_many_rows_are_folded_and_what_is_wrong_in_one_is_told_there(
    phone: Page, site: str, complaints: list[str]
) -> None:
    phone.goto(f"{site}/charge-session?{QUESTIONS['charge-session']}")
    told = phone.locator("#f-packs details").first
    expect(told.locator("summary").first).to_contain_text("8 packs: grey tug")
    expect(phone.locator("#f-packs-0")).to_be_hidden()
    told.locator("summary").first.click()
    cells = phone.locator("#f-packs-1").get_by_label("Cells in series")
    cells.fill("77")
    expect(phone.locator(".refused")).to_contain_text("at most")
    phone.locator("#f-packs-2").get_by_label("Cells in series").fill("3")
    expect(phone.locator("#f-packs-1 .error")).to_be_visible()
    assert faults(phone) == []
    phone.locator("#f-packs-1").get_by_label("Cells in series").fill("4")
    phone.locator("#f-packs-2").get_by_label("Cells in series").fill("4")
    expect(phone.locator(".sentence")).to_be_visible()
    expect(phone.locator(".error")).to_have_count(0)
    phone.get_by_text("Take it along").click()
    phone.get_by_role("button", name="CSV").click(trial=True)
    phone.get_by_role("button", name="Text").click()
    expect(phone.locator("body")).to_contain_text("on the left charger")
    # A machine that is busy with other tests may say so; then the page asks again.
    assert [said for said in complaints if "503" not in said] == []


def test_a_service_that_is_busy_is_asked_again(browser: Browser, site: str) -> None:
    with browser.new_context(service_workers="block") as context:
        page = context.new_page()
        page.goto(f"{site}/wattage?cells=3&capacity=1150mAh")
        busy = [503, 503]
        page.route("**/wattage?*", lambda route: route.fulfill(status=busy.pop()) if busy else route.continue_())
        page.get_by_label("Cells in series").fill("4")
        expect(page).to_have_url(f"{site}/wattage?cells=4&capacity=1150mAh")
        expect(page.locator("main")).to_have_class("asked")
        assert busy == []


def test_what_the_service_refuses_is_told_and_the_old_answer_goes(browser: Browser, site: str) -> None:
    with browser.new_context(service_workers="block") as context:
        page = context.new_page()
        page.goto(f"{site}/wattage?cells=3&capacity=1150mAh")
        said = '<div id="said"><p>Wait a minute, then load this page again.</p></div>'
        page.route("**/wattage?*", lambda route: route.fulfill(status=429, content_type="text/html", body=said))
        page.get_by_label("Cells in series").fill("4")
        expect(page.locator("#said")).to_have_text("Wait a minute, then load this page again.")
        expect(page.locator("#rest")).to_be_empty()
        expect(page.locator("#answer")).to_have_css("opacity", "1")
        page.unroute("**/wattage?*")
        page.get_by_label("Cells in series").fill("3")
        expect(page.locator(".figures").first).to_be_visible()


def test_without_script_a_form_answers_too(browser: Browser, site: str) -> None:
    with browser.new_context(java_script_enabled=False, viewport={"width": NARROW, "height": 844}) as context:
        page = context.new_page()
        page.goto(site)
        assert page.locator(".moments li").count() == len(CALCULATORS)
        expect(page.locator("#search")).to_be_hidden()
        page.get_by_role("link", name=WIDE).click()
        page.locator("#f-cells").fill("3")
        page.locator("#f-capacity").fill("2,25")
        page.locator("#f-capacity-unit").select_option("Ah")
        page.get_by_role("button", name="Answer").click()
        expect(page.locator(".sentence")).to_contain_text("2.2")
        assert page.url == f"{site}/charge-current?cells=3&capacity=2.25Ah"


def test_what_is_touched_is_large_enough_and_the_text_too(phone: Page, site: str) -> None:
    for path in ("/", f"/charge-current?{QUESTIONS['charge-current']}"):
        phone.goto(f"{site}{path}")
        small = phone.evaluate(
            """least => [...document.querySelectorAll('main :is(input, select, button, summary, li > a)')]
            .filter(each => each.checkVisibility() && each.getBoundingClientRect().height < least - 0.5
                    && !each.closest('.refused, .waiting'))
            .map(each => each.outerHTML.slice(0, 90))""",
            TARGET,
        )
        assert small == []
        assert phone.evaluate("parseFloat(getComputedStyle(document.querySelector('main')).fontSize)") >= 18


def test_at_twice_the_size_nothing_leaves_the_page(page: Page, site: str) -> None:
    page.set_viewport_size({"width": 640, "height": 450})  # 1280 at 200 %
    page.goto(f"{site}/parallel-join?{QUESTIONS['parallel-join']}")
    assert overflow(page) == 0


def test_a_page_that_is_not_there_keeps_to_its_own_policy(phone: Page, site: str, complaints: list[str]) -> None:
    phone.goto(f"{site}/Charge-Left")
    expect(phone.locator("h1")).to_have_text("There is no such page")
    assert [said for said in complaints if "status of 404" not in said] == []


@pytest.mark.parametrize("name", ["charge-current", "counted-discharge", "load-test", "pack-fitness"])
def test_with_letters_of_twice_the_size_nothing_leaves_a_phone(name: str, phone: Page, site: str) -> None:
    phone.goto(f"{site}/{name}?{QUESTIONS[name]}")
    phone.evaluate("document.documentElement.style.fontSize = '200%'")
    assert overflow(phone) == 0


@pytest.mark.parametrize("width", [640, 1000, 1280])
def test_a_table_is_read_without_moving_it_at_any_width(width: int, page: Page, site: str) -> None:
    page.set_viewport_size({"width": width, "height": 800})
    page.goto(f"{site}/charge-session?{QUESTIONS['charge-session']}")
    assert overflow(page) == 0
    assert page.evaluate(SIDEWAYS) == []


def test_on_a_wide_page_the_form_stands_at_the_left(page: Page, site: str) -> None:
    page.goto(f"{site}/sag?{QUESTIONS['sag']}")
    form, answer = page.locator("#form").bounding_box(), page.locator("#answer").bounding_box()
    assert form is not None
    assert answer is not None
    assert form["x"] + form["width"] <= answer["x"]


def test_on_paper_stand_question_answer_and_cautions(page: Page, site: str) -> None:
    page.goto(f"{site}/charge-current?{QUESTIONS['charge-current']}")
    page.emulate_media(media="print", color_scheme="dark")
    expect(page.locator(".sentence")).to_be_visible()
    expect(page.locator(".cautions").first).to_be_visible()
    expect(page.locator("button")).to_be_hidden()
    assert page.evaluate("getComputedStyle(document.querySelector('section')).backgroundColor") == "rgb(255, 255, 255)"
    document = PdfReader(BytesIO(page.pdf(format="A4")))
    first, whole = document.pages[0].extract_text(), "".join(sheet.extract_text() for sheet in document.pages)
    assert len(document.pages) <= 2
    assert all(said in first for said in ("Cells in series", "Figures", "Heed")), "an empty half of a sheet"
    assert "Voltage per cell to charge to" not in whole, "a box that nobody filled"
    assert "To the figures" not in whole

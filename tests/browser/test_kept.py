"""What a browser keeps of the pages visited, for a field without reception, and how it says so."""

from playwright.sync_api import BrowserContext, Page, expect

QUESTION = "/charge-current?cells=3&capacity=2250mAh"
OTHER = "/wattage?cells=3&capacity=2250mAh"
KEPT = """async () => {
    const found = (await (await caches.open("visited")).keys()).map((each) => new URL(each.url));
    return found.filter((each) => !each.pathname.startsWith("/static/")).map((each) => each.pathname + each.search);
}"""


def kept(page: Page, *addresses: str) -> None:
    """Wait until just these are kept, whatever pages are made of besides."""
    seen: list[str] = []
    for _ in range(100):
        seen = page.evaluate(KEPT)
        if sorted(seen) == sorted(addresses):
            return
        page.wait_for_timeout(100)
    assert sorted(seen) == sorted(addresses)


def drawn(page: Page) -> None:
    expect(page.locator(".picture")).to_have_js_property("complete", True)
    assert page.evaluate("document.querySelector('.picture').naturalWidth") > 0


def picture(question: str) -> str:
    return f"/v1{question.replace('?', '.svg?')}"


def code(question: str) -> str:
    return question.replace("?", ".qr.svg?")


def test_a_page_once_visited_is_shown_without_a_network_and_says_from_when_it_is(page: Page, site: str) -> None:
    context: BrowserContext = page.context
    page.goto(f"{site}{QUESTION}")
    kept(page, QUESTION, picture(QUESTION), code(QUESTION))
    expect(page.locator(".saved")).to_have_count(0)
    context.set_offline(True)
    page.reload()
    expect(page.locator(".sentence strong").first).to_have_text("2.2\N{NO-BREAK SPACE}A")
    expect(page.locator("#said .saved")).to_contain_text("Saved on ")
    drawn(page)
    assert page.evaluate("getComputedStyle(document.querySelector('.saved')).borderTopStyle") == "dashed"
    context.set_offline(False)
    page.reload()
    expect(page.locator(".saved")).to_have_count(0)


def test_nothing_is_kept_that_was_not_visited_nor_what_was_seen_while_typing(page: Page, site: str) -> None:
    page.goto(f"{site}{QUESTION}")
    kept(page, QUESTION, picture(QUESTION), code(QUESTION))
    for cells in ("4", "5"):
        page.get_by_label("Cells in series").fill(cells)
        expect(page).to_have_url(f"{site}/charge-current?cells={cells}&capacity=2250mAh")
        drawn(page)
    last = QUESTION.replace("cells=3", "cells=5")
    kept(page, QUESTION, picture(QUESTION), code(QUESTION), last, picture(last))
    page.context.set_offline(True)
    page.get_by_label("Cells in series").fill("6")
    expect(page.locator("#said")).to_have_text("The service cannot be reached now; the answer is not known.")
    page.reload()
    expect(page.locator(".sentence")).to_contain_text("21")
    expect(page.locator("#said .saved")).to_contain_text("Saved on ")


def test_a_card_is_kept_too_and_marked(page: Page, site: str) -> None:
    address = "/card?name=meadow%20club&packs[0].cells=3&packs[0].capacity=2250mAh"
    page.goto(f"{site}{address}")
    kept(page, address, address.replace("?", ".qr.svg?", 1).replace("&packs", "&reserve=20%20%25&packs", 1))
    page.context.set_offline(True)
    page.reload()
    expect(page.locator("main > .saved")).to_contain_text("Saved on ")
    expect(page.locator("article.card")).to_have_count(1)

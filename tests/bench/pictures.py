"""The pictures that README.md shows, made anew by Chromium: ``python tests/bench/pictures.py``.

A page as a phone of 390 pixels shows it, and a field card as it is printed; each under 60 kB.
"""

import sys
from pathlib import Path

HOME = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(HOME / "tests"))

from browser.conftest import CHROMIUM, CLOSED_NETWORK  # noqa: E402  # the tests are no package that is installed
from contract.serving import Running  # noqa: E402
from playwright.sync_api import sync_playwright  # noqa: E402

LARGEST = 60_000
PICTURES = HOME / ".pictures"
CHARGE = "/charge-current?cells=3&capacity=2250mAh&rest_voltage=11.31V"
CARD = (
    "/card?name=meadow club&packs[0].name=red trainer A&packs[0].cells=3&packs[0].capacity=2250mAh"
    "&packs[0].label_rate=30&packs[0].cell_resistance=8.5mohm&packs[0].flight_time=7:30&packs[0].charge_returned=1480mAh"
)


def pictures(site: str) -> dict[str, bytes]:
    """Each picture by the name of its file."""
    made = {}
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=[*CLOSED_NETWORK, "--no-sandbox"])
        phone = browser.new_page(viewport={"width": 390, "height": 700}, color_scheme="light")
        phone.goto(f"{site}{CHARGE}", wait_until="networkidle")
        made["page.png"] = phone.screenshot()
        phone.locator(".picture").scroll_into_view_if_needed()
        made["charge.png"] = phone.locator(".picture").screenshot()
        desk = browser.new_page(viewport={"width": 900, "height": 800}, color_scheme="light")
        desk.goto(f"{site}{CARD}", wait_until="networkidle")
        made["card.png"] = desk.locator("article.card").screenshot()
        browser.close()
    return made


if __name__ == "__main__":
    server = Running(workers=1)
    try:
        found = pictures(server.base)
    finally:
        server.stopped()
    PICTURES.mkdir(exist_ok=True)
    for name, picture in found.items():
        if len(picture) > LARGEST:
            sys.exit(f"{name} has {len(picture)} bytes, more than {LARGEST}")
        (PICTURES / name).write_bytes(picture)
        print(f"{name}: {len(picture)} bytes")

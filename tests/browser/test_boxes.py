"""What is shown in a box can be read to its end on a phone."""

from playwright.sync_api import Page

from ampstead.calculators import registry

CLIPPED = """() => {
  document.querySelectorAll("details").forEach(each => each.open = true);
  const pen = document.createElement("canvas").getContext("2d");
  const found = [];
  for (const box of document.querySelectorAll("select, input:not([type=hidden])")) {
    if (!box.offsetParent) continue;
    const style = getComputedStyle(box);
    const room = box.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight);
    pen.font = style.font;
    const arrow = box.matches("select") && style.appearance !== "none" ? 16 : 0;
    const texts = box.matches("select") ? [...box.options].map(each => each.text) : [box.placeholder, box.value];
    for (const text of texts)
      if (pen.measureText(text).width > room - arrow + 1) found.push(box.name + ": " + text);
  }
  return found;
}"""


def test_nothing_shown_in_a_box_is_clipped_on_a_phone(phone: Page, site: str) -> None:
    clipped = {}
    for name in registry():
        phone.goto(f"{site}/{name}")
        if found := phone.evaluate(CLIPPED):
            clipped[name] = found
    assert not clipped

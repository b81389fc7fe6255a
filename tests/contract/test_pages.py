"""The pages for people: they work without script, guess nothing, and say the same as every other form."""

import re
from collections.abc import Mapping
from html import unescape
from html.parser import HTMLParser
from typing import Any
from urllib.parse import parse_qsl, quote, unquote

import pytest
from contract.test_addresses import addressed
from flask.testing import FlaskClient

from ampstead.calculators import registry
from ampstead.declare import Calculator
from ampstead.replying.colours import PAGE_DARK, PAGE_LIGHT

CALCULATORS = list(registry().values())
EXAMPLES = [
    pytest.param(each, addressed(example), id=f"{each.name}-{place}")
    for each in CALCULATORS
    for place, example in enumerate(each.examples, 1)
]
LARGEST = 30_000
"""Bytes of a page before it is compressed on its way."""
SUNLIGHT, READABLE, EDGES = 7.0, 4.5, 3.0
"""Contrasts of WCAG 2.2: success criteria 1.4.6, 1.4.3 and 1.4.11."""


class Seen(HTMLParser):
    """What a page holds: its text by the id of what it stands in, its boxes, and the ids themselves."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.boxes: dict[str, str] = {}
        self.refs: set[str] = set()
        self.foreign: list[str] = []
        self.text = ""
        self._select = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = dict(attrs)
        if "id" in told:
            self.ids.append(told["id"] or "")
        for name in ("for", "aria-describedby"):
            self.refs |= set((told.get(name) or "").split())
        if tag == "input" and told.get("name"):
            self.boxes[told["name"] or ""] = told.get("value") or ""
        if tag == "select":
            self._select = told.get("name") or ""
        if tag == "option" and "selected" in told:
            self.boxes[self._select] = told.get("value") or "the text of the option"
        self.foreign += [v for k, v in attrs if k in ("src", "href", "action") and v and re.match(r"[a-z]+:|//", v)]
        self.foreign += [k for k, _ in attrs if k == "style" or k.startswith("on")]

    def handle_data(self, data: str) -> None:
        self.text += data


def page(http: FlaskClient, name: str, asked: Mapping[str, str] | str = "") -> Any:
    query = asked if isinstance(asked, str) else "&".join(f"{quote(k)}={quote(v)}" for k, v in asked.items())
    return http.get(f"/{name}?{query}")


def plain(text: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", "", text)).replace("\N{NO-BREAK SPACE}", " ").split())


@pytest.mark.parametrize(("calculator", "asked"), EXAMPLES)
def test_every_example_is_answered_on_a_page_and_says_what_the_json_says(
    calculator: Calculator, asked: Mapping[str, str], http: FlaskClient
) -> None:
    reply = page(http, calculator.name, asked)
    assert reply.status_code == 200, plain(reply.text)
    document = http.get(f"/v1/{calculator.name}", query_string=dict(asked)).json
    seen = plain(reply.text)
    assert calculator.asked in seen
    for word in re.findall(r"[A-Za-z]{5,}", re.sub(r"[0-9].*", "", document["sentence"])):
        assert word in seen
    for caution in document["cautions"]:
        assert " ".join(caution["text"].split()) in seen
    assert calculator.picture is None or f'src="/v1/{calculator.name}.svg?' in reply.text
    holds = Seen(reply.text)
    assert holds.foreign == []
    assert len(holds.ids) == len(set(holds.ids))
    assert holds.refs <= set(holds.ids)


def filled(text: str) -> dict[str, str]:
    """A form's boxes as a browser sends them."""
    boxes = {name: value for name, value in Seen(text).boxes.items() if not name.endswith(":unit")}
    units = re.findall(r'name="?([^ ">]+:unit)"?[^>]*>(?:<option>[^<]*)*<option selected>([^<]*?)\s*<', text)
    return boxes | dict(units)


@pytest.mark.parametrize(("calculator", "asked"), EXAMPLES)
def test_a_form_sent_as_it_stands_asks_the_same_question_again(
    calculator: Calculator, asked: Mapping[str, str], http: FlaskClient
) -> None:
    first = page(http, calculator.name, asked)
    sent = page(http, calculator.name, filled(first.text))
    assert sent.status_code == 303
    again = dict(parse_qsl(sent.headers["Location"].partition("?")[2]))
    once, twice = (http.get(f"/v1/{calculator.name}", query_string=dict(each)).json for each in (asked, again))
    assert twice["answer"] == once["answer"]
    assert twice["question"] == once["question"]
    assert page(http, calculator.name, again).status_code == 200


@pytest.mark.parametrize("calculator", CALCULATORS, ids=lambda each: each.name)
def test_a_page_is_small_and_asks_before_anything_is_told(calculator: Calculator, http: FlaskClient) -> None:
    bare = http.get(f"/{calculator.name}")
    assert bare.status_code == 200
    assert len(bare.data) < LARGEST
    for example in calculator.examples:
        assert len(page(http, calculator.name, addressed(example)).data) < LARGEST
    assert not re.search(r"\bnull\b|\bNone\b", plain(bare.text))
    assert 'class="error"' not in bare.text


@pytest.mark.parametrize(
    ("form", "media"), [("json", "application/json"), ("txt", "text/plain"), ("csv", "text/csv"), ("png", "image/png")]
)
def test_a_long_question_goes_to_its_other_forms_by_buttons(form: str, media: str, http: FlaskClient) -> None:
    asked = addressed(next(each for each in CALCULATORS if each.name == "charge-session").examples[0])
    first = page(http, "charge-session", asked)
    assert f'value="{form}"' in first.text or f"value={form}" in first.text
    sent = page(http, "charge-session", {**filled(first.text), ":as": form})
    assert sent.status_code == 303
    reply = http.get(sent.headers["Location"])
    assert (reply.status_code, reply.mimetype) == (200, media)
    assert http.get("/charge-session?packs[0].cells=3&:as=exe").headers["Location"].startswith("/charge-session?")


def test_many_rows_are_short_and_may_be_told_in_any_unit(http: FlaskClient) -> None:
    """Their boxes have one unit each, which what is typed into them may tell otherwise."""
    packs = [{"cells": "3", "capacity": "2250mAh", "cell_resistance": f"{8 + place}mohm"} for place in range(5)]
    asked = {f"packs[{place}].{name}": value for place, pack in enumerate(packs) for name, value in pack.items()}
    holds = Seen(page(http, "match-packs", asked).text)
    assert holds.boxes["packs[4].capacity:mAh"] == "2250"
    assert holds.boxes["packs[5].capacity:mAh"] == ""
    typed = {**holds.boxes, "packs[4].capacity:mAh": "2,3 Ah", "packs[5].cells": "3", "packs[5].capacity:mAh": "2200"}
    told = dict(parse_qsl(located(http, "match-packs", typed).partition("?")[2]))
    assert told["packs[4].capacity"].replace(",", ".") in ("2.3Ah", "2.3 Ah")
    assert told["packs[5].capacity"] == "2200mAh"
    assert told["packs[3].cell_resistance"] == "11mohm"


def test_the_name_of_a_pack_is_asked_before_all_else_of_it(http: FlaskClient) -> None:
    boxes = list(Seen(page(http, "parallel-join").text).boxes)
    assert boxes.index("packs[0].name") < min(boxes.index(f"packs[0].{each}") for each in ("cells", "capacity"))


@pytest.mark.parametrize("example", registry()["field-energy"].examples)
def test_what_would_only_conflict_with_what_is_told_is_not_asked(example: Mapping[str, Any], http: FlaskClient) -> None:
    boxes = Seen(page(http, "field-energy", addressed(example)).text).boxes
    assert ("temperature" in boxes) == ("capacity" in example)


def located(http: FlaskClient, name: str, typed: Mapping[str, str]) -> str:
    reply = page(http, name, typed)
    assert reply.status_code == 303
    return unquote(reply.headers["Location"])


def test_what_is_typed_goes_to_the_one_address_of_the_question(http: FlaskClient) -> None:
    typed = {
        "rest_voltage": "11,31", "rest_voltage:unit": "V", "cells": " 3", "capacity": "2250", "capacity:unit": "mAh",
        "cell_resistance": "8.5", "cell_resistance:unit": "mΩ", "state_of_charge": "", "chemistry": "",
    }  # fmt: skip
    expected = "/charge-current?cells=3&capacity=2250mAh&cell_resistance=8.5mohm&rest_voltage=11.31V"
    assert located(http, "charge-current", typed) == expected
    assert page(http, "charge-current", expected.partition("?")[2]).status_code == 200


def test_boxes_of_cells_become_a_list_and_a_blank_in_the_middle_is_an_error(http: FlaskClient) -> None:
    typed = {f"cell_voltages:{place}": value for place, value in enumerate(("3,86", "3.91", "3.87", ""), 1)}
    address = located(http, "balance-need", {**typed, "cell_voltages:unit": "V"})
    assert address == "/balance-need?cell_voltages=3.86,3.91,3.87V"
    gap = located(http, "balance-need", {**typed, "cell_voltages:2": "", "cell_voltages:unit": "V"})
    refused = page(http, "balance-need", gap.partition("?")[2])
    assert refused.status_code == 422
    assert "Cell 2 is empty: fill it in too" in plain(refused.text)


def test_rows_are_counted_anew_and_end_in_an_empty_one(http: FlaskClient) -> None:
    typed = {"supply_rating": "180", "supply_rating:unit": "W", "loads[0].power": "", "loads[1].power": "110",
             "loads[1].power:unit": "W", "loads[4].power": "60", "loads[4].power:unit": "W"}  # fmt: skip
    address = located(http, "supply-split", typed)
    assert address == "/supply-split?supply_rating=180W&loads[0].power=110W&loads[1].power=60W"
    boxes = Seen(page(http, "supply-split", address.partition("?")[2]).text).boxes
    assert (boxes["loads[0].power"], boxes["loads[1].power"], boxes["loads[2].power"]) == ("110", "60", "")
    assert "loads[3].power" not in boxes


def test_a_comma_that_may_part_thousands_is_refused_with_why(http: FlaskClient) -> None:
    address = located(http, "wattage", {"cells": "3", "capacity": "1,300", "capacity:unit": "mAh"})
    reply = page(http, "wattage", address.partition("?")[2])
    assert reply.status_code == 422
    assert "1,300 can be read as 1.300 or as 1300" in plain(reply.text)
    assert Seen(reply.text).boxes["capacity"] == "1,300"


def test_another_unit_that_fits_is_offered(http: FlaskClient) -> None:
    reply = page(http, "wattage", "cells=3&capacity=1.3mAh")
    assert reply.status_code == 422
    assert "Did you mean 1.3 Ah?" in plain(reply.text)
    assert "Did you mean" not in plain(page(http, "wattage", "cells=3&capacity=0mAh").text)


def test_what_is_only_missing_is_no_fault_and_what_is_wrong_is(http: FlaskClient) -> None:
    missing = page(http, "charge-current", "cells=3")
    assert missing.status_code == 200
    assert "Capacity is missing" in plain(missing.text)
    wrong = page(http, "charge-current", "cells=3&capacity=2250mAh&cels=3")
    assert wrong.status_code == 422
    assert "did you mean cells?" in plain(wrong.text)
    typing = http.get("/charge-current?cells=0&capacity=2250mAh", headers={"X-Page-Part": "1"})
    assert typing.status_code == 200
    assert "at least 1" in plain(typing.text)


def test_what_is_only_missing_is_not_shown_as_a_fault_nor_said_twice(http: FlaskClient) -> None:
    missing, wrong = (page(http, "charge-current", asked).text for asked in ("cells=3", "cells=3&capacity=2250"))
    assert 'class="field wrong lacking"' in missing
    assert "aria-invalid" not in missing
    assert plain(missing).lower().count("one for all cells, or one per cell") == 2, "above, and at its box"
    assert "lacking" not in wrong
    assert "aria-invalid" in wrong


def test_what_would_be_taken_is_said_before_anything_is_told(http: FlaskClient) -> None:
    bare, told = (plain(page(http, "charge-current", asked).text) for asked in ("", "rest_voltage=11.31V"))
    for taken in ("taken as LiPo", "taken as 25 °C", "taken as 85 %"):
        assert taken in bare
    assert "taken as 20 % · State of charge" in bare
    assert "taken as 20 % · State of charge" not in told


def test_several_packs_that_are_to_be_joined_have_as_many_rows(http: FlaskClient) -> None:
    assert "packs[1].cells" in Seen(page(http, "parallel-join").text).boxes


def test_a_unit_is_offered_only_where_the_figure_itself_is_at_fault(http: FlaskClient) -> None:
    text = plain(page(http, "charge-current", "cells=3&capacity=2250mAh&rest_voltage=19V").text)
    assert "more than a lithium-polymer cell can have" in text
    assert "Did you mean" not in text


def test_what_was_assumed_stands_at_its_box_and_is_not_filled_in(http: FlaskClient) -> None:
    text = page(http, "charge-current", "cells=3&capacity=2250mAh&rest_voltage=11.31V").text
    assert "taken as 6.67 mΩ" in plain(text)
    assert Seen(text).boxes["cell_resistance"] == ""


def test_a_pack_goes_on_to_the_other_calculators(http: FlaskClient) -> None:
    text = page(http, "charge-current", "cells=3&capacity=2250mAh&rest_voltage=11.31V").text
    assert 'href="/charge-left?chemistry=lipo&amp;cells=3&amp;capacity=2250mAh&amp;rest_voltage=11.31V"' in text
    assert "/nickel-charge" not in text  # it takes no such pack


def test_strange_text_is_shown_as_text(http: FlaskClient) -> None:
    text = page(http, "charge-current", {"cells": '"><script>alert(1)</script>', "capacity": "x' onfocus=y"}).text
    assert "<script>alert" not in text
    assert Seen(text).foreign == []


def test_a_page_may_load_only_what_is_its_own(http: FlaskClient) -> None:
    reply = http.get("/wattage")
    policy = reply.headers["Content-Security-Policy"]
    assert policy.startswith("default-src 'none';")
    assert "unsafe" not in policy
    for address in re.findall(r'(?:href|src)="?(/static/[^" >]+)', reply.text):
        assert http.get(unescape(address)).status_code == 200


def test_a_code_leads_to_the_page_by_the_public_address(http: FlaskClient, monkeypatch: pytest.MonkeyPatch) -> None:
    near = http.get("/wattage.qr.svg?cells=3&capacity=1150mAh")
    monkeypatch.setenv("AMPSTEAD_PUBLIC_URL", "https://packs.example")
    far = http.get("/wattage.qr.svg?cells=3&capacity=1150mAh")
    assert near.status_code == far.status_code == 200
    assert near.data != far.data
    assert far.content_type.startswith("image/svg+xml")
    assert http.get(f"/wattage.qr.svg?capacity={'9' * 4000}").status_code == 414


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("colours", [PAGE_LIGHT, PAGE_DARK], ids=["light", "dark"])
def test_colours_are_read_in_sunlight(colours: Mapping[str, str]) -> None:
    paper = colours["paper"]
    for name in ("ink", "limit", "warn", "good"):
        assert contrast(colours[name], paper) >= SUNLIGHT, name
    for ground in (paper, colours["desk"]):
        assert contrast(colours["quiet"], ground) >= READABLE
        assert contrast(colours["link"], ground) >= READABLE
    assert contrast(colours["on"], colours["link"]) >= READABLE
    assert contrast(colours["edge"], paper) >= EDGES


def test_what_one_person_typed_is_on_no_other_page(http: FlaskClient) -> None:
    for typed in ("2", "3", ""):
        page = Seen(
            http.get(f"/charge-current?cells=3&capacity=2250mAh&max_rate={typed}".removesuffix("&max_rate=")).text
        )
        assert page.boxes["max_rate"] == typed

"""The page of a list of packs: read with line and cure, judged worst first, answered and forgotten."""

import csv
import io
import logging
import re
from html import unescape
from pathlib import Path
from typing import Any
from urllib.parse import quote_plus

import pytest
import requests
from contract.serving import Running, within
from contract.test_pages import LARGEST, Seen, plain
from flask.testing import FlaskClient

from ampstead.pages.packs import LONGEST_LIST
from ampstead.pages.packs.answering import SAMPLE
from ampstead.pages.packs.listed import MOST_PACKS
from ampstead_client import AmpsteadClient
from ampstead_client.packs import PackList
from ampstead_client.packs.cards import card_addresses
from ampstead_client.packs.pages import VERDICTS
from ampstead_client.packs.tables import table

EXAMPLE = Path(__file__).resolve().parents[2] / "client" / "examples" / "packs.toml"
LIST = EXAMPLE.read_text(encoding="utf-8")
TRAINER = SAMPLE.replace('"1s"\n', '"1s"\nby = "the bench"\n')
"""A pack with a key of its owner's own; its lines are counted below."""


def sent(http: FlaskClient, text: str | bytes, name: str = "packs.toml", **headers: str) -> Any:
    whole = text.encode() if isinstance(text, str) else text
    return http.post("/packs", data={"list": (io.BytesIO(whole), name)}, headers=headers)


def faults(http: FlaskClient, text: str | bytes, name: str = "packs.toml") -> list[str]:
    reply = sent(http, text, name)
    assert reply.status_code == 422, plain(reply.text)
    found = re.search(r"<div class=\"?refused.*?</div>", reply.text, re.DOTALL)
    assert found is not None
    return [unescape(each) for each in re.findall(r"<li>(.*?)</li>", found[0])]


def rows(text: str) -> list[tuple[str, str, str]]:
    """Name, verdict and the rest of what is said of each pack."""
    found = re.findall(
        r'<li class="pack [a-z-]+"><h3>(.*?)</h3>\s*<p class="?verdict"?><span[^>]*>.</span> (.*?)</p>(.*?)<details>',
        text,
        re.DOTALL,
    )
    return [(unescape(name), verdict, plain(rest)) for name, verdict, rest in found]


def reading(day: str, value: str, temperature: str = "25 °C", kind: str = "cell_resistance", method: str = "1s") -> str:
    return (
        f'\n[[pack.reading]]\ndate = {day}\nkind = "{kind}"\nvalue = "{value}"\n'
        f'temperature = "{temperature}"\nmethod = "{method}"\n'
    )


def test_it_is_found_from_the_start_and_asks_for_a_file(http: FlaskClient) -> None:
    assert 'href="/packs"' in http.get("/").text
    reply = http.get("/packs")
    assert reply.status_code == 200
    holds = Seen(reply.text)
    assert "list" in holds.boxes
    assert holds.foreign == []
    assert len(reply.data) < LARGEST
    assert reply.headers["Content-Security-Policy"].startswith("default-src 'none';")
    assert "unsafe" not in reply.headers["Content-Security-Policy"]


def test_every_pack_is_answered_as_the_owner_s_own_report_says_it(http: FlaskClient, tmp_path: Path) -> None:
    """The client reads the file and draws the trends by code of its own."""
    more = (
        TRAINER.replace("trainer-a", "trainer-f").replace("trainer A", "trainer F")
        + reading("2025-05-01", "9.5 mΩ", "13 °C", method="charger")
        + reading("2025-09-01", "10, 11, 10 mΩ", "33 °C", method="charger")
        + reading("2026-05-01", "12.5 mΩ", method="charger")
        + reading("2026-05-01", "2100 mAh", "8 °C", "measured_capacity", "discharge").replace(
            'method = "d', 'current = "5 A"\nmethod = "d'
        )
        + '\n[[pack]]\nid = "d"\nname = "red trainer D"\ncells = 3\ncapacity = "2250 mAh"\ncondition = "wet"\n'
        + '\n[[pack]]\nid = "s"\nname = "starter"\nchemistry = "NiMH"\ncells = 6\ncapacity = "1700 mAh"\n'
        + reading("2026-04-11", "9 mΩ")
    )
    path = tmp_path / "packs.toml"
    path.write_text(LIST + more, encoding="utf-8")
    report = PackList.load(path).report(AmpsteadClient.embedded())
    reply = sent(http, path.read_bytes())
    assert reply.status_code == 200, plain(reply.text)
    found = rows(reply.text)
    assert [(name, verdict.lower()) for name, verdict, _ in found] == [
        (each.pack.name, VERDICTS[each.verdict]) for each in report
    ]
    for (_, _, said), standing in zip(found, report, strict=True):
        for trend in standing.trends:
            if trend.per_year is not None:
                edges = re.findall(r"[+−][0-9.]+", trend.words)
                assert edges
                assert set(edges) <= set(re.findall(r"[+−][0-9.]+", said)), standing.pack.name
        if standing.answer is not None:
            for word in re.findall(r"[A-Za-z]{5,}", re.sub(r"[0-9].*", "", standing.answer.sentence)):
                assert word in said


def test_the_scenario_s_ten_packs_are_a_small_page_with_whole_links(http: FlaskClient) -> None:
    reply = sent(http, LIST)
    assert len(rows(reply.text)) == 10
    assert len(reply.data) < LARGEST
    holds = Seen(reply.text)
    assert holds.foreign == []
    assert len(holds.ids) == len(set(holds.ids))
    assert reply.headers["Cache-Control"] == "no-store"
    links = [unescape(each) for each in re.findall(r'<a href="?(/[a-z-]+\?[^" >]+)', reply.text)]
    assert len(links) > 60
    for link in links:
        assert http.get(link).status_code == 200, link
    assert "/charge-current?chemistry=lipo&cells=3&capacity=2250mAh" in " ".join(links)
    named = [link for link in links if "trainer" in link]
    assert named
    assert all(link.startswith("/card?") for link in named)


def test_cards_are_of_the_packs_and_a_pack_that_is_to_be_retired_gets_one_that_says_stop(http: FlaskClient) -> None:
    worn = TRAINER + reading("2026-10-03", "18 mΩ")
    light = worn.replace("trainer-a", "trainer-b").replace("trainer A", "trainer B").replace("18 mΩ", "14 mΩ")
    reply = sent(http, worn + light)
    assert [verdict for _, verdict, _ in rows(reply.text)] == ["Retire", "Light duty"]
    first = reply.text.partition('class="pack retire"')[2].partition('class="pack light-duty"')[0]
    assert set(re.findall(r'href="?/([a-z-]+)', first)) == {"pack-fitness", "let-down", "card"}
    whole = re.search(r'class="?links"?><a href="([^"]+)"', reply.text)
    assert whole is not None
    cards = http.get(unescape(whole[1])).text.split("<article")[1:]
    assert len(cards) == 2
    retired, lamps = map(plain, cards)
    assert "STOP" in retired
    assert "red trainer A" in retired
    assert "on the ground only" in lamps
    assert "Charge at" in lamps
    assert "Flies again" not in lamps
    assert "Timer" not in lamps


def test_the_owner_s_own_cards_of_a_pack_that_holds_too_little_say_stop_too(http: FlaskClient, tmp_path: Path) -> None:
    path = tmp_path / "packs.toml"
    path.write_text(TRAINER + reading("2026-10-03", "1500 mAh", kind="measured_capacity"), encoding="utf-8")
    (address,) = card_addresses(PackList.load(path), "http://bench.example", "packs")
    said = plain(http.get(address.removeprefix("http://bench.example")).text)
    assert "STOP" in said
    assert "66 percent of its label" in said


def test_one_pack_that_cannot_be_read_leaves_the_cards_of_the_others(http: FlaskClient) -> None:
    good = "packs[0].name=grey tug&packs[0].cells=6&packs[0].capacity=4900mAh"
    reply = http.get(f"/card?{good}&packs[1].name=red trainer A&packs[1].cells=3&packs[1].capacity=2250")
    first, second = map(plain, reply.text.split("<article")[1:])
    assert reply.status_code == 422
    assert "Charge at" in first
    assert "red trainer A No card of this pack yet Capacity needs a unit" in second
    assert "Charge at" not in second


def test_a_card_of_a_field_battery_speaks_of_no_flight_and_counts_in_ampere_hours(http: FlaskClient) -> None:
    told = "packs[0].chemistry=lead&packs[0].cells=6&packs[0].capacity=38Ah&packs[0].cell_resistance=2.2mohm"
    said = plain(http.get(f"/card?{told}").text)
    assert "Lead-acid · 6 cells · 38 Ah" in said
    assert re.search("Charge at *3.8 A", said)
    assert not re.search("Flies|Timer|Lithium", said)


@pytest.mark.parametrize(
    ("later", "said"),
    [
        (("2026-10-03", "18 mΩ"), "STOP"),
        (("2026-10-03", "14 mΩ"), "on the ground only"),
        (("2026-10-03", "3.90, 3.91, 3.70 V", "cell_voltages"), "STOP"),
    ],
)
def test_the_owner_s_own_cards_know_what_the_list_knows(
    later: tuple[str, ...], said: str, http: FlaskClient, tmp_path: Path
) -> None:
    path = tmp_path / "packs.toml"
    text = TRAINER + reading(later[0], later[1], **({"kind": later[2]} if later[2:] else {}))
    path.write_text(text, encoding="utf-8")
    packs = PackList.load(path)
    with AmpsteadClient.embedded() as client:
        held = {each.pack.id: each.held_against for each in packs.report(client)}
    (address,) = card_addresses(packs, "http://bench.example", "packs", held)
    own = plain(http.get(address.removeprefix("http://bench.example")).text)
    link = re.search(r'class="?links"?><a href="([^"]+)"', sent(http, text).text)
    assert link is not None
    page = plain(http.get(unescape(link[1])).text)
    assert said in own
    assert said in page


def test_a_box_of_packs_beyond_one_address_has_several_pages_of_cards(http: FlaskClient) -> None:
    many = "".join(
        TRAINER.replace("trainer-a", f"trainer-{place}").replace("trainer A", f"trainer {place}") for place in range(40)
    )
    reply = sent(http, many)
    found = re.findall(r'<a href="([^"]+)">Field cards ([0-9]+) to ([0-9]+), to print', reply.text)
    assert [int(first) for _, first, _ in found] == [1, *(int(last) + 1 for _, _, last in found[:-1])]
    assert int(found[-1][2]) == 40
    for link, first, last in found:
        page = http.get(unescape(link))
        assert page.status_code == 200
        assert page.text.count("<article") == int(last) - int(first) + 1


@pytest.mark.parametrize(
    ("wrong", "right", "told"),
    [
        ('"2250 mAh"', "2250", 'Line 6: capacity needs a unit: write "2250 mAh"'),
        ('"2250 mAh"', "2250 mAh", 'Line 6: text goes in quotes: write capacity = "2250 mAh"'),
        ('"2250 mAh"', '"2250 mV"', "Line 6: capacity takes"),
        ('"2250 mAh"', '"1.3 mAh"', "Line 6: capacity must be"),
        ("capacity = ", "capcity = ", "Line 6: capcity is unknown; did you mean capacity?"),
        ("cells = 3", "cells = 2.5", "Line 5: cells must be a whole number"),
        ("cells = 3", "cells = {value = 3}", "Line 5: cells must be a number, or text in quotes"),
        ("cells = 3\n", "", "Line 1: cells is missing: write cells = 3"),
        ('name = "red trainer A"\n', "", 'Line 1: name is missing: write name = "red trainer A"'),
        ("2026-04-11", '"11.4.2026"', "Line 13: date must be a day as year, month, day, like 2026-04-11"),
        ('"cell_resistance"', '"resistence"', "Line 14: kind must be one of cell_resistance, pack_resistance"),
        ('"8.5 mΩ"', '"8,5 mΩ"', "Line 15: cell_resistance"),
        ('"8.5 mΩ"', '"8.5, 8.7, 9, 9 mΩ"', "Line 15: cell_resistance"),
        ('"8.5 mΩ"', '["8.5 mΩ", "9 mΩ"]', "Line 15: cell_resistance"),
        ('"25 °C"', "25", "Line 16: temperature needs a unit"),
        ('"1s"', '"quick"', "Line 17: method must be one of 1kHz, charger, 1s, 10s"),
        ('method = "1s"\n', "", "Line 12: method is missing: write how it was measured"),
        ('"1480 mAh"\n', '"1480 mAh"\ntypical_current = "14 A"\n', "Line 11: typical_current and flight_time cannot"),
        ('charge_returned = "1480 mAh"\n', "", "charge_returned is missing"),
        ("[[pack.reading]]", "[pack.reading]", "Line 12: write each reading under a heading of its own"),
        ('"red trainer A"\n', '"red trainer A\n', "Line 3: this is not TOML"),
        ("[[pack]]", "[[packs]]", "Line 1: write each pack under a heading of its own"),
    ],
)
def test_what_is_wrong_is_told_with_its_line_and_the_cure(http: FlaskClient, wrong: str, right: str, told: str) -> None:
    assert wrong in TRAINER
    found = faults(http, TRAINER.replace(wrong, right, 1))
    assert told in found[0], found


def test_all_that_is_wrong_is_told_at_once_in_the_order_of_the_lines(http: FlaskClient) -> None:
    spoilt = TRAINER.replace("cells = 3", "cells = 0").replace('"8.5 mΩ"', "8.5") + TRAINER
    assert [each.partition(":")[0] for each in faults(http, spoilt)] == ["Line 5", "Line 15", "Line 20", "Line 21"]


def test_text_over_several_lines_moves_no_line(http: FlaskClient) -> None:
    note = 'note = """\n[[pack]]\ncapacity = 3\n"""\nother = "a\N{LINE SEPARATOR}b"\ncells = 3\n'
    text = TRAINER.replace("cells = 3\n", note).replace('"8.5 mΩ"', "8.5").replace("\n", "\r\n")
    assert faults(http, text) == ['Line 20: cell_resistance needs a unit: write "8.5 mΩ"']


def test_a_table_says_what_the_list_says(http: FlaskClient, tmp_path: Path) -> None:
    (tmp_path / "packs.toml").write_text(LIST, encoding="utf-8")
    made = table(PackList.load(tmp_path / "packs.toml"))
    other = io.StringIO()
    csv.writer(other, delimiter=";").writerows(csv.reader(io.StringIO(made)))
    for text, name in ((made, "packs.csv"), (made, "packs"), (f"\ufeff{other.getvalue()}", "packs.csv")):
        reply = sent(http, text, name)
        assert rows(reply.text) == rows(sent(http, LIST).text)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("name,id,cells,capacity\nred,r,3,2250\n", "Line 2: capacity needs a unit"),
        ("name,id,cells,capacity\nred,r,3,2250 mAh\nred,r,4,2250 mAh\n", 'Line 3: cells is "4" here and "3" in line 2'),
        ("name,id,cels,capacity\nred,r,3,2250 mAh\n", "Line 1: the column cels is unknown; did you mean cells?"),
        ("pack,cells\nred,3\n", "Line 1: this is no list of packs"),
        ("name,id,cells,capacity\n", "Line 1: no pack is in it"),
        ('name,id\n"red,r\n', "Line 2: this is no table of CSV"),
    ],
)
def test_what_is_wrong_in_a_table_is_told_by_its_row(http: FlaskClient, text: str, told: str) -> None:
    assert told in faults(http, text, "packs.csv")[0]


def test_what_is_no_list_is_told_so(http: FlaskClient) -> None:
    assert faults(http, "") == ["No list was sent: choose a file, or paste its text."]
    assert "save the file as UTF-8 text" in faults(http, LIST.encode("utf-16"))[0]
    assert "begin each pack with a line [[pack]]" in faults(http, '[club]\nname = "meadow club"\n')[0]
    assert "no list of packs" in faults(http, "\x89PNG\r\n\x1a\n", "packs.png")[0]
    assert "[[pack]] in double brackets" in faults(http, "pack = 3\n")[0]
    assert "part it" in faults(http, "x" + ".x" * 500 + " = 1\n")[0]
    many = "".join(TRAINER.replace("red-trainer-a", f"r{n}").replace("red trainer A", f"r{n}") for n in range(101))
    assert f"at most {MOST_PACKS}" in faults(http, many)[0]


def test_a_list_may_be_pasted_and_what_is_sent_otherwise_is_refused(http: FlaskClient) -> None:
    pasted = http.post("/packs", data={"text": TRAINER}, content_type="multipart/form-data")
    assert rows(pasted.text)[0][:2] == ("red trainer A", "Fit to fly")
    assert http.post("/packs", data=TRAINER, content_type="application/toml").status_code == 415
    large = sent(http, TRAINER + "#" * 1000 + ("\n#" * (LONGEST_LIST // 2)))
    assert large.status_code == 413
    assert f"{LONGEST_LIST // 1024} kilobytes" in large.json["detail"]
    assert sent(http, TRAINER + "\n#" * (LONGEST_LIST // 2 - 1000)).status_code == 200


def test_strange_names_are_shown_as_text(http: FlaskClient) -> None:
    odd = "<script>alert(1)</script> & 'x' onfocus=y"
    reply = sent(http, TRAINER.replace("red trainer A", odd))
    assert rows(reply.text)[0][0] == odd
    assert "<script>alert" not in reply.text
    assert Seen(reply.text).foreign == []


def test_a_script_that_asks_is_told_what_is_wrong_without_a_fault(http: FlaskClient) -> None:
    assert sent(http, TRAINER.replace("cells = 3", ""), **{"X-Page-Part": "1"}).status_code == 200


def test_a_pack_without_a_resistance_is_told_to_be_measured(http: FlaskClient) -> None:
    [(_, verdict, said)] = rows(sent(http, TRAINER.partition("\n[[pack.reading]]")[0]).text)
    assert verdict == "Not known"
    assert "measure it" in said
    assert "Never read" in said


NAMES = ("secret squirrel", "club of secrets", "hidden load")


@pytest.mark.parametrize("kind", ["paths", "queries"])
def test_no_name_reaches_the_log_whatever_is_logged(kind: str, tmp_path: Path) -> None:
    pack, club, load = NAMES
    server = Running(workers=1, log=tmp_path / "log", environment={"AMPSTEAD_ACCESS_LOG": kind})
    try:
        for text in (TRAINER, TRAINER.replace("cells = 3", "cells = three")):
            text = text.replace("red trainer A", pack)
            page = requests.post(f"{server.base}/packs", files={"list": (f"{pack}.toml", text.encode())}, timeout=10)
            for link in re.findall(r'<a href="?(/card\?[^" >]+)', page.text):
                requests.get(server.base + unescape(link), timeout=10)
        for name in (pack, quote_plus(pack)):
            for key in ("packs[0].name", "packs%5B0%5D.name", "packs[0].%6Eame", "Packs[0].NAME"):
                requests.get(f"{server.base}/card?name={club}&packs[0].cells=3&{key}={name}", timeout=10)
        requests.get(f"{server.base}/v1/supply-split?supply_rating=180W&loads[0].name={load}", timeout=10)
        requests.get(f"{server.base}/version", headers={"X-Request-ID": "the-last"}, timeout=10)
        assert within(10, lambda: "the-last" in (tmp_path / "log").read_text(encoding="ascii"))
    finally:
        assert server.stopped() == 0
    log = (tmp_path / "log").read_text(encoding="ascii")
    assert '"path":"/packs"' in log
    assert '"path":"/card"' in log
    assert ("supply_rating=180W" in log) == (kind == "queries")
    for name in NAMES:
        for word in name.split():
            if word not in ("of", "club", "load"):
                assert word not in log


def test_a_fault_of_ours_puts_nothing_of_the_list_into_the_log(
    http: FlaskClient, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*_: object) -> None:
        raise KeyError("secret squirrel")

    monkeypatch.setattr("ampstead.pages.packs.answering.standings", broken)
    with caplog.at_level(logging.DEBUG):
        reply = sent(http, TRAINER)
    assert reply.status_code == 500
    assert "KeyError at " in caplog.text
    assert "squirrel" not in caplog.text + reply.text

"""Curves and pictures: what the numbers say is what is drawn."""

import csv
import io
import re
import struct
import subprocess
import sys
import xml.etree.ElementTree as ET
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ampstead.calculators import registry
from ampstead.replying import pictures
from ampstead.replying.answers import Answered, answered
from ampstead.sketch import Bars, Chart

CALCULATORS = registry()
DRAWN = {name: calculator for name, calculator in CALCULATORS.items() if calculator.picture}
QUESTIONS = [(name, dict(example)) for name, calculator in DRAWN.items() for example in calculator.examples]
EMPTY = [
    ("charge-current", {"cells": 3, "capacity": "2250 mAh", "condition": "swollen"}),
    ("charge-current", {"cells": 6, "capacity": "7 Ah", "chemistry": "lead"}),
    ("sag", {"cells": 3, "capacity": "2250 mAh", "power": "900 kW"}),
]
NUMBER = re.compile(r' (?:x|y|x1|y1|x2|y2|width|height)="([^"]+)"')
QUESTIONS_OF = dict(reversed(QUESTIONS))
SVG = "{http://www.w3.org/2000/svg}"


def asked(name: str, question: dict[str, Any]) -> Answered:
    return answered(CALCULATORS[name], question)


def table(reply: Answered) -> tuple[list[str], list[list[str]]]:
    head, *rows = list(csv.reader(io.StringIO(reply.csv())))
    return head, rows


@pytest.mark.parametrize(("name", "question"), QUESTIONS)
def test_the_cells_of_a_table_are_counted_from_one(name: str, question: dict[str, Any]) -> None:
    head, rows = table(asked(name, question))
    for place in [place for place, heading in enumerate(head) if heading in ("cell", "pack")]:
        counted = [row[place] for row in rows]
        if all(re.fullmatch(r"[0-9.]+", each) for each in counted):
            assert counted == [str(number) for number in range(1, len(rows) + 1)]


@pytest.mark.parametrize(("name", "question"), [*QUESTIONS, *EMPTY])
def test_an_svg_is_whole_and_stays_on_its_paper(name: str, question: dict[str, Any]) -> None:
    document = asked(name, question).svg()
    root = ET.fromstring(document)
    width, height = (float(side) for side in root.attrib["viewBox"].split()[2:])
    assert not re.search(r"\b(nan|inf|None)\b", re.sub(r">[^<]*<", "><", document))
    numbers = [float(number) for number in NUMBER.findall(document)]
    points = [point.split(",") for line in re.findall(r'points="([^"]+)"', document) for point in line.split()]
    assert all(-0.1 <= number <= max(width, height) + 0.1 for number in numbers)
    assert all(0 <= float(x) <= width and 0 <= float(y) <= height for x, y in points)


@pytest.mark.parametrize(("name", "question"), QUESTIONS)
def test_an_svg_says_in_words_what_it_shows_and_follows_dark_and_light(name: str, question: dict[str, Any]) -> None:
    reply = asked(name, question)
    document = reply.svg()
    root = ET.fromstring(document)
    described = root.find(f"{SVG}desc")
    assert described is not None
    assert described.text == reply.sentence()
    assert "prefers-color-scheme:dark" in document
    for text in root.iter(f"{SVG}text"):
        assert "_" not in (text.text or "")


@pytest.mark.parametrize(("name", "question"), QUESTIONS[:2] + EMPTY[:1])
def test_a_png_is_the_same_picture_twice_as_large(name: str, question: dict[str, Any]) -> None:
    reply = asked(name, question)
    _, _, width, height = map(float, ET.fromstring(reply.svg()).attrib["viewBox"].split())
    image = reply.png()
    assert image.startswith(b"\x89PNG\r\n\x1a\n")
    assert struct.unpack(">II", image[16:24]) == (2 * width, 2 * height)


def test_a_png_shows_its_words() -> None:
    document = asked(*QUESTIONS[0]).svg()
    assert pictures.png(document) != pictures.png(re.sub(r"(<text[^>]*>)[^<]*", r"\1", document))


@pytest.mark.parametrize(("name", "question"), EMPTY)
def test_where_nothing_can_be_drawn_the_picture_is_the_sentence(name: str, question: dict[str, Any]) -> None:
    reply = asked(name, question)
    words = " ".join(text.text or "" for text in ET.fromstring(reply.svg()).iter(f"{SVG}text"))
    assert reply.sentence() in words
    assert table(reply)[1] == []


@pytest.mark.parametrize(("name", "question"), QUESTIONS)
def test_each_limit_is_marked_by_name(name: str, question: dict[str, Any]) -> None:
    reply = asked(name, question)
    drawn = CALCULATORS[name].picture
    assert drawn is not None
    told = {parameter: reply.known[parameter] for parameter in drawn.__annotations__ if parameter in reply.known}
    picture = drawn(reply.answer, **told)
    panels = picture.panels if isinstance(picture, Chart) else (picture,)
    labels = [limit.label for panel in panels for limit in panel.limits if limit.label]
    words = [text.text for text in ET.fromstring(reply.svg()).iter(f"{SVG}text")]
    assert all(label in words for label in labels)
    if isinstance(picture, Bars):
        assert sum("bar0" in (shape.get("class") or "") for shape in ET.fromstring(reply.svg()).iter(f"{SVG}rect"))


LETTERS = 7.5  # Width of a letter at the least: what is struck through by this measure is struck through by any.
POINT = re.compile(r"[-\d.]+,[-\d.]+")
WIDELY = [
    ("safe-draw", {"cells": 3, "capacity": "2250 mAh", "cell_resistance": "14 mΩ", "label_rate": 30}),
    ("lead-loss", {"gauge": "12 AWG", "length": "0.6 m", "current": "62 A", "voltage": "22.2 V"}),
    ("lead-loss", {"gauge": "24 AWG", "length": "0.35 m", "current": "48 A"}),
    ("charge-left", {"cell_voltages": "3.77,3.76,3.79,3.75 V", "reserve": 0.3}),
    ("endurance", {"cells": 3, "capacity": "2250 mAh", "current": "100 A"}),
    ("load-test", {"currents": "5,14,23,48 A", "voltages": "16.3,16.1,15.8,15.2 V"}),
    ("charge-current", {"cells": 3, "capacity": "2250 mAh", "time_available": "30 min"}),
    ("sag", {"cells": 6, "capacity": "4900 mAh", "power": "1400 W", "duration": "90 s"}),
]  # fmt: skip


def words_of(document: str) -> dict[str, tuple[float, float, float, float]]:
    """Where the words of a picture that stand among its lines are."""
    boxes = {}
    for text in ET.fromstring(document).iter(f"{SVG}text"):
        said, x, y = text.text or "", float(text.attrib["x"]), float(text.attrib["y"])
        wide = LETTERS * len(said)
        left = x - {"start": 0, "middle": wide / 2, "end": wide}[text.attrib["text-anchor"]]
        boxes[said] = (left, y - 11, left + wide, y)
    return boxes


def strokes_of(document: str) -> list[tuple[float, float, float, float]]:
    """Every stroke of a picture's lines, in short pieces."""
    strokes = []
    for shape in ET.fromstring(document).iter():
        if shape.tag == f"{SVG}line":
            x1, y1, x2, y2 = (float(shape.attrib[side]) for side in ("x1", "y1", "x2", "y2"))
            strokes.append((x1, y1, x2, y2))
        if shape.tag == f"{SVG}polyline":
            points = [tuple(map(float, point.split(","))) for point in POINT.findall(shape.attrib["points"])]
            strokes += [(*start, *end) for start, end in pairwise(points)]
    return strokes


@pytest.mark.parametrize(("name", "question"), QUESTIONS + WIDELY)
def test_no_line_strikes_words_through(name: str, question: dict[str, Any]) -> None:
    document = asked(name, question).svg()
    boxes = words_of(document)
    assert boxes
    left, top, right, bottom = np.array(list(boxes.values())).T
    strokes = np.array(strokes_of(document))
    x1, y1, x2, y2 = strokes.T[:, :, None]
    near = (np.minimum(x1, x2) < right) & (np.maximum(x1, x2) > left)
    near &= (np.minimum(y1, y2) < bottom) & (np.maximum(y1, y2) > top)
    along = np.linspace(0, 1, 400)
    for stroke, box in np.argwhere(near):
        x, y = (start + along * (end - start) for start, end in (strokes[stroke, 0::2], strokes[stroke, 1::2]))
        struck = (left[box] < x) & (x < right[box]) & (top[box] < y) & (y < bottom[box])
        assert not struck.any(), (list(boxes)[box], strokes[stroke])


@pytest.mark.parametrize(("name", "question"), QUESTIONS + WIDELY)
def test_axes_are_named_in_words_with_their_unit(name: str, question: dict[str, Any]) -> None:
    words = list(words_of(asked(name, question).svg()))
    assert not {"state low", "state before", "state of charge", "rate", "rate limit"} & set(words)
    assert any(re.search(r"\[.+\]$", said) for said in words) or "recharges" in words


def test_a_title_names_the_pack() -> None:
    document = asked("sag", {"cells": 3, "capacity": "2250 mAh", "current": "23 A"}).svg()
    titled = ET.fromstring(document).find(f"{SVG}title")
    assert titled is not None
    assert titled.text == "Voltage under load: Lithium-polymer, 3 cells, 2250 mAh"
    assert "Lithium-polymer, 3 cells, 2250 mAh" in words_of(document)
    assert "Red trainer A, red trainer B" in words_of(asked("parallel-join", dict(QUESTIONS_OF["parallel-join"])).svg())
    assert "Lithium-polymer" not in asked("load-test", dict(QUESTIONS_OF["load-test"])).svg()


@pytest.mark.parametrize(
    ("duration", "unit"), [("10 s", "time [s]"), ("179 s", "time [s]"), ("181 s", "time [min]"), ("6 h", "time [h]")]
)
def test_a_time_is_drawn_in_the_unit_that_suits_it(duration: str, unit: str) -> None:
    question = {"cells": 6, "capacity": "38 Ah", "chemistry": "lead", "current": "0.5 A", "duration": duration}
    assert unit in words_of(asked("sag", question).svg())


def test_a_charge_shows_when_it_may_end() -> None:
    question = {"cells": 3, "capacity": "2250 mAh", "rest_voltage": "11.31 V"}
    reply = asked("charge-current", question)
    spans = [shape for shape in ET.fromstring(reply.svg()).iter(f"{SVG}rect") if "span" in shape.get("class", "")]
    assert len(spans) == 3
    assert "ends in 20 to 60 minutes" in words_of(reply.svg())
    (band,) = [entry for entry in reply.envelope()["accuracy"] if entry["of"] == "time_total"]
    low, high = band["low"]["value"], band["high"]["value"]
    assert float(spans[0].attrib["x"]) == pytest.approx(62 + low / high * (480 - 14 - 62), abs=0.1)
    assert float(spans[0].attrib["width"]) == pytest.approx((1 - low / high) * (480 - 14 - 62), abs=0.1)


def test_a_lead_shows_where_it_gets_hot() -> None:
    # 10 W/m over 0.6 m are 6 W, at 62 A 0.0968 V.
    reply = asked("lead-loss", {"gauge": "12 AWG", "length": "0.6 m", "current": "62 A", "voltage": "22.2 V"})
    limits = {limit.label: limit.value for limit in reply.teller.picture(reply.answer, reply.known).limits}
    assert limits == {"limit 0.666 V": pytest.approx(0.666), "hot: 10 W/m": pytest.approx(6 / 62)}


def test_a_load_test_shows_its_readings_as_dots() -> None:
    document = asked("load-test", {"currents": "5,14,23,48 A", "voltages": "16.3,16.1,15.8,15.2 V"}).svg()
    assert document.count("<circle") == 4
    assert document.count("<polyline") == 1


def test_readings_under_a_charge_lie_on_the_paper_too() -> None:
    document = asked("load-test", {"currents": "-5,-14,-23,-48 A", "voltages": "15.2,15.8,16.1,16.3 V"}).svg()
    places = [float(place) for place in re.findall(r' cx="([-\d.]+)"', document)]
    assert len(places) == 4
    assert all(62 <= place <= 480 - 14 for place in places)
    assert len(set(places)) == 4


def test_the_charge_curve_ends_where_the_answer_says() -> None:
    reply = asked("charge-current", {"cells": 3, "capacity": "2250 mAh", "rest_voltage": "11.31 V"})
    head, rows = table(reply)
    assert head == ["time [min]", "voltage [V]", "current [A]", "charge [mAh]", "state_of_charge"]
    first, last = ([float(cell) for cell in row] for row in (rows[0], rows[-1]))
    answer = reply.envelope()["answer"]
    assert first[0] == 0
    assert last[0] == pytest.approx(answer["time_total"]["value"], rel=1e-9)
    assert last[1] == pytest.approx(answer["end_voltage"]["value"], rel=1e-9)
    assert last[2] == pytest.approx(0.1 * answer["current"]["value"], rel=1e-6)
    assert last[3] == pytest.approx(answer["charge_added"]["value"], rel=1e-9)
    assert last[4] == pytest.approx(answer["state_of_charge_end"], rel=1e-9)


def test_the_charge_put_in_is_the_integral_of_the_current() -> None:
    _, rows = table(asked("charge-current", {"cells": 3, "capacity": "2 Ah", "state_of_charge": 0.1, "rate": 2}))
    curve = np.array(rows, dtype=float)
    summed = np.trapezoid(curve[:, 2], curve[:, 0]) / 60 * 1000
    assert summed == pytest.approx(curve[-1, 3], rel=1e-3)


def test_the_sag_curve_begins_at_the_first_instant_and_ends_at_the_answer() -> None:
    question = {
        "cells": 4,
        "capacity": "3700 mAh",
        "cell_resistance": "4.2 mΩ",
        "current": "40 A",
        "state_of_charge": 0.6,
    }
    reply, first = asked("sag", question), asked("sag", {**question, "duration": "0 s"})
    head, rows = table(reply)
    assert head == ["time [min]", "voltage [V]", "weakest_cell_voltage [V]", "temperature [°C]"]
    assert float(rows[0][1]) == pytest.approx(first.envelope()["answer"]["loaded_voltage"]["value"], rel=1e-12)
    assert float(rows[-1][1]) == pytest.approx(reply.envelope()["answer"]["loaded_voltage"]["value"], rel=1e-12)
    assert float(rows[-1][3]) > float(rows[0][3]) == 25


def test_the_draw_curve_meets_the_limits_where_the_answer_says() -> None:
    reply = asked("safe-draw", {"cells": 4, "capacity": "3700 mAh", "cell_resistance": "4.2 mΩ"})
    answer = reply.envelope()["answer"]
    curve = np.array(table(reply)[1], dtype=float)
    heat = np.interp(60.0, curve[:, 3], curve[:, 0])
    voltage = np.interp(-3.3, -curve[:, 2], curve[:, 0])
    assert heat == pytest.approx(answer["current_limit_by_heat"]["value"], rel=2e-3)
    assert voltage == pytest.approx(answer["current_limit_by_voltage"]["value"], rel=2e-3)


def test_nothing_that_draws_is_imported_before_a_picture_is_asked_for() -> None:
    program = (
        "import sys; from ampstead.app import create_app; client = create_app().test_client();"
        "q = '?cells=3&capacity=2250mAh';"
        "client.get('/v1/charge-current' + q); client.get('/v1/charge-current.csv' + q);"
        "early = {'ampstead.replying.pictures', 'resvg_py'} & set(sys.modules);"
        "client.get('/v1/charge-current.png' + q);"
        "print(sorted(early), 'resvg_py' in sys.modules)"
    )
    ended = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert ended.stdout == "[] True\n"


@given(low=st.floats(-1e4, 1e4), span=st.floats(0, 1e4), tight=st.booleans())
def test_an_axis_holds_its_values_and_has_few_round_ticks(low: float, span: float, tight: bool) -> None:
    axis = pictures.axis(low, low + span, 0, 100, tight=tight)
    assert axis.low <= low + 1e-6 * (1 + abs(low))
    assert axis.high >= low + span - 1e-6 * (1 + abs(low))
    assert len(axis.ticks) <= 8
    steps = np.diff(axis.ticks)
    if len(steps):
        mantissa = steps[0] / 10 ** np.floor(np.log10(steps[0]) + 1e-9)
        assert min(abs(mantissa - n) for n in (1, 2, 5, 10)) < 1e-3
    assert all(-1e-6 <= axis.at(tick) <= 100 + 1e-6 for tick in axis.ticks)


@pytest.mark.parametrize("name", ["left, inner", 'the "old" one', "plain"])
def test_a_table_holds_a_name_whatever_is_in_it(name: str) -> None:
    question = {
        "supply_rating": "180 W",
        "loads": [{"name": name, "power": "45 W"}, {"name": "right", "power": "90 W"}],
    }
    head, rows = table(asked("supply-split", question))
    assert [len(row) for row in rows] == [len(head)] * 2
    assert name in rows[0]

"""What a page shows of an answer: figures as the sentence has them, meanings that speak of what is there."""

import pytest

from ampstead import words
from ampstead.calculators import registry
from ampstead.pages.figures import Table, figures, shown, tables, told_of
from ampstead.pages.repeated import tables as listed
from ampstead.pages.written import joined
from ampstead.replying.answers import Answered, teller


def plain(text: str) -> str:
    return text.replace("\N{NO-BREAK SPACE}", " ")


def answered(name: str, **told: str) -> Answered:
    calculator = registry()[name]
    return teller(calculator).answered(told or calculator.examples[0])


@pytest.mark.parametrize(
    ("known", "some", "said"),
    [
        (True, True, "Current to set."),
        (True, False, "Current to set; 0 where the pack must not be charged."),
        (False, False, "Current to set; 0 where the pack must not be charged, none where it is not known."),
    ],
)
def test_a_meaning_speaks_of_none_only_where_there_is_none(known: bool, some: bool, said: str) -> None:
    whole = "Current to set; 0 where the pack must not be charged, none where it is not known."
    assert told_of(whole, known, some) == said


def test_a_result_that_does_not_exist_is_no_word_that_might_be_its_amount() -> None:
    told = {each.label: each for each in figures(answered("charge-left", cells="4", rest_voltage="15.07 V"))}
    assert told["Charge left"].text == "–"
    assert "none without the capacity" in told["Charge left"].meaning


def test_reasons_are_written_and_names_are_left_as_they_are() -> None:
    told = answered("pack-fitness", cells="3", capacity="1150mAh", cell_resistance="11mohm", typical_current="14A")
    (reasons,) = tables(told)
    cells = " ".join(cell for row in reasons.rows for cell in row).replace("\N{NO-BREAK SPACE}", " ")
    assert "11.4 A" in cells
    assert "amperes" not in cells
    name = registry()["group-charge"].results["packs"].item.results["name"].spec  # type: ignore[union-attr]
    assert shown(name, "lamp of 5 watts") == "lamp of 5 watts"


@pytest.mark.parametrize("name", ["receiver-time", "cool-down", "flight-timer", "endurance"])
def test_a_time_is_shown_as_the_sentence_has_it(name: str) -> None:
    told = answered(name)
    sentence = "".join(text for text, _ in words.written(told.sentence()))
    times = [each.text for each in figures(told) if each.main and each.text.endswith(("min", "s"))]
    assert times
    assert plain(times[0]) in plain(sentence)


def test_only_a_table_too_wide_for_a_phone_names_each_of_its_figures() -> None:
    narrow = Table("Packs", ("Name", "Current"), (("red trainer A", "2.25 A"),))
    wide = Table("Plan", ("Pack", "Charger", "Begin", "End", "Current"), (("<b>", "left", "0 min", "32 min", "3.7 A"),))
    assert "data-of" not in listed([narrow])
    assert "<td data-of=Pack>&lt;b&gt;<td data-of=Charger>left" in listed([wide])


@pytest.mark.parametrize(
    ("text", "whole"),
    [
        ("an area like 2.5 mm²", "an area like 2.5~mm²"),
        ("cells differ by 40 millivolts", "cells differ by 40~millivolts"),
        ("6 for 12 V of lead", "6 for 12~V of lead"),
        ("load 2 gets nothing", "load 2 gets nothing"),
    ],
)
def test_a_figure_and_its_unit_stay_on_one_line(text: str, whole: str) -> None:
    assert joined(text) == whole.replace("~", "\N{NO-BREAK SPACE}")

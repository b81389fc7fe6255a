"""The full way to read a question: every error of it at once, and none of what was not given."""

import pytest

from ampstead.calculators import registry
from ampstead.reading.plan import plan
from ampstead.reading.schemas import MOST_UNKNOWN, loaded, schema

TIMER = registry()["flight-timer"]
READERS = {name: reader for name, reader in plan(TIMER).readers.items() if name in ("flight_time", "capacity")}
GOOD = {"flight_time": "5:20", "capacity": "3700 mAh"}


def read(**told: object) -> tuple[dict[str, object], dict[str, str], int]:
    """What was read, field and code of each error, and how many more there are."""
    values, errors, more = loaded(schema(READERS), told, TIMER.inputs)
    return values, {error.field: error.code for error in errors}, more


def test_what_can_be_read_comes_in_si() -> None:
    assert read(**GOOD) == ({"flight_time": 320.0, "capacity": pytest.approx(3.7 * 3600)}, {}, 0)


@pytest.mark.parametrize("nothing", [None, "", "  "])
def test_a_blank_counts_as_not_given_but_not_under_a_name_that_is_unknown(nothing: object) -> None:
    assert read(**GOOD | {"capacity": nothing}) == ({"flight_time": 320.0}, {}, 0)
    assert read(**GOOD, capacitance=nothing)[1] == {"capacitance": "unknown"}


def test_every_error_is_told_and_the_rest_is_read_all_the_same() -> None:
    values, errors, more = read(flight_time="5 V", capacity="2250", tail="red")
    assert errors == {"flight_time": "wrong_dimension", "capacity": "unit_missing", "tail": "unknown"}
    assert (values, more) == ({}, 0)
    assert read(flight_time="5 V", capacity="3700 mAh")[0] == {"capacity": pytest.approx(3.7 * 3600)}


@pytest.mark.parametrize("size", [1, MOST_UNKNOWN, MOST_UNKNOWN + 1, 40])
def test_of_many_unknown_names_a_few_are_told_and_the_others_counted(size: int) -> None:
    _, errors, more = read(**GOOD, **{f"name{number}": "1" for number in range(size)})
    assert len(errors) == min(size, MOST_UNKNOWN)
    assert more == size - len(errors)


def test_a_misspelt_name_is_met_with_the_one_that_was_meant() -> None:
    _, errors, _ = loaded(schema(READERS), GOOD | {"capasity": "1 Ah"}, TIMER.inputs)
    assert [error.code for error in errors] == ["unknown"]
    assert "capacity" in errors[0].message

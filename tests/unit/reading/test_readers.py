"""Readers of single inputs: plain text takes a short cut, to the same figure as any other way of writing it."""

import random
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from ampstead.calculators import registry
from ampstead.declare import MANY, Count, Input, Number, Quantity, Rate, Text
from ampstead.reading.readers import reader
from ampstead.units import Unreadable, converted

INPUTS = {
    f"{calculator.name}.{name}": entry
    for calculator in registry().values()
    for name, entry in calculator.inputs.items()
    if isinstance(entry.spec, Quantity | Number)
}


def outcome(read: Any, value: Any) -> tuple[Any, ...]:
    try:
        result = read(value)
    except Unreadable as fault:
        return fault.code, fault.message
    return type(result), result if isinstance(result, int | float) else result.tolist()


def sizes(chance: random.Random) -> Iterator[str]:
    for _ in range(40):
        size = 10 ** chance.uniform(-8, 8)
        yield f"{size:.{chance.randint(0, 9)}f}"
    yield from ("0", "0.0", "00", "007", "0.000000001", "999999999", "1.", ".5")


@pytest.mark.parametrize("entry", INPUTS.values(), ids=INPUTS)
def test_plain_text_is_read_like_an_object_or_a_number_to_the_last_bit(entry: Input) -> None:
    read, chance = reader(entry), random.Random(entry.name)
    for size in sizes(chance):
        if isinstance(entry.spec, Quantity):
            unit = chance.choice(list(entry.spec.dimension.scales))
            plain = outcome(read, f"{size} {unit}")
            assert plain == outcome(read, {"value": size, "unit": unit}) == outcome(read, f" {size}{unit} "), size
        else:
            plain = outcome(read, size)
            assert plain == outcome(read, f" {size} "), size
            if "number" not in str(plain[1]):
                assert plain == outcome(read, float(size)) or isinstance(entry.spec, Count), size


LISTS = {name: entry for name, entry in INPUTS.items() if entry.many and isinstance(entry.spec, Quantity)}


@pytest.mark.parametrize("entry", LISTS.values(), ids=LISTS)
def test_a_row_of_figures_with_one_unit_is_read_like_a_list_to_the_last_bit(entry: Input) -> None:
    read, chance = reader(entry), random.Random(entry.name)
    assert isinstance(entry.spec, Quantity)
    like = float(entry.spec.example.split(",")[0].split()[0]) if entry.spec.example else 1.0
    seen = set()
    for _ in range(200):
        unit = chance.choice([entry.spec.unit, *entry.spec.dimension.scales])
        many = chance.choice((*range(3, 9), MANY, MANY + 1))
        parts = [f"{like * chance.uniform(0.9, 1.1):.{chance.randint(0, 9)}f}" for _ in range(many)]
        if chance.random() < 0.5:
            parts[-1] = chance.choice(("0", "0.0", f"{like * 10 ** chance.uniform(-8, 8):.9f}"))
        apart = outcome(read, [f"{part} {unit}" for part in parts])
        assert outcome(read, ",".join(parts) + chance.choice(("", " ")) + unit) == apart, parts
        seen.add(type(apart[0]))
    assert seen == {type, str}  # some were read, some were refused


@pytest.mark.parametrize(
    ("text", "ways"),
    [
        ("3,3 V", ['"3.3 V"', '"3 V,3 V"']),
        ("3,315 V", ['"3.315 V" or "3315 V"', '"3 V,315 V"']),
        ("3.31,3.29 V", ['two values write "3.31 V,3.29 V"']),  # one value it cannot be
    ],
)
def test_a_comma_that_may_part_two_values_or_one_is_refused_with_the_ways_to_write_it(
    text: str, ways: list[str]
) -> None:
    with pytest.raises(Unreadable) as fault:
        reader(INPUTS["capacity-check.before"])(text)
    assert all(way in fault.value.message for way in ways), fault.value.message
    assert "3.31.3.29" not in fault.value.message


RATES = {name: entry for name, entry in INPUTS.items() if isinstance(entry.spec, Rate)}


@pytest.mark.parametrize("entry", RATES.values(), ids=RATES)
@pytest.mark.parametrize(
    ("value", "told"),
    [
        ("1.5 A", '"1.5 A" was read'),
        ("150 %", '"150 %" was read'),
        ("fast", '"fast" was read'),
        (True, "true was read"),
        ({"value": 1.5, "unit": "C"}, "an object was read"),
        ("1,5", '"1,5" was read: write "1.5C", with a decimal point'),
        ("1,5 C", '"1,5 C" was read: write "1.5C", with a decimal point'),
    ],
)
def test_what_is_no_rate_is_shown_how_one_is_written(entry: Input, value: Any, told: str) -> None:
    assert outcome(reader(entry), value) == ("not_a_number", f'must be a rate like "1.5C"; {told}')
    assert reader(entry)("1.5C") == 1.5


@pytest.mark.parametrize("entry", INPUTS.values(), ids=INPUTS)
def test_a_figure_past_its_bound_by_no_more_than_rounding_is_the_bound(entry: Input) -> None:
    spec, read = entry.spec, reader(entry)
    assert isinstance(spec, Quantity | Number)
    for bound, sign in ((spec.at_least, -1), (spec.at_most, 1)):
        limit = 0.0 if bound is None else spec.si(bound) if isinstance(spec, Quantity) else float(bound)
        if isinstance(spec, Count) or not limit:
            continue

        def past(part: float, limit: float = limit, sign: int = sign) -> Any:
            size = limit + part * sign * abs(limit)
            return f"{converted(size, spec.unit)!r} {spec.unit}" if isinstance(spec, Quantity) else repr(size)

        assert np.all(read(past(5e-10)) == limit)
        assert outcome(read, past(2e-9))[0] == "out_of_range"


@pytest.mark.parametrize(
    ("asked", "value", "told"),
    [
        ("wattage.cells", "3S", '"3"'),
        ("wattage.cells", "6s2p", '"6"'),
        ("flight-timer.flight_time", "6 min 30 s", '"6:30"'),
        ("flight-timer.flight_time", "6m30s", '"6:30"'),
        ("flight-timer.flight_time", "12 min 5", '"12:05"'),
        ("flight-timer.flight_time", "1h20", '"80 min"'),
        ("flight-timer.flight_time", "1:06:30", '"66:30"'),
        ("flight-timer.flight_time", "6:75", '"7:15"'),
        ("sag.duration", "1 min 10 s", '"1:10"'),
        ("balance-need.cell_voltages", "3.86 3.91 3.87 V", '"3.86,3.91,3.87 V"'),
        ("balance-need.cell_voltages", "3,86; 3,91; 3,87 V", '"3.86,3.91,3.87 V"'),
        ("balance-need.cell_voltages", "3,86V,3,91V", '"3.86V,3.91V"'),
        ("sag.cell_resistance", "8,5mohm,9,2mohm", '"8.5mohm,9.2mohm"'),
        ("sag.cell_resistance", "8.5 mΩ 9 mΩ", '"8.5 mΩ,9 mΩ"'),
    ],
)
def test_what_fliers_write_is_refused_with_how_to_write_it(asked: str, value: str, told: str) -> None:
    with pytest.raises(Unreadable) as caught:
        reader(INPUTS[asked])(value)
    assert f"write {told}" in caught.value.message


@pytest.mark.parametrize(
    ("asked", "bare", "told"),
    [
        ("let-down.load_resistance", "10", '"10 Ω" or "10 mΩ"'),
        ("balance-need.bleed_current", "200", '"200 mA" or "200 A"'),
        ("balance-need.limit", 20, '"20 mV" or "20 V"'),
        ("field-energy.source_capacity", "12", '"12 Ah" or "12 mAh"'),
        ("wattage.capacity", "2250", '"2250 mAh"'),
        ("flight-timer.flight_time", "6", '"6 min"'),
    ],
)
def test_a_bare_number_is_told_the_unit_that_is_usual_for_this_input(asked: str, bare: Any, told: str) -> None:
    with pytest.raises(Unreadable) as caught:
        reader(INPUTS[asked])(bare)
    assert caught.value.code == "unit_missing"
    assert caught.value.message == f"needs a unit: write {told}"


GAUGES = {
    f"{calculator.name}.{name}": entry
    for calculator in registry().values()
    for name, entry in calculator.inputs.items()
    if isinstance(entry.spec, Text) and entry.spec.measured
}


@pytest.mark.parametrize("entry", GAUGES.values(), ids=GAUGES)
def test_a_size_in_words_of_its_own_is_read_as_an_object_too(entry: Input) -> None:
    for size, unit, said in ((16, "AWG", "16 AWG"), (2.5, "mm²", "2.5 mm²"), ("2.5", "mm²", "2.5 mm²")):
        assert reader(entry)({"value": size, "unit": unit}) == said
    for odd in ([16], None, {"value": 16}):
        with pytest.raises(Unreadable, match="must be text"):
            reader(entry)({"value": odd, "unit": "AWG"})
    assert [reader(entry)(bare) for bare in (16, 2.5, "16 AWG")] == ["16", "2.5", "16 AWG"]
    with pytest.raises(Unreadable, match="must be text"):
        reader(entry)(True)


@pytest.mark.parametrize(("value", "cure"), [(20, ': write "20 %"'), ("80", ': write "80 %"'), (2000, ""), (-0.5, "")])
def test_a_share_that_is_told_in_percent_is_shown_how_that_is_written(value: Any, cure: str) -> None:
    with pytest.raises(Unreadable) as caught:
        reader(INPUTS["endurance.reserve"])(value)
    assert caught.value.code == "out_of_range"
    assert caught.value.message.endswith(f" was read{cure}")

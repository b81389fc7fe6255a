"""No pack is promised more for being limited, colder, older or weaker: whatever the pack, whatever the charger."""

from typing import Any

from hypothesis import assume, given
from hypothesis import strategies as st
from reference.asking import answer

SMALL = 1e-6
FULL = {"lipo": 4.2, "lihv": 4.35, "liion": 4.2, "life": 3.6}
EMPTY = {"lipo": 3.0, "lihv": 3.0, "liion": 2.6, "life": 2.6}
LIMITS = {
    "max_rate": st.floats(0.1, 5),
    "charger_current_limit": st.floats(0.1, 20).map(lambda limit: f"{limit!r} A"),
    "charger_power_limit": st.floats(1, 400).map(lambda limit: f"{limit!r} W"),
    "supply_limit": st.floats(1, 400).map(lambda limit: f"{limit!r} W"),
}


@st.composite
def packs(draw: st.DrawFn) -> dict[str, Any]:
    """A lithium pack told cell by cell, level or not, cold or hot."""
    chemistry = draw(st.sampled_from(sorted(FULL)))
    cells = draw(st.integers(1, 6))
    volts = st.floats(EMPTY[chemistry] - 0.3, FULL[chemistry])
    at = draw(volts)
    near = st.floats(-0.03, 0.03).map(lambda off: min(max(at + off, 0.5), FULL[chemistry]))
    readings = draw(st.lists(st.one_of(near, near, near, volts), min_size=cells, max_size=cells))
    return {
        "chemistry": chemistry,
        "cells": cells,
        "capacity": f"{draw(st.integers(300, 8000))} mAh",
        "cell_voltages": [f"{reading!r} V" for reading in readings],
        "temperature": f"{draw(st.floats(-20, 60))!r} °C",
        "rate": draw(st.floats(0.1, 5)),
    }


def charged(pack: dict[str, Any]) -> dict[str, Any]:
    return answer("charge-current", **pack)


@given(packs(), st.dictionaries(st.sampled_from(sorted(LIMITS)), st.just(None), max_size=4), st.data())
def test_one_limit_more_never_raises_the_current(
    pack: dict[str, Any], limits: dict[str, None], data: st.DataObject
) -> None:
    one = pack | {name: data.draw(LIMITS[name]) for name in limits}
    for name in LIMITS.keys() - limits.keys():
        more = charged(one | {name: data.draw(LIMITS[name])})
        assert more["current"] <= charged(one)["current"] * (1 + SMALL)


@given(packs(), st.floats(0, 40))
def test_a_colder_pack_is_never_charged_harder_nor_higher(pack: dict[str, Any], colder: float) -> None:
    warm = float(pack["temperature"].split()[0])
    assume(warm <= 40 and warm - colder >= -20)
    one, other = charged(pack), charged(pack | {"temperature": f"{warm - colder!r} °C"})
    assert other["current"] <= one["current"] * (1 + SMALL)
    assert other["end_voltage"] <= one["end_voltage"] + SMALL


@given(packs(), st.floats(0, 20))
def test_a_pack_hotter_than_room_is_never_charged_harder(pack: dict[str, Any], hotter: float) -> None:
    one = charged(pack | {"temperature": "25 °C"})
    other = charged(pack | {"temperature": f"{25 + hotter!r} °C"})
    assert other["current"] <= one["current"] * (1 + SMALL)


@given(packs(), st.integers(0, 5), st.floats(0, 1.5))
def test_one_cell_lower_than_its_fellows_never_raises_the_current(
    pack: dict[str, Any], place: int, lower: float
) -> None:
    readings = [float(reading.split()[0]) for reading in pack["cell_voltages"]]
    level = [max(readings)] * len(readings)
    spoilt = list(level)
    spoilt[place % len(level)] = max(level[0] - lower, 0)
    assume(len(level) > 1 and level[0] < FULL[pack["chemistry"]] - 0.01)
    one = charged(pack | {"cell_voltages": [f"{reading!r} V" for reading in level]})
    other = charged(pack | {"cell_voltages": [f"{reading!r} V" for reading in spoilt]})
    assert other["current"] <= one["current"] * (1 + SMALL)


@given(packs(), st.sampled_from(["swollen", "damaged", "wet", "crashed"]))
def test_an_unsound_pack_is_never_charged(pack: dict[str, Any], condition: str) -> None:
    assert charged(pack | {"condition": condition})["current"] == 0


@given(packs(), st.floats(2, 30), st.floats(1, 3))
def test_a_pack_of_risen_resistance_is_never_promised_more_draw(
    pack: dict[str, Any], milliohms: float, risen: float
) -> None:
    told = {name: pack[name] for name in ("chemistry", "cells", "capacity")}
    one = answer("safe-draw", **told, cell_resistance=f"{milliohms!r} mΩ")
    other = answer("safe-draw", **told, cell_resistance=f"{milliohms * risen!r} mΩ")
    for name in ("continuous_current", "burst_current"):
        assert other[name] <= one[name] * (1 + SMALL)


@given(packs(), st.floats(0.2, 6), st.floats(2, 20), st.floats(1, 3), st.floats(0.5, 1), st.floats(0, 40))
def test_an_older_or_colder_pack_is_never_promised_a_longer_flight(
    pack: dict[str, Any], rate: float, milliohms: float, risen: float, left: float, colder: float
) -> None:
    capacity = float(pack["capacity"].split()[0])
    new = {
        "chemistry": pack["chemistry"],
        "cells": pack["cells"],
        "capacity": f"{capacity} mAh",
        "cell_resistance": f"{milliohms!r} mΩ",
        "current": f"{rate * capacity / 1000!r} A",
        "temperature": "20 °C",
    }
    one = answer("endurance", **new)
    changes = [{"cell_resistance": f"{milliohms * risen!r} mΩ"}, {"capacity": f"{capacity * left!r} mAh"}]
    if one["ended_by"] != "heat":  # a colder pack takes longer to become too hot
        changes.append({"temperature": f"{20 - colder!r} °C"})
    for changed in changes:
        other = answer("endurance", **new | changed)["time_flight"]
        assert (other or 0) <= (one["time_flight"] or 0) * (1 + 1e-4), changed

"""Trends at 25 °C, like with like; the line and its band are held against scipy, corrections against the service."""

from __future__ import annotations

from datetime import date, timedelta
from math import exp
from pathlib import Path

import pytest
from scipy import stats

from ampstead_client import AmpsteadClient, Quantity
from ampstead_client.packs import PackList, Trend
from ampstead_client.packs.trends import STUDENT, Point, trend

PACK = '[[pack]]\nid = "c"\nname = "red trainer C"\ncells = 3\ncapacity = "2250 mAh"\n'
CLIENT = AmpsteadClient.embedded()


def listed(tmp_path: Path, *readings: str, pack: str = PACK) -> PackList:
    path = tmp_path / "packs.toml"
    path.write_text(pack + "".join(f"[[pack.reading]]\n{reading}\n" for reading in readings), encoding="utf-8")
    return PackList.load(path)


def resistance(day: str, value: str, temperature: str | None = "25 °C", method: str = "1s") -> str:
    warm = f'temperature = "{temperature}"\n' if temperature else ""
    return f'date = {day}\nkind = "cell_resistance"\nvalue = "{value}"\nmethod = "{method}"\n{warm}'


def capacity(day: str, value: str, more: str) -> str:
    return f'date = {day}\nkind = "measured_capacity"\nvalue = "{value}"\n{more}\n'


def trends(tmp_path: Path, *readings: str, pack: str = PACK) -> tuple[Trend, ...]:
    return listed(tmp_path, *readings, pack=pack).report(CLIENT)[0].trends


def test_the_line_and_its_band_are_those_of_scipy() -> None:
    days = [0, 40, 131, 200, 365]
    values = [8.5, 9.0, 9.4, 11.0, 14.0]
    points = [Point(date(2025, 4, 12) + timedelta(day), value, value, value) for day, value in zip(days, values)]  # noqa: B905
    made = trend("cell_resistance", "1s", points, 0.1)
    fit = stats.linregress([day / 365.25 for day in days], values)
    reach = fit.stderr * stats.t.ppf(0.975, 3)
    assert made.per_year is not None
    assert made.low is not None
    assert made.high is not None
    assert made.per_year.value == pytest.approx(fit.slope)
    assert made.low.value == pytest.approx(fit.slope - reach, rel=2e-4)
    assert made.high.value == pytest.approx(fit.slope + reach, rel=2e-4)


def test_the_table_of_student_is_that_of_scipy() -> None:
    assert [pytest.approx(stats.t.ppf(0.975, degrees), abs=5e-4) for degrees in range(1, 31)] == list(STUDENT)


def test_readings_on_one_line_are_no_surer_than_the_step_they_are_read_in(tmp_path: Path) -> None:
    days = ("2025-04-12", "2025-10-12", "2026-04-12")
    [coarse] = trends(tmp_path, *(resistance(day, f"{value} mΩ") for day, value in zip(days, (8, 9, 10), strict=True)))
    [fine] = trends(
        tmp_path, *(resistance(day, f"{value} mΩ") for day, value in zip(days, (8.01, 9.01, 10.01), strict=True))
    )
    widths = [made.high.value - made.low.value for made in (coarse, fine) if made.high and made.low]
    assert widths[0] > 5
    assert 0 < widths[1] < 0.1 * widths[0]


def test_no_trend_is_told_below_three_readings_on_three_days(tmp_path: Path) -> None:
    days = ["2025-04-12", "2025-10-12", "2026-04-12"]
    [two] = trends(tmp_path, *(resistance(day, "9 mΩ") for day in days[:2]))
    [same] = trends(tmp_path, *(resistance(day, "9 mΩ") for day in [*days[:2], days[1]]))
    [three] = trends(tmp_path, *(resistance(day, "9 mΩ") for day in days))
    assert two.per_year is same.per_year is None
    assert two.low is two.high is None
    assert two.words == "no trend yet: read on 2 days, 3 are needed"
    assert three.per_year is not None
    assert three.per_year.value == pytest.approx(0, abs=1e-9)
    assert "no sure change" in three.words


def test_only_readings_of_one_method_are_compared(tmp_path: Path) -> None:
    mixed = [
        resistance("2025-04-12", "9 mΩ", method="charger"),
        resistance("2025-08-12", "6 mΩ", method="1kHz"),
        resistance("2025-12-12", "9 mΩ", method="charger"),
        resistance("2026-04-12", "9 mΩ"),
    ]
    made = trends(tmp_path, *mixed)
    assert {(each.method, len(each.points)) for each in made} == {("charger", 2), ("1kHz", 1), ("1s", 1)}
    assert all(each.per_year is None for each in made)
    assert made[0].method == "1s"  # the latest first


def test_a_pack_that_only_was_colder_and_warmer_shows_no_change(tmp_path: Path) -> None:
    """The same cell of 10 mΩ at 25 °C, by Arrhenius with 20 kJ/mol (general lithium-ion: the published tables that the
    service names), read at three temperatures."""
    seasons = {"2025-04-12": 13.0, "2025-08-12": 33.0, "2025-12-12": 13.0, "2026-04-12": 25.0}
    read = {
        day: 10 * exp(20000 / 8.314462618 * (1 / (degrees + 273.15) - 1 / 298.15)) for day, degrees in seasons.items()
    }
    assert max(read.values()) - min(read.values()) > 5
    [made] = trends(tmp_path, *(resistance(day, f"{read[day]:.3f} mΩ", f"{seasons[day]} °C") for day in seasons))
    assert [point.value for point in made.points] == pytest.approx([10] * 4, abs=0.001)
    assert made.low is not None
    assert made.high is not None
    assert made.low.value < 0 < made.high.value
    # What the correction leaves open is in the band: three of the readings may be off by a tenth or so.
    assert made.high.value - made.low.value > 1
    assert all(point.low < point.value < point.high for point in made.points[:3])


def test_a_reading_without_temperature_or_out_of_the_service_s_range_is_in_no_trend(tmp_path: Path) -> None:
    [made] = trends(
        tmp_path,
        resistance("2025-04-12", "9 mΩ", None),
        resistance("2025-08-12", "9 mΩ", "95 °C"),
        resistance("2025-12-12", "9 mΩ", "77 °F"),
    )
    assert [point.date.isoformat() for point in made.points] == ["2025-12-12"]


def test_a_trend_of_cells_is_that_of_their_mean(tmp_path: Path) -> None:
    [made] = trends(tmp_path, resistance("2026-04-11", "8.5, 9, 14 mΩ"))
    assert made.points[0].value == pytest.approx(10.5)


def test_a_capacity_between_resting_voltages_needs_no_correction(tmp_path: Path) -> None:
    [made] = trends(tmp_path, capacity("2026-04-11", "2140 mAh", 'temperature = "13 °C"\nmethod = "capacity-check"\n'))
    assert made.points[0].value == made.points[0].low == made.points[0].high == 2140


def test_a_capacity_drawn_in_the_cold_is_corrected_by_what_the_cold_takes_at_that_current(tmp_path: Path) -> None:
    drawn = 'method = "discharge"\ncurrent = "23 A"\n'
    [made] = trends(
        tmp_path,
        capacity("2025-04-11", "2000 mAh", 'temperature = "-5 °C"\n' + drawn),
        capacity("2025-08-11", "2000 mAh", 'temperature = "33 °C"\n' + drawn),
        capacity("2025-12-11", "2000 mAh", 'temperature = "13 °C"\nmethod = "discharge"\n'),
    )
    cold, warm = made.points
    assert (warm.low, warm.value, warm.high) == (2000, 2000, 2000)
    assert cold.low <= cold.value <= cold.high
    whole, left = (
        CLIENT.flight_timer(
            flight_time=Quantity(0.8 * 2.25 / 23 * 60, "min"),
            charge_returned="1800 mAh",
            capacity="2250 mAh",
            next_temperature=temperature,
        ).timer
        for temperature in (None, "-5 °C")
    )
    assert left < whole
    assert cold.value == pytest.approx(2000 * whole.value / left.value)


def test_a_lead_battery_s_cold_counts_at_any_current(tmp_path: Path) -> None:
    """One percent a kelvin: common practice, no published source; that of the service."""
    field = '[[pack]]\nid = "f"\nname = "field battery"\nchemistry = "lead"\ncells = 6\ncapacity = "38 Ah"\n'
    cold = 'temperature = "13 °C"\nmethod = "discharge"\ncurrent = "2 A"\n'
    [made] = trends(tmp_path, capacity("2026-04-11", "33 Ah", cold), pack=field)
    assert made.points[0].value == pytest.approx(33000 / 0.88, rel=0.01)

"""The most that a pack can give, limit by limit, against sums worked by hand and a steady walk through each load."""

from math import exp, inf
from typing import Any

import numpy as np
import pytest

from ampstead.inputs.pack import Pack
from ampstead.inputs.warming import Thermal
from ampstead.judging.bands import Resisting
from ampstead.judging.drawing import DrawLimits, draw_limits

HOUR = 3600.0
OHM, CHARGE, MASS = 0.0085, 2.25 * 3600.0, 0.0555


def limits(pack: dict[str, Any] | None = None, thermal: dict[str, Any] | None = None, **asked: Any) -> DrawLimits:
    told: dict[str, Any] = {"cells": 3, "capacity": CHARGE, "cell_resistance": OHM, "polarisation_resistance": 0.0}
    made = Pack(**told | {"state_of_charge": 1.0} | (pack or {}))
    warmth = {"ambient": made.temperature, "cell_mass": MASS, "entropy_coefficient": 0.0} | (thermal or {})
    return draw_limits(made, Thermal(**warmth), **{"floor": 3.3, "depth": 0.8, "burst_duration": 10.0} | asked)


def test_the_heat_limit_is_the_energy_that_warms_the_cell() -> None:
    """m·c·ΔT = I²·R·t with I·t = 0.8·Q and c = 1000 J/kgK."""
    assert limits().heat == pytest.approx(MASS * 1000 * 35 / (OHM * 0.8 * CHARGE), rel=1e-9)
    assert limits({"temperature": 333.15}, {"ambient": 298.15}).heat == 0


def test_the_voltage_limit_is_what_each_cell_has_above_its_floor_at_the_end() -> None:
    """3.69398 V at a fifth: Ai et al. 2020, as shipped by PyBaMM 26.10, in the table of this project."""
    rest = float(Pack(cells=1, state_of_charge=0.2).curve.voltage(0.2))
    ohms = np.array([0.008, 0.012, 0.009])
    found = limits({"cell_resistance": ohms, "polarisation_resistance": ohms / 2})
    assert found.voltage == pytest.approx((rest - 3.3) / (1.5 * ohms))
    assert found.weakest_cell == 2
    assert found.continuous == min(found.heat, (rest - 3.3) / 0.018)


def test_the_smallest_cell_is_the_emptiest() -> None:
    found = limits({"capacity": np.array([CHARGE, CHARGE, 0.95 * CHARGE])})
    assert found.weakest_cell == 3
    assert found.voltage[0] == pytest.approx(found.voltage[1])
    assert found.voltage[2] < found.voltage[0]


def test_a_factor_on_the_resistance_divides_what_the_voltage_allows() -> None:
    assert limits(resisting=Resisting(2.0, 2.0)).voltage == pytest.approx(limits().voltage / 2)
    assert limits(resisting=Resisting(2.0, 2.0)).heat == pytest.approx(limits().heat / 2)


def test_the_flight_before_the_burst_goes_by_margin_and_label() -> None:
    found = limits()
    assert found.flown == pytest.approx(0.8 * found.continuous)
    assert limits(margin=0.5).flown == pytest.approx(0.5 * found.continuous)
    assert limits(label=20.0).flown == pytest.approx(16)
    risen = OHM * found.flown**2 * (0.8 * CHARGE / found.flown) / (MASS * 1000)
    assert found.landing == pytest.approx(298.15 + risen, rel=1e-9)


def test_the_burst_ends_at_the_floor_its_own_charge_and_what_the_flight_left_counted() -> None:
    slow, tau = OHM / 2, 30.0
    found = limits({"polarisation_resistance": slow, "polarisation_time": tau})
    flight = 0.8 * CHARGE / found.flown
    left = slow * found.flown * (1 - exp(-flight / tau))
    I = found.burst_voltage
    rest = float(Pack(cells=1, state_of_charge=0.2).curve.voltage(0.2 - 10 * I / CHARGE))
    end = rest - I * (OHM + slow * (1 - exp(-10 / tau))) - left * exp(-10 / tau)
    begin = float(Pack(cells=1, state_of_charge=0.2).curve.voltage(0.2)) - I * OHM - left
    assert min(end, begin) == pytest.approx(3.3, abs=1e-9)


def test_the_burst_may_warm_what_the_flight_has_left() -> None:
    found = limits({"cell_resistance": 0.002}, floor=2.0, label=30.0)
    assert found.burst_heat == pytest.approx(((333.15 - found.landing) * MASS * 1000 / (0.002 * 10)) ** 0.5, rel=1e-6)
    assert found.burst == min(found.burst_heat, found.burst_voltage)


def test_a_pack_that_cools_has_more_resistance_and_is_promised_less() -> None:
    still = limits({"temperature": 298.15})
    cold = limits({"temperature": 298.15}, {"ambient": 263.15, "cooling": 1.0})
    assert np.all(cold.voltage < still.voltage)
    ratio = exp(20e3 / 8.314462618 * (1 / cold.landing - 1 / 298.15))
    assert cold.voltage == pytest.approx(still.voltage / ratio, rel=1e-3)
    assert cold.late.ohmic == pytest.approx(OHM * ratio, rel=1e-3)
    assert still.late.ohmic == pytest.approx([OHM] * 3)


@pytest.mark.parametrize("place", range(3))
def test_each_cell_that_cools_has_more_resistance_also_beside_one_that_warms(place: int) -> None:
    """m·c·dT/dt = I²·R − h·(T − T_air), solved by hand for each cell, R as at the start."""
    ohms = np.full(3, 0.002)
    ohms[place] = 0.03
    start, air, cooling = 298.15, 263.15, 0.05
    found = limits({"cell_resistance": ohms, "temperature": start}, {"ambient": air, "cooling": cooling})
    flight = 0.8 * CHARGE / found.flown
    settled = air + found.flown**2 * ohms / cooling
    ends = settled + (start - settled) * np.exp(-cooling * flight / (MASS * 1000))
    assert np.flatnonzero(ends > start).tolist() == [place]
    more = np.exp(20e3 / 8.314462618 * (1 / ends - 1 / start))
    assert found.late.ohmic == pytest.approx(ohms * np.maximum(more, 1.0), rel=1e-6)
    rest = float(Pack(cells=1, state_of_charge=0.2).curve.voltage(0.2))
    assert found.voltage == pytest.approx((rest - 3.3) / found.late.ohmic, rel=1e-6)


def test_a_cell_at_its_floor_gives_nothing_and_no_flight_precedes_the_burst() -> None:
    found = limits(floor=3.75)
    assert found.continuous == found.flown == found.burst_voltage == 0
    assert found.landing == pytest.approx(298.15)


def test_the_cell_that_warms_most_sets_the_heat_limit_wherever_it_stands() -> None:
    masses = np.array([MASS, MASS, 0.7 * MASS])
    alone = limits(thermal={"cell_mass": 0.7 * MASS})
    assert limits(thermal={"cell_mass": masses}).heat == pytest.approx(alone.heat)
    ohms = np.array([OHM, 0.012, OHM])
    worst = limits({"cell_resistance": ohms}, {"cell_mass": np.array([0.03, MASS, MASS])})
    each = [limits({"cell_resistance": R}, {"cell_mass": m}).heat for R, m in ((OHM, 0.03), (0.012, MASS))]
    assert worst.heat == pytest.approx(min(each))


def test_enough_air_takes_all_the_heat() -> None:
    assert limits(thermal={"cooling": 1e3}).heat > 1e2
    assert limits(thermal={"cooling": 1e3}).heat < inf


def test_the_warmest_cell_sets_the_heat_limit_also_where_its_slow_part_makes_it_so() -> None:
    """The one with less of the fast part may warm more: that of all cells alone that bears the least counts."""
    ohms, slow = np.array([0.010, 0.009, 0.008]), np.array([0.001, 0.009, 0.002])
    alone = [
        limits({"cells": 1, "cell_resistance": R, "polarisation_resistance": more}, {"cooling": 0.05}).heat
        for R, more in zip(ohms, slow, strict=True)
    ]
    together = limits({"cell_resistance": ohms, "polarisation_resistance": slow}, {"cooling": 0.05})
    assert together.heat == pytest.approx(min(alone), rel=1e-6)
    assert int(np.argmin(alone)) == 1
    assert max(alone) > 1.1 * min(alone)

"""A field battery as a supply: what it holds against what it lasts for."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ampstead.inputs.source import FieldSource
from ampstead.planning.battery import SourceLimits

LEAD = FieldSource(chemistry="lead", cells=6, capacity=38 * 3600.0, cell_resistance=2e-3, polarisation_resistance=1e-3)
LIFE = FieldSource(chemistry="life", cells=4, capacity=50 * 3600.0, cell_resistance=1e-3, polarisation_resistance=5e-4)


@pytest.mark.parametrize(("source", "peukert"), [(LEAD, 1.25), (LIFE, 1.0)])
@given(power=st.floats(1.0, 400.0), hours=st.floats(0.2, 40.0), depth=st.floats(0.1, 1.0))
def test_a_battery_never_lasts_for_more_energy_than_it_holds(
    source: FieldSource, peukert: float, power: float, hours: float, depth: float
) -> None:
    limits = SourceLimits(source, depth, floor=5.0, lead=0.01, peukert=peukert, hours=20.0)
    steps = 300
    if limits.lasts(np.full(steps, power), hours * 3600.0 / steps):
        assert power * hours * 3600.0 <= limits.energy


@pytest.mark.parametrize(("source", "peukert"), [(LEAD, 1.0), (LIFE, 1.0)])
def test_drawn_slowly_it_gives_nearly_all_of_that(source: FieldSource, peukert: float) -> None:
    limits = SourceLimits(source, 0.5, floor=5.0, lead=0.0, peukert=peukert, hours=20.0)
    power = 2.0
    steps = 4000
    assert limits.lasts(np.full(steps, power), 0.97 * limits.energy / power / steps)

"""A field source run down: what must hold at the edge of what it can do."""

import numpy as np
import pytest

from ampstead.cell.wiring.drain import drained
from ampstead.inputs.pack import Pack

HOUR = 3600.0


@pytest.mark.parametrize("peukert", [1.0, 1.25])
@pytest.mark.parametrize("celsius", [-5.0, 13.0, 25.0])
@pytest.mark.parametrize("state", [0.6, 1.0])
def test_a_floor_at_the_very_voltage_that_a_source_begins_with_ends_it_at_once(
    peukert: float, celsius: float, state: float
) -> None:
    source = Pack(
        chemistry="lead", cells=6, capacity=38 * HOUR, cell_resistance=2.2e-3,
        polarisation_resistance=1.1e-3, state_of_charge=state, temperature=celsius + 273.15,
    ).resolved()  # fmt: skip
    for power in (31.0, 90.0, 180.0):
        run = drained(source, power, 0.01, 0.5, 9.0, peukert, 20 * HOUR)
        begins = power / float(run.currents[0])
        for rounding in range(-12, 13):
            ended = drained(source, power, 0.01, 0.5, begins * (1 + rounding * 2**-52), peukert, 20 * HOUR)
            assert ended.ended_by == "input-floor"
            assert not len(ended.times) or ended.times[-1] == pytest.approx(0.0, abs=1e-3)
            assert np.all(np.isfinite(ended.charges))

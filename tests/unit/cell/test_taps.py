"""Currents through joined balance plugs, against laws that hold for any network."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from ampstead.cell.board.taps import tap_currents

WIRE = 0.03


def test_two_packs_of_two_cells_by_hand() -> None:
    cells, R = np.array([[4.0, 3.6], [3.8, 3.8]]), 0.008
    flows = tap_currents(cells, np.full((2, 2), R), np.zeros(2), WIRE)
    # Open, the taps stand 0.2 V apart; the loop is half a cell's resistance of each pack and the whole wire.
    assert flows[:, 0] == pytest.approx([0.2 / (R + WIRE), -0.2 / (R + WIRE)])


def test_packs_that_differ_evenly_send_nothing_through_their_plugs() -> None:
    cells = np.array([[3.8] * 4, [3.9] * 4])
    assert np.abs(tap_currents(cells, np.full((2, 4), 0.007), np.zeros(2), WIRE)).max() < 1e-9


def test_one_cell_has_no_taps_between() -> None:
    assert tap_currents(np.array([[3.8], [3.9]]), np.full((2, 1), 0.007), np.zeros(2), WIRE).shape == (2, 0)


@given(
    arrays(float, (3, 5), elements=st.floats(3.0, 4.2)),
    arrays(float, (3, 5), elements=st.floats(0.001, 0.03)),
    arrays(float, (3,), elements=st.floats(0, 0.02)),
)
def test_currents_add_up_and_every_loop_closes(cells: Any, ohmic: Any, leads: Any) -> None:
    flows = tap_currents(cells, ohmic, leads, WIRE)
    assert flows.sum(axis=0) == pytest.approx(np.zeros(4), abs=1e-7)  # at every common tap
    # From the flows alone: each pack's first cell gives what the plus and its own taps leave, then every voltage.
    R = ohmic.copy()
    R[:, -1] += leads
    drawn = np.concatenate([np.zeros((3, 1)), np.cumsum(flows, axis=1)], axis=1)  # by taps before each cell
    free = (cells.sum(axis=1) + (drawn * R).sum(axis=1)) / R.sum(axis=1)
    part = 1 / R.sum(axis=1)
    plus = (free.sum() - drawn[:, -1].sum()) / part.sum()  # what reaches the plus adds up to nought
    first = free - plus * part
    taps = np.cumsum(cells - (first[:, None] - drawn) * R, axis=1)[:, :-1]
    assert np.ptp(taps - flows * WIRE / 2, axis=0) == pytest.approx(np.zeros(4), abs=1e-7)

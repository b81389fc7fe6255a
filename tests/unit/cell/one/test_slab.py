"""A block in air, held against a textbook's table, against scipy, and against what any cooling obeys."""

from math import exp, log, pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.wall import temperatures

from ampstead.cell.one.slab import CONDUCTIVITY, DENSITY, EARLIEST, Slab, modes

masses = st.floats(0.01, 10)
films = st.floats(1, 100)


def block(mass: float, film: float) -> Slab:
    return Slab(mass, film * Slab(mass, 0.0).surface)


# Çengel, Heat and Mass Transfer, table of the one-term coefficients of the plane wall; Incropera prints the same.
# Figures from memory.
@pytest.mark.parametrize(
    ("biot", "zeta", "factor"),
    [(0.01, 0.0998, 1.0017), (0.1, 0.3111, 1.0161), (1.0, 0.8603, 1.1191), (2.0, 1.0769, 1.1785),
     (10.0, 1.4289, 1.2620), (100.0, 1.5552, 1.2731)],
)  # fmt: skip
def test_the_first_mode_is_that_of_the_textbook(biot: float, zeta: float, factor: float) -> None:
    found, C = modes(biot)
    assert found[0] == pytest.approx(zeta, abs=6e-5)
    assert C[0] == pytest.approx(factor, abs=6e-5)


@given(biot=st.floats(1e-6, 1e4))
def test_each_mode_is_a_root_in_its_own_interval(biot: float) -> None:
    zeta, C = modes(biot)
    order = np.arange(len(zeta))
    assert np.all((order * pi <= zeta) & (zeta <= (order + 0.5) * pi))
    assert zeta * np.sin(zeta) == pytest.approx(biot * np.cos(zeta), abs=1e-9 * (1 + biot))
    # At the start the sum is 1 throughout: the mean square of the modes' sizes (Parseval) tells it without a Gibbs end.
    part = (C * np.sin(zeta) / zeta).sum()
    assert part == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize(("mass", "film"), [(0.12, 5.0), (0.17, 8.0), (0.6, 25.0), (3.0, 50.0)])
def test_middle_and_skin_run_as_scipy_solves_the_equation_of_conduction(mass: float, film: float) -> None:
    slab = block(mass, film)
    half = slab.thickness / 2
    film_at_faces = slab.biot * CONDUCTIVITY / half
    times = slab.halving * np.array([0.3, 1.0, 2.0, 4.0])
    middle, skin = temperatures(half=half, conductivity=CONDUCTIVITY, volumetric_heat=DENSITY * 1000.0,
                                film=film_at_faces, start=1.0, air=0.0, times=times)  # fmt: skip
    assert slab.middle(times) == pytest.approx(middle, rel=1e-4)
    assert slab.skin(times) == pytest.approx(skin, rel=1e-4)


@given(mass=masses, share=st.floats(0.01, 0.9))
def test_where_air_takes_little_the_block_cools_as_one_lump(mass: float, share: float) -> None:
    slab = block(mass, 0.01)
    assert slab.time_to(share) == pytest.approx(mass * 1000.0 / slab.cooling * log(1 / share), rel=0.01)
    assert slab.halving == pytest.approx(mass * 1000.0 / slab.cooling * log(2), rel=0.01)


@given(mass=masses, film=films, share=st.floats(1e-6, 0.999))
def test_the_time_to_a_share_is_when_the_middle_has_it_and_the_skin_less(
    mass: float, film: float, share: float
) -> None:
    slab = block(mass, film)
    time = slab.time_to(share)
    assert time >= EARLIEST / slab.pace * (1 - 1e-9)
    if time > EARLIEST / slab.pace * 1.01:
        assert float(slab.middle(time)) == pytest.approx(share, rel=1e-9)
    assert float(slab.skin(time)) <= share + 1e-9


@given(mass=masses, film=films, share=st.floats(0.01, 0.99), more=st.floats(1.01, 5))
def test_more_mass_or_less_air_never_cools_sooner(mass: float, film: float, share: float, more: float) -> None:
    time = block(mass, film).time_to(share)
    assert block(mass * more, film).time_to(share) >= time
    assert block(mass, film * more).time_to(share) <= time * (1 + 1e-9)


def test_what_lies_beyond_the_air_is_never_reached_and_what_is_there_needs_no_time() -> None:
    slab = block(0.17, 8.0)
    assert slab.time_to(1.0) == 0
    assert slab.time_to(0.0) == slab.time_to(-0.2) == float("inf")
    assert Slab(0.17, 0.0).time_to(0.5) == float("inf")
    assert Slab(0.17, 0.0).halving == float("inf")


def test_after_each_halving_time_half_is_left() -> None:
    slab = block(0.5, 12.0)
    late = slab.middle(np.array([3.0, 4.0]) * slab.halving)
    assert late[1] / late[0] == pytest.approx(exp(-log(2)), rel=1e-6)

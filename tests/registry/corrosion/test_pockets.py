import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.corrosion import pockets
from registry.corrosion.rates import iron_per_oxygen
from registry.corrosion.waterline import reach_of_half

SERVICE = 1.1355e6  # 150 psig


@given(
    st.floats(0.0, 0.21),
    st.floats(2e5, 2e6),
    st.floats(0.02, 0.3),
    st.floats(0.05, 0.5),
    st.floats(5e-4, 5e-3),
)
def test_half_of_a_pockets_oxygen_turns_into_iron_of_the_strips(y, pressure, bore, fill, film):
    depth = pockets.strip_depth(y, pressure, 293.15, bore, fill=fill, film=film)
    reach = reach_of_half(bore, 1 - fill, film)
    iron = 2.0 * depth * reach * 7870.0
    moles = y * pressure * fill * math.pi / 4 * bore**2 / (8.314462618 * 293.15)
    assert iron == pytest.approx(0.5 * moles * 31.998e-3 * iron_per_oxygen(), rel=1e-9, abs=1e-18)


def test_depth_of_a_fill_by_bore_is_unchanged_and_follows_the_oxygen():
    bores = pockets.strip_depth(
        0.2095, SERVICE, 293.15, np.array([0.035, 0.108, 0.161]), fill=0.2, film=2e-3
    )
    assert 1e6 * bores == pytest.approx([9.93, 50.3, 89.9], rel=0.005)
    inert = pockets.strip_depth(0.02, SERVICE, 293.15, 0.108, fill=0.2, film=2e-3)
    assert inert == pytest.approx(bores[1] * 0.02 / 0.2095)


def test_depth_does_not_depend_on_how_much_is_trapped_but_length_does():
    lengths = pockets.pocket_share(np.array([0.05, 0.30]), 101325.0, SERVICE, 0.2)
    assert lengths == pytest.approx([0.0223, 0.1339], abs=1e-4)
    assert pockets.pocket_share(1.0, 101325.0, 101325.0, 0.2) == 1.0


def test_dissolved_oxygen_of_one_filling_eats_hundredths_of_a_micrometre():
    assert 1e6 * pockets.dissolved_depth(9.09e-3, 0.0351) == pytest.approx(0.0265, abs=0.0005)

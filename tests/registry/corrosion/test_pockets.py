import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.corrosion import pockets
from registry.corrosion.pools import oxygen_supply
from registry.corrosion.rates import iron_per_oxygen
from registry.corrosion.waterline import reach_of_half, segment_angle

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
    assert pockets.pocket_share(np.array([0.05, 0.30]), 0.5) == pytest.approx([0.1, 0.6])
    assert pockets.pocket_share(1.0, 0.2) == 1.0


def test_pressing_a_pocket_raises_its_waterline_and_keeps_its_oxygen():
    fill = pockets.pressed_fill(0.5, 101325.0, SERVICE)
    assert fill * SERVICE == pytest.approx(0.5 * 101325.0)
    depth = pockets.strip_depth(0.2095, SERVICE, 293.15, 0.108, fill=fill, film=2e-3)
    twice = pockets.pressed_fill(0.5, 101325.0, 2 * SERVICE)
    deeper = pockets.strip_depth(0.2095, 2 * SERVICE, 293.15, 0.108, fill=twice, film=2e-3)
    both = [reach_of_half(0.108, 1 - one, 2e-3) * d for one, d in ((fill, depth), (twice, deeper))]
    assert both[0] == pytest.approx(both[1], rel=1e-9)


@pytest.mark.parametrize(("bore", "days"), [(0.0266, 6.7), (0.1082, 79.0), (0.3048, 513.0)])
def test_a_pocket_is_spent_as_fast_as_oxygen_diffuses_over_it(bore, days):
    """NPS 1, 4 and 12, a fifth full, 125 psig: own derivation, computed apart for the design."""
    pressure = 125 * 6894.757 + 101325.0
    density = pressure * 31.998e-3 / (8.314462618 * 293.15)
    rate = pockets.pocket_decay(
        oxygen_supply(pressure, 293.15), bore, segment_angle(0.8), fill=0.2, film=2e-3,
        density=density,
    )  # fmt: skip
    assert 365.25 / rate == pytest.approx(days, rel=0.01)


def test_dissolved_oxygen_of_one_filling_eats_hundredths_of_a_micrometre():
    assert 1e6 * pockets.dissolved_depth(9.09e-3, 0.0351) == pytest.approx(0.0265, abs=0.0005)

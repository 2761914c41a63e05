import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.corrosion import waterline

fills = st.floats(0.02, 0.98)
diameters = st.floats(0.01, 0.4)
films = st.floats(2e-4, 2e-2)


def wetted_arc(diameter, water):
    """Steel from the waterline to the bottom."""
    return waterline.segment_angle(water) * diameter / 4


@given(fills)
def test_segment_angle_gives_back_its_area(fill):
    beta = waterline.segment_angle(fill)
    assert (beta - math.sin(beta)) / (2 * math.pi) == pytest.approx(fill, abs=1e-9)


@given(fills)
def test_gas_and_water_segments_make_a_whole_pipe(fill):
    both = waterline.segment_angle(fill) + waterline.segment_angle(1 - fill)
    assert both == pytest.approx(2 * math.pi, abs=1e-6)


@given(diameters, fills, films)
def test_flow_is_the_integral_of_the_flux_along_both_sides(quad, diameter, water, film):
    angle = waterline.wedge_angle(water)
    arc = wetted_arc(diameter, water)
    one_side, _ = quad(lambda x: 1.0 / (film + angle * x), 0.0, arc)
    assert waterline.conductance(diameter, water, film) == pytest.approx(2 * one_side, rel=1e-6)


@given(diameters, fills, films)
def test_half_of_the_oxygen_is_spent_within_the_strip(quad, diameter, water, film):
    angle = waterline.wedge_angle(water)
    reach = waterline.reach_of_half(diameter, water, film)
    within, _ = quad(lambda x: 1.0 / (film + angle * x), 0.0, reach)
    assert within == pytest.approx(waterline.conductance(diameter, water, film) / 4, rel=1e-6)
    assert 0 < reach < wetted_arc(diameter, water) / 2 + 1e-12


@given(diameters, fills, films)
def test_the_strips_film_is_thicker_than_the_rust_alone(diameter, water, film):
    assert waterline.strip_film(diameter, water, film) > film


def test_a_thinner_film_draws_the_attack_closer_to_the_waterline():
    films_tried = np.array([4e-3, 2e-3, 1e-3, 0.5e-3])
    assert np.all(np.diff(waterline.reach_of_half(0.1, 0.8, films_tried)) < 0)


def test_an_empty_or_full_section_has_no_waterline():
    with pytest.raises(ValueError, match="fill is 0.0; it must be above 0 and below 1"):
        waterline.segment_angle(0.0)

import math

import numpy as np
import pytest

from registry.corrosion import thickness

INCH = 0.0254


def test_no_measurable_loss_is_not_an_endless_life():
    rate = thickness.long_term_rate(3.0, 3.1, 8.0)
    assert rate < 0
    assert math.isnan(thickness.remaining_life(3.1, 1.5, rate))
    assert thickness.inspection_interval(math.nan, 5.0) == 5.0


def test_a_wall_below_what_is_required_has_no_life_left():
    assert thickness.remaining_life(1.0, 1.5, 0.1) == 0.0


def test_own_example_of_schedule_10_pipe_ends_at_half_life():
    rate = thickness.governing_rate(
        thickness.long_term_rate(0.120, 0.098, 8.0), thickness.long_term_rate(0.100, 0.098, 1.0)
    )
    assert rate == pytest.approx(0.00275)
    life = thickness.remaining_life(0.098, 0.060, rate)
    assert life == pytest.approx(13.82, abs=0.01)
    assert thickness.inspection_interval(life) == pytest.approx(6.9, abs=0.02)


def test_structural_minimum_governs_over_pressure_in_sprinkler_pipe():
    for dn, outside in ((50, 2.375), (100, 4.5), (150, 6.625)):
        pressure = thickness.pressure_thickness(175.0, outside, 15000.0) * INCH
        assert thickness.structural_minimum(dn) > 2 * pressure


def test_barlow_is_a_little_more_careful_than_the_code_form():
    code = thickness.pressure_thickness(175.0, 4.5, 15000.0)
    assert code < thickness.barlow_thickness(175.0, 4.5, 15000.0) < 1.01 * code


def test_joints_take_wall_by_their_kind():
    wall = 3.56e-3
    assert thickness.wall_at_joints(wall, 32, "threaded") == pytest.approx(
        wall - 1.767e-3, abs=1e-6
    )
    assert thickness.wall_at_joints(wall, 32, "cut_grooved") == pytest.approx(
        wall - 1.600e-3, abs=1e-6
    )
    assert thickness.wall_at_joints(wall, 32, "roll_grooved") == wall
    assert thickness.wall_at_joints(wall, 32, "welded") == wall


def test_an_unknown_joint_counts_as_threaded_only_where_a_thread_would_fit():
    assert thickness.wall_at_joints(3.56e-3, 32, "unknown") < 2e-3
    assert thickness.wall_at_joints(2.77e-3, 32, "unknown") == 2.77e-3
    assert thickness.wall_at_joints(6.02e-3, 100, "unknown") == 6.02e-3


def test_a_joint_never_leaves_less_than_a_fifth():
    assert thickness.wall_at_joints(1.65e-3, 32, "threaded") == pytest.approx(0.33e-3)


def test_b31g_falls_with_depth_and_has_a_long_defect_branch():
    depths = [thickness.b31g_pressure(4.5, 0.12, 35000, d, 1.0) for d in (0.02, 0.04, 0.08)]
    assert np.all(np.diff(depths) < 0)
    long_defect = thickness.b31g_pressure(4.5, 0.12, 35000, 0.06, 10.0)
    assert long_defect == pytest.approx(2 * 1.1 * 35000 * 0.5 * 0.12 / 4.5)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: thickness.long_term_rate(3.0, 2.0, 0.0), "years"),
        (lambda: thickness.structural_minimum(33), "dn"),
        (lambda: thickness.wall_at_joints(0.0, 50, "welded"), "wall"),
        (lambda: thickness.b31g_pressure(4.5, 0.12, 35000, 0.2, 1.0), "depth_over_wall"),
    ],
)
def test_impossible_input_is_refused_by_name(call, name):
    with pytest.raises(ValueError, match=f"{name} is .*must be"):
        call()

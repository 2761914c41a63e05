import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.corrosion import evidence
from registry.corrosion.assess import assess_one
from registry.corrosion.inputs import Leak, WallReading
from registry.corrosion.prior import NODES
from tests.registry.corrosion.builders import run, wet


@given(st.floats(0.01, 0.99))
def test_all_weight_on_one_node_gives_that_node(probability):
    weights = np.zeros((1, NODES))
    weights[0, 10] = 1.0
    values = np.linspace(1.0, 2.0, NODES)[None, :]
    found = evidence.weighted_quantiles(weights, values, (probability,))[0, 0]
    assert values[0, 9] <= found <= values[0, 11]


def test_two_readings_that_agree_narrow_more_than_one():
    one = assess_one(wet(now_yr=15.0, walls=(WallReading(0, 15.0, 2.4e-3),))).theta[0]
    two = assess_one(wet(now_yr=15.0, walls=(WallReading(0, 15.0, 2.4e-3),) * 2)).theta[0]
    assert two[2] / two[0] < one[2] / one[0]


def test_a_leak_on_a_run_that_corrosion_hardly_reached_teaches_less():
    """The larger pipe is attacked deeper and has not leaked, so other causes are likelier."""
    pipes = (run("6", length=30.0), run("4", length=30.0))
    unknown = assess_one(wet(now_yr=15.0, runs=pipes, leaks=(Leak(14.0),))).theta[0, 1]
    large = assess_one(wet(now_yr=15.0, runs=pipes, leaks=(Leak(14.0, run=0),))).theta[0, 1]
    small = assess_one(wet(now_yr=15.0, runs=pipes, leaks=(Leak(14.0, run=1),))).theta[0, 1]
    assert unknown == pytest.approx(large, rel=0.06)
    assert 1.0 <= small < large


def test_a_leak_that_corrosion_cannot_explain_does_not_settle_everything():
    """A leak in the first months is a joint or damage; one in year nine speaks for other causes
    rather than for oxygen, which takes decades here."""
    at_once = assess_one(wet(now_yr=0.5, leaks=(Leak(0.4),)))
    early = assess_one(wet(now_yr=9.0, leaks=(Leak(9.0),)))
    assert at_once.theta[0, 1] == pytest.approx(1.0, abs=0.01)
    assert early.theta[0, 1] > at_once.theta[0, 1] + 0.005
    assert early.belief.active[0] > 2 * at_once.belief.active[0]


def test_a_reading_that_states_a_large_error_says_less_than_one_that_states_a_small_one():
    def width(error_m):
        reading = WallReading(0, 15.0, 2.0e-3, "full_scan", error_m, "yes")
        low, _, high = assess_one(wet(now_yr=15.0, walls=(reading,))).run_loss_m[0]
        return high / low

    assert width(0.05e-3) < width(0.3e-3) < width(1e-3)
    assert width(0.05e-3) < width(None) < width(0.4e-3)


def test_an_error_below_zero_and_an_unknown_method_are_refused():
    with pytest.raises(ValueError, match="error_m"):
        WallReading(0, 15.0, 2.4e-3, error_m=-1e-4)
    with pytest.raises(ValueError, match="method is 'guess'; it must be one of full_scan"):
        WallReading(0, 15.0, 2.4e-3, "guess")


def test_rough_pipe_hides_metal_lost_until_it_is_dressed():
    """J. Jpn. Soc. NDI 53(5) 294, abstract: 0.6 to 2.2 mm too thick on rough corroded plate."""
    rough, dressed = (
        assess_one(wet(now_yr=15.0, walls=(WallReading(0, 15.0, 2.2e-3, dressed=one),)))
        for one in ("no", "yes")
    )
    assert rough.run_left_m[0] < dressed.run_left_m[0] <= 2.2e-3
    assert rough.score[0] > dressed.score[0]


def test_a_baseline_reading_replaces_the_nominal_wall():
    thin = WallReading(0, 0.0, 3.0e-3, is_baseline=True)
    assert assess_one(wet(now_yr=15.0, walls=(thin,))).run_left_m[0] < 3.0e-3
    later = WallReading(0, 15.0, 2.9e-3)
    found = assess_one(wet(now_yr=15.0, walls=(thin, later)))
    assert found.belief.spots.loss_m[0] < 0.13e-3

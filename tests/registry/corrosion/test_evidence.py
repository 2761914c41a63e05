import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import lognorm

from registry.corrosion import evidence
from registry.corrosion.assess import assess_one
from registry.corrosion.columns import batch_from
from registry.corrosion.inputs import Leak, WallReading
from tests.registry.corrosion.builders import run, wet


def test_prior_has_the_moments_of_its_lognormal():
    theta = evidence.theta_nodes(batch_from([wet()]))[0]
    weights = evidence.prior_weights(1)[0]
    log_theta = np.log(theta)
    assert weights @ log_theta == pytest.approx(0.0, abs=1e-12)
    assert np.sqrt(weights @ log_theta**2) == pytest.approx(0.45, rel=0.01)
    wanted = (0.1, 0.5, 0.9)
    found = evidence.weighted_quantiles(weights[None, :], theta[None, :], wanted)[0]
    assert found == pytest.approx(lognorm.ppf(wanted, 0.45), rel=0.005)


@given(st.floats(0.01, 0.99))
def test_all_weight_on_one_node_gives_that_node(probability):
    weights = np.zeros((1, evidence.NODES))
    weights[0, 10] = 1.0
    values = np.linspace(1.0, 2.0, evidence.NODES)[None, :]
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
    assert unknown == pytest.approx(large, rel=0.02)
    assert 1.0 <= small < large


def test_a_leak_that_corrosion_cannot_explain_does_not_settle_everything():
    """A leak in the first months is a joint or damage; one in year nine is early corrosion."""
    at_once = assess_one(wet(now_yr=0.5, leaks=(Leak(0.4),))).theta[0, 1]
    early = assess_one(wet(now_yr=9.0, leaks=(Leak(9.0),))).theta[0, 1]
    assert at_once == pytest.approx(1.0, abs=0.01)
    assert early > 1.5


def test_evidence_in_a_wide_grid_of_nodes_gives_the_same_belief(monkeypatch):
    """The 32 nodes against 257: bands within 1 %, probabilities within 0.5 %."""
    system = wet(now_yr=18.0, walls=(WallReading(0, 17.0, 2.4e-3),), leaks=(Leak(16.0),))
    coarse = assess_one(system)
    z = np.linspace(-evidence.REACH, evidence.REACH, 257)
    monkeypatch.setattr(evidence, "_Z", z)
    monkeypatch.setattr(evidence, "_LOG_PRIOR", -0.5 * z**2 - np.log(np.exp(-0.5 * z**2).sum()))
    fine = assess_one(system)
    assert coarse.theta == pytest.approx(fine.theta, rel=0.01)
    assert coarse.leak_probability == pytest.approx(fine.leak_probability, rel=5e-3, abs=1e-5)

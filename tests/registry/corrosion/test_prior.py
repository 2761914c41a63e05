from dataclasses import replace

import numpy as np
import pytest

from registry.corrosion import prior
from registry.corrosion.assess import assess_many, assess_one
from registry.corrosion.assumptions import Assumptions
from registry.corrosion.columns import batch_from
from registry.corrosion.evidence import weighted_quantiles
from registry.corrosion.inputs import GasSpan, Leak, WallReading
from tests.registry.corrosion.builders import AIR, dry, typical_runs, wet

SHARE = Assumptions().drained_share


def belief_it_drains(system):
    """Weight of the multipliers nearer to pipe that drains well than to pipe that holds water."""
    batch = batch_from([system])
    middle = np.sqrt(Assumptions().drained_multiplier)
    return float(assess_one(system).weights[0] @ (prior.theta_nodes(batch)[0] < middle))


def test_prior_of_water_filled_pipe_has_the_moments_of_its_lognormal(lognorm):
    batch = batch_from([wet()])
    theta, weights = prior.theta_nodes(batch)[0], prior.prior_weights(batch)[0]
    assert weights @ np.log(theta) == pytest.approx(0.0, abs=1e-12)
    assert np.sqrt(weights @ np.log(theta) ** 2) == pytest.approx(0.45, rel=0.01)
    wanted = (0.1, 0.5, 0.9)
    found = weighted_quantiles(weights[None, :], theta[None, :], wanted)[0]
    assert found == pytest.approx(lognorm.ppf(wanted, 0.45), rel=0.005)


def test_prior_of_gas_filled_pipe_has_the_distribution_of_its_two_sorts(lognorm):
    batch = batch_from([dry()])
    theta, weights = prior.theta_nodes(batch)[0], prior.prior_weights(batch)[0]
    wanted = SHARE * lognorm.cdf(theta, 0.8, scale=0.1) + (1 - SHARE) * lognorm.cdf(theta, 0.45)
    assert np.cumsum(weights) - weights / 2 == pytest.approx(wanted, abs=0.005)


def test_a_system_keeps_its_prior_among_others_of_another_kind():
    pair = batch_from([wet(), dry()])
    assert prior.theta_nodes(pair)[0] == pytest.approx(prior.theta_nodes(batch_from([wet()]))[0])
    assert prior.prior_weights(pair)[1] == pytest.approx(
        prior.prior_weights(batch_from([dry()]))[0]
    )


@pytest.mark.parametrize("oxygen", [0.02, 0.05, AIR])
@pytest.mark.parametrize("age", [10.0, 30.0, 45.0])
@pytest.mark.parametrize("material", ["black_steel", "galvanized_steel"])
def test_belief_never_lies_on_the_edge_of_the_grid_however_long_nothing_leaks(
    oxygen, age, material
):
    weights = assess_one(
        dry(oxygen=oxygen, now_yr=age, runs=typical_runs(material), book_began_yr=0.0)
    ).weights[0]
    assert weights[0] < 0.05
    assert weights[-1] < 0.05


def test_years_without_a_leak_under_air_move_belief_to_pipe_that_drains():
    ages = [0.0, 3.0, 5.0, 10.0, 20.0]
    found = [belief_it_drains(dry(now_yr=age, book_began_yr=0.0)) for age in ages]
    assert found[0] == pytest.approx(SHARE, abs=0.05)
    assert np.all(np.diff(found) > 0)
    assert found[-1] > 0.99


def test_years_without_a_leak_under_nitrogen_say_little():
    assert belief_it_drains(dry(oxygen=0.02, now_yr=10.0, book_began_yr=0.0)) == pytest.approx(
        SHARE, abs=0.05
    )


def test_an_old_dry_system_that_never_leaked_does_not_saturate():
    result = assess_one(dry(now_yr=45.0, book_began_yr=0.0))
    assert 1.0 < result.score[0] < 50.0
    assert result.life_yr[0, 1] > 5.0


def test_a_leak_moves_belief_back_to_pipe_that_holds_water():
    without = belief_it_drains(dry(now_yr=8.0, book_began_yr=0.0))
    leaked = belief_it_drains(dry(now_yr=8.0, leaks=(Leak(7.5),), book_began_yr=0.0))
    assert leaked < 0.3 * without


def test_a_thin_reading_speaks_for_water_and_a_full_wall_against_it():
    thin = dry(oxygen=0.02, now_yr=30.0, walls=(WallReading(1, 30.0, 2.2e-3, "full_scan"),))
    full = dry(oxygen=0.02, now_yr=30.0, walls=(WallReading(1, 30.0, 3.05e-3, "full_scan"),) * 2)
    assert belief_it_drains(thin) < 0.1 * SHARE
    assert belief_it_drains(full) > 1.2 * SHARE


def test_traces_found_inside_speak_for_water_and_clear_pipe_against_it():
    young = dry(now_yr=1.0)
    plain = belief_it_drains(young)
    assert belief_it_drains(replace(young, found_wet=1)) < 0.5 * plain
    assert belief_it_drains(replace(young, found_clear=1)) > 1.5 * plain
    both = belief_it_drains(replace(young, found_wet=1, found_clear=1))
    assert both == pytest.approx(plain, abs=0.01)


def test_findings_say_nothing_of_water_filled_pipe():
    assert np.array_equal(
        assess_one(wet(now_yr=9.0, found_wet=2)).weights, assess_one(wet(now_yr=9.0)).weights
    )


def test_more_that_drain_well_never_raise_the_score_of_a_young_system():
    scores = [
        float(assess_one(dry(now_yr=1.0, assumptions=_share(share))).score[0])
        for share in (0.0, 0.2, 0.4, 0.8)
    ]
    assert np.all(np.diff(scores) < 0)


def _share(share):
    return Assumptions().with_overrides({"drained_share": share})


def test_many_more_nodes_give_nearly_the_same_belief(monkeypatch):
    """48 nodes against 401: probabilities within 0.005, dry with wall readings within 0.03."""
    many = [
        wet(now_yr=18.0, walls=(WallReading(0, 17.0, 2.4e-3),), leaks=(Leak(16.0),)),
        *(dry(now_yr=age) for age in (2.0, 8.0, 45.0)),
        dry(now_yr=9.0, leaks=(Leak(6.0),)),
        dry(now_yr=9.0, spans=(GasSpan(0.0, AIR, 0.02, 6.0),)),
        dry(now_yr=20.0, walls=(WallReading(1, 18.0, 2.4e-3, "full_scan"),)),
    ]
    coarse = assess_many(batch_from(many))
    monkeypatch.setattr(prior, "NODES", 401)
    monkeypatch.setattr(prior, "_STEPS", np.linspace(0.0, 1.0, 401))
    fine = assess_many(batch_from(many))
    off = np.abs(coarse.leak_probability - fine.leak_probability).max(axis=1)
    assert off[:-1].max() < 0.005
    assert off[-1] < 0.03

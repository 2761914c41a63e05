"""Does the model's uncertainty mean what it says? Simulated, and against practice."""

import numpy as np
import pytest

from registry.corrosion.assess import assess_one
from registry.corrosion.assumptions import Assumptions
from registry.corrosion.columns import batch_from
from registry.corrosion.evidence import weighted_quantiles
from registry.corrosion.prior import prior_weights, theta_nodes
from tests.benchmarks import calibration
from tests.registry.corrosion.builders import dry, wet

HORIZONS = (1.0, 2.0, 5.0, 10.0, 25.0, 40.0)
HORIZON_END = 80.0
"""A life beyond the last horizon counts as that."""

HOLDS_WATER = Assumptions().with_overrides({"drained_share": 0.0})


@pytest.fixture(scope="module")
def simulated():
    return calibration.simulate(500, seed=20)


@pytest.fixture(scope="module")
def results(simulated):
    return calibration.assessed(simulated)


@pytest.mark.parametrize("width", [0.5, 0.8, 0.95])
def test_bands_of_the_multiplier_hold_as_often_as_they_say(simulated, results, width):
    """Three standard errors of 500 draws at 80 % are 5.4 points; of 2,000 the bands of 50, 80 and
    90 % held 50.1, 80.2 and 90.5 (docs/model.md)."""
    held = calibration.coverage(simulated, results, width)
    assert held == pytest.approx(width, abs=3 * np.sqrt(width * (1 - width) / 500) + 0.005)


def test_systems_leak_as_often_as_forecast(simulated, results):
    for group in calibration.reliability(simulated, results):
        p, n = group["forecast"], group["systems"]
        error = np.sqrt(max(p * (1 - p), 1e-3) / n)
        assert group["leaked"] == pytest.approx(p, abs=3.5 * error), group


def test_evidence_narrows_the_band_more_often_than_not(simulated, results):
    batch = batch_from(simulated.systems)
    before = weighted_quantiles(prior_weights(batch), theta_nodes(batch), (0.1, 0.9))
    narrowed = results.theta[:, 2] / results.theta[:, 0] / (before[:, 1] / before[:, 0])
    assert np.mean(narrowed < 1.001) > 0.8


def between(result, early, late):
    found = dict(zip(HORIZONS, result.leak_probability[0], strict=True))
    return found[late] - found[early]


def test_black_wet_pipe_refilled_yearly_outlives_what_practice_tells():
    """Common practice, no source, tells of 10 to 25 years; ours is later since pressing no longer
    makes oxygen, and is shown as a miss in docs/model.md."""
    result = assess_one(wet(), horizons=HORIZONS)
    assert 25.0 < result.life_yr[0, 1] < 50.0


def test_galvanized_dry_pipe_holding_water_under_air_leaks_mostly_after_2_to_10_years():
    """Common practice, no source; one trade article tells of two to three years."""
    result = assess_one(dry(assumptions=HOLDS_WATER), horizons=HORIZONS)
    assert between(result, 2.0, 10.0) > 0.5
    assert 2.0 < result.life_yr[0, 1] < 10.0


def test_98_percent_nitrogen_multiplies_the_life_of_both():
    """For dry pipe given that it holds water: pipe that drains well outlives both."""
    holding, inert = dry(assumptions=HOLDS_WATER), dry(oxygen=0.02, assumptions=HOLDS_WATER)
    air = [assess_one(system).life_yr[0, 1] for system in (holding, wet(future_oxygen=0.2095))]
    nitrogen = [assess_one(system).life_yr[0, 1] for system in (inert, wet(future_oxygen=0.02))]
    assert nitrogen[0] > 5 * air[0]
    assert nitrogen[1] == HORIZON_END > 1.9 * air[1]

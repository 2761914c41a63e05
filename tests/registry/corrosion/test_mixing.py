import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.corrosion.gas import purged_fraction
from registry.corrosion.mixing import (
    PRIOR,
    MeasuredFill,
    MixingIndex,
    judge_reading,
    predict_next,
    update_mixing,
)
from tests.effort import many

RATIO = 14.696 / 44.696
AIR = 0.2095


def fill(oxygen, start=AIR, feed=0.0):
    return MeasuredFill(start, oxygen, feed, RATIO)


def causes(judgement):
    return [cause.code for cause in judgement.causes]


def test_a_reading_pulls_the_belief_towards_the_index_that_explains_it():
    measured = purged_fraction(AIR, 0.0, RATIO, mixing=0.8)
    belief = update_mixing(PRIOR, [fill(measured)])
    assert 0.79 < belief.mean < 0.83
    assert belief.sd < PRIOR.sd


def test_each_further_fill_sharpens_the_belief():
    first = purged_fraction(AIR, 0.0, RATIO, mixing=0.85)
    second = purged_fraction(first, 0.0, RATIO, mixing=0.85)
    one = update_mixing(PRIOR, [fill(first)])
    two = update_mixing(PRIOR, [fill(first), fill(second, start=first)])
    assert two.sd < one.sd
    assert two.mean == pytest.approx(0.85, abs=0.02)


def test_order_of_fills_does_not_matter():
    fills = [fill(0.08), fill(0.03, start=0.08)]
    forward, backward = update_mixing(PRIOR, fills), update_mixing(PRIOR, fills[::-1])
    assert forward.mean == pytest.approx(backward.mean)
    assert forward.sd == pytest.approx(backward.sd)


def test_a_known_index_is_not_argued_with():
    assert update_mixing(MixingIndex(1.0, 0.0), [fill(0.15)]) == MixingIndex(1.0, 0.0)


def test_a_fill_that_starts_at_the_feed_teaches_nothing():
    belief = update_mixing(PRIOR, [fill(0.01, start=0.01, feed=0.01)])
    assert belief.mean == pytest.approx(PRIOR.mean, abs=1e-3)
    assert belief.sd == pytest.approx(PRIOR.sd, abs=1e-3)


def test_readings_fall_in_the_80_percent_band_four_times_in_five():
    """Simulated: index from the prior, both meter errors and the fill scatter."""
    rng = np.random.default_rng(7)
    inside, runs = 0, 4000
    band = predict_next(PRIOR, start_oxygen=AIR, feed_oxygen=0.001, pressure_ratio=RATIO)
    for _ in range(runs):
        index = max(0.02, rng.normal(1.0, 0.15)) + rng.normal(0.0, 0.05)
        left = RATIO**index
        true_start = AIR + rng.normal(0.0, 0.002)
        reading = 0.001 + (true_start - 0.001) * left + rng.normal(0.0, 0.002)
        inside += band.low <= 100 * (1 - reading) <= band.high
    assert inside / runs == pytest.approx(0.8, abs=0.02)


def test_the_posterior_index_is_calibrated():
    """Simulated: the central 80 % of the belief holds the true index four times in five."""
    rng = np.random.default_rng(11)
    inside, runs = 0, 600
    for _ in range(runs):
        index = max(0.02, rng.normal(1.0, 0.15))
        left = RATIO ** (index + rng.normal(0.0, 0.05))
        reading = (AIR + rng.normal(0.0, 0.002)) * left + rng.normal(0.0, 0.002)
        low, high = update_mixing(PRIOR, [fill(reading)]).quantile(np.array([0.1, 0.9]))
        inside += low <= index <= high
    assert inside / runs == pytest.approx(0.8, abs=0.04)


def test_a_reading_as_expected_is_plausible_and_has_no_causes():
    judgement = judge_reading(PRIOR, fill(0.069))
    assert judgement.is_plausible
    assert judgement.causes == ()
    assert judgement.mixing_index == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize(
    ("measured", "expected"),
    [
        (fill(0.15), "water_left"),
        (fill(0.21, start=0.08), "air_in"),
        (fill(0.01), "short_circuit"),
        (fill(0.001, feed=0.02), "analyser"),
    ],
)
def test_an_implausible_reading_names_its_likeliest_cause_first(measured, expected):
    judgement = judge_reading(PRIOR, measured)
    assert not judgement.is_plausible
    assert causes(judgement)[0] == expected


def test_poor_readings_also_suspect_dead_legs_leaks_and_the_analyser():
    assert {"dead_leg", "air_in", "analyser"} <= set(causes(judge_reading(PRIOR, fill(0.15))))


def test_a_reading_below_the_feed_has_no_index():
    assert math.isnan(judge_reading(PRIOR, fill(0.001, feed=0.02)).mixing_index)


@settings(max_examples=many(40), deadline=None)
@given(
    start=st.floats(0.03, 0.21),
    after=st.floats(0.0, 0.25),
    feed=st.floats(0.0, 0.02),
    ratio=st.floats(0.15, 0.6),
)
def test_any_reading_leaves_a_finite_belief_and_an_ordered_band(start, after, feed, ratio):
    belief = update_mixing(PRIOR, [MeasuredFill(start, after, feed, ratio)])
    assert math.isfinite(belief.mean) and belief.mean > 0 and belief.sd >= 0
    band = predict_next(belief, start_oxygen=start, feed_oxygen=feed, pressure_ratio=ratio)
    assert 0.0 <= band.low <= band.n2_percent <= band.high <= 100.0


def test_probability_of_an_index_is_certain_at_the_ends():
    assert PRIOR.probability_at_least(0.0) == 1.0
    assert PRIOR.probability_at_least(math.inf) == 0.0
    assert PRIOR.probability_at_least(1.0) == pytest.approx(0.5, abs=1e-6)

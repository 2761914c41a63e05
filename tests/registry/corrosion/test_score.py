import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.corrosion import score


@given(st.floats(0.0, 0.999))
def test_base_consequence_makes_the_score_the_five_year_leak_probability(probability):
    hazard = score.hazard_of(probability)
    assert score.score_of(hazard) == pytest.approx(100 * probability, abs=1e-9)


@given(st.floats(0.0, 20.0), st.floats(0.1, 4.0))
def test_graver_consequences_never_lower_a_score(hazard, more):
    assert score.score_of(hazard, 1.0 + more) >= score.score_of(hazard, 1.0)


@pytest.mark.parametrize(
    ("points", "band"),
    [(0.0, "leave"), (0.99, "leave"), (1.0, "watch"), (5.0, "plan"), (19.9, "plan"), (20.0, "act")],
)
def test_what_to_do_stands_on_the_score(points, band):
    assert score.BANDS[score.band_index(np.array([points]))[0]] == band


@pytest.mark.parametrize(
    ("probability", "level"),
    [(0.0, 1), (0.005, 2), (0.01, 3), (0.049, 3), (0.05, 4), (0.2, 5), (1.0, 5)],
)
def test_levels_of_likelihood_begin_at_their_edges(probability, level):
    assert score.likelihood_level(np.array([probability]))[0] == level


def test_times_of_a_steady_hazard_are_exact():
    horizons = np.array([1.0, 2.0, 5.0, 10.0, 20.0, 40.0, 80.0])
    probability = 1 - np.exp(-0.05 * horizons)[None, :]
    times = score.time_quantiles(horizons, probability, (0.01, 0.1, 0.5, 0.9))
    expected = [-np.log1p(-p) / 0.05 for p in (0.01, 0.1, 0.5, 0.9)]
    assert times[0] == pytest.approx(expected, rel=1e-9)


def test_a_time_not_reached_is_the_last_horizon():
    horizons = np.array([1.0, 5.0, 80.0])
    assert score.time_quantiles(horizons, np.zeros((1, 3)), (0.5,))[0, 0] == 80.0


def test_times_of_a_rising_hazard_are_close_on_coarse_horizons():
    """A Weibull of shape 5 is straight in logarithms, which is how wear-out looks."""
    horizons = np.array([1.0, 2.0, 5.0, 10.0, 20.0, 40.0, 80.0])
    probability = 1 - np.exp(-((horizons / 18.0) ** 5))[None, :]
    found = score.time_quantiles(horizons, probability, (0.5,))[0, 0]
    assert found == pytest.approx(18.0 * np.log(2) ** 0.2, rel=1e-6)

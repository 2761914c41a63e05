import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from registry.corrosion import pits
from tests.effort import many

DEPTHS = np.array([0.42, 0.55, 0.61, 0.66, 0.72, 0.75, 0.83, 0.91, 1.02, 1.24])
samples = arrays(np.float64, st.integers(4, 30), elements=st.floats(0.01, 10.0), unique=True)


@settings(max_examples=many(40), deadline=None)
@given(samples)
def test_likelihood_fit_is_at_least_as_likely_as_scipys(gumbel_r, depths):
    if np.ptp(depths) < 0.05:
        return
    ours = pits.fit_by_likelihood(depths)
    location, scale = gumbel_r.fit(depths)
    mine = gumbel_r.logpdf(depths, ours.location, ours.scale).sum()
    assert mine >= gumbel_r.logpdf(depths, location, scale).sum() - 1e-6


def test_the_three_fits_differ_by_a_seventh_at_a_hundred_areas():
    """So the method and the number of readings have to be printed with the result."""
    fits = [
        fit(DEPTHS)
        for fit in (pits.fit_by_moments, pits.fit_by_likelihood, pits.fit_by_least_squares)
    ]
    depths = [fit.at_return_period(100) for fit in fits]
    assert depths == pytest.approx([1.5236, 1.5413, 1.7515], abs=0.001)
    assert [fit.method for fit in fits] == ["moments", "maximum likelihood", "least squares"]
    assert {fit.readings for fit in fits} == {10}


@given(st.floats(-5, 5), st.floats(0.01, 3), st.floats(1, 1e5), st.floats(-5, 30))
def test_scaling_with_area_is_the_maximum_of_that_many_patches(location, scale, areas, x):
    one = pits.Gumbel(location, scale)
    assert one.over_areas(areas).cdf(x) == pytest.approx(one.cdf(x) ** areas, abs=1e-9)


def test_distribution_agrees_with_scipy(gumbel_r):
    x = np.linspace(-1, 5, 30)
    assert np.allclose(pits.Gumbel(0.7, 0.2).cdf(x), gumbel_r.cdf(x, 0.7, 0.2))
    assert pits.Gumbel(0.7, 0.2).quantile(0.9) == pytest.approx(gumbel_r.ppf(0.9, 0.7, 0.2))


def test_fits_recover_the_distribution_a_large_sample_came_from(gumbel_r):
    sample = gumbel_r.rvs(1.0, 0.3, size=20000, random_state=np.random.default_rng(3))
    for fit in (pits.fit_by_moments, pits.fit_by_likelihood, pits.fit_by_least_squares):
        found = fit(sample)
        assert found.location == pytest.approx(1.0, abs=0.02)
        assert found.scale == pytest.approx(0.3, abs=0.01)


def test_area_minima_follow_from_few_bands():
    """UK HSE Research Report 016 illustrates extreme values by the least wall in each of five
    circumferential bands: 4.9, 4.8, 4.7, 4.9, 4.8 mm. Losses from 5 mm, by moments."""
    found = pits.fit_by_moments(5.0 - np.array([4.9, 4.8, 4.7, 4.9, 4.8]))
    assert found.readings == 5
    assert found.location + 0.5772 * found.scale == pytest.approx(0.18, abs=1e-4)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: pits.fit_by_moments([1.0, 2.0]), "depths"),
        (lambda: pits.fit_by_likelihood([1.0, 1.0, 1.0]), "depths"),
        (lambda: pits.reduced_variate(1.0), "probability"),
        (lambda: pits.Gumbel(1, 1).at_return_period(1.0), "areas"),
    ],
)
def test_impossible_input_is_refused_by_name(call, name):
    with pytest.raises(ValueError, match=rf"{name} is [\s\S]*must be"):
        call()

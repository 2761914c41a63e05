import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.corrosion.leaks import patch_tail, per_system, system_intensities
from registry.corrosion.pits import Gumbel

counts = st.lists(st.integers(0, 5), min_size=1, max_size=12)


@pytest.mark.parametrize(("reduced", "within"), [(4.6, 0.0102), (9.2, 1.1e-4), (20.0, 1e-8)])
def test_the_tail_is_the_gumbel_tail_where_leaks_begin(reduced, within):
    assert patch_tail(np.array([reduced]))[0] == pytest.approx(np.exp(-reduced), rel=within)


@given(st.floats(0.5, 4.0), st.floats(1.0, 3000.0))
def test_expected_leaks_give_the_deepest_pits_chance_of_reaching_the_wall(wall, patches):
    """Location 1.5, scale 0.3, mean depth 0.2: no leak is a deepest pit below the wall."""
    depth, location, scale = 0.2, 1.5, 0.3
    tail = patch_tail(np.array([wall / (scale * depth)]))[0]
    none = np.exp(-patches * np.exp(location / scale) * tail)
    pit = Gumbel(location * depth, scale * depth).over_areas(patches)
    assert none == pytest.approx(pit.cdf(wall), abs=2e-3)


def test_deeper_is_always_worse_and_ever_more_so():
    depth = np.geomspace(1e-5, 1e3, 200)
    tail = patch_tail(10.0 / depth)
    slope = np.diff(tail) / np.diff(depth)
    assert np.all(np.diff(tail) >= 0)
    assert np.all(np.diff(slope) >= -1e-6 * slope[1:])


@given(counts, st.booleans())
def test_grouped_sums_equal_plain_sums(runs, own_nodes):
    count = np.array(runs)
    first = np.cumsum(count) - count
    rng = np.random.default_rng(len(runs))
    reduced = rng.uniform(0.5, 40.0, (3, count.sum()))
    weight = rng.uniform(0.0, 5.0, count.sum())
    theta = np.exp(rng.normal(0.0, 0.5, (count.size if own_nodes else 1, 4)))
    found = system_intensities(reduced, weight, theta, first, count, np.float64)
    for system in range(count.size):
        mine = slice(first[system], first[system] + count[system])
        nodes = theta[system if own_nodes else 0]
        tails = patch_tail(reduced[:, None, mine] / nodes[None, :, None])
        assert found[:, :, system] == pytest.approx((weight[mine] * tails).sum(axis=2), rel=1e-9)


def test_single_precision_keeps_five_digits_of_a_sum():
    rng = np.random.default_rng(2)
    reduced, weight = rng.uniform(1.0, 40.0, (2, 800)), rng.uniform(0.0, 500.0, 800)
    first, count, theta = np.arange(0, 800, 8), np.full(100, 8), np.array([[0.3, 1.0, 4.0]])
    single = system_intensities(reduced, weight, theta, first, count)
    double = system_intensities(reduced, weight, theta, first, count, np.float64)
    assert np.allclose(single, double, rtol=1e-5, atol=0)


def test_a_system_without_runs_sums_to_nothing():
    sums = per_system(np.array([1.0, 2.0, 4.0]), np.array([0, 2, 2, 3]), np.array([2, 0, 1, 0]))
    assert sums.tolist() == [3.0, 0.0, 4.0, 0.0]
    assert per_system(np.zeros(0), np.array([0]), np.array([0])).tolist() == [0.0]

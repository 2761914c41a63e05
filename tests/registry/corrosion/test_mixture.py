"""The closed form of two channels against brute quadrature, and against published updates."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.corrosion.assess import assess_one
from registry.corrosion.assumptions import Assumptions
from registry.corrosion.columns import batch_from
from registry.corrosion.inputs import GasSpan, Leak, WallReading
from registry.corrosion.mixture import gammas_of, leaky_of, log_sum, without_leaks
from tests.benchmarks.plain_python import Plain
from tests.effort import many
from tests.registry.corrosion.builders import air_fills, dry, run, wet

INERT = {"spans": (GasSpan(0.0, 0.02),), "future_oxygen": 0.02}
CASES = {
    "air, watched": wet(now_yr=12.0, spans=air_fills(8, 10), book_began_yr=0.0),
    "air, one leak": wet(now_yr=14.0, book_began_yr=0.0, leaks=(Leak(12.0),)),
    "air, three leaks": wet(
        now_yr=16.0, book_began_yr=0.0, leaks=(Leak(12.0), Leak(13.0), Leak(15.5, run=1))
    ),
    "inert, none": wet(now_yr=10.0, book_began_yr=0.0, **INERT),
    "inert, three": wet(
        now_yr=10.0, book_began_yr=0.0, leaks=(Leak(9.7), Leak(9.8), Leak(9.95)), **INERT
    ),
    "inert, one early": wet(now_yr=2.0, book_began_yr=0.0, leaks=(Leak(1.8),), **INERT),
    "dry air, leak": dry(now_yr=6.0, book_began_yr=0.0, leaks=(Leak(5.0),)),
    "signs": wet(now_yr=10.0, book_began_yr=2.0, signs=("slime", "acid"), leaks=(Leak(7.0),)),
}


def brute(system, horizon=5.0):
    """Chance of a leak by summing over theta and a fine grid of the number of sites."""
    plain = Plain(system)
    a = system.assumptions
    rho = np.exp(np.linspace(math.log(1e-14), math.log(400.0), 20001))
    odds = a.active_share / (1 - a.active_share)
    for sign in system.signs:
        odds *= getattr(a, f"sign_{sign}")
    share = odds / (1 + odds)
    density = np.zeros_like(rho)
    sorts = (
        (1 - share, a.quiet_shape, a.quiet_shape / a.quiet_sites),
        (share, a.active_shape, a.active_shape / a.active_sites),
    )
    for p, shape, rate in sorts:
        log = shape * math.log(rate) - math.lgamma(shape) + shape * np.log(rho) - rate * rho
        density += p * np.exp(log)
    now = system.now_yr
    ahead = plain._sites(now + horizon) - plain._sites(now)
    unread = plain._unread(now + horizon, now)
    from tests.benchmarks.plain_python import _explained, _log_prior

    prior = _log_prior(system, plain.theta)
    leaks = [plain._leak(leak) for leak in _explained(system)]
    total = none = 0.0
    for j in range(len(plain.theta)):
        like = math.exp(prior[j] - plain.unread[j]) * np.exp(-rho * plain.watched) * density
        for oxygen, other in leaks:
            like = like * (oxygen[j] + rho * other)
        total += like.sum()
        none += (like * np.exp(-rho * ahead)).sum() * math.exp(-unread[j])
    return 1 - none / total * math.exp(-a.other_leaks_per_year * horizon)


@pytest.mark.parametrize("name", CASES)
def test_closed_form_agrees_with_brute_quadrature_to_four_digits(name):
    found = assess_one(CASES[name], precision=np.float64).leak_probability[0, 2]
    assert found == pytest.approx(brute(CASES[name]), rel=2e-4)


def brute_factor(system, horizon=5.0, points=801):
    """The same with one run that was read, whose own factor is summed on a fine grid."""
    plain = Plain(system)
    a, at = system.assumptions, plain.read[0]
    step = np.linspace(-5.0, 5.0, points)
    factor, chance = np.exp(a.run_spread * step), np.exp(-0.5 * step**2)
    from tests.benchmarks.plain_python import _log_prior

    prior, now = _log_prior(system, plain.theta), system.now_yr
    run = plain.runs[at]
    late, early = run.depth(now + horizon), run.depth(now)
    unread = plain._unread(now + horizon, now)
    total = none = 0.0
    for j, node in enumerate(plain.theta):
        like = np.array(
            [
                math.exp(sum(plain._log_reading(w, node * f) for w in plain.walls)) * c
                for f, c in zip(factor, chance, strict=True)
            ]
        )
        grown = np.array([run.leaks(late, node * f) - run.leaks(early, node * f) for f in factor])
        weight = math.exp(prior[j])
        total += weight * like.sum()
        none += weight * (like * np.exp(-grown)).sum() * math.exp(-unread[j])
    return 1 - none / total


@pytest.mark.parametrize("method", ["full_scan", "suggested_position", "single_spot"])
@pytest.mark.parametrize("left", [3.2e-3, 2.6e-3, 2.0e-3])
def test_the_sub_grid_of_a_run_that_was_read_agrees_with_brute_quadrature(method, left):
    reading = WallReading(0, 15.0, left, method)
    system = wet(now_yr=15.0, runs=(run("6", "10", 30.0), run("4")), walls=(reading,))
    found = assess_one(system, precision=np.float64)
    assert found.by_oxygen[0] == pytest.approx(brute_factor(system), rel=0.02, abs=6e-4)


def test_leaks_by_other_causes_alone_come_mostly_at_5_to_20_years():
    """Clarke & Aguilera, Automatic Sprinkler Systems Handbook 2007, supplement 3: most such leaks
    came after 5 to 20 years, some in under 2."""
    system = wet(future_oxygen=0.0, spans=(GasSpan(0.0, 0.0),))
    result = assess_one(system, horizons=(1.0, 2.0, 5.0, 10.0, 20.0, 60.0))
    by = dict(zip(result.horizons_yr.tolist(), result.leak_probability[0].tolist(), strict=True))
    assert 0.001 < by[2.0] < 0.03
    assert (by[20.0] - by[5.0]) / by[60.0] > 0.4


@settings(max_examples=many(60), deadline=None)
@given(st.lists(st.floats(0.0, 5.0), min_size=1, max_size=6), st.floats(0.0, 4.0))
def test_the_polynomial_of_leaks_is_the_product_it_stands_for(others, rho):
    oxygen = np.linspace(0.1, 2.0, len(others))[:, None] * np.ones(3)
    other = np.array(others)
    leaky = leaky_of(np.zeros(len(others), dtype=np.intp), oxygen, other)
    value = (leaky.power[0] * rho ** np.arange(leaky.most + 1)).sum(axis=1)
    wanted = np.prod(oxygen[:, 0] + rho * other)
    assert value * np.exp(leaky.log_scale[0]) == pytest.approx(wanted, rel=1e-9)


def test_a_sieve_of_two_hundred_leaks_is_still_a_number():
    leaks = tuple(Leak(10.0 + 0.02 * n) for n in range(200))
    found = assess_one(wet(now_yr=14.0, leaks=leaks))
    assert found.score[0] > 99.0
    assert np.all(np.isfinite(found.weights))


def test_two_gammas_without_leaks_are_one_power_each():
    batch = batch_from([wet()])
    gammas = gammas_of(batch)
    found = without_leaks(gammas, gammas.log_odds, np.array([2.0]))[0]
    quiet, active = 0.8 * (1 + 2.0 / (0.5 / 0.03)) ** -0.5, 0.2 * (1 + 2.0 * 3.0) ** -1
    assert found == pytest.approx(np.array([quiet, active]) / (quiet + active))


def test_a_sum_of_logarithms_survives_what_an_exponential_would_not():
    assert log_sum(np.array([[-2000.0, -2000.0]]), (1,))[0] == pytest.approx(
        -2000.0 + math.log(2.0)
    )


def test_no_share_of_active_is_settled_by_a_prior_alone():
    low, high = (
        assess_one(wet(now_yr=10.0, assumptions=Assumptions(active_share=p), **INERT)).score[0]
        for p in (0.05, 0.5)
    )
    assert 3.0 < high / low < 12.0

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.corrosion.assess import assess_many, assess_one
from registry.corrosion.attack import attack_of
from registry.corrosion.columns import batch_from
from registry.corrosion.inputs import (
    CouponReading,
    GasSpan,
    Leak,
    WallReading,
)
from tests.effort import many
from tests.registry.corrosion.builders import AIR, air_fills, dry, run, typical_runs, wet
from tests.registry.corrosion.strategies import systems

FIELDS = ("leak_probability", "hazard", "score", "life_yr", "theta", "weights", "run_loss_m")


@settings(max_examples=many(60), deadline=None)
@given(systems)
def test_any_valid_system_gets_finite_numbers_in_their_range(system):
    result = assess_one(system)
    for name in FIELDS:
        assert np.all(np.isfinite(getattr(result, name))), name
    assert np.all((result.leak_probability >= 0) & (result.leak_probability <= 1))
    assert np.all(np.diff(result.leak_probability, axis=1) >= 0)
    assert np.all((result.score >= 0) & (result.score <= 100))
    assert np.all(np.diff(result.life_yr, axis=1) >= 0)
    assert np.all(np.diff(result.run_loss_m, axis=1) >= 0)
    assert result.weights.sum() == pytest.approx(1.0)


@settings(max_examples=many(12), deadline=None)
@given(st.lists(systems, min_size=2, max_size=4))
def test_a_system_alone_and_among_others_gets_the_same_numbers(many):
    together = assess_many(batch_from(many), block=2, precision=np.float64)
    for row, system in enumerate(many):
        alone = assess_one(system, precision=np.float64)
        for name in ("leak_probability", "score", "theta"):
            got = getattr(together, name)[row]
            assert got == pytest.approx(getattr(alone, name)[0], rel=1e-7, abs=1e-10), name
        assert together.life_yr[row] == pytest.approx(alone.life_yr[0], rel=1e-6, abs=2e-3)


@settings(max_examples=many(20), deadline=None)
@given(systems, st.randoms(use_true_random=False))
def test_order_of_entry_does_not_matter(system, random):
    def shuffled(rows):
        return tuple(random.sample(rows, len(rows)))

    mixed = replace(
        system,
        spans=shuffled(system.spans),
        water=shuffled(system.water),
        walls=shuffled(system.walls),
        leaks=shuffled(system.leaks),
    )
    assert assess_one(mixed).score == pytest.approx(assess_one(system).score, rel=1e-9)


def test_threads_and_blocks_do_not_move_a_number():
    many = [wet(now_yr=float(age), spans=air_fills(*range(1, age))) for age in range(2, 30)]
    batch = batch_from(many)
    one = assess_many(batch)
    other = assess_many(batch, workers=2, block=5)
    assert np.allclose(one.leak_probability, other.leak_probability, rtol=1e-6, atol=1e-8)
    assert np.allclose(one.run_loss_m, other.run_loss_m, rtol=1e-6, atol=0)


def test_the_longer_leaks_are_not_known_of_the_less_their_absence_says():
    theta = [
        assess_one(wet(now_yr=30.0, book_began_yr=began)).theta[0, 1]
        for began in (0.0, 10.0, 20.0, 30.0, None)
    ]
    assert np.all(np.diff(theta[:4]) > 0)
    assert theta[3] == theta[4]


def test_a_leak_raises_and_watched_years_without_one_lower_the_multiplier():
    nothing = assess_one(wet(now_yr=30.0)).theta[0, 1]
    none_so_far = assess_one(wet(now_yr=30.0, book_began_yr=0.0)).theta[0, 1]
    leaked = assess_one(wet(now_yr=15.0, leaks=(Leak(12.0),))).theta[0, 1]
    assert none_so_far < nothing < leaked


def test_a_thick_reading_lowers_and_a_thin_one_raises_the_multiplier():
    base = wet(now_yr=15.0)
    plain = assess_one(base).theta[0]
    thick = assess_one(replace(base, walls=(WallReading(0, 15.0, 3.35e-3),))).theta[0]
    thin = assess_one(replace(base, walls=(WallReading(0, 15.0, 1.9e-3),))).theta[0]
    assert thick[1] < plain[1] < thin[1]
    assert thin[2] / thin[0] < plain[2] / plain[0]


def test_a_scan_that_says_what_is_believed_narrows_the_band_of_its_run():
    """The least of a scan lies at the deepest pit of a patch: 1.8 + 0.58 x 0.4 times the mean."""
    bare = wet(now_yr=15.0)
    base = assess_one(bare)
    for row in (0, 1, 2):
        least = bare.runs[row].wall_m - 2.031 * base.run_loss_m[row, 1]
        reading = WallReading(row, 15.0, float(least), "full_scan", 1e-4, "yes")
        after = assess_one(replace(bare, walls=(reading,))).run_loss_m[row]
        assert after[2] / after[0] < base.run_loss_m[row, 2] / base.run_loss_m[row, 0]


def test_the_least_of_a_scan_says_less_about_the_mean_than_a_spot_reading_as_thin():
    base = wet(now_yr=15.0)
    spot = assess_one(replace(base, walls=(WallReading(0, 15.0, 2.2e-3),))).theta[0, 1]
    least = assess_one(replace(base, walls=(WallReading(0, 15.0, 2.2e-3, "full_scan"),))).theta[
        0, 1
    ]
    assert least < spot


def test_a_coupon_pulls_the_multiplier_to_its_rate():
    base = wet(now_yr=15.0)
    attack = attack_of(batch_from([base]))
    rate = float(np.diff(attack.depth(np.array([1, 1]), np.array([10.0, 11.0])))[0])
    fast = replace(base, coupons=(CouponReading(1, 10.0, 11.0, 2.0 * rate),))
    assert 1.2 < assess_one(fast).theta[0, 1] < 2.0


def test_copper_has_no_invented_rate_and_is_judged_by_its_leaks():
    pipe = (run("1", "L", 100.0, material="copper"),)
    quiet = assess_one(wet(now_yr=10.0, runs=pipe))
    assert not quiet.in_model[0]
    assert quiet.score[0] == 0.0
    leaky = assess_one(wet(now_yr=10.0, runs=pipe, leaks=(Leak(4.0), Leak(9.0))))
    assert leaky.leak_probability[0, 0] == pytest.approx(1 - np.exp(-0.2))


def test_a_replaced_run_starts_anew():
    old = wet(now_yr=20.0, runs=(run("4"),))
    new = replace(old, runs=(run("4", installed_yr=19.0),))
    assert assess_one(new).run_loss_m[0, 1] < 0.1 * assess_one(old).run_loss_m[0, 1]


def test_history_before_the_register_is_assumed_until_the_first_span():
    silent = assess_one(wet(now_yr=20.0)).run_loss_m[0, 1]
    known_late = assess_one(wet(now_yr=20.0, spans=(GasSpan(20.0, AIR),))).run_loss_m[0, 1]
    known_early = assess_one(wet(now_yr=20.0, spans=(GasSpan(0.0, 0.02),))).run_loss_m[0, 1]
    assert known_late == pytest.approx(silent)
    assert known_early < 0.01 * silent


def test_zinc_is_spent_before_steel():
    assert assess_one(dry(now_yr=0.08)).run_loss_m.max() == 0.0
    black = dry(runs=typical_runs("black_steel"), now_yr=0.08)
    assert assess_one(black).run_loss_m.max() > 0.0


def test_single_precision_does_not_move_the_fourth_digit():
    many = [wet(now_yr=float(age), spans=air_fills(*range(1, age, 2))) for age in range(2, 40)]
    many += [dry(now_yr=age / 4, oxygen=oxygen) for age in range(1, 20) for oxygen in (0.02, AIR)]
    single = assess_many(batch_from(many))
    double = assess_many(batch_from(many), precision=np.float64)
    assert np.abs(single.leak_probability - double.leak_probability).max() < 1e-5
    assert single.life_yr == pytest.approx(double.life_yr, rel=1e-5)
    assert single.theta == pytest.approx(double.theta, rel=1e-5)


def test_a_batch_without_systems_and_odd_horizons_are_refused():
    with pytest.raises(ValueError, match="holds no system"):
        assess_many(batch_from([]))
    with pytest.raises(ValueError, match="horizons is"):
        assess_one(wet(), horizons=(1.0, 10.0))


@pytest.mark.parametrize(
    ("changes", "name"),
    [
        ({"kind": "sprinkler"}, "kind"),
        ({"installed_yr": 5.0}, "installed_yr"),
        ({"pressure_pa": 0.0}, "pressure_pa"),
        ({"consequence_class": 6}, "consequence_class"),
        ({"leaks": (Leak(0.0, run=9),)}, "run"),
    ],
)
def test_impossible_systems_are_refused_by_name(changes, name):
    with pytest.raises(ValueError, match=f"{name} is .*must be"):
        wet(**changes)

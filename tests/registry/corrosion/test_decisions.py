import numpy as np
import pytest
from hypothesis import given, settings

from registry.corrosion import decisions, variants
from registry.corrosion.assess import assess_many, assess_one
from registry.corrosion.attack import attack_of
from registry.corrosion.columns import batch_from
from registry.corrosion.inputs import GasSpan, WallReading
from registry.corrosion.ranking import explain_many
from tests.effort import many
from tests.registry.corrosion.builders import AIR, air_fills, dry, run, wet
from tests.registry.corrosion.strategies import systems


def old_wet(**changes):
    values = {"now_yr": 14.0, "spans": air_fills(8, 9, 10, 11, 12, 13.9)}
    return wet(**{**values, **changes})


def reasons(system):
    batch = batch_from([system])
    return explain_many(batch, assess_many(batch))[0].reasons


def by_code(rows):
    return {row.code: row for row in rows}


def test_reasons_add_up_to_the_score_shown_and_begin_with_the_baseline():
    for system in (old_wet(), dry(now_yr=3.0), old_wet(walls=(WallReading(0, 14.0, 2.0e-3),))):
        found = reasons(system)
        assert found[0].code == "baseline"
        points = [abs(reason.points) for reason in found[1:]]
        assert points == sorted(points, reverse=True)
        score = float(assess_one(system).score[0])
        assert sum(reason.points for reason in found) == pytest.approx(round(score, 1), abs=1e-9)


@settings(max_examples=many(15), deadline=None)
@given(systems)
def test_reasons_of_any_system_add_up(system):
    found = reasons(system)
    total = sum(reason.points for reason in found)
    assert total == pytest.approx(float(assess_one(system).score[0]), abs=0.051)


def test_a_wet_system_is_driven_by_trapped_gas_and_a_dry_one_by_standing_water():
    assert "trapped_gas" in by_code(reasons(old_wet()))
    assert "residual_water" in by_code(reasons(dry(now_yr=3.0)))
    assert "trapped_gas" not in by_code(reasons(old_wet(is_vented=True)))


def test_open_pipe_is_offered_no_nitrogen_and_waits_for_none():
    system = dry(kind="deluge", now_yr=3.0)
    batch = batch_from([system, dry(now_yr=3.0)])
    open_pipe, closed = explain_many(batch, assess_many(batch))
    assert "residual_water" in by_code(open_pipe.reasons)
    assert not {"gas_from_now", "gas_so_far", "before_register"} & set(by_code(open_pipe.reasons))
    assert {"gas_from_now", "gas_so_far"} <= set(by_code(closed.reasons))
    assert open_pipe.delay is None and closed.delay.score_points_per_week > 0
    offered = by_code(decisions.what_if(system))
    assert "drain_pools" in offered
    assert not {"inert_now", "purer_supply"} & set(offered)


def test_thicker_wall_helps_where_the_joint_is_not_known():
    """A Schedule 40 thread would leave less wall than Schedule 10 has, but the joint is kept."""
    system = old_wet(runs=(run("1", "10", 300.0, joint="unknown"),), now_yr=30.0)
    base, thicker = assess_one(system), variants.with_thicker_wall(batch_from([system]))
    assert decisions.under_one_belief(base, thicker).score < base.score
    assert thicker.runs.joint_wall_m == thicker.runs.wall_m > system.runs[0].wall_m


def test_assumed_history_is_a_reason_only_where_there_is_some():
    assumed = by_code(reasons(old_wet()))["before_register"]
    known = by_code(reasons(old_wet(spans=air_fills(*range(14)))))
    assert assumed.points > 0.1
    assert known.get("before_register", assumed).points <= assumed.points


def test_a_clean_scan_is_a_reason_that_lowers_the_score():
    system = old_wet(walls=(WallReading(0, 14.0, 3.4e-3, "full_scan"),))
    assert by_code(reasons(system))["evidence"].points < 0


def test_each_air_fill_costs_wall_score_and_days():
    """Without an air fill a year the median life of this system would be about a year longer."""
    costs = decisions.event_costs(old_wet())
    assert len(costs) == 6
    for cost in costs:
        assert cost.run == 0
        assert 20e-6 < cost.wall_m < 120e-6
        assert cost.score_points > 0
        assert 100 < cost.days_of_life < 800


def test_an_inert_fill_costs_a_tenth_of_an_air_fill():
    spans = (*air_fills(8, 9), GasSpan(10.0, 0.02))
    air, inert = decisions.event_costs(old_wet(spans=spans), [1, 2])
    assert inert.wall_m == pytest.approx(air.wall_m * 0.02 / AIR, rel=0.15)


def test_a_system_without_spans_has_no_event_to_cost():
    assert decisions.event_costs(wet(now_yr=5.0)) == ()


def test_every_measure_helps_and_the_best_comes_first():
    for system in (old_wet(), dry(now_yr=2.0)):
        options = decisions.what_if(system)
        assert [o.points for o in options] == sorted((o.points for o in options), reverse=True)
        assert all(option.points > 0 for option in options)
    assert {"inert_now", "add_vents", "replace_run", "treat_water"} == set(
        by_code(decisions.what_if(old_wet()))
    )


def test_inerting_multiplies_the_life_left():
    option = by_code(decisions.what_if(old_wet()))["inert_now"]
    life = assess_one(old_wet()).life_yr[0, 1]
    assert option.life_yr > 3 * life
    assert option.years_gained == pytest.approx(option.life_yr - life, rel=0.05)


def test_purer_make_up_beats_98_percent():
    options = by_code(decisions.what_if(dry(oxygen=0.05, now_yr=2.0)))
    assert options["purer_supply"].score < float(assess_one(dry(oxygen=0.05, now_yr=2.0)).score[0])


def test_the_run_to_replace_is_the_one_most_likely_to_leak():
    system = old_wet()
    assert decisions.worst_runs(system, assess_one(system))[0] == 0


def test_copper_is_never_the_run_to_replace():
    system = old_wet(runs=(run("1", "L", 50.0, material="copper"), run("4")))
    assert decisions.worst_runs(system, assess_one(system)) == [1]


def test_comparisons_share_one_belief():
    """A clean past must not turn the same readings into a worse system."""
    system = old_wet(walls=(WallReading(0, 14.0, 2.5e-3),))
    base = assess_one(system)
    clean = variants.always_inert(batch_from([system]))
    assert np.array_equal(decisions.under_one_belief(base, clean).weights, base.weights)
    updated = assess_many(clean)
    assert updated.theta[0, 1] > base.theta[0, 1]


def test_inert_now_replaces_what_was_to_come():
    batch = batch_from([old_wet()])
    attack = attack_of(variants.inert_now(batch, after_yr=0.5))
    at = attack.exposure.oxygen_at(np.array([0, 0]), np.array([14.4, 14.6]))
    assert at[0] > 0.02 >= at[1]


def test_treating_the_water_acts_on_what_needs_no_oxygen_alone():
    base = assess_one(old_wet())
    treated = variants.with_treated_water(batch_from([old_wet()]))
    found = decisions.under_one_belief(base, treated)
    assert found.by_sites[0] < 0.6 * base.by_sites[0]
    assert found.by_oxygen[0] == pytest.approx(base.by_oxygen[0])

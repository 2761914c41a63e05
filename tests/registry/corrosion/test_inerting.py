from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.corrosion.gas import cycles_needed, site_atmosphere
from registry.corrosion.inerting import (
    PSI,
    MixingIndex,
    PlanInputs,
    RoomInputs,
    cover_nitrogen,
    plan_from_reading,
    plan_inerting,
)
from tests.effort import many

EXACT = MixingIndex(1.0, 0.0)


def inputs(**changes):
    given_values = {
        "volume_m3": 1.9,
        "feed_n2_percent": 100.0,
        "rated_pressure_gauge_pa": 175 * PSI,
    }
    return PlanInputs(**{**given_values, **changes})


def test_a_known_mixing_index_gives_an_exact_plan():
    plan = plan_inerting(inputs(mixing=EXACT))
    assert [f.n2_percent for f in plan.fills] == pytest.approx([93.11, 97.735, 99.255], abs=0.005)
    assert all(f.low == f.n2_percent == f.high for f in plan.fills)
    assert [f.accept_probability for f in plan.fills] == [0.0, 0.0, 1.0]
    assert (plan.fills_needed, plan.fills_likely) == (3, 3)


def test_unknown_mixing_lets_two_fills_do_sometimes_and_three_nearly_always():
    """Common practice, no source: two fills sometimes do, three should."""
    plan = plan_inerting(inputs())
    assert 0.1 < plan.fills[1].accept_probability < 0.6
    assert plan.fills[2].accept_probability > 0.95


def test_first_fill_band_holds_the_trades_91_to_94_percent():
    """Common practice, no source: a first 30 psig fill from air reads 91 to 94 %."""
    first = plan_inerting(inputs(feed_n2_percent=99.9)).fills[0]
    assert 91.0 < first.low < first.n2_percent < first.high < 94.6


def test_nitrogen_of_a_fill_is_the_pressure_rise_in_standard_volume():
    plan = plan_inerting(inputs())
    assert plan.nitrogen_per_fill_m3 == pytest.approx(1.9 * 30 / 14.696, rel=1e-3)
    assert plan.nitrogen_run_m3 == pytest.approx(3 * plan.nitrogen_per_fill_m3)
    assert plan.cylinders == 2


def test_feed_that_cannot_reach_the_target_is_refused_with_its_asymptote():
    plan = plan_inerting(inputs(feed_n2_percent=98.0))
    assert plan.refusal.code == "feed_below_target"
    assert plan.asymptote_n2_percent == 98.0
    assert plan.fills_needed is None and plan.cylinders is None
    assert all(f.accept_probability == 0.0 for f in plan.fills)
    assert plan.fills[-1].n2_percent < 98.0


def test_fill_above_the_rated_pressure_is_refused_and_near_it_warned():
    assert plan_inerting(inputs(fill_pressure_gauge_pa=176 * PSI)).refusal.code == (
        "above_rated_pressure"
    )
    near = plan_inerting(inputs(fill_pressure_gauge_pa=170 * PSI))
    assert near.refusal is None
    assert [notice.code for notice in near.warnings] == ["near_rated_pressure"]
    assert plan_inerting(inputs()).warnings == ()


def test_a_missing_rating_is_said_and_not_guessed():
    plan = plan_inerting(inputs(rated_pressure_gauge_pa=None))
    assert [notice.code for notice in plan.warnings] == ["rated_pressure_unknown"]


def test_no_pressure_swing_is_refused():
    plan = plan_inerting(inputs(fill_pressure_gauge_pa=0.0))
    assert plan.refusal.code == "no_pressure_swing"
    assert plan.fills == ()


def test_a_target_too_far_for_the_fills_allowed_is_refused():
    plan = plan_inerting(inputs(fill_pressure_gauge_pa=2 * PSI))
    assert plan.refusal.code == "too_many_fills"


def test_a_system_already_at_target_needs_no_fill():
    plan = plan_inerting(inputs(start_n2_percent=98.5))
    assert (plan.fills_needed, plan.cylinders, plan.refusal) == (0, 0, None)


def test_venting_into_a_small_room_is_warned_with_the_oxygen_it_reaches():
    plan = plan_inerting(inputs(room=RoomInputs(volume_m3=30.0)))
    assert plan.room.is_deficient
    assert "18.4 % oxygen" in plan.warnings[0].text
    assert plan_inerting(inputs(room=RoomInputs(volume_m3=3000.0))).warnings == ()


def test_time_per_fill_follows_the_regulator():
    plan = plan_inerting(inputs(regulator_flow_m3_s=0.01))
    assert plan.seconds_per_fill == pytest.approx(plan.nitrogen_per_fill_m3 / 0.01)
    assert plan_inerting(inputs()).seconds_per_fill is None


def test_thin_air_lets_a_fill_do_more():
    high = plan_inerting(inputs(mixing=EXACT, atmosphere_pa=site_atmosphere(1609.0)))
    assert high.fills[0].n2_percent == pytest.approx(100 - 6.021, abs=0.01)


def test_the_rest_of_a_run_is_planned_from_the_last_reading():
    rest = plan_from_reading(inputs(), n2_percent_now=97.2, mixing=MixingIndex(0.9, 0.02))
    assert rest.fills_needed == 1


def test_cover_gas_is_the_emptied_volume_at_regulator_pressure():
    nitrogen = cover_nitrogen(volume=1.9, regulator_gauge=60 * PSI)
    assert nitrogen == pytest.approx(1.9 * (60 + 14.696) / 14.696, rel=1e-3)


@settings(max_examples=many(50), deadline=None)
@given(
    volume=st.floats(0.01, 50.0),
    fill=st.floats(10.0, 150.0),
    feed=st.floats(98.2, 100.0),
    start=st.floats(79.05, 97.0),
    sd=st.floats(0.0, 0.4),
)
def test_plans_are_orderly(volume, fill, feed, start, sd):
    plan = plan_inerting(
        inputs(
            volume_m3=volume,
            fill_pressure_gauge_pa=fill * PSI,
            feed_n2_percent=feed,
            start_n2_percent=start,
            mixing=MixingIndex(1.0, sd),
        )
    )
    medians = [f.n2_percent for f in plan.fills]
    chances = [f.accept_probability for f in plan.fills]
    assert np.all(np.diff(medians) >= -1e-9) and np.all(np.diff(chances) >= -1e-9)
    assert all(0.0 <= chance <= 1.0 for chance in chances)
    assert all(f.low <= f.n2_percent <= f.high for f in plan.fills)
    assert all(f.high <= feed + 1e-9 for f in plan.fills)


@settings(max_examples=many(50), deadline=None)
@given(fill=st.floats(10.0, 150.0), feed=st.floats(98.2, 100.0))
def test_exact_plan_needs_the_cycles_of_the_closed_form(fill, feed):
    plan_inputs = inputs(fill_pressure_gauge_pa=fill * PSI, feed_n2_percent=feed, mixing=EXACT)
    cycles = cycles_needed(0.2095, 1 - feed / 100, 0.02, plan_inputs.pressure_ratio)
    plan = plan_inerting(replace(plan_inputs, most_fills=60))
    assert plan.fills_needed == int(np.ceil(cycles - 1e-9))


@pytest.mark.parametrize(
    ("changes", "name"),
    [
        ({"volume_m3": 0.0}, "volume_m3"),
        ({"temperature_k": -1.0}, "temperature_k"),
        ({"feed_n2_percent": 101.0}, "feed_n2_percent"),
        ({"start_n2_percent": -1.0}, "start_n2_percent"),
    ],
)
def test_impossible_input_is_refused_by_name(changes, name):
    with pytest.raises(ValueError, match=f"{name} is .*must be"):
        inputs(**changes)

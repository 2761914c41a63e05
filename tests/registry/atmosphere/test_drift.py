from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.atmosphere import Feed, Oxygen, Policy, derive, oxygen_at, span_at
from registry.atmosphere.drift import (
    days_until_above,
    days_until_down_to,
    drifted,
    feed_oxygen,
    turnover_per_day,
)
from tests.effort import many
from tests.registry.atmosphere.ledgers import (
    AIR,
    COMPRESSOR,
    CYLINDERS,
    GENERATOR,
    PSI,
    WET,
    accepted,
    day,
)

COMPRESSED = Feed("compressor")
NITROGEN = Feed("generator", 99.0)
fractions = st.floats(0.0, AIR)


def estimate(start, facts, feed, days):
    return drifted(Oxygen.exactly(start), facts, feed, days)


def test_one_psi_a_day_of_air_takes_two_percent_oxygen_to_eleven_in_a_month():
    """Mole balance of a mixed pipe at 30 psig: 0.2095 - 0.1895 exp(-30 / 44.696)."""
    oxygen = estimate(0.02, COMPRESSOR, COMPRESSED, 30)
    assert 100 * oxygen.mid == pytest.approx(11.265, abs=0.01)


def test_leaks_of_an_older_tolerated_rate_bound_the_range():
    """NFPA 25 before 2008: leaks over 10 psi a week to be corrected."""
    oxygen = estimate(0.02, COMPRESSOR, COMPRESSED, 30)
    most = drifted(
        Oxygen.exactly(0.02),
        replace(COMPRESSOR, policy=Policy(usual_leak_pa_per_day=10 * PSI / 7)),
        COMPRESSED,
        30,
    )
    assert oxygen.high == pytest.approx(most.mid)
    assert oxygen.low < oxygen.mid < oxygen.high


@pytest.mark.parametrize("kind", ["unknown", "none", "cylinders"])
def test_without_a_supply_that_runs_by_itself_the_gas_stays_what_it_was(kind):
    assert estimate(0.02, COMPRESSOR, Feed(kind), 300) == Oxygen.exactly(0.02)


@pytest.mark.parametrize("feed", [COMPRESSED, NITROGEN])
def test_trapped_gas_of_wet_pipe_does_not_drift(feed):
    assert estimate(0.02, WET, feed, 300) == Oxygen.exactly(0.02)


def test_the_service_pressure_of_the_system_slows_its_drift():
    high = replace(COMPRESSOR, service_pressure_gauge_pa=60 * PSI)
    assert turnover_per_day(high, COMPRESSED)[1] == pytest.approx(1 / 74.696, rel=1e-4)
    assert turnover_per_day(COMPRESSOR, COMPRESSED)[1] == pytest.approx(1 / 44.696, rel=1e-4)


def test_a_generator_that_sweeps_through_a_vent_recovers_in_days():
    """Q / V by hand: 1 standard m3/h through 2 m3 holding 44.696/14.696 times that at 30 psig."""
    swept = replace(GENERATOR, generator_flow_m3_s=1 / 3600, volume_m3=2.0)
    leaks = 1 / 44.696
    sweep = 24 / (2.0 * 44.696 / 14.696)
    assert turnover_per_day(swept, NITROGEN)[1] == pytest.approx(leaks + sweep, rel=1e-4)
    assert turnover_per_day(swept, COMPRESSED)[1] == pytest.approx(leaks, rel=1e-4)


def test_a_generator_of_unknown_purity_is_given_a_range_that_leaves_it_unproven():
    unknown = replace(GENERATOR, supply_n2_percent=None)
    oxygen = feed_oxygen(unknown, Feed("generator"))
    assert (oxygen.low, oxygen.mid, oxygen.high) == pytest.approx((0.001, 0.02, 0.05))
    start = Oxygen.exactly(AIR)
    assert days_until_down_to(0.02, start, unknown, Feed("generator")) == float("inf")


def test_no_generator_reaches_a_target_purer_than_its_own_gas():
    start = Oxygen.exactly(AIR)
    assert days_until_down_to(0.02, start, GENERATOR, Feed("generator", 97.0)) == float("inf")


def test_the_day_of_crossing_is_the_day_the_estimate_gets_there():
    rising = Oxygen.exactly(0.014)
    days = days_until_above(0.02, rising, COMPRESSOR, COMPRESSED)
    assert drifted(rising, COMPRESSOR, COMPRESSED, days).mid == pytest.approx(0.02)
    falling = Oxygen.exactly(AIR)
    days = days_until_down_to(0.02, falling, GENERATOR, NITROGEN)
    assert drifted(falling, GENERATOR, NITROGEN, days).mid == pytest.approx(0.02)


def test_an_estimate_already_above_is_not_carried_above_again():
    assert days_until_above(0.02, Oxygen.exactly(0.03), COMPRESSOR, COMPRESSED) == float("inf")


@given(fractions, fractions, fractions, st.floats(0, 4000), st.sampled_from([COMPRESSED, NITROGEN]))
def test_the_range_holds_the_estimate_and_stays_within_air(one, two, three, days, feed):
    oxygen = drifted(Oxygen(*sorted((one, two, three))), GENERATOR, feed, days)
    assert 0 <= oxygen.low <= oxygen.mid + 1e-12
    assert oxygen.mid <= oxygen.high + 1e-12 and oxygen.high <= AIR + 1e-12


@settings(max_examples=many(40), deadline=None)
@given(fractions, st.floats(0, 500), st.floats(0, 500))
def test_drifting_twice_is_drifting_for_the_sum(start, first, second):
    stage = drifted(Oxygen.exactly(start), COMPRESSOR, COMPRESSED, first)
    twice = drifted(stage, COMPRESSOR, COMPRESSED, second)
    assert twice.mid == pytest.approx(estimate(start, COMPRESSOR, COMPRESSED, first + second).mid)


def test_the_estimate_can_be_asked_for_at_any_instant():
    spans = derive(COMPRESSOR, (accepted(1, 98.0 + 0.6),), day(200))
    assert oxygen_at(spans, COMPRESSOR, day(-5)) == Oxygen.exactly(AIR)
    assert oxygen_at(spans, COMPRESSOR, day(1)).mid == pytest.approx(0.014)
    during = [oxygen_at(spans, COMPRESSOR, day(1 + step)).mid for step in range(100)]
    assert during == sorted(during)
    assert during[30] == pytest.approx(
        AIR - (AIR - 0.014) * 2.718281828 ** (-30 / 44.696), rel=1e-4
    )


def test_the_estimate_does_not_jump_where_time_alone_starts_a_span():
    spans = derive(COMPRESSOR, (accepted(1),), day(200))
    for span in spans[2:]:
        before = oxygen_at(spans, COMPRESSOR, span.starts_at.replace(microsecond=0))
        assert before.mid == pytest.approx(span.oxygen_mid, abs=1e-6)


def test_the_span_at_an_instant_is_the_one_begun_last():
    spans = derive(CYLINDERS, (accepted(1),), day(3))
    assert span_at(spans, day(0.5)) == spans[0]
    assert span_at(spans, day(1)) == spans[1]
    assert span_at(spans, day(-1)) is None
    assert span_at((), day(1)) is None

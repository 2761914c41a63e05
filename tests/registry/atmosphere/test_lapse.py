"""What the timeline holds after the last record: spans that time alone will bring."""

from dataclasses import replace

import pytest

from registry.atmosphere import Policy
from tests.registry.atmosphere.ledgers import (
    AIR,
    COMPRESSOR,
    CYLINDERS,
    GENERATOR,
    UNREAD,
    WET,
    accepted,
    drain_down,
    head_break,
    last,
    reading,
    started,
    story,
)


def test_a_missed_confirming_reading_raises_doubt_after_its_grace():
    assert story(WET, accepted(1), until=30)[1:] == [(1, "inert"), (5, "in_doubt")]
    span = last(WET, accepted(1))
    assert (span.reason_code, span.cause_id) == ("reading.overdue", None)
    assert "due 1 day after acceptance" in span.reason


def test_each_reading_buys_time_until_the_next_is_overdue():
    events = [accepted(1), reading(2, 98.5)]
    assert story(WET, *events, until=900)[2] == (38.25, "in_doubt")
    events.append(reading(31, 98.5))
    assert story(WET, *events, until=900)[2] == (396, "in_doubt")
    events.append(reading(366, 98.5))
    assert story(WET, *events, until=900)[2] == (761, "in_doubt")


def test_a_late_reading_ends_the_doubt_it_was_late_for():
    told = story(WET, accepted(1), reading(10, 98.5), until=20)
    assert told[1:] == [(1, "inert"), (5, "in_doubt"), (10, "inert")]


def test_a_reading_at_the_last_instant_of_grace_is_in_time():
    assert story(WET, accepted(1), reading(5, 98.5), until=20)[1:] == [(1, "inert")]


def test_the_horizon_ends_what_is_foretold():
    assert story(WET, accepted(1), until=4.9)[-1] == (1, "inert")


def test_pipe_that_nobody_reads_goes_stale_where_no_confirming_days_are_set():
    policy = Policy(confirming_days=(), repeat_days=0, stale_days=100)
    span = last(replace(WET, policy=policy), accepted(1), until=200)
    assert (span.reason_code, span.state) == ("reading.stale", "in_doubt")
    assert story(replace(WET, policy=policy), accepted(1), reading(50, 98.5), until=200)[-1] == (
        150,
        "in_doubt",
    )


def test_yearly_readings_one_early_and_the_next_late_never_go_stale():
    """The early edge of the first year (335 days) to the late edge of the second (760)."""
    reads = [reading(1 + days, 98.5) for days in (1, 30, 335.5, 759.5)]
    assert story(WET, accepted(1), *reads, until=761)[1:] == [(1, "inert")]


def test_doubt_and_aeration_are_not_made_worse_by_missing_readings():
    doubt = drain_down(2, flow_until_empty="unknown")
    assert story(WET, accepted(1), doubt, until=900)[-1] == (2, "in_doubt")
    assert story(WET, accepted(1), head_break(2), until=900)[-1] == (2, "aerated")


def test_air_make_up_crosses_the_target_in_days_and_half_air_in_weeks():
    """ln(0.1955/0.1895) and ln(0.1955/0.10475) over 1 psi a day at 30 psig."""
    told = story(replace(COMPRESSOR, policy=UNREAD), accepted(1), until=900)
    assert told == [(0, "aerated"), (1, "inert"), (2.39, "in_doubt"), (28.89, "aerated")]


def test_pipe_aerated_by_drift_has_lost_what_its_acceptance_proved():
    told = story(COMPRESSOR, accepted(1), reading(60, 98.5), until=61)
    assert told[-1] == (28.89, "aerated")


@pytest.mark.parametrize("facts", [GENERATOR, CYLINDERS])
def test_nitrogen_make_up_keeps_inert_pipe_inert(facts):
    told = story(replace(facts, policy=UNREAD), accepted(1), until=3000)
    assert told == [(0, "aerated"), (1, "inert")]


def test_a_generator_below_the_target_loses_it_slowly():
    poor = replace(GENERATOR, supply_n2_percent=97.0, policy=UNREAD)
    told = story(poor, accepted(1), until=3000)
    assert told[-1][1] == "in_doubt" and told[-1][0] > 20
    assert last(poor, accepted(1), until=3000).reason_code == "drift.below_target"


def test_a_generator_recovers_aerated_pipe_into_doubt_and_no_further():
    assert story(GENERATOR, until=3000) == [(0, "aerated"), (133.79, "in_doubt")]
    span = last(GENERATOR, until=3000)
    assert (span.reason_code, span.oxygen_mid) == ("generator.recovered", pytest.approx(0.02))


def test_a_generator_recovers_faster_from_a_partial_breach():
    told = story(GENERATOR, reading(1, 95.0), until=3000)
    assert 50 < told[1][0] < 65


def test_no_recovery_is_foretold_while_a_run_goes_on():
    assert story(GENERATOR, started(1, feed=99.0), until=3000) == [(0, "aerated")]


@pytest.mark.parametrize("facts", [WET, CYLINDERS, COMPRESSOR])
def test_without_a_generator_aerated_pipe_stays_aerated(facts):
    assert story(facts, until=3000) == [(0, "aerated")]
    assert last(facts, until=3000).oxygen_mid == AIR


def test_pipe_accepted_at_the_very_target_under_a_compressor_is_in_doubt_at_once():
    told = story(replace(COMPRESSOR, policy=UNREAD), accepted(1, n2=98.0), until=2)
    assert told == [(0, "aerated"), (1, "in_doubt")]


def test_pipe_accepted_at_the_very_target_under_a_generator_stays_inert():
    told = story(replace(GENERATOR, policy=UNREAD), accepted(1, n2=98.0), until=3000)
    assert told[-1] == (1, "inert")

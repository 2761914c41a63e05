from dataclasses import replace

import pytest

from registry.atmosphere import Policy
from tests.registry.atmosphere.ledgers import (
    AIR,
    COMPRESSOR,
    CYLINDERS,
    DRY,
    GENERATOR,
    WET,
    accepted,
    at_end,
    day,
    drain_down,
    head_break,
    reading,
    started,
    story,
)


@pytest.mark.parametrize(
    ("n2", "state"),
    [(99.0, "inert"), (98.0, "inert"), (97.9, "in_doubt"), (90.0, "in_doubt"), (89.0, "aerated")],
)
def test_a_reading_of_inert_pipe_confirms_doubts_or_disproves_it(n2, state):
    """A reading that shows more than half air is proof of air, whatever let it in."""
    assert at_end(WET, accepted(1), reading(2, n2)).state == state


def test_a_confirming_reading_becomes_the_reason_and_the_estimate():
    span = at_end(WET, accepted(1), reading(2, 98.3, 7))
    assert (span.reason_code, span.cause_id) == ("reading.good", 7)
    assert (span.oxygen_low, span.oxygen_mid, span.oxygen_high) == pytest.approx(
        (0.012, 0.017, 0.022)
    )
    assert span.state_since == day(1)


def test_the_error_of_the_analyser_is_the_policys():
    exact = replace(WET, policy=Policy(analyser_error_percent=0.0))
    span = at_end(exact, accepted(1), reading(2, 98.3))
    assert span.oxygen_low == span.oxygen_mid == span.oxygen_high


@pytest.mark.parametrize("n2", [100.0, 99.9, 79.05, 75.0, 0.0])
def test_the_range_of_a_reading_stays_between_none_and_air(n2):
    span = at_end(CYLINDERS, accepted(1), reading(2, n2))
    assert 0.0 <= span.oxygen_low <= span.oxygen_mid <= span.oxygen_high <= AIR


def test_a_good_reading_clears_doubt():
    events = (accepted(1), drain_down(2, flow_until_empty="unknown"), reading(3, 98.1))
    assert story(WET, *events, until=4) == [
        (0, "aerated"),
        (1, "inert"),
        (2, "in_doubt"),
        (3, "inert"),
    ]


def test_a_poor_reading_takes_the_place_of_the_doubt_before_it():
    doubt = drain_down(2, 7, flow_until_empty="unknown")
    span = at_end(WET, accepted(1), doubt, reading(3, 96.0, 8))
    assert (span.state, span.cause_id) == ("in_doubt", 8)
    assert "96 %" in span.reason and "98 %" in span.reason


@pytest.mark.parametrize("facts", [WET, DRY, CYLINDERS, COMPRESSOR])
def test_good_readings_alone_never_make_aerated_pipe_inert(facts):
    events = (accepted(1), head_break(2), reading(3, 99.0), reading(5, 99.0), reading(9, 99.0))
    assert story(facts, *events, until=10)[-1] == (2, "aerated")


def test_aerated_wet_pipe_may_still_hold_air_where_it_was_not_read():
    """Iron uses up the oxygen of trapped air; the other pockets are not the one at the vent."""
    span = at_end(WET, reading(3, 99.0))
    assert (span.oxygen_mid, span.oxygen_high) == (pytest.approx(0.01), AIR)


def test_during_a_run_the_pipe_is_gas_filled_and_the_reading_speaks_for_it():
    assert at_end(WET, started(1), reading(2, 93.0)).oxygen_high == pytest.approx(0.075)


def test_a_generator_needs_two_good_readings_a_day_apart():
    assert story(GENERATOR, reading(3, 98.5), reading(3.5, 98.5), until=4)[1:] == [(3, "in_doubt")]
    assert story(GENERATOR, reading(3, 98.5), reading(4, 98.5), until=5)[1:] == [
        (3, "in_doubt"),
        (4, "inert"),
    ]


def test_one_good_reading_is_enough_once_the_generator_should_be_done():
    """The sweep takes ln(19.95 / 1) * 44.696 days at 1 psi a day, 30 psig and 99 % nitrogen."""
    assert story(GENERATOR, reading(200, 98.5), until=201)[1:] == [
        (133.79, "in_doubt"),
        (200, "inert"),
    ]


def test_a_poor_second_reading_leaves_the_generator_nothing_proven():
    told = story(GENERATOR, reading(3, 98.5), reading(4, 97.0), reading(4.5, 98.5), until=4.75)
    assert told[1:] == [(3, "in_doubt"), (4, "aerated"), (4.5, "in_doubt")]


def test_confirming_days_under_a_generator_count_from_the_reading_that_proved_it():
    told = story(GENERATOR, reading(3, 98.5), reading(4, 98.5), until=20)
    assert told[2:] == [(4, "inert"), (8, "in_doubt")]


def test_a_reading_as_bad_as_air_does_not_change_a_pipe_never_inerted():
    span = at_end(WET, reading(1, 79.05))
    assert (span.state, span.reason_code) == ("aerated", "never_inerted")

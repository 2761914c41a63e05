from dataclasses import replace

import pytest

from registry.atmosphere import Policy
from registry.atmosphere.breaches import ORDER, state_at, worse
from tests.registry.atmosphere.ledgers import (
    AIR,
    CYLINDERS,
    WET,
    accepted,
    at_end,
    day,
    drain_down,
    head_break,
    item,
)

DOUBTFUL = {"flow_until_empty": "unknown"}


def leak(at, share=None, air="unknown", number=0):
    given = {} if share is None else {"replaced_percent": share}
    return item("event.leak", at, number, form="pinhole", through="gas", air_entered=air, **given)


@pytest.mark.parametrize(
    ("oxygen", "state"),
    [
        (0.0, "inert"),
        (0.02, "inert"),
        (0.0201, "in_doubt"),
        (0.1047, "in_doubt"),
        (0.10475, "aerated"),
        (AIR, "aerated"),
    ],
)
def test_oxygen_speaks_for_a_state_by_the_target_and_by_half_air(oxygen, state):
    assert state_at(oxygen, WET) == state


def test_the_target_of_the_policy_moves_the_limit():
    strict = replace(WET, policy=Policy(target_n2_percent=99.0))
    assert state_at(0.015, strict) == "in_doubt"
    assert state_at(0.015, WET) == "inert"


def test_the_worse_of_two_states_is_the_one_with_more_air():
    assert [worse(one, "in_doubt") for one in ORDER] == ["in_doubt", "in_doubt", "aerated"]


@pytest.mark.parametrize(
    ("share", "state", "oxygen"),
    [
        (0.0, "inert", 0.014),
        (2.0, "inert", 0.014 * 0.98 + AIR * 0.02),
        (4.0, "in_doubt", 0.014 * 0.96 + AIR * 0.04),
        (40.0, "in_doubt", 0.014 * 0.6 + AIR * 0.4),
        (50.0, "aerated", 0.014 * 0.5 + AIR * 0.5),
        (100.0, "aerated", AIR),
    ],
)
def test_a_partial_breach_mixes_by_volume_and_is_judged_by_the_mixture(share, state, oxygen):
    span = at_end(CYLINDERS, accepted(1), leak(2, share))
    assert (span.state, span.oxygen_mid) == (state, pytest.approx(oxygen))


def test_small_breaches_add_up_until_the_target_is_crossed():
    breaches = [leak(2 + number, 2.0) for number in range(3)]
    states = [at_end(CYLINDERS, accepted(1), *breaches[: count + 1]).state for count in range(3)]
    assert states == ["inert", "in_doubt", "in_doubt"]


def test_an_unknown_breach_may_have_left_anything_between_what_it_was_and_air():
    span = at_end(WET, accepted(1), drain_down(2, **DOUBTFUL))
    assert (span.oxygen_low, span.oxygen_high) == (pytest.approx(0.009), AIR)
    assert span.oxygen_low < span.oxygen_mid < span.oxygen_high


def test_a_known_breach_is_taken_as_air_though_some_nitrogen_may_be_left():
    span = at_end(WET, accepted(1), head_break(2))
    assert (span.state, span.oxygen_mid, span.oxygen_high) == ("aerated", AIR, AIR)
    assert span.oxygen_low == pytest.approx(0.009)


def test_a_fire_leaves_air_and_nothing_else():
    span = at_end(WET, accepted(1), item("event.fire", 2))
    assert (span.oxygen_low, span.oxygen_mid, span.oxygen_high) == (AIR, AIR, AIR)


def test_a_drain_down_by_the_book_keeps_the_pipe_inert_and_says_so():
    span = at_end(WET, accepted(1), drain_down(2, 7))
    assert (span.state, span.reason_code, span.cause_id) == ("inert", "drain_down.kept", 7)
    assert span.state_since == day(1)


def test_a_drain_down_by_the_book_makes_nothing_better():
    assert at_end(WET, drain_down(2)).reason_code == "never_inerted"
    doubtful = at_end(WET, accepted(1), drain_down(2, **DOUBTFUL), drain_down(3))
    assert doubtful.state == "in_doubt"


def test_the_first_cause_of_doubt_stays_so_that_one_reading_answers_it():
    span = at_end(WET, accepted(1), drain_down(2, 7, **DOUBTFUL), leak(3, number=8))
    assert (span.state, span.cause_id) == ("in_doubt", 7)


def test_the_first_cause_of_aeration_stays_so_that_one_run_answers_it():
    span = at_end(WET, accepted(1), head_break(2, 7), item("event.fire", 3, 8))
    assert (span.state, span.cause_id) == ("aerated", 7)
    assert span.oxygen_low == AIR


def test_air_let_into_a_doubtful_pipe_takes_over_as_the_cause():
    span = at_end(WET, accepted(1), drain_down(2, 7, **DOUBTFUL), head_break(3, 8))
    assert (span.state, span.cause_id) == ("aerated", 8)


def test_air_let_into_a_pipe_never_inerted_names_the_event():
    span = at_end(WET, head_break(2, 7))
    assert (span.state, span.reason_code, span.cause_id) == ("aerated", "head_break", 7)
    assert span.state_since == day(0)


def test_doubt_about_air_in_a_pipe_never_inerted_changes_nothing():
    assert at_end(WET, leak(2)).reason_code == "never_inerted"


def test_doubt_that_only_time_had_raised_takes_the_record_as_its_cause():
    span = at_end(WET, accepted(1), drain_down(20, 7, **DOUBTFUL))
    assert (span.state, span.cause_id) == ("in_doubt", 7)

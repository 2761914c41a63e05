from datetime import UTC, datetime, timedelta
from itertools import islice

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.atmosphere import LedgerItem, Policy, confirming_due
from registry.atmosphere.confirming import dues, next_due
from tests.registry.atmosphere.ledgers import (
    GENERATOR,
    START,
    WET,
    accepted,
    day,
    drain_down,
    head_break,
    reading,
    started,
)

POLICY = Policy()


def windows(policy, count):
    """Earliest, due and overdue in days after acceptance."""
    return [
        tuple(
            (moment - START) / timedelta(days=1)
            for moment in (due.earliest_at, due.due_at, due.overdue_from)
        )
        for due in islice(dues(START, policy), count)
    ]


def met(facts, *items):
    return [(due.days, due.satisfied_by_id) for due in confirming_due(facts, items)]


def test_readings_are_due_after_a_day_a_month_a_year_and_then_yearly():
    assert windows(POLICY, 5) == [
        (0.5, 1, 4),
        (22.75, 30, 37.25),
        (335, 365, 395),
        (700, 730, 760),
        (1065, 1095, 1125),
    ]


def test_days_are_counted_and_not_calendar_dates_so_a_leap_day_shifts_nothing():
    leap_day = datetime(2024, 2, 29, 9, tzinfo=UTC)
    due = [due.due_at for due in islice(dues(leap_day, POLICY), 4)]
    assert due == [
        datetime(2024, 3, 1, 9, tzinfo=UTC),
        datetime(2024, 3, 30, 9, tzinfo=UTC),
        datetime(2025, 2, 28, 9, tzinfo=UTC),
        datetime(2026, 2, 28, 9, tzinfo=UTC),
    ]


@pytest.mark.parametrize(
    ("confirming_days", "repeat_days", "expected"),
    [
        ((30, 1), 0, [1, 30]),
        ((), 90, [90, 180, 270]),
        ((), 0, []),
        ((7,), 7, [7, 14, 21]),
    ],
)
def test_the_owner_chooses_the_days(confirming_days, repeat_days, expected):
    policy = Policy(confirming_days=confirming_days, repeat_days=repeat_days)
    assert [due.days for due in islice(dues(START, policy), 3)] == expected


@given(
    st.sets(st.integers(1, 2000), max_size=5),
    st.integers(0, 800),
)
def test_windows_hold_their_due_day_and_come_in_order(days, repeat):
    listed = list(islice(dues(START, Policy(confirming_days=tuple(days), repeat_days=repeat)), 8))
    for due in listed:
        assert START < due.earliest_at < due.due_at < due.overdue_from
    assert all(
        one.earliest_at < two.earliest_at for one, two in zip(listed, listed[1:], strict=False)
    )


@pytest.mark.parametrize(
    ("read_days", "expected"), [(0, 1), (0.4, 1), (0.5, 30), (22, 30), (23, 365), (335, 730)]
)
def test_the_next_due_is_the_first_that_the_last_reading_came_too_early_for(read_days, expected):
    due = next_due(START, START + timedelta(days=read_days), POLICY)
    assert due is not None and due.days == expected


def test_nothing_is_next_once_the_last_of_a_closed_list_is_read():
    assert next_due(START, day(40), Policy(confirming_days=(1, 30), repeat_days=0)) is None


def test_without_an_acceptance_nothing_is_due():
    assert confirming_due(WET, ()) == []
    assert confirming_due(WET, (reading(3, 99.0),)) == []


def test_an_acceptance_asks_for_each_day_of_the_policy_and_the_first_repeat():
    assert met(WET, accepted(1)) == [(1, None), (30, None), (365, None), (730, None)]


def test_each_reading_meets_the_one_in_whose_turn_it_came():
    events = (accepted(1), reading(2, 98.5, 71), reading(30, 98.5, 72))
    assert met(WET, *events)[:3] == [(1, 71), (30, 72), (365, None)]


def test_the_first_reading_in_its_turn_counts():
    events = (accepted(1), reading(2, 98.5, 71), reading(3, 98.5, 72))
    assert met(WET, *events)[0] == (1, 71)


def test_a_late_reading_still_meets_what_it_was_late_for():
    assert met(WET, accepted(1), reading(15, 98.5, 71))[0] == (1, 71)


def test_a_missed_reading_is_not_met_by_one_taken_in_the_next_ones_turn():
    assert met(WET, accepted(1), reading(30, 98.5, 71))[:2] == [(1, None), (30, 71)]


def test_a_reading_before_its_turn_meets_nothing():
    assert met(WET, accepted(1), reading(1.2, 98.5, 71))[0] == (1, None)


def test_a_poor_reading_is_a_reading_all_the_same():
    assert met(WET, accepted(1), reading(2, 97.0, 71))[0] == (1, 71)


def test_yearly_repeats_are_listed_as_far_as_they_were_read():
    reads = [reading(1 + days, 98.5, 900 + days) for days in (1, 30, 365, 730, 1095)]
    assert met(WET, accepted(1, number=1), *reads)[3:] == [(730, 1630), (1095, 1995), (1460, None)]


@pytest.mark.parametrize("end", [head_break(2), started(2)])
def test_air_let_in_ends_what_the_acceptance_asked_for(end):
    assert met(WET, accepted(1), end) == []


def test_doubt_leaves_standing_what_the_acceptance_asked_for():
    events = (accepted(1), drain_down(2, flow_until_empty="unknown"))
    assert [days for days, _ in met(WET, *events)] == [1, 30, 365, 730]


def test_a_later_acceptance_starts_the_days_again():
    events = (accepted(1), reading(2, 98.5, 71), accepted(20))
    assert confirming_due(WET, events)[0].due_at == day(21)
    assert met(WET, *events)[0] == (1, None)


def test_readings_that_prove_a_generator_start_the_days_too():
    due = confirming_due(GENERATOR, (reading(3, 98.5), reading(4, 98.5)))
    assert due[0].due_at == day(5)


def test_the_order_in_which_records_are_handed_over_does_not_matter():
    events = [accepted(1), reading(30, 98.5, 72), reading(2, 98.5, 71)]
    assert met(WET, *events) == met(WET, *reversed(events))


def test_a_policy_without_sense_is_refused_with_what_would_be_right():
    with pytest.raises(ValueError, match="target_n2_percent is 79; it must lie above the 79.05"):
        Policy(target_n2_percent=79.0)
    with pytest.raises(ValueError, match="days must be above zero"):
        Policy(confirming_days=(0, 30))
    with pytest.raises(ValueError, match="repeat_days -1"):
        Policy(repeat_days=-1)


def test_records_of_a_run_count_as_readings():
    """Readings of a second run on gas-filled pipe that has not been accepted yet."""
    run_reading = LedgerItem(71, 71, "inerting.read", day(2), {"fill": 1, "n2_percent": 98.9})
    assert met(GENERATOR, accepted(1), run_reading)[0] == (1, 71)

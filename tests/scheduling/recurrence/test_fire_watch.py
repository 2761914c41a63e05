"""The fire-watch clock: hand-worked outages, and a plain count of minutes as the rival."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.recurrence.fire_watch import LIMIT, Outage, clock, crossing_instants, merged

DAY = datetime(2026, 6, 1, tzinfo=UTC)


def at(hours):
    return DAY + timedelta(hours=hours)


def outage(start, end=None):
    return Outage(at(start), None if end is None else at(end))


def test_eight_hours_and_three_in_one_day_call_for_a_fire_watch():
    """8 h + 3 h in 24 h: a public accreditation answer on the 10 h of NFPA 25 and NFPA 1."""
    watched = clock([outage(0, 8), outage(12, 15)], now=at(15))
    assert watched.spent == timedelta(hours=11)
    assert watched.is_over
    assert watched.crossed_at == at(14)


def test_ten_hours_exactly_are_not_over_ten_hours():
    watched = clock([outage(0, 10)], now=at(10))
    assert (watched.spent, watched.left, watched.is_over) == (LIMIT, timedelta(0), False)


def test_an_outage_that_lasts_says_when_it_will_cross():
    watched = clock([outage(0)], now=at(4))
    assert (watched.is_out, watched.is_over) == (True, False)
    assert (watched.left, watched.crosses_at) == (timedelta(hours=6), at(10))


def test_an_outage_that_crossed_says_when():
    watched = clock([outage(0)], now=at(13))
    assert (watched.crossed_at, watched.crosses_at) == (at(10), None)


def test_hours_older_than_a_day_drop_out_of_the_window():
    watched = clock([outage(0, 8), outage(20)], now=at(24))
    assert watched.spent == timedelta(hours=12)
    later = clock([outage(0, 8), outage(30)], now=at(33))
    assert later.spent == timedelta(hours=3)
    assert later.crosses_at == at(40)


def test_hours_that_leave_the_window_as_others_come_put_off_the_crossing():
    """Out 0-6 and from 20 on: at 24 h there are 10; until 30 one leaves as one comes."""
    assert clock([outage(0, 6), outage(20)], now=at(23)).crosses_at == at(30)


def test_two_areas_out_at_once_count_once():
    watched = clock([outage(0, 6), outage(4, 8), outage(5, 7)], now=at(9))
    assert watched.spent == timedelta(hours=8)


def test_after_restoration_nothing_will_cross():
    watched = clock([outage(0, 4)], now=at(5))
    assert (watched.is_out, watched.crosses_at) == (False, None)


def test_an_outage_planned_for_later_does_not_run_yet():
    watched = clock([outage(10)], now=at(5))
    assert (watched.is_out, watched.spent) == (False, timedelta(0))


def test_the_clock_counts_hours_that_pass_on_the_day_it_changes():
    """London, 25 October 2026: 20:00 to 06:00 on the wall is eleven hours, not ten."""
    zone = ZoneInfo("Europe/London")
    start = datetime(2026, 10, 24, 20, tzinfo=zone).astimezone(UTC)
    end = datetime(2026, 10, 25, 6, tzinfo=zone).astimezone(UTC)
    watched = clock([Outage(start, end)], now=end)
    assert watched.spent == timedelta(hours=11)
    assert watched.crossed_at == end - timedelta(hours=1)


def test_an_outage_that_ends_before_it_starts_is_refused():
    with pytest.raises(ValueError, match="before it starts"):
        outage(5, 4)


spans = st.lists(
    st.tuples(st.integers(0, 60), st.integers(0, 30)).map(lambda p: (p[0], p[0] + p[1])), max_size=6
)


@given(spans=spans)
def test_crossings_agree_with_a_count_of_every_hour(spans):
    out = {hour for start, end in spans for hour in range(start, end)}
    spent = [len(out & set(range(t - 24, t))) for t in range(0, 130)]
    counted = [at(t) for t in range(129) if spent[t] == 10 and spent[t + 1] == 11]
    stretches = merged([outage(*span) for span in spans], until=at(200))
    assert crossing_instants(stretches) == counted

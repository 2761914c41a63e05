"""Local days as instants. The transitions named here are in the IANA time zone database."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.recurrence import day_end, day_start, local_day

LONDON = ZoneInfo("Europe/London")
NEW_YORK = ZoneInfo("America/New_York")
zones = st.sampled_from(
    [
        ZoneInfo(name)
        for name in (
            "UTC", "Europe/London", "America/New_York", "America/Sao_Paulo", "Asia/Beirut",
            "Australia/Lord_Howe", "Africa/Cairo", "Asia/Kathmandu", "America/Havana",
        )
    ]
)  # fmt: skip
days = st.dates(date(1990, 1, 1), date(2035, 12, 31))


def utc(*parts):
    return datetime(*parts, tzinfo=UTC)


@pytest.mark.parametrize(
    ("day", "zone", "start", "end"),
    [
        (date(2026, 3, 29), LONDON, utc(2026, 3, 29), utc(2026, 3, 29, 23)),
        (date(2026, 10, 25), LONDON, utc(2026, 10, 24, 23), utc(2026, 10, 26)),
        (date(2026, 3, 8), NEW_YORK, utc(2026, 3, 8, 5), utc(2026, 3, 9, 4)),
        (date(2026, 11, 1), NEW_YORK, utc(2026, 11, 1, 4), utc(2026, 11, 2, 5)),
        (date(2024, 2, 29), LONDON, utc(2024, 2, 29), utc(2024, 3, 1)),
    ],
    ids=["short London day", "long London day", "short New York day", "long day", "leap day"],
)
def test_days_on_which_the_clock_changes_are_an_hour_shorter_or_longer(day, zone, start, end):
    assert (day_start(day, zone), day_end(day, zone)) == (start, end)


def test_a_day_whose_midnight_is_jumped_over_begins_when_the_clock_lands():
    """São Paulo, 4 November 2018: the clock went from 00:00 to 01:00, 03:00 UTC."""
    zone = ZoneInfo("America/Sao_Paulo")
    assert day_start(date(2018, 11, 4), zone) == utc(2018, 11, 4, 3)
    assert day_end(date(2018, 11, 3), zone) == utc(2018, 11, 4, 3)


def test_a_jump_that_begins_before_midnight_begins_the_day_too():
    """Toronto, 30 March 1919: the clock went from 23:30 to 00:30, at 04:30 UTC."""
    zone = ZoneInfo("America/Toronto")
    assert day_start(date(1919, 3, 31), zone) == utc(1919, 3, 31, 4, 30)
    assert day_end(date(1919, 3, 30), zone) == utc(1919, 3, 31, 4, 30)


def test_a_clock_put_back_past_midnight_ends_the_day_before_the_second_time():
    """St. John's, 7 November 2010: at 00:01 the clock went back to 23:01 of the 6th."""
    zone = ZoneInfo("America/St_Johns")
    assert day_start(date(2010, 11, 7), zone) == utc(2010, 11, 7, 2, 30)
    assert day_end(date(2010, 11, 6), zone) == utc(2010, 11, 7, 3, 30)


def test_a_day_that_never_was_has_no_length():
    """Samoa went from 29 to 31 December 2011 across the date line, at 10:00 UTC."""
    zone = ZoneInfo("Pacific/Apia")
    assert day_start(date(2011, 12, 30), zone) == utc(2011, 12, 30, 10)
    assert day_end(date(2011, 12, 30), zone) == utc(2011, 12, 30, 10)
    assert day_start(date(2011, 12, 31), zone) == utc(2011, 12, 30, 10)


def test_a_midnight_that_comes_twice_ends_the_day_the_second_time():
    """Havana, 1 November 2026: at 01:00 the clock goes back to 00:00; both are 1 November."""
    zone = ZoneInfo("America/Havana")
    assert day_start(date(2026, 11, 1), zone) == utc(2026, 11, 1, 4)
    assert day_end(date(2026, 10, 31), zone) == utc(2026, 11, 1, 5)


@given(day=days, zone=zones)
def test_a_day_begins_where_its_date_begins(day, zone):
    start = day_start(day, zone)
    assert local_day(start, zone) == day
    assert local_day(start - timedelta(microseconds=1), zone) == day - timedelta(days=1)


@given(day=days, zone=zones)
def test_from_the_end_of_a_day_on_the_date_is_a_later_one(day, zone):
    end = day_end(day, zone)
    assert local_day(end, zone) == day + timedelta(days=1)
    assert end >= day_start(day + timedelta(days=1), zone)
    assert timedelta(hours=23) <= end - day_start(day, zone) <= timedelta(hours=25)


def test_an_instant_without_a_zone_has_no_local_day():
    with pytest.raises(ValueError, match="no time zone"):
        local_day(datetime(2026, 6, 1), LONDON)

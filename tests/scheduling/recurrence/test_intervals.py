"""Plain intervals against python-dateutil, an independent implementation used only here."""

from datetime import date

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from scheduling.recurrence import UNITS, Interval, parse_interval
from scheduling.recurrence.types import MonthDay

days = st.dates(date(1950, 1, 1), date(2150, 12, 31))
counts = st.integers(1, 60)
ORACLE = {
    "day": lambda n: relativedelta(days=n),
    "week": lambda n: relativedelta(weeks=n),
    "month": lambda n: relativedelta(months=n),
    "quarter": lambda n: relativedelta(months=3 * n),
    "year": lambda n: relativedelta(years=n),
}


@given(day=days, count=counts, unit=st.sampled_from(UNITS), times=st.integers(-12, 12))
def test_intervals_agree_with_dateutil(day, count, unit, times):
    assert Interval(count, unit).after(day, times) == day + ORACLE[unit](count * times)


@given(day=days, count=counts, unit=st.sampled_from(UNITS))
def test_an_interval_before_is_the_stride_backwards(day, count, unit):
    assert Interval(count, unit).before(day) == day - ORACLE[unit](count)


@given(month=st.integers(1, 12), day=st.integers(1, 28), year=st.integers(1950, 2150))
def test_a_month_day_is_that_day_of_every_year(month, day, year):
    assert MonthDay(month, day).in_year(year) == date(year, month, day)


@pytest.mark.parametrize(
    ("start", "interval", "times", "expected"),
    [
        (date(2024, 1, 31), "1 month", 1, date(2024, 2, 29)),
        (date(2023, 1, 31), "1 month", 1, date(2023, 2, 28)),
        (date(2023, 1, 31), "1 month", 2, date(2023, 3, 31)),
        (date(2023, 11, 30), "1 quarter", 1, date(2024, 2, 29)),
        (date(2023, 11, 30), "1 quarter", 2, date(2024, 5, 30)),
        (date(2024, 2, 29), "1 year", 1, date(2025, 2, 28)),
        (date(2024, 2, 29), "1 year", 4, date(2028, 2, 29)),
        (date(2096, 2, 29), "1 year", 4, date(2100, 2, 28)),
        (date(2024, 12, 31), "2 weeks", 1, date(2025, 1, 14)),
    ],
)
def test_month_ends_and_leap_days_counted_by_hand(start, interval, times, expected):
    assert parse_interval(interval).after(start, times) == expected


def test_a_year_is_four_quarters_and_twelve_months():
    day = date(2024, 8, 31)
    assert {
        Interval(*pair).after(day) for pair in ((1, "year"), (4, "quarter"), (12, "month"))
    } == {date(2025, 8, 31)}


def test_29_february_falls_on_the_28th_in_a_common_year():
    leap = MonthDay(2, 29)
    assert (leap.in_year(2025), leap.in_year(2028)) == (date(2025, 2, 28), date(2028, 2, 29))
    assert leap.on_or_after(date(2025, 3, 1)) == date(2026, 2, 28)
    assert leap.on_or_after(date(2028, 2, 29)) == date(2028, 2, 29)


def test_a_day_that_no_year_has_is_refused():
    with pytest.raises(ValueError, match="day is out of range"):
        MonthDay(2, 30)


@given(count=st.integers(0, 9999), unit=st.sampled_from(UNITS))
def test_an_interval_is_read_back_as_it_is_written(count, unit):
    interval = Interval(count, unit)
    assert parse_interval(interval.text) == interval


@pytest.mark.parametrize(
    ("interval", "rhythm"),
    [
        ("1 week", "weekly"),
        ("3 months", "quarterly"),
        ("6 months", "every half year"),
        ("12 months", "yearly"),
        ("5 years", "every 5 years"),
        ("2 weeks", "every 2 weeks"),
    ],
)
def test_a_rhythm_is_said_as_people_say_it(interval, rhythm):
    assert parse_interval(interval).rhythm == rhythm


@pytest.mark.parametrize("text", ["", "yearly", "3", "-1 months", "1.5 years", "3 fortnights"])
def test_what_is_no_interval_is_refused_with_what_would_be(text):
    with pytest.raises(ValueError, match="for example 3 months"):
        parse_interval(text)


def test_an_unknown_unit_and_a_negative_count_are_refused():
    with pytest.raises(ValueError, match="day, week, month, quarter, year"):
        Interval(1, "fortnight")
    with pytest.raises(ValueError, match="below 0"):
        Interval(-1, "day")

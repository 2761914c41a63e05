"""Due days by cost of delay, by hand: points that may go, divided by points a week."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.rules import Delay, Facts, Party
from scheduling.rules.dating import affordable_days, due_day

KNOWN = datetime(2026, 6, 1, 12, tzinfo=UTC)
FACTS = Facts(
    now=KNOWN,
    zone=ZoneInfo("Europe/London"),
    owner=Party(1, "Averhythe Quays"),
    contractor=None,
    state="aerated",
    since=KNOWN,
    present_since=KNOWN,
    reason="",
)


def facts(points_per_week=None, days_later=0):
    delay = None if points_per_week is None else Delay(points_per_week, "digest 1")
    return replace(FACTS, delay=delay, now=KNOWN + timedelta(days=days_later))


@pytest.mark.parametrize(
    ("points_per_week", "days"),
    [
        (None, None),
        (0.0, None),
        (-0.1, None),
        (0.5, 7),  # half a point goes in one week
        (0.25, 14),
        (0.4, 8),  # 8.75 days: the last whole day
        (35.0, 1),  # never less than a day
    ],
)
def test_affordable_days(points_per_week, days):
    assert affordable_days(facts(points_per_week), 0.5) == days


@pytest.mark.parametrize(
    ("points_per_week", "days_later", "expected", "says"),
    [
        pytest.param(None, 0, date(2026, 6, 15), "No assessment says", id="no assessment"),
        pytest.param(0.0, 0, date(2026, 6, 15), "no score is lost by waiting", id="free to wait"),
        pytest.param(0.1, 0, date(2026, 6, 15), "limit comes first", id="cheap to wait"),
        pytest.param(0.1, 0, date(2026, 6, 15), "would last 35 days", id="days"),
        pytest.param(0.002, 0, date(2026, 6, 15), "would last 5 years", id="years, not 1750 days"),
        pytest.param(0.5, 0, date(2026, 6, 8), "costs 0.5 score points", id="dear to wait"),
        pytest.param(0.5, 9, date(2026, 6, 10), "costs 0.5", id="dear only now: today"),
        pytest.param(0.5, 20, date(2026, 6, 15), "costs 0.5", id="past the limit: the limit"),
    ],
)
def test_due_day(points_per_week, days_later, expected, says):
    due = due_day(facts(points_per_week, days_later), KNOWN, limit_days=14, points=0.5)
    assert due.day == expected
    assert says in due.because


@given(
    points_per_week=st.none() | st.floats(0, 100),
    limit_days=st.integers(1, 400),
    days_later=st.integers(0, 500),
)
def test_no_day_is_later_than_the_policys_limit_or_before_the_next(
    points_per_week, limit_days, days_later
):
    due = due_day(facts(points_per_week, days_later), KNOWN, limit_days=limit_days, points=0.5)
    assert date(2026, 6, 2) <= due.day <= date(2026, 6, 1) + timedelta(days=limit_days)


def test_the_key_stays_while_only_the_clock_goes_on_and_changes_with_the_assessment():
    first = due_day(facts(0.5), KNOWN, limit_days=14, points=0.5).key
    later = due_day(facts(0.5, 9), KNOWN, limit_days=14, points=0.5).key
    other = replace(facts(0.5), delay=Delay(0.5, "digest 2"))
    assert later == first
    assert due_day(other, KNOWN, limit_days=14, points=0.5).key != first
    assert due_day(facts(0.5), KNOWN, limit_days=10, points=0.5).key != first

"""Days and hours in the site's zone, handed on as UTC: when work may be done, is planned, is late.

Dates are added on the wall calendar and turned into instants last, so that a working day begins at
eight o'clock there on both sides of a change of the clocks.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

DAY_BEGINS, DAY_ENDS = time(8), time(16)
READING_BEGINS = time(9)
READING_TAKES = timedelta(hours=1)
QUARTER = timedelta(minutes=15)


@dataclass(frozen=True, slots=True)
class WorkSlot:
    """Time set aside in calendars; from when the work counts, and from when it is late."""

    starts_at: datetime
    ends_at: datetime
    due_at: datetime
    opens_at: datetime | None = None


def instant(day: date, at: time, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, at, tzinfo=zone).astimezone(UTC)


def last_day(known_at: datetime, within_days: int, zone: ZoneInfo) -> date:
    return known_at.astimezone(zone).date() + timedelta(days=within_days)


def working_day(day: date, zone: ZoneInfo) -> WorkSlot:
    """The whole working day; late when it is over."""
    ends_at = instant(day, DAY_ENDS, zone)
    return WorkSlot(instant(day, DAY_BEGINS, zone), ends_at, due_at=ends_at)


def reading_hour(day: date, zone: ZoneInfo) -> WorkSlot:
    starts_at = instant(day, READING_BEGINS, zone)
    return WorkSlot(starts_at, starts_at + READING_TAKES, due_at=instant(day, DAY_ENDS, zone))


def reading_window(
    *, opens_at: datetime, best_at: datetime, late_from: datetime, zone: ZoneInfo
) -> WorkSlot:
    """An hour of the best day, not before the reading counts."""
    morning = instant(best_at.astimezone(zone).date(), READING_BEGINS, zone)
    starts_at = max(morning, next_quarter(opens_at))
    return WorkSlot(starts_at, starts_at + READING_TAKES, late_from, opens_at)


def next_quarter(when: datetime) -> datetime:
    past = timedelta(minutes=when.minute % 15, seconds=when.second, microseconds=when.microsecond)
    return when if not past else when - past + QUARTER

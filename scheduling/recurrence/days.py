"""Where a site's day begins and ends, as instants: clocks that jump make this less than obvious."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo


def day_start(day: date, zone: ZoneInfo) -> datetime:
    """The first instant of a day at the site, in UTC."""
    return _midnight(day, zone, fold=0)


def day_end(day: date, zone: ZoneInfo) -> datetime:
    """The instant at which a day at the site is over for good, in UTC: due work is late from here.

    Where the clock goes back across midnight the day comes round twice; the second counts.
    """
    return _midnight(day + timedelta(days=1), zone, fold=1)


def local_day(when: datetime, zone: ZoneInfo) -> date:
    if when.tzinfo is None:
        raise ValueError(f"{when} has no time zone")
    return when.astimezone(zone).date()


def _midnight(day: date, zone: ZoneInfo, fold: int) -> datetime:
    wanted = datetime.combine(day, time.min, tzinfo=zone).replace(fold=fold)
    instant = wanted.astimezone(UTC)
    if instant.astimezone(zone).replace(tzinfo=None) == wanted.replace(tzinfo=None):
        return instant
    return _jump_across(wanted, zone)


def _jump_across(missing: datetime, zone: ZoneInfo) -> datetime:
    """The instant at which the clock jumps over a wall time that does not exist there.

    Read with the offset after the jump (fold 1) the missing time lies before it, read with the
    offset before the jump (fold 0) at or after it; halving finds the second between them.
    """
    low = missing.replace(fold=1).astimezone(UTC)
    high = missing.replace(fold=0).astimezone(UTC)
    before = low.astimezone(zone).utcoffset()
    while high - low > timedelta(seconds=1):
        middle = low + timedelta(seconds=int((high - low).total_seconds()) // 2)
        if middle.astimezone(zone).utcoffset() == before:
            low = middle
        else:
            high = middle
    return high

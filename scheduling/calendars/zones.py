"""A zone's rules as a VTIMEZONE (RFC 5545 3.6.5), for the years in use and no others.

The library can write one too, but dates a change to summer time by the clock after the change
(02:00 in London, where 01:00 is meant), so a strict reader is wrong within that hour; and it adds
a remark where the format allows none.
"""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from icalendar import Timezone, TimezoneDaylight, TimezoneStandard

Observance = TimezoneStandard | TimezoneDaylight
DAY = timedelta(days=1)
SECOND = timedelta(seconds=1)


def describe_zone(name: str, first_year: int, last_year: int) -> Timezone:
    zone = ZoneInfo(name)
    described = Timezone()
    described.add("tzid", name)
    start = datetime(first_year, 1, 1, tzinfo=UTC) - DAY
    described.add_component(_observance(zone, start, _offset(zone, start)))
    for change in changes(name, first_year, last_year):
        described.add_component(_observance(zone, change, _offset(zone, change - SECOND)))
    return described


@lru_cache(maxsize=256)
def changes(name: str, first_year: int, last_year: int) -> tuple[datetime, ...]:
    """The instants at which the clocks change, to the second, from first to last year."""
    return tuple(_changes(ZoneInfo(name), first_year, last_year))


def _changes(zone: ZoneInfo, first_year: int, last_year: int) -> Iterator[datetime]:
    day = datetime(first_year, 1, 1, tzinfo=UTC) - DAY
    end = datetime(last_year + 1, 1, 2, tzinfo=UTC)
    while day < end:
        if _offset(zone, day) != _offset(zone, day + DAY):
            yield _first_after(zone, day)
        day += DAY


def _first_after(zone: ZoneInfo, day: datetime) -> datetime:
    """By halving: the first second of the day after `day` that has another offset."""
    before, after = 0, int(DAY.total_seconds())
    while after - before > 1:
        middle = (before + after) // 2
        is_same = _offset(zone, day + middle * SECOND) == _offset(zone, day)
        before, after = (middle, after) if is_same else (before, middle)
    return day + after * SECOND


def _observance(zone: ZoneInfo, since: datetime, offset_before: timedelta) -> Observance:
    """From `since` on; its DTSTART is what the clock showed by the offset before."""
    local = since.astimezone(zone)
    observance = TimezoneDaylight() if local.dst() else TimezoneStandard()
    observance.add("dtstart", (since + offset_before).replace(tzinfo=None))
    observance.add("tzoffsetfrom", offset_before)
    observance.add("tzoffsetto", _offset(zone, since))
    observance.add("tzname", local.tzname() or zone.key)
    return observance


def _offset(zone: ZoneInfo, when: datetime) -> timedelta:
    return when.astimezone(zone).utcoffset() or timedelta(0)

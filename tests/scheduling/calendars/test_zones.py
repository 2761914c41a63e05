"""VTIMEZONE against the IANA rules, read back by python-dateutil's own reader of the format."""

import io
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil.tz import tzical

from scheduling.calendars.zones import changes, describe_zone

ZONES = [
    "Europe/London",
    "Europe/Dublin",
    "America/Chicago",
    "America/Santiago",
    "Asia/Kolkata",
    "Australia/Lord_Howe",
    "Pacific/Auckland",
    "Africa/Casablanca",
]


def read_back(name, first_year, last_year):
    text = describe_zone(name, first_year, last_year).to_ical().decode()
    return tzical(io.StringIO(text)).get(name)


def telling_instants(name):
    """Every quarter of an hour around each change, and noon on the first of each month."""
    for change in changes(name, 2026, 2027):
        yield from (change + quarters * timedelta(minutes=15) for quarters in range(-12, 13))
    for month in range(24):
        yield datetime(2026 + month // 12, month % 12 + 1, 1, 12, tzinfo=UTC)


@pytest.mark.parametrize("name", ZONES)
def test_another_reader_gets_the_same_offsets_over_two_years(name):
    described, zone = read_back(name, 2026, 2027), ZoneInfo(name)
    for instant in telling_instants(name):
        local = instant.astimezone(zone)
        if not _is_shown_twice(local, zone):
            naive = local.replace(tzinfo=None)
            assert naive.replace(tzinfo=described).utcoffset() == local.utcoffset(), local


def _is_shown_twice(local, zone):
    """In the hour that the clocks repeat a local time alone does not name an instant."""
    return local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()


def test_clocks_in_london_change_at_one_in_the_morning_universal_time():
    assert changes("Europe/London", 2026, 2026) == (
        datetime(2026, 3, 29, 1, tzinfo=UTC),
        datetime(2026, 10, 25, 1, tzinfo=UTC),
    )


def test_summer_time_is_dated_by_the_clock_before_the_change():
    text = describe_zone("Europe/London", 2026, 2026).to_ical().decode()
    assert "DTSTART:20260329T010000" in text
    assert "DTSTART:20261025T020000" in text


def test_a_zone_whose_clocks_do_not_change_has_one_line_of_rules():
    assert changes("Asia/Kolkata", 2026, 2027) == ()

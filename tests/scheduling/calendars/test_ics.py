"""The iCalendar file, read back by independent readers: vobject, and recurring-ical-events."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
import recurring_ical_events
import vobject
from icalendar import Calendar

from scheduling.calendars.ics import CalendarEntry, CalendarSlot, CalendarText, build_feed, digest

NASTY = (
    "Dock; shed, \\\\ “north”: a,b;c\nsecond line\r\nthird: BEGIN:VEVENT\n"
    + "Überlänge für die Faltung – 漢字かな交じり文 🔥 " * 6
)


def entry(number=1, starts_at=datetime(2026, 6, 15, 7, tzinfo=UTC), **slot):
    return CalendarEntry(
        uid=f"9d5f0c1e-0000-4000-8000-{number:012d}",
        sequence=0,
        created_at=datetime(2026, 6, 1, 12, tzinfo=UTC),
        modified_at=datetime(2026, 6, 1, 12, tzinfo=UTC),
        slot=CalendarSlot(
            **{
                "starts_at": starts_at,
                "ends_at": starts_at + timedelta(hours=8),
                "time_zone": "Europe/London",
                "location": "Shed 4, North Quay, 1 Quay Road",
                "is_cancelled": False,
                **slot,
            }
        ),
        text=CalendarText(
            summary="Re-inerting order, NQ-101",
            description="The valve tripped.\n\nNitrogen displaces the air people breathe.",
            url="http://localhost:8000/tasks/1/",
            categories=("Re-inerting order", "Wet pipe"),
            priority=2,
            has_alarm=True,
        ),
    )


def read(*entries, name="Riserbook: Work"):
    return vobject.readOne(build_feed(name, entries).decode())


def lines(*entries):
    unfolded = build_feed("Riserbook", entries).decode().replace("\r\n ", "")
    return unfolded.split("\r\n")


def test_an_independent_reader_finds_every_property():
    (event,) = read(entry()).vevent_list
    assert event.uid.value == "9d5f0c1e-0000-4000-8000-000000000001"
    assert event.summary.value == "Re-inerting order, NQ-101"
    assert event.location.value == "Shed 4, North Quay, 1 Quay Road"
    assert event.status.value == "CONFIRMED"
    assert event.sequence.value == "0"
    assert event.priority.value == "2"
    assert event.url.value == "http://localhost:8000/tasks/1/"
    assert event.transp.value == "TRANSPARENT"
    assert event.categories.value == ["Re-inerting order", "Wet pipe"]
    assert event.valarm.trigger.value == timedelta(days=-1)
    assert event.valarm.action.value == "DISPLAY"


def test_the_calendar_names_itself_and_says_how_often_to_ask():
    calendar = read(entry())
    assert calendar.version.value == "2.0"
    assert calendar.contents["name"][0].value == "Riserbook: Work"
    assert "REFRESH-INTERVAL;VALUE=DURATION:PT1H" in lines(entry())
    assert "X-PUBLISHED-TTL:PT1H" in lines(entry())


def test_the_file_says_when_it_was_revised_and_not_when_it_was_asked_for():
    text = lines(entry())
    assert "DTSTAMP:20260601T120000Z" in text
    assert "LAST-MODIFIED:20260601T120000Z" in text
    assert build_feed("a", [entry()]) == build_feed("a", [entry()])


def test_nasty_text_survives_folding_and_escaping():
    nasty = replace(
        entry(location=NASTY), text=replace(entry().text, summary=NASTY, description=NASTY)
    )
    body = build_feed(NASTY.splitlines()[0], [nasty])
    assert all(len(line) <= 75 for line in body.split(b"\r\n"))
    body.decode("utf-8")
    (event,) = vobject.readOne(body.decode()).vevent_list
    expected = NASTY.replace("\r\n", "\n")
    assert event.description.value == expected
    assert event.location.value == expected
    assert event.summary.value == expected


@pytest.mark.parametrize(
    ("zone", "starts_at", "local"),
    [
        pytest.param(
            "Europe/London",
            datetime(2026, 3, 29, 7, tzinfo=UTC),
            "20260329T080000",
            id="the day summer time begins",
        ),
        pytest.param(
            "Europe/London",
            datetime(2026, 10, 25, 8, tzinfo=UTC),
            "20261025T080000",
            id="the day it ends",
        ),
        pytest.param(
            "America/Chicago",
            datetime(2026, 11, 1, 14, tzinfo=UTC),
            "20261101T080000",
            id="the day it ends in Chicago",
        ),
        pytest.param(
            "Asia/Kolkata",
            datetime(2026, 6, 15, 2, 30, tzinfo=UTC),
            "20260615T080000",
            id="half an hour off, no summer time",
        ),
    ],
)
def test_times_stand_in_the_sites_zone_and_readers_get_the_same_instant(zone, starts_at, local):
    one = entry(time_zone=zone, starts_at=starts_at, ends_at=starts_at + timedelta(hours=8))
    assert f"DTSTART;TZID={zone}:{local}" in lines(one)
    (event,) = read(one).vevent_list
    assert event.dtstart.value.astimezone(UTC) == starts_at
    (found,) = recurring_ical_events.of(Calendar.from_ical(build_feed("a", [one]))).at(
        starts_at.date()
    )
    assert found["DTSTART"].dt.astimezone(UTC) == starts_at


def test_every_zone_in_use_is_described_once_without_a_remark_strict_readers_refuse():
    many = [entry(1), entry(2), entry(3, time_zone="America/Chicago")]
    text = lines(*many)
    assert sorted(line for line in text if line.startswith("TZID:")) == [
        "TZID:America/Chicago",
        "TZID:Europe/London",
    ]
    assert not any(line.startswith("COMMENT") for line in text)
    assert len(text) < 180


@pytest.mark.parametrize("name", ["UTC", "Etc/UTC", "Africa/Abidjan"])
def test_a_site_on_universal_time_needs_no_zone(name):
    text = lines(entry(time_zone=name))
    assert "DTSTART:20260615T070000Z" in text
    assert "BEGIN:VTIMEZONE" not in text


def test_a_cancelled_entry_says_so_and_rings_no_alarm():
    cancelled = replace(entry(is_cancelled=True), text=replace(entry().text, has_alarm=False))
    (event,) = read(cancelled).vevent_list
    assert event.status.value == "CANCELLED"
    assert "valarm" not in event.contents


def test_an_entry_that_changed_is_never_served_as_it_was_before():
    before = build_feed("a", [entry(1), entry(2)])
    after = build_feed("a", [entry(1), replace(entry(2), sequence=1)])
    assert before.count(b"SEQUENCE:1") == 0 and after.count(b"SEQUENCE:1") == 1


REPEATED = [
    pytest.param("Europe/London", datetime(2026, 10, 25, 0, 30, tzinfo=UTC), id="first time"),
    pytest.param("Europe/London", datetime(2026, 10, 25, 1, 30, tzinfo=UTC), id="second time"),
    pytest.param("Europe/London", datetime(2026, 10, 24, 22, tzinfo=UTC), id="only its end"),
    pytest.param("America/Chicago", datetime(2026, 11, 1, 6, 30, tzinfo=UTC), id="Chicago"),
    pytest.param("Australia/Lord_Howe", datetime(2026, 4, 4, 15, tzinfo=UTC), id="half an hour"),
]


@pytest.mark.parametrize(("zone", "starts_at"), REPEATED)
def test_the_hour_that_comes_twice_is_written_in_universal_time(zone, starts_at):
    ends_at = starts_at + timedelta(hours=3 if zone == "Europe/London" else 4)
    one = entry(time_zone=zone, starts_at=starts_at, ends_at=ends_at)
    assert f"DTSTART:{starts_at:%Y%m%dT%H%M%SZ}" in lines(one)
    assert f"DTEND:{ends_at:%Y%m%dT%H%M%SZ}" in lines(one)
    assert "BEGIN:VTIMEZONE" not in lines(one)


@pytest.mark.parametrize("minutes", [-1, 120])
def test_a_minute_beside_that_hour_is_written_by_the_clock_at_the_site(minutes):
    """In London 01:00 to 02:00 on the last Sunday of October, from 00:00 to 02:00 UTC."""
    at = datetime(2026, 10, 25, 0, 0, tzinfo=UTC) + timedelta(minutes=minutes)
    ends_at = at + timedelta(hours=3 if minutes > 0 else 12)
    assert any(
        line.startswith("DTSTART;TZID") for line in lines(entry(starts_at=at, ends_at=ends_at))
    )


@pytest.mark.parametrize(
    ("flags", "status", "transp"),
    [
        ({}, "CONFIRMED", "TRANSPARENT"),
        ({"is_tentative": True}, "TENTATIVE", "TRANSPARENT"),
        ({"is_busy": True}, "CONFIRMED", "OPAQUE"),
        ({"is_cancelled": True, "is_tentative": True}, "CANCELLED", "TRANSPARENT"),
    ],
)
def test_status_and_busy_time(flags, status, transp):
    (event,) = read(entry(**{"is_cancelled": False, **flags})).vevent_list
    assert (event.status.value, event.transp.value) == (status, transp)


def test_the_digest_of_a_slot_that_is_neither_tentative_nor_busy_is_unchanged():
    """Or every calendar would be told that every entry moved. By the program before it."""
    before = "b384a965f0f3e8c1246b3068e09f8578"
    assert digest(entry().slot).startswith(before)


def test_the_name_of_the_calendar_is_escaped():
    body = build_feed("Dock; a,b\\c\nBEGIN:VEVENT", [])
    assert b"\r\nNAME:Dock\\; a\\,b\\\\c BEGIN:VEVENT\r\n" in body
    assert vobject.readOne(body.decode()).contents.get("vevent") is None


def test_an_empty_feed_is_still_a_calendar():
    calendar = read()
    assert calendar.version.value == "2.0"
    assert "vevent" not in calendar.contents


@pytest.mark.parametrize(
    "change",
    [
        {"starts_at": datetime(2026, 6, 16, 7, tzinfo=UTC)},
        {"ends_at": datetime(2026, 6, 15, 16, tzinfo=UTC)},
        {"time_zone": "Europe/Paris"},
        {"location": "Shed 5, North Quay"},
        {"is_cancelled": True},
    ],
    ids=lambda change: next(iter(change)),
)
def test_each_change_of_time_zone_place_or_status_changes_the_digest(change):
    assert digest(replace(entry().slot, **change)) != digest(entry().slot)


def test_a_year_of_entries_keeps_the_zone_short():
    entries = [
        entry(n, datetime(2026, 1, 1, 9, tzinfo=UTC) + timedelta(days=n)) for n in range(365)
    ]
    events = read(*entries).vevent_list
    assert [event.dtstart.value.astimezone(UTC) for event in events] == [
        one.slot.starts_at for one in entries
    ]
    assert events[0].dtstart.value.date() == date(2026, 1, 1)

"""Follow-ups as iCalendar (RFC 5545, RFC 7986): pure, from dataclasses to bytes.

Nothing here reads the clock, so the same follow-ups always give the same bytes. Without a METHOD,
DTSTAMP means the last revision (RFC 5545 3.8.7.2), which is what it says here.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import astuple, dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from icalendar import Alarm, Calendar, Event, Timezone, vDDDTypes

from scheduling.calendars.zones import describe_zone

PRODUCT = "-//Riserbook//Follow-ups//EN"
REFRESH, REFRESH_TEXT = timedelta(hours=1), "PT1H"
ALARM_BEFORE = timedelta(days=1)
DAY_BEGINS = timedelta(hours=8)  # what alarms of whole days count back from
END = b"END:VCALENDAR\r\n"


@dataclass(frozen=True, slots=True)
class CalendarSlot:
    """What a calendar has to move or cancel when it changes; a change raises SEQUENCE.

    RFC 5546 2.1.4 names start, end and status (from memory, check the primary document); the place
    is added because a technician who has the old one drives there.
    """

    starts_at: datetime | date  # a date: the whole day, wherever it is read
    ends_at: datetime | date
    time_zone: str
    location: str
    is_cancelled: bool


@dataclass(frozen=True, slots=True)
class CalendarText:
    """What a calendar shows beside it; a change moves LAST-MODIFIED alone."""

    summary: str
    description: str
    url: str
    categories: tuple[str, ...]
    priority: int
    has_alarm: bool


@dataclass(frozen=True, slots=True)
class CalendarEntry:
    uid: str
    sequence: int
    created_at: datetime
    modified_at: datetime
    slot: CalendarSlot
    text: CalendarText
    alarm_before: timedelta | None = ALARM_BEFORE  # as its feed wants it; None: silent


def digest(part: CalendarSlot | CalendarText) -> str:
    return hashlib.sha256(repr(astuple(part)).encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Piece:
    """One entry as written, with what the frame around it needs to know."""

    lines: bytes
    zone: str  # none for whole days
    first_year: int
    last_year: int
    modified_at: datetime


def build_feed(name: str, entries: Sequence[CalendarEntry]) -> bytes:
    """The whole file."""
    return bind(name, [write(entry) for entry in entries])


def write(entry: CalendarEntry) -> Piece:
    slot = entry.slot
    begin, end = (_local(when, slot.time_zone) for when in (slot.starts_at, slot.ends_at))
    zone = slot.time_zone if isinstance(begin, datetime) else ""
    lines = bytes(_event(entry).to_ical())
    return Piece(lines, zone, begin.year, end.year, entry.modified_at)


def bind(name: str, pieces: Sequence[Piece]) -> bytes:
    """The file around entries that were written before."""
    frame = bytes(_frame(name, pieces).to_ical())
    return frame.removesuffix(END) + b"".join(piece.lines for piece in pieces) + END


def _frame(name: str, pieces: Sequence[Piece]) -> Calendar:
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("name", name)
    calendar.add("x-wr-calname", name)
    calendar.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", REFRESH_TEXT)
    for zone in _zones(pieces):
        calendar.add_component(zone)
    return calendar


def _event(entry: CalendarEntry) -> Event:
    slot, text = entry.slot, entry.text
    event = Event()
    event.add("uid", entry.uid)
    event.add("sequence", entry.sequence)
    event.add("dtstamp", entry.modified_at.astimezone(UTC))
    event.add("last-modified", entry.modified_at.astimezone(UTC))
    event.add("created", entry.created_at.astimezone(UTC))
    event.add("dtstart", _local(slot.starts_at, slot.time_zone))
    event.add("dtend", _local(slot.ends_at, slot.time_zone))
    event.add("status", "CANCELLED" if slot.is_cancelled else "CONFIRMED")
    event.add("transp", "TRANSPARENT")
    event.add("summary", text.summary)
    if slot.location:
        event.add("location", slot.location)
    event.add("description", text.description)
    event.add("url", text.url)
    event.add("categories", list(text.categories))
    event.add("priority", text.priority)
    if text.has_alarm and entry.alarm_before:
        begins = timedelta(0) if isinstance(slot.starts_at, datetime) else DAY_BEGINS
        event.add_component(_alarm(text.summary, begins - entry.alarm_before))
    return event


def _local(when: datetime | date, zone: str) -> datetime | date:
    return when.astimezone(ZoneInfo(zone)) if isinstance(when, datetime) else when


def _alarm(summary: str, trigger: timedelta) -> Alarm:
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("trigger", trigger)
    alarm.add("description", summary)
    return alarm


def _zones(pieces: Sequence[Piece]) -> list[Timezone]:
    """Each zone in use, over the years in which it is used; universal time needs no description."""
    years: dict[str, set[int]] = {}
    for piece in (piece for piece in pieces if piece.zone):
        years.setdefault(piece.zone, set()).update((piece.first_year, piece.last_year))
    return [
        describe_zone(name, min(used), max(used))
        for name, used in sorted(years.items())
        if _is_written_by_name(name)
    ]


def _is_written_by_name(zone: str) -> bool:
    """The library writes a zone that is universal time all year with a Z and without its name."""
    return "TZID" in vDDDTypes(datetime(2000, 1, 1, tzinfo=ZoneInfo(zone))).params

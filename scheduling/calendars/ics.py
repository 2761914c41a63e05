"""Follow-ups as iCalendar (RFC 5545, RFC 7986): pure, from dataclasses to bytes.

Nothing here reads the clock, so the same follow-ups always give the same bytes. Without a METHOD,
DTSTAMP means the last revision (RFC 5545 3.8.7.2), which is what it says here.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import astuple, dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo
from functools import cache
from zoneinfo import ZoneInfo

from icalendar import Alarm, Calendar, Event, Timezone, vDDDTypes, vText

from scheduling.calendars.plain_text import one_line, without_controls
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
    is_tentative: bool = False  # the time is proposed or expected; nobody has agreed to it
    is_busy: bool = False  # a crew is booked for it


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
    """A slot that is neither tentative nor busy has the digest it had before it could be either,
    so that no calendar was told of a change where none was."""
    told = astuple(part)
    if isinstance(part, CalendarSlot) and not (part.is_tentative or part.is_busy):
        told = told[:-2]
    return hashlib.sha256(repr(told).encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Piece:
    """One entry as written, with what the frame around it needs to know."""

    lines: bytes
    zone: str  # none for whole days and for universal time
    first_year: int
    last_year: int
    modified_at: datetime


def build_feed(name: str, entries: Sequence[CalendarEntry]) -> bytes:
    """The whole file."""
    return bind(name, [write(entry) for entry in entries])


def write(entry: CalendarEntry) -> Piece:
    begin, end = _times(entry.slot)
    zone = entry.slot.time_zone if isinstance(begin, datetime) and begin.tzinfo != UTC else ""
    lines = bytes(_event(entry, begin, end).to_ical())
    return Piece(lines, zone, begin.year, end.year, entry.modified_at)


def bind(name: str, pieces: Sequence[Piece]) -> bytes:
    """The file around entries that were written before."""
    frame = bytes(_frame(name, pieces).to_ical())
    return frame.removesuffix(END) + b"".join(piece.lines for piece in pieces) + END


def _frame(name: str, pieces: Sequence[Piece]) -> Calendar:
    name = one_line(name)
    calendar = Calendar()
    calendar.add("version", "2.0")
    calendar.add("prodid", PRODUCT)
    calendar.add("name", vText(name))
    calendar.add("x-wr-calname", vText(name))
    calendar.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", REFRESH_TEXT)
    for zone in _zones(pieces):
        calendar.add_component(zone)
    return calendar


def _event(entry: CalendarEntry, begin: datetime | date, end: datetime | date) -> Event:
    """Lines are escaped and folded by the library; it lets control characters pass, which the
    format allows nowhere."""
    slot, text = entry.slot, entry.text
    modified = entry.modified_at.astimezone(UTC)
    event = Event()
    event.add("uid", one_line(entry.uid))
    event.add("sequence", entry.sequence)
    event.add("dtstamp", modified)
    event.add("last-modified", modified)
    event.add("created", entry.created_at.astimezone(UTC))
    event.add("dtstart", begin)
    event.add("dtend", end)
    event.add("status", _status(slot))
    event.add("transp", "OPAQUE" if slot.is_busy else "TRANSPARENT")
    event.add("summary", without_controls(text.summary))
    if slot.location:
        event.add("location", without_controls(slot.location))
    event.add("description", without_controls(text.description))
    event.add("url", one_line(text.url))
    event.add("categories", [without_controls(category) for category in text.categories])
    event.add("priority", text.priority)
    if text.has_alarm and entry.alarm_before:
        begins = timedelta(0) if isinstance(slot.starts_at, datetime) else DAY_BEGINS
        event.add_component(_alarm(without_controls(text.summary), begins - entry.alarm_before))
    return event


def _alarm(summary: str, trigger: timedelta) -> Alarm:
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("trigger", trigger)
    alarm.add("description", summary)
    return alarm


def _status(slot: CalendarSlot) -> str:
    if slot.is_cancelled:
        return "CANCELLED"
    return "TENTATIVE" if slot.is_tentative else "CONFIRMED"


def _times(slot: CalendarSlot) -> tuple[datetime | date, datetime | date]:
    """As the clock at the site shows them; both in universal time where that clock shows one of
    them twice, in the hour that is repeated when summer time ends, since readers differ there."""
    times = (slot.starts_at, slot.ends_at)
    if not isinstance(slot.starts_at, datetime) or not isinstance(slot.ends_at, datetime):
        return times
    zone = _zone_named(slot.time_zone)
    begin, end = (when.astimezone(zone) for when in (slot.starts_at, slot.ends_at))
    if zone is UTC or _is_repeated(begin) or _is_repeated(end):
        return slot.starts_at.astimezone(UTC), slot.ends_at.astimezone(UTC)
    return begin, end


def _is_repeated(local: datetime) -> bool:
    return local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()


def _zones(pieces: Sequence[Piece]) -> list[Timezone]:
    """Each zone in use, over the years in which it is used; universal time needs no description."""
    years: dict[str, set[int]] = {}
    for piece in (piece for piece in pieces if piece.zone):
        years.setdefault(piece.zone, set()).update((piece.first_year, piece.last_year))
    return [describe_zone(name, min(used), max(used)) for name, used in sorted(years.items())]


@cache
def _zone_named(name: str) -> tzinfo:
    """UTC itself for a zone that is universal time all year, which is written without its name."""
    zone = ZoneInfo(name)
    is_named = "TZID" in vDDDTypes(datetime(2000, 1, 1, tzinfo=zone)).params
    return zone if is_named else UTC

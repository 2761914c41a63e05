"""Follow-ups as iCalendar (RFC 5545, RFC 7986): pure, from dataclasses to bytes.

Nothing here reads the clock, so the same follow-ups always give the same bytes. Without a METHOD,
DTSTAMP means the last revision (RFC 5545 3.8.7.2), which is what it says here.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import astuple, dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from icalendar import Alarm, Calendar, Event, Timezone, vDuration

from scheduling.zones import describe_zone

PRODUCT = "-//Riserbook//Follow-ups//EN"
REFRESH = timedelta(hours=1)
ALARM_BEFORE = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Slot:
    """What a calendar has to move or cancel when it changes; a change raises SEQUENCE.

    RFC 5546 2.1.4 names start, end and status (from memory, check the primary document); the place
    is added because a technician who has the old one drives there.
    """

    starts_at: datetime
    ends_at: datetime
    time_zone: str
    location: str
    is_cancelled: bool


@dataclass(frozen=True, slots=True)
class Text:
    """What a calendar shows beside it; a change moves LAST-MODIFIED alone."""

    summary: str
    description: str
    url: str
    categories: tuple[str, ...]
    priority: int
    has_alarm: bool


@dataclass(frozen=True, slots=True)
class Entry:
    uid: str
    sequence: int
    created_at: datetime
    modified_at: datetime
    slot: Slot
    text: Text


def digest(part: Slot | Text) -> str:
    return hashlib.sha256(repr(astuple(part)).encode()).hexdigest()


def build_feed(name: str, entries: Sequence[Entry]) -> bytes:
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("name", name)
    calendar.add("x-wr-calname", name)
    calendar.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", vDuration(REFRESH).to_ical().decode())
    events = [_event(entry) for entry in entries]
    for component in (*_zones(events), *events):
        calendar.add_component(component)
    return calendar.to_ical()


def _event(entry: Entry) -> Event:
    slot, text = entry.slot, entry.text
    zone = ZoneInfo(slot.time_zone)
    event = Event()
    event.add("uid", entry.uid)
    event.add("sequence", entry.sequence)
    event.add("dtstamp", entry.modified_at.astimezone(UTC))
    event.add("last-modified", entry.modified_at.astimezone(UTC))
    event.add("created", entry.created_at.astimezone(UTC))
    event.add("dtstart", slot.starts_at.astimezone(zone))
    event.add("dtend", slot.ends_at.astimezone(zone))
    event.add("status", "CANCELLED" if slot.is_cancelled else "CONFIRMED")
    event.add("transp", "TRANSPARENT")
    event.add("summary", text.summary)
    event.add("location", slot.location)
    event.add("description", text.description)
    event.add("url", text.url)
    event.add("categories", list(text.categories))
    event.add("priority", text.priority)
    if text.has_alarm:
        event.add_component(_alarm(text.summary))
    return event


def _alarm(summary: str) -> Alarm:
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("trigger", -ALARM_BEFORE)
    alarm.add("description", summary)
    return alarm


def _zones(events: Sequence[Event]) -> list[Timezone]:
    """Each zone that the events name, over the years in which they name it."""
    years: dict[str, set[int]] = {}
    for event in events:
        for name in ("DTSTART", "DTEND"):
            if zone := event[name].params.get("TZID"):
                years.setdefault(zone, set()).add(event[name].dt.year)
    return [describe_zone(zone, min(used), max(used)) for zone, used in sorted(years.items())]

"""Recurring work as calendars see it: what is planned, was done or let go, and is expected.

Each is a whole day, the one on which it is due at the site: a date, the same wherever it is read.
What is late stands at today, and says how late it is; it is revised with each day at its site.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta
from uuid import UUID

from django.conf import settings
from django.urls import reverse

from registry.models import System
from scheduling.calendars.follow_ups import WHO_DECIDES, label, lateness, location
from scheduling.calendars.ics import CalendarEntry, CalendarSlot, CalendarText
from scheduling.calendars.revisions import RevisionDraft, revise
from scheduling.follow_ups.protection_words import protection_line
from scheduling.library import GROUPS
from scheduling.models import Occurrence, RecurringItem
from scheduling.models.uids import following_uid, occurrence_uids, rhythm_uid
from scheduling.recurrence import PlannedSlot, day_start, local_day
from scheduling.recurring.ahead import Expected, expected_ahead

PRIORITY = 5
NO_DAY = date(2000, 1, 1)  # of a rhythm on a fixed calendar; only its place can change
PREFIXES: dict[str, str] = {
    Occurrence.Status.DONE: "Done: ",
    Occurrence.Status.SKIPPED: "Skipped: ",
    Occurrence.Status.MISSED: "Missed: ",
    Occurrence.Status.WITHDRAWN: "No longer asked for: ",
}
EXPECTED = "Expected: "
MOVES = "Expected if what comes before it is done in time; it moves with that."
CAUTION = (
    "Check the adopted edition. A test that moves water or closes a valve takes the fire "
    "protection away: follow the impairment procedure, and tell who receives the alarms."
)


def recurring_entries(
    systems: Sequence[System], now: datetime, horizon: timedelta
) -> list[CalendarEntry]:
    """The number of questions does not grow with the number of systems."""
    rows = list(Occurrence.objects.on_calendars(now).filter(system__in=systems).with_place())
    expected = _expected(systems, now, horizon) if horizon else []
    rhythms = _rhythms(rows, now)
    shown = {system.pk: _Shown(system, now) for system in systems}
    drafts = [_draft(row, rhythms[row.item_id], shown[row.system_id]) for row in rows]
    coming = _named([one for one in expected if one.item.pk in rhythms], rows)
    ahead = [_ahead(one, uid, rhythms[one.item.pk]) for uid, one in coming]
    return [*revise(drafts, now), *ahead]


def _expected(systems: Sequence[System], now: datetime, horizon: timedelta) -> list[Expected]:
    """Those that are not planned yet."""
    every = expected_ahead(systems, now=now, until=now + horizon)
    return [one for one in every if not one.is_open]


def _rhythms(rows: Iterable[Occurrence], now: datetime) -> dict[int, CalendarEntry]:
    """A revision of each item as such. What is expected shows it, and an occurrence begins with
    it, so that the SEQUENCE of a name never falls when what was expected is planned."""
    in_order = sorted(rows, key=lambda row: (row.is_open, row.planned_at))
    latest = {row.item_id: row for row in in_order}
    entries = revise((_rhythm(row, now) for row in latest.values()), now)
    return dict(zip(latest, entries, strict=True))


def _rhythm(row: Occurrence, now: datetime) -> RevisionDraft:
    """Its day is the one that those expected count from: with late work they move every day."""
    item, zone = row.item, row.system.site.zone
    base, changed_at = NO_DAY, row.planned_at
    if row.is_open and item.is_from_completion:
        today = local_day(now, zone)
        base = max(row.due_on, today)
        changed_at = max(changed_at, day_start(today, zone)) if today > row.due_on else changed_at
    return RevisionDraft(
        system=row.system_id,
        uid=rhythm_uid(row.system.uuid, item.key),
        changed_at=changed_at,
        slot=CalendarSlot(base, base, "", location(row.system), False),
        text=_text(item, row.system, item.title, _rhythm_parts(row), ""),
    )


def _rhythm_parts(row: Occurrence) -> list[str]:
    """All that the text of what is expected rests on."""
    item = row.item
    return [item.before, item.after, row.system.incomplete_words, *_asked(item)]


class _Shown:
    """What every entry of a system shows of it, and the day that it now is there."""

    def __init__(self, system: System, now: datetime):
        self.location = location(system)
        self.protection = protection_line(system)
        self.today = local_day(now, system.site.zone)
        self.day_began = day_start(self.today, system.site.zone)


def _draft(row: Occurrence, rhythm: CalendarEntry, shown: _Shown) -> RevisionDraft:
    is_late = row.is_open and shown.today > row.closes_on
    changed_at = max(row.planned_at, row.settled_at or row.planned_at)
    before = lateness((shown.today - row.closes_on).days) if is_late else ""
    return RevisionDraft(
        system=row.system_id,
        uid=row.uuid,
        changed_at=max(changed_at, shown.day_began) if is_late else changed_at,
        slot=_slot(shown.today if is_late else row.due_on, shown.location, row.is_given_up),
        text=_text(
            row.item,
            row.system,
            PREFIXES.get(row.status, before) + row.item.title,
            [*(_still_to_do(row, shown.protection) if row.is_open else []), *_asked(row.item)],
            _url(row),
            has_alarm=row.is_open,
        ),
        created_at=rhythm.created_at,
        first=rhythm.sequence,
    )


def _still_to_do(row: Occurrence, protection: str) -> list[str]:
    return [row.system.incomplete_words, _window(row.slot), protection, CAUTION]


def _ahead(one: Expected, uid: UUID, rhythm: CalendarEntry) -> CalendarEntry:
    """Revised with its rhythm, on which its day and its text rest."""
    incomplete = one.item.system.incomplete_words
    parts = [MOVES, incomplete, _window(one.slot), CAUTION, *_asked(one.item)]
    return CalendarEntry(
        str(uid),
        rhythm.sequence,
        rhythm.created_at,
        rhythm.modified_at,
        _slot(one.slot.due_on, rhythm.slot.location, is_tentative=True),
        _text(one.item, one.item.system, EXPECTED + one.item.title, parts, ""),
    )


def _named(
    expected: Iterable[Expected], rows: Iterable[Occurrence]
) -> Iterator[tuple[UUID, Expected]]:
    """Each under the name that its row will take: the first one that no row has."""
    before = {row.item_id: row.uuid for row in rows if row.is_open and row.item.is_from_completion}
    listed = []
    for one in expected:
        item, uid = one.item, before.get(one.item.pk)
        listed.append((one, occurrence_uids(item.system.uuid, item.key, one.slot.due_on, uid)))
        if uid:
            before[item.pk] = following_uid(uid)
    while listed:
        named = [(next(names), one, names) for one, names in listed]
        wanted = [uid for uid, _, _ in named]
        taken = set(Occurrence.objects.filter(uuid__in=wanted).values_list("uuid", flat=True))
        yield from ((uid, one) for uid, one, _ in named if uid not in taken)
        listed = [(one, names) for uid, one, names in named if uid in taken]


def _slot(
    day: date, place: str, is_cancelled: bool = False, is_tentative: bool = False
) -> CalendarSlot:
    return CalendarSlot(day, day + timedelta(days=1), "", place, is_cancelled, is_tentative)


def _text(
    item: RecurringItem,
    system: System,
    title: str,
    parts: Iterable[str],
    url: str,
    has_alarm: bool = False,
) -> CalendarText:
    schedule = reverse("scheduling:schedule", args=[system.pk])
    return CalendarText(
        summary=f"{title}, {system.tag}",
        description="\n\n".join(part for part in parts if part),
        url=settings.PUBLIC_URL + (url or schedule),
        categories=(GROUPS[item.group], label(System.Kind, system.kind)),
        priority=PRIORITY,
        has_alarm=has_alarm,
    )


def _asked(item: RecurringItem) -> list[str]:
    return [f"{item.rhythm.capitalize()}. Asked for by: {item.asked_by}.", item.note, WHO_DECIDES]


def _window(planned: PlannedSlot) -> str:
    days = f"Due {planned.due_on:%-d %B %Y}"
    if planned.opens_on == planned.closes_on:
        return f"{days}."
    return f"{days}; on time from {planned.opens_on:%-d %B} to {planned.closes_on:%-d %B %Y}."


def _url(row: Occurrence) -> str:
    """A page that everyone who may see the system can open."""
    done = row.record_id and row.status == Occurrence.Status.DONE
    return reverse("scheduling:inspection", args=[row.record_id]) if done else ""

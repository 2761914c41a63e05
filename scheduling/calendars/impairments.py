"""Impairments as calendars see them: from the start to the end that the ledger tells.

One that lasts is shown to the day by which it is expected to end. Where nobody said, or that day
has passed, it is shown to the end of the present day at the site and grows by a day with each; it
is revised once a day and not with every reading.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta
from itertools import groupby

from django.conf import settings
from django.db.models import Q, QuerySet
from django.urls import reverse

from registry.atmosphere_rows.system_ledger import PROTECTING, protection_items
from registry.kinds import KINDS
from registry.kinds.facts import WITHDRAWN
from registry.models import ProtectionSpan, Record, System
from scheduling.calendars.follow_ups import WHO_DECIDES, label, location
from scheduling.calendars.ics import CalendarEntry, CalendarSlot, CalendarText
from scheduling.calendars.revisions import RevisionDraft, revise
from scheduling.follow_ups.impairments import Impairment, impairments_of
from scheduling.models.querysets import SHOWN_AFTER_CLOSING
from scheduling.recurrence import clock, day_end, day_start, local_day

PRIORITY = 1
SHORTEST = timedelta(minutes=1)  # RFC 5545 3.8.2.2: an event ends later than it starts
CAUTION = (
    "Follow the impairment procedure: fire watch or another measure, everybody told, the tag in "
    "place. Check the adopted edition; some authorities allow less."
)


def impairment_entries(systems: Sequence[System], now: datetime) -> list[CalendarEntry]:
    by_pk = {system.pk: system for system in systems}
    drafts = [*_standing(by_pk, now), *_withdrawn(by_pk, now)]
    return revise(drafts, now)


def _standing(systems: dict[int, System], now: datetime) -> Iterator[RevisionDraft]:
    records = Record.objects.current().filter(kind__in=PROTECTING)
    shown = records.filter(system__in=_touched(systems, now))
    ordered = shown.order_by("system", "occurred_at", "sequence")
    for pk, rows in groupby(ordered, key=lambda record: record.system_id):
        yield from _of_system(systems[pk], impairments_of(list(rows)), now)


def _touched(systems: Iterable[int], now: datetime) -> QuerySet:
    """Systems with an impairment that lasts, or whose last end is not long past: where protection
    began to be something else within the time for which what is over is shown."""
    spans = ProtectionSpan.objects.filter(system__in=systems)
    lasting = System.objects.filter(pk__in=systems).with_impairment()
    out_now = Q(system__in=lasting.filter(impaired_since__isnull=False).order_by().values("pk"))
    recent = Q(starts_at__gt=now - SHOWN_AFTER_CLOSING)
    return spans.filter(out_now | recent).values("system")


def _of_system(
    system: System, rows: Sequence[Impairment], now: datetime
) -> Iterator[RevisionDraft]:
    since = now - SHOWN_AFTER_CLOSING
    for row in rows:
        if row.end is None:
            yield _lasting(system, row, rows, now)
        elif row.end.occurred_at > since:
            yield _ended(system, row, row.end)


def _lasting(
    system: System, row: Impairment, rows: Iterable[Impairment], now: datetime
) -> RevisionDraft:
    today = local_day(now, system.site.zone)
    last = max(today, row.expected_on or today)
    grew_at = day_start(today, system.site.zone) if last == today else row.start.recorded_at
    expected = _expected(row.expected_on, today)
    parts = [
        system.incomplete_words,
        expected,
        *_told(row),
        row.not_known_words,
        _fire_watch(system, rows, now),
        f"{CAUTION} {WHO_DECIDES}",
    ]
    return RevisionDraft(
        system=system.pk,
        uid=_first(row.start).uuid,
        created_at=_first(row.start).recorded_at,
        changed_at=max(row.start.recorded_at, grew_at),
        slot=_slot(system, row.start.occurred_at, day_end(last, system.site.zone)),
        text=_text(system, "Out of service", parts),
    )


def _ended(system: System, row: Impairment, end: Record) -> RevisionDraft:
    start = row.start
    return RevisionDraft(
        system=system.pk,
        uid=_first(start).uuid,
        created_at=_first(start).recorded_at,
        changed_at=max(start.recorded_at, end.recorded_at),
        slot=_slot(system, start.occurred_at, end.occurred_at),
        text=_text(system, "Restored", [*_told(row), _checks(end)]),
    )


def _withdrawn(systems: dict[int, System], now: datetime) -> Iterator[RevisionDraft]:
    """Entered by mistake: cancelled, for as long as what was withdrawn is shown."""
    records = Record.objects.filter(
        kind__in=PROTECTING,
        system__in=systems,
        superseded_by__kind=WITHDRAWN.code,
        superseded_by__recorded_at__gt=now - SHOWN_AFTER_CLOSING,
    )
    for start in records.select_related("superseded_by").in_order():
        if KINDS[start.kind].protection_of(protection_items([start])[0]).says != "begins":
            continue
        system = systems[start.system_id]
        yield RevisionDraft(
            system=system.pk,
            uid=_first(start).uuid,
            created_at=_first(start).recorded_at,
            changed_at=start.superseded_by.recorded_at,
            slot=_slot(system, start.occurred_at, start.occurred_at, is_cancelled=True),
            text=_text(system, "Withdrawn", [start.superseded_by.details["reason"]]),
        )


def _first(record: Record) -> Record:
    """What a correction corrects is the same impairment."""
    while record.supersedes is not None:
        record = record.supersedes
    return record


def _slot(
    system: System, starts_at: datetime, ends_at: datetime, is_cancelled: bool = False
) -> CalendarSlot:
    ends_at = max(ends_at, starts_at + SHORTEST)
    return CalendarSlot(starts_at, ends_at, system.site.time_zone, location(system), is_cancelled)


def _text(system: System, title: str, parts: Iterable[str]) -> CalendarText:
    page = reverse("scheduling:impairments", args=[system.pk])
    return CalendarText(
        summary=f"{title}: {system.tag}",
        description="\n\n".join(part for part in parts if part),
        url=settings.PUBLIC_URL + page,
        categories=("Impairment", label(System.Kind, system.kind)),
        priority=PRIORITY,
        has_alarm=False,
    )


def _told(row: Impairment) -> list[str]:
    said = {
        "Without protection": row.areas,
        "Reason": row.said.reason,
        "Kind": row.kind_words,
        "Fire watch or other": row.start.details.get("measures"),
        "Told": row.start.details.get("told"),
    }
    return [f"{name}: {value}" for name, value in said.items() if value]


def _expected(on: date | None, today: date) -> str:
    if on is None:
        return "Nobody has said by when it is to be restored."
    passed = " That day has passed, and no end is on record." if on < today else ""
    return f"Expected to be restored by {on:%-d %B %Y}.{passed}"


def _fire_watch(system: System, rows: Iterable[Impairment], now: datetime) -> str:
    spell = clock((row.outage for row in rows), now=now)
    at = spell.crossed_at or spell.crosses_at
    if at is None:
        return ""
    local = at.astimezone(system.site.zone)
    return f"Unless restored, more than 10 hours within 24 from {local:%-d %B %Y, %H:%M} on."


def _checks(end: Record) -> str:
    checks = end.details.get("checks")
    return f"Checked before protection counted as restored: {checks}" if checks else ""

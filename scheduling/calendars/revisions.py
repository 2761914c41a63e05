"""Revision numbers that tell calendars what changed (RFC 5545 3.8.7): of anything they show."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Protocol
from uuid import UUID

from django.db.models import F

from registry.translation import in_english
from scheduling.calendars.ics import CalendarEntry, CalendarSlot, CalendarText, digest
from scheduling.models import CalendarTurn, Revision

SECOND = timedelta(seconds=1)
SHOWN = ("sequence", "modified_at", "slot_digest", "text_digest")


class Revised(Protocol):
    sequence: int
    slot_digest: str
    text_digest: str
    modified_at: datetime


@dataclass(frozen=True, slots=True)
class RevisionDraft:
    """A thing as calendars should see it; `first` is where its SEQUENCE begins."""

    system: int
    uid: UUID
    changed_at: datetime
    slot: CalendarSlot
    text: CalendarText
    created_at: datetime | None = None
    first: int = 0


def advance(thing: Revised, slot: CalendarSlot, text: CalendarText, now: datetime) -> bool:
    """Bring the revision up to what is now shown; True when that changed anything.

    SEQUENCE is raised once however much changed. LAST-MODIFIED has whole seconds on the wire, so a
    second change within one second is dated into the next.
    """
    shown = digest(slot), digest(text)
    if shown == (thing.slot_digest, thing.text_digest):
        return False
    is_published = bool(thing.slot_digest)
    if is_published and shown[0] != thing.slot_digest:
        thing.sequence += 1
    now = now.replace(microsecond=0)
    thing.modified_at = max(now, thing.modified_at + SECOND) if is_published else now
    thing.slot_digest, thing.text_digest = shown
    return True


@in_english()
def revise(drafts: Iterable[RevisionDraft], now: datetime) -> list[CalendarEntry]:
    """The entries to show, with new revisions stored.

    A change is dated by the thing where it says when it changed, so that it does not matter who
    reads first; only what changed around it (a site was renamed) is dated by this reading.
    """
    listed = list(drafts)
    known = Revision.objects.in_bulk([draft.uid for draft in listed])
    made = {draft.uid: _first(draft) for draft in listed if draft.uid not in known}
    changes = [_Change(draft, known[draft.uid], now) for draft in listed if draft.uid in known]
    changed = [change for change in changes if change.is_one]
    _turn({draft.system for draft in listed if draft.uid in made} | {one.system for one in changed})
    Revision.objects.bulk_create(made.values(), ignore_conflicts=True, batch_size=500)
    for change in changed:
        change.store()
    known |= made
    return [_entry(draft, known[draft.uid]) for draft in listed]


def _turn(systems: set[int]) -> None:
    """Before the change itself: a turn without one does no harm."""
    if systems:
        rows = [CalendarTurn(system_id=system) for system in sorted(systems)]
        CalendarTurn.objects.bulk_create(rows, ignore_conflicts=True, batch_size=500)
        for system in sorted(systems):
            CalendarTurn.objects.filter(system=system).update(turn=F("turn") + 1)


def _first(draft: RevisionDraft) -> Revision:
    created_at = (draft.created_at or draft.changed_at).replace(microsecond=0)
    revision = Revision(uid=draft.uid, created_at=created_at, sequence=draft.first)
    advance(revision, draft.slot, draft.text, draft.changed_at)
    return revision


class _Change:
    """What is shown now held against what was shown last."""

    def __init__(self, draft: RevisionDraft, revision: Revision, now: datetime):
        self.system, self.revision = draft.system, revision
        self.before = {name: getattr(revision, name) for name in ("slot_digest", "text_digest")}
        changed_at = draft.changed_at.replace(microsecond=0)
        when = changed_at if changed_at > revision.modified_at else now
        self.is_one = advance(revision, draft.slot, draft.text, when)

    def store(self) -> None:
        """Conditional on what was read, so that two readers at once raise SEQUENCE once."""
        changes = {name: getattr(self.revision, name) for name in SHOWN}
        if not Revision.objects.filter(uid=self.revision.uid, **self.before).update(**changes):
            self.revision.refresh_from_db(fields=SHOWN)


def _entry(draft: RevisionDraft, revision: Revision) -> CalendarEntry:
    return CalendarEntry(
        str(draft.uid),
        revision.sequence,
        revision.created_at,
        revision.modified_at,
        draft.slot,
        draft.text,
    )

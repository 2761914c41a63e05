"""Planning again: what the library asks for now, held against what stands, and written.

Safe to repeat: nothing that is settled is touched, and the same facts plan the same days.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from registry.models import Record, Site, System
from registry.querysets import RecordQuerySet
from registry.services.ledger import lock
from registry.services.locking import lock_all
from scheduling.models import Occurrence, RecurringItem
from scheduling.recurrence import (
    Done,
    Outcome,
    Settled,
    Slot,
    Timing,
    day_end,
    day_start,
    local_day,
    plan,
)
from scheduling.recurring.drafting import Draft, drafts_for

COMPLETED, SKIPPED = "inspection.completed", "inspection.skipped"
OUTCOMES = {COMPLETED: Outcome.COMPLETED, SKIPPED: Outcome.SKIPPED}


@dataclass
class Planned:
    items: int = 0
    moved: int = 0
    withdrawn: int = 0


@transaction.atomic
def plan_site(*, site: Site, now: datetime) -> None:
    lock_all(System.objects.filter(site=site))
    for system in site.systems.all():
        plan_recurring(system=system, now=now)


@transaction.atomic
def plan_recurring(*, system: System, now: datetime) -> Planned:
    """Bring the items and open occurrences of a system to what its facts ask for."""
    book = lock(system)
    today = local_day(now, book.site.zone)
    done = history_of(book)
    standing = {item.key: item for item in book.recurring_items.select_related("area")}
    result = Planned()
    for draft in drafts_for(book, standing, done, today):
        item = _store_item(book, standing.pop(draft.key, None), draft)
        result.items += 1
        result.moved += _store_open(item, done.get(item.key, ()), book, now)
    for item in standing.values():
        result.withdrawn += _withdraw(item, now)
    return result


def history_of(system: System) -> dict[str, list[Done]]:
    """What the ledger as it now stands says was done or skipped, by item."""
    done: dict[str, list[Done]] = {}
    for record in ledger_of_work().filter(system=system):
        done.setdefault(record.details["item"], []).append(done_as(record, system))
    return done


def ledger_of_work() -> RecordQuerySet:
    return Record.objects.current().filter(kind__in=OUTCOMES).in_order()


def done_as(record: Record, system: System) -> Done:
    return Done(
        on=local_day(record.occurred_at, system.site.zone),
        outcome=OUTCOMES[record.kind],
        due_on=date.fromisoformat(record.details["due_on"]),
    )


def relevant(item: RecurringItem, done: Iterable[Done]) -> list[Done]:
    """History that the rule of an item still has to be told.

    The first due day of a sample area already counts from its last test; only what was skipped
    since is news. Work from before this book is a completion like any other.
    """
    rows = list(done)
    if item.area_id:
        last = max((row.on for row in rows if row.outcome is Outcome.COMPLETED), default=date.min)
        return [row for row in rows if row.outcome is Outcome.SKIPPED and row.on >= last]
    return [Done(item.last_done_on), *rows] if item.last_done_on else rows


def _store_item(system: System, item: RecurringItem | None, draft: Draft) -> RecurringItem:
    item = item or RecurringItem(system=system, key=draft.key)
    values = draft.values() | {"is_active": True}
    if item.pk is None or any(getattr(item, name) != value for name, value in values.items()):
        for name, value in values.items():
            setattr(item, name, value)
        item.save()
    return item


def _store_open(item: RecurringItem, done: Sequence[Done], system: System, now: datetime) -> bool:
    """Move or make the open occurrence; True when it changed."""
    planned = plan(item.rule, relevant(item, done))
    _note_missed(item, planned.settled, system, now)
    row = item.occurrences.open().first()
    if row is not None and row.slot == planned.open:
        return False
    row = row or Occurrence(item=item, system=system, planned_at=now)
    zone = system.site.zone
    if local_day(row.planned_at, zone) == local_day(now, zone):
        row.first_due_on = planned.open.due_on  # what was planned today was not yet relied on
    place(row, planned.open, system)
    row.planned_at = now
    row.save()
    return True


def place(row: Occurrence, slot: Slot, system: System) -> None:
    row.due_on, row.opens_on, row.closes_on = slot.due_on, slot.opens_on, slot.closes_on
    row.opens_at = day_start(slot.opens_on, system.site.zone)
    row.late_at = day_end(slot.closes_on, system.site.zone)


def _note_missed(
    item: RecurringItem, settled: Sequence[Settled], system: System, now: datetime
) -> None:
    """Slots of a fixed calendar that a later completion passed over."""
    missed = [one.slot for one in settled if one.timing is Timing.MISSED]
    known = set(item.occurrences.values_list("due_on", flat=True)) if missed else set()
    for slot in missed:
        row = item.occurrences.open().filter(due_on=slot.due_on).first()
        if row is None and slot.due_on in known:
            continue
        row = row or Occurrence(item=item, system=system, first_due_on=slot.due_on, planned_at=now)
        place(row, slot, system)
        settle(row, Occurrence.Status.MISSED, now)


def settle(row: Occurrence, status: Occurrence.Status, now: datetime) -> None:
    row.status, row.settled_at = status, now
    row.save()


def _withdraw(item: RecurringItem, now: datetime) -> int:
    """No longer asked for: the item rests, with its history, until it is asked for again."""
    if not item.is_active:
        return 0
    item.is_active = False
    item.save(update_fields=["is_active"])
    return item.occurrences.open().update(status=Occurrence.Status.WITHDRAWN, settled_at=now)

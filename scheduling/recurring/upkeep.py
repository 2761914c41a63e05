"""Planning again: what the library asks for now, held against what stands, and written.

Safe to repeat: nothing that is settled is touched, and the same facts plan the same days.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from registry.kinds.inspections import INSPECTION_COMPLETED, INSPECTION_SKIPPED
from registry.models import Record, Site, System
from registry.models.querysets import RecordQuerySet
from registry.services.ledger import lock
from registry.services.locking import lock_all
from registry.translation import in_english
from scheduling.models import Occurrence, RecurringItem
from scheduling.models.recurring import name_new
from scheduling.recurrence import (
    Done,
    Outcome,
    PlannedSlot,
    Settled,
    Timing,
    day_end,
    day_start,
    local_day,
    plan,
)
from scheduling.recurring.drafting import ItemDraft, drafts_for

COMPLETED, SKIPPED = INSPECTION_COMPLETED.code, INSPECTION_SKIPPED.code
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
@in_english()
def plan_recurring(*, system: System, now: datetime) -> Planned:
    """Bring the items and open occurrences of a system to what its facts ask for."""
    held = lock(system)
    today = local_day(now, held.site.zone)
    done = history_of(held)
    standing = {item.key: item for item in held.recurring_items.select_related("area")}
    drafts = list(drafts_for(held, standing, done, today))
    items = _store_items(held, standing, drafts)
    asked = {item.key for item in items}
    return Planned(
        items=len(items),
        moved=_store_open(items, done, held, now),
        withdrawn=sum(_withdraw(item, now) for key, item in standing.items() if key not in asked),
    )


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


def _store_items(
    system: System, standing: Mapping[str, RecurringItem], drafts: Sequence[ItemDraft]
) -> list[RecurringItem]:
    items: list[RecurringItem] = []
    new: list[RecurringItem] = []
    for draft in drafts:
        item = standing.get(draft.key) or RecurringItem(system=system, key=draft.key)
        values = draft.values() | {"is_active": True}
        if item.pk is None or any(getattr(item, name) != value for name, value in values.items()):
            for name, value in values.items():
                setattr(item, name, value)
            if item.pk is None:
                new.append(item)
            else:
                item.save()
        items.append(item)
    RecurringItem.objects.bulk_create(new)
    return items


def _store_open(
    items: Sequence[RecurringItem],
    done: Mapping[str, Sequence[Done]],
    system: System,
    now: datetime,
) -> int:
    """Move or make the open occurrence of each; how many changed."""
    rows = {row.item_id: row for row in system.occurrences.open().order_by()}
    new, moved = [], []
    for item in items:
        planned = plan(item.rule, relevant(item, done.get(item.key, ())))
        row = _note_missed(item, rows.get(item.pk), planned.settled, system, now)
        if row is None:
            row = Occurrence(item=item, system=system, planned_at=now)
            new.append(row)
        elif row.slot == planned.open:
            continue
        else:
            moved.append(row)
        _move(row, planned.open, system, now)
    name_new(new)
    Occurrence.objects.bulk_create(new)
    # Rows that are there and held, so each of these "inserts" is an update.
    Occurrence.objects.bulk_create(
        moved, update_conflicts=True, unique_fields=["id"], update_fields=MOVED
    )
    return len(new) + len(moved)


def _move(row: Occurrence, slot: PlannedSlot, system: System, now: datetime) -> None:
    zone = system.site.zone
    if local_day(row.planned_at, zone) == local_day(now, zone):
        row.first_due_on = slot.due_on  # what was planned today was not yet relied on
    place(row, slot, system)
    row.planned_at = now


MOVED = (
    "due_on", "opens_on", "closes_on", "opens_at", "late_at", "first_due_on", "planned_at"
)  # fmt: skip


def place(row: Occurrence, slot: PlannedSlot, system: System) -> None:
    row.due_on, row.opens_on, row.closes_on = slot.due_on, slot.opens_on, slot.closes_on
    row.opens_at = day_start(slot.opens_on, system.site.zone)
    row.late_at = day_end(slot.closes_on, system.site.zone)


def _note_missed(
    item: RecurringItem,
    standing: Occurrence | None,
    settled: Sequence[Settled],
    system: System,
    now: datetime,
) -> Occurrence | None:
    """Slots of a fixed calendar that a later completion passed over; what is open still."""
    missed = [one.slot for one in settled if one.timing is Timing.MISSED]
    known = set(item.occurrences.values_list("due_on", flat=True)) if missed else set()
    for slot in missed:
        row = standing if standing and standing.due_on == slot.due_on else None
        if row is None and slot.due_on in known:
            continue
        row = row or Occurrence(item=item, system=system, first_due_on=slot.due_on, planned_at=now)
        place(row, slot, system)
        settle(row, Occurrence.Status.MISSED, now)
        standing = None if row is standing else standing
    return standing


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

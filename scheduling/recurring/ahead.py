"""Occurrences expected ahead, for calendars: the open one of each item and those to follow."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from registry.models import System
from scheduling.models import RecurringItem
from scheduling.recurrence import Done, PlannedSlot, day_end, day_start, local_day, slots_ahead
from scheduling.recurring.upkeep import done_as, ledger_of_work, relevant


@dataclass(frozen=True)
class Expected:
    """`is_open` is what stands in the schedule; the rest supposes that it is done in time."""

    item: RecurringItem
    slot: PlannedSlot
    opens_at: datetime
    late_at: datetime
    is_open: bool


def expected_ahead(
    systems: Iterable[System], *, now: datetime, until: datetime
) -> Iterator[Expected]:
    """By system and item; two queries however many systems there are."""
    by_pk = {system.pk: system for system in systems}
    done = _histories(by_pk)
    items = RecurringItem.objects.filter(system__in=by_pk, is_active=True)
    for item in items.select_related("area").order_by("system", "title", "pk"):
        item.system = by_pk[item.system_id]
        yield from _of_item(item, item.system, done.get((item.system_id, item.key), []), now, until)


def _histories(systems: Mapping[int, System]) -> dict[tuple[int, str], list[Done]]:
    """What was done or skipped, by system and item."""
    done: dict[tuple[int, str], list[Done]] = {}
    for record in ledger_of_work().filter(system__in=systems):
        key = record.system_id, record.details["item"]
        done.setdefault(key, []).append(done_as(record, systems[record.system_id]))
    return done


def _of_item(
    item: RecurringItem, system: System, done: list[Done], now: datetime, until: datetime
) -> Iterator[Expected]:
    zone = system.site.zone
    slots = slots_ahead(
        item.rule,
        relevant(item, done),
        today=local_day(now, zone),
        until=local_day(until, zone),
    )
    for number, slot in enumerate(slots):
        yield Expected(
            item=item,
            slot=slot,
            opens_at=day_start(slot.opens_on, zone),
            late_at=day_end(slot.closes_on, zone),
            is_open=number == 0,
        )

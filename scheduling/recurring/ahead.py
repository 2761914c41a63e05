"""Occurrences expected ahead, for calendars: the open one of each item and those to follow."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

from registry.models import System
from scheduling.models import RecurringItem
from scheduling.recurrence import Done, Slot, day_end, day_start, local_day, slots_ahead
from scheduling.recurring.planning import history_of, relevant


@dataclass(frozen=True)
class Expected:
    """`is_open` is what stands in the schedule; the rest supposes that it is done in time."""

    item: RecurringItem
    slot: Slot
    opens_at: datetime
    late_at: datetime
    is_open: bool


def expected_ahead(
    systems: Iterable[System], *, now: datetime, until: datetime
) -> Iterator[Expected]:
    """By system and item; three queries for each system."""
    for system in systems:
        done = history_of(system)
        for item in system.recurring_items.filter(is_active=True).select_related("area"):
            yield from _of_item(item, system, done.get(item.key, []), now, until)


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

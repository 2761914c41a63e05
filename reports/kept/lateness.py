"""What was late at the end of a day: follow-ups and recurring work, in one list."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Q

from registry.models import System
from registry.words.told.retelling import retold
from reports.kept.asked import Asked
from scheduling.models import Occurrence, Task
from scheduling.recurrence import local_day

AN_INSTANT = timedelta(microseconds=1)


@dataclass(frozen=True)
class Late:
    """`due_on` is the last day, by the clock of the site, on which it was in time."""

    system: System
    what: str
    whose: str
    due_on: date
    days: int
    is_follow_up: bool


def late(systems: Mapping[int, System], asked: Asked) -> list[Late]:
    """The longest late first. Due days are those that the schedule holds today: it keeps no copy
    of what it demanded on an earlier day. `systems` by key, as they are to be called."""
    rows = [*_follow_ups(systems, asked), *_recurring(systems, asked)]
    return sorted(rows, key=lambda row: (-row.days, row.system.tag, row.what))


def _follow_ups(systems: Mapping[int, System], asked: Asked) -> Iterator[Late]:
    until = _instant(asked)
    still_open = Q(closed_at__isnull=True) | Q(closed_at__gt=until)
    tasks = Task.objects.filter(
        still_open, system__in=systems, raised_at__lte=asked.learnt_by, due_at__lt=until
    ).select_related("system__site", "assigned_to")
    for task in tasks.order_by("due_at", "pk"):
        days = (local_day(until, task.zone) - task.due_on).days
        system = systems[task.system_id]
        yield Late(system, retold(task.title), str(task.assigned_to), task.due_on, days, True)


def _recurring(systems: Mapping[int, System], asked: Asked) -> Iterator[Late]:
    until = _instant(asked)
    still_open = Q(settled_at__isnull=True) | Q(settled_at__gt=until)
    rows = Occurrence.objects.filter(
        still_open, system__in=systems, late_at__lte=until, planned_at__lte=asked.learnt_by
    ).exclude(status=Occurrence.Status.WITHDRAWN)
    rows = rows.select_related("system__site", "item").order_by("late_at", "pk")
    for row in rows:
        days = (local_day(until, row.system.site.zone) - row.closes_on).days
        yield Late(
            systems[row.system_id], retold(row.item.title), retold(row.item.asked_by),
            row.closes_on, days, False,
        )  # fmt: skip


def _instant(asked: Asked) -> datetime:
    """Of today what is late by now is told, as every page tells it: the day is not over."""
    return min(asked.until - AN_INSTANT, asked.now) if asked.now else asked.until - AN_INSTANT

"""Which systems have late work, and how much of it there is."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from django.db.models import (
    Case,
    Count,
    DateTimeField,
    Exists,
    F,
    Min,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    When,
)
from django.db.models.functions import Least

from scheduling.models import Occurrence, Task

if TYPE_CHECKING:
    from registry.models import User


def with_lateness(systems: QuerySet, now: datetime) -> QuerySet:
    """Adds `first_due_at`: when the first open follow-up or inspection of the system is late, or
    was; None where nothing is open."""
    tasks = Task.objects.open().filter(system=OuterRef("pk")).order_by().values("system")
    planned = Occurrence.objects.open().filter(system=OuterRef("pk")).order_by().values("system")
    task = Subquery(tasks.annotate(first=Min("due_at")).values("first"))
    other = Subquery(planned.annotate(first=Min("late_at")).values("first"))
    both = systems.annotate(first_task_at=task, first_planned_at=other)
    return both.annotate(
        first_due_at=Case(
            When(first_task_at__isnull=True, then=F("first_planned_at")),
            When(first_planned_at__isnull=True, then=F("first_task_at")),
            default=Least("first_task_at", "first_planned_at"),
            output_field=DateTimeField(),
        )
    )


def has_late_work(now: datetime) -> Q:
    """To narrow systems by."""
    tasks = Task.objects.overdue(now).filter(system=OuterRef("pk"))
    planned = Occurrence.objects.late(now).filter(system=OuterRef("pk"))
    return Q(Exists(tasks)) | Q(Exists(planned))


@dataclass(frozen=True)
class LateCounts:
    """Over everything the person may see; `late` is follow-ups and inspections together."""

    late_tasks: int
    late_planned: int
    soon: int
    later: int
    systems: int
    first_at: datetime | None

    @property
    def late(self) -> int:
        return self.late_tasks + self.late_planned


def late_counts(user: "User", now: datetime, *, soon: timedelta) -> LateCounts:
    """Open work by when it is late: before now, within `soon`, later; and where it is late."""
    tasks = Task.objects.visible_to(user).open().order_by()
    planned = Occurrence.objects.visible_to(user).open().order_by()
    by_task = tasks.aggregate(**_counted("due_at", now, soon))
    by_plan = planned.aggregate(**_counted("late_at", now, soon))
    late = tasks.filter(due_at__lte=now).values("system")
    systems = late.union(planned.filter(late_at__lte=now).values("system")).count()
    firsts = [at for at in (by_task["first"], by_plan["first"]) if at and at <= now]
    return LateCounts(
        late_tasks=by_task["late"],
        late_planned=by_plan["late"],
        soon=by_task["soon"] + by_plan["soon"],
        later=by_task["later"] + by_plan["later"],
        systems=systems,
        first_at=min(firsts, default=None),
    )


def _counted(name: str, now: datetime, soon: timedelta) -> dict[str, Count | Min]:
    is_late, is_soon = Q(**{f"{name}__lte": now}), Q(**{f"{name}__lte": now + soon})
    return {
        "late": Count("pk", filter=is_late),
        "soon": Count("pk", filter=is_soon & ~is_late),
        "later": Count("pk", filter=~is_soon),
        "first": Min(name),
    }

"""What has been begun and not ended, first on every page of work: a pipe may stand open for it."""

from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext

from registry.models import InertingRun, Membership, System, User
from registry.words.told.retelling import retold
from scheduling.models import Task, WorkState

UNFINISHED = (InertingRun.Status.OPEN, InertingRun.Status.ACCEPTED)


@dataclass(frozen=True)
class UnderWay:
    title: str
    address: str
    place: str
    began_at: datetime | None
    by: str


def under_way(user: User) -> list[UnderWay]:
    """Of the person's own organisations: runs at the riser, then other work that was begun.

    Work at a system with a run is that run.
    """
    runs = list(_runs(user))
    begun = Task.objects.open().filter(work_state=WorkState.STARTED).visible_to(user)
    begun = begun.for_organisations_of(user).exclude(system__in=[run.system_id for run in runs])
    tasks = begun.with_place().order_by("starts_at", "pk")
    return [_of_run(run) for run in runs] + [_of_task(task) for task in tasks]


def _runs(user: User):
    own = user.organisations.values("pk")
    colleagues = Membership.objects.filter(organisation__in=own).values("user")
    reached = System.objects.visible_to(user).values("pk")  # an auditor's period is of history
    runs = InertingRun.objects.filter(
        system__in=reached, status__in=UNFINISHED, opened_by__in=colleagues
    )
    return runs.select_related("system__site", "system__building", "opened_by").order_by(
        "opened_at", "pk"
    )


def _of_run(run: InertingRun) -> UnderWay:
    return UnderWay(
        title=gettext("Inerting run of {tag}").format(tag=run.system.tag),
        address=run.get_absolute_url(),
        place=run.system.place,
        began_at=run.opened_at.astimezone(run.system.site.zone),
        by=str(run.opened_by),
    )


def _of_task(task: Task) -> UnderWay:
    return UnderWay(
        title=f"{retold(task.title)}, {task.system.tag}",
        address=task.get_absolute_url(),
        place=task.system.place,
        began_at=None,
        by=str(task.crew) if task.crew else "",
    )

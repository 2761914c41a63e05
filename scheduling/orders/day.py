"""A contractor's day: who goes where in which order, with what; read once for the page."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

from django.urls import reverse

from registry.kinds import entered_by_hand
from registry.models import Fitting, InertingRun, Organisation, User
from scheduling.follow_ups.impairments import out_of_service
from scheduling.models import Crew, Place, Task, WorkState
from scheduling.models.querysets import TaskQuerySet
from scheduling.orders.board import WORKING_FITTINGS, works_for_contractor
from scheduling.orders.loading import JobLoad, VanLoad, load_for, total
from scheduling.planning.facts import placed, policy_of
from scheduling.planning.gas import used_factors

A_ZONE = timedelta(hours=15)  # no zone is further from universal time


def agreed_for(user: User) -> TaskQuerySet:
    """What has an agreed time: of the person's own organisation for a contractor, and of every
    system the person may see for everybody else."""
    agreed = Task.objects.agreed().visible_to(user)
    return agreed.for_organisations_of(user) if works_for_contractor(user) else agreed


def between_days(tasks: TaskQuerySet, first: date, last: date) -> list[Task]:
    """Those that begin on one of these days, each on the clock of its site, earliest first."""
    begin = datetime.combine(first, time(), tzinfo=UTC) - A_ZONE
    end = datetime.combine(last, time(), tzinfo=UTC) + timedelta(days=1) + A_ZONE
    near = tasks.filter(starts_at__gte=begin, starts_at__lt=end).with_place()
    return [task for task in near.order_by("starts_at", "pk") if first <= day_of(task) <= last]


def next_booked_day(user: User, on: date, crew: Crew | None) -> date | None:
    """The first day after this one on which something is booked."""
    after = datetime.combine(on, time(), tzinfo=UTC) - A_ZONE
    tasks = agreed_for(user).filter(starts_at__gte=after).with_place().order_by("starts_at", "pk")
    days = (day_of(task) for task in (tasks.filter(crew=crew) if crew else tasks).iterator())
    return next((day for day in days if day > on), None)


def day_of(task: Task) -> date:
    return task.starts_at.astimezone(task.zone).date()


def pages_for(user: User, on: date) -> list[str]:
    """The day, the day after, and of each system of the person's own open jobs on them its page,
    the forms of what is logged there, and the run under way. Nothing of what others have booked."""
    mine = agreed_for(user).open().filter(crew__people=user)
    tasks = between_days(mine, on, on + timedelta(days=1))
    systems = list(dict.fromkeys(task.system for task in tasks))
    day = reverse("scheduling:day")
    pages = [day, f"{day}?on={on:%Y-%m-%d}", f"{day}?on={on + timedelta(days=1):%Y-%m-%d}"]
    for system in systems:
        pages += [
            system.get_absolute_url(),
            reverse("registry:record-choose", args=[system.pk]),
            reverse("scheduling:impairments", args=[system.pk]),
            reverse("scheduling:impairment-end", args=[system.pk]),
            reverse("scheduling:impairment-start", args=[system.pk]),
            *(
                reverse("registry:record-new", args=[system.pk, kind.code])
                for kind in entered_by_hand(system.kind)
                if kind.is_logged_at_riser and not kind.is_for_managers
            ),
        ]
    unfinished = InertingRun.objects.filter(system__in=systems, status__in=("open", "accepted"))
    return pages + [run.get_absolute_url() for run in unfinished.order_by("pk")]


@dataclass(frozen=True)
class Stop:
    """One job of the day with what its crew needs before it sets out."""

    task: Task
    load: JobLoad
    fittings: Sequence[Fitting]
    out_since: datetime | None  # its system's protection, as long as it is out of service
    place: Place | None = None  # with degrees

    @property
    def is_under_way(self) -> bool:
        return self.task.is_open and self.task.work_state == WorkState.STARTED

    @property
    def starts(self) -> datetime:
        return self.task.starts_at.astimezone(self.task.zone)

    @property
    def ends(self) -> datetime:
        return self.task.ends_at.astimezone(self.task.zone)


@dataclass(frozen=True)
class Round:
    """One crew's stops; without a crew, those of an organisation that named none."""

    crew: Crew | None
    organisation: Organisation
    stops: Sequence[Stop]

    @property
    def name(self) -> str:
        return str(self.crew) if self.crew else f"{self.organisation}, no crew named"

    @property
    def incomplete(self) -> int:
        """Jobs that are open at systems whose register lacks pipe."""
        return sum(stop.task.is_open and stop.task.system.is_incomplete for stop in self.stops)

    @property
    def total(self) -> VanLoad:
        return total(stop.load for stop in self.stops if stop.task.is_open)


def rounds(user: User, on: date, crew: Crew | None, now: datetime) -> list[Round]:
    tasks = (
        agreed_for(user)
        .with_protection()
        .select_related("crew__organisation", "system__site__owner")
    )
    tasks = tasks.prefetch_related("system__fittings", "crew__people", "system__attachments")
    chosen = tasks.filter(crew=crew) if crew else tasks
    by_crew: dict[tuple[int, int], list[Stop]] = {}
    of_the_day = between_days(chosen, on, on)
    out = out_of_service(task.system_id for task in of_the_day)
    factors = used_factors({task.system_id for task in of_the_day if task.work.is_inerting_run})
    sizes = {task.assigned_to_id: "" for task in of_the_day}
    for task in of_the_day:
        party = task.assigned_to_id
        sizes[party] = sizes[party] or policy_of(task.assigned_to).cylinder
        stop = _stop(
            task, now, user.display_units, out.get(task.system_id), sizes[party],
            factors.get(task.system_id, 1.0),
        )  # fmt: skip
        by_crew.setdefault((party, task.crew_id or 0), []).append(stop)
    places = placed({stop.task.system for stops in by_crew.values() for stop in stops})
    for stops in by_crew.values():
        stops[:] = [replace(stop, place=places.get(stop.task.system_id)) for stop in stops]
    found = [
        Round(stops[0].task.crew, stops[0].task.assigned_to, stops) for stops in by_crew.values()
    ]
    return sorted(found, key=lambda one: (one.crew is None, one.name))


def _stop(
    task: Task, now: datetime, units: str, out_since: datetime | None, cylinder: str, factor: float
) -> Stop:
    fittings = [
        fitting
        for fitting in task.system.fittings.all()
        if fitting.kind in WORKING_FITTINGS and fitting.removed_on is None
    ]
    load = load_for(task, fittings, now, units=units, cylinder=cylinder, factor=factor)
    return Stop(task, load, fittings, out_since)

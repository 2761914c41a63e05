"""From proposals to bookings, by the service that books by hand; nothing is booked twice."""

from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils.translation import gettext

from registry.kinds import DetailsError
from registry.models import System, User
from registry.services.locking import lock_all
from registry.translation import in_english
from scheduling.models import Crew, Task, WeekPlan, WorkState
from scheduling.planning.book import instant, order_id
from scheduling.planning.words import order_words
from scheduling.services.working import book


@dataclass(frozen=True)
class Proposal:
    """Where the plan would have an order; `seen` is the turn at which it was planned."""

    task: Task
    crew: Crew
    starts_at: datetime
    ends_at: datetime
    seen: int

    @property
    def is_change(self) -> bool:
        task = self.task
        present = (task.crew_id, task.starts_at, task.ends_at)
        return not task.is_booked or present != (self.crew.pk, self.starts_at, self.ends_at)

    @property
    def is_move(self) -> bool:
        """The customer was told another day."""
        return self.task.is_booked and self._day(self.task.starts_at) != self._day(self.starts_at)

    def _day(self, when: datetime) -> date:
        return when.astimezone(self.task.zone).date()


@dataclass
class Accepted:
    booked: list[str] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)


def proposals(plan: WeekPlan) -> list[Proposal]:
    """What the plan would book or move now, in the order of time."""
    routes = plan.document.get("plan", {}).get("routes", [])
    steps = [
        (route["crew"], route["day"], step)
        for route in routes
        for step in route["steps"]
        if step["do"] == "work"
    ]
    if not steps:
        return []
    keys = [int(step["order"].split()[1]) for _, _, step in steps]
    rows = Task.objects.open().filter(assigned_to=plan.organisation, pk__in=keys)
    rows = rows.with_place().select_related("system__site__owner")
    tasks = {order_id(task): task for task in rows}
    crews = {f"crew {crew.pk}": crew for crew in plan.organisation.crews.filter(is_active=True)}
    days = [date.fromisoformat(day) for day in plan.document["days"]]
    zone = ZoneInfo(plan.document["zone"])
    found = [
        Proposal(
            tasks[step["order"]],
            crews[crew],
            instant(days[day], step["start"], zone),
            instant(days[day], step["end"], zone),
            plan.document["turns"].get(step["order"], -1),
        )
        for crew, day, step in steps
        if step["order"] in tasks and crew in crews
    ]
    found.sort(key=lambda one: (one.starts_at, one.task.pk))
    return [one for one in found if one.is_change]


class _Again(Exception):
    """A booking that should have moved stays, so what took its place must be looked at again."""


def accept_plan(
    *, plan: WeekPlan, chosen: Collection[int] | None, by: User, now: datetime
) -> Accepted:
    """Book what was chosen of the plan (by key; None: all), or say of each why not.

    Each is booked by the ordinary service, so that the trail, mails and feeds follow. What was
    booked, withdrawn or changed since the plan was made is refused by itself.
    """
    wanted = [one for one in proposals(plan) if chosen is None or one.task.pk in chosen]
    refused: dict[int, str] = {}
    gone = _gone(plan, wanted, chosen)
    while True:
        try:
            with transaction.atomic():
                accepted = _book_all(plan, wanted, refused, by, now)
        except _Again:
            continue
        accepted.refused = [*gone, *refused.values()]
        return accepted


def _gone(plan: WeekPlan, wanted: list[Proposal], chosen: Collection[int] | None) -> list[str]:
    """Chosen, and no longer there to be booked."""
    if chosen is None:
        return []
    missing = set(chosen) - {one.task.pk for one in wanted}
    rows = Task.objects.filter(pk__in=missing, assigned_to=plan.organisation).with_place()
    return [
        gettext("{order}: it is {state} now; nothing was booked.").format(
            order=order_words(task),
            state=(
                task.get_work_state_display() if task.is_open else task.get_status_display()
            ).lower(),
        )
        for task in rows
        if not task.is_booked
    ]


def _book_all(
    plan: WeekPlan, wanted: list[Proposal], refused: dict[int, str], by: User, now: datetime
) -> Accepted:
    lock_all(System.objects.filter(pk__in={one.task.system_id for one in wanted}))
    todo = [one for one in wanted if one.task.pk not in refused]
    moving = {one.task.pk for one in todo if one.task.is_booked}
    with in_english():
        reason = gettext("By the crew plan of the week from {day}.").format(
            day=f"{plan.first_on:%-d %B %Y}"
        )
    accepted = Accepted()
    for one in todo:
        moving.discard(one.task.pk)
        try:
            with transaction.atomic():
                booked = book(
                    task=one.task, crew=one.crew, starts_at=one.starts_at, ends_at=one.ends_at,
                    by=by, now=now, seen=one.seen, reason=reason, beside=moving,
                )  # fmt: skip
        except DetailsError as error:
            refused[one.task.pk] = f"{order_words(one.task)}: {' '.join(error.problems.values())}"
            if one.task.work_state == WorkState.BOOKED:
                raise _Again from None
        else:
            accepted.booked.append(order_words(one.task))
            accepted.remarks += [f"{one.task.system.tag}: {text}" for text in booked.remarks]
    return accepted

"""The plan of a week: asked for by a row, made by a job, kept whenever it gets better.

The document of a `WeekPlan` holds the plan in the form of `scheduling.crews.plan_document`, with
orders named “order 12” by their keys, and beside it what a page needs to know of how it was made.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext, ngettext

from registry.jobs import ask
from registry.models import Organisation, User
from scheduling.crews import (
    InstanceError,
    Limits,
    Progress,
    StopPlanning,
    plan_crews,
    plan_document,
    timed_steps,
)
from scheduling.models import Task, WeekPlan, WorkState
from scheduling.planning.book import (
    MOST_LISTED,
    MOST_PLANNED,
    Week,
    bookings,
    clock_of,
    minute_on,
    order_id,
    read,
    to_place,
)
from scheduling.planning.facts import change_on, crews_of, hours_of
from scheduling.planning.weeks.assumptions import assumed_words
from scheduling.planning.weeks.letting_in import left_out_rows
from scheduling.planning.words import day_words, order_words

CREW_PLAN = "scheduling.crew_plan"
DAYS = 7
LIMITS = Limits(labels=4_000_000, closing_labels=400_000)
"""Less work than a file may ask for: somebody looks at the page. Beyond it nothing is proven."""


class NothingToPlan(Exception):
    """The text says, in a sentence, why there is no plan."""


@transaction.atomic
def ask_plan(
    *, organisation: Organisation, first_on: date, asked_by: User, now: datetime
) -> WeekPlan:
    """The week's plan, to be made anew; of two who ask at once the later one's is made."""
    fresh = {"asked_at": now, "asked_by": asked_by, "state": WeekPlan.State.ASKED, "problem": ""}
    plan, is_new = WeekPlan.objects.get_or_create(
        organisation=organisation, first_on=first_on, defaults=fresh
    )
    if not is_new:
        WeekPlan.objects.filter(pk=plan.pk).update(turn=F("turn") + 1, **fresh)
        plan.refresh_from_db()
    ask(CREW_PLAN, key=str(plan.pk), arguments={"plan": plan.pk}, owner=organisation, now=now)
    return plan


def make_plan(
    plan: WeekPlan, clock: Callable[[], datetime], on_piece: Callable[[], None] = lambda: None
) -> str:
    """Plan until done, or until it is asked for anew; what was found so far is kept on the way."""
    mine = WeekPlan.objects.filter(pk=plan.pk, turn=plan.turn)
    mine.update(state=WeekPlan.State.RUNNING)
    try:
        week = week_to_plan(plan.organisation, plan.first_on, clock())
    except NothingToPlan as error:
        mine.update(
            state=WeekPlan.State.DONE, problem=str(error), document={}, value=None, bound=None,
            said_at=clock(),
        )  # fmt: skip
        return str(error)
    keeper = _Keeper(plan, week, clock, on_piece)
    try:
        made = plan_crews(
            week.problem.instance,
            limits=LIMITS,
            on_progress=keeper.keep,
            start=_earlier(plan, week),
        )
    except InstanceError as error:
        said = gettext("The bookings of this week cannot stand together: {why}").format(
            why=_with_names(week, error.problem)
        )
        mine.update(state=WeekPlan.State.FAILED, problem=said[:500], said_at=clock())
        return said
    if keeper.is_overtaken:
        return gettext("Asked for anew meanwhile")
    document = keeper.document(plan_document(made), is_final=True)
    document |= {"due": made.due, "delay": made.delay, "left_out": left_out_rows(week, made)}
    mine.update(
        state=WeekPlan.State.DONE, document=document,
        value=made.value - week.kept_worth, bound=_less(made.bound, week.kept_worth),
        said_at=clock(),
    )  # fmt: skip
    return gettext("{done} of {all} orders planned").format(
        done=sum(map(len, made.routes.values())), all=len(week.tasks)
    )


def _less(bound: int | None, kept: int) -> int | None:
    return None if bound is None else bound - kept


def week_to_plan(organisation: Organisation, first_on: date, now: datetime) -> Week:
    """What is left of the week with all that is booked or waits; NothingToPlan says why not."""
    waiting = Task.objects.open().filter(assigned_to=organisation).only("time_zone")
    zone = clock_of(organisation, waiting[:MOST_LISTED])
    crews = crews_of(organisation)
    if not crews:
        raise NothingToPlan(
            gettext("No crew with people goes out, so nothing can be planned. Set one up first.")
        )
    days = _days_left(first_on, now.astimezone(zone), crews)
    if not days:
        raise NothingToPlan(gettext("Nothing of this week is left to plan."))
    booked = bookings(organisation, days[0], days[-1], zone)
    fixed = [task for task in booked if _is_fixed(task)]
    told = [task for task in booked if not _is_fixed(task)]
    every = to_place(organisation, days[-1], zone)
    free = list(every[:MOST_PLANNED])
    if not booked and not free:
        raise NothingToPlan(gettext("No order waits for a time in this week."))
    week = read(organisation, days, zone=zone, now=now, fixed=fixed, told=told, free=free)
    return replace(week, later=every.count() - len(free))


def _is_fixed(task: Task) -> bool:
    return task.is_promised or task.work_state == WorkState.STARTED


def _days_left(first_on: date, now: datetime, crews) -> list[date]:
    """From today on; today only before the first crew sets out."""
    today = now.date()
    begins = [spans[0][0] for crew in crews if (spans := hours_of(crew).get(today.weekday()))]
    is_open = bool(begins) and minute_on(now, today, now.tzinfo) <= min(begins)  # type: ignore[arg-type]
    first = today if is_open else today + timedelta(days=1)
    days = [first_on + timedelta(days=number) for number in range(DAYS)]
    return [day for day in days if day >= first]


@dataclass
class _Keeper:
    """Writes the plan so far down when it got better; stops when it was asked for anew."""

    plan: WeekPlan
    week: Week
    clock: Callable[[], datetime]
    on_piece: Callable[[], None]
    is_overtaken: bool = False
    _kept: tuple[int, int | None] | None = None
    _frame: dict[str, Any] = field(default_factory=dict)

    def keep(self, progress: Progress) -> None:
        self.on_piece()
        if (progress.value, progress.bound) == self._kept:
            return
        self._kept = progress.value, progress.bound
        problem = self.week.problem
        routes = [
            {
                "crew": problem.instance.crews[problem.shifts[number].crew].id,
                "day": problem.shifts[number].day,
                "steps": timed_steps(problem, problem.shifts[number], route),
            }
            for number, route in sorted(progress.routes.items())
            if route
        ]
        mine = WeekPlan.objects.filter(pk=self.plan.pk, turn=self.plan.turn)
        document = self.document({"routes": routes}, is_final=False)
        if not mine.update(
            document=document,
            value=progress.value - self.week.kept_worth,
            bound=_less(progress.bound, self.week.kept_worth),
            said_at=self.clock(),
        ):
            self.is_overtaken = True
            raise StopPlanning

    def document(self, plan: Mapping[str, Any], *, is_final: bool) -> dict[str, Any]:
        if not self._frame:
            self._frame = _frame(self.week)
        return self._frame | {"plan": dict(plan), "is_final": is_final}


def _frame(week: Week) -> dict[str, Any]:
    return {
        "zone": week.zone.key,
        "days": [day.isoformat() for day in week.days],
        "turns": {order_id(task): task.turn for task in week.tasks},
        "assumed": assumed_words(week),
        "notes": _notes(week),
    }


def _notes(week: Week) -> list[str]:
    """Days left alone, and days on which the clocks change."""
    notes = [
        gettext("{crew} on {day}: its bookings break a rule, so the day is left as it is.").format(
            crew=week.crews[crew], day=day_words(week.days[day])
        )
        for crew, day in sorted(week.set_aside)
    ]
    if week.later:
        text = ngettext(
            "{count} more order waits. It was not looked at: a plan looks at the {most} due "
            "soonest.",
            "{count} more orders wait. They were not looked at: a plan looks at the {most} due "
            "soonest.",
            week.later,
        )
        notes.append(text.format(count=week.later, most=MOST_PLANNED))
    for day in week.days:
        if change := change_on(day, week.zone):
            notes.append(
                gettext(
                    "The clocks change on {day} at {hour:02d}:{minute:02d}; no work is planned "
                    "over that hour."
                ).format(day=day_words(day), hour=change[0] // 60, minute=change[0] % 60)
            )
    return notes


def _earlier(plan: WeekPlan, week: Week) -> dict[int, tuple[int, ...]] | None:
    """The routes that a lost run had kept, as far as they speak of the same days and orders."""
    if plan.document.get("days") != [day.isoformat() for day in week.days]:
        return None
    crews = {crew.id: number for number, crew in enumerate(week.problem.instance.crews)}
    found = {}
    for route in plan.document.get("plan", {}).get("routes", []):
        shift = week.problem.shift_at.get((crews.get(route["crew"], -1), route["day"]))
        orders = [step["order"] for step in route["steps"] if step["do"] == "work"]
        if shift is None or not all(order in week.problem.order_number for order in orders):
            return None
        found[shift.number] = tuple(week.problem.order_number[order] for order in orders)
    return found


def _with_names(week: Week, text: str) -> str:
    for task in sorted(week.tasks, key=lambda task: -task.pk):
        text = text.replace(order_id(task), order_words(task))
    for crew in week.crews:
        text = text.replace(f"crew {crew.pk}", str(crew))
    return text


def give_up_plan(pk: int, words: str, now: datetime) -> None:
    """The job ended for good: the plan so far stays, and says so."""
    said = gettext("Planning ended early: {words} The plan so far can be used.").format(words=words)
    WeekPlan.objects.filter(pk=pk).update(
        state=WeekPlan.State.FAILED, problem=said[:500], said_at=now
    )

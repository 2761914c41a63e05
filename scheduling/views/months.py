"""Bookings on a month or a week; moving one asks the same service as its own page does."""

from datetime import timedelta

from django.shortcuts import render
from django.utils import timezone

from scheduling.forms.days import DayFilter
from scheduling.models import Crew, Task, WorkState
from scheduling.orders.day import agreed_for, between_days
from scheduling.orders.due_words import due_words
from scheduling.orders.month import (
    WEEKDAYS,
    MonthEntry,
    month_after,
    month_before,
    month_grid,
    week_of,
    week_rows,
    weeks_of,
)

MOST_TO_BOOK = 50
AHEAD = timedelta(days=60)


def month(request):
    chosen, on, crew = _chosen(request)
    first = on.replace(day=1)
    weeks = weeks_of(first)
    tasks = _agreed(request.user, weeks[0][0], weeks[-1][-1], crew)
    context = {
        "filter": chosen,
        "month": first,
        "before": month_before(first),
        "after": month_after(first),
        "weekdays": WEEKDAYS,
        "weeks": month_grid(first, tasks, _movable(request.user, tasks)),
        "to_book": _to_book(request.user, timezone.now()),
    }
    return render(request, "scheduling/month.html", context)


def week(request):
    chosen, on, crew = _chosen(request)
    days = week_of(on)
    tasks = _agreed(request.user, days[0], days[-1], crew)
    crews = Crew.objects.filter(organisation__in=request.user.organisations.all(), is_active=True)
    shown = crews.filter(pk=crew.pk) if crew else crews
    context = {
        "filter": chosen,
        "days": days,
        "before": days[0] - timedelta(days=7),
        "after": days[0] + timedelta(days=7),
        "rows": week_rows(days, shown, tasks, _movable(request.user, tasks)),
        "to_book": _to_book(request.user, timezone.now()),
    }
    return render(request, "scheduling/week.html", context)


def _chosen(request):
    chosen = DayFilter(request.GET, user=request.user, now=timezone.now())
    return chosen, *chosen.answers()


def _agreed(user, first, last, crew) -> list[Task]:
    tasks = agreed_for(user)
    return between_days(tasks.filter(crew=crew) if crew else tasks, first, last)


def _movable(user, tasks) -> set[int]:
    keys = [task.pk for task in tasks if task.is_open and task.work_state == WorkState.BOOKED]
    return set(Task.objects.workable_by(user).filter(pk__in=keys).values_list("pk", flat=True))


def _to_book(user, now) -> list[MonthEntry]:
    """What the person's organisation has, has not set a time for and may do within the next weeks,
    the soonest due first."""
    waiting = Task.objects.open().workable_by(user).with_place()
    waiting = waiting.filter(work_state__in=[WorkState.OFFERED, WorkState.ACCEPTED])
    waiting = waiting.exclude(opens_at__gt=now + AHEAD).order_by("due_at", "pk")
    return [MonthEntry(task, True, due_words(task, now)) for task in waiting[:MOST_TO_BOOK]]

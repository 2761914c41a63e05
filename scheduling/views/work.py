from django.core.paginator import Paginator
from django.shortcuts import render
from django.utils import timezone

from registry.access import get_visible, may_manage, may_record
from registry.assess.where_to_measure import place_worth_measuring
from scheduling.follow_ups.trail import trail_of
from scheduling.forms.orders import CommentForm
from scheduling.forms.work import WorkFilter
from scheduling.lateness import late_counts
from scheduling.models import Task, WorkState
from scheduling.orders.board import Job, groups_of, work_order
from scheduling.orders.bulk import ACTIONS
from scheduling.orders.due_words import SOON
from scheduling.orders.steps import steps_for
from scheduling.orders.under_way import under_way
from scheduling.rules import rule_of

PAGE = 100


def work(request):
    """Open follow-ups in the order in which they should be done."""
    now = timezone.now()
    chosen = WorkFilter(request.GET, user=request.user)
    tasks = chosen.narrow(Task.objects.open().visible_to(request.user))
    ordered = work_order(tasks, request.user, now).with_place().with_state(now)
    page = Paginator(ordered, PAGE).get_page(request.GET.get("page"))
    context = {
        "filter": chosen,
        "late": late_counts(request.user, now, soon=SOON),
        "page": page,
        "groups": groups_of(page.object_list, now),
        "under_way": under_way(request.user),
        "is_all": request.GET.get("select") == "all",
        "workable": _workable(page.object_list, request.user),
        "actions": ACTIONS.values(),
    }
    return render(request, "scheduling/work.html", context)


def task(request, pk):
    now = timezone.now()
    tasks = Task.objects.with_place().select_related("cause", "closed_by", "system__site__owner")
    task = get_visible(tasks, request.user, pk=pk)
    context = {
        "task": task,
        "job": Job.of(task, units=request.user.display_units, now=now),
        "is_agreed": task.work_state in (WorkState.BOOKED, WorkState.STARTED),
        "steps": steps_for(task) if _workable([task], request.user) else [],
        "trail": trail_of(task),
        "rule": rule_of(task.rule),
        "place": place_worth_measuring(task.system, now) if task.is_open else None,
        "escalations": task.escalations.prefetch_related("people"),
        "comment": CommentForm(),
        "may_record": may_record(task.system, request.user),
        "may_manage": may_manage(task.system, request.user),
    }
    return render(request, "scheduling/task.html", context)


def _workable(tasks, user) -> set[int]:
    """Which of them the person's organisation has, and the person may work on."""
    keys = [task.pk for task in tasks]
    return set(Task.objects.workable_by(user).filter(pk__in=keys).values_list("pk", flat=True))

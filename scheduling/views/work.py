from django.core.paginator import Paginator
from django.shortcuts import render
from django.utils import timezone

from registry.access import get_visible, may_record
from scheduling.board import Job, groups_of, work_order
from scheduling.forms import WorkFilter
from scheduling.models import Task

PAGE = 100


def work(request):
    """Open follow-ups in the order in which they should be done."""
    now = timezone.now()
    chosen = WorkFilter(request.GET, user=request.user)
    tasks = chosen.narrow(Task.objects.open().visible_to(request.user))
    ordered = work_order(tasks, request.user, now).with_place().with_state(now)
    page = Paginator(ordered, PAGE).get_page(request.GET.get("page"))
    context = {"filter": chosen, "page": page, "groups": groups_of(page.object_list, now)}
    return render(request, "scheduling/work.html", context)


def task(request, pk):
    now = timezone.now()
    tasks = Task.objects.with_place().select_related("cause", "closed_by", "system__site__owner")
    task = get_visible(tasks, request.user, pk=pk)
    context = {
        "task": task,
        "job": Job.of(task, units=request.user.display_units, now=now),
        "may_record": may_record(task.system, request.user),
    }
    return render(request, "scheduling/task.html", context)

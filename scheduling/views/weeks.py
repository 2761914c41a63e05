"""The week: a board of crews by days for those who plan it, a list of bookings for the others."""

from datetime import timedelta

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import Q
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext, ngettext
from django.views.decorators.http import require_POST

from registry.access import get_visible, key_in
from registry.forms.units_and_errors import attempt
from registry.models import Organisation
from registry.models.querysets import OWNER_WRITERS
from registry.words.spoken import written
from scheduling import services
from scheduling.forms.days import DayFilter
from scheduling.forms.weeks import MoveForm, WeekForm
from scheduling.models import Task, WeekPlan
from scheduling.orders.month import week_of
from scheduling.planning.weeks.accepting import accept_plan
from scheduling.planning.weeks.letting_in import swapped
from scheduling.planning.weeks.moving import chosen as chosen_option
from scheduling.planning.weeks.moving import options
from scheduling.planning.weeks.page import board_of
from scheduling.planning.weeks.proposing import ask_plan
from scheduling.planning.words import order_words
from scheduling.views import months

TASKS = Task.objects.with_place().select_related("system__site__owner")


def week(request):
    """Their own crews on a board; who has none sees what is booked where they may look."""
    organisations = planning_organisations(request.user)
    organisation = organisations.filter(pk=key_in(request.GET.get("organisation")) or 0).first()
    organisation = organisation or organisations.filter(crews__is_active=True).first()
    if organisation is None:
        return months.week(request)
    now = timezone.now()
    chosen = DayFilter(request.GET, user=request.user, now=now)
    on, crew = chosen.answers()
    days = week_of(on)
    board = board_of(
        organisation, days[0], now=now, workable=_workable(request.user, organisation), crew=crew
    )
    context = {
        "filter": chosen,
        "board": board,
        "before": days[0] - timedelta(days=7),
        "after": days[0] + timedelta(days=7),
        "may_plan": may_plan(request.user, organisation),
        "organisations": organisations if organisations.count() > 1 else [],
    }
    return render(request, "scheduling/board.html", context)


@require_POST
def week_plan(request, pk):
    """Ask for the plan of the week; a job makes it."""
    organisation = _planned(request.user, pk)
    form = WeekForm(request.POST)
    if not form.is_valid():
        messages.error(request, gettext("Say which week is to be planned."))
        return redirect("scheduling:week")
    first_on = week_of(form.cleaned_data["on"])[0]
    ask_plan(
        organisation=organisation, first_on=first_on, asked_by=request.user, now=timezone.now()
    )
    return redirect(_address(organisation, first_on))


@require_POST
def week_accept(request, pk):
    """Book what is ticked of the plan; each is booked or refused by itself."""
    plan = _plan(request.user, pk)
    ticked = {key for text in request.POST.getlist("task") if (key := key_in(text))}
    if not ticked:
        messages.error(request, gettext("Tick the jobs to be booked."))
        return redirect(_address(plan.organisation, plan.first_on))
    done = accept_plan(plan=plan, chosen=ticked, by=request.user, now=timezone.now())
    if done.booked:
        text = ngettext("{count} job is booked.", "{count} jobs are booked.", len(done.booked))
        messages.success(request, text.format(count=len(done.booked)))
    for sentence in (*done.refused, *done.remarks):
        messages.warning(request, sentence)
    if not done.booked and not done.refused:
        messages.warning(request, gettext("Nothing was left to book: all of it is booked so."))
    return redirect(_address(plan.organisation, plan.first_on))


@require_POST
def week_drop(request, pk):
    """Accept none: the plan is thrown away, and what is booked stays as it is."""
    plan = _plan(request.user, pk)
    organisation, first_on = plan.organisation, plan.first_on
    plan.delete()
    messages.success(request, gettext("The plan is gone; nothing was booked by it."))
    return redirect(_address(organisation, first_on))


@require_POST
def week_swap(request, pk, task_pk):
    """Let a left-out order into the plan, in the place of those it puts out."""
    plan = _plan(request.user, pk)
    task = get_visible(TASKS.filter(assigned_to=plan.organisation), request.user, pk=task_pk)
    try:
        plan.document = swapped(plan.document, f"order {task.pk}", task)
    except ValueError:
        messages.error(request, gettext("The plan has changed; plan again."))
    else:
        changed = WeekPlan.objects.filter(pk=plan.pk, turn=plan.turn).update(document=plan.document)
        if changed:
            text = gettext("{order} is in the plan now; nothing is booked yet.")
            messages.success(request, text.format(order=order_words(task)))
    return redirect(_address(plan.organisation, plan.first_on))


def week_move(request, pk):
    """Where one order could go: each crew's day with a time and its price, or what keeps it out."""
    task = _workable_task(request.user, pk)
    now = timezone.now()
    asked = WeekForm(request.GET if request.method == "GET" else request.POST)
    on = asked.cleaned_data["on"] if asked.is_valid() else task.starts_at.astimezone(task.zone)
    first_on = week_of(on.date() if hasattr(on, "date") else on)[0]
    found = options(task, first_on, now=now)
    form = MoveForm(
        request.POST or None, options=found, initial={"where": request.GET.get("where", "")}
    )
    wanted = chosen_option(found, form["where"].value() or "")
    if form.is_valid() and (
        moved := attempt(
            form, services.book, task=task, by=request.user, now=now, crew=wanted.crew,
            starts_at=wanted.starts_at, ends_at=wanted.ends_at, promised=task.is_promised,
            seen=form.cleaned_data["seen"], reason=form.cleaned_data["reason"],
        )
    ):  # fmt: skip
        text = gettext("{order}: {crew}, {when}.")
        when = written(moved.starts_at.astimezone(moved.zone), "%a %-d %b, %H:%M")
        messages.success(request, text.format(order=order_words(task), crew=moved.crew, when=when))
        for remark in moved.remarks:
            messages.warning(request, remark)
        return redirect(_address(task.assigned_to, first_on))
    context = {
        "task": task, "form": form, "options": found, "wanted": wanted, "first_on": first_on,
        "before": first_on - timedelta(days=7), "after": first_on + timedelta(days=7),
        "back": _address(task.assigned_to, first_on),
    }  # fmt: skip
    return render(request, "scheduling/week_move.html", context)


def planning_organisations(user):
    """The person's own organisations that may have crews."""
    return user.organisations.exclude(kind=Organisation.Kind.AUDITOR).order_by("name")


def may_plan(user, organisation: Organisation) -> bool:
    return organisation.memberships.filter(user=user, role__in=OWNER_WRITERS).exists()


def _planned(user, pk) -> Organisation:
    organisation = get_object_or_404(planning_organisations(user), pk=pk)
    if not may_plan(user, organisation):
        raise PermissionDenied(gettext("You may read this plan but not change it."))
    return organisation


def _plan(user, pk) -> WeekPlan:
    plans = WeekPlan.objects.select_related("organisation")
    plan = get_object_or_404(plans, pk=pk, organisation__in=planning_organisations(user))
    _planned(user, plan.organisation_id)
    return plan


def _workable(user, organisation: Organisation) -> set[int]:
    mine = Task.objects.open().workable_by(user).filter(assigned_to=organisation)
    return set(mine.filter(~Q(work_state="started")).values_list("pk", flat=True))


def _workable_task(user, pk) -> Task:
    task = get_visible(TASKS.all(), user, pk=pk)
    if not Task.objects.workable_by(user).filter(pk=pk).exists():
        text = gettext("Only {assigned_to}, who has the work, may do this.")
        raise PermissionDenied(text.format(assigned_to=task.assigned_to))
    return task


def _address(organisation: Organisation, first_on) -> str:
    return f"{reverse('scheduling:week')}?on={first_on}&organisation={organisation.pk}"

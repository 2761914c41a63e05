"""What people do with follow-ups, one or several at once, and the crews they give them to."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from registry.access import get_manageable, get_recordable, get_visible, key_in
from registry.forms.units_and_errors import attempt
from registry.models import Membership, Organisation
from scheduling import services
from scheduling.forms.orders import CommentForm, CrewForm, HandOverForm
from scheduling.models import Crew, Task
from scheduling.orders.bulk import ACTIONS, BulkForm, carry_out
from scheduling.orders.steps import STEPS

TASKS = Task.objects.with_place().select_related("system__site__owner", "cause")
CREWS = Crew.objects.select_related("organisation").prefetch_related("people")


def task_step(request, pk, step):
    """Asks what the step needs to know and takes it; one without questions is taken by POST."""
    chosen = STEPS.get(step)
    if chosen is None:
        raise Http404(gettext("No such step."))
    task = _workable(request.user, pk)
    form = chosen.form(request.POST or None, task=task)
    if form.is_valid() and (
        done := attempt(
            form, chosen.do, task=task, by=request.user, now=timezone.now(), **form.facts()
        )
    ):
        messages.success(request, chosen.done)
        for remark in done.remarks:
            messages.warning(
                request, gettext("By what is assumed so far: {remark}").format(remark=remark)
            )
        return _back(request, task)
    back = request.POST.get("next") or request.GET.get("next", "")
    context = {"task": task, "step": chosen, "form": form, "back": back}
    return render(request, "scheduling/task_step.html", context)


def task_hand_over(request, pk):
    now = timezone.now()
    task = get_manageable(TASKS.all(), request.user, pk=pk)
    form = HandOverForm(
        request.POST or None, task=task, now=now, initial={"party": task.assigned_to_id}
    )
    if form.is_valid() and (
        given := attempt(
            form, services.hand_over, task=task, by=request.user, now=now, **form.facts()
        )
    ):
        messages.success(
            request, gettext("Offered to {assigned_to}.").format(assigned_to=given.assigned_to)
        )
        return redirect(task)
    return render(request, "scheduling/task_hand_over.html", {"task": task, "form": form})


@require_POST
def task_comment(request, pk):
    task = get_recordable(TASKS.all(), request.user, pk=pk)
    form = CommentForm(request.POST)
    if form.is_valid() and attempt(
        form, services.comment, task=task, by=request.user, now=timezone.now(), **form.cleaned_data
    ):
        messages.success(request, gettext("Your comment is on the trail."))
    else:
        messages.error(request, gettext("Write something before you add a comment."))
    return redirect(f"{task.get_absolute_url()}#trail")


@require_POST
def work_several(request):
    """One thing done to several follow-ups; each is done or refused by itself."""
    now = timezone.now()
    tasks = TASKS.filter(pk__in=filter(None, map(key_in, request.POST.getlist("task"))))
    tasks = list(tasks.workable_by(request.user).open().order_by("starts_at", "pk"))
    action = ACTIONS.get(request.POST.get("action", ""))
    if not tasks or action is None:
        messages.error(
            request, gettext("Tick follow-ups that your organisation has, and say what to do.")
        )
        return redirect("scheduling:work")
    form = BulkForm(request.POST if "sent" in request.POST else None, tasks=tasks, action=action)
    if action.asks and not form.is_valid():
        context = {"tasks": tasks, "action": action, "form": form}
        return render(request, "scheduling/work_several.html", context)
    outcome = carry_out(action, tasks, form.answers(), by=request.user, now=now)
    if outcome.done:
        messages.success(request, f"{action.done}: {', '.join(outcome.done)}.")
    for sentence in (*outcome.refused, *outcome.said):
        messages.warning(request, sentence)
    return redirect("scheduling:work")


def crews(request):
    """The crews of the person's own organisations."""
    ours = request.user.organisations.all()
    managed = managed_organisations(request.user)
    context = {"crews": CREWS.filter(organisation__in=ours), "managed": managed}
    return render(request, "scheduling/crews.html", context)


def crew_new(request, pk):
    organisation = get_object_or_404(request.user.organisations, pk=pk)
    require_manager(request.user, organisation)
    return _crew_form(request, Crew(organisation=organisation))


def crew_edit(request, pk):
    crew = get_object_or_404(CREWS, pk=pk, organisation__in=request.user.organisations.all())
    require_manager(request.user, crew.organisation)
    return _crew_form(request, crew)


def _crew_form(request, crew):
    form = CrewForm(request.POST or None, instance=crew, organisation=crew.organisation)
    if form.is_valid():
        messages.success(request, gettext("{save} is saved.").format(save=form.save()))
        return redirect("scheduling:crews")
    return render(request, "scheduling/crew_form.html", {"crew": crew, "form": form})


def _workable(user, pk) -> Task:
    task = get_visible(TASKS.all(), user, pk=pk)
    if not Task.objects.workable_by(user).filter(pk=pk).exists():
        raise PermissionDenied(
            gettext("Only {assigned_to}, who has the work, may do this.").format(
                assigned_to=task.assigned_to
            )
        )
    return task


def managed_organisations(user):
    return Organisation.objects.filter(
        memberships__user=user, memberships__role=Membership.Role.MANAGER
    ).exclude(kind=Organisation.Kind.AUDITOR)


def require_manager(user, organisation) -> None:
    if not managed_organisations(user).filter(pk=organisation.pk).exists():
        raise PermissionDenied(
            gettext("Only a manager of {organisation} may set up its crews.").format(
                organisation=organisation
            )
        )


def _back(request, task):
    """To the page the person came from, when that is one of ours."""
    wanted = request.POST.get("next", "")
    if wanted and url_has_allowed_host_and_scheme(wanted, allowed_hosts={request.get_host()}):
        return redirect(wanted)
    return redirect(task)

"""Inerting runs: planned at a desk, logged on a phone at the riser, corrected, stopped."""

from uuid import UUID, uuid4

from django.contrib import messages
from django.db.models import prefetch_related_objects
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_safe

from registry.access import get_recordable, get_visible, may_record
from registry.forms.run_beside import PhotoForm
from registry.forms.run_edges import LeaveForm, StopForm
from registry.forms.runs import CorrectionForm, PlanForm, StepForm
from registry.forms.units_and_errors import attempt
from registry.models import InertingRun, System
from registry.pages.run import (
    logged_page,
    may_read_again,
    plan_page,
    points_read,
    run_page,
    starting_gas,
)
from registry.phone.arriving import takes_kept_entries
from registry.phone.rules import seen_of
from registry.quantities import format_quantity
from registry.runs.planning import generator_recovery_s, plan_for_system
from registry.runs.progress import current_steps, last_done, open_steps_of, progress_of
from registry.runs.steps import PURGED, READ, WITH_A_FILL, RunStep, is_correctable
from registry.services.ledger import RecordError
from registry.services.run_checks import ReadingQuestioned, RunUnderWay, StepLogged
from registry.services.runs import (
    correct_step,
    log_step,
    start_run,
    stop_run,
    unfinished_run,
)

SYSTEMS = System.objects.select_related("site__owner", "building")
RUNS = InertingRun.objects.select_related("system__site__owner", "system__building", "opened_by")
NOT_WRITTEN = 422
ALREADY_WRITTEN = 409


@require_http_methods(["GET", "HEAD", "POST"])
def run_plan(request, pk):
    now = timezone.now()
    get = get_recordable if request.method == "POST" else get_visible
    system = get(SYSTEMS, request.user, pk=pk)
    data = request.POST if request.method == "POST" else request.GET
    gas = starting_gas(system, now)
    form = PlanForm(data, system=system, user=request.user, oxygen=gas.oxygen)
    form.fields["start_n2_percent"].help_text = gas.because
    plan = plan_for_system(system, form.cleaned_data) if form.is_valid() else None
    leave = LeaveForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and plan and leave.is_valid():
        return _start(request, system, form, leave, plan, now)
    context = _plan_context(request, system, form, plan) | {"leave": leave}
    status = NOT_WRITTEN if request.method == "POST" and plan else 200
    return render(request, "registry/run_plan.html", context, status=status)


def _start(request, system, form, leave, plan, now):
    try:
        run = start_run(
            system=system,
            plan=plan,
            opened_by=request.user,
            opened_at=form.cleaned_data["opened_at"] or now,
            analyser=form.cleaned_data["analyser"],
            questioned=form.questioned,
            analyser_calibrated_on=form.cleaned_data["analyser_calibrated_on"],
            client_key=_key(request),
            now=now,
            **leave.cleaned_data,
        )
    except RunUnderWay as under_way:
        messages.warning(
            request, gettext("{under_way} This is that run.").format(under_way=under_way)
        )
        run = under_way.run
    except RecordError as refused:
        for name, problem in refused.problems.items():
            known = {"occurred_at": "opened_at"}.get(name)
            form.add_error(known, problem)
        context = _plan_context(request, system, form, plan) | {"leave": leave}
        return render(request, "registry/run_plan.html", context, status=NOT_WRITTEN)
    return redirect(run)


def _key(request) -> UUID | None:
    try:
        return UUID(request.POST.get("client_key", ""))
    except ValueError:
        return None


def _plan_context(request, system, form, plan):
    recovery = None
    if plan and (flow := form.cleaned_data.get("generator_flow_m3_s")):
        gauge = system.service_pressure_gauge_pa or 0.0
        recovery = generator_recovery_s(
            system, flow_m3_s=flow, gauge_pa=gauge, answers=form.cleaned_data
        )
    return plan_page(system, form, plan) | {
        "unfinished": unfinished_run(system),
        "may_record": may_record(system, request.user),
        "client_key": uuid4(),
        "recovery_s": recovery,
    }


@require_safe
def run(request, pk):
    run = get_visible(RUNS, request.user, pk=pk)
    steps = current_steps(run)
    step = _offered_step(request, run, steps)
    form = None
    if step and may_record(run, request.user):
        form = StepForm(
            run=run, step=step, user=request.user, last=last_done(steps),
            read_at=points_read(run, steps, step),
        )  # fmt: skip
    prefetch_related_objects(steps, "attachments")
    context = run_page(run, steps, request.user, form)
    if may_record(run, request.user):
        context["form_photo"] = PhotoForm(user=request.user)
    return render(request, "registry/run.html", context)


def _offered_step(request, run, steps):
    """The next step or, on request, one more reading of the fill that is about to be purged, or
    the purge of one that was read and lacks something yet."""
    progress = progress_of(run, steps)
    if "again" in request.GET and may_read_again(progress):
        return RunStep(READ, progress.step.fill)
    if "purge" in request.GET and progress.step:
        purge = RunStep(PURGED, progress.step.fill)
        return purge if purge in open_steps_of(run, steps) else progress.step
    return progress.step


@require_http_methods(["GET", "HEAD", "POST"])
@takes_kept_entries
def run_step(request, pk):
    run = get_recordable(RUNS, request.user, pk=pk)
    if request.method != "POST":
        return redirect(run)
    now = timezone.now()
    steps = current_steps(run)
    step = _step(request)
    form = StepForm(request.POST, run=run, step=step, user=request.user, last=last_done(steps))
    try:
        written = form.is_valid() and attempt(
            form,
            log_step,
            run=run,
            recorded_by=request.user,
            is_kept=_is_reading_kept(request.POST),
            is_extra="is_extra" in request.POST,
            now=now,
            **form.facts(now),
        )
    except StepLogged as moved:
        context = logged_page(run, form, moved, form.occurred_at(now), request.user)
        return render(request, "registry/run_logged.html", context, status=ALREADY_WRITTEN)
    except ReadingQuestioned as questioned:
        context = run_page(run, steps, request.user, form, questioned.judgement)
        return render(request, "registry/run.html", context, status=NOT_WRITTEN)
    if written:
        _mind_the_rating(request, run, written)
        return redirect(run)
    context = run_page(run, steps, request.user, form)
    return render(request, "registry/run.html", context, status=NOT_WRITTEN)


def _is_reading_kept(sent) -> bool:
    """Whether a reading outside the band stays as it is. A phone that asked says by which band
    question, as it may have asked about something else alone."""
    is_asked = "asked_by_phone" not in sent or sent.get("band_asked") == sent.get("n2_percent", "")
    return "is_kept" in sent and is_asked


def _step(request) -> RunStep:
    try:
        return RunStep.from_token(request.POST.get("token", ""))
    except ValueError as error:
        raise Http404(str(error)) from None


def _mind_the_rating(request, run, written):
    reached = written.details.get("pressure_gauge_pa", 0.0)
    rated = run.system.rated_pressure_gauge_pa
    if reached > rated:
        limit = format_quantity(rated, "pressure", request.user.display_units)
        messages.warning(
            request,
            gettext(
                "That is above the rated working pressure of the weakest component, "
                "{limit}. Bring it down and look for damage before going on."
            ).format(limit=limit),
        )


@require_http_methods(["GET", "HEAD", "POST"])
def run_correct(request, pk, record_pk):
    run = get_recordable(RUNS, request.user, pk=pk)
    steps = current_steps(run)
    wrong = get_object_or_404(run.records.select_related("recorded_by"), pk=record_pk)
    is_stale = request.method == "POST" and wrong.kind in WITH_A_FILL  # the service says why not
    if not is_stale and not is_correctable(wrong, steps):
        raise Http404(gettext("This step is not corrected here."))
    form = CorrectionForm(request.POST or None, run=run, wrong=wrong, user=request.user)
    context = {"run": run, "form": form, "wrong": wrong}
    try:
        if form.is_valid() and attempt(
            form,
            correct_step,
            run=run,
            wrong=wrong,
            details=form.details,
            recorded_by=request.user,
            client_key=form.cleaned_data["client_key"],
            is_kept="is_kept" in request.POST,
        ):
            return redirect(run)
    except ReadingQuestioned as questioned:
        context["judgement"] = questioned.judgement
    status = NOT_WRITTEN if request.method == "POST" else 200
    return render(request, "registry/run_correct.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@takes_kept_entries
def run_stop(request, pk):
    run = get_recordable(RUNS, request.user, pk=pk)
    form = StopForm(request.POST or None, run=run)
    try:
        if form.is_valid() and attempt(
            form,
            stop_run,
            run=run,
            reason=form.cleaned_data["reason"],
            left_as=form.cleaned_data["left_as"],
            recorded_by=request.user,
            occurred_at=form.occurred_at(timezone.now()),
            client_key=form.cleaned_data["client_key"],
        ):
            messages.success(request, gettext("The run is stopped; why is on record."))
            return redirect(run)
    except StepLogged:
        messages.warning(request, gettext("The run had ended already."))
        return redirect(run)
    status = NOT_WRITTEN if request.method == "POST" else 200
    context = {"run": run, "form": form, "seen": seen_of(run.system)}
    return render(request, "registry/run_stop.html", context, status=status)

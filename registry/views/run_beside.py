"""Beside the steps of a run: photos, and the signature of the hand-over."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_safe

from registry.access import get_recordable
from registry.forms.run_beside import PhotoForm, SignForm
from registry.forms.runs import StepForm
from registry.forms.units_and_errors import attempt
from registry.pages.gas_used import gas_by_gauge
from registry.phone.arriving import takes_kept_entries
from registry.runs.steps import FILLED, RunStep
from registry.services.run_beside import add_photos, sign_hand_over
from registry.views.runs import NOT_WRITTEN, RUNS


@require_http_methods(["GET", "HEAD", "POST"])
@takes_kept_entries
def run_photo(request, pk):
    run = get_recordable(RUNS, request.user, pk=pk)
    form = PhotoForm(*_sent(request, request.FILES), user=request.user)
    if form.is_valid() and (
        written := attempt(form, add_photos, run=run, recorded_by=request.user, **form.facts())
    ):
        messages.success(
            request,
            gettext("The photo is record {sequence}.").format(sequence=written.sequence),
        )
        return redirect(run)
    form.keep_chosen(request)
    return _page(request, "registry/run_photo.html", run, form)


@require_http_methods(["GET", "HEAD", "POST"])
def run_sign(request, pk):
    run = get_recordable(RUNS, request.user, pk=pk)
    form = SignForm(*_sent(request), user=request.user)
    if form.is_valid() and attempt(
        form, sign_hand_over, run=run, recorded_by=request.user, **form.facts()
    ):
        messages.success(request, gettext("The hand-over is signed, and on record."))
        return redirect(run)
    return _page(request, "registry/run_sign.html", run, form)


@require_safe
def run_gas(request, pk):
    """The gas that the gauge of the cylinder tells, while it is typed; empty until it can."""
    run = get_recordable(RUNS, request.user, pk=pk)
    form = StepForm(request.GET, run=run, step=RunStep(FILLED, 1), user=request.user)
    hint = gas_by_gauge(
        run, form.read("cylinder_before_gauge_pa"), form.read("cylinder_after_gauge_pa")
    )
    return render(request, "registry/run_gas.html", {"hint": hint})


def _sent(request, *files):
    return (request.POST, *files) if request.method == "POST" else ()


def _page(request, template, run, form):
    status = NOT_WRITTEN if request.method == "POST" else 200
    return render(request, template, {"run": run, "form": form}, status=status)

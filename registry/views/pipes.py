from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext

from registry import services
from registry.access import get_manageable
from registry.forms.pipes import PipeRunForm, run_words
from registry.forms.systems import FittingForm
from registry.forms.units_and_errors import attempt
from registry.models import Fitting, PipeRun, System

SYSTEMS = System.objects.select_related("site__owner", "building")


def pipe_new(request, pk):
    system = get_manageable(SYSTEMS.all(), request.user, pk=pk)
    return _pipe(request, system)


def pipe_correct(request, pk):
    original = get_object_or_404(PipeRun.objects.select_related("record"), pk=pk)
    system = get_manageable(SYSTEMS.all(), request.user, pk=original.system_id)
    return _pipe(request, system, original)


def _pipe(request, system, original=None):
    form = PipeRunForm(request.POST or None, system=system, user=request.user, original=original)
    if form.is_valid() and (
        run := attempt(
            form, services.add_pipe_run,
            system=system, recorded_by=request.user, supersedes=original, **form.facts(),
        )
    ):  # fmt: skip
        messages.success(request, run_words(run, request.user.display_units))
        return (
            redirect("registry:pipe-new", system.pk)
            if _wants_another(request)
            else redirect(system)
        )
    context = {"form": form, "system": system, "original": original}
    return render(request, "registry/pipe_form.html", context)


def _wants_another(request):
    return "another" in request.POST


def fitting_new(request, pk):
    system = get_manageable(SYSTEMS.all(), request.user, pk=pk)
    form = FittingForm(request.POST or None, instance=Fitting(system=system))
    if form.is_valid():
        services.add_fitting(system=system, recorded_by=request.user, **form.cleaned_data)
        messages.success(request, gettext("The fitting is in the register."))
        return redirect(system)
    return render(request, "registry/fitting_form.html", {"form": form, "system": system})


def fitting_edit(request, pk):
    fitting = get_object_or_404(Fitting, pk=pk)
    system = get_manageable(SYSTEMS.all(), request.user, pk=fitting.system_id)
    form = FittingForm(request.POST or None, instance=fitting)
    if form.is_valid():
        services.amend_fitting(
            fitting=Fitting.objects.get(pk=pk), recorded_by=request.user, **form.cleaned_data
        )
        messages.success(request, gettext("Saved; the ledger holds what changed."))
        return redirect(system)
    context = {"form": form, "system": system, "fitting": Fitting.objects.get(pk=pk)}
    return render(request, "registry/fitting_form.html", context)

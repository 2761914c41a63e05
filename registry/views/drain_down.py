"""Draining without letting air in: planned as a checklist, told as an event of the ledger."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods

from registry.access import get_recordable, get_visible, may_record
from registry.atmosphere.drain_down import judge
from registry.corrosion.cylinders import cylinder_sizes, cylinders_needed, usable_nitrogen
from registry.forms.drain_down import CoverForm, DrainDownForm
from registry.forms.units_and_errors import attempt
from registry.models import System
from registry.quantities import PSI
from registry.runs.planning import cover_for_drain_down
from registry.services.attaching import record_with_files

SYSTEMS = System.objects.select_related("site__owner", "building")
RESERVE_PA = 200 * PSI


@require_http_methods(["GET", "HEAD", "POST"])
def drain_down(request, pk):
    is_told = request.method == "POST"
    system = (get_recordable if is_told else get_visible)(SYSTEMS, request.user, pk=pk)
    cover_form = CoverForm(request.GET, system=system, user=request.user)
    cover = _cover(system, cover_form)
    form = DrainDownForm(
        request.POST or None,
        request.FILES,
        system=system,
        user=request.user,
        planned=_planned(cover, cover_form),
    )
    context = {"system": system, "cover_form": cover_form, "cover": cover, "form": form}
    context |= {"cylinders": _cylinders(cover), "may_record": may_record(system, request.user)}
    if is_told and form.is_valid():
        verdict = judge(form.details)
        is_seen = request.POST.get("seen") == verdict.outcome
        if is_seen and _tell(request, system, form):
            return redirect(system)
        context["verdict"] = verdict
    form.keep_chosen(request)
    return render(request, "registry/drain_down.html", context, status=422 if is_told else 200)


def _tell(request, system, form):
    written = attempt(
        form, record_with_files, system=system, recorded_by=request.user, now=timezone.now(),
        **form.facts(),
    )  # fmt: skip
    if written:
        messages.success(
            request,
            gettext("The drain-down is recorded as number {sequence}.").format(
                sequence=written.sequence
            ),
        )
    return written


def _cover(system, form):
    return cover_for_drain_down(system, **form.cleaned_data) if form.is_valid() else None


def _planned(cover, form):
    if cover is None:
        return {}
    return {
        "regulator_gauge_pa": cover.set_point_gauge_pa,
        "system_gauge_pa": form.cleaned_data["system_gauge_pa"],
    }


def _cylinders(cover):
    """Whole cylinders of each size for the cover."""
    if cover is None:
        return []
    return [
        (size, cylinders_needed(cover.nitrogen_m3, _usable(size, cover)))
        for size in cylinder_sizes().values()
    ]


def _usable(size, cover):
    reserve = max(RESERVE_PA, cover.set_point_gauge_pa)
    return float(usable_nitrogen(size.water_volume_m3, size.full_pressure_gauge_pa, reserve))

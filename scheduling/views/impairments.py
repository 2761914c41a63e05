"""Protection out of service: since when, who was told, and how long in any 24 hours."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from registry.access import get_recordable, get_visible, may_record
from registry.forms.units_and_errors import attempt
from registry.models import System
from registry.phone.arriving import takes_kept_entries
from registry.phone.rules import for_phone
from registry.services.attaching import record_with_files
from scheduling.follow_ups.impairments import ImpairmentPanel
from scheduling.forms.recurring import ImpairmentEndForm, ImpairmentStartForm

SYSTEMS = System.objects.select_related("site__owner", "building")


def impairments(request, pk):
    system = get_visible(SYSTEMS.all(), request.user, pk=pk)
    context = {
        "system": system,
        "panel": ImpairmentPanel.of(system, timezone.now()),
        "may_record": may_record(system, request.user),
    }
    return render(request, "scheduling/impairments.html", context)


@takes_kept_entries
def impairment_start(request, pk):
    system = get_recordable(SYSTEMS.all(), request.user, pk=pk)
    form = ImpairmentStartForm(
        request.POST or None, request.FILES, system=system, user=request.user
    )
    return _log(request, system, form, "scheduling/impairment_start.html")


@takes_kept_entries
def impairment_end(request, pk):
    system = get_recordable(SYSTEMS.all(), request.user, pk=pk)
    form = ImpairmentEndForm(
        request.POST or None,
        request.FILES,
        system=system,
        user=request.user,
        open=ImpairmentPanel.of(system, timezone.now()).open,
    )
    return _log(request, system, form, "scheduling/impairment_end.html")


def _log(request, system, form, template):
    now = timezone.now()
    if form.is_valid() and (
        written := attempt(
            form,
            record_with_files,
            system=system,
            recorded_by=request.user,
            now=now,
            **form.facts(),
        )  # fmt: skip
    ):
        messages.success(
            request,
            gettext("{label}: recorded as number {sequence}.").format(
                label=form.kind.label, sequence=written.sequence
            ),
        )
        return redirect("scheduling:impairments", system.pk)
    form.keep_chosen(request)
    context = {"system": system, "form": form, "panel": ImpairmentPanel.of(system, now)}
    context |= for_phone(system)
    return render(request, template, context)

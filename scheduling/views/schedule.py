"""Recurring work where it is read and where it is done."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from registry.access import get_recordable, get_visible, may_manage, may_record
from registry.forms.records import WithdrawForm
from registry.forms.units_and_errors import attempt
from registry.kinds.inspections import INSPECTION_COMPLETED
from registry.models import Record, System
from registry.pages.ledger_lines import line_of
from scheduling import recurring
from scheduling.follow_ups.impairments import ImpairmentPanel, out_of_service
from scheduling.forms.recurring import CompleteForm, DueFilter, SkipForm
from scheduling.models import Occurrence
from scheduling.recurring.pages import SchedulePage, due_row
from scheduling.recurring.portfolio import SystemRow, systems_with_work
from scheduling.recurring.readings import advice_for, cautions_for
from scheduling.recurring.replanning import is_to_be_planned

PAGE = 100
SYSTEMS = System.objects.select_related("site__owner", "building")
OCCURRENCES = Occurrence.objects.with_place().select_related("system__site__owner")
INSPECTIONS = Record.objects.filter(kind__startswith="inspection.").select_related(
    "system__site__owner", "recorded_by"
)


def due(request):
    """Systems with recurring work to do, the longest late first: one visit serves one system."""
    now = timezone.now()
    chosen = DueFilter(request.GET, user=request.user)
    systems = systems_with_work(request.user, *chosen.answers(), now=now)
    page = Paginator(systems, PAGE).get_page(request.GET.get("page"))
    out = out_of_service(system.pk for system in page.object_list)
    rows = [SystemRow(system, now, out.get(system.pk)) for system in page.object_list]
    return render(request, "scheduling/due.html", {"filter": chosen, "page": page, "rows": rows})


def schedule(request, pk):
    now = timezone.now()
    system = get_visible(SYSTEMS.all(), request.user, pk=pk)
    context = {
        "system": system,
        "page": SchedulePage.of(system, now),
        "impairments": ImpairmentPanel.of(system, now),
        "is_to_be_planned": is_to_be_planned(system),
        "may_record": may_record(system, request.user),
        "may_manage": may_manage(system, request.user),
    }
    return render(request, "scheduling/schedule.html", context)


def occurrence_complete(request, pk):
    occurrence = get_recordable(OCCURRENCES.all(), request.user, pk=pk)
    form = CompleteForm(
        request.POST or None, request.FILES, occurrence=occurrence, user=request.user
    )
    if form.is_valid() and (
        written := attempt(
            form, recurring.complete_occurrence,
            occurrence=occurrence, recorded_by=request.user, now=timezone.now(), **form.facts(),
        )
    ):  # fmt: skip
        messages.success(
            request, gettext("Logged as number {sequence}.").format(sequence=written.sequence)
        )
        return redirect("scheduling:inspection", written.pk)
    form.keep_chosen(request)
    context = {
        "row": due_row(occurrence, timezone.now()),
        "system": occurrence.system,
        "form": form,
        "advice": advice_for(occurrence.item.key),
        "cautions": cautions_for(occurrence.item.key, occurrence.item.group),
    }
    return render(request, "scheduling/occurrence_complete.html", context)


def occurrence_skip(request, pk):
    occurrence = get_recordable(OCCURRENCES.all(), request.user, pk=pk)
    form = SkipForm(request.POST or None)
    if form.is_valid() and (
        written := attempt(
            form, recurring.skip_occurrence,
            occurrence=occurrence, recorded_by=request.user, now=timezone.now(),
            **form.cleaned_data,
        )
    ):  # fmt: skip
        messages.success(
            request,
            gettext("Skipped; the reason is record {sequence}.").format(sequence=written.sequence),
        )
        return redirect("scheduling:schedule", occurrence.system_id)
    context = {"row": due_row(occurrence, timezone.now()), "form": form}
    return render(request, "scheduling/occurrence_skip.html", context)


def inspection(request, pk):
    record = get_visible(INSPECTIONS, request.user, pk=pk)
    is_done = record.kind == INSPECTION_COMPLETED.code
    context = {
        "record": record,
        "line": line_of(record, request.user.display_units),
        "attachments": record.attachments.all(),
        "is_completed": is_done,
        "advice": advice_for(record.details["item"]) if is_done else None,
        "may_record": may_record(record, request.user),
    }
    return render(request, "scheduling/inspection.html", context)


def inspection_withdraw(request, pk):
    record = get_recordable(INSPECTIONS, request.user, pk=pk)
    form = WithdrawForm(request.POST or None)
    if form.is_valid() and attempt(
        form, recurring.withdraw_inspection,
        inspection=record, recorded_by=request.user, now=timezone.now(), **form.cleaned_data,
    ):  # fmt: skip
        messages.success(
            request,
            gettext("Number {sequence} is withdrawn; the work is due again.").format(
                sequence=record.sequence
            ),
        )
        return redirect("scheduling:schedule", record.system_id)
    return render(request, "scheduling/inspection_withdraw.html", {"record": record, "form": form})

"""What was told at a sign is confirmed, corrected or dismissed by somebody of the book."""

from django.contrib import messages
from django.db.models import Exists, OuterRef, Q
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext, ngettext
from django.views.decorators.http import require_POST

from registry.access import get_manageable, get_recordable, may_manage
from registry.forms.records import RecordForm
from registry.forms.riser_signs import DismissForm
from registry.forms.units_and_errors import attempt
from registry.kinds import KINDS, entered_by_hand
from registry.kinds.events import (
    DRAIN_DOWN,
    FIRE,
    GAS_LOSS,
    HEAD_BREAK,
    LEAK,
    TOLD,
    TRIP,
    VALVE_CLOSED,
)
from registry.models import Attachment, Record, System, Telling
from registry.pages.attachments import files_of
from registry.pages.cautions import CAUTIONS
from registry.pages.ledger_lines import line_of
from registry.services.attaching import record_with_files
from registry.services.telling import dismiss, erase, open_tellings

SYSTEMS = System.objects.select_related("site__owner", "building")
RECORDS = Record.objects.select_related("system__site__owner", "system__building", "recorded_by")
LIKELIEST = {
    "leak": LEAK,
    "head_break": HEAD_BREAK,
    "fire": FIRE,
    "trip": TRIP,
    "drained": DRAIN_DOWN,
    "valve_closed": VALVE_CLOSED,
    "gas_loss": GAS_LOSS,
}
"""The ordinary event that confirms what was told."""


def told(request, pk):
    """What waits for an answer at one system, and what was answered before."""
    system = get_recordable(SYSTEMS.all(), request.user, pk=pk)
    waiting = open_tellings(system).select_related("recorded_by", "system")
    form = DismissForm(request.POST or None, waiting=waiting)
    if form.is_valid() and (
        dismissed := attempt(
            form, dismiss, records=form.cleaned_data["records"],
            reason=form.cleaned_data["reason"], by=request.user, now=timezone.now(),
        )
    ):  # fmt: skip
        messages.success(
            request,
            ngettext(
                "%(count)d record is dismissed, and the doubt it raised is taken back.",
                "%(count)d records are dismissed, and the doubt they raised is taken back.",
                len(dismissed),
            )
            % {"count": len(dismissed)},
        )
        return redirect(system)
    context = {
        "system": system,
        "form": form,
        "waiting": [_waiting(record, request.user) for record in waiting],
        "kinds": [kind for kind in entered_by_hand(system.kind) if kind.group == "event"],
        "answered": _answered(system),
        "may_erase": may_manage(system, request.user),
    }
    status = 422 if form.is_bound else 200
    return render(request, "registry/told.html", context, status=status)


def confirm(request, pk, kind):
    """The ordinary event takes the place of what was told, and raises what it raises."""
    record = get_recordable(RECORDS.filter(kind=TOLD.code), request.user, pk=pk)
    definition = KINDS.get(kind)
    if definition not in entered_by_hand(record.system.kind) or definition.group != "event":
        raise Http404(gettext("What was told is confirmed by an event."))
    form = RecordForm(
        request.POST or None, request.FILES, kind=definition, system=record.system,
        user=request.user, original=record,
    )  # fmt: skip
    if form.is_valid() and (
        written := attempt(
            form, record_with_files, system=record.system, recorded_by=request.user,
            supersedes=record, **form.facts(),
        )
    ):  # fmt: skip
        messages.success(
            request,
            gettext("{label} recorded as number {sequence}; it answers what was told.").format(
                label=definition.label, sequence=written.sequence
            ),
        )
        still = open_tellings(record.system).exists()
        return redirect("registry:told", record.system_id) if still else redirect(record.system)
    form.keep_chosen(request)
    context = {
        "system": record.system,
        "form": form,
        "kind": definition,
        "record": record,
        "later": Record.objects.filter(supersedes=record).first(),
        "cautions": [CAUTIONS[name] for name in definition.cautions],
    }
    return render(request, "registry/record_form.html", context)


@require_POST
def told_erase(request, pk):
    """On request of whoever typed it: a manager of the owner erases it, and the gap shows."""
    telling = get_object_or_404(Telling.objects.select_related("record__system__site"), pk=pk)
    get_manageable(Record, request.user, pk=telling.record_id)
    erase(telling=telling, by=request.user, now=timezone.now())
    messages.success(request, gettext("What was typed is erased; the ledger keeps its digest."))
    return redirect("registry:told", telling.record.system_id)


def _waiting(record, user):
    system_kinds = entered_by_hand(record.system.kind)
    likeliest = LIKELIEST.get(record.details["what"])
    return {
        "record": record,
        "line": line_of(record, user.display_units),
        "tellings": record.tellings.select_related("erased_by", "record"),
        "files": files_of(record),
        "likeliest": likeliest if likeliest in system_kinds else None,
    }


def _answered(system):
    """The newest, and all others where somebody may still ask that their words be erased."""
    found = Telling.objects.filter(record__system=system, record__superseded_by__isnull=False)
    newest = list(found.order_by("-told_at").values_list("pk", flat=True)[:50])
    has_photos = Attachment.objects.filter(record=OuterRef("record"), erased_at__isnull=True)
    is_shown = Q(pk__in=newest) | ~Q(words="", contact="") | Exists(has_photos)
    shown = found.filter(is_shown).order_by("-told_at")
    return shown.select_related("record__superseded_by", "erased_by")

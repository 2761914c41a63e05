from django.contrib import messages
from django.http import Http404
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry import services
from registry.access import get_manageable, get_recordable, get_visible, may_manage, may_record
from registry.forms.records import RecordForm, WithdrawForm
from registry.forms.units_and_errors import attempt
from registry.kinds import entered_by_hand
from registry.kinds.events import TOLD
from registry.models import Record, System
from registry.pages.attachments import files_of
from registry.pages.cautions import CAUTIONS
from registry.pages.ledger_lines import line_of, protected_by, system_effects
from registry.phone.arriving import takes_kept_entries
from registry.phone.rules import for_phone
from registry.services.attaching import record_with_files

SYSTEMS = System.objects.select_related("site__owner", "building")
RECORDS = Record.objects.select_related(
    "system__site__owner",
    "system__building",
    "system__verdict",
    "recorded_by",
    "inerting_run",
    "log_leaf",
    "kept_entry",
)


HEADINGS = {
    "event": _("Something happened"),
    "reading": _("Something was measured"),
    "request": _("Something is wanted"),
}


def record_choose(request, pk):
    system = get_recordable(SYSTEMS.all(), request.user, pk=pk)
    is_manager = may_manage(system, request.user)
    kinds = [
        kind for kind in entered_by_hand(system.kind) if is_manager or not kind.is_for_managers
    ]
    groups = [
        (heading, [kind for kind in kinds if kind.group == group])
        for group, heading in HEADINGS.items()
    ]
    return render(request, "registry/record_choose.html", {"system": system, "groups": groups})


@takes_kept_entries
def record_new(request, pk, kind):
    system = get_recordable(SYSTEMS.all(), request.user, pk=pk)
    definition = _kind(kind, system)
    if definition.is_for_managers:
        get_manageable(System, request.user, pk=pk)
    form = RecordForm(
        request.POST or None, request.FILES, kind=definition, system=system, user=request.user
    )
    if form.is_valid() and (
        written := attempt(
            form, record_with_files, system=system, recorded_by=request.user, **form.facts()
        )
    ):
        messages.success(
            request,
            gettext("{label} recorded as number {sequence}.").format(
                label=definition.label, sequence=written.sequence
            ),
        )
        return redirect(system)
    form.keep_chosen(request)
    return render(request, "registry/record_form.html", _form_page(system, form))


def record_page(request, pk):
    record = get_visible(RECORDS.all(), request.user, pk=pk)
    current = record.system.records.current().in_order()
    line = line_of(
        record,
        request.user.display_units,
        effects=system_effects(record.system, current),
        protected=protected_by(record.system.protection_spans.all()),
    )
    rights = {
        "may_correct": record.is_correctable and _may_write(record, request.user),
        "may_withdraw": _is_withdrawable(record)
        and not record.is_superseded
        and _may_write(record, request.user),
        "may_take_back": _may_write(record, request.user),
        "may_mend_run": record.is_step_of_run
        and not record.definition.is_taken_back_by_hand
        and record.inerting_run.is_unfinished
        and may_record(record, request.user),
    }
    return render(
        request,
        "registry/record.html",
        {
            "line": line,
            "record": record,
            "files": files_of(record),
            "is_told": record.kind == TOLD.code,
            **rights,
        },
    )


def record_correct(request, pk):
    record = get_recordable(RECORDS.all(), request.user, pk=pk)
    if record.is_step_of_run:
        messages.info(
            request, gettext("A step of an inerting run is put right in the log of its run.")
        )
        return redirect(f"{record.inerting_run.get_absolute_url()}#log")
    if not record.definition.is_entered_by_hand:
        raise Http404(gettext("Records of this kind are not corrected by hand."))
    _require_right(record, request.user)
    form = RecordForm(
        request.POST or None,
        request.FILES,
        kind=record.definition, system=record.system, user=request.user, original=record,
    )  # fmt: skip
    if form.is_valid() and (
        written := attempt(
            form, record_with_files,
            system=record.system, recorded_by=request.user, supersedes=record, **form.facts(),
        )
    ):  # fmt: skip
        messages.success(
            request,
            gettext("Number {sequence} is corrected by number {sequence_2}.").format(
                sequence=record.sequence, sequence_2=written.sequence
            ),
        )
        return redirect(record.system)
    form.keep_chosen(request)
    return render(
        request, "registry/record_form.html", _form_page(record.system, form, record=record)
    )


def record_withdraw(request, pk):
    record = get_visible(RECORDS.all(), request.user, pk=pk)
    if not _is_withdrawable(record):
        raise Http404(gettext("Records of this kind are not withdrawn."))
    _require_right(record, request.user)
    form = WithdrawForm(request.POST or None)
    if form.is_valid() and attempt(
        form, services.withdraw,
        record=record, reason=form.cleaned_data["reason"], recorded_by=request.user,
    ):  # fmt: skip
        messages.success(
            request, gettext("Number {sequence} is withdrawn.").format(sequence=record.sequence)
        )
        return redirect(record.system)
    line = line_of(record, request.user.display_units)
    return render(
        request, "registry/record_withdraw.html", {"form": form, "record": record, "line": line}
    )


def _kind(code, system):
    for kind in entered_by_hand(system.kind):
        if kind.code == code:
            return kind
    raise Http404(gettext("“{code}” cannot be entered by hand for this system.").format(code=code))


def _form_page(system, form, record=None):
    later = Record.objects.filter(supersedes=record).first() if record else None
    return {
        "system": system,
        "form": form,
        "kind": form.kind,
        "record": record,
        "later": later,
        "cautions": [CAUTIONS[name] for name in form.kind.cautions],
        **for_phone(system),
    }


def _is_withdrawable(record):
    return record.definition.may_be_taken_back


def _may_write(record, user):
    may = may_manage if record.definition.is_for_managers else may_record
    return may(record, user)


def _require_right(record, user):
    get = get_manageable if record.definition.is_for_managers else get_recordable
    get(Record, user, pk=record.pk)

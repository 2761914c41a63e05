"""Files of a record, handed out as downloads."""

from django.contrib import messages
from django.http import FileResponse, Http404
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_safe

from registry.access import get_recordable, get_visible
from registry.forms.records import TakeFileBackForm
from registry.forms.units_and_errors import attempt
from registry.models import Attachment, Record
from registry.models.querysets import audits_of_a_period
from registry.services.taking_back import take_file_back

GONE = 410
FILES = Attachment.objects.select_related("record", "system__site")


@require_safe
def attachment(request, uuid):
    """Always a download, of the type its bytes showed, and never anything a browser would run."""
    attached = get_visible(
        FILES.select_related("taken_back_by__recorded_by"), request.user, uuid=uuid
    )
    if audits_of_a_period(request.user):
        get_visible(Record, request.user, pk=attached.record_id)
    if attached.erased_at:
        return render(request, "registry/attachment_erased.html", {"file": attached}, status=GONE)
    if attached.taken_back_by:
        return render(request, "registry/attachment_back.html", {"file": attached}, status=GONE)
    if not attached.is_intact():
        return render(request, "registry/attachment_altered.html", {"file": attached}, status=409)
    response = FileResponse(
        attached.open(),
        as_attachment=True,
        filename=attached.name,
        content_type=attached.content_type,
    )
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    response.headers["Cache-Control"] = "private, no-store"
    return response


def attachment_take_back(request, uuid):
    """For one file of a record that stands; what was taken back or erased is so for good."""
    file = get_recordable(FILES, request.user, uuid=uuid)
    if not file.is_shown:
        raise Http404(gettext("This file is shown no longer."))
    form = TakeFileBackForm(request.POST or None)
    if form.is_valid() and attempt(
        form, take_file_back,
        file=file, reason=form.cleaned_data["reason"], recorded_by=request.user,
    ):  # fmt: skip
        messages.success(request, gettext("“{name}” is taken back.").format(name=file.name))
        return redirect(file.record)
    return render(request, "registry/attachment_take_back.html", {"form": form, "file": file})

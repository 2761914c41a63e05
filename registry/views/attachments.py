"""Files of a record, handed out as downloads."""

from django.http import FileResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from registry.access import get_visible
from registry.models import Attachment, Record
from registry.models.querysets import audits_of_a_period

GONE = 410


@require_safe
def attachment(request, uuid):
    """Always a download, of the type its bytes showed, and never anything a browser would run."""
    attached = get_visible(
        Attachment.objects.select_related("record", "system"), request.user, uuid=uuid
    )
    if audits_of_a_period(request.user):
        get_visible(Record, request.user, pk=attached.record_id)
    if attached.erased_at:
        return render(request, "registry/attachment_erased.html", {"file": attached}, status=GONE)
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

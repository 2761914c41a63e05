from django.http import HttpResponse, HttpResponseBadRequest
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext
from django.views.decorators.http import require_safe

from scheduling.messages.chain_heads import heads_file


@require_safe
def chain_heads(request):
    """The lines of which a weekly digest gives the SHA-256; without `at`, those of this moment."""
    at = _instant(request.GET.get("at", ""))
    if at is None:
        return HttpResponseBadRequest(
            gettext(
                "The time after “at=” cannot be read; write it as the digest does, for "
                "example 2026-06-01T07:00:00+00:00, with %2B for +."
            )
        )
    name, text, content_type = heads_file(request.user, at)
    disposition = {"Content-Disposition": f'attachment; filename="{name}"'}
    return HttpResponse(text, content_type=content_type, headers=disposition)


def _instant(text: str):
    if not text:
        return timezone.now()
    try:
        at = parse_datetime(text)
    except ValueError:
        return None
    return at if at and at.tzinfo else None

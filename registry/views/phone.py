"""What a phone asks of the book beside its pages: the key of its person, and to note a discard."""

import base64
import hashlib
import hmac

from django.conf import settings
from django.http import HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from registry.forms.plain_text import plain
from registry.models import DiscardedEntry, User

MOST = 500
UNCLEAR = 422


def key_of(person: User) -> bytes:
    """32 bytes that only the book can make: they open what this person kept on a phone."""
    secret = hashlib.sha256(b"riserbook.phone:" + settings.SECRET_KEY.encode()).digest()
    return hmac.digest(secret, person.uuid.bytes, "sha256")


@never_cache
@require_safe
def phone(request):
    answer = JsonResponse(
        {
            "person": str(request.user.uuid),
            "key": base64.b64encode(key_of(request.user)).decode(),
            "csrf": get_token(request),
        }
    )
    answer["Cache-Control"] = "no-store"
    return answer


@require_POST
def phone_discarded(request):
    """What a person threw away at sign-out, as far as the phone tells it."""
    whats, moments = request.POST.getlist("what"), request.POST.getlist("made_at")
    if not whats or len(whats) != len(moments) or len(whats) > MOST:
        return _unclear(gettext("Each discarded entry needs what it said and when it was made."))
    made = [_moment(text) for text in moments]
    if None in made:
        return _unclear(gettext("A time is written like 2026-05-31T14:30:00Z."))
    now = timezone.now()
    DiscardedEntry.objects.bulk_create(
        DiscardedEntry(person=request.user, what=plain(what)[:500], made_at=at, discarded_at=now)
        for what, at in zip(whats, made, strict=True)
    )
    return HttpResponse(status=204)


def _unclear(says):
    return HttpResponse(says, status=UNCLEAR, content_type="text/plain")


def _moment(text):
    try:
        moment = parse_datetime(text)
    except ValueError:
        return None
    return moment if moment and timezone.is_aware(moment) else None

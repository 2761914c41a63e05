"""A form that a phone had kept: taken once, answered in a form its queue can read.

The phone says with each entry what it had seen of the ledger. What others wrote meanwhile is stored
beside the record and shown in the ledger: the entry was made without knowing it.
"""

import hashlib
import json
from collections.abc import Callable
from functools import wraps
from typing import Any, cast
from uuid import UUID

from django.db import transaction
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils.translation import gettext

from registry.models import KeptEntry, Record, User

HEADER = "X-Kept-By"
NOT_SAID = ("csrfmiddlewaretoken", "held_ms", "seen_sequence", "seen_hash")
"""What changes each time the same entry is sent."""
REFUSED, TAKEN_BEFORE = 403, 409


def takes_kept_entries(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """For a view that writes one record and answers with a redirect when it did."""

    @wraps(view)
    def answered(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.method != "POST" or HEADER not in request.headers:
            return view(request, *args, **kwargs)
        if request.headers[HEADER] != str(_person(request).uuid):
            return JsonResponse({"is": "someone_else"}, status=REFUSED)
        key = _key(request)
        if key is None:
            return view(request, *args, **kwargs)
        with transaction.atomic():
            response = _taken_before(request, key) or _take(request, key, view, args, kwargs)
            if response.status_code >= 500:
                transaction.set_rollback(True)
        return response

    return answered


def fingerprint_of(request: HttpRequest) -> str:
    """SHA-256 over what an entry says: its fields and files, in order of their names."""
    said = [
        [name, request.POST.getlist(name)] for name in sorted(request.POST) if name not in NOT_SAID
    ]
    files = []
    for name in sorted(request.FILES):
        for file in request.FILES.getlist(name):
            digest = hashlib.sha256()
            for chunk in file.chunks():
                digest.update(chunk)
            file.seek(0)
            files.append([name, file.name, digest.hexdigest()])
    whole = json.dumps([request.path, said, files], ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(whole.encode()).hexdigest()


def _person(request: HttpRequest) -> User:
    """Nobody else comes as far as a view."""
    return cast(User, request.user)


def _key(request: HttpRequest) -> UUID | None:
    try:
        return UUID(request.POST.get("client_key", ""))
    except ValueError:
        return None


def _taken_before(request: HttpRequest, key: UUID) -> HttpResponse | None:
    earlier = (
        KeptEntry.objects.filter(person=_person(request), client_key=key)
        .select_related("record")
        .first()
    )
    if earlier is None:
        return None
    if earlier.fingerprint == fingerprint_of(request):
        return _written(earlier)
    says = gettext(
        "This entry is in the book already, as record {sequence}, with other answers than now. "
        "Correct that record if it is wrong, and throw this one away."
    ).format(sequence=earlier.record.sequence)
    return JsonResponse({"is": "other_body", "says": says}, status=TAKEN_BEFORE)


def _take(
    request: HttpRequest, key: UUID, view: Callable[..., HttpResponse], args: Any, kwargs: Any
) -> HttpResponse:
    fingerprint = fingerprint_of(request)
    response = view(request, *args, **kwargs)
    if response.status_code != 302:
        return response
    record = Record.objects.filter(client_key=key, recorded_by=_person(request)).last()
    if record is None:  # the view led elsewhere and wrote nothing
        return JsonResponse({"is": "not_written", "says": _nothing_written()}, status=TAKEN_BEFORE)
    return _written(_note(request, key, fingerprint, record))


def _nothing_written() -> str:
    return gettext(
        "The book wrote nothing of this: it had ended already. "
        "Look at it there, and throw this away."
    )


def _note(request: HttpRequest, key: UUID, fingerprint: str, record: Record) -> KeptEntry:
    seen = _number(request, "seen_sequence")
    facts = {
        "fingerprint": fingerprint,
        "record": record,
        "held_s": (_number(request, "held_ms") or 0) / 1000,
        "seen_sequence": seen,
        "is_seen_here": _is_seen_here(record, seen, request.POST.get("seen_hash", "")),
        "unknown": _unknown(record, seen),
    }
    entry, _ = KeptEntry.objects.get_or_create(
        person=_person(request), client_key=key, defaults=facts
    )
    return entry


def _number(request: HttpRequest, name: str) -> int | None:
    text = request.POST.get(name, "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 12 else None


def _unknown(record: Record, seen: int | None) -> list[int]:
    """What others wrote between the last record that was seen and this one."""
    if seen is None:
        return []
    between = Record.objects.filter(
        system=record.system_id, sequence__gt=seen, sequence__lt=record.sequence
    )
    others = between.exclude(recorded_by=record.recorded_by_id)
    return list(others.order_by("sequence").values_list("sequence", flat=True))


def _is_seen_here(record: Record, seen: int | None, head: str) -> bool:
    """Whether the ledger that the phone saw is this one; not where the book was restored since."""
    if not seen or not head:
        return True
    return Record.objects.filter(system=record.system_id, sequence=seen, hash=head).exists()


def _written(entry: KeptEntry) -> HttpResponse:
    return JsonResponse(
        {"is": "written", "sequence": entry.record.sequence, "unknown": entry.unknown}
    )

"""A photo or document that should not be there: it stays in the chain, and is shown no longer."""

from datetime import datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from registry.kinds.facts import FILE_TAKEN_BACK
from registry.models import Attachment, Record, User
from registry.services.ledger import RecordError, lock, record


@transaction.atomic
def take_file_back(
    *, file: Attachment, reason: str, recorded_by: User, now: datetime | None = None
) -> Record:
    """By a record that names the file, since its own record stands; once."""
    now = now or timezone.now()
    book = lock(file.system)
    held = Attachment.objects.select_related("record", "taken_back_by").get(pk=file.pk)
    if held.taken_back_by:
        raise RecordError(
            {
                "": gettext("It was taken back already, by record {number}.").format(
                    number=held.taken_back_by.sequence
                )
            }
        )
    written = record(
        system=book,
        kind=FILE_TAKEN_BACK.code,
        occurred_at=now,
        details={"of": held.record.sequence, "file": held.said, "reason": reason.strip()},
        recorded_by=recorded_by,
        is_held=True,
        now=now,
    )
    Attachment.objects.filter(pk=held.pk).update(taken_back_by=written)
    return written

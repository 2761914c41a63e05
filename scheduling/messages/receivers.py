"""News of the register, for an owner's other programs."""

import logging
from datetime import datetime

from django.db import transaction
from django.dispatch import receiver
from django.utils import timezone

from registry.models import Record
from registry.signals import record_added
from scheduling.messages.causes import note_record

log = logging.getLogger(__name__)


@receiver(record_added, dispatch_uid="post_record")
def post_record(sender, record: Record, now: datetime | None = None, **kwargs) -> None:
    """In the record's own transaction, in a savepoint: the record stands whatever happens here."""
    if not record.definition.is_news:
        return
    try:
        with transaction.atomic():
            note_record(record, now or timezone.now())
    except Exception:
        log.exception("messages.unwritten record=%s", record.pk)

"""News of the register, for an owner's other programs; and of jobs, for those who keep the book."""

import logging
from datetime import datetime

from django.db import transaction
from django.dispatch import receiver
from django.utils import timezone

from registry.models import Job, Record
from registry.signals import job_given_up, record_added
from scheduling.messages.causes import note_job, note_record
from scheduling.receivers import RAISES_NOTHING

log = logging.getLogger(__name__)


@receiver(record_added, dispatch_uid="post_record")
def post_record(sender, record: Record, now: datetime | None = None, **kwargs) -> None:
    """In the record's own transaction, in a savepoint: the record stands whatever happens here."""
    if record.kind in RAISES_NOTHING:
        return
    try:
        with transaction.atomic():
            note_record(record, now or timezone.now())
    except Exception:
        log.exception("messages.unwritten record=%s", record.pk)


@receiver(job_given_up, dispatch_uid="tell_of_job")
def tell_of_job(sender, job: Job, words: str, now: datetime, **kwargs) -> None:
    """The row says so too: where telling fails, giving up stands."""
    try:
        with transaction.atomic():
            note_job(job, words, now)
    except Exception:
        log.exception("messages.unwritten job=%s", job.pk)

"""Work that is too long for a request: an id in, one call, a line in the log out."""

import logging

from celery import shared_task
from django.utils import timezone

from registry.imports import jobs

log = logging.getLogger(__name__)


@shared_task
def advance_import(pk: int) -> None:
    jobs.advance(pk)
    log.info("import.advanced batch=%s", pk)


@shared_task
def sweep_imports() -> None:
    taken_up = jobs.sweep(timezone.now())
    log.info("import.swept batches=%s", taken_up)

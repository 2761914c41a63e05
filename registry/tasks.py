"""Work that is too long for a request: an id in, one call, a line in the log out."""

import logging

from celery import shared_task
from django.utils import timezone

from registry.imports import jobs
from registry.models import System
from registry.services.assessments import assess_systems

log = logging.getLogger(__name__)


@shared_task
def advance_import(pk: int) -> None:
    jobs.advance(pk)
    log.info("import.advanced batch=%s", pk)


@shared_task
def sweep_imports() -> None:
    taken_up = jobs.sweep(timezone.now())
    log.info("import.swept batches=%s", taken_up)


@shared_task
def assess_all() -> None:
    """Time alone moves a score: forecasts age, and atmospheres lapse."""
    tally = assess_systems(System.objects.all(), timezone.now())
    log.info("assess.all added=%s refreshed=%s", tally.added, tally.refreshed)

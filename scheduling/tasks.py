import logging

from celery import shared_task
from django.utils import timezone

from scheduling import sweeping

logger = logging.getLogger(__name__)


@shared_task(name="scheduling.tasks.sweep")
def sweep() -> None:
    logger.info("Sweep: %s", sweeping.sweep(timezone.now()))

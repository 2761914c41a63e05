import logging

from celery import shared_task
from django.utils import timezone

from scheduling import sweeping
from scheduling.recurring.planning import plan_everything

logger = logging.getLogger(__name__)


@shared_task(name="scheduling.tasks.sweep")
def sweep() -> None:
    logger.info("Sweep: %s", sweeping.sweep(timezone.now()))


@shared_task(name="scheduling.tasks.plan_recurring_work")
def plan_recurring_work() -> None:
    logger.info("Recurring work planned for %s systems", plan_everything(now=timezone.now()))

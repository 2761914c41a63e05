import logging

from celery import shared_task
from django.utils import timezone

from scheduling.recurring.planning import plan_everything

log = logging.getLogger(__name__)


@shared_task(name="scheduling.tasks.plan_recurring_work")
def plan_recurring_work() -> None:
    """Nightly: a library that came with a new version of the program reaches every plan."""
    log.info("Recurring work planned for %s systems", plan_everything(now=timezone.now()))

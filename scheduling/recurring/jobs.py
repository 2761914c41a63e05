import logging

from celery import shared_task
from django.utils import timezone

from scheduling import jobs
from scheduling.models import PlanAsked
from scheduling.recurring.asking import ask_for_every_plan, plan_asked

log = logging.getLogger(__name__)

PLANNING, NIGHTLY = "recurring work", "recurring work, nightly"


@shared_task(name="scheduling.tasks.plan_what_was_asked")
def plan_what_was_asked() -> None:
    """What is asked for while another run is at work, that run takes up as well."""
    if not PlanAsked.objects.exists():
        return
    with jobs.running(PLANNING, timezone.now) as run:
        if run is None:
            return
        run.outcome = f"{plan_asked(timezone.now, run.advance)} systems planned"
        log.info("Recurring work: %s", run.outcome)


@shared_task(name="scheduling.tasks.plan_recurring_work")
def plan_recurring_work() -> None:
    """Nightly: a library that came with a new version of the program reaches every plan."""
    with jobs.running(NIGHTLY, timezone.now) as run:
        if run is None:
            return
        asked = ask_for_every_plan(timezone.now())
        run.advance(asked)
        run.outcome = f"owners asked for: {asked}"
    plan_what_was_asked()

"""Work for the queue: ids or nothing in, one call, a line in the log out."""

import logging

from celery import shared_task
from django.conf import settings
from django.utils import timezone

from registry.models import System
from registry.services.assessments import assess_systems
from scheduling.jobs import runs
from scheduling.jobs import sweep as sweeping
from scheduling.messages import digest, sending
from scheduling.models import Message, PlanAsked
from scheduling.recurring.replanning import NIGHTLY, plan_recurring_work, plan_what_was_asked

log = logging.getLogger(__name__)

ASSESSMENTS = "assessments"


@shared_task(name="scheduling.tasks.sweep")
def sweep() -> None:
    """All of it, or a part for each of several workers."""
    parts = settings.SWEEP_PARTS
    if parts == 1:
        sweep_part(0, 1)
        return
    for part in range(parts):
        sweep_part.delay(part, parts)


@shared_task(name="scheduling.tasks.sweep_part")
def sweep_part(part: int, parts: int) -> None:
    name = "sweep" if parts == 1 else f"sweep {part + 1} of {parts}"
    with runs.running(name, timezone.now) as run:
        if run is None:
            return
        share = sweeping.Share(part, parts)
        run.outcome = str(sweeping.sweep(timezone.now(), share=share, on_piece=run.advance))
        log.info("Sweep: %s", run.outcome)


@shared_task(name="scheduling.tasks.send_messages")
def send_messages() -> None:
    """Several workers may send at once; the row shows one of them."""
    if not Message.objects.due(timezone.now()).exists():
        return
    with runs.running("messages", timezone.now) as run:
        sent = sending.send_due(timezone.now, run.advance if run else lambda: None)
        log.info("messages.sent parcels=%s", sent)
        if run:
            run.outcome = f"{sent} mails and deliveries handled"


@shared_task(name="scheduling.tasks.ask_for_digests")
def ask_for_digests() -> None:
    with runs.running("digests", timezone.now) as run:
        if run is None:
            return
        asked = digest.ask_for_digests(timezone.now())
        run.advance(asked)
        run.outcome = f"{asked} weekly digests asked for"


@shared_task(name="scheduling.tasks.tidy")
def tidy() -> None:
    with runs.running("tidying", timezone.now) as run:
        if run is None:
            return
        forgotten = runs.forget_old_runs(timezone.now())
        run.advance(forgotten)
        run.outcome = f"{forgotten} old rows of jobs forgotten"


@shared_task(name="scheduling.tasks.assess_all")
def assess_all() -> None:
    """Nightly: time alone moves a score, since forecasts age and atmospheres lapse. A run that
    comes after a lost one finds what that had assessed today and leaves it."""
    with runs.running(ASSESSMENTS, timezone.now) as run:
        if run is None:
            return
        tally = assess_systems(System.objects.all(), timezone.now(), on_chunk=run.advance)
        run.outcome = (
            f"{tally.added} assessments added, {tally.refreshed} refreshed, {tally.unchanged} "
            f"of today already, {tally.left_out} systems left out"
        )
        log.info("Assessments: %s", run.outcome)


@shared_task(name="scheduling.tasks.catch_up")
def catch_up() -> None:
    """Asks again for what a lost message or a dead worker left undone of the longer jobs."""
    now = timezone.now()
    if runs.is_missed(ASSESSMENTS, now):
        assess_all.delay()
    if runs.is_missed(NIGHTLY, now):
        plan_recurring_work.delay()
    if PlanAsked.objects.exists():
        plan_what_was_asked.delay()

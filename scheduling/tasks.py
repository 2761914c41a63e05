"""Work for the queue: ids or nothing in, one call, a line in the log out."""

import logging

from celery import shared_task
from django.conf import settings
from django.utils import timezone

from scheduling import jobs, sweeping
from scheduling.messages import digest, sending
from scheduling.models import Message
from scheduling.recurring.jobs import plan_recurring_work  # noqa: F401

log = logging.getLogger(__name__)


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
    with jobs.running(name, timezone.now) as run:
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
    with jobs.running("messages", timezone.now) as run:
        sent = sending.send_due(timezone.now, run.advance if run else lambda: None)
        log.info("messages.sent parcels=%s", sent)
        if run:
            run.outcome = f"{sent} mails and deliveries handled"


@shared_task(name="scheduling.tasks.ask_for_digests")
def ask_for_digests() -> None:
    with jobs.running("digests", timezone.now) as run:
        if run is None:
            return
        asked = digest.ask_for_digests(timezone.now())
        run.outcome = f"{asked} weekly digests asked for"


@shared_task(name="scheduling.tasks.tidy")
def tidy() -> None:
    log.info("jobs.forgotten rows=%s", jobs.forget_old_runs(timezone.now()))

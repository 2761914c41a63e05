"""News from the register, for all that follows a record in the transaction that wrote it.

Each works in a savepoint of its own: the record stands whatever fails here.
"""

import logging
from datetime import datetime

from django.db import transaction
from django.dispatch import receiver
from django.utils import timezone

from registry.atmosphere_rows.system_ledger import Told
from registry.models import Record
from registry.runs.steps import STARTED
from registry.signals import record_added
from scheduling.messages.causes import note_record
from scheduling.recurring.upkeep import plan_recurring
from scheduling.rules.kinds_read import PIPE_ENTERED, REGISTER_AMENDED, SYSTEM_ENTERED
from scheduling.services import begin_with_run, follow_up_new, note_failure

logger = logging.getLogger(__name__)

RAISES_NOTHING = (SYSTEM_ENTERED.code, PIPE_ENTERED.code)
"""Entering a system or its pipe is no event: an import of a thousand systems raises no order.
Should it change the atmosphere all the same, the sweep finds the changed state."""

CHANGES_THE_PLAN = (SYSTEM_ENTERED.code, REGISTER_AMENDED.code)


@receiver(record_added, dispatch_uid="follow_up_record")
def follow_up(sender, record: Record, now: datetime, told: Told, **kwargs) -> None:
    """What fails is undone to the savepoint and left to the sweep."""
    if record.kind in RAISES_NOTHING:
        return
    try:
        with transaction.atomic():
            follow_up_new(record=record, told=told, now=now)
    except Exception as error:
        logger.exception("Rules failed for record %s; the sweep will repeat them", record.pk)
        note_failure(record=record, error=error)


@receiver(record_added, dispatch_uid="begin_order_of_run")
def begin_order(sender, record: Record, now: datetime | None = None, **kwargs) -> None:
    """A convenience: should it fail, the run stands, and the order is begun by hand."""
    if record.kind != STARTED:
        return
    try:
        with transaction.atomic():
            begin_with_run(started=record, now=now or timezone.now())
    except Exception:
        logger.exception("No order was begun with record %s", record.pk)


@receiver(record_added, dispatch_uid="post_record")
def post_record(sender, record: Record, now: datetime | None = None, **kwargs) -> None:
    """For an owner's other programs."""
    if record.kind in RAISES_NOTHING:
        return
    try:
        with transaction.atomic():
            note_record(record, now or timezone.now())
    except Exception:
        logger.exception("messages.unwritten record=%s", record.pk)


@receiver(record_added, dispatch_uid="plan_recurring_work")
def plan_after(sender, record: Record, now: datetime | None = None, **kwargs) -> None:
    """The register changes, and what recurs at a system changes with it."""
    if record.kind not in CHANGES_THE_PLAN:
        return
    if not record.system.site.adopted_editions.in_force().exists():
        return
    try:
        with transaction.atomic():
            plan_recurring(system=record.system, now=now or timezone.now())
    except Exception:
        logger.exception("Recurring work of system %s was not planned again", record.system_id)

"""The register changes, and what recurs at a system changes with it."""

import logging
from datetime import datetime

from django.db import transaction
from django.dispatch import receiver
from django.utils import timezone

from registry.models import Record
from registry.signals import record_added
from scheduling.recurring.upkeep import plan_recurring

logger = logging.getLogger(__name__)


@receiver(record_added, dispatch_uid="plan_recurring_work")
def plan_after(sender, record: Record, now: datetime | None = None, **kwargs) -> None:
    """A plan that fails is undone to the savepoint and left to the next; the record stands."""
    if not record.definition.changes_recurring_work:
        return
    if not record.system.site.adopted_editions.in_force().exists():
        return
    try:
        with transaction.atomic():
            plan_recurring(system=record.system, now=now or timezone.now())
    except Exception:
        logger.exception("Recurring work of system %s was not planned again", record.system_id)

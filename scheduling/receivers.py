"""News from the register, for all that follows a record in the transaction that wrote it.

Each works in a savepoint of its own: the record stands whatever fails here.
"""

import logging
from datetime import datetime

from django.db import transaction
from django.dispatch import receiver
from django.utils import timezone

from registry.atmosphere_rows.system_ledger import SystemLedger
from registry.kinds.steps import STARTED
from registry.models import Job, Record, Site, System, User
from registry.signals import (
    job_given_up,
    record_added,
    register_load_ended,
    register_loaded,
    systems_taken_back,
)
from scheduling.messages.causes import note_job, note_record
from scheduling.models import AdoptedEdition, Occurrence, SystemWatch
from scheduling.recurring.setting import adopt_edition
from scheduling.recurring.upkeep import plan_recurring
from scheduling.services import begin_with_run, follow_up_new, note_failure

logger = logging.getLogger(__name__)


@receiver(record_added, dispatch_uid="follow_up_record")
def follow_up(sender, record: Record, now: datetime, ledger: SystemLedger, **kwargs) -> None:
    """A rule that fails is undone to the savepoint and left to the sweep; the record stands.

    Entering a system or its pipe is no event: an import of a thousand systems raises no order.
    Should it change the atmosphere all the same, the sweep finds the changed state.
    """
    if not record.definition.is_news:
        return
    try:
        with transaction.atomic():
            follow_up_new(record=record, ledger=ledger, now=now)
    except Exception as error:
        logger.exception("Rules failed for record %s; the sweep will repeat them", record.pk)
        note_failure(record=record, error=error)


@receiver(record_added, dispatch_uid="begin_order_of_run")
def begin_order(sender, record: Record, now: datetime | None = None, **kwargs) -> None:
    """A convenience: should it fail, the run stands, and the order is begun by hand."""
    if record.kind != STARTED.code:
        return
    try:
        with transaction.atomic():
            begin_with_run(started=record, now=now or timezone.now())
    except Exception:
        logger.exception("No order was begun with record %s", record.pk)


@receiver(record_added, dispatch_uid="post_record")
def post_record(sender, record: Record, now: datetime | None = None, **kwargs) -> None:
    """For an owner's other programs."""
    if not record.definition.is_news:
        return
    try:
        with transaction.atomic():
            note_record(record, now or timezone.now())
    except Exception:
        logger.exception("messages.unwritten record=%s", record.pk)


@receiver(record_added, dispatch_uid="plan_recurring_work")
def plan_after(sender, record: Record, now: datetime | None = None, **kwargs) -> None:
    """The register changes, and what recurs at a system changes with it."""
    if not record.definition.changes_recurring_work:
        return
    if not record.system.site.adopted_editions.in_force().exists():
        return
    try:
        with transaction.atomic():
            plan_recurring(system=record.system, now=now or timezone.now())
    except Exception:
        logger.exception("Recurring work of system %s was not planned again", record.system_id)


@receiver(job_given_up, dispatch_uid="tell_of_job")
def tell_of_job(sender, job: Job, words: str, now: datetime, **kwargs) -> None:
    """The row says so too: where telling fails, giving up stands."""
    try:
        with transaction.atomic():
            note_job(job, words, now)
    except Exception:
        logger.exception("messages.unwritten job=%s", job.pk)


@receiver(register_loaded, dispatch_uid="plan_recurring_work_of_load")
def plan_after_load(sender, systems: list[System], now: datetime, **kwargs) -> None:
    """One question for a chunk: most owners load their register before they adopt editions."""
    sites = {system.site_id for system in systems}
    adopted = AdoptedEdition.objects.in_force().filter(site__in=sites).order_by()
    planned = set(adopted.values_list("site_id", flat=True))
    for system in systems:
        if system.site_id not in planned:
            continue
        try:
            with transaction.atomic():
                plan_recurring(system=system, now=now)
        except Exception:
            logger.exception("Recurring work of system %s was not planned", system.pk)


@receiver(register_load_ended, dispatch_uid="adopt_edition_of_load")
def adopt_after_load(
    sender, sites: list[Site], edition: str | None, by: User, now: datetime, **kwargs
) -> None:
    """What was said of the whole file holds where nobody has said anything yet."""
    if not edition:
        return
    in_force = AdoptedEdition.objects.in_force().filter(site__in=sites).order_by()
    adopted = set(in_force.values_list("site_id", flat=True))
    for site in sites:
        if site.pk in adopted:
            continue
        try:
            adopt_edition(site=site, edition=edition, adopted_by=by, now=now)
        except Exception:
            logger.exception("The edition %s was not adopted at site %s", edition, site.pk)


@receiver(systems_taken_back, dispatch_uid="drop_plans_of_taken_back")
def drop_plans(sender, systems: list[int], now: datetime, **kwargs) -> None:
    """What was planned for systems that left the register is asked for no longer."""
    Occurrence.objects.filter(system__in=systems, status=Occurrence.Status.OPEN).update(
        status=Occurrence.Status.WITHDRAWN, settled_at=now
    )
    SystemWatch.objects.filter(system__in=systems).delete()

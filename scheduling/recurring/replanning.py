"""Planning a whole owner again: asked for by a row, done by a job, and safe to lose on the way."""

import logging
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from celery import shared_task
from django.db import transaction
from django.db.models import F
from django.utils import timezone
from kombu.exceptions import OperationalError

from registry.models import Organisation, System
from scheduling.jobs import runs
from scheduling.models import AdoptedEdition, PlanAsked
from scheduling.recurring.upkeep import plan_recurring

log = logging.getLogger(__name__)

PLANNING, NIGHTLY = "recurring work", "recurring work, nightly"
KEPT_EVERY = 25
"""Systems; as many are planned twice when a worker dies."""


def ask_for_plan(*, owner: Organisation, now: datetime) -> None:
    """In the transaction of what asks for it. The job starts once that is committed; where the
    queue cannot be reached, the next look of the worker finds the row."""
    _ask(owner, now)
    transaction.on_commit(_start)


def ask_for_every_plan(now: datetime) -> int:
    """For a library that changed with the program."""
    sites = AdoptedEdition.objects.in_force().values("site")
    owners = list(Organisation.objects.filter(sites__in=sites).distinct())
    for owner in owners:
        _ask(owner, now)
    return len(owners)


def _ask(owner: Organisation, now: datetime) -> None:
    """Anew, from the first system; a job may take the row away at any moment until it is held."""
    standing = PlanAsked.objects.filter(owner=owner)
    while not standing.update(asked_at=now, turn=F("turn") + 1, planned_to=0):
        if PlanAsked.objects.get_or_create(owner=owner, defaults={"asked_at": now})[1]:
            return


def _start() -> None:
    try:
        plan_what_was_asked.apply_async(retry=False)
    except (OperationalError, OSError) as error:
        log.warning("plan.not_queued %s; the next look of the worker plans it", error)


def plan_asked(now: Callable[[], datetime], on_piece: Callable[[], None] = lambda: None) -> int:
    """Plan until nothing is asked for. Each system in a transaction of its own, and how far it has
    come is kept, so that whoever takes over goes on from there. Returns how many were planned."""
    count = 0
    while asked := PlanAsked.objects.first():
        count += _plan_on(asked, now, on_piece)
    return count


def _plan_on(asked: PlanAsked, now: Callable[[], datetime], on_piece: Callable[[], None]) -> int:
    """Ends when all is planned, and early when it was asked for anew meanwhile."""
    this_turn = PlanAsked.objects.filter(pk=asked.pk, turn=asked.turn)
    count, systems = 0, systems_of(asked.owner)
    while keys := _next(systems, asked.planned_to):
        for pk in keys:
            count += _plan(pk, now())
            on_piece()
        asked.planned_to = keys[-1]
        if not this_turn.update(planned_to=asked.planned_to):
            return count
    this_turn.delete()
    return count


def systems_of(owner: Organisation):
    """Those for which something is asked."""
    sites = AdoptedEdition.objects.in_force().filter(site__owner=owner).values("site")
    return System.objects.filter(site__in=sites)


def _next(systems, planned_to: int) -> list[int]:
    later = systems.filter(pk__gt=planned_to).order_by("pk")
    return list(later.values_list("pk", flat=True)[:KEPT_EVERY])


def _plan(pk: int, now: datetime) -> bool:
    """One that fails must not keep the rest waiting; every night all are planned again."""
    try:
        plan_recurring(system=System(pk=pk), now=now)
    except Exception:
        log.exception("Recurring work of system %s was not planned", pk)
        return False
    return True


@dataclass(frozen=True)
class PlanProgress:
    """How far the planning of an owner has come, for its pages."""

    done: int
    total: int

    @classmethod
    def of(cls, owner: Organisation) -> "PlanProgress | None":
        """None when nothing is asked for, or of no system."""
        asked = PlanAsked.objects.filter(owner=owner).first()
        if asked is None:
            return None
        systems = systems_of(owner)
        total = systems.count()
        return cls(systems.filter(pk__lte=asked.planned_to).count(), total) if total else None


def is_to_be_planned(system: System) -> bool:
    waiting = PlanAsked.objects.filter(owner=system.site.owner_id, planned_to__lt=system.pk)
    return waiting.exists()


@shared_task(name="scheduling.tasks.plan_what_was_asked")
def plan_what_was_asked() -> None:
    """What is asked for while another run is at work, that run takes up as well."""
    if not PlanAsked.objects.exists():
        return
    with runs.running(PLANNING, timezone.now) as run:
        if run is None:
            return
        run.outcome = f"{plan_asked(timezone.now, run.advance)} systems planned"
        log.info("Recurring work: %s", run.outcome)


@shared_task(name="scheduling.tasks.plan_recurring_work")
def plan_recurring_work() -> None:
    """Nightly: a library that came with a new version of the program reaches every plan."""
    with runs.running(NIGHTLY, timezone.now) as run:
        if run is None:
            return
        asked = ask_for_every_plan(timezone.now())
        run.advance(asked)
        run.outcome = f"owners asked for: {asked}"
    plan_what_was_asked()

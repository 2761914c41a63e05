"""The sweep: does late what should have happened at once, and what time alone brings about.

Each system is done in its own transaction, so a sweep that dies half-way has lost nothing, and two
at once do no harm. Memory stays bounded: keys are read in chunks, rows one by one.
"""

import logging
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import partial

from django.db import transaction
from django.db.models import F, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.functions import Concat

from registry.kinds import KINDS
from registry.models import Assessment, AtmosphereSpan, Record, System
from registry.services.holding import forget
from scheduling.calendars.follow_ups import publish
from scheduling.messages.causes import note_task, untold
from scheduling.models import RuleFailure, SystemWatch, Task
from scheduling.services import (
    apply_rules,
    bring_up_to_date,
    escalate,
    note_failure,
    reconcile,
)
from scheduling.services.escalating import (
    coming_to_a_level,
    raised_ahead,
    take_back_ahead,
    with_escalations,
)

logger = logging.getLogger(__name__)

CHUNK = 500


class RulesFailed(Exception):
    """Kept by system and rule already; here only counted."""


@dataclass
class SweepReport:
    repeated: int = 0
    moved: int = 0
    republished: int = 0
    notified: int = 0
    escalated: int = 0
    taken_back: int = 0
    forgotten: int = 0  # files that were kept for forms and never sent
    failed: int = 0

    def __str__(self) -> str:
        return (
            f"{self.repeated} records followed up late, {self.moved} systems brought up to date, "
            f"{self.republished} calendar entries revised, "
            f"{self.notified} follow-ups told of late, {self.escalated} late ones escalated, "
            f"{self.forgotten} files that no form was sent with let go, {self.failed} failures"
        )


@dataclass(frozen=True)
class Share:
    """The part of the book that one of several workers sweeps: whole systems, by their key."""

    part: int = 0
    parts: int = 1

    def of(self, rows: QuerySet, system_key: str) -> QuerySet:
        if self.parts == 1:
            return rows
        return rows.alias(swept_by=F(system_key) % self.parts).filter(swept_by=self.part)


def sweep(
    now: datetime, share: Share = Share(), on_piece: Callable[[], None] = lambda: None
) -> SweepReport:
    report = SweepReport()
    if share.part == 0:
        report.forgotten = forget(now)
    for pk in _keys(share.of(unfinished_records(), "system_id")):
        report.repeated += _attempt(report, partial(_repeat, pk, now))
        on_piece()
    for pk in _keys(share.of(systems_to_revisit(now), "pk")):
        report.moved += _attempt(report, partial(_revisit, pk, now))
        on_piece()
    for tasks in _chunks(
        share.of(Task.objects.on_calendars(now).with_place().with_protection(), "system_id")
    ):
        report.republished += publish(tasks, now)
        on_piece()
    for pk in _keys(share.of(untold(), "system_id")):
        report.notified += _attempt(report, partial(_tell, pk, now))
        on_piece()
    ahead = Task.objects.filter(escalations__in=raised_ahead(now)).distinct()
    for pk in _keys(share.of(ahead, "system_id")):
        report.taken_back += _attempt(report, partial(_take_back, pk, now))
        on_piece()
    for tasks in _chunks(with_escalations(share.of(Task.objects.overdue(now), "system_id"))):
        for pk in coming_to_a_level(tasks, now):
            report.escalated += _attempt(report, partial(_escalate, pk, now))
        on_piece()
    return report


def unfinished_records() -> QuerySet[Record]:
    """Records whose rules failed, or were never applied because a message was lost."""
    is_open = Q(rule_run__isnull=True) | Q(rule_run__done_at__isnull=True)
    quiet = [code for code, kind in KINDS.items() if not kind.is_news]
    return Record.objects.filter(is_open).exclude(kind__in=quiet)


def systems_to_revisit(now: datetime) -> QuerySet[System]:
    """Systems in another span than their follow-ups were last brought to, those to which a rule
    could not be applied, and those whose open follow-ups no longer fit the site's zone, the
    contract in force, the owner's rules or the assessment their dates rest on.

    One that was never visited and has stood aerated without a cause since installation asks
    for nothing: a large import is not walked through.
    """
    spans = AtmosphereSpan.objects.filter(system=OuterRef("pk"), starts_at__lte=now).order_by(
        "-starts_at"
    )
    placed = System.objects.annotate(
        state_now=Subquery(spans.values("state")[:1]),
        since_now=Subquery(spans.values("starts_at")[:1]),
        cause_now=Subquery(spans.values("cause")[:1]),
    )
    is_new = Q(watch__isnull=True) & (Q(cause_now__isnull=False) | ~Q(state_now="aerated"))
    has_moved = Q(watch__isnull=False) & (
        ~Q(watch__state=F("state_now")) | ~Q(watch__state_since=F("since_now"))
    )
    has_moved |= Q(watch__is_stale=True) | Q(watch__is_to_derive=True)
    misplaced = Task.objects.open().misplaced(now).values("system")
    failed = RuleFailure.objects.values("system")
    asked = is_new | has_moved | Q(pk__in=misplaced) | Q(pk__in=_assessed_anew())
    asked |= Q(pk__in=failed)
    return placed.filter(state_now__isnull=False).filter(asked)


def _assessed_anew():
    """Systems with a due date that rests on an assessment other than the latest one."""
    latest = Assessment.objects.latest().filter(delay_points_per_week__isnull=False)
    key = Concat("digest", Value(" "), "model_version")
    dated = Task.objects.open().exclude(dating_key="").values("system")
    return (
        latest.filter(system__in=dated, system__watch__isnull=False)
        .annotate(key=key)
        .exclude(system__watch__assessment=F("key"))
        .values("system")
    )


def _repeat(pk: int, now: datetime) -> None:
    record = Record.objects.select_related("system").get(pk=pk)
    try:
        with transaction.atomic():
            apply_rules(record=record, now=now)
    except Exception as error:
        note_failure(record=record, error=error)
        raise


def _revisit(pk: int, now: datetime) -> None:
    """Where the owner changed its limits, they may have moved the atmosphere itself."""
    system = System.objects.get(pk=pk)
    is_to_derive = SystemWatch.objects.filter(system=system, is_to_derive=True).exists()
    changes = (bring_up_to_date if is_to_derive else reconcile)(system=system, now=now)
    if changes.failed:
        raise RulesFailed(f"{changes.failed} rules could not be applied to system {pk}")


@transaction.atomic
def _tell(pk: int, now: datetime) -> None:
    note_task(Task.objects.with_place().get(pk=pk), now)


def _escalate(pk: int, now: datetime) -> None:
    escalate(task=Task.objects.select_related("system").get(pk=pk), now=now)


def _take_back(pk: int, now: datetime) -> None:
    task = Task.objects.select_related("system__site__owner").get(pk=pk)
    take_back_ahead(task=task, now=now)


def _attempt(report: SweepReport, work: Callable[[], None]) -> bool:
    """One failure must not keep the rest of the book waiting."""
    try:
        work()
    except RulesFailed as failure:
        logger.warning("%s; the next sweep repeats them", failure)
        report.failed += 1
        return False
    except Exception:
        logger.exception("The sweep could not finish one piece of work; the next sweep repeats it")
        report.failed += 1
        return False
    return True


def _keys(rows: QuerySet) -> Iterator[int]:
    """Keys in order, a chunk at a time, each chunk asked for afresh: work done on the way changes
    which rows are left, and an open cursor would not say so."""
    last = 0
    while keys := list(
        rows.filter(pk__gt=last).order_by("pk").values_list("pk", flat=True)[:CHUNK]
    ):
        yield from keys
        last = keys[-1]


def _chunks(rows: QuerySet) -> Iterator[list]:
    last = 0
    while chunk := list(rows.filter(pk__gt=last).order_by("pk")[:CHUNK]):
        yield chunk
        last = chunk[-1].pk

"""Work that was done, or let go: written to the ledger first, and the plan follows from there."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from django.core.files.base import File
from django.db import transaction
from django.utils.translation import gettext

from registry.models import Record, System, User
from registry.services import RecordError, record, withdraw
from registry.services.attaching import Stored, attach, stored
from registry.services.ledger import lock, sent_before
from registry.words.spoken import Spoken
from scheduling import library
from scheduling.models import Occurrence, RecurringItem
from scheduling.recurrence import (
    Anchor,
    Done,
    Outcome,
    PlannedSlot,
    Settled,
    Timing,
    judge,
    local_day,
    plan,
)
from scheduling.recurring.readings import verdict
from scheduling.recurring.upkeep import (
    COMPLETED,
    SKIPPED,
    history_of,
    place,
    plan_recurring,
    relevant,
    settle,
)

NAMED = ("item", "title", "due_on", "asked_by")
ADDED = (*NAMED, "timing", "days", "verdict", "files")
"""What the book writes beside the answers."""

CLASSES = {"impairment": "impairments", "critical": "critical", "noncritical": "noncritical"}


@transaction.atomic
def complete_occurrence(
    *,
    occurrence: Occurrence,
    occurred_at: datetime,
    details: Mapping[str, Any],
    recorded_by: User,
    now: datetime,
    note: str = "",
    files: Iterable[File] = (),
    client_key: UUID | None = None,
) -> Record:
    """Log the work with its findings; the same `client_key` again gives the first record back."""
    held = lock(occurrence.system)
    answers = {"found": "none", **details}
    if earlier := sent_before(
        held, client_key, answers, added=ADDED, kind=COMPLETED, occurred_at=occurred_at,
        note=note, recorded_by=recorded_by,
    ):  # fmt: skip
        return earlier
    item = _open_item(occurrence)
    check_findings(details)
    settled = _settled_by(item, held, occurred_at)
    with stored(files, held) as kept:
        written = record(
            system=held,
            kind=COMPLETED,
            occurred_at=occurred_at,
            details=_details(item, settled, answers, kept),
            recorded_by=recorded_by,
            note=note,
            client_key=client_key,
            now=now,
        )
        attach(record=written, files=kept, uploaded_by=recorded_by, now=now)
        _close(item, settled, written, now)
        plan_recurring(system=held, now=now)
    return written


@transaction.atomic
def skip_occurrence(
    *,
    occurrence: Occurrence,
    reason: str,
    recorded_by: User,
    now: datetime,
    note: str = "",
    client_key: UUID | None = None,
) -> Record:
    """Let an occurrence go, with the reason on record; the rhythm goes on from its due day."""
    held = lock(occurrence.system)
    answers = {"reason": reason.strip()}
    if earlier := sent_before(
        held, client_key, answers, added=NAMED, kind=SKIPPED, note=note, recorded_by=recorded_by
    ):
        return earlier
    item = _open_item(occurrence)
    row = item.occurrences.open().get()
    written = record(
        system=held,
        kind=SKIPPED,
        occurred_at=now,
        details={**_named(item, row.slot), **answers},
        recorded_by=recorded_by,
        note=note,
        client_key=client_key,
        now=now,
    )
    row.record = written
    settle(row, Occurrence.Status.SKIPPED, now)
    plan_recurring(system=held, now=now)
    return written


@transaction.atomic
def withdraw_inspection(
    *, inspection: Record, reason: str, recorded_by: User, now: datetime
) -> Record:
    """Take back work that was logged by mistake; it is then due as if nothing had been said."""
    held = lock(inspection.system)
    written = withdraw(record=inspection, reason=reason, recorded_by=recorded_by, now=now)
    taken_back = {"status": Occurrence.Status.WITHDRAWN, "settled_at": now}
    Occurrence.objects.filter(record=inspection).update(**taken_back)
    plan_recurring(system=held, now=now)
    return written


def check_findings(details: Mapping[str, Any]) -> None:
    """The class stated is the gravest one described, and none is described in silence."""
    found = details.get("found") or "none"
    described = [name for name, field in CLASSES.items() if details.get(field)]
    gravest = described[0] if described else "none"
    if found in CLASSES and found not in described:
        raise RecordError({CLASSES[found]: gettext("Say what was found, and where.")})
    if gravest != found:
        raise RecordError(
            {
                "found": gettext(
                    "The gravest finding described below is of the class “{gravest}”."
                ).format(gravest=gravest)
            }
        )


def _open_item(occurrence: Occurrence) -> RecurringItem:
    """The item, as long as something of it is open: a page left lying may be out of date."""
    row = Occurrence.objects.with_place().select_related("item__area").get(pk=occurrence.pk)
    if not row.item.is_active:
        raise RecordError({"": gettext("This is no longer asked for at this system.")})
    if not row.is_open:
        settled = row.get_status_display().lower()
        raise RecordError(
            {
                "": gettext(
                    "This occurrence is {settled} already; open the schedule again."
                ).format(settled=settled)
            }
        )
    return row.item


def _settled_by(item: RecurringItem, system: System, occurred_at: datetime) -> Settled:
    """What this completion is held against: the slot that it settles, or the open one when it
    comes so early that a fixed calendar does not count it."""
    on = local_day(occurred_at, system.site.zone)
    done = relevant(item, history_of(system).get(item.key, ()))
    if done and on < max(row.on for row in done):
        last = max(row.on for row in done)
        raise RecordError(
            {
                "occurred_at": gettext(
                    "On record it was last seen to on {last:%-d %B %Y}; this came after it. "
                    "Withdraw the other entry first if that one is wrong."
                ).format(last=Spoken(last))
            }
        )
    before = plan(item.rule, done)
    after = plan(item.rule, [*done, Done(on, Outcome.COMPLETED)])
    newly = after.settled[len(before.settled) :]
    return newly[-1] if newly else judge(before.open, on)


def _named(item: RecurringItem, slot: PlannedSlot) -> dict[str, Any]:
    return {
        "item": item.key,
        "title": item.title,
        "due_on": slot.due_on.isoformat(),
        "asked_by": _asked_by(item),
    }


def _asked_by(item: RecurringItem) -> str:
    """As the record keeps it, for whoever reads it without this program."""
    is_of_edition = item.asked_by != library.GOOD_PRACTICE
    return f"{item.asked_by}. {library.CHECK_EDITION}" if is_of_edition else item.asked_by


def _details(
    item: RecurringItem, settled: Settled, details: Mapping[str, Any], kept: Iterable[Stored]
) -> dict[str, Any]:
    before = [
        row.details
        for row in item.system.records.current().filter(kind=COMPLETED).in_order()
        if row.details["item"] == item.key
    ]
    return {
        **_named(item, settled.slot),
        "timing": settled.timing.value,
        "days": settled.days,
        **details,
        "verdict": verdict(item.key, details, before),
        "files": "; ".join(file.said for file in kept),
    }


def _close(item: RecurringItem, settled: Settled, written: Record, now: datetime) -> None:
    """Settle the row that was done. Work too early to count leaves the open one as it is."""
    if settled.timing is Timing.EARLY and item.rule.anchor is Anchor.CALENDAR:
        return
    row = item.occurrences.open().filter(due_on=settled.slot.due_on).first()
    if row is None:
        row = Occurrence(
            item=item, system=item.system, first_due_on=settled.slot.due_on, planned_at=now
        )
    place(row, settled.slot, item.system)
    row.record, row.timing, row.days = written, settled.timing.value, settled.days
    settle(row, Occurrence.Status.DONE, now)

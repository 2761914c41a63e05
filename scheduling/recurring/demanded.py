"""What the schedule demanded, what was recorded of it, and why of the rest nothing is."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import QuerySet
from django.utils.translation import gettext, ngettext

from registry.models import OwnerRecord, Record, System
from scheduling.models import Occurrence
from scheduling.recurrence import Timing, local_day
from scheduling.recurring.decisions import Decision, Decisions

DONE, SKIPPED, MISSED = "done", "skipped", "missed"
LATE, OPEN, AHEAD, DROPPED = "late", "open", "not due yet", "not asked for any more"
TAKEN_BACK = "taken back"
GAPS = (SKIPPED, MISSED, LATE, DROPPED, TAKEN_BACK)
CHUNK = 1000


@dataclass(frozen=True)
class Demand:
    """One occurrence, its outcome in a word of this module, and the outcome explained."""

    system: System
    item: str
    title: str
    asked_by: str
    due_on: date
    opens_on: date
    closes_on: date
    outcome: str
    why: str
    done_on: date | None = None
    record: Record | None = None
    decision: OwnerRecord | None = None

    @property
    def is_gap(self) -> bool:
        return self.outcome in GAPS


def demanded(
    systems: QuerySet[System],
    *,
    now: datetime,
    since: datetime | None = None,
    until: datetime | None = None,
) -> Iterator[Demand]:
    """By site, system and due day: what was due from `since` to before `until` by the clock of
    each site. Of a system whose owner's ledger names no decision for it, that is said."""
    rows = Occurrence.objects.filter(system__in=systems.order_by()).order_by(
        "system__site__name", "system__tag", "due_on", "item__key", "pk"
    )
    rows = rows.select_related(
        "item",
        "system__site__owner",
        "record__recorded_by",
        "record__superseded_by__recorded_by",
        "record__log_leaf",
    )
    decisions = Decisions()
    for row in rows.iterator(CHUNK):
        zone = row.system.site.zone
        is_asked = (since is None or row.due_on >= local_day(since, zone)) and (
            until is None or row.due_on < local_day(until, zone)
        )
        if is_asked:
            yield _demand(row, now, decisions)


def _demand(row: Occurrence, now: datetime, decisions: Decisions) -> Demand:
    outcome, why, decision = _outcome(row, now, decisions)
    counts = outcome in (DONE, SKIPPED)
    record = row.record if counts else None
    zone = row.system.site.zone
    return Demand(
        system=row.system,
        item=row.item.key,
        title=row.item.title,
        asked_by=row.item.asked_by,
        due_on=_demanded_on(row) if counts else row.due_on,
        opens_on=row.opens_on,
        closes_on=row.closes_on,
        outcome=outcome,
        why=why,
        done_on=local_day(record.occurred_at, zone) if record and outcome == DONE else None,
        record=record,
        decision=decision.record if decision else None,
    )


def _demanded_on(row: Occurrence) -> date:
    """As the record says, which outlives the row."""
    return date.fromisoformat(row.record.details["due_on"]) if row.record else row.due_on


def _outcome(
    row: Occurrence, now: datetime, decisions: Decisions
) -> tuple[str, str, Decision | None]:
    status = Occurrence.Status(row.status)
    if status is Occurrence.Status.DONE:
        return DONE, _timing(row), None
    if status is Occurrence.Status.SKIPPED:
        return SKIPPED, _skipped(row.record, row.system), None
    if status is Occurrence.Status.MISSED:
        return MISSED, gettext("No record tells of it, and the next one came first."), None
    if status is Occurrence.Status.WITHDRAWN:
        return _withdrawn(row, decisions)
    return *_standing(row, now), None


def _timing(row: Occurrence) -> str:
    if row.timing == Timing.LATE:
        return ngettext("Late by {days} day.", "Late by {days} days.", row.days).format(
            days=row.days
        )
    return gettext("Early.") if row.timing == Timing.EARLY else gettext("On time.")


def _skipped(record: Record | None, system: System) -> str:
    if record is None:
        return gettext("No record tells of it, though the schedule says so.")
    return gettext("Skipped by {by} on {on}: {reason}").format(
        by=record.recorded_by.name,
        on=local_day(record.recorded_at, system.site.zone).isoformat(),
        reason=record.details["reason"],
    )


def _withdrawn(row: Occurrence, decisions: Decisions) -> tuple[str, str, Decision | None]:
    record = row.record
    later = getattr(record, "superseded_by", None) if record else None
    if record and later:
        words = gettext("Record {number} said so, and record {later} took it back: {note}")
        return (
            TAKEN_BACK,
            words.format(number=record.sequence, later=later.sequence, note=later.note),
            None,
        )
    decision = decisions.of(row)
    return DROPPED, decision.words, decision


def _standing(row: Occurrence, now: datetime) -> tuple[str, str]:
    if now >= row.late_at:
        days = (local_day(now, row.system.site.zone) - row.closes_on).days
        words = ngettext(
            "No record tells of it: late by {days} day; it recurs {rhythm}.",
            "No record tells of it: late by {days} days; it recurs {rhythm}.",
            days,
        )
        return LATE, words.format(days=days, rhythm=row.item.rhythm)
    if now >= row.opens_at:
        return OPEN, gettext("It can still be done in time.")
    return AHEAD, gettext("Its window has not opened.")


def count_by_outcome(demands: Sequence[Demand]) -> dict[str, int]:
    counts: dict[str, int] = {}
    for one in demands:
        counts[one.outcome] = counts.get(one.outcome, 0) + 1
    return counts

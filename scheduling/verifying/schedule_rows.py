"""The schedule in a package: what it demanded against what was recorded, and what it left out."""

from collections.abc import Iterator

from registry.models import OwnerRecord
from registry.proof.cells import csv_lines
from registry.services.packages import Extra, Source
from scheduling.recurring.demanded import DONE, SKIPPED, Demand, demanded
from scheduling.recurring.not_asked import NotAsked, not_asked

RECORDED_LATER = "recorded later"
DEMANDED = (
    "site", "system_tag", "system", "item", "title", "asked_by", "due_on", "window_opens",
    "window_closes", "outcome", "why", "done_on", "recorded_by", "recorded_by_name", "record",
    "record_hash", "decided_by", "decided_by_name", "decided_utc", "decision_hash",
)  # fmt: skip
NOT_DEMANDED = (
    "site", "system_kind", "item", "title", "outcome", "why", "decided_by", "decided_by_name",
    "decided_utc", "decision_hash",
)  # fmt: skip


def of_the_schedule(source: Source) -> Iterator[Extra]:
    yield (
        "demanded.csv",
        _lines(DEMANDED, (demand_cells(one, source) for one in demands(source))),
        "What the schedule asked for, what was recorded of it, and why of the rest nothing is.",
    )
    systems = source.scope.of_systems().select_related("site__owner").order_by("pk")
    yield (
        "not-demanded.csv",
        _lines(NOT_DEMANDED, (_left_out(one, source) for one in not_asked(systems))),
        "What the schedule does not ask for: set aside, or of editions that were not adopted.",
    )


def demands(source: Source) -> Iterator[Demand]:
    scope = source.scope
    return demanded(scope.of_systems(), now=source.now, since=scope.since, until=scope.until)


def demand_cells(one: Demand, source: Source) -> list[object]:
    """As `DEMANDED` names them. What was recorded while the package was made is in the next."""
    record = one.record if one.record and _is_in(source, one.record) else None
    is_later = one.outcome in (DONE, SKIPPED) and record is None
    return [
        one.system.site.name,
        one.system.tag,
        str(one.system.uuid),
        one.item,
        one.title,
        one.asked_by,
        one.due_on.isoformat(),
        one.opens_on.isoformat(),
        one.closes_on.isoformat(),
        RECORDED_LATER if is_later else one.outcome,
        one.why,
        one.done_on.isoformat() if one.done_on else "",
        str(record.recorded_by.uuid) if record else "",
        source.names.at(record.recorded_by, record.recorded_at) if record else "",
        record.sequence if record else "",
        record.hash if record else "",
        *_decided(one.decision, source),
    ]


def _left_out(one: NotAsked, source: Source) -> list[object]:
    return [
        one.site.name,
        one.system_kind,
        one.item,
        one.title,
        one.outcome,
        one.why,
        *_decided(one.decision, source),
    ]


def _decided(row: OwnerRecord | None, source: Source) -> list[str]:
    if row is None or not _is_in(source, row):
        return ["", "", "", ""]
    by = row.recorded_by
    return [
        str(by.uuid) if by else "",
        source.names.at(by, row.recorded_at) if by else "",
        row.recorded_at.strftime("%Y-%m-%dT%H:%M:%SZ"),
        row.hash,
    ]


def _is_in(source: Source, row) -> bool:
    leaf = getattr(row, "log_leaf", None)
    return leaf is not None and leaf.number < source.size


def _lines(columns, rows) -> Iterator[bytes]:
    return (line.encode() for line in csv_lines(columns, rows))

"""CSV of the ledger: the rows of the page, streamed, safe to open in a spreadsheet.

The file begins with a byte order mark, without which spreadsheet programs misread names with
accents; `utf-8-sig` reads it. `body` is the text that the hash covers: SHA-256 over previous hash,
line feed and body gives hash. `check` says on each row whether it does, and whether the ledger of
its system was found to hold, so that no part of a broken ledger travels unmarked. `protection` is
what held after the record, as the book stands now; empty where the record changed nothing of it.
"""

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime

from django.http import StreamingHttpResponse
from django.utils.translation import gettext

from registry.chain import canonical_json, text_hash
from registry.models import Record
from registry.proof.cells import csv_lines
from registry.services import record_body
from reports.ledger.page import LedgerRow

LEDGER_COLUMNS = (
    "site", "system", "number", "kind", "record", "happened", "happened_utc", "recorded",
    "recorded_utc", "recorded_by", "recorded_by_id", "said", "note", "protection", "standing",
    "supersedes", "superseded_by", "previous_hash", "hash", "head_of_ledger", "body", "check",
)  # fmt: skip


def csv_response(
    name: str, columns: Iterable[str], lines: Iterable[Iterable]
) -> StreamingHttpResponse:
    response = StreamingHttpResponse(
        csv_lines(columns, lines), content_type="text/csv; charset=utf-8"
    )
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def ledger_line(row: LedgerRow, differing: Mapping[int, str]) -> list[object]:
    """`differing` has the first thing that does not hold, by the key of the system."""
    record, later = row.record, row.line.later
    body = canonical_json(record_body(record))
    return [
        record.system.site.name,
        record.system.tag,
        record.sequence,
        record.kind,
        record.definition.label,
        row.occurred.isoformat(timespec="seconds"),
        _utc(record.occurred_at),
        row.recorded.isoformat(timespec="seconds"),
        _utc(record.recorded_at),
        row.recorded_by,
        str(record.recorded_by.uuid),
        row.said,
        record.note,
        row.line.protection,
        row.standing,
        record.supersedes.sequence if record.supersedes else "",
        later.sequence if later else "",
        record.previous_hash,
        record.hash,
        record.system.head_hash,
        body,
        _check(record, body, differing.get(record.system_id, "")),
    ]


def _check(record: Record, body: str, differs: str) -> str:
    if text_hash(record.previous_hash, body) != record.hash:
        return gettext("DOES NOT HOLD: this record was altered after it was written.")
    if differs:
        return gettext("DOES NOT HOLD: the ledger of this system. {what}").format(what=differs)
    return gettext("The hash fits.")


def _utc(when: datetime) -> str:
    return when.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")

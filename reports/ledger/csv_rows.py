"""CSV of the ledger: the rows of the page, streamed, safe to open in a spreadsheet.

The file begins with a byte order mark, without which spreadsheet programs misread names with
accents; `utf-8-sig` reads it. `body` is the text that the hash covers: SHA-256 over previous hash,
line feed and body gives hash.
"""

import csv
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime

from django.http import StreamingHttpResponse

from registry.chain import canonical_json
from registry.services import record_body
from reports.ledger.page import LedgerRow

BYTE_ORDER_MARK = "\ufeff"
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
LEDGER_COLUMNS = (
    "site", "system", "number", "kind", "record", "happened", "happened_utc", "recorded",
    "recorded_utc", "recorded_by", "said", "note", "standing", "supersedes", "superseded_by",
    "previous_hash", "hash", "head_of_ledger", "body",
)  # fmt: skip


class Echo:
    """A file that hands each line straight back, so that nothing piles up in memory."""

    def write(self, text: str) -> str:
        return text


def csv_response(
    name: str, columns: Iterable[str], lines: Iterable[Iterable]
) -> StreamingHttpResponse:
    response = StreamingHttpResponse(
        csv_text(columns, lines), content_type="text/csv; charset=utf-8"
    )
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def csv_text(columns: Iterable[str], lines: Iterable[Iterable]) -> Iterator[str]:
    writer = csv.writer(Echo())
    yield BYTE_ORDER_MARK + writer.writerow(columns)
    for line in lines:
        yield writer.writerow([safe(cell) for cell in line])


def safe(cell: object) -> object:
    """Text that a spreadsheet would take for a formula gets an apostrophe before it."""
    if isinstance(cell, str) and cell.lstrip(" ").startswith(FORMULA_STARTS):
        return f"'{cell}"
    return cell


def ledger_line(row: LedgerRow) -> list[object]:
    record, later = row.record, row.line.later
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
        record.recorded_by.name,
        row.said,
        record.note,
        row.standing,
        record.supersedes.sequence if record.supersedes else "",
        later.sequence if later else "",
        record.previous_hash,
        record.hash,
        record.system.head_hash,
        canonical_json(record_body(record)),
    ]


def _utc(when: datetime) -> str:
    return when.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")

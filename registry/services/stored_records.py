"""Records as their columns are stored, for exports of a whole book: no object is made of a row.

Columns come as text where making values of them would cost more than the row is worth: instants in
UTC as both databases write them, ids with dashes or without, details as JSON.
"""

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from itertools import islice
from json.encoder import encode_basestring  # type: ignore[attr-defined]
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from django.db.models import CharField, F, QuerySet, TextField
from django.db.models.functions import Cast

from registry.chain import canonical_json

BLOCK = 2000
MOST_DAYS = 20_000


class StoredRecord(NamedTuple):
    pk: int
    uuid: str
    system_id: int
    sequence: int
    kind: str
    occurred_at: str
    recorded_at: str
    recorded_by_id: int
    details: str
    note: str
    supersedes: str | None
    supersedes_sequence: int | None
    inerting_run: str | None
    later_sequence: int | None
    later_kind: str | None
    later_at: str | None
    previous_hash: str
    hash: str


def stored_text(path: str) -> Cast:
    return Cast(path, TextField())


COLUMNS = (
    F("pk"), stored_text("uuid"), F("system_id"), F("sequence"), F("kind"),
    stored_text("occurred_at"), stored_text("recorded_at"), F("recorded_by_id"),
    stored_text("details"), F("note"), stored_text("supersedes__uuid"), F("supersedes__sequence"),
    stored_text("inerting_run__uuid"), F("superseded_by__sequence"),
    Cast("superseded_by__kind", CharField()), stored_text("superseded_by__recorded_at"),
    F("previous_hash"), F("hash"),
)  # fmt: skip


def blocks(records: QuerySet) -> Iterator[list[StoredRecord]]:
    """In their order, as many together as other rows are read for at once."""
    for block in _read(records, COLUMNS):
        yield [StoredRecord._make(row) for row in block]


def blocks_with(records: QuerySet, *more: F) -> Iterator[list[tuple[StoredRecord, tuple]]]:
    """With other columns beside each."""
    width = len(COLUMNS)
    for block in _read(records, (*COLUMNS, *more)):
        yield [(StoredRecord._make(row[:width]), row[width:]) for row in block]


def _read(records: QuerySet, columns: tuple[Any, ...]) -> Iterator[list[tuple]]:
    rows = iter(records.values_list(*columns).iterator(chunk_size=BLOCK))
    while block := list(islice(rows, BLOCK)):
        yield block


def utc_text(stored: str) -> str:
    """As a hash covers it but for the zone, which is UTC: to the microsecond, in 26 signs. SQLite
    stores no zone, PostgreSQL writes that of the session, and neither writes more than it must."""
    text = stored.removesuffix("+00")
    if len(text) == 19:
        return f"{text[:10]}T{text[11:]}.000000"
    if text[19:20] == "." and text[20:].isdecimal():
        return f"{text[:10]}T{text[11:]}".ljust(26, "0")
    return datetime.fromisoformat(stored).astimezone(UTC).isoformat(timespec="microseconds")[:26]


def instant(utc: str) -> datetime:
    return datetime.fromisoformat(utc).replace(tzinfo=UTC)


def there(utc: str, zone: str) -> str:
    """To the second by the clock of the zone."""
    hour, ahead = _hour(utc[:13], zone)
    if ahead:
        return f"{hour}{utc[13:19]}{ahead}"
    return instant(utc).astimezone(ZoneInfo(zone)).isoformat(timespec="seconds")


@lru_cache(MOST_DAYS)
def _hour(utc: str, zone: str) -> tuple[str, str]:
    """The hour there and how far the clock is ahead, where an hour of UTC is an hour there: its
    minutes are the same. Else nothing."""
    known = _offset(utc[:10], zone)
    if known is None or known[0].seconds % 3600:
        return "", ""
    return (datetime.fromisoformat(f"{utc}:00") + known[0]).isoformat()[:13], known[1]


@lru_cache(MOST_DAYS)
def _offset(day: str, zone: str) -> tuple[timedelta, str] | None:
    """How far the zone is ahead of UTC on that day; None on a day on which this changes."""
    begin = instant(day).astimezone(ZoneInfo(zone))
    end = (instant(day) + timedelta(days=1)).astimezone(ZoneInfo(zone))
    ahead = begin.utcoffset()
    return None if ahead is None or ahead != end.utcoffset() else (ahead, begin.isoformat()[19:])


def stored_details(stored: str) -> str:
    """As a hash covers them. ValueError for a number that no record can hold."""
    return canonical_json(json.loads(stored))


def id_text(stored: str) -> str:
    """With dashes, whichever database wrote it."""
    if len(stored) != 32:
        return stored
    return "-".join((stored[:8], stored[8:12], stored[12:16], stored[16:20], stored[20:]))


def stored_body(
    row: StoredRecord, *, details: str, system: str, recorded_by: str, occurred: str, recorded: str
) -> str:
    """The text that the hash covers: what `canonical_json` makes of `record_body`. Its names stand
    in their order here; `details` is canonical already, and the instants are of `utc_text`."""
    return (
        f'{{"details":{details},"inerting_run":{_id(row.inerting_run)},'
        f'"kind":{encode_basestring(row.kind)},"note":{encode_basestring(row.note)},'
        f'"occurred_at":"{occurred}+00:00","record":"{id_text(row.uuid)}",'
        f'"recorded_at":"{recorded}+00:00","recorded_by":"{recorded_by}",'
        f'"sequence":{row.sequence},"supersedes":{_id(row.supersedes)},"system":"{system}"}}'
    )


def _id(stored: str | None) -> str:
    return f'"{id_text(stored)}"' if stored else "null"

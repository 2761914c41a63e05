"""The records of a package: from columns as they are stored, so that no object is made of a row.

The rows come in one order by one statement whose tables are joined by their keys. A statement that
asks for systems in a subquery, or for the last record by an anti-join, is planned by the database
from statistics, and a book that was just filled has none: it then compares each with each.
"""

from collections import deque
from collections.abc import Iterator
from datetime import UTC, datetime
from functools import lru_cache
from itertools import groupby
from typing import NamedTuple

from django.db.models import F, QuerySet

from registry.kinds import KINDS
from registry.models import User
from registry.owner_ledger import Names
from registry.proof.package import Between, Ledger, Line
from registry.services.stored_records import (
    StoredRecord,
    blocks_with,
    instant,
    stored_body,
    stored_details,
    there,
    utc_text,
)

CHUNK = 2000
MOST_KEPT = 20_000
"""Answers that are remembered from one row to the next: most rows answer as others did."""
COLUMNS = (
    "site", "system_tag", "number", "kind", "kind_words", "happened", "happened_utc",
    "recorded_utc", "recorded_by", "recorded_by_name", "note", "supersedes", "superseded_by",
)  # fmt: skip
OF_SYSTEM = ("system__uuid", "system__tag", "system__site__name", "system__site__time_zone")


class OfSystem(NamedTuple):
    id: str
    tag: str
    site: str
    time_zone: str


def ledgers(records: QuerySet) -> Iterator[Ledger]:
    """Each system with the last of its records."""
    rows = records.order_by("system__uuid", "sequence").values_list(
        "system__uuid", "sequence", "hash", "system__tag", "system__site__name"
    )
    for system, lines in groupby(rows.iterator(CHUNK), key=lambda row: row[0]):
        _, count, head, tag, site = deque(lines, maxlen=1).pop()
        yield Ledger(str(system), tag, site, count, head)


class PackagedRows:
    """`since` and `until` are of what happened, `kinds` all where it is empty."""

    def __init__(
        self,
        names: Names,
        *,
        since: datetime | None = None,
        until: datetime | None = None,
        kinds: tuple[str, ...] = (),
    ):
        self.names, self.kinds = names, frozenset(kinds)
        self.since, self.until = _utc(since), _utc(until)
        self.people: dict[int, User] = {}
        self.only_names: dict[int, str | None] = {}
        self.details = lru_cache(MOST_KEPT)(stored_details)
        self.label = lru_cache(len(KINDS))(lambda kind: str(KINDS[kind].label))

    def read(self, records: QuerySet) -> Iterator[Line | Between]:
        """By the id of the system, and by number."""
        ordered = records.order_by("system__uuid", "sequence")
        for block in blocks_with(ordered, F("log_leaf__number"), *map(F, OF_SYSTEM)):
            self._meet({row.recorded_by_id for row, _ in block})
            for row, (number, uuid, *more) in block:
                yield self._row(row, number, OfSystem(str(uuid), *more))

    def _row(self, row: StoredRecord, number: int, system: OfSystem) -> Line | Between:
        occurred = utc_text(row.occurred_at)
        if not self._is_asked_for(row, occurred):
            return Between(system.id, row.sequence, row.hash, number)
        person, recorded = self.people[row.recorded_by_id], utc_text(row.recorded_at)
        by = str(person.uuid)
        body = stored_body(
            row, details=self.details(row.details), system=system.id, recorded_by=by,
            occurred=occurred, recorded=recorded,
        )  # fmt: skip
        words = (
            system.site,
            system.tag,
            row.sequence,
            row.kind,
            self.label(row.kind),
            there(occurred, system.time_zone),
            f"{occurred[:19]}Z",
            f"{recorded[:19]}Z",
            by,
            self._name(person, recorded),
            row.note,
            "" if row.supersedes_sequence is None else row.supersedes_sequence,
            "" if row.later_sequence is None else row.later_sequence,
        )
        return Line(system.id, row.sequence, row.hash, number, row.previous_hash, body, words)

    def _is_asked_for(self, row: StoredRecord, occurred: str) -> bool:
        return (
            (self.since is None or occurred >= self.since)
            and (self.until is None or occurred < self.until)
            and (not self.kinds or row.kind in self.kinds)
        )

    def _meet(self, keys: set[int]) -> None:
        unmet = keys - self.people.keys()
        if unmet:
            self.people |= User.objects.in_bulk(unmet)

    def _name(self, person: User, recorded: str) -> str:
        """That of the day; looked up once where there is but one."""
        if person.pk not in self.only_names:
            is_one = not self.names.are_many(person)
            self.only_names[person.pk] = (
                self.names.at(person, instant(recorded)) if is_one else None
            )
        name = self.only_names[person.pk]
        return self.names.at(person, instant(recorded)) if name is None else name


def _utc(when: datetime | None) -> str | None:
    return when.astimezone(UTC).isoformat(timespec="microseconds")[:26] if when else None

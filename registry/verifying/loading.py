"""Systems with all that is held against their records, read in as few queries for many as for one.

Rows are read as they are stored: nothing here trusts a relation that the records do not confirm.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from django.db import connection, transaction
from django.db.models import QuerySet

from registry.kinds.facts import WITHDRAWN
from registry.models import (
    AtmosphereSpan,
    Fitting,
    InertingRun,
    PipeRun,
    ProtectionSpan,
    Record,
    System,
    User,
)

MOST_SYSTEMS = 200
MOST_RECORDS = 20_000


@dataclass
class Held:
    """One system as it stands in the database."""

    system: System
    records: list[Record] = field(default_factory=list)
    runs: list[InertingRun] = field(default_factory=list)
    pipes: list[PipeRun] = field(default_factory=list)
    fittings: list[Fitting] = field(default_factory=list)
    spans: list[AtmosphereSpan] = field(default_factory=list)
    protection_spans: list[ProtectionSpan] = field(default_factory=list)

    @cached_property
    def superseding(self) -> dict[int, Record]:
        """The later record by the key of the one it corrects or takes back."""
        return {row.supersedes_id: row for row in self.records if row.supersedes_id}

    @cached_property
    def current(self) -> list[Record]:
        """What counts now, in the order in which it happened."""
        gone = self.superseding
        counting = (
            row for row in self.records if row.pk not in gone and row.kind != WITHDRAWN.code
        )
        return sorted(counting, key=lambda row: (row.occurred_at, row.sequence))


def chunks(systems: QuerySet[System]) -> Iterator[list[int]]:
    """Keys of systems, as many as are read at once."""
    sizes = systems.order_by("pk").values_list("pk", "next_sequence")
    return _chunks(list(sizes))


def _chunks(sizes: Sequence[tuple[int, int]]) -> Iterator[list[int]]:
    keys: list[int] = []
    records = 0
    for key, size in sizes:
        if keys and (len(keys) == MOST_SYSTEMS or records + size > MOST_RECORDS):
            yield keys
            keys, records = [], 0
        keys.append(key)
        records += size
    if keys:
        yield keys


@contextmanager
def one_instant() -> Iterator[None]:
    """A record written between two of the queries must not look like a difference."""
    is_own = not connection.in_atomic_block
    with transaction.atomic():
        if is_own and connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        yield


def load(keys: list[int]) -> list[Held]:
    systems = System.objects.filter(pk__in=keys).order_by("pk")
    systems = systems.select_related("site__owner__policy")
    found = {system.pk: Held(system) for system in systems}
    records = Record.objects.filter(system__in=keys).order_by("system", "sequence", "pk")
    for record in records:
        found[record.system_id].records.append(record)
    kept: tuple[tuple[str, QuerySet[Any]], ...] = (
        ("runs", InertingRun.objects.order_by("pk")),
        ("pipes", PipeRun.objects.order_by("pk")),
        ("fittings", Fitting.objects.order_by("pk")),
        ("spans", AtmosphereSpan.objects.order_by("starts_at", "pk")),
        ("protection_spans", ProtectionSpan.objects.order_by("starts_at", "pk")),
    )
    for name, rows in kept:
        for row in rows.filter(system__in=keys):
            getattr(found[row.system_id], name).append(row)
    _relate(list(found.values()))
    return list(found.values())


def _relate(chunk: Sequence[Held]) -> None:
    """What the hash of a record covers of other rows, without a query for each."""
    records = {row.pk: row for one in chunk for row in one.records}
    runs = {row.pk: row for one in chunk for row in one.runs}
    by_system = defaultdict(list)
    for row in records.values():
        by_system[row.system_id].append(row)
    people = User.objects.in_bulk({row.recorded_by_id for row in records.values()})
    for one in chunk:
        for row in one.records:
            row.system = one.system
            _set(row, "recorded_by", people)
            _set(row, "supersedes", records)
            _set(row, "inerting_run", runs)


def _set(row: Record, name: str, known: dict[int, Any]) -> None:
    """Where the row is not among them, reading the relation asks the database."""
    key = getattr(row, f"{name}_id")
    if key in known:
        setattr(row, name, known[key])

"""The rows a system's assessment needs, read in as many queries for many systems as for one.

They are read as plain tuples: of a row of the ledger or a run of pipe no more is needed, and a
portfolio holds millions of them.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from operator import attrgetter
from typing import NamedTuple
from uuid import UUID

from registry.assess.as_then import put_back
from registry.atmosphere import LedgerItem, SystemFacts
from registry.atmosphere_rows.system_ledger import HORIZON, SystemLedger, bears_on_gas, system_facts
from registry.models import AtmosphereSpan, Fitting, OwnerPolicy, PipeRun, Record, Site, System

CHUNK = 200

ITEM_FIELDS = ("id", "sequence", "kind", "occurred_at", "details", "recorded_at", "note")
item_of = attrgetter(*ITEM_FIELDS)


class Pipe(NamedTuple):
    """A run of pipe as an assessment and its pages need it; the fields are those of a PipeRun."""

    pk: int
    record_id: int | None
    role: str
    material: str
    nominal_size: str
    outside_diameter_mm: float
    wall_mm: float
    length_m: float
    joint: str
    installed_on: date
    installed_precision: str
    uuid: UUID | None = None

    def __str__(self) -> str:
        return f"{PipeRun.Role(self.role).label} {self.nominal_size} in"

    def get_material_display(self) -> str:
        return str(PipeRun.Material(self.material).label)

    @property
    def volume_m3(self) -> float:
        bore_mm = self.outside_diameter_mm - 2 * self.wall_mm
        return math.pi / 4 * (bore_mm / 1000) ** 2 * self.length_m


class StoredSpan(NamedTuple):
    """What an assessment needs of a row of the stored atmosphere."""

    starts_at: datetime
    state: str
    oxygen_mid: float
    cause_id: int | None


@dataclass(frozen=True)
class Book:
    """One system as the register knew it at an instant, with all that happened before it;
    corrections made later are not in it, unless what was learnt later was asked for.

    Facts of the system itself (kind, supply, consequence) are those of today, unless what was
    learnt by an instant was asked for: then they are of that time, and `is_named_today` says where
    the owner's names and limits are of today for want of a ledger. `spans` is the stored atmosphere
    where it is what these records tell, and None where it has to be derived.
    """

    system: System
    known_at: datetime
    facts: SystemFacts
    records: Sequence[LedgerItem]
    runs: Sequence[Pipe]
    has_vent: bool
    spans: Sequence[StoredSpan] | None = None
    is_named_today: bool = False

    @cached_property
    def items(self) -> list[LedgerItem]:
        return [row for row in self.records if bears_on_gas(row.kind)]

    @cached_property
    def began_at(self) -> datetime:
        """When the register began to watch this system."""
        return min((_recorded(row) for row in self.records), default=self.known_at)

    def of_kind(self, kind: str) -> list[LedgerItem]:
        return [row for row in self.records if row.kind == kind]


def books_of(systems, known_at: datetime, chunk: int = CHUNK) -> Iterator[list[Book]]:
    """Chunks of books, in order of the systems' keys; memory does not grow with their number."""
    keys = list(systems.order_by("pk").values_list("pk", flat=True))
    for begin in range(0, len(keys), chunk):
        yield read_books(keys[begin : begin + chunk], known_at)


def read_books(
    keys: Sequence[int],
    known_at: datetime,
    ledgers: Sequence[SystemLedger] = (),
    *,
    learnt_by: datetime | None = None,
) -> list[Book]:
    """`ledgers`: all of the systems or none, from a caller who has read them already. `learnt_by`:
    what happened before `known_at` as the book knew it at another instant, later or earlier."""
    if learnt_by is not None:
        return _learnt_by(keys, known_at, learnt_by)
    systems = [one.system for one in ledgers] if ledgers else _systems(keys)
    if ledgers and all(one.is_whole for one in ledgers):
        rows = _rows_of(ledgers, known_at)
    else:
        rows = _rows_read(keys, known_at)
    records, changed_since = _records(rows, known_at)
    runs = _runs(keys, {row.id for rows in records.values() for row in rows})
    vented = _vented(keys, known_at)
    spans = _spans([key for key in keys if key not in changed_since], records, known_at)
    return [
        Book(
            system=system,
            known_at=known_at,
            facts=_facts(system, runs[system.pk]),
            records=records[system.pk],
            runs=runs[system.pk],
            has_vent=system.pk in vented,
            spans=spans.get(system.pk),
        )
        for system in systems
    ]


def _learnt_by(keys: Sequence[int], until: datetime, learnt_by: datetime) -> list[Book]:
    """The stored atmosphere tells what is known by now, so it is derived again. Pipe counts from
    the day it was put in, however late somebody entered it; facts are those that stood at the end
    of the day, or as the book knew them earlier."""
    rows = list(_rows_read(keys, learnt_by))
    records, _ = _records(rows, until)
    known = _runs(keys, {item.id for _system, was_known, item in rows if was_known})
    day = (until - timedelta(microseconds=1)).date()
    runs = {key: [run for run in known[key] if run.installed_on <= day] for key in keys}
    vented = _vented(keys, until)
    systems = _systems(keys)
    named_today = put_back(systems, min(until, learnt_by))
    return [
        Book(
            system=system,
            known_at=until,
            facts=_facts(system, runs[system.pk]),
            records=records[system.pk],
            runs=runs[system.pk],
            has_vent=system.pk in vented,
            is_named_today=system.site.owner_id in named_today,
        )
        for system in systems
    ]


def _systems(keys: Sequence[int]) -> list[System]:
    """Systems of one site share its row, with its zone, pressure and its owner's limits."""
    systems = list(System.objects.filter(pk__in=keys).order_by("pk"))
    wanted = {system.site_id for system in systems}
    sites = Site.objects.select_related("owner__policy").in_bulk(wanted)
    for system in systems:
        system.site = sites[system.site_id]
    return systems


KnownRow = tuple[int, bool, LedgerItem]
"""A system, whether its record counted then, and the record."""


def _rows_read(keys: Sequence[int], known_at: datetime) -> Iterator[KnownRow]:
    rows = Record.objects.filter(system__in=keys).with_known(known_at)
    in_order = rows.order_by("system_id", "occurred_at", "sequence")
    for system, was_known, *row in in_order.values_list("system_id", "was_known", *ITEM_FIELDS):
        yield system, was_known, LedgerItem._make(row)


def _rows_of(ledgers: Sequence[SystemLedger], known_at: datetime) -> Iterator[KnownRow]:
    for one in ledgers:
        for record in one.records:
            item = LedgerItem._make(item_of(record))
            yield one.system.pk, record.recorded_at <= known_at, item


def _records(
    rows: Iterable[KnownRow], known_at: datetime
) -> tuple[dict[int, list[LedgerItem]], set[int]]:
    """The ledgers as known then, and the systems of which the book came to know more since."""
    found: dict[int, list[LedgerItem]] = defaultdict(list)
    changed_since: set[int] = set()
    for system, was_known, item in rows:
        if _recorded(item) > known_at:
            changed_since.add(system)
        if was_known and item.occurred_at < known_at:
            found[system].append(item)
    return found, changed_since


def _runs(keys: Sequence[int], known: set[int]) -> dict[int, list[Pipe]]:
    """Runs whose record counted then; one without a record counts while it is current."""
    found: dict[int, list[Pipe]] = defaultdict(list)
    rows = PipeRun.objects.filter(system__in=keys).order_by("system_id", "pk")
    columns = rows.values_list("system_id", "is_withdrawn", "superseded_by", *Pipe._fields)
    for system, is_withdrawn, later, *row in columns:
        run = Pipe._make(row)
        is_current = not is_withdrawn and later is None
        if run.record_id in known if run.record_id else is_current:
            found[system].append(run)
    return found


def _spans(
    keys: Sequence[int], records: dict[int, list[LedgerItem]], known_at: datetime
) -> dict[int, list[StoredSpan]]:
    """The stored atmosphere up to `known_at`, of the systems whose rows tell it as known then.

    Every record brings the rows up to date, as the whole ledger tells it by then and as far ahead
    as `HORIZON`. So they cannot be used of a day before the latest record, nor of one so late that
    time may have changed what they do not tell.
    """
    as_kept = [key for key in keys if known_at <= _last_recorded(records[key], known_at) + HORIZON]
    found: dict[int, list[StoredSpan]] = {}
    rows = AtmosphereSpan.objects.filter(system__in=as_kept, starts_at__lt=known_at)
    in_order = rows.order_by("system_id", "starts_at")
    for system, *row in in_order.values_list("system_id", *StoredSpan._fields):
        found.setdefault(system, []).append(StoredSpan._make(row))
    return found


def _last_recorded(rows: Iterable[LedgerItem], otherwise: datetime) -> datetime:
    return max((_recorded(row) for row in rows), default=otherwise - 2 * HORIZON)


def _recorded(row: LedgerItem) -> datetime:
    if row.recorded_at is None:
        raise ValueError(f"record {row.id} was read without when it was recorded")
    return row.recorded_at


def _vented(keys: Sequence[int], known_at: datetime) -> set[int]:
    day = known_at.date()
    vents = Fitting.objects.filter(system__in=keys, kind=Fitting.Kind.VENT).order_by()
    return {
        system
        for system, fitted_on, removed_on in vents.values_list(
            "system_id", "fitted_on", "removed_on"
        )
        if (fitted_on is None or fitted_on <= day) and (removed_on is None or removed_on > day)
    }


def _facts(system: System, runs: Sequence[Pipe]) -> SystemFacts:
    volume_m3 = system.volume_override_m3 or sum(run.volume_m3 for run in runs)
    owner = system.site.owner
    policy = getattr(owner, "policy", None) or OwnerPolicy(owner=owner)
    return system_facts(system, policy=policy, volume_m3=volume_m3)

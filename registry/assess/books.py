"""The rows a system's assessment needs, read in as many queries for many systems as for one."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from registry.atmosphere import LedgerItem, SystemFacts
from registry.facts import ledger_items, system_facts
from registry.models import Fitting, OwnerPolicy, PipeRun, Record, System

CHUNK = 200
ASSUMPTION = "register.assumption"


@dataclass(frozen=True)
class Book:
    """One system as the register knew it at an instant; corrections made later are not in it.

    Facts of the system itself (kind, supply, consequence) are those of today.
    """

    system: System
    known_at: datetime
    facts: SystemFacts
    records: Sequence[Record]
    runs: Sequence[PipeRun]
    has_vent: bool

    @property
    def items(self) -> list[LedgerItem]:
        return ledger_items(self.records)

    @property
    def began_at(self) -> datetime:
        """When the register began to watch this system."""
        return min((row.recorded_at for row in self.records), default=self.known_at)

    def of_kind(self, kind: str) -> list[Record]:
        return [row for row in self.records if row.kind == kind]


def books_of(systems, known_at: datetime, chunk: int = CHUNK) -> Iterator[list[Book]]:
    """Chunks of books, in order of the systems' keys; memory does not grow with their number."""
    keys = list(systems.order_by("pk").values_list("pk", flat=True))
    for begin in range(0, len(keys), chunk):
        yield read_books(keys[begin : begin + chunk], known_at)


def read_books(keys: Sequence[int], known_at: datetime) -> list[Book]:
    systems = System.objects.filter(pk__in=keys).select_related("site__owner").order_by("pk")
    records = _records(keys, known_at)
    runs = _runs(keys, {row.pk for rows in records.values() for row in rows})
    vented = _vented(keys, known_at)
    policies = {policy.owner_id: policy for policy in OwnerPolicy.objects.all()}
    return [
        Book(
            system=system,
            known_at=known_at,
            facts=_facts(system, policies, runs[system.pk]),
            records=records[system.pk],
            runs=runs[system.pk],
            has_vent=system.pk in vented,
        )
        for system in systems
    ]


def _records(keys: Sequence[int], known_at: datetime) -> dict[int, list[Record]]:
    found: dict[int, list[Record]] = defaultdict(list)
    rows = Record.objects.filter(system__in=keys, occurred_at__lte=known_at).as_of(known_at)
    fields = ("system_id", "sequence", "kind", "occurred_at", "recorded_at", "details", "note")
    for row in rows.only(*fields).order_by("system_id", "occurred_at", "sequence"):
        found[row.system_id].append(row)
    return found


def _runs(keys: Sequence[int], known: set[int]) -> dict[int, list[PipeRun]]:
    """Runs whose record counted then; one without a record counts while it is current."""
    found: dict[int, list[PipeRun]] = defaultdict(list)
    rows = PipeRun.objects.filter(system__in=keys).select_related("superseded_by")
    for run in rows.order_by("system_id", "pk"):
        if run.record_id in known if run.record_id else _is_current(run):
            found[run.system_id].append(run)
    return found


def _is_current(run: PipeRun) -> bool:
    return not run.is_withdrawn and not hasattr(run, "superseded_by")


def _vented(keys: Sequence[int], known_at: datetime) -> set[int]:
    day = known_at.date()
    vents = Fitting.objects.filter(system__in=keys, kind=Fitting.Kind.VENT)
    return {
        vent.system_id
        for vent in vents
        if (vent.fitted_on is None or vent.fitted_on <= day)
        and (vent.removed_on is None or vent.removed_on > day)
    }


def _facts(system: System, policies: dict[int, OwnerPolicy], runs: list[PipeRun]) -> SystemFacts:
    volume_m3 = system.volume_override_m3 or sum(run.volume_m3 for run in runs)
    policy = policies.get(system.site.owner_id) or OwnerPolicy(owner=system.site.owner)
    return system_facts(system, policy=policy, volume_m3=volume_m3)

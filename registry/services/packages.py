"""A package for an outsider, out of the database: what is asked for in full, the rest by its hash.

The log is brought up to date first, and the package holds what the log held then: records written
while it streams are not in it, so that the rows are the same each time they are read.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import IO, Any

from django.db.models import F, Q, QuerySet

from registry.chain import canonical_json
from registry.models import Organisation, OwnerLog, OwnerRecord, Record, System, User
from registry.owner_ledger import Names, body_of
from registry.proof.cells import csv_lines
from registry.proof.checkpoints import Checkpoint
from registry.proof.notes import Note, parse_note
from registry.proof.package import About, Between, Ledger, Line, Log, Package
from registry.proof.tree import consistency_proof, inclusion_proof
from registry.services.log import make_checkpoint, number_all, reader
from registry.services.log_keys import signer_of
from registry.services.packaged_rows import COLUMNS, PackagedRows, ledgers

CHUNK = 2000
OLDER = 200
"""As many checkpoints have a proof in a package that does not hold the whole log."""
LEAF_BYTES, PROOF_BYTES = 32, 700

Extra = tuple[str, Iterable[bytes], str]
"""A further file: its name, its pieces, and what it is."""


@dataclass(frozen=True)
class Scope:
    """What somebody asked for; everything of the owner where nothing else is said."""

    owner: Organisation
    sites: tuple[str, ...] = ()
    systems: tuple[str, ...] = ()
    since: datetime | None = None
    until: datetime | None = None
    kinds: tuple[str, ...] = ()

    @property
    def is_whole(self) -> bool:
        return not (self.sites or self.systems or self.since or self.until or self.kinds)

    @property
    def words(self) -> dict[str, Any]:
        return {
            "sites": list(self.sites),
            "systems": list(self.systems),
            "happened_from": self.since.isoformat() if self.since else None,
            "happened_before": self.until.isoformat() if self.until else None,
            "kinds": list(self.kinds),
        }

    def of_systems(self) -> QuerySet[System]:
        systems = System.objects.filter(site__owner=self.owner, logged__isnull=False)
        if self.sites:
            systems = systems.filter(site__name__in=self.sites)
        if self.systems:
            systems = systems.filter(tag__in=self.systems)
        return systems

    def records(self) -> QuerySet[Record]:
        """All of the systems asked for."""
        wanted = Q(system__site__owner=self.owner)
        wanted &= Q(system__site__name__in=self.sites) if self.sites else Q()
        wanted &= Q(system__tag__in=self.systems) if self.systems else Q()
        return Record.objects.filter(wanted)

    def asked_for(self) -> QuerySet[Record]:
        wanted = Q(occurred_at__gte=self.since) if self.since else Q()
        wanted &= Q(occurred_at__lt=self.until) if self.until else Q()
        wanted &= Q(kind__in=self.kinds) if self.kinds else Q()
        return self.records().filter(wanted)


def write_package(
    out: IO[bytes],
    *,
    scope: Scope,
    made_by: User,
    now: datetime,
    more: Callable[["Source"], Iterable[Extra]] | None = None,
    on_row: Callable[[], None] = lambda: None,
) -> str:
    """Writes it and returns the SHA-256 of its manifest. `more` adds what other apps keep, and
    `on_row` hears of each record that is written."""
    number_all(scope.owner, now=now)
    checkpoint = make_checkpoint(scope.owner, now=now)
    source = Source(scope, checkpoint.log, checkpoint.size, now)
    about = About(
        owner=scope.owner.name,
        made_at=now,
        made_by=str(made_by),
        scope=scope.words,
        is_whole=scope.is_whole,
    )
    log = source.log_part(checkpoint.note)
    package = Package(out, about, log, signer_of(checkpoint.log))
    package.add_systems(source.ledgers())
    package.add_records(lambda: _heard(source.rows(), on_row), COLUMNS)
    if source.owner_records().exists():
        package.add_owner(source.owner_rows, None if log.leaves else source.owner_proofs)
    package.add(
        "people.csv", source.people(), "Who recorded, under the name of the day it was made."
    )
    for name, pieces, what in more(source) if more else ():
        package.add(name, pieces, what)
    return package.close()


def _heard(rows: Iterator[Line | Between], on_row: Callable[[], None]) -> Iterator[Line | Between]:
    for row in rows:
        on_row()
        yield row


@dataclass(frozen=True)
class Source:
    """The rows of a package, as the log held them at `size`."""

    scope: Scope
    log: OwnerLog
    size: int
    now: datetime

    def records(self) -> QuerySet[Record]:
        return self.scope.records().filter(log_leaf__number__lt=self.size)

    def asked_for(self) -> QuerySet[Record]:
        return self.scope.asked_for().filter(log_leaf__number__lt=self.size)

    def ledgers(self) -> Iterator[Ledger]:
        return ledgers(self.records())

    def rows(self) -> Iterator[Line | Between]:
        scope = self.scope
        rows = PackagedRows(self.names, since=scope.since, until=scope.until, kinds=scope.kinds)
        return rows.read(self.records())

    def people(self) -> Iterator[bytes]:
        ids = self.asked_for().order_by().values("recorded_by")
        people = User.objects.filter(pk__in=ids).order_by("uuid").values_list("uuid", "name")
        for line in csv_lines(("id", "name"), people.iterator(CHUNK)):
            yield line.encode()

    def log_part(self, note: str) -> Log:
        """Whichever is smaller of the whole log and a proof for each row."""
        parsed = parse_note(note)
        count = self.records().count()
        if self.scope.is_whole or LEAF_BYTES * self.size <= PROOF_BYTES * count:
            return Log(parsed, leaves=self._leaves, handed_over=self._handed_over())
        return Log(
            parsed,
            proofs=self._proofs,
            consistency=self._consistency(),
            handed_over=self._handed_over(),
        )

    def _handed_over(self) -> list[Note]:
        notes = self.log.keys.exclude(note="").order_by("pk").values_list("note", flat=True)
        return [parse_note(note) for note in notes]

    def owner_records(self) -> QuerySet[OwnerRecord]:
        """Those of the owner's own ledger that the log held."""
        rows = OwnerRecord.objects.filter(
            ledger__owner=self.scope.owner, log_leaf__number__lt=self.size
        )
        return rows.order_by("sequence")

    def owner_rows(self) -> Iterator[Line | Between]:
        """What is about other sites than those asked for is there by its hash alone."""
        rows = self.owner_records().annotate(log_number=F("log_leaf__number"))
        sites = self._sites_asked_for()
        told: set[tuple[str, str]] = set()
        for row in rows.select_related("ledger", "recorded_by").iterator(CHUNK):
            is_of = sites is None or _is_of(row, sites, told)
            if is_of:
                told.add((row.subject, row.key))
                body = canonical_json(body_of(row))
                yield Line("", row.sequence, row.hash, row.log_number, row.previous_hash, body)
            else:
                yield Between("", row.sequence, row.hash, row.log_number)

    def _sites_asked_for(self) -> set[int] | None:
        """None: all of the owner's."""
        if not (self.scope.sites or self.scope.systems):
            return None
        return set(self.scope.of_systems().order_by().values_list("site", flat=True))

    def owner_proofs(self) -> Iterator[list[bytes]]:
        for number in self.owner_records().values_list("log_leaf__number", flat=True):
            yield inclusion_proof(number, self.size, self._read)

    def _leaves(self) -> Iterator[bytes]:
        leaves = self.log.leaves.filter(number__lt=self.size).order_by("number")
        for hash in leaves.values_list("hash", flat=True).iterator(CHUNK):
            yield bytes.fromhex(hash)

    def _proofs(self) -> Iterator[list[bytes]]:
        rows = self.records().order_by("system__uuid", "sequence")
        for number in rows.values_list("log_leaf__number", flat=True).iterator(CHUNK):
            yield inclusion_proof(number, self.size, self._read)

    def _consistency(self) -> Iterator[tuple[int, list[bytes]]]:
        older = self.log.checkpoints.filter(size__gt=0, size__lt=self.size).order_by("-size")
        for note in older.values_list("note", flat=True)[:OLDER]:
            size = Checkpoint.from_text(parse_note(note).text).size
            yield size, consistency_proof(size, self.size, self._read)

    @cached_property
    def names(self) -> Names:
        return Names(self.scope.owner)

    @cached_property
    def _read(self):
        return reader(self.log)


def _is_of(row: OwnerRecord, sites: set[int], told: set[tuple[str, str]]) -> bool:
    """What is of no site is of all of them; what is taken away was told of before."""
    if row.change == OwnerRecord.Change.REMOVED:
        return (row.subject, row.key) in told
    if row.subject in ("site", "winter"):
        return int(row.key) in sites
    return row.facts.get("site") is None or row.facts["site"] in sites

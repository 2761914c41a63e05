"""Whoever changes what an owner's ledger is about calls this in the same transaction."""

from collections.abc import Collection, Iterator
from datetime import datetime

from django.db import transaction

from registry.chain import GENESIS, canonical_json, record_hash
from registry.models import Organisation, OwnerLedger, OwnerRecord, User
from registry.owner_ledger import Facts, all_subjects, body_of, facts_of, few_subjects, fold
from registry.translation import in_english

Change = OwnerRecord.Change
LEDGER = "ledger"


@in_english()
def note_changes(
    owner: Organisation, *, by: User | None, now: datetime, subjects: Collection[str] | None = None
) -> int:
    """Write what stands otherwise than the ledger says; returns how many records that took. Held
    against it are `subjects`, or those of which there are few.
    Nothing before the ledger has begun: what is there then is written as it is found."""
    if not OwnerLedger.objects.filter(owner=owner).exists():
        return 0
    return _write(owner, by, now, subjects or few_subjects())


@transaction.atomic
@in_english()
def begin_ledger(owner: Organisation, *, now: datetime, by: User | None = None) -> None:
    """Where it has begun already, what changed since is written, as done `by` that person."""
    OwnerLedger.objects.get_or_create(owner=owner)
    _write(owner, by, now, all_subjects())


@transaction.atomic
def _write(owner: Organisation, by: User | None, now: datetime, subjects: Collection[str]) -> int:
    """The ledger's row is held last of all, by everybody."""
    ledger = OwnerLedger.objects.get(owner=owner)
    held = OwnerLedger.objects.select_for_update().get(pk=ledger.pk)
    has_begun = held.next_sequence > 1
    said = fold(held.records.filter(subject__in=subjects).order_by("sequence"))
    written = [] if has_begun else [_row(held, LEDGER, "", Change.BEGUN, {}, now)]
    for subject, key, change, facts in _changes(said, facts_of(owner, subjects)):
        written.append(_row(held, subject, key, change, facts, now))
    for row in written:
        row.recorded_by = by if has_begun else None
        _chain(held, row)
    OwnerRecord.objects.bulk_create(written, batch_size=1000)
    held.save(update_fields=["next_sequence", "head_hash"])
    return len(written)


def note_everywhere(*, by: User | None, now: datetime) -> None:
    """A person or an organisation was changed: every owner that knows of it."""
    for owner in Organisation.objects.filter(ledger__isnull=False).order_by("pk"):
        note_changes(owner, by=by, now=now)


def begin_missing(now: datetime) -> int:
    """Ledgers of owners that have none yet: what is there is written as it is found."""
    owners = (
        Organisation.objects.filter(sites__isnull=False, ledger__isnull=True)
        .distinct()
        .order_by("pk")
    )
    for owner in owners:
        begin_ledger(owner, now=now)
    return len(owners)


def _changes(said: Facts, there: Facts) -> Iterator[tuple[str, str, str, dict]]:
    for (subject, key), facts in sorted(there.items()):
        if (subject, key) not in said:
            yield subject, key, Change.ENTERED, facts
        elif canonical_json(said[subject, key]) != canonical_json(facts):
            yield subject, key, Change.CHANGED, facts
    for subject, key in sorted(said.keys() - there.keys()):
        yield subject, key, Change.REMOVED, {}


def _row(
    ledger: OwnerLedger, subject: str, key: str, change: str, facts: dict, now: datetime
) -> OwnerRecord:
    return OwnerRecord(
        ledger=ledger, subject=subject, key=key, change=change, facts=facts, recorded_at=now
    )


def _chain(ledger: OwnerLedger, row: OwnerRecord) -> None:
    row.sequence = ledger.next_sequence
    row.previous_hash = ledger.head_hash or GENESIS
    row.hash = record_hash(row.previous_hash, body_of(row))
    ledger.next_sequence += 1
    ledger.head_hash = row.hash

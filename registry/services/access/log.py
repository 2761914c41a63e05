"""The log of access: what stands otherwise than it says is written, whoever changed it and how.

Whatever gives, changes or ends access runs within `changing_access`. What was there before the log
began is written as found, so that nothing is put down to somebody who did not do it.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import Q

from registry.chain import canonical_json
from registry.models import AccessEntry, Organisation, User
from registry.services.access.facts import Held, held_by
from registry.services.locking import hold
from registry.services.owner_ledger import note_changes

Change = AccessEntry.Change


@dataclass
class Changing:
    """Who does it, and whose access it is about: both may be known only on the way."""

    by: User | None
    organisations: dict[int, Organisation]

    def add(self, organisation: Organisation) -> None:
        """One that has just been made: all that is in it was given now."""
        self.organisations[organisation.pk] = organisation


@contextmanager
def changing_access(
    *organisations: Organisation, by: User | None, now: datetime
) -> Iterator[Changing]:
    """Holds the organisations, and writes into their logs and the ledgers of the owners near them
    what differs afterwards."""
    change = Changing(by, {one.pk: one for one in organisations})
    with transaction.atomic():
        for _key, one in sorted(change.organisations.items()):
            hold(one)
            begin(one, now)
        yield change
        for _key, one in sorted(change.organisations.items()):
            note(one, by=change.by, now=now)
        for owner in owners_near(change.organisations):
            note_changes(owner, by=change.by, now=now)


def begin(organisation: Organisation, now: datetime) -> None:
    if not organisation.access_log.exists():
        _write(organisation, [(Change.FOUND, held) for held in held_by(organisation)], None, now)


def begin_everywhere(now: datetime) -> None:
    for one in Organisation.objects.order_by("pk"):
        begin(one, now)


def note(organisation: Organisation, *, by: User | None, now: datetime) -> None:
    said = _said(organisation)
    there = list(held_by(organisation))
    changes = [
        (Change.CHANGED if (held.subject, held.key) in said else Change.GIVEN, held)
        for held in there
        if _differs(said.get((held.subject, held.key)), held)
    ]
    gone = said.keys() - {(held.subject, held.key) for held in there}
    for subject, key in sorted(gone):
        before = said[subject, key]
        changes.append((Change.ENDED, Held(subject, key, before.facts, before.words)))
    _write(organisation, changes, by, now)


def note_everybody(*, by: User | None, now: datetime) -> None:
    """Where nobody can say beforehand what will be touched: the admin site, a person's own name."""
    for one in Organisation.objects.order_by("pk"):
        note(one, by=by, now=now)


def owners_near(keys: Iterable[int]):
    keys = list(keys)
    near = Q(pk__in=keys) | Q(sites__service_contracts__contractor__in=keys)
    near |= Q(audit_access_given__auditor__in=keys)
    found = Organisation.objects.filter(near, kind=Organisation.Kind.OWNER)
    return found.distinct().order_by("pk")


def _said(organisation: Organisation) -> dict[tuple[str, str], AccessEntry]:
    said: dict[tuple[str, str], AccessEntry] = {}
    for entry in organisation.access_log.order_by("pk"):
        if entry.change == Change.ENDED:
            said.pop((entry.subject, entry.key), None)
        else:
            said[entry.subject, entry.key] = entry
    return said


def _differs(entry: AccessEntry | None, held: Held) -> bool:
    return entry is None or canonical_json(entry.facts) != canonical_json(held.facts)


def _write(
    organisation: Organisation,
    changes: list[tuple[Change, Held]],
    by: User | None,
    now: datetime,
) -> None:
    AccessEntry.objects.bulk_create(
        AccessEntry(
            organisation=organisation,
            at=now,
            by=by,
            by_name=f"{by.name} <{by.email}>" if by else "",
            subject=held.subject,
            key=held.key,
            change=change,
            facts=held.facts,
            words=held.words,
        )
        for change, held in changes
    )

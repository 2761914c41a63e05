"""What the records of an owner's ledger say, and what they said on some day."""

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

from registry.models import Organisation, OwnerRecord, User
from registry.owner_ledger.facts import Facts

REMOVED = OwnerRecord.Change.REMOVED
BEGUN = OwnerRecord.Change.BEGUN


def body_of(row: OwnerRecord) -> dict[str, Any]:
    """All that the hash covers besides the hash before it."""
    return {
        "owner": row.ledger.owner_id,
        "sequence": row.sequence,
        "uuid": str(row.uuid),
        "subject": row.subject,
        "key": row.key,
        "change": row.change,
        "facts": row.facts,
        "recorded_at": row.recorded_at.astimezone(UTC).isoformat(),
        "recorded_by": str(row.recorded_by.uuid) if row.recorded_by else None,
    }


def fold(rows: Iterable[OwnerRecord]) -> Facts:
    """What stands after these, in their order."""
    said: Facts = {}
    for row in rows:
        if row.change == REMOVED:
            said.pop((row.subject, row.key), None)
        elif row.change != BEGUN:
            said[row.subject, row.key] = row.facts
    return said


def facts_at(owner: Organisation, when: datetime) -> Facts | None:
    """None where the ledger had not begun: it is not on record."""
    rows = OwnerRecord.objects.filter(ledger__owner=owner, recorded_at__lte=when)
    rows = rows.order_by("sequence")
    return fold(rows) if rows.exists() else None


class Names:
    """Who was called what when, by the id of the person, as the owner's ledger tells it."""

    def __init__(self, owner: Organisation | int):
        self._told: dict[str, list[tuple[datetime, str]]] = {}
        rows = OwnerRecord.objects.filter(ledger__owner=owner, subject="person")
        for row in rows.exclude(change=REMOVED).order_by("sequence"):
            self._told.setdefault(row.key, []).append((row.recorded_at, row.facts["name"]))

    def are_many(self, person: User) -> bool:
        """Whether it matters when."""
        return len(self._told.get(str(person.uuid), ())) > 1

    def at(self, person: User, when: datetime) -> str:
        """Before the ledger tells of them, the first name that it has; else that of today."""
        told = self._told.get(str(person.uuid), [])
        name = told[0][1] if told else person.name
        for since, called in told:
            if since <= when:
                name = called
        return name or str(person)

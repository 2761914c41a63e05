"""Names under which calendars know recurring work (RFC 7986 5.3: a UUID that tells nothing).

An occurrence that is expected is named by its system, item and due day. The row that is made when
its turn comes takes that name and keeps it when its due day moves.
"""

from collections.abc import Iterator
from datetime import date
from itertools import count
from uuid import UUID, uuid5

NAMESPACE = UUID("d5f0a9d4-6f0e-4b7e-8a3c-2f1f4f1f6b11")


def rhythm_uid(system: UUID, key: str) -> UUID:
    return uuid5(NAMESPACE, f"{system} {key}")


def occurrence_uids(system: UUID, key: str, due_on: date) -> Iterator[UUID]:
    """The first that is free is meant: a row that moved away from a day keeps the name it had, and
    what is due on that day afterwards is another thing."""
    for turn in count():
        again = f" {turn}" if turn else ""
        yield uuid5(NAMESPACE, f"{system} {key} {due_on.isoformat()}{again}")

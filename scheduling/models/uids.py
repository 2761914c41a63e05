"""Names under which calendars know recurring work (RFC 7986 5.3: a UUID that tells nothing).

What is expected has the name that its row will take, and the row keeps it when its day moves. On a
fixed calendar that name is made from the due day. Where the interval counts from completion, days
ahead move with each day that the work is late, so there each is named by the one before it.
"""

from collections.abc import Iterator
from datetime import date
from itertools import count
from uuid import UUID, uuid5

NAMESPACE = UUID("d5f0a9d4-6f0e-4b7e-8a3c-2f1f4f1f6b11")


def rhythm_uid(system: UUID, key: str) -> UUID:
    return uuid5(NAMESPACE, f"{system} {key}")


def following_uid(before: UUID) -> UUID:
    return uuid5(NAMESPACE, str(before))


def occurrence_uids(
    system: UUID, key: str, due_on: date, before: UUID | None = None
) -> Iterator[UUID]:
    """The first that is free is meant: a row that moved away from a day keeps the name it had, and
    what is due on that day afterwards is another thing. `before` is the occurrence it follows,
    where the interval counts from completion."""
    if before:
        yield following_uid(before)
    for turn in count():
        again = f" {turn}" if turn else ""
        yield uuid5(NAMESPACE, f"{system} {key} {due_on.isoformat()}{again}")

"""Messages as rows: written once per recipient, kind and cause, claimed, settled.

A claim is a conditional UPDATE, so of two workers one gets it. One that was not settled within
`LEASE` belonged to a worker that died, and is taken over. The one moment in which a death, or a
line that breaks, can make a mail go out twice lies between the mail server's taking the mail and
the commit of `settle_sent`: SMTP has no way to ask afterwards. The repeat then bears the same
Message-ID. A death at any other moment repeats nothing and loses nothing.
"""

import logging
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from uuid import UUID, uuid4

from django.db.models import F

from registry.models import User
from scheduling.models import Message, Task, WebhookEndpoint

log = logging.getLogger(__name__)

WAITS = tuple(timedelta(minutes=m) for m in (1, 5, 30, 120, 360, 720, 1440))
"""How long to wait after each failed attempt; one more failure than these and it is given up."""
LAST_ATTEMPT = len(WAITS) + 1
GATHERING = timedelta(minutes=2)
"""Follow-ups given within this time of each other go into one mail."""
ERROR_LENGTH = 500

State = Message.State


@dataclass(frozen=True)
class Parcel:
    """What one claim holds, for one recipient: sent together or not at all."""

    key: UUID
    claimed_at: datetime
    messages: list[Message]

    @property
    def first(self) -> Message:
        return self.messages[0]

    @property
    def attempts(self) -> int:
        return max(message.attempts for message in self.messages)

    def without(self, needless: list[Message]) -> "Parcel":
        gone = {message.pk for message in needless}
        kept = [message for message in self.messages if message.pk not in gone]
        return replace(self, messages=kept)

    def held(self):
        return Message.objects.of_parcel(self.key, self.claimed_at)


def write(
    *,
    kind: str,
    cause_key: str,
    now: datetime,
    people: Iterable[User] = (),
    endpoints: Iterable[WebhookEndpoint] = (),
    task: Task | None = None,
    body: str = "",
    wait: timedelta = timedelta(0),
) -> None:
    """Tell each recipient once: one who was told of this cause before is not told again."""
    common = {
        "kind": kind, "cause_key": cause_key, "task": task, "body": body,
        "created_at": now, "not_before": now + wait,
    }  # fmt: skip
    rows = [Message(person=person, **common) for person in people]
    rows += [Message(endpoint=endpoint, **common) for endpoint in endpoints]
    Message.objects.bulk_create(rows, ignore_conflicts=True)


def claim(now: datetime) -> Parcel | None:
    """The next parcel, held for this worker; None when nothing is due."""
    while first := Message.objects.due(now).order_by("not_before", "pk").first():
        key = first.parcel or uuid4()
        taken = _companions(first, now).update(
            state=State.CLAIMED, parcel=key, claimed_at=now, attempts=F("attempts") + 1
        )
        if taken:
            held = Message.objects.of_parcel(key, now).select_related("person", "endpoint")
            return Parcel(key, now, list(held.order_by("pk")))
    return None


def _companions(first: Message, now: datetime):
    """What travels with a message: what did before, or what waits for the same person."""
    due = Message.objects.due(now)
    if first.parcel:
        return due.filter(parcel=first.parcel)
    if first.endpoint_id:
        return due.filter(pk=first.pk, parcel=None)
    return due.filter(person=first.person_id, kind=first.kind, parcel=None)


def settle_sent(parcel: Parcel, now: datetime) -> None:
    _settle(parcel, parcel.messages, State.SENT, now, "")


def drop(parcel: Parcel, messages: list[Message], reason: str, now: datetime) -> None:
    """Not needed any more: the reader may not see it, does not want it, or it is over."""
    if messages:
        _settle(parcel, messages, State.DROPPED, now, reason)


def give_up(parcel: Parcel, error: str, now: datetime) -> None:
    _settle(parcel, parcel.messages, State.FAILED, now, error)


def _settle(parcel: Parcel, messages: list[Message], state: str, now: datetime, error: str) -> None:
    keys = [message.pk for message in messages]
    done = parcel.held().filter(pk__in=keys).update(
        state=state, settled_at=now, claimed_at=None, last_error=error[:ERROR_LENGTH]
    )  # fmt: skip
    if done < len(keys):
        log.warning("messages.claim_lost parcel=%s: this worker was slower than LEASE", parcel.key)


def put_off(parcel: Parcel, until: datetime) -> None:
    """Back into the queue without a failed attempt: it is quiet where the reader is. What was
    never tried may travel with what comes meanwhile."""
    parcel.held().update(
        state=State.PENDING,
        not_before=until,
        claimed_at=None,
        attempts=F("attempts") - 1,
        parcel=parcel.key if parcel.attempts > 1 else None,
    )


def retry_later(parcel: Parcel, error: str, now: datetime) -> None:
    """Back off by the number of attempts; after the last one give up, with the error on show."""
    if parcel.attempts >= LAST_ATTEMPT:
        return give_up(parcel, error, now)
    parcel.held().update(
        state=State.PENDING,
        not_before=now + WAITS[parcel.attempts - 1],
        claimed_at=None,
        last_error=error[:ERROR_LENGTH],
    )
    return None


def try_again(message: Message, now: datetime) -> bool:
    """By hand, after giving up; False when it has been taken up already."""
    return bool(
        Message.objects.filter(pk=message.pk, state=State.FAILED).update(
            state=State.PENDING, not_before=now, settled_at=None, attempts=0
        )
    )

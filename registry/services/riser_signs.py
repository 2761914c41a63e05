"""Signs are made, put up and ended; the secret in the code is handed out once."""

from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from secrets import token_urlsafe

from django.db import transaction

from registry.models import RiserSign, System, User
from registry.riser_sign.facts import SignFacts, refusal, sign_facts
from registry.services.ledger import lock

SECRET_BYTES = 16
"""128 bits; longer ones make the code on a wall finer, and so harder to read from afar."""


class SignError(ValueError):
    """A system that there is no sign for; the text says why."""


@dataclass(frozen=True)
class MadeSign:
    sign: RiserSign
    facts: SignFacts
    secret: str


@transaction.atomic
def make_sign(
    *, system: System, made_by: User, now: datetime, ends_others: bool = False
) -> MadeSign:
    """The code on the wall goes on until the new one is said to be up, or at once where asked."""
    book = lock(system)
    if why := refusal(book, now):
        raise SignError(why)
    if ends_others:
        end_signs(system=book, now=now)
    facts, secret = sign_facts(book, now), token_urlsafe(SECRET_BYTES)
    sign = RiserSign.objects.create(
        system=book,
        digest=_digest(secret),
        content=facts.digest,
        made_by=made_by,
        made_at=now,
        from_sequence=book.next_sequence - 1,
    )
    return MadeSign(sign, facts, secret)


@transaction.atomic
def put_up(*, sign: RiserSign, by: User, now: datetime) -> None:
    """From now on it is the only one: the codes of the others open nothing."""
    lock(sign.system)
    others = RiserSign.objects.live().filter(system=sign.system_id).exclude(pk=sign.pk)
    others.update(ended_at=now)
    RiserSign.objects.live().filter(pk=sign.pk).update(put_up_at=now, put_up_by=by)


def end_signs(*, system: System, now: datetime) -> int:
    return RiserSign.objects.live().filter(system=system).update(ended_at=now)


def find_sign(secret: str) -> RiserSign | None:
    """By digest: how long it takes tells nothing of how much of a guess was right. A system that
    was taken back out of the register has none."""
    live = RiserSign.objects.live().filter(system__taken_back_at__isnull=True)
    rows = live.select_related("system__site__owner", "system__building")
    return rows.filter(digest=_digest(secret)).first()


def _digest(secret: str) -> str:
    return sha256(secret.encode()).hexdigest()

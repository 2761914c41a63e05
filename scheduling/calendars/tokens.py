"""Secret addresses of calendar feeds: given out once, looked up by digest, taken back."""

import hashlib
import secrets
from collections.abc import Collection
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Model, Q

from registry.models import User
from scheduling.models import FeedToken

SECRET_BYTES = 32
HOLDINGS = ("tasks", "recurring", "impairments")
FETCH_NOTED_EVERY = timedelta(minutes=5)


def issue_token(
    *,
    user: User,
    label: str,
    scope: str,
    now: datetime,
    alarm: str = FeedToken.Alarm.DAY,
    detail: str = FeedToken.Detail.FULL,
    holds: Collection[str] = ("tasks",),
    horizon_days: int = FeedToken.Horizon.PLANNED,
    **named: Model | None,
) -> tuple[FeedToken, str]:
    """The token, and its secret, which cannot be had again. `holds` names what is in the feed; of
    the rows in `named` only the one that the scope asks for is kept."""
    secret = secrets.token_urlsafe(SECRET_BYTES)
    token = FeedToken.objects.create(
        user=user,
        label=label,
        scope=scope,
        alarm=alarm,
        detail=detail,
        **{f"with_{name}": name in holds for name in HOLDINGS},
        horizon_days=horizon_days,
        **({scope: named[scope]} if scope != FeedToken.Scope.PERSON else {}),
        digest=digest_of(secret),
        created_at=now,
    )
    return token, secret


def revoke_token(*, token: FeedToken, now: datetime) -> None:
    FeedToken.objects.filter(pk=token.pk, revoked_at__isnull=True).update(revoked_at=now)


def find_token(secret: str) -> FeedToken | None:
    """By digest: how long the look-up takes tells nothing about how much of a guess was right."""
    live = FeedToken.objects.live().select_related(
        "user", "site", "building", "system", "contractor", "crew"
    )
    return live.filter(digest=digest_of(secret)).first()


def still_shows(token: FeedToken, rests_on: str, now: datetime) -> bool:
    """What was found last holds: nothing that it rests on has changed, and no time alone has. A
    clock that is behind that moment tells nothing of it."""
    if not token.rests_on or token.shows_since is None or token.shows_until is None:
        return False
    return token.rests_on == rests_on and token.shows_since <= now < token.shows_until


def remember(token: FeedToken, **found: Any) -> None:
    """Of two that find something at once the last one is kept; each is true of what it rests on."""
    for name, value in found.items():
        setattr(token, name, value)
    FeedToken.objects.filter(pk=token.pk).update(**found)


def note_fetch(*, token: FeedToken, now: datetime) -> None:
    """Every few minutes at most, so that a busy calendar program costs no write a fetch."""
    long_ago = Q(last_fetched_at__isnull=True) | Q(last_fetched_at__lt=now - FETCH_NOTED_EVERY)
    long_ago |= Q(last_fetched_at__gt=now)  # by a clock that ran ahead
    FeedToken.objects.filter(long_ago, pk=token.pk).update(last_fetched_at=now)


def digest_of(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()

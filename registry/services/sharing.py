"""Secret addresses under which one package can be fetched: given out once, looked up by digest."""

from datetime import datetime, timedelta
from hashlib import sha256
from secrets import token_urlsafe

from django.db.models import F

from registry.models import PackageLink, RecordPackage, User
from registry.services.access import changing_access

SECRET_BYTES = 32
LONGEST = timedelta(days=14)


class SharingError(ValueError):
    """A package that cannot be shared, or not for so long."""


def share_package(
    *, package: RecordPackage, label: str, days: int, made_by: User, now: datetime
) -> tuple[PackageLink, str]:
    """The link, and its secret, which cannot be had again. It ends with the file at the latest."""
    if not package.file or package.kept_until is None or not 1 <= days <= LONGEST.days:
        raise SharingError("There is no file to share, or not for so many days.")
    secret = token_urlsafe(SECRET_BYTES)
    with changing_access(package.owner, by=made_by, now=now):
        link = PackageLink.objects.create(
            package=package,
            label=label,
            digest=_digest(secret),
            made_by=made_by,
            made_at=now,
            expires_at=min(now + timedelta(days=days), package.kept_until),
        )
    return link, secret


def find_link(secret: str, now: datetime) -> PackageLink | None:
    """By digest: how long the look-up takes tells nothing of how much of a guess was right."""
    live = PackageLink.objects.live(now).select_related("package__owner")
    return live.filter(digest=_digest(secret)).first()


def revoke_link(*, link: PackageLink, now: datetime, revoked_by: User | None = None) -> None:
    with changing_access(link.package.owner, by=revoked_by, now=now):
        PackageLink.objects.filter(pk=link.pk, revoked_at__isnull=True).update(revoked_at=now)


def note_fetch(*, link: PackageLink, now: datetime) -> None:
    PackageLink.objects.filter(pk=link.pk).update(fetched=F("fetched") + 1, last_fetched_at=now)


def _digest(secret: str) -> str:
    return sha256(secret.encode()).hexdigest()

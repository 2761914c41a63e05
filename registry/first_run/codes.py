"""The address that `make start` prints: it opens an empty book, once."""

import secrets
from datetime import datetime
from hashlib import sha256

from registry.models import FirstCode, User


def new_code(now: datetime) -> str | None:
    """A code in place of any before it; None when somebody signs in already."""
    if User.objects.exists():
        FirstCode.objects.all().delete()
        return None
    code = secrets.token_urlsafe(12)
    FirstCode.objects.all().delete()
    FirstCode.objects.create(digest=_digest(code), made_at=now)
    return code


def is_open(code: str) -> bool:
    return FirstCode.objects.filter(digest=_digest(code)).exists() and not User.objects.exists()


def use(code: str) -> bool:
    """Of two who open the same address at once one gets the book."""
    return bool(FirstCode.objects.filter(digest=_digest(code)).delete()[0])


def _digest(code: str) -> str:
    return sha256(code.encode()).hexdigest()

"""Passwords cannot be guessed without end: after so many wrong ones there is a wait.

Counted by account and by the machine that asks, so that a stranger does not shut a person out;
and by account alone with a higher limit, for guesses that come from many machines. Behind a proxy
all come from one. The counts are kept in the cache: without Redis each process has its own.
"""

from hashlib import sha256
from typing import Any

from django.contrib.auth.backends import ModelBackend
from django.core.cache import cache
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest

MOST_FROM_ONE, MOST_FROM_ALL = 10, 100
WAIT_S = 15 * 60


class SlowedBackend(ModelBackend):
    def authenticate(self, request, username=None, password=None, **kwargs: Any):
        """While there is a wait the right password is refused too, or a guess would still tell."""
        if username is None or password is None:
            return None
        if must_wait(request, username):
            raise PermissionDenied
        person = super().authenticate(request, username, password, **kwargs)
        if person is None:
            _count(request, username)
        else:
            cache.delete(_by_machine(request, username))
        return person


def must_wait(request: HttpRequest | None, username: str) -> bool:
    from_one, from_all = _by_machine(request, username), _by_account(username)
    counts = cache.get_many([from_one, from_all])
    return counts.get(from_one, 0) >= MOST_FROM_ONE or counts.get(from_all, 0) >= MOST_FROM_ALL


def _count(request: HttpRequest | None, username: str) -> None:
    for key in (_by_machine(request, username), _by_account(username)):
        if not cache.add(key, 1, WAIT_S):
            try:
                cache.incr(key)
            except ValueError:  # it expired between the two
                cache.add(key, 1, WAIT_S)


def _by_machine(request: HttpRequest | None, username: str) -> str:
    machine = request.META.get("REMOTE_ADDR", "") if request else ""
    return f"{_by_account(username)}:{sha256(machine.encode()).hexdigest()[:16]}"


def _by_account(username: str) -> str:
    return f"sign-in:{sha256(username.strip().casefold().encode()).hexdigest()}"

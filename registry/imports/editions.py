"""Which editions a load may adopt at its sites; whoever plans recurring work knows them."""

from collections.abc import Callable

Editions = Callable[[], tuple[tuple[str, str], ...]]
_offered: list[Editions] = []


def offer(editions: Editions) -> Editions:
    """Codes and titles of what can be adopted; given by the app that keeps them."""
    _offered.append(editions)
    return editions


def offered() -> tuple[tuple[str, str], ...]:
    return tuple(edition for editions in _offered for edition in editions())

"""The atmosphere over time as an assessment takes it: read where it is stored, else derived."""

from bisect import bisect_right
from collections.abc import Sequence
from datetime import datetime, timedelta
from operator import attrgetter
from typing import NamedTuple

from registry.assess.books import Book, StoredSpan
from registry.atmosphere import Feed, SystemFacts, derive
from registry.atmosphere.drift import drifted_estimate
from registry.atmosphere.feeds import feeds_over_time
from registry.corrosion.constants import OXYGEN_IN_DRY_AIR

DAY = timedelta(days=1)


class Stretch(NamedTuple):
    """A span of the atmosphere without the range of its estimate and without words."""

    starts_at: datetime
    state: str
    oxygen: float
    cause_id: int | None
    feed: Feed


def stretches_of(book: Book) -> list[Stretch]:
    """Those that began before the book was read, oldest first."""
    if book.spans is not None:
        return _from_rows(book, book.spans)
    return [
        Stretch(span.starts_at, span.state, span.oxygen_mid, span.cause_id, span.feed)
        for span in derive(book.facts, book.items, book.known_at)
        if span.starts_at < book.known_at
    ]


def _from_rows(book: Book, rows: Sequence[StoredSpan]) -> list[Stretch]:
    """The rows do not hold the supply, which follows from the few records that changed it."""
    changes = feeds_over_time(book.facts, book.items)
    if len(changes) == 1:
        feed = changes[0][1]
        return [Stretch(*row, feed) for row in rows]
    since = [at for at, _ in changes[1:] if at is not None]
    return [Stretch(*row, changes[bisect_right(since, row.starts_at)][1]) for row in rows]


def stretch_at(stretches: Sequence[Stretch], when: datetime) -> Stretch | None:
    """The stretch that holds at an instant; None before the first."""
    begun = bisect_right(stretches, when, key=attrgetter("starts_at"))
    return stretches[begun - 1] if begun else None


def oxygen_at(stretches: Sequence[Stretch], facts: SystemFacts, when: datetime) -> float:
    """The estimate at an instant, drift included; air before the first stretch."""
    held = stretch_at(stretches, when)
    if held is None:
        return OXYGEN_IN_DRY_AIR
    return drifted_estimate(held.oxygen, facts, held.feed, (when - held.starts_at) / DAY)

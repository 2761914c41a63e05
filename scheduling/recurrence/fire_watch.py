"""How long protection has been out of service within any 24 hours, and when that passes 10.

Ten hours in 24, counted together over separate outages: NFPA 25 chapter 15 and NFPA 1 section
13.1.9, read second hand; 8 h and 3 h on one day count as over 10 h (a public accreditation
answer). Some authorities set less. Check the adopted edition. Hours are elapsed hours: a day on
which the clock changes is still followed by windows of 24.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

LIMIT = timedelta(hours=10)
WINDOW = timedelta(hours=24)
_ZERO = timedelta(0)


@dataclass(frozen=True, slots=True)
class Outage:
    """Protection out of service from `start` to `end`; without an end it lasts."""

    start: datetime
    end: datetime | None = None

    def __post_init__(self) -> None:
        if self.end is not None and self.end < self.start:
            raise ValueError(f"outage ends at {self.end} before it starts at {self.start}")


@dataclass(frozen=True, slots=True)
class Clock:
    """`spent` of the last 24 h; when the limit was passed in the present spell, or will be if the
    system stays out of service."""

    is_out: bool
    spent: timedelta
    left: timedelta
    crossed_at: datetime | None
    crosses_at: datetime | None

    @property
    def is_over(self) -> bool:
        return self.crossed_at is not None


def clock(
    outages: Iterable[Outage],
    *,
    now: datetime,
    limit: timedelta = LIMIT,
    window: timedelta = WINDOW,
) -> Clock:
    rows = list(outages)
    is_out = any(row.start <= now and (row.end is None or row.end > now) for row in rows)
    stretches = merged(rows, until=now + window + limit)
    spent = spent_within(stretches, now, window)
    is_over = spent > limit
    crossings = crossing_instants(stretches, limit, window)
    ahead = min((at for at in crossings if at >= now), default=None)
    return Clock(
        is_out=is_out,
        spent=spent,
        left=max(_ZERO, limit - spent),
        crossed_at=max((at for at in crossings if at < now), default=None) if is_over else None,
        crosses_at=ahead if is_out and not is_over else None,
    )


def merged(outages: Iterable[Outage], *, until: datetime) -> list[tuple[datetime, datetime]]:
    """The outages up to an instant as disjoint stretches: two at once count once."""
    stretches: list[tuple[datetime, datetime]] = []
    for outage in sorted(outages, key=lambda row: row.start):
        start, end = outage.start, min(outage.end or until, until)
        if end <= start:
            continue
        if stretches and start <= stretches[-1][1]:
            stretches[-1] = (stretches[-1][0], max(stretches[-1][1], end))
        else:
            stretches.append((start, end))
    return stretches


def spent_within(
    stretches: Sequence[tuple[datetime, datetime]], at: datetime, window: timedelta = WINDOW
) -> timedelta:
    """Time out of service in the window that ends at an instant."""
    overlaps = (min(end, at) - max(start, at - window) for start, end in stretches)
    return sum((overlap for overlap in overlaps if overlap > _ZERO), _ZERO)


def crossing_instants(
    stretches: Sequence[tuple[datetime, datetime]],
    limit: timedelta = LIMIT,
    window: timedelta = WINDOW,
) -> list[datetime]:
    """Each instant after which more than the limit lies within the window.

    Between its bends, where a stretch enters or leaves the window, the time spent grows at most
    with the clock; so within a piece the limit is met once, a straight line apart from its end.
    """
    bends = {edge for stretch in stretches for edge in stretch}
    ordered = sorted(bends | {edge + window for edge in bends})
    spent = [spent_within(stretches, at, window) for at in ordered]
    return [
        ordered[index] - (spent[index] - limit)
        for index in range(1, len(ordered))
        if spent[index - 1] <= limit < spent[index]
    ]

"""The day by which work is due: by what its delay costs, and never later than the policy's limit.

The cost comes from the corrosion model as score points per week of delay. The owner says how many
points may go before the work is done; the last day on which no more than these have gone is due.
"""

from dataclasses import dataclass
from datetime import date, datetime
from math import floor

from scheduling.rules.slots import last_day
from scheduling.rules.types import Facts

WEEK = 7
DAYS_IN_YEAR = 365.25
TOO_MANY_DAYS = 1000
A_LIFETIME = 36_525  # days; what costs less than the points in so long costs nothing


@dataclass(frozen=True, slots=True)
class DueDay:
    day: date
    because: str
    key: str


def due_day(
    facts: Facts, known_at: datetime, *, limit_days: int, points: float | None = None
) -> DueDay:
    """Terms run from when the book first knew. A cost that rose late never makes work late at
    once: it is then due today, or on the last day of the policy's limit when that is past."""
    days = affordable_days(facts, points)
    limit = last_day(known_at, limit_days, facts.zone)
    if days is None or days >= limit_days:
        day = limit
    else:
        today = facts.now.astimezone(facts.zone).date()
        day = max(last_day(known_at, days, facts.zone), min(today, limit))
    return DueDay(day, _because(facts, known_at, limit_days, points, days), _key(
        facts, known_at, limit_days, points
    ))  # fmt: skip


def affordable_days(facts: Facts, points: float | None) -> int | None:
    """Whole days until the delay has cost so many points; None when the cost is not known, or
    nothing is lost by waiting."""
    if points is None or facts.delay is None:
        return None
    if facts.delay.points_per_week <= WEEK * points / A_LIFETIME:
        return None
    return max(1, floor(WEEK * points / facts.delay.points_per_week))


def _because(
    facts: Facts, known_at: datetime, limit_days: int, points: float | None, days: int | None
) -> str:
    limit = f"{_days(limit_days)} after {facts.day(known_at)}, when the book first knew of it"
    if points is None:
        return f"The policy's limit: {limit}."
    if facts.delay is None:
        return f"No assessment says what delay costs here, so the policy's limit: {limit}."
    if days is None:
        return f"By the assessment no score is lost by waiting, so the policy's limit: {limit}."
    cost = f"Each week of delay costs {facts.delay.points_per_week:.2g} score points"
    if days >= limit_days:
        return (
            f"{cost}; the {points:g} that may go would last {_long(days)}. The policy's limit "
            f"comes first: {limit}."
        )
    return (
        f"{cost}, and no more than {points:g} may go: {_days(days)} after {facts.day(known_at)}, "
        f"when the book first knew of it. The policy's limit would be {_days(limit_days)}."
    )


def _key(facts: Facts, known_at: datetime, limit_days: int, points: float | None) -> str:
    """Of all that the day rests on but the clock; empty where no assessment bears on it."""
    if points is None:
        return ""
    known_on = known_at.astimezone(facts.zone).date()
    assessed = facts.delay.key if facts.delay else ""
    return f"{known_on}|{limit_days}|{points:g}|{assessed}"


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"


def _long(count: int) -> str:
    """A span of time in days, or in years where days would say nothing."""
    return _days(count) if count < TOO_MANY_DAYS else f"{round(count / DAYS_IN_YEAR)} years"

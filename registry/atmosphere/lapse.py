"""What time alone does to a condition: readings fall due, make-up gas carries the mixture away."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta

from registry.atmosphere.confirming import next_due
from registry.atmosphere.drift import days_until_above, days_until_down_to, drifted
from registry.atmosphere.types import (
    AERATED,
    IN_DOUBT,
    INERT,
    Condition,
    State,
    SystemFacts,
)

Change = tuple[datetime, State, str, str]

SUPPLY_NAMES = {"compressor": "an air compressor", "generator": "the generator"}


def moved(condition: Condition, facts: SystemFacts, at: datetime) -> Condition:
    """The same condition at a later instant, its estimate carried along."""
    days = (at - condition.at) / timedelta(days=1)
    oxygen = drifted(condition.oxygen, facts, condition.feed, days)
    return replace(condition, at=at, oxygen=oxygen)


def lapses(condition: Condition, facts: SystemFacts, until: datetime) -> Iterator[Condition]:
    """Each condition that follows by time alone before an instant, in order."""
    while change := _first_change(condition, facts, until):
        at, state, code, reason = change
        condition = moved(condition, facts, at).turned(state, code, reason)
        yield condition


def _first_change(condition: Condition, facts: SystemFacts, until: datetime) -> Change | None:
    changes = [*_readings_missing(condition, facts), *_drift(condition, facts, until)]
    due = [change for change in changes if change[0] < until]
    return min(due, key=lambda change: change[0], default=None)


def _readings_missing(condition: Condition, facts: SystemFacts) -> Iterator[Change]:
    if condition.state != INERT or condition.proven_at is None:
        return
    read_at = condition.read_at or condition.proven_at
    due = next_due(condition.proven_at, read_at, facts.policy)
    if due:
        reason = f"The confirming reading due {_days(due.days)} after acceptance is overdue."
        yield max(due.overdue_from, condition.at), IN_DOUBT, "reading.overdue", reason
    stale_days = facts.policy.stale_days
    stale_at = max(read_at + timedelta(days=stale_days), condition.at)
    yield stale_at, IN_DOUBT, "reading.stale", f"No gas reading for {stale_days:g} days."


def _drift(condition: Condition, facts: SystemFacts, until: datetime) -> Iterator[Change]:
    if condition.state == AERATED:
        yield from _recovered(condition, facts, until)
        return
    supply = SUPPLY_NAMES.get(condition.feed.kind, "the supply")
    oxygen, feed = condition.oxygen, condition.feed
    if condition.state == INERT:
        days = days_until_above(facts.target_oxygen, oxygen, facts, feed)
        reason = f"Make-up from {supply} has by calculation carried the gas below the target."
        yield from _after(days, condition, until, IN_DOUBT, "drift.below_target", reason)
    days = days_until_above(facts.aerated_oxygen, oxygen, facts, feed)
    reason = f"Make-up from {supply} has by calculation replaced too much of the nitrogen."
    yield from _after(days, condition, until, AERATED, "drift.aerated", reason)


def _recovered(condition: Condition, facts: SystemFacts, until: datetime) -> Iterator[Change]:
    if condition.feed.kind != "generator" or condition.run is not None:
        return
    days = days_until_down_to(facts.target_oxygen, condition.oxygen, facts, condition.feed)
    reason = (
        "By calculation the generator has swept the pipe to the target; a reading must confirm it."
    )
    yield from _after(days, condition, until, IN_DOUBT, "generator.recovered", reason)


def _after(
    days: float, condition: Condition, until: datetime, state: State, code: str, reason: str
) -> Iterator[Change]:
    """The change, if it comes before `until`; infinitely many days never do."""
    if days < (until - condition.at) / timedelta(days=1):
        yield condition.at + timedelta(days=days), state, code, reason


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"

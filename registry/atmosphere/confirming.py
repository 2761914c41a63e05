"""When an accepted run must be confirmed by a gas reading, and what becomes overdue.

Days after acceptance, then yearly: common practice, no source. A reading counts from somewhat
before its due day; once the next one may be taken, it stands in for all that were missed.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import chain, count, zip_longest

from registry.atmosphere.gas_effects import effect_of_kind
from registry.atmosphere.policy import Policy
from registry.atmosphere.types import LedgerItem


@dataclass(frozen=True, slots=True)
class Due:
    """One confirming reading: when it is due, and by which record it was taken, if any."""

    days: int
    due_at: datetime
    earliest_at: datetime
    overdue_from: datetime
    satisfied_by_id: int | None = None


def dues(proven_at: datetime, policy: Policy) -> Iterator[Due]:
    """Every confirming reading after an acceptance, in order; endless where they repeat."""
    previous = 0
    for days in chain(sorted(set(policy.confirming_days)), _repeats(policy)):
        yield _due(proven_at, days, days - previous, policy)
        previous = days


def _repeats(policy: Policy) -> Iterator[int]:
    if not policy.repeat_days:
        return iter(())
    first = max(policy.confirming_days, default=0) + policy.repeat_days
    return count(first, policy.repeat_days)


def _due(proven_at: datetime, days: int, interval: int, policy: Policy) -> Due:
    wanted = policy.grace_share * interval
    grace = min(max(wanted, policy.least_grace_days), policy.most_grace_days)
    early = min(grace, interval / 2)
    due_at = proven_at + timedelta(days=days)
    return Due(days, due_at, due_at - timedelta(days=early), due_at + timedelta(days=grace))


def next_due(proven_at: datetime, read_at: datetime, policy: Policy) -> Due | None:
    """The first confirming reading that the last reading came too early for."""
    return next((due for due in dues(proven_at, policy) if due.earliest_at > read_at), None)


def schedule(proven_at: datetime, items: Sequence[LedgerItem], policy: Policy) -> list[Due]:
    """What an acceptance asks for and how it was met: the days of the policy, and then as many
    repeats as there were up to the first still to come.

    One without a reading that is followed by one with a reading was missed, and needs none now.
    """
    readings = [item for item in items if _is_reading(item) and item.occurred_at > proven_at]
    last = max((item.occurred_at for item in readings), default=proven_at)
    listed = list(_listed(last, proven_at, policy))
    ends = [due.earliest_at for due in listed[1:]]
    return [_met(due, readings, end) for due, end in zip_longest(listed, ends)]


def _is_reading(item: LedgerItem) -> bool:
    return effect_of_kind(item.kind).is_reading


def _listed(last: datetime, proven_at: datetime, policy: Policy) -> Iterator[Due]:
    asked = max(policy.confirming_days, default=0)
    for due in dues(proven_at, policy):
        if due.days > asked and due.earliest_at > last:
            yield due
            return
        yield due


def _met(due: Due, readings: Sequence[LedgerItem], until: datetime | None) -> Due:
    """The due with the first reading in its turn, which ends at `until`."""
    for item in readings:
        if item.occurred_at >= due.earliest_at and (until is None or item.occurred_at < until):
            return replace(due, satisfied_by_id=item.id)
    return due

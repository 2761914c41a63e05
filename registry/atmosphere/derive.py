"""From a ledger to the atmosphere over time: records in order, and what time does between them."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from registry.atmosphere.breaches import after_breach
from registry.atmosphere.confirming import Due, schedule
from registry.atmosphere.drift import oxygen_at
from registry.atmosphere.effects import Effect, effect
from registry.atmosphere.feeds import DELUGE, first_feed
from registry.atmosphere.gas_effects import effect_of_kind
from registry.atmosphere.lapse import lapses, moved
from registry.atmosphere.types import (
    AERATED,
    AIR,
    Condition,
    LedgerItem,
    Oxygen,
    Span,
    SystemFacts,
)


@dataclass(frozen=True, slots=True)
class ConditionChange:
    """One change on the way: by a record (`item`), or by time alone (None)."""

    item: LedgerItem | None
    before: Condition
    after: Condition


def derive(facts: SystemFacts, items: Sequence[LedgerItem], horizon: datetime) -> tuple[Span, ...]:
    """The atmosphere from installation to the horizon; future spans are what time will bring.

    The order of `items` does not matter, and the clock is not read. Nothing is returned for a
    system without an installation date and without records.
    """
    ordered = in_order(items, horizon)
    start = _start(facts, ordered)
    if start is None or start > horizon:
        return ()
    first = _first(start, facts, ordered)
    return _spans(first, walk(first, facts, ordered, horizon), facts)


def in_order(items: Sequence[LedgerItem], horizon: datetime) -> list[LedgerItem]:
    known = (item for item in items if item.occurred_at <= horizon)
    return sorted(known, key=lambda item: (item.occurred_at, item.sequence))


def effects_of(facts: SystemFacts, items: Sequence[LedgerItem]) -> Mapping[int, Effect]:
    """What each record did to the atmosphere, by its id."""
    return {
        step.item.id: effect(step.item, step.before, step.after)
        for step in _history(facts, items)
        if step.item is not None
    }


def effect_of(facts: SystemFacts, items: Sequence[LedgerItem], item_id: int) -> Effect:
    """What one record did; KeyError when it is not among the items."""
    return effects_of(facts, items)[item_id]


def confirming_due(facts: SystemFacts, items: Sequence[LedgerItem]) -> list[Due]:
    """The confirming readings that the standing acceptance asks for; none when none stands."""
    history = _history(facts, items)
    proven_at = history[-1].after.proven_at if history else None
    if proven_at is None:
        return []
    ordered = [step.item for step in history if step.item is not None]
    return schedule(proven_at, ordered, facts.policy)


def _history(facts: SystemFacts, items: Sequence[LedgerItem]) -> list[ConditionChange]:
    """The steps up to the last record."""
    if not items:
        return []
    last = max(item.occurred_at for item in items)
    ordered = in_order(items, last)
    start = _start(facts, ordered) or last
    return list(walk(_first(start, facts, ordered), facts, ordered, last))


def _start(facts: SystemFacts, ordered: Sequence[LedgerItem]) -> datetime | None:
    known = [facts.installed_at] if facts.installed_at else []
    return min([*known, *(item.occurred_at for item in ordered[:1])], default=None)


def _first(start: datetime, facts: SystemFacts, ordered: Sequence[LedgerItem]) -> Condition:
    code, reason = "never_inerted", "Never inerted on record."
    if facts.kind == DELUGE:
        code, reason = "open_nozzles", "Deluge pipe ends in open nozzles and cannot hold nitrogen."
    feed = first_feed(facts, ordered)
    return Condition(start, AERATED, code, reason, None, Oxygen.exactly(AIR), feed)


def walk(
    condition: Condition, facts: SystemFacts, ordered: Sequence[LedgerItem], horizon: datetime
) -> Iterator[ConditionChange]:
    """Every record and every lapse of time, oldest first."""
    for item in ordered:
        for lapsed in lapses(condition, facts, item.occurred_at):
            yield ConditionChange(None, condition, lapsed)
            condition = lapsed
        before = moved(condition, facts, item.occurred_at)
        after = before if facts.kind == DELUGE else _after(before, item, facts)
        yield ConditionChange(item, before, after)
        condition = condition if after == before else after
    for lapsed in lapses(condition, facts, horizon):
        yield ConditionChange(None, condition, lapsed)
        condition = lapsed


def _after(before: Condition, item: LedgerItem, facts: SystemFacts) -> Condition:
    gas, after = effect_of_kind(item.kind), before
    if gas.air:
        after = after_breach(after, gas.air(item, facts), facts, item.id)
    if gas.moves:
        after = gas.moves(after, item, facts)
    if gas.feed:
        after = replace(after, feed=gas.feed(after.feed, item, facts))
    return after


def _spans(
    first: Condition, steps: Iterator[ConditionChange], facts: SystemFacts
) -> tuple[Span, ...]:
    """One span per instant, the last word at it; none that continues its neighbour unchanged."""
    by_instant = {first.at: first}
    for step in steps:
        if step.after != step.before:
            by_instant[step.after.at] = step.after
    spans: list[Span] = []
    for condition in by_instant.values():
        last = spans[-1] if spans else None
        span = _span(condition, last)
        if last is None or not _continues(last, span, facts):
            spans.append(span)
    return tuple(spans)


def _span(condition: Condition, last: Span | None) -> Span:
    oxygen = condition.oxygen
    unbroken = last is not None and last.state == condition.state
    return Span(
        starts_at=condition.at,
        state=condition.state,
        reason_code=condition.reason_code,
        reason=condition.reason,
        cause_id=condition.cause_id,
        oxygen_low=oxygen.low,
        oxygen_mid=oxygen.mid,
        oxygen_high=oxygen.high,
        state_since=last.state_since if last and unbroken else condition.at,
        feed=condition.feed,
    )


def _continues(earlier: Span, later: Span, facts: SystemFacts) -> bool:
    """Whether the earlier span, left to itself, would have come to just this."""
    unlike = (earlier.state, earlier.reason, earlier.cause_id, earlier.feed) != (
        later.state,
        later.reason,
        later.cause_id,
        later.feed,
    )
    return not unlike and oxygen_at([earlier], facts, later.starts_at) == later.oxygen

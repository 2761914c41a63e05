"""From a rule and what is on record to the occurrence that is open and those that follow.

History is only read: applying another rule to the same history plans the open work again, while
what was judged when it was done stays as it was judged.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from itertools import count, takewhile

from scheduling.recurrence.types import (
    Anchor,
    Done,
    Outcome,
    Plan,
    PlannedSlot,
    Recurrence,
    Settled,
    Stage,
    TimeLeft,
    Timing,
)


def slot_due(rule: Recurrence, due_on: date) -> PlannedSlot:
    return PlannedSlot(due_on, rule.before.before(due_on), rule.after.after(due_on))


def judge(slot: PlannedSlot, done_on: date) -> Settled:
    """Work done on a day, held against its window; the last day of the window is on time."""
    if done_on < slot.opens_on:
        return Settled(slot, Timing.EARLY, (slot.opens_on - done_on).days, done_on)
    if done_on > slot.closes_on:
        return Settled(slot, Timing.LATE, (done_on - slot.closes_on).days, done_on)
    return Settled(slot, Timing.ON_TIME, 0, done_on)


def standing(slot: PlannedSlot, today: date) -> TimeLeft:
    if today < slot.opens_on:
        return TimeLeft(Stage.AHEAD, (slot.opens_on - today).days)
    if today > slot.closes_on:
        return TimeLeft(Stage.LATE, (today - slot.closes_on).days)
    stage = Stage.OPEN if today <= slot.due_on else Stage.TOLERATED
    return TimeLeft(stage, (slot.closes_on - today).days)


def plan(rule: Recurrence, history: Iterable[Done]) -> Plan:
    """What this rule makes of the history, and the slot that is open now."""
    in_order = sorted(history, key=lambda done: done.on)
    if rule.anchor is Anchor.COMPLETION:
        return _plan_from_completion(rule, in_order)
    return _plan_on_calendar(rule, in_order)


def next_slot(rule: Recurrence, history: Iterable[Done] = ()) -> PlannedSlot:
    return plan(rule, history).open


def slots_ahead(
    rule: Recurrence, history: Iterable[Done], *, today: date, until: date
) -> list[PlannedSlot]:
    """The open slot, whatever its date, and those expected to follow it up to a day.

    From completion, those that follow suppose that each is done on its due day, or today where
    that has passed: they move when it is done on another.
    """
    first = next_slot(rule, history)
    if rule.anchor is Anchor.CALENDAR:
        following = (slot for slot in _grid(rule) if slot.due_on > first.due_on)
    else:
        base = max(first.due_on, today)
        following = (slot_due(rule, rule.interval.after(base, times)) for times in count(1))
    return [first, *takewhile(lambda slot: slot.due_on <= until, following)]


def _grid(rule: Recurrence) -> Iterator[PlannedSlot]:
    """The due days of a fixed calendar since the rule is in force, without end."""
    for times in count():
        due_on = rule.interval.after(rule.first_due, times)
        if rule.since is None or due_on >= rule.since:
            yield slot_due(rule, due_on)


def _plan_from_completion(rule: Recurrence, history: Sequence[Done]) -> Plan:
    settled: list[Settled] = []
    due_on = rule.first_due
    for done in history:
        slot = slot_due(rule, _asked_by(rule, due_on, done.on))
        if done.outcome is Outcome.SKIPPED:
            settled.append(Settled(slot, Timing.SKIPPED, 0, done.on))
            due_on = rule.interval.after(done.due_on or slot.due_on)
        else:
            settled.append(judge(slot, done.on))
            due_on = rule.interval.after(done.on)
    return Plan(tuple(settled), (), slot_due(rule, _asked_by(rule, due_on, date.max)))


def _asked_by(rule: Recurrence, due_on: date, on: date) -> date:
    """The due day as it stood on a day: from the day a rule is in force, none lies before it."""
    return max(due_on, rule.since) if rule.since and on >= rule.since else due_on


def _plan_on_calendar(rule: Recurrence, history: Sequence[Done]) -> Plan:
    walk = _Calendar(rule)
    for done in history:
        if done.outcome is Outcome.SKIPPED:
            walk.skip(done)
        else:
            walk.complete(done)
    return Plan(tuple(walk.settled), tuple(walk.extra), walk.slot)


class _Calendar:
    """Walks a fixed calendar: one completion settles one slot, and what it passes is missed."""

    def __init__(self, rule: Recurrence) -> None:
        self._grid = _grid(rule)
        self.slot, self.following = next(self._grid), next(self._grid)
        self.settled: list[Settled] = []
        self.extra: list[Done] = []

    def complete(self, done: Done) -> None:
        """Settles the first slot still within its window, else the last one that has opened."""
        if done.on < self.slot.opens_on:
            self.extra.append(done)
            return
        while self.slot.closes_on < done.on and self.following.opens_on <= done.on:
            self._settle(Settled(self.slot, Timing.MISSED))
        self._settle(judge(self.slot, done.on))

    def skip(self, done: Done) -> None:
        due_on = done.due_on or self.slot.due_on
        while self.slot.due_on < due_on:
            self._settle(Settled(self.slot, Timing.MISSED))
        if self.slot.due_on == due_on:
            self._settle(Settled(self.slot, Timing.SKIPPED, 0, done.on))

    def _settle(self, settled: Settled) -> None:
        self.settled.append(settled)
        self.slot, self.following = self.following, next(self._grid)

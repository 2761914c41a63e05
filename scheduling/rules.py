"""What should be done next: one pure function for each rule, from what is known of a system.

The rules look at where the system stands, not at which record came last. So the order in which
records arrive makes no difference, nor does applying the rules twice, or late after a lost message.
Common practice, no source.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from registry.atmosphere.confirming import Due
from scheduling.slots import Slot, last_day, reading_hour, reading_window, working_day

TIME = "time:"


@dataclass(frozen=True, slots=True)
class Party:
    id: int
    name: str


@dataclass(frozen=True, slots=True)
class Cause:
    """A current record; `keys` names it first, then every record that it corrects."""

    record_id: int
    keys: tuple[str, ...]
    label: str
    occurred_at: datetime
    known_at: datetime


@dataclass(frozen=True, slots=True)
class Facts:
    """Where one system stands: its present state and what put it there, its standing acceptance."""

    now: datetime
    zone: ZoneInfo
    owner: Party
    contractor: Party | None
    state: str  # inert, in_doubt or aerated
    since: datetime  # of the state
    present_since: datetime  # of the present reason for it
    reason: str
    causes: tuple[Cause, ...] = ()
    is_as_installed: bool = False
    acceptance: Cause | None = None
    dues: tuple[Due, ...] = ()
    order_within_days: int = 14
    confirm_within_days: int = 7

    def day(self, when: datetime) -> str:
        return f"{when.astimezone(self.zone):%-d %B %Y}"


@dataclass(frozen=True, slots=True)
class TaskDraft:
    """A follow-up that should stand open. `keys` are those by which one already raised is known."""

    rule: str
    kind: str
    title: str
    why: str
    slot: Slot
    assigned_to: int
    keys: tuple[str, ...]
    cause_ids: tuple[int, ...] = ()

    @property
    def is_timed(self) -> bool:
        return self.keys[0].startswith(TIME)


@dataclass(frozen=True, slots=True)
class Rule:
    code: str
    says: str
    drafts: Callable[[Facts], Iterator[TaskDraft]]


def reinert_when_aerated(facts: Facts) -> Iterator[TaskDraft]:
    """A system that was aerated from the start and that nothing happened to gets no order: the
    owner decides when to inert it first. All causes of one stretch share one order."""
    if facts.state != "aerated" or (facts.is_as_installed and not facts.causes):
        return
    day = last_day(_known_at(facts), facts.order_within_days, facts.zone)
    yield TaskDraft(
        rule="aerated",
        kind="reinerting_order",
        title="Re-inerting order",
        why=_why(facts, "Waits for an accepted inerting run."),
        slot=working_day(day, facts.zone),
        assigned_to=_assignee(facts).id,
        keys=_keys(facts),
        cause_ids=tuple(cause.record_id for cause in facts.causes),
    )


def read_when_in_doubt(facts: Facts) -> Iterator[TaskDraft]:
    """Where a scheduled reading is late already, that one is waited for, and no second is asked."""
    is_asked = not facts.causes and any(
        draft.slot.due_at <= facts.now for draft in confirm_after_acceptance(facts)
    )
    if facts.state != "in_doubt" or is_asked:
        return
    day = last_day(_known_at(facts), facts.confirm_within_days, facts.zone)
    yield TaskDraft(
        rule="in_doubt",
        kind="confirming_reading",
        title="Confirming reading",
        why=_why(facts, "Waits for a gas reading; below the target it must be inerted again."),
        slot=reading_hour(day, facts.zone),
        assigned_to=_assignee(facts).id,
        keys=_keys(facts),
        cause_ids=tuple(cause.record_id for cause in facts.causes),
    )


def confirm_after_acceptance(facts: Facts) -> Iterator[TaskDraft]:
    """Every reading of the policy at once, each its own follow-up; those that repeat one by one."""
    if facts.acceptance is None or facts.state == "aerated":
        return
    for due in facts.dues:
        yield _confirmation(facts, facts.acceptance, due)


RULES: tuple[Rule, ...] = (
    Rule(
        "aerated",
        "What leaves a system aerated raises a re-inerting order to the site's contractor.",
        reinert_when_aerated,
    ),
    Rule(
        "in_doubt",
        "A system in doubt needs a gas reading, whether a record or time alone put it there.",
        read_when_in_doubt,
    ),
    Rule(
        "accepted",
        "An accepted inerting run is confirmed by gas readings on the days of the owner's policy.",
        confirm_after_acceptance,
    ),
)


def drafts_for(facts: Facts) -> list[TaskDraft]:
    return [draft for rule in RULES for draft in rule.drafts(facts)]


def still_asked(listed: Sequence[Due], policy_days: int) -> tuple[Due, ...]:
    """The readings still to be taken: those after the last one met, since a later reading stands in
    for one that was missed. A repeat is asked for when the policy's own days are over."""
    met = [place for place, due in enumerate(listed, 1) if due.satisfied_by_id is not None]
    coming = listed[max(met, default=0) :]
    of_policy = [due for due in coming if due.days <= policy_days]
    return tuple(of_policy or coming[:1])


def _confirmation(facts: Facts, acceptance: Cause, due: Due) -> TaskDraft:
    slot = reading_window(
        opens_at=due.earliest_at, best_at=due.due_at, late_from=due.overdue_from, zone=facts.zone
    )
    return TaskDraft(
        rule="accepted",
        kind="confirming_reading",
        title=f"Confirming reading, day {due.days}",
        why=(
            f"{acceptance.label} on {facts.day(acceptance.occurred_at)}: the nitrogen is to be "
            f"confirmed after {_days(due.days)}. Waits for a gas reading between "
            f"{facts.day(due.earliest_at)} and {facts.day(due.overdue_from)}."
            f"{_lateness(facts, slot)}{_stays(facts)}"
        ),
        slot=slot,
        assigned_to=_assignee(facts).id,
        keys=tuple(f"{key}:{due.days}" for key in acceptance.keys),
        cause_ids=(acceptance.record_id,),
    )


def _lateness(facts: Facts, slot: Slot) -> str:
    """Also why the system is in doubt, when it is the lateness that put it there."""
    if slot.due_at > facts.now:
        return ""
    doubt = f" {facts.reason}" if facts.state == "in_doubt" and not facts.causes else ""
    return f" Late since {facts.day(slot.due_at)}.{doubt}"


def _known_at(facts: Facts) -> datetime:
    """Terms run from when the book first knew: an event entered late is no late order yet."""
    return min((cause.known_at for cause in facts.causes), default=facts.since)


def _keys(facts: Facts) -> tuple[str, ...]:
    if not facts.causes:
        return (f"{TIME}{facts.since.isoformat()}",)
    return tuple(key for cause in facts.causes for key in cause.keys)


def _assignee(facts: Facts) -> Party:
    return facts.contractor or facts.owner


def _why(facts: Facts, waits: str) -> str:
    first, *others = facts.causes or (None,)
    when = first.occurred_at if first else facts.since
    also = "; ".join(f"{cause.label}, {facts.day(cause.occurred_at)}" for cause in others if cause)
    also = f" Also: {also}." if also else ""
    return f"{facts.day(when)}: {facts.reason}{also} {waits}{_stays(facts)}"


def _stays(facts: Facts) -> str:
    if facts.contractor:
        return ""
    return f" No contractor serves the site now, so it stays with {facts.owner.name}."


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"

"""Rules on the state of the gas: re-inerting orders and confirming readings."""

from collections.abc import Iterator, Sequence
from datetime import datetime

from django.utils.translation import gettext_noop as _

from registry.atmosphere.confirming import Due
from registry.kinds.readings import GAS_READING
from registry.kinds.requests import INERTING_WANTED
from registry.kinds.steps import RETURNED
from scheduling.rules import cautions
from scheduling.rules.answers import GAS_READINGS, acceptance_or_proof, first_answer
from scheduling.rules.dating import DueDay, due_day
from scheduling.rules.slots import WorkSlot, reading_hour, reading_window, working_day
from scheduling.rules.types import TIME, Cause, Facts, GasRule, LogOffer, TaskDraft, Work, by_kind

ORDER_WITHIN_DAYS, CONFIRM_WITHIN_DAYS = 14, 7
POINTS_THAT_MAY_GO = 0.5  # assumed: half a percent of leak probability within five years
YEAR = 365

LOG_READING = LogOffer(_("Log a gas reading"), GAS_READING)
LOG_RUN = LogOffer(_("Start the inerting run"))
REINERT = Work(
    code="reinerting_order",
    label=_("Re-inerting order"),
    answer_kinds=(*GAS_READINGS, RETURNED),
    is_answer=by_kind(*GAS_READINGS, RETURNED),
    chosen=acceptance_or_proof,
    caution=cautions.DRAINING,
    cautions=("draining", "nitrogen", "cylinders", "oxygen", "pressure", "local_codes"),
    to_load=(
        _("Regulator and hose for nitrogen"),
        _("Gas analyser"),
        _("Oxygen monitor"),
        _("Drain hose"),
    ),
    log=(LOG_RUN, LOG_READING),
    is_inerting_run=True,
    is_about_gas=True,
)
CHECK_NITROGEN = Work(
    code="confirming_reading",
    label=_("Nitrogen check"),
    answer_kinds=GAS_READINGS,
    is_answer=by_kind(*GAS_READINGS),
    chosen=first_answer,
    caution=cautions.BREATHING,
    cautions=("nitrogen", "local_codes"),
    to_load=(_("Gas analyser"), _("Oxygen monitor")),
    log=(LOG_READING, LOG_RUN),
    is_about_gas=True,
)


WAITS_FOR_RETURN = "The run is accepted; waits for the return to service."


def reinert_when_aerated(facts: Facts) -> Iterator[TaskDraft]:
    """A system that was aerated from the start and that nothing happened to gets no order until
    the owner wants it inert; nor does pipe that does not rust. All causes of one stretch share one
    order, which stays open after the acceptance until the return to service."""
    accepted = facts.before_acceptance is not None
    facts = facts.before_acceptance or facts
    if not facts.rusts and not facts.is_only_wanted:
        return
    if facts.state != "aerated" or (facts.is_as_installed and not facts.causes):
        return
    due = _order_due(facts)
    yield TaskDraft(
        rule=AERATED.code,
        kind=REINERT.code,
        title=_order_title(facts),
        why=_why(facts, WAITS_FOR_RETURN if accepted else "Waits for an accepted inerting run."),
        slot=working_day(due.day, facts.zone),
        assigned_to=facts.assignee.id,
        keys=_keys(facts),
        cause_ids=tuple(cause.record_id for cause in facts.causes),
        due_because=due.because,
        dating_key=due.key,
    )


def _order_title(facts: Facts) -> str:
    is_first = facts.is_as_installed and facts.is_only_wanted
    return "First inerting order" if is_first else REINERT.label


def _order_due(facts: Facts) -> DueDay:
    """The owner's own day, or what the cost of delay and the rule's limit say."""
    if facts.wanted_by:
        because = f"The owner wants it by {facts.wanted_by:%-d %B %Y}."
        return DueDay(facts.wanted_by, because, f"wanted by {facts.wanted_by}")
    tuned = facts.tuned(AERATED.code)
    return due_day(
        facts,
        _known_at(facts),
        limit_days=tuned.days or ORDER_WITHIN_DAYS,
        points=tuned.points or POINTS_THAT_MAY_GO,
    )


def read_when_in_doubt(facts: Facts) -> Iterator[TaskDraft]:
    """Where a scheduled reading is late already, that one is waited for, and no second is asked."""
    is_asked = not facts.causes and any(
        draft.slot.due_at <= facts.now for draft in confirm_after_acceptance(facts)
    )
    if facts.state != "in_doubt" or is_asked or not facts.rusts:
        return
    limit_days = facts.tuned(IN_DOUBT.code).days or CONFIRM_WITHIN_DAYS
    due = due_day(facts, _known_at(facts), limit_days=limit_days)
    yield TaskDraft(
        rule=IN_DOUBT.code,
        kind=CHECK_NITROGEN.code,
        title=CHECK_NITROGEN.label,
        why=_why(facts, "Waits for a gas reading; below the target it must be inerted again."),
        slot=reading_hour(due.day, facts.zone),
        assigned_to=facts.assignee.id,
        keys=_keys(facts),
        cause_ids=tuple(cause.record_id for cause in facts.causes),
        due_because=due.because,
    )


def confirm_after_acceptance(facts: Facts) -> Iterator[TaskDraft]:
    """Every reading of the policy at once, each its own follow-up; those that repeat one by one."""
    if facts.acceptance is None or facts.state == "aerated":
        return
    for due in facts.dues:
        yield _confirmation(facts, facts.acceptance, due)


AERATED = GasRule(
    code="aerated",
    title=_("Re-inert what let air in"),
    says=_(
        "What leaves a system aerated raises a re-inerting order to the site's contractor; so does "
        "the owner's request to have pipe inert that never was."
    ),
    waits_for=_("an accepted inerting run and the return to service"),
    work=REINERT,
    reads=(INERTING_WANTED,),
    priority=2,
    days=ORDER_WITHIN_DAYS,
    points=POINTS_THAT_MAY_GO,
    policy_field="order_within_days",
    drafting=reinert_when_aerated,
)
IN_DOUBT = GasRule(
    code="in_doubt",
    title=_("Read the gas where it is in doubt"),
    says=_("A system in doubt needs a gas reading, whether a record or time alone put it there."),
    waits_for=_("a gas reading"),
    work=CHECK_NITROGEN,
    priority=3,
    days=CONFIRM_WITHIN_DAYS,
    policy_field="confirm_within_days",
    drafting=read_when_in_doubt,
)
ACCEPTED = GasRule(
    code="accepted",
    title=_("Confirm an accepted run"),
    says=_(
        "An accepted inerting run is confirmed by gas readings on the days of the owner's policy."
    ),
    waits_for=_("a gas reading in its window"),
    work=CHECK_NITROGEN,
    is_by_policy_days=True,
    drafting=confirm_after_acceptance,
)
RULES = (AERATED, IN_DOUBT, ACCEPTED)


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
        rule=ACCEPTED.code,
        kind=CHECK_NITROGEN.code,
        title=f"{_after(due.days)} nitrogen check",
        why=(
            f"{acceptance.label} on {facts.day(acceptance.occurred_at)}: the nitrogen is to be "
            f"confirmed after {_days(due.days)}. Waits for a gas reading between "
            f"{facts.day(due.earliest_at)} and {facts.day(due.overdue_from)}."
            f"{_lateness(facts, slot)}{facts.stays}"
        ),
        slot=slot,
        assigned_to=facts.assignee.id,
        keys=tuple(f"{key}:{due.days}" for key in acceptance.keys),
        cause_ids=(acceptance.record_id,),
        due_because=(
            f"The owner's policy asks for a reading {_days(due.days)} after acceptance; when its "
            "window closes, the system is in doubt."
        ),
    )


def _lateness(facts: Facts, slot: WorkSlot) -> str:
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


def _why(facts: Facts, waits: str) -> str:
    first, *others = facts.causes or (None,)
    when = first.occurred_at if first else facts.since
    reason = f"{first.label}. {facts.reason}" if first and facts.is_only_wanted else facts.reason
    also = "; ".join(f"{cause.label}, {facts.day(cause.occurred_at)}" for cause in others if cause)
    also = f" Also: {also}." if also else ""
    return f"{facts.day(when)}: {reason}{also} {waits}{facts.stays}"


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"


def _after(days: int) -> str:
    """“Next-day”, “30-day”, “3-year”: as the title says how long after acceptance."""
    if days == 1:
        return "Next-day"
    return f"{days // YEAR}-year" if days % YEAR == 0 else f"{days}-day"

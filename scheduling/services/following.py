"""What the rules ask for, compared with the follow-ups that stand, and written."""

import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import F

from registry.atmosphere_rows.system_ledger import SystemLedger
from registry.models import Record, System
from registry.services.ledger import lock
from registry.translation import in_english
from scheduling.calendars.follow_ups import stamp
from scheduling.follow_ups.standpoint import Standpoint, ledger_of, standpoint
from scheduling.follow_ups.trail import facts_of, note, note_change
from scheduling.messages.causes import note_rule_failure, note_task
from scheduling.models import RuleFailure, RuleRun, SystemWatch, Task, TaskEvent, WorkState
from scheduling.rules import TIME, Facts, TaskDraft, drafts_by_rule
from scheduling.rules.closing import Closing, OpenTask, closing
from scheduling.rules.slots import WorkSlot, working_day

logger = logging.getLogger(__name__)

What = TaskEvent.What

ERROR_LENGTH = 2000


@dataclass
class Changes:
    raised: int = 0
    amended: int = 0
    closed: int = 0
    failed: int = 0  # rules that could not be applied

    def __bool__(self) -> bool:
        return bool(self.raised or self.amended or self.closed)

    def __iadd__(self, more: "Changes") -> "Changes":
        self.raised += more.raised
        self.amended += more.amended
        self.closed += more.closed
        return self


@transaction.atomic
@in_english()
def apply_rules(*, record: Record, now: datetime) -> Changes:
    """Follow a record up. Twice is the same as once."""
    changes = _bring_in_line(ledger_of(lock(record.system)), now)
    _note_run(record, done_at=now, error="")
    return changes


@in_english()
def follow_up_new(*, record: Record, ledger: SystemLedger, now: datetime) -> Changes:
    """As `apply_rules`, in a savepoint of whoever just wrote the record and holds its system."""
    changes = _bring_in_line(ledger, now)
    RuleRun.objects.create(record=record, attempts=1, done_at=now, error="")
    return changes


@in_english()
def note_failure(*, record: Record, error: Exception) -> None:
    """No rule could be applied: leave those of the record open, for the sweep to repeat."""
    _note_run(record, done_at=None, error=_text_of(error))


def _note_run(record: Record, **outcome) -> None:
    if not RuleRun.objects.filter(record=record).update(attempts=F("attempts") + 1, **outcome):
        RuleRun.objects.create(record=record, attempts=1, **outcome)


@transaction.atomic
@in_english()
def reconcile(*, system: System, now: datetime) -> Changes:
    """Make the open follow-ups of a system those that the rules ask for where it now stands."""
    return _bring_in_line(ledger_of(lock(system)), now)


def _bring_in_line(ledger: SystemLedger, now: datetime) -> Changes:
    system, here = ledger.system, standpoint(ledger, now)
    changes = Changes()
    if here is None:
        return changes
    open_tasks = list(
        system.tasks.open()
        .select_related("cause", "assigned_to", "crew")
        .prefetch_related("further_causes")
    )
    failed: dict[str, Exception] = {}
    for rule, drafts in drafts_by_rule(here.facts):
        of_rule = [task for task in open_tasks if task.rule == rule.code]
        open_tasks = [task for task in open_tasks if task.rule != rule.code]
        if isinstance(drafts, Exception):
            failed[rule.code] = drafts
        elif drafts or of_rule:
            try:
                with transaction.atomic():
                    changes += _apply(system, drafts, of_rule, here, now)
            except Exception as error:
                failed[rule.code] = error
    for task in open_tasks:  # of rules that are no more
        _close(task, system, _closing(task, here), now)
        changes.closed += 1
    changes.failed = len(failed)
    _keep_failures(system, failed, now)
    _watch(system, here.facts, now)
    return changes


def _apply(
    system: System,
    drafts: Sequence[TaskDraft],
    open_tasks: Sequence[Task],
    here: Standpoint,
    now: datetime,
) -> Changes:
    """Bring the follow-ups of one rule to its drafts."""
    changes, left = Changes(), list(open_tasks)
    for draft in drafts:
        task = _matching(draft, left, here.facts)
        if task is None:
            _raise(system, draft, here.facts, now)
            changes.raised += 1
        else:
            left.remove(task)
            changes.amended += _amend(task, system, draft, here.facts, now)
    for task in left:
        _close(task, system, _closing(task, here), now)
        changes.closed += 1
    return changes


def _keep_failures(system: System, failed: Mapping[str, Exception], now: datetime) -> None:
    """Those of before that were applied this time are forgotten."""
    system.rule_failures.exclude(rule__in=failed).delete()
    for rule, error in failed.items():
        logger.error("Rule %s failed for system %s", rule, system.pk, exc_info=error)
        again = system.rule_failures.filter(rule=rule)
        if not again.update(attempts=F("attempts") + 1, error=_text_of(error)):
            _tell_of_failure(
                RuleFailure.objects.create(
                    system=system, rule=rule, since=now, error=_text_of(error)
                ),
                now,
            )


def _tell_of_failure(failure: RuleFailure, now: datetime) -> None:
    """The page of the system says so too: where telling fails, all else stands."""
    try:
        with transaction.atomic():
            note_rule_failure(failure, now)
    except Exception:
        logger.exception("messages.unwritten rule=%s system=%s", failure.rule, failure.system_id)


def _text_of(error: Exception) -> str:
    return f"{type(error).__name__}: {error}"[:ERROR_LENGTH]


def _matching(draft: TaskDraft, open_tasks: Sequence[Task], facts: Facts) -> Task | None:
    return next((task for task in open_tasks if _is_same(task, draft, facts)), None)


def _is_same(task: Task, draft: TaskDraft, facts: Facts) -> bool:
    """One of the draft's causes raised the follow-up or was noted on it since; one that time
    alone raised serves for as long as the state lasts."""
    if _is_timed(task):
        return task.raised_at >= facts.since
    known = {task.cause_key, *(str(record.uuid) for record in task.further_causes.all())}
    return not known.isdisjoint(draft.keys)


def _is_timed(task: Task) -> bool:
    return task.cause_key.startswith(TIME)


def _raise(system: System, draft: TaskDraft, facts: Facts, now: datetime) -> Task:
    """A new follow-up, or the one that this cause raised before, opened again."""
    key = {"rule": draft.rule, "system": system, "cause_key": draft.keys[0]}
    task = Task.objects.filter(**key).first() or Task(**key, raised_at=now, modified_at=now)
    what = What.REOPENED if task.pk else What.RAISED
    task.status, task.closing_note = Task.Status.OPEN, ""
    task.closed_at = task.closed_by = None
    task.is_handed_over = False
    _offer(task)
    _fill(task, draft, facts)
    _store(task, system, draft.cause_ids, now)
    note(task, what, now, became=facts_of(task, "party", "due_at"), reason=draft.due_because)
    return task


def _offer(task: Task) -> None:
    task.work_state, task.work_reason, task.crew = WorkState.OFFERED, "", None
    task.turn += 1


def _amend(task: Task, system: System, draft: TaskDraft, facts: Facts, now: datetime) -> bool:
    before = facts_of(task, "party", "due_at")
    if not _fill(task, draft, facts):
        return False
    _store(task, system, draft.cause_ids, now)
    note_change(task, What.REDATED, now, before, "due_at", reason=task.due_because)
    note_change(task, What.REASSIGNED, now, before, "party", reason=CONTRACT_CHANGED)
    return True


CONTRACT_CHANGED = "The contracts in force at the site name another."


def _fill(task: Task, draft: TaskDraft, facts: Facts) -> bool:
    """Write the draft onto the task; True when it differs from what stood there."""
    slot = _slot(task, draft, facts)
    values = {
        "kind": draft.kind,
        "title": draft.title,
        "why": draft.why,
        "cause_id": draft.cause_ids[0] if draft.cause_ids else None,
        "opens_at": slot.opens_at,
        "due_at": slot.due_at,
        "due_because": draft.due_because,
        "dating_key": draft.dating_key,
        "time_zone": facts.zone.key,
    }
    if not _is_with_another(task, draft, facts):
        values["assigned_to_id"] = draft.assigned_to
    if values.get("assigned_to_id", task.assigned_to_id) != task.assigned_to_id and task.pk:
        _offer(task)  # whoever it goes to has agreed to nothing yet
        task.is_handed_over = False
    if not task.is_booked:
        values |= {"starts_at": slot.starts_at, "ends_at": slot.ends_at}
    is_changed = any(getattr(task, name) != value for name, value in values.items())
    for name, value in values.items():
        setattr(task, name, value)
    return is_changed


def _slot(task: Task, draft: TaskDraft, facts: Facts) -> WorkSlot:
    """A day once given stays while all that it rests on stays, though the clock goes on."""
    if task.pk and draft.dating_key and draft.dating_key == task.dating_key:
        return working_day(task.due_on, facts.zone)
    return draft.slot


def _is_with_another(task: Task, draft: TaskDraft, facts: Facts) -> bool:
    """A person handed it over, and to somebody who may still have it."""
    return task.is_handed_over and task.assigned_to_id in facts.may_have_it


def _store(task: Task, system: System, cause_ids: tuple[int, ...], now: datetime) -> Task:
    task.system = system
    if task.pk is None:
        task.save()  # its address on the calendar holds its key
    stamp(task, now)
    task.save()
    task.further_causes.set(cause_ids[1:])
    note_task(task, now)
    return task


def _closing(task: Task, here: Standpoint) -> Closing:
    noted = {record.pk: record for record in (task.cause, *task.further_causes.all()) if record}
    current = [record for pk, record in noted.items() if pk in here.current_ids]
    begun = [record.occurred_at for record in current]
    return closing(
        OpenTask(
            work=task.work,
            counts_from=task.opens_at or min(begun, default=task.raised_at),
            cause_id=task.cause_id,
            has_cause=bool(current) or _is_timed(task),
            is_switched_off=not here.facts.tuned(task.rule).is_on,
        ),
        here.lines,
        state=here.facts.state,
        reason=here.facts.reason,
        reason_record_id=here.reason_record_id,
        corrected_by_id=_correction_of(task),
    )


def _correction_of(task: Task) -> int | None:
    return Record.objects.filter(supersedes=task.cause).values_list("pk", flat=True).first()


def _close(task: Task, system: System, ending: Closing, now: datetime) -> None:
    task.status = Task.Status(ending.status)
    task.closed_at, task.closed_by_id = now, ending.record_id
    task.closing_note = ending.note
    task.system = system
    stamp(task, now)
    task.save()
    note(task, What(ending.status), now, reason=ending.note)
    note_task(task, now)


def _watch(system: System, facts: Facts, now: datetime) -> None:
    seen = {
        "state": facts.state,
        "state_since": facts.present_since,
        "applied_at": now,
        "assessment": facts.delay.key if facts.delay else "",
        "is_stale": False,
    }
    if not SystemWatch.objects.filter(system=system).update(**seen):
        SystemWatch.objects.create(system=system, **seen)

"""How a follow-up ends that no rule asks for any longer: done by which record, or withdrawn."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from scheduling.rules.types import Line, Work


@dataclass(frozen=True, slots=True)
class OpenTask:
    """A follow-up that stands open: what it asks for, and from when an answer counts."""

    work: Work
    counts_from: datetime
    cause_id: int | None
    has_cause: bool  # whether anything that raised it is still on the current ledger
    is_switched_off: bool = False  # the owner no longer wants the rule that raised it


@dataclass(frozen=True, slots=True)
class Closing:
    status: Literal["done", "withdrawn"]
    record_id: int | None
    note: str


def closing(
    task: OpenTask,
    lines: Sequence[Line],
    *,
    state: str,
    reason: str,
    reason_record_id: int | None,
    corrected_by_id: int | None = None,
) -> Closing:
    if not task.has_cause and task.work.is_answered_in_place and corrected_by_id:
        return Closing("done", corrected_by_id, "")
    if not task.has_cause:
        note = "Withdrawn: the record that raised it was corrected or taken back."
        return Closing("withdrawn", corrected_by_id, note)
    if answer := _answer(task, lines, state):
        return Closing("done", answer.record_id, "")
    if task.is_switched_off:
        return Closing("withdrawn", None, "Withdrawn: the owner switched its rule off.")
    if task.work.is_about_gas:
        return Closing("withdrawn", reason_record_id, f"No longer needed. {reason}")
    return Closing("withdrawn", None, "No longer needed by what the ledger now says.")


def _answer(task: OpenTask, lines: Sequence[Line], state: str) -> Line | None:
    answers = [
        line
        for line in lines
        if line.occurred_at >= task.counts_from
        and line.record_id != task.cause_id
        and task.work.is_answer(line.kind, line.details)
    ]
    return task.work.chosen(answers, state)

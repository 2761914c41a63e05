"""How a follow-up ends that no rule asks for any longer: done by which record, or withdrawn."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal

from scheduling.rules.answers import ACCEPTED, ANSWERS, READINGS


@dataclass(frozen=True, slots=True)
class Line:
    """A current record of the ledger, as far as it may answer a follow-up."""

    record_id: int
    kind: str
    occurred_at: datetime
    sequence: int
    details: Mapping[str, Any] = field(default_factory=dict, compare=False)


@dataclass(frozen=True, slots=True)
class Standing:
    """A follow-up that stands open: what it asks for, and from when an answer counts."""

    kind: str
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
    standing: Standing,
    lines: Sequence[Line],
    *,
    state: str,
    reason: str,
    reason_record_id: int | None,
    corrected_by_id: int | None = None,
) -> Closing:
    if not standing.has_cause:
        note = "Withdrawn: the record that raised it was corrected or taken back."
        return Closing("withdrawn", corrected_by_id, note)
    if answer := _answer(standing, lines, state):
        return Closing("done", answer.record_id, "")
    if standing.is_switched_off:
        return Closing("withdrawn", None, "Withdrawn: the owner switched its rule off.")
    if standing.kind in ANSWERS:
        return Closing("withdrawn", None, "No longer needed by what the ledger now says.")
    return Closing("withdrawn", reason_record_id, f"No longer needed. {reason}")


def _answer(standing: Standing, lines: Sequence[Line], state: str) -> Line | None:
    later = [
        line
        for line in lines
        if line.occurred_at >= standing.counts_from and line.record_id != standing.cause_id
    ]
    if answers := ANSWERS.get(standing.kind):
        return next((line for line in reversed(later) if answers(line.kind, line.details)), None)
    if standing.kind == "reinerting_order":
        return _proof_of_inert(later, state)
    return next((line for line in later if line.kind in READINGS), None)


def _proof_of_inert(later: Sequence[Line], state: str) -> Line | None:
    """Acceptance, or the last reading where that proved the system inert."""
    accepted = [line for line in later if line.kind == ACCEPTED]
    readings = [line for line in later if line.kind in READINGS]
    if accepted:
        return accepted[0]
    return readings[-1] if readings and state == "inert" else None

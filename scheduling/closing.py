"""How a follow-up ends that no rule asks for any longer: done by which record, or withdrawn."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

ACCEPTED = "inerting.accepted"
READINGS = ("reading.gas", "inerting.read", ACCEPTED)


@dataclass(frozen=True, slots=True)
class Line:
    """A current record of the ledger, as far as it may answer a follow-up."""

    record_id: int
    kind: str
    occurred_at: datetime
    sequence: int


@dataclass(frozen=True, slots=True)
class Standing:
    """A follow-up that stands open: what it asks for, and from when an answer counts."""

    kind: str
    counts_from: datetime
    cause_id: int | None
    has_cause: bool  # whether anything that raised it is still on the current ledger


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
    return Closing("withdrawn", reason_record_id, f"No longer needed. {reason}")


def _answer(standing: Standing, lines: Sequence[Line], state: str) -> Line | None:
    """An order is answered by acceptance; by a reading only where that proved the system inert."""
    is_order = standing.kind == "reinerting_order"
    kinds = (ACCEPTED,) if is_order and state != "inert" else READINGS
    later = [
        line
        for line in lines
        if line.kind in kinds
        and line.occurred_at >= standing.counts_from
        and line.record_id != standing.cause_id
    ]
    accepted = [line for line in later if line.kind == ACCEPTED]
    if is_order:
        return accepted[0] if accepted else (later[-1] if later else None)
    return later[0] if later else None

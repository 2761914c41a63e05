"""Records as a reader wants them: with what was answered, what it did and what replaced it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from registry.atmosphere import Effect, effects_of
from registry.models import Record, System
from registry.services.derive import ledger_items, system_facts
from registry.words.details import Answer, answers


@dataclass(frozen=True)
class LedgerLine:
    record: Record
    answers: list[Answer]
    effect: Effect | None
    later: Record | None

    @property
    def did(self) -> str:
        """What it did to the atmosphere; nothing to tell of most changes in the register."""
        if self.effect is None:
            return ""
        is_quiet = self.effect.code == "none" and self.record.definition.group == "register"
        return "" if is_quiet else self.effect.text

    @property
    def is_withdrawn(self) -> bool:
        return self.later is not None and self.later.is_withdrawal


def lines_of(
    records: Iterable[Record],
    units: str,
    *,
    effects: Mapping[int, Effect] | None = None,
    known_by: datetime | None = None,
) -> list[LedgerLine]:
    """`known_by` leaves out what replaced a record after that instant.

    Expects `superseded_by` to be selected along, or it costs a query for each record.
    """
    return [
        line_of(record, units, effects=effects, known_by=known_by, is_brief=True)
        for record in records
    ]


def line_of(
    record: Record,
    units: str,
    *,
    effects: Mapping[int, Effect] | None = None,
    known_by: datetime | None = None,
    is_brief: bool = False,
) -> LedgerLine:
    later = record.superseded_by if record.is_superseded else None
    if later and known_by and later.recorded_at > known_by:
        later = None
    return LedgerLine(
        record=record,
        answers=answers(record.definition, record.details, units, is_brief=is_brief),
        effect=(effects or {}).get(record.pk),
        later=later,
    )


def system_effects(system: System, records: Iterable[Record]) -> Mapping[int, Effect]:
    """What each of the current records did to the atmosphere, by the record's key."""
    return effects_of(system_facts(system), ledger_items(records))

"""Records as a reader wants them: with what was answered, what it did and what replaced it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, tzinfo

from django.utils.translation import gettext

from registry.atmosphere import Effect, effects_of
from registry.atmosphere_rows.system_ledger import PROTECTING
from registry.models import ProtectionSpan, Record, System
from registry.phone.words import kept_words
from registry.services.derive import ledger_items, system_facts
from registry.words.details import Answer, answers
from registry.words.spoken import written
from registry.words.told.retelling import retold
from registry.words.unanswered import unanswered_in_short

Protected = Mapping[tuple[int, datetime], ProtectionSpan]
"""By system and instant the protection that held from then on."""


@dataclass(frozen=True)
class LedgerLine:
    record: Record
    answers: list[Answer]
    effect: Effect | None
    later: Record | None
    unknowing: str = ""  # what its writer had not seen of the ledger
    protection: str = ""  # what held after it, where it changed or could have changed that

    @property
    def did(self) -> str:
        """What it did to the atmosphere; nothing to tell of most changes in the register."""
        if self.effect is None:
            return ""
        is_quiet = self.effect.code == "none" and self.record.definition.group == "register"
        return "" if is_quiet else retold(self.effect.text)

    @property
    def is_withdrawn(self) -> bool:
        return self.later is not None and self.later.is_withdrawal


def lines_of(
    records: Iterable[Record],
    units: str,
    *,
    effects: Mapping[int, Effect] | None = None,
    protected: Protected | None = None,
) -> list[LedgerLine]:
    """Expects `superseded_by` and `kept_entry` to be selected along, or it costs queries for each
    record."""
    return [
        line_of(record, units, effects=effects, protected=protected, is_brief=True)
        for record in records
    ]


def line_of(
    record: Record,
    units: str,
    *,
    effects: Mapping[int, Effect] | None = None,
    protected: Protected | None = None,
    known_by: datetime | None = None,
    is_brief: bool = False,
) -> LedgerLine:
    """`known_by` leaves out what replaced a record after that instant."""
    later = record.superseded_by if record.is_superseded else None
    if later and known_by and later.recorded_at > known_by:
        later = None
    return LedgerLine(
        record=record,
        answers=answers(record.definition, record.details, units, is_brief=is_brief),
        effect=(effects or {}).get(record.pk),
        later=later,
        unknowing=kept_words(record),
        protection=_protection_after(record, protected or {}),
    )


def protected_by(spans: Iterable[ProtectionSpan]) -> Protected:
    return {(span.system_id, span.starts_at): span for span in spans}


def _protection_after(record: Record, protected: Protected) -> str:
    """Only of a record that counts and whose kind says something of protection."""
    span = protected.get((record.system_id, record.occurred_at))
    counts = record.kind in PROTECTING and not record.is_superseded
    if span is None or not counts:
        return ""
    zone = record.system.site.zone
    return protection_words(span.state, span.state_since, span.unanswered, zone)


def protection_words(state: str, state_since: datetime, unanswered: str, zone: tzinfo) -> str:
    if state != ProtectionSpan.State.IMPAIRED:
        label = str(ProtectionSpan.State(state).label).lower()
        return gettext("Protection: {state}.").format(state=label)
    since = state_since.astimezone(zone)
    words = gettext("Protection: impaired since {since}.").format(
        since=written(since, "%-d %b %Y, %H:%M")
    )
    return f"{words} {unanswered_in_short(unanswered)}".strip()


def system_effects(system: System, records: Iterable[Record]) -> Mapping[int, Effect]:
    """What each of the current records did to the atmosphere, by the record's key."""
    return effects_of(system_facts(system), ledger_items(records))

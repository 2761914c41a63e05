"""The rule on whether the sprinklers would work."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils.translation import gettext_noop as _

from registry.kinds.events import FREEZE, IMPAIRMENT_END, IMPAIRMENT_START, LEAK, VALVE_CLOSED
from registry.kinds.inspections import INSPECTION_COMPLETED
from registry.kinds.steps import RETURNED, STOPPED
from scheduling.rules import cautions
from scheduling.rules.atmosphere import reinert_when_aerated
from scheduling.rules.slots import WorkSlot, next_quarter
from scheduling.rules.types import Facts, LogOffer, Outage, Rule, TaskDraft, Work, by_kind

WITHIN, TAKES = timedelta(hours=4), timedelta(hours=2)
"""Common practice, no source: within the same shift. Rules on fire watches may ask for less."""

RESTORE = Work(
    code="restore_protection",
    label=_("Restore protection"),
    answer_kinds=(IMPAIRMENT_END, RETURNED),
    is_answer=by_kind(IMPAIRMENT_END, RETURNED),
    caution=cautions.OUT_OF_SERVICE,
    cautions=("draining", "local_codes"),
    to_load=(_("Seals, locks and tags for valves"), _("Gauge for the drain test")),
    log=(LogOffer(_("Log the restoration"), IMPAIRMENT_END),),
    is_about_protection=True,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ProtectionRule(Rule):
    """Planned work under way is left to whoever does it, and an event that raises a re-inerting
    order to that order, which stays open until the return to service. What ended without
    protection back, and every other emergency, is asked for here."""

    def drafts(self, facts: Facts) -> Iterator[TaskDraft]:
        asked = _asked(facts)
        if not asked:
            return
        known_at = min(outage.cause.known_at for outage in asked)
        yield TaskDraft(
            rule=self.code,
            kind=self.work.code,
            title=self.work.label,
            why=_why(facts, asked),
            slot=_slot(known_at),
            assigned_to=facts.assignee.id,
            keys=tuple(key for outage in asked for key in outage.cause.keys),
            cause_ids=tuple(outage.cause.record_id for outage in asked),
            due_because=f"Within 4 hours of {facts.day(known_at)}, when the book first knew of it.",
        )


def _asked(facts: Facts) -> tuple[Outage, ...]:
    if facts.not_restored:
        return facts.outages
    emergencies = tuple(outage for outage in facts.outages if not outage.is_planned)
    is_ordered = any(True for _draft in reinert_when_aerated(facts))
    return () if is_ordered else emergencies


def _slot(known_at: datetime) -> WorkSlot:
    """At any hour: nobody waits for the morning without protection."""
    starts_at = next_quarter(known_at)
    return WorkSlot(starts_at, starts_at + TAKES, known_at + WITHIN)


def _why(facts: Facts, asked: tuple[Outage, ...]) -> str:
    said = " ".join(
        f"{facts.day(outage.cause.occurred_at)}: {outage.reason}{_where(outage)}"
        for outage in asked
    )
    stays = f" {facts.not_restored}" if facts.not_restored else ""
    return f"{said}{stays} Waits for a restoration with every answer yes.{facts.stays}"


def _where(outage: Outage) -> str:
    return f" Without protection: {outage.areas}." if outage.areas else ""


RESTORE_PROTECTION = ProtectionRule(
    code="protection",
    title=_("Restore protection"),
    says=_(
        "Protection that is not back, after a run or a restoration with a “no” or “not known”, or "
        "that is out by an emergency, is asked for at once, from contractor and owner."
    ),
    waits_for=_("a restoration with every answer yes"),
    work=RESTORE,
    reads=(
        FREEZE, IMPAIRMENT_START, INSPECTION_COMPLETED, LEAK, RETURNED, STOPPED, VALVE_CLOSED,
    ),
    priority=1,
)  # fmt: skip
RULES = (RESTORE_PROTECTION,)

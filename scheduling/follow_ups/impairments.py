"""Impairments as the ledger tells them: begun, ended, and how long within any 24 hours."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.urls import reverse
from django.utils.translation import gettext

from registry import protection
from registry.atmosphere_rows.system_ledger import (
    PROTECTING,
    corrections_of,
    protection_items,
)
from registry.kinds.events import IMPAIRMENT_ANSWERS
from registry.models import Record, System
from registry.protection import safety
from registry.words.unanswered import unanswered_words
from scheduling.recurrence import Clock, Outage, clock


@dataclass(frozen=True)
class Impairment:
    start: Record
    end: Record | None
    said: protection.Impairment

    @property
    def outage(self) -> Outage:
        return Outage(self.start.occurred_at, self.end.occurred_at if self.end else None)

    @property
    def expected_on(self) -> date | None:
        """The day by which it is to be restored, as far as somebody said."""
        said = self.start.details.get("expected_end_on")
        return date.fromisoformat(said) if said else None

    @property
    def areas(self) -> str:
        return self.said.areas or gettext("The whole system")

    @property
    def kind_words(self) -> str:
        if safety.PLANNED in self.said.unanswered:
            return gettext("Not known")
        return gettext("Planned") if self.said.is_planned else gettext("Emergency")

    @property
    def answers_url(self) -> str:
        return reverse("registry:record-new", args=[self.start.system_id, IMPAIRMENT_ANSWERS.code])

    @property
    def not_known_words(self) -> str:
        return unanswered_words(" ".join(self.said.unanswered)) if self.end is None else ""


@dataclass(frozen=True)
class ImpairmentPanel:
    rows: Sequence[Impairment]  # the latest first
    clock: Clock

    @property
    def open(self) -> list[Impairment]:
        return [row for row in self.rows if row.end is None]

    @property
    def spent_words(self) -> str:
        minutes = int(self.clock.spent.total_seconds() // 60)
        return f"{minutes // 60} h {minutes % 60:02d} min"

    @classmethod
    def of(cls, system: System, now: datetime) -> "ImpairmentPanel":
        records = system.records.current().filter(kind__in=PROTECTING)
        rows = impairments_of(list(records.select_related("recorded_by").in_order()))
        return cls(rows[::-1], clock((row.outage for row in rows), now=now))


def impairments_of(records: Sequence[Record]) -> list[Impairment]:
    """Each impairment of one system with what restored it; its current records in order."""
    by_pk = {record.pk: record for record in records}
    found = protection.impairments(protection_items(records), corrections_of(records))
    return [
        Impairment(by_pk[one.cause_id], by_pk[one.ended_by] if one.ended_by else None, one)
        for one in found
    ]


def out_of_service(systems: Iterable[int]) -> dict[int, datetime]:
    """Those of the systems that are out of service now, and since when."""
    found = System.objects.filter(pk__in=set(systems)).with_impairment()
    lasting = found.filter(impaired_since__isnull=False).order_by()
    return dict(lasting.values_list("pk", "impaired_since"))

"""Impairments as the ledger tells them: begun, ended, and how long within any 24 hours."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from registry.kinds.events import IMPAIRMENT_END, IMPAIRMENT_START
from registry.models import Record, System
from scheduling.recurrence import Clock, Outage, clock

START, END = IMPAIRMENT_START.code, IMPAIRMENT_END.code


@dataclass(frozen=True)
class Impairment:
    start: Record
    end: Record | None

    @property
    def outage(self) -> Outage:
        return Outage(self.start.occurred_at, self.end.occurred_at if self.end else None)

    @property
    def expected_on(self) -> date | None:
        """The day by which it is to be restored, as far as somebody said."""
        said = self.start.details.get("expected_end_on")
        return date.fromisoformat(said) if said else None


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
        records = system.records.current().filter(kind__in=(START, END))
        rows = paired(records.select_related("recorded_by").in_order())
        return cls(rows[::-1], clock((row.outage for row in rows), now=now))


def paired(records: Iterable[Record]) -> list[Impairment]:
    """Each impairment with the end that follows it; one end restores all that is out."""
    pairs: list[Impairment] = []
    open_starts: list[Record] = []
    for record in records:
        if record.kind == START:
            open_starts.append(record)
        else:
            pairs += [Impairment(start, record) for start in open_starts]
            open_starts = []
    return [*pairs, *(Impairment(start, None) for start in open_starts)]


def out_of_service(systems: Iterable[int]) -> dict[int, datetime]:
    """Those of the systems that are out of service now, and since when."""
    found = System.objects.filter(pk__in=set(systems)).with_impairment()
    lasting = found.filter(impaired_since__isnull=False).order_by()
    return dict(lasting.values_list("pk", "impaired_since"))

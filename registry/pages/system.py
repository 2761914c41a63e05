"""Everything the page of one system shows, read once."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, ClassVar

from django.utils.translation import gettext

from registry.atmosphere import Oxygen, oxygen_at
from registry.atmosphere.types import AIR
from registry.atmosphere_rows.spans import percent_text, span_at
from registry.kinds import Kind
from registry.kinds.events import TOLD
from registry.kinds.requests import INERTING_WANTED
from registry.models import (
    Assessment,
    AtmosphereSpan,
    Fitting,
    InertingRun,
    PipeRun,
    ProtectionSpan,
    Record,
    System,
    User,
)
from registry.models.systems import Volume
from registry.pages.audited import AuditedPeriod, audited_period, readable
from registry.pages.ledger_lines import LedgerLine, lines_of, protected_by, system_effects
from registry.pages.riser_sign import SignStanding
from registry.services.derive import derive_spans, system_facts

LATEST = 20


@dataclass(frozen=True)
class SystemPage:
    system: System
    spans: Sequence[AtmosphereSpan]
    span: AtmosphereSpan | None
    oxygen: Oxygen
    marks: Sequence[Record]
    protected: Sequence[ProtectionSpan]
    lines: Sequence[LedgerLine]
    record_count: int
    pipe_runs: Sequence[PipeRun]
    fittings: Sequence[Fitting]
    runs: Sequence[InertingRun]
    follow_ups: Sequence
    inspections: Sequence  # whose window has opened, the longest late first
    assessment: Assessment | None
    sign: SignStanding
    now: datetime
    period: AuditedPeriod | None
    read: frozenset[int]  # keys of records, where there is a period
    order_of_first_inerting: ClassVar[Kind] = INERTING_WANTED

    @classmethod
    def of(cls, system: System, *, reader: User, now: datetime) -> "SystemPage":
        """What an auditor reads of a period: records and runs of that time alone. The state is
        that of today, which follows from all records."""
        records = list(
            system.records.select_related(
                "recorded_by", "superseded_by__recorded_by", "supersedes", "kept_entry"
            ).order_by("-occurred_at", "-sequence")
        )
        current = [record for record in records if counts(record)]
        spans = list(system.spans.select_related("cause"))
        protected = list(system.protection_spans.select_related("cause"))
        period = audited_period(system, reader)
        read = readable(system, reader) if period else {one.pk for one in records}
        told = [record for record in records if record.pk in read]
        return cls(
            system=system,
            spans=spans,
            span=span_at(spans, now),
            oxygen=oxygen_at(derive_spans(system, current, now=now), system_facts(system), now),
            marks=[record for record in current if record.pk in read],
            protected=protected,
            lines=lines_of(
                told[:LATEST],
                reader.display_units,
                effects=system_effects(system, current),
                protected=protected_by(protected),
            ),
            record_count=len(told),
            pipe_runs=list(system.pipe_runs.current()),
            fittings=list(system.fittings.all()),
            runs=list(system.inerting_runs.visible_to(reader).select_related("opened_by")),
            inspections=list(
                system.occurrences.to_do(now).select_related("item").order_by("late_at")[:8]
            ),
            follow_ups=list(system.tasks.open().select_related("assigned_to")),
            assessment=system.assessments.latest().first(),
            sign=SignStanding.of(system, now),
            now=now,
            period=period,
            read=frozenset(read),
        )

    @property
    def state_at_end(self) -> AtmosphereSpan | None:
        """Of the period, once it is over: as the book knows it now."""
        until = self.period.until if self.period else None
        return span_at(self.spans, until) if until and until <= self.now else None

    @property
    def is_cause_read(self) -> bool:
        return self.span is not None and self.span.cause_id in self.read

    @property
    def has_leaked(self) -> bool:
        """After a pinhole leak on record what comes is the next one."""
        return self.system.records.pinholes().exists()

    @property
    def reasons(self) -> list[dict[str, Any]]:
        """The three that raise the score most."""
        found = self.assessment.reasons if self.assessment else []
        return [reason for reason in found if reason["code"] != "evidence"][:3]

    @property
    def ledger_caption(self) -> str:
        if self.record_count == 1:
            return gettext("One record")
        if self.record_count <= LATEST:
            return gettext("All {record_count} records, the latest first").format(
                record_count=self.record_count
            )
        return gettext("The latest {LATEST} of {record_count} records").format(
            LATEST=LATEST, record_count=self.record_count
        )

    @property
    def told_count(self) -> int:
        """Records told at the sign that nobody has answered."""
        return sum(record.kind == TOLD.code for record in self.marks)

    @property
    def protection(self) -> ProtectionSpan | None:
        return self.protected[-1] if self.protected else None

    @property
    def protection_since(self) -> str:
        """The day as far as it is known: the year alone where it counts from the installation."""
        return self.system.day_words(self.protection.state_since) if self.protection else ""

    @property
    def volume(self) -> Volume:
        return self.system.volume()

    @property
    def internal_area_m2(self) -> float:
        return sum(run.internal_area_m2 for run in self.pipe_runs)

    @property
    def length_m(self) -> float:
        return sum(run.length_m for run in self.pipe_runs)

    @property
    def state_since(self) -> str:
        return self.system.day_words(self.span.state_since) if self.span else ""

    @property
    def is_never_asked_to_be_inert(self) -> bool:
        """Nothing is known of pipe that would rust: copper, stainless steel or CPVC alone."""
        return self.is_never_inerted and not self.system.pipe_runs.current().rusts()

    @property
    def is_never_inerted(self) -> bool:
        """Aerated from the start, which no event brought about and so no order answers."""
        if self.span is None or self.system.kind == System.Kind.DELUGE:
            return False
        return self.span.state == AtmosphereSpan.State.AERATED and self.span.cause is None

    @property
    def age_years(self) -> int:
        today = self.now.astimezone(self.system.site.zone).date()
        return age_in_years(self.system.installed_on, today)

    @property
    def oxygen_percents(self) -> dict[str, str]:
        parts = {"low": self.oxygen.low, "mid": self.oxygen.mid, "high": self.oxygen.high}
        return {name: percent_text(part) for name, part in (parts | {"air": AIR}).items()}

    @property
    def unfinished_run(self) -> InertingRun | None:
        return next((run for run in self.runs if run.is_unfinished), None)


def counts(record: Record) -> bool:
    """Whether a record still counts: neither corrected nor withdrawn, nor itself a withdrawal."""
    return not record.is_superseded and not record.is_withdrawal


def age_in_years(installed_on: date, today: date) -> int:
    had_its_day = (today.month, today.day) >= (installed_on.month, installed_on.day)
    return max(today.year - installed_on.year - (not had_its_day), 0)

"""The ledger as an auditor reads it: what the book holds or held on some day, and its chain.

A day ends by the clock of each site, so one date picks a different instant in each time zone.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet
from django.utils.translation import gettext

from registry.atmosphere import Span, span_at
from registry.chain import Problem, verify
from registry.kinds.facts import WITHDRAWN
from registry.models import Record, Site, System
from registry.owner_ledger import Names, facts_at
from registry.pages.ledger_lines import LedgerLine, Protected, line_of
from registry.services.derive import derive_spans
from registry.services.ledger import links

COUNTING = "counting"
EVER = (date(1800, 1, 1), date(2200, 1, 1))


def begin_of(day: date, zone: str) -> datetime:
    """The first instant of a day by the clock of that zone; no book is outside `EVER`."""
    held = min(max(day, EVER[0]), EVER[1])
    return datetime.combine(held, time.min, tzinfo=ZoneInfo(zone))


def end_of(day: date, zone: str) -> datetime:
    """The first instant of the day after."""
    return begin_of(min(day, EVER[1]) + timedelta(days=1), zone)


def by_zone(condition: Callable[[str], Q]) -> Q:
    """A condition on instants that depends on the zone of each record's site."""
    zones = Site.objects.order_by().values_list("time_zone", flat=True).distinct()
    wanted = Q(pk__in=[])
    for zone in zones:
        wanted |= Q(system__site__time_zone=zone) & condition(zone)
    return wanted


def known_on(records: QuerySet, day: date) -> QuerySet:
    """Only what was in the book when that day ended where the system stands."""
    return records.filter(by_zone(lambda zone: Q(recorded_at__lt=end_of(day, zone))))


def counting(records: QuerySet, day: date | None) -> QuerySet:
    """Without withdrawals and without what was replaced (by the end of that day)."""
    records = records.exclude(kind=WITHDRAWN.code)
    standing = Q(superseded_by__isnull=True)
    if day:
        standing |= by_zone(lambda zone: Q(superseded_by__recorded_at__gte=end_of(day, zone)))
    return records.filter(standing)


def happened_from(records: QuerySet, day: date) -> QuerySet:
    return records.filter(by_zone(lambda zone: Q(occurred_at__gte=begin_of(day, zone))))


def happened_to(records: QuerySet, day: date) -> QuerySet:
    return records.filter(by_zone(lambda zone: Q(occurred_at__lt=end_of(day, zone))))


def with_all_that_is_shown(records: QuerySet) -> QuerySet:
    return records.select_related(
        "system__site", "system__building", "recorded_by", "inerting_run",
        "supersedes", "superseded_by__recorded_by", "kept_entry",
    )  # fmt: skip


@dataclass(frozen=True)
class LedgerRow:
    """One record as page and export both show it."""

    line: LedgerLine
    units: str
    recorded_by: str

    @property
    def record(self) -> Record:
        return self.line.record

    @property
    def zone(self) -> ZoneInfo:
        return self.record.system.site.zone

    @property
    def occurred(self) -> datetime:
        return self.record.occurred_at.astimezone(self.zone)

    @property
    def recorded(self) -> datetime:
        return self.record.recorded_at.astimezone(self.zone)

    @property
    def said(self) -> str:
        return "; ".join(map(str, self.line.answers))

    @property
    def standing(self) -> str:
        later = self.line.later
        return standing_words(
            self.record.kind, later.kind if later else "", later.sequence if later else 0
        )


def standing_words(kind: str, later_kind: str, later_number: int) -> str:
    """Whether a record counts; the later one is what corrects it or takes it back, if any."""
    if not later_kind:
        return gettext("withdraws another") if kind == WITHDRAWN.code else gettext("counts")
    told = (
        gettext("withdrawn by {number}")
        if later_kind == WITHDRAWN.code
        else gettext("corrected by {number}")
    )
    return told.format(number=later_number)


def rows(
    records: Iterable[Record],
    units: str,
    day: date | None = None,
    protected: Protected | None = None,
) -> Iterator[LedgerRow]:
    """`day` marks as corrected only what was corrected by its end; what protection was after a
    record is told of the book as it stands alone, since later records may have changed it. People
    have the names that they had when they recorded."""
    names: dict[int, Names] = {}
    for record in records:
        owner = record.system.site.owner_id
        if owner not in names:
            names[owner] = Names(owner)
        called = names[owner].at(record.recorded_by, record.recorded_at)
        known_by = end_of(day, record.system.site.time_zone) if day else None
        told = None if day else protected
        line = line_of(record, units, protected=told, known_by=known_by, is_brief=True)
        yield LedgerRow(line, units, called)


@dataclass(frozen=True)
class Then:
    """A system's atmosphere as the records told it that were in the book when a day ended."""

    at: datetime
    spans: Sequence[Span]
    marks: Sequence[Record]
    decided: "Decided | None" = None

    @property
    def span(self) -> Span | None:
        return span_at(self.spans, self.at)


@dataclass(frozen=True)
class Decided:
    """What the owner had decided by then, as its own ledger says."""

    site_name: str
    editions: Sequence[str]
    set_aside: Sequence[str]

    @classmethod
    def at(cls, system: System, when: datetime) -> "Decided | None":
        """None where that ledger had not begun: it is not on record."""
        facts = facts_at(system.site.owner, when)
        if facts is None:
            return None
        site = system.site_id
        return cls(
            site_name=facts.get(("site", str(site)), {}).get("name", ""),
            editions=sorted(
                said["edition"]
                for (subject, _key), said in facts.items()
                if subject == "edition" and said["site"] == site
            ),
            set_aside=sorted(
                said["title"]
                for (subject, _key), said in facts.items()
                if subject == "item of work"
                and not said["is_used"]
                and system.kind in said["system_kinds"].split()
            ),
        )


def as_known_on(system: System, day: date) -> Then:
    at = end_of(day, system.site.time_zone) - timedelta(microseconds=1)
    records = list(system.records.as_of(at).in_order())
    return Then(
        at=at,
        spans=derive_spans(system, records, now=at),
        marks=records,
        decided=Decided.at(system, at),
    )


@dataclass(frozen=True)
class ChainCheck:
    """What checking every hash of a ledger found."""

    records: int
    head: str
    problems: Sequence[Problem]

    @property
    def holds(self) -> bool:
        return not self.problems


def check_chain(system: System) -> ChainCheck:
    """Works every hash out again, and holds the last against the head kept with the system."""
    chain = links(system)
    problems = verify(chain)
    last = chain[-1] if chain else None
    if (last.hash if last else "") != system.head_hash:
        number = last.sequence if last else 0
        problems.append(
            Problem(number, gettext("is not the last one that was written: some are missing"))
        )
    return ChainCheck(records=len(chain), head=system.head_hash, problems=problems)

"""What the pages of recurring work show, read once."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.utils.translation import gettext

from registry.kinds.inspections import INSPECTION_SKIPPED
from registry.models import Record, Site, System
from registry.translation import _
from scheduling import library
from scheduling.models import Occurrence, RecurringItem, SprinklerArea
from scheduling.recurrence import PlannedSlot, Stage, TimeLeft, local_day, standing
from scheduling.recurring.at_system import adopted, conditions_of, library_of
from scheduling.recurring.drafting import choices_for

LATEST = 20
GROUPS = (
    ("late", _("Late"), (Stage.LATE,)),
    ("now", _("To do now"), (Stage.OPEN, Stage.TOLERATED)),
    ("ahead", _("Ahead"), (Stage.AHEAD,)),
)
TIMINGS = {"early": "early", "on_time": _("on time"), "late": "late"}


@dataclass(frozen=True)
class DueRow:
    occurrence: Occurrence
    standing: TimeLeft

    @property
    def is_late(self) -> bool:
        return self.standing.stage is Stage.LATE

    @property
    def text(self) -> str:
        return standing_words(self.occurrence.slot, self.standing)

    @property
    def question(self) -> str:
        """The open question on which the row was presumed."""
        condition = library.CONDITIONS.get(self.occurrence.item.presumed)
        return condition.question if condition else ""


def standing_words(slot: PlannedSlot, where: TimeLeft) -> str:
    if where.stage is Stage.LATE:
        return f"{_days(where.days)} late"
    if where.stage is Stage.TOLERATED:
        return gettext("Past its due day; on time until {closes_on}").format(
            closes_on=_day(slot.closes_on)
        )
    if where.stage is Stage.AHEAD:
        return gettext("Due {due_on}, on time from {opens_on}").format(
            due_on=_day(slot.due_on), opens_on=_day(slot.opens_on)
        )
    return f"Due {_day(slot.due_on)}" + (", today" if where.days == 0 else "")


def _days(count: int) -> str:
    return f"{count} day{'' if count == 1 else 's'}"


def _day(day: date) -> str:
    return f"{day.day} {day:%b %Y}"


def due_row(occurrence: Occurrence, now: datetime) -> DueRow:
    today = local_day(now, occurrence.system.site.zone)
    return DueRow(occurrence, standing(occurrence.slot, today))


@dataclass(frozen=True)
class ScheduleGroup:
    code: str
    name: str
    rows: Sequence[DueRow]


def grouped(rows: Iterable[DueRow]) -> list[ScheduleGroup]:
    """By where they stand, empty groups left out."""
    listed = list(rows)
    groups = (
        ScheduleGroup(code, name, [row for row in listed if row.standing.stage in stages])
        for code, name, stages in GROUPS
    )
    return [group for group in groups if group.rows]


@dataclass(frozen=True)
class DoneLine:
    """A line of what was done or skipped."""

    record: Record

    @property
    def title(self) -> str:
        return str(self.record.details["title"])

    @property
    def text(self) -> str:
        details = self.record.details
        if self.record.kind == INSPECTION_SKIPPED.code:
            return f"skipped: {details['reason']}"
        days = details.get("days", 0)
        timing = TIMINGS[details["timing"]]
        return f"{_days(days)} {timing}" if days else timing

    @property
    def found(self) -> str:
        field = self.record.definition.field("found")
        found = self.record.details.get("found")
        return dict(field.choices).get(found, "") if field and found else ""


@dataclass(frozen=True)
class SchedulePage:
    groups: Sequence[ScheduleGroup]
    occasional: Sequence[library.LibraryItem]
    done: Sequence[DoneLine]
    editions: Sequence[library.Edition]
    questions: Sequence[str]
    unanswered: Sequence[str]
    areas: Sequence[SprinklerArea]

    @property
    def edition_titles(self) -> str:
        return "; ".join(edition.title for edition in self.editions)

    @classmethod
    def of(cls, system: System, now: datetime) -> "SchedulePage":
        rows = system.occurrences.open().with_place()
        records = system.records.current().filter(kind__startswith="inspection.")
        questions = questions_of(system)
        known = conditions_of(system)
        return cls(
            groups=grouped(due_row(row, now) for row in rows),
            occasional=[one.item for one in choices_for(system) if one.item.interval is None],
            done=[
                DoneLine(record)
                for record in records.select_related("recorded_by").order_by(
                    "-occurred_at", "-sequence"
                )[:LATEST]
            ],
            editions=adopted(system.site),
            questions=questions,
            unanswered=[library.CONDITIONS[key].question for key in questions if key not in known],
            areas=list(system.sprinkler_areas.filter(is_removed=False)),
        )

    @property
    def late_count(self) -> int:
        return sum(len(group.rows) for group in self.groups if group.code == "late")


def questions_of(system: System) -> tuple[str, ...]:
    return library.questions_for(
        system.kind, adopted(system.site), library=library_of(system.site.owner)
    )


def site_items(site: Site) -> int:
    return RecurringItem.objects.filter(system__site=site, is_active=True).count()

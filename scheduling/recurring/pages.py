"""What the pages of recurring work show, read once."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.utils.translation import gettext, ngettext

from registry.kinds.inspections import INSPECTION_SKIPPED
from registry.models import Record, Site, System
from registry.translation import _
from registry.words.spoken import written
from registry.words.told.retelling import retold
from scheduling import library
from scheduling.models import AdoptedEdition, Occurrence, OwnItem, RecurringItem, SprinklerArea
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
        return retold(condition.question) if condition else ""


def standing_words(slot: PlannedSlot, where: TimeLeft) -> str:
    if where.stage is Stage.LATE:
        return ngettext("{days} day late", "{days} days late", where.days).format(days=where.days)
    if where.stage is Stage.TOLERATED:
        return gettext("Past its due day; on time until {closes_on}").format(
            closes_on=_day(slot.closes_on)
        )
    if where.stage is Stage.AHEAD:
        return gettext("Due {due_on}, on time from {opens_on}").format(
            due_on=_day(slot.due_on), opens_on=_day(slot.opens_on)
        )
    due = gettext("Due {due_on}, today") if where.days == 0 else gettext("Due {due_on}")
    return due.format(due_on=_day(slot.due_on))


def _day(day: date) -> str:
    return written(day, "%-d %b %Y")


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
        if not days:
            return str(timing)
        count = ngettext("{count} day", "{count} days", days).format(count=days)
        return f"{count} {timing}"

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
    set_aside: Sequence[OwnItem]
    given_up: Sequence[AdoptedEdition]

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
            unanswered=[
                retold(library.CONDITIONS[key].question) for key in questions if key not in known
            ],
            areas=list(system.sprinkler_areas.filter(is_removed=False)),
            set_aside=set_aside_at(system),
            given_up=list(
                system.site.adopted_editions.exclude(ended_at=None)
                .select_related("ended_by")
                .order_by("-ended_at")
            ),
        )

    @property
    def late_count(self) -> int:
        return sum(len(group.rows) for group in self.groups if group.code == "late")


def set_aside_at(system: System) -> list[OwnItem]:
    """Work that the owner does not ask for: a schedule without it must not look complete."""
    rows = OwnItem.objects.filter(owner=system.site.owner, is_used=False)
    rows = rows.select_related("changed_by").order_by("title")
    return [row for row in rows if system.kind in row.system_kinds.split()]


def questions_of(system: System) -> tuple[str, ...]:
    return library.questions_for(
        system.kind, adopted(system.site), library=library_of(system.site.owner)
    )


def site_items(site: Site) -> int:
    return RecurringItem.objects.filter(system__site=site, is_active=True).count()

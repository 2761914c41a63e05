"""What is asked of a system today: one draft for each item that recurs there."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from registry.models import System
from scheduling import library
from scheduling.models import RecurringItem, SprinklerArea
from scheduling.recurrence import Anchor, Done, Interval, Outcome, Recurrence, sample_size
from scheduling.recurring.at_system import adopted, conditions_of, library_of, winter_of

SAMPLE = "sprinkler-sample-"
SAMPLE_WINDOW = Interval(1, "year")  # common practice, no source


@dataclass(frozen=True)
class ItemDraft:
    key: str
    title: str
    group: str
    rule: Recurrence
    asked_by: str
    how_known: str
    note: str = ""
    presumed: str = ""
    area: SprinklerArea | None = None

    def values(self) -> dict[str, Any]:
        """As the columns of a recurring item."""
        rule = self.rule
        return {
            "title": self.title,
            "group": self.group,
            "area": self.area,
            "interval": rule.interval.text,
            "before": rule.before.text,
            "after": rule.after.text,
            "anchor": rule.anchor.value,
            "first_due": rule.first_due,
            "since": rule.since,
            "asked_by": self.asked_by,
            "how_known": self.how_known,
            "note": self.note,
            "presumed": self.presumed,
        }


def choices_for(system: System) -> tuple[library.Choice, ...]:
    """The library's rows that hold at a system, those done on occasion included."""
    return library.for_editions(
        system.kind,
        adopted(system.site),
        conditions_of(system),
        library=library_of(system.site.owner),
    )


def drafts_for(
    system: System,
    standing: Mapping[str, RecurringItem],
    done: Mapping[str, Sequence[Done]],
    today: date,
) -> Iterator[ItemDraft]:
    winter = winter_of(system.site)
    for choice in choices_for(system):
        rule = _rule(choice.item, standing.get(choice.item.key), system, winter, today)
        if rule:
            yield _draft(choice, rule)
    yield from _sample_drafts(system, done, today)


def _draft(choice: library.Choice, rule: Recurrence) -> ItemDraft:
    item = choice.item
    return ItemDraft(
        key=item.key,
        title=item.title,
        group=item.group,
        rule=rule,
        asked_by=choice.asked_by,
        how_known=choice.how_known,
        note=item.note,
        presumed=choice.presumed,
    )


def _rule(
    item: library.LibraryItem,
    standing: RecurringItem | None,
    system: System,
    winter: library.Winter | None,
    today: date,
) -> Recurrence | None:
    """The rule as it stands, or a changed one, in force from today."""
    if item.interval is None:
        return None
    first = library.first_due(item.interval, counted_from=system.installed_on, today=today)
    if standing is None:
        return library.recurrence_for(item, due_on=first, winter=winter)
    kept = library.recurrence_for(
        item, due_on=standing.first_due, winter=winter, since=standing.since
    )
    if kept is None or (kept == standing.rule and standing.is_active):
        return kept
    soonest = today if item.season else min(standing.first_due, item.interval.after(today))
    return library.recurrence_for(item, due_on=soonest, winter=winter, since=today)


def _sample_drafts(
    system: System, done: Mapping[str, Sequence[Done]], today: date
) -> Iterator[ItemDraft]:
    for area in system.sprinkler_areas.filter(is_removed=False):
        if draft := _sample_draft(area, done.get(f"{SAMPLE}{area.pk}", ()), system):
            yield draft


def _sample_draft(area: SprinklerArea, done: Sequence[Done], system: System) -> ItemDraft | None:
    """The sample test of an area under the adopted edition that asks for it soonest."""
    tested = [row.on for row in done if row.outcome is Outcome.COMPLETED]
    last = max([*tested, *([area.last_tested_on] if area.last_tested_on else [])], default=None)
    found = [
        (due, edition)
        for edition in adopted(system.site)
        if (due := _sample_due(area, edition, last))
    ]
    if not found:
        return None
    due, edition = min(found, key=lambda pair: pair[0])
    return _sample_test(area, edition, due)


def _sample_due(area: SprinklerArea, edition: library.Edition, last: date | None) -> date | None:
    return library.sample_test_due(
        sprinkler_type=area.sprinkler_type,
        environment=area.environment,
        edition=edition,
        installed_on=area.installed_on,
        last_tested_on=last,
    )


def _sample_test(area: SprinklerArea, edition: library.Edition, due: date) -> ItemDraft | None:
    test = library.sprinkler_test(area.environment or area.sprinkler_type, edition)
    if test is None:
        return None
    size = sample_size(area.count)
    return ItemDraft(
        key=f"{SAMPLE}{area.pk}",
        title=f"Sample test of sprinklers, {area.label}: {size} of {area.count}",
        group="test",
        rule=Recurrence(
            interval=Interval(test.rule.then_years, "year"),
            first_due=due,
            anchor=Anchor.COMPLETION,
            before=SAMPLE_WINDOW,
        ),
        asked_by=edition.title,
        how_known=test.how_known,
        note=test.source + " One failure: replace all of the sample area.",
        area=area,
    )

"""What people say about sites and systems that the plan follows from; each change plans again."""

from collections.abc import Mapping
from datetime import date, datetime

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext

from registry.models import Site, System, User
from registry.services import RecordError
from registry.services.locking import hold, lock_all
from registry.services.owner_ledger import note_changes
from registry.words.spoken import Spoken
from scheduling import library
from scheduling.follow_ups.owner_facts import ANSWER, AREA, LAST_DONE
from scheduling.models import (
    AdoptedEdition,
    RecurringItem,
    SiteWinter,
    SprinklerArea,
    SystemAnswer,
)
from scheduling.recurrence import local_day
from scheduling.recurring.upkeep import history_of, plan_recurring, plan_site

EARLIEST = date(1850, 1, 1)


@transaction.atomic
def adopt_edition(*, site: Site, edition: str, adopted_by: User, now: datetime) -> AdoptedEdition:
    """An edition holds at a site from now on, in place of another one of the same standard."""
    definition = library.editions().get(edition)
    if definition is None:
        raise RecordError(
            {
                "edition": gettext("“{edition}” is not an edition of the library.").format(
                    edition=edition
                )
            }
        )
    hold(site)
    for row in site.adopted_editions.in_force():
        if row.edition == edition:
            return row
        if row.definition.standard == definition.standard:
            _end(row, adopted_by, now)
    row = AdoptedEdition.objects.create(
        site=site, edition=edition, adopted_by=adopted_by, adopted_at=now
    )
    plan_site(site=site, now=now)
    note_changes(site.owner, by=adopted_by, now=now)
    return row


@transaction.atomic
def give_up_edition(*, adopted: AdoptedEdition, ended_by: User, now: datetime) -> None:
    """Nothing is asked for on its word any more; what it asked for rests with its history."""
    if adopted.ended_at is None:
        _end(adopted, ended_by, now)
        plan_site(site=adopted.site, now=now)
        note_changes(adopted.site.owner, by=ended_by, now=now)


def _end(row: AdoptedEdition, by: User, now: datetime) -> None:
    row.ended_at, row.ended_by = now, by
    row.save(update_fields=["ended_at", "ended_by"])


@transaction.atomic
def set_winter(
    *,
    site: Site,
    has_frost: bool,
    ready_by: str,
    over_from: str,
    now: datetime,
    changed_by: User | None = None,
) -> SiteWinter:
    hold(site)
    winter = SiteWinter.objects.filter(site=site).first() or SiteWinter(site=site)
    winter.has_frost, winter.ready_by, winter.over_from = has_frost, ready_by, over_from
    winter.full_clean()
    if has_frost and winter.ready_by == winter.over_from:
        raise ValidationError({"over_from": gettext("Frost cannot end on the day it is to begin.")})
    winter.save()
    plan_site(site=site, now=now)
    note_changes(site.owner, by=changed_by, now=now)
    return winter


@transaction.atomic
def answer_questions(
    *,
    system: System,
    answers: Mapping[str, bool | None],
    now: datetime,
    is_for_all_alike: bool = False,
    changed_by: User | None = None,
) -> None:
    """Keep the answers given; None takes an answer back, and the stricter row is presumed again.

    `is_for_all_alike` keeps them for every system of that kind at the site.
    """
    alike = System.objects.filter(pk=system.pk)
    if is_for_all_alike:
        alike = system.site.systems.filter(kind=system.kind)
    lock_all(alike)
    for each in alike:
        _answer(each, answers)
        plan_recurring(system=each, now=now)
    note_changes(system.site.owner, by=changed_by, now=now, subjects=(ANSWER,))


def _answer(system: System, answers: Mapping[str, bool | None]) -> None:
    taken_back = [condition for condition, answer in answers.items() if answer is None]
    if taken_back:
        system.answers.filter(condition__in=taken_back).delete()
    SystemAnswer.objects.bulk_create(
        [
            SystemAnswer(system=system, condition=condition, answer=answer)
            for condition, answer in answers.items()
            if answer is not None
        ],
        update_conflicts=True,
        unique_fields=["system", "condition"],
        update_fields=["answer"],
    )


@transaction.atomic
def set_last_done(
    *,
    item: RecurringItem,
    last_done_on: date | None,
    now: datetime,
    changed_by: User | None = None,
) -> None:
    """When work was last done before this book was kept; the ledger tells the rest."""
    if last_done_on and (problem := _last_done_problem(item, last_done_on, now)):
        raise RecordError({"last_done_on": problem})
    item.last_done_on = last_done_on
    item.save(update_fields=["last_done_on"])
    plan_recurring(system=item.system, now=now)
    item.occurrences.open().update(first_due_on=F("due_on"))  # it was planned for want of this
    note_changes(item.system.site.owner, by=changed_by, now=now, subjects=(LAST_DONE,))


def _last_done_problem(item: RecurringItem, day: date, now: datetime) -> str:
    system = item.system
    if day > local_day(now, system.site.zone):
        return gettext("This is in the future; it says what was done.")
    if day < system.installed_on:
        return gettext(
            "This is before the system was installed ({installed_on:%-d %B %Y})."
        ).format(installed_on=Spoken(system.installed_on))
    done = history_of(system).get(item.key)
    if done and day >= done[0].on:
        return gettext(
            "The ledger tells what was done from {on:%-d %B %Y} on; log the work there."
        ).format(on=Spoken(done[0].on))
    return ""


@transaction.atomic
def save_area(
    *, area: SprinklerArea, now: datetime, changed_by: User | None = None
) -> SprinklerArea:
    today = local_day(now, area.system.site.zone)
    area.full_clean()
    for name in ("installed_on", "last_tested_on"):
        day = getattr(area, name)
        if day and not EARLIEST <= day <= today:
            raise RecordError(
                {name: gettext("This is in the future, or before there were sprinklers.")}
            )
    if area.last_tested_on and area.last_tested_on < area.installed_on:
        raise RecordError({"last_tested_on": gettext("This is before the sprinklers were fitted.")})
    area.save()
    plan_recurring(system=area.system, now=now)
    note_changes(area.system.site.owner, by=changed_by, now=now, subjects=(AREA,))
    return area

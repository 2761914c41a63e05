"""What an owner decided about its schedule, for the owner's ledger."""

from collections.abc import Iterator
from typing import Any

from django.forms.models import model_to_dict

from registry.models import Organisation
from registry.owner_ledger import register
from scheduling.models import (
    AdoptedEdition,
    EscalationLevel,
    OwnItem,
    RecurringItem,
    RuleSetting,
    SiteWinter,
    SprinklerArea,
    SystemAnswer,
)

Fact = tuple[str, dict[str, Any]]
ANSWER, AREA, LAST_DONE = "answer", "sample area", "last done"
SAID_BY_THE_RECORD = ("id", "owner", "site", "changed_by", "changed_at")


@register("edition")
def _editions(owner: Organisation) -> Iterator[Fact]:
    """In force; one that was given up is taken away by a record."""
    for row in AdoptedEdition.objects.filter(site__owner=owner, ended_at=None):
        yield str(row.pk), {"site": row.site_id, "edition": row.edition}


@register("item of work")
def _items(owner: Organisation) -> Iterator[Fact]:
    """The owner's own version of a row; `is_used` false sets the work aside."""
    for row in OwnItem.objects.filter(owner=owner):
        yield row.row, model_to_dict(row, exclude=SAID_BY_THE_RECORD)


@register("rule")
def _rules(owner: Organisation) -> Iterator[Fact]:
    for row in RuleSetting.objects.filter(owner=owner):
        yield row.rule, model_to_dict(row, exclude=SAID_BY_THE_RECORD)


@register("winter")
def _winters(owner: Organisation) -> Iterator[Fact]:
    for row in SiteWinter.objects.filter(site__owner=owner):
        yield str(row.site_id), model_to_dict(row, exclude=SAID_BY_THE_RECORD)


@register("escalation")
def _levels(owner: Organisation) -> Iterator[Fact]:
    for row in EscalationLevel.objects.filter(owner=owner):
        yield str(row.level), model_to_dict(row, exclude=SAID_BY_THE_RECORD)


@register(ANSWER, is_of_systems=True)
def _answers(owner: Organisation) -> Iterator[Fact]:
    """On which it depends what is asked for at a system."""
    rows = SystemAnswer.objects.filter(system__site__owner=owner).select_related("system")
    for row in rows.iterator(2000):
        yield (
            f"{row.system.uuid} {row.condition}",
            _of(row, condition=row.condition, answer=row.answer),
        )


@register(AREA, is_of_systems=True)
def _areas(owner: Organisation) -> Iterator[Fact]:
    rows = SprinklerArea.objects.filter(system__site__owner=owner).select_related("system")
    for row in rows.iterator(2000):
        yield str(row.pk), _of(row, **model_to_dict(row, exclude=("id", "system")))


@register(LAST_DONE, is_of_systems=True)
def _last_done(owner: Organisation) -> Iterator[Fact]:
    """What somebody said of the time before this book."""
    rows = RecurringItem.objects.filter(system__site__owner=owner).exclude(last_done_on=None)
    for row in rows.select_related("system").iterator(2000):
        key = f"{row.system.uuid} {row.key}"
        yield key, _of(row, item=row.key, last_done_on=row.last_done_on)


def _of(row: SystemAnswer | SprinklerArea | RecurringItem, **facts: Any) -> dict[str, Any]:
    return {"site": row.system.site_id, "system": str(row.system.uuid), **facts}

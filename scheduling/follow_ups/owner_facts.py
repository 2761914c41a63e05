"""What an owner decided about its schedule, for the owner's ledger."""

from collections.abc import Iterator
from typing import Any

from django.forms.models import model_to_dict

from registry.models import Organisation
from registry.owner_ledger import register
from scheduling.models import AdoptedEdition, EscalationLevel, OwnItem, RuleSetting, SiteWinter

Fact = tuple[str, dict[str, Any]]
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

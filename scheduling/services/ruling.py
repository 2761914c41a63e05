"""An owner sets its rules and its levels of escalation; open follow-ups are brought in line."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils import timezone

from registry.models import Organisation, OwnerPolicy, System, User
from registry.services.locking import hold, lock_all
from registry.services.owner_ledger import note_changes
from scheduling.models import EscalationLevel, RuleSetting, SystemWatch
from scheduling.rules import Rule
from scheduling.services.following import reconcile
from scheduling.services.working import WorkError

AT_ONCE = 100
"""Systems brought in line while the person waits; the sweep does the rest."""


@transaction.atomic
def set_rule(
    *,
    owner: Organisation,
    rule: Rule,
    is_on: bool,
    changed_by: User,
    now: datetime,
    days: int | None = None,
    points: float | None = None,
) -> int:
    """Write how the owner wants a rule; returns how many systems are left to the sweep."""
    hold(owner)
    if rule.policy_field and days:
        policy = OwnerPolicy.for_owner(owner)
        setattr(policy, rule.policy_field, days)
        policy.full_clean()
        policy.save()
        days = None
    setting = RuleSetting.objects.filter(owner=owner, rule=rule.code).first() or RuleSetting(
        owner=owner, rule=rule.code
    )
    setting.is_on, setting.days, setting.points = is_on, days, points
    setting.changed_by, setting.changed_at = changed_by, now
    setting.full_clean()
    setting.save()
    left = _bring_in_line(owner, now)
    note_changes(owner, by=changed_by, now=now)
    return left


def _bring_in_line(owner: Organisation, now: datetime) -> int:
    """A few at once; what is left is marked, and the sweep finds it."""
    watched = SystemWatch.objects.filter(system__site__owner=owner)
    keys = list(watched.order_by("pk").values_list("pk", flat=True)[:AT_ONCE])
    lock_all(System.objects.filter(pk__in=keys))  # before the watches: so does whoever records
    watched.update(is_stale=True)
    for system in System.objects.filter(pk__in=keys).select_related("site__owner").order_by("pk"):
        reconcile(system=system, now=now)
    return watched.filter(is_stale=True).count()


@transaction.atomic
def set_levels(
    *,
    owner: Organisation,
    levels: Sequence[Mapping[str, Any]],
    changed_by: User | None = None,
    now: datetime | None = None,
) -> None:
    """Replace the owner's levels; each later one waits longer than the one before."""
    days = [level["after_days"] for level in levels]
    if days != sorted(set(days)):
        raise WorkError({"__all__": "Each level must wait more days than the one before it."})
    hold(owner)
    owner.escalation_levels.all().delete()
    for number, level in enumerate(levels, start=1):
        row = EscalationLevel(owner=owner, level=number, **level)
        row.full_clean()
        row.save()
    note_changes(owner, by=changed_by, now=now or timezone.now())

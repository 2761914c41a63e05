"""The days on which an accepted run is confirmed, as an owner sets them.

They decide two things: when a reading is asked for, and from when a system that nobody read is in
doubt. So the atmosphere of the owner's systems is derived again, and then what is open follows.
Records, and follow-ups that are closed, stay as they are.
"""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.db.models import Exists, F, OuterRef, QuerySet, Value
from django.db.models.functions import Concat, Length, Substr

from registry.models import Organisation, OwnerPolicy, System, User
from registry.services import rederive
from registry.services.assessments import follow_ledger
from registry.services.ledger import lock
from registry.services.locking import hold, lock_all
from scheduling.models import RuleSetting, SystemWatch, Task
from scheduling.rules.atmosphere import ACCEPTED
from scheduling.services.following import Changes, reconcile
from scheduling.services.working import WorkError

MOST_DAYS, LATEST_DAY = 12, 3650
AT_ONCE = 100
"""Systems brought in line while the person waits; the sweep does the rest."""


@transaction.atomic
def set_confirmation(
    *,
    owner: Organisation,
    is_on: bool,
    confirming_days: Sequence[int],
    repeat_days: int,
    changed_by: User,
    now: datetime,
) -> int:
    """Write the days; returns how many systems are left to the sweep."""
    _check(confirming_days, repeat_days)
    hold(owner)
    systems = list(System.objects.filter(watch__in=_watched(owner)).order_by("pk")[:AT_ONCE])
    # Before their follow-ups and watches: so does whoever records.
    lock_all(System.objects.filter(pk__in=[system.pk for system in systems]))
    policy = OwnerPolicy.for_owner(owner)
    before = policy.confirming_days
    policy.confirming_days = list(confirming_days)
    policy.confirming_repeat_days = repeat_days
    policy.full_clean()
    policy.save()
    setting = RuleSetting.objects.filter(owner=owner, rule=ACCEPTED.code).first() or RuleSetting(
        owner=owner, rule=ACCEPTED.code
    )
    setting.is_on, setting.changed_by, setting.changed_at = is_on, changed_by, now
    setting.full_clean()
    setting.save()
    _move_open(owner, before, confirming_days)
    return _bring_in_line(owner, systems, now)


@transaction.atomic
def bring_up_to_date(*, system: System, now: datetime) -> Changes:
    """Derive by the owner's present limits, assess what comes of it, and follow that up."""
    held = lock(system)
    follow_ledger([rederive(held, now=now)], now)
    changes = reconcile(system=held, now=now)
    SystemWatch.objects.filter(system=held).update(is_to_derive=False)
    return changes


def problem_with(days: Sequence[int]) -> str:
    """What is wrong with the days, and what would be right; empty when nothing."""
    if not days:
        return "Write at least one day, for example 1, 30, 365; or switch the rule off."
    if len(days) > MOST_DAYS:
        return f"These are {len(days)} days; {MOST_DAYS} are the most."
    if any(not 1 <= day <= LATEST_DAY for day in days):
        return f"Each day counts from acceptance: a whole number from 1 to {LATEST_DAY}."
    if list(days) != sorted(set(days)):
        right = ", ".join(str(day) for day in sorted(set(days)))
        return f"Each day must come after the one before it; in order they are {right}."
    return ""


def _check(days: Sequence[int], repeat_days: int) -> None:
    if problem := problem_with(days):
        raise WorkError({"confirming_days": problem})
    if not 0 <= repeat_days <= LATEST_DAY:
        raise WorkError({"repeat_days": f"A whole number from 0, for never, to {LATEST_DAY}."})


def _move_open(owner: Organisation, before: Sequence[int], after: Sequence[int]) -> None:
    """An open reading whose day was changed is that reading still, with who has it and what was
    booked: it takes the name of its new day, and the rules then give it the new date."""
    gone, come = (sorted(set(one) - set(two)) for one, two in ((before, after), (after, before)))
    for old, new in zip(gone, come, strict=False):
        stem = Substr("cause_key", 1, Length("cause_key") - len(str(old)))
        renamed = Concat(stem, Value(str(new)))
        taken = Task.objects.filter(
            rule=ACCEPTED.code, system=OuterRef("system"), cause_key=OuterRef("renamed")
        )
        Task.objects.open().filter(
            rule=ACCEPTED.code, system__site__owner=owner, cause_key__endswith=f":{old}"
        ).annotate(renamed=renamed).exclude(Exists(taken)).update(cause_key=F("renamed"))


def _watched(owner: Organisation) -> QuerySet[SystemWatch]:
    return SystemWatch.objects.filter(system__site__owner=owner)


def _bring_in_line(owner: Organisation, systems: Sequence[System], now: datetime) -> int:
    """A few at once; what is left is marked, and the sweep finds it."""
    watched = _watched(owner)
    watched.update(is_to_derive=True)
    for system in systems:
        bring_up_to_date(system=system, now=now)
    return watched.filter(is_to_derive=True).count()

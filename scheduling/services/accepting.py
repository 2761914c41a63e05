"""What an owner asks before a reading of an inerting run counts. Runs under way keep what was asked
when they began, so nothing that is open has to be brought in line."""

from datetime import datetime

from django.core.exceptions import ValidationError
from django.db import transaction

from registry.jobs import ask
from registry.models import Organisation, OwnerPolicy, User
from registry.services.locking import hold
from registry.services.owner_ledger import note_changes
from registry.services.register.policies import POLICY_CHANGED
from scheduling.services.working import WorkError

TARGET = "target_n2_percent"
NAMES = ("wait_minutes", "points", "hold_minutes", "hold_fall_pa")


@transaction.atomic
def set_acceptance(
    *,
    owner: Organisation,
    target_n2_percent: float,
    wait_minutes: int,
    points: int,
    hold_minutes: int,
    hold_fall_pa: float,
    changed_by: User,
    now: datetime,
) -> OwnerPolicy:
    """Another target moves the line between inert and in doubt: a job derives the atmosphere of
    the owner's systems again, and their follow-ups come after it."""
    hold(owner)
    policy = OwnerPolicy.for_owner(owner)
    is_moved = policy.target_n2_percent != target_n2_percent
    policy.target_n2_percent = target_n2_percent
    policy.acceptance_wait_minutes = wait_minutes
    policy.acceptance_points = points
    policy.acceptance_hold_minutes = hold_minutes
    policy.acceptance_hold_fall_pa = hold_fall_pa
    try:
        policy.full_clean()
    except ValidationError as error:
        problems = {name: " ".join(words) for name, words in error.message_dict.items()}
        fields = {f"acceptance_{name}": name for name in NAMES}
        raise WorkError(
            {fields.get(name, name): words for name, words in problems.items()}
        ) from None
    policy.save()
    note_changes(owner, by=changed_by, now=now)
    if is_moved:
        ask(POLICY_CHANGED, key=str(owner.pk), arguments={"owner": owner.pk}, owner=owner, now=now)
    return policy

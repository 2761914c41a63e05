"""Roles changed and memberships ended; an organisation is never left without a manager."""

from datetime import datetime

from django.core.exceptions import ValidationError
from django.utils.translation import gettext

from registry.models import Membership, Organisation, User
from registry.services.access.log import changing_access

MANAGER = Membership.Role.MANAGER


def change_role(*, membership: Membership, role: str, changed_by: User, now: datetime) -> None:
    organisation = membership.organisation
    with changing_access(organisation, by=changed_by, now=now):
        held = organisation.memberships.select_related("user").get(pk=membership.pk)
        if role != MANAGER:
            _check_another_manager(held)
            _withdraw_invitations_of(held, now)
        held.role = role
        held.full_clean(validate_unique=False)
        held.save(update_fields=["role"])


def end_membership(*, membership: Membership, ended_by: User, now: datetime) -> None:
    """What they recorded stays, under the name they had. What they had invited is withdrawn."""
    organisation = membership.organisation
    with changing_access(organisation, by=ended_by, now=now):
        held = organisation.memberships.select_related("user").filter(pk=membership.pk).first()
        if held is None:
            return
        _check_another_manager(held)
        _withdraw_invitations_of(held, now)
        held.delete()


def other_managers(membership: Membership):
    """Who could still manage without this one; a person who cannot sign in manages nothing."""
    managers = membership.organisation.memberships.filter(role=MANAGER, user__is_active=True)
    return managers.exclude(pk=membership.pk)


def _check_another_manager(membership: Membership) -> None:
    if membership.role == MANAGER and not other_managers(membership).exists():
        raise ValidationError(
            gettext(
                "{person} is the only manager of {organisation}. Make somebody else one first."
            ).format(person=membership.user, organisation=membership.organisation)
        )


def _withdraw_invitations_of(membership: Membership, now: datetime) -> None:
    """Whoever manages no more lets nobody in afterwards."""
    sent = membership.organisation.invitations.pending().filter(invited_by=membership.user)
    sent.update(withdrawn_at=now)


def leads(user: User, organisation: Organisation) -> bool:
    return organisation.memberships.filter(user=user, role=MANAGER).exists()

"""An invitation of the owner, and a person of it, for the addresses that take them."""

from typing import Any

from django.utils import timezone

from registry.services.access.inviting import invite


def people_objects(world) -> dict[str, dict[str, Any]]:
    owner = {"pk": world.owner_organisation.pk}
    invitation = invite(
        organisation=world.owner_organisation, kind="member", email="new@averhythe.example",
        role="reader", invited_by=world.owner, now=timezone.now(),
    )  # fmt: skip
    of_invitation = owner | {"invitation_pk": invitation.pk}
    viewer = owner | {"uuid": world.viewer.uuid}
    return {
        "registry:people": owner,
        "registry:access-log": owner,
        "registry:people-second-step": owner,
        "registry:people-invite": owner | {"kind": "auditor"},
        "registry:invitation-again": of_invitation,
        "registry:invitation-withdraw": of_invitation,
        "registry:member": viewer,
        "registry:member-end": viewer,
        "registry:invitation": {"secret": invitation.secret},
    }

"""Whether an organisation asks all its people for a second step at sign-in."""

from datetime import datetime

from django.core.exceptions import ValidationError
from django.utils.translation import gettext

from registry.models import Organisation, User
from registry.services.access.log import changing_access
from registry.signing_in.demand import steps_of


def demand_second_step(
    *, organisation: Organisation, is_demanded: bool, changed_by: User, now: datetime
) -> None:
    """Whoever asks it of others has one: it would else stop them first, and maybe as the last
    who could take it back."""
    with changing_access(organisation, by=changed_by, now=now):
        if is_demanded and not steps_of(changed_by).exists():
            raise ValidationError(
                gettext(
                    "You have no second step yourself yet. Add one to your account first, then "
                    "ask it of everybody."
                )
            )
        held = Organisation.objects.filter(pk=organisation.pk)
        held.update(demands_second_step=is_demanded)
